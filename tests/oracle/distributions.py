"""Student t and Fisher F from the incomplete beta function of mpmath, good to 30 digits or more."""

from decimal import Decimal
from functools import cache
from typing import Any

import mpmath

from tests.oracle.real import INFINITE

# near the normal limit 1 - z loses log10(dof) digits of these
WORKING_DIGITS = 50
# after a step this small (relative), the next one would be some 1e-36
LAST_STEP = mpmath.mpf("1e-12")


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
        upper = p > mpmath.mpf("0.5")
        t = _positive_quantile(2 * (1 - p) if upper else 2 * p, abs(normal), nu)
        return _decimal(t if upper else -t)


def _two_sided_tail(t: Any, nu: Any) -> Any:
    half = mpmath.mpf("0.5")
    return mpmath.betainc(nu / 2, half, 0, nu / (nu + t * t), regularized=True)


def _positive_quantile(tail: Any, normal: Any, nu: Any) -> Any:
    """The t with P(|T| > t) = tail: a rough start, then Halley's steps, which triple the digits."""
    t = _bisected(tail, nu) if nu < 3 else normal + (normal**3 + normal) / (4 * nu)
    density_at_zero = mpmath.gamma((nu + 1) / 2) / (mpmath.sqrt(nu * mpmath.pi) * mpmath.gamma(nu / 2))
    for _ in range(20):
        density = density_at_zero * (1 + t * t / nu) ** (-(nu + 1) / 2)
        newton = (_two_sided_tail(t, nu) - tail) / (2 * density)
        step = newton / (1 - newton * (nu + 1) * t / (nu + t * t) / 2)
        t += step
        if abs(step) < abs(t) * LAST_STEP:
            return t
    raise ArithmeticError(f"t quantile did not settle for dof {nu}, tail {tail}")


def _bisected(tail: Any, nu: Any) -> Any:
    low, high = mpmath.mpf(0), mpmath.mpf(1)
    while _two_sided_tail(high, nu) > tail:
        low, high = high, 4 * high
    for _ in range(10):
        middle = (low + high) / 2
        if _two_sided_tail(middle, nu) > tail:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@cache
def f_upper_tail(f: Decimal, dof1: Decimal, dof2: Decimal) -> Decimal:
    """P(F >= f) for real degrees of freedom."""
    with mpmath.workdps(WORKING_DIGITS):
        d1, d2, value = _mp(dof1), _mp(dof2), _mp(f)
        z = d2 / (d2 + d1 * value)
        return _decimal(mpmath.betainc(d2 / 2, d1 / 2, 0, z, regularized=True))


@cache
def f_quantile(upper: Decimal, dof1: Decimal, dof2: Decimal) -> Decimal:
    """The F with P(F >= f) = upper; the dof2 infinite: chi-squared on dof1 over dof1."""
    with mpmath.workdps(WORKING_DIGITS):

        def tail(f: Any) -> Any:
            if dof2 == INFINITE:
                return mpmath.gammainc(_mp(dof1) / 2, _mp(dof1) * f / 2, regularized=True)
            return _mp(f_upper_tail(_decimal(f), dof1, dof2))

        low, high = mpmath.mpf(0), mpmath.mpf(1)
        while tail(high) > _mp(upper):
            low, high = high, 2 * high
        while high - low > high * mpmath.mpf(10) ** -28:
            middle = (low + high) / 2
            low, high = (middle, high) if tail(middle) > _mp(upper) else (low, middle)
        return _decimal((low + high) / 2)
