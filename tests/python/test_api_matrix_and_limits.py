"""Standard additions, matrix effects, limits from a calibration, choice of shape, verification of an MDL."""

import math
import pickle
from typing import Any

import numpy as np
import pytest
from scipy import stats

import groundstate as gs

# Miller and Miller, chapter 5, Example 5.8.1 (from memory): silver in photographic waste, ug/mL.
SILVER = ([0.0, 5, 10, 15, 20, 25, 30], [0.32, 0.41, 0.52, 0.60, 0.70, 0.77, 0.89])
# QUAM:2012, example A5: cadmium, five levels of three readings, mg/L.
CADMIUM = [0.1, 0.3, 0.5, 0.7, 0.9]
READINGS = [
    [0.028, 0.029, 0.029],
    [0.084, 0.083, 0.081],
    [0.135, 0.131, 0.133],
    [0.180, 0.181, 0.183],
    [0.215, 0.230, 0.216],
]
# Constructed for ISO 8466-2 (python/groundstate/cases): ten levels of a bent curve.
BENT = (
    [1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10],
    [0.0512, 0.0981, 0.1437, 0.1874, 0.2291, 0.2688, 0.3069, 0.3427, 0.3772, 0.4093],
)


def same(one: Any) -> Any:
    """The object again by way of a pickle."""
    return pickle.loads(pickle.dumps(one))


def codes(found: Any) -> list[str]:
    return [finding.code for finding in found.findings]


# ---- standard additions


def test_silver_by_standard_additions() -> None:
    found = gs.standard_additions(*SILVER)
    # The book prints 17.3 +- 1.9 ug/mL on 5 degrees of freedom, from 17.26 and 0.749; its u is from rounded residuals.
    assert f"{found.estimate.value:.2f}" == "17.26"
    assert found.estimate.u == pytest.approx(0.749, abs=0.002)
    assert (found.estimate.dof, found.estimate.status, found.unit) == (5.0, "in_range", "mg/L")
    lo, hi = found.interval()
    assert f"{(hi - lo) / 2:.1f}" == "1.9"
    assert [f"{value:.4f}" for value in found.coefficients] == ["0.3218", "0.0186"]
    # NumPy's own least squares: a few of sixteen digits are lost in its scaling.
    slope, intercept = np.polyfit(*SILVER, 1)
    assert found.estimate.value == pytest.approx(intercept / slope, rel=1e-12)
    assert found.standard_errors == pytest.approx(np.sqrt(np.diag(found.covariance)), rel=1e-14)
    assert found.line.coefficients == pytest.approx(found.coefficients, rel=0)
    assert found.r == pytest.approx(np.corrcoef(*SILVER)[0, 1], rel=1e-12)
    assert found.sample is None
    assert found.sample_interval() is None
    assert "additive_not_corrected" in codes(found)
    assert repr(found).startswith("<Addition 17.26")


def test_the_set_of_fieller_holds_the_estimate_and_leans_outward() -> None:
    found = gs.standard_additions(*SILVER)
    lo, hi = found.interval(0.95, "inversion")
    # (a - x b)^2 = t^2 (Vaa - 2 x Vab + x^2 Vbb) at both ends.
    (a, b), v, t = found.coefficients, found.covariance, stats.t.ppf(0.975, 5)
    for x in (lo, hi):
        left, right = (a - x * b) ** 2, t**2 * (v[0, 0] - 2 * x * v[0, 1] + x * x * v[1, 1])
        assert left == pytest.approx(right, rel=1e-9)  # both sides are differences of larger numbers
    assert hi - found.estimate.value > found.estimate.value - lo


