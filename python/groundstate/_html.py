"""Objects as HTML for notebooks: readable in light and dark, without scripts, every word of a user escaped.

Text takes the colour of the page around it and rules are that colour made faint, so that it reads in any theme; only
the marks of severity have a colour of their own. Figures are rounded to their uncertainty by the core.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from groundstate._core import GroundstateError, _beside, _check_words, round_reported

if TYPE_CHECKING:
    from groundstate._core import (
        Addition,
        Calibration,
        Estimate,
        Estimates,
        Finding,
        Interval,
        Intervals,
        Mdl,
        Outcome,
        Simulation,
    )
    from groundstate._reduce import Outcomes
    from groundstate._table import Findings, Row, Table

#: The most rows that are shown; the rest is counted.
MOST_ROWS = 20
#: The most columns of a bare table.
MOST_COLUMNS = 12

STYLE = """
.gs{--gs-good:#2b7a63;--gs-care:#a86a00;--gs-bad:#b3364a;--gs-idle:#6d7480;
--gs-rule:color-mix(in srgb,currentColor 22%,transparent);--gs-wash:color-mix(in srgb,currentColor 5%,transparent);
font:13px/1.45 system-ui,sans-serif;color:inherit;max-width:60em;margin:.3em 0;font-variant-numeric:tabular-nums}
@media (prefers-color-scheme:dark){.gs{--gs-good:#57c2a2;--gs-care:#e0a64a;--gs-bad:#ef8394;--gs-idle:#9aa1ac}}
.gs header{display:flex;flex-wrap:wrap;gap:.15em .8em;align-items:baseline;padding:.1em 0 .35em;
border-bottom:2px solid currentColor}
.gs header b{font-size:1.12em}
.gs header span{opacity:.78}
.gs .gs-fig{font-size:1.35em;margin:.35em 0}
.gs dl{display:grid;grid-template-columns:max-content 1fr;gap:.12em 1.1em;margin:.45em 0}
.gs dt{opacity:.72}
.gs dd{margin:0}
.gs table{border-collapse:collapse;margin:.45em 0;width:auto;color:inherit;background:none}
.gs th,.gs td{padding:.18em .8em .18em 0;text-align:left;vertical-align:top;border:0;background:none;white-space:normal}
.gs th{font-weight:600;border-bottom:1px solid var(--gs-rule)}
.gs tbody tr{background:none;border-bottom:1px solid var(--gs-wash)}
.gs td.gs-n,.gs th.gs-n{text-align:right}
.gs .gs-wide{overflow-x:auto}
.gs small{opacity:.72;font-size:.92em}
.gs .gs-m{white-space:nowrap}
.gs .gs-m::before{content:"";display:inline-block;width:.55em;height:.55em;margin-right:.45em;border-radius:50%;
background:var(--gs-idle)}
.gs .gs-good::before{background:var(--gs-good)}
.gs .gs-care::before{background:var(--gs-care);border-radius:0;transform:rotate(45deg) scale(.85)}
.gs .gs-bad::before{background:var(--gs-bad);border-radius:0}
.gs details{margin:.35em 0}
.gs summary{cursor:pointer}
"""

#: Words to marks: what is in order, what wants care, what failed.
_MARKS = {
    "good": ("in_range", "pass", "complete", "met", "validated", "settled"),
    "care": ("below_lowest", "above_top", "negative", "caution", "incomplete", "missing", "not_evaluated", "advice"),
    "bad": ("beyond_curve", "no_reading", "not_calibrated", "saturated", "fail", "failed", "not_met", "not_settled"),
}
_MARK_OF = {word: mark for mark, words in _MARKS.items() for word in words}


# ---- pieces


def _card(title: str, about: Iterable[str], *body: str) -> str:
    spans = "".join(f"<span>{escape(item)}</span>" for item in about if item)
    inside = "".join(body)
    return f'<div class="gs"><style>{STYLE}</style><header><b>{escape(title)}</b>{spans}</header>{inside}</div>'


def mark(word: str) -> str:
    """A status in words with its mark: round in order, tilted wants care, square failed."""
    return f'<span class="gs-m gs-{_MARK_OF.get(word, "idle")}">{escape(word.replace("_", " "))}</span>'


def _facts(pairs: Iterable[tuple[str, str | None]]) -> str:
    """A list of named figures; the values are HTML."""
    shown = "".join(f"<dt>{escape(name)}</dt><dd>{value}</dd>" for name, value in pairs if value)
    return f"<dl>{shown}</dl>" if shown else ""


def _grid(heads: Sequence[str], rows: Iterable[Sequence[str]], total: int, right: Sequence[int] = ()) -> str:
    """A table whose cells are HTML; `total` rows there are, of which the first are shown."""

    def cells(tag: str, row: Sequence[str]) -> str:
        scope = ' scope="col"' if tag == "th" else ""
        sides = [' class="gs-n"' if i in right else "" for i in range(len(row))]
        return "".join(f"<{tag}{scope}{side}>{cell}</{tag}>" for side, cell in zip(sides, row, strict=True))

    shown = list(rows)[:MOST_ROWS]
    body = "".join(f"<tr>{cells('td', row)}</tr>" for row in shown)
    more = f"<small>{total - len(shown)} more rows</small>" if total > len(shown) else ""
    head = cells("th", [escape(name) for name in heads])
    return f'<div class="gs-wide"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>{more}'


def figure(value: float | None, figures: int = 4) -> str:
    """A figure that has no uncertainty of its own."""
    if value is None or math.isnan(value):
        return ""
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    try:
        return round_reported(value, figures=figures)
    except GroundstateError:
        return f"{value:.{figures}g}"


def pair(value: float, u: float) -> str:
    """A value and its standard uncertainty, both to the place that two figures of u give."""
    return "" if math.isnan(value) else _beside(value, u)


def _dof(dof: float) -> str:
    return "" if math.isnan(dof) else figure(dof, 3)


def _cell(value: Any) -> str:
    """A cell of any table, escaped."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return figure(value)
    if isinstance(value, (list, tuple)):
        return escape(", ".join(str(item) for item in value))
    return escape(str(value))


def _findings(found: Sequence[Finding], open_them: bool = False) -> str:
    if not found:
        return ""
    rows = [
        (mark(one.severity), escape(one.subject), escape(one.sentence), f"<small>{escape(one.citation or '')}</small>")
        for one in found
    ]
    listed = _grid(("", "about", "noticed", "rule"), rows, len(found))
    counts = [(word, sum(one.severity == word for one in found)) for word in ("fail", "caution", "note")]
    said = ", ".join(f"{count} {word}" for word, count in counts if count)
    state = " open" if open_them else ""
    return f"<details{state}><summary>Findings: {said}</summary>{listed}</details>"


# ---- objects


def calibration(cal: Calibration) -> str:
    """A calibration: function, coefficients, range, figures of the fit, points, findings."""
    unit = escape(cal.unit)

    def of_concentration(value: float | None, figures: int = 4) -> str | None:
        return None if value is None else f"{figure(value, figures)} {unit}"

    coefficients = zip(_names(cal), cal.coefficients.tolist(), cal.standard_errors.tolist(), strict=True)
    scatter = f"{figure(cal.residual_sd, 3)} on {cal.residual_dof} degrees of freedom"
    facts: list[tuple[str, str | None]] = [(name, pair(value, u)) for name, value, u in coefficients]
    facts += [
        ("range", f"{figure(cal.lowest)} to {figure(cal.top)} {unit}"),
        ("residual sd", None if cal.residual_sd is None else scatter),
        ("chi-squared", None if cal.chi_squared is None else figure(cal.chi_squared)),
        (
            "r² about zero" if cal.r_squared_kind == "about_zero" else "r²",
            None if cal.r_squared is None else f"{cal.r_squared:.6f}",
        ),
        ("relative standard error", None if cal.rse is None else f"{figure(cal.rse, 3)} %"),
        ("turns at", of_concentration(cal.turning_point)),
        ("1 % absorption", of_concentration(cal.characteristic_concentration, 3)),
    ]
    rows = [
        (figure(x), figure(y), str(n), figure(residual, 2), figure(percent, 3))
        for x, y, n, residual, percent in zip(
            cal.point_concentrations.tolist(),
            cal.point_signals.tolist(),
            cal.point_readings.tolist(),
            cal.residuals.tolist(),
            cal.percent_error.tolist(),
            strict=True,
        )
    ]
    heads = (f"concentration, {cal.unit}", "signal", "readings", "residual", "error, %")
    points = _grid(heads, rows, len(rows), right=range(5))
    return _card(
        f"Calibration: {cal.shape.replace('_', ' ')}",
        (f"noise {cal.noise.replace('_', ' ')}", f"{len(rows)} points, {cal.points}", f"id {cal.id}"),
        _facts(facts),
        f"<details><summary>Points</summary>{points}</details>",
        _findings(cal.findings),
    )


def _names(cal: Calibration) -> list[str]:
    """What the coefficients are."""
    count = len(cal.coefficients)
    if cal.shape == "stray_light":
        return [f"coefficient {i + 1}" for i in range(count)]
    return ["intercept", "slope", "quadratic"][:count] if "through" not in cal.shape else ["slope", "quadratic"][:count]


def estimate(one: Estimate) -> str:
    """One estimate: value and standard uncertainty, status, degrees of freedom, findings."""
    value = pair(one.value, one.u)
    shown = f'<div class="gs-fig">{value} {escape(one.unit)}</div>' if value else ""
    no_u = "no standard uncertainty" if value and math.isnan(one.u) else None
    facts = [("status", mark(one.status)), ("degrees of freedom", _dof(one.dof) if value else None), ("", no_u)]
    return _card(
        "Estimate", ("value ± standard uncertainty",) if value else (), shown, _facts(facts), _findings(one.findings)
    )


def estimates(all_of: Estimates) -> str:
    """Estimates, one a row."""
    shown = range(min(len(all_of), MOST_ROWS))
    values, u, dof, status = all_of.value, all_of.u, all_of.dof, all_of.status
    rows = [(str(i), pair(float(values[i]), float(u[i])), _dof(float(dof[i])), mark(str(status[i]))) for i in shown]
    heads = ("", f"value ± u, {all_of.unit}", "dof", "status")
    table = _grid(heads, rows, len(all_of), right=(1, 2))
    return _card("Estimates", (f"{len(all_of)} in {all_of.unit}",), table, _findings(all_of.findings))


def interval(one: Interval) -> str:
    """One coverage interval in words."""
    why = [end.replace("_", " ") for end in one.ends if end != "crossed"]
    facts = [("ends", escape(", ".join(why)) or None)]
    about = (f"{100 * one.coverage:g} % coverage", one.method)
    return _card("Interval", about, f'<div class="gs-fig">{_set(one)}</div>', _facts(facts))


def _set(one: Interval) -> str:
    """The set in words, its ends to the place that its width gives."""
    width = one.hi - one.lo
    if one.kind != "between" or not width > 0.0:
        return escape(str(one))
    return f"{_to_place_of(one.lo, width)} to {_to_place_of(one.hi, width)}"


def intervals(all_of: Intervals) -> str:
    """Coverage intervals, one a row."""
    shown = range(min(len(all_of), MOST_ROWS))
    each = [all_of[i] for i in shown]
    rows = [
        (str(i), _set(one), escape(" and ".join(dict.fromkeys(one.ends)).replace("_", " ")))
        for i, one in zip(shown, each, strict=True)
    ]
    about = (f"{len(all_of)}", f"{100 * all_of.coverage:g} % coverage", all_of.method)
    return _card("Intervals", about, _grid(("", "set", "ends"), rows, len(all_of)))


def addition(series: Addition) -> str:
    """A series of standard additions: what was found, in the solution and in the sample, and its line."""
    found, sample = series.estimate, series.sample
    value = pair(found.value, found.u)
    slope, intercept = series.coefficients[1], series.coefficients[0]
    errors = series.standard_errors
    shown = f'<div class="gs-fig">{value} {escape(series.unit)}</div>' if value else ""
    inversion = series.interval(method="inversion")
    facts = [
        ("status", mark(found.status)),
        ("95 % by test inversion", _set(inversion) if value else None),
        ("in the sample", None if sample is None else f"{pair(sample.value, sample.u)} {escape(sample.unit)}"),
        ("slope", pair(float(slope), float(errors[1]))),
        ("intercept", pair(float(intercept), float(errors[0]))),
        ("r", None if series.r is None else f"{series.r:.5f}"),
    ]
    about = ("in the measured solution, value ± standard uncertainty",)
    return _card("Standard additions", about, shown, _facts(facts), _findings(series.findings, open_them=True))


def mdl(study: Mdl) -> str:
    """A detection limit study: the limit, its parts, the requirements on its data."""
    parts = [
        (
            escape(name),
            figure(part.value, 3),
            figure(part.mean, 3),
            figure(part.sd, 3),
            figure(part.t, 4),
            str(part.numeric),
            str(part.nondetects),
            str(part.missing + part.excluded),
        )
        for name, part in (("spikes", study.spikes), ("blanks", study.blanks))
    ]
    heads = ("part", "limit", "mean", "sd", "t", "numbers", "non-detects", "left out")
    rules = [
        (mark(one.state), escape(one.required), escape(one.found), f"<small>{escape(one.citation)}</small>")
        for one in study.design
    ]
    value = f'<div class="gs-fig">{figure(study.value, 3)}</div>' if study.value is not None else ""
    span = study.interval
    facts = [
        ("decided by", escape(study.decided_by) if study.decided_by else None),
        ("blanks", escape(study.branch.replace("_", " "))),
        ("95 % interval", None if span is None else f"{figure(span[0], 3)} to {figure(span[1], 3)}, for information"),
        ("may be called", escape(study.basis.replace("_", " "))),
    ]
    listed = _grid(("", "required", "found", "rule"), rules, len(rules))
    return _card(
        "Method detection limit",
        ("in the unit of the results", "" if study.value is not None else "no value"),
        value,
        _facts(facts),
        _grid(heads, parts, len(parts), right=range(1, 8)),
        f"<details><summary>Requirements on the data</summary>{listed}</details>",
        _findings(study.findings),
    )


def _marks(row: Row) -> str:
    """Qualifiers, and whether a result is condemned or not the one to report."""
    said = [word.replace("_", " ") for word in row.qualifiers.split()]
    said += ["condemned"] if row.condemned else []
    said += [] if row.reported else ["not reported"]
    return escape(", ".join(said))


def outcome(of: Outcome) -> str:
    """An outcome: standing, results as reported, checks that did not pass, findings, what the uncertainties cover."""
    rows = [
        (
            escape(row.label),
            str(row.position),
            f"{escape(row.text)} {escape(row.unit) if row.status not in ('no_reading', 'not_calibrated') else ''}",
            figure(row.expanded_uncertainty, 2),
            figure(row.coverage_factor, 3),
            mark(row.status),
            _marks(row),
        )
        for row in of.results[:MOST_ROWS]
    ]
    coverage = of.method.to_dict().get("reporting", {}).get("coverage", 0.95)
    heads = ("sample", "position", "result", f"U ({100 * coverage:g} %)", "k", "status", "marks")
    checks = of.checks
    wrong = [
        (
            mark(row.verdict),
            escape(title),
            escape(row.label),
            str(row.position or ""),
            escape((row.reason or words or "").replace("_", " ")),
            f"{figure(row.value)} {escape(unit)}" if figure(row.value) else "",
        )
        for row, (title, words, unit) in zip(checks, _check_words(of), strict=True)
        if row.verdict != "pass"
    ]
    passed = len(checks) - len(wrong)
    troubles = (
        _grid(("", "check", "label", "position", "why", "figure"), wrong, len(wrong), right=(5,)) if wrong else ""
    )
    return _card(
        f"Outcome of run {of.run.name}",
        (f"method {of.method.id}, version {of.method.version}", of.method.element, of.method.profile),
        _facts([("standing", mark(of.standing)), ("checks", f"{passed} of {len(checks)} passed")]),
        _grid(heads, rows, len(of.results), right=(1, 3, 4)),
        troubles,
        _findings(of.findings),
        f"<small>{escape(of.scope)}</small>",
    )


def outcomes(all_of: Outcomes) -> str:
    """Outcomes of many runs, one a row, and the runs that could not be reduced."""
    rows = [
        (
            escape(one.run.name),
            mark(one.standing),
            str(len(one.results)),
            f"{one.checks['verdict'].count('pass')} of {len(one.checks)}",
            str(len(one.findings)),
        )
        for one in all_of[:MOST_ROWS]
    ]
    heads = ("run", "standing", "results", "checks passed", "findings")
    errors = [(escape(name), escape(str(error))) for name, error in all_of.errors.items()]
    told = _grid(("run not reduced", "why"), errors, len(errors)) if errors else ""
    about = (
        f"{len(all_of)} runs",
        f"{len(errors)} not reduced" if errors else "",
        "interrupted" if all_of.interrupted else "",
    )
    return _card("Outcomes", about, _grid(heads, rows, len(all_of), right=(2, 3, 4)), told)


def simulation(of: Simulation) -> str:
    """A simulation: means, standard uncertainties and intervals over the trials beside the first-order figures."""
    results = of.results
    rows = []
    for row in results[:MOST_ROWS]:
        drawn = not math.isnan(row.lo)
        span = [_to_place_of(end, row.standard_uncertainty) for end in (row.lo, row.hi)] if drawn else []
        validated = {None: "", True: mark("validated"), False: mark("not_validated")}[row.first_order_validated]
        first = pair(row.value, row.first_order_standard_uncertainty)
        mean = pair(row.mean, row.standard_uncertainty)
        rows.append((escape(row.label), mean, " to ".join(span), first, escape(row.unit or ""), validated))
    heads = ("sample", "mean ± u", "interval", "first order ± u", "unit", "first order")
    about = (f"{of.trials} trials", f"seed {of.seed}")
    listed = _grid(heads, rows, len(results), right=(1, 2, 3))
    return _card("Simulation", about, _facts([("trials", mark(of.ended))]), listed)


def findings(found: Findings) -> str:
    """Findings, one a row."""
    return _card("Findings", ("none",) if not found else (f"{len(found)}",), _findings(found, open_them=True))


def table(of: Table) -> str:
    """Any table, the first rows and columns of it."""
    shown = of.columns[:MOST_COLUMNS]
    heads = [f"{name}, {of.units[name]}" if name in of.units else name for name in shown]
    rows = [[_cell(row[name]) for name in shown] for row in of[:MOST_ROWS]]
    right = [i for i, name in enumerate(shown) if not isinstance(of[name], tuple)]
    hidden = of.columns[MOST_COLUMNS:]
    more = f"<small>further columns: {escape(', '.join(hidden))}</small>" if hidden else ""
    return _card("Table", (f"{len(of)} rows, {len(of.columns)} columns",), _grid(heads, rows, len(of), right), more)


def _to_place_of(value: float, u: float) -> str:
    """A bound to the place of an uncertainty."""
    try:
        return round_reported(value, u=u)
    except GroundstateError:
        return figure(value)
