"""The command line: reduce, check, demo."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

import groundstate as gs

#: Exit status of a run that was reduced but did not pass, and of input that cannot be understood.
NOT_PASSED, BAD_INPUT = 1, 2

DEMO = Path(__file__).parent / "demo"
DEMO_RUNS = ("roof_water", "gutter_sediment")
CAUTIONS = """\
Invented data: nothing in these runs was measured.
Never an interlock: nothing printed here says that a flame may be lit or a cylinder changed. Gases, flames and acids
are governed by local codes, the gas supplier, the instrument's manufacturer and licensed practice.
A number from software is not a release of drinking water."""


def _say(text: str, to: TextIO | None = None) -> None:
    print(text, file=to or sys.stdout)


def _refused(error: gs.GroundstateError, of: str) -> int:
    """Says everything that is wrong with an input, one line a problem."""
    for problem in error.problems or ():
        place = ", ".join(
            part
            for part in (
                f"row {problem.row}" if problem.row else "",
                f"{'column ' if problem.row else ''}{problem.name}" if problem.name else "",
                f"label {problem.label!r}" if problem.label else "",
            )
            if part
        )
        help_text = f"; {problem.help}" if problem.help else ""
        _say(f"{of}: {place + ': ' if place else ''}{problem.what}{help_text}", sys.stderr)
    if not error.problems:
        _say(f"{of}: {error}", sys.stderr)
    return BAD_INPUT


def _read(table: str, method: str) -> tuple[list[gs.Run], gs.Method] | int:
    """The runs and the method, or the exit status after saying what is wrong with either."""
    chosen: gs.Method | None = None
    status = 0
    try:
        chosen = gs.read_method(method)
    except gs.GroundstateError as error:
        status = _refused(error, method)
    except OSError as error:
        _say(f"{method}: {error.strerror or error}", sys.stderr)
        status = BAD_INPUT
    try:
        source = sys.stdin.buffer.read() if table == "-" else table
        runs = gs.read_runs(source, chosen)
    except gs.GroundstateError as error:
        status = _refused(error, table)
    except OSError as error:
        _say(f"{table}: {error.strerror or error}", sys.stderr)
        status = BAD_INPUT
    return status if status or chosen is None else (runs, chosen)


def _reduce(arguments: argparse.Namespace) -> int:
    read = _read(arguments.table, arguments.method)
    if isinstance(read, int):
        return read
    runs, method = read
    if len(runs) != 1:
        names = ", ".join(run.name for run in runs)
        _say(f"{arguments.table}: holds {len(runs)} runs ({names}); give a table of one run", sys.stderr)
        return BAD_INPUT
    try:
        outcome = gs.reduce(runs[0], method)
    except gs.GroundstateError as error:
        return _refused(error, arguments.table)
    _say(outcome.summary().rstrip())
    if arguments.json:
        Path(arguments.json).write_text(outcome.to_json() + "\n", encoding="utf-8")
    if arguments.csv:
        Path(arguments.csv).write_text(outcome.results_csv(), encoding="utf-8")
    return NOT_PASSED if outcome.exit_status else 0


def _check(arguments: argparse.Namespace) -> int:
    read = _read(arguments.table, arguments.method)
    if isinstance(read, int):
        return read
    for run in read[0]:
        _say(f"{run.name}: {len(run)} positions, positions {run.position_rule.replace('_', ' ')}")
        for finding in run.findings:
            _say(f"  {finding}")
    return 0


def _explain(arguments: argparse.Namespace) -> int:
    read = _read(arguments.table, arguments.method)
    if isinstance(read, int):
        return read
    try:
        outcome = gs.reduce(read[0][0], read[1])
        _say(outcome.explain(int(arguments.label) if arguments.label.isdigit() else arguments.label))
    except gs.GroundstateError as error:
        return _refused(error, arguments.table)
    return 0


def _verify(arguments: argparse.Namespace) -> int:
    try:
        verification = gs.verify(Path(arguments.outcome))
    except gs.GroundstateError as error:
        return _refused(error, arguments.outcome)
    except OSError as error:
        _say(f"{arguments.outcome}: {error.strerror or error}", sys.stderr)
        return BAD_INPUT
    _say(str(verification))
    return 0 if verification.identical else NOT_PASSED


def _report(arguments: argparse.Namespace) -> int:
    from groundstate.report import _command

    def refused(error: Exception, of: str) -> int:
        if isinstance(error, gs.GroundstateError):
            return _refused(error, of)
        said = getattr(error, "strerror", None) or error
        _say(f"{of}: {said}", sys.stderr)
        return BAD_INPUT

    return _command.run(arguments, refused)


def _validate(arguments: argparse.Namespace) -> int:
    validation = gs.validate()
    if arguments.html:
        Path(arguments.html).write_text(validation.to_html(), encoding="utf-8", newline="\n")
    if arguments.json == "-":
        _say(validation.to_json())
    else:
        if arguments.json:
            Path(arguments.json).write_text(validation.to_json() + "\n", encoding="utf-8", newline="\n")
        _say(validation.summary().rstrip())
    return validation.exit_status


def _demo(arguments: argparse.Namespace) -> int:
    folder = Path(arguments.out)
    folder.mkdir(parents=True, exist_ok=True)
    for name in DEMO_RUNS:
        outcome = gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml")
        _say(f"==== {name}\n")
        _say(outcome.summary().rstrip() + "\n")
        target = folder / f"{name}.json"
        target.write_text(outcome.to_json() + "\n", encoding="utf-8")
        _say(f"outcome with its evidence: {target}\n")
    _say(CAUTIONS)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m groundstate",
        description="From flame atomic absorption readings to reported concentrations.",
        epilog="Exit status: 0 reduced, every required check present and passed; 1 a check failed, is missing or not "
        "evaluable; 2 input that cannot be understood.",
    )
    commands = parser.add_subparsers(dest="command", required=True)

    def command(name: str, run: Callable[[argparse.Namespace], int], help_text: str) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=help_text, description=help_text)
        added.set_defaults(run=run)
        return added

    def with_input(added: argparse.ArgumentParser) -> argparse.ArgumentParser:
        added.add_argument("table", metavar="RUN.csv", help="table of readings; - for standard input")
        added.add_argument("--method", required=True, metavar="METHOD.toml", help="method, TOML or JSON")
        return added

    reducing = with_input(command("reduce", _reduce, "reduce one run and print results, checks and findings"))
    reducing.add_argument("--json", metavar="OUT.json", help="write the outcome with its evidence")
    reducing.add_argument("--csv", metavar="RESULTS.csv", help="write the results as a table")
    with_input(command("check", _check, "read a run and its method without reducing; name every problem"))
    explaining = with_input(command("explain", _explain, "one result as numbered steps with figures and rules"))
    explaining.add_argument("label", help="label of a sample, or a position")
    verifying = command("verify", _verify, "recompute an outcome from its own input and compare")
    verifying.add_argument("outcome", metavar="OUT.json")
    from groundstate.report import _command

    _command.arguments(command("report", _report, "an archived outcome as one page of HTML"))
    validating = command("validate", _validate, "compute the published cases on this machine and compare")
    validating.add_argument(
        "--json",
        metavar="OUT.json",
        nargs="?",
        const="-",
        help="write the evidence as JSON, without a name to the screen",
    )
    validating.add_argument("--html", metavar="OUT.html", help="write the evidence as a page")
    showing = command("demo", _demo, "reduce the invented example runs")
    showing.add_argument("--out", default="groundstate-demo", help="folder for the outcomes")
    return parser


def main(arguments: list[str] | None = None) -> int:
    """Runs the command line; returns its exit status."""
    chosen = _parser().parse_args(arguments)
    status: int = chosen.run(chosen)
    return status


if __name__ == "__main__":
    sys.exit(main())
