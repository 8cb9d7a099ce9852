//! Comparison with the first-order result (JCGM 101:2008, section 8).

use super::summary::Interval;
use crate::estimate::{Coverage, Estimate, expanded};

/// The first-order interval against the simulated one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Comparison {
    /// First-order interval: value plus and minus the expanded uncertainty.
    pub first_order: Interval,
    /// Numerical tolerance of the first-order u: half a unit of its last significant digit.
    pub tolerance: f64,
    /// Distance of the lower ends.
    pub d_low: f64,
    /// Distance of the upper ends.
    pub d_high: f64,
    /// Whether both are within the tolerance, so that the first-order result is validated in this instance. It means
    /// something only where the ends of the simulated interval are known much better than the tolerance.
    pub validated: bool,
}

/// Half a unit of the last of `figures` significant decimal digits of `u` (JCGM 101:2008, 7.9.2).
///
/// ```
/// use groundstate::simulate::tolerance;
/// // The supplement's own example: 0.00035 g to two digits is 35 x 10^-5 g.
/// assert!((tolerance(0.00035, 2) / 0.5e-5 - 1.0).abs() < 1e-15);
/// assert!((tolerance(0.0996, 1) / 0.05 - 1.0).abs() < 1e-15);
/// ```
///
/// NaN unless `u` is positive and finite and `figures` above 0.
pub fn tolerance(u: f64, figures: u8) -> f64 {
    if !(u > 0.0 && u.is_finite()) || figures == 0 {
        return f64::NAN;
    }
    // The decimal form rounds correctly, where a logarithm would not at 0.0996.
    let digits = usize::from(figures - 1);
    let written = format!("{u:.digits$e}");
    let exponent = written.split_once('e').and_then(|(_, exponent)| exponent.parse::<i32>().ok());
    exponent.map_or(f64::NAN, |exponent| 0.5 * libm::pow(10.0, f64::from(exponent - i32::from(figures - 1))))
}

/// `None` where there is no first-order u.
pub(super) fn compare(first: Estimate, simulated: Interval, coverage: Coverage, figures: u8) -> Option<Comparison> {
    let (u, _) = expanded(first.u, first.dof, coverage);
    let tolerance = tolerance(first.u, figures);
    if !u.is_finite() || tolerance.is_nan() {
        return None;
    }
    let first_order = Interval { low: first.value - u, high: first.value + u };
    let (d_low, d_high) = ((first_order.low - simulated.low).abs(), (first_order.high - simulated.high).abs());
    let validated = d_low <= tolerance && d_high <= tolerance;
    Some(Comparison { first_order, tolerance, d_low, d_high, validated })
}
