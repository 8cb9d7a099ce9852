"""The programs of examples/ do what they say."""

import json
import os
import runpy
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pyarrow.parquet as parquet
import pytest

import groundstate as gs

# Builds of the extension must not meet each other.
pytestmark = pytest.mark.xdist_group("cargo")
ROOT = Path(__file__).parents[2]
DEMO = Path(gs.__file__).parent / "demo"


def example(name: str) -> dict[str, Any]:
    """The names of an example, without running it as a program."""
    return runpy.run_path(str(ROOT / "examples" / name))


def archive(folder: Path) -> Path:
    """The demonstration's outcomes, one as a document and one as a line."""
    folder.mkdir()
    water, sediment = (
        gs.reduce(DEMO / f"{name}.csv", DEMO / f"{name}.toml") for name in ("roof_water", "gutter_sediment")
    )
    (folder / "roof-water.json").write_text(water.to_json(), "utf-8")
    (folder / "rest.jsonl").write_text(sediment.to_json(compact=True) + "\n", "utf-8")
    return folder


def test_outcomes_are_filed_into_duckdb_and_parquet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main = example("archive_to_duckdb.py")["main"]
    outcomes, database, tables = archive(tmp_path / "outcomes"), tmp_path / "lab.duckdb", tmp_path / "tables"
    assert main([str(outcomes), str(database), "--parquet", str(tables)]) == 0
    assert "2 outcomes filed, 0 there already" in capsys.readouterr().out

    water = gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml")
    with duckdb.connect(str(database)) as lab:
        runs = lab.sql("select run, standing, fingerprint from runs order by run").fetchall()
        asked = "select value, standard_uncertainty from results where run = 'roof-water' and label = 'Depot north'"
        filed = lab.sql(asked).fetchall()
        failed = lab.sql("select count(*) from checks where verdict = 'fail'").fetchall()
    assert [row[:2] for row in runs] == [("gutter-sediment", "failed"), ("roof-water", "complete")]
    assert runs[1][2] == water.provenance["fingerprint"]
    row = water.results.row("Depot north")
    assert filed == [(row.value, row.standard_uncertainty)]  # bit for bit
    assert failed[0][0] >= 1

    results = parquet.read_table(tables / "results.parquet")
    assert results.num_rows == len(water.results) + len(
        gs.Outcome.from_json((outcomes / "rest.jsonl").read_text()).results
    )
    assert {"run", "fingerprint", "library", "label", "value", "unit"} <= set(results.column_names)
    assert sorted(path.stem for path in tables.iterdir()) == ["checks", "findings", "results", "runs"]


