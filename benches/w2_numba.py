"""W2 in numba, one run a turn of a parallel loop, from rows sorted by run and position."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from archive import CCB, CCV, LOQ, LOWEST, R2, RSD_LIMIT, SD_LIMIT, STANDARD, TOP
from scipy import stats

FAST = {"reassoc", "contract", "arcp", "nsz"}


@numba.njit(cache=True)
def _bounds(run: Any, position: Any, role: Any) -> Any:
    """Where each run starts in the rows, and in the results."""
    starts, rows = np.empty(run.size + 1, np.int64), np.empty(run.size + 1, np.int64)
    count, measured = 0, 0
    for i in range(run.size):
        new = i == 0 or run[i] != run[i - 1]
        if new:
            starts[count], rows[count] = i, measured
            count += 1
        if role[i] != STANDARD and (new or position[i] != position[i - 1]):
            measured += 1
    starts[count], rows[count] = run.size, measured
    return starts[: count + 1].copy(), rows[: count + 1].copy()


@numba.njit(parallel=True, fastmath=FAST, error_model="numpy", cache=True)
def _reduce(
    starts: Any,
    rows: Any,
    run: Any,
    position: Any,
    role: Any,
    signal: Any,
    nominal: Any,
    dilution: Any,
    curved: bool,
    quantiles: Any,
    out_run: Any,
    out_position: Any,
    out_role: Any,
    value: Any,
    u: Any,
    lo: Any,
    hi: Any,
    status: Any,
    flags: Any,
) -> None:
    for r in numba.prange(starts.size - 1):
        begin, end, o = starts[r], starts[r + 1], rows[r]
        n, last = 0, begin
        w0 = w1 = w2 = w3 = w4 = t0 = t1 = t2 = 0.0
        for i in range(begin, end):
            if role[i] == STANDARD and (nominal[i] > 0 or not curved):
                x, y = nominal[i], signal[i]
                w = 1 / x if curved else 1.0
                n, last = n + 1, i + 1
                w0 += w
                w1 += w * x
                w2 += w * x * x
                w3 += w * x * x * x
                w4 += w * x * x * x * x
                t0 += w * y
                t1 += w * x * y
                t2 += w * x * x * y
        if curved:
            v00, v01, v02 = w2 * w4 - w3 * w3, w2 * w3 - w1 * w4, w1 * w3 - w2 * w2
            over = 1 / (w0 * v00 + w1 * v01 + w2 * v02)
            v00, v01, v02 = v00 * over, v01 * over, v02 * over
            v11, v12, v22 = (w0 * w4 - w2 * w2) * over, (w1 * w2 - w0 * w3) * over, (w0 * w2 - w1 * w1) * over
        else:
            over = 1 / (w0 * w2 - w1 * w1)
            v00, v01, v11, v02, v12, v22 = w2 * over, -w1 * over, w0 * over, 0.0, 0.0, 0.0
        a = v00 * t0 + v01 * t1 + v02 * t2
        b = v01 * t0 + v11 * t1 + v12 * t2
        c = v02 * t0 + v12 * t1 + v22 * t2
        centre, sse, total = t0 / w0, 0.0, 0.0
        for i in range(begin, last):
            if role[i] == STANDARD and (nominal[i] > 0 or not curved):
                x, y = nominal[i], signal[i]
                w = 1 / x if curved else 1.0
                off = y - (a + x * (b + x * c))
                sse += w * off * off
                total += w * (y - centre) * (y - centre)
        dof = n - (3 if curved else 2)
        s2, k = sse / dof, quantiles[dof]
        poor = 1 - sse / total < R2
        block, before, now = o, False, False  # where samples wait for the check after them
        i = begin
        while i < end:
            p, kind = position[i], role[i]
            j, total_signal = i, 0.0
            while j < end and position[j] == p:
                total_signal += signal[j]
                j += 1
            m = j - i
            if kind == STANDARD:
                i = j
                continue
            mean, spread = total_signal / m, 0.0
            for q in range(i, j):
                spread += (signal[q] - mean) ** 2
            d = mean - a
            slope, x = b, d / b
            mark = 0
            if curved:
                slope = b * b + 4 * c * d
                if slope < 0:
                    slope = np.nan
                    mark = 1
                slope = np.sqrt(slope)
                x = 2 * d / (b + slope)
            var = v00 + x * (2 * v01 + x * (v11 + 2 * v02 + x * (2 * v12 + x * v22)))
            var += (max(x, LOWEST) if curved else 1.0) / m
            uncertainty = np.sqrt(var * s2) / slope
            factor = dilution[i]
            value[o], u[o] = x * factor, uncertainty * factor
            lo[o], hi[o] = factor * (x - k * uncertainty), factor * (x + k * uncertainty)
            status[o] = 3 if mark else 2 if x > TOP else 4 if x < 0 else 1 if x < LOWEST else 0
            if x > TOP:
                mark |= 2
            if x < LOQ:
                mark |= 4
            sd = np.sqrt(spread / (m - 1))
            if sd > SD_LIMIT and 100 * sd > RSD_LIMIT * abs(mean):
                mark |= 8
            out_run[o], out_position[o], out_role[o] = run[i], p, kind
            if kind in (CCV, CCB):
                failed = abs(100 * x / nominal[i] - 100) > 10 if kind == CCV else abs(x) >= LOQ
                if failed:
                    mark |= 64
                    now = True
            elif poor:
                mark |= 32 | 16
            flags[o] = mark
            o += 1
            i = j
            if kind == CCB:
                if before or now:
                    for q in range(block, o):
                        if out_role[q] not in (CCV, CCB):
                            flags[q] |= 16
                block, before, now = o, now, False


def work(of: dict[str, Any], curved: bool, threads: int) -> dict[str, Any]:
    numba.set_num_threads(threads)
    starts, rows = _bounds(of["run"], of["position"], of["role"][0])
    count = int(rows[-1])
    out = {name: np.empty(count, np.uint32) for name in ("run", "position", "role")}
    out |= {name: np.empty(count) for name in ("value", "standard_uncertainty", "lo", "hi")}
    out |= {name: np.empty(count, np.uint8) for name in ("status_code", "flags")}
    columns = (of[name] for name in ("run", "position"))
    given = (of["role"][0], of["absorbance"], of["nominal"], of["dilution"])
    _reduce(starts, rows, *columns, *given, curved, QUANTILES, *out.values())
    return out


QUANTILES = np.concatenate([[np.inf], stats.t.ppf(0.975, np.arange(1, 101))])
