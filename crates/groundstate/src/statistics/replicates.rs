//! The mean and scatter of repeated readings, and scatter pooled over several sets of them.

use super::{check, number};
use crate::error::Error;
use crate::numeric::scale::to_about_one;

/// What repeated readings of one thing say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Replicates {
    /// How many readings.
    pub count: usize,
    /// Their arithmetic mean, in the unit of the readings.
    pub mean: f64,
    /// Their standard deviation with n - 1 degrees of freedom, in the unit of the readings; none from one reading.
    pub sd: Option<f64>,
}

impl Replicates {
    /// The degrees of freedom of the standard deviation, n - 1.
    pub fn dof(&self) -> f64 {
        number(self.count.saturating_sub(1))
    }

    /// The standard deviation in percent of the size of the mean; none from one reading or about a mean of zero.
    pub fn rsd_percent(&self) -> Option<f64> {
        let ratio = 100.0 * (self.sd? / self.mean.abs());
        ratio.is_finite().then_some(ratio)
    }

    /// The standard deviation of the mean, s / sqrt(n); none from one reading.
    pub fn standard_error(&self) -> Option<f64> {
        Some(self.sd? / number(self.count).sqrt())
    }
}

/// A standard deviation pooled over sets of readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// The pooled standard deviation, in the unit of the readings.
    pub sd: f64,
    /// Its degrees of freedom, the sum of n - 1 over the sets.
    pub dof: f64,
}

/// The mean and standard deviation of `values`.
///
/// The sums are compensated and the squares are of differences from the mean, corrected for the rounding of the mean,
/// so what is lost is what the values lost when they were rounded to doubles.
///
/// # Errors
/// No values, or values that are not finite.
///
/// ```
/// use groundstate::statistics::replicates::replicates;
/// let lead = replicates(&[0.752, 0.756, 0.752, 0.751, 0.760])?;
/// assert!((lead.mean - 0.7542).abs() < 1e-15);
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn replicates(values: &[f64]) -> Result<Replicates, Error> {
    check("values", values, 1)?;
    let mean = mean(values);
    let sd = (values.len() > 1).then(|| sd_about(values, mean));
    Ok(Replicates { count: values.len(), mean, sd })
}

/// The standard deviation pooled over `sets` of readings, each about its own mean. Sets of one reading add nothing.
/// Source: ISO 5725-2:2019, 7.5.5 (from memory); IUPAC Gold Book, pooled standard deviation.
///
/// # Errors
/// No set has two readings.
pub fn pooled(sets: &[Replicates]) -> Result<Pooled, Error> {
    let with_scatter = || sets.iter().filter_map(|set| Some((set.sd?, set.dof())));
    let dof: f64 = with_scatter().map(|(_, dof)| dof).sum();
    if dof < 1.0 {
        return Err(Error::argument("sets", "no set has two readings, so there is no scatter to pool"));
    }
    // Relative to the largest, or the square of a tiny or huge one would leave the range of numbers.
    let largest = with_scatter().fold(0.0_f64, |most, (sd, _)| most.max(sd));
    if largest <= 0.0 {
        return Ok(Pooled { sd: 0.0, dof });
    }
    let squares = with_scatter().map(|(sd, dof)| dof * (sd / largest) * (sd / largest));
    Ok(Pooled { sd: largest * (sum(squares) / dof).sqrt(), dof })
}

/// The arithmetic mean.
pub(crate) fn mean(values: &[f64]) -> f64 {
    let count = number(values.len());
    let first = sum(values.iter().copied()) / count;
    // The rounding of the quotient, taken back from the differences.
    first + sum(values.iter().map(|value| value - first)) / count
}

/// The standard deviation with n - 1 degrees of freedom about a mean known to rounding.
pub(super) fn sd_about(values: &[f64], mean: f64) -> f64 {
    let largest = values.iter().fold(0.0_f64, |most, value| most.max((value - mean).abs()));
    if largest <= 0.0 {
        return 0.0;
    }
    // A power of two, so that scaling rounds nothing.
    let scale = to_about_one(largest);
    let difference = |value: &f64| (value - mean) * scale;
    let count = number(values.len());
    let rest = sum(values.iter().map(difference));
    let squares = sum(values.iter().map(|value| difference(value) * difference(value)));
    ((squares - rest * rest / count) / (count - 1.0)).sqrt() / scale
}

/// A sum with its rounding errors summed beside it. Source: A. Neumaier, Z. Angew. Math. Mech. 54 (1974) 39.
pub(super) fn sum(terms: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0);
    for term in terms {
        let next = total + term;
        lost += if total.abs() >= term.abs() { (total - next) + term } else { (term - next) + total };
        total = next;
    }
    total + lost
}
