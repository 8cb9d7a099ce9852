"""The calibration function with its points, band and residuals, and readings dropped onto the axis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from groundstate._arrays import as_float64
from groundstate._core import Calibration
from groundstate.plot import _style as style
from groundstate.plot._axis_sets import bar
from groundstate.plot._curve import curve, ends, pieces

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@overload
def calibration(
    cal: Calibration,
    signals: Any = None,
    replicates: Any = None,
    *,
    coverage: float = 0.95,
    signal_name: str = "Absorbance",
    ax: Sequence[Axes] | None = None,
) -> tuple[Axes, Axes]: ...
@overload
def calibration(
    cal: Calibration,
    signals: Any = None,
    replicates: Any = None,
    *,
    coverage: float = 0.95,
    signal_name: str = "Absorbance",
    ax: Axes,
) -> Axes: ...
def calibration(
    cal: Calibration,
    signals: Any = None,
    replicates: Any = None,
    *,
    coverage: float = 0.95,
    signal_name: str = "Absorbance",
    ax: Axes | Sequence[Axes] | None = None,
) -> Axes | tuple[Axes, Axes]:
    """Points, curve and confidence band of a calibration; below, the residuals.

    Dotted verticals are the lowest standard above zero and the top one; the curve is dashed outside.

    Args:
        cal: the calibration.
        signals, replicates: readings to drop onto the concentration axis, as `Calibration.concentration` takes them.
            Each gets its coverage interval by inversion as a bar on the axis; an arrow where the set goes on.
        coverage: of band and intervals. The band holds for the mean signal at one concentration at a time.
        signal_name: what the vertical axis is called.
        ax: one axes for the curve alone, or a pair for curve and residuals; a new pair when not given.

    Returns:
        The axes drawn on: one where one was given, otherwise the pair.
    """
    upper, lower = style.two(ax, (6.4, 5.2), (3.0, 1.0))
    read = None
    if signals is not None:
        signals = np.atleast_1d(as_float64(signals, "signals"))
        read = cal.concentration(signals, replicates)
    values = read.value if read is not None else np.empty(0)
    _curve_and_points(upper, cal, values, coverage, signal_name)
    if signals is not None:
        _drop(upper, cal, signals, read, coverage)
    style.legend(upper, loc="best")
    if lower is None:
        upper.set_xlabel(f"Concentration ({cal.unit})")
        return upper
    _residuals(lower, cal, signal_name)
    upper.tick_params(labelbottom=False)
    return upper, lower


def _curve_and_points(ax: Axes, cal: Calibration, values: Any, coverage: float, signal_name: str) -> None:
    low, high = ends(cal, values)
    line = curve(cal, low, high, coverage)
    inside = (line.x >= min(0.0, cal.lowest)) & (line.x <= cal.top)
    if np.isfinite(line.lower).any():
        name = f"{100 * coverage:g} % confidence band"
        ax.fill_between(
            line.x, line.lower, line.upper, color=style.BLUE, alpha=style.SHADED, linewidth=0, label=name, gid="band"
        )
    shape = cal.shape.replace("_", " ")
    ax.plot(line.x, np.where(inside, line.y, np.nan), color=style.BLUE, linewidth=1.6, label=shape, gid="curve")
    # The dashes overlap the line by one step, so that no gap shows.
    beyond = np.where(inside, np.nan, line.y)
    last = np.flatnonzero(inside)
    if last.size and last[-1] + 1 < line.x.size:
        beyond[last[-1]] = line.y[last[-1]]
    ax.plot(line.x, beyond, color=style.BLUE, linewidth=1.2, linestyle=(0, (4, 3)), gid="curve outside")
    count = len(cal.point_signals)
    if cal.points == "standards":
        named = style.counted(count, "standard", "standards")
    else:
        named = style.counted(count, "reading of a standard", "readings of standards")
    ax.plot(
        cal.point_concentrations,
        cal.point_signals,
        "o",
        color=style.ink(),
        markersize=style.MARKER,
        label=named,
        gid="points",
        zorder=4,
    )
    for edge in dict.fromkeys((cal.lowest, cal.top)):
        if np.isfinite(edge):
            ax.axvline(edge, color=style.GREY, linewidth=1.0, linestyle=":", gid="range end")
    ax.set_ylabel(signal_name)


def _drop(ax: Axes, cal: Calibration, signals: Any, read: Any, coverage: float) -> None:
    """Readings from the left edge to the curve and down to the axis."""
    heights = np.array(
        [np.nanmean(row) if np.isfinite(row).any() else np.nan for row in signals.reshape(len(signals), -1)]
    )
    intervals = read.interval(coverage, "inversion")
    dropped = np.isfinite(read.value)
    found = [stretch for interval in intervals for stretch in pieces(interval)]
    bounds = [bound for stretch in found for bound in stretch if np.isfinite(bound)]
    left, right = ax.get_xlim()
    # An interval may be far wider than the range: it then leaves the picture with an arrow.
    reach = right - left
    left = min([left, *(b for b in bounds if left - 0.3 * reach <= b < left)])
    right = max([right, *(b for b in bounds if right < b <= right + 0.3 * reach)])
    bottom, top = ax.get_ylim()
    finite = heights[np.isfinite(heights)]
    ax.set_xlim(left, right)
    # A reading at the very edge would not be seen.
    margin = 0.03 * (top - bottom)
    ax.set_ylim(min([bottom, *(finite - margin)]), max([top, *(finite + margin)]))
    bottom, left = ax.get_ylim()[0], ax.get_xlim()[0]
    for height, value in zip(heights[dropped], read.value[dropped], strict=True):
        ax.plot(
            [left, value, value],
            [height, height, bottom],
            color=style.ORANGE,
            linewidth=0.9,
            gid="reading",
        )
    if dropped.any():
        ax.plot(
            read.value[dropped],
            heights[dropped],
            "D",
            color=style.ORANGE,
            markersize=style.MARKER - 1,
            label=f"{style.counted(int(dropped.sum()), 'reading', 'readings')}, {100 * coverage:g} % on the axis",
            gid="readings",
            zorder=5,
        )
    lost = np.isfinite(heights) & ~dropped
    for n, height in enumerate(heights[lost]):
        ax.axhline(
            height,
            color=style.PLUM,
            linewidth=1.0,
            linestyle=(0, (2, 2)),
            label=f"{int(lost.sum())} without a concentration" if n == 0 else None,
            gid="reading without concentration",
        )
    for stretch in found:
        bar(ax, stretch, style.ORANGE)


def _residuals(ax: Axes, cal: Calibration, signal_name: str) -> None:
    ax.axhline(0.0, color=style.GREY, linewidth=1.0)
    x, residuals = cal.point_concentrations, cal.residuals
    ax.vlines(x, 0.0, residuals, color=style.BLUE, linewidth=1.2)
    ax.plot(x, residuals, "o", color=style.ink(), markersize=style.MARKER - 1, gid="residuals")
    largest = float(np.abs(residuals[np.isfinite(residuals)]).max(initial=0.0))
    # A perfect fit still needs an axis.
    span = 1.25 * largest if largest > 0.0 else 1.0
    ax.set_ylim(-span, span)
    ax.set_ylabel("Residual")
    ax.set_xlabel(f"Concentration ({cal.unit})")
    style.small_numbers(ax)
