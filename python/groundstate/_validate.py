"""The published cases, computed on this machine by this installation and compared with their sources."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any, Literal

from groundstate import __version__
from groundstate._published import Case, Figure, answers, cases, offered
from groundstate._table import Table

SCHEMA = "groundstate.validation/1"

STATEMENT = (
    "This is evidence of the arithmetic of one installation on one machine, for the laboratory's own validation of "
    "its software (ISO/IEC 17025:2017, clause 7.11). It validates no method, no instrument, no file and no transfer of "
    "data. The laboratory still validates its methods, the files and columns that it reads, every transfer of data, "
    "and who may change them."
)

BASIS = (
    "The figure that the source prints is matched when the computed figure lies within half a unit of its last digit, "
    "or agrees to the digits required where the source prints more of them. Beside it stands the figure recomputed "
    "from the same data to 20 digits by decimal arithmetic that shares no code with this package; the digits are those "
    "that agree with it, and 17 is as near as a double can be. A figure passes when it matches what is printed (unless "
    "the source is known to differ, for the reason given) and reaches the digits required. Figures of 'recomputed' "
    "basis are not printed in the source; those of 'constructed' basis apply a published formula to data of our own."
)

COLUMNS = (
    "case",
    "source",
    "quantity",
    "basis",
    "published",
    "recomputed",
    "computed",
    "digits",
    "required",
    "verdict",
    "note",
)


class Validation(Table):
    """One row a figure, in the columns:

    case, source: title of the case; document and section.
    quantity: name of the figure, as explained in the README.md of groundstate/cases.
    basis: "published" where the source prints the figure, "recomputed" where it follows from published data,
        "constructed" where a published formula is applied to data of our own.
    published: the figure as printed, None where none is; recomputed: from the same data, to 20 digits.
    computed: what this installation gives, the shortest decimal that reads back as the number; None where it gave none.
    digits: minus the common logarithm of the relative error against the recomputed figure, at most 17.
    required: the digits that are asked for. verdict: "agrees" or "failed". note: why, where there is something to say.
    """

    __slots__ = ("_environment",)

    def __init__(self, rows: Iterable[dict[str, Any]], environment: dict[str, str]) -> None:
        import numpy as np

        held = list(rows)
        columns: dict[str, Any] = {name: [row[name] for row in held] for name in COLUMNS}
        for name in ("digits", "required"):
            columns[name] = np.array(columns[name], dtype=np.float64)
        super().__init__(columns)
        self._environment = environment

    def __reduce__(self) -> tuple[Any, ...]:
        return (Validation, ([dict(row) for row in self], self._environment))

    @property
    def passed(self) -> bool:
        """Whether there are figures at all, and every one of them agrees."""
        return len(self) > 0 and all(verdict == "agrees" for verdict in self["verdict"])

    @property
    def failed(self) -> list[Any]:
        """The rows that failed."""
        return [row for row in self if row["verdict"] != "agrees"]

    @property
    def exit_status(self) -> int:
        """0 where every figure agrees, otherwise 1."""
        return 0 if self.passed else 1

    @property
    def environment(self) -> dict[str, str]:
        """Versions, machine, time and the digest of the cases: what was validated, where, when and by what."""
        return dict(self._environment)

    @property
    def statement(self) -> str:
        """What this is evidence of, and what it is not."""
        return STATEMENT

    def headline(self) -> str:
        """The verdict in one line."""
        count = len(set(self["case"]))
        if self.passed:
            return f"passed: {len(self)} figures of {count} cases agree"
        if not len(self):
            return "failed: there are no cases in this installation"
        return f"failed: {len(self.failed)} of {len(self)} figures of {count} cases disagree"

    def summary(self) -> str:
        """One line a case, the figures that failed in full, the verdict and what it means."""
        lines = []
        for title, rows in self.by_case():
            agreeing = [row for row in rows if row["verdict"] == "agrees"]
            printed = sum(row["published"] is not None for row in rows)
            least = min(row["digits"] for row in rows)
            lines.append(
                f"{'agrees' if len(agreeing) == len(rows) else 'FAILED'}  {len(rows):3} figures, {printed:3} printed, "
                f"at least {least:4.1f} digits  {title}"
            )
            lines += [
                f"        {row['quantity']}: computed {row['computed']}, published "
                f"{row['published'] or 'nowhere'}, recomputed {row['recomputed']}: {row['note']}"
                for row in rows
                if row["verdict"] != "agrees"
            ]
        facts = [f"{name}: {value}" for name, value in self._environment.items()]
        return "\n".join([*lines, "", *facts, "", self.headline(), "", _filled(STATEMENT), ""])

    def by_case(self) -> Iterator[tuple[str, list[Any]]]:
        """Title of each case with its rows."""
        held: dict[str, list[Any]] = {}
        for row in self:
            held.setdefault(row["case"], []).append(row)
        yield from held.items()

    def to_json(self) -> str:
        """One JSON document: what it is, the verdict, the environment, and one object a figure."""
        import json

        document = {
            "schema": SCHEMA,
            "statement": STATEMENT,
            "basis": BASIS,
            "verdict": "passed" if self.passed else "failed",
            "environment": self._environment,
            "figures": [_without_missing(dict(row)) for row in self],
        }
        return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False)

    def to_html(self) -> str:
        """One self-contained page."""
        from groundstate._validate_html import page

        return page(self, STATEMENT, BASIS)

    def __str__(self) -> str:
        return self.summary()

    def __repr__(self) -> str:
        return f"<Validation {self.headline()}>"


def validate() -> Validation:
    """Computes the published cases that come with the package and compares them with their sources.

    The result is a table of one row a figure; ``passed`` says whether all agree. It is evidence of the arithmetic of
    this installation for the laboratory's own software validation (ISO/IEC 17025:2017, clause 7.11); the laboratory
    still validates its methods, files, transfers and access.
    """
    held = cases()
    return Validation((row for one in held for row in _rows(one)), _environment(held))


def _rows(one: Case) -> Iterator[dict[str, Any]]:
    names = offered(one)
    figure = answers(one) if names else None
    for name in names:
        computed: Figure | None = None
        trouble = ""
        try:
            computed = figure(name) if figure else None
        except Exception as error:  # whatever stops a figure is its verdict, and stops no other figure
            trouble = f"{type(error).__name__}: {error}"
        yield _row(one, name, computed, trouble)


def _row(one: Case, name: str, computed: Figure | None, trouble: str) -> dict[str, Any]:
    printed, recomputed = one.printed.get(name), one.expected[name]
    digits = math.nan if computed is None else agreeing_digits(computed, Decimal(recomputed))
    differs = one.differs.get(name)
    reasons = [trouble] if trouble else []
    if not trouble:
        if printed is not None and differs is None and not _matches(computed, printed, one.digits):
            reasons.append("it does not round to the published figure")
        if not digits >= one.digits:
            reasons.append(f"{digits:.1f} digits agree with the recomputed figure, {one.digits:g} are required")
    verdict: Literal["agrees", "failed"] = "failed" if reasons else "agrees"
    if differs is not None:
        reasons.append(f"the source prints {printed}: {differs}")
    return {
        "case": one.title,
        "source": one.source,
        "quantity": name,
        "basis": "constructed" if one.constructed else "published" if printed is not None else "recomputed",
        "published": printed,
        "recomputed": recomputed,
        "computed": None if computed is None else computed if isinstance(computed, str) else repr(float(computed)),
        "digits": digits,
        "required": one.digits,
        "verdict": verdict,
        "note": "; ".join(reasons),
    }


def agreeing_digits(found: Figure, expected: Decimal) -> float:
    """Minus the common logarithm of the relative error, at most 17; of a text, 17 when it is the same, else 0."""
    if isinstance(found, str):
        return 17.0 if found == str(expected) else 0.0
    if not math.isfinite(found):
        return -math.inf
    error = abs(Decimal(found) - expected) / (abs(expected) or 1)
    return min(17.0, float(-error.log10())) if error else 17.0


def _matches(computed: Figure | None, printed: str, required: float) -> bool:
    """Within half a unit of the last printed digit, or to the digits required; a text is the printed one."""
    if isinstance(computed, str):
        return computed == printed
    if computed is None or not math.isfinite(computed):
        return False
    published = Decimal(printed)
    exponent = published.as_tuple().exponent
    assert isinstance(exponent, int)
    half_a_unit = Decimal(5).scaleb(exponent - 1)
    return abs(Decimal(computed) - published) <= half_a_unit or agreeing_digits(computed, published) >= required


def _environment(held: list[Case]) -> dict[str, str]:
    import datetime
    import hashlib
    import platform
    from dataclasses import asdict
    from json import dumps

    import numpy as np

    canonical = dumps([asdict(one) for one in held], sort_keys=True).encode()
    return {
        "groundstate": __version__,
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "numpy": np.__version__,
        "machine": platform.platform(),
        "at": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "cases": f"{len(held)} files, SHA-256 {hashlib.sha256(canonical).hexdigest()}",
    }


def _without_missing(row: dict[str, Any]) -> dict[str, Any]:
    """The row without absent members: there is no null, NaN or infinity in our documents."""
    return {
        name: cell for name, cell in row.items() if cell is not None and cell not in ("", -math.inf) and cell == cell
    }


def _filled(text: str) -> str:
    import textwrap

    return textwrap.fill(text, 100)
