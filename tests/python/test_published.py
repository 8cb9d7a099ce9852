"""Published examples through the installed package: values and uncertainties, source by source.

Every figure of tests/reference/cases is held to the correct digits its file asks for, against the
20-digit recomputed figure; the file says where the figure was published and how it was obtained.
"""

import json
import math
from decimal import Decimal
from typing import Any

import pytest

from tests import library
from tests.oracle.figures import REFERENCE, Case, cases

CHECKED = [
    pytest.param(case, name, id=f"{case.name}:{name}")
    for case in cases()
    for name in case.expected
    if library.offered(case, name)
]


@pytest.mark.parametrize(("case", "name"), CHECKED)
def test_published_figure(case: Case, name: str) -> None:
    found = library.figure(case, name)
    digits = library.correct_digits(found, Decimal(case.expected[name]))
    assert digits >= float(case.digits), f"{found!r} for {case.expected[name]}: {case.digits_reason}"


def test_few_figures_are_left_to_the_oracle() -> None:
    """Cases the Python surface does not reach are named in tests/library.py, with nothing else among them."""
    unasked = {case.kind for case in cases() if not any(library.offered(case, name) for name in case.expected)}
    assert unasked == library.ORACLE_ONLY
    assert len(CHECKED) >= 180


EXACT = json.loads((REFERENCE.parent / "exact_least_squares.json").read_text(encoding="utf-8"))["sets"]


@pytest.mark.parametrize("held", EXACT, ids=lambda held: f"{held['set']}-{held['shape']}")
def test_exact_solution_of_float64_data(held: dict[str, Any]) -> None:
    """Coefficients, standard errors and residual SD to 15 digits or 2 units in the last place."""
    cal = library.fit([(x, [y]) for x, y in zip(held["x"], held["y"], strict=True)], held["shape"], "equal")
    found = [*cal.coefficients, *cal.standard_errors, library.given(cal.residual_sd)]
    wanted = [*held["coefficients"], *held["standard_errors"], held["residual_sd"]]
    for value, text in zip(found, wanted, strict=True):
        units = abs(Decimal(float(value)) - Decimal(text)) / Decimal(math.ulp(float(text)))
        assert units <= 2 or library.correct_digits(value, Decimal(text)) >= 15, (value, text)
