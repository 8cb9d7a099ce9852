//! What a limit becomes for one sample: its basis decides by what it is multiplied.

use super::apply::same_dimension;
use super::description::{Description, Portion, Preparation};
use super::solids::{ReportBasis, Weighed};
use super::words::words;
use crate::error::{Error, Kind, Place, Problem};
use crate::glassware::Measured;
use crate::unit::{Dimension, Unit};

/// What a limit is stated for. There is no default: the two differ by orders of magnitude.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LimitBasis {
    /// For the solution that is aspirated: it is multiplied by the whole factor of the sample.
    Solution,
    /// For a sample of nominal mass or volume, final volume, dilution 1 and 100 % solids: it is multiplied by the
    /// sample's factor over the nominal factor. A method detection limit of 40 CFR 136 Appendix B is of this kind,
    /// because its spiked samples went through the whole preparation.
    SampleNominal,
}

words!(LimitBasis, "basis": Solution = "solution", SampleNominal = "sample_nominal");

/// Whether a limit may fall below its nominal value where a sample's factor is smaller than the nominal one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum LimitFloor {
    /// It follows the factor, down as well as up.
    #[default]
    FollowFactor,
    /// It never falls below the nominal value.
    NeverBelowNominal,
}

words!(LimitFloor, "floor": FollowFactor = "follow_factor", NeverBelowNominal = "never_below_nominal");

/// The nominal preparation of a method: portion and final volume, dilution 1, 100 % solids.
#[derive(Clone, Debug, PartialEq)]
pub struct Nominal(Preparation);

impl Nominal {
    /// A liquid of `volume_ml`, made up to `final_volume_ml`.
    ///
    /// # Errors
    /// A volume that is not above 0.
    pub fn liquid(volume_ml: f64, final_volume_ml: f64) -> Result<Self, Error> {
        Nominal::of(Portion::Volume(Measured::exact("volume_ml", volume_ml)?), final_volume_ml)
    }

    /// A solid of `mass_g`, made up to `final_volume_ml`.
    ///
    /// # Errors
    /// A mass or volume that is not above 0.
    pub fn solid(mass_g: f64, final_volume_ml: f64) -> Result<Self, Error> {
        Nominal::of(Portion::Mass(Measured::exact("mass_g", mass_g)?), final_volume_ml)
    }

    /// A liquid that is aspirated as it came.
    pub fn as_it_came() -> Self {
        Nominal(Preparation::none())
    }

    fn of(portion: Portion, final_volume_ml: f64) -> Result<Self, Error> {
        // Of 100 % solids wet and dry are the same, so that the two questions have no bearing here.
        let solid = matches!(portion, Portion::Mass(_));
        Ok(Nominal(Preparation::new(Description {
            portion: Some(portion),
            final_volume: Some(Measured::exact("final_volume_ml", final_volume_ml)?),
            weighed: solid.then_some(Weighed::Dry),
            report: solid.then_some(ReportBasis::Dry),
            ..Description::default()
        })?))
    }

    /// Its multiplier.
    pub fn multiplier(&self) -> f64 {
        self.0.multiplier()
    }

    /// What its results measure.
    pub fn dimension(&self) -> Dimension {
        self.0.dimension()
    }
}

/// A limit as a method states it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedLimit<'a> {
    /// The limit, from 0 up.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// What it is stated for; a limit without a basis is refused.
    pub basis: Option<LimitBasis>,
    /// The nominal preparation that it is stated for.
    pub nominal: Option<&'a Nominal>,
    /// Whether it may fall below its nominal value.
    pub floor: LimitFloor,
}

/// A limit for one sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SampleLimit {
    /// The limit as stated, in [`SampleLimit::unadjusted_unit`].
    pub unadjusted: f64,
    /// The unit of a solution for [`LimitBasis::Solution`], else that of the result.
    pub unadjusted_unit: Unit,
    /// What it is multiplied by: the sample's factor, or that over the nominal factor.
    pub ratio: f64,
    /// The limit of this sample, in [`SampleLimit::unit`].
    pub adjusted: f64,
    /// The unit of the result.
    pub unit: Unit,
    /// Whether the floor holds it at its nominal value.
    pub held_at_nominal: bool,
}

