//! A measured quantity: value, standard uncertainty, degrees of freedom, and the item it was measured with.

use std::sync::Arc;

use super::tolerance::combined;
use crate::error::Error;
use crate::estimate::Dof;

/// A positive quantity (a mass, a volume, a fraction, a factor) with its standard uncertainty.
///
/// The uncertainty has two parts. `u` belongs to what it was measured with: a named item keeps the same unknown
/// error wherever it is used, so results that share it are correlated. The repeatability (filling, reading,
/// temperature of the day) is new each time and is never shared. Without a name both are independent.
///
/// ```
/// use groundstate::glassware::{Distribution, Measured, standard_uncertainty};
/// let u = standard_uncertainty(0.1, Distribution::Triangular)?;
/// let flask = Measured::new("final_volume_ml", 100.0, u)?.with_item("flask 7")?.with_repeatability(0.02)?;
/// assert!((flask.u() - (u * u + 0.02 * 0.02).sqrt()).abs() < 1e-15);
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    value: f64,
    u: f64,
    dof: Dof,
    repeatability: f64,
    repeatability_dof: Dof,
    item: Option<Arc<str>>,
}

impl Measured {
    /// A quantity whose uncertainty is negligible. `name` is what an error calls it, for example `mass_g`.
    ///
    /// # Errors
    /// Zero, negative or not finite.
    pub fn exact(name: &str, value: f64) -> Result<Self, Error> {
        Measured::new(name, value, 0.0)
    }

    /// A quantity with a standard uncertainty in the same unit that is known (infinite degrees of freedom).
    /// `name` is what an error calls it.
    ///
    /// # Errors
    /// A value that is zero, negative or not finite; an uncertainty that is negative or not finite.
    pub fn new(name: &str, value: f64, u: f64) -> Result<Self, Error> {
        if !(value > 0.0 && value.is_finite()) {
            return Err(Error::argument(name, format!("{value} is not a number above 0")));
        }
        Ok(Measured {
            value,
            u: uncertainty(name, u)?,
            dof: Dof::INFINITE,
            repeatability: 0.0,
            repeatability_dof: Dof::INFINITE,
            item: None,
        })
    }

    /// The same with the degrees of freedom of `u`.
    ///
    /// # Errors
    /// None at all: such an uncertainty cannot be estimated.
    pub fn with_dof(self, dof: Dof) -> Result<Self, Error> {
        Ok(Measured { dof: above_zero(dof)?, ..self })
    }

    /// The same, measured with the item called `item`: all who name it share its `u`.
    ///
    /// # Errors
    /// An empty name.
    pub fn with_item(self, item: &str) -> Result<Self, Error> {
        match item.trim() {
            "" => Err(Error::argument("item", "the name of an item is empty").help("leave it out if it has none")),
            item => Ok(Measured { item: Some(item.into()), ..self }),
        }
    }

    /// The same with a repeatability, a standard deviation that each use brings anew.
    ///
    /// # Errors
    /// Negative or not finite.
    pub fn with_repeatability(self, u: f64) -> Result<Self, Error> {
        Ok(Measured { repeatability: uncertainty("repeatability", u)?, ..self })
    }

    /// The same with the degrees of freedom of the repeatability.
    ///
    /// # Errors
    /// None at all.
    pub fn with_repeatability_dof(self, dof: Dof) -> Result<Self, Error> {
        Ok(Measured { repeatability_dof: above_zero(dof)?, ..self })
    }

    /// The value.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Combined standard uncertainty, in the unit of the value.
    pub fn u(&self) -> f64 {
        combined(&[self.u, self.repeatability])
    }

    /// Combined standard uncertainty over value.
    pub fn relative_u(&self) -> f64 {
        self.u() / self.value
    }

    /// Effective degrees of freedom of [`Measured::u`] (Welch-Satterthwaite, JCGM 100:2008 G.4.1).
    pub fn dof(&self) -> Dof {
        let parts = [(self.u, self.dof), (self.repeatability, self.repeatability_dof)];
        Dof::effective(parts.into_iter().map(|(u, dof)| (u * u, dof)))
    }

    /// The item it was measured with.
    pub fn item(&self) -> Option<&str> {
        self.item.as_deref()
    }

    /// Its parts: standard uncertainty of the item and its degrees of freedom, repeatability and its.
    #[cfg(feature = "serde")]
    pub(crate) fn parts(&self) -> (f64, Dof, f64, Dof) {
        (self.u, self.dof, self.repeatability, self.repeatability_dof)
    }

    /// What all who name the item share: its name, standard uncertainty, degrees of freedom.
    pub(crate) fn shared(&self) -> Option<(&Arc<str>, f64, Dof)> {
        self.item.as_ref().filter(|_| self.u > 0.0).map(|item| (item, self.u, self.dof))
    }

    /// What belongs to this one measurement: standard uncertainty, degrees of freedom.
    pub(crate) fn own(&self) -> Option<(f64, Dof)> {
        let (u, dof) = match self.item {
            Some(_) => (self.repeatability, self.repeatability_dof),
            None => (self.u(), self.dof()),
        };
        (u > 0.0).then_some((u, dof))
    }
}

fn uncertainty(name: &str, u: f64) -> Result<f64, Error> {
    if u >= 0.0 && u.is_finite() {
        return Ok(u);
    }
    Err(Error::argument(name, format!("the standard uncertainty {u} is not a number from 0 up")))
}

fn above_zero(dof: Dof) -> Result<Dof, Error> {
    if dof.get() > 0.0 {
        return Ok(dof);
    }
    Err(Error::argument("dof", "0 degrees of freedom cannot carry a standard uncertainty")
        .help("leave dof out where the standard uncertainty is known"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_values_are_refused_by_name() {
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let error = Measured::exact("mass_g", value).unwrap_err();
            assert_eq!(error.problems()[0].place.name.as_deref(), Some("mass_g"));
        }
        assert!(Measured::new("mass_g", 1.0, -0.1).is_err());
        assert!(Measured::new("mass_g", 1.0, f64::NAN).is_err());
        let mass = Measured::new("mass_g", 1.0, 0.1).unwrap();
        assert!(mass.clone().with_dof(Dof::NONE).is_err());
        assert!(mass.clone().with_item(" ").is_err());
        assert!(mass.with_repeatability(f64::INFINITY).is_err());
    }

    #[test]
    fn without_a_name_nothing_is_shared() {
        let mass = Measured::new("mass_g", 2.0, 0.3).unwrap().with_repeatability(0.4).unwrap();
        assert!(mass.shared().is_none());
        assert!((mass.own().unwrap().0 - 0.5).abs() < 1e-15);
        assert!((mass.relative_u() - 0.25).abs() < 1e-15);
        let named = mass.with_item("balance").unwrap();
        assert_eq!(named.shared().map(|(item, u, _)| (&**item, u)), Some(("balance", 0.3)));
        assert_eq!(named.own().map(|(u, _)| u), Some(0.4));
        assert!(Measured::exact("mass_g", 1.0).unwrap().own().is_none());
    }

    #[test]
    fn degrees_of_freedom_are_joined() {
        let volume = Measured::new("v", 10.0, 3.0).unwrap().with_dof(Dof::count(9)).unwrap();
        assert_eq!(volume.dof(), Dof::count(9));
        let volume = volume.with_repeatability(4.0).unwrap();
        // 25^2 / (9^2 / 9): the repeatability is known and adds nothing below.
        assert!((volume.dof().get() - 625.0 / 9.0).abs() < 1e-12);
    }
}
