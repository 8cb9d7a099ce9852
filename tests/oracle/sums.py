"""The exact distribution of a sum of independent centred rectangular variables.

Used for the additive model of JCGM 101:2008 clause 9.2: what a coverage interval really is when
the sum is not normal. The distribution function is a signed sum of truncated powers.
"""

from collections.abc import Sequence
from decimal import Decimal
from itertools import product
from math import factorial

from tests.oracle.real import ONE, ZERO


def distribution_function(s: Decimal, half_widths: Sequence[Decimal]) -> Decimal:
    n = len(half_widths)
    scale = ONE * factorial(n)
    for a in half_widths:
        scale *= 2 * a
    value = ZERO
    for signs in product((1, -1), repeat=n):
        shifted = s
        sign = 1
        for direction, a in zip(signs, half_widths, strict=True):
            shifted += direction * a
            sign *= direction
        if shifted > 0:
            value += sign * shifted**n
    return value / scale


def half_interval(half_widths: Sequence[Decimal], coverage: Decimal) -> Decimal:
    """The h with P(-h <= sum <= h) = coverage, by bisection."""
    low, high = ZERO, sum(half_widths, ZERO)
    for _ in range(160):
        middle = (low + high) / 2
        if distribution_function(middle, half_widths) < (1 + coverage) / 2:
            low = middle
        else:
            high = middle
    return (low + high) / 2
