"""The calibration as a Python object: shapes of input, names, what-if, identity. Its numbers have their own tests."""

import copy
import json
import math
import pickle
import threading
from typing import Any

import numpy as np
import pytest

import groundstate as gs

X = np.array([0.0, 0.5, 1.0, 2.0, 4.0])
TABLE = np.array(
    [
        [0.0004, 0.0007, 0.0002],
        [0.0562, 0.0566, 0.0560],
        [0.1125, 0.1128, 0.1120],
        [0.2238, 0.2242, 0.2240],
        [0.4470, 0.4482, np.nan],
    ]
)
FLAT_X = np.repeat(X, 3)[~np.isnan(TABLE.ravel())]
FLAT_Y = TABLE.ravel()[~np.isnan(TABLE.ravel())]


def test_a_table_is_the_same_as_its_readings() -> None:
    table, flat = gs.calibrate(X, TABLE), gs.calibrate(FLAT_X, FLAT_Y)
    assert table.id == flat.id
    assert [finding.code for finding in table.findings] == ["readings_missing"]
    assert table.findings[0].facts == {"count": 1}
    assert flat.findings == ()
    assert table != flat  # the one knows of a missing reading


def test_standards_from_a_table_and_from_readings() -> None:
    table = gs.calibrate(X, TABLE, points="standards")
    flat = gs.calibrate(FLAT_X, FLAT_Y, points="standards")
    assert table.id == flat.id
    assert list(table.point_readings) == [3, 3, 3, 3, 2]
    # Rounded once from a sum in twice the digits, so equal to NumPy's mean to a unit in the last place.
    assert np.allclose(table.point_signals, np.nanmean(TABLE, axis=1), rtol=2.3e-16, atol=0)
    assert (table.points, table.residual_dof) == ("standards", 3)


def test_figures_agree_with_numpy() -> None:
    cal = gs.calibrate(FLAT_X, FLAT_Y, shape="quadratic")
    fitted, covariance = np.polyfit(FLAT_X, FLAT_Y, 2, cov=True)
    # NumPy solves in float64: it keeps about 16 digits less those of the condition number, 1e2 here.
    assert np.allclose(cal.coefficients, fitted[::-1], rtol=1e-12)
    assert np.allclose(cal.covariance, covariance[::-1, ::-1], rtol=1e-11)
    assert np.array_equal(cal.standard_errors, np.sqrt(np.diag(cal.covariance)))
    assert (cal.dof, cal.residual_dof) == (11.0, 11)


def test_sigmas_a_level_a_reading_and_a_point() -> None:
    level = np.linspace(0.001, 0.005, 5)
    each = np.repeat(level, 3).reshape(5, 3)
    for kind in (gs.KnownSigma, gs.RelativeSigma):
        a_level = gs.calibrate(X, TABLE, noise=kind(level))
        assert a_level.id == gs.calibrate(X, TABLE, noise=kind(each)).id
        assert a_level.id == gs.calibrate(FLAT_X, FLAT_Y, noise=kind(each[~np.isnan(TABLE)])).id
        standards = gs.calibrate(X, TABLE, noise=kind(level), points="standards")
        assert standards.id == gs.calibrate(X, TABLE, noise=kind(each), points="standards").id
        flat = gs.calibrate(FLAT_X, FLAT_Y, noise=kind(each[~np.isnan(TABLE)]), points="standards")
        assert standards.id == flat.id
        assert standards.id == gs.calibrate(FLAT_X, FLAT_Y, noise=kind(level), points="standards").id
    uneven = each.copy()
    uneven[2, 1] *= 2
    with pytest.raises(gs.ArgumentError, match="the standard at 1 have different"):
        gs.calibrate(X, TABLE, noise=gs.KnownSigma(uneven), points="standards")
    with pytest.raises(gs.ArgumentError, match="4 standard deviations"):
        gs.calibrate(X, TABLE, noise=gs.KnownSigma(level[:4]))


