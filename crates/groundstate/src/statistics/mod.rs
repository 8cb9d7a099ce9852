//! Statistics of small samples: replicates, outliers, homogeneity of variances, robust estimates.
//!
//! A test says what the figures say. Whether a value may be left out is decided by whoever answers for the result:
//! nothing here drops one.
//!
//! ```
//! use groundstate::statistics::outlier::{Side, grubbs};
//! use groundstate::statistics::replicates::replicates;
//!
//! let readings = [3.08, 3.09, 3.11, 3.12, 3.02, 2.51];
//! let suspect = grubbs(&readings, Side::Both, 0.05)?;
//! assert!(suspect.significant && suspect.index == 5);
//! assert_eq!(replicates(&readings)?.count, 6); // nothing was dropped
//! # Ok::<(), groundstate::Error>(())
//! ```

pub mod homogeneity;
pub mod outlier;
pub mod replicates;
pub mod robust;

mod dixon;

use crate::error::{Error, Kind, Place, Problem};

/// Sums of squares of deviations and sums of as many values as there can be stay numbers below this.
const LARGEST: f64 = 1e290;

/// Every value is a finite number, not too large to be summed, and there are at least `least` of them; otherwise an
/// error that names all that are not, counted from 0.
fn check(name: &str, values: &[f64], least: usize) -> Result<(), Error> {
    let problems: Vec<Problem> = values
        .iter()
        .enumerate()
        .filter(|(_, value)| value.is_nan() || value.abs() > LARGEST)
        .map(|(index, value)| {
            let place = Place::named(format!("{name}[{index}]"));
            if value.is_finite() {
                return Problem::new(place, format!("{value:e} is too large to be summed"));
            }
            Problem::new(place, format!("{value} is not a finite number")).help("remove missing values first")
        })
        .collect();
    Error::unless_empty(Kind::Argument, problems, ())?;
    if values.len() < least {
        let noun = if least == 1 { "value is" } else { "values are" };
        return Err(Error::argument(name, format!("at least {least} {noun} needed, {} given", values.len())));
    }
    Ok(())
}

/// `alpha` is a level of significance.
fn check_alpha(alpha: f64) -> Result<(), Error> {
    if alpha > 0.0 && alpha < 1.0 {
        return Ok(());
    }
    Err(Error::argument("alpha", format!("a level of significance lies between 0 and 1, got {alpha}"))
        .help("0.05 is a common choice"))
}

/// A count as a number; exact below 2^53.
fn number(count: usize) -> f64 {
    count as f64
}
