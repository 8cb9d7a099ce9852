"""W3: Monte Carlo of one run refitted in each trial, a million trials of 24 normal numbers, to u and 95 % interval.

The run: a line through 18 readings of six standards, and six samples. Each trial moves every reading by its error,
fits the line again, and turns the moved readings of the samples back into contents. The peers do the same arithmetic
in NumPy and numba (compiled before the clock starts), with the sums that do not change taken out of the loop, and end
with the same figures: standard deviation and the 2.5 % and 97.5 % quantiles of every sample. numba draws by its own
generator, and by xoshiro256++ with a ziggurat written out for it here; its threads have a generator each, so its
figures depend on the number of threads, where the library's do not.

    python benches/monte_carlo.py
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
import numpy.typing as npt
from timing import medians

import groundstate as gs

Array = npt.NDArray[np.float64]
TRIALS = 1_000_000
SAMPLES = np.array([0.05, 0.1, 0.2, 0.3, 0.45, 0.6])
X = np.repeat([0.0, 0.2, 0.5, 1.0, 2.0, 3.0], 3)
Y = 0.001 + 0.21 * X + np.random.default_rng(20261125).normal(0.0, 0.0005, X.size)
CAL = gs.calibrate(X, Y)
SD = float(CAL.residual_sd or 0.0)
#: What an error of one in each signal does to intercept and slope.
CENTRED = (X - X.mean()) / ((X - X.mean()) ** 2).sum()
BY_SLOPE = CENTRED
BY_INTERCEPT = 1.0 / X.size - X.mean() * CENTRED
INTERCEPT, SLOPE = (float(c) for c in CAL.coefficients)
LOW, HIGH = round(0.025 * TRIALS) - 1, round(0.975 * TRIALS) - 1


def figures(column: Array) -> tuple[float, float, float]:
    ordered = np.partition(column, (LOW, HIGH))
    return float(column.std(ddof=1)), float(ordered[LOW]), float(ordered[HIGH])


def by_numpy() -> list[tuple[float, float, float]]:
    """Vectorised, in blocks that stay in the cache."""
    random = np.random.Generator(np.random.SFC64(1))
    values = np.empty((SAMPLES.size, TRIALS))
    for start in range(0, TRIALS, 8192):
        size = min(8192, TRIALS - start)
        errors = SD * random.standard_normal((X.size + SAMPLES.size, size))
        intercept = INTERCEPT + BY_INTERCEPT @ errors[: X.size]
        slope = SLOPE + BY_SLOPE @ errors[: X.size]
        values[:, start : start + size] = (SAMPLES[:, None] + errors[X.size :] - intercept) / slope
    return [figures(column) for column in values]


@numba.njit(parallel=True, fastmath=True, cache=True)
def _own_generator(values: Array, sd: float, a0: float, b0: float, by_a: Array, by_b: Array, samples: Array) -> None:
    for chunk in numba.prange(values.shape[1] // 1000):
        for trial in range(1000 * chunk, 1000 * chunk + 1000):
            a, b = a0, b0
            for i in range(by_a.size):
                error = sd * np.random.standard_normal()  # noqa: NPY002 - numba has no other per thread
                a += by_a[i] * error
                b += by_b[i] * error
            for k in range(samples.size):
                values[k, trial] = (samples[k] + sd * np.random.standard_normal() - a) / b  # noqa: NPY002


def _ziggurat() -> tuple[Array, Array]:
    """Edges and heights of 256 layers of equal area (Marsaglia and Tsang 2000), by bisection for the base layer."""
    from math import erfc, exp, log, pi, sqrt

    def layers(r: float) -> tuple[list[float], float]:
        area = r * exp(-r * r / 2) + sqrt(pi / 2) * erfc(r / sqrt(2))
        edges = [area / exp(-r * r / 2), r]
        while len(edges) < 257:
            height = exp(-(edges[-1] ** 2) / 2) + area / edges[-1]
            if height >= 1.0:
                return edges, height - 1.0 if len(edges) == 256 else 1.0
            edges.append(sqrt(-2 * log(height)))
        return edges, -1.0

    low, high = 3.0, 4.5
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if layers(middle)[1] > 0 else (low, middle)
    edges = np.array((layers(high)[0] + [0.0] * 257)[:257])
    edges[256] = 0.0
    heights = np.exp(-edges * edges / 2)
    heights[0] = 0.0
    return edges, heights


EDGES, HEIGHTS = _ziggurat()


@numba.njit(fastmath=True, cache=True)
def _at_the_rim(state: Any, layer: int, x: float) -> float:
    while True:
        if layer == 0:
            while True:
                beyond = -np.log((_bits(state) >> np.uint64(11)) * 2.0**-53 + 2.0**-54) / EDGES[1]
                if -2.0 * np.log((_bits(state) >> np.uint64(11)) * 2.0**-53 + 2.0**-54) >= beyond * beyond:
                    return EDGES[1] + beyond if x > 0 else -EDGES[1] - beyond
        y = HEIGHTS[layer] + (_bits(state) >> np.uint64(11)) * 2.0**-53 * (HEIGHTS[layer + 1] - HEIGHTS[layer])
        if y < np.exp(-0.5 * x * x):
            return x
        bits = _bits(state)
        layer = np.int64(bits & np.uint64(255))
        x = ((np.int64(bits) >> 11) + 0.5) * 2.0**-52 * EDGES[layer]
        if abs(x) < EDGES[layer + 1]:
            return x


@numba.njit(fastmath=True, inline="always", cache=True)
def _bits(state: Any) -> Any:
    s0, s1, s2, s3 = state[0], state[1], state[2], state[3]
    total = s0 + s3
    found = ((total << np.uint64(23)) | (total >> np.uint64(41))) + s0
    s2 ^= s0
    s3 ^= s1
    state[0], state[1], state[2] = s0 ^ s3, s1 ^ s2, s2 ^ (s1 << np.uint64(17))
    state[3] = (s3 << np.uint64(45)) | (s3 >> np.uint64(19))
    return found


@numba.njit(fastmath=True, inline="always", cache=True)
def _normal(state: Any) -> Any:
    bits = _bits(state)
    layer = np.int64(bits & np.uint64(255))
    x = ((np.int64(bits) >> 11) + 0.5) * 2.0**-52 * EDGES[layer]
    if abs(x) < EDGES[layer + 1]:
        return x
    return _at_the_rim(state, layer, x)


@numba.njit(parallel=True, fastmath=True, cache=True)
def _written_out(values: Array, sd: float, a0: float, b0: float, by_a: Array, by_b: Array, samples: Array) -> None:
    for chunk in numba.prange(values.shape[1] // 1000):
        state = np.empty(4, np.uint64)
        z = np.uint64(chunk) * np.uint64(0x9E3779B97F4A7C15)
        for i in range(4):
            z += np.uint64(0x9E3779B97F4A7C15)
            mixed = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
            mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
            state[i] = mixed ^ (mixed >> np.uint64(31))
        for trial in range(1000 * chunk, 1000 * chunk + 1000):
            a, b = a0, b0
            for i in range(by_a.size):
                error = sd * _normal(state)
                a += by_a[i] * error
                b += by_b[i] * error
            for k in range(samples.size):
                values[k, trial] = (samples[k] + sd * _normal(state) - a) / b


@numba.njit(parallel=True, cache=True)
def _figures(values: Array, out: Array, low: int, high: int) -> None:
    for k in numba.prange(values.shape[0]):
        out[k, 0] = np.sqrt(values[k].var() * values.shape[1] / (values.shape[1] - 1))
        ordered = np.partition(values[k], high)
        out[k, 2] = ordered[high]
        out[k, 1] = np.partition(ordered[:high], low)[low]


def by_numba(kernel: Callable[..., None], threads: int) -> Callable[[], Array]:
    def work() -> Array:
        numba.set_num_threads(threads)
        values = np.empty((SAMPLES.size, TRIALS))
        kernel(values, SD, INTERCEPT, SLOPE, BY_INTERCEPT, BY_SLOPE, SAMPLES)
        out = np.empty((SAMPLES.size, 3))
        _figures(values, out, LOW, HIGH)
        return out

    return work


def ours(threads: int) -> Callable[[], gs.Simulation]:
    return lambda: CAL.simulate(SAMPLES, seed=1, trials=TRIALS, scatter="normal", threads=threads)


def agree() -> None:
    """All give the same figures to what a million trials know."""
    found = ours(2)().results
    wanted = np.column_stack([found["standard_uncertainty"], found["lo"], found["hi"]])
    for peer in (by_numpy, by_numba(_own_generator, 2), by_numba(_written_out, 2)):
        # 0.1 % of a standard deviation, 0.3 % of one at the 2.5 % quantile; five of these.
        tolerance = 0.015 * wanted[:, :1]
        if not (np.abs(np.array(peer()) - wanted) < tolerance).all():
            raise ArithmeticError(f"the figures of {peer} differ")


def measure(rounds: int = 9) -> list[tuple[str, str, float, float]]:
    """Rows of (work, peer, our seconds, the peer's seconds), medians of interleaved rounds."""
    agree()
    works: dict[str, Callable[[], Any]] = {"ours 1": ours(1), "ours 2": ours(2), "NumPy": by_numpy}
    for name, kernel in (("its own generator", _own_generator), ("a ziggurat written out", _written_out)):
        for threads in (1, 2):
            works[f"numba, {name} {threads}"] = by_numba(kernel, threads)
    median = medians(works, rounds)
    what = "W3 Monte Carlo, a million trials refitted"
    rows = [(f"{what}, 1 thread", "NumPy in blocks, 1 thread", median["ours 1"], median["NumPy"])]
    for name in ("its own generator", "a ziggurat written out"):
        for threads in (1, 2):
            peer = f"numba, {name}"
            label = f"{what}, {threads} thread{'s' if threads > 1 else ''}"
            rows.append((label, peer, median[f"ours {threads}"], median[f"{peer} {threads}"]))
    return rows


if __name__ == "__main__":
    for work, peer, our_seconds, their_seconds in measure():
        ratio = their_seconds / our_seconds
        print(f"{work:55}{1e3 * our_seconds:9.1f} ms{1e3 * their_seconds:9.1f} ms{ratio:7.2f}  {peer}")
