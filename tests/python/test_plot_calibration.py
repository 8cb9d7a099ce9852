"""The picture of a calibration against the calibration's own figures, and against arithmetic of its own."""

from __future__ import annotations

from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from scipy import stats

import groundstate as gs
from tests.python.pictures import artists, clear, closed, legend_words, one, outcome, xy

__all__ = ["closed"]

X = [0.0, 0.5, 1.0, 2.0, 3.0, 4.0]
ZEROED: dict[str, Any] = {"zeroing": "autozeroed", "zero_u": 0.001}
Y = [0.001, 0.108, 0.209, 0.402, 0.572, 0.731]


def band_of(ax: Any) -> tuple[Any, Any, Any]:
    """Grid, lower and upper edge of the band, from the polygon that is drawn."""
    vertices = one(ax, "band").get_paths()[0].vertices
    grid = np.unique(vertices[:, 0])
    edges = [vertices[np.isclose(vertices[:, 0], x, rtol=0, atol=1e-12), 1] for x in grid]
    return grid, np.array([e.min() for e in edges]), np.array([e.max() for e in edges])


def test_points_and_curve_are_those_of_the_calibration() -> None:
    cal = gs.calibrate(X, Y, shape="quadratic")
    upper, lower = gs.plot.calibration(cal)
    x, y = xy(upper, "points")
    assert list(x) == X and list(y) == Y
    grid, drawn = xy(upper, "curve")
    inside = np.isfinite(drawn)
    assert np.array_equal(drawn[inside], cal.absorbance(grid[inside]).value)
    assert grid[inside].min() == 0.0 and grid[inside].max() == 4.0
    x, residuals = xy(lower, "residuals")
    assert np.array_equal(residuals, cal.residuals) and list(x) == X
    ends = sorted(line.get_xdata()[0] for line in artists(upper, "range end"))
    assert ends == [cal.lowest, cal.top]
    assert upper.get_ylabel() == "Absorbance" and lower.get_xlabel() == "Concentration (mg/L)"
    assert legend_words(upper) == ["95 % confidence band", "quadratic", "6 readings of standards"]
    clear(upper)


@pytest.mark.parametrize("coverage", [0.8, 0.95, 0.99])
def test_the_band_is_t_times_the_standard_error_of_the_mean_signal(coverage: float) -> None:
    # Least squares once more, by numpy; t by scipy. 1e-9 is far above their rounding and far below a pixel.
    cal = gs.calibrate(X, Y, shape="quadratic")
    ax = gs.plot.calibration(cal, coverage=coverage, ax=plt.figure().subplots())
    grid, low, high = band_of(ax)
    design = np.vander(np.array(X), 3, increasing=True)
    beta, rss, *_ = np.linalg.lstsq(design, np.array(Y), rcond=None)
    covariance = np.linalg.inv(design.T @ design) * rss[0] / 3
    at = np.vander(grid, 3, increasing=True)
    half = stats.t.ppf(0.5 + coverage / 2, 3) * np.sqrt(np.einsum("ij,jk,ik->i", at, covariance, at))
    np.testing.assert_allclose((high - low) / 2, half, rtol=1e-7)
    np.testing.assert_allclose((high + low) / 2, at @ beta, rtol=1e-9, atol=1e-12)


def test_readings_drop_to_their_concentrations_and_their_sets_lie_on_the_axis() -> None:
    cal = gs.calibrate(X, Y)
    signals = [0.2, 0.5]
    upper, _ = gs.plot.calibration(cal, signals)
    found = cal.concentration(signals)
    x, y = xy(upper, "readings")
    assert np.array_equal(x, found.value) and list(y) == signals
    drops = artists(upper, "reading")
    assert [line.get_xdata()[-1] for line in drops] == list(found.value)
    assert all(line.get_ydata()[-1] == upper.get_ylim()[0] for line in drops)
    sets = found.interval(0.95, "inversion")
    bars = [tuple(line.get_xdata()) for line in artists(upper, "interval")]
    assert bars == list(zip(sets.lo, sets.hi, strict=True))
    clear(upper)


def test_replicates_narrow_the_interval_on_the_axis() -> None:
    cal = gs.calibrate(X, Y)
    single = one(gs.plot.calibration(cal, [0.4])[0], "interval").get_xdata()
    mean = one(gs.plot.calibration(cal, [0.4], 5)[0], "interval").get_xdata()
    assert mean[1] - mean[0] < 0.9 * (single[1] - single[0])
    table = gs.plot.calibration(cal, [[0.39, 0.41, np.nan]])[0]
    _, y = xy(table, "readings")
    assert y == pytest.approx([0.4], rel=1e-15)


