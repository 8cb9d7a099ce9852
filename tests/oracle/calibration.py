"""Calibration functions: four shapes, six assumptions about noise, readings or standards as points.

Sources: ISO 8466-1:1990 and ISO 8466-2:2001 (unweighted line and second-order function),
ISO/TS 28037:2010 clause 6 (known sigma), QUAM 2012 example A5 (readings as points).
Weights 1/x and 1/x^2: SW-846 8000D section 11.5.2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Literal

from tests.oracle.least_squares import Solution, solve
from tests.oracle.real import INFINITE, ONE, ZERO, Number, mean, real, reals, total

Shape = Literal["line", "line_through_zero", "quadratic", "quadratic_through_zero"]
Points = Literal["readings", "standards"]

POWERS: dict[Shape, tuple[int, ...]] = {
    "line": (0, 1),
    "line_through_zero": (1,),
    "quadratic": (0, 1, 2),
    "quadratic_through_zero": (1, 2),
}


@dataclass(frozen=True)
class Noise:
    """What is assumed of the readings' variance. ``sigma`` belongs to the kinds that give one."""

    kind: Literal["equal", "1/x", "1/x^2", "known_sigma", "relative_sigma", "from_replicates"]
    sigma: tuple[Decimal, ...] = ()

    @property
    def one_sigma(self) -> Decimal | None:
        """The sigma of any reading, if the given ones are all the same."""
        return self.sigma[0] if self.sigma and len(set(self.sigma)) == 1 else None


def noise(kind: str, sigma: Sequence[Number] = ()) -> Noise:
    match kind:
        case "equal" | "1/x" | "1/x^2" | "known_sigma" | "relative_sigma" | "from_replicates":
            return Noise(kind, tuple(reals(sigma)))
        case _:
            raise ValueError(f"unknown noise {kind!r}")


@dataclass(frozen=True)
class Level:
    """One standard: its concentration and its readings."""

    x: Decimal
    readings: tuple[Decimal, ...]


@dataclass(frozen=True)
class Calibration:
    """A fitted calibration function. Coefficients are those fitted, in ascending powers."""

    shape: Shape
    noise: Noise
    points: Points
    levels: tuple[Level, ...]
    x: tuple[Decimal, ...]
    y: tuple[Decimal, ...]
    weight: tuple[Decimal, ...]
    solution: Solution[Decimal]

    @property
    def n(self) -> int:
        return len(self.x)

    @property
    def p(self) -> int:
        return len(POWERS[self.shape])

    @property
    def coefficients(self) -> list[Decimal]:
        return self.solution.coefficients

    @cached_property
    def polynomial(self) -> tuple[Decimal, Decimal, Decimal]:
        """a, b, c of a + b x + c x^2, with zeros where the shape has no such term."""
        terms = [ZERO, ZERO, ZERO]
        for power, value in zip(POWERS[self.shape], self.coefficients, strict=True):
            terms[power] = value
        return terms[0], terms[1], terms[2]

    @property
    def residual_dof(self) -> int:
        return self.n - self.p

    @cached_property
    def residual_variance(self) -> Decimal:
        """Of a point of weight one, from the scatter about the curve."""
        return self.solution.residual_ss / self.residual_dof

    @property
    def residual_sd(self) -> Decimal:
        return self.residual_variance.sqrt()

    @property
    def chi_squared(self) -> Decimal:
        """Only for known sigma, where the weights are 1/u^2."""
        return self.solution.residual_ss

    @cached_property
    def unit_variance(self) -> Decimal:
        """The variance of a point of weight one that the covariance rests on."""
        match self.noise.kind:
            case "known_sigma":
                return ONE
            case "from_replicates":
                return self.within_variance
            case _:
                return self.residual_variance

    @property
    def unit_dof(self) -> Decimal:
        match self.noise.kind:
            case "known_sigma":
                return INFINITE
            case "from_replicates":
                return Decimal(self.within_dof)
            case _:
                return Decimal(self.residual_dof)

    @cached_property
    def covariance(self) -> list[list[Decimal]]:
        scale = self.unit_variance
        return [[scale * entry for entry in row] for row in self.solution.inverse_normal_matrix]

    @property
    def standard_errors(self) -> list[Decimal]:
        return [self.covariance[i][i].sqrt() for i in range(self.p)]

    @property
    def within_dof(self) -> int:
        return sum(len(level.readings) - 1 for level in self.levels)

    @cached_property
    def within_variance(self) -> Decimal:
        """Pooled variance of single readings about the mean of their own standard."""
        squares = total((reading - mean(level.readings)) ** 2 for level in self.levels for reading in level.readings)
        return squares / self.within_dof

    @cached_property
    def lowest(self) -> Decimal:
        """Lowest non-zero level used (semantics: the lowest standard)."""
        return min(value for value in self.x if value > 0)

    @property
    def top(self) -> Decimal:
        return max(self.x)

    def response(self, x: Decimal) -> Decimal:
        a, b, c = self.polynomial
        return a + b * x + c * x * x

    def slope(self, x: Decimal) -> Decimal:
        _, b, c = self.polynomial
        return b + 2 * c * x

    def response_variance(self, x: Decimal) -> Decimal:
        """Variance of the fitted mean response at x."""
        return self.response_covariance(x, x)

    def response_covariance(self, x1: Decimal, x2: Decimal) -> Decimal:
        """Covariance of the fitted mean responses at two concentrations."""
        first, second = ([x**power if power else ONE for power in POWERS[self.shape]] for x in (x1, x2))
        return total(
            g * entry * h
            for g, row in zip(first, self.covariance, strict=True)
            for h, entry in zip(second, row, strict=True)
        )


def calibrate(
    levels: Sequence[tuple[Number, Sequence[Number]]],
    shape: Shape,
    assumption: Noise,
    points: Points = "readings",
    zero: Literal["leave_out"] | None = None,
) -> Calibration:
    """Fit. ``levels`` are the standards in order, each with its readings.

    Given sigmas are one a reading, in order; they are not defined here for means of readings.
    """
    given = assumption.sigma
    if given and points == "standards":
        raise ValueError("a given sigma belongs to a reading, not to a mean")
    kept = tuple(Level(real(x), tuple(reals(readings))) for x, readings in levels)
    if zero == "leave_out" and given:
        owners = [level.x for level in kept for _ in level.readings]
        given = tuple(sigma for sigma, x in zip(given, owners, strict=True) if x != 0)
    if zero == "leave_out":
        kept = tuple(level for level in kept if level.x != 0)
    if points == "readings":
        x = [level.x for level in kept for _ in level.readings]
        y = [reading for level in kept for reading in level.readings]
        count = [1] * len(x)
    else:
        x = [level.x for level in kept]
        y = [mean(level.readings) for level in kept]
        count = [len(level.readings) for level in kept]
    match assumption.kind:
        case "equal":
            weight = [ONE for _ in x]
        case "1/x":
            weight = [1 / value for value in x]
        case "1/x^2":
            weight = [1 / value**2 for value in x]
        case "known_sigma" | "relative_sigma":
            weight = [1 / sigma**2 for sigma in given]
        case "from_replicates":
            # the mean of m readings has 1/m of the pooled variance
            weight = [Decimal(number) for number in count]
    solution = solve(x, y, weight, POWERS[shape])
    return Calibration(shape, assumption, points, kept, tuple(x), tuple(y), tuple(weight), solution)