impl StatedLimit<'_> {
    /// The limit for a sample of this preparation, in `to` or else in the unit that follows from its own.
    ///
    /// # Errors
    /// No basis; no nominal preparation where one is needed; a limit of a solution that is not mass per volume, or of
    /// a sample in a unit of the wrong kind; a liquid nominal preparation for a solid, or the reverse.
    ///
    /// ```
    /// use groundstate::glassware::Measured;
    /// use groundstate::preparation::*;
    /// use groundstate::unit::Unit;
    /// // An MDL of 2 mg/kg found on portions of 1 g in 100 mL, and a sample of 0.5 g in 50 mL of 80 % solids.
    /// let nominal = Nominal::solid(1.0, 100.0)?;
    /// let mdl = StatedLimit {
    ///     value: 2.0,
    ///     unit: Unit::MilligramPerKilogram,
    ///     basis: Some(LimitBasis::SampleNominal),
    ///     nominal: Some(&nominal),
    ///     floor: LimitFloor::FollowFactor,
    /// };
    /// let sample = Preparation::new(Description {
    ///     portion: Some(Portion::Mass(Measured::exact("mass_g", 0.5)?)),
    ///     final_volume: Some(Measured::exact("final_volume_ml", 50.0)?),
    ///     solids: Some(Solids::percent(80.0, 0.0)?),
    ///     weighed: Some(Weighed::Wet),
    ///     report: Some(ReportBasis::Dry),
    ///     ..Description::default()
    /// })?;
    /// assert_eq!(mdl.of(&sample, None)?.adjusted, 2.5); // not 2 x 125
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn of(&self, sample: &Preparation, to: Option<Unit>) -> Result<SampleLimit, Error> {
        if !(self.value >= 0.0 && self.value.is_finite()) {
            return Err(Error::argument("limit", format!("{} is not a number from 0 up", self.value)));
        }
        let Some(basis) = self.basis else {
            return Err(Error::argument("basis", "it is not said what the limit is stated for").help(
                "write solution (of the solution aspirated) or sample_nominal (of a sample of nominal mass or volume)",
            ));
        };
        if let Some(nominal) = self.nominal {
            same_kind(sample, nominal)?;
        }
        let unit = to.unwrap_or(match basis {
            LimitBasis::Solution => sample.result_unit(self.unit).map_err(|_| not_of_a_solution(self.unit))?,
            LimitBasis::SampleNominal => self.unit,
        });
        same_dimension("unit", sample.dimension(), unit)?;
        match basis {
            LimitBasis::Solution => self.of_solution(sample, unit),
            LimitBasis::SampleNominal => self.of_sample(sample, unit),
        }
    }

    fn of_solution(&self, sample: &Preparation, unit: Unit) -> Result<SampleLimit, Error> {
        let natural = sample.result_unit(self.unit).map_err(|_| not_of_a_solution(self.unit))?;
        let ratio = sample.multiplier();
        let nominal = match (self.floor, self.nominal) {
            (LimitFloor::FollowFactor, _) => None,
            (LimitFloor::NeverBelowNominal, Some(nominal)) => Some(nominal.multiplier()),
            (LimitFloor::NeverBelowNominal, None) => return Err(no_nominal("never_below_nominal")),
        };
        let held = nominal.filter(|nominal| *nominal > ratio);
        Ok(SampleLimit {
            unadjusted: self.value,
            unadjusted_unit: self.unit,
            ratio,
            adjusted: natural.convert(self.value * held.unwrap_or(ratio), unit)?,
            unit,
            held_at_nominal: held.is_some(),
        })
    }

    fn of_sample(&self, sample: &Preparation, unit: Unit) -> Result<SampleLimit, Error> {
        let nominal = self.nominal.ok_or_else(|| no_nominal("a limit of basis sample_nominal"))?;
        same_dimension("limit", sample.dimension(), self.unit)?;
        let ratio = sample.multiplier() / nominal.multiplier();
        let held = self.floor == LimitFloor::NeverBelowNominal && ratio < 1.0;
        Ok(SampleLimit {
            unadjusted: self.unit.convert(self.value, unit)?,
            unadjusted_unit: unit,
            ratio,
            adjusted: self.unit.convert(if held { self.value } else { self.value * ratio }, unit)?,
            unit,
            held_at_nominal: held,
        })
    }
}

fn same_kind(sample: &Preparation, nominal: &Nominal) -> Result<(), Error> {
    if sample.dimension() == nominal.dimension() {
        return Ok(());
    }
    let (sample, nominal) = match sample.dimension() {
        Dimension::MassPerMass => ("solid", "liquid"),
        Dimension::MassPerVolume => ("liquid", "solid"),
    };
    Err(Error::argument("nominal", format!("the nominal preparation is of a {nominal}, the sample is a {sample}"))
        .help("a method for both states a nominal preparation and a limit for each"))
}

fn no_nominal(what: &str) -> Error {
    Error::argument("nominal", format!("{what} needs the nominal preparation that it refers to"))
        .help("give the nominal mass or volume and the final volume")
}

fn not_of_a_solution(unit: Unit) -> Error {
    let what = format!("a limit of basis solution is mass per volume, not {unit}");
    Error::new(
        Kind::Unit,
        Problem::new(Place::named("limit"), what).help("for a limit in sample units write sample_nominal"),
    )
}
