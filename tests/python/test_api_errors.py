"""Bad input: the class, the message, and that nothing but an ordinary exception ever comes out."""

import itertools
import math
import pickle
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

import groundstate as gs
from groundstate import _core

X = [0.0, 0.5, 1.0, 2.0, 4.0]
Y = [0.0004, 0.0562, 0.1125, 0.2238, 0.4470]

CLASSES = {
    "argument": (gs.ArgumentError, ValueError),
    "table": (gs.TableError, ValueError),
    "method": (gs.MethodError, ValueError),
    "unit": (gs.UnitError, ValueError),
    "calibration": (gs.CalibrationError, ArithmeticError),
    "not_available": (gs.NotAvailableError, ValueError),
    "wire": (gs.WireError, ValueError),
    "limit": (gs.LimitError, ValueError),
}


def raised(call: Callable[[], object]) -> Exception:
    with pytest.raises(Exception) as caught:
        call()
    return caught.value


def test_the_table_of_classes_is_the_library_s_list_of_kinds() -> None:
    assert {*_core._KINDS} == {*CLASSES, "interrupted"}


@pytest.mark.parametrize("kind", CLASSES)
def test_every_kind_has_its_class_and_carries_its_problems(kind: str) -> None:
    error = raised(lambda: _core._raise_kind(kind))
    ours, builtin = CLASSES[kind]
    assert type(error) is ours
    assert isinstance(error, builtin)
    assert isinstance(error, gs.GroundstateError)
    assert error.kind == kind
    assert str(error) == "row 3, column role: unknown role; write one"
    assert list(error.problems) == [gs.Problem(3, "role", None, "unknown role", "write one")]
    again = pickle.loads(pickle.dumps(error))
    assert (type(again), again.args, again.problems) == (type(error), error.args, error.problems)
    assert type(error).__doc__
    assert type(error).__module__ == "groundstate"


def test_a_stop_is_no_error_of_ours() -> None:
    with pytest.raises(KeyboardInterrupt):
        _core._raise_kind("interrupted")


def test_missing_extra_is_an_import_error() -> None:
    error = gs.MissingExtraError("pandas is not installed")
    assert isinstance(error, ImportError)
    assert isinstance(error, gs.GroundstateError)
    assert error.kind == "missing_extra"
    assert list(error.problems) == []


