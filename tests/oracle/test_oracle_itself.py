"""The oracle against the published cases, without the library."""

from decimal import Decimal

import pytest
from _pytest.mark import ParameterSet

from tests.oracle.calibration import Calibration, Noise, Shape, calibrate, noise
from tests.oracle.diagnostics import rse
from tests.oracle.distributions import f_upper_tail, t_quantile
from tests.oracle.figures import Case, cases, figure
from tests.oracle.inverse import (
    Reading,
    VariancePart,
    concentration,
    delta_interval,
    fieller_set,
    rising_root,
    shared_covariance,
    welch_satterthwaite,
)
from tests.oracle.inversion import as_set, inversion_pieces
from tests.oracle.least_squares import invert
from tests.oracle.limits import minimum_level
from tests.oracle.preparation import Preparation, Quantity
from tests.oracle.real import INFINITE, real, reals, total

# the expected figures are written with 20 significant digits
WRITTEN = Decimal("1e-19")
COVERAGE = Decimal("0.95")

ALL_CASES = cases()


def figures_of(which: str) -> list[ParameterSet]:
    return [pytest.param(case, name, id=f"{case.name}:{name}") for case in ALL_CASES for name in getattr(case, which)]


@pytest.mark.parametrize(("case", "name"), figures_of("expected"))
def test_oracle_reproduces_every_expected_figure(case: Case, name: str) -> None:
    expected = Decimal(case.expected[name])
    assert abs(figure(case, name) - expected) <= abs(expected) * WRITTEN


@pytest.mark.parametrize(("case", "name"), figures_of("printed"))
def test_printed_figures_agree_or_are_listed_as_differing(case: Case, name: str) -> None:
    """Within half a unit of the last printed digit; a listed difference must be a real one."""
    printed = Decimal(case.printed[name])
    exponent = printed.as_tuple().exponent
    assert isinstance(exponent, int)
    half_a_unit = Decimal(5).scaleb(exponent - 1)
    agrees = abs(figure(case, name) - printed) <= half_a_unit
    assert agrees is (name not in case.differs)


def test_every_case_names_its_source_and_how_it_was_obtained() -> None:
    assert len(ALL_CASES) >= 55
    assert sum(len(case.expected) for case in ALL_CASES if case.kind == "rounding") == 58
    for case in ALL_CASES:
        assert all((case.source, case.obtained, case.expected, case.digits_reason)), case.name
        assert set(case.printed) <= set(case.expected), case.name
        assert set(case.differs) <= set(case.printed), case.name


def test_dof_of_one_residual_variance_is_exactly_n_minus_p() -> None:
    """QUAM A5: 13. Two separate parts on the same estimate would give 18.7."""
    together = welch_satterthwaite(
        [
            VariancePart("s2", Decimal("0.5"), Decimal(13)),
            VariancePart("s2", Decimal("0.1147"), Decimal(13)),
        ]
    )
    apart = welch_satterthwaite(
        [
            VariancePart("s2", Decimal("0.5"), Decimal(13)),
            VariancePart("other", Decimal("0.1147"), Decimal(13)),
        ]
    )
    assert together == 13
    assert round(apart, 1) == Decimal("18.7")


def test_iso_8466_2_interval_is_the_covariance_form() -> None:
    """ISO 8466-2:2001 confidence formula, term by term, against g' (X'X)^-1 g."""
    x = reals(range(1, 11))
    n = Decimal(len(x))
    at = Decimal("4.3")
    s1, s2, s3, s4 = (total(v**k for v in x) for k in (1, 2, 3, 4))
    q_xx, q_x3, q_x4 = s2 - s1**2 / n, s3 - s1 * s2 / n, s4 - s2**2 / n
    dx, dx2 = at - s1 / n, at**2 - s2 / n
    formula = 1 / n + (dx**2 * q_x4 + dx2**2 * q_xx - 2 * dx * dx2 * q_x3) / (q_x4 * q_xx - q_x3**2)
    inverse = invert([[n, s1, s2], [s1, s2, s3], [s2, s3, s4]])
    g = [Decimal(1), at, at**2]
    matrix = total(a * b * inverse[i][j] for i, a in enumerate(g) for j, b in enumerate(g))
    assert abs(formula - matrix) < Decimal("1e-45")
    # an earlier independent double-precision computation of the same bracket
    assert abs(formula - Decimal("0.20528806818")) < Decimal("1e-11")


