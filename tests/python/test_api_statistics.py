"""gs.statistics: outliers, robust estimates, equal variances, against published figures and SciPy."""

import json
import math
import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import groundstate as gs

# NIST/SEMATECH e-Handbook, 1.3.5.17.3: Rosner's 54 values; transcribed from public copies that agree.
ROSNER = [
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70,
    1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
    2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
]  # fmt: skip
# Analytical Methods Committee, Analyst 114 (1989) 1693: copper in wholemeal flour, ug/g; from memory.
COPPER = [
    2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2, 3.5,
    3.6, 3.7, 3.7,
]  # fmt: skip
# Harvey, Analytical Chemistry 2.1, chapter 4: masses of nine pennies, g; transcribed from a copy of the book.
PENNIES = [3.067, 3.049, 3.039, 2.514, 3.048, 3.079, 3.094, 3.109, 3.102]
# NIST/SEMATECH e-Handbook, GEAR.DAT: ten batches of ten gear diameters; transcribed from public copies that agree.
GEAR = [
    [1.006, 0.996, 0.998, 1.000, 0.992, 0.993, 1.002, 0.999, 0.994, 1.000],
    [0.998, 1.006, 1.000, 1.002, 0.997, 0.998, 0.996, 1.000, 1.006, 0.988],
    [0.991, 0.987, 0.997, 0.999, 0.995, 0.994, 1.000, 0.999, 0.996, 0.996],
    [1.005, 1.002, 0.994, 1.000, 0.995, 0.994, 0.998, 0.996, 1.002, 0.996],
    [0.998, 0.998, 0.982, 0.990, 1.002, 0.984, 0.996, 0.993, 0.980, 0.996],
    [1.009, 1.013, 1.009, 0.997, 0.988, 1.002, 0.995, 0.998, 0.981, 0.996],
    [0.990, 1.004, 0.996, 1.001, 0.998, 1.000, 1.018, 1.010, 0.996, 1.002],
    [0.998, 1.000, 1.006, 1.000, 1.002, 0.996, 0.998, 0.996, 1.002, 1.006],
    [1.002, 0.998, 0.996, 0.995, 0.996, 1.004, 1.004, 0.998, 0.999, 0.991],
    [0.991, 0.995, 0.984, 0.994, 0.997, 0.997, 0.991, 0.998, 1.004, 0.997],
]
values = st.lists(st.floats(-1e3, 1e3).map(lambda x: round(x, 3)), min_size=5, max_size=30)


def same(one: Any) -> Any:
    return pickle.loads(pickle.dumps(one))


def test_the_submodule_holds_what_stands_flat() -> None:
    for name in gs.statistics.__all__:
        assert getattr(gs, name) is getattr(gs.statistics, name)


def test_rosners_fifty_four_values() -> None:
    found = gs.generalized_esd(ROSNER, 10)
    # As the handbook prints them, cut to three decimals.
    printed = [3.118, 2.942, 3.179, 2.810, 2.815, 2.848, 2.279, 2.310, 2.101, 2.067]
    critical = [3.158, 3.151, 3.143, 3.136, 3.128, 3.120, 3.111, 3.103, 3.094, 3.085]
    assert [step.statistic for step in found.steps] == pytest.approx([x + 0.0005 for x in printed], abs=0.0005)
    assert [step.critical for step in found.steps] == pytest.approx([x + 0.0005 for x in critical], abs=0.0005)
    assert found.outliers == [53, 52, 51]
    # p lies below alpha exactly where the statistic exceeds its critical value.
    assert [step.p < 0.05 for step in found.steps] == [step.significant for step in found.steps]
    assert [step.n for step in found.steps] == list(range(54, 44, -1))
    assert "1.3.5.17.3" in found.steps[0].citation
    assert same(found) == found
    json.dumps(found.to_dict())
    with pytest.raises(gs.ArgumentError, match="from 1 to 52"):
        gs.generalized_esd(ROSNER, 53)


