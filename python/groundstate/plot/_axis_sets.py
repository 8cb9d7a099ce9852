"""Sets of values as bars on the horizontal axis."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def bar(ax: Axes, stretch: tuple[float, float], colour: str, *, level: float | None = None) -> None:
    """A bar on the axis, or at a level of the vertical one, with an arrow where it has no end.

    Called when the limits of the axes are final.
    """
    left, right = ax.get_xlim()
    low, high = stretch
    if high < left or low > right:
        return
    # Whatever leaves the picture is drawn as leaving it.
    beyond_left, beyond_right = low < left, high > right
    from_, to = max(low, left), min(high, right)
    across = ax.get_xaxis_transform() if level is None else ax.transData
    y = 0.0 if level is None else level
    ax.plot(
        [from_, to],
        [y, y],
        transform=across,
        color=colour,
        linewidth=5,
        alpha=0.75,
        solid_capstyle="butt",
        clip_on=False,
        zorder=5,
        gid="interval",
    )
    for beyond, at, marker in ((beyond_left, left, "<"), (beyond_right, right, ">")):
        if beyond:
            ax.plot([at], [y], marker, transform=across, color=colour, markersize=9, clip_on=False, zorder=6)
    for beyond, at in ((beyond_left, from_), (beyond_right, to)):
        if not beyond and np.isfinite(at):
            ax.plot([at], [y], "|", transform=across, color=colour, markersize=9, clip_on=False, zorder=6)
