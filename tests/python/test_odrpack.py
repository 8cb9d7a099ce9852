"""Errors in both variables against ODRPACK (odrpack), iterated to the rounding of its own arithmetic.

Its sum of squares is that of noise=KnownSigma with independent x_uncertainty, its weights the inverse variances.
Its covariance of the coefficients is the inverse of the Gauss-Newton matrix at the adjusted points times the
residual variance: the convention "expected_information" here, which known standard uncertainties do not rescale.
"""

from typing import Any, Literal

import numpy as np
import pytest
from odrpack import odr_fit

import groundstate as gs

# ODRPACK differentiates the model analytically here and stops where its steps are lost in rounding: 1e-9 of a
# coefficient is what its convergence leaves, and of a variance that is quadratic in them.
COEFFICIENTS, COVARIANCE = 1e-8, 1e-6


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_coefficients_and_covariance(shape: Literal["line", "quadratic"], seed: int) -> None:
    random = np.random.default_rng(seed)
    true = np.linspace(0.3, 5.0, 8)
    bend = -0.006 if shape == "quadratic" else 0.0
    ux, uy = 0.01 + 0.01 * true, 0.001 + 0.004 * true * random.random(8)
    x = true + ux * random.standard_normal(8)
    y = 0.004 + true * (0.115 + bend * true) + uy * random.standard_normal(8)
    degree = 2 if shape == "quadratic" else 1

    def model(at: Any, b: Any) -> Any:
        return np.polyval(b[::-1], at)

    def by_b(at: Any, b: Any) -> Any:
        return np.array([at**k for k in range(degree + 1)])

    def by_x(at: Any, b: Any) -> Any:
        return np.polyval(np.polyder(b[::-1]), at)

    peer = odr_fit(
        model,
        x,
        y,
        np.polyfit(x, y, degree)[::-1],
        weight_x=ux**-2,
        weight_y=uy**-2,
        jac_beta=by_b,
        jac_x=by_x,
        maxit=500,
        sstol=1e-15,
        partol=1e-15,
    )
    cal = gs.calibrate(x, y, shape=shape, noise=gs.KnownSigma(uy), x_uncertainty=gs.XUncertainty(ux))
    assert cal.chi_squared == pytest.approx(peer.sum_square, rel=1e-10)
    np.testing.assert_allclose(cal.coefficients, peer.beta, rtol=COEFFICIENTS)
    np.testing.assert_allclose(cal.covariance, peer.cov_beta, rtol=COVARIANCE)
    scaled = cal.standard_errors * np.sqrt(peer.res_var)
    np.testing.assert_allclose(scaled, peer.sd_beta, rtol=COVARIANCE)
    relative = gs.calibrate(x, y, shape=shape, noise=gs.RelativeSigma(uy), x_uncertainty=gs.XUncertainty(ux))
    np.testing.assert_allclose(relative.standard_errors, peer.sd_beta, rtol=COVARIANCE)