def line(noise_kind: str = "equal", y: tuple[str, ...] = ("0.1", "0.21", "0.29", "0.41")) -> Calibration:
    levels = [(str(k + 1), [value]) for k, value in enumerate(y)]
    return calibrate(levels, "line", noise(noise_kind))


def test_fieller_set_holds_exactly_the_points_a_test_would_not_reject() -> None:
    fitted = line()
    reading = Reading(Decimal("0.25"))
    found = concentration(fitted, reading)
    held = fieller_set(fitted, reading, found, COVERAGE)
    assert held.kind == "between"
    t2 = t_quantile(Decimal("0.975"), Decimal(2)) ** 2
    for end in held.ends:
        variance = fitted.residual_variance + fitted.response_variance(end)
        distance = (reading.value - fitted.response(end)) ** 2
        assert abs(distance - t2 * variance) < Decimal("1e-30")


def test_fieller_set_of_an_insignificant_slope_is_not_finite() -> None:
    fitted = line(y=("0.10", "0.30", "0.05", "0.26"))
    near = fieller_set(fitted, r := Reading(Decimal("0.18")), concentration(fitted, r), COVERAGE)
    assert near.kind == "whole"
    far = fieller_set(fitted, r := Reading(Decimal("9")), concentration(fitted, r), COVERAGE)
    assert far.kind == "outside"
    assert far.ends[0] < far.ends[1]


def test_fieller_tends_to_delta_when_the_slope_is_well_known() -> None:
    fitted = calibrate(
        [(k, [real(k) / 10 + (-1) ** k * Decimal("1e-9")]) for k in range(1, 7)],
        "line",
        Noise("equal"),
    )
    reading = Reading(Decimal("0.35"))
    found = concentration(fitted, reading)
    delta = delta_interval(found, COVERAGE)
    exact = fieller_set(fitted, reading, found, COVERAGE)
    shift = abs(exact.ends[0] - delta.ends[0])
    assert shift / (delta.ends[1] - delta.ends[0]) < Decimal("1e-7")


@pytest.mark.parametrize("y", [("0.1", "0.21", "0.29", "0.41"), ("0.10", "0.30", "0.05", "0.26")])
@pytest.mark.parametrize("signal", ["0.18", "0.25", "9"])
def test_numerical_inversion_of_a_line_is_fieller_in_closed_form(y: tuple[str, ...], signal: str) -> None:
    fitted = line(y=y)
    reading = Reading(Decimal(signal))
    found = concentration(fitted, reading)
    closed = fieller_set(fitted, reading, found, COVERAGE)
    pieces = inversion_pieces(fitted, reading, found, COVERAGE)
    numerical = as_set(pieces)
    assert numerical is not None
    assert numerical.kind == closed.kind
    if closed.kind != "whole":
        gaps = [abs(p - q) for p, q in zip(numerical.ends, closed.ends, strict=True)]
        assert max(gaps) < Decimal("1e-30")


def test_inversion_of_a_curve_stays_on_the_rising_branch() -> None:
    """A reading just below the crest: its set ends at the turning point, never beyond."""
    levels = [(k, [Decimal("0.2") * k - Decimal("0.018") * k * k + Decimal("0.004") * (-1) ** k]) for k in range(1, 6)]
    fitted = calibrate(levels, "quadratic", Noise("equal"))
    _, b, c = fitted.polynomial
    turning = -b / (2 * c)
    reading = Reading(fitted.response(turning) - Decimal("0.0005"))
    pieces = inversion_pieces(fitted, reading, concentration(fitted, reading), COVERAGE)
    assert pieces[-1][1] == turning


@pytest.mark.parametrize("c", ["-0.01", "0.01", "1e-25", "-1e-25", "0"])
def test_inverse_takes_the_rising_branch_for_both_curvatures(c: str) -> None:
    a, b, x = Decimal("0.002"), Decimal("0.11"), Decimal("3.3")
    curvature = Decimal(c)
    root = rising_root((a, b, curvature), a + b * x + curvature * x * x)
    assert root is not None
    assert abs(root - x) < Decimal("1e-30")


