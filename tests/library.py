"""The library's figures of the cases and of invented data; the runner itself is part of the package."""

from collections.abc import Sequence
from decimal import Decimal

import groundstate as gs
from groundstate._published import Case, answers, cases, fit, given, noise_of, offered
from groundstate._validate import agreeing_digits

__all__ = ["Case", "answers", "cases", "correct_digits", "estimate", "fit", "given", "noise_of", "offered"]


def estimate(cal: gs.Calibration, readings: Sequence[float], u: float | None = None) -> gs.Estimates:
    return cal.concentration([list(readings)], reading_u=u)


def correct_digits(found: float, expected: Decimal) -> float:
    """Minus the common logarithm of the relative error, 17 when there is none."""
    return agreeing_digits(float(found), expected)
