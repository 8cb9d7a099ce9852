"""The compiled part. Users import these names from `groundstate`.

Numbers go in as anything that holds real numbers: Python numbers and sequences, NumPy arrays of any real dtype,
stride and byte order, masked arrays, columns of data frames. A missing number is None, NaN or masked. Numbers come
out as read-only float64 arrays, or as floats where a scalar went in.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import (
    Any,
    ClassVar,
    Literal,
    NoReturn,
    Protocol,
    Self,
    SupportsFloat,
    SupportsIndex,
    TypeAlias,
    final,
    overload,
)

import numpy as np
from numpy.typing import NDArray

from groundstate._frames import Origin
from groundstate._table import Findings, Table

class _SupportsArray(Protocol):
    def __array__(self) -> NDArray[Any]: ...

class _SupportsArrow(Protocol):
    def __arrow_c_stream__(self, requested_schema: object = None) -> object: ...

_Scalar: TypeAlias = float | np.floating[Any] | np.integer[Any]
_Numbers: TypeAlias = (
    _SupportsArray | _SupportsArrow | Sequence[SupportsFloat | None] | Sequence[Sequence[SupportsFloat | None]]
)
_Floats: TypeAlias = NDArray[np.float64]
_Shape: TypeAlias = Literal["line", "line_through_zero", "quadratic", "quadratic_through_zero", "stray_light"]
_NoiseWord: TypeAlias = Literal[
    "equal",
    "1/x",
    "1/x^2",
    "from_replicates",
    "from_replicates_floor_plus_proportional",
    "from_replicates_per_level",
]
_Kind: TypeAlias = Literal["table", "pandas", "polars", "arrow"]
_LimitMethod: TypeAlias = Literal["currie", "iso11843", "din32645"]
_Noise: TypeAlias = _NoiseWord | KnownSigma | RelativeSigma | FromReplicates

__version__: str
_BUILD: Literal["development", "release"]
_KINDS: tuple[str, ...]

# ---- errors

class GroundstateError(Exception):
    """Input that cannot be understood. The parent of every error of this library.

    `kind` is a stable word for what part of the input it is about. `problems` lists everything that is wrong, in
    order of the input; the message shows the first five.
    """

    kind: str
    problems: Sequence[Problem]

class ArgumentError(GroundstateError, ValueError):
    """An argument whose value cannot be understood. (One of the wrong type is a TypeError.)"""

class TableError(GroundstateError, ValueError):
    """A table of readings with cells or rows that cannot be understood."""

class MethodError(GroundstateError, ValueError):
    """A method, profile or reporting style that cannot be understood."""

class UnitError(GroundstateError, ValueError):
    """An unknown unit, or two units that do not go together."""

class CalibrationError(GroundstateError, ArithmeticError):
    """A calibration that cannot serve: flat, falling, or turning inside its range."""

class NotAvailableError(GroundstateError, ValueError):
    """A figure that this object cannot give."""

class WireError(GroundstateError, ValueError):
    """A serialised document that cannot be read."""

class LimitError(GroundstateError, ValueError):
    """A size or range limit of the library."""

class MissingExtraError(GroundstateError, ImportError):
    """An optional package that this function needs is not installed."""

@final
class Problem:
    """One thing wrong with the input. Unpacks to row, name, label, what, help."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, row: int | None, name: str | None, label: str | None, what: str, help: str | None) -> Self: ...
    @property
    def row(self) -> int | None:
        """Row of a table, counted from 1 below the header; None outside a table."""
    @property
    def name(self) -> str | None:
        """Name of the argument, column or key."""
    @property
    def label(self) -> str | None:
        """Label of the sample, standard or run concerned."""
    @property
    def what(self) -> str:
        """What is wrong."""
    @property
    def help(self) -> str | None:
        """What to do about it, if the library can tell."""
    def __iter__(self) -> Iterator[Any]: ...
    def __getnewargs__(self) -> tuple[int | None, str | None, str | None, str, str | None]: ...
    def __eq__(self, other: object, /) -> bool: ...

# ---- findings

@final
class Finding:
    """Something the library noticed: a stable code, how much it matters, and a sentence."""

    @property
    def code(self) -> str:
        """The stable name, in snake_case."""
    @property
    def severity(self) -> Literal["note", "caution", "fail"]:
        """How much it matters."""
    @property
    def subject(self) -> str:
        """What it is about."""
    @property
    def sentence(self) -> str:
        """The finding in one sentence."""
    @property
    def citation(self) -> str | None:
        """The rule it follows: document, edition and clause; None where it follows none."""
    @property
    def facts(self) -> dict[str, float | int | str]:
        """The figures and words of the sentence by name."""
    def to_dict(self) -> dict[str, Any]:
        """Code, severity, subject, sentence, citation and facts by name."""
    def __reduce__(self) -> tuple[Any, tuple[str]]: ...
    def __eq__(self, other: object, /) -> bool: ...

# ---- calibration

@final
class Stock:
    """The stock solution that all standards were made from.

    Its relative error reaches every result undiminished. The same name is the same solution, in this calibration and in
    any other.

    Args:
        name: name of the solution.
        relative_u: relative standard uncertainty of its concentration.
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, name: str, relative_u: float) -> Self: ...
    @property
    def name(self) -> str:
        """Name of the solution."""
    @property
    def relative_u(self) -> float:
        """Relative standard uncertainty of its concentration."""
    def __getnewargs__(self) -> tuple[str, float]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class XUncertainty:
    """Errors of the standards' concentrations: independent ones, parts that all share, or a full covariance.

    Args:
        u: standard uncertainty of each standard, independent of the others, in the unit of the concentrations; one
            figure or one a standard (or level).
        shared: the relative standard uncertainty of one stock that this calibration alone knows; or a mapping
            {"stock:name": relative standard uncertainty}: each is a source of every result under that key, the same
            one as `Stock(name)` and as the stock of that name in any other calibration.
        covariance: the covariance matrix of the concentrations, shape (standards, standards), in place of both.
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(
        cls,
        u: _Scalar | _Numbers | None = None,
        shared: float | Mapping[str, float] | None = None,
        covariance: _Numbers | None = None,
    ) -> Self: ...
    @property
    def u(self) -> float | NDArray[np.float64] | None:
        """Independent standard uncertainties as they were given."""
    @property
    def shared(self) -> float | dict[str, float] | None:
        """Relative standard uncertainty of the unnamed stock, or those of named stocks by their keys."""
    @property
    def covariance(self) -> NDArray[np.float64] | None:
        """The covariance matrix as it was given."""
    def __getnewargs_ex__(self) -> tuple[tuple[Any, ...], dict[str, Any]]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class KnownSigma:
    """Standard deviations of single readings, known, in units of the signal.

    Chi-squared is reported and never used to rescale; degrees of freedom are infinite.

    Args:
        u: one figure for all points, one a level, or one a reading (of the shape of the absorbance).
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, u: _Scalar | _Numbers) -> Self: ...
    @property
    def u(self) -> float | _Floats:
        """The standard deviations as they were given."""
    def __getnewargs__(self) -> tuple[float | _Floats]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class RelativeSigma:
    """Standard deviations known up to one common factor, which is estimated from the residuals.

    These are not relative standard deviations.

    Args:
        sigma: one figure for all points, one a level, or one a reading (of the shape of the absorbance).
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, sigma: _Scalar | _Numbers) -> Self: ...
    @property
    def sigma(self) -> float | _Floats:
        """The standard deviations as they were given."""
    def __getnewargs__(self) -> tuple[float | _Floats]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class FromReplicates:
    """Standard deviations estimated from the replicate readings of each standard.

    They lack the standards' own error, so what follows from them is repeatability.

    Args:
        model: how the scatter of replicates becomes a standard deviation at each level.
        at_least: the fewest readings that a level may have under "per_level".
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(
        cls, model: Literal["pooled", "floor_plus_proportional", "per_level"] = "pooled", *, at_least: int = 6
    ) -> Self: ...
    @property
    def model(self) -> Literal["pooled", "floor_plus_proportional", "per_level"]:
        """How the scatter of replicates becomes a standard deviation at each level."""
    @property
    def at_least(self) -> int | None:
        """Fewest readings a level may have under "per_level"; None under the other models."""
    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, int]]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class FTest:
    """An F test."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, statistic: float, p: float, numerator_dof: float, denominator_dof: float) -> Self: ...
    @property
    def statistic(self) -> float:
        """Ratio of mean squares; infinite where the denominator is zero."""
    @property
    def p(self) -> float:
        """Probability of a ratio at least as large if the tested effect is not there."""
    @property
    def numerator_dof(self) -> float:
        """Degrees of freedom of the numerator."""
    @property
    def denominator_dof(self) -> float:
        """Degrees of freedom of the denominator."""
    def __getnewargs__(self) -> tuple[float, float, float, float]: ...
    def __eq__(self, other: object, /) -> bool: ...

def calibrate(
    concentration: _Scalar | _Numbers,
    absorbance: _Scalar | _Numbers,
    *,
    shape: _Shape = "line",
    noise: _Noise = "equal",
    points: Literal["readings", "standards"] = "readings",
    zero: Literal["leave_out"] | float | None = None,
    zeroing: Literal["raw", "blank_subtracted", "autozeroed"] = "raw",
    zero_u: float | None = None,
    unit: str = "mg/L",
    resolution: float | None = None,
    stock: Stock | Sequence[Stock] | None = None,
    x_uncertainty: XUncertainty | _Scalar | _Numbers | None = None,
    convention: Literal["expected_information", "observed_information", "first_order_propagation"] = (
        "expected_information"
    ),
    allow: Literal["flagged"] | None = None,
) -> Calibration:
    """Fit a calibration function to standards, exactly to the last digit or two.

    Args:
        concentration: concentrations in `unit`, shape (readings,) or (levels,).
        absorbance: signals, shape (readings,); or (levels, replicates), NaN where a reading is missing.
        shape: a closed list; a third-order curve is not offered.
        noise: what is assumed of the scatter, a word or KnownSigma, RelativeSigma, FromReplicates.
        points: fit one point a reading, or one a poured standard (the mean of its readings). A 1-D absorbance then
            has the readings of one concentration taken as those of one standard.
        zero: None fits the zero level as a point (an error where the noise model has no weight for it), "leave_out"
            leaves it out, a concentration is the floor of weights 1/x and 1/x^2.
        zeroing: how the signals were zeroed.
        zero_u: standard uncertainty of that zero, in units of the signal.
        unit: unit of the concentrations.
        resolution: smallest step of the signal, in units of the signal.
        stock: the stock solution, or solutions, that all standards share.
        x_uncertainty: errors of the concentrations beside the stock's: an XUncertainty; or standard uncertainties,
            independent, one figure or one a standard; or a covariance matrix, shape (standards, standards).
        convention: which covariance of the coefficients a fit with such errors reports.
        allow: "flagged" gives a curve that does not rise, or turns in its range, with a finding instead of an error.

    Returns:
        The calibration, with covariance, diagnostics and findings.

    Raises:
        ArgumentError: figures or words that cannot be understood, or too few levels for the shape.
        UnitError: an unknown unit.
        CalibrationError: the curve does not rise or turns inside its range, and `allow` does not admit it.

    Source:
        Least squares by JCGM 100:2008, H.3; the pages on shapes and noise name the rest.

    Example:
        >>> import groundstate as gs
        >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
        >>> cal
        <Calibration line, noise equal, 5 readings, 0.5 to 3 mg/L: y = (0.00124 ± 0.00063) + (0.20991 ± 0.00037) x>
    """

