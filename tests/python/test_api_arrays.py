"""Numbers of any origin go in, and give the same as a plain float64 array; read-only arrays come out."""

from typing import Any

import numpy as np
import pandas
import polars
import pyarrow as arrow
import pytest

import groundstate as gs

X = np.array([0.0, 1.0, 2.0, 3.0, 4.0])
Y = np.array([1.0, 12.0, 22.0, 34.0, 44.0])
CAL = gs.calibrate(X, Y)

DTYPES = "b B h H i I l L q Q e f d g >f8 <f8 >f4 >i2 >u8 O".split()


@pytest.mark.parametrize("dtype", DTYPES)
@pytest.mark.parametrize("layout", ["plain", "strided", "reversed", "read-only", "list", "tuple", "column"])
def test_dtype_and_layout(dtype: str, layout: str) -> None:
    def laid(numbers: np.ndarray[Any, Any]) -> Any:
        array = numbers.astype(dtype)
        match layout:
            case "strided":
                return np.repeat(array, 3)[::3]
            case "reversed":
                return array[::-1].copy()[::-1]
            case "read-only":
                array.setflags(write=False)
                return array
            case "list":
                return list(array)
            case "tuple":
                return tuple(array)
            case "column":
                return np.stack([array, array], axis=1)[:, 1]
        return array

    assert gs.calibrate(laid(X), laid(Y)) == CAL
    assert CAL.concentration(laid(Y)).same_as(CAL.concentration(Y))


@pytest.mark.parametrize("order", ["C", "F"])
def test_tables_of_either_order(order: Any) -> None:
    table = np.stack([Y, Y + 1, Y - 1], axis=1)
    assert table.shape == (5, 3)
    assert gs.calibrate(X, np.array(table, order=order)) == gs.calibrate(X.repeat(3), table.ravel())
    found = CAL.concentration(np.array(table, order=order))
    assert found.same_as(CAL.concentration(Y, 3))
    assert found.same_as(CAL.concentration(table.tolist()))


def test_scalars_of_any_kind_give_one_estimate() -> None:
    expected = CAL.concentration(12.0)
    assert isinstance(expected, gs.Estimate)
    for scalar in (12, np.float64(12), np.float32(12), np.int8(12), np.array(12.0), np.array(12, dtype=object)):
        found = CAL.concentration(scalar)
        assert isinstance(found, gs.Estimate)
        assert found.same_as(expected)
    assert isinstance(CAL.concentration([12.0]), gs.Estimates)


def test_float32_is_taken_as_the_number_it_is() -> None:
    assert CAL.concentration(np.float32(0.1)).value == CAL.concentration(float(np.float32(0.1))).value
    assert CAL.concentration([np.float32(0.1)]).value[0] != CAL.concentration([0.1]).value[0]


def test_missing_numbers_of_every_origin() -> None:
    expected = CAL.concentration([12.0, np.nan, 22.0])
    assert list(expected.status) == ["in_range", "no_reading", "in_range"]
    masked = np.ma.masked_array([12.0, 99.0, 22.0], mask=[False, True, False])
    integers = np.ma.masked_array([12, 99, 22], mask=[False, True, False])
    objects = np.ma.masked_array([12, "?", 22], mask=[False, True, False], dtype=object)
    for origin in (
        [12.0, None, 22.0],
        (12, None, 22),
        np.array([12, None, 22], dtype=object),
        masked,
        integers,
        objects,
        masked.reshape(3, 1)[:, 0],
        pandas.Series([12.0, None, 22.0]),
        pandas.Series([12.0, None, 22.0], dtype="Float64"),
        pandas.Series([12.0, None, 22.0], dtype="Float32"),
        pandas.Series([12, None, 22], dtype="Int64"),
        pandas.Series([12, None, 22], dtype=object),
        pandas.Series([12, None, 22], dtype="UInt8", index=["a", "b", "c"]),
    ):
        assert CAL.concentration(origin).same_as(expected), type(origin)


