"""Invented calibrations and readings, drawn from a seed, as a bench would meet them.

Ranges from 0.1 to 1000 concentration units, absorbances up to about 1, curvature of either sign,
noise from 0.01 % to 1 % of full scale, unequal replicates, a zero level now and then. A draw whose
fitted curve does not rise over its range is not a calibration and is drawn again.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from tests.oracle.calibration import POWERS, Calibration, Points, Shape, calibrate, noise
from tests.oracle.inverse import Reading
from tests.oracle.real import real

SHAPES: tuple[Shape, ...] = ("line", "line_through_zero", "quadratic", "quadratic_through_zero")
NOISES = ("equal", "1/x", "1/x^2", "known_sigma", "relative_sigma", "from_replicates")
WEIGHTED = ("1/x", "1/x^2")


@dataclass(frozen=True)
class RandomCase:
    number: int
    shape: Shape
    noise: str
    points: Points
    zero: Literal["leave_out"] | None
    levels: list[tuple[float, list[float]]]
    sigma: list[float] = field(default_factory=list)
    unknowns: list[tuple[float, int, float | None]] = field(default_factory=list)

    def calibration(self) -> Calibration:
        assumption = noise(self.noise, self.sigma)
        return calibrate(self.levels, self.shape, assumption, self.points, self.zero)

    def readings(self) -> list[Reading]:
        return [Reading(real(y), m, None if u is None else real(u)) for y, m, u in self.unknowns]

    @property
    def one_sigma(self) -> bool:
        return len(set(self.sigma)) == 1


def draw(seed: int, count: int) -> Iterator[RandomCase]:
    rng = random.Random(seed)
    number = 0
    while number < count:
        case = _draw(rng, number)
        if _rises(case.calibration()):
            yield case
            number += 1


def _rises(calibration: Calibration) -> bool:
    """With a margin: at the very edge the two sides may well decide differently."""
    _, b, _ = calibration.polynomial
    at_top = calibration.slope(calibration.top * Decimal("1.01"))
    return min(b, at_top) > abs(b) * Decimal("0.02") and calibration.solution.residual_ss > 0


def _draw(rng: random.Random, number: int) -> RandomCase:
    shape = rng.choice(SHAPES)
    noise_kind = rng.choice(NOISES)
    points: Points = "standards" if noise_kind == "equal" and rng.random() < 0.5 else "readings"
    terms = len(POWERS[shape])

    top = 10 ** rng.uniform(-1, 3)
    count = rng.randint(terms + 2, 8)
    steps = rng.sample(range(4, 100), count - 1)
    x = sorted({float(f"{top * step / 100:.4g}") for step in [*steps, 100]})
    zero_level = rng.random() < 0.3 and not shape.endswith("through_zero")
    zero: Literal["leave_out"] | None = None
    if zero_level:
        x.insert(0, 0.0)
        zero = "leave_out" if noise_kind in WEIGHTED or rng.random() < 0.3 else None

    b = rng.uniform(0.15, 1.0) / top
    a = 0.0 if shape.endswith("through_zero") else rng.uniform(-0.01, 0.02)
    bend = rng.uniform(-0.35, 0.2) if shape.startswith("quadratic") else 0.0
    sd = b * top * 10 ** rng.uniform(-4, -2)
    decimals = rng.choice((4, 5, 17))

    def reading(concentration: float, spread: float) -> float:
        clean = a + b * concentration * (1 + bend * concentration / top)
        return round(rng.gauss(clean, spread), decimals)

    fewest = 2 if noise_kind == "from_replicates" or points == "standards" else 1
    same = rng.randint(fewest, 4)
    levels: list[tuple[float, list[float]]] = []
    for value in x:
        poured = rng.gauss(0, sd) if points == "standards" else 0.0
        replicates = same if points == "standards" else rng.randint(fewest, 4)
        levels.append((value, [reading(value, sd) + poured for _ in range(replicates)]))

    given = sum(len(readings) for _, readings in levels)
    sigma: list[float] = []
    if noise_kind == "known_sigma" and rng.random() < 0.5:
        sigma = [sd] * given
    elif noise_kind in ("known_sigma", "relative_sigma"):
        sigma = [sd * rng.uniform(0.3, 3) for _ in range(given)]

    unknowns: list[tuple[float, int, float | None]] = []
    for _ in range(3):
        m = rng.randint(1, 4)
        needs_u = bool(sigma) and len(set(sigma)) > 1
        u = sd * rng.uniform(0.3, 3) if needs_u or rng.random() < 0.25 else None
        unknowns.append((reading(top * rng.uniform(-0.05, 1.1), sd), m, u))
    return RandomCase(number, shape, noise_kind, points, zero, levels, sigma, unknowns)
