"""W2: 10,000 runs of 162 readings to values, uncertainties, intervals and flags; and to full outcomes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import archive
import memory
import numpy as np
import pandas as pd
import w2_numba
import w2_numpy
import w2_polars
from scipy import stats
from timing import Row, equal, medians, same, timed

import groundstate as gs

RUNS = 10_000
LIMIT = (archive.SD_LIMIT, archive.RSD_LIMIT)


def _agree(what: str, theirs: dict[str, Any], ours: Any) -> None:
    for name in ("run", "position", "status_code"):
        equal(f"{what}: {name}", theirs[name], ours[name])
    for name in ("value", "standard_uncertainty", "lo", "hi"):
        same(f"{what}: {name}", theirs[name], ours[name], atol=1e-11)
    equal(f"{what}: flags", theirs["flags"], ours["flags"])


def columnar(curved: bool) -> Iterator[Row]:
    shaped = archive.shaped(RUNS, curved)
    ordered, shuffled = archive.tidy(shaped), archive.tidy(shaped, order=False)
    words = ordered | {"role": archive.WORDS[ordered["role"][0]]}
    method = gs.read_method(archive.method(curved))

    def ours(table: Any) -> Any:
        return gs.reduce_columns(table, method, replicate_limit=LIMIT, threads=2)

    found = ours(ordered)
    for name, other in (("any order", ours(shuffled)), ("words", ours(words))):
        equal(name, other["value"].view(np.uint64), found["value"].view(np.uint64))
    name = "weighted quadratic" if curved else "line"
    _agree(f"W2 {name} numba", w2_numba.work(ordered, curved, 2), found)
    _agree(f"W2 {name} bincount", w2_numpy.by_bincount(shuffled, curved), found)
    frames = {"sorted": w2_polars.frame(ordered), "any": w2_polars.frame(shuffled)}
    for order, frame in frames.items():
        by_polars = w2_polars.work(frame, curved)
        _agree(f"W2 {name} polars, {order}", {key: by_polars[key].to_numpy() for key in w2_polars.OUT}, found)
    dense = ours(shaped)
    _agree(f"W2 {name} dense", w2_numpy.dense(shaped, curved), dense)
    works = {
        "sorted": lambda: ours(ordered),
        "numba 1": lambda: w2_numba.work(ordered, curved, 1),
        "numba 2": lambda: w2_numba.work(ordered, curved, 2),
        "any": lambda: ours(shuffled),
        "bincount": lambda: w2_numpy.by_bincount(shuffled, curved),
        "polars sorted": lambda: w2_polars.work(frames["sorted"], curved),
        "polars any": lambda: w2_polars.work(frames["any"], curved),
        "shaped": lambda: ours(shaped),
        "dense": lambda: w2_numpy.dense(shaped, curved),
        "words": lambda: ours(words),
    }
    t = medians(works, 7)
    what = f"W2 10,000 runs, {name}"
    yield timed(f"{what}, sorted rows", "numba, 2 threads", t["sorted"], t["numba 2"], 1.0)
    yield timed(f"{what}, sorted rows", "numba, 1 thread", t["sorted"], t["numba 1"])
    yield timed(f"{what}, sorted rows", "polars, its own threads", t["sorted"], t["polars sorted"])
    yield timed(f"{what}, rows in any order", "NumPy bincount", t["any"], t["bincount"], 4.0)
    yield timed(f"{what}, rows in any order", "polars, its own threads", t["any"], t["polars any"])
    yield timed(f"{what}, shaped arrays", "NumPy dense", t["shaped"], t["dense"], 2.0)
    yield timed(f"{what}, sorted rows, roles as plain words", "numba with codes, 2 threads", t["words"], t["numba 2"])


def by_pandas(frame: pd.DataFrame) -> list[pd.DataFrame]:
    """What is natural to write: a loop over groups, a fit by polyfit, columns of results."""
    results = []
    for run, rows in frame.groupby("run"):
        standards = rows[rows["role"] == "standard"]
        x, y = standards["nominal"].to_numpy(), standards["absorbance"].to_numpy()
        (b, a), c = np.polyfit(x, y, 1, cov=True)
        s2 = ((y - a - b * x) ** 2).sum() / (len(x) - 2)
        r2 = 1 - s2 * (len(x) - 2) / ((y - y.mean()) ** 2).sum()
        grouped = rows[rows["role"] != "standard"].groupby("position")
        table = grouped["absorbance"].agg(["mean", "std", "count"])
        table[["role", "nominal", "dilution"]] = grouped[["role", "nominal", "dilution"]].first()
        content = (table["mean"] - a) / b
        variance = s2 / table["count"] + c[1, 1] + 2 * content * c[0, 1] + content**2 * c[0, 0]
        half = stats.t.ppf(0.975, len(x) - 2)
        table["value"] = content * table["dilution"]
        table["u"] = np.sqrt(variance) / b * table["dilution"]
        table["lo"], table["hi"] = table["value"] - half * table["u"], table["value"] + half * table["u"]
        table["above_top"] = content > archive.TOP
        table["below_limit"] = content < archive.LOQ
        table["high_sd"] = (table["std"] > LIMIT[0]) & (100 * table["std"] > LIMIT[1] * table["mean"].abs())
        ccv, ccb = table["role"] == "ccv", table["role"] == "ccb"
        table["failed"] = (ccv & ((content / table["nominal"] - 1).abs() > 0.1)) | (
            ccb & (content.abs() >= archive.LOQ)
        )
        block = ccb.shift(fill_value=False).cumsum()
        bad = table["failed"].groupby(block).any()
        bad |= bad.shift(fill_value=False)
        table["condemned"] = (table["role"] == "sample") & (block.map(bad) | (r2 < archive.R2))
        results.append(table.assign(run=run))
    return results


def full(runs: int = 300) -> Iterator[Row]:
    shaped = archive.shaped(runs, False)
    columns = archive.tidy(shaped)
    frame = pd.DataFrame(columns | {"role": archive.WORDS[columns["role"][0]]})
    frame["run"] = np.char.mod("run %05d", frame["run"].to_numpy())
    frame["label"] = np.char.mod("%d", frame["position"].to_numpy())
    frame["replicate"] = np.tile(np.arange(1, 4), len(frame) // 3)
    frame.loc[frame["role"] != "sample", "dilution"] = math.nan
    method = gs.read_method(archive.method(False))
    peer_frame = frame.assign(dilution=frame["dilution"].fillna(1.0))

    def ours() -> Any:
        return gs.reduce_many(frame, method, threads=2)

    def with_json() -> list[str]:
        return [outcome.to_json() for outcome in ours()]

    def peer_json() -> list[str]:
        return [table.to_json() for table in by_pandas(peer_frame)]

    found = ours()
    if found.errors:
        raise ArithmeticError(f"{len(found.errors)} runs could not be reduced: {found.errors}")
    value = np.concatenate([outcome.measurements["value"] for outcome in found])
    u = np.concatenate([outcome.measurements["standard_uncertainty"] for outcome in found])
    peer = pd.concat(by_pandas(peer_frame))
    same("W2 pandas: value", peer["value"], value, atol=1e-11)
    same("W2 pandas: u", peer["u"], u)
    works = {"ours": ours, "pandas": lambda: by_pandas(peer_frame), "JSON": with_json, "pandas JSON": peer_json}
    t = medians(works, 3)
    what = f"W2 {runs} runs to full outcomes, budgets and findings"
    yield timed(what, "pandas, a loop over groups (figures only)", t["ours"], t["pandas"], 100.0)
    yield timed(f"{what}, as JSON", "the same with to_json", t["JSON"], t["pandas JSON"], 40.0)


def growth() -> tuple[dict[int, float], float]:
    """Seconds of reduce_columns by number of runs, and the slope of their logarithms, by time."""
    method, taken = gs.read_method(archive.method(False)), {}
    for runs, rounds in ((1_000, 15), (10_000, 7), (100_000, 3)):
        table = archive.tidy(archive.shaped(runs, False))
        t = medians({"ours": lambda table=table: gs.reduce_columns(table, method, threads=2)}, rounds)
        taken[runs] = t["ours"]
    slope = np.polyfit(np.log(list(taken)), np.log(list(taken.values())), 1)[0]
    return taken, float(slope)


def rows() -> Iterator[Row]:
    yield from columnar(False)
    yield from columnar(True)
    yield from memory.rows()
    yield from full()
