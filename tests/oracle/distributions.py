"""Student t and Fisher F from the incomplete beta function of mpmath, good to 30 digits or more."""

from decimal import Decimal
from functools import cache
from typing import Any

import mpmath

from tests.oracle.real import INFINITE

# near the normal limit 1 - z loses log10(dof) digits of these
WORKING_DIGITS = 60
SETTLED = 36


def _mp(value: Decimal) -> Any:
    return mpmath.mpf(str(value))


def _decimal(value: Any) -> Decimal:
    return Decimal(mpmath.nstr(value, 35, strip_zeros=False))


@cache
def t_quantile(probability: Decimal, dof: Decimal) -> Decimal:
    """The t with P(T <= t) = probability, for real dof > 0; infinite dof is the normal."""
    with mpmath.workdps(WORKING_DIGITS):
        p = _mp(probability)
        normal = mpmath.sqrt(2) * mpmath.erfinv(2 * p - 1)
        if dof == INFINITE:
            return _decimal(normal)
        if p == mpmath.mpf("0.5"):
            return Decimal(0)
        nu = _mp(dof)
        tail = 2 * (1 - p) if p > mpmath.mpf("0.5") else 2 * p
        # P(|T| > t) = I_z(nu/2, 1/2) with z = nu/(nu + t^2)
        low, high = mpmath.mpf(0), mpmath.mpf(1)
        while _two_sided_tail(high, nu) > tail:
            high *= 4
        root = _bisect_then_newton(low, high, nu, tail)
        return _decimal(root if p > mpmath.mpf("0.5") else -root)


def _two_sided_tail(t: Any, nu: Any) -> Any:
    half = mpmath.mpf("0.5")
    return mpmath.betainc(nu / 2, half, 0, nu / (nu + t * t), regularized=True)


def _bisect_then_newton(low: Any, high: Any, nu: Any, tail: Any) -> Any:
    for _ in range(8):
        middle = (low + high) / 2
        if _two_sided_tail(middle, nu) > tail:
            low = middle
        else:
            high = middle
    t = (low + high) / 2
    density_at_zero = mpmath.gamma((nu + 1) / 2) / (mpmath.sqrt(nu * mpmath.pi) * mpmath.gamma(nu / 2))
    for _ in range(12):
        density = density_at_zero * (1 + t * t / nu) ** (-(nu + 1) / 2)
        step = (_two_sided_tail(t, nu) - tail) / (2 * density)
        t += step
        if abs(step) < abs(t) * mpmath.mpf(10) ** -SETTLED:
            return t
    raise ArithmeticError(f"t quantile did not settle for dof {nu}, tail {tail}")


@cache
def f_upper_tail(f: Decimal, dof1: Decimal, dof2: Decimal) -> Decimal:
    """P(F >= f) for real degrees of freedom."""
    with mpmath.workdps(WORKING_DIGITS):
        d1, d2, value = _mp(dof1), _mp(dof2), _mp(f)
        z = d2 / (d2 + d1 * value)
        return _decimal(mpmath.betainc(d2 / 2, d1 / 2, 0, z, regularized=True))
