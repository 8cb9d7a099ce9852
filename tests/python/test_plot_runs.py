"""Pictures of runs and of checks over many runs against the tables they come from."""

from __future__ import annotations

import csv
import io
import statistics
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest

import groundstate as gs
from tests.python.pictures import DEMO, artists, clear, closed, one, outcome, xy

__all__ = ["closed"]


def readings_by_position(path: Path) -> dict[int, float]:
    """Mean reading of each position, from the file alone."""
    found: dict[int, list[float]] = {}
    for row in csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))):
        found.setdefault(int(row["position"]), []).append(float(row["absorbance"]))
    return {position: sum(values) / len(values) for position, values in found.items()}


def shifted(factors: list[float]) -> gs.Outcomes:
    """The roof-water run once a factor, its CCVs' readings times it."""
    rows = list(csv.DictReader(io.StringIO((DEMO / "roof_water.csv").read_text(encoding="utf-8"))))
    table = [
        dict(row, run=f"r{n:02d}", absorbance=str(float(row["absorbance"]) * (f if row["role"] == "ccv" else 1.0)))
        for n, f in enumerate(factors)
        for row in rows
    ]
    return gs.reduce_many(table, DEMO / "roof_water.toml", threads=1)


def test_a_run_shows_each_position_once_at_its_mean_reading() -> None:
    upper, _ = gs.plot.run(outcome("gutter_sediment"))
    shown: dict[int, float] = {}
    for group in ("standards", "checks", "samples"):
        x, y = xy(upper, group)
        assert not shown.keys() & set(x)
        shown |= dict(zip(x.astype(int).tolist(), y.tolist(), strict=True))
    expected = readings_by_position(DEMO / "gutter_sediment.csv")
    assert shown.keys() == expected.keys()
    assert all(shown[p] == pytest.approx(expected[p], rel=1e-12) for p in expected)
    clear(upper)


def test_condemned_stretches_and_new_calibrations_are_marked_in_both_panels() -> None:
    found = outcome("gutter_sediment")
    for panel in gs.plot.run(found):
        span = one(panel, "condemned")
        assert (span.get_x(), span.get_x() + span.get_width()) == (18.5, 23.5)
        assert one(panel, "new calibration").get_xdata()[0] == 25.5
    condemned = {row.position for row in found.measurements if row.condemned}
    assert condemned <= set(range(19, 24)) and condemned


def test_checks_stand_at_their_place_between_their_limits() -> None:
    found = outcome("gutter_sediment")
    _, lower = gs.plot.run(found)
    x, y = xy(lower, "pass")
    places = dict(zip(x.astype(int).tolist(), y.tolist(), strict=True))
    by_position = {row.position: row for row in found.checks}
    # ICV: recovery 101.56 % of 90 to 110, so (101.56 - 100) / 10.
    assert places[9] == pytest.approx((by_position[9].value - 100) / 10, rel=1e-12)
    # Duplicate: an upper limit alone, 1.77 of 20.
    assert places[16] == pytest.approx(by_position[16].value / 20, rel=1e-12)
    x, y = xy(lower, "fail")
    assert list(x) == [24.0] and y == pytest.approx([(by_position[24].value - 100) / 10], rel=1e-12)
    assert [text.get_text() for text in lower.texts] == ["CCV 2"]
    assert list(xy(lower, "not evaluated")[0]) == [19.0, 20.0, 42.0]


def test_a_run_on_axes_of_ones_own() -> None:
    _, ax = plt.subplots()
    assert gs.plot.run(outcome("roof_water"), ax=ax) is ax
    assert ax.get_xlabel() == "Position"


def test_a_run_with_long_names_and_few_positions() -> None:
    table: dict[str, Any] = {
        "run": ["r" * 300] * 4,
        "position": [1, 2, 3, 4],
        "role": ["standard", "standard", "standard", "sample"],
        "label": ["a", "b", "c", "$x^2$ <b>" * 30],
        "absorbance": [0.1, 0.2, 0.31, -0.02],
        "nominal": [1.0, 2.0, 3.0, None],
    }
    upper, _ = gs.plot.run(gs.reduce(table, {"id": "CU", "version": "1", "element": "Cu", "profile": "general"}))
    assert list(xy(upper, "samples")[1]) == [-0.02]
    clear(upper)


