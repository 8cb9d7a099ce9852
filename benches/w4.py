"""W4: errors in both variables, 10,000 runs of 6 levels; numba's Gauss-Newton eliminates the errors of x."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import Any

import numba
import numpy as np
from timing import Row, medians, same, timed

import groundstate as gs

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from scipy import odr

from odrpack import odr_fit

RUNS, SUBSET = 10_000, 50
LEVELS = np.array([0.0, 0.2, 0.5, 1.0, 2.0, 3.0])
U_X, U_Y = 0.002 + 0.005 * LEVELS, 0.002


@numba.njit(parallel=True, fastmath=True, error_model="numpy", cache=True)
def _gauss_newton(x: Any, y: Any, ux: Any, uy: float, curved: bool, out: Any, covariance: Any) -> None:
    for r in numba.prange(x.shape[0]):
        n = x.shape[1]
        true = np.empty(64)
        for i in range(n):
            true[i] = x[r, i]
        a, b, c = 0.0, 0.0, 0.0
        v00 = v01 = v02 = v11 = v12 = v22 = 0.0
        for _ in range(60):
            w0 = w1 = w2 = w3 = w4 = t0 = t1 = t2 = 0.0
            for i in range(n):
                t, slope = true[i], b + 2 * c * true[i]
                w = 1 / (uy * uy + slope * slope * ux[i] * ux[i])
                z = y[r, i] - slope * (x[r, i] - t)
                w0 += w
                w1 += w * t
                w2 += w * t * t
                t0 += w * z
                t1 += w * t * z
                if curved:
                    w3 += w * t * t * t
                    w4 += w * t * t * t * t
                    t2 += w * t * t * z
            if curved:
                v00, v01, v02 = w2 * w4 - w3 * w3, w2 * w3 - w1 * w4, w1 * w3 - w2 * w2
                over = 1 / (w0 * v00 + w1 * v01 + w2 * v02)
                v00, v01, v02 = v00 * over, v01 * over, v02 * over
                v11, v12, v22 = (w0 * w4 - w2 * w2) * over, (w1 * w2 - w0 * w3) * over, (w0 * w2 - w1 * w1) * over
            else:
                over = 1 / (w0 * w2 - w1 * w1)
                v00, v01, v11 = w2 * over, -w1 * over, w0 * over
            a2 = v00 * t0 + v01 * t1 + v02 * t2
            b2 = v01 * t0 + v11 * t1 + v12 * t2
            c2 = v02 * t0 + v12 * t1 + v22 * t2
            moved = abs(a2 - a) + abs(b2 - b) + abs(c2 - c)
            for i in range(n):
                t = true[i]
                slope = b + 2 * c * t
                w = 1 / (uy * uy + slope * slope * ux[i] * ux[i])
                e = y[r, i] - slope * (x[r, i] - t) - (a2 + b2 * t + c2 * t * t)
                true[i] = x[r, i] + slope * ux[i] * ux[i] * w * e
            a, b, c = a2, b2, c2
            if moved < 1e-13:
                break
        out[r, 0], out[r, 1] = a, b
        covariance[r, 0, 0], covariance[r, 1, 0], covariance[r, 0, 1], covariance[r, 1, 1] = v00, v01, v01, v11
        if curved:
            out[r, 2] = c
            covariance[r, 2, 2], covariance[r, 0, 2], covariance[r, 2, 0] = v22, v02, v02
            covariance[r, 1, 2], covariance[r, 2, 1] = v12, v12


def _line(beta: Any, x: Any) -> Any:
    return beta[0] + beta[1] * x


def _quadratic(beta: Any, x: Any) -> Any:
    return beta[0] + x * (beta[1] + x * beta[2])


def shape(name: str) -> Iterator[Row]:
    random = np.random.default_rng(5)
    curved = name == "quadratic"
    x = LEVELS + U_X * random.standard_normal((RUNS, LEVELS.size))
    x = np.maximum(x, 0.0)
    y = 0.01 + x * 0.0 + 0.21 * LEVELS - 0.01 * LEVELS**2 * curved + U_Y * random.standard_normal(x.shape)
    size = 3 if curved else 2

    def ours() -> Any:
        return gs.calibrate_many(x, y, x_uncertainty=U_X, y_uncertainty=U_Y, shape=name, threads=2)

    def by_numba() -> Any:
        numba.set_num_threads(2)
        out, covariance = np.empty((RUNS, size)), np.empty((RUNS, size, size))
        _gauss_newton(x, y, U_X, U_Y, curved, out, covariance)
        return out, covariance

    model = _quadratic if curved else _line
    start = np.array([0.01, 0.2, 0.0][:size])

    def by_odr() -> list[Any]:
        found = []
        for i in range(SUBSET):
            data = odr.RealData(x[i], y[i], sx=U_X, sy=np.full(LEVELS.size, U_Y))
            found.append(odr.ODR(data, odr.Model(model), beta0=start).run().beta)
        return found

    def by_odrpack() -> list[Any]:
        weights = {"weight_x": U_X**-2, "weight_y": np.full(LEVELS.size, U_Y**-2)}
        return [odr_fit(lambda x, b: model(b, x), x[i], y[i], start, **weights).beta for i in range(SUBSET)]

    found, theirs = ours(), by_numba()
    se = np.sqrt(np.diagonal(found.covariance, axis1=1, axis2=2))
    same(f"W4 {name} numba", theirs[0] / se, found.coefficients / se, atol=1e-9)
    scale = se[:, :, None] * se[:, None, :]
    same(f"W4 {name} numba covariance", theirs[1] / scale, found.covariance / scale, atol=1e-9)
    # They stop at about 1e-8 of the sum of squares, which is 1e-4 of a standard error at most.
    for peer, beta in (("scipy.odr", by_odr()), ("odrpack", by_odrpack())):
        same(f"W4 {name} {peer}", np.array(beta) / se[:SUBSET], found.coefficients[:SUBSET] / se[:SUBSET], atol=1e-3)
    t = medians({"ours": ours, "numba": by_numba, "odr": by_odr, "odrpack": by_odrpack}, 7)
    what = f"W4 10,000 runs, errors in both variables, {name}"
    yield timed(what, "numba Gauss-Newton, 2 threads", t["ours"], t["numba"], 1.0)
    yield timed(what, f"scipy.odr ({SUBSET} runs, scaled)", t["ours"], t["odr"] * RUNS / SUBSET, 500.0)
    yield timed(what, f"odrpack ({SUBSET} runs, scaled)", t["ours"], t["odrpack"] * RUNS / SUBSET)


def rows() -> Iterator[Row]:
    yield from shape("line")
    yield from shape("quadratic")
