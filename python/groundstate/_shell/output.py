"""Outcomes to files: a reader never sees half a document."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import IO, Protocol

import groundstate as gs


def _beside(path: Path) -> Path:
    """The name that a file has until it is whole, in a folder that is there."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def write_whole(path: Path, text: str) -> None:
    """Writes a file under a name of its own and renames it, so that what stands there is always whole."""
    beside = _beside(path)
    try:
        with beside.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def _settle(beside: Path, path: Path, keep: bool) -> None:
    if keep:
        beside.replace(path)
    else:
        with suppress(OSError):
            beside.unlink()


class Sink(Protocol):
    """Where outcomes go."""

    #: Whether it is an archive, which a run may be in already.
    keeps: bool

    def has(self, run: str) -> bool:
        """Whether the outcome of a run is there already."""

    def put(self, outcome: gs.Outcome) -> None:
        """Takes one outcome."""

    def close(self, keep: bool) -> None:
        """Nothing more comes; a file that has not got its name yet gets it, or is given up."""


class Folder:
    """One JSON document a run, named after the run."""

    keeps = True

    def __init__(self, path: Path, resume: bool) -> None:
        self._path, self._resume = path, resume
        path.mkdir(parents=True, exist_ok=True)

    def _file(self, run: str) -> Path:
        return self._path / f"{file_name(run)}.json"

    def has(self, run: str) -> bool:
        return self._resume and self._file(run).exists()

    def put(self, outcome: gs.Outcome) -> None:
        write_whole(self._file(outcome.run.name), outcome.to_json() + "\n")

    def close(self, keep: bool) -> None:
        pass


class Lines:
    """JSON lines: one compact document a line, flushed with each run.

    A new file takes its name when it is complete, or when it is closed by Ctrl-C with the runs that were finished. With
    ``resume`` runs are added to the file that is there, and a last line that was cut off is dropped first.
    """

    keeps = True

    def __init__(self, path: Path, resume: bool) -> None:
        self._path = path
        self._there: set[str] = set()
        self._beside: Path | None = None
        if resume and path.exists():
            self._there = _runs_of(path)
            self._file: IO[str] = path.open("a", encoding="utf-8", newline="\n")
        else:
            self._beside = _beside(path)
            self._file = self._beside.open("w", encoding="utf-8", newline="\n")

    def has(self, run: str) -> bool:
        return run in self._there

    def put(self, outcome: gs.Outcome) -> None:
        self._file.write(outcome.to_json(compact=True) + "\n")
        self._file.flush()

    def close(self, keep: bool) -> None:
        if keep:
            os.fsync(self._file.fileno())
        self._file.close()
        if self._beside is not None:
            _settle(self._beside, self._path, keep)


class Stream:
    """JSON lines to standard output."""

    keeps = False

    def has(self, run: str) -> bool:
        return False

    def put(self, outcome: gs.Outcome) -> None:
        sys.stdout.write(outcome.to_json(compact=True) + "\n")
        sys.stdout.flush()

    def close(self, keep: bool) -> None:
        pass


class Single:
    """The JSON document of the only run."""

    keeps = False

    def __init__(self, path: Path) -> None:
        self._path = path
        self._run: str | None = None

    def has(self, run: str) -> bool:
        return False

    def put(self, outcome: gs.Outcome) -> None:
        if self._run is not None:
            several = (
                f"one document holds one run, and there are {self._run} and {outcome.run.name}: use --out or --jsonl"
            )
            raise OSError(0, several, str(self._path))
        self._run = outcome.run.name
        write_whole(self._path, outcome.to_json() + "\n")

    def close(self, keep: bool) -> None:
        pass


class Csv:
    """The results of all runs as one CSV table, complete when it takes its name."""

    keeps = False

    def __init__(self, path: Path) -> None:
        self._path = path
        self._beside = _beside(path)
        self._file = self._beside.open("w", encoding="utf-8", newline="\n")
        self._head = ""

    def has(self, run: str) -> bool:
        return False

    def put(self, outcome: gs.Outcome) -> None:
        head, _, rows = outcome.results_csv().partition("\n")
        if not self._head:
            self._head = head
            self._file.write(head + "\n")
        self._file.write(rows)

    def close(self, keep: bool) -> None:
        self._file.close()
        _settle(self._beside, self._path, keep)


def _runs_of(path: Path) -> set[str]:
    """Names of the runs in a file of JSON lines, which ends with a whole line afterwards."""
    import json

    names: set[str] = set()
    whole = 0
    with path.open("rb") as file:
        for line in file:
            if not line.endswith(b"\n"):
                break
            whole += len(line)
            if line.strip():
                names.add(json.loads(line)["run"]["name"])
    if whole < path.stat().st_size:
        with path.open("rb+") as file:
            file.truncate(whole)
    return names


#: Names that Windows keeps for devices.
DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def file_name(run: str) -> str:
    """A run's name as a file name on any system: what no file name may hold is written as _."""
    name = re.sub(r'[<>:"/\\|?*\x00-\x1f]', "_", run).rstrip(". ") or "_"
    return f"_{name}" if name.lower().partition(".")[0] in DEVICES else name


def documents(text: bytes, name: str) -> Iterator[tuple[str, str]]:
    """The JSON documents of a file with what each is called: one, or one a line of JSON lines."""
    held = text.decode("utf-8-sig")
    lines = [(number, line) for number, line in enumerate(held.splitlines(), 1) if line.strip()]
    if name.lower().endswith(".jsonl") or (len(lines) > 1 and all(line.startswith('{"') for _, line in lines)):
        yield from ((f"{name}, line {number}", line) for number, line in lines)
    else:
        yield name, held
