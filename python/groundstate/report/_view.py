"""What the page says of an outcome, as plain rows of text: the template sets it and decides nothing."""

from __future__ import annotations

import json
import math
from typing import Any, Literal

from groundstate._core import Addition, Calibration, Outcome
from groundstate.plot._checks import check_rows, new_calibrations, positions, stretches
from groundstate.plot._curve import set_words
from groundstate.report import _pictures as pictures
from groundstate.report._text import (
    NONE,
    accepted,
    against,
    beside,
    clean,
    figures,
    ranges,
    sentence,
    style_text,
    two,
    words,
)

Budgets = Literal["reported", "all", "none"]

STANDING = {
    "complete": ("passed", "Every check that the method requires is there and passed, and no other one failed."),
    "incomplete": ("open", "Incomplete: a required check is missing or could not be evaluated."),
    "failed": ("failed", "A check failed."),
}
POSITIONS = {
    "given": "numbered in the table",
    "consecutive_replicates": "from consecutive replicates",
    "each_row": "one a row",
}
VERDICT = {"pass": "passed", "fail": "failed", "missing": "open", "not_evaluated": "open"}


def view(outcome: Outcome, title: str | None, budgets: Budgets) -> dict[str, Any]:
    """Everything that the page shows."""
    held: dict[str, Any] = json.loads(outcome.to_json(compact=True))
    method = held["method"]
    coverage = float(method["reporting"]["coverage"])
    signal = sentence(words(method["signal_kind"]))
    checks = check_rows(outcome)
    # The row of a series of standard additions is the result of its sample too.
    results = [row for row in held["results"] if row["reported"] or "reported_instead" in row]
    by_position = {row["position"]: row for row in outcome.measurements}
    table = [by_position[row["position"]] for row in results]
    look, standing = STANDING[outcome.standing]
    if outcome.standing == "complete" and any(
        finding.code == "profile_requires_nothing" for finding in outcome.findings
    ):
        look, standing = ("passed" if checks else "open"), f"{standing} The criteria profile in use requires none."
    # The heading of the summary: element and line, before the name of the run.
    subject = outcome.summary().partition(", run ")[0]
    named = clean(title) or f"{subject.partition(' at ')[0]}, run {clean(outcome.run.name)}"
    return {
        "foot": style_text(f"{named[:70]}, input {outcome.provenance['fingerprint'][:12]}"),
        "title": named,
        "subject": subject,
        "standing": {"name": look, "sentence": standing},
        "scope": outcome.scope,
        "uncertainty_name": outcome.uncertainty_name,
        "facts": _facts(outcome, held),
        "coverage": f"{100 * coverage:g} %",
        "results": [_result(row, cells, method) for row, cells in zip(results, table, strict=True)],
        "has_conformity": any(cells["conformity"] for cells in table),
        "marks": _marks(results, method),
        "checks": [_check(row) for row in checks],
        "run_picture": pictures.run(
            "run",
            positions(held),
            checks,
            stretches(held["condemned"]),
            new_calibrations(held),
            signal,
            "The run by position",
        ),
        "calibrations": _calibrations(outcome, held, coverage, signal),
        "additions": [
            _addition(n, label, places, series, coverage, signal)
            for n, (label, places, series) in enumerate(outcome.additions, 1)
        ],
        "budgets": _budgets(outcome, table, budgets),
        "budgets_of": budgets,
        "findings": [
            {
                "severity": finding.severity,
                "code": finding.code,
                "subject": finding.subject,
                "sentence": finding.sentence,
                "citation": finding.citation,
            }
            for finding in outcome.findings
        ],
        "method_text": outcome.method.to_toml(),
        "provenance": _provenance(outcome, held),
    }


def _facts(outcome: Outcome, held: dict[str, Any]) -> list[tuple[str, str]]:
    method = held["method"]
    facts = [
        ("Run", outcome.run.name),
        ("Method", f"{method['id']}, version {method['version']}"),
        ("Approved by", method.get("approved_by") or "not stated"),
        ("In force from", method.get("effective_from") or "not stated"),
        ("Criteria", f"profile {method['profile']}"),
        ("Positions", f"{len(outcome.run)}, {POSITIONS.get(outcome.run.position_rule, outcome.run.position_rule)}"),
    ]
    return facts + [(sentence(words(name)), value) for name, value in outcome.run.facts.items()]


