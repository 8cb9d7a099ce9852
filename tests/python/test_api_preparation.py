"""Preparations as Python objects: what may be given, what is asked back, what results share."""

import copy
import math
import pickle
from typing import Any

import numpy as np
import pytest

import groundstate as gs

CAL = gs.calibrate([0.0, 0.5, 1.0, 2.0, 4.0], [0.0004, 0.0562, 0.1125, 0.2238, 0.4470], stock=gs.Stock("A", 0.002))
FOUND = CAL.concentration([0.1, 0.2, None])
SOLID: dict[str, Any] = {
    "mass_g": 1.0034,
    "final_volume_ml": 100,
    "dilution": [(5, 50)],
    "percent_solids": 85.2,
    "weighed": "wet",
    "report": "dry",
}


def test_multiplier_of_a_solid() -> None:
    # mg/L times mL over g is mg/kg; the solids enter once, for wet weighing and dry reporting (semantics of SW-846
    # 8000D, 11.10.5: wet result over the fraction of solids).
    assert gs.Preparation(**SOLID).multiplier == pytest.approx(100 / 1.0034 * 10 / 0.852, rel=1e-14)
    assert gs.Preparation(**{**SOLID, "report": "as_received"}).multiplier == pytest.approx(1000 / 1.0034, rel=1e-14)
    assert gs.Preparation(**{**SOLID, "weighed": "dry"}).multiplier == pytest.approx(1000 / 1.0034, rel=1e-14)
    dry = {**SOLID, "weighed": "dry", "report": "as_received"}
    assert gs.Preparation(**dry).multiplier == pytest.approx(1000 / 1.0034 * 0.852, rel=1e-14)
    assert gs.Preparation(**SOLID).unit == "mg/kg"


@pytest.mark.parametrize(
    ("dilution", "factor"),
    [
        (10, 10.0),
        (np.float64(10), 10.0),
        ("10", 10.0),
        ("5/50;10/100", 100.0),
        ("1:5", 5.0),
        ("1+4", 5.0),
        ([(5, 50), (10, 100)], 100.0),
        ([(5, 50), 2], 20.0),
        (((5.0, 50.0),), 10.0),
        ([], 1.0),
        (gs.Measured(10, 0.1), 10.0),
        ([(gs.Measured(5, 0.01, item="P5"), gs.Measured(50, 0.05))], 10.0),
    ],
)
def test_dilutions(dilution: Any, factor: float) -> None:
    preparation = gs.Preparation(dilution=dilution)
    assert preparation.multiplier == pytest.approx(factor, rel=1e-15)
    assert preparation.unit == "mg/L"
    assert pickle.loads(pickle.dumps(preparation)) == preparation


def test_liquids_and_factors() -> None:
    liquid = gs.Preparation(volume_ml=50, final_volume_ml=100, extra=[gs.Factor(1.02, u=0.01, name="recovery")])
    assert liquid.multiplier == pytest.approx(2.04, rel=1e-15)
    assert liquid.multiplier_u == pytest.approx(2.04 * 0.01 / 1.02, rel=1e-12)
    assert liquid.apply(FOUND).unit == "mg/L"
    assert gs.Preparation(extra=gs.Factor(2)).multiplier == 2.0


def test_uncertainty_of_every_quantity_enters() -> None:
    u: dict[str, Any] = {
        "mass_g_u": 0.0002,
        "final_volume_ml_u": 0.1,
        "dilution_relative_u": 0.003,
        "percent_solids_u": 0.4,
    }
    preparation = gs.Preparation(**SOLID, **u)
    parts = [0.0002 / 1.0034, 0.1 / 100, 0.003, 0.4 / 85.2]
    # A product: relative standard uncertainties add in squares (JCGM 100:2008, 5.1.6).
    assert preparation.multiplier_u / preparation.multiplier == pytest.approx(math.hypot(*parts), rel=1e-12)
    budget = {line.kind for line in preparation.apply(FOUND).budget(0)}
    assert budget == {"mass", "volume", "solids", "reading", "calibration", "stock"}
    by_object = gs.Preparation(
        **{
            **SOLID,
            "mass_g": gs.Measured(1.0034, 0.0002),
            "final_volume_ml": gs.Measured(100, 0.1),
            "percent_solids": gs.Measured(85.2, 0.4),
        },
        dilution_relative_u=0.003,
    )
    assert by_object.apply(FOUND).same_as(preparation.apply(FOUND))


def test_results_keep_status_and_multiply_value_and_u() -> None:
    exact = gs.Preparation(**SOLID)
    results = exact.apply(FOUND)
    assert list(results.status) == list(FOUND.status)
    assert np.allclose(results.value, FOUND.value * exact.multiplier, rtol=1e-14, equal_nan=True)
    assert np.allclose(results.u, FOUND.u * exact.multiplier, rtol=1e-14, equal_nan=True)
    assert exact.apply(FOUND, "ug/kg").is_close(exact.apply(FOUND, unit="ug/kg"))
    assert np.allclose(exact.apply(FOUND, "g/kg").value * 1000, results.value, rtol=1e-14, equal_nan=True)
    one = exact.apply(FOUND[1])
    assert isinstance(one, gs.Estimate)
    assert one.same_as(results[1])
    assert exact.apply(FOUND[1:]).same_as(results[1:])


