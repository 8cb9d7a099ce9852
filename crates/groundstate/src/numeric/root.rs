//! Roots of functions in a bracket and of polynomials up to the fourth degree.

use super::dd::two_product;

/// The root of a continuous function between `a` and `b`, to the last digit or two, where the signs of its values
/// differ (a value of zero is a root). `None` where they do not, or where a value is NaN.
///
/// Inverse quadratic interpolation where it is safe, otherwise bisection. Source: T. R. Chandrupatla, Adv. Eng. Softw.
/// 28 (1997) 145.
pub fn bracketed(f: impl Fn(f64) -> f64, a: f64, b: f64) -> Option<f64> {
    // (a, b) bracket the root, b the newer end; c is the end that was dropped.
    let (mut a, mut b) = (b, a);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa.is_nan() || fb.is_nan() || fa.signum() * fb.signum() > 0.0 && fa.abs() > 0.0 && fb.abs() > 0.0 {
        return None;
    }
    let mut t = 0.5;
    for _ in 0..2000 {
        let x = a + t * (b - a);
        let fx = f(x);
        if fx.is_nan() {
            return None;
        }
        let (c, fc);
        if (fx > 0.0) == (fa > 0.0) {
            (c, fc) = (a, fa);
        } else {
            (c, fc) = (b, fb);
            (b, fb) = (a, fa);
        }
        (a, fa) = (x, fx);
        let (best, value) = if fa.abs() < fb.abs() { (a, fa) } else { (b, fb) };
        let least = (2.0 * f64::EPSILON * best.abs() + f64::MIN_POSITIVE) / (b - a).abs();
        if value.abs() <= 0.0 || least >= 0.5 {
            return Some(best);
        }
        let xi = (a - b) / (c - b);
        let phi = (fa - fb) / (fc - fb);
        let inverse_is_safe = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        t = if inverse_is_safe {
            fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        } else {
            0.5
        };
        t = t.clamp(least, 1.0 - least);
    }
    Some(if fa.abs() < fb.abs() { a } else { b })
}

/// The distinct real roots of a polynomial, in ascending order; at most four.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Roots {
    at: [f64; 4],
    count: usize,
}

impl Roots {
    /// The roots, in ascending order.
    pub fn as_slice(&self) -> &[f64] {
        self.at.get(..self.count).unwrap_or(&[])
    }

    fn push(&mut self, root: f64) {
        if let Some(place) = self.at.get_mut(self.count).filter(|_| root.is_finite()) {
            *place = root;
            self.count += 1;
        }
    }
}

/// The real roots of `c[0] + c[1] x + c[2] x^2 + c[3] x^3 + c[4] x^4`; leading coefficients may be zero.
///
/// A root where the curve touches zero without crossing counts once, and so do roots that the rounding of the
/// coefficients cannot tell apart. A root too large for a number is left out. A constant, zero included, has no
/// roots, nor has a polynomial with a coefficient that is not finite.
///
/// ```
/// use groundstate::numeric::root::real_roots;
/// assert_eq!(real_roots([-6.0, 1.0, 1.0, 0.0, 0.0]).as_slice(), [-3.0, 2.0]);
/// ```
pub fn real_roots(c: [f64; 5]) -> Roots {
    let largest = c.iter().fold(0.0_f64, |most, x| if x.is_finite() { most.max(x.abs()) } else { f64::INFINITY });
    if largest.is_infinite() || largest <= 0.0 {
        return Roots::default();
    }
    // A power of two changes no digit and keeps the products in range.
    let scale = super::scale::to_about_one(largest);
    distinct(c.map(|x| x * scale))
}

fn distinct(c: [f64; 5]) -> Roots {
    let degree = c.iter().rposition(|x| x.abs() > 0.0).unwrap_or(0);
    match degree {
        0 => Roots::default(),
        1 => {
            let mut roots = Roots::default();
            roots.push(-c[0] / c[1]);
            roots
        }
        2 => quadratic(c[0], c[1], c[2]),
        _ => interlaced(&c, degree),
    }
}

/// b^2 - 4 a c, from exact products: their difference may cancel.
fn discriminant(c: f64, b: f64, a: f64) -> f64 {
    (two_product(b, b) - two_product(4.0 * a, c)).value()
}