@final
class Calibration:
    """A calibration function y = f(x) with its covariance, range and findings. Made by `calibrate`.

    Equal to another when made from the same points in the same way. Arrays of points are in the order of the fitted
    points, which a zero level that was left out is not among.
    """

    @property
    def id(self) -> str:
        """Identity: a hash of points and options, 16 hexadecimal digits."""
    @property
    def shape(self) -> _Shape:
        """Shape of the function."""
    @property
    def noise(self) -> str:
        """Name of the noise model."""
    @property
    def points(self) -> Literal["readings", "standards"]:
        """What the points are."""
    @property
    def unit(self) -> str:
        """Unit of the concentrations."""
    @property
    def point_concentrations(self) -> _Floats:
        """Concentrations of the points, shape (points,)."""
    @property
    def point_signals(self) -> _Floats:
        """Signals of the points, shape (points,)."""
    @property
    def point_readings(self) -> NDArray[np.uint32]:
        """How many readings each signal is the mean of, shape (points,)."""
    @property
    def weights(self) -> _Floats:
        """Weights of the points, inverse variances for unit scale, shape (points,)."""
    @property
    def coefficients(self) -> _Floats:
        """Fitted coefficients in ascending powers; a through-zero shape has no intercept to list."""
    @property
    def covariance(self) -> _Floats:
        """Covariance of the coefficients, shape (coefficients, coefficients)."""
    @property
    def standard_errors(self) -> _Floats:
        """Standard errors of the coefficients."""
    @property
    def residual_sd(self) -> float | None:
        """Residual standard deviation of a point of unit weight; None without degrees of freedom."""
    @property
    def chi_squared(self) -> float | None:
        """Chi-squared of the residuals where their standard deviations are known; otherwise None."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of the variance that the standard errors rest on; infinite where it is known."""
    @property
    def residual_dof(self) -> int:
        """Points less coefficients."""
    @property
    def r_squared(self) -> float | None:
        """Coefficient of determination of the kind that `r_squared_kind` names; None where all signals are equal."""
    @property
    def r_squared_kind(self) -> Literal["about_mean", "about_zero"] | None:
        """What it is about. The kind about zero, of through-zero shapes, is large whatever the fit."""
    @property
    def correlation(self) -> float | None:
        """Correlation coefficient of the unweighted line with a free intercept; otherwise None."""
    @property
    def percent_error(self) -> _Floats:
        """Percent error of each point, shape (points,); NaN at the zero level and beyond the curve."""
    @property
    def rse(self) -> float | None:
        """Relative standard error in percent over the points above zero; None without degrees of freedom."""
    @property
    def aicc(self) -> float | None:
        """Akaike's information criterion, corrected for few points; None where it is not defined."""
    @property
    def lowest(self) -> float:
        """Lowest non-zero standard used."""
    @property
    def top(self) -> float:
        """Top standard used."""
    @property
    def turning_point(self) -> float | None:
        """Concentration at which the curve turns; None for a line."""
    @property
    def ceiling(self) -> float | None:
        """Highest signal that a concentration belongs to; None where there is no such bound."""
    @property
    def characteristic_concentration(self) -> float | None:
        """Concentration of 1 % absorption, 0.0044 over the slope at zero; None where that is not positive."""
    @property
    def residuals(self) -> _Floats:
        """Signal less the curve, shape (points,)."""
    @property
    def studentised_residuals(self) -> _Floats:
        """Residuals over their own standard deviations, shape (points,); NaN where a leverage is one."""
    @property
    def leverages(self) -> _Floats:
        """How much of each signal its own fitted value holds, shape (points,)."""
    @property
    def cooks_distances(self) -> _Floats:
        """Cook's distances, shape (points,)."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def lack_of_fit(self) -> FTest | None:
        """Lack of fit against the scatter of points of the same concentration; None without such points."""
    def mandel(self) -> FTest | None:
        """Mandel's test of the quadratic term; None where a quadratic would leave no degree of freedom."""
    def is_monotonic(self) -> bool:
        """Whether the slope keeps its sign over the range."""
    def serves(self) -> bool:
        """Whether it can turn readings into concentrations."""
    def _repr_html_(self) -> str:
        """For notebooks."""
    @overload
    def concentration(
        self,
        absorbance: _Scalar,
        replicates: _Scalar | None = None,
        *,
        reading_u: _Scalar | None = None,
        scatter: Literal["calibration", "own"] = "calibration",
    ) -> Estimate: ...
    @overload
    def concentration(
        self,
        absorbance: _Numbers,
        replicates: _Scalar | _Numbers | None = None,
        *,
        reading_u: _Scalar | _Numbers | None = None,
        scatter: Literal["calibration", "own"] = "calibration",
    ) -> Estimates:
        """Turn readings into concentrations.

        Args:
            absorbance: a number or shape (samples,), one (mean) signal a sample; or (samples, readings), NaN where a
                reading is missing: the mean of each row counts, and its number of readings. A sample without a reading
                has the status "no_reading".
            replicates: how many readings each signal is the mean of, one figure or one a sample; 1 when not given. An
                error with a table, where readings are counted.
            reading_u: standard uncertainty of each signal as passed, in units of the signal, not divided again; it
                replaces the noise model's.
            scatter: "own" takes the scatter of a sample from its own readings, on one less degree of freedom than
                readings.

        Returns:
            An Estimate for a number, otherwise Estimates, in the unit of the calibration. A signal beyond the curve has
            a status and no value; one outside the standards has both.

        Raises:
            ArgumentError: counts or uncertainties that do not go with the signals.

        Source:
            JCGM 100:2008, 5.1.2 and 5.2.2: coefficients with their covariance, and the reading.

        Example:
            >>> import groundstate as gs
            >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
            >>> cal.concentration(0.2871, replicates=3)
            <Estimate 1.3618 ± 0.0031 mg/L>
        """
    def simulate(
        self,
        absorbance: _Scalar | _Numbers,
        replicates: _Scalar | _Numbers | None = None,
        *,
        seed: int,
        reading_u: _Scalar | _Numbers | None = None,
        trials: int | Literal["adaptive"] = "adaptive",
        tolerance: float | None = None,
        coverage: float = 0.95,
        distributions: dict[str, str | tuple[str, float]] | None = None,
        standards_relative_u: float = 0.0,
        scatter: Literal["t", "normal"] = "t",
        threads: int | None = None,
        progress: Callable[[int, int], bool | None] | None = None,
    ) -> Simulation:
        """Simulate the concentrations of readings by Monte Carlo, the standards included.

        Args:
            absorbance, replicates, reading_u: as for `concentration`.
            seed, trials, tolerance, coverage, distributions, standards_relative_u, scatter, threads, progress: as for
                `groundstate.simulate`.

        Raises:
            ArgumentError, LimitError, KeyboardInterrupt.

        Source:
            JCGM 101:2008, sections 6 to 8.
        """
    def concentration_into(
        self,
        absorbance: _Scalar | _Numbers,
        *,
        value: NDArray[np.float64] | None = None,
        u: NDArray[np.float64] | None = None,
        lo: NDArray[np.float64] | None = None,
        hi: NDArray[np.float64] | None = None,
        status: NDArray[np.uint8] | None = None,
        coverage: float = 0.95,
        replicates: _Scalar | _Numbers | None = None,
        threads: int | None = None,
    ) -> None:
        """Turn readings into concentrations, into arrays of the caller; those given are filled.

        absorbance: one (mean) signal a sample, of at most two dimensions; not copied when it is C-contiguous float64.
        value, u, lo, hi, status: C-contiguous arrays of its shape, of which no two share memory. The figures are bit
            for bit those of ``concentration(absorbance, replicates)`` and of its ``interval(coverage)``: the delta
            interval, value plus and minus t times u, t the Student quantile for the degrees of freedom of u. status
            holds codes as `Estimates.status_code`. Where new arrays are needed each time, rows of one, as of
            ``numpy.empty((3, n))``, are quicker than several.
        replicates: how many readings each signal is the mean of, one figure or one a sample; 1 when not given.
        threads: how many work; all processors when not given, where there are many readings. They change no bit.
        """
    @overload
    def absorbance(self, concentration: _Scalar) -> Response: ...
    @overload
    def absorbance(self, concentration: _Numbers) -> Responses:
        """Mean signal at a concentration, with the standard uncertainty of the curve there.

        Args:
            concentration: a number, or shape (n,), in the unit of the calibration.

        Returns:
            A Response for a number, otherwise Responses, in units of the signal.

        Raises:
            ArgumentError: a concentration that is missing or not finite.
        """
    def refit(
        self,
        *,
        shape: _Shape | None = None,
        noise: _Noise | None = None,
        exclude: Sequence[int] | None = None,
        zero: Literal["leave_out"] | float | None = None,
        allow: Literal["flagged"] | None = None,
    ) -> Calibration:
        """The same points fitted another way: a new calibration. None keeps what is.

        Args:
            shape: another shape.
            noise: another noise model.
            exclude: indices of points to leave out, as in `residuals`; the findings say so.
            zero: another choice for the zero level, as for `calibrate`: weights 1/x need one.
            allow: "flagged" gives a curve that does not serve, with findings, instead of raising.

        Raises:
            ArgumentError: an index that is none, or too few points left.
            CalibrationError: the new curve does not rise or turns inside its range.
        """
    def to_dict(self) -> dict[str, Any]:
        """Points, options and figures as plain lists and words; None where a figure is absent."""
    def __eq__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
    def __copy__(self) -> Self: ...
    def __deepcopy__(self, _memo: object) -> Self: ...
    def __reduce__(self) -> tuple[Any, tuple[dict[str, Any]]]: ...

