//! Fisher's F distribution, of a ratio of two independent variance estimates.

use super::beta::BetaPoint;
use super::solve::{Point, Tail, solve};
use super::{Tails, chi_squared, is_dof, is_probability, normal};

/// More degrees of freedom than this count as infinite: below it the work stays bounded.
const MANY: f64 = 1e15;

/// P(F <= f) with `dof1` degrees of freedom above and `dof2` below.
pub fn cdf(f: f64, dof1: f64, dof2: f64) -> f64 {
    tails(f, dof1, dof2).lower
}

/// P(F > f) with `dof1` degrees of freedom above and `dof2` below.
pub fn sf(f: f64, dof1: f64, dof2: f64) -> f64 {
    tails(f, dof1, dof2).upper
}

/// The f with P(F <= f) = `p`.
pub fn quantile(p: f64, dof1: f64, dof2: f64) -> f64 {
    if p > 0.5 { upper_quantile(1.0 - p, dof1, dof2) } else { inverse(p, Tail::Lower, dof1, dof2) }
}

/// The f with P(F > f) = `q`.
pub fn upper_quantile(q: f64, dof1: f64, dof2: f64) -> f64 {
    if q > 0.5 { quantile(1.0 - q, dof1, dof2) } else { inverse(q, Tail::Upper, dof1, dof2) }
}

fn beta_point(f: f64, dof1: f64, dof2: f64) -> BetaPoint {
    let odds = dof1 / dof2 * f;
    let y = 1.0 / (1.0 + odds);
    let x = if odds.is_infinite() { 1.0 } else { odds * y };
    // a y - b x = (d1/2) y (1 - f): exact near f = 1, where the difference of the products is not.
    let lean = if f > 1e100 { -0.5 * dof2 * x } else { 0.5 * dof1 * y * (1.0 - f) };
    BetaPoint { a: 0.5 * dof1, b: 0.5 * dof2, x, y, lean }
}

fn tails(f: f64, dof1: f64, dof2: f64) -> Tails {
    if f.is_nan() || !is_dof(dof1) || !is_dof(dof2) {
        return Tails { lower: f64::NAN, upper: f64::NAN };
    }
    if f <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if f.is_infinite() {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    match (dof1 > MANY, dof2 > MANY) {
        (true, true) if f < 1.0 => Tails { lower: 0.0, upper: 1.0 },
        (true, true) => Tails { lower: 1.0, upper: 0.0 },
        (false, true) => Tails { lower: chi_squared::cdf(f * dof1, dof1), upper: chi_squared::sf(f * dof1, dof1) },
        (true, false) => Tails { lower: chi_squared::sf(dof2 / f, dof2), upper: chi_squared::cdf(dof2 / f, dof2) },
        (false, false) => {
            let point = beta_point(f, dof1, dof2);
            point.tails(point.weight())
        }
    }
}

fn inverse(probability: f64, tail: Tail, dof1: f64, dof2: f64) -> f64 {
    if !is_probability(probability) || !is_dof(dof1) || !is_dof(dof2) {
        return f64::NAN;
    }
    if probability <= 0.0 {
        return if tail == Tail::Lower { 0.0 } else { f64::INFINITY };
    }
    match (dof1 > MANY, dof2 > MANY, tail) {
        (true, true, _) => 1.0,
        (false, true, Tail::Lower) => chi_squared::quantile(probability, dof1) / dof1,
        (false, true, Tail::Upper) => chi_squared::upper_quantile(probability, dof1) / dof1,
        (true, false, Tail::Lower) => dof2 / chi_squared::upper_quantile(probability, dof2),
        (true, false, Tail::Upper) => dof2 / chi_squared::quantile(probability, dof2),
        (false, false, _) => solve(probability, tail, rough(probability, tail, dof1, dof2), |f| {
            let point = beta_point(f, dof1, dof2);
            let weight = point.weight();
            let Tails { lower, upper } = point.tails(weight);
            Point { tail: if tail == Tail::Lower { lower } else { upper }, weight, score: point.lean }
        }),
    }
}

/// A start: Fisher's half logarithm of F as a normal variable, Abramowitz and Stegun 26.5.22; 1 where either variance
/// has few degrees of freedom.
fn rough(probability: f64, tail: Tail, dof1: f64, dof2: f64) -> f64 {
    if dof1 < 2.0 || dof2 < 2.0 || probability >= 0.5 {
        return 1.0;
    }
    let z = normal::rough(probability);
    let z = if tail == Tail::Lower { -z } else { z };
    let (one, two) = (1.0 / (dof1 - 1.0), 1.0 / (dof2 - 1.0));
    let h = 2.0 / (one + two);
    let lambda = (z * z - 3.0) / 6.0;
    let w = z * (h + lambda).max(0.0).sqrt() / h - (one - two) * (lambda + 5.0 / 6.0 - 2.0 / (3.0 * h));
    libm::exp((2.0 * w).clamp(-200.0, 200.0))
}
