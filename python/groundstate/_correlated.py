"""Estimates as correlated numbers of the package uncertainties.

A number is its value plus one term a source: the signed contribution times a variable of mean 0 and standard
deviation 1. The same source is the same variable, so that every correlation follows, as it does in this library.
Degrees of freedom are lost on the way: that package knows none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from groundstate._frames import extra

if TYPE_CHECKING:
    from groundstate._core import Estimate, Estimates, Outcome


def estimates(of: Estimates, sources: dict[str, Any] | None) -> list[Any]:
    """One number an estimate."""
    rows = (of.contributions.row(i) for i in range(len(of)))
    return _numbers(of.value.tolist(), of.u.tolist(), rows, sources)


def estimate(of: Estimate, sources: dict[str, Any] | None) -> Any:
    """The one number."""
    (number,) = _numbers([of.value], [of.u], [of.contributions.row(0)], sources)
    return number


def outcome(of: Outcome, sources: dict[str, Any] | None) -> list[Any]:
    """One number a row of the results."""
    results = of.results
    return _numbers(results["value"].tolist(), results["standard_uncertainty"].tolist(), of._contributions(), sources)


def _numbers(
    values: Iterable[float],
    u: Iterable[float],
    rows: Iterable[Mapping[str, float]],
    sources: dict[str, Any] | None,
) -> list[Any]:
    package = extra("uncertainties")
    known = {} if sources is None else sources
    numbers = []
    for value, own, row in zip(values, u, rows, strict=True):
        if value != value or own != own:
            # No value, or a value without an uncertainty that could be told: never one of zero.
            numbers.append(package.ufloat(value, float("nan")))
            continue
        number = package.ufloat(value, 0.0) if not row else value
        for name, contribution in row.items():
            if name not in known:
                known[name] = package.ufloat(0.0, 1.0, tag=name)
            number = number + contribution * known[name]
        numbers.append(number)
    return numbers
