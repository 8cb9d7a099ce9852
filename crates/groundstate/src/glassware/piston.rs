//! Piston pipettes: maximum permissible errors of ISO 8655-2.

use super::{Distribution, Measured, standard_uncertainty};
use crate::error::Error;
use crate::finding::Citation;

/// A piston pipette with its maximum permissible errors.
///
/// The limits are given in microlitres for the nominal (largest) volume and hold, unchanged, at every volume that can
/// be set: a pipette of 1000 uL may be wrong by 8 uL at 1000 uL (0.8 %) and by the same 8 uL at 200 uL (4 %).
///
/// ```
/// use groundstate::glassware::{Distribution, PistonPipette};
/// let pipette = PistonPipette::iso_8655(1000.0)?;
/// let set = pipette.delivering(200.0, Distribution::Rectangular)?;
/// assert_eq!(set.value().to_string(), "0.2"); // mL
/// assert!((set.relative_u() - (0.04_f64 * 0.04 / 3.0 + 0.015 * 0.015).sqrt()).abs() < 1e-15);
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct PistonPipette {
    nominal_ul: f64,
    systematic_ul: f64,
    random_ul: f64,
}

/// Nominal volume, systematic and random limit in uL: the table of 2002, from memory; the row of 1000 uL is restated.
const LIMITS: [(f64, f64, f64); 13] = [
    (1.0, 0.05, 0.05),
    (2.0, 0.08, 0.04),
    (5.0, 0.125, 0.075),
    (10.0, 0.12, 0.08),
    (20.0, 0.20, 0.10),
    (50.0, 0.50, 0.20),
    (100.0, 0.80, 0.30),
    (200.0, 1.6, 0.6),
    (500.0, 4.0, 1.5),
    (1000.0, 8.0, 3.0),
    (2000.0, 16.0, 6.0),
    (5000.0, 40.0, 15.0),
    (10_000.0, 60.0, 30.0),
];

impl PistonPipette {
    /// A pipette of type A with the limits of ISO 8655-2 (2002) for its nominal volume in microlitres. The figures are
    /// from memory and were revised in 2022: see [`PistonPipette::CITATION`].
    ///
    /// # Errors
    /// A nominal volume that the table does not list.
    pub fn iso_8655(nominal_ul: f64) -> Result<Self, Error> {
        match LIMITS.iter().find(|(listed, ..)| (listed - nominal_ul).abs() < 1e-9) {
            Some(&(nominal_ul, systematic_ul, random_ul)) => Ok(PistonPipette { nominal_ul, systematic_ul, random_ul }),
            None => {
                let sizes: Vec<String> = LIMITS.iter().map(|(listed, ..)| listed.to_string()).collect();
                Err(Error::argument("nominal_ul", format!("no limits are listed for {nominal_ul} uL"))
                    .help(format!("give the limits of its certificate; listed in uL: {}", sizes.join(", "))))
            }
        }
    }

    /// A pipette with limits of its own, in microlitres: of the systematic error, and of the standard deviation.
    ///
    /// # Errors
    /// A nominal volume that is not above 0; a limit that is negative or not finite.
    pub fn with_limits(nominal_ul: f64, systematic_ul: f64, random_ul: f64) -> Result<Self, Error> {
        Measured::exact("nominal_ul", nominal_ul)?;
        for (name, limit) in [("systematic_ul", systematic_ul), ("random_ul", random_ul)] {
            if !(limit >= 0.0 && limit.is_finite()) {
                return Err(Error::argument(name, format!("{limit} is not a number from 0 up")));
            }
        }
        Ok(PistonPipette { nominal_ul, systematic_ul, random_ul })
    }

    /// Where the table of [`PistonPipette::iso_8655`] comes from.
    pub const CITATION: Citation = Citation::unverified("ISO 8655-2", "2002", "maximum permissible errors");

    /// Nominal volume in microlitres.
    pub fn nominal_ul(&self) -> f64 {
        self.nominal_ul
    }

    /// Limit of the systematic error in microlitres, at every volume set.
    pub fn systematic_ul(&self) -> f64 {
        self.systematic_ul
    }

    /// Limit of the random error (a standard deviation) in microlitres, at every volume set.
    pub fn random_ul(&self) -> f64 {
        self.random_ul
    }

    /// The volume it delivers when set to `selected_ul` microlitres, in millilitres. Its systematic limit becomes a
    /// standard uncertainty by `distribution`; its random limit is the repeatability of the delivery.
    ///
    /// # Errors
    /// A volume that is not above 0 or is more than the nominal one.
    pub fn delivering(&self, selected_ul: f64, distribution: Distribution) -> Result<Measured, Error> {
        Measured::exact("selected_ul", selected_ul)?;
        if selected_ul > self.nominal_ul {
            let what = format!("{selected_ul} uL is more than the {} uL that the pipette holds", self.nominal_ul);
            return Err(Error::argument("selected_ul", what));
        }
        let systematic = standard_uncertainty(self.systematic_ul, distribution)?;
        Measured::new("selected_ul", selected_ul / 1000.0, systematic / 1000.0)?
            .with_repeatability(self.random_ul / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table lists each limit twice, as per cent of the nominal volume and in uL (ISO 8655-2:2002, from memory).
    #[test]
    fn microlitres_and_per_cent_agree() {
        let systematic = [5.0, 4.0, 2.5, 1.2, 1.0, 1.0, 0.8, 0.8, 0.8, 0.8, 0.8, 0.8, 0.6];
        let random = [5.0, 2.0, 1.5, 0.8, 0.5, 0.4, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3];
        for (i, (nominal, systematic_ul, random_ul)) in LIMITS.iter().enumerate() {
            assert!((100.0 * systematic_ul / nominal - systematic[i]).abs() < 1e-12, "{nominal}");
            assert!((100.0 * random_ul / nominal - random[i]).abs() < 1e-12, "{nominal}");
        }
    }

    #[test]
    fn volumes_outside_are_refused() {
        let pipette = PistonPipette::iso_8655(100.0).unwrap();
        for selected in [0.0, -1.0, 100.1, f64::NAN] {
            assert!(pipette.delivering(selected, Distribution::Rectangular).is_err());
        }
        assert!(PistonPipette::iso_8655(300.0).unwrap_err().to_string().contains("200, 500"));
        assert!(PistonPipette::with_limits(100.0, -1.0, 0.1).is_err());
        assert!(PistonPipette::with_limits(0.0, 1.0, 0.1).is_err());
    }
}
