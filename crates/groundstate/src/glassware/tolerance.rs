//! From a tolerance to a standard uncertainty, by a named distribution.

use crate::error::Error;

/// How a quantity is thought to lie within plus and minus a half-width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Anywhere alike: half-width over the square root of 3 (JCGM 100:2008 4.3.7).
    Rectangular,
    /// Rather near the nominal value: half-width over the square root of 6 (JCGM 100:2008 4.3.9).
    Triangular,
    /// The half-width is an expanded uncertainty with this coverage factor (JCGM 100:2008 4.3.3).
    Normal {
        /// Coverage factor, above 0.
        k: f64,
    },
}

/// Relative expansion of the volume of water, per degree Celsius near 20 °C.
///
/// EURACHEM/CITAC Guide CG 4 (QUAM) 2012, Example A1 (restated). The glass, about 1e-5 per degree, is neglected.
pub const WATER_EXPANSION: f64 = 2.1e-4;

/// Standard uncertainty of plus and minus `half_width`, in its unit.
///
/// A certificate's "plus or minus" may be a tolerance or an expanded uncertainty: it has to be asked, so there is no
/// default distribution.
///
/// # Errors
/// A half-width that is negative or not finite; a coverage factor that is not above 0.
///
/// ```
/// use groundstate::glassware::{Distribution, standard_uncertainty};
/// assert_eq!(format!("{:.4}", standard_uncertainty(0.1, Distribution::Triangular)?), "0.0408");
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn standard_uncertainty(half_width: f64, distribution: Distribution) -> Result<f64, Error> {
    if !(half_width >= 0.0 && half_width.is_finite()) {
        return Err(Error::argument("half_width", format!("{half_width} is not a number from 0 up")));
    }
    let divisor = match distribution {
        Distribution::Rectangular => 3.0_f64.sqrt(),
        Distribution::Triangular => 6.0_f64.sqrt(),
        Distribution::Normal { k } if k > 0.0 && k.is_finite() => k,
        Distribution::Normal { k } => {
            return Err(Error::argument("k", format!("the coverage factor {k} is not a number above 0"))
                .help("a coverage factor of about 95 % is often 2"));
        }
    };
    Ok(half_width / divisor)
}

/// By how much `volume` (any unit) may be off when its liquid, with the relative `expansion` per degree Celsius, is up
/// to `half_range` degrees from 20 °C. The half-width of a rectangular distribution in QUAM 2012, Example A1.
///
/// # Errors
/// An argument that is negative or not finite.
pub fn temperature_half_width(volume: f64, half_range: f64, expansion: f64) -> Result<f64, Error> {
    for (name, x) in [("volume", volume), ("half_range", half_range), ("expansion", expansion)] {
        if !(x >= 0.0 && x.is_finite()) {
            return Err(Error::argument(name, format!("{x} is not a number from 0 up")));
        }
    }
    Ok(volume * half_range * expansion)
}

/// Root of the sum of squares of independent standard uncertainties (JCGM 100:2008 5.1.2). Zero for none.
pub fn combined(parts: &[f64]) -> f64 {
    match parts.iter().filter(|part| **part > 0.0).count() {
        1 => parts.iter().copied().fold(0.0, f64::max), // one alone keeps its last bit
        _ => parts.iter().map(|part| part * part).sum::<f64>().sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// QUAM 2012 Example A1: u(V) = 0.0665 mL of a 100 mL flask (inputs restated; recomputed to 20 digits).
    #[test]
    fn the_flask_of_quam_a1() {
        let rectangular = |half_width| standard_uncertainty(half_width, Distribution::Rectangular).unwrap();
        let half_width = temperature_half_width(100.0, 4.0, WATER_EXPANSION).unwrap();
        assert!((half_width - 0.084).abs() < 1e-15);
        let parts = [standard_uncertainty(0.1, Distribution::Triangular).unwrap(), 0.02, rectangular(half_width)];
        // Five roundings at most: 1e-14 relative leaves room for each.
        approx::assert_relative_eq!(combined(&parts), 0.066_473_052_184_074_31, max_relative = 1e-14);
    }

    #[test]
    fn an_expanded_uncertainty_is_divided_by_its_k() {
        assert!((standard_uncertainty(0.5, Distribution::Normal { k: 2.0 }).unwrap() - 0.25).abs() < 1e-16);
        for k in [0.0, -2.0, f64::NAN, f64::INFINITY] {
            assert!(standard_uncertainty(0.5, Distribution::Normal { k }).is_err());
        }
        assert!(standard_uncertainty(-0.5, Distribution::Rectangular).is_err());
        assert!(standard_uncertainty(f64::NAN, Distribution::Rectangular).is_err());
        assert!(temperature_half_width(100.0, -4.0, WATER_EXPANSION).is_err());
        assert!(combined(&[]).abs() < f64::MIN_POSITIVE);
    }
}