def test_results_of_one_line_share_its_coefficients() -> None:
    """Two results far from the centre on the same side move together, on opposite sides apart."""
    fitted = line()
    together = shared_covariance(fitted, Decimal("3.9"), Decimal("4"))
    apart = shared_covariance(fitted, Decimal("0.9"), Decimal("4"))
    assert together > 0 > apart
    at = Decimal("3.9")
    assert shared_covariance(fitted, at, at) == fitted.response_variance(at) / fitted.slope(at) ** 2


def test_no_root_above_the_turning_point() -> None:
    assert rising_root((Decimal(0), Decimal("0.1"), Decimal("-0.01")), Decimal("0.26")) is None


STANDARDS = [
    ("0.5", ["0.051", "0.053"]),
    ("1", ["0.106", "0.108"]),
    ("2", ["0.203", "0.201"]),
    ("4", ["0.408", "0.411"]),
    ("6", ["0.606", "0.603"]),
]


def test_standards_as_points_exchange_the_reading_part() -> None:
    """s^2 - s_r^2/m + s_r^2/m' by hand, and n - p dof when m' = m."""
    fitted = calibrate(STANDARDS, "line", Noise("equal"), points="standards")
    s2, s_r2 = fitted.residual_variance, fitted.within_variance
    assert s2 > s_r2 / 2
    same = concentration(fitted, Reading(Decimal("0.25"), replicates=2))
    assert same.reading_variance == s2
    assert same.dof == 3
    more = concentration(fitted, Reading(Decimal("0.25"), replicates=5))
    assert more.reading_variance is not None
    assert abs(more.reading_variance - (s2 - s_r2 / 2 + s_r2 / 5)) < Decimal("1e-50")


def test_reading_part_never_falls_below_the_repeatability() -> None:
    scattered = [
        (x, [str(Decimal(y[0]) - Decimal("0.02")), str(Decimal(y[0]) + Decimal("0.02"))]) for x, y in STANDARDS
    ]
    fitted = calibrate(scattered, "line", Noise("equal"), points="standards")
    assert fitted.residual_variance < fitted.within_variance / 2
    found = concentration(fitted, Reading(Decimal("0.25"), replicates=3))
    assert found.reading_variance == fitted.within_variance / 3


@pytest.mark.parametrize("kind", ["1/x", "1/x^2"])
def test_noise_is_held_below_the_lowest_standard(kind: str) -> None:
    fitted = line(kind)
    below = concentration(fitted, Reading(Decimal("0.03")))
    power = 1 if kind == "1/x" else 2
    assert below.status in ("below_lowest", "negative")
    assert below.reading_variance == fitted.residual_variance * fitted.lowest**power


def test_inverse_x_squared_line_through_zero_is_the_mean_response_factor() -> None:
    """SW-846 8000D 11.5.1: an average factor equals a 1/x^2 weighted line through zero."""
    levels = [("0.5", ["0.051"]), ("1", ["0.104"]), ("5", ["0.49"])]
    fitted = calibrate(levels, "line_through_zero", noise("1/x^2"))
    factors = [Decimal(y[0]) / Decimal(x) for x, y in levels]
    assert abs(fitted.coefficients[0] - total(factors) / 3) < Decimal("1e-50")


def test_rse_leaves_the_zero_level_out_of_n() -> None:
    levels = [("0", ["0.001"]), ("1", ["0.1"]), ("2", ["0.21"]), ("3", ["0.29"])]
    assert rse(calibrate(levels, "line", Noise("equal"))) is not None
    assert rse(calibrate(levels[:3], "line", Noise("equal"))) is None


