//! Estimates with their uncertainty, stored once as contributions of independent sources.

mod column;
mod contributions;
mod dof;
mod estimates;
mod interval;
mod source;
mod status;

pub use column::Column;
pub(crate) use contributions::combined;
pub use contributions::{BudgetLine, Contributions, Square};
pub use dof::Dof;
pub use estimates::{Estimate, Estimates, expanded};
pub use interval::{Coverage, End, IntervalMethod, IntervalSet, Intervals};
pub use source::{CalibrationId, Key, Part, Source, SourceIx, SourceKind, Variance, VarianceIx};
pub use status::Status;
