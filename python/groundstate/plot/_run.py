"""A run in order of its positions: what was measured, what the checks said, what is condemned."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, overload

from groundstate._core import Outcome
from groundstate.plot import _style as style
from groundstate.plot._checks import CheckRow, check_rows, document, new_calibrations, positions, stretches

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: How far beyond its limits a check is still drawn in place.
FAR = 1.9


@overload
def run(outcome: Outcome, *, signal_name: str | None = None, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes]: ...
@overload
def run(outcome: Outcome, *, signal_name: str | None = None, ax: Axes) -> Axes: ...
def run(
    outcome: Outcome, *, signal_name: str | None = None, ax: Axes | Sequence[Axes] | None = None
) -> Axes | tuple[Axes, Axes]:
    """Mean signal by position; below, every check between its limits. Condemned stretches are shaded in both.

    In the lower panel each check stands at its place within its own limits, 0 in their middle and -1 and 1 on them (of
    an upper limit alone, 0 is zero), so that recoveries, blanks and differences share one scale. A failed check is a
    cross with its name; one that could not be evaluated, or is missing, a hollow square on the zero line.

    Args:
        outcome: of the run.
        signal_name: what the vertical axis is called; the kind of signal of the method when not given.
        ax: one axes for the signals alone, or a pair; a new pair when not given.

    Returns:
        The axes drawn on: one where one was given, otherwise the pair.
    """
    upper, lower = style.two(ax, (7.2, 4.8), (2.0, 1.0))
    held = document(outcome)
    places = positions(held)
    condemned = stretches(held["condemned"])
    starts = new_calibrations(held)
    for each in (upper, lower):
        if each is not None:
            _background(each, condemned, starts, named=each is upper)
    looks = (
        ("standards", "s", style.GREY, "full"),
        ("checks", "D", style.BLUE, "full"),
        ("samples", "o", style.ORANGE, "full"),
    )
    for group, marker, colour, fill in looks:
        shown = [place for place in places if place.group == group and math.isfinite(place.mean)]
        if shown:
            upper.plot(
                [place.position for place in shown],
                [place.mean for place in shown],
                marker,
                color=colour,
                fillstyle=fill,
                markersize=style.MARKER,
                label=group,
                gid=group,
            )
    unread = [place.position for place in places if not math.isfinite(place.mean)]
    if unread:
        upper.plot(
            unread,
            [0.03] * len(unread),
            "x",
            transform=upper.get_xaxis_transform(),
            color=style.PLUM,
            markersize=style.MARKER,
            label="no reading",
            gid="no reading",
        )
    if places:
        upper.set_xlim(places[0].position - 1, places[-1].position + 1)
    style.whole_numbers(upper)
    kind = held["method"]["signal_kind"].replace("_", " ")
    upper.set_ylabel(f"{kind[:1].upper()}{kind[1:]}" if signal_name is None else signal_name)
    style.headline(upper, f"Run {style.short(outcome.run.name, 24)}, {outcome.method.element}")
    style.legend(upper, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=5, borderaxespad=0.2, handletextpad=0.2,
                 columnspacing=1.0)  # fmt: skip
    if lower is None:
        upper.set_xlabel("Position")
        return upper
    lower.set_xlim(upper.get_xlim())
    _checks(lower, [row for row in check_rows(outcome) if row.position is not None])
    lower.set_xlabel("Position")
    upper.tick_params(labelbottom=False)
    return upper, lower


def _background(ax: Axes, condemned: list[tuple[int, int]], starts: list[int], *, named: bool) -> None:
    for n, (first, last) in enumerate(condemned):
        ax.axvspan(
            first - 0.5,
            last + 0.5,
            facecolor=style.PLUM,
            alpha=style.SHADED,
            linewidth=0,
            label="condemned" if named and n == 0 else None,
            gid="condemned",
        )
    for start in starts:
        ax.axvline(start - 0.5, color=style.GREY, linewidth=1.2, linestyle=(0, (6, 3)), gid="new calibration")


def _checks(ax: Axes, rows: list[CheckRow]) -> None:
    ax.axhspan(-1.0, 1.0, facecolor=style.BLUE, alpha=style.FAINT, linewidth=0, gid="limits")
    for edge in (-1.0, 1.0):
        ax.axhline(edge, color=style.BLUE, linewidth=1.0)
    judged = [row for row in rows if row.verdict in ("pass", "fail") and math.isfinite(row.within)]
    others = [row for row in rows if row.verdict not in ("pass", "fail")]
    for verdict, marker, colour in (("pass", "D", style.BLUE), ("fail", "X", style.PLUM)):
        shown = [row for row in judged if row.verdict == verdict]
        if shown:
            ax.plot(
                [row.position or 0 for row in shown],
                [min(max(row.within, -FAR), FAR) for row in shown],
                marker,
                color=colour,
                markersize=style.MARKER + (2 if verdict == "fail" else 0),
                clip_on=False,
                gid=verdict,
            )
    _names(ax, [row for row in judged if row.verdict == "fail"])
    if others:
        ax.plot(
            [row.position or 0 for row in others],
            [0.0] * len(others),
            "s",
            markerfacecolor="none",
            markeredgecolor=style.PLUM,
            markersize=style.MARKER,
            gid="not evaluated",
        )
    ax.set_ylim(-2.3, 2.3)
    ax.set_yticks([-1.0, 0.0, 1.0], ["lower limit", "middle", "upper limit"], fontsize=style.SMALL)
    ax.grid(False, axis="y")
    ax.set_ylabel("Checks")


def _names(ax: Axes, failed: list[CheckRow]) -> None:
    """Names beside failed checks; of several close together the first is named."""
    left, right = ax.get_xlim()
    taken = -math.inf
    for row in failed:
        at = float(row.position or 0)
        if at - taken < 0.13 * (right - left):
            continue
        taken = at
        inward = at < left + 0.8 * (right - left)
        ax.annotate(
            style.short(row.label, 16),
            (at, min(max(row.within, -FAR), FAR)),
            xytext=(8 if inward else -8, 0),
            textcoords="offset points",
            ha="left" if inward else "right",
            va="center",
            fontsize=style.SMALL,
        )
