"""Limits from calibrations of every kind, Currie's levels, choice of shape by profiles, single additions."""

import json
import math
import pickle
from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

import groundstate as gs

# Constructed for ISO 8466-2 (tests/reference/cases): ten levels of a bent curve.
BENT = (
    [1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10],
    [0.0512, 0.0981, 0.1437, 0.1874, 0.2291, 0.2688, 0.3069, 0.3427, 0.3772, 0.4093],
)
# Invented: a straight line of six standards read once, with a scatter of half a milliabsorbance.
X = np.array([0.0, 0.4, 0.8, 1.2, 1.6, 2.0])
Y = np.array([0.0004, 0.0446, 0.0875, 0.1323, 0.1759, 0.2204])


def codes(found: Any) -> list[str]:
    return [finding.code for finding in found.findings]


def same(one: Any) -> Any:
    return pickle.loads(pickle.dumps(one))


# ---- limits from calibrations


def general(cal: gs.Calibration, s_of: Any, alpha: float, beta: float) -> tuple[float, float]:
    """Critical value and detection limit by their definitions: normal readings of known scatter about a known curve."""
    a, *rest = (float(c) for c in cal.coefficients)
    f = np.polynomial.Polynomial([a, *rest])
    critical = a + stats.norm.isf(alpha) * s_of(0.0)
    x_c = optimize.brentq(lambda x: f(x) - critical, 0, 5, xtol=1e-15)
    x_d = optimize.brentq(lambda x: f(x) - critical - stats.norm.isf(beta) * s_of(x), 0, 5, xtol=1e-15)
    return x_c, x_d


def variance_of_curve(cal: gs.Calibration, x: float) -> float:
    powers = np.array([x**i for i in range(len(cal.coefficients))])
    return float(powers @ np.asarray(cal.covariance) @ powers)


@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_curves_of_known_scatter_meet_the_definitions(shape: Any) -> None:
    x, y = (X, Y) if shape == "line" else (np.array([0.0, *BENT[0]]), np.array([0.0012, *BENT[1]]))
    cal = gs.calibrate(x, y, shape=shape, noise=gs.KnownSigma(0.0005))

    def s_of(at: float) -> float:
        # A reading, and the curve at zero, which the decision is made against.
        return math.sqrt(0.0005**2 + variance_of_curve(cal, 0.0))

    x_c, x_d = general(cal, s_of, 0.05, 0.05)
    assert gs.critical_value(cal).value == pytest.approx(x_c, rel=1e-9)
    assert gs.detection_limit(cal).value == pytest.approx(x_d, rel=1e-6)
    quantitation = gs.quantitation_limit(cal, k=10).value
    assert quantitation is not None
    # x = k u(x): u of the reading at that signal on the calibration.
    found = cal.concentration(float(cal.absorbance(quantitation).value))
    assert quantitation == pytest.approx(10 * found.u, rel=1e-9)


def test_a_weighted_line_needs_to_know_the_scatter_of_a_blank() -> None:
    cal = gs.calibrate(X[1:], Y[1:], noise="1/x")
    with pytest.raises(gs.GroundstateError, match="standard uncertainty of a reading near zero"):
        gs.detection_limit(cal)
    known = gs.critical_value(cal, reading_u=0.0005)
    # y_c = a + t s0 with s0^2 of the reading and of the curve at zero (whose scatter is the line's own estimate).
    s0 = math.hypot(0.0005, math.sqrt(variance_of_curve(cal, 0.0)))
    assert known.sd_at_zero == pytest.approx(s0, rel=1e-9)
    assert known.value == pytest.approx(known.factor * s0 / cal.coefficients[1], rel=1e-9)
    blanks = gs.critical_value(cal, blanks=[0.0010, 0.0004, 0.0013, 0.0008, 0.0002, 0.0011, 0.0007])
    s = float(np.std([0.0010, 0.0004, 0.0013, 0.0008, 0.0002, 0.0011, 0.0007], ddof=1))
    # DIN 32645's blank method (from memory): t (s/b) sqrt(1/m + 1/n).
    assert blanks.value == pytest.approx(
        stats.t.isf(0.05, 6) * s * math.sqrt(1 + 1 / 7) / cal.coefficients[1], rel=1e-9
    )