def test_volumes_blank_and_stock_reach_the_sample() -> None:
    plain = gs.standard_additions(*SILVER)
    flask = gs.Measured(50.0, 0.05, item="flask")
    found = gs.standard_additions(
        *SILVER, aliquot=(gs.Measured(25.0, 0.03), flask), blank_u=0.002, stock=gs.Stock("Ag", 0.01)
    )
    assert found.sample is not None
    assert found.sample.value == pytest.approx(2 * plain.estimate.value, rel=1e-14)
    x, slope = plain.estimate.value, plain.coefficients[1]
    # JCGM 100:2008, 5.1.2: independent parts add as squares.
    u = math.hypot(plain.estimate.u, 0.002 / slope, 0.01 * x)
    assert found.estimate.u == pytest.approx(u, rel=1e-12)
    assert found.sample.u == pytest.approx(2 * x * math.hypot(u / x, 0.03 / 25, 0.05 / 50), rel=1e-12)
    assert {line.kind for line in found.sample.budget()} == {"calibration", "zero", "stock", "volume"}
    interval = found.sample_interval(0.9, "inversion")
    assert interval is not None
    assert found.sample.value in interval


def test_a_volume_that_grows() -> None:
    # Exact signals of 2 mg/L in 50 mL with 0.1 per mg/L, to which 0, 1, 2 mL of 100 mg/L are added.
    volumes = np.array([0.0, 1.0, 2.0])
    amounts = 100 * volumes
    signals = 0.1 * (2 * 50 + amounts) / (50 + volumes)
    found = gs.standard_additions(amounts, signals, volumes=(50.0, volumes))
    assert found.estimate.value == pytest.approx(2.0, rel=1e-12)
    assert gs.standard_additions(amounts, signals).estimate.value != pytest.approx(2.0, rel=1e-3)
    with pytest.raises(gs.ArgumentError, match="volumes"):
        gs.standard_additions(amounts, signals, volumes=(50.0, [0.0, 1.0]))
    with pytest.raises(TypeError, match="volumes"):
        gs.standard_additions(amounts, signals, volumes=50.0)  # type: ignore[arg-type]


def test_known_sigma_has_infinite_degrees_of_freedom() -> None:
    found = gs.standard_additions(*SILVER, noise=gs.KnownSigma(0.01))
    assert found.estimate.dof == math.inf
    assert found.estimate.u == pytest.approx(gs.standard_additions(*SILVER).estimate.u * 0.01 / 0.0109218, rel=1e-5)


def test_portions_read_several_times_and_missing_readings() -> None:
    signals = [[y - 0.001, y + 0.001, math.nan] for y in SILVER[1]]
    portions = gs.standard_additions(SILVER[0], signals, points="standards")
    assert portions.estimate.is_close(gs.standard_additions(*SILVER).estimate, rtol=1e-12)
    assert gs.standard_additions(SILVER[0], signals).estimate.dof == 12.0


def test_the_slope_ratio_to_an_external_calibration() -> None:
    found = gs.standard_additions(*SILVER)
    external = gs.calibrate([0, 10, 20, 30], [0.001, 0.252, 0.498, 0.751])
    ratio = found.slope_ratio(external)
    assert ratio.value == pytest.approx(found.coefficients[1] / external.coefficients[1], rel=1e-14)
    relative = found.standard_errors / found.coefficients, external.standard_errors / external.coefficients
    assert ratio.u == pytest.approx(ratio.value * math.hypot(relative[0][1], relative[1][1]), rel=1e-12)
    assert ratio.within_20_percent is False
    assert {"slope_ratio_far", "slope_not_same"} <= set(codes(ratio))
    assert ratio.p is not None
    assert ratio.p < 0.05
    assert ratio.percent[0] == pytest.approx(100 * (ratio.value - 1), rel=1e-12)
    lo, hi = ratio.interval(0.95)
    assert lo < ratio.value < hi < 1
    near = found.slope_ratio(gs.calibrate([0, 10, 20, 30], [0.001, 0.190, 0.371, 0.561]))
    assert near.within_20_percent is True
    with pytest.raises(TypeError, match="calibration: None"):
        found.slope_ratio(None)  # type: ignore[arg-type]


def test_a_series_that_does_not_rise_has_no_value() -> None:
    found = gs.standard_additions(SILVER[0], SILVER[1][::-1])
    assert found.estimate.status == "not_calibrated"
    assert math.isnan(found.estimate.value)
    assert found.interval().kind == "empty"
    assert found.to_dict()["estimate"]["value"] is None
    with pytest.raises(gs.NotAvailableError):
        found.slope_ratio(gs.calibrate(CADMIUM, READINGS))


