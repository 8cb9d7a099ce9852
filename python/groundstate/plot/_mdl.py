"""A study of a method detection limit: its results and the two limits they give."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from groundstate._core import ND, Mdl
from groundstate.plot import _style as style

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def mdl(study: Mdl, *, unit: str = "", ax: Axes | None = None) -> Axes:
    """Spikes and method blanks in order, and the limits MDL_S and MDL_b; the one that decides is the full line.

    A non-detect has no height: it stands as a hollow triangle on the axis. A result that was left out as a documented
    gross failure is a cross. Missing results are counted below.

    Args:
        study: the study, as `mdl` gives it.
        unit: unit of the results.
        ax: the axes to draw on; new ones when not given.

    Returns:
        The axes drawn on.
    """
    ax = style.one(ax)
    spikes, blanks = study.spike_results, study.blank_results
    groups = (("spikes", spikes, study.spikes, style.BLUE), ("method blanks", blanks, study.blanks, style.ORANGE))
    start, ticks, names = 0.0, [], []
    for name, results, part, colour in groups:
        places = [start + n for n in range(len(results))]
        _results(ax, places, results, colour)
        middle = (places[0] + places[-1]) / 2.0 if places else start
        ticks.append(middle)
        names.append(_counts(name, part))
        if part.mean is not None and places:
            ax.hlines(part.mean, places[0] - 0.4, places[-1] + 0.4, color=colour, linewidth=1.2, linestyle=":")
        start += max(len(results), 1) + 1.5
    ax.axhline(0.0, color=style.GREY, linewidth=1.0)
    limits = (("MDL_S, from the spikes", study.from_spikes, "spikes", style.BLUE),
              ("MDL_b, from the blanks", study.from_blanks, "blanks", style.ORANGE))  # fmt: skip
    for name, value, source, colour in limits:
        if value is not None:
            decides = study.decided_by == source
            ax.axhline(
                value,
                color=colour,
                linewidth=2.0 if decides else 1.2,
                linestyle="-" if decides else (0, (5, 3)),
                label=f"{name}: {style.figure_text(value)} {unit}".rstrip() + (" (decides)" if decides else ""),
                gid=f"limit from {source}",
            )
    ax.set_xlim(-1.0, start - 1.5)
    ax.margins(y=0.12)
    if not any(isinstance(result.value, float) for result in [*spikes, *blanks]):
        # Without a number there is no scale.
        ax.set_yticks([])
    ax.set_xticks(ticks, names)
    ax.tick_params(axis="x", length=0)
    ax.grid(False, axis="x")
    ax.set_ylabel(f"Result ({unit})" if unit else "Result")
    found = "none" if study.value is None else f"{style.figure_text(study.value)} {unit}".rstrip()
    style.headline(ax, f"Method detection limit: {found} ({study.basis.replace('_', ' ')})")
    style.legend(ax, loc="upper right")
    return ax


def _results(ax: Axes, places: list[float], results: Any, colour: str) -> None:
    numbers = [
        (x, r.value) for x, r in zip(places, results, strict=True) if isinstance(r.value, float) and not r.excluded
    ]
    left_out = [(x, r.value) for x, r in zip(places, results, strict=True) if isinstance(r.value, float) and r.excluded]
    nondetects = [x for x, r in zip(places, results, strict=True) if r.value is ND]
    if numbers:
        ax.plot(*zip(*numbers, strict=True), "o", color=colour, markersize=style.MARKER, gid="results")
    if left_out:
        ax.plot(*zip(*left_out, strict=True), "x", color=style.PLUM, markersize=style.MARKER + 1, gid="left out")
    if nondetects:
        ax.plot(
            nondetects,
            [0.035] * len(nondetects),
            "v",
            transform=ax.get_xaxis_transform(),
            markerfacecolor="none",
            markeredgecolor=colour,
            markersize=style.MARKER + 1,
            clip_on=False,
            gid="non-detects",
        )
        ax.annotate(
            "ND",
            (nondetects[len(nondetects) // 2], 0.035),
            xycoords=ax.get_xaxis_transform(),
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            fontsize=style.SMALL,
        )


def _counts(name: str, part: Any) -> str:
    counts = [f"{part.numeric} numbers"]
    counts += [f"{part.nondetects} ND"] if part.nondetects else []
    counts += [f"{part.excluded} left out"] if part.excluded else []
    counts += [f"{part.missing} missing"] if part.missing else []
    return f"{name}\n{', '.join(counts)}"