def _result(row: dict[str, Any], cells: Any, method: dict[str, Any]) -> dict[str, Any]:
    has_value = math.isfinite(cells["value"])
    marks = [_letters(name, method) for name in row["qualifiers"]]
    if "reported_instead" in row:
        marks.append(f"not reported, see position {row['reported_instead']}")
    return {
        "label": row.get("label", ""),
        "position": row["position"],
        "text": row["reported_text"].replace("-", "−") if has_value else row["reported_text"],
        "unit": row["unit"] if has_value else "",
        "u": two(cells["standard_uncertainty"]) if has_value else NONE,
        "expanded": two(cells["expanded_uncertainty"]) if has_value else NONE,
        "k": f"{cells['coverage_factor']:.2f}" if has_value and math.isfinite(cells["coverage_factor"]) else NONE,
        "dof": _dof(cells["degrees_of_freedom"]) if has_value else NONE,
        "mdl": figures(cells["mdl"], 3),
        "loq": figures(cells["loq"], 3),
        "marks": marks,
        "status": words(cells["status"]),
        "conformity": words(cells["conformity"] or ""),
        "reported": row["reported"],
    }


def _dof(dof: float) -> str:
    return "∞" if math.isinf(dof) else NONE if math.isnan(dof) else f"{dof:.1f}" if dof < 100 else f"{dof:.0f}"


def _letters(name: str, method: dict[str, Any]) -> str:
    return method["qualifiers"][name]["letters"] or words(name)


def _marks(results: list[dict[str, Any]], method: dict[str, Any]) -> list[tuple[str, str]]:
    """Every mark that a result carries, with its meaning."""
    used = dict.fromkeys(name for row in results for name in row["qualifiers"])
    return [(_letters(name, method), method["qualifiers"][name]["words"]) for name in used]


def _check(row: Any) -> dict[str, Any]:
    # Correlations that differ in the fifth figure are told apart.
    count = 6 if row.figure in ("r", "r_squared") else 4
    figure = beside(against(row.value, row.low, row.high, count), row.unit)
    return {
        "verdict": words(row.verdict),
        "look": VERDICT[row.verdict],
        "title": sentence(row.title),
        "label": row.label,
        "place": str(row.position) if row.position is not None else f"segment {row.segment}",
        "batch": row.batch,
        "figure": f"{row.words} {figure}" if row.figure else "",
        "accepted": accepted(row.low, row.high, row.unit) if row.figure else NONE,
        "reason": words(row.reason or ""),
        "affects": ranges(row.affects),
        "citation": row.citation,
    }


def _calibrations(outcome: Outcome, held: dict[str, Any], coverage: float, signal: str) -> list[dict[str, Any]]:
    found = []
    rows = list(outcome.measurements)
    for segment, cal in zip(held["segments"], outcome.calibrations, strict=True):
        number = segment["number"]
        read = [
            (row["solution_value"], row["mean_signal"])
            for row in rows
            if row["segment"] == number and row["role"] != "addition" and math.isfinite(row["solution_value"])
        ]
        matrix = segment.get("matrix")
        name = f"Calibration {number}, matched to {matrix}" if matrix else f"Calibration {number}"
        found.append(
            {
                "number": number,
                "name": name,
                "picture": pictures.calibration(f"calibration-{number}", cal, read, coverage, signal, name),
                "facts": _curve_facts(cal, segment) + _matched_facts(outcome, number),
                "points": [
                    {
                        "concentration": figures(x),
                        "signal": figures(y),
                        "readings": int(n),
                        "residual": figures(r, 3),
                        "percent": figures(p, 3),
                    }
                    for x, y, n, r, p in zip(
                        cal.point_concentrations,
                        cal.point_signals,
                        cal.point_readings,
                        cal.residuals,
                        cal.percent_error,
                        strict=True,
                    )
                ],
                "unit": cal.unit,
            }
        )
    return found


def _matched_facts(outcome: Outcome, number: int) -> list[tuple[str, str]]:
    """A calibration matched to a matrix against the external one."""
    facts = []
    for row in outcome.matched:
        if row["segment"] == number:
            effect = f"{figures(row['effect_percent'], 3)} % (u {two(row['effect_standard_uncertainty'])} %)"
            facts.append((f"Matrix effect against calibration {row['external']}", effect))
            facts.append(("Common slope", f"p {figures(row['slope_p'], 3)}"))
            facts.append(("Common intercept", f"p {figures(row['intercept_p'], 3)}"))
    return facts


