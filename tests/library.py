"""The library's own figures of a reference case, under the names of tests/reference/cases/README.md.

The counterpart of ``tests.oracle.figures.figure``: same case, same name, the installed package.
"""

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import cache
from typing import Any, Literal

import groundstate as gs
from tests.oracle.calibration import Points, Shape
from tests.oracle.figures import REFERENCE, Case, levels_of, load

# Asked of the oracle alone: nothing on the Python surface answers these kinds of case by itself.
ORACLE_ONLY = frozenset({"sum", "product", "additive_model", "percentile_rank", "minimum_level"})

# Derived figures of a source that the package leaves to its user.
LEFT_TO_THE_USER = frozenset({"residual_ss", "half_width"})


def offered(case: Case, name: str) -> bool:
    """False where the package has no such figure; the suites count these, so none can slip away."""
    return case.kind not in ORACLE_ONLY and name.split(".")[0] not in LEFT_TO_THE_USER


def figure(case: Case, name: str) -> float:
    return float(KINDS[case.kind](case, name.split(".")))


def noise_of(kind: str, sigma: Sequence[float] = ()) -> Any:
    match kind:
        case "known_sigma":
            return gs.KnownSigma(list(sigma))
        case "relative_sigma":
            return gs.RelativeSigma(list(sigma))
        case "from_replicates":
            return gs.FromReplicates("pooled")
        case _:
            return kind


def fit(
    levels: Sequence[tuple[float, Sequence[float]]],
    shape: Shape,
    noise: str,
    sigma: Sequence[float] = (),
    points: Points = "readings",
    zero: Literal["leave_out"] | None = None,
) -> gs.Calibration:
    """Balanced standards go in as levels x replicates, anything else as one row a reading."""
    counts = {len(readings) for _, readings in levels}
    x: list[float]
    y: list[Any]
    if len(counts) == 1 and counts != {1} and not sigma:
        x = [concentration for concentration, _ in levels]
        y = [list(readings) for _, readings in levels]
    else:
        x = [concentration for concentration, readings in levels for _ in readings]
        y = [reading for _, readings in levels for reading in readings]
    # the fit itself is asked for, also of data that are no calibration (the Wampler sets fall at first)
    return gs.calibrate(x, y, shape=shape, noise=noise_of(noise, sigma), points=points, zero=zero, allow="flagged")


@cache
def _calibration(name: str) -> gs.Calibration:
    held = load(REFERENCE / f"{name}.json").input
    return fit(
        [(float(x), [float(y) for y in readings]) for x, readings in levels_of(held)],
        held["shape"],
        held["noise"],
        [float(s) for s in held.get("sigma", ())],
        held.get("points", "readings"),
        held.get("zero"),
    )


def estimate(cal: gs.Calibration, readings: Sequence[float], u: float | None = None) -> gs.Estimates:
    return cal.concentration([list(readings)], reading_u=u)


def _of_calibration(case: Case, name: list[str]) -> float:
    cal = _calibration(case.name)
    match name:
        case ["coefficient", i]:
            return float(cal.coefficients[int(i)])
        case ["standard_error", i]:
            return float(cal.standard_errors[int(i)])
        case ["covariance", i, j]:
            return float(cal.covariance[int(i)][int(j)])
        case ["correlation", i, j]:
            errors = cal.standard_errors
            return float(cal.covariance[int(i)][int(j)] / (errors[int(i)] * errors[int(j)]))
        case ["residual_sd"]:
            return given(cal.residual_sd)
        case ["chi_squared"]:
            return given(cal.chi_squared)
        case ["r"]:
            return given(cal.correlation)
        case ["r_squared"]:
            return given(cal.r_squared)
        case ["percent_error", i]:
            return float(cal.percent_error[int(i)])
        case ["rse"]:
            return given(cal.rse)
        case ["lack_of_fit", what]:
            return of_the_test(cal.lack_of_fit(), what)
        case ["mandel", what]:
            return of_the_test(cal.mandel(), what)
        case ["response", i, what]:
            response = cal.absorbance([float(case.input["predict"][int(i)])])
            return float(getattr(response, what)[0])
        case ["unknown", i, what]:
            unknown = case.input["unknowns"][int(i)]
            u = float(unknown["u"]) if "u" in unknown else None
            found = estimate(cal, [float(y) for y in unknown["readings"]], u)
            if what == "half_width":
                held = found.interval(0.95)
                return float((held.hi[0] - held.lo[0]) / 2)
            return float(getattr(found, what)[0])
        case _:
            raise KeyError(".".join(name))


