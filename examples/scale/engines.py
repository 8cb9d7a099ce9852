"""The same archive through engines that exist already: each function gives the results as one Arrow table by run and
position, or writes them as they come.

Spark needs Java 17. Nothing here is more than the few lines that a pipeline would hold anyway.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from examples.scale import archive, recipe

KEYS = [("run", "ascending"), ("position", "ascending")]


def alone(path: Path) -> pa.Table:
    """No engine: the whole archive in memory, one call."""
    return recipe.results(pq.read_table(path))


def streamed(path: Path, target: Path, threads: int | None = None) -> int:
    """No engine: row group after row group, results written as they come. Memory holds one row group."""
    rows = 0
    with pq.ParquetWriter(target, recipe.RESULTS) as file:
        for table in recipe.stream(archive.groups(path), threads):
            file.write_table(table)
            rows += table.num_rows
    return rows


def with_polars(path: Path, rows: int = 200_000) -> pa.Table:
    """Polars' streaming engine, batch by batch."""
    import polars as pl

    batches = pl.scan_parquet(path).collect_batches(chunk_size=rows, maintain_order=True)
    return pa.concat_tables(recipe.stream(batches))


def with_duckdb(path: Path, rows: int = 200_000) -> pa.Table:
    """DuckDB sorts, and may spill to disk; the library sees one Arrow batch at a time."""
    import duckdb

    with duckdb.connect() as connection:
        archive_sorted = connection.sql(f"from read_parquet('{path}') order by run, position, replicate")
        return pa.concat_tables(recipe.stream(archive_sorted.to_arrow_reader(rows)))


def with_dask(path: Path, workers: int = 2) -> pa.Table:
    """Dask, one task a row group. Its threads serve, since the library lets go of Python's lock while it reduces."""
    import dask

    with pq.ParquetFile(path) as file:
        groups = file.num_row_groups
    tasks = [dask.delayed(_row_group)(str(path), group) for group in range(groups)]
    return pa.concat_tables(dask.compute(*tasks, scheduler="threads", num_workers=workers))


def _row_group(path: str, group: int) -> pa.Table:
    with pq.ParquetFile(path) as file:
        return recipe.results(file.read_row_group(group), threads=1)


def spark_session() -> Any:
    """Spark on this machine's two cores, closed to the outside."""
    from pyspark.sql import SparkSession

    os.environ["PYSPARK_PYTHON"] = os.environ["PYSPARK_DRIVER_PYTHON"] = sys.executable
    return (
        SparkSession.builder.master("local[2]")
        .config("spark.sql.shuffle.partitions", 2)
        .config("spark.driver.host", "127.0.0.1")
        .config("spark.driver.bindAddress", "127.0.0.1")
        .config("spark.ui.enabled", "false")
        .config("spark.driver.memory", "4g")
        .getOrCreate()
    )


# Spark has no unsigned numbers, so they come one size larger and go back into the archive's own types.
SPARK_RESULTS = (
    "run bigint, position bigint, role string, value double, standard_uncertainty double, lo double, hi double, "
    "status_code smallint, flags smallint"
)


def _in_spark(table: pa.Table) -> pa.Table:
    wide = {"run": pa.int64(), "position": pa.int64(), "status_code": pa.int16(), "flags": pa.int16()}
    return table.cast(pa.schema([(field.name, wide.get(field.name, field.type)) for field in table.schema]))


def with_spark_groups(session: Any, path: Path, runs: int = 200) -> pa.Table:
    """`applyInArrow`: Spark groups, `runs` runs to a group, since one call a run would cost more than the run."""

    def reduce(readings: pa.Table) -> pa.Table:
        return _in_spark(recipe.results(readings, threads=1))

    readings = session.read.parquet(str(path))
    return _from_spark(readings.groupBy((readings.run / runs).cast("long")).applyInArrow(reduce, SPARK_RESULTS))


def with_spark_partitions(session: Any, path: Path, partitions: int = 2) -> pa.Table:
    """`mapInArrow`: Spark brings each run into one partition and sorts there; batches are cut at runs."""

    def reduce(batches: Iterator[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
        for table in recipe.stream(batches, threads=1):
            yield from _in_spark(table).to_batches()

    readings = session.read.parquet(str(path)).repartition(partitions, "run").sortWithinPartitions("run")
    return _from_spark(readings.mapInArrow(reduce, SPARK_RESULTS))


def _from_spark(frame: Any) -> pa.Table:
    return frame.toArrow().cast(recipe.RESULTS).sort_by(KEYS)
