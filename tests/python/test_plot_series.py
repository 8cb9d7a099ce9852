"""Pictures of standard additions, studies of a detection limit and budgets against their objects."""

from __future__ import annotations

from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from scipy import stats

import groundstate as gs
from tests.python.pictures import artists, clear, closed, legend_words, one, outcome, xy

__all__ = ["closed"]

# Silver in photographic waste: Miller and Miller, Example 5.8.1, recalled; the book prints 17.3 and a 95 % interval
# of plus and minus 1.9.
ADDED = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0]
SIGNAL = [0.32, 0.41, 0.52, 0.60, 0.70, 0.77, 0.89]


def test_additions_cross_zero_at_the_concentration_found() -> None:
    series = gs.standard_additions(ADDED, SIGNAL)
    ax = gs.plot.additions(series)
    x, y = xy(ax, "points")
    assert list(x) == ADDED and list(y) == SIGNAL
    # By numpy alone: intercept over slope, rounded as in the book.
    slope, intercept = np.polyfit(ADDED, SIGNAL, 1)
    x, y = xy(ax, "found")
    assert x[0] == pytest.approx(-intercept / slope, rel=1e-12) and y[0] == 0.0
    assert f"{-x[0]:.1f}" == "17.3"
    x, y = xy(ax, "extrapolation")
    np.testing.assert_allclose(y, intercept + slope * x, rtol=0, atol=1e-12)
    assert x.min() < -intercept / slope
    clear(ax)


def test_the_set_on_the_axis_is_fiellers() -> None:
    series = gs.standard_additions(ADDED, SIGNAL)
    ax = gs.plot.additions(series)
    # Fieller 1954: roots of (a - x b)^2 = t^2 (Vaa - 2 x Vab + x^2 Vbb), once more by numpy and scipy.
    design = np.vander(np.array(ADDED), 2, increasing=True)
    (a, b), rss, *_ = np.linalg.lstsq(design, np.array(SIGNAL), rcond=None)
    v = np.linalg.inv(design.T @ design) * rss[0] / 5
    t2 = stats.t.ppf(0.975, 5) ** 2
    roots = np.roots([b * b - t2 * v[1, 1], -2 * (a * b - t2 * v[0, 1]), a * a - t2 * v[0, 0]])
    bar = one(ax, "interval")
    assert sorted(-np.asarray(bar.get_xdata())) == pytest.approx(sorted(roots), rel=1e-9)
    assert list(bar.get_ydata()) == [0.0, 0.0]


def test_a_negative_content_crosses_right_of_zero() -> None:
    series = gs.standard_additions([0, 1, 2, 3], [-0.02, 0.08, 0.18, 0.28])
    ax = gs.plot.additions(series)
    assert xy(ax, "found")[0] == pytest.approx([0.2], rel=1e-9)
    assert ax.get_ylim()[0] < -0.02
    clear(ax)


def test_additions_without_a_finite_set_are_drawn_with_arrows_and_said_in_words() -> None:
    series = gs.standard_additions([0, 0.1, 0.2, 0.3], [0.080, 0.052, 0.101, 0.083])
    interval = series.interval(0.95, "inversion")
    assert interval.kind == "outside"
    ax = gs.plot.additions(series)
    assert len(artists(ax, "interval")) == 2
    words = next(text for text in legend_words(ax) if text.startswith("found"))
    assert "or from" in words and "±" not in words
    clear(ax)


def test_additions_that_do_not_rise_have_no_result() -> None:
    ax = gs.plot.additions(gs.standard_additions([0, 1, 2], [0.3, 0.2, 0.1]))
    assert artists(ax, "found") == [] and artists(ax, "interval") == []
    assert any(words.startswith("no result") for words in legend_words(ax))
    clear(ax)


def test_a_volume_that_grows_is_named_on_the_axis() -> None:
    series = gs.standard_additions([0, 10, 20], [0.20, 0.33, 0.45], volumes=(10.0, [0.0, 0.1, 0.2]))
    ax = gs.plot.additions(series)
    assert ax.get_ylabel() == "Absorbance × V/V₀"
    assert list(xy(ax, "points")[1]) == list(series.line.point_signals)
    assert gs.plot.additions(gs.standard_additions(ADDED, SIGNAL)).get_ylabel() == "Absorbance"


SPIKES = [0.0104, 0.0113, 0.0092, 0.0118, 0.0098, 0.0109, 0.0101, 0.0095]


