"""Bare columns of many runs: bit for bit what reduce_many gives."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
METHOD = gs.read_method(DEMO / "roof_water.toml")


def plain(path: Path, copies: int) -> dict[str, list[Any]]:
    """The readings of a demonstration run under several names, without preparation."""
    header, *rows = (line.split(",") for line in path.read_text(encoding="utf-8").splitlines())
    cells = {name: [row[i] for row in rows] for i, name in enumerate(header)}
    kept = [
        i for i, role in enumerate(cells["role"]) if role not in ("duplicate", "matrix_spike", "lcs", "method_blank")
    ]
    table: dict[str, list[Any]] = {
        "run": [f"run {copy:02}" for copy in range(copies) for _ in kept],
        "position": [int(cells["position"][i]) for i in kept] * copies,
        "replicate": [int(cells["replicate"][i]) for i in kept] * copies,
        "role": [cells["role"][i] for i in kept] * copies,
        "label": [cells["label"][i] for i in kept] * copies,
        "nominal": [float(cells["nominal"][i] or "nan") for i in kept] * copies,
        "absorbance": [float(cells["absorbance"][i]) for i in kept] * copies,
    }
    return table


@pytest.mark.parametrize("threads", [1, 2])
def test_columns_are_reduce_many_to_the_last_bit(threads: int) -> None:
    table = plain(DEMO / "roof_water.csv", 70)
    order = np.random.default_rng(7).permutation(len(table["run"]))
    shuffled = {name: [column[i] for i in order] for name, column in table.items()}
    found = gs.reduce_columns(shuffled, METHOD, threads=threads)
    expected = gs.reduce_many(table, METHOD, threads=1)
    assert not expected.errors
    measured = [outcome.measurements for outcome in expected]
    for name in ("value", "standard_uncertainty"):
        joined = np.concatenate([rows[name] for rows in measured])
        np.testing.assert_array_equal(found[name].view(np.uint64), joined.view(np.uint64))
    assert list(found["position"][: len(measured[0])]) == list(measured[0]["position"])
    assert set(found["run"]) == {outcome.run.name for outcome in expected}
    not_detected = [row.status in ("negative", "below_lowest") and "U" in row.qualifiers for row in measured[0]]
    flagged = (found["flags"][: len(not_detected)] & gs.COLUMN_FLAGS["below_limit"]) > 0
    assert list(flagged) == not_detected


def test_a_bad_run_is_flagged_and_stops_no_other() -> None:
    table = plain(DEMO / "roof_water.csv", 2)
    table["role"] = [
        "sample" if run == "run 00" and role == "standard" else role
        for run, role in zip(table["run"], table["role"], strict=True)
    ]
    found = gs.reduce_columns(table, METHOD)
    bad = found["run"] == "run 00"
    assert (found["flags"][bad] & gs.COLUMN_FLAGS["not_reduced"]).all()
    assert not (found["flags"][~bad] & gs.COLUMN_FLAGS["not_reduced"]).any()
    assert np.isfinite(found["value"][~bad]).all()


def test_bad_columns_have_their_own_word() -> None:
    table = plain(DEMO / "roof_water.csv", 1)
    with pytest.raises(gs.TableError, match="no column role"):
        gs.reduce_columns({name: column for name, column in table.items() if name != "role"}, METHOD)
    with pytest.raises(gs.GroundstateError, match="did you mean ccv"):
        gs.reduce_columns(table | {"role": [role.replace("ccv", "cvv") for role in table["role"]]}, METHOD)
    with pytest.raises(gs.ArgumentError, match="whole numbers"):
        gs.reduce_columns(table | {"position": [p + 0.5 for p in table["position"]]}, METHOD)


def test_codes_go_in_and_come_out_as_codes() -> None:
    table = plain(DEMO / "roof_water.csv", 3)
    expected = gs.reduce_columns(table, METHOD)
    words, codes = np.unique(table["role"], return_inverse=True)
    names, runs = np.unique(table["run"], return_inverse=True)
    found = gs.reduce_columns(table | {"role": (codes, words), "run": (runs, names)}, METHOD)
    np.testing.assert_array_equal(words[found["role"]], expected["role"])
    np.testing.assert_array_equal(names[found["run"]], expected["run"])
    for column in ("value", "standard_uncertainty", "lo", "hi", "flags"):
        np.testing.assert_array_equal(found[column], expected[column])
    whole = gs.reduce_columns(table | {"run": runs + 7}, METHOD)
    np.testing.assert_array_equal(whole["run"], found["run"] + 7)
    with pytest.raises(gs.ArgumentError, match="codes of roles need their words"):
        gs.reduce_columns(table | {"role": codes}, METHOD)


def test_runs_of_one_shape_are_their_columns() -> None:
    random = np.random.default_rng(3)
    role = np.array(["standard"] * 4 + ["sample"] * 6 + ["ccv"])
    nominal = np.array([0.0, 0.5, 1.0, 2.0] + [np.nan] * 6 + [1.0])
    x = np.where(np.isnan(nominal), 1.7 * random.random((5, 11)), nominal)
    absorbance = 0.2 * x[:, :, None] + random.normal(0.0, 0.0005, (5, 11, 3))
    absorbance[2, 5, 1] = np.nan
    shaped: dict[str, Any] = {"absorbance": absorbance, "role": role, "nominal": nominal, "run": list("abcde")}
    found = gs.reduce_columns(shaped, METHOD)
    tidy = {
        "run": np.repeat(list("abcde"), 33),
        "position": np.tile(np.repeat(np.arange(1, 12), 3), 5),
        "role": np.tile(np.repeat(role, 3), 5),
        "nominal": np.tile(np.repeat(nominal, 3), 5),
        "absorbance": absorbance.ravel(),
    }
    expected = gs.reduce_columns(tidy, METHOD)
    for column in expected.columns:
        np.testing.assert_array_equal(found[column], expected[column])
    limited = gs.reduce_columns(shaped, METHOD, replicate_limit=(0.0, 0.0))
    assert (limited["flags"] & gs.COLUMN_FLAGS["high_replicate_sd"]).all()
    refused: list[tuple[dict[str, Any], str]] = [
        ({"nominal": nominal[1:]}, "nominal: an array of shape"),
        ({"role": role[1:]}, "role: 10 roles for 11 positions"),
        ({"run": ["a"]}, "run: an array of shape"),
    ]
    for wrong, words in refused:
        with pytest.raises(gs.ArgumentError) as caught:
            gs.reduce_columns(shaped | wrong, METHOD)
        assert words in str(caught.value)
