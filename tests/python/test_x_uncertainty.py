"""Errors of the standards: what the argument takes, where its parts arrive, and the fit by independent arithmetic."""

import json
import pickle
from pathlib import Path
from typing import Any, Literal

import mpmath as mp
import numpy as np
import pytest

import groundstate as gs

CASES = Path(gs.__file__).parent / "cases"
X = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0]
Y = [0.0573, 0.1112, 0.2231, 0.3298, 0.4431, 0.5477]
SIGMA = gs.KnownSigma(0.0006)
Convention = Literal["expected_information", "observed_information", "first_order_propagation"]
CONVENTIONS: tuple[Convention, ...] = ("expected_information", "observed_information", "first_order_propagation")


# ---- the argument


def test_plain_figures_and_the_value_give_the_same_fit() -> None:
    matrix = np.diag([0.004**2] * 6)
    pairs: list[tuple[Any, gs.XUncertainty]] = [
        (0.004, gs.XUncertainty(0.004)),
        ([0.004] * 6, gs.XUncertainty([0.004] * 6)),
        (matrix, gs.XUncertainty(covariance=matrix)),
    ]
    for plain, whole in pairs:
        bare = gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=plain)
        assert bare == gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=whole)


def test_it_is_a_value() -> None:
    covariance = np.diag([1e-4] * 6)
    values = [
        gs.XUncertainty(0.01),
        gs.XUncertainty([0.01, 0.02]),
        gs.XUncertainty(0.01, 0.002),
        gs.XUncertainty(0.01, {"stock:A": 0.002, "stock:B": 0.001}),
        gs.XUncertainty(shared={"stock:A": 0.002}),
        gs.XUncertainty(covariance=covariance),
    ]
    for i, value in enumerate(values):
        assert pickle.loads(pickle.dumps(value)) == value
        assert [other == value for other in values] == [j == i for j in range(len(values))]
        with pytest.raises(AttributeError):
            value.u = 0.1  # type: ignore[misc]
    assert gs.XUncertainty(0.01, {"stock:B": 0.001, "stock:A": 0.002}) == values[3]
    assert values[3].u == 0.01 and values[3].shared == {"stock:A": 0.002, "stock:B": 0.001}
    assert values[2].shared == 0.002 and values[0].shared is None and values[0].covariance is None
    assert np.array_equal(values[5].covariance, covariance)  # type: ignore[arg-type]
    assert repr(values[3]) == "XUncertainty(0.01, shared={'stock:A': 0.002, 'stock:B': 0.001})"
    assert repr(values[5]) == "XUncertainty(covariance of 6 standards)"


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ({}, "no error of the standards"),
        ({"u": -0.01}, "-0.01"),
        ({"u": [0.01, np.nan]}, "NaN"),
        ({"u": np.eye(2)}, "a table is no list"),
        ({"u": 0.01, "covariance": np.eye(6)}, "stands for all"),
        ({"shared": 0.01, "covariance": np.eye(6)}, "stands for all"),
        ({"shared": -0.01}, "relative standard uncertainty"),
        ({"shared": 1.0}, "relative standard uncertainty"),
        ({"shared": {"A": 0.01}}, "'stock:' and the name|\"stock:\" and the name"),
        ({"shared": {"stock:": 0.01}}, "not the key of a source"),
        ({"shared": {"stock:A": -0.01}}, "stock:A"),
        ({"covariance": [[1.0, 0.0]]}, "not square"),
        ({"covariance": [[1.0, 0.2], [0.3, 1.0]]}, "differ"),
        ({"covariance": [[1.0, 1.2], [1.2, 1.0]]}, "beyond one"),
        # Pairwise possible, all three together not: the eigenvalue of (1, 1, 1) is 1 - 1.8.
        ({"covariance": [[1.0, -0.9, -0.9], [-0.9, 1.0, -0.9], [-0.9, -0.9, 1.0]]}, "not positive semidefinite"),
    ],
)
def test_what_cannot_be_is_refused(arguments: dict[str, Any], word: str) -> None:
    with pytest.raises(gs.ArgumentError, match=word):
        gs.XUncertainty(**arguments)


