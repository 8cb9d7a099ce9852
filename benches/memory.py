"""Peak memory of W2: what `reduce_columns` takes above its inputs, each in a process of its own.

The goal is the input, the output and a tenth of both; so with the input present, the output and that tenth are allowed.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import archive
import numpy as np
from timing import Row

RUNS = 10_000
RESET = Path("/proc/self/clear_refs")


def _status(name: str) -> int:
    """A size of this process in bytes, such as VmRSS."""
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    return next(1024 * int(line.split()[1]) for line in lines if line.startswith(f"{name}:"))


def _start_again() -> bool:
    """Lets the peak begin at what is held now; left to itself it begins with the process, and is no smaller."""
    try:
        RESET.write_text("5", encoding="ascii")
    except OSError:
        return False
    return True


def _measured(folder: Path, shape: str) -> dict[str, float]:
    """Bytes held by the input, by the output and above the input at the peak."""
    import groundstate as gs

    method = gs.read_method(archive.method(shape == "quadratic"))

    def work(table: Any) -> Any:
        limit = (archive.SD_LIMIT, archive.RSD_LIMIT)
        return gs.reduce_columns(table, method, replicate_limit=limit, threads=2)

    # Code, threads and tables that are there once for all runs.
    few = archive.shaped(20, shape == "quadratic")
    for table in (few, archive.tidy(few)):
        work(table)
    # Read into memory that nothing else has used: what was freed before would hide what is needed.
    table = {file.stem: np.load(file) for file in sorted(folder.glob("*.npy"))}
    given = sum(column.nbytes for column in table.values())
    before = _status("VmRSS")
    reset = _start_again()
    found = work(table | {"role": (table["role"], archive.WORDS)})
    peak = _status("VmHWM") if reset else 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    made = sum(np.asarray(found[name]).nbytes for name in OUT)
    return {"input": given, "output": made, "used": peak - before}


OUT = ("run", "position", "role", "value", "standard_uncertainty", "lo", "hi", "status_code", "flags")


def rows() -> Iterator[Row]:
    if not Path("/proc/self/status").exists():
        return
    for shape in ("line", "weighted quadratic"):
        shaped = archive.shaped(RUNS, shape != "line")
        works = {
            "sorted rows": archive.tidy(shaped),
            "rows in any order": archive.tidy(shaped, order=False),
            "shaped arrays": shaped,
        }
        for name, table in works.items():
            with tempfile.TemporaryDirectory() as folder:
                for column, values in table.items():
                    np.save(Path(folder) / column, values[0] if column == "role" else values)
                command = [sys.executable, __file__, folder, shape.split()[-1]]
                done = subprocess.run(command, capture_output=True, text=True, check=True, env=os.environ)
            found = json.loads(done.stdout)
            allowed = found["output"] + 0.1 * (found["input"] + found["output"])
            what = f"W2 peak memory above the input, 10,000 runs, {shape}, {name}"
            peer = f"output and a tenth of both ({found['input'] / 1e6:.0f} MB in, {found['output'] / 1e6:.0f} out)"
            ours, theirs = f"{found['used'] / 1e6:.1f} MB", f"{allowed / 1e6:.1f} MB"
            yield Row(what, peer, ours, theirs, allowed / found["used"], 1.0)


if __name__ == "__main__":
    print(json.dumps(_measured(Path(sys.argv[1]), sys.argv[2])))
