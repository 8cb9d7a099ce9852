//! Double-double arithmetic: an unevaluated sum of two `f64`, about 32 significant digits.
//!
//! Least squares solved in it loses nothing that `f64` data still hold, so coefficients and standard errors are
//! those of the exact solution, rounded once. Algorithms: Dekker (1971), Numer. Math. 18, 224; Knuth, TAOCP 2,
//! section 4.2.2. Products are split, never fused, so that every target gives the same bits.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use super::real::Real;

/// `hi + lo` with `|lo|` at most half a unit in the last place of `hi`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Dd<T = f64> {
    pub hi: T,
    pub lo: T,
}

/// `a + b` exactly, as a rounded sum and its error.
#[inline(always)]
pub(crate) fn two_sum<T: Real>(a: T, b: T) -> Dd<T> {
    let hi = a + b;
    let b_part = hi - a;
    Dd { hi, lo: (a - (hi - b_part)) + (b - b_part) }
}

/// As [`two_sum`] where `|a| >= |b|` or `a == 0`.
#[inline(always)]
fn quick_two_sum<T: Real>(a: T, b: T) -> Dd<T> {
    let hi = a + b;
    Dd { hi, lo: b - (hi - a) }
}

/// Halves of 26 bits each whose products are exact.
#[inline(always)]
fn split<T: Real>(a: T) -> (T, T) {
    const SPLITTER: f64 = 134_217_729.0; // 2^27 + 1
    let t = T::of(SPLITTER) * a;
    let high = t - (t - a);
    (high, a - high)
}

/// `a * b` exactly, as a rounded product and its error (short of overflow and underflow).
#[inline(always)]
pub(crate) fn two_product<T: Real>(a: T, b: T) -> Dd<T> {
    let hi = a * b;
    let (ah, al) = split(a);
    let (bh, bl) = split(b);
    Dd { hi, lo: ((ah * bh - hi) + ah * bl + al * bh) + al * bl }
}

impl Dd {
    pub const ZERO: Dd = Dd { hi: 0.0, lo: 0.0 };
    pub const ONE: Dd = Dd { hi: 1.0, lo: 0.0 };

    /// Square root; zero for a negative argument that only rounding made so.
    pub fn sqrt(self) -> Dd {
        if self.hi <= 0.0 {
            return Dd::ZERO;
        }
        let root = self.hi.sqrt();
        let rest = self - two_product(root, root);
        quick_two_sum(root, rest.hi / (2.0 * root))
    }

    /// Times a power of two, exactly.
    #[inline]
    pub fn scaled(self, power_of_two: f64) -> Dd {
        Dd { hi: self.hi * power_of_two, lo: self.lo * power_of_two }
    }

    /// The same in every lane.
    #[inline(always)]
    pub fn spread<T: Real>(self) -> Dd<T> {
        Dd { hi: T::of(self.hi), lo: T::of(self.lo) }
    }
}

impl<T: Real> Dd<T> {
    /// The nearest plain number.
    #[inline(always)]
    pub fn value(self) -> T {
        self.hi + self.lo
    }

    #[inline(always)]
    pub fn square(self) -> Dd<T> {
        self * self
    }

    /// Times a plain number: the product with it as a double-double, without the terms that are zero.
    #[inline(always)]
    pub fn times(self, other: T) -> Dd<T> {
        let product = two_product(self.hi, other);
        quick_two_sum(product.hi, product.lo + self.lo * other)
    }
}

impl<T: Real> From<T> for Dd<T> {
    #[inline(always)]
    fn from(hi: T) -> Dd<T> {
        Dd { hi, lo: T::of(0.0) }
    }
}

impl<T: Real> Add for Dd<T> {
    type Output = Dd<T>;
    #[inline(always)]
    fn add(self, other: Dd<T>) -> Dd<T> {
        let high = two_sum(self.hi, other.hi);
        let low = two_sum(self.lo, other.lo);
        let first = quick_two_sum(high.hi, high.lo + low.hi);
        quick_two_sum(first.hi, first.lo + low.lo)
    }
}

impl<T: Real> AddAssign for Dd<T> {
    #[inline(always)]
    fn add_assign(&mut self, other: Dd<T>) {
        *self = *self + other;
    }
}

impl<T: Real> Neg for Dd<T> {
    type Output = Dd<T>;
    #[inline(always)]
    fn neg(self) -> Dd<T> {
        Dd { hi: -self.hi, lo: -self.lo }
    }
}

impl<T: Real> Sub for Dd<T> {
    type Output = Dd<T>;
    #[inline(always)]
    fn sub(self, other: Dd<T>) -> Dd<T> {
        self + -other
    }
}

impl<T: Real> Mul for Dd<T> {
    type Output = Dd<T>;
    #[inline(always)]
    fn mul(self, other: Dd<T>) -> Dd<T> {
        let product = two_product(self.hi, other.hi);
        quick_two_sum(product.hi, product.lo + (self.hi * other.lo + self.lo * other.hi))
    }
}

impl<T: Real> Div for Dd<T> {
    type Output = Dd<T>;
    #[inline(always)]
    fn div(self, other: Dd<T>) -> Dd<T> {
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