def test_copper_in_wholemeal_flour() -> None:
    # The committee's figures; huber 3.2067 with k = 1.5 and the scale held at 1.4826 MAD.
    assert gs.median(COPPER) == pytest.approx(3.385, rel=1e-15)
    assert gs.mad(COPPER) == pytest.approx(0.526323, rel=2e-6)  # 1.4826 is cut: 1/z(0.75) is 1.4826022
    assert gs.mad(COPPER, scale="none") == pytest.approx(0.355, rel=1e-12)
    huber = gs.robust(COPPER, "huber")
    assert huber.mean == pytest.approx(3.2067239444444444444, rel=2e-6)
    assert f"{huber.mean:.4f}" == "3.2067"
    found = gs.robust(COPPER)
    assert (found.method, found.winsorised > 0) == ("algorithm_a", True)
    # ISO 13528 Algorithm A stands still at its own answer: mean and 1.134 SD of the values pulled in to x* +- 1.5 s*.
    pulled = np.clip(COPPER, found.mean - 1.5 * found.sd, found.mean + 1.5 * found.sd)
    assert found.mean == pytest.approx(np.mean(pulled), rel=1e-12)
    assert found.sd == pytest.approx(1.134 * np.std(pulled, ddof=1), rel=1e-12)
    assert same(found) == found
    assert found.to_dict()["citation"] == found.citation != huber.citation
    with pytest.raises(gs.ArgumentError, match="constants of Algorithm A"):
        gs.robust(COPPER, k=2.0)
    with pytest.raises(gs.ArgumentError, match="method"):
        gs.robust(COPPER, "tukey")  # type: ignore[arg-type]
    with pytest.raises(gs.ArgumentError, match="scale"):
        gs.mad(COPPER, scale="sd")  # type: ignore[arg-type]


@given(values)
def test_median_and_mad_are_those_of_scipy(x: list[float]) -> None:
    scale = float(np.ptp(x)) or 1.0
    assert gs.median(x) == pytest.approx(float(np.median(x)), rel=1e-14, abs=1e-12)
    for name, theirs in (("normal", "normal"), ("none", 1.0)):
        wanted = stats.median_abs_deviation(x, scale=theirs)
        assert gs.mad(x, scale=name) == pytest.approx(wanted, rel=1e-12, abs=1e-12 * scale)  # type: ignore[arg-type]


@given(values)
def test_grubbs_p_and_critical_value_are_those_of_student_s_t(x: list[float]) -> None:
    found = gs.grubbs(x)
    n, g = len(x), found.statistic
    # NIST/SEMATECH e-Handbook, 1.3.5.17.1, and its inverse.
    t = stats.t.isf(0.025 / n, n - 2)
    assert found.critical == pytest.approx((n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t)), rel=1e-12)
    most = (n - 1) ** 2 / n
    if g * g < most * (1 - 1e-9):
        at = math.sqrt((n - 2) * g * g / (most - g * g))
        assert found.p == pytest.approx(min(1.0, 2 * n * stats.t.sf(at, n - 2)), rel=1e-6)
    assert (found.p < found.alpha) is found.significant


def test_dixon_p_goes_with_the_table() -> None:
    # D. B. Rorabacher, Anal. Chem. 63 (1991) 139, r10 two-sided, from memory: Q(n = 7) = 0.507 at 90 %, 0.568 at 95 %.
    found = gs.dixon(PENNIES)
    assert (found.test, found.n, found.side, found.index) == ("dixon", 9, "both", 3)
    # By hand: gap 3.039 - 2.514 over range 3.109 - 2.514.
    assert found.statistic == pytest.approx(0.525 / 0.595, rel=1e-12)
    assert found.p < 0.01
    seven = [0.0, 0.568, *np.linspace(0.6, 1.0, 5)]
    assert gs.dixon(seven).critical == pytest.approx(0.568, abs=0.0015)
    assert gs.dixon(seven, 0.1).critical == pytest.approx(0.507, abs=0.0015)
    edge = gs.dixon(seven)
    assert edge.p == pytest.approx(0.05, abs=0.002)
    high = gs.dixon(PENNIES, two_sided=False, side="low")
    assert high.p == pytest.approx(found.p / 2, rel=1e-12)
    assert found.to_dict()["p"] == found.p


def test_the_handbook_s_gears() -> None:
    # NIST/SEMATECH e-Handbook, 1.3.5.7 and 1.3.5.10, from memory: Bartlett 20.786 against 16.919, Levene 1.7059.
    found = gs.variance_homogeneity(GEAR, "bartlett")
    assert found.statistic == pytest.approx(20.785873, rel=1e-6)
    assert found.critical == pytest.approx(16.919, abs=5e-4)
    assert (found.significant, found.dof) == (True, (9.0, None))
    levene = gs.variance_homogeneity(np.array(GEAR), "levene")
    assert levene.statistic == pytest.approx(1.7059, abs=5e-5)
    assert (levene.significant, levene.dof) == (False, (9.0, 90.0))
    assert "1.3.5.10" in levene.citation
    assert same(levene) == levene
    json.dumps(levene.to_dict())


