"""Mean and scatter of replicates, and the statistics of the two outlier tests.

Grubbs: NIST/SEMATECH e-Handbook section 1.3.5.17.1. Dixon r10: gap over range.
"""

from collections.abc import Sequence
from decimal import Decimal

from tests.oracle.distributions import t_quantile
from tests.oracle.real import mean, total


def sample_sd(values: Sequence[Decimal]) -> Decimal:
    centre = mean(values)
    return (total((v - centre) ** 2 for v in values) / (len(values) - 1)).sqrt()


def grubbs(values: Sequence[Decimal]) -> Decimal:
    centre = mean(values)
    return max(abs(v - centre) for v in values) / sample_sd(values)


def grubbs_critical(n: int, alpha: Decimal, sides: int) -> Decimal:
    """(n - 1)/sqrt(n) sqrt(t^2/(n - 2 + t^2)), t the upper alpha/(sides n) point with n - 2 dof."""
    t2 = t_quantile(1 - alpha / (sides * n), Decimal(n - 2)) ** 2
    return (n - 1) / Decimal(n).sqrt() * (t2 / (n - 2 + t2)).sqrt()


def dixon_r10(values: Sequence[Decimal]) -> Decimal:
    ordered = sorted(values)
    widest = max(ordered[1] - ordered[0], ordered[-1] - ordered[-2])
    return widest / (ordered[-1] - ordered[0])
