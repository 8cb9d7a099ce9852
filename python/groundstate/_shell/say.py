"""Words to the screen: results to standard output, everything else to standard error."""

from __future__ import annotations

import sys

import groundstate as gs

#: Exit status: a check failed, is missing or could not be evaluated; input that could not be read; stopped by Ctrl-C;
#: standard output closed by its reader.
NOT_PASSED, BAD_INPUT, INTERRUPTED, NOBODY_READS = 1, 2, 130, 141


def say(text: str) -> None:
    """One text and a line end to standard output."""
    sys.stdout.write(text + "\n")


def complain(text: str) -> int:
    """One text to standard error; the status of input that could not be read."""
    sys.stderr.write(text + "\n")
    return BAD_INPUT


def refused(error: Exception, of: str, at_most: int | None = None) -> int:
    """Says what is wrong with an input, one line a problem; the status."""
    if isinstance(error, OSError):
        return complain(f"{of}: {error.strerror or error}")
    problems = error.problems if isinstance(error, gs.GroundstateError) else ()
    for problem in problems[:at_most]:
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
        complain(f"{of}: {place + ': ' if place else ''}{problem.what}{help_text}")
    if at_most is not None and len(problems) > at_most:
        complain(f"{of}: and {len(problems) - at_most} more; `check` names them")
    if not problems:
        complain(f"{of}: {error}")
    return BAD_INPUT
