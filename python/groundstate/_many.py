"""Many calibrations at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from groundstate._core import _calibrate_many


@dataclass(frozen=True, eq=False, repr=False)
class ManyCalibrations:
    """Coefficients of many calibrations, as read-only arrays. Made by `calibrate_many`."""

    #: Ascending powers of concentration, shape (runs, parameters); NaN where there is no solution.
    coefficients: NDArray[np.float64]
    #: Covariance of the coefficients, shape (runs, parameters, parameters).
    covariance: NDArray[np.float64]
    #: Minimum of the sum of squares, shape (runs,).
    chi_squared: NDArray[np.float64]
    #: "fitted", "not_converged" or "undetermined", as its place in this list, shape (runs,).
    status_code: NDArray[np.uint8]

    def __post_init__(self) -> None:
        """Arrays that nobody changes behind the back of another."""
        for array in self._arrays():
            array.flags.writeable = False

    def _arrays(self) -> tuple[NDArray[Any], ...]:
        return self.coefficients, self.covariance, self.chi_squared, self.status_code

    @property
    def status(self) -> NDArray[np.str_]:
        """The status of each calibration in words."""
        return np.array(("fitted", "not_converged", "undetermined"))[self.status_code]

    def to_dict(self) -> dict[str, Any]:
        """The figures as plain lists, None where there is none, and the statuses in words."""
        told = {
            "coefficients": self.coefficients,
            "covariance": self.covariance,
            "chi_squared": self.chi_squared,
        }
        return {name: _plain(array.tolist()) for name, array in told.items()} | {"status": self.status.tolist()}

    def __len__(self) -> int:
        """How many calibrations there are."""
        return len(self.status_code)

    def __eq__(self, other: object) -> bool:
        """Whether all figures are the same, missing ones among them."""
        if not isinstance(other, ManyCalibrations):
            return NotImplemented
        pairs = zip(self._arrays(), other._arrays(), strict=True)
        return all(np.array_equal(one, two, equal_nan=True) for one, two in pairs)

    __hash__: ClassVar[None]  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        """What a pickle holds: the arrays."""
        return ManyCalibrations, self._arrays()

    def __deepcopy__(self, memo: object) -> ManyCalibrations:
        """Itself: nothing in it changes."""
        return self

    def __repr__(self) -> str:
        """How many there are, and how many of them were fitted."""
        return f"<ManyCalibrations of {len(self)}, {int((self.status_code == 0).sum())} fitted>"


def _plain(figures: Any) -> Any:
    if isinstance(figures, list):
        return [_plain(figure) for figure in figures]
    return None if figures != figures else figures


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