def test_an_addition_survives_pickling_and_later_changes_of_its_input() -> None:
    added = np.array(SILVER[0])
    found = gs.standard_additions(
        added, SILVER[1], volumes=(50.0, added / 100), aliquot=(10, 50), noise=gs.KnownSigma(0.01),
        stock=gs.Stock("Ag", 0.01),
    )  # fmt: skip
    kept = found.estimate.value
    added[:] = 0
    again = same(found)
    assert again == found
    assert again.estimate.value == kept
    assert same(found.estimate).same_as(found.estimate)
    assert found.sample is not None
    assert same(found.sample).same_as(found.sample)
    assert found != gs.standard_additions(*SILVER)
    assert found.to_dict()["sample"]["value"] == found.sample.value


# ---- matrix


def test_matched_standards_against_external_ones() -> None:
    x = np.array([0.0, 1, 2, 4, 6])
    y1 = np.array([0.001, 0.101, 0.199, 0.402, 0.598])
    y2 = np.array([0.012, 0.098, 0.186, 0.361, 0.541])
    external, matched = gs.calibrate(x, y1), gs.calibrate(x, y2)
    found = gs.compare_calibrations(external, matched, variance="pooled")
    assert found.slope.value == pytest.approx(matched.coefficients[1] - external.coefficients[1], rel=1e-12)
    # The square of t is the F of the extra sum of squares: one slope for both lines, two intercepts, by NumPy.
    one, zero = np.ones(5), np.zeros(5)
    design = np.column_stack([np.r_[one, zero], np.r_[zero, one], np.r_[x, x]])
    common = np.linalg.lstsq(design, np.r_[y1, y2])[1][0]
    apart = sum(np.polyfit(x, y, 1, full=True)[1][0] for y in (y1, y2))
    f = (common - apart) / (apart / 6)
    assert found.slope.statistic is not None
    assert found.slope.statistic**2 == pytest.approx(f, rel=1e-8)  # NumPy's difference of sums of squares
    assert found.slope.p == pytest.approx(stats.f.sf(f, 1, 6), rel=1e-7)
    assert found.slope.dof == 6.0
    assert found.intercept is not None
    assert found.intercept.value == pytest.approx(matched.coefficients[0] - external.coefficients[0], rel=1e-12)
    assert found.ratio.percent[0] == pytest.approx(-11.57, abs=0.1)
    assert found.ratio.within_20_percent is None
    assert "matrix_slope_differs" in codes(found)
    assert found.variances is not None
    welch = gs.compare_calibrations(external, matched)
    assert (welch.variance, found.variance) == ("welch", "pooled")
    assert same(welch) == welch != found
    with pytest.raises(gs.ArgumentError, match="variance: there is no choice"):
        gs.compare_calibrations(external, matched, variance="equal")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="matched: None"):
        gs.compare_calibrations(external, None)  # type: ignore[arg-type]


def test_lead_between_two_standards() -> None:
    # Skoog, Holler, Crouch, Principles of Instrumental Analysis, 6th ed., problem 9-20: 0.297 ppm Pb.
    found = gs.bracket([0.250, 0.450], [0.396, 0.599], 0.444, absorbance_u=0.002, sample_u=0.002)
    assert f"{found.value:.3f}" == "0.297"
    assert (found.status, found.dof, found.findings) == ("in_range", math.inf, ())
    # With sigma = 0.002 for every signal; recomputed to 20 digits in python/groundstate/cases/skoog-two-point-lead.json.
    assert found.u == pytest.approx(0.0025225629535277164725, rel=1e-13)
    assert same(found).same_as(found)
    outside = gs.bracket([0.250, 0.450], [0.396, 0.599], 0.7)
    assert (outside.status, codes(outside)) == ("above_top", ["not_bracketed"])
    assert gs.bracket([0.250, 0.450], [0.5, 0.4], 0.45).status == "not_calibrated"
    with pytest.raises(gs.ArgumentError, match="concentration"):
        gs.bracket([0.450, 0.250], [0.396, 0.599], 0.444)


# ---- limits


