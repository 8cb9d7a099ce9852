//! The regularised incomplete gamma function.

use super::Tails;
use super::special::{continued_fraction, log_gap, stirling_error};
use std::f64::consts::PI;

/// Above this the uniform expansion is exact to the last digits and needs no loop.
const LARGE: f64 = 1e5;

/// A point of the gamma distribution of shape `a` and unit scale.
#[derive(Clone, Copy, Debug)]
pub(super) struct GammaPoint {
    pub a: f64,
    pub x: f64,
    /// x - a, taken before rounding where the caller can.
    pub excess: f64,
}

impl GammaPoint {
    fn gap(&self) -> f64 {
        self.a * log_gap(self.excess / self.a, self.x / self.a)
    }

    /// x^a exp(-x) / Gamma(a), in the saddle-point form, which keeps its digits for large a.
    pub fn weight(&self) -> f64 {
        (self.a / (2.0 * PI)).sqrt() * libm::exp(-self.gap() - stirling_error(self.a))
    }

    /// P(a, x) and Q(a, x), given the weight.
    pub fn tails(&self, weight: f64) -> Tails {
        if self.a > LARGE {
            self.uniform()
        } else if self.excess < 1.0 {
            let lower = weight * self.series();
            Tails { lower, upper: 1.0 - lower }
        } else {
            let upper = weight / self.fraction();
            Tails { lower: 1.0 - upper, upper }
        }
    }

    /// P(a, x) / weight. Source: NIST DLMF 8.7.1.
    fn series(&self) -> f64 {
        let mut below = self.a;
        let mut term = 1.0 / self.a;
        let mut sum = term;
        while term > 0.25 * f64::EPSILON * sum {
            below += 1.0;
            term *= self.x / below;
            sum += term;
        }
        sum
    }

    /// weight / Q(a, x), by the modified Lentz method. Source: NIST DLMF 8.9.2, even part.
    fn fraction(&self) -> f64 {
        let mut lower = self.excess + 1.0;
        continued_fraction(lower, 1_000_000, |m| {
            lower += 2.0;
            (m * (self.a - m), lower)
        })
    }

    /// Temme's uniform expansion, two orders in 1/a. Source: NIST DLMF 8.12.3, 8.12.4, 8.12.7 and the series of
    /// the coefficients about eta = 0 (A. R. DiDonato and A. H. Morris, ACM Trans. Math. Softw. 12 (1986) 377). For a
    /// above 1e5 the tails are no longer numbers where |eta| exceeds 0.12, so the series are short.
    fn uniform(&self) -> Tails {
        const FIRST: [f64; 9] = [
            -1.854_062_210_715_16e-6,
            -2.185_448_510_679_992_5e-6,
            1.0 / 25_515.0,
            -139.0 / 777_600.0,
            1.0 / 2835.0,
            1.0 / 864.0,
            -2.0 / 135.0,
            1.0 / 12.0,
            -1.0 / 3.0,
        ];
        const SECOND: [f64; 4] = [-77.0 / 77_760.0, 1.0 / 378.0, -1.0 / 288.0, -1.0 / 540.0];
        let gap = self.gap();
        let root = gap.sqrt().copysign(self.excess);
        let eta = root * (2.0 / self.a).sqrt();
        let series = |terms: &[f64]| terms.iter().fold(0.0, |sum, term| sum * eta + term);
        let correction = libm::exp(-gap) / (2.0 * PI * self.a).sqrt() * (series(&FIRST) + series(&SECOND) / self.a);
        let correction = if gap > 745.0 { 0.0 } else { correction };
        Tails { lower: 0.5 * libm::erfc(-root) - correction, upper: 0.5 * libm::erfc(root) + correction }
    }
}