@given(
    st.lists(st.lists(st.floats(-50, 50).map(lambda x: round(x, 2)), min_size=4, max_size=9), min_size=2, max_size=6)
)
def test_variances_as_scipy_judges_them(sets: list[list[float]]) -> None:
    if min(float(np.ptp(one)) for one in sets) < 0.05:
        return
    ours, theirs = gs.variance_homogeneity(sets, "bartlett"), stats.bartlett(*sets)
    # SciPy sums logarithms of variances: 1e-9 of a statistic of order one.
    assert ours.statistic == pytest.approx(theirs.statistic, rel=1e-9, abs=1e-9)
    assert ours.p == pytest.approx(theirs.pvalue, rel=1e-7)
    ours, theirs = gs.variance_homogeneity(sets, "levene"), stats.levene(*sets, center="median")
    assert ours.statistic == pytest.approx(theirs.statistic, rel=1e-9, abs=1e-9)
    assert ours.p == pytest.approx(theirs.pvalue, rel=1e-7)
    one, two = sets[0], sets[1]
    found = gs.variance_homogeneity([one, two], "f_ratio", 0.01)
    variances = np.var(one, ddof=1), np.var(two, ddof=1)
    dof = (len(one) - 1, len(two) - 1) if variances[0] >= variances[1] else (len(two) - 1, len(one) - 1)
    assert found.statistic == pytest.approx(max(variances) / min(variances), rel=1e-9)
    assert found.critical == pytest.approx(stats.f.isf(0.01, *dof), rel=1e-9)
    assert found.p == pytest.approx(stats.f.sf(found.statistic, *dof), rel=1e-7)


def test_variances_that_cannot_be_judged() -> None:
    # ISO 8466-1 (from memory): F(9, 9; 99 %) = 5.35.
    rising = [[10.0 + 0.1 * i for i in range(10)], [20.0 + 0.2 * i for i in range(10)]]
    ratio = gs.variance_homogeneity(rising, "f_ratio", 0.01)
    assert (ratio.index, f"{ratio.critical:.2f}") == (1, "5.35")
    assert ratio.statistic == pytest.approx(4.0, rel=1e-9)
    with pytest.raises(gs.ArgumentError, match="two sets, 10 given"):
        gs.variance_homogeneity(GEAR, "f_ratio")
    with pytest.raises(gs.ArgumentError, match="one size"):
        gs.variance_homogeneity([[1.0, 2.0], [1.0, 2.0, 4.0]], "cochran")
    with pytest.raises(gs.ArgumentError, match=r"sets\[1\]\[0\]"):
        gs.variance_homogeneity([[1.0, 2.0], [math.nan, 2.0]], "bartlett")
    with pytest.raises(gs.ArgumentError, match="test"):
        gs.variance_homogeneity(GEAR, "hartley")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match=r"sets\[0\]"):
        gs.variance_homogeneity(list[Any](["ab", "cd"]), "levene")
    still = gs.variance_homogeneity([[1.0, 1.0, 1.0], [1.0, 2.0, 3.0]], "bartlett")
    assert still.statistic == math.inf
    assert still.p == 0.0


def test_cochran_s_table() -> None:
    # ISO 5725-2, critical values of Cochran's test, from memory: n = 2: p = 5: 0.841 at 5 %; n = 3, p = 6: 0.616.
    two = [[0.0, 1.0 + 0.01 * i] for i in range(5)]
    three = [[0.0, 1.0, 2.0 + 0.01 * i] for i in range(6)]
    assert f"{gs.variance_homogeneity(two, 'cochran').critical:.3f}" == "0.841"
    assert f"{gs.variance_homogeneity(three, 'cochran').critical:.3f}" == "0.616"
    assert gs.variance_homogeneity(three, "cochran").index == 5


def test_noise_from_replicates_and_the_tests_behind_it() -> None:
    low = [0.0101, 0.0102, 0.0100, 0.0101, 0.0099, 0.0100]
    top = [0.401, 0.409, 0.395, 0.404, 0.392, 0.400]
    found = gs.suggest_noise([0.1, 4.0], [low, top])
    assert (found.noise, found.alpha, found.tests_not_made) == ("1/x^2", 0.01, {})
    assert set(found.tests_made) == {"lowest_and_top", "cochran", "bartlett", "levene"}
    assert found.tests_made["lowest_and_top"] == gs.variance_homogeneity([low, top], "f_ratio", 0.01)
    assert found.tests_made["levene"] == gs.variance_homogeneity([low, top], "levene", 0.01)
    assert found.power is not None
    # Two levels: the power is the ratio of logarithms (both variances have the same bias).
    ratio = np.var(top, ddof=1) / np.var(low, ddof=1)
    assert found.power[0] == pytest.approx(math.log(ratio) / math.log(40), rel=1e-9)
    json.dumps(found.to_dict())
    short = gs.suggest_noise([0.1, 4.0], [[*low[:2], *[math.nan] * 4], top])
    assert set(short.tests_not_made) == {"cochran", "levene"}
    single = gs.suggest_noise([0.1, 4.0], [low[:1], top[:1]])
    assert single.noise is None
    assert "not evaluated" in single.reason
    with pytest.raises(gs.ArgumentError, match="a table of standards"):
        gs.suggest_noise([0.1, 4.0], [0.01, 0.4])
