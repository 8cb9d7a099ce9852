"""An uncertainty budget as bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from groundstate._core import BudgetLine, Estimate
from groundstate.plot import _style as style

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def budget(of: Estimate | Sequence[BudgetLine], *, most: int = 12, unit: str = "", ax: Axes | None = None) -> Axes:
    """Shares of the variance by source, the largest first.

    Args:
        of: an Estimate, or the lines of its budget, as `Outcome.budget` gives them.
        most: bars at most; smaller sources are drawn together as one.
        unit: unit of the standard uncertainties, of an Estimate its own.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    lines, unit = (of.budget(), of.unit) if isinstance(of, Estimate) else (list(of), unit)
    lines = sorted(lines, key=lambda line: -line.share)
    shown, rest = (lines, []) if len(lines) <= most else (lines[: most - 1], lines[most - 1 :])
    names = [_name(line) for line in shown]
    shares = [100.0 * line.share for line in shown]
    texts = [_text(line.share, line.u, unit) for line in shown]
    if rest:
        names.append(f"{len(rest)} smaller sources")
        shares.append(100.0 * sum(line.share for line in rest))
        texts.append(_text(shares[-1] / 100.0, sum(line.u**2 for line in rest) ** 0.5, unit))
    ax = style.one(ax, (6.4, 1.1 + 0.34 * max(len(names), 1)))
    places = list(range(len(names)))
    bars = ax.barh(places, shares, height=0.62, color=style.BLUE)
    ax.bar_label(bars, texts, padding=4, fontsize=style.SMALL)
    ax.set_yticks(places, names, fontsize=style.SMALL)
    ax.set_ylim(max(len(names), 1) - 0.4, -0.6)
    # Words stand right of their bar.
    ax.set_xlim(0.0, 1.45 * max([*shares, 1.0]))
    ax.set_xticks(
        [tick for tick in range(0, 101, 20 if max([*shares, 1.0]) > 50 else 10) if tick <= max([*shares, 1.0])]
    )
    ax.grid(False, axis="y")
    ax.set_xlabel("Share of the variance (%)")
    if not lines:
        ax.text(0.5, 0.5, "no contributions", transform=ax.transAxes, ha="center", va="center")
    return ax


def _name(line: BudgetLine) -> str:
    """The source with what it is in front: "reading (run/7)" for run/7:reading, "stock Zn-31" for stock:Zn-31."""
    owner, _, what = line.source.rpartition(":")
    if not owner:
        return style.short(line.source)
    if owner == line.kind:
        return style.short(f"{line.kind} {what}")
    return style.short(f"{what.replace('_', ' ')} ({owner})")


def _text(share: float, u: float, unit: str) -> str:
    return f"{100.0 * share:.1f} %, u {style.figure_text(u, 2)} {unit}".rstrip()
