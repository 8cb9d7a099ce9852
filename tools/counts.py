"""Instructions of the hot paths, counted under valgrind and held against benches/counts.json.

python tools/counts.py PROGRAM             judge; called by ./dev counts, which has built PROGRAM (`counted`)
python tools/counts.py PROGRAM --write     record the counts for this compiler
python tools/counts.py PROGRAM --growth    how the count of reduce_columns grows with the number of runs

A path is done a few times and then more times; the difference over the added calls leaves start-up and the making of
the data out. A count is that of one compiler for one kind of processor, so those two are the key of the record.
"""

import argparse
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

RECORD = Path(__file__).resolve().parents[1] / "benches" / "counts.json"
TOLERANCE = 3  # per cent
PATHS = {  # how often a path is done in the shorter and in the longer run
    "fit": (10, 510),
    "invert_into": (1, 11),
    "reduce_columns": (1, 3),
}
GROWTH = (1_000, 10_000)
# glibc copies and clears memory by what the processor has, which moves a count by up to 3 %: the plainest way, always.
PLAIN = "glibc.cpu.hwcaps=-AVX512F,-AVX512VL,-AVX2,-AVX2_Usable,-AVX,-AVX_Usable,-ERMS,-FSRM"


class Unusable(Exception):
    """Nothing could be counted; the text says what to do."""


@dataclass(frozen=True)
class Judgement:
    """What is said of the counts, and the status that the program ends with."""

    lines: tuple[str, ...]
    status: int


def judge(counted: Mapping[str, int], recorded: Mapping[str, int] | None, compiler: str) -> Judgement:
    """Counts beside those on record for this compiler, None when there are none."""
    if recorded is None:
        lines = [f"{path}: {count:,} instructions" for path, count in counted.items()]
        return Judgement((*lines, f"NOT JUDGED: no counts on record for {compiler}; ./dev counts --write records"), 0)
    lines, failed = [], False
    for path in sorted(counted.keys() | recorded.keys()):
        now, then = counted.get(path), recorded.get(path)
        if now is None or then is None:
            failed, missing = True, "counted" if now is None else "on record"
            lines.append(f"{path}: FAILED, not {missing}; ./dev counts --write records")
            continue
        verdict = "as recorded"
        if 100 * now > (100 + TOLERANCE) * then:
            failed, verdict = True, f"FAILED, more than {TOLERANCE} % above the record"
        elif 100 * now < (100 - TOLERANCE) * then:
            verdict = f"more than {TOLERANCE} % below the record: please run ./dev counts --write and commit"
        lines.append(f"{path}: {now:,} instructions, record {then:,} ({now / then - 1:+.2%}): {verdict}")
    return Judgement(tuple(lines), int(failed))


def slope(sizes: Sequence[float], counts: Sequence[float]) -> float:
    """Slope of log count on log size, by least squares: 1 is linear growth."""
    x, y = [math.log(size) for size in sizes], [math.log(count) for count in counts]
    middle = math.fsum(x) / len(x)
    return math.fsum((a - middle) * b for a, b in zip(x, y, strict=True)) / math.fsum((a - middle) ** 2 for a in x)


def compiler_in(version: str) -> str:
    """Key of the record in what `rustc -vV` says: version and kind of processor."""
    said = dict(re.findall(r"^(\w+): (\S+)$", version, re.MULTILINE))
    return f"rustc {said['release']}, {said['host'].partition('-')[0]}"


def valgrind() -> str:
    """The program, installed first where that is ours to do."""
    if not shutil.which("valgrind") and shutil.which("apt-get") and os.geteuid() == 0:
        print("valgrind is missing: apt-get install valgrind", flush=True)
        for arguments in ("update", "install --yes --no-install-recommends valgrind"):
            subprocess.run(["apt-get", "--quiet=2", *arguments.split()], stdout=subprocess.DEVNULL, check=False)
    found = shutil.which("valgrind")
    if not found:
        raise Unusable("valgrind is missing, nothing was counted (on Debian and Ubuntu: apt-get install valgrind)")
    return found


def total(program: Path, path: str, times: int) -> int:
    """Instructions of the whole program."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "counts"
        tool = [valgrind(), "--tool=callgrind", "--cache-sim=no", "--branch-sim=no", f"--callgrind-out-file={file}"]
        plain = {**os.environ, "GLIBC_TUNABLES": PLAIN}
        done = subprocess.run(
            [*tool, program, path, str(times)], env=plain, capture_output=True, text=True, check=False
        )
        found = re.search(r"^(?:totals|summary): (\d+)$", file.read_text(), re.MULTILINE) if file.exists() else None
        if done.returncode != 0 or not found:
            raise Unusable(f"{path}: nothing was counted, valgrind ended with {done.returncode}\n{done.stderr}")
        return int(found[1])


def count(program: Path, path: str, fewer: int, more: int) -> int:
    """Instructions of one call."""
    return round((total(program, path, more) - total(program, path, fewer)) / (more - fewer))


def growth(program: Path, sizes: Sequence[int]) -> None:
    counts = []
    for runs in sizes:
        counts.append(found := count(program, f"reduce_columns:{runs}", 0, 1))
        print(f"reduce_columns of {runs:,} runs: {found:,} instructions, {found / runs:,.0f} a run", flush=True)
    print(f"log-log slope: {slope(sizes, counts):.4f}")


def write(counted: Mapping[str, int], compiler: str) -> None:
    record = json.loads(RECORD.read_text(encoding="utf-8")) if RECORD.exists() else {}
    record[compiler] = dict(counted)
    RECORD.write_text(json.dumps(record, indent=2, sort_keys=True) + "\n", encoding="utf-8")
    print(f"recorded for {compiler}: {dict(counted)}")


def main() -> int:
    parser = argparse.ArgumentParser(prog="./dev counts", description="Count the instructions of the hot paths.")
    parser.add_argument("program", type=Path, help=argparse.SUPPRESS)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--write", action="store_true", help="record the counts for this compiler")
    what.add_argument(
        "--growth", nargs="*", type=int, metavar="RUNS", help="how reduce_columns grows; by default 1000 and 10000 runs"
    )
    given = parser.parse_args()
    if given.growth is not None:
        sizes = given.growth or GROWTH
        if len(set(sizes)) < 2 or min(sizes) < 1:
            parser.error("growth needs two different numbers of runs, each at least 1")
        growth(given.program, sizes)
        return 0
    version = subprocess.run(["rustc", "-vV"], capture_output=True, text=True, check=True).stdout
    compiler = compiler_in(version)
    counted = {path: count(given.program, path, *times) for path, times in PATHS.items()}
    if given.write:
        write(counted, compiler)
        return 0
    record = json.loads(RECORD.read_text(encoding="utf-8")) if RECORD.exists() else {}
    judgement = judge(counted, record.get(compiler), compiler)
    print("\n".join(judgement.lines))
    return judgement.status


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Unusable as problem:
        print(f"counts: {problem}", file=sys.stderr)
        sys.exit(2)
