"""The command line: reduce, check, explain, verify, method, report, validate, demo."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable

from groundstate._shell import evidence, look, page, reduce
from groundstate._shell.say import INTERRUPTED, NOBODY_READS, complain, refused

STATUS = """\
exit status: 0 every run was reduced, with every required check there and passed; 1 a check failed, is missing or
could not be evaluated; 2 an input could not be read (the others are written all the same); 130 stopped by Ctrl-C
(what was finished is written)"""
TABLES = "tables of readings, quoted patterns, folders (their .csv and .tsv files), or - for standard input"
METHOD = "a method, TOML or JSON; a folder of methods, or the option again, to choose from by what each run says"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m groundstate",
        description="From flame atomic absorption readings to reported concentrations.",
        epilog=STATUS,
    )
    commands = parser.add_subparsers(dest="command", required=True)

    def command(name: str, run: Callable[[argparse.Namespace], int], help_text: str) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=help_text, description=help_text, epilog=STATUS)
        added.set_defaults(action=run)
        return added

    def with_method(added: argparse.ArgumentParser) -> None:
        added.add_argument("--method", required=True, action="append", metavar="METHOD", help=METHOD)
        added.add_argument("--encoding", help="encoding of the tables where it is not UTF-8, such as cp1252")
        added.add_argument(
            "--decimal-comma", action="store_true", help="numbers have a decimal comma, columns a semicolon or tab"
        )

    reducing = command("reduce", reduce.reduce, "reduce runs; print or archive results, checks and findings")
    reducing.add_argument("tables", nargs="+", metavar="TABLE", help=TABLES)
    with_method(reducing)
    reducing.add_argument("--out", metavar="DIR", help="write one JSON document a run, named after the run")
    reducing.add_argument("--jsonl", metavar="OUT.jsonl", help="write JSON lines, one a run; - for standard output")
    reducing.add_argument("--json", metavar="OUT.json", help="write the outcome of the only run with its evidence")
    reducing.add_argument("--csv", metavar="RESULTS.csv", help="write the results of all runs as one table")
    reducing.add_argument("--resume", action="store_true", help="leave out runs that --out or --jsonl hold already")
    reducing.add_argument("--quiet", action="store_true", help="print errors only")

    checking = command("check", look.check, "read runs and their methods without reducing; name every problem")
    checking.add_argument("tables", nargs="+", metavar="TABLE", help=TABLES)
    with_method(checking)

    explaining = command("explain", look.explain, "one result as numbered steps with figures and rules")
    explaining.add_argument("table", metavar="TABLE", help="table of readings; - for standard input")
    explaining.add_argument("label", help="label of a sample, or a position")
    explaining.add_argument("--run", help="which run of the table")
    with_method(explaining)

    verifying = command("verify", look.verify, "recompute outcomes from their own input and compare")
    verifying.add_argument(
        "archives", nargs="+", metavar="OUT", help="outcomes as JSON or JSON lines, patterns, folders"
    )

    showing = command("method", look.method, "a method as TOML")
    showing.add_argument("file", metavar="METHOD")
    showing.add_argument("--explicit", action="store_true", help="every key, each default with the clause it follows")

    page.add_arguments(command("report", page.report, "archived outcomes as pages of HTML"))

    validating = command("validate", evidence.validate, "compute the published cases on this machine and compare")
    validating.add_argument(
        "--json",
        metavar="OUT.json",
        nargs="?",
        const="-",
        help="write the evidence as JSON, without a name to the screen",
    )
    validating.add_argument("--html", metavar="OUT.html", help="write the evidence as a page")

    inventing = command("demo", evidence.demo, "reduce the invented example runs")
    inventing.add_argument("--out", default="groundstate-demo", help="folder for the outcomes")
    return parser


def main(arguments: list[str] | None = None) -> int:
    """Runs the command line; returns its exit status."""
    chosen = _parser().parse_args(arguments)
    # The same bytes on every system: UTF-8 and plain line ends, also where output goes to a file or a pipe.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace", newline="\n")
    try:
        status: int = chosen.action(chosen)
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read has seen enough (head, a pager). No word of it, but no success either: not everything was said.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOBODY_READS
    except KeyboardInterrupt:
        complain("stopped")
        return INTERRUPTED
    except OSError as error:
        return refused(error, str(error.filename or "output"))
    return status


if __name__ == "__main__":
    sys.exit(main())
