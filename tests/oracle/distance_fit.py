"""A straight line through points with independent standard uncertainties in x and in y.

York D. et al., Am. J. Phys. 72 (2004) 367: iteration of equation 13, uncertainties from the
adjusted points. ISO/TS 28037:2010 clause 7 has the same solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from tests.oracle.real import ONE, total

ITERATIONS = 300


@dataclass(frozen=True)
class DistanceLine:
    a: Decimal
    b: Decimal
    u_a: Decimal
    u_b: Decimal
    covariance: Decimal
    chi_squared: Decimal


def fit(x: Sequence[Decimal], y: Sequence[Decimal], wx: Sequence[Decimal], wy: Sequence[Decimal]) -> DistanceLine:
    """``wx`` and ``wy`` are inverse variances."""
    mx = total(x) / len(x)
    my = total(y) / len(y)
    b = total((p - mx) * (q - my) for p, q in zip(x, y, strict=True)) / total((p - mx) ** 2 for p in x)
    a = my - b * mx
    for _ in range(ITERATIONS):
        w = [i * j / (i + b * b * j) for i, j in zip(wx, wy, strict=True)]
        mx = _weighted(w, x)
        my = _weighted(w, y)
        u = [p - mx for p in x]
        v = [q - my for q in y]
        beta = [k * (p / j + b * q / i) for k, p, q, i, j in zip(w, u, v, wx, wy, strict=True)]
        slope = total(k * t * q for k, t, q in zip(w, beta, v, strict=True)) / total(
            k * t * p for k, t, p in zip(w, beta, u, strict=True)
        )
        a = my - slope * mx
        settled = abs(slope - b) <= abs(b) * ONE.scaleb(-45)
        b = slope
        if settled:
            break
    else:
        raise ArithmeticError("the distance fit did not settle")
    adjusted = [mx + t for t in beta]
    centre = _weighted(w, adjusted)
    var_b = 1 / total(k * (p - centre) ** 2 for k, p in zip(w, adjusted, strict=True))
    var_a = 1 / total(w) + centre**2 * var_b
    chi_squared = total(k * (q - a - b * p) ** 2 for k, p, q in zip(w, x, y, strict=True))
    return DistanceLine(a, b, var_a.sqrt(), var_b.sqrt(), -centre * var_b, chi_squared)


def _weighted(w: Sequence[Decimal], values: Sequence[Decimal]) -> Decimal:
    return total(k * value for k, value in zip(w, values, strict=True)) / total(w)
