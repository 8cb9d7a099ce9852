"""The distributions behind limits and tests against SciPy and, in the tails, against mpmath at 40 digits.

SciPy's own accuracy bounds the comparison where mpmath would be slow: 1e-10 relative in the body. In the tails mpmath's
quadrature and incomplete functions are the reference: 1e-11 relative, which leaves the library its last five digits.
"""

from typing import Any

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import groundstate as gs
from groundstate._core import _distribution

mpmath.mp.dps = 40
TAIL = 1e-11
BODY = 1e-10
dofs = st.one_of(st.integers(1, 200).map(float), st.floats(0.5, 500))


def close(found: float, wanted: Any, tolerance: float) -> None:
    assert found == pytest.approx(float(wanted), rel=tolerance, abs=0)


@given(st.floats(-38, 38))
def test_normal_tails(z: float) -> None:
    exact = mpmath.erfc(mpmath.mpf(z) / mpmath.sqrt(2)) / 2
    close(_distribution("normal", "sf", z), exact, TAIL)
    close(_distribution("normal", "cdf", -z), exact, TAIL)


@given(st.floats(1e-300, 0.5, exclude_min=True))
def test_normal_quantiles_of_small_probabilities(q: float) -> None:
    z = _distribution("normal", "upper_quantile", q)
    # The probability of the quantile: relative errors grow by z^2, and z reaches 37.
    close(float(mpmath.erfc(mpmath.mpf(z) / mpmath.sqrt(2)) / 2), q, 1e-12 + z * z * 4e-16)


def exact_t(t: float, dof: float) -> Any:
    """Upper tail of Student's t for t > 0: half the regularised incomplete beta function."""
    x, nu = mpmath.mpf(t), mpmath.mpf(dof)
    return mpmath.betainc(nu / 2, mpmath.mpf(1) / 2, 0, nu / (nu + x * x), regularized=True) / 2


@given(st.floats(0.01, 60), dofs)
def test_student_t_tails(t: float, dof: float) -> None:
    exact = exact_t(t, dof)
    close(_distribution("student_t", "sf", t, dof), exact, TAIL)
    close(_distribution("student_t", "cdf", -t, dof), exact, TAIL)


@given(st.sampled_from([0.2, 0.05, 0.025, 0.01, 0.005, 1e-4, 1e-8, 1e-12]), dofs)
def test_student_t_quantiles_give_their_probability_back(q: float, dof: float) -> None:
    t = _distribution("student_t", "upper_quantile", q, dof)
    # Half a degree of freedom at 1e-12 has t near 1e24; the incomplete beta function takes it.
    close(float(exact_t(t, dof)), q, 1e-10)
    if q > 1e-5 and dof >= 1:
        close(t, stats.t.isf(q, dof), BODY)


@given(st.floats(1e-3, 400), dofs)
def test_chi_squared_tails(x: float, dof: float) -> None:
    half = mpmath.mpf(dof) / 2
    above = mpmath.gammainc(half, mpmath.mpf(x) / 2, regularized=True)
    below = mpmath.gammainc(half, 0, mpmath.mpf(x) / 2, regularized=True)
    for which, exact in (("sf", above), ("cdf", below)):
        if exact > mpmath.mpf(10) ** -290:
            # The exponent holds x/2 - dof/2 ln x: of hundreds, whose rounding is 1e-13 of the result.
            close(_distribution("chi_squared", which, x, dof), exact, 1e-10)


@given(st.floats(1e-3, 100), st.integers(1, 60), st.integers(1, 60))
def test_fisher_f_tails(f: float, one: int, two: int) -> None:
    x = mpmath.mpf(one) * f / (mpmath.mpf(one) * f + two)
    above = mpmath.betainc(mpmath.mpf(two) / 2, mpmath.mpf(one) / 2, 0, 1 - x, regularized=True)
    close(_distribution("fisher_f", "sf", f, one, two), above, 1e-10)


