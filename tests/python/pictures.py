"""What tests of pictures share: artists by name, and a check that words do not run into each other."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest

import groundstate as gs

mpl.use("Agg")

import matplotlib.pyplot as plt

DEMO = Path(gs.__file__).parent / "demo"


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """No figure outlives its test."""
    yield
    plt.close("all")


def outcome(name: str) -> gs.Outcome:
    return gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml")


def artists(ax: Any, gid: str) -> list[Any]:
    return [artist for artist in ax.get_children() if artist.get_gid() == gid]


def one(ax: Any, gid: str) -> Any:
    found = artists(ax, gid)
    assert len(found) == 1, f"{gid}: {len(found)} artists"
    return found[0]


def xy(ax: Any, gid: str) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    line = one(ax, gid)
    return np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)


def legend_words(ax: Any) -> list[str]:
    legend = ax.get_legend()
    return [] if legend is None else [text.get_text() for text in legend.get_texts()]


def shown_words(figure: Any) -> list[tuple[str, Any]]:
    """All words that a figure shows with their boxes, ticks and legends included."""
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    shown = []
    for ax in figure.axes:
        texts = [*ax.texts, ax.title, ax._left_title, ax.xaxis.label, ax.yaxis.label]
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            texts += [tick.label1 for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
        if ax.get_legend() is not None:
            texts += ax.get_legend().get_texts()
        shown += [
            (t.get_text(), t.get_window_extent(renderer)) for t in texts if t.get_visible() and t.get_text().strip()
        ]
    return shown


def overlapping(figure: Any) -> list[tuple[str, str]]:
    """Pairs of words whose boxes overlap by a pixel or more."""
    shown = shown_words(figure)
    return [
        (a, b)
        for i, (a, box) in enumerate(shown)
        for b, other in shown[i + 1 :]
        if min(box.x1, other.x1) - max(box.x0, other.x0) > 1.0 and min(box.y1, other.y1) - max(box.y0, other.y0) > 1.0
    ]


def cut_off(figure: Any) -> list[str]:
    """Words that leave the figure."""
    whole = figure.bbox
    return [
        words
        for words, box in shown_words(figure)
        if box.x0 < -1 or box.x1 > whole.x1 + 1 or box.y0 < -1 or box.y1 > whole.y1 + 1
    ]


def clear(ax: Any) -> None:
    """Asserts that a picture's words neither overlap nor leave it."""
    figure = ax.get_figure()
    assert overlapping(figure) == [], overlapping(figure)
    assert cut_off(figure) == [], cut_off(figure)
