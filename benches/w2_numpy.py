"""W2 in NumPy, vectorised over runs: from shaped arrays, and from rows in any order by bincount."""

from __future__ import annotations

from typing import Any

import numpy as np
from archive import CCB, CCV, LOQ, LOWEST, R2, RSD_LIMIT, SAMPLE, SD_LIMIT, STANDARD, TOP
from scipy import stats

OUT = ("position", "role", "value", "standard_uncertainty", "lo", "hi", "status_code", "flags")


def dense(of: dict[str, Any], curved: bool) -> dict[str, Any]:
    """From absorbance (runs, positions, replicates), the standards common to all runs."""
    y, roles = of["absorbance"], of["role"][0]
    count = y.shape[2]
    mean = np.add(np.add(y[:, :, 0], y[:, :, 1]), y[:, :, 2]) / 3 if count == 3 else y.mean(axis=2)
    apart = y - mean[:, :, None]
    within = np.einsum("ijk,ijk->ij", apart, apart)
    return _solve(mean, within, count, roles, of["nominal"], of["dilution"], curved)


def by_bincount(of: dict[str, Any], curved: bool) -> dict[str, Any]:
    """From rows in any order; each position of a run is a bin."""
    run, position = of["run"], of["position"]
    runs, positions = int(run.max()) + 1, int(position.max())
    key = run.astype(np.intp) * positions + (position - np.uint32(1))
    bins = runs * positions
    y = of["absorbance"]
    count = np.bincount(key, minlength=bins)
    mean = np.bincount(key, y, bins) / count
    within = np.bincount(key, y * y, bins) - count * mean * mean
    tables = []
    for column in (of["role"][0], of["nominal"], of["dilution"]):
        table = np.empty(bins, column.dtype)
        table[key] = column
        tables.append(table.reshape(runs, positions))
    roles, nominal, dilution = tables
    shape = (runs, positions)
    return _solve(
        mean.reshape(shape), within.reshape(shape), count.reshape(shape), roles[0], nominal[0], dilution, curved
    )


def _solve(mean: Any, within: Any, count: Any, roles: Any, nominal: Any, dilution: Any, curved: bool) -> dict[str, Any]:
    runs = len(mean)
    standards = (roles == STANDARD) & ((nominal > 0) | (not curved))
    x = nominal[standards]
    each = count if np.isscalar(count) else count[0, standards]
    w = each / x if curved else np.broadcast_to(each, x.shape).astype(float)
    columns = np.vander(x, 3 if curved else 2, increasing=True)
    normal = np.linalg.inv((columns.T * w) @ columns)
    y = mean[:, standards]
    c = y @ (normal @ (columns.T * w)).T
    off = y - c @ columns.T
    sse = (off * off) @ w + within[:, standards] @ (1 / x if curved else np.ones_like(x))
    readings = int(np.sum(np.broadcast_to(each, x.shape)))
    dof = readings - columns.shape[1]
    s2 = sse / dof
    centre = (y @ w) / w.sum()
    apart = y - centre[:, None]
    total = (apart * apart) @ w + within[:, standards] @ (1 / x if curved else np.ones_like(x))
    poor = 1 - sse / total < R2
    measured = np.flatnonzero(roles != STANDARD)
    first = int(measured[0])
    rest = slice(first, None) if np.array_equal(measured, np.arange(first, len(roles))) else measured
    role, signal, spread = roles[rest], mean[:, rest], within[:, rest]
    number = count if np.isscalar(count) else count[:, rest]
    d = signal - c[:, :1]
    with np.errstate(invalid="ignore"):
        if curved:
            slope = np.sqrt(c[:, 1:2] ** 2 + 4 * c[:, 2:3] * d)
            content = 2 * d / (c[:, 1:2] + slope)
            parts = normal[2, 2] * content + 2 * normal[1, 2]
            parts = (parts * content + (normal[1, 1] + 2 * normal[0, 2])) * content + 2 * normal[0, 1]
            parts = parts * content + normal[0, 0] + np.maximum(content, LOWEST) / number
        else:
            slope = c[:, 1:2]
            content = d / slope
            parts = (normal[1, 1] * content + 2 * normal[0, 1]) * content + (normal[0, 0] + 1 / number)
        u = np.sqrt(parts * s2[:, None]) / slope
        factor = dilution[:, rest]
        value = content * factor
        u *= factor
        half = float(stats.t.ppf(0.975, dof)) * u
        status = np.where(content > TOP, 2, np.where(content < LOWEST, np.where(content < 0, 4, 1), 0)).astype(np.uint8)
        lost = np.isnan(content)
        status[lost] = 3
        sd = np.sqrt(spread / (number - 1))
        flags = lost.astype(np.uint8)
        flags |= (content > TOP).view(np.uint8) << 1
        flags |= (value < LOQ * factor).view(np.uint8) << 2
        flags |= ((sd > SD_LIMIT) & (100 * sd > RSD_LIMIT * np.abs(signal))).view(np.uint8) << 3
        ccv, ccb = np.flatnonzero(role == CCV), np.flatnonzero(role == CCB)
        bad_ccv = np.abs(content[:, ccv] - 1.0) > 0.1
        bad_ccb = np.abs(content[:, ccb]) >= LOQ
    flags[:, ccv] |= bad_ccv.view(np.uint8) << 6
    flags[:, ccb] |= bad_ccb.view(np.uint8) << 6
    bad = bad_ccv | bad_ccb
    condemned = bad | np.pad(bad, ((0, 0), (1, 0)))[:, :-1]
    block = np.searchsorted(ccb, np.arange(len(role)))
    samples = role == SAMPLE
    flags[:, samples] |= ((condemned[:, block[samples]] | poor[:, None]).view(np.uint8) << 4) | (
        poor[:, None].view(np.uint8) << 5
    )
    shape = value.shape
    position = np.broadcast_to((measured + 1).astype(np.uint32), shape)
    run = np.broadcast_to(np.arange(runs, dtype=np.uint32)[:, None], shape)
    columns_out = (position, np.broadcast_to(role, shape), value, u, value - half, value + half, status, flags)
    return {"run": run.ravel()} | {name: one.ravel() for name, one in zip(OUT, columns_out, strict=True)}