@final
class Response:
    """Mean signal at one concentration."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, value: float, u: float, dof: float) -> Self: ...
    @property
    def value(self) -> float:
        """Signal."""
    @property
    def u(self) -> float:
        """Its standard uncertainty, from the coefficients alone."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of u."""
    def __getnewargs__(self) -> tuple[float, float, float]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class Responses:
    """Mean signals at several concentrations. A sequence of Response."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

    def __new__(cls, value: Sequence[float], u: Sequence[float], dof: Sequence[float]) -> Self: ...
    @property
    def value(self) -> _Floats:
        """Signals, shape (n,)."""
    @property
    def u(self) -> _Floats:
        """Their standard uncertainties, from the coefficients alone, shape (n,)."""
    @property
    def dof(self) -> _Floats:
        """Degrees of freedom of u, shape (n,)."""
    def __len__(self) -> int: ...
    def __getitem__(self, at: SupportsIndex, /) -> Response: ...
    def __iter__(self) -> Iterator[Response]: ...
    def __getnewargs__(self) -> tuple[list[float], list[float], list[float]]: ...

# ---- estimates

class Uncertain:
    """What Estimate and Estimates have in common: they are no bare numbers.

    Comparison, arithmetic and conversion to a bare array raise TypeError, because they would drop uncertainty and
    correlation in silence.
    """

    __array_ufunc__: ClassVar[None]
    def __array__(self, _dtype: object = None, _copy: object = None) -> NoReturn: ...
    def __copy__(self) -> Self: ...
    def __deepcopy__(self, _memo: object) -> Self: ...

@final
class Estimate(Uncertain):
    """One estimate: value, standard uncertainty, degrees of freedom, status."""

    @property
    def value(self) -> float:
        """Value in `unit`; NaN exactly where the status has no value."""
    @property
    def u(self) -> float:
        """Standard uncertainty in `unit`; NaN where there is no value or no degree of freedom."""
    @property
    def dof(self) -> float:
        """Effective degrees of freedom; infinite where u is known."""
    @property
    def status(self) -> str:
        """One of in_range, below_lowest, above_top, beyond_curve, negative, no_reading, not_calibrated, saturated."""
    @property
    def status_code(self) -> int:
        """Place of the status in that list."""
    @property
    def unit(self) -> str:
        """Unit of value and standard uncertainty."""
    @property
    def findings(self) -> Findings:
        """What was noticed of the readings that it was estimated with."""
    @property
    def contributions(self) -> Contributions:
        """The contributions of independent sources, one row."""
    def interval(self, coverage: float = 0.95, method: Literal["delta", "inversion"] = "delta") -> Interval:
        """Coverage interval; see `Estimates.interval`.

        Args:
            coverage: coverage probability, above 0 and below 1.
            method: "delta" or "inversion".
        """
    def budget(self) -> list[BudgetLine]:
        """The uncertainty budget, largest share first; a calibration's coefficients are one line."""
    def is_close(self, other: Estimate | Estimates, *, rtol: float = 1e-9) -> bool:
        """Whether status and unit are the same and numbers agree within the relative tolerance.

        Args:
            other: what it is compared with.
            rtol: relative tolerance of value, u and degrees of freedom.
        """
    def same_as(self, other: Estimate | Estimates) -> bool:
        """Whether status and unit are the same and numbers agree to the last bit.

        Args:
            other: what it is compared with.
        """
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words; None where a figure is absent."""
    def to_uncertainties(self, sources: dict[str, Any] | None = None) -> Any:
        """The number of the package uncertainties. Degrees of freedom are lost.

        Args:
            sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
                numbers of different results are correlated as they are here.

        Raises:
            MissingExtraError: the package uncertainties is not installed.
        """
    def _repr_html_(self) -> str:
        """For notebooks."""
    def __reduce__(self) -> tuple[Any, tuple[Any, int]]: ...

@final
class Estimates(Uncertain):
    """Estimates in one unit, with the sources of uncertainty that they share. A sequence of Estimate."""

    @property
    def value(self) -> _Floats:
        """Values in `unit`, shape (n,); NaN exactly where the status has no value."""
    @property
    def u(self) -> _Floats:
        """Standard uncertainties in `unit`, shape (n,); NaN where there is no value or no degree of freedom."""
    @property
    def dof(self) -> _Floats:
        """Effective degrees of freedom, shape (n,); infinite where u is known."""
    @property
    def status(self) -> NDArray[np.str_]:
        """Statuses in words, shape (n,); see `Estimate.status`."""
    @property
    def status_code(self) -> NDArray[np.uint8]:
        """Statuses as numbers, shape (n,)."""
    @property
    def unit(self) -> str:
        """Unit of values and standard uncertainties."""
    @property
    def findings(self) -> Findings:
        """What was noticed of the readings as a whole."""
    @property
    def contributions(self) -> Contributions:
        """The contributions of independent sources that all uncertainty follows from; worked out when asked for."""
    def interval(self, coverage: float = 0.95, method: Literal["delta", "inversion"] = "delta") -> Intervals:
        """Coverage intervals.

        Args:
            coverage: coverage probability, above 0 and below 1.
            method: "delta", value plus and minus t times u; or "inversion", all values that a test at this coverage
                does not reject (Fieller's set for the line), which may be a half-line, everything but a gap, or every
                value.

        Raises:
            ArgumentError: a coverage out of range.
            NotAvailableError: inversion of anything but concentrations read from a curve.

        Source:
            JCGM 100:2008, 6.2 and G.3; Fieller, J. R. Stat. Soc. B 16 (1954) 175.
        """
    def covariance(self) -> _Floats:
        """Covariance matrix through shared sources, shape (n, n), in the unit squared.

        Raises:
            LimitError: above 4000 x 4000.

        Source:
            JCGM 100:2008, 5.2.2 and F.1.2.3.
        """
    def budget(self, i: SupportsIndex) -> list[BudgetLine]:
        """The uncertainty budget of one estimate, largest share first; a calibration's coefficients are one line.

        Args:
            i: place of the estimate; negative ones count from the end.

        Raises:
            IndexError: there is no such estimate.
        """
    def is_close(self, other: Estimate | Estimates, *, rtol: float = 1e-9) -> bool:
        """Whether statuses and unit are the same and numbers agree within the relative tolerance.

        Args:
            other: what it is compared with.
            rtol: relative tolerance of value, u and degrees of freedom.
        """
    def same_as(self, other: Estimate | Estimates) -> bool:
        """Whether statuses and unit are the same and numbers agree to the last bit.

        Args:
            other: what it is compared with.
        """
    def to_dict(self) -> dict[str, Any]:
        """Plain lists and words; None where a figure is absent."""
    def to_frame(self, kind: _Kind | None = None) -> Any:
        """A table of value, standard_uncertainty, degrees_of_freedom, status and unit.

        Args:
            kind: "pandas", "polars", "arrow" or "table"; that which the numbers came in when not given, with the index
                of pandas, and a `Table` where they came as arrays or lists.

        Raises:
            MissingExtraError: the library of that kind is not installed.
        """
    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """The same as an Arrow stream; made by pyarrow or polars."""
    def to_uncertainties(self, sources: dict[str, Any] | None = None) -> list[Any]:
        """Correlated numbers of the package uncertainties, one an estimate. Degrees of freedom are lost.

        Args:
            sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
                numbers of different results are correlated as they are here.

        Raises:
            MissingExtraError: the package uncertainties is not installed.
        """
    def _repr_html_(self) -> str:
        """For notebooks."""
    def __len__(self) -> int: ...
    @overload
    def __getitem__(self, at: SupportsIndex, /) -> Estimate: ...
    @overload
    def __getitem__(self, at: slice, /) -> Estimates: ...
    def __iter__(self) -> Iterator[Estimate]: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

@final
class Interval:
    """The set of values that a coverage interval holds. One finite piece unpacks: `lo, hi = interval`."""

    @property
    def lo(self) -> float:
        """Lower end, minus infinity where there is none. Of "outside", the lower end of the gap; of "empty", NaN."""
    @property
    def hi(self) -> float:
        """Upper end, infinite where there is none. Of "outside", the upper end of the gap; of "empty", NaN."""
    @property
    def kind(self) -> Literal["between", "below", "above", "outside", "whole", "empty"]:
        """What the set looks like; "outside" is everything but a gap."""
    @property
    def ends(self) -> tuple[str, str]:
        """Why it ends where it does: "crossed", "turning_point", "plateau" or "unbounded"."""
    @property
    def coverage(self) -> float:
        """Coverage probability."""
    @property
    def method(self) -> Literal["delta", "inversion"]:
        """How it was made."""
    def to_dict(self) -> dict[str, Any]:
        """Bounds, kind and why it ends there by name."""
    def _repr_html_(self) -> str:
        """For notebooks."""
    def __str__(self) -> str:
        """The set in words, its ends rounded for reading."""
    def __contains__(self, value: float, /) -> bool: ...
    def __iter__(self) -> Iterator[float]:
        """The two ends; NotAvailableError, which describes the set, where it is not one finite piece."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

@final
class Intervals:
    """Coverage intervals, one an estimate. A sequence of Interval."""

    @property
    def lo(self) -> _Floats:
        """Lower ends, shape (n,); see `Interval`."""
    @property
    def hi(self) -> _Floats:
        """Upper ends, shape (n,); see `Interval`."""
    @property
    def kind(self) -> NDArray[np.str_]:
        """Kinds, shape (n,); see `Interval`."""
    @property
    def ends(self) -> NDArray[np.str_]:
        """Why each ends where it does, shape (n, 2); see `Interval`."""
    @property
    def coverage(self) -> float:
        """Coverage probability."""
    @property
    def method(self) -> Literal["delta", "inversion"]:
        """How they were made."""
    def to_frame(self, kind: _Kind | None = None) -> Any:
        """A table of lo, hi, kind, lower_end and upper_end.

        Args:
            kind: "pandas", "polars", "arrow" or "table"; that which the numbers came in when not given, with the index
                of pandas, and a `Table` where they came as arrays or lists.

        Raises:
            MissingExtraError: the library of that kind is not installed.
        """
    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """The same as an Arrow stream; made by pyarrow or polars."""
    def to_dict(self) -> dict[str, Any]:
        """Bounds, kinds and why they end there as plain lists."""
    def _repr_html_(self) -> str:
        """For notebooks."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...
    def __len__(self) -> int: ...
    def __getitem__(self, at: SupportsIndex, /) -> Interval: ...
    def __iter__(self) -> Iterator[Interval]: ...

@final
class BudgetLine:
    """One line of an uncertainty budget: a source, or the coefficients of one calibration together."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, source: str, kind: str, u: float, share: float, dof: float) -> Self: ...
    @property
    def source(self) -> str:
        """Name of the source; the same name is the same quantity, wherever it occurs."""
    @property
    def kind(self) -> str:
        """What kind of thing it is: calibration, zero, reading, stock, level, volume, mass, solids, factor, drift."""
    @property
    def u(self) -> float:
        """Standard uncertainty that it contributes, in the unit of the value."""
    @property
    def share(self) -> float:
        """Its share of the variance, 0 to 1."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of its variance estimate; may be infinite."""
    def __getnewargs__(self) -> tuple[str, str, float, float, float]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class Contributions:
    """Signed contributions c = (d value / d source) u(source) of independent sources, one row an estimate.

    They are all the uncertainty there is: u squared is the sum of c squared, a covariance the sum of products over
    common sources.
    """

    def to_dict(self) -> dict[str, Any]:
        """The sources, and the contributions of each row."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def sources(self) -> list[str]:
        """Names of the sources. The same name is the same quantity, wherever it occurs."""
    def row(self, i: SupportsIndex) -> dict[str, float]:
        """The contributions of a row by source, in the unit of the estimates.

        Args:
            i: place of the row; negative ones count from the end.

        Raises:
            IndexError: there is no such row.
        """
    def covariance(self, i: SupportsIndex, j: SupportsIndex) -> float:
        """Covariance of two rows through the sources they share, in the unit squared.

        Args:
            i, j: places of the rows; negative ones count from the end.

        Raises:
            IndexError: there is no such row.

        Source:
            JCGM 100:2008, F.1.2.3.
        """
    def __len__(self) -> int: ...

# ---- preparation

@final
class Measured:
    """A positive quantity (a mass, a volume, a fraction) with its standard uncertainty.

    A named item keeps the same unknown error wherever it is used, so results that share it are correlated. The
    repeatability is new each time and is never shared.

    Args:
        value: the value.
        u: standard uncertainty of what it was measured with, in the unit of the value.
        dof: degrees of freedom of u.
        repeatability: standard deviation that each use brings anew, in the unit of the value.
        repeatability_dof: degrees of freedom of the repeatability.
        item: name of what it was measured with.

    Raises:
        ArgumentError: a value that is not positive, or an uncertainty that is negative.

    Source:
        JCGM 100:2008, 4.2 and 4.3; a common item as in F.1.2.3.
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(
        cls,
        value: float,
        u: float = 0.0,
        *,
        dof: float = ...,
        repeatability: float = 0.0,
        repeatability_dof: float = ...,
        item: str | None = None,
    ) -> Self: ...
    @property
    def value(self) -> float:
        """The value."""
    @property
    def u(self) -> float:
        """Standard uncertainty of what it was measured with, in the unit of the value."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of u; infinite where it is known."""
    @property
    def repeatability(self) -> float:
        """Standard deviation that each use brings anew, in the unit of the value."""
    @property
    def repeatability_dof(self) -> float:
        """Degrees of freedom of the repeatability."""
    @property
    def item(self) -> str | None:
        """Name of what it was measured with; None where it has none."""
    def __getnewargs_ex__(self) -> tuple[tuple[float, float], dict[str, Any]]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class Factor:
    """A further factor that results are multiplied by, for example for recovery.

    A named factor is one quantity for all who name it; an unnamed one is new with every portion.

    Args:
        value: the factor, above zero.
        u: its standard uncertainty.
        name: its name.
        dof: degrees of freedom of u.

    Raises:
        ArgumentError: a factor that is not positive, or an uncertainty that is negative.
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(cls, value: float, u: float = 0.0, name: str | None = None, *, dof: float = ...) -> Self: ...
    @property
    def value(self) -> float:
        """The factor."""
    @property
    def u(self) -> float:
        """Its standard uncertainty."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of u."""
    @property
    def name(self) -> str | None:
        """Its name; None where it has none."""
    def __getnewargs_ex__(self) -> tuple[tuple[float, float, str | None], dict[str, float]]: ...
    def __eq__(self, other: object, /) -> bool: ...

_Quantity: TypeAlias = _Scalar | Measured

@final
class Preparation:
    """What was done to one portion of a sample, from weighing or measuring it to the solution that was aspirated.

    Every contradiction and every open question is reported at once, as one ArgumentError.

    Args:
        mass_g: the portion of a solid, in g.
        volume_ml: the portion of a liquid, in mL. Without either, the sample is the solution itself.
        final_volume_ml: what the portion was made up to, in mL.
        dilution: a factor; a chain of (aliquot_ml, flask_ml); or text such as "5/50;10/100", "1:5", "1+4".
        percent_solids: of a solid, per cent of dry matter in the sample as received. It enters at most once.
        weighed: of a solid, the state it was weighed in. There is no default.
        report: of a solid, what the result refers to. There is no default.
        extra: further factors.
        mass_g_u, volume_ml_u, final_volume_ml_u, percent_solids_u: standard uncertainties in the unit of the figure,
            where that is a plain number and not Measured.
        dilution_relative_u: relative standard uncertainty of each step of the dilution.

    Source:
        SW-846 Method 7000B, 12.1.1 and 12.1.2; Method 6010D, 12.2; EPA 200.7, 12.

    Example:
        >>> import groundstate as gs
        >>> gs.Preparation(mass_g=1.25, final_volume_ml=100, dilution="5/50", weighed="dry", report="dry")
        <Preparation multiplier 800.0, mg/L to mg/kg>
    """

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    def __new__(
        cls,
        *,
        mass_g: _Quantity | None = None,
        volume_ml: _Quantity | None = None,
        final_volume_ml: _Quantity | None = None,
        dilution: _Quantity | Sequence[_Quantity | tuple[_Quantity, _Quantity]] | str | None = None,
        percent_solids: _Quantity | None = None,
        weighed: Literal["wet", "dry"] | None = None,
        report: Literal["as_received", "dry"] | None = None,
        extra: Factor | Sequence[Factor] | None = None,
        mass_g_u: _Scalar | None = None,
        volume_ml_u: _Scalar | None = None,
        final_volume_ml_u: _Scalar | None = None,
        dilution_relative_u: _Scalar | None = None,
        percent_solids_u: _Scalar | None = None,
    ) -> Self: ...
    @property
    def multiplier(self) -> float:
        """What a concentration in the measured solution is multiplied by, before any change of unit."""
    @property
    def multiplier_u(self) -> float:
        """Standard uncertainty of the multiplier."""
    @property
    def unit(self) -> str:
        """Unit of the result of a solution measured in mg/L."""
    @property
    def findings(self) -> Findings:
        """What a reader of the result should know of its preparation."""
    @overload
    def apply(
        self, estimates: Estimate, unit: str | None = None, *, portions: Literal["one", "each"] = "one"
    ) -> Estimate: ...
    @overload
    def apply(
        self, estimates: Estimates, unit: str | None = None, *, portions: Literal["one", "each"] = "one"
    ) -> Estimates:
        """Estimates of the measured solution turned into results of the sample.

        Args:
            estimates: concentrations in the measured solution.
            unit: of the results; mg/kg for a solid measured in mg/L when not given, and so on.
            portions: "one", all estimates are of one portion and share its masses and volumes; "each", every estimate
                is of a portion of its own that was prepared in this way. The uncertainties are the same, the
                covariances are not. Named items and factors are shared in both.

        Raises:
            UnitError: a unit that this kind of sample cannot have.

        Source:
            JCGM 100:2008, 5.1.2 and 5.1.6.
        """
    def __getnewargs_ex__(self) -> tuple[tuple[()], dict[str, Any]]: ...
    def __eq__(self, other: object, /) -> bool: ...

# ---- small samples

@final
class Replicates:
    """Mean and scatter of repeated readings of one thing."""

    def __new__(cls, n: int, mean: float, sd: float | None) -> Self: ...
    @property
    def n(self) -> int:
        """How many readings."""
    @property
    def mean(self) -> float:
        """Arithmetic mean, in the unit of the readings."""
    @property
    def sd(self) -> float | None:
        """Standard deviation on n - 1 degrees of freedom, in the unit of the readings; None from one reading."""
    @property
    def rsd(self) -> float | None:
        """Standard deviation in percent of the size of the mean; None from one reading or about a mean of zero."""
    @property
    def standard_error(self) -> float | None:
        """Standard deviation of the mean; None from one reading."""
    @property
    def dof(self) -> float:
        """Degrees of freedom of the standard deviation."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures."""
    def __getnewargs__(self) -> tuple[int, float, float | None]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class OutlierTest:
    """What an outlier test says of the value that stands out most. Nothing is ever dropped by it."""

    def __new__(
        cls,
        test: str,
        n: int,
        side: str,
        alpha: float,
        index: int,
        value: float,
        statistic: float,
        critical: float,
        p: float,
        significant: bool,
    ) -> Self: ...
    @property
    def test(self) -> Literal["grubbs", "dixon", "generalized_esd"]:
        """Which test."""
    @property
    def n(self) -> int:
        """How many values were looked at."""
    @property
    def side(self) -> Literal["both", "low", "high"]:
        """Which end was looked at."""
    @property
    def alpha(self) -> float:
        """Level of significance."""
    @property
    def index(self) -> int:
        """Place of the value, counted from 0."""
    @property
    def value(self) -> float:
        """The value."""
    @property
    def statistic(self) -> float:
        """The test's statistic; 0 where all values are equal."""
    @property
    def critical(self) -> float:
        """What the statistic must exceed."""
    @property
    def p(self) -> float:
        """Probability of such a statistic or a larger one among normal values, by the bound of the critical value."""
    @property
    def significant(self) -> bool:
        """Whether the statistic exceeds the critical value."""
    @property
    def citation(self) -> str:
        """Where the test stands."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __getnewargs__(self) -> tuple[str, int, str, float, int, float, float, float, float, bool]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class ExtremeDeviates:
    """What the test for several outliers says. Made by `generalized_esd`. Nothing is ever dropped by it."""

    def __new__(cls, steps: Sequence[OutlierTest], outliers: Sequence[int]) -> Self: ...
    @property
    def steps(self) -> list[OutlierTest]:
        """One step for each outlier looked for: the value farthest from the mean of what the earlier steps left."""
    @property
    def outliers(self) -> list[int]:
        """Places of the outliers, the most extreme first: all steps up to the last significant one."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __getnewargs__(self) -> tuple[list[OutlierTest], list[int]]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class Robust:
    """A robust mean and standard deviation. Made by `robust`."""

    def __new__(cls, method: str, mean: float, sd: float, winsorised: int, steps: int) -> Self: ...
    @property
    def method(self) -> Literal["algorithm_a", "huber"]:
        """Which method."""
    @property
    def mean(self) -> float:
        """The robust mean, in the unit of the values."""
    @property
    def sd(self) -> float:
        """The robust standard deviation, in the unit of the values."""
    @property
    def winsorised(self) -> int:
        """How many values were pulled in to the limits at the last step."""
    @property
    def steps(self) -> int:
        """How many steps were taken."""
    @property
    def citation(self) -> str:
        """Where the method stands."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __getnewargs__(self) -> tuple[str, float, float, int, int]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class VarianceTest:
    """What a test of equal variances says. Made by `variance_homogeneity`."""

    def __new__(
        cls,
        test: str,
        statistic: float,
        critical: float,
        p: float,
        dof: tuple[float, float | None],
        index: int | None,
        significant: bool,
        alpha: float,
    ) -> Self: ...
    @property
    def test(self) -> Literal["f_ratio", "cochran", "bartlett", "levene"]:
        """Which test."""
    @property
    def statistic(self) -> float:
        """The test's statistic; infinite where a variance of zero is divided by."""
    @property
    def critical(self) -> float:
        """What the statistic must exceed."""
    @property
    def p(self) -> float:
        """Probability of such a statistic or a larger one when the variances are equal."""
    @property
    def dof(self) -> tuple[float, float | None]:
        """Degrees of freedom of the reference distribution: two of F, one of chi-squared."""
    @property
    def index(self) -> int | None:
        """The set with the largest variance, counted from 0, where the test points at one."""
    @property
    def significant(self) -> bool:
        """Whether the statistic exceeds the critical value."""
    @property
    def alpha(self) -> float:
        """Level of significance."""
    @property
    def citation(self) -> str:
        """Where the test stands."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __getnewargs__(
        self,
    ) -> tuple[str, float, float, float, tuple[float, float | None], int | None, bool, float]: ...
    def __eq__(self, other: object, /) -> bool: ...

def replicates(values: _Numbers) -> Replicates:
    """Mean, standard deviation and relative standard deviation of repeated readings.

    Args:
        values: readings in one unit, shape (n,).

    Raises:
        ArgumentError: there is no reading, or one is missing: leave it out.

    Source:
        JCGM 100:2008, 4.2.

    Example:
        >>> import groundstate as gs
        >>> gs.replicates([0.2871, 0.2862, 0.2880])
        <Replicates n = 3, mean and SD 0.28710 ± 0.00090>
    """

def grubbs(
    values: _Numbers, alpha: float = 0.05, two_sided: bool = True, *, side: Literal["high", "low"] | None = None
) -> OutlierTest:
    """Grubbs' test for one outlier: the largest distance from the mean in standard deviations.

    At most once: repeated on what remains it no longer keeps its level. `generalized_esd` looks for several.

    Args:
        values: at least 3 values in one unit, shape (n,).
        alpha: level of significance.
        two_sided: whether either end is looked at.
        side: the end that a one-sided test looks at; "high" when not given.

    Raises:
        ArgumentError: too few values, one that is missing, or a level that is none.

    Source:
        NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1; F. E. Grubbs, Technometrics 11 (1969) 1.

    Example:
        >>> import groundstate as gs
        >>> gs.grubbs([3.08, 3.09, 3.11, 3.12, 3.02, 2.51]).significant
        True
    """

def dixon(
    values: _Numbers, alpha: float = 0.05, two_sided: bool = True, *, side: Literal["high", "low"] | None = None
) -> OutlierTest:
    """Dixon's test for one outlier with r10, the gap at an end over the range.

    Args:
        values: 3 to 30 values in one unit, shape (n,).
        alpha: level of significance.
        two_sided: whether either end is looked at.
        side: the end that a one-sided test looks at; "high" when not given.

    Raises:
        ArgumentError: too few or too many values, one that is missing, or a level that is none.

    Source:
        W. J. Dixon, Ann. Math. Statist. 21 (1950) 488; D. B. Rorabacher, Anal. Chem. 63 (1991) 139.

    Example:
        >>> import groundstate as gs
        >>> gs.dixon([3.08, 3.09, 3.11, 3.12, 3.02, 2.51])
        <OutlierTest dixon, value 2.51 at 5: 0.8361 against 0.6275, significant>
    """

def generalized_esd(values: _Numbers, most: int, alpha: float = 0.05) -> ExtremeDeviates:
    """Rosner's generalized extreme Studentized deviate test for several outliers, at either end.

    The level is accurate from 25 values on and fair from 15. Each step has n and p of what the earlier steps left.

    Args:
        values: values in one unit, shape (n,).
        most: how many outliers are looked for, from 1 to n - 2.
        alpha: level of significance.

    Raises:
        ArgumentError: fewer than 3 values, one that is missing, too many outliers, or a level that is none.

    Source:
        NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.3; B. Rosner, Technometrics 25 (1983) 165.

    Example:
        >>> import groundstate as gs
        >>> gs.generalized_esd([3.08, 3.09, 3.11, 3.12, 3.02, 3.10, 3.07, 2.51], most=2).outliers
        [7]
    """

def robust(
    values: _Numbers, method: Literal["algorithm_a", "huber"] = "algorithm_a", *, k: float | None = None
) -> Robust:
    """A mean and standard deviation that a few wild values hardly move.

    Args:
        values: at least 3 values in one unit, shape (n,).
        method: algorithm_a: mean and standard deviation by Algorithm A of ISO 13528. huber: Huber's mean with the scale
            held at the median absolute deviation.
        k: of huber: how many scales from the mean a value is pulled in; 1.5 when not given.

    Raises:
        ArgumentError: too few values, one that is missing, an unknown method, or k for Algorithm A.

    Source:
        ISO 13528:2022, annex C (from memory); Analytical Methods Committee, Analyst 114 (1989) 1693.

    Example:
        >>> import groundstate as gs
        >>> gs.robust([3.08, 3.09, 3.11, 3.12, 3.02, 3.10, 3.07, 2.51]).winsorised
        1
    """

def mad(values: _Numbers, *, scale: Literal["normal", "none"] = "normal") -> float:
    """Median absolute deviation from the median, in the unit of the values.

    Args:
        values: values in one unit, shape (n,).
        scale: normal: times 1.4826, so that it estimates the standard deviation of normal values. none: as it is.

    Raises:
        ArgumentError: no values, one that is missing, or an unknown scale.

    Example:
        >>> import groundstate as gs
        >>> gs.mad([1.0, 2.0, 3.0, 4.0, 9.0], scale="none")
        1.0
    """

def median(values: _Numbers) -> float:
    """The middle value, or the mean of the two in the middle.

    Args:
        values: values in one unit, shape (n,).

    Raises:
        ArgumentError: no values, or one that is missing.
    """

def variance_homogeneity(
    sets: Sequence[_Numbers] | _SupportsArray,
    test: Literal["f_ratio", "cochran", "bartlett", "levene"],
    alpha: float = 0.05,
) -> VarianceTest:
    """Whether sets of readings have one variance.

    Args:
        sets: one array of readings each.
        test: f_ratio: two sets, the larger variance over the smaller against the upper alpha point of F (ISO 8466-1:
            lowest and highest standard, alpha 0.01). cochran: one variance that is too large, sets of one size.
            bartlett: normal readings. levene: about the medians, three readings or more a set.
        alpha: level of significance.

    Raises:
        ArgumentError: too few sets or readings, one that is missing, sizes that the test does not take.

    Source:
        ISO 8466-1:1990 and ISO 5725-2:2019 (from memory); NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.7 and
        1.3.5.10.

    Example:
        >>> import groundstate as gs
        >>> gs.variance_homogeneity([[1.0, 1.1, 0.9, 1.0], [2.0, 2.9, 1.1, 2.2]], "f_ratio", 0.01).significant
        True
    """

# ---- limits

@final
class NonDetect:
    """The class of `ND`, the non-detect: a state of its own, never 0 and never missing."""

    def __new__(cls) -> Self: ...
    def __bool__(self) -> NoReturn: ...
    def __reduce__(self) -> str: ...

ND: NonDetect

_Result: TypeAlias = float | str | NonDetect | MdlResult | None
#: Results one by one, or a table with a row for each.
_Results: TypeAlias = Sequence[_Result | Mapping[str, Any]] | Mapping[str, Any] | _SupportsArray

@final
class MdlResult:
    """One result of a spiked sample or a method blank, with what is known of it.

    Args:
        value: a number, ND or its text, or None where it is missing.
        batch: preparation batch.
        prepared_on, analysed_on: dates, YYYY-MM-DD or a date.
        instrument: instrument it was measured on.
        spike_level: concentration spiked, in the unit of the results.
        label: the laboratory's name of the preparation.
        excluded: (reason, by whom) or (reason, by whom, date) of a documented gross failure.

    Raises:
        ArgumentError: a date or text that cannot be understood.
    """

    def __new__(
        cls,
        value: float | str | NonDetect | None,
        *,
        batch: str | None = None,
        prepared_on: object = None,
        analysed_on: object = None,
        instrument: str | None = None,
        spike_level: float | None = None,
        label: str | None = None,
        excluded: tuple[str, str] | tuple[str, str, object] | None = None,
    ) -> Self: ...
    @property
    def value(self) -> float | NonDetect | None:
        """A number, ND, or None where it is missing."""
    @property
    def batch(self) -> str | None:
        """Preparation batch."""
    @property
    def prepared_on(self) -> str | None:
        """Date of preparation."""
    @property
    def analysed_on(self) -> str | None:
        """Date of analysis."""
    @property
    def instrument(self) -> str | None:
        """Instrument it was measured on."""
    @property
    def spike_level(self) -> float | None:
        """Concentration spiked, in the unit of the results."""
    @property
    def label(self) -> str | None:
        """The laboratory's name of the preparation."""
    @property
    def excluded(self) -> tuple[str, str, str | None] | None:
        """Why it was left out as a gross failure, who did so, and when where that is known."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words; a non-detect is "ND"."""
    def __getnewargs_ex__(self) -> tuple[tuple[Any], dict[str, Any]]: ...
    def __eq__(self, other: object, /) -> bool: ...

@final
class MdlPart:
    """What one part of a method detection limit rests on."""
    def __new__(
        cls,
        value: float | None,
        mean: float | None,
        sd: float | None,
        t: float | None,
        numeric: int,
        nondetects: int,
        missing: int,
        excluded: int,
        outcome: str,
    ) -> Self: ...
    def __getnewargs__(self) -> tuple[Any, ...]: ...
    @property
    def value(self) -> float | None:
        """The part of the limit; None where it could not be had or does not apply."""
    @property
    def mean(self) -> float | None:
        """Mean of the numbers."""
    @property
    def sd(self) -> float | None:
        """Standard deviation of the numbers."""
    @property
    def t(self) -> float | None:
        """Student's t that it rests on."""
    @property
    def numeric(self) -> int:
        """Numbers of either sign."""
    @property
    def nondetects(self) -> int:
        """Non-detects."""
    @property
    def missing(self) -> int:
        """Missing results, removed before anything was computed."""
    @property
    def excluded(self) -> int:
        """Results left out as documented gross failures."""
    @property
    def outcome(self) -> str:
        """What came of the spikes, or how the blanks were used."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...

@final
class Requirement:
    """One requirement on the data of a limit."""
    def __new__(cls, rule: str, state: str, required: str, found: str, citation: str) -> Self: ...
    def __getnewargs__(self) -> tuple[str, str, str, str, str]: ...
    @property
    def rule(self) -> str:
        """Stable name."""
    @property
    def state(self) -> str:
        """One of met, not_met, not_evaluated (the facts were not given), advice."""
    @property
    def required(self) -> str:
        """What is required, or advised."""
    @property
    def found(self) -> str:
        """What was found, in words."""
    @property
    def citation(self) -> str:
        """Where it stands."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...

@final
class Mdl:
    """A method detection limit with its parts and the requirements on its data."""

    @property
    def value(self) -> float | None:
        """The greater of the two parts, in the unit of the results; None when it could not be had."""
    @property
    def from_spikes(self) -> float | None:
        """MDL_S, t s of the spikes."""
    @property
    def from_blanks(self) -> float | None:
        """MDL_b, from the method blanks; None where it does not apply."""
    @property
    def spikes(self) -> MdlPart:
        """What MDL_S rests on."""
    @property
    def blanks(self) -> MdlPart:
        """What MDL_b rests on."""
    @property
    def spike_results(self) -> list[MdlResult]:
        """Every spike that it was computed from, those left out among them."""
    @property
    def blank_results(self) -> list[MdlResult]:
        """Every method blank that it was computed from, those left out among them."""
    @property
    def branch(self) -> str:
        """How MDL_b was found."""
    @property
    def decided_by(self) -> Literal["spikes", "blanks"] | None:
        """Which part the limit is; the spikes when both are equal."""
    @property
    def basis(self) -> str:
        """What it may be called: design_met, design_not_met, design_incomplete, computed_from_values."""
    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % interval of the limit where the spikes decide it; informative."""
    @property
    def design(self) -> list[Requirement]:
        """Every requirement on the data, with its state."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def _repr_html_(self) -> str:
        """For notebooks."""
    def record(
        self,
        *,
        method: str = "",
        title: str = "",
        analyte: str = "",
        unit: str = "",
        matrix: str = "",
        determined_on: object = None,
        determined_by: str | None = None,
        remarks: str | None = None,
    ) -> MdlRecord:
        """The record that has to be kept of the limit (section III): what the laboratory says of it, the mean levels
        spiked and recovered, the data, the computation, and the ground of every exclusion."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

@final
class MdlRecord:
    """The record of a method detection limit. Made by `Mdl.record`."""

    @staticmethod
    def from_json(text: str) -> MdlRecord:
        """The record in a JSON document. Its limit is computed again: a document whose figures do not follow from its
        results and choices is refused."""
    def to_json(self, *, compact: bool = False) -> str:
        """The record as a JSON document (groundstate.mdl_record/1) from which anybody can compute the limit again."""
    def to_dict(self) -> dict[str, Any]:
        """The members of the JSON document."""
    @property
    def text(self) -> str:
        """The record as plain text, in full precision; also `str(record)`."""
    @property
    def value(self) -> float | None:
        """The limit."""
    @property
    def mean_spiked(self) -> float | None:
        """Mean level spiked; None where no spike has one."""
    @property
    def mean_recovered(self) -> float | None:
        """Mean level found, of the spikes that gave a number."""
    @property
    def results(self) -> list[MdlResult]:
        """Every result, those left out among them."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl(
    spikes: _Results,
    blanks: _Results,
    *,
    t: Literal["exact", "printed_table"] = "exact",
    rank_tie: Literal["half_up", "half_even"] = "half_up",
    many_blanks: Literal["at_least_100", "more_than_100"] = "at_least_100",
    numeric_blanks: Literal["mean_plus_ts", "percentile"] = "mean_plus_ts",
    percentile: Literal["rank", "interpolated"] = "rank",
    initial_estimate: float | None = None,
    as_of: object = None,
) -> Mdl:
    """The method detection limit of 40 CFR 136, Appendix B, Revision 2: initial determination.

    The limit is in sample units at the nominal mass, volume and dilution.

    Args:
        spikes, blanks: results in one unit: plain values, `MdlResult`, or a table with a row each, as a mapping of
            columns, a list of mappings or a data frame. Columns: value (a number, ND or empty), nondetect (true or
            false), batch, prepared_on, analysed_on, instrument, spike_level, label, and of documented gross failures
            excluded (the reason), excluded_by, excluded_on. ND (or the text "ND") is a non-detect; None and NaN are
            missing, removed and counted. Of plain values the design is "not evaluated" and the figure is called
            computed from values.
        t: Student's t computed, or the three decimals of the printed table.
        rank_tie, many_blanks, percentile: of 100 blanks or more, where the rule takes the 99th percentile: which way a
            halfway rank goes; whether "more than 100" or "n >= 100" holds; the blank at rank 0.99 n, or the
            interpolated percentile of spreadsheets. What was used is among the findings.
        numeric_blanks: what to use for 100 blanks or more that are all numeric.
        initial_estimate: for the advice on the spiking level.
        as_of: day the limit is computed for, YYYY-MM-DD or a date.

    Raises:
        ArgumentError: results, dates or words that cannot be understood.
        TableError: cells of a table that cannot be understood, every one of them.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, sections I and II; what follows II(2)(b) from memory.

    Example:
        >>> import groundstate as gs
        >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
        >>> gs.mdl(spikes, [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003])
        <Mdl 1.4836e-3 from the spikes, computed from values>
    """

