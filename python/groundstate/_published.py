"""Published cases that come with the package, and the library's own figures of them through its public surface.

A case is a JSON file of ``groundstate/cases``; the names of its figures are explained in the README.md beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import groundstate as gs

#: A figure of the library: a number, or a text where the case is about how a number is written.
Figure = float | str
#: The figures of one case by the parts of their names.
Answer = Callable[[list[str]], Figure]


@dataclass(frozen=True)
class Case:
    """One case; its numbers are the decimal strings of the file."""

    name: str
    title: str
    source: str
    obtained: str
    kind: str
    input: dict[str, Any]
    expected: dict[str, str]
    digits: float
    digits_reason: str
    printed: dict[str, str] = field(default_factory=dict)
    differs: dict[str, str] = field(default_factory=dict)

    @property
    def constructed(self) -> bool:
        """Whether the data are ours: then the figures follow from a published formula, not from a published example."""
        return self.obtained.startswith("constructed")


def case(name: str, text: str) -> Case:
    """The case that a file holds."""
    import json

    held = json.loads(text)
    tolerance = held.pop("tolerance")
    return Case(name=name, digits=float(tolerance["digits"]), digits_reason=tolerance["reason"], **held)


def cases() -> list[Case]:
    """The cases that come with the package, by name."""
    from importlib.resources import files

    folder = (files("groundstate") / "cases").iterdir()
    found = {file.name.removesuffix(".json"): file for file in folder if file.name.endswith(".json")}
    return [case(name, found[name].read_text(encoding="utf-8")) for name in sorted(found)]


def offered(one: Case) -> list[str]:
    """Names of the figures that the Python surface gives; what is left to its user or to Rust is not among them."""
    answered = KINDS.get(one.kind)
    if answered is None:
        return []
    _, left = answered
    return [name for name in one.expected if name not in left and name.split(".")[0] not in left]


def answers(one: Case) -> Callable[[str], Figure]:
    """The library's figures of a case by their names. Calibrations and the like are computed once, when asked."""
    make, _ = KINDS[one.kind]
    held: list[Answer] = []

    def figure(name: str) -> Figure:
        if not held:
            held.append(make(one.input))
        return held[0](name.split("."))

    return figure


def floats(texts: Sequence[str]) -> list[float]:
    return [float(text) for text in texts]


def given(figure: float | None) -> float:
    """A figure that has to be there."""
    if figure is None:
        raise LookupError("the library does not give this figure here")
    return figure


def unknown(name: list[str]) -> LookupError:
    return LookupError(f"there is no figure {'.'.join(name)}")


# ---- calibrations


def noise_of(kind: str, sigma: Sequence[float] = ()) -> Any:
    """A noise model by its name in the case files."""
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
    shape: Literal["line", "line_through_zero", "quadratic", "quadratic_through_zero"],
    noise: str,
    sigma: Sequence[float] = (),
    points: Literal["readings", "standards"] = "readings",
    zero: Literal["leave_out"] | None = None,
) -> gs.Calibration:
    """A calibration. Balanced standards go in as levels x replicates, anything else as one row a reading."""
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


def _calibration(held: dict[str, Any]) -> Answer:
    readings = [y if isinstance(y, list) else [y] for y in held["absorbance"]]
    cal = fit(
        [(float(x), floats(y)) for x, y in zip(held["concentration"], readings, strict=True)],
        held["shape"],
        held["noise"],
        floats(held.get("sigma", ())),
        held.get("points", "readings"),
        held.get("zero"),
    )

    def answer(name: list[str]) -> Figure:
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
            case ["residual_sd" | "chi_squared" | "r_squared" | "rse" as what]:
                return given(getattr(cal, what))
            case ["r"]:
                return given(cal.correlation)
            case ["percent_error", i]:
                return float(cal.percent_error[int(i)])
            case ["lack_of_fit", what]:
                return _of_the_test(cal.lack_of_fit(), what)
            case ["mandel", what]:
                return _of_the_test(cal.mandel(), what)
            case ["response", i, what]:
                return float(getattr(cal.absorbance(float(held["predict"][int(i)])), what))
            case ["unknown", i, what]:
                return _of_the_unknown(cal, held["unknowns"][int(i)], what)
            case _:
                raise unknown(name)

    return answer


def _of_the_test(test: gs.FTest | None, what: str) -> float:
    if test is None:
        raise LookupError("the library does not evaluate this test here")
    return test.statistic if what == "f" else test.p


def _of_the_unknown(cal: gs.Calibration, held: dict[str, Any], what: str) -> float:
    u = float(held["u"]) if "u" in held else None
    found = cal.concentration([floats(held["readings"])], reading_u=u)
    if what != "half_width":
        return float(getattr(found, what)[0])
    interval = found.interval(0.95)
    return float((interval.hi[0] - interval.lo[0]) / 2)


