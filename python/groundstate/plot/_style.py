"""What all pictures have in common: colours, new axes, room for words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from groundstate._core import MissingExtraError, _argument_error, round_reported

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Mid-tones, each at least 3:1 against white and against near-black, so that they serve on both; told apart without
# red and green, and never by colour alone: what fails is also a cross, what is missing also hollow.
BLUE = "#286ac7"
ORANGE = "#d65c15"
PLUM = "#b2598c"
GREY = "#7c8793"

#: Opacity of areas.
FAINT, SHADED = 0.10, 0.20
#: Sizes in points: words inside a picture, and markers.
SMALL, MARKER = 8.5, 5.5
#: Longest word set whole.
LONGEST = 34


def pyplot() -> Any:
    """matplotlib's state machine, which shows new figures in a notebook; MissingExtraError without matplotlib."""
    try:
        import matplotlib.pyplot as plt
    except ImportError as missing:
        raise MissingExtraError("pictures need matplotlib: pip install 'groundstate[plot]'") from missing
    return plt


def one(ax: Axes | None, size: tuple[float, float] = (6.4, 4.0)) -> Axes:
    """The axes given, or new ones."""
    plt = pyplot()
    if ax is None:
        _, ax = plt.subplots(figsize=size, layout="constrained")
    assert ax is not None
    tidy(ax)
    return ax


def two(
    ax: Axes | Sequence[Axes] | None, size: tuple[float, float], heights: tuple[float, float]
) -> tuple[Axes, Axes | None]:
    """The axes given, one or a pair; or a new pair, one above the other, of one horizontal axis."""
    plt = pyplot()
    if ax is None:
        ratios = {"height_ratios": heights}
        figure, ax = plt.subplots(2, 1, sharex=True, figsize=size, layout="constrained", gridspec_kw=ratios)
        figure.align_ylabels()
    given: list[Any] = [*ax] if isinstance(ax, Iterable) else [ax, None]
    if len(given) != 2:
        raise _argument_error("ax", f"{len(given)} axes are neither one nor a pair")
    upper, lower = given
    for each in (upper, lower):
        if each is not None:
            tidy(each)
    return upper, lower


def tidy(ax: Axes) -> None:
    """No frame where no axis is, and a faint grid behind everything."""
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(True, color=GREY, alpha=SHADED, linewidth=0.7)
    ax.set_axisbelow(True)


def whole_numbers(ax: Axes) -> None:
    """Ticks of the horizontal axis at whole numbers."""
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator("auto", steps=[1, 2, 5, 10], integer=True))


def small_numbers(ax: Axes) -> None:
    """A vertical axis of small numbers with their power of ten above it."""
    from matplotlib.ticker import ScalarFormatter

    formatter = ScalarFormatter(useMathText=True)
    formatter.set_powerlimits((-3, 4))
    ax.yaxis.set_major_formatter(formatter)
    ax.yaxis.get_offset_text().set_fontsize(SMALL)


def ink() -> str:
    """The colour of words, as the user's style has it."""
    return str(pyplot().rcParams["text.color"])


def headline(ax: Axes, words: str) -> None:
    """Words above the axes, from the left."""
    ax.set_title(words, loc="left", fontsize=SMALL + 1.5)


def legend(ax: Axes, **where: Any) -> None:
    """A legend without a box where there is something to name."""
    if ax.get_legend_handles_labels()[0]:
        # A ground of its own keeps the words apart from lines that pass below.
        ax.legend(fontsize=SMALL, framealpha=0.85, edgecolor="none", **where)


def short(words: str, longest: int = LONGEST) -> str:
    """Words cut in the middle where they are too long; no formula is read into a dollar sign."""
    if len(words) > longest:
        half = (longest - 1) // 2
        words = f"{words[:half]}…{words[-half:]}"
    return words.replace("$", r"\$")


def counted(n: int, one: str, more: str) -> str:
    """A number of things."""
    return f"{n} {one if n == 1 else more}"


def figure_text(value: float, figures: int = 3) -> str:
    """A number in a few figures with a true minus sign; words for what is none."""
    if math.isnan(value):
        return "no figure"
    if math.isinf(value):
        return "unbounded"
    if value != 0.0 and not 1e-5 <= abs(value) < 1e6:
        return f"{value:.{figures - 1}e}".replace("-", "−")
    return round_reported(value, figures=figures).replace("-", "−")