def test_what_does_not_fit_the_standards_is_refused() -> None:
    for odd in (gs.XUncertainty([0.01] * 5), gs.XUncertainty(covariance=np.eye(5))):
        with pytest.raises(gs.ArgumentError, match="5 standard uncertainties for 6 points"):
            gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=odd)
    with pytest.raises(gs.ArgumentError, match="share its error"):
        gs.calibrate(X, np.column_stack([Y, Y]), noise=SIGMA, x_uncertainty=gs.XUncertainty(0.01))
    with pytest.raises(gs.ArgumentError, match="twice"):
        gs.calibrate(X, Y, stock=gs.Stock("A", 0.01), x_uncertainty=gs.XUncertainty(shared={"stock:A": 0.01}))
    with pytest.raises(gs.ArgumentError, match="whose size is unknown"):
        gs.calibrate(X, Y, x_uncertainty=gs.XUncertainty(0.01))
    with pytest.raises(TypeError, match="shared"):
        gs.XUncertainty(0.01, "stock:A")  # type: ignore[arg-type]
    with pytest.raises(gs.ArgumentError, match="without a name"):
        gs.Stock("", 0.01)


def test_a_semidefinite_matrix_is_accepted() -> None:
    x = np.array(X)
    fully_shared = 1e-4 * np.outer(x, x)
    assert gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=gs.XUncertainty(covariance=fully_shared)).serves()


# ---- the shared parts


def contents(cal: gs.Calibration) -> gs.Estimates:
    found = cal.concentration([0.1, 0.3])
    assert isinstance(found, gs.Estimates)
    return found


def test_a_named_part_reaches_every_result_once() -> None:
    r = 0.004
    plain = contents(gs.calibrate(X, Y, noise=SIGMA))
    cal = gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=gs.XUncertainty(shared={"stock:Zn-A": r}))
    found = contents(cal)
    # The same arithmetic but for the last bits of sums and roots.
    u = np.sqrt(plain.u**2 + (r * plain.value) ** 2)
    np.testing.assert_allclose(found.u, u, rtol=1e-13)
    lines = {line.source: line.u for line in found[0].budget()}
    assert lines["stock:Zn-A"] == pytest.approx(r * plain.value[0], rel=1e-14)
    shared = found.covariance()[0, 1] - plain.covariance()[0, 1]
    assert shared == pytest.approx(r * r * plain.value[0] * plain.value[1], rel=1e-10)
    # It is the Stock of that name.
    assert cal == gs.calibrate(X, Y, noise=SIGMA, stock=gs.Stock("Zn-A", r))


def between(one: gs.Calibration, other: gs.Calibration) -> float:
    """Covariance of a result of one calibration with one of the other: the same name is the same quantity."""
    left, right = contents(one).contributions.row(0), contents(other).contributions.row(1)
    return sum(c * right[name] for name, c in left.items() if name in right)


def test_results_of_two_calibrations_meet_in_the_named_part_only() -> None:
    later = [1.02 * y for y in Y]

    def pair(shared: Any, second: Any) -> float:
        one = gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=gs.XUncertainty(0.002, shared))
        if isinstance(second, gs.Stock):
            return between(one, gs.calibrate(X, later, noise=SIGMA, x_uncertainty=0.002, stock=second))
        return between(one, gs.calibrate(X, later, noise=SIGMA, x_uncertainty=gs.XUncertainty(0.002, second)))

    values = [contents(gs.calibrate(X, y, noise=SIGMA, x_uncertainty=0.002)).value for y in (Y, later)]
    expected = 0.004 * 0.006 * values[0][0] * values[1][1]
    assert pair({"stock:A": 0.004}, {"stock:A": 0.006}) == pytest.approx(expected, rel=1e-13)
    assert pair({"stock:A": 0.004}, gs.Stock("A", 0.006)) == pytest.approx(expected, rel=1e-13)
    for apart in (({"stock:A": 0.004}, {"stock:B": 0.006}), (0.004, 0.006), (0.004, {"stock:A": 0.006})):
        assert pair(*apart) == 0.0