def minimum_level(mdl: _Scalar | Mdl | None = None, *, s: float | None = None) -> float:
    """The minimum level of quantitation, to the nearest 1, 2 or 5 times a power of ten.

    Args:
        mdl: a method detection limit of seven spikes, a figure or an Mdl that has one; its level is 3.18 times it.
        s: in its place the standard deviation of any number of spikes; the level is ten times it, which 3.18 stands for
            with seven.

    Returns:
        The level, in the unit of the limit.

    Raises:
        ArgumentError: a limit that is not positive, or an Mdl without a value.

    Source:
        EPA Method 1631, Revision E, 17.12; EPA Method 1638 (1996), table 1.

    Example:
        >>> import groundstate as gs
        >>> gs.minimum_level(0.0021)
        0.005
    """

@final
class MdlEstimate:
    """An estimate of a limit before its determination. Made by `mdl_estimate`."""

    @property
    def value(self) -> float:
        """The estimate, in the unit of the results; no limit, nothing is reported by it."""
    @property
    def basis(self) -> Literal["method_blanks", "spiked_blanks"]:
        """How it was made."""
    @property
    def spike_levels(self) -> tuple[float, float]:
        """Lowest and highest spiking level advised: 2 and 10 times the estimate."""
    @property
    def citation(self) -> str:
        """Where it stands."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl_estimate(
    results: _Numbers, *, basis: Literal["method_blanks", "spiked_blanks"] = "method_blanks"
) -> MdlEstimate:
    """An initial estimate of a method detection limit, for choosing the spiking level.

    A signal-to-noise ratio of 3 to 5 at the instrument, or a former limit, serves as well.

    Args:
        results: results in one unit, shape (n,).
        basis: method_blanks: mean plus three standard deviations of blanks. spiked_blanks: three standard deviations of
            replicate measurements of spiked blanks.

    Raises:
        ArgumentError: fewer than two results, one that is missing, or an estimate that is not above 0.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, II(1).

    Example:
        >>> import groundstate as gs
        >>> gs.mdl_estimate([0.0010, -0.0010, 0.0000])
        <MdlEstimate 3.0000e-3, spike 6.0000e-3 to 3.0000e-2>
    """

@final
class MdlQuarter:
    """One instrument in one quarter of an ongoing plan."""

    def __new__(
        cls, quarter: str, instrument: str, spikes: int, batches: int, missing: int, until: str, state: str
    ) -> Self: ...
    def __getnewargs__(self) -> tuple[Any, ...]: ...
    @property
    def quarter(self) -> str:
        """The quarter, such as 2025-Q1."""
    @property
    def instrument(self) -> str:
        """The instrument."""
    @property
    def spikes(self) -> int:
        """Spikes measured in it."""
    @property
    def batches(self) -> int:
        """Batches that these were prepared in, as far as given."""
    @property
    def missing(self) -> int:
        """Spikes still missing, each in a batch of its own."""
    @property
    def until(self) -> str:
        """Last day to run them."""
    @property
    def state(self) -> Literal["complete", "due", "missed", "not_evaluated", "idle"]:
        """How it stands; "not_evaluated" where batches are not given."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...