def test_filing_again_changes_nothing_and_an_amendment_is_filed_beside(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main = example("archive_to_duckdb.py")["main"]
    outcomes, database = archive(tmp_path / "outcomes"), tmp_path / "lab.duckdb"
    assert main([str(outcomes), str(database)]) == 0
    water = gs.Outcome.from_json((outcomes / "roof-water.json").read_text("utf-8"))
    (outcomes / "amended.json").write_text(water.amends(water, "figures checked again").to_json(), "utf-8")
    assert main([str(outcomes), str(database)]) == 0
    assert "1 outcomes filed, 2 there already" in capsys.readouterr().out
    with duckdb.connect(str(database)) as lab:
        counts = lab.sql("select run, count(*) from runs group by run order by run").fetchall()
    assert counts == [("gutter-sediment", 1), ("roof-water", 2)]
    (outcomes / "broken.json").write_text("{}", "utf-8")
    assert main([str(outcomes), str(database)]) == 2


def test_a_watched_folder_is_reduced_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main = example("watch_folder.py")["main"]
    incoming, out = tmp_path / "incoming", tmp_path / "outcomes"
    incoming.mkdir()
    (incoming / "a.csv").write_bytes((DEMO / "roof_water.csv").read_bytes())
    (incoming / "b.csv").write_text("role,absorbance\n", "utf-8")
    arguments = [
        str(incoming),
        "--method",
        str(DEMO / "roof_water.toml"),
        "--out",
        str(out),
        "--every",
        "0.01",
        "--once",
    ]
    assert main(arguments) == 2
    said = capsys.readouterr().out
    assert "a.csv: status 0" in said and "b.csv: status 2" in said
    stamp = (out / "roof-water.json").stat().st_mtime_ns
    (incoming / "b.csv").unlink()
    assert main(arguments) == 0
    assert "a.csv" not in capsys.readouterr().out
    assert (out / "roof-water.json").stat().st_mtime_ns == stamp


def test_the_first_look_runs(capsys: pytest.CaptureFixture[str]) -> None:
    runpy.run_path(str(ROOT / "examples" / "what_if.py"), run_name="__main__")
    said = capsys.readouterr().out
    assert "quadratic " in said and "RSE" in said and "line without 5 mg/L" in said


def cargo(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    """Cargo, with what the extension was built with, so that nothing is compiled twice."""
    environment = os.environ | {"PYO3_PYTHON": sys.executable, "PYO3_BUILD_EXTENSION_MODULE": "1"}
    command = ["cargo", *arguments]
    return subprocess.run(
        command, cwd=ROOT, env=environment, input=given, capture_output=True, text=True, encoding="utf-8"
    )


def rust_example(name: str, *arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    return cargo("run", "--quiet", "--package", "groundstate", "--example", name, "--", *arguments, given=given)


def test_rust_reduces_a_csv(tmp_path: Path) -> None:
    water = [str(DEMO / f"roof_water.{ending}") for ending in ("csv", "toml")]
    done = rust_example("reduce_csv", *water, str(tmp_path / "out.json"))
    assert done.returncode == 0, done.stderr
    outcome = gs.reduce(gs.read_runs(water[0])[0], water[1])
    assert outcome.summary().strip() in done.stdout
    assert gs.Outcome.from_json((tmp_path / "out.json").read_text("utf-8")) == outcome
    wrong = rust_example("reduce_csv", water[1], water[1])
    assert wrong.returncode == 2 and wrong.stderr


def test_rust_serves_requests_and_outlives_bad_ones() -> None:
    table = (DEMO / "roof_water.csv").read_text("utf-8")
    requests = [
        {"id": "good", "method": "ZN-ROOF-W", "table": table},
        {"id": "bad", "method": "ZN-ROOF-W", "table": table.replace("0.0120", "o.0120")},
        {"id": "unknown", "method": "PB", "table": table},
        {"id": "again", "method": "ZN-ROOF-W", "table": table},
    ]
    done = rust_example("service", given="\n".join(["not JSON", *map(json.dumps, requests)]))
    assert done.returncode == 0, done.stderr
    answers = {answer["id"]: answer for answer in map(json.loads, done.stdout.splitlines())}
    assert {name: answer["status"] for name, answer in answers.items()} == {
        None: 2,
        "good": 0,
        "bad": 2,
        "unknown": 2,
        "again": 0,
    }
    expected = gs.reduce(gs.read_runs(DEMO / "roof_water.csv")[0], DEMO / "roof_water.toml")
    assert gs.Outcome.from_json(json.dumps(answers["again"]["outcome"])) == expected
    assert "row 4" in answers["bad"]["problems"][0] and "ZN-ROOF-W" in answers["unknown"]["problems"][0]


def test_rust_states_a_laboratorys_own_criteria() -> None:
    said = rust_example("custom_profile").stdout
    assert "ccv.low = 95 (profile: 90): " in said
    assert "did you mean" in said and "hihg" in said
    assert 'id = "CU-HOUSE"' in said


def test_another_extension_embeds_the_binding(tmp_path: Path) -> None:
    done = cargo("build", "--quiet", "--package", "groundstate-py", "--example", "embed_extension")
    assert done.returncode == 0, done.stderr
    target = Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
    built = next(
        path
        for path in (target / "debug" / "examples").glob("*embed_extension.*")
        if path.suffix in (".so", ".dylib", ".dll")
    )
    module = tmp_path / f"embed_extension{'.pyd' if os.name == 'nt' else '.so'}"
    module.write_bytes(built.read_bytes())
    code = (
        "import embed_extension as own; cal = own.core.calibrate([0.5, 1.0, 2.0], [0.05, 0.1, 0.21]); "
        "print(own.house_method('zinc'), type(cal).__name__, round(cal.concentration(0.1).value, 2))"
    )
    found = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True)
    assert found.stdout.split() == ["ZN-HOUSE", "Calibration", "0.98"], found.stderr
