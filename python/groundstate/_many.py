"""Many calibrations at once."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from groundstate._core import _calibrate_many


class ManyCalibrations(NamedTuple):
    """Coefficients of many calibrations."""

    #: Ascending powers of concentration, shape (runs, parameters); NaN where there is no solution.
    coefficients: NDArray[np.float64]
    #: Covariance of the coefficients, shape (runs, parameters, parameters).
    covariance: NDArray[np.float64]
    #: Minimum of the sum of squares, shape (runs,).
    chi_squared: NDArray[np.float64]
    #: "fitted", "not_converged" or "undetermined", as its place in this list, shape (runs,).
    status_code: NDArray[np.uint8]

    @property
    def status(self) -> NDArray[np.str_]:
        """The status of each calibration in words."""
        return np.array(("fitted", "not_converged", "undetermined"))[self.status_code]


def calibrate_many(
    concentration: Any,
    absorbance: Any,
    *,
    x_uncertainty: Any,
    y_uncertainty: Any,
    shape: Literal["line", "line_through_zero", "quadratic", "quadratic_through_zero"] = "line",
    threads: int | None = None,
) -> ManyCalibrations:
    """Fits many calibrations with errors in both variables at once.

    ``absorbance`` has shape (runs, levels); ``concentration``, ``x_uncertainty`` and ``y_uncertainty``, the standard
    uncertainties of concentrations and signals, are one figure, or have shape (levels,) or (runs, levels). At most 64
    levels. The solution is that of ``calibrate(..., noise=KnownSigma(y_uncertainty), x_uncertainty=x_uncertainty)``,
    here in plain double precision to about 1e-12; that function says more about each calibration.
    """
    found = _calibrate_many(concentration, absorbance, x_uncertainty, y_uncertainty, shape, threads)
    return ManyCalibrations(*found[:4])