def test_known_sigma_has_chi_squared_and_no_end_of_dof() -> None:
    cal = gs.calibrate(FLAT_X, FLAT_Y, noise=gs.KnownSigma(0.0004))
    assert cal.chi_squared == pytest.approx(float(np.sum((cal.residuals / 0.0004) ** 2)), rel=1e-12)
    assert (cal.dof, cal.residual_dof) == (math.inf, 12)
    assert cal.to_dict()["dof"] == "infinite"


def test_through_zero_lists_what_was_fitted() -> None:
    cal = gs.calibrate(FLAT_X, FLAT_Y, shape="line_through_zero")
    assert cal.coefficients.shape == (1,)
    assert cal.covariance.shape == (1, 1)
    assert cal.r_squared_kind == "about_zero"
    assert cal.correlation is None
    assert cal.turning_point is None


def test_zero_level_choices() -> None:
    left_out = gs.calibrate(X, TABLE, noise="1/x", zero="leave_out")
    assert [finding.code for finding in left_out.findings] == ["readings_missing", "zero_left_out"]
    assert left_out.point_concentrations.min() == 0.5
    assert gs.calibrate(X, TABLE, noise="1/x", zero=0.1).weights.max() == pytest.approx(10, rel=1e-15)
    zeroed = gs.calibrate(X, TABLE, shape="line_through_zero", zeroing="blank_subtracted", zero_u=0.01)
    assert "zero_left_out" in [finding.code for finding in zeroed.findings]
    assert next(line.kind for line in zeroed.concentration(0.1).budget()) == "zero"


def test_refit_is_a_new_calibration() -> None:
    cal = gs.calibrate(X, TABLE, unit="ug/L", stock=gs.Stock("A", 0.002))
    curved = cal.refit(shape="quadratic")
    assert (cal.shape, curved.shape, curved.unit) == ("line", "quadratic", "ug/L")
    assert curved == gs.calibrate(X, TABLE, shape="quadratic", unit="ug/L", stock=gs.Stock("A", 0.002))
    fewer = cal.refit(exclude=[13, 12, 13])
    assert list(fewer.point_concentrations) == list(FLAT_X[:12])
    (finding,) = [finding for finding in fewer.findings if finding.code == "points_excluded"]
    assert finding.facts == {"count": 2, "points": "12, 13"}
    known = cal.refit(noise=gs.KnownSigma(np.arange(1.0, 15.0)), exclude=[0])
    assert np.allclose(known.weights, np.arange(2.0, 15.0) ** -2, rtol=1e-15)
    assert np.allclose(known.refit(exclude=[0]).weights, np.arange(3.0, 15.0) ** -2, rtol=1e-15)
    assert cal.refit() == cal


def variants() -> list[gs.Calibration]:
    options: list[dict[str, Any]] = [
        {},
        {"points": "standards"},
        {"shape": "quadratic_through_zero"},
        {"noise": "1/x", "zero": "leave_out"},
        {"noise": "1/x^2", "zero": 0.25},
        {"noise": gs.KnownSigma(0.001)},
        {"noise": gs.RelativeSigma([1, 1, 2, 2, 3])},
        {"noise": gs.FromReplicates()},
        {"noise": gs.FromReplicates("floor_plus_proportional")},
        {"noise": gs.FromReplicates("per_level", at_least=2), "points": "standards"},
        {"zeroing": "autozeroed", "zero_u": 0.0002},
        {"unit": "ug/L", "resolution": 0.0001},
        {"stock": gs.Stock("A", 0.002)},
    ]
    return [gs.calibrate(X, TABLE, **option) for option in options]


@pytest.mark.parametrize("cal", variants(), ids=str)
def test_pickle_and_copy_keep_everything(cal: gs.Calibration) -> None:
    again = pickle.loads(pickle.dumps(cal))
    assert again == cal
    assert hash(again) == hash(cal)
    assert again.id == cal.id
    assert again.findings == cal.findings
    assert again.to_dict() == cal.to_dict()
    assert np.array_equal(again.covariance, cal.covariance)
    assert copy.copy(cal) is cal
    assert copy.deepcopy([cal])[0] is cal
    refitted = cal.refit(exclude=[0, 1]) if cal.points == "readings" else cal
    assert pickle.loads(pickle.dumps(refitted)) == refitted


