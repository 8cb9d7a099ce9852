"""The command line as a pipeline uses it: many inputs, archives, exit statuses, interruptions."""

import csv
import hashlib
import io
import json
import os
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest

import groundstate as gs

DEMO = Path(str(files("groundstate") / "demo"))
WATER, WATER_METHOD = DEMO / "roof_water.csv", DEMO / "roof_water.toml"
SEDIMENT, SEDIMENT_METHOD = DEMO / "gutter_sediment.csv", DEMO / "gutter_sediment.toml"
TEXT = WATER.read_text("utf-8")


def shell(*arguments: str | Path, given: bytes = b"", cwd: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "groundstate", *map(str, arguments)]
    path = os.pathsep.join([str(Path(gs.__file__).parents[1]), os.environ.get("PYTHONPATH", "")])
    return subprocess.run(command, input=given, capture_output=True, env=os.environ | {"PYTHONPATH": path}, cwd=cwd)


def renamed(run: str) -> str:
    """The demonstration's run under another name."""
    return TEXT.replace("roof-water,", f"{run},")


def folder_of_runs(folder: Path, count: int) -> Path:
    folder.mkdir()
    for number in range(count):
        (folder / f"day{number:02}.csv").write_text(renamed(f"day-{number:02}"), "utf-8")
    return folder


