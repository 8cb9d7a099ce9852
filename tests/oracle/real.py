"""Numbers of 60 decimal digits.

``Decimal`` takes a float64 without rounding, so the oracle sees exactly the data the library sees.
Normal equations square the condition number; with 60 digits that costs nothing that matters.
"""

from collections.abc import Iterable
from decimal import Decimal, getcontext

DIGITS = 60
getcontext().prec = DIGITS

INFINITE = Decimal("Infinity")
ZERO = Decimal(0)
ONE = Decimal(1)

Number = Decimal | float | int | str


def real(value: Number) -> Decimal:
    """The number itself, unrounded: a float64 is taken as the binary value it holds."""
    return value if isinstance(value, Decimal) else Decimal(value)


def reals(values: Iterable[Number]) -> list[Decimal]:
    return [real(value) for value in values]


def total(values: Iterable[Decimal]) -> Decimal:
    return sum(values, ZERO)


def mean(values: Iterable[Decimal]) -> Decimal:
    kept = list(values)
    return total(kept) / len(kept)