def test_an_unnamed_part_is_shared_within_its_calibration() -> None:
    cal = gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=gs.XUncertainty(0.002, 0.004))
    plain = contents(gs.calibrate(X, Y, noise=SIGMA, x_uncertainty=0.002))
    shared = contents(cal).covariance()[0, 1] - plain.covariance()[0, 1]
    assert shared == pytest.approx(0.004**2 * plain.value[0] * plain.value[1], rel=1e-9)
    again = pickle.loads(pickle.dumps(cal))
    assert again == cal and between(again, cal) == pytest.approx(contents(cal).covariance()[0, 1], rel=1e-9)


@pytest.mark.parametrize("shape", ["line", "quadratic"])
def test_a_shared_part_in_the_covariance_says_the_same(shape: Literal["line", "quadratic"]) -> None:
    """An error that scales all levels moves the curve within its own shape, so the fit is the same and its variance
    grows by the shared part; to first order in it, 0.4 %, that is what the source adds."""
    y = [y - 0.002 * x * x for x, y in zip(X, Y, strict=True)] if shape == "quadratic" else Y
    x = np.array(X)
    covariance = np.diag([0.002**2] * 6) + 0.004**2 * np.outer(x, x)
    inside = gs.calibrate(X, y, shape=shape, noise=SIGMA, x_uncertainty=gs.XUncertainty(covariance=covariance))
    beside = gs.calibrate(X, y, shape=shape, noise=SIGMA, x_uncertainty=gs.XUncertainty(0.002, 0.004))
    # The product of two small things: the shared part, 0.4 %, and relative residuals of a few per cent at most.
    np.testing.assert_allclose(inside.coefficients[1], beside.coefficients[1], rtol=2e-4)
    np.testing.assert_allclose(contents(inside).u, contents(beside).u, rtol=1e-3)


def noticed(cal: gs.Calibration) -> list[gs.Finding]:
    return [finding for finding in cal.findings if finding.code == "standards_error_matters"]


def test_errors_that_matter_are_noticed() -> None:
    def fit(error: gs.XUncertainty, noise: Any = SIGMA) -> list[gs.Finding]:
        return noticed(gs.calibrate(X, Y, noise=noise, x_uncertainty=error))

    # A reading's scatter is 0.0006/0.11 = 0.0055 mg/L; 0.0005 mg/L is a hundredth of its variance.
    assert not fit(gs.XUncertainty(0.0005)) and not fit(gs.XUncertainty(0.0, 0.0002))
    (independent,) = fit(gs.XUncertainty(0.02))
    (shared,) = fit(gs.XUncertainty(0.0005, {"stock:A": 0.01}))
    (matrix,) = fit(gs.XUncertainty(covariance=np.diag([0.02**2] * 6)))
    assert independent.facts["percent"] == pytest.approx(matrix.facts["percent"], rel=1e-6)
    assert "understate" in shared.sentence
    # By hand at the top standard, 5 mg/L: u of the plain fit against its root sum with 1 % of 5 mg/L.
    top = gs.calibrate(X, Y, noise=SIGMA)
    plain = top.concentration(float(np.polyval(top.coefficients[::-1], 5.0)))
    assert isinstance(plain, gs.Estimate)
    expected = 100.0 * (np.hypot(plain.u, 0.05) / plain.u - 1.0)
    assert shared.facts["percent"] == pytest.approx(expected, rel=0.01)
    # Signals whose own sigmas differ point by point: the neighbour's stands for a new reading.
    assert fit(gs.XUncertainty(0.02), gs.KnownSigma([0.0005, 0.0006, 0.0007, 0.0008, 0.0009, 0.001]))
    # Known up to a factor: the plain fit takes the standards' scatter for the readings' and says too much.
    rough = [0.0573, 0.1012, 0.2331, 0.3198, 0.4531, 0.5377]
    cal = gs.calibrate(X, rough, noise=gs.RelativeSigma(0.0006), x_uncertainty=gs.XUncertainty(0.02))
    assert "overstate" in noticed(cal)[0].sentence


