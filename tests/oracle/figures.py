"""A reference case, read from its file, and any of its figures by name.

The names are those of python/groundstate/cases/README.md. The same names are answered by the library's
runner, so that one file checks both.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import mpmath

from tests.oracle import diagnostics, distance_fit, limits, samples, sums
from tests.oracle.additions import native_amount
from tests.oracle.calibration import Calibration, Noise, calibrate, noise
from tests.oracle.distributions import f_quantile, t_quantile
from tests.oracle.inverse import (
    Estimate,
    Reading,
    VariancePart,
    concentration,
    delta_interval,
    welch_satterthwaite,
)
from tests.oracle.preparation import Product, Quantity, product
from tests.oracle.real import INFINITE, ONE, mean, reals, total
from tests.oracle.rounding import round_to

#: The one copy of the cases: they are shipped, for `gs.validate()`.
REFERENCE = Path(__file__).parents[2] / "python" / "groundstate" / "cases"


@dataclass(frozen=True)
class Case:
    """One published (or constructed) case; numbers are the decimal strings of the file."""

    name: str
    title: str
    source: str
    obtained: str
    kind: str
    input: dict[str, Any]
    expected: dict[str, str]
    printed: dict[str, str]
    differs: dict[str, str]
    digits: Decimal
    digits_reason: str


def load(path: Path) -> Case:
    held = json.loads(path.read_text(encoding="utf-8"))
    return Case(
        name=path.stem,
        title=held["title"],
        source=held["source"],
        obtained=held["obtained"],
        kind=held["kind"],
        input=held["input"],
        expected=held["expected"],
        printed=held.get("printed", {}),
        differs=held.get("differs", {}),
        digits=Decimal(held["tolerance"]["digits"]),
        digits_reason=held["tolerance"]["reason"],
    )


def cases() -> list[Case]:
    return [load(path) for path in sorted(REFERENCE.glob("*.json"), key=lambda path: path.stem)]


def figure(case: Case, name: str) -> Decimal:
    """The oracle's own value of one figure of the case."""
    answer = KINDS[case.kind](case, name.split("."))
    if answer is None:
        raise LookupError(f"{case.name}: {name} has no value")
    return answer


def levels_of(given: dict[str, Any]) -> list[tuple[str, list[str]]]:
    return [
        (x, y if isinstance(y, list) else [y]) for x, y in zip(given["concentration"], given["absorbance"], strict=True)
    ]


@cache
def _calibration(name: str) -> Calibration:
    given = load(REFERENCE / f"{name}.json").input
    return calibrate(
        levels_of(given),
        given["shape"],
        noise(given["noise"], given.get("sigma", ())),
        given.get("points", "readings"),
        given.get("zero"),
    )


def unknown(given: dict[str, Any]) -> Reading:
    values = reals(given["readings"])
    u = Decimal(given["u"]) if "u" in given else None
    return Reading(mean(values), len(values), u)


def _of_calibration(case: Case, name: list[str]) -> Decimal | None:
    fitted = _calibration(case.name)
    match name:
        case ["coefficient", i]:
            return fitted.coefficients[int(i)]
        case ["standard_error", i]:
            return fitted.standard_errors[int(i)]
        case ["covariance", i, j]:
            return fitted.covariance[int(i)][int(j)]
        case ["correlation", i, j]:
            errors = fitted.standard_errors
            return fitted.covariance[int(i)][int(j)] / (errors[int(i)] * errors[int(j)])
        case ["half_width", i]:
            t = t_quantile(Decimal("0.975"), fitted.unit_dof)
            return t * fitted.standard_errors[int(i)]
        case ["residual_sd"]:
            return fitted.residual_sd
        case ["residual_ss"]:
            return fitted.solution.residual_ss
        case ["chi_squared"]:
            return fitted.chi_squared
        case ["r"]:
            return diagnostics.correlation(fitted)
        case ["r_squared"]:
            return diagnostics.r_squared(fitted)
        case ["percent_error", i]:
            return diagnostics.percent_errors(fitted)[int(i)]
        case ["rse"]:
            return diagnostics.rse(fitted)
        case ["lack_of_fit", "f"]:
            return diagnostics.lack_of_fit(fitted).f
        case ["lack_of_fit", "p"]:
            return diagnostics.lack_of_fit(fitted).p
        case ["mandel", "f"]:
            return diagnostics.mandel(fitted).f
        case ["mandel", "p"]:
            return diagnostics.mandel(fitted).p
        case ["response", i, "value"]:
            return fitted.response(Decimal(case.input["predict"][int(i)]))
        case ["response", i, "u"]:
            return fitted.response_variance(Decimal(case.input["predict"][int(i)])).sqrt()
        case ["unknown", i, what]:
            found = concentration(fitted, unknown(case.input["unknowns"][int(i)]))
            return _of_estimate(found, what)
        case _:
            raise KeyError(".".join(name))


