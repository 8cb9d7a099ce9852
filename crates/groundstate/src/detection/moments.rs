//! Mean and sample standard deviation of a handful of numbers.

use crate::error::Error;

/// Mean and sample standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moments {
    pub mean: f64,
    /// `None` below two numbers.
    pub s: Option<f64>,
}

impl Moments {
    /// `None` when there are no numbers. Ascending numbers give the same bits in any order of the input.
    pub fn of(argument: &str, numbers: &[f64]) -> Result<Option<Self>, Error> {
        let Some(middle) = numbers.get(numbers.len() / 2) else { return Ok(None) };
        let n = numbers.len() as f64;
        // Taken from a result in the middle, deviations lose no figures; the mean is corrected once more.
        let mean = middle + numbers.iter().map(|x| x - middle).sum::<f64>() / n;
        let left: f64 = numbers.iter().map(|x| x - mean).sum();
        let squares: f64 = numbers.iter().map(|x| (x - mean) * (x - mean)).sum();
        let mean = mean + left / n;
        let corrected = squares - left * left / n;
        // Looked at before `max`, which would turn a NaN into a scatter of 0.
        if !mean.is_finite() || !corrected.is_finite() {
            return Err(Error::argument(argument, "the numbers are too large to compute with")
                .help("use a unit in which they are of ordinary size"));
        }
        let s = (numbers.len() > 1).then(|| (corrected.max(0.0) / (n - 1.0)).sqrt());
        Ok(Some(Moments { mean, s }))
    }
}
