//! Calibration inside the sample's own matrix: standard additions, matrix-matched standards, bracketing.
//!
//! Standard additions cure an influence of the matrix on the *slope*, never a signal that the matrix adds by itself.

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

// The code of the explanation compiles and runs with the documentation tests.
#[cfg(doctest)]
#[doc = include_str!("../../../../docs/explanation/standard-additions.md")]
struct Explanation;
