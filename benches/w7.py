"""W7: what memory allows: a copy, and 8 bytes in with 24 out, by numba on two threads into arrays that exist."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numba
import numpy as np
from timing import Row, medians

COUNT = 10_000_000


@numba.njit(parallel=True, cache=True)
def _copy(a: Any, b: Any) -> None:
    for i in numba.prange(a.size):
        b[i] = a[i]


@numba.njit(parallel=True, cache=True)
def _spread(a: Any, b: Any, c: Any, d: Any) -> None:
    for i in numba.prange(a.size):
        b[i], c[i], d[i] = a[i], a[i] - 1.0, a[i] + 1.0


def rows() -> Iterator[Row]:
    a, b, c, d = (np.ones(COUNT) for _ in range(4))
    numba.set_num_threads(2)
    works = {
        "copy": lambda: np.copyto(b, a),
        "copy 2": lambda: _copy(a, b),
        "8 in, 24 out": lambda: _spread(a, b, c, d),
    }
    t = medians(works, 9)
    for name, what, size in (
        ("copy", "a copy, NumPy, 1 thread", 16),
        ("copy 2", "a copy, numba, 2 threads", 16),
        ("8 in, 24 out", "8 bytes in, 24 out, numba, 2 threads", 32),
    ):
        yield Row(f"W7 the machine: {what}", "", "", f"{size * COUNT / t[name] / 1e9:.1f} GB/s", float("nan"))
