"""The commands demo and validate."""

from __future__ import annotations

import argparse
from pathlib import Path

import groundstate as gs
from groundstate._shell.output import write_whole
from groundstate._shell.say import say

DEMO = Path(__file__).parent.parent / "demo"
DEMO_RUNS = ("roof_water", "gutter_sediment", "gutter_moss")
CAUTIONS = """\
Invented data: nothing in these runs was measured.
Never an interlock: nothing printed here says that a flame may be lit or a cylinder changed. Gases, flames and acids
are governed by local codes, the gas supplier, the instrument's manufacturer and licensed practice.
A number from software is not a release of drinking water."""


def validate(arguments: argparse.Namespace) -> int:
    """The command ``validate``: the published cases, computed here."""
    validation = gs.validate()
    if arguments.html:
        write_whole(Path(arguments.html), validation.to_html())
    if arguments.json == "-":
        say(validation.to_json())
    else:
        if arguments.json:
            write_whole(Path(arguments.json), validation.to_json() + "\n")
        say(validation.summary().rstrip())
    return validation.exit_status


def demo(arguments: argparse.Namespace) -> int:
    """The command ``demo``: the invented runs, reduced and archived."""
    folder = Path(arguments.out)
    for name in DEMO_RUNS:
        outcome = gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml")
        say(f"==== {name}\n")
        say(outcome.summary().rstrip() + "\n")
        target = folder / f"{name}.json"
        write_whole(target, outcome.to_json() + "\n")
        say(f"outcome with its evidence: {target}\n")
    say(CAUTIONS)
    return 0