def _of_estimate(found: Estimate, what: str) -> Decimal | None:
    match what:
        case "value":
            return found.value
        case "u":
            return found.u
        case "dof":
            return found.dof
        case "half_width":
            lo, hi = delta_interval(found, Decimal("0.95")).ends
            return (hi - lo) / 2
        case _:
            raise KeyError(what)


def _of_additions(case: Case, name: list[str]) -> Decimal:
    added, signal = case.input["added"], case.input["absorbance"]
    native = native_amount(added, signal)
    match name:
        case ["value"]:
            return native.value
        case ["u"]:
            return native.u
        case ["dof"]:
            return native.dof
        case ["half_width"]:
            return t_quantile(Decimal("0.975"), native.dof) * native.u
        case ["sample", "value"]:
            factor = Decimal(case.input["to_sample"]["multiply"])
            return native.value * factor / Decimal(case.input["to_sample"]["divide"])
    line = calibrate([(x, [y]) for x, y in zip(added, signal, strict=True)], "line", Noise("equal"))
    match name:
        case ["coefficient", i]:
            return line.coefficients[int(i)]
        case ["residual_sd"]:
            return line.residual_sd
        case _:
            raise KeyError(".".join(name))


DIVISORS = {"rectangular": 3, "triangular": 6}


def quantity(given: dict[str, Any]) -> Quantity:
    """A value with u given outright, or as a half-width divided by sqrt(3), sqrt(6) or k."""
    value = Decimal(given["value"])
    dof = Decimal(given["dof"]) if "dof" in given else INFINITE
    if "half_width" in given:
        half = Decimal(given["half_width"])
        if "k" in given:
            return Quantity(value, half / Decimal(given["k"]), dof)
        return Quantity(value, half / Decimal(DIVISORS[given["distribution"]]).sqrt(), dof)
    return Quantity(value, Decimal(given.get("u", "0")), dof)


def _of_product(case: Case, name: list[str]) -> Decimal:
    terms = [(t["name"], quantity(t), int(t.get("power", 1))) for t in case.input["terms"]]
    if "constant" in case.input:
        terms.insert(0, ("constant", Quantity(_constant(case.input["constant"])), 1))
    found = product(terms)
    return _of_found_product(found, name)


def _constant(text: str) -> Decimal:
    if text == "pi/4":
        with mpmath.workdps(60):
            return Decimal(mpmath.nstr(mpmath.pi / 4, 58))
    return Decimal(text)


def _of_found_product(found: Product, name: list[str]) -> Decimal:
    match name:
        case ["value"]:
            return found.value
        case ["u"]:
            return found.u
        case ["contribution", which]:
            return abs(found.contributions[which])
        case _:
            raise KeyError(".".join(name))


def _of_sum(case: Case, name: list[str]) -> Decimal:
    """A sum of terms, each a sensitivity times an input (JCGM 100:2008 clause 5.1.2)."""
    parts = []
    value = Decimal(0)
    for term in case.input["terms"]:
        held = quantity(term)
        sensitivity = Decimal(term["sensitivity"])
        value += sensitivity * held.value
        parts.append(VariancePart(term["name"], (sensitivity * held.u) ** 2, held.dof))
    u = total(part.variance for part in parts).sqrt()
    dof = welch_satterthwaite(parts)
    match name:
        case ["value"]:
            return value
        case ["u"]:
            return u
        case ["dof"]:
            return dof
        case ["k99", "truncated"]:
            return t_quantile(Decimal("0.995"), dof.to_integral_value(rounding="ROUND_FLOOR"))
        case ["U99", "truncated"]:
            return _of_sum(case, ["k99", "truncated"]) * u
        case _:
            raise KeyError(".".join(name))


def _of_distance_line(case: Case, name: list[str]) -> Decimal:
    given = case.input
    if "weight_x" in given:
        wx, wy = reals(given["weight_x"]), reals(given["weight_y"])
    else:
        wx = [1 / u**2 for u in reals(given["u_x"])]
        wy = [1 / u**2 for u in reals(given["u_y"])]
    line = distance_fit.fit(reals(given["x"]), reals(given["y"]), wx, wy)
    scale = (line.chi_squared / (len(wx) - 2)).sqrt()
    match name:
        case ["coefficient", i]:
            return (line.a, line.b)[int(i)]
        case ["standard_error", i]:
            return (line.u_a, line.u_b)[int(i)]
        case ["standard_error", i, "scaled"]:
            return (line.u_a, line.u_b)[int(i)] * scale
        case ["covariance", "0", "1"]:
            return line.covariance
        case ["chi_squared"]:
            return line.chi_squared
        case ["chi_squared", "reduced"]:
            return line.chi_squared / (len(wx) - 2)
        case _:
            raise KeyError(".".join(name))


def _of_additive_model(case: Case, name: list[str]) -> Decimal:
    """Unit-variance normal or rectangular inputs, one of them possibly scaled."""
    which, what = name
    sds = reals(case.input["standard_deviations"][which])
    u = total(sd**2 for sd in sds).sqrt()
    match what:
        case "u":
            return u
        case "half_width_normal":
            return t_quantile(Decimal("0.975"), INFINITE) * u
        case "half_width_exact":
            return sums.half_interval([sd * Decimal(3).sqrt() for sd in sds], Decimal("0.95"))
        case _:
            raise KeyError(".".join(name))


