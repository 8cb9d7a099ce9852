//! Coverage set of a ratio by test inversion (Fieller 1954, J. R. Stat. Soc. B 16, 175).

use crate::estimate::IntervalSet;

/// A ratio of two correlated quantities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ratio {
    pub numerator: f64,
    pub denominator: f64,
    /// Variances of numerator and denominator, and their covariance.
    pub variances: [f64; 2],
    pub covariance: f64,
}

impl Ratio {
    /// All r with (numerator - r denominator)² <= k² var(numerator - r denominator).
    pub fn set(&self, k: f64) -> IntervalSet {
        let (n, d, k2) = (self.numerator, self.denominator, k * k);
        let [vn, vd] = self.variances;
        // a r² - 2 b r + c <= 0
        let (a, b, c) = (d * d - k2 * vd, n * d - k2 * self.covariance, n * n - k2 * vn);
        if !(a.is_finite() && b.is_finite() && c.is_finite()) {
            return IntervalSet::Whole;
        }
        // The discriminant without its cancelling n² d²: k² times the variance of n - (n/d) d less its excess.
        let spread = vn * d * d - 2.0 * self.covariance * n * d + vd * n * n;
        let discriminant = k2 * (spread - k2 * (vn * vd - self.covariance * self.covariance));
        if a > 0.0 {
            let (lo, hi) = roots(a, b, c, discriminant.max(0.0).sqrt());
            IntervalSet::Between { lo, hi }
        } else if a < 0.0 && discriminant > 0.0 {
            let (below, above) = roots(a, b, c, discriminant.sqrt());
            IntervalSet::Outside { below, above }
        } else if a < 0.0 || b.abs() <= 0.0 {
            IntervalSet::Whole
        } else if b > 0.0 {
            IntervalSet::Above { lo: c / (2.0 * b) }
        } else {
            IntervalSet::Below { hi: c / (2.0 * b) }
        }
    }
}

/// The roots of a r² - 2 b r + c, ascending, by the form that does not cancel.
fn roots(a: f64, b: f64, c: f64, root: f64) -> (f64, f64) {
    let q = if b >= 0.0 { b + root } else { b - root };
    let (first, second) = if q.abs() > 0.0 { (q / a, c / q) } else { (0.0, 0.0) };
    (first.min(second), first.max(second))
}
