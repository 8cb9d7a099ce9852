"""Mean and scatter of replicates, outlier tests, robust estimates, tests of equal variances.

Grubbs: NIST/SEMATECH e-Handbook section 1.3.5.17.1. Dixon r10: gap over range.
"""

from collections.abc import Sequence
from decimal import Decimal

from tests.oracle.distributions import t_quantile
from tests.oracle.real import INFINITE, mean, total


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


def median(values: Sequence[Decimal]) -> Decimal:
    ordered, n = sorted(values), len(values)
    return (ordered[(n - 1) // 2] + ordered[n // 2]) / 2


def mad(values: Sequence[Decimal]) -> Decimal:
    """Median absolute deviation from the median, as it is."""
    centre = median(values)
    return median([abs(v - centre) for v in values])


def mad_scaled(values: Sequence[Decimal]) -> Decimal:
    return mad(values) / t_quantile(Decimal("0.75"), INFINITE)


def _pulled(values: Sequence[Decimal], centre: Decimal, limit: Decimal) -> list[Decimal]:
    return [min(max(v, centre - limit), centre + limit) for v in values]


def huber(values: Sequence[Decimal], k: Decimal) -> Decimal:
    """Mean of values pulled in to k scaled MAD, iterated to a standstill (Analyst 114 (1989) 1693)."""
    centre, limit = median(values), k * mad_scaled(values)
    for _ in range(500):
        centre = mean(_pulled(values, centre, limit))
    return centre


def algorithm_a(values: Sequence[Decimal]) -> tuple[Decimal, Decimal]:
    """x* and s* of ISO 13528, annex C: 1.5 s*, 1.134; 500 steps, each of which gains a constant factor."""
    centre, scale = median(values), mad_scaled(values)
    for _ in range(500):
        pulled = _pulled(values, centre, Decimal("1.5") * scale)
        centre, scale = mean(pulled), Decimal("1.134") * sample_sd(pulled)
    return centre, scale


def esd(values: Sequence[Decimal], most: int, alpha: Decimal) -> list[tuple[Decimal, Decimal]]:
    """Statistic and critical value of each step of Rosner's test (NIST handbook 1.3.5.17.3)."""
    left, steps = list(values), []
    for _ in range(most):
        steps.append((grubbs(left), grubbs_critical(len(left), alpha, 2)))
        centre = mean(left)
        left.remove(max(left, key=lambda v: abs(v - centre)))
    return steps


def bartlett(sets: Sequence[Sequence[Decimal]]) -> Decimal:
    """NIST handbook 1.3.5.7."""
    dofs = [Decimal(len(one) - 1) for one in sets]
    variances = [sample_sd(one) ** 2 for one in sets]
    pooled = total(d * v for d, v in zip(dofs, variances, strict=True)) / total(dofs)
    top = total(dofs) * pooled.ln() - total(d * v.ln() for d, v in zip(dofs, variances, strict=True))
    return top / (1 + (total(1 / d for d in dofs) - 1 / total(dofs)) / (3 * (len(sets) - 1)))


def levene(sets: Sequence[Sequence[Decimal]]) -> Decimal:
    """About the medians: NIST handbook 1.3.5.10."""
    distances = [[abs(v - median(one)) for v in one] for one in sets]
    n, k = sum(map(len, sets)), len(sets)
    overall = mean([d for one in distances for d in one])
    between = total(len(one) * (mean(one) - overall) ** 2 for one in distances) / (k - 1)
    within = total((d - mean(one)) ** 2 for one in distances for d in one) / (n - k)
    return between / within
