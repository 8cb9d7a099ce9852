"""Speed beside general-purpose Python, measured side by side in one run, into docs/performance.md.

    ./dev bench

Each row runs the library and its peers in turn, many times, and compares the medians: on a shared machine only the
ratio means something. Inputs are made here with fixed seeds; a peer whose figures differ from
the library's is not timed.
"""

from __future__ import annotations

import argparse
import datetime
import os
import platform
from collections.abc import Iterator
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

import w2
from timing import Row, seconds

import groundstate as gs

PAGE = Path(__file__).resolve().parents[1] / "docs" / "performance.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
PEERS = ("numpy", "scipy", "pandas", "polars", "numba", "statsmodels", "odrpack")
WORKS = ("w1", "w2", "w3", "w4", "w5", "w6", "w7")


def processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    return next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), platform.machine())


def measured(works: list[str]) -> Iterator[Row]:
    for name in works:
        yield from import_module(name).rows()


def in_full(row: Row) -> str:
    ratio, goal = (f"{x:.2f}" if x is not None and x == x else "" for x in (row.ratio, row.goal))
    return f"| {row.work} | {row.ours} | {row.peer} | {row.theirs} | {ratio} | {goal} | {row.reached} |"


def growth() -> str:
    taken, slope = w2.growth()
    each = ", ".join(f"{runs:,} runs {seconds(time)}" for runs, time in taken.items())
    return f"Growth of `reduce_columns` with the number of runs: {each}; slope of the logarithms {slope:.2f}, by time."


def head() -> str:
    versions = ", ".join(f"{name} {version(name)}" for name in PEERS)
    return (
        f"Measured on {datetime.datetime.now(datetime.UTC):%Y-%m-%d} with `./dev bench`: {os.cpu_count()} cores, "
        f"{processor()}, {platform.system()} {platform.machine()}, Python {platform.python_version()}, "
        f"groundstate {gs.__version__}, {versions}."
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure, and write docs/performance.md.")
    parser.add_argument("works", nargs="*", metavar="WORK", help="only these, w1 to w7, without writing")
    given = parser.parse_args()
    unknown = sorted(set(given.works) - set(WORKS))
    if unknown:
        parser.error(f"no work {', '.join(unknown)}; there are {', '.join(WORKS)}")
    lines = ["| Work | Ours | Peer | Peer's | Ratio | Goal | Reached |", "|---|--:|---|--:|--:|--:|---|"]
    print(f"{'work':70}{'ours':>10}{'peer':>10}{'ratio':>8}{'goal':>8}  reached, peer")
    for row in measured(given.works or list(WORKS)):
        ratio, goal = (f"{x:.2f}" if x is not None and x == x else "" for x in (row.ratio, row.goal))
        print(f"{row.work:70}{row.ours:>10}{row.theirs:>10}{ratio:>8}{goal:>8}  {row.reached:4} {row.peer}", flush=True)
        lines.append(in_full(row))
    if given.works:
        return
    grown = growth()
    print(grown)
    text = PAGE.read_text(encoding="utf-8")
    before, after = text.split(BEGIN)[0], text.split(END)[1]
    PAGE.write_text(before + "\n".join([BEGIN, head(), "", *lines, "", grown, END]) + after, encoding="utf-8")


if __name__ == "__main__":
    main()
