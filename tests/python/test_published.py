"""Published examples through the installed package: values and uncertainties, source by source.

Every figure of python/groundstate/cases is held to the correct digits its file asks for, against the
20-digit recomputed figure, and to what its source prints; the file says where that was and how it was obtained.
`gs.validate()` is what computes and judges here: the evidence a laboratory gets is the evidence we work by.
"""

import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import groundstate as gs
from tests import library
from tests.oracle import figures

ROWS = gs.validate()


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['case']}:{row['quantity']}" for row in ROWS])
def test_published_figure(row: Any) -> None:
    assert row["verdict"] == "agrees", dict(row)


def test_few_figures_are_left_to_the_oracle() -> None:
    """Figures that no function of the package gives by itself, and nothing else among them."""
    left = {
        (case.kind, name.split(".")[0])
        for case in library.cases()
        for name in set(case.expected) - set(library.offered(case))
    }
    assert left == {
        ("additive_model", "equal"),
        ("additive_model", "unequal"),
        ("calibration", "half_width"),  # of a coefficient
        ("calibration", "residual_ss"),
        ("sum", "value"),
        ("sum", "k99"),
        ("sum", "U99"),
    }
    assert len(ROWS) >= 380


def test_the_oracle_and_the_package_read_the_same_cases() -> None:
    assert [case.name for case in library.cases()] == [case.name for case in figures.cases()]
    assert Path(gs.__file__).parent / "cases" == figures.REFERENCE


EXACT = json.loads(
    (figures.REFERENCE.parents[2] / "tests" / "reference" / "exact_least_squares.json").read_text(encoding="utf-8")
)["sets"]


@pytest.mark.parametrize("held", EXACT, ids=lambda held: f"{held['set']}-{held['shape']}")
def test_exact_solution_of_float64_data(held: dict[str, Any]) -> None:
    """Coefficients, standard errors and residual SD to 15 digits or 2 units in the last place."""
    cal = library.fit([(x, [y]) for x, y in zip(held["x"], held["y"], strict=True)], held["shape"], "equal")
    found = [*cal.coefficients, *cal.standard_errors, library.given(cal.residual_sd)]
    wanted = [*held["coefficients"], *held["standard_errors"], held["residual_sd"]]
    for value, text in zip(found, wanted, strict=True):
        units = abs(Decimal(float(value)) - Decimal(text)) / Decimal(math.ulp(float(text)))
        assert units <= 2 or library.correct_digits(value, Decimal(text)) >= 15, (value, text)
