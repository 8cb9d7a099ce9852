"""Reference values of the distributions, by direct integration of the densities at 50 digits.

Writes tests/reference/distributions/<part>.json. Needs mpmath. All parts, or those named:

    python tests/generators/distributions.py [normal student chi fisher noncentral]

Nothing here shares a formula with the library: no incomplete beta or gamma function, no continued
fraction, no series. The density of the logarithm of each variable is log-concave, so its tail is cut
where it has fallen by 1e-27 and integrated piece by piece. Arguments are doubles, taken exactly.
"""

import json
import math
import multiprocessing
import pathlib
import sys

from mpmath import mp, mpf

mp.dps = 50
FALL = mpf(62)  # nats: a factor of about 1e-27; 20 digits are written


def legendre(n):
    """Nodes and weights of Gauss and Legendre on (-1, 1)."""
    rule = []
    for i in range(n):
        x = mp.cos(mp.pi * (i + mpf(3) / 4) / (n + mpf(1) / 2))
        for _ in range(8):
            before, now = mpf(1), x
            for k in range(2, n + 1):
                before, now = now, ((2 * k - 1) * x * now - (k - 1) * before) / k
            derivative = n * (x * now - before) / (x * x - 1)
            x -= now / derivative
        rule.append((x, 2 / ((1 - x * x) * derivative**2)))
    return rule


RULE = legendre(24)


def piece(f, left, right):
    """The integral of exp(f) over a piece on which it changes by a factor of 20 or so: 30 digits."""
    middle, half = (left + right) / 2, (right - left) / 2
    return half * mp.fsum(w * mp.exp(f(middle + half * x)) for x, w in RULE)


def integral(log_density, slope, start, sign):
    """The integral of exp(log_density) from `start` towards sign * infinity, for a log-concave density."""
    total, left = mpf(0), mpf(start)
    highest = log_density(left)
    width = mpf(1)
    while True:
        # A piece is short where the density is steep or sharply bent; its ends alone may be level across a peak.
        while width > 1e-12 and any(abs(log_density(left + sign * part) - log_density(left)) > 3 for part in (width, width / 2)):
            width /= 2
        right = left + sign * width
        total += sign * piece(log_density, left, right)
        left = right
        now = log_density(left)
        highest = max(highest, now)
        if sign * slope(left) < 0 and now < highest - FALL:
            return total
        width = min(2 * width, mpf(1))


class LogConcave:
    """A positive variable X given by the density of S = ln X."""

    def tail(self, x, sign):
        return integral(self.log_density, self.slope, mp.log(mpf(x)), sign)

    def cdf(self, x):
        return self.tail(x, -1)

    def sf(self, x):
        return self.tail(x, 1)

    def solve(self, target, sign):
        """ln x with tail probability `target`, by Halley on the concave logarithm of the tail."""
        target = mpf(target)
        s = self.start()
        for _ in range(200):
            tail = integral(self.log_density, self.slope, s, sign)
            ratio = mp.exp(self.log_density(s)) / tail
            step = (mp.log(target) - mp.log(tail)) / (-sign * ratio)
            bend = step * (self.slope(s) + sign * ratio) / 2
            if abs(bend) < 0.5:
                step /= 1 + bend
            limit = 4 / ratio + 4
            step = max(-limit, min(limit, step))
            s += step
            # The next step would be about the cube of this one.
            if abs(step) * max(1, ratio) < mpf(10) ** -9:
                return mp.exp(s)
        raise ArithmeticError("no convergence")


class ChiSquared(LogConcave):
    def __init__(self, dof):
        self.a = mpf(dof) / 2
        self.constant = -self.a * mp.log(2) - mp.loggamma(self.a)

    def start(self):
        return mp.log(2 * self.a)

    def log_density(self, s):
        return self.constant + self.a * s - mp.exp(s) / 2

    def slope(self, s):
        return self.a - mp.exp(s) / 2


class FisherF(LogConcave):
    def __init__(self, d1, d2):
        self.a, self.b = mpf(d1) / 2, mpf(d2) / 2
        self.shift = mp.log(mpf(d1) / mpf(d2))
        self.constant = mp.loggamma(self.a + self.b) - mp.loggamma(self.a) - mp.loggamma(self.b)

    def start(self):
        return mpf(0)

    def log_density(self, s):
        v = s + self.shift
        return self.constant + self.a * v - (self.a + self.b) * mp.log1p(mp.exp(v))

    def slope(self, s):
        v = s + self.shift
        return self.a - (self.a + self.b) / (1 + mp.exp(-v))


class AbsoluteT(FisherF):
    """|T|, whose square is F with 1 and dof degrees of freedom."""

    def __init__(self, dof):
        super().__init__(1, dof)

    def log_density(self, s):
        return mp.log(2) + super().log_density(2 * s)

    def slope(self, s):
        return 2 * super().slope(2 * s)