@given(st.sampled_from([0.1, 0.05, 0.01, 1e-3, 1e-6]), st.integers(1, 60), st.integers(1, 60))
def test_fisher_f_and_chi_squared_quantiles(q: float, one: int, two: int) -> None:
    close(_distribution("fisher_f", "upper_quantile", q, one, two), stats.f.isf(q, one, two), 1e-8)
    close(_distribution("chi_squared", "upper_quantile", q, one), stats.chi2.isf(q, one), BODY)
    close(_distribution("chi_squared", "quantile", q, one), stats.chi2.ppf(q, one), 1e-9)


def exact_nct(t: float, dof: float, delta: float, above: bool) -> Any:
    """Non-central t by its definition: the normal probability of delta + Z against t s, over the distribution of s."""
    nu, d, x = mpmath.mpf(dof), mpmath.mpf(delta), mpmath.mpf(t)
    # s = sqrt(chi2/nu) has the density 2 (nu/2)^(nu/2) / gamma(nu/2) s^(nu-1) exp(-nu s^2/2).
    log_scale = mpmath.log(2) + nu / 2 * mpmath.log(nu / 2) - mpmath.loggamma(nu / 2)

    def integrand(s: Any) -> Any:
        normal = mpmath.ncdf(d - x * s) if above else mpmath.ncdf(x * s - d)
        return normal * mpmath.exp(log_scale + (nu - 1) * mpmath.log(s) - nu * s * s / 2)

    width = 12 / mpmath.sqrt(2 * nu)
    places = [
        mpmath.mpf("1e-30"),
        *sorted({max(mpmath.mpf("1e-6"), 1 - width), mpmath.mpf(1), d / x if x > 0 else mpmath.mpf(1)}),
        1 + width,
        1 + 4 * width,
        12,
    ]
    return mpmath.quad(integrand, sorted({place for place in places if 0 < place <= 12}))


@pytest.mark.parametrize("dof", [3.0, 5.0, 13.0, 60.0])
@pytest.mark.parametrize("delta", [0.5, 3.29, 8.0])
@pytest.mark.parametrize("t", [0.5, 2.0, 6.0, 15.0])
def test_noncentral_t_against_its_definition(dof: float, delta: float, t: float) -> None:
    with mpmath.workdps(30):
        below, above = exact_nct(t, dof, delta, False), exact_nct(t, dof, delta, True)
    assert abs(below + above - 1) < 1e-15  # the quadrature itself
    close(_distribution("noncentral_t", "cdf", t, dof, delta), below, 1e-10)
    close(_distribution("noncentral_t", "sf", t, dof, delta), above, 1e-10)


@given(st.floats(-5, 20), st.floats(2, 100), st.floats(0, 10))
def test_noncentral_t_against_scipy(t: float, dof: float, delta: float) -> None:
    wanted = float(stats.nct.cdf(t, dof, delta))
    if 1e-6 < wanted < 1 - 1e-6:  # below that SciPy itself has few digits
        close(_distribution("noncentral_t", "cdf", t, dof, delta), wanted, 1e-7)


@given(st.sampled_from([0.001, 0.01, 0.05, 0.1]), st.sampled_from([0.001, 0.01, 0.05, 0.1]), st.integers(2, 80))
def test_the_detection_limit_of_a_known_slope_is_missed_as_often_as_beta(alpha: float, beta: float, dof: int) -> None:
    levels = gs.currie_levels(1.0, dof=float(dof), alpha=alpha, beta=beta)
    missed = _distribution("noncentral_t", "cdf", levels.critical, float(dof), levels.detection)
    assert missed == pytest.approx(beta, rel=1e-9)
    assert levels.critical == pytest.approx(stats.t.isf(alpha, dof), rel=BODY)


def test_what_is_no_distribution_is_refused() -> None:
    with pytest.raises(gs.ArgumentError, match="cauchy"):
        _distribution("cauchy", "cdf", 0.0)
    with pytest.raises(gs.ArgumentError, match="2 parameters"):
        _distribution("student_t", "cdf", 0.0, 1.0, 2.0)
