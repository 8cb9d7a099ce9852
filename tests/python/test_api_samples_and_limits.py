"""Replicates, outlier tests, rounding and detection limits as Python functions; their numbers have their own tests."""

import copy
import datetime
import math
import pickle
from typing import Any

import numpy as np
import pytest

import groundstate as gs

VALUES = [12.1, 11.9, 12.0, 12.2, 14.0]
SPIKES = [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194]
BLANKS = [0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002]


def test_replicates() -> None:
    found = gs.replicates(VALUES)
    assert found.n == 5
    # NumPy sums in float64: a few units in the last place.
    assert found.mean == pytest.approx(np.mean(VALUES), rel=1e-15)
    assert found.sd == pytest.approx(np.std(VALUES, ddof=1), rel=1e-14)
    assert found.rsd == pytest.approx(100 * np.std(VALUES, ddof=1) / np.mean(VALUES), rel=1e-14)
    assert found.standard_error == pytest.approx(np.std(VALUES, ddof=1) / math.sqrt(5), rel=1e-14)
    assert found.dof == 4.0
    assert pickle.loads(pickle.dumps(found)) == found
    single = gs.replicates([12.1])
    assert (single.n, single.mean, single.sd, single.rsd) == (1, 12.1, None, None)
    assert gs.replicates([-1.0, 1.0]).rsd is None


@pytest.mark.parametrize("test", [gs.grubbs, gs.dixon])
def test_outliers(test: Any) -> None:
    found = test(VALUES)
    assert (found.index, found.value) == (4, 14.0)
    assert found.significant is (found.statistic > found.critical)
    assert test(np.array(VALUES), alpha=0.05, two_sided=True) == found
    assert test(VALUES, 0.01).critical > found.critical
    one_sided = test(VALUES, two_sided=False)
    assert one_sided.critical == test(VALUES, 0.10).critical < found.critical
    assert test(VALUES, two_sided=False, side="high") == one_sided
    assert test(VALUES, two_sided=False, side="low").index == 1
    assert pickle.loads(pickle.dumps(found)) == found
    assert test([1.0, 1.0, 1.0]).statistic == 0.0
    with pytest.raises(gs.ArgumentError, match="two_sided=False with a side"):
        test(VALUES, side="low")
    with pytest.raises(gs.ArgumentError, match="side: there is no side"):
        test(VALUES, two_sided=False, side="left")
    with pytest.raises(gs.ArgumentError, match="alpha"):
        test(VALUES, 5)
    with pytest.raises(gs.ArgumentError, match="at least 3 values"):
        test(VALUES[:2])
    with pytest.raises(gs.ArgumentError, match=r"values\[1\]: NaN"):
        test([1.0, math.nan, 2.0, 3.0])
    with pytest.raises(TypeError, match="values: None"):
        test(None)


def test_dixon_takes_thirty_values_at_most() -> None:
    with pytest.raises(gs.ArgumentError, match="3 to 30"):
        gs.dixon(np.arange(31.0))


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ({"figures": 3}, "0.120"),
        ({"decimals": 2}, "0.12"),
        ({"quantum": 0.05}, "0.10"),
        ({"u": 0.0998}, "0.12"),
        ({"u": 0.0998, "uncertainty_figures": 1}, "0.1"),
    ],
)
def test_rounding(rule: dict[str, Any], text: str) -> None:
    assert gs.round_reported(0.11987, **rule) == text


def test_rounding_is_on_the_decimal_that_was_written() -> None:
    # The float64 nearest to 2.675 lies below it; who wrote 2.675 meant the tie.
    assert gs.round_reported(2.675, decimals=2) == "2.68"
    assert gs.round_reported(2.665, decimals=2) == "2.66"
    assert gs.round_reported(2.665, decimals=2, ties="half_up") == "2.67"
    assert gs.round_reported(np.float32(0.5), decimals=0) == "0"
    assert gs.round_reported(-0.001, decimals=2) == "0.00"


@pytest.mark.parametrize(
    ("rule", "error", "message"),
    [
        ({}, gs.ArgumentError, "exactly one of figures"),
        ({"figures": 3, "decimals": 2}, gs.ArgumentError, "exactly one of figures"),
        ({"figures": 0}, gs.ArgumentError, "0 is not a number of digits"),
        ({"decimals": 16}, gs.ArgumentError, "16 is not a number of digits"),
        ({"decimals": -1}, OverflowError, ""),
        ({"u": 0.0}, gs.ArgumentError, "not an uncertainty to round by"),
        ({"u": math.nan}, gs.ArgumentError, "uncertainty"),
        ({"quantum": 0.3}, gs.ArgumentError, "not a step to round to"),
        ({"figures": 3, "ties": "up"}, gs.ArgumentError, "ties: there is no rule"),
        ({"u": "0.1"}, TypeError, "u: "),
    ],
)
def test_rounding_refuses(rule: dict[str, Any], error: type[Exception], message: str) -> None:
    with pytest.raises(error) as caught:
        gs.round_reported(1.0, **rule)
    assert message in str(caught.value)


