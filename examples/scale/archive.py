"""An invented archive of any size: many zinc runs as one Parquet file, written and read in bounded memory.

    python examples/scale/archive.py ARCHIVE.parquet --readings 1e6

Each run has 162 readings: six levels, then four blocks of ten samples, a continuing check and a blank, three readings
each. Signals are rounded to the four decimals that an instrument prints. A run depends on the seed and its own number
alone, so archives of different sizes begin alike.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

LEVELS = np.array([0.0, 0.2, 0.5, 1.0, 2.0, 3.0])
BLOCKS, SAMPLES, REPLICATES = 4, 10, 3
CHECK = 1.0
POSITIONS = LEVELS.size + BLOCKS * (SAMPLES + 2)
READINGS = POSITIONS * REPLICATES
#: Runs of one row group, which is what a reader holds in memory.
GROUP = 1000

ROLES = ["calibration_blank", "standard", "sample", "ccv", "ccb"]
SCHEMA = pa.schema(
    [
        ("run", pa.uint32()),
        ("position", pa.uint16()),
        ("replicate", pa.uint8()),
        ("role", pa.dictionary(pa.int8(), pa.string())),
        ("absorbance", pa.float64()),
        ("nominal", pa.float64()),
        ("dilution", pa.float64()),
    ]
)


def _layout() -> tuple[np.ndarray, np.ndarray]:
    """Role codes and nominal concentrations of the positions of a run."""
    block = [ROLES.index("sample")] * SAMPLES + [ROLES.index("ccv"), ROLES.index("ccb")]
    role = np.array([0] + [1] * (LEVELS.size - 1) + block * BLOCKS, dtype=np.int8)
    nominal = np.full(POSITIONS, np.nan)
    nominal[: LEVELS.size] = LEVELS
    nominal[role == ROLES.index("ccv")] = CHECK
    nominal[0] = np.nan
    return role, nominal


def runs(first: int, last: int, seed: int = 20261125) -> pa.Table:
    """The runs from number `first` up to `last`, that one left out."""
    role, nominal = _layout()
    count = last - first
    signal = np.empty((count, POSITIONS, REPLICATES))
    dilution = np.ones((count, POSITIONS))
    samples = role == ROLES.index("sample")
    for at, run in enumerate(range(first, last)):
        random = np.random.default_rng([seed, run])
        content = np.where(np.isnan(nominal), 0.0, nominal)
        content[samples] = random.gamma(2.0, 0.6, samples.sum())
        blank, slope = random.normal(0.001, 0.0003), random.normal(0.21, 0.005)
        mean = blank + slope * content
        signal[at] = random.normal(mean[:, None], 0.0006 + 0.002 * mean[:, None], (POSITIONS, REPLICATES))
        dilution[at, samples] = random.choice([1.0, 1.0, 1.0, 5.0, 10.0], samples.sum())
    each = POSITIONS * REPLICATES

    def by_position(values: np.ndarray) -> np.ndarray:
        return np.repeat(np.tile(values, count), REPLICATES)

    return pa.table(
        {
            "run": np.repeat(np.arange(first, last, dtype=np.uint32), each),
            "position": by_position(np.arange(1, POSITIONS + 1, dtype=np.uint16)),
            "replicate": np.tile(np.arange(1, REPLICATES + 1, dtype=np.uint8), count * POSITIONS),
            "role": pa.DictionaryArray.from_arrays(by_position(role), ROLES),
            "absorbance": np.round(signal, 4).ravel(),
            "nominal": pa.array(by_position(nominal), from_pandas=True),
            "dilution": np.repeat(dilution.ravel(), REPLICATES),
        },
        schema=SCHEMA,
    )


def write(path: Path | str, count: int, seed: int = 20261125, group: int = GROUP) -> int:
    """Writes `count` runs, `group` of them in each row group; gives the number of readings."""
    with pq.ParquetWriter(path, SCHEMA, use_dictionary=True) as file:
        for first in range(0, count, group):
            file.write_table(runs(first, min(first + group, count), seed), row_group_size=group * READINGS)
    return count * READINGS


def groups(path: Path | str) -> Iterator[pa.Table]:
    """The row groups of an archive, one after another; each holds whole runs."""
    with pq.ParquetFile(path, pre_buffer=False) as file:
        for group in range(file.num_row_groups):
            yield file.read_row_group(group)


def main() -> None:
    parser = argparse.ArgumentParser(description="Write an invented archive of runs.")
    parser.add_argument("path", type=Path)
    parser.add_argument("--readings", type=float, default=1e6, help="at least so many readings (1e6)")
    parser.add_argument("--seed", type=int, default=20261125)
    given = parser.parse_args()
    print(write(given.path, -(-int(given.readings) // READINGS), given.seed), "readings")


if __name__ == "__main__":
    main()
