"""Words and numbers as the page prints them."""

from __future__ import annotations

import math
import re
from typing import Any

from groundstate._core import round_reported

#: What stands where there is no figure.
NONE = "–"

# Controls (line breaks apart) have no picture, and some are no characters of HTML at all.
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")


def clean(value: Any) -> Any:
    """Text without characters that a page cannot hold; anything else as it is."""
    return _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", value) if type(value) is str else value


def style_text(text: str) -> str:
    """Text inside a quoted string of a style sheet: whatever is not a plain letter, digit or space as its number."""
    return "".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in clean(text))


def minus(text: str) -> str:
    """A number with a true minus sign."""
    return text.replace("-", "−")


def figures(value: float | None, count: int = 4) -> str:
    """A number in so many figures; scientific where it is very large or small, a dash where there is none."""
    if value is None or math.isnan(value):
        return NONE
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    if value != 0.0 and not 1e-6 <= abs(value) < 1e7:
        return minus(f"{value:.{count - 1}e}")
    text = round_reported(value, figures=count)
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return minus(text)


def against(value: float, low: float, high: float, count: int = 4) -> str:
    """A number in four figures, or in as many as it takes to print on the side of its limits where it lies."""

    def side(number: float) -> tuple[bool, bool, bool, bool]:
        return number < low, number == low, number > high, number == high

    for more in range(count, 16):
        text = figures(value, more)
        try:
            if side(float(text.replace("−", "-"))) == side(value):
                return text
        except ValueError:
            return text
    return minus(repr(value))


def two(value: float) -> str:
    """An uncertainty in two figures, zeros kept."""
    if not math.isfinite(value):
        return NONE
    if value != 0.0 and not 1e-6 <= abs(value) < 1e7:
        return minus(f"{value:.1e}")
    return minus(round_reported(value, figures=2))


def words(name: str) -> str:
    """A name of the library as words."""
    return name.replace("_", " ")


def sentence(text: str) -> str:
    """Text with a capital in front."""
    return text[:1].upper() + text[1:]


def beside(number: str, unit: str) -> str:
    """A number and its unit, kept on one line."""
    return f"{number}\N{NO-BREAK SPACE}{unit}" if unit else number


def accepted(low: float, high: float, unit: str) -> str:
    """What a check accepts, in words."""
    if math.isfinite(low) and math.isfinite(high):
        return f"{figures(low)} to {beside(figures(high), unit)}"
    if math.isfinite(low):
        return f"from {beside(figures(low), unit)}"
    return f"up to {beside(figures(high), unit)}" if math.isfinite(high) else NONE


def ranges(numbers: list[int] | tuple[int, ...]) -> str:
    """Positions as words: 3, 7–9."""
    from groundstate.plot._checks import stretches

    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in stretches(numbers)) or NONE
