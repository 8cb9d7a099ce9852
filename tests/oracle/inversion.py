"""The set of concentrations that a test of the reading would not reject, for every shape and noise.

(y - f(x))^2 <= t^2 (s^2(x) + var f(x)) is a polynomial inequality of degree 2 (line) or 4 (second
order) on each piece where s^2(x) is one polynomial: the noise model's sigma belongs to the
concentration under test and is held below the lowest standard. Only the branch where the curve
rises counts. For constant noise and a line this is Fieller's set, which ``inverse.fieller_set``
has in closed form.
"""

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

import mpmath

from tests.oracle.calibration import POWERS, Calibration
from tests.oracle.distributions import t_quantile
from tests.oracle.inverse import Estimate, IntervalSet, Reading, reading_parts
from tests.oracle.real import INFINITE, ONE, ZERO, total

Coefficients = list[Decimal]
DIGITS = 60
WEIGHTED = ("1/x", "1/x^2")


Piece = tuple[Decimal, Decimal]


def inversion_pieces(calibration: Calibration, reading: Reading, estimate: Estimate, coverage: Decimal) -> list[Piece]:
    """In order. ``estimate`` gives the degrees of freedom, which must not depend on the concentration.

    A second-order curve whose curvature is not significant can have a third piece, far from the
    standards, where the fitted curve is too uncertain for any reading to be rejected.
    """
    if estimate.dof is None:
        raise ValueError("no value, no interval")
    t2 = t_quantile((1 + coverage) / 2, estimate.dof) ** 2
    kept: list[Piece] = []
    for low, high in pairwise(breaks(calibration)):
        excess = excess_on(calibration, reading, t2, between(low, high))
        cuts = [low, *sorted(root for root in real_roots(excess) if low < root < high), high]
        kept += [piece for piece in pairwise(cuts) if value(excess, between(*piece)) <= 0]
    return joined(kept)


def breaks(calibration: Calibration) -> Coefficients:
    """Ends of the rising branch, and where the noise model changes."""
    _, b, c = calibration.polynomial
    low, high = -INFINITE, INFINITE
    if c != 0:
        turn = -b / (2 * c)
        low, high = (turn, high) if c > 0 else (low, turn)
    held = [calibration.lowest] if calibration.noise.kind in WEIGHTED else []
    return [low, *held, high]


def between(low: Decimal, high: Decimal) -> Decimal:
    if low == -INFINITE:
        return ZERO if high == INFINITE else high - abs(high) - ONE
    return low + abs(low) + ONE if high == INFINITE else (low + high) / 2


def excess_on(calibration: Calibration, reading: Reading, t2: Decimal, inside: Decimal) -> Coefficients:
    """(y - f)^2 - t^2 (s^2 + var f) as a polynomial, with s^2 of the piece that ``inside`` lies in."""
    a, b, c = calibration.polynomial
    distance = [reading.value - a, -b, -c]
    variance = [ZERO] * 5
    for i, row in zip(POWERS[calibration.shape], calibration.covariance, strict=True):
        for j, entry in zip(POWERS[calibration.shape], row, strict=True):
            variance[i + j] += entry
    power = 0
    if inside > calibration.lowest and reading.u is None:
        power = {"1/x": 1, "1/x^2": 2}.get(calibration.noise.kind, 0)
    own = total(part.variance for part in reading_parts(calibration, reading, inside))
    variance[power] += own / inside**power if power else own
    squared = [ZERO] * 5
    for i, p in enumerate(distance):
        for j, q in enumerate(distance):
            squared[i + j] += p * q
    return [p - t2 * q for p, q in zip(squared, variance, strict=True)]


def value(polynomial: Sequence[Decimal], x: Decimal) -> Decimal:
    held = ZERO
    for coefficient in reversed(polynomial):
        held = held * x + coefficient
    return held


def real_roots(polynomial: Sequence[Decimal]) -> Coefficients:
    """Simple real roots; a root that only touches zero does not end a piece."""
    trimmed = list(polynomial)
    while trimmed and trimmed[-1] == 0:
        trimmed.pop()
    if len(trimmed) < 2:
        return []
    with mpmath.workdps(DIGITS):
        found = mpmath.polyroots([mpmath.mpf(str(k)) for k in trimmed], maxsteps=500, extraprec=400, asc=True)
        real = [mpmath.re(root) for root in found if abs(mpmath.im(root)) <= abs(root) * mpmath.mpf("1e-30")]
        return [Decimal(mpmath.nstr(root, DIGITS - 10)) for root in real]


def joined(pieces: Sequence[Piece]) -> list[Piece]:
    held: list[Piece] = []
    for low, high in pieces:
        if held and held[-1][1] == low:
            held[-1] = (held[-1][0], high)
        else:
            held.append((low, high))
    return held


def as_set(pieces: Sequence[Piece]) -> IntervalSet | None:
    """One piece, none, or two half-lines; None for any other set of pieces."""
    match pieces:
        case []:
            return IntervalSet("empty")
        case [(low, high)] if low == -INFINITE and high == INFINITE:
            return IntervalSet("whole")
        case [(low, high)] if low == -INFINITE:
            return IntervalSet("below", hi=high)
        case [(low, high)] if high == INFINITE:
            return IntervalSet("above", lo=low)
        case [(low, high)]:
            return IntervalSet("between", low, high)
        case [(first, below), (above, last)] if first == -INFINITE and last == INFINITE:
            return IntervalSet("outside", below, above)
        case _:
            return None