def test_missing_readings_are_not_drawn() -> None:
    cal = gs.calibrate(X, Y)
    masked = np.ma.array([0.2, 0.9, 0.4], mask=[False, True, False])
    for given in (masked, [0.2, None, 0.4], [0.2, np.nan, 0.4]):
        assert list(xy(gs.plot.calibration(cal, given)[0], "readings")[1]) == [0.2, 0.4]


def test_a_signal_that_no_concentration_gives_is_drawn_as_such() -> None:
    cal = gs.calibrate(X, Y, shape="quadratic")
    assert cal.ceiling is not None
    upper, _ = gs.plot.calibration(cal, [0.3, 2 * cal.ceiling])
    assert one(upper, "reading without concentration").get_ydata()[0] == 2 * cal.ceiling
    assert len(artists(upper, "reading")) == 1
    assert "1 without a concentration" in legend_words(upper)
    assert upper.get_ylim()[1] > 2 * cal.ceiling


def test_a_set_without_end_leaves_the_picture_with_an_arrow() -> None:
    # A slope lost in its scatter: the set by inversion is everything but a gap, or every value.
    cal = gs.calibrate([0, 1, 2, 3], [0.10, 0.02, 0.09, 0.12])
    interval = cal.concentration(0.08).interval(0.95, "inversion")
    assert interval.kind in ("outside", "whole")
    upper, _ = gs.plot.calibration(cal, 0.08)
    left, right = upper.get_xlim()
    markers = [str(line.get_marker()) for line in upper.lines if line.get_marker() in ("<", ">")]
    assert sorted(markers) == ["<", ">"]
    for line in artists(upper, "interval"):
        assert left <= min(line.get_xdata()) and max(line.get_xdata()) <= right


@pytest.mark.parametrize("shape", ["line", "line_through_zero", "quadratic", "quadratic_through_zero", "stray_light"])
def test_every_shape_is_drawn(shape: Any) -> None:
    # stray_light has no offset of its own and takes signals whose zero was set.
    cal = gs.calibrate(X, Y, shape=shape, **ZEROED if shape == "stray_light" else {})
    upper, _ = gs.plot.calibration(cal, [0.05, 0.6])
    grid, drawn = xy(upper, "curve")
    inside = np.isfinite(drawn)
    assert np.array_equal(drawn[inside], cal.absorbance(grid[inside]).value)
    clear(upper)


def test_one_standard_and_a_perfect_fit_have_a_curve_without_scatter() -> None:
    single = gs.calibrate([2.0], [0.4], shape="line_through_zero")
    upper, lower = gs.plot.calibration(single)
    assert xy(upper, "points")[0] == [2.0]
    assert artists(upper, "band") == []  # no degrees of freedom, no band
    assert lower.get_ylim() == (-1.0, 1.0)
    clear(upper)
    perfect, _ = gs.plot.calibration(gs.calibrate([1, 2, 3], [0.1, 0.2, 0.3]))
    clear(perfect)


def test_negative_signals_and_a_falling_curve_are_drawn_too() -> None:
    falling = gs.calibrate([0, 1, 2, 3], [0.0, -0.11, -0.19, -0.31], allow="flagged")
    upper, _ = gs.plot.calibration(falling, [-0.2, np.nan])
    _, y = xy(upper, "points")
    assert y.min() == -0.31 and upper.get_ylim()[0] < -0.31
    clear(upper)


def test_axes_given_are_drawn_on_and_returned() -> None:
    cal = gs.calibrate(X, Y)
    figure, (a, b) = plt.subplots(2, 1)
    assert gs.plot.calibration(cal, ax=(a, b)) == (a, b)
    figure, ax = plt.subplots()
    assert gs.plot.calibration(cal, ax=ax) is ax
    assert ax.get_xlabel() == "Concentration (mg/L)"
    assert len(figure.axes) == 1


def test_units_and_names_of_signals_reach_the_axes() -> None:
    upper, lower = gs.plot.calibration(gs.calibrate(X, Y, unit="ug/L"), signal_name="Emission signal")
    assert lower.get_xlabel() == "Concentration (ug/L)" and upper.get_ylabel() == "Emission signal"


def test_calibrations_of_a_run_are_drawn() -> None:
    for cal in outcome("gutter_sediment").calibrations:
        upper, _ = gs.plot.calibration(cal, [0.1, 0.9, 5.0])
        clear(upper)
