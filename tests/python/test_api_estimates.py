"""Estimates as Python objects: sequences without arithmetic, intervals as sets, uncertainty by source."""

import copy
import json
import math
import operator
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import groundstate as gs

X = [0.0, 0.5, 1.0, 2.0, 4.0]
Y = [0.0004, 0.0562, 0.1125, 0.2238, 0.4470]
CAL = gs.calibrate(X, Y, stock=gs.Stock("A", 0.002))
READINGS = [0.1, 0.2, None, -0.01, 0.03, 0.6]
FOUND = CAL.concentration(READINGS)


def test_scalar_and_array_have_the_same_names_and_numbers() -> None:
    for i, reading in enumerate(READINGS):
        one, row = CAL.concentration(math.nan if reading is None else reading), FOUND[i]
        for estimate in (one, row):
            assert isinstance(estimate.value, float)
            assert isinstance(estimate.u, float)
            assert isinstance(estimate.dof, float)
            assert estimate.status == FOUND.status[i]
            assert estimate.status_code == FOUND.status_code[i]
            assert np.array_equal([estimate.value, estimate.u], [FOUND.value[i], FOUND.u[i]], equal_nan=True)
            assert estimate.dof == FOUND.dof[i]
            assert estimate.unit == FOUND.unit == "mg/L"
        assert one.same_as(row)


def test_statuses() -> None:
    words = ["in_range", "in_range", "no_reading", "negative", "below_lowest", "above_top"]
    assert list(FOUND.status) == words
    assert FOUND.status_code.dtype == np.uint8
    bent = gs.calibrate([0, 1, 2, 3, 4], [0, 1, 1.9, 2.7, 3.4], shape="quadratic")
    assert bent.ceiling is not None
    assert bent.concentration(bent.ceiling * 1.01).status == "beyond_curve"


def test_a_sequence() -> None:
    assert len(FOUND) == 6
    assert FOUND[-1].same_as(FOUND[5])
    assert [estimate.status for estimate in FOUND] == list(FOUND.status)
    part = FOUND[::-2]
    assert np.array_equal(part.value, FOUND.value[::-2], equal_nan=True)
    assert np.array_equal(part[1:].u, FOUND.u[::-2][1:], equal_nan=True)
    assert list(part.interval(0.9, "inversion").kind) == list(FOUND.interval(0.9, "inversion").kind[::-2])
    assert np.array_equal(part.covariance(), FOUND.covariance()[::-2, ::-2])
    assert part.budget(0) == FOUND.budget(5) == FOUND[5].budget()
    assert len(CAL.concentration([])) == 0
    assert CAL.concentration([]).covariance().shape == (0, 0)


def test_replicates_stand_second_and_are_counted_in_tables() -> None:
    assert CAL.concentration(0.1, 3).same_as(CAL.concentration(0.1, replicates=3))
    table = CAL.concentration([[0.1, 0.1, 0.1], [0.2, 0.2, math.nan], [math.nan] * 3])
    assert table.same_as(CAL.concentration([0.1, 0.2, math.nan], [3, 2, 1]))
    assert CAL.concentration(0.1, 4).u < CAL.concentration(0.1).u


def test_own_scatter_carries_its_own_dof() -> None:
    readings = np.array([[0.1, 0.1006, 0.0998], [0.2, 0.2011, math.nan]])
    own = CAL.concentration(readings, scatter="own")
    sd, m = np.nanstd(readings, axis=1, ddof=1), np.array([3, 2])
    given = CAL.concentration(np.nanmean(readings, axis=1), reading_u=sd / np.sqrt(m))
    # The same u as of a known one of that size (means of a few figures agree to the last bits), on fewer dof.
    assert np.allclose(own.u, given.u, rtol=1e-12)
    assert (own.dof < given.dof).all()
    reading = [line for line in own.budget(0) if line.kind == "reading"]
    assert [line.dof for line in reading] == [2.0]


