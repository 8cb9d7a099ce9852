//! The two questions about a solid: in what state was it weighed, and what does its result refer to.

use super::words::words;
use crate::error::Error;
use crate::glassware::Measured;

/// In what state a solid was weighed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Weighed {
    /// As received, with its water.
    Wet,
    /// Dried before, as the 200 series of EPA methods has it.
    Dry,
}

/// What the result of a solid refers to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ReportBasis {
    /// The sample as received.
    AsReceived,
    /// Its dry matter.
    Dry,
}

words!(Weighed, "weighed": Wet = "wet", Dry = "dry");
words!(ReportBasis, "report": AsReceived = "as_received", Dry = "dry");

/// The fraction of dry matter in a sample as received, found on another portion of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Solids {
    fraction: Measured,
    dried_at: Option<f64>,
}

impl Solids {
    /// Dry matter in per cent, with its standard uncertainty in per cent.
    ///
    /// # Errors
    /// Not above 0 and at most 100; a negative uncertainty.
    ///
    /// ```
    /// use groundstate::preparation::Solids;
    /// assert!(Solids::percent(85.2, 0.4).is_ok());
    /// assert!(Solids::percent(101.0, 0.4).unwrap_err().to_string().contains("percent_solids"));
    /// ```
    pub fn percent(percent: f64, u: f64) -> Result<Self, Error> {
        if !(percent > 0.0 && percent <= 100.0) {
            let help = if percent > 100.0 {
                "dry matter cannot be more than the sample; was moisture over dry mass meant, or another column?"
            } else {
                "leave it out where it was not determined"
            };
            let what = format!("{percent} is not a per cent of dry matter above 0 and up to 100");
            return Err(Error::argument("percent_solids", what).help(help));
        }
        Ok(Solids { fraction: Measured::new("percent_solids", percent / 100.0, u / 100.0)?, dried_at: None })
    }

    /// The fraction of dry matter as a measured quantity, with its item and degrees of freedom.
    ///
    /// # Errors
    /// Above 1.
    pub fn fraction_of(fraction: Measured) -> Result<Self, Error> {
        if fraction.value() > 1.0 {
            let what = format!("the fraction {} is more than 1", fraction.value());
            return Err(Error::argument("solids", what).help("a per cent is given as percent_solids"));
        }
        Ok(Solids { fraction, dried_at: None })
    }

    /// Moisture as per cent of the sample as received (100 minus the per cent solids; SW-846 8000D 11.10.5), with its
    /// standard uncertainty in per cent.
    ///
    /// # Errors
    /// Not from 0 up to below 100.
    pub fn from_percent_moisture(percent: f64, u: f64) -> Result<Self, Error> {
        if (0.0..100.0).contains(&percent) {
            return Solids::percent(100.0 - percent, u);
        }
        let what = format!("{percent} is not a per cent of moisture from 0 up to below 100");
        Err(Error::argument("percent_moisture", what)
            .help("it is moisture over the mass as received, not the dry mass"))
    }

    /// The temperature at which it was dried, in degrees Celsius: 105 in SW-846 (6010D 11.5), 60 in the 200 series of
    /// EPA methods. Per cent solids of the two are not the same quantity. Only carried, never computed with.
    ///
    /// # Errors
    /// Not above 0 and below 1000.
    pub fn at_temperature(self, celsius: f64) -> Result<Self, Error> {
        if celsius > 0.0 && celsius < 1000.0 {
            return Ok(Solids { dried_at: Some(celsius), ..self });
        }
        Err(Error::argument("dried_at", format!("{celsius} is not a drying temperature in degrees Celsius")))
    }

    /// The fraction of dry matter, above 0 and at most 1.
    pub fn fraction(&self) -> &Measured {
        &self.fraction
    }

    /// The temperature at which it was dried, in degrees Celsius, where it is known.
    pub fn dried_at(&self) -> Option<f64> {
        self.dried_at
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn impossible_fractions_are_refused() {
        for percent in [0.0, -5.0, 101.0, f64::NAN, f64::INFINITY] {
            let error = Solids::percent(percent, 0.1).unwrap_err();
            assert_eq!(error.problems()[0].place.name.as_deref(), Some("percent_solids"), "{error}");
        }
        assert!(Solids::percent(85.0, -0.1).is_err());
        assert!(Solids::fraction_of(Measured::exact("solids", 85.2).unwrap()).is_err());
        assert!(Solids::from_percent_moisture(100.0, 0.1).is_err());
        assert!(Solids::from_percent_moisture(-1.0, 0.1).is_err());
        assert!(Solids::percent(100.0, 0.0).unwrap().at_temperature(f64::NAN).is_err());
    }

    /// SW-846 8000D 11.10.5: per cent moisture is 100 minus the per cent solids.
    #[test]
    fn moisture_and_solids_are_complements() {
        let solids = Solids::from_percent_moisture(14.8, 0.4).unwrap();
        assert!((solids.fraction().value() - 0.852).abs() < 1e-15);
        assert!((solids.fraction().u() - 0.004).abs() < 1e-15);
        assert_eq!(solids.at_temperature(105.0).unwrap().dried_at(), Some(105.0));
    }

    #[test]
    fn words_come_back_and_slips_are_met() {
        for &word in Weighed::ALL {
            assert_eq!(Weighed::parse(word.name()).unwrap(), word);
        }
        for &word in ReportBasis::ALL {
            assert_eq!(ReportBasis::parse(word.name()).unwrap(), word);
        }
        assert!(ReportBasis::parse("as_recieved").unwrap_err().to_string().contains("did you mean \"as_received\"?"));
        assert!(Weighed::parse("moist").unwrap_err().to_string().contains("wet, dry"));
    }
}
