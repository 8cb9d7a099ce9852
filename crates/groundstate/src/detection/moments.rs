//! Mean and sample standard deviation, where having none is an answer and not an error.

use crate::error::Error;
use crate::statistics::replicates::replicates;

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
        if numbers.is_empty() {
            return Ok(None);
        }
        // The callers have refused what is not finite, so size is all that can be wrong.
        let set = replicates(numbers).map_err(|_| too_large(argument))?;
        if !set.mean.is_finite() || set.sd.is_some_and(|s| !s.is_finite()) {
            return Err(too_large(argument));
        }
        Ok(Some(Moments { mean: set.mean, s: set.sd }))
    }
}

/// The error of figures whose sums leave the range of numbers.
pub(super) fn too_large(argument: &str) -> Error {
    Error::argument(argument, "the numbers are too large to compute with")
        .help("use a unit in which they are of ordinary size")
}