def test_one_portion_is_shared_and_each_is_not() -> None:
    preparation = gs.Preparation(**SOLID, mass_g_u=0.05)
    one, each = preparation.apply(FOUND), preparation.apply(FOUND, portions="each")
    assert one.is_close(each, rtol=1e-14)
    shared = one.covariance()[0, 1] - each.covariance()[0, 1]
    assert shared == pytest.approx(one.value[0] * one.value[1] * (0.05 / 1.0034) ** 2, rel=1e-9)
    named = gs.Preparation(**{**SOLID, "mass_g": gs.Measured(1.0034, 0.05, item="balance 2")})
    assert np.allclose(named.apply(FOUND, portions="each").covariance(), one.covariance(), rtol=1e-12)
    assert "item:balance 2" in named.apply(FOUND).contributions.sources
    # The stock of the standards stays shared whatever the portions.
    assert each.covariance()[0, 1] > 0


def test_a_prepared_result_has_no_interval_by_inversion() -> None:
    results = gs.Preparation(**SOLID).apply(FOUND)
    with pytest.raises(gs.NotAvailableError, match='use "delta"'):
        results.interval(method="inversion")
    lo, hi = results[0].interval()
    assert lo < results[0].value < hi


def test_pickle_and_copy_keep_everything() -> None:
    preparation = gs.Preparation(
        **{**SOLID, "dilution": [(5, 50), gs.Measured(2, 0.01)]},
        mass_g_u=0.0002,
        extra=[gs.Factor(1.02, 0.01, "recovery"), gs.Factor(3, 0.1, dof=4)],
    )
    again = pickle.loads(pickle.dumps(preparation))
    assert again == preparation
    assert again.multiplier_u == preparation.multiplier_u
    assert copy.deepcopy(preparation) == preparation
    assert preparation != gs.Preparation(**SOLID)
    for results in (
        preparation.apply(FOUND),
        preparation.apply(FOUND, "g/kg", portions="each")[::-1],
        preparation.apply(FOUND[1:])[0],
        preparation.apply(FOUND[1]),
    ):
        copied = pickle.loads(pickle.dumps(results))
        assert type(copied) is type(results)
        assert copied.same_as(results)
        assert copied.contributions.sources == results.contributions.sources
        assert copied.findings == results.findings
    for thing in (gs.Measured(5, 0.01, dof=9, repeatability=0.02, item="P5"), gs.Factor(2, 0.1, "x", dof=3)):
        assert pickle.loads(pickle.dumps(thing)) == thing


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"mass_g": 1}, "3 problems"),
        ({"mass_g": 0, "final_volume_ml": 100}, "mass_g: 0 is not a number above 0"),
        ({**SOLID, "volume_ml": 5}, "a portion has a mass or a volume, and both are given"),
        ({**SOLID, "percent_solids": 0}, "percent_solids: 0 is not a per cent"),
        ({**SOLID, "percent_solids": 101}, "percent_solids: 101 is not a per cent"),
        ({**SOLID, "percent_solids": None}, "percent_solids: it is needed"),
        ({**SOLID, "weighed": None}, "weighed: it is not said"),
        ({**SOLID, "weighed": "moist"}, "weighed: there is no weighed"),
        ({**SOLID, "extra": gs.Factor(1.17, name="solids")}, "would apply the solids twice"),
        ({"volume_ml": 50, "final_volume_ml": 100, "percent_solids": 50}, "percent_solids: belongs to a weighed solid"),
        ({"dilution": 0.1}, "would concentrate"),
        ({"dilution": [(50, 5)]}, "does not go into a flask"),
        ({"dilution": "x"}, "dilution: "),
        ({"mass_g_u": 0.1}, "mass_g_u: it is given without mass_g"),
        ({**SOLID, "mass_g_u": -0.1}, "mass_g: the standard uncertainty -0.1"),
        ({**SOLID, "mass_g": gs.Measured(1, 0.1), "mass_g_u": 0.1}, "mass_g_u: the quantity brings its own"),
        ({"dilution": 10, "dilution_relative_u": -1}, "dilution: the standard uncertainty"),
    ],
)
def test_contradictions(given: dict[str, Any], message: str) -> None:
    with pytest.raises(gs.ArgumentError) as caught:
        gs.Preparation(**given)
    assert message in str(caught.value)


def test_units_that_do_not_go_together() -> None:
    with pytest.raises(gs.UnitError, match="mg/L is not a unit for a solid"):
        gs.Preparation(**SOLID).apply(FOUND, "mg/L")
    with pytest.raises(gs.UnitError):
        gs.Preparation(**SOLID).apply(gs.Preparation(**SOLID).apply(FOUND))


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"dilution": {5: 50}}, "dilution"),
        ({"dilution": object()}, "dilution"),
        ({"mass_g": "1", "final_volume_ml": 1}, "mass_g"),
        ({"mass_g": [1, 2], "final_volume_ml": 1}, "mass_g"),
        ({"mass_g": True, "final_volume_ml": 1}, "mass_g"),
        ({"extra": 1.02}, "extra"),
        ({"extra": [1.02]}, "extra"),
        ({"extra": "recovery"}, "extra"),
    ],
)
def test_wrong_types_name_the_argument(given: dict[str, Any], name: str) -> None:
    with pytest.raises(TypeError, match=f"^{name}: "):
        gs.Preparation(**given)
    with pytest.raises(TypeError, match=r"^estimates: "):
        gs.Preparation().apply(1.0)  # type: ignore[call-overload]
    with pytest.raises(gs.ArgumentError, match=r"^portions: "):
        gs.Preparation().apply(FOUND, portions="all")  # type: ignore[call-overload]
