"""W1: one calibration with one sample; a million inverses with both ends of their intervals.

NumPy's best for many inverses works in blocks that stay in the cache and writes in place; the floor is the same
arithmetic in numba on two threads into arrays that exist.
"""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from typing import Any

import numba
import numpy as np
from scipy import stats
from timing import Row, medians, same, timed

import groundstate as gs

COUNT = 1_000_000
BLOCK = 8192


def single() -> Iterator[Row]:
    random = np.random.default_rng(1)
    x = np.repeat([0.0, 0.2, 0.5, 1.0, 2.0, 3.0], 3)
    y = 0.001 + 0.21 * x + random.normal(0.0, 0.0005, x.size)
    cal = gs.calibrate(x, y)
    coefficients, covariance = np.polyfit(x, y, 1, cov=True)
    same("W1 polyfit", coefficients[::-1], cal.coefficients, atol=1e-14)
    same("W1 polyfit covariance", covariance[::-1, ::-1], cal.covariance)

    def with_sample() -> object:
        return gs.calibrate(x, y).concentration(0.2).interval()

    def by_polyfit() -> object:
        (b, a), c = np.polyfit(x, y, 1, cov=True)
        value = (0.2 - a) / b
        s2 = float(((y - a - b * x) ** 2).sum()) / (x.size - 2)
        half = T * np.sqrt(s2 + c[1, 1] + 2 * value * c[0, 1] + value * value * c[0, 0]) / b
        return value - half, value + half

    same("W1 interval", by_polyfit(), [with_sample().lo, with_sample().hi])
    works = {
        "fit": lambda: gs.calibrate(x, y),
        "polyfit": lambda: np.polyfit(x, y, 1, cov=True),
        "sample": with_sample,
        "by hand": by_polyfit,
    }
    t = medians(works, 300, 5)
    yield timed("W1 fit of 18 readings, with covariance", "numpy.polyfit", t["fit"], t["polyfit"], 5.0)
    what = "W1 the same, one sample and its 95 % interval"
    yield timed(what, "numpy.polyfit and by hand, t known", t["sample"], t["by hand"], 5.0)


def in_rust() -> Iterator[Row]:
    """The same without Python, by a program that ./dev bench has built."""
    program = os.environ.get("GROUNDSTATE_SINGLE", "")
    if not program:
        return
    done = subprocess.run([program], capture_output=True, text=True, check=True)
    t = {name: 1e-9 * nanoseconds for name, nanoseconds in json.loads(done.stdout).items()}
    what = "W1 in Rust: fit of 18 readings, covariance, one sample and its ends, t known"
    yield timed(what, "at most 2 us", t["one_sample"], 2e-6, 1.0)
    yield timed(what, "closed form of the line, plain doubles, Rust", t["one_sample"], t["closed_form"])


T = float(stats.t.ppf(0.975, 16))


def blocked(signals: Any, c: Any, v: Any, s2: float, out: Any, k: float) -> None:
    """Line and quadratic in NumPy, in place."""
    curved = len(c) == 3
    work = np.empty((3, BLOCK))
    for start in range(0, signals.size, BLOCK):
        stop = min(start + BLOCK, signals.size)
        value, lo, hi = (column[start:stop] for column in out)
        slope, var, h = (row[: stop - start] for row in work)
        np.subtract(signals[start:stop], c[0], out=value)
        if curved:
            np.multiply(value, 4 * c[2], out=slope)
            slope += c[1] * c[1]
            np.sqrt(slope, out=slope)
            np.add(slope, c[1], out=h)
            value *= 2.0
            value /= h
            # ((v22 x + 2 v12) x + v11 + 2 v02) x + 2 v01) x + v00 + s2
            np.multiply(value, v[2, 2], out=var)
            var += 2 * v[1, 2]
            var *= value
            var += v[1, 1] + 2 * v[0, 2]
        else:
            value *= 1.0 / c[1]
            np.multiply(value, v[1, 1], out=var)
            var += 2 * v[0, 1]
        if curved:
            var *= value
            var += 2 * v[0, 1]
        var *= value
        var += v[0, 0] + s2
        np.sqrt(var, out=h)
        if curved:
            h *= k
            h /= slope
        else:
            h *= k / c[1]
        np.subtract(value, h, out=lo)
        np.add(value, h, out=hi)


