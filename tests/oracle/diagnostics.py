"""Figures that say whether a calibration is fit to use.

r squared is taken about the weighted mean, and about zero for a curve through zero (NIST StRD,
NoInt1). Percent error and RSE: SW-846 8000D sections 11.5.4.1 and 11.5.4.2. Lack of fit against
pure error: NIST/SEMATECH e-Handbook section 4.4.4.6. Mandel: ISO 8466-1:1990.
"""

from dataclasses import dataclass
from decimal import Decimal

from tests.oracle.calibration import Calibration, Shape, calibrate
from tests.oracle.distributions import f_upper_tail
from tests.oracle.inverse import rising_root
from tests.oracle.real import ZERO, mean, total


@dataclass(frozen=True)
class FTest:
    f: Decimal
    dof1: Decimal
    dof2: Decimal

    @property
    def p(self) -> Decimal:
        return f_upper_tail(self.f, self.dof1, self.dof2)


def r_squared(calibration: Calibration) -> Decimal:
    weighted = list(zip(calibration.weight, calibration.y, strict=True))
    centre = ZERO
    if not calibration.shape.endswith("through_zero"):
        centre = total(w * y for w, y in weighted) / total(calibration.weight)
    return 1 - calibration.solution.residual_ss / total(w * (y - centre) ** 2 for w, y in weighted)


def percent_errors(calibration: Calibration) -> list[Decimal | None]:
    """100 (x' - x)/x for each fitted point; None at zero and where the curve is not reached."""
    errors: list[Decimal | None] = []
    for x, y in zip(calibration.x, calibration.y, strict=True):
        found = rising_root(calibration.polynomial, y)
        errors.append(None if x == 0 or found is None else 100 * (found - x) / x)
    return errors


def rse(calibration: Calibration) -> Decimal | None:
    """Relative standard error in percent: n counts the points in the sum; None when n - p <= 0."""
    terms = [error for error in percent_errors(calibration) if error is not None]
    divisor = len(terms) - calibration.p
    return (total(e * e for e in terms) / divisor).sqrt() if divisor > 0 else None


def lack_of_fit(calibration: Calibration) -> FTest:
    """Scatter of the level means about the curve against scatter within the levels."""
    by_level: dict[Decimal, list[tuple[Decimal, Decimal]]] = {}
    for x, y, w in zip(calibration.x, calibration.y, calibration.weight, strict=True):
        by_level.setdefault(x, []).append((w, y))
    pure = ZERO
    for members in by_level.values():
        centre = total(w * y for w, y in members) / total(w for w, _ in members)
        pure += total(w * (y - centre) ** 2 for w, y in members)
    dof1 = Decimal(len(by_level) - calibration.p)
    dof2 = Decimal(calibration.n - len(by_level))
    between = calibration.solution.residual_ss - pure
    return FTest((between / dof1) / (pure / dof2), dof1, dof2)


def mandel(calibration: Calibration) -> FTest:
    """Does one more power reduce the (weighted) residual sum of squares more than noise would?"""
    wider: dict[Shape, Shape] = {
        "line": "quadratic",
        "line_through_zero": "quadratic_through_zero",
    }
    levels = [(level.x, level.readings) for level in calibration.levels]
    curved = calibrate(levels, wider[calibration.shape], calibration.noise, calibration.points)
    gain = calibration.solution.residual_ss - curved.solution.residual_ss
    dof2 = Decimal(curved.residual_dof)
    return FTest(max(gain, ZERO) / curved.residual_variance, Decimal(1), dof2)


def correlation(calibration: Calibration) -> Decimal:
    """r of the unweighted line with a free intercept."""
    x, y = calibration.x, calibration.y
    mx, my = mean(x), mean(y)
    sxy = total((a - mx) * (b - my) for a, b in zip(x, y, strict=True))
    sxx = total((a - mx) ** 2 for a in x)
    syy = total((b - my) ** 2 for b in y)
    return sxy / (sxx * syy).sqrt()