def _curve_facts(cal: Calibration, segment: dict[str, Any]) -> list[tuple[str, str]]:
    coefficients = "; ".join(
        f"{figures(value)} (u {two(u)})" for value, u in zip(cal.coefficients, cal.standard_errors, strict=True)
    )
    facts = [
        ("Positions", f"{segment['first_position']} to {segment['last_position']}"),
        ("Function", f"{words(cal.shape)}, noise {words(cal.noise)}, {len(cal.point_signals)} {cal.points}"),
        ("Standards", f"{figures(cal.lowest)} to {figures(cal.top)} {cal.unit}"),
        ("Coefficients by ascending powers", coefficients),
    ]
    if cal.residual_sd is not None:
        facts.append(
            ("Residual standard deviation", f"{figures(cal.residual_sd)}, {cal.residual_dof} degrees of freedom")
        )
    if cal.correlation is not None:
        facts.append(("Correlation coefficient", f"{cal.correlation:.5f}"))
    elif cal.r_squared is not None:
        facts.append(("Coefficient of determination", f"{cal.r_squared:.5f} ({words(cal.r_squared_kind or '')})"))
    if cal.rse is not None:
        facts.append(("Relative standard error", f"{figures(cal.rse, 3)} %"))
    if cal.characteristic_concentration is not None:
        facts.append(("Characteristic concentration", f"{figures(cal.characteristic_concentration, 3)} {cal.unit}"))
    return facts


def _addition(
    number: int, label: str, places: tuple[int, ...], series: Addition | None, coverage: float, signal: str
) -> dict[str, Any]:
    shown: dict[str, Any] = {"label": label, "places": ranges(places), "picture": None, "facts": []}
    if series is None:
        return shown
    found = series.estimate
    shown["picture"] = pictures.additions(
        f"additions-{number}", series, coverage, signal, f"Standard additions {number}"
    )
    value = (
        f"{figures(found.value)} {series.unit} (u {two(found.u)})"
        if math.isfinite(found.value)
        else words(found.status)
    )
    shown["facts"] = [("Found in the measured solution", value)]
    if math.isfinite(found.value):
        interval = series.interval(coverage, "inversion")
        shown["facts"].append(
            (f"{100 * coverage:g} % set by inversion", f"{set_words(interval, figures)} ({series.unit})")
        )
    if series.r is not None:
        shown["facts"].append(("Correlation coefficient", f"{series.r:.5f}"))
    return shown


def _budgets(outcome: Outcome, table: list[Any], which: Budgets) -> list[dict[str, Any]]:
    if which == "none":
        return []
    found = []
    for row in table:
        if (which == "all" or row["reported"]) and math.isfinite(row["standard_uncertainty"]):
            lines = outcome.budget(row["position"])
            found.append(
                {
                    "label": row["label"],
                    "position": row["position"],
                    "unit": row["unit"],
                    "u": two(row["standard_uncertainty"]),
                    "lines": [
                        {
                            "source": line.source,
                            "kind": words(line.kind),
                            "u": figures(line.u, 3),
                            "share": f"{100 * line.share:.1f}",
                            "dof": _dof(line.dof),
                        }
                        for line in lines
                    ],
                }
            )
    return found


def _provenance(outcome: Outcome, document: dict[str, Any]) -> list[tuple[str, str, bool]]:
    """Names and values, and whether a value is a fingerprint."""
    held = outcome.provenance
    rows = [("Computed by", f"groundstate {held['library']}", False)]
    names = {
        "fingerprint": "Method and run together",
        "method": "Method",
        "profile": "Criteria",
        "table": "Run",
        "raw": "Bytes of the table as read",
    }
    rows += [
        (f"{words_} (SHA-256)", held[name] or "not given", held[name] is not None) for name, words_ in names.items()
    ]
    amends = document["provenance"].get("amends")
    if amends:
        rows.append(("Stands for the outcome of input (SHA-256)", amends["fingerprint"], True))
        rows.append(("Reason", amends["reason"], False))
    return rows