def test_errors_of_the_standards_reach_the_limit() -> None:
    plain = gs.calibrate(X, Y, noise=gs.KnownSigma(0.0005))
    errors = gs.calibrate(X, Y, noise=gs.KnownSigma(0.0005), x_uncertainty=[0.0, *[0.004] * 5])
    limits = [gs.detection_limit(cal).value for cal in (plain, errors)]
    assert limits[0] is not None
    assert limits[1] is not None
    assert limits[1] > limits[0]
    s0 = math.hypot(0.0005, math.sqrt(variance_of_curve(errors, 0.0)))
    critical = gs.critical_value(errors)
    assert critical.sd_at_zero == pytest.approx(s0, rel=1e-9)
    assert critical.value == pytest.approx(stats.norm.isf(0.05) * s0 / errors.coefficients[1], rel=1e-9)


def test_currie_s_levels_known_estimated_and_paired() -> None:
    # L. A. Currie, Pure Appl. Chem. 67, 1699 (1995), from memory: the multipliers as printed.
    known = gs.currie_levels(1.0)
    assert [f"{x:.3f}" for x in (known.critical, known.detection)] == ["1.645", "3.290"]
    assert (known.quantitation, known.dof, known.detection_interval) == (10.0, math.inf, None)
    paired = gs.currie_levels(1.0, blank="paired")
    assert [f"{x:.2f}" for x in (paired.critical, paired.detection)] == ["2.33", "4.65"]
    assert f"{paired.quantitation:.1f}" == "14.1"
    # Four degrees of freedom: t = 2.132 and delta = 4.07, not 2 t = 4.26 (Currie, from memory).
    few = gs.currie_levels(1.0, dof=4)
    assert [f"{few.critical:.3f}", f"{few.detection:.2f}"] == ["2.132", "4.07"]
    assert stats.nct.cdf(few.critical, 4, few.detection) == pytest.approx(0.05, rel=1e-6)
    assert few.detection_interval == pytest.approx(
        [few.detection * math.sqrt(4 / stats.chi2.isf(q, 4)) for q in (0.025, 0.975)], rel=1e-9
    )
    blanks = [1.0, 1.3, 0.8, 1.1, 0.9, 1.2]
    found = gs.currie_levels(blanks=blanks, readings=2)
    s0 = float(np.std(blanks, ddof=1)) * math.sqrt(1 / 2 + 1 / 6)
    assert found.sigma0 == pytest.approx(s0, rel=1e-12)
    again = gs.currie_levels(float(np.std(blanks, ddof=1)), dof=5, blank=6, readings=2)
    assert found.detection == pytest.approx(again.detection, rel=1e-12)
    assert (found.dof, again.dof) == (5.0, 5.0)
    assert same(found) == found
    json.dumps(found.to_dict())
    for wrong in (
        {"s": 0.0},
        {"s": 1.0, "blank": "none"},
        {},
        {"s": 1.0, "blanks": blanks},
        {"blanks": blanks, "dof": 3},
    ):
        with pytest.raises(gs.ArgumentError):
            gs.currie_levels(**wrong)


# ---- choice of shape


def test_7000b_admits_a_line_alone() -> None:
    free = gs.choose_shape(*BENT)
    bound = gs.choose_shape(*BENT, profile="sw846_7000b")
    assert (free.shape, bound.shape) == ("quadratic", None)
    assert {"line_only", "no_shape_adequate"} <= set(codes(bound))
    refused = next(one for one in bound.candidates if one.shape == "quadratic")
    assert refused.rejected_by == "admitted"
    assert "7000B" in str(next(test for test in refused.tests if test.name == "admitted").citation)
    straight = gs.choose_shape(X[1:], Y[1:], profile="sw846_7000b")
    assert straight.shape == "line"
    test = next(one for one in straight.candidates[0].tests if one.name == "correlation")
    assert (test.outcome, test.limit) == ("passed", 0.995)
    assert test.figure == pytest.approx(np.corrcoef(X[1:], Y[1:])[0, 1], rel=1e-12)
    assert "7000B" in str(test.citation)
    assert "curve_in_absorption" in codes(free)
    assert same(bound).candidates[0].reason == bound.candidates[0].reason


