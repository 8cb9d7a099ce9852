//! The chi-squared distribution.

use super::gamma::GammaPoint;
use super::solve::{Point, Tail, solve};
use super::{Tails, is_dof, is_probability, normal};

/// P(X <= x) with `dof` degrees of freedom. With infinite degrees all of it lies at infinity.
pub fn cdf(x: f64, dof: f64) -> f64 {
    tails(x, dof).lower
}

/// P(X > x) with `dof` degrees of freedom.
pub fn sf(x: f64, dof: f64) -> f64 {
    tails(x, dof).upper
}

/// The x with P(X <= x) = `p`.
pub fn quantile(p: f64, dof: f64) -> f64 {
    if p > 0.5 { upper_quantile(1.0 - p, dof) } else { inverse(p, Tail::Lower, dof) }
}

/// The x with P(X > x) = `q`.
pub fn upper_quantile(q: f64, dof: f64) -> f64 {
    if q > 0.5 { quantile(1.0 - q, dof) } else { inverse(q, Tail::Upper, dof) }
}

fn gamma_point(x: f64, dof: f64) -> GammaPoint {
    GammaPoint { a: 0.5 * dof, x: 0.5 * x, excess: 0.5 * (x - dof) }
}

fn tails(x: f64, dof: f64) -> Tails {
    if x.is_nan() || !is_dof(dof) {
        return Tails { lower: f64::NAN, upper: f64::NAN };
    }
    if x <= 0.0 || dof.is_infinite() {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if x.is_infinite() {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    let point = gamma_point(x, dof);
    point.tails(point.weight())
}

fn inverse(probability: f64, tail: Tail, dof: f64) -> f64 {
    if !is_probability(probability) || !is_dof(dof) {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return f64::INFINITY;
    }
    if probability <= 0.0 {
        return if tail == Tail::Lower { 0.0 } else { f64::INFINITY };
    }
    solve(probability, tail, rough(probability, tail, dof), |x| {
        let point = gamma_point(x, dof);
        let weight = point.weight();
        let Tails { lower, upper } = point.tails(weight);
        Point { tail: if tail == Tail::Lower { lower } else { upper }, weight, score: -point.excess }
    })
}

/// A start: the cube-root approximation of Wilson and Hilferty, or the power law near zero.
fn rough(probability: f64, tail: Tail, dof: f64) -> f64 {
    let upper = if probability < 0.5 { normal::rough(probability) } else { 0.0 };
    let z = if tail == Tail::Lower { -upper } else { upper };
    let spread = 2.0 / (9.0 * dof);
    let root = 1.0 - spread + z * spread.sqrt();
    if root > 0.2 || tail == Tail::Upper {
        return dof * (root * root * root).max(0.01);
    }
    let a = 0.5 * dof;
    2.0 * libm::exp((libm::log(probability) + libm::lgamma(a + 1.0)) / a)
}