@final
class MdlPlan:
    """The spikes of each quarter on each instrument, and what is missing. Made by `mdl_ongoing_plan`."""

    @property
    def quarters(self) -> list[MdlQuarter]:
        """Every instrument in every quarter."""
    @property
    def due(self) -> list[MdlQuarter]:
        """Those in which spikes have to be run now."""
    @property
    def findings(self) -> Findings:
        """Quarters missed or not evaluated, and results that could not be placed."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl_ongoing_plan(
    spikes: _Results,
    *,
    instruments: Sequence[str],
    first: str,
    as_of: object,
    level: float | None = None,
    idle: Sequence[tuple[str, str]] = (),
) -> MdlPlan:
    """Which spikes were run in each calendar quarter on each instrument that shares a limit, and which are missing.

    Each instrument needs two spikes in separate batches in every quarter in which samples are run on it.

    Args:
        spikes: results as for `mdl`.
        instruments: names of the instruments that share the limit.
        first: first quarter after the determination, such as "2025-Q1".
        as_of: the day the plan is drawn up, YYYY-MM-DD or a date.
        level: spiking level of the determination; spikes of another do not count.
        idle: (instrument, quarter) in which no samples were run.

    Raises:
        ArgumentError: results, dates, quarters or instruments that cannot be understood.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).

    Example:
        >>> import groundstate as gs
        >>> spikes = [gs.MdlResult(0.021, batch="B7", instrument="AA-1", analysed_on="2025-02-11")]
        >>> gs.mdl_ongoing_plan(spikes, instruments=["AA-1"], first="2025-Q1", as_of="2025-05-02").quarters
        [<MdlQuarter 2025-Q1 AA-1: missed, 1 missing>, <MdlQuarter 2025-Q2 AA-1: due, 2 missing>]
    """

@final
class MdlSpikingLevel:
    """Whether a spiking level still serves. Made by `mdl_spiking_level`."""

    @property
    def decision(self) -> Literal["keep", "raise", "not_evaluated"]:
        """What follows; "raise" means a higher level and a new determination."""
    @property
    def spikes(self) -> int:
        """Spikes looked at."""
    @property
    def failing(self) -> int:
        """Those that gave no number above 0."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl_spiking_level(spikes: _Results) -> MdlSpikingLevel:
    """Whether more than 5 % of the spikes of a year gave no number above 0, so that their level has to be raised.

    Args:
        spikes: results as for `mdl`.

    Raises:
        ArgumentError: results that cannot be understood.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).

    Example:
        >>> import groundstate as gs
        >>> gs.mdl_spiking_level([0.021, 0.019, gs.ND, 0.020])
        <MdlSpikingLevel raise: 1 of 4 spikes fail>
    """

@final
class MdlJoining:
    """A new instrument in a group that shares a limit. Made by `mdl_joining_instrument`."""

    @property
    def decision(self) -> Literal["validated", "redetermine", "not_evaluated"]:
        """Whether the existing limit holds on it too."""
    @property
    def instrument(self) -> str:
        """The instrument."""
    @property
    def spikes(self) -> int:
        """Spikes measured on it."""
    @property
    def blanks(self) -> int:
        """Blanks measured on it."""
    @property
    def blanks_at_or_above(self) -> int:
        """Those of its blanks that are at or above the existing limit."""
    @property
    def pooled(self) -> MdlPart:
        """MDL_S of the whole group, the new spikes among them."""
    @property
    def ratio(self) -> float | None:
        """Pooled MDL_S over the existing limit; from 0.5 to 2.0 it holds."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl_joining_instrument(
    existing: _Scalar | Mdl,
    spikes: _Results,
    blanks: _Results,
    *,
    instrument: str,
    t: Literal["exact", "printed_table"] = "exact",
) -> MdlJoining:
    """Whether the limit of a group of instruments also holds on one that joins it.

    Its blanks (two or more) have to be below the limit, and MDL_S of all spikes within 0.5 to 2.0 times it.

    Args:
        existing: the limit in use.
        spikes, blanks: results of the group and of the newcomer, with their instruments, as for `mdl`.
        instrument: the newcomer.
        t: Student's t computed, or the three decimals of the printed table.

    Raises:
        ArgumentError: results or a limit that cannot be understood.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).
    """

@final
class LloqVerification:
    """A lower limit of quantitation and whether it holds. Made by `lloq_verification`."""

    @property
    def verdict(self) -> Literal["met", "not_met", "not_evaluated"]:
        """All requirements together."""
    @property
    def rule(self) -> str:
        """Whose rule."""
    @property
    def citation(self) -> str:
        """Where it stands."""
    @property
    def lloq(self) -> float:
        """The limit."""
    @property
    def recoveries(self) -> list[float | None]:
        """Recovery of each sample in percent; None for a non-detect or a missing result."""
    @property
    def mean_recovery(self) -> float | None:
        """Mean recovery in percent, of the samples that gave a number."""
    @property
    def rsd(self) -> float | None:
        """Relative standard deviation in percent."""
    @property
    def requirements(self) -> list[Requirement]:
        """Every requirement with its state."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def lloq_verification(
    lloq: float,
    found: _Results,
    *,
    rule: Literal["sw846_7000b", "sw846_6010d", "sw846_8000d"] = "sw846_7000b",
    spiked: float | None = None,
    lowest_standard: float | None = None,
    lcs: tuple[float, float] | None = None,
) -> LloqVerification:
    """Judge samples spiked at a lower limit of quantitation and taken through the whole method.

    A non-detect at the limit is a failure.

    Args:
        lloq: the limit.
        found: results as for `mdl`.
        rule: sw846_7000b: each recovers 70 to 130 %. sw846_6010d: at least seven, mean recovery 65 to 135 %, relative
            standard deviation below 20 %. sw846_8000d: spiked at 0.5 to 2 times the limit, each within the limits of
            the control sample widened by 20.
        spiked: concentration spiked, the limit itself when not given.
        lowest_standard: the lowest standard above zero, which the limit must not lie below.
        lcs: of sw846_8000d: limits of the control sample in percent.

    Raises:
        ArgumentError: concentrations, results or words that cannot be understood.

    Source:
        SW-846 Methods 7000B, 10.2.3; 6010D; 8000D, 9.7.

    Example:
        >>> import groundstate as gs
        >>> gs.lloq_verification(0.1, [0.071, 0.13], lowest_standard=0.1)
        <LloqVerification 0.1 by sw846_7000b: met>
    """

@final
class Idl:
    """An instrument detection limit by a named recipe. Made by `idl`. No method detection limit."""

    @property
    def value(self) -> float | None:
        """The limit in the unit of the readings; None when a standard deviation could not be had."""
    @property
    def definition(self) -> str:
        """Stable name of the recipe's definition: idl_7000b, idl_6010d, idl_200."""
    @property
    def title(self) -> str:
        """The limit in words."""
    @property
    def citation(self) -> str:
        """Where the recipe stands."""
    @property
    def standard_deviations(self) -> list[float]:
        """Standard deviations that it was made of, one for each day."""
    @property
    def mean_used(self) -> float | None:
        """The mean that entered it, 0 when negative; None where no mean does."""
    @property
    def requirements(self) -> list[Requirement]:
        """Every requirement with its state."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def idl(
    readings: _Numbers,
    *,
    recipe: Literal["sw846_7000b", "sw846_6010d", "epa_200"],
    dates: Sequence[object] | None = None,
) -> Idl:
    """The instrument detection limit of readings of a blank. There is no default recipe: they differ threefold.

    Args:
        readings: readings in concentration; of sw846_7000b of shape (days, readings), of the others (n,). NaN is a
            missing reading.
        recipe: sw846_7000b: the average of the standard deviations of seven readings on each of three days that do not
            follow one another. sw846_6010d: mean (0 when negative) plus three standard deviations of ten readings.
            epa_200: three standard deviations.
        dates: of sw846_7000b: the days, YYYY-MM-DD or dates.

    Raises:
        ArgumentError: readings, dates or words that cannot be understood.

    Source:
        SW-846 Methods 7000B, 9.3, and 6010D, 9.3; EPA Methods 200.7 and 200.9 (from memory).

    Example:
        >>> import groundstate as gs
        >>> gs.idl([0.002, 0.001, 0.003, 0.002, 0.001, 0.002, 0.003, 0.002, 0.001, 0.003], recipe="sw846_6010d")
        <Idl 4.4495e-3, instrument detection limit (6010D)>
    """

@final
class CurrieLevels:
    """Critical level, detection limit and quantification limit of a net signal. Made by `currie_levels`."""

    @property
    def critical(self) -> float:
        """L_C: a net result above it is a detection. The rule of decision."""
    @property
    def detection(self) -> float:
        """L_D: a true net value at it is detected with probability 1 - beta. Results are not compared with it."""
    @property
    def quantitation(self) -> float:
        """L_Q: a true net value at it has a relative standard deviation of 1/k."""
    @property
    def sigma0(self) -> float:
        """Standard deviation of the net signal at zero."""
    @property
    def dof(self) -> float:
        """Its degrees of freedom; infinite where it is known."""
    @property
    def detection_interval(self) -> tuple[float, float] | None:
        """95 % interval of L_D where sigma is estimated; None where it is known."""
    @property
    def citation(self) -> str:
        """Where the levels are defined."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def currie_levels(
    s: float | None = None,
    *,
    dof: float | None = None,
    blank: Literal["well_known", "paired"] | int = "well_known",
    blanks: _Numbers | None = None,
    alpha: float = 0.05,
    beta: float = 0.05,
    readings: int = 1,
    k: float = 10.0,
) -> CurrieLevels:
    """Currie's three levels, in the unit of the standard deviation: signal or concentration.

    Args:
        s: standard deviation of one reading of a blank.
        dof: its degrees of freedom; none where it is known: 1.645, 3.29 and 10 s of a well-known blank, 2.33, 4.65
            and 14.1 s of a paired one.
        blank: what a sample is compared with: a well-known blank, its own (paired), or the mean of so many readings.
        blanks: readings of blanks in place of s, dof and blank; their mean is what a sample is compared with.
        alpha: probability of a false detection.
        beta: probability of missing L_D.
        readings: how many readings a sample's signal is the mean of.
        k: reciprocal of the relative standard deviation at L_Q.

    Raises:
        ArgumentError: a standard deviation that is not positive, probabilities or counts that are none, blanks that do
            not scatter.

    Source:
        L. A. Currie, Pure Appl. Chem. 67 (1995) 1699 (from memory).

    Example:
        >>> import groundstate as gs
        >>> gs.currie_levels(1.0, blank="paired")
        <CurrieLevels L_C 2.3262e0, L_D 4.6523e0, L_Q 1.4142e1>
    """

@final
class CalibrationLimit:
    """A limit that follows from a calibration, with the definition that it follows.

    It rests on readings of standards or blanks, not on samples that went through the procedure: no method detection
    limit. Two limits under one short name may differ by a factor of ten; read `definition` and `role`.
    """

    @property
    def value(self) -> float | None:
        """The limit in `unit`, for the measured solution; None when there is none, which a finding explains."""
    @property
    def unit(self) -> str:
        """Unit of the calibration."""
    @property
    def method(self) -> _LimitMethod:
        """Whose definition it follows."""
    @property
    def definition(self) -> str:
        """Stable name of the definition."""
    @property
    def title(self) -> str:
        """The limit in words."""
    @property
    def role(self) -> Literal["decision", "detection", "quantitation"]:
        """Whether it decides on a result, describes what is found, or says from where on a figure is a figure."""
    @property
    def citation(self) -> str:
        """Where the definition stands."""
    @property
    def signal(self) -> float | None:
        """The signal that belongs to it: of a critical value, that above which a signal speaks against a blank."""
    @property
    def sd_at_zero(self) -> float:
        """Standard deviation of a signal at zero less the curve (or the mean of the blanks) there, in the signal's
        unit."""
    @property
    def dof(self) -> float:
        """Its degrees of freedom."""
    @property
    def factor(self) -> float:
        """What the standard deviation is multiplied with: t, the noncentrality, the sum of two t, k, or k t."""
    @property
    def alpha(self) -> float:
        """Probability of a false detection."""
    @property
    def beta(self) -> float | None:
        """Probability of missing the detection limit; None where it does not enter."""
    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % interval of a detection limit, as its standard deviation is an estimate; None of other limits, and
        where the degrees of freedom are infinite."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def critical_value(
    calibration: Calibration,
    *,
    method: _LimitMethod = "currie",
    alpha: float | None = None,
    replicates: int = 1,
    preparations: int = 1,
    reading_u: float | None = None,
    blanks: _Numbers | None = None,
) -> CalibrationLimit:
    """The least concentration found that speaks against a blank: Currie's L_C, the critical value of ISO 11843-2, the
    Nachweisgrenze of DIN 32645.

    Args:
        calibration: the calibration that the sample is read from.
        method: whose definition it follows.
        alpha: probability that a blank is taken for a sample; 0.05, for DIN 0.01, when not given.
        replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
        reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
        blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
            calibration lends its slope alone.

    Raises:
        ArgumentError: a probability or number out of range.

    Source:
        L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; ISO 11843-2; DIN 32645 (formulas from memory).

    Example:
        >>> import groundstate as gs
        >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
        >>> gs.critical_value(cal)
        <CalibrationLimit 1.2296e-2 mg/L, critical level (Currie)>
    """