def test_a_poor_correlation_rejects_by_the_profile_and_by_the_caller() -> None:
    rough = Y[1:] + 0.012 * np.array([1, -1, 1, -1, 1])
    found = gs.choose_shape(X[1:], rough, shapes=["line"], profile="sw846_7000b", percent_error=100)
    assert found.candidates[0].rejected_by == "correlation"
    assert "below 0.995" in found.candidates[0].reason
    own = gs.choose_shape(X[1:], rough, shapes=["line"], profile="sw846_7000b", percent_error=100, correlation=0.9)
    assert own.shape == "line"
    squared = gs.choose_shape(*BENT, determination=0.9999999)
    curve = next(one for one in squared.candidates if one.shape == "quadratic")
    assert curve.rejected_by == "determination"
    assert "below 0.9999999" in curve.reason
    with pytest.raises(gs.ArgumentError, match="correlation"):
        gs.choose_shape(*BENT, correlation=1.5)


def test_the_criteria_of_a_method_and_what_is_no_profile() -> None:
    method = gs.Method.from_toml(
        'id = "CU-1"\nversion = "1"\nelement = "Cu"\nprofile = "sw846_7000b"\n[criteria.calibration]\nr = 0.9999\nminimum_standards = 5\n'
    )
    found = gs.choose_shape(X[1:], Y[1:], profile=method)
    limits = {test.name: test.limit for test in found.candidates[0].tests}
    assert (limits["correlation"], limits["standards"]) == (0.9999, 5.0)
    short = gs.choose_shape(X[1:5], Y[1:5], profile=method)
    assert short.candidates[0].rejected_by == "standards"
    assert same(found).shape == found.shape
    with pytest.raises(gs.MethodError, match="did you mean sw846_7000b"):
        gs.choose_shape(X, Y, profile="sw846_7000")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="profile"):
        gs.choose_shape(X, Y, profile=7)  # type: ignore[arg-type]


def test_dropped_ends_move_the_limits_and_interior_levels_stay() -> None:
    y = np.array(BENT[1])
    found = gs.choose_shape(BENT[0], y, shapes=["line"], may_drop=(1, 6), percent_error=50)
    assert all(
        [*one.dropped[0]] == BENT[0][: len(one.dropped[0])]
        and [*one.dropped[1]] == BENT[0][len(BENT[0]) - len(one.dropped[1]) :]
        for one in found.candidates
    )
    taken = found.candidates[0]
    assert taken.rejected_by is None
    moved = [finding for finding in found.findings if finding.code == "end_level_dropped"]
    assert len(moved) == sum(1 for end in taken.dropped if end)
    assert all("8000D" in str(finding.citation) for finding in moved)


def test_stray_light_is_a_candidate() -> None:
    # -log10((10^(-0.3 x) + 0.02)/1.02), to five decimals (invented).
    x = np.array([0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0])
    y = np.round(-np.log10((10 ** (-0.3 * x) + 0.02) / 1.02), 5)
    found = gs.choose_shape(x, y, shapes=["line", "stray_light"], zeroing="autozeroed", zero_u=1e-6)
    assert found.shape == "stray_light"
    assert {one.shape for one in found.candidates} == {"line", "stray_light"}
    json.dumps(found.to_dict())


def test_errors_of_the_standards_enter_a_choice() -> None:
    sigma: list[Any] = [gs.KnownSigma(0.0005)]
    free = gs.choose_shape(X[1:], Y[1:], noises=sigma)
    errors = gs.XUncertainty([0.001, 0.004, 0.002, 0.008, 0.003], shared={"stock:A": 0.005})
    found = gs.choose_shape(X[1:], Y[1:], noises=sigma, x_uncertainty=errors)
    fitted = gs.calibrate(X[1:], Y[1:], noise=sigma[0], x_uncertainty=errors)
    assert found.calibration is not None
    assert free.calibration is not None
    assert found.calibration.coefficients == pytest.approx(fitted.coefficients, rel=1e-12)
    assert found.calibration.coefficients[1] != free.calibration.coefficients[1]
    assert "stock" in {line.kind for line in found.calibration.concentration(0.1).budget()}
    assert same(found).calibration == found.calibration
    table = np.column_stack([Y[1:], Y[1:]])
    poured = gs.choose_shape(X[1:], table, noises=sigma, points="standards", x_uncertainty=[0.004] * 5)
    assert poured.shape == "line"
    with pytest.raises(gs.ArgumentError, match="share its error"):
        gs.choose_shape(X[1:], table, noises=sigma, x_uncertainty=0.004)
    # Equal scatter of unknown size cannot be weighed against them: no candidate can be fitted, and each says why.
    unknown = gs.choose_shape(X[1:], Y[1:], x_uncertainty=0.004)
    assert unknown.shape is None
    assert all(one.rejected_by == "fitted" and "noise model equal" in one.reason for one in unknown.candidates[:1])