def t_sf(t, dof):
    return AbsoluteT(dof).sf(t) / 2 if t > 0 else mpf(1) / 2 if t == 0 else 1 - AbsoluteT(dof).sf(-t) / 2


def t_upper(q, dof):
    q = mpf(q)
    if q > 0.5:
        return -t_upper(1 - q, dof)
    if q > mpf("0.25"):
        return AbsoluteT(dof).solve(1 - 2 * q, -1)
    return AbsoluteT(dof).solve(2 * q, 1)


def z_upper(q):
    q = mpf(q)
    x = mpf(0)
    for _ in range(300):
        tail = mp.erfc(x / mp.sqrt(2)) / 2
        density = mp.exp(-x * x / 2) / mp.sqrt(2 * mp.pi)
        step = (mp.log(tail) - mp.log(q)) * tail / density
        step = max(-4, min(4, step))
        x += step
        if abs(step) < mpf(10) ** -30:
            return x
    raise ArithmeticError("no convergence")


class NoncentralT:
    """(Z + delta) / S by integration over U = ln S, S the root of chi-squared over its degrees of freedom."""

    def __init__(self, dof, delta):
        self.a, self.delta = mpf(dof) / 2, mpf(delta)
        self.constant = mp.log(2) + self.a * mp.log(self.a) - mp.loggamma(self.a)

    def integrate(self, log_weight):
        def h(u):
            return self.constant + self.a * (2 * u - mp.exp(2 * u)) + log_weight(mp.exp(u))

        # The peak, by thirds: the integrand is log-concave in S, so it has one.
        lowest, highest = mpf(-100), mpf(10)
        while highest - lowest > mpf(10) ** -6:
            third = (highest - lowest) / 3
            if h(lowest + third) < h(highest - third):
                lowest += third
            else:
                highest -= third
        peak = (lowest + highest) / 2
        total = mpf(0)
        for sign in (-1, 1):
            left, step = peak, mpf(1) / 2
            while h(left) > h(peak) - FALL:
                while abs(h(left + sign * step) - h(left)) > 3:
                    step /= 2
                total += sign * piece(h, left, left + sign * step)
                left += sign * step
                step = min(2 * step, mpf(1) / 2)
        return total

    @staticmethod
    def log_phi(w):
        return mp.log(mp.erfc(-w / mp.sqrt(2)) / 2)

    def cdf(self, t):
        t = mpf(t)
        return self.integrate(lambda s: self.log_phi(t * s - self.delta))

    def sf(self, t):
        t = mpf(t)
        return self.integrate(lambda s: self.log_phi(self.delta - t * s))


def solve_decreasing(f, target, x):
    """The secant method on the logarithm, for a smooth monotone tail."""
    g = lambda y: mp.log(f(y)) - mp.log(mpf(target))
    return mp.findroot(g, (x, x + mpf("0.01")), solver="secant", tol=mpf(10) ** -50, maxsteps=60)


def noncentrality(dof, alpha, beta):
    critical = t_upper(alpha, dof)
    guess = critical + z_upper(beta)
    mp.dps = 30
    try:
        return solve_decreasing(lambda d: NoncentralT(dof, d).cdf(critical), beta, guess)
    finally:
        mp.dps = 50


rows: list[list[object]] = []


def add(distribution, function, args, value):
    number = float(value)
    if value != 0 and not 1e-305 < abs(number) < 1e305:
        return
    rows.append([distribution, function, [float(a) for a in args], mp.nstr(value, 20)])


UPPER = [0.5 - 1e-9, 0.5 - 2**-20, 0.49, 0.4, 0.3, 0.25, 0.2, 0.1, 0.05, 0.025, 0.01, 0.005, 1e-3, 1e-4, 1e-6, 1e-9, 1e-12, 1e-15, 1e-30, 1e-100, 1e-300]
DOF = [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.3, 8.0, 13.0, 29.0, 100.0, 1234.5, 1e4, 1e6, 1e9]


def normal():
    for x in [1e-300, 1e-10, 1e-3, 0.1, 0.5, 0.67, 1.0, 1.5, 1.96, 2.5, 4.0, 6.0, 8.5, 12.0, 20.0, 30.0, 37.0]:
        upper = mp.erfc(mpf(x) / mp.sqrt(2)) / 2
        add("normal", "sf", [x], upper)
        add("normal", "cdf", [x], 1 - upper)
        add("normal", "cdf", [-x], upper)
    for q in UPPER:
        add("normal", "upper_quantile", [q], z_upper(q))
    for p in [1 - 1e-15, 1 - 1e-9, 0.999, 0.75, 0.5 + 1e-12]:
        add("normal", "quantile", [p], -z_upper(p))


def student():
    for dof in DOF:
        for t in [1e-8, 0.01, 0.3, 0.7, 1.0, 1.3, 1.7, 2.2, 3.0, 4.5, 8.0, 15.0, 37.0, 300.0, 1e5, 1e20]:
            upper = t_sf(t, dof)
            add("student_t", "sf", [t, dof], upper)
            add("student_t", "cdf", [t, dof], 1 - upper)
        for q in UPPER:
            add("student_t", "upper_quantile", [q, dof], t_upper(q, dof))
        for p in [1e-15, 0.05, 0.5 + 1e-12, 0.95, 0.975, 0.995, 1 - 1e-15]:
            add("student_t", "quantile", [p, dof], -t_upper(p, dof))


