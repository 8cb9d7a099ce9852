"""Many calibrations with errors in both variables at once."""

from typing import Any, Literal

import numpy as np
import pytest

import groundstate as gs

LEVELS = np.array([0.0, 0.2, 0.5, 1.0, 2.0, 3.0])


@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_each_is_that_of_calibrate(shape: Literal["line", "quadratic"]) -> None:
    random = np.random.default_rng(5)
    u_x, u_y = 0.004 + 0.01 * LEVELS, 0.002
    x = np.maximum(LEVELS + u_x * random.standard_normal((40, 6)), 0.0)
    y = 0.01 + 0.21 * LEVELS - 0.01 * LEVELS**2 * (shape == "quadratic") + u_y * random.standard_normal((40, 6))
    found = gs.calibrate_many(x, y, shape=shape, x_uncertainty=u_x, y_uncertainty=u_y)
    assert set(found.status) == {"fitted"} and not found.status_code.any()
    for i in range(40):
        one = gs.calibrate(x[i], y[i], shape=shape, noise=gs.KnownSigma(u_y), x_uncertainty=u_x)
        se = np.sqrt(np.diag(one.covariance))
        # The promise is 1e-9 of the converged solution; a coefficient near zero against its standard error.
        assert (abs(found.coefficients[i] - one.coefficients) <= 1e-9 * np.maximum(abs(one.coefficients), se)).all()
        assert (abs(found.covariance[i] - one.covariance) <= 1e-9 * np.outer(se, se)).all()
        assert found.chi_squared[i] == pytest.approx(one.chi_squared, rel=1e-8)


def test_what_has_no_solution_says_so() -> None:
    y = np.array([[0.0, 0.1, 0.2], [0.0, np.nan, 0.2]])
    found = gs.calibrate_many([0.0, 1.0, 2.0], y, x_uncertainty=0.01, y_uncertainty=0.001)
    assert found.status.tolist() == ["fitted", "undetermined"]
    assert np.isnan(found.coefficients[1]).all() and found.coefficients[0, 1] == pytest.approx(0.1, rel=1e-12)


def test_arrays_that_do_not_go_together_are_refused() -> None:
    with pytest.raises(gs.ArgumentError, match="x_uncertainty"):
        gs.calibrate_many([0.0, 1.0, 2.0], np.zeros((2, 3)), x_uncertainty=[0.1, 0.1], y_uncertainty=0.001)
    circle: Any = "circle"
    with pytest.raises(gs.ArgumentError, match="shape"):
        gs.calibrate_many([0.0, 1.0], np.zeros((2, 2)), shape=circle, x_uncertainty=0.1, y_uncertainty=0.001)