def test_a_flagged_curve_keeps_its_flag() -> None:
    cal = gs.calibrate([0, 1, 2], [2, 1, 0.1], allow="flagged")
    assert [finding.code for finding in cal.findings] == ["not_rising"]
    assert [finding.severity for finding in cal.findings] == ["fail"]
    assert not cal.serves()
    assert cal.concentration(1.0).status == "not_calibrated"
    assert pickle.loads(pickle.dumps(cal)) == cal


def test_equality_is_of_content() -> None:
    assert len({*variants(), *variants()}) == len(variants())
    assert gs.calibrate(X, TABLE) != "calibration"
    assert (gs.calibrate(X, TABLE) == object()) is False


def test_dictionary_is_plain() -> None:
    cal = gs.calibrate(X, TABLE)
    # allow_nan=False: an absent figure is None, not a word that JSON does not have.
    text = json.dumps(cal.to_dict(), allow_nan=False)
    assert json.loads(text)["coefficients"] == list(cal.coefficients)
    assert json.loads(text)["percent_error"][0] is None
    for variant in variants():
        json.dumps(variant.to_dict(), allow_nan=False)


def test_text_is_rounded_to_the_uncertainty() -> None:
    cal = gs.calibrate(X, TABLE)
    assert repr(cal) == (
        "<Calibration line, noise equal, 14 readings, 0.5 to 4 mg/L: y = (0.00047 ± 0.00014) + (0.111788 ± 0.000075) x>"
    )
    assert repr(cal.lack_of_fit()).startswith("<FTest F(3, 9) = ")
    assert repr(gs.calibrate([0, 1], [0, 1])).endswith("y = (0.000) + (1.000) x>")


def test_signals_of_the_curve() -> None:
    cal = gs.calibrate(X, TABLE)
    one, many = cal.absorbance(1.5), cal.absorbance([1.5, 2.5])
    intercept, slope = cal.coefficients
    assert one.value == pytest.approx(intercept + 1.5 * slope, rel=1e-15)
    gradient = np.array([1, 1.5])
    assert one.u == pytest.approx(math.sqrt(gradient @ cal.covariance @ gradient), rel=1e-10)
    assert (many.value[0], many.u[0], many.dof[0]) == (one.value, one.u, one.dof)
    assert many[0] == one
    assert [response.value for response in many] == list(many.value)
    assert pickle.loads(pickle.dumps(one)) == one
    assert np.array_equal(pickle.loads(pickle.dumps(many)).u, many.u)


@pytest.mark.parametrize(
    "thing",
    [
        gs.Stock("A", 0.01),
        gs.KnownSigma(0.1),
        gs.KnownSigma([[0.1, 0.2]]),
        gs.RelativeSigma([0.1, 0.2]),
        gs.FromReplicates(),
        gs.FromReplicates("per_level", at_least=3),
        gs.FTest(1.0, 0.5, 2.0, 3.0),
        gs.Problem(1, "a", None, "b", None),
        gs.BudgetLine("stock:A", "stock", 0.1, 1.0, math.inf),
    ],
    ids=repr,
)
def test_small_things_pickle_and_compare(thing: Any) -> None:
    assert pickle.loads(pickle.dumps(thing)) == thing
    assert copy.deepcopy(thing) == thing
    assert thing != object()


def test_threads_share_calibrations() -> None:
    cal = gs.calibrate(X, TABLE, shape="quadratic")
    readings = np.linspace(0.01, 0.44, 20_000)
    expected, expected_interval = cal.concentration(readings), cal.concentration(readings).interval(method="inversion")
    wrong: list[str] = []

    def work() -> None:
        for _ in range(3):
            found = cal.concentration(readings)
            if not found.same_as(expected) or not np.array_equal(
                found.interval(method="inversion").lo, expected_interval.lo
            ):
                wrong.append("differs")
            if gs.calibrate(X, TABLE, shape="quadratic") != cal or expected[:5].covariance().shape != (5, 5):
                wrong.append("differs")

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