def lines_of(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def test_folders_patterns_and_files_are_read_once_and_in_order(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 3)
    (runs / "notes.txt").write_text("not a table", "utf-8")
    out = tmp_path / "out"
    done = shell("reduce", runs, str(runs / "*.csv"), runs / "day01.csv", "--method", WATER_METHOD, "--out", out)
    assert done.returncode == 0, done.stderr
    assert done.stdout.decode().splitlines() == [f"day-{n:02}: complete" for n in range(3)]
    assert done.stderr == b"3 reduced\n"
    assert sorted(path.name for path in out.iterdir()) == [f"day-{n:02}.json" for n in range(3)]
    outcome = gs.Outcome.from_json((out / "day-01.json").read_text("utf-8"))
    assert outcome.run.name == "day-01" and gs.verify(out / "day-01.json").identical


def test_json_lines_hold_a_run_each_to_a_file_and_to_standard_output(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 3)
    target = tmp_path / "new" / "outcomes.jsonl"
    assert shell("reduce", runs, "--method", WATER_METHOD, "--jsonl", target, "--quiet").returncode == 0
    piped = shell("reduce", runs, "--method", WATER_METHOD, "--jsonl", "-")
    assert piped.stdout == target.read_bytes()
    assert b"\r" not in piped.stdout and piped.stdout.endswith(b"\n")
    assert [line["schema"] for line in lines_of(target)] == ["groundstate.outcome/1"] * 3
    for line in target.read_text("utf-8").splitlines():
        assert gs.verify(line).identical


def test_an_archive_keeps_the_digest_of_the_file_it_was_read_from(tmp_path: Path) -> None:
    done = shell("reduce", WATER, "--method", WATER_METHOD, "--json", tmp_path / "o.json")
    assert done.returncode == 0
    outcome = gs.Outcome.from_json((tmp_path / "o.json").read_text("utf-8"))
    assert outcome.provenance["raw"] == hashlib.sha256(WATER.read_bytes()).hexdigest()
    assert outcome.provenance["fingerprint"] == gs.reduce(WATER, WATER_METHOD).provenance["fingerprint"]


def test_many_runs_in_one_file_and_one_table_of_results(tmp_path: Path) -> None:
    rows = TEXT.splitlines()
    table = tmp_path / "two.csv"
    table.write_text("\n".join([rows[0], *rows[1:], *renamed("second").splitlines()[1:]]), "utf-8")
    done = shell("reduce", table, "--method", WATER_METHOD, "--csv", tmp_path / "results.csv")
    assert done.returncode == 0, done.stderr
    held = list(csv.DictReader(io.StringIO((tmp_path / "results.csv").read_text("utf-8"))))
    assert {row["run"] for row in held} == {"roof-water", "second"}
    one = shell("reduce", table, "--method", WATER_METHOD, "--json", tmp_path / "one.json")
    assert one.returncode == 2 and b"--jsonl" in one.stderr


def test_a_table_without_a_run_is_called_after_its_file(tmp_path: Path) -> None:
    nameless = "\n".join(line.partition(",")[2] for line in TEXT.splitlines())
    for name in ("monday", "tuesday"):
        (tmp_path / f"{name}.csv").write_text(nameless, "utf-8")
    done = shell("reduce", tmp_path, "--method", WATER_METHOD, "--out", tmp_path / "out", "--quiet")
    assert done.returncode == 0, done.stderr
    assert done.stdout == done.stderr == b""
    assert sorted(path.stem for path in (tmp_path / "out").iterdir()) == ["monday", "tuesday"]


def test_bad_inputs_stop_no_other_and_end_with_2(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 2)
    (runs / "broken.csv").write_text(renamed("broken").replace("0.0120", "o.0120"), "utf-8")
    (runs / "again.csv").write_text(renamed("day-01"), "utf-8")
    (tmp_path / "empty").mkdir()
    missing: list[str | Path] = [tmp_path / "none.csv", str(tmp_path / "*.xyz"), tmp_path / "empty"]
    done = shell("reduce", runs, *missing, "--method", WATER_METHOD, "--out", tmp_path / "out")
    said = done.stderr.decode()
    assert done.returncode == 2
    assert sorted(path.stem for path in (tmp_path / "out").iterdir()) == ["day-00", "day-01"]
    assert "row 4, column absorbance" in said
    assert "another input has a run day-01 already" in said
    assert "none.csv: No such file" in said and "no file has such a name" in said and "holds no .csv" in said
    assert "2 reduced, 5 could not be read or reduced" in said


def test_the_status_is_1_where_a_check_failed_and_2_where_both_happened(tmp_path: Path) -> None:
    both = shell("reduce", SEDIMENT, tmp_path / "none.csv", "--method", SEDIMENT_METHOD, "--quiet")
    assert both.returncode == 2
    failed = shell("reduce", SEDIMENT, "--method", SEDIMENT_METHOD, "--quiet")
    assert failed.returncode == 1 and failed.stdout == b""
    assert shell("reduce", WATER, "--method", tmp_path / "none.toml").returncode == 2
    assert shell("reduce").returncode == 2


def test_resuming_leaves_out_what_is_there(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 3)
    out, lines = tmp_path / "out", tmp_path / "all.jsonl"
    arguments = ("reduce", runs, "--method", WATER_METHOD, "--out", out, "--jsonl", lines, "--resume")
    assert shell(*arguments).returncode == 0
    whole = lines.read_bytes()
    stamp = (out / "day-00.json").stat().st_mtime_ns
    (out / "day-02.json").unlink()
    # as a power cut leaves it: the last line is not whole
    lines.write_bytes(whole[:-100])
    done = shell(*arguments)
    assert done.returncode == 0 and b"1 reduced, 2 there already" in done.stderr
    assert lines.read_bytes() == whole
    assert (out / "day-00.json").stat().st_mtime_ns == stamp and (out / "day-02.json").exists()
    assert not list(tmp_path.rglob("*.part"))


METHODS = {
    "zn-2026.toml": ("ZN-ROOF-W", "3", "Zn", "2026-01-12"),
    "zn-2025.toml": ("ZN-ROOF-W", "2", "Zn", "2025-01-12"),
    "cu.toml": ("CU-ROOF-W", "1", "Cu", "2025-01-12"),
}


def folder_of_methods(folder: Path) -> Path:
    folder.mkdir()
    text = WATER_METHOD.read_text("utf-8")
    for name, (method, version, element, since) in METHODS.items():
        held = text.replace('"ZN-ROOF-W"', f'"{method}"').replace('version = "3"', f'version = "{version}"')
        held = held.replace('"Zn"', f'"{element}"').replace("2026-01-12", since)
        (folder / name).write_text(held, "utf-8")
    return folder


def stating(run: str, **facts: str) -> str:
    """The demonstration's run with columns that state facts about it."""
    head, *rows = renamed(run).splitlines()
    return "\n".join([",".join([head, *facts]), *(",".join([row, *facts.values()]) for row in rows)])


def test_each_run_gets_the_method_it_names(tmp_path: Path) -> None:
    methods = folder_of_methods(tmp_path / "methods")
    cases = {
        "new": ({"method": "ZN-ROOF-W", "date": "2026-02-01"}, "ZN-ROOF-W 3"),
        "old": ({"method": "ZN-ROOF-W", "date": "2025-12-31T23:59"}, "ZN-ROOF-W 2"),
        "copper": ({"x_element": "Cu", "date": "2026-02-01"}, "CU-ROOF-W 1"),
        "stated": ({"method": "ZN-ROOF-W 2"}, "ZN-ROOF-W 2"),
    }
    runs = tmp_path / "runs"
    runs.mkdir()
    for run, (facts, _) in cases.items():
        (runs / f"{run}.csv").write_text(stating(run, **facts), "utf-8")
    done = shell("reduce", runs, "--method", methods, "--out", tmp_path / "out", "--quiet")
    assert done.returncode == 0, done.stderr
    for run, (_, expected) in cases.items():
        method = gs.Outcome.from_json((tmp_path / "out" / f"{run}.json").read_text("utf-8")).method
        assert f"{method.id} {method.version}" == expected
    checked = shell("check", runs, "--method", methods)
    assert checked.returncode == 0 and b"method CU-ROOF-W 1" in checked.stdout


@pytest.mark.parametrize(
    ("facts", "what"),
    [
        ({}, "more than one method serves it (it names neither method nor element)"),
        ({"method": "PB-ROOF"}, "no method serves it (method PB-ROOF)"),
        ({"method": "ZN-ROOF-W"}, "more than one method serves it (method ZN-ROOF-W)"),
        ({"method": "ZN-ROOF-W", "date": "1999-01-01"}, "no method serves it (method ZN-ROOF-W, date 1999-01-01)"),
        ({"method": "ZN-ROOF-W", "date": "12.1.2026"}, "more than one method serves it"),
    ],
)
def test_a_run_that_no_one_method_serves_stops_with_a_clear_word(
    tmp_path: Path, facts: dict[str, str], what: str
) -> None:
    methods = folder_of_methods(tmp_path / "methods")
    (tmp_path / "odd.csv").write_text(stating("odd", **facts), "utf-8")
    done = shell("reduce", tmp_path / "odd.csv", WATER, "--method", methods / "zn-2026.toml", "--method", methods)
    assert done.returncode == 2 and b"given twice" in done.stderr
    done = shell("reduce", tmp_path / "odd.csv", "--method", methods)
    assert done.returncode == 2 and done.stdout == b""
    assert f"run odd: {what}" in done.stderr.decode()
    assert "there are " in done.stderr.decode() and "ZN-ROOF-W version" in done.stderr.decode()


def test_methods_serve_a_table_from_python_as_well(tmp_path: Path) -> None:
    methods = gs.Methods.read(folder_of_methods(tmp_path / "methods"))
    assert len(methods) == 3 and "CU-ROOF-W version 1 (Cu, from 2025-01-12)" in repr(methods)
    rows = stating("copper", method="CU-ROOF-W").splitlines() + stating("odd", method="?").splitlines()[1:]
    outcomes = gs.reduce_many("\n".join(rows).encode(), methods)
    assert [outcome.method.id for outcome in outcomes] == ["CU-ROOF-W"]
    assert isinstance(outcomes.errors["odd"], gs.MethodError)
    runs = gs.read_runs(stating("copper", method="CU-ROOF-W").encode())
    assert gs.reduce_many(runs, methods)[0].method.element == "Cu"
    assert gs.reduce_many(stating("odd", method="?").encode(), methods).errors.keys() == {"odd"}


def test_a_method_that_reads_otherwise_is_taken_at_its_word(tmp_path: Path) -> None:
    """One method accepts other programmes' names of roles, the other does not."""
    methods = folder_of_methods(tmp_path / "methods")
    copper = methods / "cu.toml"
    copper.write_text(copper.read_text("utf-8").replace("profile =", 'aliases = "accept"\nprofile ='), "utf-8")
    for run, method in (("copper", "CU-ROOF-W"), ("zinc", "ZN-ROOF-W 3")):
        (tmp_path / f"{run}.csv").write_text(stating(run, method=method).replace(",ccv,", ",IPC,"), "utf-8")
    done = shell("reduce", tmp_path, "--method", methods, "--quiet", "--out", tmp_path / "out")
    assert done.returncode == 2
    assert [path.stem for path in (tmp_path / "out").iterdir()] == ["copper"]
    assert "zinc.csv" in done.stderr.decode() and "aliases" in done.stderr.decode()


def test_verify_reads_folders_and_lines_and_names_what_differs(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 2)
    out = tmp_path / "out"
    lines = out / "all.jsonl"
    assert shell("reduce", runs, "--method", WATER_METHOD, "--out", out, "--jsonl", lines, "--quiet").returncode == 0
    same = shell("verify", out)
    assert same.returncode == 0 and len(same.stdout.splitlines()) == 4
    assert b"all.jsonl, line 2: identical" in same.stdout
    lines.write_text(lines.read_text("utf-8").replace('"reported_text":"0.503"', '"reported_text":"0.504"', 1), "utf-8")
    tampered = shell("verify", out)
    assert tampered.returncode == 1 and b"line 1: " in tampered.stdout and b"reported_text" in tampered.stdout
    (out / "other.json").write_text("{}", "utf-8")
    assert shell("verify", out).returncode == 2


def test_explain_takes_a_run_of_many_and_method_shows_every_default(tmp_path: Path) -> None:
    rows = TEXT.splitlines()
    table = tmp_path / "two.csv"
    table.write_text("\n".join([*rows, *renamed("second").splitlines()[1:]]), "utf-8")
    many = shell("explain", table, "Depot north", "--method", WATER_METHOD)
    assert many.returncode == 2 and b"--run: roof-water, second" in many.stderr
    one = shell("explain", table, "Depot north", "--method", WATER_METHOD, "--run", "second")
    assert one.returncode == 0 and b"1. Readings" in one.stdout
    explicit = shell("method", WATER_METHOD, "--explicit").stdout.decode()
    assert 'points = "standards"  # default: SW-846 Method 7000B' in explicit
    assert gs.Method.from_toml(explicit) == gs.read_method(WATER_METHOD)


def test_every_default_of_an_explicit_method_has_its_clause() -> None:
    """Each line that the laboratory did not write says where the default is from."""
    written = gs.read_method(WATER_METHOD)
    own = set(written.to_toml().splitlines())
    stated = [line for line in written.to_toml(explicit=True).splitlines() if " = " in line and line not in own]
    assert len(stated) > 100
    assert [line for line in stated if "  # default: " not in line] == []
    assert all(len(line.partition("  # default: ")[2]) > 5 for line in stated)


def test_a_closed_pipe_ends_quietly_and_without_success(tmp_path: Path) -> None:
    runs = folder_of_runs(tmp_path / "runs", 40)
    command = [sys.executable, "-m", "groundstate", "reduce", str(runs), "--method", str(WATER_METHOD), "--jsonl", "-"]
    path = str(Path(gs.__file__).parents[1])
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=os.environ | {"PYTHONPATH": path}
    )
    assert process.stdout is not None and process.stderr is not None
    assert process.stdout.read(10) == b'{"schema":'
    process.stdout.close()
    assert process.wait(60) == 141
    assert process.stderr.read() == b""
    process.stderr.close()


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_ctrl_c_stops_within_a_second_and_keeps_what_is_finished(tmp_path: Path) -> None:
    runs = tmp_path / "runs"
    runs.mkdir()
    head, *rows = TEXT.splitlines()
    for number in range(20):
        many = [row.replace("roof-water,", f"r{number:02}-{k:03},") for k in range(250) for row in rows]
        (runs / f"{number:02}.csv").write_text("\n".join([head, *many]), "utf-8")
    target = tmp_path / "out.jsonl"
    command = [
        sys.executable,
        "-m",
        "groundstate",
        "reduce",
        str(runs),
        "--method",
        str(WATER_METHOD),
        "--jsonl",
        str(target),
    ]
    path = str(Path(gs.__file__).parents[1])
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=os.environ | {"PYTHONPATH": path}
    )
    assert process.stdout is not None
    process.stdout.readline()  # the first batch is written
    asked = time.monotonic()
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    took = time.monotonic() - asked
    assert process.returncode == 130, said
    assert b"stopped; what was finished is written" in said
    held = lines_of(target)
    assert 0 < len(held) < 20 * 250
    assert gs.verify(json.dumps(held[-1])).identical
    assert not list(tmp_path.glob(".*.part"))
    # The stop itself is within a second on a machine that does nothing else; CI shares its cores.
    assert took < 5, took


