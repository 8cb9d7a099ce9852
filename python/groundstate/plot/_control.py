"""The control chart of one figure of one check over many runs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from groundstate._core import _argument_error
from groundstate.plot import _style as style
from groundstate.plot._checks import CheckRow, OutcomesLike, check_rows

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Fewer figures than this give limits that are themselves uncertain by a sixth and more; common practice, no source.
ENOUGH = 20


@dataclass(frozen=True)
class ControlLimits:
    """Central line, and s of single figures, with the number of figures they rest on."""

    centre: float
    s: float
    n: int


def limits_of(values: list[float]) -> ControlLimits | None:
    """Mean and standard deviation of the figures; None of fewer than two."""
    if len(values) < 2:
        return None
    return ControlLimits(fmean(values), stdev(values), len(values))


def control(
    outcomes: OutcomesLike,
    check: str = "ccv",
    figure: str = "recovery",
    *,
    first: int | None = None,
    ax: Axes | None = None,
) -> Axes:
    """One figure of one kind of check in order of runs and positions, with central line, warning and control limits.

    The central line is the mean, the warning limits are 2 s and the control limits 3 s from it, s the standard
    deviation of those figures; the words above the chart say so. The shaded area is what the method accepts, where it
    is the same for all. Failed checks are crosses.

    Args:
        outcomes: one outcome or many, in order.
        check, figure: as in the columns of `Outcome.checks`.
        first: number of figures, from the first, that the lines rest on, 2 or more; all of them when not given. A
            chart that judges new figures by lines they helped to draw hides a slow change.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    rows = [
        row for row in check_rows(outcomes) if row.kind == check and row.figure == figure and math.isfinite(row.value)
    ]
    if first is not None and first < 2:
        raise _argument_error("first", f"{first} figures give no standard deviation", "give 2 or more, or leave it out")
    ax = style.one(ax, (7.2, 4.0))
    values = [row.value for row in rows]
    order = list(range(1, len(rows) + 1))
    limits = limits_of(values if first is None else values[:first])
    unit = rows[0].unit if rows else ""
    if limits is not None:
        _lines(ax, limits)
    _accepted(ax, rows, limits)
    if first is not None and 0 < first < len(rows):
        ax.axvline(first + 0.5, color=style.GREY, linewidth=1.0, linestyle=":", gid="end of the base")
    ax.plot(order, values, color=style.BLUE, linewidth=1.0, alpha=0.6, gid="figures in order")
    for verdict, marker, colour in (("pass", "o", style.BLUE), ("fail", "X", style.PLUM)):
        shown = [
            (n, row.value) for n, row in zip(order, rows, strict=True) if (row.verdict == "fail") == (verdict == "fail")
        ]
        size = style.MARKER + (2 if verdict == "fail" else 0)
        if shown:
            ax.plot(*zip(*shown, strict=True), marker, color=colour, markersize=size, gid=verdict)
    title = rows[0].title if rows else check.replace("_", " ")
    words = rows[0].words if rows else figure.replace("_", " ")
    style.headline(ax, f"{title[:1].upper()}{title[1:]}\n{_basis(limits, unit, len(rows))}")
    ax.set_ylabel(f"{words[:1].upper()}{words[1:]}" + (f" ({unit})" if unit else ""))
    ax.set_xlim(0.0, max(len(rows), 1) + 1.0)
    style.whole_numbers(ax)
    style.legend(ax, loc="best")
    runs = len({row.run for row in rows})
    ax.set_xlabel(f"Check, in order ({len(rows)} in {runs} {'run' if runs == 1 else 'runs'})")
    if not rows:
        ax.text(0.5, 0.5, "no such check was evaluated", transform=ax.transAxes, ha="center", va="center")
    return ax


def _basis(limits: ControlLimits | None, unit: str, n: int) -> str:
    if limits is None:
        return f"{n} evaluated: no limits can be computed"
    few = ", few for limits" if limits.n < ENOUGH else ""
    number = style.figure_text
    return f"mean {number(limits.centre, 4)} and s {number(limits.s, 2)} {unit} of {limits.n} figures{few}".replace(
        "  ", " "
    )


def _lines(ax: Axes, limits: ControlLimits) -> None:
    ax.axhline(limits.centre, color=style.ink(), linewidth=1.2, gid="central line")
    named = [("mean", limits.centre)]
    for k, line, name in ((2, (0, (4, 3)), "warning"), (3, "-", "control")):
        for sign in (-1, 1):
            at = limits.centre + sign * k * limits.s
            ax.axhline(at, color=style.ORANGE, linewidth=1.2, linestyle=line, gid=f"{name} limit")
            named.append((f"{'+' if sign > 0 else '−'}{k} s {name}", at))
    if limits.s == 0.0:
        named = named[:1]
    for words, at in named:
        ax.annotate(words, (1.0, at), xycoords=ax.get_yaxis_transform(), xytext=(3, 0), textcoords="offset points",
                    va="center", fontsize=style.SMALL, annotation_clip=False)  # fmt: skip


def _accepted(ax: Axes, rows: list[CheckRow], limits: ControlLimits | None) -> None:
    """The range that the method accepts, where every check has the same; drawn only as far as the figures need."""
    ends = [row.value for row in rows]
    if limits is not None:
        ends += [limits.centre - 3.0 * limits.s, limits.centre + 3.0 * limits.s]
    if ends:
        span = max(ends) - min(ends) or 0.1 * abs(ends[0]) or 1.0
        bottom, top = min(ends) - 0.12 * span, max(ends) + 0.12 * span
        # A range much wider than the scatter would press the chart into a line.
        near = [edge for row in rows for edge in row.limits if edge is not None and bottom - span < edge < top + span]
        ax.set_ylim(
            min([bottom, *(edge - 0.04 * span for edge in near)]), max([top, *(edge + 0.04 * span for edge in near)])
        )
    ranges = {row.limits for row in rows}
    if len(ranges) != 1:
        return
    low, high = ranges.pop()
    bottom, top = ax.get_ylim()
    for edge in (low, high):
        if edge is not None and bottom < edge < top:
            ax.axhline(edge, color=style.GREY, linewidth=1.2, linestyle=":", gid="acceptance limit")
    if low is not None and high is not None:
        name = f"accepted by the method, {low:g} to {high:g}".replace("-", "−")
        ax.axhspan(low, high, facecolor=style.BLUE, alpha=style.FAINT, linewidth=0, label=name, gid="accepted")
        ax.set_ylim(bottom, top)