def test_currie_s_multipliers() -> None:
    # L. A. Currie, Pure Appl. Chem. 67, 1699 (1995), from memory: 1.645, 3.29 and 10 sigma of a well-known blank.
    cal = gs.calibrate([0.0, 1, 2], [0.0, 1, 2], noise=gs.KnownSigma(1e-9))
    found = [f(cal, reading_u=0.01) for f in (gs.critical_value, gs.detection_limit, gs.quantitation_limit)]
    assert [limit.value for limit in found] == pytest.approx([0.01645, 0.0329, 0.1], rel=3e-4)  # printed figures
    assert [limit.role for limit in found] == ["decision", "detection", "quantitation"]
    assert [limit.definition for limit in found] == ["currie_critical", "currie_detection", "currie_quantitation"]
    assert all("limit_not_an_mdl" in codes(limit) for limit in found)
    assert [limit.beta for limit in found] == [None, 0.05, None]
    assert [same(limit) for limit in found] == found


def test_the_formulas_of_din_32645_and_iso_11843_on_cadmium() -> None:
    cal = gs.calibrate(CADMIUM, READINGS)
    x = np.repeat(CADMIUM, 3)
    slope, intercept, *_ = stats.linregress(x, np.ravel(READINGS))
    s = math.sqrt(np.sum((np.ravel(READINGS) - intercept - slope * x) ** 2) / 13)
    spread = s / slope * math.sqrt(1 / 2 + 1 / 15 + x.mean() ** 2 / np.sum((x - x.mean()) ** 2))
    decision = gs.critical_value(cal, method="din32645", replicates=2)
    # SciPy's sums and quantiles: 1e-9 leaves them room.
    assert decision.value == pytest.approx(stats.t.ppf(0.99, 13) * spread, rel=1e-9)
    detection = gs.detection_limit(cal, method="din32645", replicates=2, beta=0.05)
    assert detection.value == pytest.approx((stats.t.ppf(0.99, 13) + stats.t.ppf(0.95, 13)) * spread, rel=1e-9)
    iso = gs.detection_limit(cal, method="iso11843", preparations=2)
    # The noncentrality at which Student's t falls below its 95 % quantile with probability 5 %.
    assert stats.nct.cdf(stats.t.ppf(0.95, 13), 13, iso.factor) == pytest.approx(0.05, rel=1e-7)
    assert iso.value == pytest.approx(iso.factor * spread, rel=1e-9)
    assert iso.interval is not None
    assert iso.value is not None
    assert iso.interval[0] < iso.value < iso.interval[1]
    assert (iso.dof, iso.unit, iso.method) == (13.0, "mg/L", "iso11843")
    quantitation = gs.quantitation_limit(cal, method="din32645")
    assert quantitation.factor == pytest.approx(3 * stats.t.ppf(0.995, 13), rel=1e-9)
    with pytest.raises(gs.NotAvailableError, match="ISO 11843 defines no quantitation limit"):
        gs.quantitation_limit(cal, method="iso11843")  # type: ignore[arg-type]


def test_limits_from_blanks_and_what_is_refused() -> None:
    cal = gs.calibrate(CADMIUM, READINGS)
    blanks = [0.0010, 0.0004, 0.0013, 0.0008, 0.0002, 0.0011, 0.0007]
    found = gs.critical_value(cal, blanks=np.array(blanks))
    assert found.dof == 6.0
    assert same(found) == found != gs.critical_value(cal)
    with pytest.raises(gs.ArgumentError, match="not both"):
        gs.critical_value(cal, blanks=blanks, reading_u=0.001)
    with pytest.raises(gs.ArgumentError, match="alpha"):
        gs.critical_value(cal, alpha=0.7)
    with pytest.raises(gs.ArgumentError, match="method"):
        gs.critical_value(cal, method="curie")  # type: ignore[arg-type]
    exact = gs.detection_limit(gs.calibrate([0, 1], [0, 1]))
    assert exact.value is None
    assert "limit_not_reached" in codes(exact)


# ---- choice of shape


