"""Archives in batches: no run is split, and every engine's figures are those of one call, bit for bit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import groundstate as gs
from examples.scale import archive, engines, recipe

RUNS = 230


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scale") / "archive.parquet"
    archive.write(path, RUNS, group=50)
    return path


@pytest.fixture(scope="module")
def expected(stored: Path) -> pa.Table:
    found = engines.alone(stored)
    # Bits are compared below; that they are figures at all is asserted here.
    assert found.num_rows == RUNS * (archive.POSITIONS - archive.LEVELS.size)
    assert np.isfinite(found["value"].to_numpy()).mean() > 0.99
    return found


def bits(table: pa.Table) -> dict[str, list[object]]:
    """The columns, figures as their bits so that NaN is compared as well."""
    plain = {name: table.column(name).to_numpy() for name in table.column_names}
    return {name: list(v.view(np.uint64)) if v.dtype == np.float64 else list(v) for name, v in plain.items()}


@pytest.mark.parametrize("engine", [engines.with_polars, engines.with_duckdb])
@pytest.mark.parametrize("rows", [1_000, 20_000])
def test_an_engine_changes_no_bit(
    engine: Callable[[Path, int], pa.Table], rows: int, stored: Path, expected: pa.Table
) -> None:
    assert bits(engine(stored, rows)) == bits(expected)


def test_a_stream_of_row_groups_changes_no_bit(stored: Path, expected: pa.Table, tmp_path: Path) -> None:
    rows = engines.streamed(stored, tmp_path / "results.parquet")
    assert rows == expected.num_rows
    assert bits(pq.read_table(tmp_path / "results.parquet")) == bits(expected)


def test_duckdb_puts_an_archive_in_order_first(stored: Path, expected: pa.Table, tmp_path: Path) -> None:
    table = pq.read_table(stored)
    order = np.random.default_rng(3).permutation(table.num_rows)
    pq.write_table(table.take(order), tmp_path / "shuffled.parquet")
    assert bits(engines.with_duckdb(tmp_path / "shuffled.parquet", 7_000)) == bits(expected)


def test_an_archive_depends_on_seed_and_run_alone(stored: Path) -> None:
    assert pq.read_table(stored).slice(0, 3 * archive.READINGS).equals(archive.runs(0, 3))
    assert not archive.runs(0, 1, seed=1)["absorbance"].equals(archive.runs(0, 1, seed=2)["absorbance"])


# ---- batches


def cut(table: pa.Table, rows: int) -> Iterator[pa.RecordBatch]:
    yield from table.to_batches(max_chunksize=rows)


@pytest.mark.parametrize("rows", [1, 7, 162, 163, 10_000])
@pytest.mark.parametrize("named", [False, True])
def test_whole_runs_splits_no_run_and_loses_no_reading(rows: int, named: bool) -> None:
    table = archive.runs(8, 13)
    if named:  # "run 10" sorts before "run 8" as a word: words need not ascend
        names = pa.array([f"run {run}" for run in table["run"].to_pylist()]).dictionary_encode()
        table = table.set_column(0, "run", names)
    parts = list(gs.whole_runs(cut(table, rows), at_least=200))
    assert pa.concat_tables(parts, promote_options="permissive").column("absorbance").equals(table["absorbance"])
    runs = [set(part["run"].to_pylist()) for part in parts]
    assert sum(map(len, runs)) == len(set().union(*runs)) == 5
    assert all(part.num_rows >= 200 for part in parts[:-1])
    assert len(parts) > 1 or rows == 10_000


def test_whole_runs_takes_frames() -> None:
    frame = archive.runs(0, 2).to_pandas()
    for batch in (frame, pl.from_pandas(frame), pa.Table.from_pandas(frame)):
        assert sum(part.num_rows for part in gs.whole_runs([batch])) == len(frame)


def test_a_run_that_comes_back_is_an_error() -> None:
    first, second = archive.runs(0, 1), archive.runs(1, 2)
    with pytest.raises(gs.TableError, match="readings of run 0 come after those of 1; sort the source by run"):
        list(gs.whole_runs([first, second, first]))
    named = [pd.DataFrame({"batch": ["a", name, "a"], "absorbance": [0.1, 0.2, 0.3]}) for name in "ab"]
    assert len(list(gs.whole_runs(named[:1], by="batch"))) == 1
    with pytest.raises(gs.TableError, match="column batch: readings of run a come after those of b"):
        list(gs.whole_runs(named, by="batch"))


def test_a_batch_without_runs_is_an_error() -> None:
    with pytest.raises(gs.TableError, match="no column run; there are position"):
        list(gs.whole_runs([pa.table({"position": [1]})]))
    with pytest.raises(gs.TableError, match="a reading has no run"):
        list(gs.whole_runs([pa.table({"run": pa.array([1, None])})]))
    assert list(gs.whole_runs([])) == []
    assert list(gs.whole_runs([archive.runs(0, 1).slice(0, 0)])) == []


def test_reducing_batches_is_reducing_the_table() -> None:
    table = archive.runs(0, 9)
    parts = list(recipe.stream(cut(table, 100), threads=1))
    assert bits(pa.concat_tables(parts)) == bits(recipe.results(table, threads=2))