def detection_limit(
    calibration: Calibration,
    *,
    method: _LimitMethod = "currie",
    alpha: float | None = None,
    beta: float | None = None,
    replicates: int = 1,
    preparations: int = 1,
    reading_u: float | None = None,
    blanks: _Numbers | None = None,
) -> CalibrationLimit:
    """The least true concentration that is found with probability 1 - beta: Currie's L_D, the minimum detectable
    value of ISO 11843-2, the Erfassungsgrenze of DIN 32645.

    It describes the measurement; no result is compared with it.

    Args:
        calibration: the calibration that samples are read from.
        method: whose definition it follows.
        alpha: probability that a blank is taken for a sample; 0.05, for DIN 0.01, when not given.
        beta: probability that a sample at the limit is taken for a blank; as alpha when not given.
        replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
        reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
        blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
            calibration lends its slope alone.

    Raises:
        ArgumentError: a probability or number out of range.

    Source:
        L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; ISO 11843-2; DIN 32645 (formulas from memory).

    Example:
        >>> import groundstate as gs
        >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
        >>> gs.detection_limit(cal)
        <CalibrationLimit 2.3284e-2 mg/L, detection limit (Currie)>
    """

def quantitation_limit(
    calibration: Calibration,
    *,
    method: Literal["currie", "din32645"] = "currie",
    alpha: float | None = None,
    k: float | None = None,
    replicates: int = 1,
    preparations: int = 1,
    reading_u: float | None = None,
    blanks: _Numbers | None = None,
) -> CalibrationLimit:
    """The least concentration with a stated relative uncertainty: Currie's L_Q, the Bestimmungsgrenze of DIN 32645.

    Args:
        calibration: the calibration that samples are read from.
        method: whose definition it follows; ISO 11843 has no such limit.
        alpha: significance of DIN's interval; 0.01 when not given.
        k: reciprocal of that uncertainty; 10, for DIN 3 (of the half-width of the interval), when not given.
        replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
        reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
        blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
            calibration lends its slope alone.

    Raises:
        ArgumentError: a probability or number out of range.
        NotAvailableError: a definition that has no such limit.

    Source:
        L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; DIN 32645 (formulas from memory).

    Example:
        >>> import groundstate as gs
        >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
        >>> gs.quantitation_limit(cal)
        <CalibrationLimit 5.1848e-2 mg/L, quantification limit (Currie)>
    """

@final
class MdlVerification:
    """The verification of an existing method detection limit. Made by `mdl_verification`."""

    @property
    def decision(self) -> Literal["may_keep", "adopt", "redetermine", "undecided"]:
        """What follows; `reasons` says why."""
    @property
    def reasons(self) -> list[str]:
        """Every ground of the decision."""
    @property
    def why(self) -> str:
        """The grounds in words."""
    @property
    def limit(self) -> float | None:
        """The limit that holds when nobody decides otherwise; None where it is undecided or to be determined anew."""
    @property
    def existing(self) -> float:
        """The limit in use."""
    @property
    def as_of(self) -> str:
        """The day of the verification."""
    @property
    def verified(self) -> float | None:
        """The limit of the data looked at; None when it could not be had."""
    @property
    def from_spikes(self) -> float | None:
        """MDL_S of the data looked at."""
    @property
    def from_blanks(self) -> float | None:
        """MDL_b of the data looked at; None where it does not apply."""
    @property
    def spikes(self) -> MdlPart:
        """What MDL_S rests on."""
    @property
    def blanks(self) -> MdlPart:
        """What MDL_b rests on."""
    @property
    def design(self) -> list[Requirement]:
        """Every requirement on the data, with its state."""
    @property
    def ratio(self) -> float | None:
        """Verified over existing limit; from 0.5 to 2.0 it may be kept."""
    @property
    def blanks_above(self) -> tuple[int, int]:
        """Blanks with a number above the existing limit, and blanks looked at."""
    @property
    def blanks_taken(self) -> str:
        """Which rule picked the blanks: undated, twenty_four_months, six_months, fifty_latest."""
    @property
    def left_out(self) -> dict[str, int]:
        """What was left out of the data, and how many results of each: too_old, before_change, later, undated,
        other_level, earlier_blanks."""
    @property
    def level(self) -> float | None:
        """The spiking level used; None where spikes have none."""
    @property
    def due(self) -> str | None:
        """The last day for this verification, 13 months after the last one; None without its day."""
    @property
    def findings(self) -> Findings:
        """What was noticed, the gravest first."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def mdl_verification(
    existing: _Scalar | Mdl,
    spikes: _Results,
    blanks: _Results,
    *,
    as_of: object,
    blank_window: Literal["twenty_four_months", "six_months_or_fifty"] = "twenty_four_months",
    level: float | None = None,
    since: object = None,
    last: object = None,
    t: Literal["exact", "printed_table"] = "exact",
    rank_tie: Literal["half_up", "half_even"] = "half_up",
    many_blanks: Literal["at_least_100", "more_than_100"] = "at_least_100",
    numeric_blanks: Literal["mean_plus_ts", "percentile"] = "mean_plus_ts",
    percentile: Literal["rank", "interpolated"] = "rank",
) -> MdlVerification:
    """Recompute a method detection limit from the data of the last 24 months, and say whether the existing one may
    stay.

    It may where the recomputed one is within 0.5 to 2.0 times it and fewer than 3 % of the blanks are above it.

    Args:
        existing: the limit in use.
        spikes, blanks: results as for `mdl`, in the unit of the limit.
        as_of: day of the verification, YYYY-MM-DD or a date.
        blank_window: which blanks enter: all of 24 months; or those of six months or the 50 most recent, whichever are
            more.
        level: spiking level used; that of the most recent spike when not given.
        since: day since which a changed method is in use.
        last: day of the last determination or verification.
        t, rank_tie, many_blanks, numeric_blanks, percentile: as for `mdl`.

    Raises:
        ArgumentError: results, dates or words that cannot be understood.

    Source:
        40 CFR Part 136, Appendix B, Revision 2, section II (from memory).

    Example:
        >>> import groundstate as gs
        >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
        >>> blanks = [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003]
        >>> gs.mdl_verification(0.0021, spikes, blanks, as_of="2026-03-01").decision
        'may_keep'
    """

@final
class NoiseSuggestion:
    """What replicate readings say of the noise model. Made by `suggest_noise` and `choose_shape`.

    They say nothing of the standards' own errors: these readings are of one and the same solution.
    """

    @property
    def noise(self) -> str | None:
        """Name of the model; None where the readings do not tell, or no model on offer suits them."""
    @property
    def reason(self) -> str:
        """Why, in one sentence."""
    @property
    def tests_made(self) -> dict[str, VarianceTest]:
        """Tests of equal variances: lowest_and_top (lowest level above zero against the top one, which decides), and
        cochran, bartlett and levene over all levels."""
    @property
    def tests_not_made(self) -> dict[str, str]:
        """Why a test was not made, by name."""
    @property
    def power(self) -> tuple[float, float] | None:
        """The power of concentration that the variance grows with, and its standard uncertainty; None where too few
        levels scatter."""
    @property
    def alpha(self) -> float:
        """Level of significance of each test."""
    def __reduce__(self) -> tuple[Any, ...]: ...
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...

def suggest_noise(concentration: _Numbers, absorbance: _Numbers, *, alpha: float = 0.01) -> NoiseSuggestion:
    """The noise model that replicate readings of standards suggest, by tests of equal variances.

    The F test of the lowest level above zero against the top one decides whether the scatter changes; the power of
    concentration that the variance grows with tells how: near 1 for "1/x", near 2 for "1/x^2".

    Args:
        concentration: shape (levels,).
        absorbance: shape (levels, readings); NaN is missing.
        alpha: level of significance of each test; 0.01 as in ISO 8466-1.

    Raises:
        ArgumentError: figures that do not go together, or a level that is none.

    Source:
        ISO 8466-1:1990, variance homogeneity (from memory).

    Example:
        >>> import groundstate as gs
        >>> low = [0.0101, 0.0102, 0.0100, 0.0101, 0.0099, 0.0100]
        >>> gs.suggest_noise([0.1, 4.0], [low, [0.401, 0.409, 0.395, 0.404, 0.392, 0.400]]).noise
        '1/x^2'
    """

@final
class ShapeTest:
    """One test of one candidate shape."""
    def __new__(
        cls,
        name: str,
        figure: float | None,
        p: float | None,
        limit: float | None,
        outcome: str,
        citation: str | None,
    ) -> Self: ...
    def __getnewargs__(self) -> tuple[Any, ...]: ...
    @property
    def name(self) -> str:
        """One of admitted, standards, fitted, rising, intercept, mandel, lack_of_fit, percent_error,
        relative_standard_error, aicc."""
    @property
    def figure(self) -> float | None:
        """Test statistic or figure."""
    @property
    def p(self) -> float | None:
        """Probability of such a figure if there is nothing wrong."""
    @property
    def limit(self) -> float | None:
        """What the figure, or p where there is one, is held against."""
    @property
    def outcome(self) -> Literal["passed", "rejected", "not_evaluated", "information"]:
        """What became of it; "not_evaluated" is not a pass."""
    @property
    def citation(self) -> str | None:
        """The rule that it follows; None where it follows none."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __eq__(self, other: object, /) -> bool: ...

@final
class ShapeCandidate:
    """One shape with one noise model over one stretch of the levels."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def shape(self) -> _Shape:
        """Shape."""
    @property
    def noise(self) -> str:
        """Name of the noise model."""
    @property
    def dropped(self) -> tuple[list[float], list[float]]:
        """Levels taken off the low end, and off the top, by concentration."""
    @property
    def calibration(self) -> Calibration | None:
        """The fit over standards; None where it could not be made, as the reason says."""
    @property
    def tests(self) -> list[ShapeTest]:
        """Every test, in order."""
    @property
    def rejected_by(self) -> str | None:
        """Name of the first test that rejects it; None where none does."""
    @property
    def reason(self) -> str:
        """Why it was taken or not, in one sentence."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""

@final
class ShapeChoice:
    """A choice of shape with everything that it rests on. Made by `choose_shape`."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

    @property
    def calibration(self) -> Calibration | None:
        """The fit of the shape that was taken; None where every candidate was rejected."""
    @property
    def shape(self) -> _Shape | None:
        """The shape that was taken; None where every candidate was rejected."""
    @property
    def noise(self) -> str | None:
        """Name of the noise model that was taken; None where every candidate was rejected."""
    @property
    def candidates(self) -> list[ShapeCandidate]:
        """The candidates, best first."""
    @property
    def suggested_noise(self) -> NoiseSuggestion | None:
        """What replicate readings suggest, with the tests that it rests on. None without replicates."""
    @property
    def alpha(self) -> float:
        """Level of significance of each test."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words."""
    def __reduce__(self) -> tuple[Any, ...]: ...

def choose_shape(
    concentration: _Scalar | _Numbers,
    absorbance: _Scalar | _Numbers,
    *,
    shapes: Sequence[_Shape] = ("line", "quadratic"),
    noises: Sequence[_Noise] | None = None,
    alpha: float = 0.01,
    may_drop: tuple[int, int] = (0, 0),
    least_for_line: int | None = None,
    least_for_curve: int | None = None,
    percent_error: float | None = None,
    percent_error_lowest: float | None = None,
    relative_standard_error: float | None = None,
    correlation: float | None = None,
    determination: float | None = None,
    profile: Literal["general", "sw846_7000b", "standard_methods_3111"] | Method | None = None,
    points: Literal["readings", "standards"] = "readings",
    zero: Literal["leave_out"] | float | None = None,
    zeroing: Literal["raw", "blank_subtracted", "autozeroed"] = "raw",
    zero_u: float | None = None,
    unit: str = "mg/L",
    resolution: float | None = None,
    stock: Stock | Sequence[Stock] | None = None,
    x_uncertainty: XUncertainty | _Scalar | _Numbers | None = None,
) -> ShapeChoice:
    """Rank the shapes and noise models that a set of standards supports. The simplest that no test rejects is taken.

    Readings are averaged by level first: readings of one standard are no independent witnesses of a shape.
    `calibrate` with the shape that was taken fits the readings themselves.

    Args:
        concentration, absorbance: as for `calibrate`.
        shapes: what to choose from.
        noises: what to choose from, the one preferred most first; equal scatter when not given.
        alpha: level of significance of each test; 0.01 as in ISO 8466-1.
        may_drop: how many levels may come off the low end and off the top. An interior level never goes.
        least_for_line, least_for_curve: least number of levels above zero; 3, and 6 by SW-846 8000D, when not given.
        percent_error, percent_error_lowest: largest percent error of a level, and of the lowest; 30 and 50 by SW-846
            8000D when not given.
        relative_standard_error: largest RSE in percent; not asked for when not given.
        correlation: smallest r of an unweighted line with free intercept.
        determination: smallest r squared of the others.
        profile: criteria to obey, by name or those of a Method: sw846_7000b admits a line alone, of three levels and
            r >= 0.995. A figure given beside it goes before that of the profile.
        points, zero, zeroing, zero_u, unit, resolution, stock, x_uncertainty: as for `calibrate`.

    Raises:
        ArgumentError: figures or words that cannot be understood.

    Source:
        ISO 8466-1 (linearity, from memory); SW-846 Method 8000D, 11.5.

    Example:
        >>> import groundstate as gs
        >>> levels = [0, 0.2, 0.5, 1, 1.5, 2, 3]
        >>> signals = [0.0003, 0.0431, 0.1056, 0.2051, 0.2980, 0.3823, 0.5291]
        >>> gs.choose_shape(levels, signals).shape
        'quadratic'
    """

# ---- calibration inside the sample