# ---- the fit, by independent arithmetic: Newton's method on coefficients and true concentrations together


class Joint:
    """The minimum of (x - t)' V^-1 (x - t) + sum w (y - f(t))^2 over coefficients b and concentrations t, and the
    covariance of b under each convention, in 40 digits."""

    def __init__(self, x: Any, y: Any, variance_x: Any, variance_y: Any, start: Any) -> None:
        mp.mp.dps = 40
        self.n, self.p = len(x), len(start)
        self.x, self.y = [mp.mpf(v) for v in x], [mp.mpf(v) for v in y]
        self.v, self.w = mp.matrix(variance_x), [1 / mp.mpf(v) for v in variance_y]
        self.inverse = self.v**-1
        self.theta = mp.matrix([mp.mpf(v) for v in start] + self.x)
        for count in range(100):
            # Newton's method from far away may go elsewhere; without second derivatives it goes down.
            step = mp.lu_solve(self.hessian(expected=count < 40), self.gradient())
            self.theta -= step
            if count > 40 and max(abs(s) for s in step) < mp.mpf(10) ** -32:
                break
        else:
            raise ArithmeticError("Newton's method did not settle")
        self.b = [self.theta[k] for k in range(self.p)]
        self.t = [self.theta[self.p + i] for i in range(self.n)]
        rest = mp.matrix([a - t for a, t in zip(self.x, self.t, strict=True)])
        self.chi_squared = (rest.T * self.inverse * rest)[0] + sum(
            w * r * r for w, r in zip(self.w, self.residuals(), strict=True)
        )

    def residuals(self) -> list[Any]:
        b, t = self.theta[: self.p], self.theta[self.p :]
        return [y - sum(b[k] * t[i] ** k for k in range(self.p)) for i, y in enumerate(self.y)]

    def derivatives(self) -> tuple[Any, Any]:
        """Of f at each point with respect to all of theta, first and second."""
        b, t, size = self.theta[: self.p], self.theta[self.p :], self.p + self.n
        first, second = [], []
        for i in range(self.n):
            one, two = mp.zeros(size, 1), mp.zeros(size)
            at = self.p + i
            for k in range(self.p):
                one[k] = t[i] ** k
                two[k, at] = two[at, k] = k * t[i] ** (k - 1) if k else mp.mpf(0)
            one[at] = sum(k * b[k] * t[i] ** (k - 1) for k in range(1, self.p))
            two[at, at] = sum(k * (k - 1) * b[k] * t[i] ** (k - 2) for k in range(2, self.p))
            first.append(one)
            second.append(two)
        return first, second

    def gradient(self) -> Any:
        first, _ = self.derivatives()
        gradient = mp.zeros(self.p + self.n, 1)
        for w, r, one in zip(self.w, self.residuals(), first, strict=True):
            gradient -= w * r * one
        pull = self.inverse * mp.matrix([x - self.theta[self.p + i] for i, x in enumerate(self.x)])
        for i in range(self.n):
            gradient[self.p + i] -= pull[i]
        return gradient

    def hessian(self, expected: bool = False) -> Any:
        first, second = self.derivatives()
        hessian = mp.zeros(self.p + self.n)
        for w, r, one, two in zip(self.w, self.residuals(), first, second, strict=True):
            hessian += w * one * one.T
            if not expected:
                hessian -= w * r * two
        for i in range(self.n):
            for j in range(self.n):
                hessian[self.p + i, self.p + j] += self.inverse[i, j]
        return hessian

    def covariance(self, convention: Convention) -> Any:
        if convention != "first_order_propagation":
            whole = self.hessian(convention == "expected_information") ** -1
        else:
            first, _ = self.derivatives()
            by_data = mp.zeros(self.p + self.n, 2 * self.n)
            for i in range(self.n):
                for k in range(self.p + self.n):
                    by_data[k, i] = -self.w[i] * first[i][k]
                for j in range(self.n):
                    by_data[self.p + j, self.n + i] = -self.inverse[j, i]
            data = mp.zeros(2 * self.n)
            for i in range(self.n):
                data[i, i] = 1 / self.w[i]
                for j in range(self.n):
                    data[self.n + i, self.n + j] = self.v[i, j]
            moves = self.hessian() ** -1 * by_data
            whole = moves * data * moves.T
        return np.array([[float(whole[i, j]) for j in range(self.p)] for i in range(self.p)])


