"""The library beside the oracle on one invented case, figure by figure.

The error of a figure is |library - oracle| / ruler. The ruler is the figure itself, except where a
figure may pass through zero and its own size means nothing: there it is at least the uncertainty
that goes with it (u for a value and for the ends of its interval, the standard error for a
coefficient, their product for a covariance, one percent for a percent error).
"""

import math
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal

import numpy as np

import groundstate as gs
from tests import library
from tests.oracle import diagnostics
from tests.oracle.calibration import Calibration
from tests.oracle.inverse import Reading, concentration, delta_interval, shared_covariance
from tests.oracle.inversion import as_set, inversion_pieces
from tests.oracle.random_cases import RandomCase, draw
from tests.oracle.real import real

SEED = 20240607
CASES = 2_000
COVERAGE = Decimal("0.95")

# Points are means of m readings and the sample is a mean of more than m: s_r^2/m' - s_r^2/m is negative.
MORE_READINGS = ", m' > m"

# figure, the library's value, the oracle's value, the least ruler
Compared = tuple[str, float, Decimal, Decimal]


def of_the_curve(cal: gs.Calibration, oracle: Calibration) -> Iterator[Compared]:
    errors = oracle.standard_errors
    for found, wanted, se in zip(cal.coefficients, oracle.coefficients, errors, strict=True):
        yield "coefficient", found, wanted, se
    for found, wanted in zip(cal.standard_errors, errors, strict=True):
        yield "standard error", found, wanted, Decimal(0)
    for row, wanted_row, a in zip(cal.covariance, oracle.covariance, errors, strict=True):
        for found, wanted, b in zip(row, wanted_row, errors, strict=True):
            yield "covariance", found, wanted, a * b
    if oracle.noise.kind not in ("known_sigma", "from_replicates"):
        yield "residual sd", library.given(cal.residual_sd), oracle.residual_sd, Decimal(0)
    for found, error in zip(cal.percent_error, diagnostics.percent_errors(oracle), strict=True):
        if error is None:
            assert math.isnan(found)
        else:
            yield "percent error", found, error, Decimal(1)
    rse = diagnostics.rse(oracle)
    if rse is None:
        assert cal.rse is None
    else:
        yield "rse", library.given(cal.rse), rse, Decimal(0)


def of_the_readings(case: RandomCase, cal: gs.Calibration, oracle: Calibration) -> Iterator[Compared]:
    compared = False
    for (y, m, given_u), reading in zip(case.unknowns, case.readings(), strict=True):
        found = cal.concentration([y], replicates=m, reading_u=given_u)
        wanted = concentration(oracle, reading)
        assert found.status[0] == wanted.status
        if wanted.value is None or wanted.u is None or wanted.dof is None:
            assert math.isnan(found.value[0])
            continue
        yield "value", found.value[0], wanted.value, wanted.u
        yield "u", found.u[0], wanted.u, Decimal(0)
        more = MORE_READINGS if given_u is None and more_than_the_standards(case, m) else ""
        if wanted.dof.is_infinite():
            assert math.isinf(found.dof[0])
        else:
            yield "dof" + more, found.dof[0], wanted.dof, Decimal(0)
        delta = found.interval(float(COVERAGE))
        lo, hi = delta_interval(wanted, COVERAGE).ends
        yield "delta interval" + more, delta.lo[0], lo, wanted.u
        yield "delta interval" + more, delta.hi[0], hi, wanted.u
        if not compared and inversion_is_defined(case, given_u):
            compared = True
            found_set = found.interval(float(COVERAGE), method="inversion")
            pieces = inversion_pieces(oracle, reading, wanted, COVERAGE)
            # Of a curve's pieces the bounded one that holds the estimate is the set, if there is one
            # (docs/decisions/0009).
            holding = [(lo, hi) for lo, hi in pieces if lo <= wanted.value <= hi and lo.is_finite() and hi.is_finite()]
            wanted_set = as_set(holding or pieces)
            if wanted_set is None:
                # Nothing is bounded: the library's set is the hull of the pieces.
                assert found_set.lo[0] <= pieces[0][0] + wanted.u
                assert found_set.hi[0] >= pieces[-1][1] - wanted.u
                continue
            assert found_set.kind[0] == wanted_set.kind
            for end, wanted_end in ((found_set.lo[0], wanted_set.lo), (found_set.hi[0], wanted_set.hi)):
                if wanted_end is None:
                    assert math.isinf(end) or math.isnan(end)
                else:
                    yield "inversion set", end, wanted_end, wanted.u


def more_than_the_standards(case: RandomCase, m: int) -> bool:
    return case.points == "standards" and m > len(case.levels[0][1])


def inversion_is_defined(case: RandomCase, given_u: float | None) -> bool:
    """Where one variance estimate serves every concentration, so that there is one t quantile."""
    if case.noise == "known_sigma":
        return True
    return case.points == "readings" and given_u is None


def of_the_batch(case: RandomCase, cal: gs.Calibration, oracle: Calibration) -> Iterator[Compared]:
    """Covariances of results that share the curve."""
    sigma = case.unknowns[0][2]
    signals = [y for y, _, _ in case.unknowns]
    wanted = [concentration(oracle, Reading(real(y), 1, None if sigma is None else real(sigma))) for y in signals]
    if any(one.value is None for one in wanted):
        return
    found = cal.concentration(signals, reading_u=sigma).covariance()
    for i, one in enumerate(wanted):
        for j, other in enumerate(wanted):
            assert one.value is not None and other.value is not None
            assert one.u is not None and other.u is not None
            if i == j:
                yield "covariance of results", found[i][j], one.u**2, Decimal(0)
            else:
                shared = shared_covariance(oracle, one.value, other.value)
                yield "covariance of results", found[i][j], shared, one.u * other.u


Errors = dict[str, list[tuple[float, int]]]


def errors(seed: int = SEED, count: int = CASES) -> Errors:
    """For each kind of figure, its errors, each with the number of the case."""
    collected: Errors = defaultdict(list)
    for case in draw(seed, count):
        oracle = case.calibration()
        cal = library.fit(case.levels, case.shape, case.noise, case.sigma, case.points, case.zero)
        for figures in (of_the_curve(cal, oracle), of_the_readings(case, cal, oracle), of_the_batch(case, cal, oracle)):
            for name, found, wanted, least in figures:
                ruler = max(abs(wanted), least)
                collected[name].append((float(abs(Decimal(float(found)) - wanted) / ruler), case.number))
    return collected


def distribution(collected: Errors) -> list[tuple[str, int, float, float, float]]:
    """Figure, how many, and the median, 99 % and largest error."""
    rows = []
    for name, found in collected.items():
        sizes = [error for error, _ in found]
        q50, q99 = np.quantile(sizes, [0.5, 0.99])
        rows.append((name, len(sizes), float(q50), float(q99), max(sizes)))
    return rows
