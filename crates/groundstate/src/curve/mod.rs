//! Calibration functions: fit, inverse, intervals, diagnostics.
//!
//! ```
//! use groundstate::curve::{Calibration, FitOptions, Points, Readings};
//! use groundstate::estimate::Column;
//!
//! let points = Points::from_readings(&[0.0, 0.5, 1.0, 2.0], &[0.0004, 0.0562, 0.1125, 0.2238])?;
//! let calibration = std::sync::Arc::new(Calibration::fit(&points, &FitOptions::default())?);
//! let found = calibration.concentration(&Readings::new(&[0.0871]).replicates(Column::One(3)))?;
//! let estimate = found.get(0).unwrap();
//! assert!((estimate.value - 0.775).abs() < 0.001 && estimate.u < 0.005); // mg/L
//! # Ok::<(), groundstate::Error>(())
//! ```

mod abreast;
mod alike;
mod calibration;
mod choice;
mod choice_tests;
mod concentrations;
mod diagnostics;
mod distance_fit;
mod fill;
mod identity;
mod inversion;
mod kernel;
mod many;
mod noise;
mod noise_choice;
mod options;
mod points;
mod readings;
mod replicated;
mod shape;
mod solve;
mod standards_error;
mod stray_light;
mod trial;
mod weighing;

pub(crate) use alike::{Alike, Which};
pub use calibration::{Calibration, Response};
pub use choice::{Candidate, Choice, ChoiceRules, ChoiceTest, Ends, Ruled, TestOutcome, choose};
pub use concentrations::Concentrations;
pub(crate) use concentrations::{Cause, Reading, Row};
pub use diagnostics::{FTest, SquaredCorrelation};
pub use distance_fit::Termination;
pub use fill::ConcentrationsOut;
pub(crate) use identity::Hasher;
pub use many::{Levels, ManyOut, ManyPoints, ManyStatus, fit_many};
pub use noise::{Noise, ReplicateModel, Sigmas};
pub use noise_choice::{NoiseSuggestion, VarianceSlope, VarianceTest, suggest_noise};
pub use options::{FitOptions, OnBadCurve, Stock, Zero, Zeroing};
pub use points::{PointKind, Points};
pub use readings::{Readings, Scatter};
pub use shape::Shape;
pub use standards_error::{CovarianceConvention, StandardsError};
pub(crate) use trial::{Moved, Refit};
pub use weighing::{Scale, ScaleFrom};
