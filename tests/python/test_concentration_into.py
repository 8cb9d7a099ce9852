"""Concentrations written into arrays of the caller."""

from typing import Any, Literal

import numpy as np
import pytest

import groundstate as gs

X = np.repeat([0.0, 0.2, 0.5, 1.0, 2.0, 3.0], 3)
RANDOM = np.random.default_rng(11)
Y = 0.001 + 0.21 * X - 0.006 * X**2 + RANDOM.normal(0.0, 0.0005, X.size)


def arrays(shape: tuple[int, ...]) -> dict[str, Any]:
    figures = {name: np.full(shape, 9.0) for name in ("value", "u", "lo", "hi")}
    return figures | {"status": np.full(shape, 99, np.uint8)}


@pytest.mark.parametrize("shape", ["line", "quadratic"])
@pytest.mark.parametrize("threads", [None, 1, 3])
def test_figures_are_those_of_fresh_arrays(shape: Literal["line", "quadratic"], threads: int | None) -> None:
    cal = gs.calibrate(X, Y, shape=shape)
    signals = RANDOM.uniform(-0.1, 2.5, 100_000)  # some beyond the curve, some above its top, some negative
    signals[5] = np.nan
    out = arrays(signals.shape)
    cal.concentration_into(signals, **out, coverage=0.9, replicates=2, threads=threads)
    found = cal.concentration(signals, 2)
    interval = found.interval(0.9)
    for name, expected in [("value", found.value), ("u", found.u), ("lo", interval.lo), ("hi", interval.hi)]:
        np.testing.assert_array_equal(out[name], expected)
    np.testing.assert_array_equal(out["status"], found.status_code)
    one = found[17]
    assert (one.value, one.u) == (out["value"][17], out["u"][17])
    assert (one.interval(0.9).lo, one.interval(0.9).hi) == (out["lo"][17], out["hi"][17])


def test_arrays_of_two_dimensions_and_of_none() -> None:
    cal = gs.calibrate(X, Y)
    signals = RANDOM.uniform(0.0, 0.5, (4, 6))
    out = arrays(signals.shape)
    cal.concentration_into(signals, **out)
    np.testing.assert_array_equal(out["value"].ravel(), cal.concentration(signals.ravel()).value)
    cal.concentration_into(np.empty(0), value=np.empty(0))
    cal.concentration_into(signals)  # nothing is asked for


def test_what_cannot_be_filled_is_named() -> None:
    cal = gs.calibrate(X, Y)
    signals = np.full(10, 0.2)
    frozen = np.empty(10)
    frozen.flags.writeable = False
    shared = bytearray(8 * 15)
    early, late = np.frombuffer(shared, count=10), np.frombuffer(shared, count=10, offset=40)
    refused: list[tuple[dict[str, Any], str]] = [
        ({"value": np.empty(10, np.float32)}, "value: an array of float32 cannot be filled; give one of float64"),
        ({"status": np.empty(10, np.int8)}, "status: an array of int8 cannot be filled; give one of uint8"),
        ({"u": np.empty(9)}, "u: an array of shape [9] for readings of shape [10]"),
        ({"lo": np.empty(20)[::2]}, "lo: the array has gaps"),
        ({"hi": frozen}, "hi: the array is read-only"),
        ({"value": signals}, "value: it shares memory with absorbance"),
        ({"lo": early, "hi": late}, "hi: it shares memory with lo"),
        ({"threads": 0}, "threads: 0 threads do no work"),
        ({"coverage": 95}, "coverage: 95 is not a probability"),
        ({"replicates": 0.5}, "replicates: 0.5 is not a number of readings"),
    ]
    for wrong, words in refused:
        with pytest.raises(gs.ArgumentError) as caught:
            cal.concentration_into(signals, **wrong)
        assert words in str(caught.value)
    no_array: Any = [0.0] * 10
    with pytest.raises(TypeError, match="value"):
        cal.concentration_into(signals, value=no_array)
    signals[3] = np.inf
    with pytest.raises(gs.ArgumentError, match="element 3"):
        cal.concentration_into(signals, value=np.empty(10))
