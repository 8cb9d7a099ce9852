"""The library against the oracle on 2,000 invented calibrations and 6,000 readings."""

import pytest

from tests import comparison

# float64 carries 1.1e-16; the cancellations of an inverse and a t quantile take three to four digits
LIMIT = 1e-12
LIMITS = {
    # a variance has twice the relative error of its root
    "covariance": 2 * LIMIT,
    "covariance of results": 2 * LIMIT,
    # the degrees of freedom go as the fourth power of u
    "dof": 4 * LIMIT,
}


def beyond(errors: comparison.Errors, names: set[str]) -> dict[str, tuple[float, int]]:
    """The worst error, and its case, of each figure that misses its limit."""
    return {name: max(errors[name]) for name in names if max(errors[name])[0] > LIMITS.get(name, LIMIT)}


def test_two_thousand_cases(capsys: pytest.CaptureFixture[str]) -> None:
    errors = comparison.errors()
    assert len({number for found in errors.values() for _, number in found}) == comparison.CASES
    with capsys.disabled():
        print(f"\n{'error against the oracle':26}{'count':>8}{'q50':>10}{'q99':>10}{'max':>10}")
        for name, count, q50, q99, worst in comparison.distribution(errors):
            print(f"{name:24}{count:8}{q50:10.1e}{q99:10.1e}{worst:10.1e}")
    assert beyond(errors, set(errors)) == {}


def test_dof_of_a_sample_read_more_often_than_the_standards() -> None:
    """A variance that is a difference of two estimates is less certain than either: dof fall below n - p."""
    errors = comparison.errors(count=100)
    assert beyond(errors, {name for name in errors if name.endswith(comparison.MORE_READINGS)}) == {}
