"""The page of an outcome: complete, escaped, sound as HTML, the same bytes twice."""

from __future__ import annotations

import html.parser
import os
import pickle
import re
import subprocess
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest

import groundstate as gs
from groundstate import report as gs_report
from groundstate.report import _svg, _text, to_html

mpl.use("Agg")

import matplotlib.pyplot as plt

DEMO = Path(gs.__file__).parent / "demo"
VOID = {"meta", "br", "hr", "img", "link", "input", "col"}
HOSTILE = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>'",
    "{{ 7 * 7 }}{% raw %}",
    "ماء السقف ٣",
    "\N{RIGHT-TO-LEFT OVERRIDE}abc",
    "🔥🧪 Zn",
    "&amp;</td></table>",
    "x" * 300,
    "-->]]><!--",
    "$x^2$",
]


class Page(html.parser.HTMLParser):
    """Elements with their attributes and text, in order; complains of what does not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.stack: list[dict[str, Any]] = []
        self.elements: list[dict[str, Any]] = []
        self.feed(text)
        self.close()
        assert self.stack == [], "elements are left open"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = {"tag": tag, "attrs": dict(attrs), "text": "", "up": [e["tag"] for e in self.stack]}
        self.elements.append(element)
        if tag not in VOID:
            self.stack.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.stack.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.stack and self.stack[-1]["tag"] == tag, f"</{tag}> closes {[e['tag'] for e in self.stack][-3:]}"
        self.stack.pop()

    def handle_data(self, data: str) -> None:
        for element in self.stack:
            element["text"] += data

    def all(self, tag: str, name: str = "") -> list[dict[str, Any]]:
        return [
            e
            for e in self.elements
            if e["tag"] == tag and (not name or name in (e["attrs"].get("class") or "").split())
        ]


def outcome(name: str) -> gs.Outcome:
    return gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml")


METHOD: dict[str, Any] = {
    "id": "CU <i>&</i>",
    "version": "1",
    "element": "Cu",
    "profile": "general",
    "limits": {
        "nondetect_at": "mdl",
        "mdl": [{"value": 0.01, "unit": "mg/L", "basis": "solution", "definition": "40cfr136"}],
    },
}


def run_of(labels: list[str], name: str = "r") -> dict[str, list[Any]]:
    """A run of three standards, a check and a sample for each label."""
    count = len(labels)
    return {
        "run": [name] * (count + 4),
        "position": list(range(1, count + 5)),
        "role": ["standard"] * 3 + ["icv"] + ["sample"] * count,
        "label": ["s1", "s2", "s3", "ICV", *labels],
        "absorbance": [0.1, 0.2, 0.31, 0.2, *(0.02 + 0.25 * n / count for n in range(count))],
        "nominal": [1.0, 2.0, 3.0, 2.0, *[None] * count],
        "volume_ml": [None] * 4 + [50.0] * count,
        "final_volume_ml": [None] * 4 + [50.0] * count,
        "analyst": ['<b>A</b> & "B"'] * (count + 4),
    }


@pytest.fixture(params=["roof_water", "gutter_sediment"])
def found(request: pytest.FixtureRequest) -> gs.Outcome:
    return outcome(request.param)


def test_every_result_check_and_finding_is_there_once(found: gs.Outcome) -> None:
    page = Page(found.to_html())
    rows = page.all("tr", "result")
    assert len(rows) == len(found.results)
    for row, result in zip(rows, found.results, strict=True):
        text = row["text"]
        assert text.startswith(f"{result.label}{result.position}")
        assert result.text.replace("-", "−") in text and result.unit in text
        assert f"{result.coverage_factor:.2f}" in text
        assert ("not-reported" in row["attrs"]["class"]) == (not result.reported)
    checks = page.all("tr", "check")
    assert len(checks) == len(found.checks)
    for row, check in zip(checks, found.checks, strict=True):
        assert row["text"].startswith(check.label) and check.citation in row["text"]
        assert check.verdict.replace("_", " ") in row["text"]
        assert (check.reason or "") in row["text"]
    said = [item["text"] for item in page.all("li", "finding")]
    assert len(said) == len(found.findings)
    for text, finding in zip(said, found.findings, strict=True):
        assert finding.sentence in text and finding.severity in text and finding.code in text
        assert (finding.citation or "") in text
    budgets = page.all("details", "budget")
    assert len(budgets) == sum(row.reported for row in found.results)
    assert len(page.all("svg")) == 1 + len(found.calibrations)


def test_what_a_report_must_say_is_said(found: gs.Outcome) -> None:
    text = " ".join(Page(found.to_html()).all("body")[0]["text"].split())
    assert found.scope in text
    for words in (
        "is not a release of drinking water",
        "the people responsible",
        "nothing here says that a flame may be lit or put out",
        "Local codes, the gas supplier, the manufacturer of the instrument and licensed practice decide",
        "evidence of its arithmetic",
        "still validates its methods, files, transfers and access",
        found.uncertainty_name,
        found.provenance["fingerprint"],
        f"groundstate {found.provenance['library']}",
        found.method.id,
    ):
        assert words in text, words
    assert "complian" not in text.lower()


def test_the_standing_of_the_checks_is_in_the_heading(found: gs.Outcome) -> None:
    shown = Page(found.to_html()).all("p", "standing")
    assert len(shown) == 1
    sentence, _, more = shown[0]["text"].partition(" The criteria profile")
    assert sentence in found.summary()
    requires_nothing = any(finding.code == "profile_requires_nothing" for finding in found.findings)
    assert bool(more) == (requires_nothing and found.standing == "complete")
    assert ("failed" in shown[0]["attrs"]["class"]) == (found.standing == "failed")


def sound(text: str) -> Page:
    """Asserts what holds for every page, whatever is in it."""
    page = Page(text)
    assert text.startswith("<!doctype html>\n") and page.all("html")[0]["attrs"]["lang"] == "en"
    assert len(page.all("title")) == 1 + len(page.all("svg")) and page.all("title")[0]["text"].strip()
    # No script, nothing loaded, nothing that acts.
    assert not {e["tag"] for e in page.elements} & {
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "embed",
        "base",
        "form",
    }
    for element in page.elements:
        for name, value in element["attrs"].items():
            assert not name.startswith("on")
            assert name not in ("src", "srcset", "action", "data", "style")
            assert name != "href" or re.fullmatch("#[a-z]+|[a-z0-9-]+\\.html", value or "")
            assert name == "xmlns" or "://" not in (value or "")
    style = page.all("style")[0]["text"]
    assert "url(" not in style and "@import" not in style and "://" not in style
    # Identifiers are unique, and whatever names one finds it.
    ids = Counter(e["attrs"]["id"] for e in page.elements if "id" in e["attrs"])
    assert not [name for name, count in ids.items() if count > 1]
    for element in page.elements:
        for name in ("aria-labelledby", "aria-describedby"):
            assert set((element["attrs"].get(name) or "").split()) <= ids.keys()
        if element["tag"] == "a" and element["attrs"]["href"].startswith("#"):
            assert element["attrs"]["href"][1:] in ids
    # Headings go down one level at a time, from a single first one.
    levels = [int(e["tag"][1]) for e in page.elements if re.fullmatch("h[1-6]", e["tag"])]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    # Tables have captions and say which cells are headings; pictures have a name and a description.
    tables = page.all("table")
    assert len(page.all("caption")) == len(tables)
    assert all(e["attrs"].get("scope") in ("col", "row") for e in page.all("th"))
    for svg in page.all("svg"):
        assert svg["attrs"]["role"] == "img" and len(svg["attrs"]["aria-labelledby"].split()) == 2
    assert len(page.all("desc")) == len(page.all("svg"))
    assert len(page.all("main")) == 1
    # A stretch that scrolls can be reached and has a name.
    for box in page.all("div", "wide"):
        assert box["attrs"]["tabindex"] == "0" and box["attrs"]["aria-labelledby"] and box["attrs"]["role"] == "region"
    return page


def test_the_demonstration_pages_are_sound(found: gs.Outcome) -> None:
    sound(found.to_html())


def test_the_same_outcome_gives_the_same_bytes(found: gs.Outcome) -> None:
    again = gs.Outcome.from_json(found.to_json())
    assert found.to_html() == found.to_html() == again.to_html()
    code = f"import groundstate as gs; print(gs.reduce({str(DEMO / 'roof_water.csv')!r}, {str(DEMO / 'roof_water.toml')!r}).to_html(), end='')"
    fresh = [
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
        ).stdout
        for seed in ("1", "2")
    ]
    assert fresh[0] == fresh[1]


def test_everything_a_user_wrote_is_escaped_and_shown() -> None:
    found = gs.reduce(run_of(HOSTILE, name='<run> & "\'"'), METHOD)
    page = sound(found.to_html(title="A </title><script>x</script> & title"))
    rows = page.all("tr", "result")
    shown = [row["text"] for row in rows]
    for label, text in zip([row.label for row in found.results], shown, strict=True):
        assert text.startswith(label)
    assert {row.label for row in found.results} == set(HOSTILE)
    assert page.all("title")[0]["text"] == "A </title><script>x</script> & title"
    assert page.all("h1")[0]["text"] == "A </title><script>x</script> & title"
    text = page.all("body")[0]["text"]
    for words in ('<run> & "\'"', '<b>A</b> & "B"', "CU <i>&</i>"):
        assert words in text
    assert "49" not in {row["text"] for row in page.all("bdi")}


def test_the_foot_of_printed_pages_cannot_leave_its_string() -> None:
    page = Page(gs.reduce(run_of(["a"]), METHOD).to_html(title='"; } </style><script>x</script> é'))
    style = page.all("style")[0]["text"]
    foot = re.search(r'@bottom-left \{ content: "([^"]*)"; font', style)
    assert foot is not None and re.fullmatch(r"(?:[A-Za-z0-9 ]|\\[0-9a-f]+ )*", foot[1])
    read = re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), foot[1])
    assert read.startswith('"; } </style><script>x</script> é, input ')


def test_what_a_page_cannot_hold_is_replaced() -> None:
    found = gs.reduce(run_of(["a"]), METHOD)
    page = to_html(found, title="a\x00b\x1bc\ud800d\ufffee")
    assert "a�b�c�d�e" in page
    page.encode("utf-8")


def test_text_of_a_user_keeps_its_own_direction() -> None:
    page = Page(gs.reduce(run_of(HOSTILE), METHOD).to_html())
    for label in HOSTILE:
        assert any(bdi["text"] == label and "th" in bdi["up"] for bdi in page.all("bdi"))


def test_five_hundred_samples() -> None:
    found = gs.reduce(run_of([f"sample {n}" for n in range(500)]), METHOD)
    text = found.to_html()
    page = sound(text)
    assert len(page.all("tr", "result")) == 500 and len(page.all("details", "budget")) == 500
    without = found.to_html(budgets="none")
    assert len(without) < 0.5 * len(text) and not Page(without).all("details", "budget")


def test_budgets_of_every_row_on_request() -> None:
    found = outcome("gutter_sediment")
    assert len(Page(found.to_html(budgets="all")).all("details", "budget")) == len(found.results)
    with pytest.raises(gs.ArgumentError, match="budgets"):
        found.to_html(budgets="some")  # type: ignore[arg-type]


def test_budget_lines_are_those_of_the_outcome() -> None:
    found = outcome("roof_water")
    page = Page(found.to_html())
    first = page.all("details", "budget")[0]["text"]
    for line in found.budget(found.results[0].position):
        assert line.source in first and f"{100 * line.share:.1f}" in first


def test_a_series_of_additions_is_a_result_with_its_picture() -> None:
    table: dict[str, list[Any]] = {
        "run": ["a"] * 5,
        "position": [1, 2, 3, 4, 5],
        "role": ["sample", *["addition"] * 4],
        "label": ["tank", *["tank"] * 4],
        "of": [None, *["tank"] * 4],
        "added": [None, 0.0, 0.2, 0.4, 0.6],
        "added_unit": [None, *["mg/L"] * 4],
        "absorbance": [0.07, 0.0712, 0.1193, 0.1668, 0.2171],
    }
    found = gs.reduce(table, {"id": "A", "version": "1", "element": "Zn", "profile": "general"})
    (label, positions, series), *others = found.additions
    assert (label, positions, others) == ("tank", (2, 3, 4, 5), [])
    assert series is not None
    # The result of the sample is that of the series, and the table of results holds it.
    reported = [row for row in found.results if row.reported]
    assert [row.position for row in reported] == [2]
    assert reported[0].solution_value == series.estimate.value
    page = sound(found.to_html())
    text = page.all("body")[0]["text"]
    assert "Standard additions" in text and "extrapolated to a signal of zero" in text
    assert len(page.all("tr", "result")) == len(found.results)
    assert "This run has no external calibration." in text
    assert pickle.loads(pickle.dumps(series)) == series


def test_additions_that_do_not_rise_are_shown_without_a_result() -> None:
    table: dict[str, list[Any]] = {
        "run": ["a"] * 4,
        "position": [1, 2, 3, 4],
        "role": ["sample", *["addition"] * 3],
        "label": ["tank"] * 4,
        "of": [None, *["tank"] * 3],
        "added": [None, 0.0, 0.2, 0.4],
        "added_unit": [None, *["mg/L"] * 3],
        "absorbance": [0.07, 0.21, 0.15, 0.07],
    }
    found = gs.reduce(table, {"id": "A", "version": "1", "element": "Zn", "profile": "general"})
    assert len(found.additions) == 1
    text = sound(found.to_html()).all("body")[0]["text"]
    assert "no result" in text and "tank, positions 2–4" in text


def test_odd_runs_have_sound_pages() -> None:
    few = run_of(["a", "b", "c"])
    falling = dict(few, absorbance=[0.3, 0.2, 0.1, 0.2, 0.15, 0.2, 0.25])
    unread = dict(few, absorbance=[0.1, 0.2, 0.31, 0.2, None, -0.5, 9.0])
    bare = {name: [cells[i] for i in (0, 4)] for name, cells in few.items()}
    judged = METHOD | {
        "limits": METHOD["limits"] | {"action": [{"value": 1.0, "unit": "mg/L", "rule": "simple"}]},
    }
    through_zero = METHOD | {"calibration": {"shape": "line_through_zero"}}
    for table, method in ((falling, METHOD), (unread, METHOD), (bare, through_zero), (few, judged)):
        try:
            found = gs.reduce(table, method)
        except gs.GroundstateError as error:
            raise AssertionError(f"{method}: {error}") from error
        page = sound(found.to_html(budgets="all"))
        assert len(page.all("tr", "result")) == len(found.results)
        for row, result in zip(page.all("tr", "result"), found.results, strict=True):
            assert (result.conformity or "").replace("_", " ") in row["text"]
        assert ("Conformity" in page.all("thead")[0]["text"]) == (method is judged)
        gs.plot.run(found)
        plt.close("all")


def test_a_calibration_matched_to_a_matrix_shows_its_comparison() -> None:
    levels, inside = [0.0, 0.5, 1.0, 2.0], [0.0104, 0.0849, 0.1602, 0.3101]
    rows = [
        {"role": "standard", "label": f"{name}{x}", "nominal": x, "absorbance": y, "matrix": matrix}
        for name, matrix, signals in (("S", "", [0.0002, 0.1003, 0.1996, 0.4001]), ("M", "<moss>", inside))
        for x, y in zip(levels, signals, strict=True)
    ]
    rows.append({"role": "sample", "label": "A", "nominal": None, "absorbance": 0.1702, "matrix": "<moss>"})
    method = {"id": "Z", "version": "1", "element": "Zn", "calibration": {"matched": [{"matrix": "<moss>"}]}}
    found = gs.reduce(rows, gs.read_method(method))
    page = sound(found.to_html())
    assert [h["text"] for h in page.all("h3")] == ["Calibration 1", "Calibration 2, matched to <moss>"]
    text = page.all("body")[0]["text"]
    assert f"Matrix effect against calibration 1{found.matched[0].effect_percent:.3g} %".replace("-", "−") in "".join(
        text.split("\n")
    )
    # The matched standards lie in the run of the external ones: there is no new calibration.
    assert not page.all("line", "start")
    plt.close("all")


def test_an_amended_outcome_says_what_it_stands_for() -> None:
    found = outcome("roof_water")
    amended = found.amends(found, "label <corrected>")
    text = Page(amended.to_html()).all("body")[0]["text"]
    assert "label <corrected>" in text and "Stands for the outcome" in text


def test_figures_print_on_their_side_of_a_limit() -> None:
    assert _text.against(110.04, 90.0, 110.0) == "110.04"
    assert _text.against(110.0, 90.0, 110.0) == "110"
    assert _text.against(89.9999, 90.0, 110.0) == "89.9999"
    assert _text.against(0.99999418, 0.995, float("nan"), 6) == "0.999994"
    assert _text.figures(float("nan")) == "–" and _text.figures(-0.05) == "−0.05" and _text.figures(0.0) == "0"
    assert _text.figures(1.5e-9, 3) == "1.50e−9".replace("e−9", "e−09")
    assert _text.two(0.00396) == "0.0040" and _text.two(float("inf")) == "–"


def test_ticks_are_round_and_inside() -> None:
    for low, high in ((0.0, 1.0), (-0.031, 0.97), (1e-9, 3e-9), (-5.0, 1e6)):
        found = _svg.ticks(low, high)
        assert 2 <= len(found) <= 7
        slack = 1e-8 * (high - low)
        assert all(low - slack <= tick <= high + slack for tick in found)
    assert _svg.ticks(1.0, 1.0) == [1.0] and _svg.ticks(0.0, float("inf")) == [0.0]


def colours(style: str, block: str) -> dict[str, str]:
    start = style.index(block)
    return dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6}|#[0-9a-f]{3});", style[start : start + 700].split("}")[0]))


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(
    "block", [":root {\n  color-scheme", ":root {\n    --ground: #1", ":root { color-scheme: light;"]
)
def test_words_are_legible_in_the_light_in_the_dark_and_on_paper(block: str) -> None:
    # WCAG 2.2, 1.4.3: 4.5 to 1 for text.
    style = Page(outcome("roof_water").to_html()).all("style")[0]["text"]
    found = colours(style, block)
    assert {"ground", "sheet", "ink", "quiet", "blue", "orange", "plum", "pass"} <= found.keys()
    for ground in ("ground", "sheet"):
        for words in ("ink", "quiet", "blue", "orange", "plum", "pass"):
            high, low = sorted((luminance(found[words]), luminance(found[ground])), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 4.5, (words, ground)


def test_the_command_writes_the_same_page(tmp_path: Path) -> None:
    found = outcome("roof_water")
    archive, target = tmp_path / "o.json", tmp_path / "p.html"
    archive.write_text(found.to_json(), encoding="utf-8")
    command = [sys.executable, "-m", "groundstate", "report"]
    subprocess.run([*command, str(archive), "-o", str(target), "--title", "T & t"], check=True)
    assert target.read_bytes() == found.to_html("T & t").encode()
    piped = subprocess.run(
        [*command, "-", "--budgets", "none"], input=archive.read_bytes(), capture_output=True, check=True
    )
    assert piped.stdout == found.to_html(budgets="none").encode()
    bad = subprocess.run([*command, str(tmp_path / "none.json")], capture_output=True, text=True, check=False)
    assert bad.returncode == 2 and "none.json" in bad.stderr
    archive.write_text("{}", encoding="utf-8")
    bad = subprocess.run([*command, str(archive)], capture_output=True, text=True, check=False)
    assert bad.returncode == 2 and "o.json" in bad.stderr


def test_many_outcomes_make_a_folder_with_an_index(tmp_path: Path) -> None:
    table = {name: [*cells, *cells] for name, cells in run_of(HOSTILE).items()}
    half = len(table["run"]) // 2
    table["run"] = ["../<b>day</b> 1"] * half + ["أ"] * half
    many = gs.reduce_many(table, METHOD, threads=1)
    assert len(many) == 2
    index = gs_report.to_folder([*many, many[0]], tmp_path / "pages", "A & <B>")
    page = sound(index.read_text(encoding="utf-8"))
    links = [a["attrs"]["href"] for a in page.all("a")][1:]
    assert len(set(links)) == 3 and {p.name for p in index.parent.iterdir()} == {*links, "index.html"}
    assert (index.parent / links[0]).read_bytes() == many[0].to_html().encode()
    rows = page.all("tr", "run")
    assert [row["text"].startswith(name) for row, name in zip(rows, ("../<b>day</b> 1", "أ"), strict=False)] == [
        True,
        True,
    ]
    assert page.all("h1")[0]["text"] == "A & <B>"
    before = index.read_bytes()
    assert gs_report.to_folder([*many, many[0]], tmp_path / "pages", "A & <B>").read_bytes() == before


def test_the_index_counts_checks_and_lists_what_was_not_reduced(tmp_path: Path) -> None:
    table = run_of(["a"])
    bad = {name: [*cells, cells[-1]] for name, cells in table.items()}
    bad["run"][-1], bad["role"][-1] = "bad", "no such role"
    many = gs.reduce_many(bad, METHOD, threads=1)
    assert list(many.errors) == ["bad"]
    page = sound(gs_report.to_folder(many, tmp_path).read_text(encoding="utf-8"))
    assert [item["text"].startswith("bad: ") for item in page.all("li", "finding")] == [True]
    found = outcome("gutter_sediment")
    row = Page(gs_report.to_folder([found], tmp_path).read_text(encoding="utf-8")).all("tr", "run")[0]["text"]
    verdicts = Counter(check.verdict for check in found.checks)
    assert f"failed{verdicts['pass']}{verdicts['fail']}{verdicts['not_evaluated']}6" in row


def test_the_command_writes_a_folder(tmp_path: Path) -> None:
    names = []
    for name in ("roof_water", "gutter_sediment"):
        names.append(str(tmp_path / f"{name}.json"))
        Path(names[-1]).write_text(outcome(name).to_json(), encoding="utf-8")
    command = [sys.executable, "-m", "groundstate", "report", *names]
    subprocess.run([*command, "-o", str(tmp_path / "pages")], check=True)
    assert len(list((tmp_path / "pages").iterdir())) == 3
    for more in ([], ["-o", str(tmp_path / "page.html")]):
        refused = subprocess.run([*command, *more], capture_output=True, text=True, check=False)
        assert refused.returncode == 2 and "name a folder" in refused.stderr
    # JSON lines and folders; what cannot be read is said, and the rest is written.
    lines = tmp_path / "outcomes.jsonl"
    lines.write_text(
        "".join(outcome(n).to_json(compact=True) + "\n" for n in ("roof_water", "gutter_sediment")), encoding="utf-8"
    )
    (tmp_path / "bad.json").write_text("{}", encoding="utf-8")
    shell = [sys.executable, "-m", "groundstate", "report"]
    done = subprocess.run(
        [*shell, str(lines), str(tmp_path / "bad.json"), "-o", str(tmp_path / "more")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2 and "bad.json" in done.stderr
    assert {p.name for p in (tmp_path / "more").iterdir()} == {p.name for p in (tmp_path / "pages").iterdir()}


def test_a_report_without_jinja_says_what_to_install() -> None:
    code = f"""
import sys
sys.modules["jinja2"] = None
import groundstate as gs
outcome = gs.reduce({str(DEMO / "roof_water.csv")!r}, {str(DEMO / "roof_water.toml")!r})
assert "matplotlib" not in sys.modules
try:
    outcome.to_html()
except gs.MissingExtraError as error:
    print(error)
"""
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "pip install 'groundstate[report]'" in said


def test_a_report_needs_no_matplotlib() -> None:
    code = f"""
import sys
sys.modules["matplotlib"] = None
import groundstate as gs
print(len(gs.reduce({str(DEMO / "roof_water.csv")!r}, {str(DEMO / "roof_water.toml")!r}).to_html()))
"""
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert int(said) > 10_000
