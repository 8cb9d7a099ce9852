//! The non-central t distribution: (Z + delta) / S, with Z standard normal and S^2 an independent chi-squared over its
//! degrees of freedom.

use super::special::{exp_gap, stirling_error};
use super::{is_dof, is_probability, normal, student_t};
use crate::numeric::root;
use std::f64::consts::PI;

/// P(T <= t) with `dof` degrees of freedom and noncentrality `delta` (finite).
pub fn cdf(t: f64, dof: f64, delta: f64) -> f64 {
    tail(t, dof, delta, 1.0)
}

/// P(T > t) with `dof` degrees of freedom and noncentrality `delta` (finite).
pub fn sf(t: f64, dof: f64, delta: f64) -> f64 {
    tail(t, dof, delta, -1.0)
}

/// The t with P(T <= t) = `p`. Between 1e-300 and 1 - 1e-15; 0 and 1 give the infinities.
pub fn quantile(p: f64, dof: f64, delta: f64) -> f64 {
    if !is_probability(p) || !is_dof(dof) || !delta.is_finite() {
        return f64::NAN;
    }
    if p <= 0.0 {
        return f64::NEG_INFINITY;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    let excess = |t: f64| {
        if p > 0.5 { libm::log((1.0 - p) / sf(t, dof, delta)) } else { libm::log(cdf(t, dof, delta) / p) }
    };
    rising_root(excess, delta + student_t::quantile(p, dof))
}

/// The noncentrality delta(dof; alpha; beta) of ISO 11843-2: with t0 the upper alpha point of the central t, the delta
/// for which the non-central t falls below t0 with probability `beta`. NaN unless both are strictly between 0 and 1.
/// Source: ISO 11843-2:2000, 5.3 and table 1 (definition from memory; the value 4.07 for 4 degrees of freedom is
/// Currie's, Pure Appl. Chem. 67 (1995) 1699).
pub fn noncentrality(dof: f64, alpha: f64, beta: f64) -> f64 {
    let inside = |p: f64| p > 0.0 && p < 1.0;
    if !inside(alpha) || !inside(beta) || !is_dof(dof) {
        return f64::NAN;
    }
    let critical = student_t::upper_quantile(alpha, dof);
    let excess = |delta: f64| libm::log(beta / cdf(critical, dof, delta));
    rising_root(excess, critical + normal::upper_quantile(beta))
}

/// The root of a rising function from a start, by widening a bracket.
fn rising_root(f: impl Fn(f64) -> f64, start: f64) -> f64 {
    let here = f(start);
    let outward = if here > 0.0 { -1.0 } else { 1.0 };
    let mut near = start;
    let mut step = 0.5 * outward;
    loop {
        let far = near + step;
        if !far.is_finite() {
            return far;
        }
        let there = f(far);
        if there.is_nan() {
            return f64::NAN;
        }
        if there * outward >= 0.0 {
            return root::bracketed(f, near, far).unwrap_or(f64::NAN);
        }
        near = far;
        step *= 2.0;
    }
}

/// The mean of Phi(sign (t S - delta)) over S, by integration over U = ln S.
///
/// The trapezium rule on the whole line converges faster than any power of the spacing for such an integrand, which
/// falls exponentially to the left and faster to the right, and all terms are positive, so both tails keep their
/// relative accuracy however small they are. The integrand is log-concave in S, so it has one peak.
fn tail(t: f64, dof: f64, delta: f64, sign: f64) -> f64 {
    if t.is_nan() || !is_dof(dof) || !delta.is_finite() {
        return f64::NAN;
    }
    if t.is_infinite() {
        return if t * sign > 0.0 { 1.0 } else { 0.0 };
    }
    if dof.is_infinite() {
        return normal::cdf(sign * (t - delta));
    }
    let a = 0.5 * dof;
    let log_normal = |w: f64| {
        if w > -36.0 { libm::log(normal::cdf(w)) } else { -0.5 * w * w - libm::log(-w * (2.0 * PI).sqrt()) }
    };
    // For finding the peak and the ends; the sum itself multiplies and needs no logarithm.
    let height = |u: f64| -a * exp_gap(2.0 * u) + log_normal(sign * (t * libm::exp(u) - delta));
    let scale = (0.5 / a).sqrt().min(1.0);
    let peak = climb(&height, scale);
    let floor = height(peak) - 41.0;
    let left = descend(&height, peak, -scale, floor);
    let right = descend(&height, peak, scale, floor);

    let term = |u: f64| libm::exp(-a * exp_gap(2.0 * u)) * normal::cdf(sign * (t * libm::exp(u) - delta));
    let mut pieces = 32_u32;
    let mut width = (right - left) / f64::from(pieces);
    let mut sum: f64 = (0..=pieces).map(|i| term(left + f64::from(i) * width)).sum();
    loop {
        let middles: f64 = (0..pieces).map(|i| term(left + (f64::from(i) + 0.5) * width)).sum();
        // Both sums are estimates of the integral; theirs together is better by the square of their difference.
        let agreed = (middles - sum).abs() <= 1e-8 * sum;
        sum += middles;
        pieces *= 2;
        width *= 0.5;
        if agreed || pieces > 1 << 20 || sum.is_nan() {
            break;
        }
    }
    (sum * width * 2.0 * (a / (2.0 * PI)).sqrt() * libm::exp(-stirling_error(a))).min(1.0)
}

/// The highest point of a unimodal function, roughly: steps that double while they climb and halve when they do not.
fn climb(height: &impl Fn(f64) -> f64, scale: f64) -> f64 {
    let (mut at, mut best, mut step) = (0.0, height(0.0), scale);
    while step.abs() > 0.05 * scale {
        let (up, down) = (height(at + step), height(at - step));
        if up > best {
            (at, best, step) = (at + step, up, 2.0 * step);
        } else if down > best {
            (at, best, step) = (at - step, down, -2.0 * step);
        } else {
            step *= 0.5;
        }
    }
    at
}

/// The first point from `from`, in the direction of `step`, where the function is below `floor`.
fn descend(height: &impl Fn(f64) -> f64, from: f64, step: f64, floor: f64) -> f64 {
    let (mut inside, mut outside, mut step) = (from, from + step, step);
    while height(outside) > floor {
        step *= 2.0;
        (inside, outside) = (outside, outside + step);
    }
    // A few halvings, or half the points of the sum would fall on nothing.
    for _ in 0..5 {
        let middle = 0.5 * (inside + outside);
        if height(middle) > floor { inside = middle } else { outside = middle }
    }
    outside
}
