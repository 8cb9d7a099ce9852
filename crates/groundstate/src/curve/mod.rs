//! Calibration functions: fit, inverse, intervals, diagnostics.

mod calibration;
mod concentrations;
mod diagnostics;
mod identity;
mod inversion;
mod kernel;
mod noise;
mod points;
mod replicated;
mod shape;
mod solve;

pub use calibration::{Calibration, FitOptions, OnBadCurve, Response, Scale, ScaleFrom, Stock, Zero, Zeroing};
pub use concentrations::{Concentrations, Readings};
pub use diagnostics::{FTest, SquaredCorrelation};
pub use noise::{Noise, ReplicateModel, Sigmas};
pub use points::{PointKind, Points};
pub use shape::Shape;
