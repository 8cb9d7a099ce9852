"""`gs.validate()`: what it says when all is well, and that it can fail."""

import json
import math
import os
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import groundstate as gs

PACKAGE = Path(gs.__file__).parent


def shell(*arguments: str, package: Path = PACKAGE) -> subprocess.CompletedProcess[str]:
    """The command line of the package in this folder."""
    return subprocess.run(
        [sys.executable, "-m", "groundstate", *arguments],
        env=os.environ | {"PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


def copy_of_the_package(folder: Path) -> Path:
    """The package as it is installed here, for a test to alter."""
    return shutil.copytree(PACKAGE, folder / "groundstate", ignore=shutil.ignore_patterns("__pycache__"))


def alter(package: Path, case: str, member: str, name: str, figure: str) -> None:
    path = package / "cases" / f"{case}.json"
    held = json.loads(path.read_text(encoding="utf-8"))
    assert held[member][name] != figure
    held[member][name] = figure
    path.write_text(json.dumps(held), encoding="utf-8")


def test_every_figure_agrees_here() -> None:
    found = gs.validate()
    assert found.passed and found.exit_status == 0 and found.failed == []
    assert found.headline() == f"passed: {len(found)} figures of {len(set(found['case']))} cases agree"
    published = [row for row in found if row["basis"] == "published"]
    assert len(published) >= 230 and all(row["published"] for row in published)
    assert {name: cell for name, cell in found[0].items() if cell is None} == {}


@pytest.mark.parametrize(
    ("case", "member", "name", "figure"),
    [
        ("harvey-unweighted", "printed", "coefficient.1", "120.707"),  # a unit in the last digit of what is printed
        ("harvey-unweighted", "expected", "coefficient.1", "120.70571428574"),  # the thirteenth digit
        ("rounding-iso80000-1", "printed", "rounded.6", "12.3"),  # the tie of 12.25
        ("rounding-nist-sp811", "expected", "rounded.2", "6.975"),  # a trailing zero too few
        ("mdl-v1-all-numeric", "printed", "from_spikes", "0.00485"),
    ],
)
def test_an_altered_figure_fails_with_status_1(tmp_path: Path, case: str, member: str, name: str, figure: str) -> None:
    package = copy_of_the_package(tmp_path)
    alter(package, case, member, name, figure)
    done = shell("validate", "--json", package=package)
    assert done.returncode == 1, done.stderr
    document = json.loads(done.stdout)
    assert document["verdict"] == "failed"
    failed = [row for row in document["figures"] if row["verdict"] == "failed"]
    assert [row["quantity"] for row in failed] == [name]
    assert failed[0]["note"]


def test_an_installation_without_cases_fails(tmp_path: Path) -> None:
    package = copy_of_the_package(tmp_path)
    for path in (package / "cases").glob("*.json"):
        path.unlink()
    done = shell("validate", package=package)
    assert done.returncode == 1 and "failed: there are no cases" in done.stdout


def test_other_arithmetic_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """One part in 10^12 of every standard uncertainty of a preparation, and a rule of rounding, are noticed."""
    right = gs.round_reported

    def wrong(value: float, **how: Any) -> str:
        return right(value, **(how | {"ties": "half_up"}))

    monkeypatch.setattr(gs, "round_reported", wrong)
    measured = gs.Measured
    monkeypatch.setattr(gs, "Measured", lambda value, u=0.0: measured(value, u * (1 + 1e-12)))
    found = gs.validate()
    assert not found.passed and found.exit_status == 1
    cases = {row["case"] for row in found.failed}
    assert any("ISO 80000-1" in case for case in cases)
    assert any("QUAM example A1" in case for case in cases)
    assert all("Harvey" not in case for case in cases)


def test_a_figure_that_cannot_be_computed_fails_and_stops_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise gs.ArgumentError("no")

    count = len(gs.validate())
    monkeypatch.setattr(gs, "dixon", broken)
    monkeypatch.setattr(gs, "minimum_level", lambda _: math.nan)
    found = gs.validate()
    assert len(found) == count
    assert {row["quantity"] for row in found.failed} >= {"dixon.statistic", "Cd"}
    (dixon,) = [row for row in found.failed if row["quantity"] == "dixon.statistic"]
    assert dixon["computed"] is None and "ArgumentError: no" in dixon["note"]
    for row in json.loads(found.to_json())["figures"]:
        assert all(cell is not None for cell in row.values())
    assert "FAILED" in found.summary()


def test_the_evidence_names_its_sources_its_machine_and_its_bounds() -> None:
    found = gs.validate()
    document = json.loads(found.to_json())
    assert document["schema"] == "groundstate.validation/1" and document["verdict"] == "passed"
    assert document["environment"]["groundstate"] == gs.__version__
    assert "SHA-256" in document["environment"]["cases"]
    assert len(document["figures"]) == len(found)
    for text in (document["statement"], found.summary().replace("\n", " "), found.to_html()):
        assert "ISO/IEC 17025:2017" in text and "7.11" in text
        assert "The laboratory still validates its methods" in text
    assert all(row["source"] and row["case"] for row in found)


class Outline(HTMLParser):
    """Elements that are open, loads from elsewhere, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.loads: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        if tag not in ("meta", "!doctype"):
            self.open.append(tag)
        self.loads += [str(value) for name, value in attributes if name in ("src", "href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_is_whole_and_loads_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise gs.ArgumentError("<b>no</b> & no")

    monkeypatch.setattr(gs, "dixon", broken)
    page = Outline()
    page.feed(gs.validate().to_html())
    assert page.open == [] and page.loads == []
    assert "<b>no</b> & no" in page.text  # a user's string stays text
    assert "failed: 1 of" in page.text


def test_the_command_writes_both_and_ends_with_0(tmp_path: Path) -> None:
    done = shell("validate", "--json", str(tmp_path / "v.json"), "--html", str(tmp_path / "v.html"))
    assert done.returncode == 0, done.stderr
    assert "passed: " in done.stdout and "NIST StRD linear least squares: Norris" in done.stdout
    assert json.loads((tmp_path / "v.json").read_bytes())["verdict"] == "passed"
    assert (tmp_path / "v.html").read_bytes().startswith(b"<!doctype html>")
    assert b"\r" not in (tmp_path / "v.html").read_bytes()
