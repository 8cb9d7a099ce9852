"""Monte Carlo of a run from Python."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import groundstate as gs

DEMO = Path(gs.__file__).parent / "demo"


def test_first_order_is_the_limit_of_normal_scatter() -> None:
    outcome = gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml")
    found = gs.simulate(outcome, seed=7, trials=40_000, scatter="normal")
    rows = found.results
    assert (found.trials, found.seed, found.ended) == (40_000, 7, "fixed")
    # Four standard errors of a standard deviation from 40,000 trials are 1.4 %.
    np.testing.assert_allclose(rows["standard_uncertainty"], rows["first_order_standard_uncertainty"], rtol=0.015)
    expected = outcome.covariance()
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.abs(found.covariance() - expected).max() < 0.03 * scale.max()


def test_a_seed_gives_the_same_figures_on_any_threads() -> None:
    run = (DEMO / "gutter_sediment.csv", DEMO / "gutter_sediment.toml")
    one, two, other = (
        gs.simulate(*run, seed=seed, trials=5_000, threads=threads).results["value"]
        for seed, threads in ((1, 1), (1, 2), (2, 1))
    )
    np.testing.assert_array_equal(one, two)
    assert (one != other).any()


def test_estimated_scatter_widens_the_distribution() -> None:
    found = gs.simulate(DEMO / "roof_water.csv", DEMO / "roof_water.toml", seed=3)
    assert found.ended in ("settled", "not_settled")
    rows = found.results
    assert (rows["standard_uncertainty"] > rows["first_order_standard_uncertainty"]).all()
    assert ((rows["lo"] < rows["value"]) & (rows["value"] < rows["hi"])).all()
    assert (rows["shortest_hi"] - rows["shortest_lo"] <= rows["hi"] - rows["lo"]).all()


def test_wrong_words_are_refused() -> None:
    outcome = gs.reduce(DEMO / "roof_water.csv", DEMO / "roof_water.toml")
    with pytest.raises(gs.ArgumentError, match="coverage"):
        gs.simulate(outcome, seed=1, trials=1000, coverage=95)
    with pytest.raises(gs.ArgumentError, match="scatter"):
        gs.simulate(outcome, seed=1, trials=1000, scatter="uniform")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="method"):
        gs.simulate(DEMO / "roof_water.csv", seed=1)