CAL = gs.calibrate(X, Y)
NAN = math.nan
MESSAGES: list[tuple[Callable[[], object], type[Exception], str]] = [
    (lambda: gs.calibrate([], []), gs.ArgumentError, "concentration: there are no points"),
    (lambda: gs.calibrate(X, Y[:4]), gs.ArgumentError, "absorbance: 5 concentrations for 4 signals"),
    (lambda: gs.calibrate([1.0, 1.0], [0.1, 0.1]), gs.ArgumentError, "1 level cannot determine the 2 coefficients"),
    (lambda: gs.calibrate(X[:2], Y[:2], shape="quadratic"), gs.ArgumentError, "2 levels cannot determine the 3"),
    (lambda: gs.calibrate([0, NAN, 1], Y[:3]), gs.ArgumentError, "concentration: NaN (element 1)"),
    (lambda: gs.calibrate([0, -1, 1], Y[:3]), gs.ArgumentError, "concentration: -1 (element 1)"),
    (lambda: gs.calibrate(X, [*Y[:4], math.inf]), gs.ArgumentError, "absorbance: inf (element 4)"),
    (lambda: gs.calibrate(X, [*Y[:4], NAN]), gs.ArgumentError, "absorbance: NaN (element 4)"),
    (lambda: gs.calibrate(X, Y[::-1]), gs.CalibrationError, "does not rise"),
    (lambda: gs.calibrate(X, [0.1] * 5), gs.CalibrationError, "does not rise"),
    (lambda: gs.calibrate(X, [0, 1, 2, 1, -3], shape="quadratic"), gs.CalibrationError, "the curve turns at"),
    (lambda: gs.calibrate(X, Y, noise="1/x"), gs.ArgumentError, "weight_at_zero"),
    (lambda: gs.calibrate(X, Y, noise="1/x", zero=-1.0), gs.ArgumentError, "zero: -1 is not a concentration"),
    (lambda: gs.calibrate(X, Y, noise=gs.KnownSigma([0.1, 0.2])), gs.ArgumentError, "noise: 2 standard deviations"),
    (lambda: gs.KnownSigma([0.1, 0.0]), gs.ArgumentError, "standard deviation 0 (element 1)"),
    (lambda: gs.KnownSigma(-1), gs.ArgumentError, "standard deviation -1"),
    (lambda: gs.RelativeSigma([]), gs.ArgumentError, "no standard deviation"),
    (lambda: gs.FromReplicates("polled"), gs.ArgumentError, "model: there is no model"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, noise="from_replicates"), gs.ArgumentError, "no replicate readings"),
    (lambda: gs.calibrate(X, Y, shape="cubic"), gs.ArgumentError, "a third-order curve is not offered"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, shape="lime"), gs.ArgumentError, 'did you mean "line"?'),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, noise="equel"), gs.ArgumentError, 'did you mean "equal"?'),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, points="means"), gs.ArgumentError, "points: there is no choice"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, zero="drop"), gs.ArgumentError, "zero: there is no choice"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, zeroing="auto"), gs.ArgumentError, "zeroing: there is no choice"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, zeroing="autozeroed"), gs.ArgumentError, "zero_u: autozeroed signals need"),
    (lambda: gs.calibrate(X, Y, zero_u=0.1), gs.ArgumentError, "zero_u: raw signals"),
    (lambda: gs.calibrate(X, Y, allow="all"), gs.ArgumentError, "allow: there is no choice"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, unit="ppm"), gs.UnitError, "ppm"),
    (lambda: gs.calibrate(X, Y, resolution=-1), gs.ArgumentError, "resolution: -1"),
    (lambda: gs.calibrate(X, Y, stock=gs.Stock("A", NAN)), gs.ArgumentError, "stock: NaN"),
    (lambda: gs.calibrate(X, [Y, Y]), gs.ArgumentError, "absorbance: 2 rows of readings for 5"),
    (lambda: gs.calibrate([X], Y), gs.ArgumentError, "concentration: a table"),
    (lambda: gs.calibrate([0, 1], [[0.1, 0.1], [NAN, NAN]]), gs.ArgumentError, "level 1 (concentration 1) has no"),
    (lambda: gs.calibrate([0, 1], [[0.1, 0.1], [0.2]]), gs.ArgumentError, "not all of one length"),
    (lambda: CAL.concentration(math.inf), gs.ArgumentError, "absorbance: inf (element 0)"),
    (lambda: CAL.concentration(0.1, 0), gs.ArgumentError, "replicates: 0 is not"),
    (lambda: CAL.concentration(0.1, 1.5), gs.ArgumentError, "replicates: 1.5 is not"),
    (lambda: CAL.concentration([0.1, 0.2], [1, 2, 3]), gs.ArgumentError, "replicates: the numbers"),
    (lambda: CAL.concentration([0.1, 0.2], reading_u=[0.1]), gs.ArgumentError, "reading_u: the standard"),
    (lambda: CAL.concentration(0.1, reading_u=-0.1), gs.ArgumentError, "reading_u: -0.1"),
    (lambda: CAL.concentration([[0.1, 0.2]], 2), gs.ArgumentError, "replicates: a table"),
    (lambda: CAL.concentration([0.1, 0.2], scatter="own"), gs.ArgumentError, "scatter: the scatter"),
    (lambda: CAL.concentration([[0.1], [0.2]], scatter="own"), gs.ArgumentError, "sample 0 has a single reading"),
    (lambda: CAL.concentration([[0.1, 0.2]], reading_u=1, scatter="own"), gs.ArgumentError, "reading_u: either"),
    (lambda: CAL.concentration(np.zeros((2, 2, 2))), gs.ArgumentError, "absorbance: an array of 3 dimensions"),
    (lambda: CAL.absorbance(NAN), gs.ArgumentError, "concentration: NaN"),
    (lambda: CAL.concentration(0.1).interval(95), gs.ArgumentError, "for 95 % write 0.95"),
    (lambda: CAL.concentration(0.1).interval(method="fieller"), gs.ArgumentError, "method: there is no"),  # type: ignore[arg-type]
    (lambda: CAL.refit(exclude=[5]), gs.ArgumentError, "exclude: there is no point 5"),
    (lambda: CAL.concentration(np.full(4001, 0.1)).covariance(), gs.LimitError, "4001 x 4001"),
    (lambda: gs.calibrate(X, Y, stock="A"), TypeError, "stock: a str is not a Stock"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, noise=3), TypeError, "noise: a int is not a noise model"),  # type: ignore[arg-type]
    (lambda: gs.calibrate(X, Y, zero=[1, 2]), TypeError, "zero: a list is not one number"),  # type: ignore[arg-type]
    (lambda: CAL.concentration(0.1).is_close(0.1), TypeError, "other: a float is not"),  # type: ignore[arg-type]
    (lambda: CAL.concentration([0.1])[1], IndexError, "out of range"),
]