def same(cal: gs.Calibration, joint: Joint, convention: Convention, digits: float) -> None:
    np.testing.assert_allclose(cal.coefficients, [float(b) for b in joint.b], rtol=digits)
    np.testing.assert_allclose(cal.covariance, joint.covariance(convention), rtol=100 * digits)
    assert cal.chi_squared == pytest.approx(float(joint.chi_squared), rel=100 * digits)


@pytest.mark.parametrize("convention", CONVENTIONS)
@pytest.mark.parametrize("case", ["iso28037-distance-line", "york-pearson"])
def test_published_lines_in_every_convention(case: str, convention: Convention) -> None:
    given = json.loads((CASES / f"{case}.json").read_text())["input"]
    x, y = ([float(v) for v in given[name]] for name in "xy")
    if "weight_x" in given:
        vx, vy = ([1 / mp.mpf(w) for w in given[name]] for name in ("weight_x", "weight_y"))
    else:
        vx, vy = ([mp.mpf(float(u)) ** 2 for u in given[name]] for name in ("u_x", "u_y"))
    joint = Joint(x, y, mp.diag(vx), vy, np.polyfit(x, y, 1)[::-1])
    ux, uy = ([float(mp.sqrt(v)) for v in several] for several in (vx, vy))
    cal = gs.calibrate(
        x, y, noise=gs.KnownSigma(uy), x_uncertainty=gs.XUncertainty(ux), convention=convention, allow="flagged"
    )
    # The fixed point moves by a few units in the last place; the standard uncertainties were rounded to float64.
    same(cal, joint, convention, 1e-13)


CURVED = [0.0558, 0.1087, 0.2140, 0.3101, 0.4080, 0.4901]


@pytest.mark.parametrize("convention", CONVENTIONS)
@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize(("shape", "y"), [("line", Y), ("quadratic", CURVED)])
def test_lines_and_quadratics_in_every_convention(
    shape: Literal["line", "quadratic"], y: list[float], full: bool, convention: Convention
) -> None:
    x = np.array(X)
    variance = np.diag((0.01 + 0.004 * x) ** 2)
    if full:
        variance = variance + 0.01**2 * np.outer(x, x) + 0.008**2
    degree = 2 if shape == "quadratic" else 1
    sigma = [0.0006 + 0.001 * v for v in y]
    joint = Joint(X, y, variance.tolist(), [mp.mpf(s) ** 2 for s in sigma], np.polyfit(X, y, degree)[::-1])
    error = gs.XUncertainty(covariance=variance) if full else gs.XUncertainty(np.sqrt(np.diag(variance)))
    cal = gs.calibrate(X, y, shape=shape, noise=gs.KnownSigma(sigma), x_uncertainty=error, convention=convention)
    # Full matrices are whitened in float64, which costs digits.
    same(cal, joint, convention, 1e-9 if full else 1e-12)


def test_equal_errors_known_up_to_a_factor_are_demings_case() -> None:
    """Deming's closed form for equal variances of both, W. E. Deming, Statistical Adjustment of Data (1943), from
    memory."""
    x, y = np.array(X), np.array([0.52, 1.03, 1.96, 3.07, 3.95, 5.05])
    sxx, syy = ((x - x.mean()) ** 2).sum(), ((y - y.mean()) ** 2).sum()
    sxy = ((x - x.mean()) * (y - y.mean())).sum()
    slope = (syy - sxx + np.hypot(syy - sxx, 2 * sxy)) / (2 * sxy)
    cal = gs.calibrate(x, y, noise=gs.RelativeSigma(1.0), x_uncertainty=gs.XUncertainty(1.0))
    # The closed form cancels a digit or two.
    np.testing.assert_allclose(cal.coefficients, [y.mean() - slope * x.mean(), slope], rtol=1e-11)
