"""Method detection limit of 40 CFR Part 136 Appendix B (revision 2) and the minimum level.

Section (2)(d): S is the sample standard deviation, t the one-sided 99 % point for n - 1.
Minimum level: 3.18 MDL, rounded to the arithmetically nearest of (1, 2, 5) x 10^n (EPA Method
1631E section 17.12; EPA Method 1638 Table 1, whose selenium row rules out a logarithmic nearest).
"""

from collections.abc import Sequence
from decimal import Decimal

import mpmath

from tests.oracle.distributions import t_quantile
from tests.oracle.real import INFINITE, ZERO, mean
from tests.oracle.samples import sample_sd

NINETY_NINE = Decimal("0.99")


def mdl_from_spikes(spikes: Sequence[Decimal]) -> Decimal:
    return t_quantile(NINETY_NINE, Decimal(len(spikes) - 1)) * sample_sd(spikes)


def mdl_from_blanks(blanks: Sequence[Decimal | None]) -> Decimal | None:
    """None is a blank without a numeric result. No numeric blank: the branch does not apply."""
    numeric = sorted(value for value in blanks if value is not None)
    if not numeric:
        return None
    if len(numeric) < len(blanks):
        if len(blanks) < 100:
            return numeric[-1]
        return numeric[percentile_rank(len(blanks)) - (len(blanks) - len(numeric)) - 1]
    dof = Decimal(len(numeric) - 1)
    return max(mean(numeric), ZERO) + t_quantile(NINETY_NINE, dof) * sample_sd(numeric)


def percentile_rank(count: int) -> int:
    """Rank, from 1, of the 99th percentile: n x 0.99 rounded, a half upwards ("no less than")."""
    return (99 * count + 50) // 100


def minimum_level(mdl: Decimal) -> Decimal:
    level = Decimal("3.18") * mdl
    decade = level.adjusted()
    candidates = [Decimal(digit).scaleb(power) for power in (decade, decade + 1) for digit in (1, 2, 5)]
    return min(candidates, key=lambda candidate: abs(candidate - level))


def noncentrality(dof: Decimal, alpha: Decimal, beta: Decimal) -> Decimal:
    """The delta for which a noncentral t falls below t(1 - alpha) with probability beta.

    T = (Z + delta) / S, so P(T <= t) is the mean of Phi(t S - delta) over S, the root of chi-squared over its degrees
    of freedom; integrated directly at 40 digits.
    """
    t = t_quantile(1 - alpha, dof)
    if dof == INFINITE:
        return t + t_quantile(1 - beta, dof)
    with mpmath.workdps(40):
        nu, critical = mpmath.mpf(str(dof)), mpmath.mpf(str(t))
        constant = mpmath.log(2) + nu / 2 * mpmath.log(nu / 2) - mpmath.loggamma(nu / 2)
        pieces = [mpmath.mpf(k) / 4 for k in (0, 1, 2, 3, 4, 5, 6, 8, 12, 20, 32)]

        def missed(delta: mpmath.mpf) -> mpmath.mpf:
            def weighed(s: mpmath.mpf) -> mpmath.mpf:
                density = mpmath.exp(constant - nu * s * s / 2) * s ** (nu - 1)
                return mpmath.ncdf(critical * s - delta) * density

            return mpmath.quad(weighed, pieces)

        wanted = mpmath.mpf(str(beta))
        found = mpmath.findroot(lambda delta: missed(delta) - wanted, (2 * critical, 2 * critical - 0.3))
        return Decimal(mpmath.nstr(found, 30))
