"""Checks and positions of outcomes as rows of what pictures and reports need; nothing here draws."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from groundstate._core import Outcome, _check_words

#: One outcome, or any number of them.
OutcomesLike = Outcome | Iterable[Outcome]

STANDARDS = frozenset({"standard", "calibration_blank"})
SAMPLES = frozenset({"sample", "addition"})


def several(of: OutcomesLike) -> list[Outcome]:
    """One outcome or many as a list."""
    found = [of] if isinstance(of, Outcome) else list(of)
    for each in found:
        if not isinstance(each, Outcome):
            raise TypeError(f"of: a {type(each).__name__} is not an Outcome")
    return found


@dataclass(frozen=True)
class CheckRow:
    """One check of one run; NaN where it has no such figure."""

    run: str
    kind: str
    title: str
    label: str
    position: int | None
    verdict: str
    reason: str | None
    figure: str | None
    words: str
    unit: str
    value: float
    low: float
    high: float
    affects: tuple[int, ...]
    segment: int
    batch: str | None
    citation: str

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """Lower and upper limit; None where there is none, so that equal limits are equal."""
        return tuple(edge if math.isfinite(edge) else None for edge in (self.low, self.high))  # type: ignore[return-value]

    @property
    def within(self) -> float:
        """Place of the figure between its limits, -1 at the lower and 1 at the upper one; NaN where it has none.

        With an upper limit alone, 0 is nothing; with a lower one alone, -1 is the limit and 0 twice as far from zero.
        """
        if math.isfinite(self.low) and math.isfinite(self.high) and self.high > self.low:
            return (2.0 * self.value - self.high - self.low) / (self.high - self.low)
        if math.isfinite(self.high) and self.high > 0.0:
            return self.value / self.high
        if math.isfinite(self.low) and self.low > 0.0:
            return self.value / self.low - 2.0
        return math.nan


def check_rows(of: OutcomesLike) -> list[CheckRow]:
    """The checks of all outcomes, in order."""
    rows = []
    for outcome in several(of):
        for check, (title, words, unit) in zip(outcome.checks, _check_words(outcome), strict=True):
            rows.append(
                CheckRow(
                    run=outcome.run.name,
                    kind=check["check"],
                    title=title,
                    label=check["label"] or "",
                    position=check["position"],
                    verdict=check["verdict"],
                    reason=check["reason"],
                    figure=check["figure"],
                    words=words or "",
                    unit=unit,
                    value=check["value"],
                    low=check["low"],
                    high=check["high"],
                    affects=tuple(check["affects"]),
                    segment=check["segment"],
                    batch=check["prep_batch"],
                    citation=check["citation"],
                )
            )
    return rows


@dataclass(frozen=True)
class Position:
    """One position of a run with the mean of its readings; NaN where it has none."""

    position: int
    role: str
    label: str
    mean: float
    readings: int

    @property
    def group(self) -> str:
        """Whether it belongs to the standards, the checks or the samples."""
        return "standards" if self.role in STANDARDS else "samples" if self.role in SAMPLES else "checks"


def positions(document: dict[str, Any]) -> list[Position]:
    """The positions of a run, from the outcome's document: the only place that holds every one of them."""
    found = []
    for row in document["run"]["positions"]:
        readings = [reading for reading in row["readings"] if isinstance(reading, (int, float))]
        mean = math.fsum(readings) / len(readings) if readings else math.nan
        found.append(Position(row["position"], row["role"], row.get("label") or "", mean, len(readings)))
    return found


def document(outcome: Outcome) -> dict[str, Any]:
    """The outcome's document."""
    found: dict[str, Any] = json.loads(outcome.to_json(compact=True))
    return found


def new_calibrations(document: dict[str, Any]) -> list[int]:
    """First positions of the second and further calibrations; one matched to a matrix stands beside an external one."""
    return [segment["first_position"] for segment in document["segments"] if not segment.get("matrix")][1:]


def stretches(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Runs of consecutive numbers, by first and last."""
    found: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][1] + 1:
            found[-1] = (found[-1][0], number)
        else:
            found.append((number, number))
    return found
