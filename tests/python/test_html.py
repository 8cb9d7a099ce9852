"""Objects in notebooks: what is said, rounded to its uncertainty, escaped, without scripts, in light and dark."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

import groundstate as gs
from groundstate import _html

CAL = gs.calibrate([0, 1, 2, 4, 6], [0.001, 0.051, 0.099, 0.202, 0.301])
FOUND = CAL.concentration([0.1, None, 0.5, -0.1])
WATER = gs.reduce(*gs.example("roof_water"))
SEDIMENT = gs.reduce(*gs.example("gutter_sediment"))
MDL = gs.mdl([1.1, 1.2, 0.9, 1.0, 1.1, 1.3, 1.0], [0.1, "ND", 0.05, 0.0, 0.1, 0.2, 0.1])
SERIES = gs.standard_additions([0, 1, 2, 3], [0.1, 0.15, 0.2, 0.26], aliquot=(10, 50))

OBJECTS: dict[str, Any] = {
    "line": CAL,
    "quadratic": gs.calibrate([0, 1, 2, 4, 6, 8], [0.001, 0.051, 0.099, 0.192, 0.271, 0.34], shape="quadratic"),
    "quadratic through zero": gs.calibrate([1, 2, 4, 8], [0.05, 0.09, 0.19, 0.34], shape="quadratic_through_zero"),
    "line through zero": gs.calibrate([1, 2, 4], [0.05, 0.1, 0.21], shape="line_through_zero"),
    "two points": gs.calibrate([0, 1], [0.0, 0.05]),
    "known sigma": gs.calibrate([0, 1, 2], [0.0, 0.05, 0.1], noise=gs.KnownSigma(0.001)),
    "flat": gs.calibrate([0, 1, 2, 3], [0.3, 0.2, 0.2, 0.1], allow="flagged"),
    "estimates": FOUND,
    "no estimates": FOUND[:0],
    "estimate": FOUND[0],
    "no reading": FOUND[1],
    "no uncertainty": gs.calibrate([0, 1], [0.0, 0.05]).concentration(0.02),
    "interval": FOUND[0].interval(),
    "intervals": FOUND.interval(),
    "whole": gs.calibrate([0, 1, 2], [0.1, 0.09, 0.12], allow="flagged").concentration([0.1]).interval(method="inversion"),
    "addition": SERIES,
    "falling addition": gs.standard_additions([0, 1, 2], [0.3, 0.2, 0.1]),
    "mdl": MDL,
    "no mdl": gs.mdl(["ND"] * 7, ["ND"] * 7),
    "outcome": WATER,
    "failed outcome": SEDIMENT,
    "outcomes": gs.reduce_many([gs.example().run, gs.example("gutter_sediment").run], gs.example().method),
    "simulation": gs.simulate(WATER, seed=1, trials=500),
    "findings": SEDIMENT.findings,
    "no findings": CAL.findings,
    "results": SEDIMENT.results,
    "checks": SEDIMENT.checks,
    "no rows": SEDIMENT.results.filter(label="nobody"),
    "long": gs.Table({"a": np.arange(100), "b": [f"word {i}" for i in range(100)]}),
}  # fmt: skip


class Checker(HTMLParser):
    """Tags that open and close in order, and the text between them."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        self.tags.add(tag)
        assert not [name for name, _ in attrs if name.startswith("on") or name in ("src", "href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text.append(data)


def read(html: str) -> Checker:
    checker = Checker()
    checker.feed(html)
    checker.close()
    assert checker.open == []
    return checker


def text(html: str) -> str:
    return " ".join(" ".join(read(html).text).split())


@pytest.mark.parametrize("name", OBJECTS)
def test_everything_is_a_closed_fragment_without_scripts(name: str) -> None:
    html = OBJECTS[name]._repr_html_()
    found = read(html)
    assert found.tags <= set(
        "div style header b span dl dt dd table thead tbody tr th td small details summary".split()
    )
    assert "url(" not in html and "@import" not in html
    shown = text(html)
    assert not re.search(r"\bnan\b|\bNone\b|\binf\b", shown), shown
    # Statuses and verdicts are words, not names of the code.
    assert [word for word in re.findall(r'class="gs-m gs-\w+">([^<]*)<', html) if "_" in word] == []


def test_figures_are_rounded_to_their_uncertainty() -> None:
    one = FOUND[0]
    value, u = repr(one).removeprefix("<Estimate ").removesuffix(" mg/L>").split(" ± ")
    assert (value, u) == (gs.round_reported(one.value, u=one.u), gs.round_reported(one.u, figures=2))
    assert f"{value} ± {u} mg/L" in text(one._repr_html_())
    assert f"{value} ± {u}" in text(FOUND._repr_html_())
    slope, error = CAL.coefficients[1], CAL.standard_errors[1]
    assert f"{gs.round_reported(slope, u=error)} ± {gs.round_reported(error, figures=2)}" in text(CAL._repr_html_())
    lo, hi = one.interval()
    width = hi - lo
    assert f"{gs.round_reported(lo, u=width)} to {gs.round_reported(hi, u=width)}" in text(one.interval()._repr_html_())


def test_statuses_are_words_with_a_mark() -> None:
    html = FOUND._repr_html_()
    for word, kind in (("in range", "good"), ("no reading", "bad"), ("negative", "care")):
        assert f'<span class="gs-m gs-{kind}">{word}</span>' in html
    assert "gs-idle" in _html.mark("something_new")


def test_an_outcome_says_what_a_reader_must_know() -> None:
    shown = text(SEDIMENT._repr_html_())
    for row in SEDIMENT.results:
        assert row.label in shown and row.text in shown
    assert "failed" in shown and "condemned" in shown and SEDIMENT.scope in shown
    assert "continuing calibration verification" in shown and SEDIMENT.findings[0].sentence in shown
    passed = list(SEDIMENT.checks["verdict"]).count("pass")
    assert f"{passed} of {len(SEDIMENT.checks)} passed" in shown


def test_studies_tell_their_parts() -> None:
    shown = text(MDL._repr_html_())
    assert gs.round_reported(MDL.value or 0.0, figures=3) in shown and "computed from values" in shown
    assert all(rule.required in shown for rule in MDL.design)
    assert "no value" in text(OBJECTS["no mdl"]._repr_html_())
    added = text(SERIES._repr_html_())
    assert "1.85 ± 0.12 mg/L" in added and SERIES.findings[0].sentence in added


def test_long_tables_are_cut_and_say_so() -> None:
    shown = text(OBJECTS["long"]._repr_html_())
    assert "word 19" in shown and "word 20" not in shown and "80 more rows" in shown
    assert "further columns" in text(SEDIMENT.results._repr_html_())


EVIL = '<script>alert("1")</script>&\'"'


def spoilt() -> Iterator[Any]:
    rows = [dict(row) for row in csv_rows()]
    method = gs.example().method.to_dict() | {"id": EVIL, "version": EVIL}
    for row in rows:
        row["run"] = EVIL
        row["label"] = f"{row['label']}{EVIL}"
        row["of"] = f"{row['of']}{EVIL}" if row["of"] else ""
        if row["role"] == "ccv":
            row["absorbance"] = "0.001"
    outcome = gs.reduce(rows, method)
    assert EVIL in outcome.run.name and EVIL in outcome.method.id
    yield outcome
    yield outcome.results
    yield outcome.checks
    yield outcome.findings
    yield gs.simulate(outcome, seed=1, trials=100)
    yield gs.reduce_many([row | {"absorbance": "o"} for row in rows], method)
    yield gs.reduce_many(rows, method)
    yield gs.Table({EVIL: [EVIL]}, {EVIL: EVIL})


def csv_rows() -> list[dict[str, str]]:
    import csv
    import io

    return list(csv.DictReader(io.StringIO(gs.example().run.to_csv())))


def test_words_of_users_are_escaped() -> None:
    for one in spoilt():
        html = one._repr_html_()
        assert "<script" not in html, one
        assert "&lt;script&gt;" in html, one
        assert "script" not in read(html).tags


def test_both_colour_schemes_are_served() -> None:
    style = _html.STYLE
    assert "prefers-color-scheme:dark" in style
    # Text has the colour of the page; only marks and rules have their own.
    assert set(re.findall(r"[;{\s]color:([^;}]+)", style)) == {"inherit"}
    light, dark = (dict(re.findall(r"--gs-(good|care|bad|idle):(#\w{6})", part)) for part in style.split("@media"))
    assert light.keys() == dark.keys() == {"good", "care", "bad", "idle"}
    for colours, paper in ((light, "#ffffff"), (dark, "#111418")):
        for colour in colours.values():
            assert contrast(colour, paper) >= 3.0  # WCAG 2.2, 1.4.11: graphical objects


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
