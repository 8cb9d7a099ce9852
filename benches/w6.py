"""W6: time and memory of the import above NumPy's own, each in a process of its own; size of the wheel."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from timing import Row

ROOT = Path(__file__).resolve().parents[1]
PROGRAM = """
import json, time, numpy
def memory():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * 4096 / 1e6
before, start = memory(), time.perf_counter()
import groundstate
print(json.dumps([1e3 * (time.perf_counter() - start), memory() - before]))
"""


def rows() -> Iterator[Row]:
    if not Path("/proc/self/statm").exists():
        return
    found = []
    for _ in range(11):
        done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
        found.append(json.loads(done.stdout))
    time, memory = (statistics.median(column) for column in zip(*found, strict=True))
    yield Row("W6 import, time above NumPy's", "at most 40 ms", f"{time:.0f} ms", "40 ms", 40 / time, 1.0)
    yield Row("W6 import, memory above NumPy's", "at most 15 MB", f"{memory:.1f} MB", "15 MB", 15 / memory, 1.0)
    for wheel in sorted((ROOT / "build" / "dist").glob("*.whl")):
        size = wheel.stat().st_size / 1e6
        yield Row("W6 wheel", "at most 3 MB", f"{size:.2f} MB", "3 MB", 3 / size, 1.0)
