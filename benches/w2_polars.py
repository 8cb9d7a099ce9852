"""W2 in polars, lazily: sums of positions and of runs, joined."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
from archive import CCB, CCV, LOQ, LOWEST, R2, RSD_LIMIT, SAMPLE, SD_LIMIT, STANDARD, TOP
from scipy import stats

#: More than any run has positions: run and position are one key, which is grouped faster than two.
PLACES = 1024
OUT = ("run", "position", "role", "value", "standard_uncertainty", "lo", "hi", "status_code", "flags")


def frame(of: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame({name: column[0] if name == "role" else column for name, column in of.items()})


def work(of: pl.DataFrame, curved: bool) -> pl.DataFrame:
    x, y, w = pl.col("nominal"), pl.col("mean"), pl.col("w")
    signal, count = pl.col("absorbance"), pl.col("count")
    each = (
        of.lazy()
        .group_by((pl.col("run") * PLACES + pl.col("position")).alias("key"))
        .agg(
            signal.sum().alias("mean") / pl.len(),
            (signal * signal).sum().alias("squares"),
            pl.len().cast(pl.Float64).alias("count"),
            pl.col("role", "nominal", "dilution").max(),  # the same in every row of a position
        )
        .with_columns(
            run=pl.col("key") // PLACES,
            position=pl.col("key") % PLACES,
            var=(pl.col("squares") - count * y * y).clip(0.0) / (count - 1),
        )
        .drop("squares")
        .sort("key")
        .collect(engine="streaming")  # grouping is faster in that engine, what follows is faster in the other
        .lazy()
    )
    noise = x if curved else pl.lit(1.0)
    used = (pl.col("role") == STANDARD) & ((x > 0) if curved else pl.lit(True))
    standards = each.filter(used).with_columns(
        w=pl.col("count") / noise, within=(pl.col("count") - 1) * pl.col("var") / noise
    )
    sums = {f"w{i}": (w * x**i).sum() for i in range(5 if curved else 3)}
    sums |= {f"t{i}": (w * x**i * y).sum() for i in range(3 if curved else 2)}
    fits = _solved(standards.group_by("run").agg(pl.col("count", "within").sum(), **sums), curved)
    off = y - pl.col("a") - x * (pl.col("b") + x * pl.col("c"))
    apart = y - pl.col("t0") / pl.col("w0")
    scatter = (
        standards.select("run", "nominal", "mean", "w")
        .join(fits.select("run", "a", "b", "c", "t0", "w0"), on="run")
        .group_by("run")
        .agg((w * off * off).sum().alias("off"), (w * apart * apart).sum().alias("apart"))
    )
    sse = pl.col("off") + pl.col("within")
    fits = (
        fits.join(scatter, on="run")
        .with_columns(dof=pl.col("count").cast(pl.UInt32) - (3 if curved else 2))
        .join(QUANTILES, on="dof")
        .with_columns(s2=sse / pl.col("dof"), poor=1 - sse / (pl.col("apart") + pl.col("within")) < R2)
        .drop("count", "within", "off", "apart", "dof", "t0", "w0")
    )
    measured = each.filter(pl.col("role") != STANDARD).join(fits, on="run", maintain_order="left")
    return _bracketed(_inverted(measured, curved)).select(OUT).collect()


QUANTILES = pl.LazyFrame({"dof": np.arange(1, 101, dtype=np.uint32), "k": stats.t.ppf(0.975, np.arange(1, 101))})


def _solved(sums: pl.LazyFrame, curved: bool) -> pl.LazyFrame:
    w0, w1, w2 = pl.col("w0"), pl.col("w1"), pl.col("w2")
    if not curved:
        over = 1 / (w0 * w2 - w1 * w1)
        found = sums.with_columns(v00=w2 * over, v01=-w1 * over, v11=w0 * over)
        t0, t1 = pl.col("t0"), pl.col("t1")
        return found.with_columns(
            a=pl.col("v00") * t0 + pl.col("v01") * t1, b=pl.col("v01") * t0 + pl.col("v11") * t1, c=pl.lit(0.0)
        ).drop("w1", "w2", "t1")
    w3, w4 = pl.col("w3"), pl.col("w4")
    v = {"v00": w2 * w4 - w3 * w3, "v01": w2 * w3 - w1 * w4, "v02": w1 * w3 - w2 * w2}
    v |= {"v11": w0 * w4 - w2 * w2, "v12": w1 * w2 - w0 * w3, "v22": w0 * w2 - w1 * w1}
    over = w0 * v["v00"] + w1 * v["v01"] + w2 * v["v02"]
    found = sums.with_columns(**{name: parts / over for name, parts in v.items()})

    def product(names: str) -> pl.Expr:
        return sum((pl.col(name) * pl.col(f"t{i}") for i, name in enumerate(names.split())), pl.lit(0.0))

    return found.with_columns(a=product("v00 v01 v02"), b=product("v01 v11 v12"), c=product("v02 v12 v22")).drop(
        "w1", "w2", "w3", "w4", "t1", "t2"
    )


def _inverted(measured: pl.LazyFrame, curved: bool) -> pl.LazyFrame:
    b, c, k, x = pl.col("b"), pl.col("c"), pl.col("k"), pl.col("x")
    d = pl.col("mean") - pl.col("a")
    v00, v01, v11, v02, v12, v22 = (pl.col(name) for name in ("v00", "v01", "v11", "v02", "v12", "v22"))
    if curved:
        # The root of less than nothing is not a number, and stays one.
        measured = measured.with_columns(slope=(b * b + 4 * c * d).sqrt()).with_columns(x=2 * d / (b + pl.col("slope")))
        parts = v00 + x * (2 * v01 + x * (v11 + 2 * v02 + x * (2 * v12 + x * v22)))
        parts += pl.max_horizontal(x, pl.lit(LOWEST)) / pl.col("count")
    else:
        measured = measured.with_columns(slope=b, x=d / b)
        parts = v00 + x * (2 * v01 + x * v11) + 1 / pl.col("count")
    lost, factor, sd = x.is_nan(), pl.col("dilution"), pl.col("var").sqrt()
    above = (x > TOP) & ~lost
    failed = (
        pl.when(pl.col("role") == CCV)
        .then((100 * x / pl.col("nominal") - 100).abs() > 10)
        .when(pl.col("role") == CCB)
        .then(x.abs() >= LOQ)
        .otherwise(False)
    )
    status = pl.when(lost).then(3).when(above).then(2).when(x < 0).then(4).when(x < LOWEST).then(1).otherwise(0)
    scattered = (sd > SD_LIMIT) & (100 * sd > RSD_LIMIT * pl.col("mean").abs())
    bits = (lost, above, (x < LOQ) & ~lost, scattered)
    return measured.with_columns(
        value=x * factor,
        standard_uncertainty=(parts * pl.col("s2")).sqrt() / pl.col("slope") * factor,
        status_code=status.cast(pl.UInt8),
        marks=sum((bit.cast(pl.UInt8) * (1 << i) for i, bit in enumerate(bits)), pl.lit(0, pl.UInt8)),
        failed=failed,
    ).with_columns(
        lo=pl.col("value") - k * pl.col("standard_uncertainty"), hi=pl.col("value") + k * pl.col("standard_uncertainty")
    )


def _bracketed(results: pl.LazyFrame) -> pl.LazyFrame:
    """The flags: a failed check or blank condemns the samples before and after it."""
    ended = (pl.col("role") == CCB).cast(pl.UInt32)
    # Grows within a run and from run to run, so that it belongs to one run.
    results = results.with_columns(block=ended.cum_sum() - ended + pl.col("run"))
    same_run = pl.col("run") == pl.col("run").shift()
    blocks = (
        results.filter(pl.col("role").is_in([CCV, CCB]))
        .group_by("block")
        .agg(pl.col("failed").any().alias("bad"), pl.col("run").max())
        .sort("block")
        .with_columns(bad=pl.col("bad") | (same_run & pl.col("bad").shift()).fill_null(False))
        .drop("run")
    )
    sample, poor = pl.col("role") == SAMPLE, pl.col("poor")
    bits = {16: sample & (pl.col("bad") | poor), 32: sample & poor, 64: pl.col("failed")}
    flags = sum((bit.cast(pl.UInt8) * pl.lit(value, pl.UInt8) for value, bit in bits.items()), pl.col("marks"))
    return results.join(blocks, on="block", how="left", maintain_order="left").with_columns(flags=flags)
