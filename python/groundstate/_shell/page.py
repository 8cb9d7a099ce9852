"""The command report: archived outcomes as pages."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import groundstate as gs
from groundstate._shell.inputs import ARCHIVES, NoInput, sources
from groundstate._shell.output import documents, write_whole
from groundstate._shell.say import complain, refused
from groundstate.report import to_folder
from groundstate.report._view import Budgets

#: What the name of a single page ends in; every other name is that of a folder.
PAGES = (".html", ".htm")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument(
        "outcome",
        nargs="+",
        metavar="OUTCOME",
        help="archived outcomes: .json, .jsonl, quoted patterns, folders, or - for standard input",
    )
    parser.add_argument(
        "-o",
        "--out",
        metavar="PAGE.html|DIR",
        help="a page, or a folder for pages and an index; to standard output when not given",
    )
    parser.add_argument("--title", help="title of the page, or of the index")
    parser.add_argument("--budgets", choices=get_args(Budgets), default="reported", help="whose budgets are shown")


class _Archived:
    """The outcomes that the arguments name, one at a time; those that cannot be read are said and left out."""

    def __init__(self, named: list[str]) -> None:
        self.named = named
        self.status = 0

    def __iter__(self) -> Iterator[gs.Outcome]:
        for source in sources(self.named, ARCHIVES):
            if isinstance(source, NoInput):
                self.status = complain(str(source))
                continue
            try:
                held = list(documents(source.read(), source.name))
            except (OSError, UnicodeDecodeError) as error:
                self.status = refused(error, source.name)
                continue
            for name, text in held:
                try:
                    yield gs.Outcome.from_json(text)
                except gs.GroundstateError as error:
                    self.status = refused(error, name)


def report(arguments: argparse.Namespace) -> int:
    """The command ``report``: status 0, or 2 where something could not be read or written; the rest is written."""
    archived = _Archived(arguments.outcome)
    try:
        if arguments.out and not arguments.out.lower().endswith(PAGES):
            to_folder(archived, arguments.out, arguments.title or "Runs", budgets=arguments.budgets)
            return archived.status
        outcomes = iter(archived)
        first, second = next(outcomes, None), next(outcomes, None)
        if first is None:
            return archived.status
        if second is not None:
            count = 2 + sum(1 for _ in outcomes)
            return complain(f"{count} outcomes have {count} pages; name a folder: -o DIR")
        page = first.to_html(arguments.title, budgets=arguments.budgets)
        if arguments.out:
            write_whole(Path(arguments.out), page)
        else:
            sys.stdout.buffer.write(page.encode("utf-8"))
    except (gs.GroundstateError, OSError) as error:
        return refused(error, arguments.out or "report")
    return archived.status