@numba.njit(parallel=True, fastmath=True, error_model="numpy", cache=True)
def line_floor(y: Any, a: float, b: float, v: Any, s2: float, k: float, value: Any, lo: Any, hi: Any) -> None:
    over, v00, v01, v11, scaled = 1.0 / b, v[0, 0] + s2, 2 * v[0, 1], v[1, 1], k / b
    for i in numba.prange(y.size):
        x = (y[i] - a) * over
        h = scaled * np.sqrt(v00 + x * (v01 + x * v11))
        value[i], lo[i], hi[i] = x, x - h, x + h


@numba.njit(parallel=True, fastmath=True, error_model="numpy", cache=True)
def quadratic_floor(y: Any, c: Any, v: Any, s2: float, k: float, value: Any, lo: Any, hi: Any) -> None:
    a, b, c4, b2 = c[0], c[1], 4 * c[2], c[1] * c[1]
    p0, p1, p2, p3, p4 = v[0, 0] + s2, 2 * v[0, 1], v[1, 1] + 2 * v[0, 2], 2 * v[1, 2], v[2, 2]
    for i in numba.prange(y.size):
        d = y[i] - a
        slope = np.sqrt(b2 + c4 * d)
        x = 2 * d / (b + slope)
        h = k * np.sqrt(p0 + x * (p1 + x * (p2 + x * (p3 + x * p4)))) / slope
        value[i], lo[i], hi[i] = x, x - h, x + h


def million(shape: str, floor_goal: float) -> Iterator[Row]:
    random = np.random.default_rng(2)
    x = np.repeat([0.0, 0.2, 0.5, 1.0, 2.0, 3.0], 3)
    bend = -0.008 if shape == "quadratic" else 0.0
    cal = gs.calibrate(x, 0.001 + x * (0.21 + bend * x) + random.normal(0.0, 0.0005, x.size), shape=shape)
    signals = 0.55 * random.random(COUNT)
    c, v, s2 = cal.coefficients, cal.covariance, float(cal.residual_sd) ** 2
    k = float(stats.t.ppf(0.975, cal.dof))
    mine, theirs = ([np.empty(COUNT) for _ in range(3)] for _ in range(2))

    def into(out: Any) -> None:
        cal.concentration_into(signals, value=out[0], lo=out[1], hi=out[2], threads=2)

    def floor() -> None:
        numba.set_num_threads(2)
        if shape == "line":
            line_floor(signals, c[0], c[1], v, s2, k, *theirs)
        else:
            quadratic_floor(signals, c, v, s2, k, *theirs)

    # Rows of one array, for both: three arrays have three times as much memory outside of large pages.
    def fresh() -> Any:
        out = np.empty((3, COUNT))
        into(out)
        return out

    def numpy_fresh() -> Any:
        out = np.empty((3, COUNT))
        blocked(signals, c, v, s2, out, k)
        return out

    into(mine)
    floor()
    for name, found in (("numba", theirs), ("NumPy", numpy_fresh())):
        for column, wanted in zip(found, mine, strict=True):
            same(f"W1 {shape} {name}", column, wanted, atol=1e-12)

    def estimates() -> object:
        found = cal.concentration(signals)
        return found.value, found.interval().lo

    works = {
        "into": lambda: into(mine),
        "floor": floor,
        "fresh": fresh,
        "NumPy": numpy_fresh,
        "estimates": estimates,
        "NumPy in place": lambda: blocked(signals, c, v, s2, theirs, k),
    }
    t = medians(works, 25)
    what = f"W1 a million inverses, {shape}"
    yield timed(f"{what}, arrays of the caller", "the floor: numba, 2 threads", t["into"], t["floor"], 1 / floor_goal)
    yield timed(f"{what}, arrays of the caller", "NumPy in blocks, in place", t["into"], t["NumPy in place"])
    yield timed(f"{what}, fresh arrays", "NumPy in blocks", t["fresh"], t["NumPy"], 2.0)
    yield timed(f"{what}, as Estimates with budget", "NumPy in blocks", t["estimates"], t["NumPy"])


def rows() -> Iterator[Row]:
    yield from single()
    yield from in_rust()
    yield from million("line", 1.3)
    yield from million("quadratic", 1.6)
