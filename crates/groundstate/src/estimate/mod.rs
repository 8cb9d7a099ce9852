//! Estimates with their uncertainty, stored once as contributions of independent sources.
//!
//! ```
//! use groundstate::estimate::{Contributions, Coverage, Dof, Estimates, Key, SourceKind, Status};
//! use groundstate::unit::Unit;
//!
//! // Two results that share the error of one stock solution.
//! let mut sources = Contributions::default();
//! let known = sources.known();
//! let stock = sources.source(Key::Stock("Zn-31".into()), SourceKind::Stock, known);
//! sources.push_row([(stock, 0.03)]);
//! sources.push_row([(stock, 0.04)]);
//! assert!((sources.covariance(0, 1) - 0.03 * 0.04).abs() < 1e-18);
//! let results = Estimates::new(vec![3.0, 4.0], vec![Status::InRange; 2], Unit::MilligramPerLitre, sources)?;
//! assert_eq!(results.get(0).unwrap().u, 0.03);
//! # Ok::<(), groundstate::Error>(())
//! ```

mod column;
mod contributions;
mod dof;
mod estimates;
mod index;
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
