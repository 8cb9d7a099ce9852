"""A small writer of pictures as SVG inside a page.

Colours come from the page's style sheet by class, so that a picture follows the page into the dark and onto paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

from groundstate.report._text import clean

#: Room around a panel for the words of its axes.
LEFT, RIGHT, TOP, BOTTOM = 78.0, 14.0, 14.0, 44.0


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers, 1, 2 or 5 times a power of ten apart, between two."""
    span = high - low
    if not (span > 0.0 and math.isfinite(span)):
        return [low] if math.isfinite(low) else []
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next((power * m for m in (1.0, 2.0, 5.0, 10.0) if span / (power * m) <= most), power * 10.0)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)]


def tick_text(value: float) -> str:
    """A tick's number."""
    text = f"{value:.6g}"
    return "0" if text in ("-0", "0") else text.replace("-", "−")


def _at(value: float) -> str:
    """A place in the picture."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _places(corners: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{_at(x)},{_at(y)}" for x, y in corners)


def _box(name: str, x: float, y: float, width: float, height: float) -> str:
    return f'<rect class="{name}" x="{_at(x)}" y="{_at(y)}" width="{_at(width)}" height="{_at(height)}"/>'


class Panel:
    """One pair of axes at a place in a picture."""

    def __init__(
        self,
        box: tuple[float, float, float, float],
        x: tuple[float, float],
        y: tuple[float, float],
        labels: tuple[str, str],
    ) -> None:
        """box: left, top, width and height with the room for words; x, y: limits of the axes; labels: their words."""
        left, top, width, height = box
        self.left, self.top = left + LEFT, top + TOP
        self.right, self.bottom = left + width - RIGHT, top + height - BOTTOM
        self.x, self.y, self.labels = _widened(x), _widened(y), labels
        self.parts: list[str] = []

    def at_x(self, value: float) -> float:
        """Place of a number of the horizontal axis, held at the edges."""
        low, high = self.x
        return self.left + (min(max(value, low), high) - low) / (high - low) * (self.right - self.left)

    def at_y(self, value: float) -> float:
        """Place of a number of the vertical axis, held at the edges."""
        low, high = self.y
        return self.bottom - (min(max(value, low), high) - low) / (high - low) * (self.bottom - self.top)

    def line(self, xs: Iterable[float], ys: Iterable[float], name: str) -> None:
        """A line through points, broken where one is not a number."""
        stroke: list[str] = []
        for x, y in [*zip(xs, ys, strict=True), (math.nan, math.nan)]:
            if math.isfinite(x) and math.isfinite(y):
                stroke.append(f"{_at(self.at_x(x))},{_at(self.at_y(y))}")
            else:
                if len(stroke) > 1:
                    self.parts.append(f'<polyline class="{name}" points="{" ".join(stroke)}"/>')
                stroke = []

    def band(self, xs: Iterable[float], low: Iterable[float], high: Iterable[float], name: str) -> None:
        """The area between two lines, where both are numbers."""
        kept = [(x, a, b) for x, a, b in zip(xs, low, high, strict=True) if math.isfinite(a) and math.isfinite(b)]
        if len(kept) > 1:
            there = [f"{_at(self.at_x(x))},{_at(self.at_y(b))}" for x, _, b in kept]
            back = [f"{_at(self.at_x(x))},{_at(self.at_y(a))}" for x, a, _ in reversed(kept)]
            self.parts.append(f'<polygon class="{name}" points="{" ".join([*there, *back])}"/>')

    def span(self, low: float, high: float, name: str) -> None:
        """A stretch of the horizontal axis from bottom to top."""
        a, b = self.at_x(low), self.at_x(high)
        self.parts.append(_box(name, a, self.top, b - a, self.bottom - self.top))

    def upright(self, x: float, name: str, low: float | None = None, high: float | None = None) -> None:
        """A vertical line, over the whole height or between two numbers."""
        a = self.bottom if low is None else self.at_y(low)
        b = self.top if high is None else self.at_y(high)
        self._stroke(self.at_x(x), a, self.at_x(x), b, name)

    def level(self, y: float, name: str) -> None:
        """A horizontal line."""
        self._stroke(self.left, self.at_y(y), self.right, self.at_y(y), name)

    def on_axis(self, low: float, high: float, name: str) -> None:
        """A bar on the horizontal axis, with an arrow where it leaves the picture."""
        if high < self.x[0] or low > self.x[1]:
            return
        a, b, y = self.at_x(low), self.at_x(high), self.bottom
        self.parts.append(_box(name, a, y - 3, max(b - a, 1.5), 6.0))
        for beyond, at, way in ((low < self.x[0], a, 1), (high > self.x[1], b, -1)):
            if beyond:
                corners = ((at - 7 * way, y), (at, y - 6), (at, y + 6))
                self.parts.append(f'<polygon class="{name}" points="{_places(corners)}"/>')

    def points(self, xs: Iterable[float], ys: Iterable[float], name: str, shape: str = "circle") -> None:
        """Marks: circle, square, diamond, cross or hollow (a square)."""
        for x, y in zip(xs, ys, strict=True):
            if math.isfinite(x) and math.isfinite(y):
                self.parts.append(_mark(self.at_x(x), self.at_y(y), name, shape))

    def words(self, x: float, y: float, text: str, anchor: str = "middle", up: float = 0.0) -> None:
        """Words at a place of the axes, some units above it."""
        self.parts.append(_text(self.at_x(x), self.at_y(y) - up, text, anchor))

    def _stroke(self, x1: float, y1: float, x2: float, y2: float, name: str) -> None:
        self.parts.append(f'<line class="{name}" x1="{_at(x1)}" y1="{_at(y1)}" x2="{_at(x2)}" y2="{_at(y2)}"/>')

    def svg(self, x_ticks: Sequence[float] | None, y_ticks: Sequence[tuple[float, str]] | None) -> str:
        """The panel: what was drawn, over a grid, with its axes. None leaves round numbers to the panel."""
        drawn, self.parts = self.parts, []
        for x in ticks(*self.x) if x_ticks is None else x_ticks:
            self.upright(x, "grid")
            self.parts.append(_text(self.at_x(x), self.bottom + 16, tick_text(x), "middle"))
        named = [(y, tick_text(y)) for y in ticks(*self.y)] if y_ticks is None else y_ticks
        for y, text in named:
            self.level(y, "grid")
            self.parts.append(_text(self.left - 7, self.at_y(y) + 4, text, "end"))
        below, beside = self.labels
        if below:
            self.parts.append(_text((self.left + self.right) / 2, self.bottom + 35, below, "middle"))
        x, y = self.left - LEFT + 12, (self.top + self.bottom) / 2
        self.parts.append(
            f'<text transform="translate({_at(x)} {_at(y)}) rotate(-90)" text-anchor="middle">{_said(beside)}</text>'
        )
        corners = ((self.left, self.top), (self.left, self.bottom), (self.right, self.bottom))
        axes = f'<polyline class="axis" points="{_places(corners)}"/>'
        return "".join([*self.parts, axes, *drawn])


def picture(key: str, title: str, description: str, size: tuple[float, float], inside: Iterable[str]) -> str:
    """A picture with its name and a description for those who do not see it. `key` makes its identifiers."""
    width, height = size
    return (
        f'<svg role="img" aria-labelledby="{key}-title {key}-desc" viewBox="0 0 {_at(width)} {_at(height)}" '
        f'xmlns="http://www.w3.org/2000/svg"><title id="{key}-title">{_said(title)}</title>'
        f'<desc id="{key}-desc">{_said(description)}</desc>{"".join(inside)}</svg>'
    )


def legend(x: float, y: float, entries: Iterable[tuple[str, str, str]]) -> str:
    """Marks with their words in a row: class, shape ("line" and "area" too) and words of each."""
    parts = []
    for name, shape, words in entries:
        if shape == "line":
            parts.append(f'<line class="{name}" x1="{_at(x - 9)}" y1="{_at(y)}" x2="{_at(x + 9)}" y2="{_at(y)}"/>')
        elif shape == "area":
            parts.append(_box(name, x - 9, y - 5, 18.0, 10.0))
        else:
            parts.append(_mark(x, y, name, shape))
        parts.append(_text(x + 14, y + 4, words, "start"))
        x += 34 + 6.4 * len(words)
    return "".join(parts)


def _widened(ends: tuple[float, float]) -> tuple[float, float]:
    low, high = ends
    if not (math.isfinite(low) and math.isfinite(high)):
        return 0.0, 1.0
    if high > low:
        return low, high
    half = 0.5 * abs(low) or 0.5
    return low - half, low + half


def _said(text: str) -> str:
    return escape(str(clean(text)))


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{_at(x)}" y="{_at(y)}" text-anchor="{anchor}">{_said(text)}</text>'


def _mark(x: float, y: float, name: str, shape: str) -> str:
    if shape == "circle":
        return f'<circle class="{name}" cx="{_at(x)}" cy="{_at(y)}" r="3.4"/>'
    if shape == "cross":
        a, b, c, d = _at(x - 4.5), _at(x + 4.5), _at(y - 4.5), _at(y + 4.5)
        return f'<path class="{name} cross" d="M{a} {c}L{b} {d}M{a} {d}L{b} {c}"/>'
    if shape == "diamond":
        return f'<path class="{name}" d="M{_at(x)} {_at(y - 4.6)}l4.6 4.6l-4.6 4.6l-4.6 -4.6z"/>'
    return _box(f"{name} hollow" if shape == "hollow" else name, x - 3.2, y - 3.2, 6.4, 6.4)
