"""What a picture of a calibration shows, as numbers; nothing here draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groundstate._core import Calibration, Interval, _coverage_factors

_Floats = NDArray[np.float64]

#: Points of a curve; enough for a smooth line at the width of a page.
GRID = 241


@dataclass(frozen=True)
class Curve:
    """A curve with its confidence band on a grid of concentrations; the band is NaN where u is unknown."""

    x: _Floats
    y: _Floats
    lower: _Floats
    upper: _Floats


def curve(calibration: Calibration, low: float, high: float, coverage: float) -> Curve:
    """The curve from `low` to `high`: mean signal, and that plus and minus k u, for each point by itself."""
    x = np.linspace(low, high, GRID)
    at: Any = calibration.absorbance(x)
    half = _coverage_factors(coverage, list(at.dof)) * at.u
    return Curve(x, at.value, at.value - half, at.value + half)


def ends(calibration: Calibration, values: _Floats) -> tuple[float, float]:
    """From where to where a curve is drawn: zero, its points, and the finite concentrations read from it."""
    seen = np.concatenate([[0.0], calibration.point_concentrations, values[np.isfinite(values)]])
    low, high = float(seen.min()), float(seen.max())
    turn = calibration.turning_point
    if turn is not None and turn > calibration.top:
        # Beyond its turn the curve is no calibration.
        high = min(high, turn)
    return low, (high if high > low else low + 1.0)


def pieces(interval: Interval) -> list[tuple[float, float]]:
    """The stretches that a set is made of, from left to right; an end without bound is infinite."""
    match interval.kind:
        case "empty":
            return []
        case "outside":
            return [(-np.inf, interval.lo), (interval.hi, np.inf)]
        case _:
            return [(interval.lo, interval.hi)]


def set_words(interval: Interval, text: Any) -> str:
    """A set in words, `text` writing a number; no plus or minus for what is not finite."""
    low, high = interval.lo, interval.hi
    match interval.kind:
        case "between":
            return f"{text(low)} to {text(high)}"
        case "below":
            return f"everything up to {text(high)}"
        case "above":
            return f"everything from {text(low)}"
        case "outside":
            return f"up to {text(low)}, or from {text(high)}"
        case "whole":
            return "every value"
        case _:
            return "no value"
