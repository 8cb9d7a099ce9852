"""From a reading back to a concentration, with its uncertainty and an interval.

Value: the root on the rising branch. u: first-order propagation (JCGM 100:2008 clause 5.2).
dof: Welch-Satterthwaite (JCGM 100:2008 G.4.1), parts resting on one variance estimate being added
first, so that a result resting on one residual variance has exactly its n - p degrees of freedom.
Test inversion for the line: Fieller, J. R. Stat. Soc. B 16 (1954) 175, from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from tests.oracle.calibration import Calibration
from tests.oracle.distributions import t_quantile
from tests.oracle.real import INFINITE, ONE, ZERO, mean, total

Status = Literal["in_range", "below_lowest", "above_top", "beyond_curve", "negative"]
Polynomial = tuple[Decimal, Decimal, Decimal]


@dataclass(frozen=True)
class Reading:
    """The (mean) value of ``replicates`` readings; ``u``, where given, is that value's own."""

    value: Decimal
    replicates: int = 1
    u: Decimal | None = None


@dataclass(frozen=True)
class VariancePart:
    """A part of a variance, signed, and the degrees of freedom of the estimate it rests on."""

    estimate: str
    variance: Decimal
    dof: Decimal


@dataclass(frozen=True)
class Estimate:
    value: Decimal | None
    u: Decimal | None
    dof: Decimal | None
    status: Status
    reading_variance: Decimal | None


@dataclass(frozen=True)
class IntervalSet:
    """``between`` lo and hi; ``outside`` two half-lines ending at lo and starting at hi; ``whole``."""

    kind: Literal["empty", "between", "outside", "below", "above", "whole"]
    lo: Decimal | None = None
    hi: Decimal | None = None

    @property
    def ends(self) -> tuple[Decimal, Decimal]:
        if self.lo is None or self.hi is None:
            raise ValueError(f"an interval set of kind {self.kind} has not two ends")
        return self.lo, self.hi


def rising_root(polynomial: Polynomial, y: Decimal) -> Decimal | None:
    """x with a + b x + c x^2 = y and a rising curve there; None where there is no such x.

    ISO 8466-2:2001 gives the root by the sign in front of the square root; where the curve rises
    the derivative is plus the square root itself, which leaves one form for both curvatures.
    """
    a, b, c = polynomial
    if c == 0:
        return (y - a) / b if b > 0 else None
    discriminant = b * b - 4 * c * (a - y)
    if discriminant < 0:
        return None
    return (discriminant.sqrt() - b) / (2 * c)


def reading_parts(calibration: Calibration, reading: Reading, x: Decimal) -> list[VariancePart]:
    """Variance of the reading itself, as a signal, by the calibration's own noise model at x."""
    m = Decimal(reading.replicates)
    if reading.u is not None:
        return [VariancePart("given", reading.u**2, INFINITE)]
    held = max(x, calibration.lowest)
    unit, dof = calibration.unit_variance, calibration.unit_dof
    match calibration.noise.kind:
        case "equal" if calibration.points == "standards":
            return _reading_of_a_mean(calibration, m)
        case "equal":
            variance = unit
        case "1/x" if calibration.points == "readings":
            variance = unit * held
        case "1/x^2" if calibration.points == "readings":
            variance = unit * held**2
        case "from_replicates":
            variance = unit
        case "known_sigma" | "relative_sigma" if calibration.noise.one_sigma is not None:
            variance = unit * calibration.noise.one_sigma**2
        case _:
            raise ValueError("this noise model does not say what a new reading's sigma is")
    return [VariancePart("unit", variance / m, dof)]


def _reading_of_a_mean(calibration: Calibration, m: Decimal) -> list[VariancePart]:
    """s^2 of the means already holds s_r^2/m_standard: take that out, put s_r^2/m_sample in."""
    between = VariancePart("unit", calibration.residual_variance, Decimal(calibration.residual_dof))
    if calibration.within_dof == 0:
        return [between]
    within_dof = Decimal(calibration.within_dof)
    s_r2 = calibration.within_variance
    in_the_standards = s_r2 * mean(ONE / len(level.readings) for level in calibration.levels)
    if between.variance < in_the_standards:
        return [VariancePart("within", s_r2 / m, within_dof)]
    return [between, VariancePart("within", s_r2 / m - in_the_standards, within_dof)]