@pytest.mark.parametrize("case", MESSAGES, ids=[message for _, _, message in MESSAGES])
def test_class_and_message(case: tuple[Callable[[], object], type[Exception], str]) -> None:
    call, expected, message = case
    error = raised(call)
    assert type(error) is expected
    assert message in str(error)
    if isinstance(error, gs.GroundstateError):
        assert error.problems
        assert all(problem.what for problem in error.problems)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: gs.calibrate(None, Y), "concentration"),  # type: ignore[arg-type]
        (lambda: gs.calibrate(X, None), "absorbance"),  # type: ignore[arg-type]
        (lambda: CAL.concentration(None), "absorbance"),  # type: ignore[call-overload]
        (lambda: CAL.absorbance(None), "concentration"),  # type: ignore[call-overload]
        (lambda: gs.KnownSigma(None), "u"),  # type: ignore[arg-type]
        (lambda: gs.RelativeSigma(None), "sigma"),  # type: ignore[arg-type]
    ],
)
def test_none_is_a_type_error_with_the_name_of_the_argument(call: Callable[[], object], name: str) -> None:
    error = raised(call)
    assert type(error) is TypeError
    assert str(error).startswith(f"{name}: None ")


def test_all_problems_come_at_once() -> None:
    error = raised(lambda: gs.calibrate([-1, 1, -2], [0.1, NAN, 0.2]))
    assert isinstance(error, gs.ArgumentError)
    assert [problem.name for problem in error.problems] == ["concentration", "concentration", "absorbance"]
    assert str(error).startswith("3 problems\n")


ODD: list[Any] = [
    None, True, "x", b"x", {}, {1.0}, object(), [], [[]], NAN, math.inf, -1.0, 0, 10**400, 1j, "1.0", [None], ["x"],
    [NAN, NAN], [1.0, math.inf], [1e308, -1e308, 1e308], [0.0] * 5, [5e-324] * 5, [[1.0, 2.0], [3.0]],
    np.array([]), np.zeros((0, 3)), np.zeros((3, 0)), np.zeros((2, 2, 2)), np.array(["a"]), np.array([1, None]),
    np.array([1 + 2j]), np.array(["2020-01-01"], dtype="M8[D]"), np.ma.masked_array([1.0, 2.0], mask=True), np.ma.masked, range(5), iter(X),
    lambda: X, type, X, np.array(Y), [10**20] * 5, [True] * 5,
]  # fmt: skip


def sweep() -> Iterator[Callable[[], object]]:
    for a, b in itertools.product(ODD, ODD):
        yield lambda a=a, b=b: gs.calibrate(a, b)  # type: ignore[misc]
    quadratic = gs.calibrate([0, 1, 2, 3, 4], [0, 1, 1.9, 2.7, 3.4], shape="quadratic", stock=gs.Stock("A", 0.01))
    known = gs.calibrate(X, Y, noise=gs.KnownSigma(0.001), zeroing="autozeroed", zero_u=0.001)
    flat = gs.calibrate(X, Y[::-1], allow="flagged")
    exact = gs.calibrate([0, 1], [0, 1])
    for odd in ODD:
        yield lambda odd=odd: gs.KnownSigma(odd)  # type: ignore[misc]
        for noise in ("1/x", "1/x^2", "from_replicates"):
            yield lambda odd=odd, noise=noise: gs.calibrate(odd, Y, noise=noise, zero=0.1)  # type: ignore[misc]
        for option in "shape noise points zero zeroing zero_u unit resolution stock allow".split():
            yield lambda odd=odd, option=option: gs.calibrate(X, Y, **{option: odd})  # type: ignore[misc]
        for option in "shape noise exclude".split():
            yield lambda odd=odd, option=option: CAL.refit(**{option: odd})  # type: ignore[misc]
        for cal in (CAL, quadratic, known, flat, exact):
            yield lambda cal=cal, odd=odd: everything(cal.concentration(odd), True)  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: everything(cal.concentration([0.1, 0.2], odd))  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: everything(cal.concentration([0.1, 0.2], reading_u=odd))  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: everything(cal.concentration(odd, scatter="own"))  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: cal.absorbance(odd)  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: cal.concentration(0.1).interval(odd)  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: cal.concentration([0.1])[odd]  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: cal.concentration([0.1]).budget(odd)  # type: ignore[misc]
            yield lambda cal=cal, odd=odd: cal.concentration(0.1).is_close(odd)  # type: ignore[misc]