@final
class SlopeRatio:
    """The ratio of two slopes at zero, in common units: in the matrix over that of the external calibration."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def value(self) -> float:
        """The ratio."""
    @property
    def u(self) -> float:
        """Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from."""
    @property
    def dof(self) -> float:
        """Effective degrees of freedom of u."""
    @property
    def statistic(self) -> float | None:
        """Statistic of the t test of equal slopes; None where there is no standard uncertainty."""
    @property
    def p(self) -> float | None:
        """Two-sided probability of slopes at least as far apart if they are equal; None where there is no test."""
    @property
    def percent(self) -> tuple[float, float]:
        """100 (ratio - 1) and its standard uncertainty; negative where the matrix depresses the response."""
    @property
    def within_20_percent(self) -> bool | None:
        """Whether slopes are at most 20 % apart; None for standards in the matrix, which no such caution is for."""
    @property
    def findings(self) -> Findings:
        """What was noticed."""
    def interval(self, coverage: float = 0.95) -> Interval:
        """Coverage interval of the ratio (Fieller).

        Args:
            coverage: coverage probability, above 0 and below 1.
        """
    def __eq__(self, other: object, /) -> bool: ...

@final
class Addition:
    """A series of standard additions, evaluated. Made by `standard_additions`."""

    @property
    def estimate(self) -> Estimate:
        """Concentration in the measured solution (in the volume before the additions, where that changes).

        Intercept over slope, signed. A line that does not rise gives the status not_calibrated and no value.
        """
    @property
    def sample(self) -> Estimate | None:
        """Concentration in the sample; None without an aliquot."""
    @property
    def line(self) -> Calibration:
        """The fitted line: signals (times V/V0) against additions (over V0)."""
    @property
    def coefficients(self) -> _Floats:
        """Intercept and slope."""
    @property
    def covariance(self) -> _Floats:
        """Covariance of intercept and slope, from the scatter, shape (2, 2)."""
    @property
    def standard_errors(self) -> _Floats:
        """Standard errors of intercept and slope, from the scatter."""
    @property
    def r(self) -> float | None:
        """Correlation coefficient; None below three different additions and where all signals are equal."""
    @property
    def unit(self) -> str:
        """Unit of the estimate."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order: what speaks against the series, and what no series can see."""
    def interval(self, coverage: float = 0.95, method: Literal["delta", "inversion"] = "delta") -> Interval:
        """Coverage interval of the estimate; "inversion" gives Fieller's set, which may be a half-line or more.

        Args:
            coverage: coverage probability, above 0 and below 1.
            method: "delta", value plus and minus t times u; or "inversion".

        Source:
            Fieller, J. R. Stat. Soc. B 16 (1954) 175.
        """
    def sample_interval(
        self, coverage: float = 0.95, method: Literal["delta", "inversion"] = "delta"
    ) -> Interval | None:
        """Coverage interval of the concentration in the sample; None without an aliquot.

        Args:
            coverage: coverage probability, above 0 and below 1.
            method: "delta" or "inversion".
        """
    def slope_ratio(self, calibration: Calibration) -> SlopeRatio:
        """Slope of the series over that of an external calibration at zero, in common units, with a t test (Welch).

        An error that both share through the same stock cancels.

        Args:
            calibration: the external calibration.

        Raises:
            UnitError: the units do not go together.
        """
    def _repr_html_(self) -> str:
        """For notebooks."""
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words; None where a figure is absent."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def standard_additions(
    added: _Scalar | _Numbers,
    absorbance: _Scalar | _Numbers,
    *,
    noise: _Noise = "equal",
    points: Literal["readings", "standards"] = "readings",
    volumes: tuple[_Quantity, _Scalar | _Numbers] | None = None,
    aliquot: tuple[_Quantity, _Quantity] | None = None,
    unit: str = "mg/L",
    stock: Stock | Sequence[Stock] | None = None,
    blank_u: float | None = None,
) -> Addition:
    """Evaluate a series of standard additions: a line through signals against additions, extrapolated to a signal of
    zero.

    Args:
        added: concentrations that the additions make in the measured solution, in `unit`, shape (readings,) or
            (portions,); 0 for the portion without. With `volumes`, amounts: concentration times volume, in their
            units.
        absorbance: signals, shape (readings,) or (portions, readings), NaN where a reading is missing.
        noise: what is assumed of the scatter; "1/x" and "1/x^2" weigh by the whole concentration, found plus added.
        points: fit one point a reading, or one a portion (the mean of its readings).
        volumes: None where all portions have one final volume; otherwise the volume before any addition and the
            volumes added before each point, in all, in the same unit.
        aliquot: volume of the sample and what it was made up to, in one unit; `sample` is then given.
        unit: unit of the additions.
        stock: what all additions share.
        blank_u: standard uncertainty of the blank that was subtracted from all signals, or that the instrument was
            zeroed on, in units of the signal; None where signals are raw. Unlike on an external calibration, it does
            not cancel.

    Returns:
        The series evaluated. A line that does not rise gives the status not_calibrated and no value.

    Raises:
        ArgumentError: figures or words that cannot be understood, or too few portions.
        UnitError: an unknown unit.

    Source:
        SW-846 Method 7000B, 9.10.

    Example:
        >>> import groundstate as gs
        >>> gs.standard_additions([0, 0.5, 1, 1.5], [0.112, 0.214, 0.318, 0.421])
        <Addition 0.5412 ± 0.0036 mg/L, 4 readings>
    """

@final
class SingleAddition:
    """One standard addition to one of two equal portions, evaluated. Made by `single_addition`."""

    @property
    def estimate(self) -> Estimate:
        """Concentration in the portion; status not_calibrated and no value where the addition is not seen."""
    @property
    def unit(self) -> str:
        """Unit of the estimate."""
    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""
    def interval(self, coverage: float = 0.95, method: Literal["delta", "inversion"] = "delta") -> Interval:
        """Coverage interval of the estimate, by "inversion" the set of Fieller.

        Args:
            coverage: coverage probability, above 0 and below 1.
            method: "delta", value plus and minus t times u; or "inversion".
        """
    def to_dict(self) -> dict[str, Any]:
        """Plain figures and words; None where a figure is absent."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def single_addition(
    spiked: _Scalar | _Numbers,
    unspiked: _Scalar | _Numbers,
    *,
    standard: float,
    standard_volume: _Scalar | Measured,
    portion_volume: _Scalar | Measured,
    spiked_u: float | None = None,
    unspiked_u: float | None = None,
    blank_u: float = 0.0,
    stock: Stock | None = None,
    unit: str = "mg/L",
) -> SingleAddition:
    """Evaluate one standard addition to one of two equal portions of a sample.

    The concentration is S_B V_s C_s / ((S_A - S_B) V_x), that of the portion before the addition.

    Args:
        spiked, unspiked: blank-corrected signals of the portion with the standard (A) and of the one with as much water
            (B): a number, or readings of shape (m,) whose scatter tells their uncertainty.
        standard: concentration of the standard, in `unit`.
        standard_volume: volume of it added.
        portion_volume: volume of each portion, in the same unit.
        spiked_u, unspiked_u: standard uncertainties of signals given as numbers.
        blank_u: standard uncertainty of the blank.
        stock: of the standard.
        unit: unit of concentrations.

    Raises:
        ArgumentError: figures that cannot be understood. A signal that the addition does not raise is no error: the
            estimate has no value, as its status says.

    Source:
        SW-846 Method 7000B, 9.10.

    Example:
        >>> import groundstate as gs
        >>> gs.single_addition(0.4, 0.2, standard=100, standard_volume=0.1, portion_volume=10).estimate.value
        1.0
    """

@final
class Difference:
    """A difference between two calibrations, the second less the first, with a t test."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def value(self) -> float:
        """The difference."""
    @property
    def u(self) -> float:
        """Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from."""
    @property
    def dof(self) -> float:
        """Effective degrees of freedom of u."""
    @property
    def statistic(self) -> float | None:
        """Difference over its standard uncertainty; None where there is none."""
    @property
    def p(self) -> float | None:
        """Two-sided probability of a difference at least as large if there is none; None where there is no test."""
    def __eq__(self, other: object, /) -> bool: ...

@final
class MatrixComparison:
    """A matrix-matched calibration against the external one. Made by `compare_calibrations`."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""

    @property
    def slope(self) -> Difference:
        """Slope at zero in the matrix less that of the external calibration, signal per unit of the external one."""
    @property
    def intercept(self) -> Difference | None:
        """Intercept in the matrix less that of the external calibration; None where a curve is fixed at zero."""
    @property
    def ratio(self) -> SlopeRatio:
        """Slope in the matrix over the external one; its `percent` is the matrix effect."""
    @property
    def variance(self) -> Literal["welch", "pooled"]:
        """Whose residual variances entered."""
    @property
    def variances(self) -> FTest | None:
        """The larger residual variance over the smaller, two-sided; None where they are not both from residuals."""
    @property
    def findings(self) -> Findings:
        """What was noticed."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def compare_calibrations(
    external: Calibration, matched: Calibration, *, variance: Literal["welch", "pooled"] = "welch"
) -> MatrixComparison:
    """Compare a matrix-matched calibration with the external one: common slope, common intercept, matrix effect.

    Args:
        external: the calibration without matrix.
        matched: the calibration in the matrix, in a unit that goes with the other's.
        variance: "welch" keeps the residual variance of each; "pooled" takes one from both, for two unweighted fits.
            Choose before looking.

    Raises:
        ArgumentError: a variance model that the two fits do not admit.
        UnitError: the units do not go together.

    Source:
        Welch's and the pooled t test of two slopes; within 20 % by SW-846 Method 7000B, 9.10.3.

    Example:
        >>> import groundstate as gs
        >>> water = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
        >>> digest = gs.calibrate([0, 0.5, 1, 2, 3], [0.0104, 0.1056, 0.2019, 0.3911, 0.5802])
        >>> gs.compare_calibrations(water, digest)
        <MatrixComparison effect -9.52 ± 0.22 %, welch>
    """

def bracket(
    concentration: _Numbers,
    absorbance: _Numbers,
    sample: float,
    *,
    absorbance_u: _Scalar | _Numbers | None = None,
    sample_u: float = 0.0,
    x_uncertainty: _Scalar | _Numbers | None = None,
    stock: Stock | Sequence[Stock] | None = None,
    unit: str = "mg/L",
    run: str = "bracket",
    position: int = 1,
) -> Estimate:
    """Interpolate a sample between two standards that bracket it: x1 + (y - y1)(x2 - x1)/(y2 - y1).

    Args:
        concentration, absorbance: of the lower and the higher standard, shape (2,).
        sample: signal of the sample.
        absorbance_u, sample_u: standard uncertainties of those (mean) signals; two points leave no scatter to take
            them from.
        x_uncertainty: standard uncertainties of the concentrations beyond the stock's; one figure or two.
        stock: the stock solution, or solutions, that both standards share.
        unit: unit of the concentrations.
        run: name of the pair of standards: results under the same name share their errors.
        position: of the sample.

    Returns:
        The estimate. A sample outside is extrapolated, with the finding not_bracketed; standards that do not rise
        give the status not_calibrated.

    Raises:
        ArgumentError: figures that cannot be understood.
        UnitError: an unknown unit.

    Source:
        JCGM 100:2008, 5.1.2, on the formula above.

    Example:
        >>> import groundstate as gs
        >>> gs.bracket([1, 2], [0.2119, 0.4218], 0.3, absorbance_u=0.0005, sample_u=0.0004)
        <Estimate 1.4197 ± 0.0026 mg/L>
    """