fn quadratic(c: f64, b: f64, a: f64) -> Roots {
    let mut roots = Roots::default();
    let discriminant = discriminant(c, b, a);
    if discriminant.abs() <= 8.0 * f64::EPSILON * b * b {
        roots.push(-0.5 * b / a);
    } else if discriminant > 0.0 {
        // The larger of the two sums does not cancel; the other root follows from the product.
        let sum = -0.5 * (b + discriminant.sqrt().copysign(b));
        let (one, two) = (sum / a, c / sum);
        roots.push(one.min(two));
        roots.push(one.max(two));
    }
    roots
}

/// The roots of degree three and four: between two neighbouring roots of the derivative the curve rises or falls
/// throughout, so it has one root there or none.
fn interlaced(c: &[f64; 5], degree: usize) -> Roots {
    let turning = distinct([c[1], 2.0 * c[2], 3.0 * c[3], 4.0 * c[4], 0.0]);
    let bound = fujiwara(c, degree);
    let value = |x: f64| c.iter().rev().fold(0.0, |sum, term| sum * x + term);
    // What rounding alone can make of a value of zero.
    let noise = |x: f64| {
        f64::from(u8::try_from(degree).unwrap_or(4))
            * f64::EPSILON
            * c.iter().rev().fold(0.0, |sum, term| sum * x.abs() + term.abs())
    };
    let mut roots = Roots::default();
    let (mut left, mut left_value, mut left_is_root) = (-bound, value(-bound), false);
    let inside = turning.as_slice().iter().filter(|x| x.abs() < bound);
    for &right in inside.chain(std::iter::once(&bound)) {
        let right_value = value(right);
        let right_is_root = right_value.abs() <= noise(right) && right < bound;
        if right_is_root {
            if !left_is_root {
                roots.push(right);
            }
        } else if !left_is_root
            && (left_value > 0.0) != (right_value > 0.0)
            && let Some(root) = bracketed(value, left, right)
        {
            roots.push(root);
        }
        (left, left_value, left_is_root) = (right, right_value, right_is_root);
    }
    roots
}

