//! Student's t distribution.

use super::solve::{Point, Tail, solve};
use super::special::inverse_beta_half;
use super::{is_dof, is_probability, normal};

/// P(T <= t) with `dof` degrees of freedom.
pub fn cdf(t: f64, dof: f64) -> f64 {
    sf(-t, dof)
}

/// P(T > t) with `dof` degrees of freedom.
pub fn sf(t: f64, dof: f64) -> f64 {
    if dof.is_infinite() && dof > 0.0 {
        return normal::sf(t);
    }
    if t.is_nan() || !is_dof(dof) {
        return f64::NAN;
    }
    let size = t.abs();
    if size <= 0.0 {
        return 0.5;
    }
    if size.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    let outside = Absolute::new(dof).both(size).upper;
    if t > 0.0 { 0.5 * outside } else { 1.0 - 0.5 * outside }
}

/// P(|T| > |t|): the two-sided p-value of `t`.
pub fn two_sided(t: f64, dof: f64) -> f64 {
    2.0 * sf(t.abs(), dof)
}

/// The t with P(T <= t) = `p`.
pub fn quantile(p: f64, dof: f64) -> f64 {
    -upper_quantile(p, dof)
}

/// The t with P(T > t) = `q`.
pub fn upper_quantile(q: f64, dof: f64) -> f64 {
    if dof.is_infinite() && dof > 0.0 {
        return normal::upper_quantile(q);
    }
    if !is_probability(q) || !is_dof(dof) {
        return f64::NAN;
    }
    if q > 0.5 {
        return -upper_quantile(1.0 - q, dof);
    }
    if q <= 0.0 {
        return f64::INFINITY;
    }
    let middle = 1.0 - 2.0 * q;
    if middle <= 0.0 {
        return 0.0;
    }
    let absolute = Absolute::new(dof);
    let start = absolute.rough(q);
    if middle < 0.5 {
        solve(middle, Tail::Lower, start, |t| absolute.point(t, Tail::Lower))
    } else {
        solve(2.0 * q, Tail::Upper, start, |t| absolute.point(t, Tail::Upper))
    }
}

/// The two-sided coverage factor k: P(|T| <= k) = `coverage`. With infinite degrees of freedom, the normal factor.
/// Source: JCGM 100:2008 (GUM), G.3.2 and table G.2.
pub fn coverage_factor(coverage: f64, dof: f64) -> f64 {
    upper_quantile(0.5 * (1.0 - coverage), dof)
}

/// |T|, and what depends on the degrees of freedom alone.
struct Absolute {
    dof: f64,
    inverse_beta: f64,
}

/// Both tails of |T|, and t times its density.
struct Both {
    lower: f64,
    upper: f64,
    weight: f64,
}

impl Absolute {
    fn new(dof: f64) -> Self {
        Absolute { dof, inverse_beta: inverse_beta_half(0.5 * dof) }
    }

    /// t^2 / dof, and its logarithm plus one: ln(1 + t^2/dof), also where the square overflows.
    fn ratio(&self, t: f64) -> (f64, f64) {
        let root = t / self.dof.sqrt();
        let log = if root > 1e100 { 2.0 * libm::log(root) } else { libm::log1p(root * root) };
        (root * root, log)
    }

    /// The tails are incomplete beta functions of x = dof/(dof + t^2), y = 1 - x, a = dof/2, b = 1/2, and the density
    /// f of T has t f(t) = x^a y^b / B(a, b).
    fn both(&self, t: f64) -> Both {
        let (ratio, log) = self.ratio(t);
        let x = 1.0 / (1.0 + ratio);
        let y = if ratio.is_infinite() { 1.0 } else { ratio * x };
        let weight = 2.0 * self.inverse_beta * libm::exp(-0.5 * self.dof * log) * y.sqrt();
        if t * t < self.series_below() {
            let lower = weight * self.series(y);
            Both { lower, upper: 1.0 - lower, weight }
        } else {
            let upper = weight / (2.0 * self.fraction(t, x, y));
            Both { lower: 1.0 - upper, upper, weight }
        }
    }

    /// Where t^2 is below this the series for the middle is quicker than the continued fraction for the tail; at 6 the
    /// tail, as one minus the middle, has still lost less than two digits.
    fn series_below(&self) -> f64 {
        (1.0 + 0.25 * self.dof).min(6.0)
    }

    /// P(|T| <= t) / (2 t f(t)): a series of positive terms. Source: NIST DLMF 8.17.8 with b = 1/2.
    fn series(&self, y: f64) -> f64 {
        let (mut term, mut sum, mut k) = (1.0, 1.0, 0.0);
        while term > 0.25 * f64::EPSILON * sum {
            term *= (self.dof + 1.0 + k) / (3.0 + k) * y;
            sum += term;
            k += 2.0;
        }
        sum
    }

    /// t f(t) / P(T > t) by the continued fraction of the incomplete beta function for b = 1/2.
    fn fraction(&self, t: f64, x: f64, y: f64) -> f64 {
        let a = 0.5 * self.dof;
        let lean = if y >= 1.0 { a } else { 0.5 * (t - 1.0) * (t + 1.0) * x };
        super::beta::fraction(a, 0.5, x, lean)
    }

    fn point(&self, t: f64, tail: Tail) -> Point {
        let both = self.both(t);
        let (ratio, _) = self.ratio(t);
        let y = if ratio.is_infinite() { 1.0 } else { ratio / (1.0 + ratio) };
        let tail = match tail {
            Tail::Lower => both.lower,
            Tail::Upper => both.upper,
        };
        Point { tail, weight: both.weight, score: 1.0 - (self.dof + 1.0) * y }
    }

    /// A start for the quantile, for 0 < q < 1/2: Wallace's normal approximation turned round, or where t^2 is far
    /// above the degrees of freedom the power law of the tail.
    fn rough(&self, q: f64) -> f64 {
        let a = 0.5 * self.dof;
        let log_x = libm::log(2.0 * q * a / self.inverse_beta) / a;
        if log_x < -2.5 {
            let x = libm::exp(log_x);
            return libm::exp(0.5 * (libm::log(self.dof) - log_x)) * (1.0 - x).sqrt();
        }
        let z = normal::rough(q) * (8.0 * self.dof + 3.0) / (8.0 * self.dof + 1.0);
        (self.dof * libm::expm1(z * z / self.dof)).sqrt()
    }
}
