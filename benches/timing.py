"""Works taken in turn, and what a row of the table holds."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Work = Callable[[], Any]


@dataclass(frozen=True)
class Row:
    """One line of the table. `ratio` is how many times as fast (or small, or many) the library is."""

    work: str
    peer: str
    ours: str
    theirs: str
    ratio: float
    #: Least ratio that the goal asks for; none where the row is only reported.
    goal: float | None = None

    @property
    def reached(self) -> str:
        if self.goal is None:
            return ""
        return "yes" if self.ratio >= self.goal else "no"


def timed(work: str, peer: str, ours: float, theirs: float, goal: float | None = None) -> Row:
    return Row(work, peer, seconds(ours), seconds(theirs), theirs / ours, goal)


def seconds(value: float) -> str:
    for scale, unit in ((1.0, "s"), (1e-3, "ms")):
        if value >= scale:
            return f"{value / scale:.3g} {unit}"
    return f"{value / 1e-6:.3g} us" if value >= 1e-6 else f"{value / 1e-9:.3g} ns"


def medians(works: Mapping[str, Work], rounds: int, repeat: int = 1) -> dict[str, float]:
    """Median seconds of each work, taken in turn: on a shared machine only their ratios mean something."""
    taken: dict[str, list[float]] = {name: [] for name in works}
    for work in works.values():
        work()
    for _ in range(rounds):
        for name, work in works.items():
            start = time.perf_counter()
            for _ in range(repeat):
                work()
            taken[name].append((time.perf_counter() - start) / repeat)
    return {name: statistics.median(times) for name, times in taken.items()}


def same(what: str, theirs: Any, ours: Any, rtol: float = 1e-9, atol: float = 0.0) -> None:
    """A peer that gives other numbers does other work, and is not timed."""
    theirs, ours = (np.asarray(one, dtype=np.float64) for one in (theirs, ours))
    if not np.allclose(theirs, ours, rtol=rtol, atol=atol, equal_nan=True):
        apart = float(np.nanmax(np.abs(theirs - ours) / (np.abs(ours) + 1e-300)))
        raise ArithmeticError(f"{what}: the peer's figures differ by {apart:.2e} of ours")


def equal(what: str, theirs: npt.NDArray[Any], ours: npt.NDArray[Any]) -> None:
    """Codes and flags agree to the bit."""
    if not np.array_equal(theirs, ours):
        raise ArithmeticError(f"{what}: {int((np.asarray(theirs) != ours).sum())} of {len(ours)} differ from ours")
