"""The same fits by general-purpose libraries, in double precision.

| here | NumPy polyfit | SciPy curve_fit | SciPy linregress | statsmodels |
|---|---|---|---|---|
| noise "equal" | cov=True | absolute_sigma=False | default | OLS |
| noise "1/x" | w=1/sqrt(x), cov=True | sigma=sqrt(x) | | WLS, weights=1/x |
| noise "1/x^2" | w=1/x, cov=True | sigma=x | | WLS, weights=1/x^2 |
| RelativeSigma(s) | w=1/s, cov=True | sigma=s | | WLS, weights=1/s^2 |
| KnownSigma(u) | w=1/u, cov="unscaled" | sigma=u, absolute_sigma=True | | WLS, cov over its scale |
| coefficients, ascending | descending | as the model names them | intercept, slope | as the columns |
| standard_errors | sqrt of diag(cov) | sqrt of diag(cov) | intercept_stderr, stderr | bse |
| residual_sd | | | | sqrt(scale) |
| r_squared | | | rvalue^2 | rsquared (about zero without a constant) |

polyfit weighs the residual, not its square; its covariance carries the factor chi^2/(n - p) unless
"unscaled". Tolerances: a double-precision solution of these well-conditioned designs keeps 11 digits
(6 of the standard error for curve_fit, which iterates with a finite-difference Jacobian).
"""

from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import pytest
import statsmodels.api as sm
from scipy.optimize import curve_fit
from scipy.stats import linregress

import groundstate as gs

Array = npt.NDArray[np.float64]
DIRECT = 1e-11
ITERATED = 1e-6

# An invented zinc calibration, mg/L against absorbance, slightly curved.
X: Array = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0])
Y: Array = np.array([0.0121, 0.0236, 0.0561, 0.1119, 0.1652, 0.2177, 0.3201, 0.4168])
S: Array = np.array([0.0004, 0.0003, 0.0006, 0.0009, 0.0014, 0.0019, 0.0031, 0.0042])

NOISES: dict[str, tuple[Any, Array, bool]] = {
    "equal": ("equal", np.ones_like(X), False),
    "1/x": ("1/x", np.sqrt(X), False),
    "1/x^2": ("1/x^2", X, False),
    "relative": (gs.RelativeSigma(S), S, False),
    "known": (gs.KnownSigma(S), S, True),
}
Shape = Literal["line", "line_through_zero", "quadratic", "quadratic_through_zero"]
POWERS: dict[Shape, tuple[int, ...]] = {
    "line": (0, 1),
    "line_through_zero": (1,),
    "quadratic": (0, 1, 2),
    "quadratic_through_zero": (1, 2),
}


def design(shape: Shape) -> Array:
    return np.column_stack([X**power for power in POWERS[shape]])


def agree(found: Any, wanted: Any, tolerance: float) -> None:
    np.testing.assert_allclose(np.asarray(found), np.asarray(wanted), rtol=tolerance, atol=0)


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_numpy_polyfit(shape: Shape, noise: str) -> None:
    assumption, sigma, absolute = NOISES[noise]
    cal = gs.calibrate(X, Y, shape=shape, noise=assumption)
    scaling: Any = "unscaled" if absolute else True
    coefficients, covariance = np.polyfit(X, Y, len(POWERS[shape]) - 1, w=1 / sigma, cov=scaling)
    agree(cal.coefficients, coefficients[::-1], DIRECT)
    agree(cal.covariance, covariance[::-1, ::-1], DIRECT)


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("shape", POWERS)
def test_scipy_curve_fit(shape: Shape, noise: str) -> None:
    assumption, sigma, absolute = NOISES[noise]
    cal = gs.calibrate(X, Y, shape=shape, noise=assumption)
    powers = POWERS[shape]

    def model(x: Array, *terms: float) -> Any:
        return sum(term * x**power for term, power in zip(terms, powers, strict=True))

    start = np.ones(len(powers))
    found, covariance = curve_fit(model, X, Y, p0=start, sigma=sigma, absolute_sigma=absolute)
    errors = np.asarray(cal.standard_errors)
    np.testing.assert_array_less(np.abs(cal.coefficients - found), ITERATED * errors)
    agree(errors, np.sqrt(np.diag(covariance)), ITERATED)


def test_scipy_linregress() -> None:
    cal = gs.calibrate(X, Y)
    line = linregress(X, Y)
    agree(cal.coefficients, [line.intercept, line.slope], DIRECT)
    agree(cal.standard_errors, [line.intercept_stderr, line.stderr], DIRECT)
    agree(cal.r_squared, line.rvalue**2, DIRECT)


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("shape", POWERS)
def test_statsmodels(shape: Shape, noise: str) -> None:
    assumption, sigma, absolute = NOISES[noise]
    cal = gs.calibrate(X, Y, shape=shape, noise=assumption)
    fitted = sm.WLS(Y, design(shape), weights=sigma**-2.0).fit()
    scale = fitted.scale if absolute else 1.0
    agree(cal.coefficients, fitted.params, DIRECT)
    agree(cal.covariance, fitted.cov_params() / scale, DIRECT)
    if absolute:
        agree(cal.chi_squared, fitted.scale * fitted.df_resid, DIRECT)
    else:
        agree(cal.residual_sd, np.sqrt(fitted.scale), DIRECT)


@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_statsmodels_predicted_mean(shape: Shape) -> None:
    """Mean response and its standard error inside and outside the range."""
    cal = gs.calibrate(X, Y, shape=shape)
    at = np.array([0.02, 0.6, 2.2])
    columns = np.column_stack([at**power for power in POWERS[shape]])
    predicted = sm.OLS(Y, design(shape)).fit().get_prediction(columns)
    found = cal.absorbance(at)
    agree(found.value, predicted.predicted_mean, DIRECT)
    agree(found.u, predicted.se_mean, DIRECT)
