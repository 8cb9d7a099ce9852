//! Estimates of location and scale that a few wild values hardly move.

use super::replicates::{mean, sd_about, sum};
use super::{check, number};
use crate::error::Error;
use crate::finding::Citation;

/// The median absolute deviation of a normal population is its standard deviation over this: 1 / z(0.75).
pub const MAD_FACTOR: f64 = 1.482_602_218_505_602;

/// A robust estimate, by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RobustMethod {
    /// [`algorithm_a`].
    AlgorithmA,
    /// [`huber`].
    Huber,
}

impl RobustMethod {
    /// Every one of them.
    pub const ALL: [RobustMethod; 2] = [RobustMethod::AlgorithmA, RobustMethod::Huber];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            RobustMethod::AlgorithmA => "algorithm_a",
            RobustMethod::Huber => "huber",
        }
    }

    /// Where it stands.
    pub const fn citation(self) -> Citation {
        match self {
            RobustMethod::AlgorithmA => Citation::unverified("ISO 13528", "2022", "annex C, Algorithm A"),
            RobustMethod::Huber => Citation::unverified("Analytical Methods Committee, Analyst 114, 1693", "1989", ""),
        }
    }
}

/// A robust mean and standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Robust {
    /// The robust mean, in the unit of the values.
    pub mean: f64,
    /// The robust standard deviation, in the unit of the values; zero where the method finds no scatter to go by.
    pub sd: f64,
    /// How many values were pulled in to the limits at the last step.
    pub winsorised: usize,
    /// How many steps were taken.
    pub steps: usize,
}

/// The median: the middle value, or the mean of the two in the middle.
///
/// # Errors
/// No values, or values that are not finite.
pub fn median(values: &[f64]) -> Result<f64, Error> {
    check("values", values, 1)?;
    Ok(middle(values.to_vec()))
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let upper = values.len() / 2;
    let lower = values.len().saturating_sub(1) / 2;
    match (values.get(lower), values.get(upper)) {
        // Halves first: the sum of two large numbers may be none.
        (Some(one), Some(two)) if lower < upper => 0.5 * one + 0.5 * two,
        (Some(one), _) => *one,
        _ => f64::NAN,
    }
}

/// The median absolute deviation from the median, in the unit of the values.
///
/// # Errors
/// No values, or values that are not finite.
pub fn mad(values: &[f64]) -> Result<f64, Error> {
    let centre = median(values)?;
    Ok(middle(values.iter().map(|value| (value - centre).abs()).collect()))
}

/// The median absolute deviation from the median, times [`MAD_FACTOR`] so that it estimates a standard deviation.
/// Zero where more than half of the values are equal.
///
/// # Errors
/// No values, or values that are not finite.
pub fn mad_scaled(values: &[f64]) -> Result<f64, Error> {
    Ok(MAD_FACTOR * mad(values)?)
}

/// The robust mean and standard deviation of Algorithm A: values farther than 1.5 s* from x* are pulled in to that
/// distance, the mean and 1.134 times the standard deviation of what results are the next x* and s*, until both stand
/// still. Source: ISO 13528:2022, annex C (constants 1.5, 1.483 and 1.134 from memory).
///
/// Where more than half of the values are equal the start for s*, which would be zero and stay so, is the ordinary
/// standard deviation (our choice). All values equal give zero.
///
/// # Errors
/// Fewer than 3 values, or values that are not finite.
pub fn algorithm_a(values: &[f64]) -> Result<Robust, Error> {
    check("values", values, 3)?;
    let centre = median(values)?;
    let start = mad_scaled(values)?;
    let sd = if start > 0.0 { start } else { sd_about(values, mean(values)) };
    let mut state = Robust { mean: centre, sd, winsorised: 0, steps: 0 };
    while state.steps < 1000 {
        let (pulled, winsorised) = winsorise(values, state.mean, 1.5 * state.sd);
        let mean = mean(&pulled);
        let next = Robust { mean, sd: 1.134 * sd_about(&pulled, mean), winsorised, steps: state.steps + 1 };
        let moved = (next.mean - state.mean).abs() + (next.sd - state.sd).abs();
        state = next;
        // The steps shrink by a constant factor: 1e-14 of s* a step leaves 12 figures or more.
        if moved <= 1e-14 * state.sd + f64::EPSILON * state.mean.abs() {
            break;
        }
    }
    Ok(state)
}

/// Huber's estimate of location with the scale held at [`mad_scaled`]: values farther than `k` scales from it are
/// pulled in to that distance until it stands still. `k` = 1.5 is usual. Where more than half of the values are equal it
/// is their value. Source: Analytical Methods Committee, Analyst 114 (1989) 1693; P. J. Huber, Ann. Math. Statist. 35
/// (1964) 73.
///
/// # Errors
/// Fewer than 3 values, values that are not finite, `k` not positive.
pub fn huber(values: &[f64], k: f64) -> Result<Robust, Error> {
    check("values", values, 3)?;
    if !(k.is_finite() && k > 0.0) {
        return Err(Error::argument("k", format!("the limit is a positive number of scales, got {k}"))
            .help("1.5 is a common choice"));
    }
    let scale = mad_scaled(values)?;
    let mut state = Robust { mean: median(values)?, sd: scale, winsorised: 0, steps: 0 };
    while state.steps < 1000 {
        let (pulled, winsorised) = winsorise(values, state.mean, k * scale);
        let mean = sum(pulled.iter().copied()) / number(pulled.len());
        let moved = (mean - state.mean).abs();
        state = Robust { mean, sd: scale, winsorised, steps: state.steps + 1 };
        if moved <= 1e-14 * scale + f64::EPSILON * mean.abs() {
            break;
        }
    }
    Ok(state)
}

/// The values pulled in to `limit` from `centre`, and how many were.
fn winsorise(values: &[f64], centre: f64, limit: f64) -> (Vec<f64>, usize) {
    let pulled: Vec<f64> = values.iter().map(|value| value.max(centre - limit).min(centre + limit)).collect();
    let moved = values.iter().filter(|value| (*value - centre).abs() > limit).count();
    (pulled, moved)
}
