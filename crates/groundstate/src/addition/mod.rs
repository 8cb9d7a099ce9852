//! Calibration inside the sample's own matrix: standard additions, matrix-matched standards, bracketing.
//!
//! Standard additions cure an influence of the matrix on the *slope*, never a signal that the matrix adds by itself.
//!
//! ```
//! use groundstate::addition::{Series, SeriesOptions};
//! use groundstate::curve::Points;
//! use groundstate::estimate::Status;
//!
//! // Signals of four portions against what was added to them, mg/L.
//! let points = Points::from_readings(&[0.0, 0.5, 1.0, 1.5], &[0.0840, 0.1262, 0.1671, 0.2090])?;
//! let found = Series::fit(&points, &SeriesOptions::default())?.estimate();
//! assert_eq!(found.status, Status::InRange);
//! assert!((found.value - 1.01).abs() < 0.01); // intercept over slope
//! # Ok::<(), groundstate::Error>(())
//! ```

mod bracketing;
mod compare;
mod fieller;
mod noise;
mod options;
mod series;
mod single;
mod sources;
mod validity;

pub use bracketing::{Bracket, BracketStandard, Bracketed};
pub use compare::{Difference, MatrixComparison, SlopeRatio, TTest, VarianceModel, compare};
pub use options::{Aliquot, Origin, SeriesOptions, Signal, Volumes};
pub use series::Series;
pub use single::{SingleAddition, SingleResult};
