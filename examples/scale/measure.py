"""Throughput and memory of each engine on an invented archive, into docs/scale.md.

    ./dev deep

Each measurement runs in a process of its own, so that its peak of memory is its own, and gives a digest of its results:
all of them must be the same. The time is that of the second of two passes, from the Parquet file to the results.
"""

from __future__ import annotations

import argparse
import datetime
import hashlib
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from examples.scale import archive, engines, recipe

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "scale.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"

ENGINES: dict[str, str] = {
    "alone": "one call, all in memory",
    "streamed": "row groups of Parquet, streamed",
    "with_polars": "Polars batches",
    "with_duckdb": "DuckDB, sorted, batches",
    "with_dask": "Dask, a task a row group",
    "with_spark_groups": "Spark, applyInArrow",
    "with_spark_partitions": "Spark, mapInArrow",
}


class Digest:
    """SHA-256 of the results, column by column in chunks of whole tables as they come."""

    def __init__(self) -> None:
        self._sums = {name: hashlib.sha256() for name in recipe.RESULTS.names}

    def add(self, table: pa.Table) -> None:
        for name, total in self._sums.items():
            column = table.column(name)
            if pa.types.is_string(column.type):
                total.update("\n".join(column.to_pylist()).encode() + b"\n")
            else:
                total.update(np.ascontiguousarray(column.to_numpy()).tobytes())

    def text(self) -> str:
        return hashlib.sha256(b"".join(total.digest() for total in self._sums.values())).hexdigest()[:16]


def measure(engine: str, path: Path) -> dict[str, object]:
    """One engine in this process."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "results.parquet"
        work: Callable[[], object]
        if engine == "streamed":
            work = lambda: engines.streamed(path, target)
        elif "spark" in engine:
            session = engines.spark_session()
            work = lambda: getattr(engines, engine)(session, path)
        else:
            work = lambda: getattr(engines, engine)(path)
        seconds = []
        for _ in range(2):
            start = time.perf_counter()
            found = work()
            seconds.append(time.perf_counter() - start)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        if engine.startswith("with_spark"):
            peak = float("nan")  # most of it is in Spark's own processes
        digest = Digest()
        if isinstance(found, pa.Table):
            for batch in found.to_batches(max_chunksize=1_000_000):
                digest.add(pa.table(batch))
        else:
            with pq.ParquetFile(target) as file:
                for batch in file.iter_batches(1_000_000):
                    digest.add(pa.table(batch))
        return {"seconds": seconds[-1], "peak": peak, "digest": digest.text()}


def in_a_process(engine: str, path: Path) -> dict[str, object]:
    command = [sys.executable, "-m", "examples.scale.measure", "--one", engine, "--archive", str(path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{engine}: {done.stderr[-2000:]}")
    found: dict[str, object] = json.loads(done.stdout.splitlines()[-1])
    return found


def floor() -> float:
    """Megabytes of a process that has imported everything and reduced nothing."""
    return float(in_a_process("nothing", Path())["peak"])  # type: ignore[arg-type]


def table(sizes: list[int], largest: int) -> list[str]:
    lines = [
        "| Way | Readings | Seconds | Million readings a second | Peak memory, MB | Results |",
        "|---|--:|--:|--:|--:|---|",
    ]
    with tempfile.TemporaryDirectory() as folder:
        for readings in [*sizes, *([largest] if largest else [])]:
            path = Path(folder) / "archive.parquet"
            count = archive.write(path, -(-readings // archive.READINGS))
            first: object = None
            for engine, name in ENGINES.items():
                if readings == largest and engine != "streamed":
                    continue
                got = in_a_process(engine, path)
                first = first or got["digest"]
                same = "identical" if got["digest"] == first else "DIFFERENT"
                if readings == largest:
                    same = str(got["digest"])
                seconds, peak = float(got["seconds"]), float(got["peak"])  # type: ignore[arg-type]
                shown = "in Spark's processes" if peak != peak else f"{peak:.0f}"
                row = f"| {name} | {count:,} | {seconds:.2f} | {count / seconds / 1e6:.2f} | {shown} | {same} |"
                print(row, flush=True)
                lines.append(row)
            size = path.stat().st_size / 1e6
            print(f"archive of {count:,} readings: {size:.0f} MB")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure every engine, and write docs/scale.md.")
    parser.add_argument("--sizes", default="1e6,1e7", help="readings of the archives that every engine reduces")
    parser.add_argument(
        "--largest", type=float, default=1e8, help="readings of the archive that is streamed; 0 for none"
    )
    parser.add_argument("--write", action="store_true", help="write the table into docs/scale.md")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    parser.add_argument("--archive", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one == "nothing":
        print(json.dumps({"peak": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))
        return
    if given.one:
        print(json.dumps(measure(given.one, given.archive)))
        return
    base = floor()
    lines = table([int(float(size)) for size in given.sizes.split(",")], int(given.largest))
    if any("DIFFERENT" in line for line in lines):
        raise SystemExit("results differ between engines")
    if given.write:
        import dask
        import duckdb
        import polars
        import pyspark

        import groundstate as gs

        versions = ", ".join(
            f"{module.__name__} {module.__version__}" for module in (gs, np, pa, polars, duckdb, dask, pyspark)
        )
        head = [
            f"Measured on {datetime.datetime.now(datetime.UTC):%Y-%m-%d} with `./dev deep`: {os.cpu_count()} cores, "
            f"{platform.system()} {platform.machine()}, Python {platform.python_version()}, {versions}. "
            f"A process that has imported everything and reduced nothing holds {base:.0f} MB.",
            "",
        ]
        text = PAGE.read_text(encoding="utf-8")
        before, after = text.split(BEGIN)[0], text.split(END)[1]
        PAGE.write_text(before + "\n".join([BEGIN, *head, *lines, END]) + after, encoding="utf-8")


if __name__ == "__main__":
    main()
