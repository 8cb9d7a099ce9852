"""A run and a method in, an outcome out: every form of table, and the command line."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
WATER, WATER_METHOD = DEMO / "roof_water.csv", DEMO / "roof_water.toml"
SEDIMENT, SEDIMENT_METHOD = DEMO / "gutter_sediment.csv", DEMO / "gutter_sediment.toml"


def columns(path: Path) -> dict[str, list[str]]:
    header, *rows = (line.split(",") for line in path.read_text(encoding="utf-8").splitlines())
    return {name: [row[i] for row in rows] for i, name in enumerate(header)}


def typed(path: Path) -> dict[str, list[Any]]:
    """Columns with figures as floats and empty cells as None."""

    def cell(text: str) -> Any:
        try:
            return float(text)
        except ValueError:
            return text or None

    return {name: [cell(text) for text in cells] for name, cells in columns(path).items()}


def rows(path: Path) -> list[dict[str, Any]]:
    table = typed(path)
    count = len(next(iter(table.values())))
    return [{name: cells[i] for name, cells in table.items()} for i in range(count)]


def frames() -> dict[str, Any]:
    pandas, polars = pytest.importorskip("pandas"), pytest.importorskip("polars")
    return {
        "path": SEDIMENT,
        "text path": str(SEDIMENT),
        "bytes": SEDIMENT.read_bytes(),
        "columns of text": columns(SEDIMENT),
        "columns": typed(SEDIMENT),
        "rows": rows(SEDIMENT),
        "pandas": pandas.read_csv(SEDIMENT),
        "pandas with categories": pandas.read_csv(SEDIMENT, dtype={"role": "category", "label": "category"}),
        "pandas with nullable types": pandas.read_csv(SEDIMENT, dtype_backend="numpy_nullable"),
        "polars": polars.read_csv(SEDIMENT),
        "arrow": polars.read_csv(SEDIMENT).to_arrow(),
    }


def test_every_form_of_table_gives_the_same_outcome() -> None:
    expected = gs.reduce(SEDIMENT, SEDIMENT_METHOD)
    for form, table in frames().items():
        outcome = gs.reduce(table, SEDIMENT_METHOD)
        assert outcome.summary() == expected.summary(), form
        np.testing.assert_array_equal(outcome.results["value"], expected.results["value"], form)


def test_an_outcome_names_the_bytes_that_it_was_read_from() -> None:
    content = SEDIMENT.read_bytes()
    digest = hashlib.sha256(content).hexdigest()
    for table in (SEDIMENT, str(SEDIMENT), content):
        assert gs.reduce(table, SEDIMENT_METHOD).provenance["raw"] == digest
    assert gs.reduce(columns(SEDIMENT), SEDIMENT_METHOD).provenance["raw"] is None


def test_every_outcome_of_a_file_names_its_bytes(tmp_path: Path) -> None:
    file = tmp_path / "two.csv"
    head = "run,role,label,nominal,absorbance\n"
    body = "{0},standard,S1,1,0.1\n{0},standard,S2,2,0.21\n{0},sample,A,,0.15\n"
    file.write_text(head + body.format("first") + body.format("second"))
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    outcomes = gs.reduce_many(file, gs.Method.new("Zn"))
    assert [outcome.provenance["raw"] for outcome in outcomes] == [digest, digest]
    assert [o.provenance["raw"] for o in gs.reduce_many(gs.read_runs(file), gs.Method.new("Zn"))] == [None, None]


def test_results_carry_value_uncertainty_and_text() -> None:
    outcome = gs.reduce(WATER, WATER_METHOD)
    assert (outcome.standing, outcome.exit_status) == ("complete", 0)
    row = outcome.results.row("Chapel (tiled)")
    assert row.text == "< 0.00400" and row.qualifiers == "U" and row.value > 0.0
    assert row.expanded_uncertainty == pytest.approx(row.coverage_factor * row.standard_uncertainty, rel=1e-15)
    assert not outcome.results["value"].flags.writeable
    shares = sum(line.share for line in outcome.budget("Chapel (tiled)"))
    assert shares == pytest.approx(1.0, rel=1e-12)
    covariance = outcome.covariance()
    u = outcome.results["standard_uncertainty"]
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), u, rtol=1e-12)
    assert np.linalg.eigvalsh(covariance).min() > -1e-15 * covariance.max()


def test_rerun_and_condemned_rows_are_kept() -> None:
    outcome = gs.reduce(SEDIMENT, SEDIMENT_METHOD)
    labels = [row.label for row in outcome.results]
    assert labels.count("Gutter 1") == 2
    assert outcome.results.row("Gutter 1").reported
    assert [row.condemned for row in outcome.results if row.label == "Gutter 1"] == [True, False]
    assert "calibration 2 of the run" in outcome.explain("Gutter 1")
    with pytest.raises(gs.ArgumentError, match="did you mean"):
        outcome.explain("Guter 1")


def test_a_table_of_two_runs_is_named() -> None:
    both = rows(WATER) + rows(SEDIMENT)
    with pytest.raises(gs.TableError, match=r"gutter-sediment, roof-water.*reduce_many"):
        gs.reduce(both, WATER_METHOD)
    methods = {"roof-water": WATER_METHOD, "gutter-sediment": SEDIMENT_METHOD}
    outcomes = gs.reduce_many(both, methods, threads=2)
    assert len(outcomes) == 2 and not outcomes.errors
    assert outcomes["roof-water"].standing == "complete"
    assert set(outcomes.results["run"]) == {"roof-water", "gutter-sediment"}
    assert len(outcomes.results) == sum(len(outcome.results) for outcome in outcomes)


def test_one_bad_run_stops_no_other() -> None:
    spoilt = [row | {"absorbance": "o.12"} if row["role"] == "icv" else row for row in rows(WATER)]
    outcomes = gs.reduce_many(spoilt + rows(SEDIMENT), SEDIMENT_METHOD)
    assert [outcome.run.name for outcome in outcomes] == ["gutter-sediment"]
    assert "absorbance" in str(outcomes.errors["roof-water"])


def test_progress_is_told_and_can_stop() -> None:
    many = [row | {"run": f"run {i:03}"} for i in range(70) for row in rows(WATER)]
    told: list[tuple[int, int]] = []

    def progress(done: int, total: int) -> bool:
        told.append((done, total))
        return done < 64

    outcomes = gs.reduce_many(many, WATER_METHOD, progress=progress)
    assert told == [(0, 70), (64, 70)]
    assert outcomes.interrupted and len(outcomes) == 64


def test_methods_come_in_every_form() -> None:
    method = gs.read_method(SEDIMENT_METHOD)
    assert gs.read_method(method.to_dict()) == method
    assert gs.Method.from_json(method.to_json()) == method
    assert gs.Method.from_toml(method.to_toml(explicit=True)) == method
    assert pickle.loads(pickle.dumps(method)) == method
    with pytest.raises(gs.MethodError, match="7000B") as refused:
        gs.read_method(method.to_dict() | {"profile": "sw846_7000b", "criteria": {}})
    assert refused.value.kind == "method"
    with pytest.raises(TypeError, match="method"):
        gs.read_method(3)
    with pytest.raises(TypeError, match="table"):
        gs.reduce(3, method)


def run_command(*arguments: str | Path, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "groundstate", *map(str, arguments)]
    return subprocess.run(command, input=given, capture_output=True, check=False, env=os.environ | {"COLUMNS": "100"})


def test_command_line_statuses(tmp_path: Path) -> None:
    good = run_command("reduce", WATER, "--method", WATER_METHOD)
    assert good.returncode == 0 and b"Mill Lane 4" in good.stdout
    failed = run_command("reduce", SEDIMENT, "--method", SEDIMENT_METHOD)
    assert failed.returncode == 1 and b"A check failed" in failed.stdout
    piped = run_command("reduce", "-", "--method", WATER_METHOD, given=WATER.read_bytes())
    assert piped.stdout == good.stdout
    broken = tmp_path / "broken.csv"
    broken.write_text(WATER.read_text("utf-8").replace("0.0120", "o.0120").replace("ccb,", "cbb,"), "utf-8")
    bad = run_command("check", broken, "--method", WATER_METHOD)
    assert bad.returncode == 2 and bad.stdout == b""
    said = bad.stderr.decode().splitlines()
    assert any("row 4, column absorbance" in line for line in said)
    assert any("did you mean ccb" in line for line in said)
    assert run_command("reduce", tmp_path / "none.csv", "--method", WATER_METHOD).returncode == 2
    explained = run_command("explain", WATER, "Depot north", "--method", WATER_METHOD)
    assert explained.returncode == 0 and b"1. Readings" in explained.stdout


def test_demo_writes_every_outcome(tmp_path: Path) -> None:
    shown = run_command("demo", "--out", tmp_path)
    assert shown.returncode == 0, shown.stderr
    assert b"not a release of drinking water" in shown.stdout
    for name in ("roof_water", "gutter_sediment", "gutter_moss"):
        document = json.loads((tmp_path / f"{name}.json").read_text("utf-8"))
        assert next(iter(document)) == "schema"


def test_archives_come_back_and_verify(tmp_path: Path) -> None:
    outcome = gs.reduce(SEDIMENT, SEDIMENT_METHOD)
    again = gs.Outcome.from_json(outcome.to_json())
    assert again == outcome and again.to_json() == outcome.to_json()
    assert pickle.loads(pickle.dumps(outcome)) == outcome
    assert gs.verify(outcome.to_json()).identical
    archive = tmp_path / "out.json"
    archive.write_text(outcome.to_json(), "utf-8")
    assert run_command("verify", archive).stdout == b"identical\n"
    document = json.loads(outcome.to_json())
    document["results"][0]["reported_text"] = "0.001"
    archive.write_text(json.dumps(document), "utf-8")
    tampered = run_command("verify", archive)
    assert tampered.returncode == 1 and b"results[0].reported_text" in tampered.stdout
    assert len(outcome.provenance["fingerprint"]) == 64


def test_two_outcomes_are_compared_by_cause() -> None:
    method = gs.read_method(SEDIMENT_METHOD)
    other = gs.read_method(method.to_dict() | {"reporting": method.to_dict()["reporting"] | {"figures": 4}})
    old, new = gs.reduce(SEDIMENT, method), gs.reduce(SEDIMENT, other)
    said = old.diff(new)
    assert "figures" in said and "text was" in said
    assert old.diff(old) == "no difference"
    assert new.amends(old, "one more figure").provenance["amends"][1] == "one more figure"
