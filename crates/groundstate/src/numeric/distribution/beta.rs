//! The regularised incomplete beta function.

use super::Tails;
use super::special::{continued_fraction, log_gap, stirling_error};
use std::f64::consts::PI;

/// A point of the beta distribution, with the complements that would cancel given beside the numbers.
#[derive(Clone, Copy, Debug)]
pub(super) struct BetaPoint {
    pub a: f64,
    pub b: f64,
    pub x: f64,
    /// 1 - x.
    pub y: f64,
    /// a y - b x: how far x lies below the mean a/(a + b), and the derivative of ln(weight) by ln(x/y).
    pub lean: f64,
}

impl BetaPoint {
    /// x^a y^b / B(a, b), in the saddle-point form (C. Loader, Fast and accurate computation of binomial
    /// probabilities, 2000), which keeps its digits for large a and b.
    pub fn weight(&self) -> f64 {
        let BetaPoint { a, b, x, y, lean } = *self;
        let n = a + b;
        let gap = a * log_gap(-lean / a, n / a * x) + b * log_gap(lean / b, n / b * y);
        let stirling = stirling_error(n) - stirling_error(a) - stirling_error(b);
        // a b / n without overflow.
        (a * (b / n) / (2.0 * PI)).sqrt() * libm::exp(stirling - gap)
    }

    fn turned(&self) -> Self {
        BetaPoint { a: self.b, b: self.a, x: self.y, y: self.x, lean: -self.lean }
    }

    /// I_x(a, b) and its complement, given the weight.
    pub fn tails(&self, weight: f64) -> Tails {
        if self.lean < 0.0 {
            let Tails { lower, upper } = self.turned().tails(weight);
            return Tails { lower: upper, upper: lower };
        }
        let lower = weight / fraction(self.a, self.b, self.x, self.lean);
        Tails { lower, upper: 1.0 - lower }
    }
}

/// The continued fraction K with I_x(a, b) = x^a y^b / (B(a, b) K), for x at or below a/(a + b); `lean` = a y - b x.
/// Source: A. R. DiDonato and A. H. Morris, ACM Trans. Math. Softw. 18 (1992) 360, equation 9.
pub(super) fn fraction(a: f64, b: f64, x: f64, lean: f64) -> f64 {
    // The number of steps grows as the square root of the smaller parameter.
    continued_fraction(a / (a + 1.0) * (lean + 1.0), 100_000_000, |m| {
        let below = a + 2.0 * m - 1.0;
        let scaled = m * (b - m) * x / below;
        let upper = (a + m - 1.0) / below * ((a + b + m - 1.0) * x * scaled);
        (upper, m + scaled + (a + m) / (below + 2.0) * (lean + 1.0 + m * (2.0 - x)))
    })
}