def _distance_line(held: dict[str, Any]) -> Answer:
    # given as standard uncertainties, or as weights 1/u^2
    u = {
        axis: floats(held[f"u_{axis}"])
        if f"u_{axis}" in held
        else [1.0 / math.sqrt(weight) for weight in floats(held[f"weight_{axis}"])]
        for axis in "xy"
    }
    noise = gs.KnownSigma(u["y"])
    # the published lines need not rise
    cal = gs.calibrate(floats(held["x"]), floats(held["y"]), noise=noise, x_uncertainty=u["x"], allow="flagged")
    chi_squared = given(cal.chi_squared)

    def answer(name: list[str]) -> Figure:
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
                raise unknown(name)

    return answer


def _standard_additions(held: dict[str, Any]) -> Answer:
    factor = held.get("to_sample")
    found = gs.standard_additions(
        floats(held["added"]),
        floats(held["absorbance"]),
        aliquot=None if factor is None else (float(factor["divide"]), float(factor["multiply"])),
    )

    def answer(name: list[str]) -> Figure:
        match name:
            case ["coefficient", i]:
                return float(found.coefficients[int(i)])
            case ["residual_sd"]:
                return given(found.line.residual_sd)
            case ["value" | "u" | "dof" as what]:
                return float(getattr(found.estimate, what))
            case ["half_width"]:
                interval = found.interval(0.95)
                return (interval.hi - interval.lo) / 2
            case ["sample", what] if found.sample is not None:
                return float(getattr(found.sample, what))
            case _:
                raise unknown(name)

    return answer


# ---- budgets of products and sums

#: Standard uncertainty of a quantity within a half-width (JCGM 100:2008 4.3.7, 4.3.9).
DIVISORS = {"rectangular": math.sqrt(3.0), "triangular": math.sqrt(6.0)}


def _u(term: dict[str, Any]) -> float:
    if "half_width" not in term:
        return float(term.get("u", "0"))
    return float(term["half_width"]) / (float(term["k"]) if "k" in term else DIVISORS[term["distribution"]])


def _exact_solution() -> gs.Estimate:
    """A measured concentration of one without an uncertainty, so that a budget is that of the preparation."""
    return gs.bracket([0.0, 2.0], [0.0, 2.0], 1.0)


def _product(held: dict[str, Any]) -> Answer:
    """A product is a preparation: what divides is the portion, every other quantity a factor."""
    portion: gs.Measured | None = None
    divided_by = ""
    factors = []
    for term in held["terms"]:
        value, u, power = float(term["value"]), _u(term), term.get("power", 1)
        if power == -1:
            portion, divided_by = gs.Measured(value, u), term["name"]
        else:  # a power is one quantity, with the derivative of the power
            factors.append(gs.Factor(value**power, abs(power) * value ** (power - 1) * u, term["name"]))
    constant = math.pi / 4 if held["constant"] == "pi/4" else float(held["constant"])
    if portion is None:
        preparation = gs.Preparation(extra=[gs.Factor(constant), *factors])
    else:
        preparation = gs.Preparation(volume_ml=portion, final_volume_ml=constant, extra=factors)
    parts = preparation.apply(_exact_solution()).contributions.row(0)

    def answer(name: list[str]) -> Figure:
        match name:
            case ["value"]:
                return preparation.multiplier
            case ["u"]:
                return preparation.multiplier_u
            case ["contribution", which]:
                source = "sample_volume" if which == divided_by else f"factor:{which}"
                return abs(next(value for key, value in parts.items() if key.endswith(source)))
            case _:
                raise unknown(name)

    return answer


def _sum(held: dict[str, Any]) -> Answer:
    """Independent components of a sum as factors near one, whose relative uncertainties they are, to first order."""
    components = {
        term["name"]: (abs(float(term["sensitivity"])) * _u(term), float(term.get("dof", "inf")))
        for term in held["terms"]
    }
    scale = 1e4 * max(u for u, _ in components.values())
    factors = [gs.Factor(1.0, u / scale, name, dof=dof) for name, (u, dof) in components.items()]
    found = gs.Preparation(extra=factors).apply(_exact_solution())

    def answer(name: list[str]) -> Figure:
        match name:
            case ["u"]:
                return found.u * scale
            case ["dof"]:
                return found.dof
            case _:
                raise unknown(name)

    return answer


# ---- limits


def _results(texts: Sequence[str]) -> list[Any]:
    return [text if text == "ND" else float(text) for text in texts]


def _mdl(held: dict[str, Any]) -> Answer:
    limit = gs.mdl(_results(held["spikes"]), _results(held["blanks"]))
    return lambda name: given(getattr(limit, name[0]))


