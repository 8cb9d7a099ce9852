"""Commands that look and write nothing: check, explain, verify, method."""

from __future__ import annotations

import argparse

import groundstate as gs
from groundstate._core import _verify
from groundstate._methods import Methods
from groundstate._shell.inputs import ARCHIVES, NoInput, Source, sources, tables
from groundstate._shell.output import documents
from groundstate._shell.reduce import Work, read_methods, runs_of
from groundstate._shell.say import NOT_PASSED, complain, refused, say


def check(arguments: argparse.Namespace) -> int:
    """The command ``check``: every problem of every input, nothing reduced."""
    methods = read_methods(arguments.method)
    status = methods if isinstance(methods, int) else 0
    # a table is looked at even where the method is not readable: all problems at once
    readable: Methods | gs.Method = gs.Method.new("Zn") if isinstance(methods, int) else methods
    for source in tables(arguments, arguments.tables):
        for name, work in _held(source, readable):
            if not isinstance(work, Work):
                status = refused(work, name)
                continue
            run = work.run
            method = "" if isinstance(methods, (int, gs.Method)) else f", method {work.method.id} {work.method.version}"
            say(f"{run.name}: {len(run)} positions, positions {run.position_rule.replace('_', ' ')}{method}")
            for finding in run.findings:
                say(f"  {finding}")
    return status


def _held(source: Source | NoInput, methods: Methods | gs.Method) -> list[tuple[str, Work | Exception]]:
    """The runs of an input, or what is wrong with it, each with what it is called."""
    if isinstance(source, NoInput):
        argument, _, what = str(source).rpartition(": ")
        return [(argument, LookupError(what))]
    try:
        held = list(runs_of(source, methods))
    except (gs.GroundstateError, OSError) as error:
        return [(source.name, error)]
    return [(source.name if len(held) == 1 else f"{source.name}, run {name}", work) for name, work in held]


def explain(arguments: argparse.Namespace) -> int:
    """The command ``explain``: one result as numbered steps."""
    methods = read_methods(arguments.method)
    if isinstance(methods, int):
        return methods
    which = int(arguments.label) if arguments.label.isdigit() else arguments.label
    held = [pair for source in tables(arguments, [arguments.table]) for pair in _held(source, methods)]
    works = [work for _, work in held if isinstance(work, Work)]
    status = max((refused(work, name) for name, work in held if not isinstance(work, Work)), default=0)
    if status:
        return status
    if arguments.run is not None:
        works = [work for work in works if work.run.name == arguments.run]
    if len(works) != 1:
        names = ", ".join(work.run.name for name, work in held if isinstance(work, Work))
        return complain(f"{arguments.table}: {len(works)} runs fit; choose one with --run: {names}")
    try:
        say(gs.reduce(works[0].run, works[0].method).explain(which))
    except gs.GroundstateError as error:
        return refused(error, arguments.table)
    return 0


def verify(arguments: argparse.Namespace) -> int:
    """The command ``verify``: archives recomputed from their own input."""
    status = 0
    found = list(sources(arguments.archives, ARCHIVES))
    for source in found:
        if isinstance(source, NoInput):
            status = complain(str(source))
            continue
        try:
            held = list(documents(source.read(), source.name))
        except (OSError, UnicodeDecodeError) as error:
            status = refused(error, source.name)
            continue
        for name, text in held:
            try:
                verification = _verify(text)
            except gs.GroundstateError as error:
                status = refused(error, name)
                continue
            say(str(verification) if len(found) == len(held) == 1 else f"{name}: {verification}")
            if not verification.identical:
                status = max(status, NOT_PASSED)
    return status


def method(arguments: argparse.Namespace) -> int:
    """The command ``method``: a method as TOML."""
    try:
        held = gs.read_method(arguments.file)
    except (gs.GroundstateError, OSError, UnicodeDecodeError) as error:
        return refused(error, arguments.file)
    say(held.to_toml(explicit=arguments.explicit).rstrip())
    return 0
