//! How a calibration is fitted.

use std::sync::Arc;

use super::Shape;
use super::noise::Noise;
use super::standards_error::{CovarianceConvention, StandardsError};
use crate::estimate::{CalibrationId, Key};
use crate::unit::Unit;

/// What to do with a level at zero concentration.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Zero {
    /// Fit it as a point. An error where the noise model has no weight for it.
    #[default]
    Include,
    /// Leave it out.
    LeaveOut,
    /// Fit it, with 1/x and 1/x² weights held below this concentration.
    Floor(f64),
}

/// How the signals were zeroed. Unless they are raw, the zero is not an independent point, and the standard
/// uncertainty of the blank that zeroed them is a source that every reading shares.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Zeroing {
    /// As measured.
    #[default]
    Raw,
    /// A blank's signal was subtracted from all; its standard uncertainty in units of the signal.
    BlankSubtracted(f64),
    /// The instrument was set to zero on a blank; the standard uncertainty of that setting.
    Autozeroed(f64),
}

impl Zeroing {
    /// Standard uncertainty of the zero, in units of the signal.
    pub const fn u(self) -> f64 {
        match self {
            Zeroing::Raw => 0.0,
            Zeroing::BlankSubtracted(u) | Zeroing::Autozeroed(u) => u,
        }
    }
}

/// A stock solution that all standards were made from: its relative error reaches every result undiminished.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// Name: the same name is the same solution. Empty: a solution that only the calibration it stands in knows.
    pub name: Arc<str>,
    /// Relative standard uncertainty of its concentration.
    pub relative_u: f64,
}

impl Stock {
    /// The source that it is for results of `calibration`: by its name the same for every calibration, without one
    /// that calibration's own.
    pub fn key(&self, calibration: CalibrationId) -> Key {
        if self.name.is_empty() {
            Key::Stock(calibration.to_string().into())
        } else {
            Key::Stock(Arc::clone(&self.name))
        }
    }
}

/// What to do with a curve that cannot serve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum OnBadCurve {
    /// An error.
    #[default]
    Refuse,
    /// A calibration with a finding that says so; its concentrations are `not_calibrated`.
    Flag,
}

/// How to fit.
#[derive(Clone, Debug, PartialEq)]
pub struct FitOptions {
    /// Shape of the function.
    pub shape: Shape,
    /// What is assumed of the scatter.
    pub noise: Noise,
    /// What to do with a level at zero.
    pub zero: Zero,
    /// How the signals were zeroed.
    pub zeroing: Zeroing,
    /// Unit of the concentrations.
    pub unit: Unit,
    /// The stocks that all standards were made from.
    pub stocks: Vec<Stock>,
    /// Further errors of the standards' concentrations.
    pub standards_error: StandardsError,
    /// Which covariance a fit with such errors reports.
    pub convention: CovarianceConvention,
    /// Smallest step of the signal: a reading's standard uncertainty is never below this over the root of 12.
    pub resolution: Option<f64>,
    /// What to do with a curve that cannot serve.
    pub on_bad_curve: OnBadCurve,
}

impl Default for FitOptions {
    fn default() -> Self {
        FitOptions {
            shape: Shape::Line,
            noise: Noise::Equal,
            zero: Zero::Include,
            zeroing: Zeroing::Raw,
            unit: Unit::MilligramPerLitre,
            stocks: Vec::new(),
            standards_error: StandardsError::Negligible,
            convention: CovarianceConvention::default(),
            resolution: None,
            on_bad_curve: OnBadCurve::Refuse,
        }
    }
}
