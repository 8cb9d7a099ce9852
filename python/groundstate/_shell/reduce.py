"""Many files of runs to outcomes: read, choose the method, reduce, write; one bad run never stops the others."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import groundstate as gs
from groundstate._core import _read_file, _reduce_many, _with_raw_digest
from groundstate._methods import Methods
from groundstate._shell.inputs import NoInput, Source, tables
from groundstate._shell.output import Csv, Folder, Lines, Single, Sink, Stream, file_name
from groundstate._shell.say import BAD_INPUT, INTERRUPTED, NOT_PASSED, complain, refused, say

#: Problems of one input that are shown here; `check` shows them all.
SHOWN = 10
#: Runs that are reduced at a time: enough for every thread, few enough to hold.
BATCH = 256


@dataclass
class Work:
    """A run with the method that serves it and the digest of its file."""

    run: gs.Run
    method: gs.Method
    digest: str


@dataclass
class Tally:
    """What happened so far."""

    outcomes: int = 0
    skipped: int = 0
    unread: int = 0
    not_passed: int = 0
    interrupted: bool = False
    first: gs.Outcome | None = None
    seen: set[str] = field(default_factory=set)

    @property
    def status(self) -> int:
        if self.interrupted:
            return INTERRUPTED
        return BAD_INPUT if self.unread else NOT_PASSED if self.not_passed else 0


def read_methods(paths: list[str]) -> Methods | gs.Method | int:
    """One method for all runs, or several to choose from; the status after saying what is wrong with one."""
    status = 0
    for path in paths:
        try:
            Methods.read(path)
        except (gs.GroundstateError, OSError, UnicodeDecodeError) as error:
            status = refused(error, path)
    if status:
        return status
    try:
        found = Methods.read(*paths)
    except gs.GroundstateError as error:
        return refused(error, "--method")
    alone = len(paths) == 1 and not Path(paths[0]).is_dir()
    return found[0] if alone else found


def runs_of(source: Source, methods: Methods | gs.Method) -> Iterator[tuple[str, Work | Exception]]:
    """Each run of a file with its method, or what is wrong with it. OSError where the file itself cannot be read."""
    content, digest = source.table()
    if isinstance(methods, gs.Method):
        for name, run in _read_file(content, source.stem, methods):
            yield name, Work(run, methods, digest) if isinstance(run, gs.Run) else run
        return
    chosen = methods.choose(lambda way: _read_file(content, source.stem, way))
    for name, found in chosen.items():
        yield name, found if isinstance(found, Exception) else Work(*found, digest)


def reduce(arguments: argparse.Namespace) -> int:
    """The command ``reduce``."""
    methods = read_methods(arguments.method)
    if isinstance(methods, int):
        return methods
    tally = Tally()
    try:
        with ExitStack() as stack:
            sinks = _sinks(arguments)
            for sink in sinks:
                stack.push(_closing(sink))
            files = list(tables(arguments, arguments.tables))
            ticker = stack.enter_context(Ticker(len(files), arguments.quiet))
            pending: list[Work] = []
            for number, source in enumerate(files):
                ticker.file(number)
                pending += _taken(source, methods, sinks, tally)
                if len(pending) >= BATCH or number == len(files) - 1:
                    _finish(pending, sinks, tally, ticker, arguments)
                    pending = []
                if tally.interrupted:
                    break
            ticker.file(len(files))
    except KeyboardInterrupt:
        tally.interrupted = True
    except BrokenPipeError:
        raise
    except OSError as error:
        return refused(error, error.filename or "output")
    _close(tally, arguments)
    return tally.status


def _closing(sink: Sink) -> Callable[..., None]:
    """Closes a sink. Ctrl-C and a closed output keep what is finished; other errors leave nothing that looks whole."""

    def close(kind: type[BaseException] | None, *_: object) -> None:
        sink.close(kind is None or issubclass(kind, (KeyboardInterrupt, BrokenPipeError)))

    return close


def _sinks(arguments: argparse.Namespace) -> list[Sink]:
    sinks: list[Sink] = []
    if arguments.out:
        sinks.append(Folder(Path(arguments.out), arguments.resume))
    if arguments.jsonl == "-":
        sinks.append(Stream())
    elif arguments.jsonl:
        sinks.append(Lines(Path(arguments.jsonl), arguments.resume))
    if arguments.json:
        sinks.append(Single(Path(arguments.json)))
    if arguments.csv:
        sinks.append(Csv(Path(arguments.csv)))
    return sinks


def _taken(source: Source | NoInput, methods: Methods | gs.Method, sinks: list[Sink], tally: Tally) -> Iterator[Work]:
    """The runs of a file that are to be reduced; says what is wrong with the others."""
    if isinstance(source, NoInput):
        complain(str(source))
        tally.unread += 1
        return
    try:
        held = list(runs_of(source, methods))
    except (gs.GroundstateError, OSError) as error:
        refused(error, source.name, at_most=SHOWN)
        tally.unread += 1
        return
    for name, work in held:
        of = source.name if len(held) == 1 else f"{source.name}, run {name}"
        if isinstance(work, Exception):
            refused(work, of, at_most=SHOWN)
            tally.unread += 1
        elif (known := _known_as(name, sinks)) in tally.seen:
            complain(
                f"{of}: another input has a run {name} already; a run is archived under its name, so give it its own"
            )
            tally.unread += 1
        else:
            tally.seen.add(known)
            keeping = [sink for sink in sinks if sink.keeps]
            if keeping and all(sink.has(name) for sink in keeping):
                tally.skipped += 1
            else:
                yield work


def _known_as(run: str, sinks: list[Sink]) -> str:
    """What no two runs may share: the name, or in a folder what a file name keeps of it, without regard to case."""
    return file_name(run).lower() if any(isinstance(sink, Folder) for sink in sinks) else run


def _finish(batch: list[Work], sinks: list[Sink], tally: Tally, ticker: Ticker, arguments: argparse.Namespace) -> None:
    """Reduces a batch and writes what comes of it, also what was finished before a Ctrl-C."""
    if not batch:
        return
    named = [(work.run.name, work.method) for work in batch]
    one = all(work.method is batch[0].method for work in batch)
    reduced, interrupted = _reduce_many(
        [work.run for work in batch], batch[0].method if one else named, os.cpu_count() or 1, ticker.runs
    )
    tally.interrupted = interrupted
    for work, outcome in zip(batch, reduced, strict=True):
        if isinstance(outcome, gs.Outcome):
            _write(_with_raw_digest(outcome, work.digest), sinks, tally, arguments)
        elif not interrupted and isinstance(outcome, Exception):
            refused(outcome, f"run {work.run.name}")
            tally.unread += 1
    ticker.done += len(batch)


def _write(outcome: gs.Outcome, sinks: list[Sink], tally: Tally, arguments: argparse.Namespace) -> None:
    for sink in sinks:
        if not sink.has(outcome.run.name):
            sink.put(outcome)
    tally.outcomes += 1
    tally.not_passed += bool(outcome.exit_status)
    if arguments.quiet or arguments.jsonl == "-":
        return
    if tally.outcomes == 1:
        tally.first = outcome  # the only one is shown in full, of several each has a line
        return
    if tally.first is not None:
        say(_line(tally.first))
        tally.first = None
    say(_line(outcome))


def _line(outcome: gs.Outcome) -> str:
    failures = [finding.sentence for finding in outcome.findings if finding.severity == "fail"]
    more = f" (and {len(failures) - 1} more)" if len(failures) > 1 else ""
    return f"{outcome.run.name}: {outcome.standing}{': ' + failures[0] + more if failures else ''}"


def _close(tally: Tally, arguments: argparse.Namespace) -> None:
    if tally.first is not None:
        say(tally.first.summary().rstrip())
    counted = [
        f"{tally.outcomes} reduced",
        f"{tally.not_passed} of them not passed" if tally.not_passed else "",
        f"{tally.skipped} there already" if tally.skipped else "",
        f"{tally.unread} could not be read or reduced" if tally.unread else "",
    ]
    several = tally.outcomes + tally.skipped + tally.unread > 1
    if tally.interrupted:
        complain("stopped; what was finished is written: " + ", ".join(filter(None, counted)))
    elif several and not arguments.quiet:
        complain(", ".join(filter(None, counted)))


class Ticker:
    """One line on a terminal that says how far it is; silence anywhere else."""

    def __init__(self, files: int, quiet: bool) -> None:
        self._shown = sys.stderr.isatty() and not quiet
        self._files = files
        self._file = 0
        self._width = 0
        self.done = 0

    def file(self, number: int) -> None:
        """So many files are read."""
        self._file = number
        self._show(self.done)

    def runs(self, done: int, total: int) -> None:
        """So many runs of the batch at hand are reduced."""
        self._show(self.done + done)

    def _show(self, done: int) -> None:
        if self._shown:
            text = f"{self._file} of {self._files} files read, {done} runs reduced"
            self._width = max(self._width, len(text))
            sys.stderr.write("\r" + text.ljust(self._width))
            sys.stderr.flush()

    def __enter__(self) -> Ticker:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown and self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()
