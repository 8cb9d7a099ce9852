"""Monte Carlo of runs and calibrations from Python."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"
X = [0.1, 0.3, 0.5, 0.7, 0.9]
CADMIUM = [
    [0.028, 0.029, 0.029],
    [0.084, 0.083, 0.081],
    [0.135, 0.131, 0.133],
    [0.180, 0.181, 0.183],
    [0.215, 0.230, 0.216],
]


@pytest.fixture(scope="module")
def water() -> gs.Outcome:
    return gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml")


def test_first_order_is_the_limit_of_normal_scatter(water: gs.Outcome) -> None:
    found = gs.simulate(water, seed=7, trials=40_000, scatter="normal")
    rows = found.results
    assert (found.trials, found.seed, found.ended, found.coverage) == (40_000, 7, "fixed", 0.95)
    assert set(rows["status"]) == {"drawn"}
    # Four standard errors of a standard deviation from 40,000 trials are 1.4 %.
    np.testing.assert_allclose(rows["standard_uncertainty"], rows["first_order_standard_uncertainty"], rtol=0.015)
    # And of a mean 2 % of u.
    assert (np.abs(rows["mean"] - rows["value"]) < 0.04 * rows["standard_uncertainty"]).all()
    expected = water.covariance()
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.abs(found.covariance() - expected).max() < 0.03 * scale.max()


def test_a_seed_gives_the_same_figures_on_any_threads() -> None:
    run = (DEMO / "gutter_sediment.csv", DEMO / "gutter_sediment.toml")
    outcome = gs.reduce(*run)
    # A last chunk that is not full, and the adaptive way.
    for trials in (5_000, "adaptive"):
        found = [gs.simulate(outcome, seed=1, trials=trials, tolerance=None, threads=n) for n in (1, 2, 8)]
        for other in found[1:]:
            for i in range(len(other.results)):
                np.testing.assert_array_equal(found[0].values(i), other.values(i))
            for name in ("mean", "lo", "hi", "shortest_lo", "shortest_hi", "standard_uncertainty"):
                np.testing.assert_array_equal(found[0].results[name], other.results[name])
    assert (
        gs.simulate(*run, seed=2, trials=5_000).values(0) != gs.simulate(outcome, seed=1, trials=5_000).values(0)
    ).all()


def test_estimated_scatter_widens_the_distribution(water: gs.Outcome) -> None:
    found = gs.simulate(water, seed=3)
    assert found.ended in ("settled", "not_settled")
    rows = found.results
    assert (rows["standard_uncertainty"] > rows["first_order_standard_uncertainty"]).all()
    assert ((rows["lo"] < rows["value"]) & (rows["value"] < rows["hi"])).all()
    assert (rows["shortest_hi"] - rows["shortest_lo"] <= rows["hi"] - rows["lo"]).all()


def test_one_calibration() -> None:
    """EURACHEM/CITAC QUAM 2012, Example A5: 0.260 mg/L, u 0.018 mg/L, 13 degrees of freedom."""
    cal = gs.calibrate(X, CADMIUM)
    found = cal.simulate(0.0714, 2, seed=1, trials=200_000)
    (row,) = list(found.results)
    first = cal.concentration(0.0714, 2)
    assert (row["position"], row["unit"], row["status"]) == (1, "mg/L", "drawn")
    assert row["value"] == first.value and row["first_order_standard_uncertainty"] == first.u
    # A t on 13 degrees of freedom has a standard deviation of sqrt(13/11) times its scale; five standard errors of
    # one from 200,000 trials are 1 %.
    assert row["standard_uncertainty"] == pytest.approx(first.u * np.sqrt(13 / 11), rel=0.01)
    lo, hi = first.interval()
    assert row["first_order_lo"] == pytest.approx(lo, rel=1e-12)
    # Ends of 95 % are known to 0.3 % of u; the quotient is slightly skew.
    assert abs(row["lo"] - lo) < 0.05 * first.u and abs(row["hi"] - hi) < 0.05 * first.u
    assert row["first_order_validated"] is True
    values = found.values(0)
    assert values.shape == (200_000,) and not values.flags.writeable
    assert row["mean"] == pytest.approx(values.mean(), rel=1e-12)
    # q = 190,000, r = 5,000 (JCGM 101:2008, 7.7.2).
    ordered = np.sort(values)
    assert (row["lo"], row["hi"]) == (ordered[4_999], ordered[194_999])
    lengths = ordered[190_000:] - ordered[:10_000]
    assert row["shortest_hi"] - row["shortest_lo"] == lengths.min()
    with pytest.raises(IndexError, match="no row 1"):
        found.values(1)


def test_several_readings_tables_and_given_uncertainties() -> None:
    cal = gs.calibrate(X, CADMIUM)
    three = cal.simulate([[0.07, 0.072, 0.074], [0.15, np.nan, 0.152]], seed=2, trials=20_000)
    plain = cal.simulate([0.072, 0.151], [3, 2], seed=2, trials=20_000)
    np.testing.assert_array_equal(three.values(1), plain.values(1))
    given = cal.simulate([0.072, 0.151], reading_u=0.01, seed=2, trials=20_000, scatter="normal").results
    # 0.01 over a slope of 0.241.
    np.testing.assert_allclose(given["standard_uncertainty"], np.hypot(0.01 / 0.241, 0.012), rtol=0.04)
    missing = cal.simulate([0.07, np.nan], seed=2, trials=1_000).results
    assert list(missing["status"]) == ["drawn", "no_value"] and np.isnan(missing["mean"][1])


def test_the_tolerance_says_when_to_stop() -> None:
    cal = gs.calibrate(X, CADMIUM)
    rough, fine = (cal.simulate(0.0714, 2, seed=4, tolerance=t) for t in (1, 2))
    assert rough.ended == "settled" and rough.trials < fine.trials
    # 0.0002 mg/L instead of half a unit of the second figure of 0.02 mg/L, 0.0005 mg/L.
    absolute = cal.simulate(0.0714, 2, seed=4, tolerance=0.0002)
    assert absolute.trials > fine.trials or absolute.ended == "not_settled"
    for wrong, word in ((3, "3 significant digits"), (-0.1, "tolerance above 0"), (0, "0 significant digits")):
        with pytest.raises(gs.ArgumentError, match=word):
            cal.simulate(0.0714, seed=1, tolerance=wrong)
    with pytest.raises(gs.ArgumentError, match="settles within no tolerance"):
        cal.simulate(0.0714, seed=1, trials=1000, tolerance=1)


def extremes(found: gs.Simulation) -> float:
    values = found.values(0)
    return float(np.abs(values / found.results["value"][0] - 1).max())


def test_distributions_by_kind_and_by_key() -> None:
    known = gs.KnownSigma(1e-6)
    y = [0.03, 0.09, 0.15, 0.21, 0.27]
    cal = gs.calibrate(X, y, noise=known, x_uncertainty=gs.XUncertainty(shared={"stock:Cd": 0.01}))
    with_forms: dict[str, Any] = {
        "normal": {},
        "rectangular": {"stock": "rectangular"},
        "triangular": {"stock:Cd": "triangular"},
        "trapezoidal": {"stock:Cd": ("trapezoidal", 0.5), "stock": "rectangular"},
    }
    found = {name: cal.simulate(0.15, seed=5, trials=50_000, distributions=forms) for name, forms in with_forms.items()}
    for name, simulation in found.items():
        # Every form keeps the standard uncertainty; 2 % is over six standard errors.
        assert simulation.results["standard_uncertainty"][0] == pytest.approx(0.01 * 0.5, rel=0.02), name
    limits = {"rectangular": 3**0.5, "triangular": 6**0.5, "trapezoidal": (6 / 1.25) ** 0.5}
    for name, half in limits.items():
        assert 0.95 * half < extremes(found[name]) / 0.01 < half * 1.001, name
    assert extremes(found["normal"]) > 0.035
    t = cal.simulate(0.15, seed=5, trials=50_000, distributions={"stock": ("t", 2.5)})
    assert extremes(t) > 0.1


@pytest.mark.parametrize(
    ("forms", "word"),
    [
        ({"stock": "cauchy"}, "there is no distribution"),
        ({"stock": "t"}, "there is no distribution"),
        ({"stock": ("t", -1.0)}, "degrees of freedom above 0"),
        ({"stock": ("trapezoidal", 2.0)}, "0 to 1"),
        ({"stok": "normal"}, 'did you mean "stock"'),
        ({"stock:Cb": "normal"}, 'did you mean "stock:Cd"'),
        ({"calibration": "normal"}, "coefficients"),
    ],
)
def test_distributions_that_cannot_be(forms: Any, word: str) -> None:
    cal = gs.calibrate(X, CADMIUM, stock=gs.Stock("Cd", 0.01))
    with pytest.raises(gs.ArgumentError, match=word):
        cal.simulate(0.1, seed=1, trials=1000, distributions=forms)
    with pytest.raises(TypeError, match="distributions"):
        cal.simulate(0.1, seed=1, trials=1000, distributions={"stock": 3})  # type: ignore[dict-item]


def test_chosen_results(water: gs.Outcome) -> None:
    rows = gs.simulate(water, seed=1, trials=1_000).results
    labels, positions = list(rows["label"]), list(rows["position"])
    chosen = gs.simulate(water, seed=1, trials=1_000, positions=[positions[2], labels[0]]).results
    assert list(chosen["position"]) == [positions[2], positions[0]]
    with pytest.raises(gs.ArgumentError, match="did you mean"):
        gs.simulate(water, seed=1, trials=1_000, positions=[labels[0] + "x"])
    with pytest.raises(gs.ArgumentError, match="position 1"):
        gs.simulate(water, seed=1, trials=1_000, positions=[1])
    with pytest.raises(TypeError, match="positions"):
        gs.simulate(water, seed=1, trials=1_000, positions=[1.5])  # type: ignore[list-item]


def test_forms_of_a_runs_volumes_keep_its_uncertainties(water: gs.Outcome) -> None:
    volumes = gs.simulate(water, seed=9, trials=40_000, scatter="normal", distributions={"volume": "triangular"})
    plain = gs.simulate(water, seed=9, trials=40_000, scatter="normal")
    np.testing.assert_allclose(
        volumes.results["standard_uncertainty"], plain.results["standard_uncertainty"], rtol=0.02
    )
    assert any((volumes.values(i) != plain.values(i)).any() for i in range(len(plain.results)))


def test_progress_is_told_and_can_stop() -> None:
    cal = gs.calibrate(X, CADMIUM)
    told: list[tuple[int, int]] = []
    cal.simulate(0.1, seed=1, trials=100_000, threads=2, progress=lambda done, most: told.append((done, most)))
    assert told[0] == (0, 100_000) and told[-1] == (100_000, 100_000)
    assert [done for done, _ in told] == sorted(done for done, _ in told) and len(told) > 5
    with pytest.raises(KeyboardInterrupt, match="after"):
        cal.simulate(0.1, seed=1, trials=100_000, progress=lambda done, most: done < 20_000)

    def broken(done: int, most: int) -> None:
        raise LookupError("no bar to move")

    with pytest.raises(LookupError, match="no bar"):
        cal.simulate(0.1, seed=1, trials=100_000, progress=broken)


@pytest.mark.parametrize("refitted", [False, True])
def test_ctrl_c_stops_within_a_second(refitted: bool) -> None:
    error = gs.XUncertainty(0.002) if refitted else None
    flat = [row[0] for row in CADMIUM]
    cal = gs.calibrate(X, flat, noise=gs.KnownSigma(0.001), x_uncertainty=error)
    sent: list[float] = []

    def send() -> None:
        sent.append(time.monotonic())
        os.kill(os.getpid(), signal.SIGINT)

    timer = threading.Timer(0.3, send)
    timer.start()
    with pytest.raises(KeyboardInterrupt):
        # Many seconds of work.
        cal.simulate(0.1, seed=1, trials=60_000_000, threads=2)
    assert time.monotonic() - sent[0] < 1.0
    timer.join()


def test_wrong_words_are_refused(water: gs.Outcome) -> None:
    with pytest.raises(gs.ArgumentError, match="coverage"):
        gs.simulate(water, seed=1, trials=1000, coverage=95)
    with pytest.raises(gs.ArgumentError, match="scatter"):
        gs.simulate(water, seed=1, trials=1000, scatter="uniform")  # type: ignore[arg-type]
    with pytest.raises(gs.ArgumentError, match="threads"):
        gs.simulate(water, seed=1, trials=1000, threads=0)
    with pytest.raises(gs.LimitError, match="values"):
        gs.simulate(water, seed=1, trials=10**9)
    with pytest.raises(TypeError, match="trials"):
        gs.simulate(water, seed=1, trials="many")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="method"):
        gs.simulate(DEMO / "roof_water.csv", seed=1)