def _mdl_t(held: dict[str, Any]) -> Answer:
    def answer(name: list[str]) -> Figure:
        results = [1.0 + i / 1000 for i in range(held["results"][int(name[1])])]
        return given(gs.mdl(results, results).spikes.t)

    return answer


def _percentile_rank(held: dict[str, Any]) -> Answer:
    """Blanks that are their own ranks, the lowest of them not detected: the limit is the rank itself."""
    spikes = [1.0 + i / 1000 for i in range(7)]

    def answer(name: list[str]) -> Figure:
        ranks = [float(rank) for rank in range(2, held["counts"][int(name[1])] + 1)]
        return given(gs.mdl(spikes, ["ND", *ranks]).from_blanks)

    return answer


def _minimum_level(held: dict[str, Any]) -> Answer:
    return lambda name: gs.minimum_level(float(held["mdl"][name[0]]))


def _calibration_limits(held: dict[str, Any]) -> Answer:
    cal = gs.calibrate(
        floats(held["concentration"]), floats(held["absorbance"]), noise=gs.KnownSigma(float(held["sigma"]))
    )
    functions: dict[str, Callable[..., gs.CalibrationLimit]] = {
        "critical": gs.critical_value,
        "detection": gs.detection_limit,
        "quantitation": gs.quantitation_limit,
    }

    def answer(name: list[str]) -> Figure:
        which, what = name
        if which == "paired":
            return float(getattr(gs.currie_levels(1.0, blank="paired", alpha=float(held["alpha"])), what))
        blanks = held["blanks"][which]
        limit = functions[what](cal, alpha=float(held["alpha"]), blanks=None if blanks is None else floats(blanks))
        return limit.factor

    return answer


# ---- small samples and reporting


def _replicates(held: dict[str, Any]) -> Answer:
    values, alpha = floats(held["values"]), float(held.get("alpha", "0.05"))

    def answer(name: list[str]) -> Figure:
        match name:
            case ["mean" | "sd" | "rsd" as what]:
                return given(getattr(gs.replicates(values), what))
            case ["grubbs", "statistic"]:
                return gs.grubbs(values, alpha).statistic
            case ["grubbs", "critical", sides]:
                return gs.grubbs(values, alpha, sides == "two_sided").critical
            case ["dixon", "statistic"]:
                return gs.dixon(values, alpha).statistic
            case ["median"]:
                return gs.median(values)
            case ["mad", "none" | "normal" as scale]:
                return gs.mad(values, scale=scale)
            case ["algorithm_a" | "huber" as method, "mean" | "sd" as what]:
                return float(getattr(gs.robust(values, method), what))
            case ["esd", step, "statistic" | "critical" as what]:
                return float(getattr(gs.generalized_esd(values, int(held["most"]), alpha).steps[int(step)], what))
            case _:
                raise unknown(name)

    return answer


def _variances(held: dict[str, Any]) -> Answer:
    sets, alpha = [floats(one) for one in held["sets"]], float(held["alpha"])

    def answer(name: list[str]) -> Figure:
        test: Any = name[0]
        return float(getattr(gs.variance_homogeneity(sets, test, alpha), name[1]))

    return answer


def _rounding(held: dict[str, Any]) -> Answer:
    def answer(name: list[str]) -> Figure:
        example = held["examples"][int(name[1])]
        return gs.round_reported(float(example["value"]), quantum=float(example["quantum"]), ties=example["ties"])

    return answer


#: By kind of case: who answers, and the figures of its sources that no function of the package gives by itself.
KINDS: dict[str, tuple[Callable[[dict[str, Any]], Answer], frozenset[str]]] = {
    "calibration": (_calibration, frozenset({"half_width", "residual_ss"})),
    "distance_line": (_distance_line, frozenset()),
    "standard_additions": (_standard_additions, frozenset()),
    "product": (_product, frozenset()),
    "sum": (_sum, frozenset({"value", "k99", "U99"})),
    "mdl": (_mdl, frozenset()),
    "mdl_t": (_mdl_t, frozenset()),
    "percentile_rank": (_percentile_rank, frozenset()),
    "minimum_level": (_minimum_level, frozenset()),
    "calibration_limits": (_calibration_limits, frozenset()),
    "replicates": (_replicates, frozenset()),
    "variances": (_variances, frozenset()),
    "rounding": (_rounding, frozenset()),
}


def every_figure() -> Iterator[tuple[Case, str, Callable[[str], Figure]]]:
    """Case, name of a figure, and the function that gives it."""
    for one in cases():
        figure = answers(one) if one.kind in KINDS else None
        for name in offered(one):
            assert figure is not None
            yield one, name, figure
