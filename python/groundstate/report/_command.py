"""The command `report`: an archived outcome as a page."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import get_args

from groundstate._core import Outcome
from groundstate.report._view import Budgets


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("outcome", metavar="OUT.json", help="an archived outcome; - for standard input")
    parser.add_argument("-o", "--out", metavar="PAGE.html", help="file to write; to standard output when not given")
    parser.add_argument("--title", help="title of the page; element and run when not given")
    parser.add_argument("--budgets", choices=get_args(Budgets), default="reported", help="whose budgets are shown")


def run(chosen: argparse.Namespace, refused: Callable[[Exception, str], int]) -> int:
    """Writes the page; status 0, or what `refused` gives for an outcome that cannot be read."""
    from groundstate._core import GroundstateError

    try:
        read = sys.stdin.buffer.read() if chosen.outcome == "-" else Path(chosen.outcome).read_bytes()
        page = Outcome.from_json(read.decode("utf-8-sig")).to_html(chosen.title, budgets=chosen.budgets)
        if chosen.out:
            Path(chosen.out).write_bytes(page.encode("utf-8"))
        else:
            sys.stdout.buffer.write(page.encode("utf-8"))
    except (GroundstateError, OSError, UnicodeDecodeError) as error:
        return refused(error, chosen.outcome)
    return 0
