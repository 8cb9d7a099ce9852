//! One measured position with its result.

use std::sync::Arc;

use crate::check::Conformity;
use crate::estimate::Estimate;
use crate::method::Qualification;
use crate::preparation::{Preparation, SampleLimit};
use crate::run::Role;
use crate::unit::Unit;

/// The readings of a position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measurement {
    /// Mean signal; NaN where every reading is missing.
    pub mean: f64,
    /// Number of readings in the mean.
    pub readings: u32,
    /// Standard deviation of the readings; absent for fewer than two.
    pub sd: Option<f64>,
}

/// The limits of a result, in its unit, with how they came about.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Method detection limit.
    pub mdl: Option<SampleLimit>,
    /// Limit of detection.
    pub lod: Option<SampleLimit>,
    /// Limit of quantitation.
    pub loq: Option<SampleLimit>,
}

/// Whether a result is the one to report for its sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reported {
    /// It is.
    Yes,
    /// Another position of the same sample is.
    Instead(u32),
    /// It is not a sample.
    NotASample,
}

impl Reported {
    /// Whether it is the one to report.
    pub const fn is_reported(self) -> bool {
        matches!(self, Reported::Yes)
    }
}

/// One measured position: what was read, what the solution held, what that means for the sample.
#[derive(Clone, Debug, PartialEq)]
pub struct ResultRow {
    /// Position in the run.
    pub position: u32,
    /// What it is.
    pub role: Role,
    /// Its label.
    pub label: Arc<str>,
    /// The segment it was measured in.
    pub segment: u32,
    /// Its readings.
    pub measurement: Measurement,
    /// Content of the aspirated solution, in the unit of the calibration.
    pub solution: Estimate,
    /// The way from the sample to the solution; nothing for instrument checks.
    pub preparation: Preparation,
    /// The result, in `unit`.
    pub result: Estimate,
    /// Unit of the result.
    pub unit: Unit,
    /// Expanded uncertainty and coverage factor; absent without a standard uncertainty.
    pub expanded: Option<(f64, f64)>,
    /// Limits in `unit`.
    pub limits: Limits,
    /// What the qualifiers say.
    pub qualifications: Vec<Qualification>,
    /// The text to report, rounded and censored as the method says; the values above are neither.
    pub text: String,
    /// Whether instrument checks condemn it.
    pub condemned: bool,
    /// Whether it is the one to report for its sample.
    pub reported: Reported,
    /// Statement of conformity, if the method asks for one.
    pub conformity: Option<Conformity>,
}
