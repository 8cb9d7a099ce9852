"""What every engine is handed: one function from the readings of whole runs to their results, Arrow in and Arrow out.

The engines only cut, sort and carry; each run is reduced by the library in one piece, so its figures are the same bits
wherever it was reduced.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pyarrow as pa

import groundstate as gs

#: An invented method for the invented archive.
METHOD = {
    "id": "ZN-ARCHIVE",
    "version": "1",
    "element": "Zn",
    "profile": "general",
    "calibration": {"shape": "line", "unit": "mg/L", "resolution": 0.0001},
    "limits": {
        "nondetect_at": "loq",
        "loq": [{"value": 0.05, "unit": "mg/L", "basis": "solution", "definition": "sw846_lloq"}],
    },
}

RESULTS = pa.schema(
    [
        ("run", pa.uint32()),
        ("position", pa.uint32()),
        ("role", pa.string()),
        ("value", pa.float64()),
        ("standard_uncertainty", pa.float64()),
        ("lo", pa.float64()),
        ("hi", pa.float64()),
        ("status_code", pa.uint8()),
        ("flags", pa.uint8()),
    ]
)


def results(readings: pa.Table | pa.RecordBatch, threads: int | None = None) -> pa.Table:
    """The results of whole runs. An engine that runs several workers gives each one thread."""
    found = gs.reduce_columns(pa.table(readings).to_pandas(), METHOD, threads=threads)
    return pa.table({name: pa.array(found[name]).cast(RESULTS.field(name).type) for name in RESULTS.names}, RESULTS)


def stream(batches: Iterable[object], threads: int | None = None) -> Iterator[pa.Table]:
    """The results of batches that were cut anywhere, in the order of the batches."""
    return (results(table, threads) for table in gs.whole_runs(batches))