def test_nan_is_not_reported() -> None:
    with pytest.raises(gs.ArgumentError, match="value"):
        gs.round_reported(math.nan, decimals=2)
    with pytest.raises(TypeError, match="value: None"):
        gs.round_reported(None, decimals=2)  # type: ignore[arg-type]


def test_the_non_detect_is_one_object() -> None:
    assert repr(gs.ND) == "ND"
    assert pickle.loads(pickle.dumps(gs.ND)) is gs.ND
    assert copy.copy(gs.ND) is gs.ND
    assert copy.deepcopy([gs.ND])[0] is gs.ND
    assert gs.NonDetect() is gs.ND
    with pytest.raises(TypeError, match=r"is gs\.ND"):
        bool(gs.ND)
    with pytest.raises(TypeError):
        float(gs.ND)  # type: ignore[arg-type]


def test_mdl_of_plain_values() -> None:
    limit = gs.mdl(SPIKES, np.array(BLANKS))
    # 40 CFR 136 App. B: t(6, 0.99) = 3.143 to the printed decimals, times s.
    assert limit.from_spikes == pytest.approx(3.143 * np.std(SPIKES, ddof=1), rel=2e-4)
    assert limit.from_blanks == pytest.approx(np.mean(BLANKS) + 3.143 * np.std(BLANKS, ddof=1), rel=2e-4)
    assert (limit.value, limit.decided_by) == (limit.from_spikes, "spikes")
    assert limit.branch == "mean_plus_ts"
    assert limit.basis == "computed_from_values"
    assert limit.spikes.t == pytest.approx(3.143, abs=5e-4)
    assert gs.mdl(SPIKES, BLANKS, t="printed_table").spikes.t == 3.143
    assert {requirement.state for requirement in limit.design} >= {"not_evaluated"}
    assert "mdl_computed_from_values" in [finding.code for finding in limit.findings]
    assert limit.interval is not None
    assert limit.value is not None
    assert limit.interval[0] < limit.value < limit.interval[1]
    assert pickle.loads(pickle.dumps(limit)) == limit


def test_non_detect_and_missing_are_two_things() -> None:
    none = gs.mdl(SPIKES, [gs.ND, "ND", gs.ND, None, math.nan])
    assert none.branch == "none_numeric"
    assert (none.blanks.nondetects, none.blanks.missing, none.blanks.numeric) == (3, 2, 0)
    assert none.from_blanks is None
    assert none.value == none.from_spikes
    blanks: list[Any] = [gs.ND, 0.001, *[gs.ND] * 5]
    some = gs.mdl(SPIKES, blanks)
    assert some.from_blanks == 0.001
    assert pickle.loads(pickle.dumps(some)) == some


def test_mdl_with_dates_and_batches() -> None:
    def result(value: float, batch: int) -> gs.MdlResult:
        day = datetime.date(2025, 3, batch)
        return gs.MdlResult(
            value, batch=f"B{batch}", prepared_on=day, analysed_on=str(day), instrument="AA1", spike_level=0.02
        )

    spikes: list[Any] = [result(value, 1 + i % 3) for i, value in enumerate(SPIKES)]
    assert (spikes[0].prepared_on, spikes[0].analysed_on) == ("2025-03-01", "2025-03-01")
    assert pickle.loads(pickle.dumps(spikes[0])) == spikes[0]
    limit = gs.mdl(spikes, BLANKS, initial_estimate=0.005, as_of="2025-06-01")
    assert limit.value == gs.mdl(SPIKES, BLANKS).value
    states = {requirement.rule: requirement.state for requirement in limit.design}
    assert "met" in states.values()
    assert pickle.loads(pickle.dumps(limit)) == limit
    with pytest.raises(gs.ArgumentError, match="YYYY-MM-DD"):
        gs.MdlResult(0.1, prepared_on="3/31/2025")


@pytest.mark.parametrize(
    ("spikes", "error", "message"),
    [
        ([*SPIKES, "less"], gs.ArgumentError, 'spikes[7]: "less" is not a result'),
        ([*SPIKES, math.inf], gs.ArgumentError, "inf"),
        (None, TypeError, "spikes: None"),
        ("ND", TypeError, "spikes: a str"),
        ([*SPIKES, object()], TypeError, "spikes[7]: "),
        ([[0.1, 0.2]], gs.ArgumentError, "spikes: a table"),
    ],
)
def test_mdl_refuses(spikes: Any, error: type[Exception], message: str) -> None:
    with pytest.raises(error) as caught:
        gs.mdl(spikes, BLANKS)
    assert message in str(caught.value)


def test_minimum_level() -> None:
    # EPA Method 1638, table 1: zinc, MDL 0.14 ug/L, ML 0.5 ug/L.
    assert gs.minimum_level(0.14) == 0.5
    assert gs.minimum_level(gs.mdl(SPIKES, BLANKS)) == 0.02
    with pytest.raises(gs.ArgumentError, match="gives no minimum level"):
        gs.minimum_level(0.0)
    with pytest.raises(gs.ArgumentError, match="has no value"):
        gs.minimum_level(gs.mdl(list[Any]([0.01, "ND"]), BLANKS))
