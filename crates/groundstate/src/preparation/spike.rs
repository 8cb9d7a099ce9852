//! What a spike added, in the units of the result.

use std::sync::Arc;

use super::apply::{Table, same_dimension};
use super::description::{Portion, Preparation};
use super::terms::{Power, Term, Who};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Estimates, Part, SourceKind, Status};
use crate::glassware::Measured;
use crate::unit::{Dimension, Unit};

/// What was added to a portion before its preparation.
#[derive(Clone, Debug, PartialEq)]
pub enum Spike {
    /// A volume of a solution.
    Solution {
        /// Volume added, mL.
        volume_ml: Measured,
        /// Concentration of the solution, in `unit`.
        concentration: Measured,
        /// Unit of the concentration: mass per volume.
        unit: Unit,
    },
    /// An amount of analyte.
    Amount {
        /// Mass of analyte added, in micrograms.
        micrograms: Measured,
    },
}

impl Spike {
    /// What the spike added to a sample of this preparation, in `to` or else in mg/kg for a solid and mg/L for a
    /// liquid: the amount over the portion that was spiked, on the basis that its result is reported on.
    ///
    /// Final volume and dilution have no part in it, nor have further factors: a recovery is judged against what was
    /// put in. The estimate shares the sources of the portion with the result of the same `position`, so that a
    /// recovery does not count their uncertainty twice.
    ///
    /// # Errors
    /// A concentration that is not mass per volume; no portion; `to` of the wrong kind.
    ///
    /// ```
    /// use groundstate::glassware::Measured;
    /// use groundstate::preparation::*;
    /// use groundstate::unit::Unit;
    /// // 0.5 mL of 100 mg/L, which is 50 ug, on 0.5 g of a solid weighed and reported as received.
    /// let spike = Spike::Solution {
    ///     volume_ml: Measured::exact("spike_volume_ml", 0.5)?,
    ///     concentration: Measured::exact("spike_conc", 100.0)?,
    ///     unit: Unit::MilligramPerLitre,
    /// };
    /// let spiked = Preparation::new(Description {
    ///     portion: Some(Portion::Mass(Measured::exact("mass_g", 0.5)?)),
    ///     final_volume: Some(Measured::exact("final_volume_ml", 100.0)?),
    ///     weighed: Some(Weighed::Wet),
    ///     report: Some(ReportBasis::AsReceived),
    ///     ..Description::default()
    /// })?;
    /// assert_eq!(spike.added_to(&spiked, &"run 1".into(), 7, None)?.values(), [100.0]); // mg/kg
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn added_to(
        &self,
        preparation: &Preparation,
        run: &Arc<str>,
        position: u32,
        to: Option<Unit>,
    ) -> Result<Estimates, Error> {
        let Some(portion) = &preparation.description().portion else {
            let what = "an amount added becomes a concentration only over the portion it was added to";
            return Err(Error::argument("volume_ml", what).help("give mass_g or volume_ml of the spiked portion"));
        };
        // ug/g is mg/kg, ug/mL is mg/L.
        let natural = match portion {
            Portion::Mass(_) => Unit::MilligramPerKilogram,
            Portion::Volume(_) => Unit::MilligramPerLitre,
        };
        let unit = to.unwrap_or(natural);
        same_dimension("unit", preparation.dimension(), unit)?;
        let mut terms = self.terms();
        terms.extend(preparation.portion_terms());
        let micrograms = self.micrograms()?;
        let value = natural.convert(preparation.solids_multiply(micrograms / portion.measured().value()), unit)?;
        if !value.is_finite() {
            return Err(Error::argument("spike", "the concentration added is too large for a number"));
        }
        let mut table = Table::default();
        table.push_product(value, &terms, run, [position, position])?;
        Estimates::new(vec![value], vec![Status::InRange], unit, table.contributions)
    }

    /// The amount added, in micrograms.
    ///
    /// # Errors
    /// A concentration that is not mass per volume.
    pub fn micrograms(&self) -> Result<f64, Error> {
        match self {
            Spike::Amount { micrograms } => Ok(micrograms.value()),
            Spike::Solution { volume_ml, concentration, unit } => {
                if unit.dimension() != Dimension::MassPerVolume {
                    let what = format!("{unit} is not the concentration of a solution");
                    let problem = Problem::new(Place::named("spike_conc"), what).help("for example mg/L");
                    return Err(Error::new(Kind::Unit, problem));
                }
                Ok(unit.convert(concentration.value(), Unit::MicrogramPerMillilitre)? * volume_ml.value())
            }
        }
    }

    fn terms(&self) -> Vec<Term<'_>> {
        let term = |measured, part, kind| Term::new(measured, Power::Times, part, kind, Who::Position);
        match self {
            Spike::Amount { micrograms } => vec![term(micrograms, Part::Added, SourceKind::Stock)],
            Spike::Solution { volume_ml, concentration, .. } => vec![
                term(volume_ml, Part::Added, SourceKind::Volume),
                term(concentration, Part::AddedConcentration, SourceKind::Stock),
            ],
        }
    }
}

/// A spike added to a digest after digestion, seen in the solution that results.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PostDigestionSpike {
    /// Concentration that the spike adds, in the unit of the spiking solution.
    pub added: f64,
    /// What the concentration of the digest is multiplied by, because the spike dilutes it.
    pub digest_share: f64,
}

/// A post-digestion spike in digest units, corrected for its volume: of `digest_ml` of digest and `spike_ml` of a
/// solution of `concentration`, together. Volumes are taken to add up.
///
/// # Errors
/// A volume or concentration that is not above 0.
///
/// ```
/// use groundstate::preparation::post_digestion_spike;
/// // 1 mL of 50 mg/L into 9 mL of digest adds 5 mg/L, and leaves nine tenths of what was there.
/// let spike = post_digestion_spike(9.0, 1.0, 50.0)?;
/// assert_eq!((spike.added, spike.digest_share), (5.0, 0.9));
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn post_digestion_spike(digest_ml: f64, spike_ml: f64, concentration: f64) -> Result<PostDigestionSpike, Error> {
    let digest = Measured::exact("volume_ml", digest_ml)?.value();
    let spike = Measured::exact("spike_volume_ml", spike_ml)?.value();
    let concentration = Measured::exact("spike_conc", concentration)?.value();
    let together = digest + spike;
    Ok(PostDigestionSpike { added: concentration * (spike / together), digest_share: digest / together })
}