@final
class MatrixDecision:
    """What the tests of a batch's matrix say together, and what to do next. Made by `matrix_decision`."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    @property
    def effect(self) -> Literal["not_shown", "suspected", "confirmed"]:
        """Whether the matrix acts on the reading."""
    @property
    def next(
        self,
    ) -> Literal[
        "nothing", "spike_sample", "spike_digest", "dilute", "standard_additions", "review_preparation", "remedy"
    ]:
        """What to do next."""
    @property
    def findings(self) -> tuple[Finding, ...]:
        """The next step in words with its clause; empty where nothing further is asked for."""
    def __eq__(self, other: object, /) -> bool: ...
    def __reduce__(self) -> tuple[Any, ...]: ...

def matrix_decision(
    *,
    matrix_spike: Literal["pass", "fail", "not_evaluated"] = "not_evaluated",
    post_digestion_spike: Literal["pass", "fail", "not_evaluated"] = "not_evaluated",
    dilution_test: Literal["pass", "fail", "not_evaluated"] = "not_evaluated",
) -> MatrixDecision:
    """Decide by a matrix spike, a spike of the digest and a fivefold dilution what the matrix does and what comes next.

    A run is judged by the same rules batch by batch; its findings say so.

    Args:
        matrix_spike: recovery of the spike before preparation.
        post_digestion_spike: recovery of the spike of the finished digest, 80 to 120 %.
        dilution_test: agreement of the fivefold dilution within 10 %.

    Returns:
        The decision: the effect, the next step, and that step in words with its clause.

    Raises:
        ArgumentError: a word that is none of the three.

    Source:
        SW-846 Method 7000B, Revision 2, 2007, 9.7 and 9.8.

    Example:
        >>> import groundstate as gs
        >>> gs.matrix_decision(matrix_spike="fail", post_digestion_spike="fail")
        <MatrixDecision effect confirmed, next dilute>
    """

# ---- reporting

def round_reported(
    value: _Scalar,
    *,
    figures: int | None = None,
    decimals: int | None = None,
    quantum: float | None = None,
    u: _Scalar | None = None,
    uncertainty_figures: Literal[1, 2] = 2,
    ties: Literal["half_even", "half_up"] = "half_even",
) -> str:
    """A value as it is reported: rounded on the shortest decimal that reads back as the number, trailing zeros kept.

    Args:
        value: the figure.
        figures: significant figures, 1 to 15.
        decimals: digits after the point, 0 to 15.
        quantum: a step: 1, 2, 5 or 25 times a power of ten.
        u: the uncertainty that the value is reported with, whose last place it gets. Exactly one of these four is
            given.
        uncertainty_figures: figures of that uncertainty.
        ties: what becomes of a value half-way between two steps.

    Raises:
        ArgumentError: none or several of the four, or one that is out of range.

    Source:
        JCGM 100:2008, 7.2.6; ISO 80000-1:2009, Annex B (from memory).

    Example:
        >>> import groundstate as gs
        >>> gs.round_reported(0.012345, u=0.00067)
        '0.01234'
    """

# ---- for the package itself

def _argument_error(name: str, what: str, help: str | None = None) -> ArgumentError: ...
def _beside(value: float, u: float) -> str: ...
def _difference(value: float, u: float, dof: float, test: tuple[float, float, float] | None) -> Difference: ...
def _slope_ratio(of: Addition | MatrixComparison, calibration: Calibration | None = None) -> SlopeRatio: ...
def _suggested_noise(choice: ShapeChoice) -> NoiseSuggestion | None: ...
def _shape_candidate(choice: ShapeChoice, index: int) -> ShapeCandidate: ...
def _verification(
    written_by: str, verified_by: str, first: tuple[str, str | None, str | None] | None, count: int
) -> Verification: ...
def _header(text: str) -> tuple[str, int, int, bool]: ...
def _raise_kind(kind: str) -> None: ...
def _recall(name: str, keywords: dict[str, Any]) -> Any: ...
def _addition_estimates(addition: Addition, which: str) -> Estimates: ...
def _bracketed(keywords: dict[str, Any]) -> Estimates: ...
def _calibration_from_dict(input: dict[str, Any]) -> Calibration: ...
def _estimates_from_curve(
    calibration: Calibration,
    signal: Sequence[float],
    counts: float | _Floats,
    given: tuple[float | _Floats, float | _Floats] | None,
    chosen: Sequence[int] | None,
) -> Estimates: ...
def _interval(
    kind: str, bounds: tuple[float, float], ends: tuple[str, str], coverage: float, method: str
) -> Interval: ...
def _coverage_factors(coverage: float, dof: Sequence[float]) -> _Floats: ...
def _choose(estimates: Estimate | Estimates, rows: Sequence[int]) -> Estimates: ...
def _prepared(
    preparation: Preparation, estimates: Estimate | Estimates, unit: str | None, portions: str
) -> Estimate | Estimates: ...
def _mdl_record_from_json(text: str) -> MdlRecord: ...
def _single_addition_estimates(addition: SingleAddition) -> Estimates: ...
def _distribution(name: str, which: str, at: float, *parameters: float) -> float: ...

# ---- runs, methods, outcomes

_TableColumns: TypeAlias = bytes | list[tuple[str, str, Any]]

@final
class Method:
    """A method: everything that turns a run's readings into reported results. Frozen; equal by content.

    Its keys are described in docs/formats.md.
    """

    @staticmethod
    def new(element: str, *, profile: str = "general") -> Method:
        """A method for `element` with nothing set but the defaults of a profile.

        Args:
            element: symbol or English name.
            profile: general, sw846_7000b or standard_methods_3111.

        Raises:
            ArgumentError: an unknown element.
            MethodError: an unknown profile.

        Example:
            >>> import groundstate as gs
            >>> gs.Method.new("Zn")
            <Method Zn by flame version 1: Zn, profile general>
        """

    @staticmethod
    def from_toml(text: str) -> Method:
        """The method of a TOML document; its keys are described in docs/formats.md.

        Args:
            text: the document.

        Raises:
            MethodError: everything that is wrong with it, at once.
        """

    @staticmethod
    def from_json(text: str) -> Method:
        """The method of a JSON document with the same keys.

        Args:
            text: the document.

        Raises:
            MethodError: everything that is wrong with it, at once.
        """

    def to_toml(self, *, explicit: bool = False) -> str:
        """The method as TOML.

        Args:
            explicit: every key, with the clause of each default as a comment, and not only what differs from the
                defaults.
        """

    def to_json(self) -> str:
        """The method as JSON, every default stated."""

    def to_dict(self) -> dict[str, Any]:
        """The method as a dictionary, every default stated."""

    @property
    def id(self) -> str:
        """Name of the method in the laboratory."""

    @property
    def version(self) -> str:
        """Its version."""

    @property
    def element(self) -> str:
        """Symbol of the element."""

    @property
    def profile(self) -> str:
        """The profile of criteria it started from."""

    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...

@final
class Run:
    """One run as it was read: positions in order, with their readings. Frozen; equal by content."""

    @property
    def name(self) -> str:
        """Name of the run."""

    @property
    def facts(self) -> dict[str, str]:
        """Further columns whose value is the same in every row, by name."""

    @property
    def position_rule(self) -> str:
        """How readings came to their positions: given, consecutive_replicates or each_row."""

    @property
    def findings(self) -> Findings:
        """What was noticed while it was read."""

    def to_json(self, *, compact: bool = False) -> str:
        """The run as a JSON document; docs/schema/run.json describes it.

        Args:
            compact: leave white space out.
        """

    @staticmethod
    def from_json(text: str) -> Run:
        """The run in a JSON document, as it was stored.

        Args:
            text: the document.

        Raises:
            WireError: what is wrong with the document.
        """

    def to_dict(self) -> dict[str, Any]:
        """The members of the JSON document as a dictionary."""

    def __reduce__(self) -> tuple[Any, ...]: ...
    def to_csv(self) -> str:
        """The run as a CSV table, rows in order."""

    def __len__(self) -> int:
        """Number of positions."""

    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

@final
class Outcome:
    """The outcome of reducing one run by one method. Frozen; it holds its input.

    Columns of figures are read-only float64 arrays in the unit of the row (column `unit`); NaN where a row has no
    such figure, and then `status` says why.
    """

    @property
    def results(self) -> Table:
        """One row a sample position, re-runs and series of additions included.

        `reported` marks the one to report for each sample.
        """

    @property
    def measurements(self) -> Table:
        """One row a measured position: samples and checks."""

    @property
    def checks(self) -> Table:
        """One row a check: verdict, figure, limits, positions affected, rule."""

    @property
    def findings(self) -> Findings:
        """What was noticed, in order."""

    @property
    def matched(self) -> Table:
        """One row a matrix-matched calibration (method key calibration.matched): its segment, that of the external
        calibration, the matrix effect in per cent, and the tests of common slope and intercept."""

    @property
    def calibrations(self) -> tuple[Calibration, ...]:
        """The calibrations, one a segment of the run."""

    @property
    def additions(self) -> tuple[tuple[str, tuple[int, ...], Addition | None], ...]:
        """The series of standard additions, in order: label of the sample, positions of its portions, and the series;
        None in its place where its readings allow none, which a finding explains."""

    @property
    def run(self) -> Run:
        """The run as it was read."""

    @property
    def method(self) -> Method:
        """The method as it was used."""

    @property
    def scope(self) -> str:
        """What the standard uncertainties cover, in words that every report must carry."""

    @property
    def uncertainty_name(self) -> str:
        """Name of what a standard uncertainty of an outcome is."""

    @property
    def standing(self) -> Literal["complete", "incomplete", "failed"]:
        """What the checks say as a whole: complete only where everything required is there, evaluated and passed."""

    @property
    def exit_status(self) -> int:
        """0 where the standing is complete, else 1."""

    def budget(self, which: str | int) -> tuple[BudgetLine, ...]:
        """The uncertainty budget of a result, largest share first.

        Args:
            which: a label, for the reported result of that name; or a position.

        Raises:
            ArgumentError: there is no such result.
        """

    def covariance(self) -> _Floats:
        """Covariance matrix of the rows of `results`, through the sources they share; each in its own unit.

        Source:
            JCGM 100:2008, 5.2.2 and F.1.2.3.
        """

    def summary(self) -> str:
        """Results, checks and findings as readable text."""

    def explain(self, which: str | int) -> str:
        """A result as numbered steps with figures and rules.

        Args:
            which: a label, for the reported result of that name; or a position.

        Raises:
            ArgumentError: there is no such result.
        """

    def to_html(self, title: str | None = None, *, budgets: Literal["reported", "all", "none"] = "reported") -> str:
        """The outcome as one page of HTML that needs nothing beside it and prints to A4 and Letter.

        The same outcome gives the same bytes.

        Args:
            title: of the page; element and run when not given.
            budgets: of the results to report, of every row, or none.

        Raises:
            MissingExtraError: Jinja2 is not installed (`groundstate[report]`).
        """

    def to_json(self, *, compact: bool = False) -> str:
        """The outcome as a JSON document that holds its input; docs/schema/outcome.json describes it.

        Args:
            compact: leave white space out.
        """

    @staticmethod
    def from_json(text: str) -> Outcome:
        """The outcome in a JSON document, as it was stored.

        Args:
            text: the document.

        Raises:
            WireError: what is wrong with the document.
        """

    def to_dict(self) -> dict[str, Any]:
        """The members of the JSON document as a dictionary."""

    def to_uncertainties(self, sources: dict[str, Any] | None = None) -> list[Any]:
        """Correlated numbers of the package uncertainties, one a row of `results`. Degrees of freedom are lost.

        Args:
            sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
                numbers of different results are correlated as they are here.

        Raises:
            MissingExtraError: the package uncertainties is not installed.
        """
    def _contributions(self) -> list[dict[str, float]]: ...
    def _repr_html_(self) -> str:
        """For notebooks."""

    def results_csv(self) -> str:
        """The results as a CSV table."""

    @property
    def provenance(self) -> dict[str, Any]:
        """Version of the library and SHA-256 fingerprints of the input: fingerprint (method and run together),
        method, profile, table, raw (of the bytes a table was read from, if given), amends."""

    def diff(self, newer: Outcome) -> str:
        """What changed from this outcome to a newer one, and what in library, method or run can have caused it.

        Args:
            newer: the other outcome.
        """

    def amends(self, old: Outcome, reason: str) -> Outcome:
        """The same outcome marked as standing for `old`, with the reason.

        Args:
            old: the outcome that it replaces.
            reason: why, in words.

        Raises:
            ArgumentError: no reason is given.
        """

    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...

@final
class Verification:
    """What a second reduction of an archive's input says. Its text is "identical" or names the first difference."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def identical(self) -> bool:
        """Whether nothing differs."""

    @property
    def count(self) -> int:
        """How many members of the document differ."""

    @property
    def first(self) -> tuple[str, str | None, str | None] | None:
        """The first difference: path, what is stored, what its input gives, the latter two as JSON."""

    @property
    def written_by(self) -> str:
        """Version of the library that wrote the archive."""

    @property
    def verified_by(self) -> str:
        """Version of the library that reduced its input again."""

    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]

def _method_from_toml_bytes(bytes: bytes) -> Method: ...
def _method_from_json(text: str) -> Method: ...
def _read_runs(
    columns: _TableColumns,
    method: Method | None = None,
    names: list[tuple[str, str | None]] | None = None,
    kind: str | None = None,
) -> list[Run]: ...
def _read_each(
    columns: _TableColumns,
    method: Method | None = None,
    names: list[tuple[str, str | None]] | None = None,
    kind: str | None = None,
) -> list[tuple[str, Run | GroundstateError]]: ...
def _read_file(bytes: bytes, name: str, method: Method | None) -> list[tuple[str, Run | GroundstateError]]: ...
def _reduce(run: Run, method: Method) -> Outcome: ...
def _with_raw_digest(outcome: Outcome, digest: str) -> Outcome: ...
def _reduce_many(
    runs: Sequence[Run],
    methods: Method | list[tuple[str, Method]],
    threads: int,
    progress: Callable[[int, int], bool | None] | None = None,
    digest: str | None = None,
) -> tuple[list[Outcome | BaseException], bool]: ...

@final
class Simulation:
    """Distributions of results by Monte Carlo (JCGM 101). The same seed gives the same figures on any number of
    threads."""

    def to_dict(self) -> dict[str, Any]:
        """Every property by name, as plain lists, words and figures; None where a figure is absent."""
    def __eq__(self, other: object, /) -> bool: ...
    __hash__: ClassVar[None]  # type: ignore[assignment]
    def __reduce__(self) -> tuple[Any, ...]: ...
    @property
    def results(self) -> Table:
        """One row a result.

        label, position (the number of the reading outside of a run), unit. status: "drawn", or why not: "no_value",
        "no_uncertainty" (no degree of freedom), "too_few_values". value: the first-order value. mean and
        standard_uncertainty over the trials, NaN where the distribution has none (a t on few degrees of freedom is in
        it). lo, hi: probabilistically symmetric coverage interval; shortest_lo, shortest_hi: the shortest one.
        first_order_standard_uncertainty, first_order_lo, first_order_hi; first_order_validated: whether both ends
        agree within half a unit of the first figure of u (section 8 of that supplement). trials_without_value counts
        trials beyond the curve.
        """

    @property
    def trials(self) -> int:
        """Number of trials."""

    @property
    def seed(self) -> int:
        """The seed."""

    @property
    def coverage(self) -> float:
        """Coverage probability of the intervals."""

    @property
    def ended(self) -> Literal["fixed", "settled", "not_settled"]:
        """Whether the number of trials was fixed, or every result settled within its numerical tolerance, or not."""

    def _repr_html_(self) -> str:
        """For notebooks."""

    def values(self, i: int) -> _Floats:
        """The values of the trials of the i-th row of `results`, NaN where a trial gave none."""
    def covariance(self) -> _Floats:
        """Covariance matrix of the rows of `results` over the trials; NaN where a result was not drawn."""

def _simulate_curve(calibration: Calibration, **keywords: Any) -> Simulation: ...
def _simulate(
    outcome: Outcome,
    positions: list[int | str] | None,
    how: dict[str, Any],
    progress: Callable[[int, int], bool | None] | None,
) -> Simulation: ...
def _reduce_columns(
    run: NDArray[np.uint32],
    position: NDArray[np.uint32],
    role: NDArray[np.uint32],
    roles: Sequence[str],
    replicate: NDArray[np.uint32] | None,
    absorbance: _Floats,
    nominal: _Floats | None,
    dilution: _Floats | None,
    method: Method,
    threads: int,
    replicate_limit: tuple[float, float] | None,
) -> tuple[dict[str, NDArray[Any]], list[tuple[int, GroundstateError]], str]: ...
def _outcome_addition(outcome: Outcome, index: int) -> Addition | None: ...
def _check_words(outcome: Outcome) -> list[tuple[str, str | None, str]]: ...
def _outcome_from_json(text: str, kind: str | None = None) -> Outcome: ...
def _run_from_json(text: str, kind: str | None) -> Run: ...
def _finding_from_json(text: str) -> Finding: ...
def _came_as(estimates: Estimates, origin: Origin) -> Estimates: ...
def _intervals(
    each: Sequence[Interval], coverage: float, method: str, origin: Origin | None, rows: Sequence[int] | None
) -> Intervals: ...
def _reduce_shaped(
    replicates: int,
    role: NDArray[np.uint32],
    roles: Sequence[str],
    absorbance: _Floats,
    nominal: _Floats | None,
    dilution: _Floats | None,
    method: Method,
    threads: int,
    replicate_limit: tuple[float, float] | None,
) -> tuple[dict[str, NDArray[Any]], list[tuple[int, GroundstateError]], str]: ...
def _calibrate_many(
    concentration: _Scalar | _Numbers,
    absorbance: _Numbers,
    x_uncertainty: _Scalar | _Numbers,
    y_uncertainty: _Scalar | _Numbers,
    shape: str,
    threads: int | None,
) -> tuple[_Floats, _Floats, _Floats, NDArray[np.uint8], tuple[str, ...]]: ...
def _verify(text: str) -> Verification: ...