def test_progress_is_told_and_may_stop(capsys: pytest.CaptureFixture[str]) -> None:
    head, *rows = TEXT.splitlines()
    many = "\n".join([head, *(row.replace("roof-water,", f"r{k:03},") for k in range(200) for row in rows)]).encode()
    told: list[tuple[int, int]] = []
    outcomes = gs.reduce_many(many, WATER_METHOD, progress=lambda done, total: told.append((done, total)))
    assert len(outcomes) == 200 and not outcomes.interrupted
    assert told[0] == (0, 200) and told[-1] == (200, 200) and told == sorted(told)
    stopped = gs.reduce_many(many, WATER_METHOD, progress=lambda done, _: done < 64)
    assert stopped.interrupted and 64 <= len(stopped) < 200
    assert len(gs.reduce_many(many, WATER_METHOD, progress=False)) == 200


def test_progress_true_shows_a_bar_or_says_what_to_install(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert len(gs.reduce_many(TEXT.encode(), WATER_METHOD, progress=True)) == 1
    assert "1/1" in capsys.readouterr().err
    monkeypatch.setitem(sys.modules, "tqdm", None)
    monkeypatch.setitem(sys.modules, "tqdm.auto", None)
    with pytest.raises(gs.MissingExtraError, match=r"groundstate\[progress\]"):
        gs.reduce_many(TEXT.encode(), WATER_METHOD, progress=True)


MESSY = {
    "a byte order mark and CRLF": ("\ufeff" + TEXT.replace("\n", "\r\n")).encode(),
    "trailing blank lines and separators": (TEXT + "\n\n,,,,,,,,,,,,,,,,\n").encode(),
    "semicolons": TEXT.replace(",", ";").encode(),
    "tabs and quoted, padded headers": "\n".join(
        [
            "\t".join(f'" {name.upper()} "' for name in TEXT.splitlines()[0].split(",")),
            *TEXT.replace(",", "\t").splitlines()[1:],
        ]
    ).encode(),
    "old line ends": TEXT.replace("\n", "\r").encode(),
}


@pytest.mark.parametrize("content", MESSY.values(), ids=MESSY.keys())
def test_messy_files_are_read_as_they_are(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "messy.csv").write_bytes(content)
    done = shell("reduce", tmp_path / "messy.csv", "--method", WATER_METHOD, "--json", tmp_path / "o.json")
    assert done.returncode == 0, done.stderr
    got = gs.Outcome.from_json((tmp_path / "o.json").read_text("utf-8"))
    assert got.provenance["table"] == gs.reduce(WATER, WATER_METHOD).provenance["table"]


REFUSED = {
    "a decimal comma between semicolons": (TEXT.replace(",", ";").replace("0.0", "0,0").encode(), "decimal"),
    "Latin-1": (TEXT.replace("Depot", "Dépôt").encode("latin-1"), "UTF-8"),
    "UTF-16": (TEXT.encode("utf-16"), "UTF-16"),
    "two columns of one name": (TEXT.replace("instrument", "Analyst ", 1).encode(), "two columns analyst"),
    "nothing": (b"", "empty"),
    "a header alone": (TEXT.splitlines()[0].encode(), "no row"),
    "a spreadsheet": (b"PK\x03\x04\x14\x00\x00\x00\x08\x00", "binary"),
}


@pytest.mark.parametrize(("content", "word"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_read_is_refused_with_a_word(tmp_path: Path, content: bytes, word: str) -> None:
    (tmp_path / "messy.csv").write_bytes(content)
    done = shell("reduce", tmp_path / "messy.csv", "--method", WATER_METHOD)
    assert done.returncode == 2 and done.stdout == b""
    assert word in done.stderr.decode() and "Traceback" not in done.stderr.decode()
    assert "messy.csv" in done.stderr.decode()


def test_another_encoding_and_decimal_commas_are_read_when_the_user_says_so(tmp_path: Path) -> None:
    text = TEXT.replace("Depot", "Dépôt")
    european = "\n".join(
        ";".join(cell.replace(".", ",") if cell[:1].isdigit() else cell for cell in line.split(","))
        for line in text.splitlines()
    )
    (tmp_path / "messy.csv").write_bytes(european.encode("cp1252"))
    options = ("--encoding", "cp1252", "--decimal-comma", "--method", WATER_METHOD)
    done = shell("reduce", tmp_path / "messy.csv", *options, "--json", tmp_path / "o.json")
    assert done.returncode == 0, done.stderr
    got = gs.Outcome.from_json((tmp_path / "o.json").read_text("utf-8"))
    assert got.provenance["table"] == gs.reduce(text.encode(), WATER_METHOD).provenance["table"]
    assert got.provenance["raw"] == hashlib.sha256((tmp_path / "messy.csv").read_bytes()).hexdigest()
    assert b"no encoding" in shell("check", WATER, "--encoding", "latin-99", "--method", WATER_METHOD).stderr
    assert b"two fields" in shell("check", WATER, "--decimal-comma", "--method", WATER_METHOD).stderr
    short = shell("reduce", tmp_path / "messy.csv", "--encoding", "cp1252", "--method", WATER_METHOD)
    assert len(short.stderr.splitlines()) == 11 and b"more; `check` names them" in short.stderr


def test_a_decimal_comma_leaves_labels_alone() -> None:
    from groundstate._shell.decode import decoded

    table = 'label;absorbance;dilution\n"A;1,5";0,123;5,0/50,0;10,0/100\n'.replace("50,0;10,0", "50,0")
    assert decoded(table.encode(), None, True).decode().splitlines()[1] == '"A;1,5";0.123;5.0/50.0/100'


def test_names_that_one_file_system_takes_for_one_are_refused_in_a_folder(tmp_path: Path) -> None:
    for name in ("a.csv", "b.csv"):
        run = {"a.csv": "Lake/1", "b.csv": "lake:1"}[name]
        (tmp_path / name).write_text(renamed(run), "utf-8")
    folder = shell("reduce", tmp_path, "--method", WATER_METHOD, "--out", tmp_path / "out")
    assert folder.returncode == 2 and b"already" in folder.stderr
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["Lake_1.json"]
    lines = shell("reduce", tmp_path, "--method", WATER_METHOD, "--jsonl", tmp_path / "all.jsonl")
    assert lines.returncode == 0 and len(lines_of(tmp_path / "all.jsonl")) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_ctrl_c_in_a_program_returns_what_is_finished(tmp_path: Path) -> None:
    head, *rows = TEXT.splitlines()
    many = [row.replace("roof-water,", f"r{k:04},") for k in range(3000) for row in rows]
    (tmp_path / "many.csv").write_text("\n".join([head, *many]), "utf-8")
    code = (
        "import sys, groundstate as gs\n"
        "found = gs.reduce_many(sys.argv[1], sys.argv[2], progress=lambda done, _: print(done, flush=True))\n"
        "print('kept', len(found), found.interrupted, found[0].standing)\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "many.csv"), str(WATER_METHOD)],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(Path(gs.__file__).parents[1])},
    )
    assert process.stdout is not None
    while process.stdout.readline().strip() == "0":
        pass
    process.send_signal(signal.SIGINT)
    said, _ = process.communicate(timeout=60)
    assert process.returncode == 0, said
    kept = said.splitlines()[-1].split()
    assert kept[0] == "kept" and 0 < int(kept[1]) < 3000 and kept[2:] == ["True", "complete"]
