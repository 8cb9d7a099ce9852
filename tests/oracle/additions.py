"""Standard additions: the native amount is intercept/slope of signal against amount added.

u = (s/b) sqrt(1/n + ybar^2/(b^2 Sxx)): the delta method on a/b, with no term for a reading of a
sample, since the sample is in the line. Miller and Miller, chapter 5, from memory.
"""

from collections.abc import Sequence

from tests.oracle.calibration import Noise, calibrate
from tests.oracle.preparation import Quantity
from tests.oracle.real import Number


def native_amount(added: Sequence[Number], signal: Sequence[Number]) -> Quantity:
    """Signed: a line that meets zero signal to the right of zero gives a negative amount."""
    line = calibrate([(x, [y]) for x, y in zip(added, signal, strict=True)], "line", Noise("equal"))
    a, b = line.coefficients
    covariance = line.covariance
    variance = covariance[0][0] / b**2 + a**2 * covariance[1][1] / b**4 - 2 * a * covariance[0][1] / b**3
    return Quantity(a / b, variance.sqrt(), line.unit_dof)
