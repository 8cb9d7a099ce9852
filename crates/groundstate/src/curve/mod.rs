//! Calibration functions: fit, inverse, intervals, diagnostics.

mod calibration;
mod choice;
mod choice_tests;
mod concentrations;
mod diagnostics;
mod distance_fit;
mod identity;
mod inversion;
mod kernel;
mod noise;
mod noise_choice;
mod points;
mod replicated;
mod shape;
mod solve;
mod standards_error;
mod stray_light;
mod trial;

pub use calibration::{Calibration, FitOptions, OnBadCurve, Response, Scale, ScaleFrom, Stock, Zero, Zeroing};
pub use choice::{Candidate, Choice, ChoiceRules, ChoiceTest, Ends, Ruled, TestOutcome, choose};
pub(crate) use concentrations::{Cause, Reading, Row};
pub use concentrations::{Concentrations, Readings, Scatter};
pub use diagnostics::{FTest, SquaredCorrelation};
pub use distance_fit::Termination;
pub(crate) use identity::Hasher;
pub use noise::{Noise, ReplicateModel, Sigmas};
pub use noise_choice::{NoiseSuggestion, VarianceSlope, VarianceTest, suggest_noise};
pub use points::{PointKind, Points};
pub use shape::Shape;
pub use standards_error::{CovarianceConvention, StandardsError};
pub(crate) use trial::Refit;
