"""Speed beside general-purpose Python, measured side by side in one run.

Each row runs the library and its peer in turn, many times, and compares the medians: on a shared machine only the
ratio means something. Inputs are made here with fixed seeds.

    ./dev bench
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
RANDOM = np.random.default_rng(20261125)

Work = Callable[[], object]


def beside(ours: Work, theirs: Work, rounds: int) -> tuple[float, float]:
    """Median seconds of both, taken in turn."""
    times: tuple[list[float], list[float]] = ([], [])
    for work in (ours, theirs):
        work()
    for _ in range(rounds):
        for work, taken in zip((ours, theirs), times, strict=True):
            start = time.perf_counter()
            work()
            taken.append(time.perf_counter() - start)
    return statistics.median(times[0]), statistics.median(times[1])


def rows() -> Iterator[tuple[str, str, float, float]]:
    x = np.repeat([0.0, 0.2, 0.5, 1.0, 2.0, 3.0], 3)
    y = 0.001 + 0.21 * x + RANDOM.normal(0.0, 0.0005, x.size)
    fit = beside(lambda: gs.calibrate(x, y), lambda: np.polyfit(x, y, 1, cov=True), 2000)
    yield "one line through 18 readings, with covariance", "numpy.polyfit", *fit

    cal = gs.calibrate(x, y)
    signals = 0.6 * RANDOM.random(1_000_000)
    a, b = cal.coefficients
    covariance, s2 = cal.covariance, (cal.residual_sd or 0.0) ** 2

    def by_hand() -> tuple[object, object]:
        value = (signals - a) / b
        variance = s2 + covariance[0, 0] + 2 * value * covariance[0, 1] + value * value * covariance[1, 1]
        return value, np.sqrt(variance) / b

    inverse = beside(lambda: cal.concentration(signals), by_hand, 15)
    yield "a million readings to value and u, with status", "NumPy by hand", *inverse

    run = gs.read_runs(DEMO / "roof_water.csv")[0]
    method = gs.read_method(DEMO / "roof_water.toml")
    runs = [run] * 200
    many = beside(lambda: gs.reduce_many(runs, method), lambda: gs.reduce_many(runs, method, threads=1), 7)
    yield "200 full outcomes, all threads", "the same on one thread", *many


def main() -> None:
    print(f"groundstate {gs.__version__}, NumPy {np.__version__}\n")
    print(f"{'work':52}{'ours':>12}{'peer':>12}{'peer/ours':>11}  peer")
    for what, peer, ours, theirs in rows():
        print(f"{what:52}{1e3 * ours:10.3f}ms{1e3 * theirs:10.3f}ms{theirs / ours:11.2f}  {peer}")


if __name__ == "__main__":
    main()
