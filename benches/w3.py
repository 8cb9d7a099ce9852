"""W3: Monte Carlo, by monte_carlo.py."""

from __future__ import annotations

from collections.abc import Iterator

import monte_carlo
from timing import Row, timed


def rows() -> Iterator[Row]:
    for work, peer, ours, theirs in monte_carlo.measure(rounds=5):
        yield timed(work, peer, ours, theirs, 1.5 if "numba" in peer and "2 threads" in work else None)
