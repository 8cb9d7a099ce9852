"""Numbers of any origin as one float64 array: what the compiled part does not read by itself."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from groundstate._core import _argument_error
from groundstate._frames import arrow_numbers, has_stream

EXACT = 2**53  # up to here every integer is a float64


def as_float64(value: object, name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    """The numbers of `value` as a C-contiguous float64 array; NaN where one is missing.

    Takes scalars, sequences, arrays of any real dtype, stride and byte order, masked arrays, and columns of data
    frames (nullable ones too), through the methods they bring along. TypeError for what is no numbers at all,
    ArgumentError for an element that is not one.
    """
    if value is None or isinstance(value, (str, bytes, bool, np.bool_, dict, set)):
        shown = "None" if value is None else f"a {type(value).__name__}"
        raise TypeError(f"{name}: {shown} is not a number or an array of numbers")
    array = _as_array(value, name)
    kind = array.dtype.kind
    if kind == "b":
        raise TypeError(f"{name}: booleans are not numbers; convert them if 0 and 1 are meant")
    if kind == "O":
        array = _from_objects(array, name)
    elif kind in "iu":
        _check_exact(array, name)
    elif kind != "f":
        first = array.ravel()[0] if array.size else None
        what = {"c": "complex", "U": "text", "S": "text", "M": "a date", "m": "a duration"}.get(kind, array.dtype.name)
        raise _argument_error(name, f"{first!s}{_place(array, 0)} is {what}, not a real number")
    missing = np.ma.getmaskarray(array) if _is_masked(array) else None
    result = np.asarray(array, dtype=np.float64, order="C")
    # The mask goes last: what lies under it may be anything.
    return result if missing is None else np.where(missing, np.nan, result)


def _as_array(value: object, name: str) -> np.ndarray[Any, Any]:
    if isinstance(value, np.ndarray):
        return value
    dtype = getattr(value, "dtype", None)
    to_numpy = getattr(value, "to_numpy", None)
    if callable(to_numpy) and hasattr(dtype, "na_value") and getattr(dtype, "kind", "") == "f":
        # A nullable column of floats: its own conversion knows what is missing.
        return np.asarray(to_numpy(dtype=np.float64, na_value=np.nan))
    if isinstance(value, (list, tuple)):
        # NumPy would turn a word among numbers into a list of words, and True into 1.
        return np.asarray(value, dtype=object)
    if not hasattr(value, "__array__") and has_stream(value):
        return _as_array(arrow_numbers(value, name), name)
    if not hasattr(value, "__array__") and not hasattr(value, "__len__") and not hasattr(value, "__float__"):
        raise TypeError(f"{name}: a {type(value).__name__} is not a number or an array of numbers")
    return np.asarray(value)


def _is_masked(array: np.ndarray[Any, Any]) -> bool:
    return hasattr(array, "mask")  # asks for numpy.ma only when a masked array has loaded it


def _from_objects(array: np.ndarray[Any, Any], name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    masked = np.ma.getmaskarray(array).ravel() if _is_masked(array) else np.zeros(array.size, dtype=bool)
    numbers = [
        np.nan if hidden else _number(item, name, _place(array, i))
        for i, (item, hidden) in enumerate(zip(_items(array), masked, strict=True))
    ]
    return np.array(numbers, dtype=np.float64).reshape(array.shape)


def _items(array: np.ndarray[Any, Any]) -> Iterator[object]:
    return iter(np.asarray(array).ravel().tolist())


def _number(item: Any, name: str, place: str) -> float:
    if item is None or type(item).__name__ in ("NAType", "MaskedConstant"):
        return float("nan")
    if isinstance(item, (bool, np.bool_)):
        raise _argument_error(name, f"{item}{place} is a boolean, not a number")
    if isinstance(item, (list, tuple, np.ndarray)):
        raise _argument_error(name, "its rows are not all of one length", "fill missing readings with nan")
    if isinstance(item, (str, bytes, complex)) or not hasattr(item, "__float__"):
        raise _argument_error(name, f"{item!r}{place} is not a real number")
    if hasattr(item, "__index__") and abs(int(item)) > EXACT:
        raise _too_large(name, item, place)
    return float(item)


def _check_exact(array: np.ndarray[Any, Any], name: str) -> None:
    too_large = np.asarray((array > EXACT) | (array < -EXACT)).ravel()
    if array.dtype.itemsize > 4 and too_large.any():
        first = int(too_large.argmax())
        raise _too_large(name, array.ravel()[first], _place(array, first))


def _too_large(name: str, item: object, place: str) -> Exception:
    return _argument_error(name, f"{item}{place} is too large to be a number of double precision exactly")


def _place(array: np.ndarray[Any, Any], index: int) -> str:
    place = ", ".join(str(int(i)) for i in np.unravel_index(index, array.shape))
    return f" (element {place})" if place else ""
