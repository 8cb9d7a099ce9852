//! The standard normal distribution.

use super::is_probability;
use super::solve::{Point, Tail, solve};
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// 1 / sqrt(2 pi).
const PEAK: f64 = 0.398_942_280_401_432_7;

/// The density at `z`.
pub fn pdf(z: f64) -> f64 {
    PEAK * libm::exp(-0.5 * z * z)
}

/// P(Z <= z).
pub fn cdf(z: f64) -> f64 {
    sf(-z)
}

/// P(Z > z).
pub fn sf(z: f64) -> f64 {
    0.5 * libm::erfc(z * FRAC_1_SQRT_2)
}

/// The z with P(Z <= z) = `p`.
pub fn quantile(p: f64) -> f64 {
    -upper_quantile(p)
}

/// The z with P(Z > z) = `q`.
pub fn upper_quantile(q: f64) -> f64 {
    if !is_probability(q) {
        return f64::NAN;
    }
    if q > 0.5 {
        return -upper_quantile(1.0 - q);
    }
    if q <= 0.0 {
        return f64::INFINITY;
    }
    let point = |z: f64, tail| Point { tail, weight: 2.0 * z * pdf(z), score: 1.0 - z * z };
    let middle = 1.0 - 2.0 * q;
    if middle <= 0.0 {
        0.0
    } else if middle < 0.5 {
        solve(middle, Tail::Lower, rough(q), |z| point(z, libm::erf(z * FRAC_1_SQRT_2)))
    } else {
        solve(2.0 * q, Tail::Upper, rough(q), |z| point(z, libm::erfc(z * FRAC_1_SQRT_2)))
    }
}

/// A start for the quantile, good to three digits, for 0 < q < 1/2: the inverse series of the error function in the
/// middle (NIST DLMF 7.17.2), Abramowitz and Stegun 26.2.23 in the tail.
pub(super) fn rough(q: f64) -> f64 {
    let middle = 1.0 - 2.0 * q;
    if middle < 0.5 {
        let square = middle * middle * PI;
        return (0.5 * PI).sqrt() * middle * (1.0 + square * (1.0 / 12.0 + square * 7.0 / 480.0));
    }
    let t = (-2.0 * libm::log(q)).sqrt();
    t - (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)))
}
