"""Engines that are too heavy for every run of the tests: `./dev deep`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from examples.scale import archive, engines

RUNS = 1200


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("deep") / "archive.parquet"
    archive.write(path, RUNS, group=250)
    return path


@pytest.fixture(scope="module")
def session() -> Iterator[Any]:
    started = engines.spark_session()
    yield started
    started.stop()


# Results are compared by Arrow's own equality, which takes no NaN for another; there is none in this archive.
@pytest.fixture(scope="module")
def expected(stored: Path) -> pa.Table:
    found = engines.alone(stored)
    assert found.num_rows == RUNS * (archive.POSITIONS - archive.LEVELS.size)
    return found


def test_dask(stored: Path, expected: pa.Table) -> None:
    assert engines.with_dask(stored).equals(expected)


@pytest.mark.parametrize("engine", [engines.with_spark_groups, engines.with_spark_partitions])
def test_spark(engine: Callable[[Any, Path], pa.Table], session: Any, stored: Path, expected: pa.Table) -> None:
    assert engine(session, stored).equals(expected)