def _of_mdl(case: Case, name: list[str]) -> Decimal | None:
    spikes = reals(case.input["spikes"])
    blanks = [None if text == "ND" else Decimal(text) for text in case.input["blanks"]]
    from_spikes = limits.mdl_from_spikes(spikes)
    from_blanks = limits.mdl_from_blanks(blanks)
    match name:
        case ["from_spikes"]:
            return from_spikes
        case ["from_blanks"]:
            return from_blanks
        case ["value"]:
            return from_spikes if from_blanks is None else max(from_spikes, from_blanks)
        case _:
            raise KeyError(".".join(name))


def _of_ranks(case: Case, name: list[str]) -> Decimal:
    return ONE * limits.percentile_rank(case.input["counts"][int(name[1])])


def _of_minimum_level(case: Case, name: list[str]) -> Decimal:
    return limits.minimum_level(Decimal(case.input["mdl"][name[0]]))


def _of_mdl_t(case: Case, name: list[str]) -> Decimal:
    return t_quantile(limits.NINETY_NINE, Decimal(case.input["results"][int(name[1])] - 1))


def _of_calibration_limits(case: Case, name: list[str]) -> Decimal:
    """Multipliers of the standard deviation at zero; they depend on its degrees of freedom alone."""
    which, what = name
    if which == "paired":  # the blank's own variance is added to the reading's
        root = Decimal(2).sqrt()
        z = t_quantile(1 - Decimal(case.input["alpha"]), INFINITE)
        return root * {"critical": z, "detection": 2 * z, "quantitation": Decimal(10)}[what]
    blanks = case.input["blanks"][which]
    dof = INFINITE if blanks is None else Decimal(len(blanks) - 1)
    alpha = Decimal(case.input["alpha"])
    match what:
        case "critical":
            return t_quantile(1 - alpha, dof)
        case "detection":
            return limits.noncentrality(dof, alpha, alpha)
        case "quantitation":
            return Decimal(10)  # by definition: a relative standard deviation of 10 %
        case _:
            raise KeyError(".".join(name))


def _of_rounding(case: Case, name: list[str]) -> Decimal:
    example = case.input["examples"][int(name[1])]
    return round_to(Decimal(example["value"]), Decimal(example["quantum"]), example["ties"])


def _of_replicates(case: Case, name: list[str]) -> Decimal:
    values = reals(case.input["values"])
    alpha = Decimal(case.input.get("alpha", "0.05"))
    match name:
        case ["mean"]:
            return mean(values)
        case ["sd"]:
            return samples.sample_sd(values)
        case ["rsd"]:
            return 100 * samples.sample_sd(values) / mean(values)
        case ["grubbs", "statistic"]:
            return samples.grubbs(values)
        case ["grubbs", "critical", "two_sided"]:
            return samples.grubbs_critical(len(values), alpha, 2)
        case ["grubbs", "critical", "one_sided"]:
            return samples.grubbs_critical(len(values), alpha, 1)
        case ["dixon", "statistic"]:
            return samples.dixon_r10(values)
        case ["median"]:
            return samples.median(values)
        case ["mad", "none"]:
            return samples.mad(values)
        case ["mad", "normal"]:
            return samples.mad_scaled(values)
        case ["huber", "mean"]:
            return samples.huber(values, Decimal("1.5"))
        case ["algorithm_a", what]:
            return samples.algorithm_a(values)[what == "sd"]
        case ["esd", step, what]:
            return samples.esd(values, int(case.input["most"]), alpha)[int(step)][what == "critical"]
        case _:
            raise KeyError(".".join(name))


def _of_variances(case: Case, name: list[str]) -> Decimal:
    sets = [reals(one) for one in case.input["sets"]]
    alpha, k, n = Decimal(case.input["alpha"]), len(sets), sum(map(len, case.input["sets"]))
    match name:
        case ["bartlett", "statistic"]:
            return samples.bartlett(sets)
        case ["bartlett", "critical"]:
            return (k - 1) * f_quantile(alpha, Decimal(k - 1), INFINITE)
        case ["levene", "statistic"]:
            return samples.levene(sets)
        case ["levene", "critical"]:
            return f_quantile(alpha, Decimal(k - 1), Decimal(n - k))
        case _:
            raise KeyError(".".join(name))


KINDS: dict[str, Callable[[Case, list[str]], Decimal | None]] = {
    "calibration": _of_calibration,
    "standard_additions": _of_additions,
    "product": _of_product,
    "replicates": _of_replicates,
    "variances": _of_variances,
    "sum": _of_sum,
    "distance_line": _of_distance_line,
    "additive_model": _of_additive_model,
    "mdl": _of_mdl,
    "percentile_rank": _of_ranks,
    "minimum_level": _of_minimum_level,
    "mdl_t": _of_mdl_t,
    "calibration_limits": _of_calibration_limits,
    "rounding": _of_rounding,
}
