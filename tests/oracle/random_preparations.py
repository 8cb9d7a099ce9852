"""Invented preparations of liquids and solids, drawn from a seed."""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from tests.oracle.preparation import Preparation, Quantity, Report, Weighed
from tests.oracle.real import real

Measured = tuple[float, float]


@dataclass(frozen=True)
class RandomPreparation:
    """Each quantity with its standard uncertainty; per cent solids of a solid only."""

    kind: Literal["solid", "liquid"]
    portion: Measured
    final_volume: Measured
    steps: tuple[tuple[Measured, Measured], ...]
    percent_solids: Measured | None
    weighed: Weighed
    report: Report
    factors: tuple[Measured, ...]

    def preparation(self) -> Preparation:
        solids = None
        if self.percent_solids is not None:
            percent, u = self.percent_solids
            solids = Quantity(real(percent) / 100, real(u) / 100)
        return Preparation(
            portion=exact(self.portion),
            final_volume=exact(self.final_volume),
            steps=[(exact(aliquot), exact(flask)) for aliquot, flask in self.steps],
            solids_fraction=solids,
            weighed=self.weighed,
            report=self.report,
            factors=[exact(factor) for factor in self.factors],
        )


def exact(measured: Measured) -> Quantity:
    value, u = measured
    return Quantity(real(value), real(u))


def draw(seed: int, count: int) -> Iterator[RandomPreparation]:
    rng = random.Random(seed)
    for _ in range(count):
        solid = rng.random() < 0.5
        weighed: Weighed = rng.choice(("wet", "dry"))
        report: Report = rng.choice(("as_received", "dry"))
        yield RandomPreparation(
            kind="solid" if solid else "liquid",
            portion=_near(rng, rng.uniform(0.2, 2.0) if solid else rng.choice((25.0, 50.0, 100.0)), 4),
            final_volume=_near(rng, rng.choice((25.0, 50.0, 100.0, 250.0)), 2),
            steps=tuple(
                (_near(rng, rng.choice((1.0, 2.0, 5.0, 10.0)), 3), _near(rng, rng.choice((25.0, 50.0, 100.0)), 2))
                for _ in range(rng.choice((0, 0, 1, 2)))
            ),
            percent_solids=_near(rng, rng.uniform(5, 99), 1) if solid else None,
            weighed=weighed if solid else "wet",
            report=report if solid else "as_received",
            factors=tuple(_near(rng, rng.uniform(0.9, 1.1), 3) for _ in range(rng.choice((0, 0, 1, 2)))),
        )


def _near(rng: random.Random, value: float, decimals: int) -> Measured:
    """A value to so many decimals, with no uncertainty at all now and then."""
    u = 0.0 if rng.random() < 0.2 else value * 10 ** rng.uniform(-4, -2)
    return round(value, decimals), u