@cache
def _addition(name: str) -> gs.Addition:
    held = load(REFERENCE / f"{name}.json").input
    factor = held.get("to_sample")
    return gs.standard_additions(
        [float(x) for x in held["added"]],
        [float(y) for y in held["absorbance"]],
        aliquot=None if factor is None else (float(factor["divide"]), float(factor["multiply"])),
    )


def _of_additions(case: Case, name: list[str]) -> float:
    found = _addition(case.name)
    match name:
        case ["coefficient", i]:
            return float(found.coefficients[int(i)])
        case ["residual_sd"]:
            return given(found.line.residual_sd)
        case ["value" | "u" | "dof" as what]:
            return float(getattr(found.estimate, what))
        case ["sample", "value"]:
            assert found.sample is not None
            return found.sample.value
        case _:
            raise KeyError(".".join(name))


@cache
def _distance_line(name: str) -> gs.Calibration:
    held = load(REFERENCE / f"{name}.json").input
    u = {axis: _standard_uncertainties(held, axis) for axis in "xy"}
    return gs.calibrate(
        [float(x) for x in held["x"]],
        [float(y) for y in held["y"]],
        noise=gs.KnownSigma(u["y"]),
        x_uncertainty=u["x"],
        allow="flagged",  # the published lines need not rise
    )


def _standard_uncertainties(held: dict[str, Any], axis: str) -> list[float]:
    """Given as such, or as weights 1/u^2."""
    if f"u_{axis}" in held:
        return [float(u) for u in held[f"u_{axis}"]]
    return [1.0 / math.sqrt(float(weight)) for weight in held[f"weight_{axis}"]]


def _of_distance_line(case: Case, name: list[str]) -> float:
    cal = _distance_line(case.name)
    chi_squared = given(cal.chi_squared)
    match name:
        case ["coefficient", i]:
            return float(cal.coefficients[int(i)])
        case ["standard_error", i]:
            return float(cal.standard_errors[int(i)])
        case ["standard_error", i, "scaled"]:
            return float(cal.standard_errors[int(i)]) * math.sqrt(chi_squared / cal.residual_dof)
        case ["covariance", i, j]:
            return float(cal.covariance[int(i), int(j)])
        case ["chi_squared"]:
            return chi_squared
        case ["chi_squared", "reduced"]:
            return chi_squared / cal.residual_dof
        case _:
            raise KeyError(".".join(name))


def _of_replicates(case: Case, name: list[str]) -> float:
    values = [float(text) for text in case.input["values"]]
    alpha = float(case.input.get("alpha", "0.05"))
    match name:
        case ["mean" | "sd" | "rsd" as what]:
            return given(getattr(gs.replicates(values), what))
        case ["grubbs", "statistic"]:
            return gs.grubbs(values, alpha).statistic
        case ["grubbs", "critical", sides]:
            return gs.grubbs(values, alpha, sides == "two_sided").critical
        case ["dixon", "statistic"]:
            return gs.dixon(values, alpha).statistic
        case _:
            raise KeyError(".".join(name))


def _of_mdl(case: Case, name: list[str]) -> float:
    blanks = [text if text == "ND" else float(text) for text in case.input["blanks"]]
    limit = gs.mdl([float(text) for text in case.input["spikes"]], blanks)
    return given(getattr(limit, name[0]))


def of_the_test(test: gs.FTest | None, what: str) -> float:
    assert test is not None, "the library does not evaluate this test here"
    return test.statistic if what == "f" else test.p


def given(figure: float | None) -> float:
    assert figure is not None, "the library does not give this figure here"
    return figure


def correct_digits(found: float, expected: Decimal) -> float:
    """Minus the common logarithm of the relative error, 17 when there is none."""
    if expected == 0:
        return 17.0 if found == 0 else -math.log10(abs(found))
    error = abs((Decimal(found) - expected) / expected)
    return 17.0 if error == 0 else float(-error.log10())


KINDS: dict[str, Callable[[Case, list[str]], float]] = {
    "calibration": _of_calibration,
    "standard_additions": _of_additions,
    "replicates": _of_replicates,
    "distance_line": _of_distance_line,
    "mdl": _of_mdl,
}
