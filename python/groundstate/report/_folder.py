"""Pages of many outcomes in a folder, with an index."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from groundstate._core import Outcome
from groundstate.report._page import rendered, to_html
from groundstate.report._text import clean
from groundstate.report._view import STANDING, VERDICT

#: Letters of a run's name that a file's name keeps.
_KEPT = re.compile(r"[^A-Za-z0-9]+")


def to_folder(
    outcomes: Iterable[Outcome], folder: str | os.PathLike[str], title: str = "Runs", *, budgets: str = "reported"
) -> Path:
    """Writes a page for each outcome, and an index of them; the same outcomes give the same bytes.

    Args:
        outcomes: the outcomes in order, one page at a time in memory. Of `Outcomes`, the index also lists what could
            not be reduced.
        folder: where the pages go; it is made where it is not there. Pages of the same outcomes are written over.
        title: of the index.
        budgets: as for `Outcome.to_html`.

    Returns:
        The path of the index.
    """
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    rows: list[dict[str, Any]] = []
    taken: set[str] = set()
    for outcome in outcomes:
        file = _file_of(outcome, taken)
        (target / file).write_bytes(to_html(outcome, None, budgets).encode("utf-8"))
        rows.append(_row(outcome, file))
    errors = [(name, str(error)) for name, error in getattr(outcomes, "errors", {}).items()]
    index = target / "index.html"
    index.write_bytes(rendered("index.html.j2", title=clean(title), runs=rows, errors=errors).encode("utf-8"))
    return index


def _file_of(outcome: Outcome, taken: set[str]) -> str:
    """A name for the page that every file system takes: letters of the run, and its fingerprint."""
    word = _KEPT.sub("-", outcome.run.name).strip("-").lower()[:40] or "run"
    stem = f"{word}-{outcome.provenance['fingerprint'][:12]}"
    name, count = stem, 1
    while name in taken:
        count += 1
        name = f"{stem}-{count}"
    taken.add(name)
    return f"{name}.html"


def _row(outcome: Outcome, file: str) -> dict[str, Any]:
    looks = [VERDICT[verdict] for verdict in outcome.checks["verdict"]]
    return {
        "file": file,
        "name": outcome.run.name,
        "element": outcome.method.element,
        "method": f"{outcome.method.id}, version {outcome.method.version}",
        # Nothing was looked at where there is no check.
        "look": STANDING[outcome.standing][0] if looks else "open",
        "standing": outcome.standing,
        "passed": looks.count("passed"),
        "failed": looks.count("failed"),
        "open": looks.count("open"),
        "results": sum(outcome.results["reported"]),
        "input": outcome.provenance["fingerprint"][:12],
    }
