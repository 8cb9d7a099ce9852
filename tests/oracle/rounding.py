"""Rounding of a decimal value to a multiple of a quantum.

Half to even: ISO 80000-1 Annex B rule A, ASTM E29. Half up: rule B. The value is the decimal as
written; its nearest float64 would turn ties into non-ties.
"""

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import Literal


def round_to(value: Decimal, quantum: Decimal, rule: Literal["half_even", "half_up"]) -> Decimal:
    mode = ROUND_HALF_EVEN if rule == "half_even" else ROUND_HALF_UP
    return (value / quantum).quantize(Decimal(1), rounding=mode) * quantum