def test_readings_without_scatter_are_not_passed_over_in_silence() -> None:
    same = [[0.1, 0.1, 0.1], [0.2, 0.21, 0.19]]
    (finding,) = CAL.concentration(same, scatter="own").findings
    assert (finding.code, finding.severity, finding.facts) == ("readings_without_scatter", "caution", {"count": 1})
    stepped = gs.calibrate(X, Y, resolution=0.0001)
    assert stepped.concentration(same, scatter="own").findings == ()
    # A step hides a uniform error (JCGM 100:2008, 4.3.7): step over the root of 12, here of the signal.
    (reading,) = [line for line in stepped.concentration(same, scatter="own").budget(0) if line.kind == "reading"]
    assert reading.u == pytest.approx(0.0001 / math.sqrt(12) / stepped.coefficients[1], rel=1e-12)


@pytest.mark.parametrize("thing", [FOUND, FOUND[0]], ids=["estimates", "estimate"])
@pytest.mark.parametrize(
    "act",
    [
        lambda it: it == it,
        lambda it: it != it,
        lambda it: it < it,
        lambda it: it >= 1,
        lambda it: it == "text",
        lambda it: it + it,
        lambda it: 1 + it,
        lambda it: it - 1,
        lambda it: 1 - it,
        lambda it: it * 2,
        lambda it: 2 * it,
        lambda it: it / 2,
        lambda it: 2 / it,
        lambda it: np.arange(6) * it,
        lambda it: np.arange(6.0) == it,
        lambda it: np.float64(2) * it,
        lambda it: np.asarray(it),
        lambda it: np.log(it),
        hash,
        float,
        operator.neg,
    ],
)
def test_no_comparison_and_no_arithmetic(thing: Any, act: Callable[[Any], object]) -> None:
    with pytest.raises(TypeError):
        act(thing)


def test_the_refusal_says_what_to_do_instead() -> None:
    with pytest.raises(TypeError, match=r"is_close or same_as, or take numbers from \.value"):
        FOUND + FOUND  # type: ignore[operator]


def test_closeness_and_sameness() -> None:
    near = CAL.concentration([0.1 * (1 + 1e-12), *READINGS[1:]])
    assert not near.same_as(FOUND)
    assert near.is_close(FOUND)
    assert not near.is_close(FOUND, rtol=1e-14)
    assert not FOUND.is_close(FOUND[:3])
    other = gs.calibrate(X, Y, unit="ug/L", stock=gs.Stock("A", 0.002))
    assert not other.concentration(READINGS).is_close(FOUND)
    assert FOUND[:1].same_as(FOUND[0])


def test_intervals() -> None:
    spans = FOUND.interval()
    assert list(spans.kind) == ["between", "between", "empty", "between", "between", "between"]
    assert (spans.coverage, spans.method) == (0.95, "delta")
    lo, hi = spans[0]
    assert (lo, hi) == (spans.lo[0], spans.hi[0]) == tuple(FOUND[0].interval())
    assert FOUND[0].value in spans[0]
    assert lo in spans[0]
    assert hi * 1.001 not in spans[0]
    assert np.isnan(spans.lo[2])
    with pytest.raises(gs.NotAvailableError, match="it holds no value"):
        lo, hi = spans[2]
    assert [span.kind for span in spans] == list(spans.kind)
    assert FOUND[0].interval(0.99).hi > hi
    assert spans.ends.shape == (6, 2)