# ---- single addition


def test_a_single_addition_by_hand() -> None:
    # SW-846 7000B 9.10, by hand: 0.200 x 1.0 x 10 / ((0.410 - 0.200) x 20) = 2/4.2.
    found = gs.single_addition(0.410, 0.200, standard=10.0, standard_volume=1.0, portion_volume=20.0)
    assert found.estimate.value == pytest.approx(2 / 4.2, rel=1e-14)
    assert (found.unit, found.estimate.status, codes(found)) == ("mg/L", "in_range", [])
    assert found.estimate.u == 0.0  # nothing was said of any uncertainty
    # With uncertainties, each part by its derivative by hand; C = f S_B/(S_A - S_B), f = Vs Cs/Vx = 0.5.
    known = gs.single_addition(
        0.410, 0.200, standard=10.0, standard_volume=gs.Measured(1.0, 0.005), portion_volume=gs.Measured(20.0, 0.03),
        spiked_u=0.002, unspiked_u=0.001, blank_u=0.0008, stock=gs.Stock("A", 0.005), unit="mg/L",
    )  # fmt: skip
    c, rise = 2 / 4.2, 0.21
    parts = [
        0.5 * 0.200 / rise**2 * 0.002,  # S_A
        0.5 * 0.410 / rise**2 * 0.001,  # S_B
        0.5 / rise * 0.0008,  # the blank lowers both signals: their difference stays
        c * 0.005,  # volume of the standard
        c * 0.03 / 20,  # volume of the portion
        c * 0.005,  # the standard
    ]
    assert known.estimate.u == pytest.approx(math.hypot(*parts), rel=1e-12)
    assert {line.kind for line in known.estimate.budget()} == {"reading", "zero", "stock", "volume"}
    lo, hi = known.interval(0.95)
    assert hi - lo == pytest.approx(2 * stats.norm.isf(0.025) * known.estimate.u, rel=1e-6)
    fieller = known.interval(0.95, "inversion")
    assert known.estimate.value in fieller
    assert same(known) == known != found
    assert same(known.estimate).same_as(known.estimate)
    assert known.to_dict()["estimate"]["value"] == known.estimate.value
    assert repr(known).startswith("<SingleAddition 0.47")


def test_a_single_addition_from_readings_and_what_is_noticed() -> None:
    spiked, unspiked = [0.409, 0.411, 0.410], [0.200, 0.201, 0.199]
    found = gs.single_addition(spiked, unspiked, standard=10, standard_volume=1, portion_volume=20)
    assert found.estimate.value == pytest.approx(2 / 4.2, rel=1e-12)
    s = 0.001 / math.sqrt(3)
    assert found.estimate.u == pytest.approx(0.5 / 0.21**2 * math.hypot(0.2 * s, 0.41 * s), rel=1e-9)
    # Welch-Satterthwaite of two parts on two degrees of freedom each (GUM G.4.1).
    one, two = 0.2**2, 0.41**2
    assert found.estimate.dof == pytest.approx((one + two) ** 2 / (one**2 / 2 + two**2 / 2), rel=1e-9)
    small = gs.single_addition(0.21, 0.20, standard=10, standard_volume=1, portion_volume=20)
    assert codes(small) == ["single_addition_size"]
    none = gs.single_addition(0.2, 0.2, standard=10, standard_volume=1, portion_volume=20)
    assert (none.estimate.status, codes(none)) == ("not_calibrated", ["addition_not_seen"])
    assert none.to_dict()["estimate"]["value"] is None
    negative = gs.single_addition(0.2, -0.01, standard=10, standard_volume=1, portion_volume=20)
    assert (negative.estimate.status, negative.estimate.value < 0) == ("negative", True)
    for wrong in (
        {"standard": 0.0},
        {"standard_volume": 0.0},
        {"portion_volume": -1.0},
        {"spiked": [0.4]},
        {"spiked": spiked, "spiked_u": 0.001},
        {"blank_u": -1.0},
        {"stock": [gs.Stock("A", 0.1), gs.Stock("B", 0.1)]},
        {"unit": "mg"},
    ):
        given: dict[str, Any] = {"spiked": 0.4, "unspiked": 0.2, "standard": 10.0, "standard_volume": 1.0}
        with pytest.raises(gs.GroundstateError):
            gs.single_addition(**(given | {"portion_volume": 20.0} | wrong))
