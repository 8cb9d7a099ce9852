//! What a check needs to know of each position.

use std::sync::Arc;

use crate::estimate::Estimate;
use crate::run::Role;
use crate::unit::Unit;

/// What a position was made from.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Parent {
    /// Nothing was named.
    #[default]
    NotNamed,
    /// A name that no position answers to.
    NotFound(Arc<str>),
    /// This position.
    Position(u32),
}

/// The known addition of a spike.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Added {
    /// None was given.
    #[default]
    NotGiven,
    /// So much: in result units for matrix spikes, in units of the digest for post-digestion spikes.
    Amount(f64),
    /// It was given, but could not be converted; why.
    Unknown(Arc<str>),
}

/// Whether a result reaches the limit below which the method reports non-detects.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Detection {
    /// The method has no such limit.
    #[default]
    Unknown,
    /// At or above it.
    Detected,
    /// Below it.
    NotDetected,
}

/// One position as the checks see it. Whoever reduces a run fills it; [`Measured::new`] leaves everything absent that
/// is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Place in the run.
    pub position: u32,
    /// What it is for.
    pub role: Role,
    /// Its label.
    pub label: Arc<str>,
    /// The calibrated stretch it belongs to, counted from 1. A new calibration begins a new one.
    pub segment: u32,
    /// The calibration it was read from, where that is another one than the segment's: one of the same stretch that is
    /// matched to its matrix.
    pub calibration: Option<u32>,
    /// Its preparation batch. Positions without one share one batch.
    pub batch: Option<Arc<str>>,
    /// What it was made from.
    pub parent: Parent,
    /// Content of the aspirated solution, in `solution_unit`.
    pub solution: Estimate,
    /// Unit of the calibration.
    pub solution_unit: Unit,
    /// Content of the sample, in `result_unit`; absent where no preparation leads back to one.
    pub result: Option<Estimate>,
    /// Unit of results of this position.
    pub result_unit: Unit,
    /// From the aspirated solution back to the digest: 10 for a tenfold dilution. For a post-digestion spike the
    /// dilution by the spike's own volume is part of it: divided by
    /// [`digest_share`](crate::preparation::PostDigestionSpike::digest_share), by which the addition is divided too.
    pub dilution: f64,
    /// Method detection limit of this position, in `result_unit`.
    pub mdl: Option<f64>,
    /// Limit of quantitation of this position, in `result_unit`.
    pub loq: Option<f64>,
    /// Method detection limit in `solution_unit`.
    pub solution_mdl: Option<f64>,
    /// Limit of quantitation in `solution_unit`.
    pub solution_loq: Option<f64>,
    /// Action limit in `result_unit`.
    pub action_limit: Option<f64>,
    /// Whether the result is reported as detected.
    pub detection: Detection,
    /// True value: solution units for instrument checks, result units for the others.
    pub nominal: Option<f64>,
    /// The row's own acceptance range, in the unit of `nominal`.
    pub accept: Option<(f64, f64)>,
    /// Known addition.
    pub added: Added,
}

impl Measured {
    /// A position with its solution's content, and nothing else known.
    pub fn new(position: u32, role: Role, label: &str, segment: u32, solution: Estimate, unit: Unit) -> Self {
        Measured {
            position,
            role,
            label: label.into(),
            segment,
            calibration: None,
            batch: None,
            parent: Parent::NotNamed,
            solution,
            solution_unit: unit,
            result: None,
            result_unit: unit,
            dilution: 1.0,
            mdl: None,
            loq: None,
            solution_mdl: None,
            solution_loq: None,
            action_limit: None,
            detection: Detection::Unknown,
            nominal: None,
            accept: None,
            added: Added::NotGiven,
        }
    }

    /// Whether it is an analysis: neither a point of the calibration nor a check of the instrument.
    pub fn is_analysis(&self) -> bool {
        !self.role.is_calibration() && !self.role.is_instrument_check()
    }

    /// Whether it is a sample, by itself or as a portion of a series of additions.
    pub fn is_sample(&self) -> bool {
        matches!(self.role, Role::Sample | Role::Addition)
    }

    /// Content of the digest, before any dilution of the aspirated solution.
    pub fn digest(&self) -> Estimate {
        let Estimate { value, u, dof, status } = self.solution;
        Estimate { value: value * self.dilution, u: u * self.dilution, dof, status }
    }
}