def further_sweep() -> Iterator[Callable[[], object]]:
    functions: list[Any] = [gs.replicates, gs.grubbs, gs.dixon, gs.minimum_level, gs.Measured, gs.Factor, gs.MdlResult]
    solid = {"mass_g": 1, "final_volume_ml": 100, "weighed": "wet", "report": "dry", "percent_solids": 80}
    for odd in ODD:
        for function in functions:
            yield lambda odd=odd, function=function: function(odd)  # type: ignore[misc]
            yield lambda odd=odd, function=function: function([1.0, 2.0, 4.0], odd)  # type: ignore[misc]
        for name in "figures decimals quantum u ties".split():
            yield lambda odd=odd, name=name: gs.round_reported(1.5, **{name: odd})  # type: ignore[misc]
        yield lambda odd=odd: gs.round_reported(odd, figures=3)  # type: ignore[misc]
        yield lambda odd=odd: gs.mdl(odd, [0.1, 0.2])  # type: ignore[misc]
        yield lambda odd=odd: gs.mdl([0.1, 0.2, 0.3], odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.mdl([odd, 0.2, 0.3], [odd], initial_estimate=odd, as_of=odd)  # type: ignore[misc]
        for name in "mass_g final_volume_ml percent_solids weighed report dilution extra mass_g_u".split():
            yield lambda odd=odd, name=name: gs.Preparation(**{**solid, name: odd})  # type: ignore[misc]
        for function in (gs.standard_additions, gs.choose_shape):
            yield lambda odd=odd, function=function: function(odd, Y)  # type: ignore[misc]
            yield lambda odd=odd, function=function: function(X, odd)  # type: ignore[misc]
        for name in "noise points volumes aliquot unit stock blank_u".split():
            yield lambda odd=odd, name=name: gs.standard_additions(X, Y, **{name: odd})  # type: ignore[misc]
        yield lambda odd=odd: gs.standard_additions(X, Y, volumes=(odd, X), aliquot=(1, odd))  # type: ignore[misc]
        yield lambda odd=odd: gs.standard_additions(X, Y, volumes=(50, odd))  # type: ignore[misc]
        yield lambda odd=odd: gs.standard_additions(X, Y).slope_ratio(odd)  # type: ignore[misc]
        for name in "shapes noises alpha may_drop least_for_curve percent_error zero zeroing".split():
            yield lambda odd=odd, name=name: gs.choose_shape(X, Y, **{name: odd})  # type: ignore[misc]
        for limit in (gs.critical_value, gs.detection_limit, gs.quantitation_limit):
            yield lambda odd=odd, limit=limit: limit(odd)  # type: ignore[misc]
            for name in "method alpha replicates preparations reading_u blanks".split():
                yield lambda odd=odd, limit=limit, name=name: limit(CAL, **{name: odd})  # type: ignore[misc]
        yield lambda odd=odd: gs.mdl_verification(odd, [0.1, 0.2], [0.1], as_of="2025-06-30")  # type: ignore[misc]
        yield lambda odd=odd: gs.mdl_verification(0.1, odd, [odd], as_of=odd, last=odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.compare_calibrations(CAL, odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.compare_calibrations(CAL, CAL, variance=odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.bracket(odd, [0.1, 0.2], 0.15)  # type: ignore[misc]
        yield lambda odd=odd: gs.bracket([0.1, 0.2], odd, 0.15, absorbance_u=odd)  # type: ignore[misc]
        yield lambda odd=odd: everything(gs.bracket([0.1, 0.2], [0.1, 0.2], odd, x_uncertainty=odd))  # type: ignore[misc]
        yield lambda odd=odd: gs.Preparation(volume_ml=odd, final_volume_ml=odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.Preparation(dilution=[(odd, 5), odd], dilution_relative_u=odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.Preparation(dilution=2).apply(odd)  # type: ignore[misc]
        yield lambda odd=odd: gs.Preparation(dilution=2).apply(CAL.concentration([0.1]), odd)  # type: ignore[misc]
        yield lambda odd=odd: everything(gs.Preparation(dilution=2).apply(CAL.concentration(odd)))  # type: ignore[misc]


def everything(found: Any, of_a_curve: bool = False) -> None:
    """Reads all that estimates offer; a value is absent exactly when the status says so."""
    rows = found if isinstance(found, gs.Estimates) else [found]
    for row in rows:
        has_value = row.status in ("in_range", "below_lowest", "above_top", "negative")
        assert math.isfinite(row.value) is has_value, (row, row.value)
        repr(row), row.interval(), row.budget(), row.to_dict(), row.findings
    if of_a_curve:
        found.interval(0.5, "inversion")
    if isinstance(found, gs.Estimates):
        repr(found), found.covariance(), found.interval(0.5).kind, found.to_dict(), found.dof


def test_nothing_but_ordinary_exceptions_escapes() -> None:
    refused = 0
    calls = [*sweep(), *further_sweep()]
    for call in calls:
        try:
            call()
        # UserWarning is NumPy's own, about a masked element that is asked for its number. Anything else fails the test.
        except (gs.GroundstateError, TypeError, IndexError, OverflowError, UserWarning):
            refused += 1
    assert len(calls) // 2 < refused < len(calls)