def welch_satterthwaite(parts: Sequence[VariancePart]) -> Decimal:
    """Effective degrees of freedom; parts on the same estimate are added before squaring."""
    by_estimate: dict[str, Decimal] = {}
    dof: dict[str, Decimal] = {}
    for part in parts:
        by_estimate[part.estimate] = by_estimate.get(part.estimate, ZERO) + part.variance
        dof[part.estimate] = part.dof
    combined = total(by_estimate.values())
    denominator = total(variance**2 / dof[name] for name, variance in by_estimate.items() if dof[name] != INFINITE)
    return combined**2 / denominator if denominator > 0 else INFINITE


def concentration(calibration: Calibration, reading: Reading) -> Estimate:
    x = rising_root(calibration.polynomial, reading.value)
    if x is None:
        return Estimate(None, None, None, "beyond_curve", None)
    own = reading_parts(calibration, reading, x)
    curve = VariancePart("unit", calibration.response_variance(x), calibration.unit_dof)
    parts = [*own, curve]
    u = total(part.variance for part in parts).sqrt() / abs(calibration.slope(x))
    return Estimate(x, u, welch_satterthwaite(parts), status(calibration, x), total(p.variance for p in own))


def shared_covariance(calibration: Calibration, x1: Decimal, x2: Decimal) -> Decimal:
    """Covariance of two results of different readings: they share the fitted curve, nothing else."""
    of_the_response = calibration.response_covariance(x1, x2)
    return of_the_response / (calibration.slope(x1) * calibration.slope(x2))


def status(calibration: Calibration, x: Decimal) -> Status:
    if x < 0:
        return "negative"
    if x < calibration.lowest:
        return "below_lowest"
    return "above_top" if x > calibration.top else "in_range"


def delta_interval(estimate: Estimate, coverage: Decimal) -> IntervalSet:
    if estimate.value is None or estimate.u is None or estimate.dof is None:
        raise ValueError("no value, no interval")
    half = t_quantile((1 + coverage) / 2, estimate.dof) * estimate.u
    return IntervalSet("between", estimate.value - half, estimate.value + half)


def fieller_set(calibration: Calibration, reading: Reading, estimate: Estimate, coverage: Decimal) -> IntervalSet:
    """Every x that a two-sided test of size 1 - coverage would not reject, for a line.

    (y - a - b x)^2 <= t^2 (s_reading^2 + var(a + b x)) is a quadratic inequality in x; the reading
    variance is that at the estimate.
    """
    if estimate.dof is None or estimate.reading_variance is None:
        raise ValueError("no value, no interval")
    a, b, _ = calibration.polynomial
    covariance = calibration.covariance
    if calibration.shape == "line":
        v_a, v_ab, v_b = covariance[0][0], covariance[0][1], covariance[1][1]
    elif calibration.shape == "line_through_zero":
        v_a, v_ab, v_b = ZERO, ZERO, covariance[0][0]
    else:
        raise ValueError("Fieller's set is for a line")
    t2 = t_quantile((1 + coverage) / 2, estimate.dof) ** 2
    d = reading.value - a
    square = b * b - t2 * v_b
    half_linear = -(d * b + t2 * v_ab)
    constant = d * d - t2 * (estimate.reading_variance + v_a)
    discriminant = half_linear**2 - square * constant
    if square == 0:
        edge = -constant / (2 * half_linear)
        return IntervalSet("below", hi=edge) if half_linear > 0 else IntervalSet("above", lo=edge)
    if square > 0:
        root = discriminant.sqrt()
        return IntervalSet("between", (-half_linear - root) / square, (-half_linear + root) / square)
    if discriminant <= 0:
        return IntervalSet("whole")
    root = discriminant.sqrt()
    # square is negative, so this quotient is the smaller root
    return IntervalSet("outside", (-half_linear + root) / square, (-half_linear - root) / square)