def test_a_bent_curve_takes_the_quadratic_by_mandel_s_test() -> None:
    found = gs.choose_shape(*BENT)
    assert (found.shape, found.noise, found.alpha) == ("quadratic", "equal", 0.01)
    # ISO 8466-1 (from memory): F of the difference of residual sums of squares on 1 and n - 3, by NumPy.
    line, curve = (np.polyfit(*BENT, degree, full=True)[1][0] for degree in (1, 2))
    rejected = found.candidates[1]
    assert (rejected.shape, rejected.rejected_by) == ("line", "mandel")
    test = next(test for test in rejected.tests if test.name == "mandel")
    assert test.figure == pytest.approx((line - curve) / (curve / 7), rel=1e-6)  # NumPy's sums of squares
    assert (test.outcome, test.limit) == ("rejected", 0.01)
    assert rejected.reason.startswith("a quadratic term improves the fit")
    assert found.calibration is not None
    # ISO 8466-2 case of tests/reference: the coefficients to 20 digits.
    expected = [0.0018383333333333333333, 0.050121136363636363636, -0.00093674242424242424242]
    assert found.calibration.coefficients == pytest.approx(expected, rel=1e-13)
    assert "curve_in_absorption" in codes(found)
    assert same(found).candidates[1].reason == rejected.reason
    assert found.suggested_noise is None


def test_rules_of_the_caller() -> None:
    refused = gs.choose_shape(*BENT, shapes=["line"])
    assert (refused.shape, refused.calibration) == (None, None)
    assert "no_shape_adequate" in codes(refused)
    few = gs.choose_shape(BENT[0], BENT[1], least_for_curve=11)
    assert (few.candidates[-1].rejected_by or few.candidates[0].rejected_by) is not None
    assert few.shape is None
    shorter = gs.choose_shape(*BENT, shapes=["line"], may_drop=(0, 7), percent_error=50)
    assert shorter.candidates[0].dropped[0] == []
    assert len(shorter.candidates) == 8
    replicated = gs.choose_shape(CADMIUM, READINGS, noises=["equal", "1/x"])
    assert replicated.suggested_noise is not None
    assert "choice_over_standards" in codes(replicated)
    with pytest.raises(gs.ArgumentError, match="alpha"):
        gs.choose_shape(*BENT, alpha=2)


# ---- verification of a method detection limit


def test_an_existing_limit_is_kept_or_replaced() -> None:
    spikes: list[Any] = [
        gs.MdlResult(value, analysed_on="2025-06-30", spike_level=0.02)
        for value in [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194]
    ]
    values = [0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002]
    blanks: list[Any] = [gs.MdlResult(value, analysed_on="2025-06-30") for value in values]
    kept = gs.mdl_verification(0.004, spikes, blanks, as_of="2025-06-30", last="2024-06-30")
    assert (kept.decision, kept.limit, kept.blanks_above) == ("may_keep", 0.004, (0, 7))
    assert kept.reasons == ["ratio_within", "few_blanks_above"]
    # 40 CFR 136 App. B: t(6, 0.99) = 3.143 to the printed decimals.
    s = float(np.std([spike.value for spike in spikes], ddof=1))
    assert kept.verified == kept.from_spikes == pytest.approx(3.143 * s, rel=2e-4)
    assert kept.ratio == pytest.approx(3.143 * s / 0.004, rel=2e-4)
    assert (kept.due, kept.level, kept.as_of) == ("2025-07-30", 0.02, "2025-06-30")
    assert same(kept) == kept
    replaced = gs.mdl_verification(0.0024, spikes, blanks, as_of="2025-06-30")
    assert (replaced.decision, replaced.limit) == ("adopt", replaced.verified)
    # The ends of 0.5 to 2.0 belong to it.
    assert kept.verified is not None
    assert gs.mdl_verification(kept.verified / 2, spikes, blanks, as_of="2025-06-30").decision == "may_keep"
    late = gs.mdl_verification(0.004, spikes, blanks, as_of="2028-01-01")
    assert (late.decision, late.limit) == ("undecided", None)
    few = gs.mdl_verification(0.004, spikes[:6], [gs.ND, *blanks], as_of="2025-06-30")
    assert "too_few_results" in few.reasons
    with pytest.raises(gs.ArgumentError, match="existing"):
        gs.mdl_verification(-1, spikes, blanks, as_of="2025-06-30")
    with pytest.raises(gs.ArgumentError, match="YYYY-MM-DD"):
        gs.mdl_verification(0.004, spikes, blanks, as_of="June")