def test_an_interval_that_is_not_one_finite_piece_says_so_in_words() -> None:
    weak = gs.calibrate([0, 1, 2, 3], [1.0, 3.0, 0.5, 3.2])
    # Fieller's set is finite exactly where the slope exceeds its standard error by the t quantile, which has this
    # closed form on 2 degrees of freedom.
    slope = weak.coefficients[1] / weak.standard_errors[1]
    assert 0.3 * math.sqrt(2 / (1 - 0.3**2)) < slope < 0.5 * math.sqrt(2 / (1 - 0.5**2))
    whole = weak.concentration(2.0).interval(method="inversion")
    assert whole.kind == "whole"
    assert (whole.lo, whole.hi) == (-math.inf, math.inf)
    assert whole.ends == ("unbounded", "unbounded")
    assert repr(whole) == "<Interval every value, coverage 0.95, inversion>"
    with pytest.raises(gs.NotAvailableError, match="it holds every value") as caught:
        _lo, _hi = whole
    assert caught.value.kind == "not_available"
    assert weak.concentration(2.0).interval(0.3, "inversion").kind == "between"
    split = weak.concentration(9.0).interval(0.5, "inversion")
    assert split.kind == "outside"
    assert split.lo < split.hi
    assert split.lo in split
    assert (split.lo + split.hi) / 2 not in split
    with pytest.raises(gs.NotAvailableError, match=r"values up to .* and from .* up"):
        _lo, _hi = split
    assert pickle.loads(pickle.dumps(split)) == split
    assert pickle.loads(pickle.dumps(whole)) == whole


def test_budget_and_contributions_hold_the_same_variance() -> None:
    row = FOUND.contributions.row(0)
    assert math.fsum(c * c for c in row.values()) == pytest.approx(FOUND.u[0] ** 2, rel=1e-12)
    budget = FOUND.budget(0)
    assert math.fsum(line.share for line in budget) == pytest.approx(1, rel=1e-12)
    assert [line.share for line in budget] == sorted((line.share for line in budget), reverse=True)
    assert {line.kind for line in budget} == {"reading", "calibration", "stock"}
    assert "stock:A" in FOUND.contributions.sources
    assert row["stock:A"] == pytest.approx(0.002 * FOUND.value[0], rel=1e-12)
    assert FOUND.budget(2) == []
    covariance = FOUND.covariance()
    assert np.array_equal(covariance, covariance.T)
    assert covariance[0, 1] == FOUND.contributions.covariance(0, 1)
    assert np.allclose(np.sqrt(np.diag(covariance)), np.nan_to_num(FOUND.u), rtol=1e-12)


@pytest.mark.parametrize(
    "found",
    [
        FOUND,
        FOUND[1:],
        FOUND[::-1],
        FOUND[0],
        FOUND[2],
        CAL.concentration(0.1, 3),
        CAL.concentration([0.1, 0.2], [3, 2]),
        CAL.concentration([0.1, 0.2], reading_u=0.001),
        CAL.concentration([[0.1, 0.1006], [0.2, 0.2011]], scatter="own"),
        CAL.concentration([]),
        gs.calibrate(X, Y, noise="1/x", zero="leave_out").concentration([0.02, 0.2]),
    ],
    ids=repr,
)
def test_pickle_and_copy_keep_everything(found: gs.Estimate | gs.Estimates) -> None:
    again = pickle.loads(pickle.dumps(found))
    assert type(again) is type(found)
    assert again.same_as(found)
    assert again.contributions.sources == found.contributions.sources
    assert again.findings == found.findings
    assert again.to_dict() == found.to_dict()
    assert copy.copy(found) is found
    assert copy.deepcopy(found) is found


def test_dictionaries_are_plain() -> None:
    plain = FOUND.to_dict()
    assert plain["value"][2] is None
    assert plain["standard_uncertainty"][0] == FOUND.u[0]
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert FOUND[0].to_dict()["status"] == "in_range"


def test_findings_of_readings() -> None:
    weighted = gs.calibrate(X, Y, noise="1/x", zero="leave_out")
    (finding,) = weighted.concentration([0.01]).findings
    assert finding.code == "noise_floor"
    assert finding.severity == "note"
    assert "0.5 mg/L" in finding.sentence
    assert weighted.concentration([0.2]).findings == ()


def test_text() -> None:
    assert repr(FOUND[2]) == "<Estimate no reading>"
    assert repr(FOUND[3]).endswith("mg/L, negative>")
    assert repr(FOUND).startswith("<Estimates of 6 in mg/L: ")
