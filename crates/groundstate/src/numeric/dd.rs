//! Double-double arithmetic: an unevaluated sum of two `f64`, about 32 significant digits.
//!
//! Least squares solved in it loses nothing that `f64` data still hold, so coefficients and standard errors are
//! those of the exact solution, rounded once. Algorithms: Dekker (1971), Numer. Math. 18, 224; Knuth, TAOCP 2,
//! section 4.2.2. Products are split, never fused, so that every target gives the same bits.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// `hi + lo` with `|lo|` at most half a unit in the last place of `hi`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Dd {
    pub hi: f64,
    pub lo: f64,
}

/// `a + b` exactly, as a rounded sum and its error.
#[inline]
pub(crate) fn two_sum(a: f64, b: f64) -> Dd {
    let hi = a + b;
    let b_part = hi - a;
    Dd { hi, lo: (a - (hi - b_part)) + (b - b_part) }
}

/// As [`two_sum`] where `|a| >= |b|` or `a == 0`.
#[inline]
fn quick_two_sum(a: f64, b: f64) -> Dd {
    let hi = a + b;
    Dd { hi, lo: b - (hi - a) }
}

/// Halves of 26 bits each whose products are exact.
#[inline]
fn split(a: f64) -> (f64, f64) {
    const SPLITTER: f64 = 134_217_729.0; // 2^27 + 1
    let t = SPLITTER * a;
    let high = t - (t - a);
    (high, a - high)
}

/// `a * b` exactly, as a rounded product and its error (short of overflow and underflow).
#[inline]
pub(crate) fn two_product(a: f64, b: f64) -> Dd {
    let hi = a * b;
    let (ah, al) = split(a);
    let (bh, bl) = split(b);
    Dd { hi, lo: ((ah * bh - hi) + ah * bl + al * bh) + al * bl }
}

impl Dd {
    pub const ZERO: Dd = Dd { hi: 0.0, lo: 0.0 };
    pub const ONE: Dd = Dd { hi: 1.0, lo: 0.0 };

    /// The nearest `f64`.
    #[inline]
    pub fn value(self) -> f64 {
        self.hi + self.lo
    }

    #[inline]
    pub fn square(self) -> Dd {
        self * self
    }

    /// Square root; zero for a negative argument that only rounding made so.
    pub fn sqrt(self) -> Dd {
        if self.hi <= 0.0 {
            return Dd::ZERO;
        }
        let root = self.hi.sqrt();
        let rest = self - two_product(root, root);
        quick_two_sum(root, rest.hi / (2.0 * root))
    }

    /// Times a plain number: the product with it as a double-double, without the terms that are zero.
    #[inline]
    pub fn times(self, other: f64) -> Dd {
        let product = two_product(self.hi, other);
        quick_two_sum(product.hi, product.lo + self.lo * other)
    }

    /// Times a power of two, exactly.
    #[inline]
    pub fn scaled(self, power_of_two: f64) -> Dd {
        Dd { hi: self.hi * power_of_two, lo: self.lo * power_of_two }
    }
}

impl From<f64> for Dd {
    #[inline]
    fn from(hi: f64) -> Dd {
        Dd { hi, lo: 0.0 }
    }
}

impl Add for Dd {
    type Output = Dd;
    #[inline]
    fn add(self, other: Dd) -> Dd {
        let high = two_sum(self.hi, other.hi);
        let low = two_sum(self.lo, other.lo);
        let first = quick_two_sum(high.hi, high.lo + low.hi);
        quick_two_sum(first.hi, first.lo + low.lo)
    }
}

impl AddAssign for Dd {
    #[inline]
    fn add_assign(&mut self, other: Dd) {
        *self = *self + other;
    }
}

impl Neg for Dd {
    type Output = Dd;
    #[inline]
    fn neg(self) -> Dd {
        Dd { hi: -self.hi, lo: -self.lo }
    }
}

impl Sub for Dd {
    type Output = Dd;
    #[inline]
    fn sub(self, other: Dd) -> Dd {
        self + -other
    }
}

impl Mul for Dd {
    type Output = Dd;
    #[inline]
    fn mul(self, other: Dd) -> Dd {
        let product = two_product(self.hi, other.hi);
        quick_two_sum(product.hi, product.lo + (self.hi * other.lo + self.lo * other.hi))
    }
}

impl Div for Dd {
    type Output = Dd;
    #[inline]
    fn div(self, other: Dd) -> Dd {
        let first = self.hi / other.hi;
        let rest = self - other * Dd::from(first);
        let second = rest.hi / other.hi;
        let rest = rest - other * Dd::from(second);
        let sum = quick_two_sum(first, second);
        sum + Dd::from(rest.hi / other.hi)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn third_times_three_is_one_to_32_digits() {
        let third = Dd::ONE / Dd::from(3.0);
        let error = third * Dd::from(3.0) - Dd::ONE;
        assert!(error.value().abs() < 1e-31, "{error:?}");
    }

    #[test]
    fn root_of_two_squares_back() {
        let error = Dd::from(2.0).sqrt().square() - Dd::from(2.0);
        assert!(error.value().abs() < 1e-30, "{error:?}");
    }

    proptest! {
        #[test]
        fn sums_and_products_keep_their_errors(a in -1e9_f64..1e9, b in -1e-3_f64..1e-3) {
            // (a + b) - a - b is zero only if the low word holds what rounding dropped.
            prop_assert!(((two_sum(a, b) - Dd::from(a)) - Dd::from(b)).value().abs() == 0.0);
            let product = two_product(a, b);
            prop_assert!((product.hi - a * b).abs() == 0.0 && product.lo.abs() <= product.hi.abs() * 1.2e-16);
        }
    }
}