def test_a_study_shows_every_result_and_both_limits() -> None:
    blanks: list[Any] = [0.0008, gs.ND, -0.0011, 0.0015, gs.ND, 0.0004, None, -0.0003]
    study = gs.mdl(SPIKES, blanks)
    ax = gs.plot.mdl(study, unit="mg/L")
    spikes, numbers = artists(ax, "results")
    assert list(spikes.get_ydata()) == SPIKES
    assert list(numbers.get_ydata()) == [b for b in blanks if isinstance(b, float)]
    nondetects = one(ax, "non-detects")
    assert len(nondetects.get_xdata()) == 2 and nondetects.get_markerfacecolor() == "none"
    # A non-detect has no height: it stands on the axis, not at zero.
    assert nondetects.get_transform() != ax.transData
    assert [text.get_text() for text in ax.texts] == ["ND"]
    for part in ("spikes", "blanks"):
        assert one(ax, f"limit from {part}").get_ydata()[0] == getattr(study, f"from_{part}")
    assert one(ax, "limit from spikes").get_linestyle() == "-" != one(ax, "limit from blanks").get_linestyle()
    # 40 CFR 136 Appendix B: t(0.99; n - 1) s of the spikes, by scipy.
    assert study.value == pytest.approx(stats.t.ppf(0.99, 7) * np.std(SPIKES, ddof=1), rel=1e-9)
    assert [label.get_text() for label in ax.get_xticklabels()] == [
        "spikes\n8 numbers",
        "method blanks\n5 numbers, 2 ND, 1 missing",
    ]
    clear(ax)


def test_a_study_of_nothing_but_non_detects() -> None:
    study = gs.mdl([gs.ND] * 7, [gs.ND] * 7)
    assert study.value is None
    ax = gs.plot.mdl(study)
    assert len(artists(ax, "non-detects")) == 2 and artists(ax, "results") == []
    assert "none" in ax.get_title(loc="left")
    assert list(ax.get_yticks()) == []
    clear(ax)


def test_what_was_left_out_of_a_study_is_a_cross() -> None:
    spikes: list[Any] = [gs.MdlResult(v) for v in SPIKES]
    spikes.append(gs.MdlResult(0.05, excluded=("spilt", "A. Invented")))
    ax = gs.plot.mdl(gs.mdl(spikes, [0.0005, -0.0002, 0.0001, 0.0003, 0.0, 0.0002, 0.0004]))
    assert list(one(ax, "left out").get_ydata()) == [0.05]
    assert "1 left out" in ax.get_xticklabels()[0].get_text()
    clear(ax)


def widths_of(ax: Any) -> list[float]:
    return [bar.get_width() for bar in ax.patches]


def test_bars_of_a_budget_are_its_shares_in_order() -> None:
    found = outcome("gutter_sediment")
    lines = found.budget("Gutter 1")
    ax = gs.plot.budget(lines, unit="mg/kg")
    widths = widths_of(ax)
    assert widths == [100 * line.share for line in sorted(lines, key=lambda line: -line.share)]
    # The shares are those of u squared, computed from u alone.
    total = sum(line.u**2 for line in lines)
    assert widths == pytest.approx([100 * line.u**2 / total for line in lines], rel=1e-9)
    assert ax.get_yticklabels()[0].get_text() == "solids (gutter-sediment/21)"
    assert ax.texts[0].get_text() == "83.8 %, u 3.0 mg/kg"
    clear(ax)


def test_a_long_budget_ends_in_one_bar_of_the_rest() -> None:
    lines = [gs.BudgetLine(f"source:{'x' * n}", "volume", 1.0, 1 / 30, 5.0) for n in range(30)]
    ax = gs.plot.budget(lines, most=8)
    assert len(ax.patches) == 8
    assert ax.get_yticklabels()[-1].get_text() == "23 smaller sources"
    assert sum(widths_of(ax)) == pytest.approx(100.0, rel=1e-12)
    clear(ax)


def test_budgets_of_one_estimate_and_of_nothing() -> None:
    cal = gs.calibrate([0, 1, 2, 3], [0.0, 0.11, 0.19, 0.31])
    found = cal.concentration(0.15)
    ax = gs.plot.budget(found)
    assert len(ax.patches) == len(found.budget())
    assert ax.texts[0].get_text().endswith("mg/L")
    clear(ax)
    empty = gs.plot.budget([])
    assert [text.get_text() for text in empty.texts] == ["no contributions"]


def test_series_studies_and_budgets_draw_on_the_axes_given() -> None:
    _, axes = plt.subplots(1, 3)
    series = gs.standard_additions(ADDED, SIGNAL)
    assert gs.plot.additions(series, ax=axes[0]) is axes[0]
    assert gs.plot.mdl(gs.mdl(SPIKES, [0.0] * 7), ax=axes[1]) is axes[1]
    assert gs.plot.budget(series.estimate, ax=axes[2]) is axes[2]