def chi():
    for dof in DOF:
        d = ChiSquared(dof)
        sd = math.sqrt(2 * dof)
        multiples = {dof * f for f in (1e-9, 1e-3, 0.1, 0.5, 0.9, 1.0, 1.1, 2.0, 5.0, 30.0)}
        near = {dof + k * sd for k in (-30, -6, -2, -0.5, 0.3, 1, 3, 10, 30) if dof + k * sd > 0}
        for x in sorted(multiples | near):
            if dof > 2e4 and abs(x - dof) > 31 * sd:
                continue
            lower, upper = d.cdf(x), d.sf(x)
            add("chi_squared", "cdf", [x, dof], lower)
            add("chi_squared", "sf", [x, dof], upper)
        for q in (0.5, 0.4, 0.1, 0.05, 0.01, 1e-4, 1e-9, 1e-15, 1e-100, 1e-300):
            add("chi_squared", "quantile", [q, dof], d.solve(q, -1))
            add("chi_squared", "upper_quantile", [q, dof], d.solve(q, 1))
        for p in (0.9, 0.99, 1 - 1e-12):
            add("chi_squared", "quantile", [p, dof], d.solve(1 - mpf(p), 1))


def fisher():
    for d1, d2 in [(0.5, 0.5), (0.5, 30), (30, 0.5), (1, 1), (1, 4), (4, 1), (1, 1e6), (1e6, 1), (2, 2), (3, 7), (7, 3), (5.3, 11.7), (10, 100), (100, 10), (40, 60), (500, 2), (1234.5, 987.6), (1e5, 3e4), (1e6, 1e6), (1e9, 5), (5, 1e9), (1e7, 1e9)]:
        d = FisherF(d1, d2)
        sd = math.sqrt(2 / d1 + 2 / d2)
        for x in sorted({math.exp(k * min(sd, 1.5)) for k in (-25, -8, -3, -1, -0.2, 0, 0.2, 1, 3, 8, 25)}):
            if d.log_density(mp.log(x)) < -690:
                continue  # the tail is beyond the range of doubles
            add("fisher_f", "cdf", [x, d1, d2], d.cdf(x))
            add("fisher_f", "sf", [x, d1, d2], d.sf(x))
        for q in (0.5, 0.1, 0.05, 0.01, 1e-6, 1e-15, 1e-100):
            if q < 1e-15 and min(d1, d2) < 2:
                continue  # beyond the range of doubles, or nearly
            add("fisher_f", "quantile", [q, d1, d2], d.solve(q, -1))
            add("fisher_f", "upper_quantile", [q, d1, d2], d.solve(q, 1))


def noncentral():
    cases = [(0.5, 1.0), (1.0, 0.0), (1.0, 3.0), (2.0, -2.5), (4.0, 4.07), (4.0, 12.0), (9.0, 3.5), (13.0, -1.0), (29.0, 6.0), (100.0, 3.3), (1000.0, 40.0), (1e6, 3.29)]
    for dof, delta in cases:
        d = NoncentralT(dof, delta)
        for t in [-8.0, -2.0, -0.5, 0.0, 0.4, 1.7, 2.132, 4.0, 9.0, 40.0]:
            lower, upper = d.cdf(t), d.sf(t)
            assert abs(lower + upper - 1) < mpf(10) ** -22, (dof, delta, t, lower + upper)
            add("noncentral_t", "cdf", [t, dof, delta], lower)
            add("noncentral_t", "sf", [t, dof, delta], upper)
    for dof in (1.0, 2.0, 3.0, 4.0, 5.0, 9.0, 13.0, 29.5, 100.0, 1e6):
        for alpha, beta in ((0.05, 0.05), (0.01, 0.01), (0.05, 0.1), (0.01, 0.05)):
            if (alpha, beta) == (0.05, 0.05) or dof in (1.0, 4.0, 9.0, 29.5):
                add("noncentral_t", "noncentrality", [dof, alpha, beta], noncentrality(dof, alpha, beta))


PARTS = {"normal": normal, "student": student, "chi": chi, "fisher": fisher, "noncentral": noncentral}


def part(name):
    rows.clear()
    PARTS[name]()
    out = pathlib.Path(__file__).resolve().parents[1] / "reference" / "distributions" / f"{name}.json"
    out.parent.mkdir(exist_ok=True)
    out.write_text("[\n" + ",\n".join(json.dumps(row) for row in rows) + "\n]\n")
    print(name, len(rows), flush=True)


def main():
    with multiprocessing.Pool(2) as pool:
        pool.map(part, sys.argv[1:] or PARTS, chunksize=1)


if __name__ == "__main__":
    main()