def test_columns_of_data_frames() -> None:
    frame = pandas.DataFrame({"x": X, "y": Y})
    assert gs.calibrate(frame["x"], frame["y"]) == CAL
    assert gs.calibrate(frame["x"], frame[["y"]]) == CAL
    assert gs.calibrate(frame["x"].convert_dtypes(), frame["y"].convert_dtypes()) == CAL


def test_columns_of_polars() -> None:
    frame = polars.DataFrame({"x": X, "y": Y})
    assert gs.calibrate(frame["x"], frame["y"]) == CAL
    found = CAL.concentration(polars.Series([12.0, None, 22.0]))
    assert found.same_as(CAL.concentration([12.0, np.nan, 22.0]))
    assert CAL.concentration(polars.Series([12, None, 22])).same_as(found)


def test_columns_of_arrow() -> None:
    assert gs.calibrate(arrow.array(X), arrow.array(Y)) == CAL
    expected = CAL.concentration([12.0, np.nan, 22.0])
    assert CAL.concentration(arrow.array([12.0, None, 22.0])).same_as(expected)
    assert CAL.concentration(arrow.chunked_array([[12], [None, 22]])).same_as(expected)


@pytest.mark.parametrize(
    ("odd", "message"),
    [
        ([12.0, "thirteen"], "absorbance: 'thirteen' (element 1) is not a real number"),
        (np.array([12.0, "thirteen"], dtype=object), "absorbance: 'thirteen' (element 1) is not a real number"),
        (np.array([[12.0, 1j]], dtype=object), "absorbance: 1j (element 0, 1) is not a real number"),
        (np.array([1j]), "absorbance: 1j (element 0) is complex"),
        (np.array(["2020-01-01"], dtype="M8[D]"), "absorbance: 2020-01-01 (element 0) is a date"),
        ([1, 2**53 + 1], "absorbance: 9007199254740993 (element 1) is too large"),
        (np.array([1, -(2**53) - 1]), "absorbance: -9007199254740993 (element 1) is too large"),
        (np.array([1, 2**64 - 1], dtype=np.uint64), "absorbance: 18446744073709551615 (element 1) is too large"),
        (2**53 + 1, "absorbance: 9007199254740993 is too large"),
        ([12.0, True], "absorbance: True (element 1) is a boolean"),
    ],
)
def test_the_first_odd_element_is_named(odd: Any, message: str) -> None:
    with pytest.raises((gs.ArgumentError, TypeError)) as caught:
        CAL.concentration(odd)
    assert message in str(caught.value)


def test_the_largest_exact_integer_is_taken() -> None:
    assert CAL.concentration([2**53]).value[0] == CAL.concentration([2.0**53]).value[0]


@pytest.mark.parametrize("odd", [True, np.True_, np.array([True]), "12", b"12", {12.0: 1}, {12.0}, object(), iter([1])])
def test_what_is_no_numbers_is_a_type_error(odd: Any) -> None:
    with pytest.raises(TypeError, match=r"^absorbance: "):
        CAL.concentration(odd)


def test_arrays_that_come_out_cannot_be_written_to() -> None:
    found = CAL.concentration(Y)
    spans = found.interval()
    arrays: list[Any] = [
        CAL.coefficients,
        CAL.covariance,
        CAL.residuals,
        CAL.weights,
        CAL.point_readings,
        CAL.percent_error,
    ]
    arrays += [found.value, found.u, found.dof, found.status, found.status_code, found.covariance()]
    arrays += [spans.lo, spans.hi, spans.kind, spans.ends, CAL.absorbance(X).value, gs.KnownSigma(X + 1).u]
    for array in arrays:
        assert isinstance(array, np.ndarray)
        assert not array.flags.writeable
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    assert found.value is found.value


def test_input_is_copied() -> None:
    readings = Y.copy()
    found = CAL.concentration(readings)
    readings[:] = 0
    assert found.same_as(CAL.concentration(Y))
