"""Weighted linear least squares by the normal equations, in decimals or in exact fractions.

The same few lines serve both: with ``Fraction`` the coefficients, the inverse normal matrix and the
residual sum of squares of float64 data come out exact.

Source: any text on linear least squares, e.g. NIST/SEMATECH e-Handbook, section 4.4.3.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Generic, TypeVar

N = TypeVar("N", Decimal, Fraction)


@dataclass(frozen=True)
class Solution(Generic[N]):
    """Coefficients in the order of the given powers, (X'WX)^-1, and the weighted residual SS."""

    coefficients: list[N]
    inverse_normal_matrix: list[list[N]]
    residual_ss: N


def solve(x: Sequence[N], y: Sequence[N], weight: Sequence[N], powers: Sequence[int]) -> Solution[N]:
    rows = [[value**power if power else value * 0 + 1 for power in powers] for value in x]
    p = len(powers)
    zero = x[0] * 0
    normal = [
        [sum((w * r[i] * r[j] for w, r in zip(weight, rows, strict=True)), zero) for j in range(p)] for i in range(p)
    ]
    right = [sum((w * r[i] * v for w, r, v in zip(weight, rows, y, strict=True)), zero) for i in range(p)]
    inverse = invert(normal)
    beta = [sum((a * b for a, b in zip(row, right, strict=True)), zero) for row in inverse]
    residual_ss = sum(
        (
            w * (v - sum((c * e for c, e in zip(beta, r, strict=True)), zero)) ** 2
            for w, r, v in zip(weight, rows, y, strict=True)
        ),
        zero,
    )
    return Solution(beta, inverse, residual_ss)


def invert(matrix: Sequence[Sequence[N]]) -> list[list[N]]:
    """Gauss-Jordan elimination with the largest pivot of the column."""
    p = len(matrix)
    work = [list(row) + unit_row(row[0] * 0, p, i) for i, row in enumerate(matrix)]
    for k in range(p):
        best = max(range(k, p), key=lambda i: abs(work[i][k]))
        if work[best][k] == 0:
            raise ZeroDivisionError("the design does not determine the coefficients")
        work[k], work[best] = work[best], work[k]
        pivot = work[k][k]
        work[k] = [entry / pivot for entry in work[k]]
        for i in range(p):
            if i != k:
                factor = work[i][k]
                work[i] = [a - factor * b for a, b in zip(work[i], work[k], strict=True)]
    return [row[p:] for row in work]


def unit_row(zero: N, p: int, place: int) -> list[N]:
    return [zero + 1 if column == place else zero for column in range(p)]
