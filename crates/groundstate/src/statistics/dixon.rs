//! The distribution of Dixon's ratio r10 in normal samples.

use super::number;
use crate::numeric::distribution::normal;
use crate::numeric::root;
use std::f64::consts::PI;

/// P(gap / range > `ratio`) at one named end of a normal sample of `n` values, 3 or more.
///
/// With a the least and b the greatest value, the others all lie between a and b - ratio (b - a):
/// n (n - 1) times the integral of f(a) f(b) [F(b - ratio (b - a)) - F(a)]^(n - 2) over a < b. Source: W. J. Dixon,
/// Ann. Math. Statist. 22 (1951) 68. By the trapezium rule on the whole line in the middle (a + b)/2, and in
/// the range through r = exp(u - exp(-u)); both converge faster than any power of the spacing.
pub(super) fn tail(n: usize, ratio: f64) -> f64 {
    const MIDDLE_STEP: f64 = 0.2;
    const RANGE_STEP: f64 = 0.1;
    let others = number(n) - 2.0;
    let mut total = 0.0;
    for i in -36..=27 {
        let u = f64::from(i) * RANGE_STEP;
        let shrink = libm::exp(-u);
        let range = libm::exp(u - shrink);
        let mut over_middles = 0.0;
        for j in -29..=29 {
            let middle = f64::from(j) * MIDDLE_STEP;
            let (least, inner) = (middle - 0.5 * range, middle + (0.5 - ratio) * range);
            // From the nearer tail, or the difference of two numbers close to one would be lost.
            let between = if least > 0.0 {
                normal::sf(least) - normal::sf(inner)
            } else {
                normal::cdf(inner) - normal::cdf(least)
            };
            over_middles += libm::exp(-middle * middle) * libm::pow(between.max(0.0), others);
        }
        total += over_middles * libm::exp(-0.25 * range * range) * range * (1.0 + shrink);
    }
    number(n) * (number(n) - 1.0) / (2.0 * PI) * total * MIDDLE_STEP * RANGE_STEP
}

/// The ratio with [`tail`] equal to `probability`, which lies between 0 and 1/2.
pub(super) fn upper_quantile(n: usize, probability: f64) -> f64 {
    root::bracketed(|ratio| tail(n, ratio) - probability, 0.0, 1.0).unwrap_or(f64::NAN)
}
