"""The canonical form and its digests, recomputed by Python alone: no code of the library is used here."""

import hashlib
import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

WIRE = Path(__file__).parent.parent / "wire"
VECTORS = json.loads((WIRE / "canonical.json").read_text(encoding="utf-8"))
ARCHIVES = sorted((WIRE / "archive" / "v1").glob("*.json"))


def number(x: float) -> str:
    """A double as ECMAScript writes it (ECMA-262, Number::toString; RFC 8785, section 3.2.2.3).

    `repr` finds the same shortest digits; only their layout differs.
    """
    if x == 0:
        return "0"
    assert math.isfinite(x)
    sign, digits, exponent = Decimal(repr(float(x))).normalize().as_tuple()
    assert isinstance(exponent, int)
    figures = "".join(map(str, digits))
    k, n = len(figures), len(figures) + exponent  # the value is 0.figures times 10 to the n
    if k <= n <= 21:
        text = figures + "0" * (n - k)
    elif 0 < n <= 21:
        text = f"{figures[:n]}.{figures[n:]}"
    elif -6 < n <= 0:
        text = "0." + "0" * -n + figures
    else:
        mantissa = figures[0] + ("." + figures[1:] if k > 1 else "")
        text = f"{mantissa}e{n - 1:+d}"
    return "-" * sign + text


def canonical(value: Any) -> str:
    """RFC 8785: members by the UTF-16 code units of their names, no white space."""
    if isinstance(value, dict):
        members = sorted(value.items(), key=lambda member: member[0].encode("utf-16-be"))
        return "{" + ",".join(f"{canonical(name)}:{canonical(item)}" for name, item in members) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return number(value)


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize(
    ("x", "text"),
    [  # RFC 8785, appendix B
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (295147905179352830000.0, "295147905179352830000"),
        (1e21, "1e+21"),
        (9.999999999999997e-7, "9.999999999999997e-7"),
        (0.000001, "0.000001"),
        (-0.0000033333333333333333, "-0.0000033333333333333333"),
        (333333333.33333329, "333333333.3333333"),
        (-0.0, "0"),
    ],
)
def test_numbers_of_the_rfc(x: float, text: str) -> None:
    assert number(x) == text


@pytest.mark.parametrize("vector", VECTORS, ids=[vector["name"] for vector in VECTORS])
def test_golden_vectors(vector: dict[str, str]) -> None:
    method, run = json.loads(vector["method"]), json.loads(vector["run"])
    assert canonical(method) == vector["method"]
    assert canonical(run) == vector["run"]
    assert sha256(vector["method"]) == vector["digest_of_method"]
    assert sha256(vector["run"]) == vector["digest_of_table"]
    document = {"schema": "groundstate.input/1", "method": method, "run": run}
    assert sha256(canonical(document)) == vector["fingerprint"]
    profile = {"profile": method["profile"], "criteria": method["criteria"]}
    assert sha256(canonical(profile)) == vector["digest_of_profile"]


@pytest.mark.parametrize("path", ARCHIVES, ids=[path.stem for path in ARCHIVES])
def test_archives_hold_what_they_were_made_from(path: Path) -> None:
    archive = json.loads(path.read_text(encoding="utf-8"))
    document = {"schema": "groundstate.input/1", "method": archive["method"], "run": archive["run"]}
    assert sha256(canonical(document)) == archive["provenance"]["fingerprint"]


def test_there_is_something_to_check() -> None:
    assert len(VECTORS) == 3
    assert len(ARCHIVES) == 3
