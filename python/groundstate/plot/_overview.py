"""Recoveries and differences of one or many runs, a row for each kind of check."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from groundstate.plot import _style as style
from groundstate.plot._checks import CheckRow, OutcomesLike, check_rows

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def recoveries(outcomes: OutcomesLike, *, ax: Axes | None = None) -> Axes:
    """Recoveries in per cent by kind of check, each over the range that its check accepts.

    Failed checks are crosses. The count at the right is of all checks of the kind, those without a figure included.

    Args:
        outcomes: one outcome or many.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    return _rows(outcomes, ("recovery",), "Recovery (%)", ax, middle=100.0)


def differences(outcomes: OutcomesLike, *, ax: Axes | None = None) -> Axes:
    """Differences of duplicates and diluted portions in per cent by kind of check, each over the range it accepts.

    Failed checks are crosses. The count at the right is of all checks of the kind, those without a figure included.

    Args:
        outcomes: one outcome or many.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    figures = ("relative_percent_difference", "percent_difference")
    return _rows(outcomes, figures, "Difference (%)", ax, middle=0.0)


def _rows(outcomes: OutcomesLike, figures: tuple[str, ...], label: str, ax: Axes | None, middle: float) -> Axes:
    every = check_rows(outcomes)
    kinds = list(dict.fromkeys(row.title for row in every if row.figure in figures))
    ax = style.one(ax, (6.8, 1.2 + 0.42 * max(len(kinds), 1)))
    ax.use_sticky_edges = False
    ax.axvline(middle, color=style.GREY, linewidth=1.0)
    for at, kind in enumerate(kinds):
        ours = [row for row in every if row.title == kind]
        shown = [row for row in ours if row.figure in figures and math.isfinite(row.value)]
        _range(ax, at, shown)
        _marks(ax, at, shown)
        failed = sum(row.verdict == "fail" for row in ours)
        without = len(ours) - sum(row.verdict in ("pass", "fail") for row in ours)
        counts = [f"{len(ours)}"]
        counts += [f"{failed} failed"] if failed else []
        counts += [f"{without} not evaluated"] if without else []
        ax.annotate(", ".join(counts), (1.01, at), xycoords=ax.get_yaxis_transform(), va="center", fontsize=style.SMALL,
                    annotation_clip=False)  # fmt: skip
    ax.set_yticks(range(len(kinds)), [style.short(kind, 40) for kind in kinds], fontsize=style.SMALL)
    ax.set_ylim(max(len(kinds), 1) - 0.5, -0.5)
    ax.grid(False, axis="y")
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel(label)
    if not kinds:
        ax.set_yticks([])
        ax.text(0.5, 0.5, "no such check was evaluated", transform=ax.transAxes, ha="center", va="center")
    return ax


def _range(ax: Axes, at: int, shown: list[CheckRow]) -> None:
    """The accepted range as a bar; where limits differ, one thin bar over another."""
    for low, high in sorted({row.limits for row in shown}, key=str):
        from_, to = low or 0.0, high
        if to is not None and to > from_:
            ax.barh(at, to - from_, left=from_, height=0.6, color=style.BLUE, alpha=style.SHADED, gid="accepted")


def _marks(ax: Axes, at: int, shown: list[CheckRow]) -> None:
    # Spread a little up and down in order, so that equal figures stay apart.
    for verdict, marker, colour in (("pass", "o", style.BLUE), ("fail", "X", style.PLUM)):
        chosen = [(n, row) for n, row in enumerate(shown) if (row.verdict == "fail") == (verdict == "fail")]
        if chosen:
            ax.plot(
                [row.value for _, row in chosen],
                [at + 0.16 * ((n % 3) - 1 if len(shown) > 1 else 0) for n, _ in chosen],
                marker,
                color=colour,
                markersize=style.MARKER + (2 if verdict == "fail" else 0),
                gid=verdict,
            )
