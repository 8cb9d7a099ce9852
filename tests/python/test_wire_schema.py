"""The JSON Schemas under docs/schema hold for the documents that the library writes, and refuse others."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

ROOT = Path(__file__).parents[2]
ARCHIVES = sorted((ROOT / "tests" / "wire" / "archive" / "v1").glob("*.json"))


def validator(name: str) -> Draft202012Validator:
    schema = json.loads((ROOT / "docs" / "schema" / f"{name}.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.fixture(params=ARCHIVES, ids=[path.stem for path in ARCHIVES])
def archive(request: pytest.FixtureRequest) -> Any:
    return json.loads(request.param.read_text(encoding="utf-8"))


def test_outcomes_follow_their_schema(archive: Any) -> None:
    validator("outcome").validate(archive)


def test_runs_and_methods_follow_theirs(archive: Any) -> None:
    validator("run").validate({"schema": "groundstate.run/1", **archive["run"]})
    validator("method").validate({"schema": "groundstate.method/1", **archive["method"]})
    validator("method").validate(archive["method"])


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("results", 0, "result", "status"), "fine"),
        (("results", 0, "unit"), "ppm"),
        (("results", 0, "result", "value"), None),
        (("results", 0, "result", "degrees_of_freedom"), "many"),
        (("results", 0, "colour"), "blue"),
        (("calibrations", 0, "shape"), "cubic"),
        (("method", "calibration", "shpae"), "line"),
        (("method", "criteria", "ccv", "low"), "some"),
        (("run", "positions", 0, "role"), "guess"),
        (("schema",), "groundstate.outcome/2"),
    ],
)
def test_what_is_wrong_is_refused(archive: Any, path: tuple[str | int, ...], value: Any) -> None:
    document = copy.deepcopy(archive)
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(ValidationError):
        validator("outcome").validate(document)


@pytest.mark.parametrize("name", ["schema", "method", "run", "provenance", "results", "budgets", "findings"])
def test_what_is_missing_is_refused(archive: Any, name: str) -> None:
    document = {key: value for key, value in archive.items() if key != name}
    with pytest.raises(ValidationError):
        validator("outcome").validate(document)


def test_there_is_something_to_check() -> None:
    assert len(ARCHIVES) == 3
