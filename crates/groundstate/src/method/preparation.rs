//! What the method says of the way from the sample to the solution.

use std::sync::Arc;

use super::policy::words;
use crate::error::Error;
use crate::preparation::{Nominal, ReportBasis, Weighed};

words! {
    /// What a sample is by its preparation: a measured volume or a weighed mass.
    SampleKind, "kind":
    /// A volume was taken; results are mass per volume.
    Liquid = "liquid",
    /// A mass was taken; results are mass per mass.
    Solid = "solid",
}

/// Standard uncertainties of the preparation, where the method states them. Absent means: not in the budget.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PreparationUncertainty {
    /// Of a weighing, g.
    pub mass_g: Option<f64>,
    /// Of a sample volume, relative.
    pub volume: Option<f64>,
    /// Of a final volume, relative.
    pub final_volume: Option<f64>,
    /// Of a dilution factor or of one dilution step, relative.
    pub dilution: Option<f64>,
    /// Of the per cent solids, in per cent.
    pub percent_solids: Option<f64>,
}

/// Names of the pieces that all samples share: a named piece has one error for all of them, an unnamed one a new
/// error each time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SharedItems {
    /// The balance's calibration.
    pub mass: Option<Arc<str>>,
    /// The pipette or cylinder of the sample volume.
    pub volume: Option<Arc<str>>,
    /// The flask of the final volume.
    pub final_volume: Option<Arc<str>>,
    /// The pipette and flask of the dilution.
    pub dilution: Option<Arc<str>>,
    /// The oven and balance of the per cent solids.
    pub percent_solids: Option<Arc<str>>,
}

/// A further factor that every result is multiplied by.
#[derive(Clone, Debug, PartialEq)]
pub struct ExtraFactor {
    /// Name: the same name is the same factor.
    pub name: Arc<str>,
    /// The factor, positive.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// The nominal preparation that limits are stated for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NominalPortion {
    /// Portion: mL of a liquid, g of a solid.
    pub portion: f64,
    /// Final volume, mL.
    pub final_volume_ml: f64,
}

/// What the method says of the way from the sample to the solution.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PreparationRules {
    /// In what state solids are weighed; there is no default.
    pub weighed: Option<Weighed>,
    /// What results of solids refer to; there is no default.
    pub report: Option<ReportBasis>,
    /// Final volume in mL of every prepared sample whose row gives none.
    pub final_volume_ml: Option<f64>,
    /// Standard uncertainties.
    pub u: PreparationUncertainty,
    /// Pieces that all samples share.
    pub items: SharedItems,
    /// Further factors.
    pub extra: Vec<ExtraFactor>,
    /// The nominal preparation of a liquid: mL and mL.
    pub nominal_liquid: Option<NominalPortion>,
    /// The nominal preparation of a solid: g and mL.
    pub nominal_solid: Option<NominalPortion>,
}

impl PreparationRules {
    /// The nominal preparation of samples of one kind, if the method states it.
    ///
    /// # Errors
    /// A portion or volume that is not above 0.
    pub fn nominal(&self, kind: SampleKind) -> Result<Option<Nominal>, Error> {
        match (kind, self.nominal_liquid, self.nominal_solid) {
            (SampleKind::Liquid, Some(stated), _) => Nominal::liquid(stated.portion, stated.final_volume_ml).map(Some),
            (SampleKind::Solid, _, Some(stated)) => Nominal::solid(stated.portion, stated.final_volume_ml).map(Some),
            _ => Ok(None),
        }
    }
}