/// A bound on the size of every root (M. Fujiwara, Tohoku Math. J. 10 (1916) 167), with a little to spare.
fn fujiwara(c: &[f64; 5], degree: usize) -> f64 {
    let leading = c[degree];
    let bound = c.iter().take(degree).enumerate().fold(0.0_f64, |most, (power, term)| {
        let ratio = (term / leading).abs();
        most.max(match degree - power {
            1 => ratio,
            2 => ratio.sqrt(),
            3 => libm::cbrt(ratio),
            _ => ratio.sqrt().sqrt(),
        })
    });
    (2.001 * bound + f64::MIN_POSITIVE).min(f64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: &[f64], expected: &[f64], tolerance: f64) {
        assert_eq!(got.len(), expected.len(), "{got:?} {expected:?}");
        for (g, e) in got.iter().zip(expected) {
            assert!((g - e).abs() <= tolerance * e.abs().max(1e-300), "{got:?} {expected:?}");
        }
    }

    /// Ascending coefficients of the product of (x - r).
    fn from_roots(roots: &[f64]) -> [f64; 5] {
        let mut c = [1.0, 0.0, 0.0, 0.0, 0.0];
        for r in roots {
            for i in (0..5).rev() {
                c[i] = if i > 0 { c[i - 1] } else { 0.0 } - r * c[i];
            }
        }
        c
    }

    #[test]
    fn brackets_are_solved_to_the_last_digits() {
        let root = bracketed(|x| x * x - 2.0, 0.0, 2.0).unwrap();
        assert!((root - std::f64::consts::SQRT_2).abs() < 4e-16);
        let root = bracketed(|x| libm::exp(x) - 1e-30, -1000.0, 10.0).unwrap();
        assert!((root + 69.077_552_789_821_37).abs() < 3e-14);
        let root = bracketed(|x| x * x * x, -1.0, 3.0).unwrap();
        assert!(root.abs() < 1e-100);
        assert_eq!(bracketed(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(bracketed(|_| f64::NAN, -1.0, 1.0), None);
        assert_eq!(bracketed(|x| x, 0.0, 1.0), Some(0.0));
    }

    #[test]
    fn simple_roots_of_each_degree() {
        // Integer roots: the coefficients are exact, so the roots are conditioned by the arithmetic alone.
        for roots in [&[2.0][..], &[-3.0, 2.0], &[-3.0, 1.0, 7.0], &[-30.0, -3.0, 1.0, 700.0]] {
            close(real_roots(from_roots(roots)).as_slice(), roots, 1e-14);
        }
        close(real_roots([1.0, 0.0, 1.0, 0.0, 1.0]).as_slice(), &[], 0.0);
        close(real_roots([-1.0, 0.0, 0.0, 0.0, 1.0]).as_slice(), &[-1.0, 1.0], 1e-15);
    }

    #[test]
    fn touching_roots_count_once() {
        close(real_roots(from_roots(&[0.1, 0.1])).as_slice(), &[0.1], 1e-15);
        close(real_roots(from_roots(&[0.1, 0.1, 3.0])).as_slice(), &[0.1, 3.0], 1e-8);
        close(real_roots(from_roots(&[0.3, 0.3, 0.3])).as_slice(), &[0.3], 1e-5);
        close(real_roots(from_roots(&[0.3, 0.3, 7.0, 7.0])).as_slice(), &[0.3, 7.0], 1e-7);
        close(real_roots(from_roots(&[1.1, 1.1, 1.1, 1.1])).as_slice(), &[1.1], 1e-3);
        close(real_roots([0.0, 0.0, 0.0, 0.0, 2.0]).as_slice(), &[0.0], 0.0);
    }

    #[test]
    fn vanishing_leading_coefficients() {
        close(real_roots([-2.0, 1.0, 1e-200, 0.0, 0.0]).as_slice(), &[-1e200, 2.0], 1e-15);
        // The far root is beyond the largest number.
        close(real_roots([-2.0, 1.0, 5e-324, 0.0, 0.0]).as_slice(), &[2.0], 1e-15);
        close(real_roots([-6.0, 1.0, 1.0, 1e-30, 0.0]).as_slice(), &[-1e30, -3.0, 2.0], 1e-15);
        close(real_roots([-6.0, 1.0, 1.0, 0.0, 1e-60]).as_slice(), &[-3.0, 2.0], 1e-15);
        close(real_roots([-6e200, 1e200, 1e200, 0.0, 0.0]).as_slice(), &[-3.0, 2.0], 1e-15);
    }

    #[test]
    fn no_roots_where_there_is_no_polynomial() {
        for c in [[0.0; 5], [3.0, 0.0, 0.0, 0.0, 0.0], [1.0, f64::NAN, 1.0, 0.0, 0.0], [f64::INFINITY; 5]] {
            assert!(real_roots(c).as_slice().is_empty());
        }
    }

    #[test]
    fn the_discriminant_does_not_cancel() {
        // Kahan's example: b^2 and 4ac agree in 16 digits; the discriminant is exactly 7.5625.
        let (a, b, c) = (94_906_265.625, -2.0 * 94_906_267.0, 94_906_268.375);
        assert!((discriminant(c, b, a) - 7.562_5).abs() < 1e-9);
    }

    proptest::proptest! {
        /// Roots put in come out; they keep a distance, so that none is lost in rounding.
        #[test]
        fn well_separated_roots_come_back(
            first in -50.0..50.0_f64,
            gaps in proptest::collection::vec(0.5..20.0_f64, 0..4),
            factor in proptest::prop_oneof![-1e3..-1e-3_f64, 1e-3..1e3_f64],
        ) {
            let mut roots = vec![first];
            for gap in gaps {
                roots.push(roots[roots.len() - 1] + gap);
            }
            let got = real_roots(from_roots(&roots).map(|x| x * factor));
            proptest::prop_assert_eq!(got.as_slice().len(), roots.len());
            for (g, e) in got.as_slice().iter().zip(&roots) {
                // Coefficients are rounded at 1e-16 of up to 110^4; the derivative at a root is at least 0.5^3.
                proptest::prop_assert!((g - e).abs() < 1e-6);
            }
        }

        /// Every root is one: the value there is no more than rounding, and the count is right by Sturm's parity.
        #[test]
        fn roots_are_roots(c in proptest::array::uniform5(-10.0..10.0_f64)) {
            let got = real_roots(c);
            let value = |x: f64| c.iter().rev().fold(0.0, |sum, term| sum * x + term);
            let size = |x: f64| c.iter().rev().fold(0.0, |sum, term| sum * x.abs() + term.abs());
            for &x in got.as_slice() {
                proptest::prop_assert!(value(x).abs() <= 1e-14 * size(x));
            }
            proptest::prop_assert!(got.as_slice().windows(2).all(|pair| pair[0] < pair[1]));
            // Opposite signs at the far ends need an odd number of roots, like signs an even one.
            proptest::prop_assert_eq!(got.as_slice().len() % 2 == 1, c[4].abs() <= 0.0);
        }
    }
}