@pytest.mark.parametrize("shape", ["line", "line_through_zero", "quadratic", "quadratic_through_zero"])
def test_a_curve_without_noise_returns_its_coefficients(shape: Shape) -> None:
    exact = {"line": ("0.01", "0.2", "0"), "quadratic": ("0.01", "0.2", "-0.003")}
    a, b, c = reals(exact.get(shape.removesuffix("_through_zero"), ("0", "0", "0")))
    if shape.endswith("through_zero"):
        a = Decimal(0)
    levels = [(str(k), [a + b * k + c * k * k]) for k in range(1, 6)]
    fitted = calibrate(levels, shape, Noise("equal"))
    assert all(abs(p - q) < Decimal("1e-50") for p, q in zip(fitted.polynomial, (a, b, c), strict=True))


PORTION = Quantity(Decimal("1.0034"), Decimal("0.0003"))
FLASK = Quantity(Decimal(100), Decimal("0.08"))


@pytest.mark.parametrize(
    ("weighed", "report", "factor"),
    [
        ("wet", "dry", "1.25"),
        ("wet", "as_received", "1"),
        ("dry", "dry", "1"),
        ("dry", "as_received", "0.8"),
    ],
)
def test_solids_are_applied_once_and_only_between_unlike_bases(weighed: str, report: str, factor: str) -> None:
    prepared = Preparation(
        PORTION,
        FLASK,
        solids_fraction=Quantity(Decimal("0.8"), Decimal("0.004")),
        weighed="wet" if weighed == "wet" else "dry",
        report="dry" if report == "dry" else "as_received",
    )
    plain = Preparation(PORTION, FLASK).multiplier
    assert abs(prepared.multiplier.value / plain.value - Decimal(factor)) < Decimal("1e-50")
    assert (prepared.multiplier.u > plain.u * Decimal(factor)) is (factor != "1")


def test_relative_variances_of_a_product_add_and_shares_sum_to_one() -> None:
    prepared = Preparation(
        PORTION,
        FLASK,
        steps=[(Quantity(Decimal(5), Decimal("0.01")), Quantity(Decimal(50), Decimal("0.05")))],
    )
    found = prepared.apply(Quantity(Decimal("0.84"), Decimal("0.012"), Decimal(13)))
    relative = [
        ("0.0003", "1.0034"),
        ("0.08", "100"),
        ("0.01", "5"),
        ("0.05", "50"),
        ("0.012", "0.84"),
    ]
    by_hand = total((Decimal(u) / Decimal(v)) ** 2 for u, v in relative).sqrt()
    assert abs(found.u / found.value - by_hand) < Decimal("1e-50")
    assert abs(total(found.shares.values()) - 1) < Decimal("1e-50")
    # one component with 13 dof among exact ones: nu = 13 / share^2
    assert abs(found.dof - 13 / found.shares["solution"] ** 2) < Decimal("1e-50")


def test_a_result_of_zero_keeps_its_uncertainty() -> None:
    found = Preparation(PORTION, FLASK).apply(Quantity(Decimal(0), Decimal("0.01")))
    assert found.value == 0
    assert found.u > 0


@pytest.mark.parametrize(
    ("probability", "dof", "printed"),
    [
        ("0.975", "4", "2.7764451051977943578"),
        ("0.995", "16", "2.9207816224250999920"),
        ("0.975", "Infinity", "1.9599639845400542355"),
    ],
)
def test_t_quantile(probability: str, dof: str, printed: str) -> None:
    """The 20-digit figures that accompany Harvey, GUM H.1 and JCGM 101."""
    assert abs(t_quantile(Decimal(probability), Decimal(dof)) - Decimal(printed)) < Decimal("1e-18")


def test_t_quantile_of_huge_dof_tends_to_the_normal() -> None:
    gap = t_quantile(Decimal("0.975"), Decimal("1e9")) - t_quantile(Decimal("0.975"), INFINITE)
    assert Decimal(0) < gap < Decimal("1e-8")


def test_f_upper_tail() -> None:
    """F(0.95; 18, 20) of the NIST load-cell example, 20 digits."""
    tail = f_upper_tail(Decimal("2.1511244271218303854"), Decimal(18), Decimal(20))
    assert abs(tail - Decimal("0.05")) < Decimal("1e-18")


def test_minimum_level_is_arithmetically_nearest() -> None:
    """Selenium in EPA Method 1638 Table 1: 1.431 goes to 1; its logarithm is nearer to 2."""
    assert minimum_level(Decimal("0.45")) == 1
