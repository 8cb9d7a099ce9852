"""The command `report`: an archived outcome as a page."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import get_args

from groundstate._core import GroundstateError, Outcome, _argument_error
from groundstate.report._folder import to_folder
from groundstate.report._view import Budgets


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("outcome", metavar="OUT.json", nargs="+", help="archived outcomes; - for standard input")
    parser.add_argument(
        "-o",
        "--out",
        metavar="PAGE.html",
        help="file to write, to standard output when not given; of several outcomes a folder, for pages and an index",
    )
    parser.add_argument("--title", help="title of the page; element and run when not given")
    parser.add_argument("--budgets", choices=get_args(Budgets), default="reported", help="whose budgets are shown")


def run(chosen: argparse.Namespace, refused: Callable[[Exception, str], int]) -> int:
    """Writes the page, or the folder of pages; status 0, or what `refused` gives for an outcome that cannot be read."""
    failures = (GroundstateError, OSError, UnicodeDecodeError)
    outcomes: list[Outcome] = []
    for name in chosen.outcome:
        try:
            read = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
            outcomes.append(Outcome.from_json(read.decode("utf-8-sig")))
        except failures as error:
            return refused(error, name)
    try:
        if len(outcomes) > 1:
            if not chosen.out:
                raise _argument_error("out", "several outcomes have several pages", "name a folder: -o FOLDER")
            to_folder(outcomes, chosen.out, chosen.title or "Runs", budgets=chosen.budgets)
            return 0
        page = outcomes[0].to_html(chosen.title, budgets=chosen.budgets).encode("utf-8")
        if chosen.out:
            Path(chosen.out).write_bytes(page)
        else:
            sys.stdout.buffer.write(page)
    except failures as error:
        return refused(error, chosen.out or chosen.outcome[0])
    return 0