def test_the_control_chart_computes_its_lines_from_the_figures_it_shows() -> None:
    runs = shifted([1.0, 1.02, 0.97, 1.01, 0.99])
    ax = gs.plot.control(runs, "ccv")
    expected = [row.value for run in runs for row in run.checks if row.check == "ccv" and row.figure == "recovery"]
    x, y = xy(ax, "figures in order")
    assert list(y) == expected and list(x) == list(range(1, 11))
    mean, s = statistics.fmean(expected), statistics.stdev(expected)
    assert one(ax, "central line").get_ydata()[0] == pytest.approx(mean, rel=1e-12)
    assert sorted(line.get_ydata()[0] for line in artists(ax, "control limit")) == pytest.approx(
        [mean - 3 * s, mean + 3 * s]
    )
    assert sorted(line.get_ydata()[0] for line in artists(ax, "warning limit")) == pytest.approx(
        [mean - 2 * s, mean + 2 * s]
    )
    assert "of 10 figures, few for limits" in ax.get_title(loc="left")
    span = one(ax, "accepted")
    assert (span.get_y(), span.get_y() + span.get_height()) == (90.0, 110.0)
    clear(ax)


def test_the_lines_of_a_control_chart_may_rest_on_its_first_figures() -> None:
    runs = shifted([1.0, 1.01, 0.99, 1.2])
    ax = gs.plot.control(runs, "ccv", first=6)
    values = xy(ax, "figures in order")[1][:6]
    assert one(ax, "central line").get_ydata()[0] == pytest.approx(statistics.fmean(values), rel=1e-12)
    assert one(ax, "end of the base").get_xdata()[0] == 6.5
    assert len(one(ax, "fail").get_xdata()) == 2  # 20 % above is beyond 110 %
    with pytest.raises(gs.ArgumentError, match="first"):
        gs.plot.control(runs, "ccv", first=1)


def test_control_charts_of_one_figure_and_of_none() -> None:
    found = outcome("roof_water")
    ax = gs.plot.control(found, "icv")
    assert artists(ax, "central line") == [] and "no limits can be computed" in ax.get_title(loc="left")
    clear(ax)
    none = gs.plot.control(found, "serial_dilution", "percent_difference")
    assert [text.get_text() for text in none.texts] == ["no such check was evaluated"]
    with pytest.raises(TypeError, match="not an Outcome"):
        gs.plot.control([found, 3])  # type: ignore[list-item]


def test_blanks_have_a_control_chart_in_their_unit() -> None:
    ax = gs.plot.control(shifted([1.0, 1.1, 0.9]), "ccb", "blank")
    assert ax.get_ylabel() == "Blank (mg/L)"
    clear(ax)


def test_recoveries_show_every_figure_over_what_is_accepted() -> None:
    runs = shifted([1.0, 1.15, 0.98])
    ax = gs.plot.recoveries(runs)
    kinds = [label.get_text() for label in ax.get_yticklabels()]
    rows = [row for run in runs for row in run.checks if row.figure == "recovery"]
    shown = np.concatenate([line.get_xdata() for name in ("pass", "fail") for line in artists(ax, name)])
    assert sorted(shown) == sorted(row.value for row in rows)
    assert len(np.concatenate([line.get_xdata() for line in artists(ax, "fail")])) == 2
    at = kinds.index("continuing calibration verification")
    ranges = [
        (b.get_x(), b.get_x() + b.get_width())
        for b in artists(ax, "accepted")
        if abs(b.get_y() + b.get_height() / 2 - at) < 1e-9
    ]
    assert ranges == [(90.0, 110.0)]
    assert [text.get_text() for text in ax.texts][at] == "6, 2 failed"
    clear(ax)


def test_differences_show_duplicates() -> None:
    runs = shifted([1.0, 1.0])
    ax = gs.plot.differences(runs)
    x = one(ax, "pass").get_xdata()
    assert list(x) == [row.value for run in runs for row in run.checks if row.check == "duplicate"]
    assert ax.get_xlabel() == "Difference (%)"
    clear(ax)


def test_checks_without_a_figure_are_counted() -> None:
    ax = gs.plot.recoveries(outcome("gutter_sediment"))
    counts = dict(
        zip([label.get_text() for label in ax.get_yticklabels()], [t.get_text() for t in ax.texts], strict=True)
    )
    assert counts["laboratory control sample"] == "3, 1 not evaluated"
    assert counts["continuing calibration verification"] == "3, 1 failed"
