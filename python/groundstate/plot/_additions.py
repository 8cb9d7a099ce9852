"""A series of standard additions, extrapolated to a signal of zero."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from groundstate._core import Addition
from groundstate.plot import _style as style
from groundstate.plot._axis_sets import bar
from groundstate.plot._curve import curve, pieces, set_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def additions(
    series: Addition, *, coverage: float = 0.95, signal_name: str = "Absorbance", ax: Axes | None = None
) -> Axes:
    """Signals against additions, the fitted line, and where it meets a signal of zero.

    The size of that (negative) addition is the concentration found; its set by inversion (Fieller) lies on the line of
    zero as a bar, with an arrow where it goes on. A negative result crosses at the right of zero, as its sign says.

    Args:
        series: the series.
        coverage: of the band and the set.
        signal_name: what the vertical axis is called.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    ax = style.one(ax)
    line, found = series.line, series.estimate
    x, y = line.point_concentrations, line.point_signals
    interval = series.interval(coverage, "inversion") if np.isfinite(found.value) else None
    # On this axis a concentration found lies at its negative.
    stretches = [(-high, -low) for low, high in pieces(interval)] if interval is not None else []
    seen = [0.0, *x, *([-found.value] if np.isfinite(found.value) else [])]
    reach = (max(seen) - min(seen)) or 1.0
    near = [
        end for stretch in stretches for end in stretch if min(seen) - 0.5 * reach <= end <= max(seen) + 0.5 * reach
    ]
    low, high = min([*seen, *near]), max([*seen, *near])
    fitted = curve(line, low, high, coverage)
    if np.isfinite(fitted.lower).any():
        name = f"{100 * coverage:g} % confidence band"
        ax.fill_between(
            fitted.x,
            fitted.lower,
            fitted.upper,
            color=style.BLUE,
            alpha=style.SHADED,
            linewidth=0,
            label=name,
            gid="band",
        )
    measured = (fitted.x >= min(x)) & (fitted.x <= max(x))
    ax.plot(fitted.x, fitted.y, color=style.BLUE, linewidth=1.2, linestyle=(0, (4, 3)), gid="extrapolation")
    ax.plot(
        fitted.x, np.where(measured, fitted.y, np.nan), color=style.BLUE, linewidth=1.6, label="fitted line", gid="line"
    )
    kind = ("portion", "portions") if line.points == "standards" else ("reading", "readings")
    ax.plot(
        x,
        y,
        "o",
        color=style.ink(),
        markersize=style.MARKER,
        label=style.counted(len(y), *kind),
        gid="points",
        zorder=4,
    )
    ax.axhline(0.0, color=style.GREY, linewidth=1.0)
    ax.axvline(0.0, color=style.GREY, linewidth=1.0, linestyle=":")
    margin = 0.04 * (high - low)
    ax.set_xlim(low - margin, high + margin)
    if interval is not None:
        number = style.figure_text
        words = f"found {number(found.value)} {series.unit}\n{100 * coverage:g} %: {set_words(interval, number)}"
        ax.plot([-found.value], [0.0], "D", color=style.ORANGE, markersize=style.MARKER + 1, clip_on=False,
                zorder=7, label=words, gid="found")  # fmt: skip
        for stretch in stretches:
            bar(ax, stretch, style.ORANGE, level=0.0)
    else:
        ax.plot([], [], " ", label=f"no result: {found.status.replace('_', ' ')}")
    ax.set_xlabel(f"Concentration added ({series.unit})")
    ax.set_ylabel(signal_name if _as_given(series) else f"{signal_name} × V/V₀")
    style.legend(ax, loc="best")
    return ax


def _as_given(series: Addition) -> bool:
    """Whether the signals of the line are those given, not corrected for a volume that grows."""
    given = series.to_dict()["absorbance"]
    return len(given) == len(series.line.point_signals) and bool(
        np.allclose(given, series.line.point_signals, rtol=1e-12)
    )
