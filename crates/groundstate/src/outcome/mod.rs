//! What comes out of a reduction: results, checks, calibrations, findings, and the input they came from.
//!
//! ```
//! # use groundstate::criteria::ProfileName;
//! # use groundstate::method::Method;
//! # use groundstate::reduce::reduce;
//! # use groundstate::run::Run;
//!
//! # let run = Run::builder("invented")
//! #     .standard("S1", 0.5, &[0.0562, 0.0560])
//! #     .standard("S2", 1.0, &[0.1125, 0.1121])
//! #     .standard("S3", 2.0, &[0.2238, 0.2241])
//! #     .sample("well 3", &[0.0871, 0.0868])
//! #     .build()?;
//! let outcome = reduce(&run, &Method::new("Zn", ProfileName::General)?)?;
//! println!("{}", outcome.summary());
//! println!("{}", outcome.explain("well 3")?); // readings, curve, preparation, uncertainty, rules
//! let budget = outcome.budget(4).unwrap(); // of the row at position 4
//! assert!((budget.iter().map(|line| line.share).sum::<f64>() - 1.0).abs() < 1e-12);
//! # Ok::<(), groundstate::Error>(())
//! ```

mod additions;
#[cfg(feature = "serde")]
mod diff;
mod explain;
mod matched;
mod provenance;
mod result;
mod summary;
mod table;
mod used;

pub use additions::AdditionSeries;
#[cfg(feature = "serde")]
pub use diff::{About, Cause, Change, Difference};
pub use explain::{Explanation, Step};
pub use matched::Matched;
pub(crate) use matched::all as matched;
#[cfg(feature = "serde")]
pub(crate) use provenance::MethodDigests;
pub use provenance::Provenance;
pub use result::{Limits, Measurement, Reported, ResultRow};
pub(crate) use used::Used;

use std::sync::Arc;

use crate::check::{Check, Condemnation, Judged, Standing};
use crate::curve::Calibration;
use crate::error::Error;
use crate::estimate::{BudgetLine, Contributions, Square};
use crate::finding::Finding;
use crate::method::Method;
use crate::run::Run;

/// A stretch of a run under one calibration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Segment {
    /// Number, counted from 1.
    pub number: u32,
    /// First and last position.
    pub positions: (u32, u32),
    /// Positions whose readings were fitted, ascending.
    pub fitted: Vec<u32>,
    /// The matrix whose samples it serves; none: it is the external calibration of the stretch.
    pub matrix: Option<Arc<str>>,
}

/// The outcome of reducing one run by one method. It holds its input.
#[derive(Clone, Debug)]
pub struct Outcome {
    pub(crate) method: Arc<Used>,
    pub(crate) run: Arc<Run>,
    pub(crate) provenance: Provenance,
    pub(crate) segments: Vec<Segment>,
    pub(crate) calibrations: Vec<Arc<Calibration>>,
    pub(crate) rows: Vec<ResultRow>,
    pub(crate) contributions: Contributions,
    pub(crate) additions: Vec<AdditionSeries>,
    pub(crate) verdicts: Judged,
    pub(crate) findings: Vec<Finding>,
}

/// What every budget of an outcome covers (a caution that every report must carry).
pub const SCOPE: &str = "Within-run components only; not the uncertainty of the test result.";

/// Name of what a standard uncertainty of an outcome is.
pub const U_NAME: &str = "u_analysis_within_run";

impl Outcome {
    /// The method, as it was used.
    pub fn method(&self) -> &Method {
        &self.method
    }

    /// The run, as it was read.
    pub fn run(&self) -> &Arc<Run> {
        &self.run
    }

    /// Version, schema and fingerprints.
    pub fn provenance(&self) -> &Provenance {
        &self.provenance
    }

    /// Stretches of the run, each under one calibration: the external one of a stretch, then those matched to a matrix.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// The calibrations, one a segment.
    pub fn calibrations(&self) -> &[Arc<Calibration>] {
        &self.calibrations
    }

    /// Every measured position that is not a point of a calibration, in order.
    pub fn rows(&self) -> &[ResultRow] {
        &self.rows
    }

    /// The samples, re-runs and series of standard additions included, in order.
    pub fn results(&self) -> impl Iterator<Item = &ResultRow> {
        self.rows.iter().filter(|row| row.reported != Reported::NotASample)
    }

    /// The samples' results to be reported, one a sample, in order.
    pub fn reported(&self) -> impl Iterator<Item = &ResultRow> {
        self.results().filter(|row| row.reported.is_reported())
    }

    /// The series of standard additions, in order. The row at the position of each holds its result.
    pub fn additions(&self) -> &[AdditionSeries] {
        &self.additions
    }

    /// The row at `position`.
    pub fn row(&self, position: u32) -> Option<&ResultRow> {
        let found = self.rows.binary_search_by_key(&position, |row| row.position).ok()?;
        self.rows.get(found)
    }

    /// The budget of the row at `position`, largest share first.
    pub fn budget(&self, position: u32) -> Option<Vec<BudgetLine>> {
        let found = self.rows.binary_search_by_key(&position, |row| row.position).ok()?;
        Some(self.contributions.budget(found))
    }

    /// Contributions of independent sources to every row, in the order of [`Outcome::rows`] and in each row's unit.
    pub fn contributions(&self) -> &Contributions {
        &self.contributions
    }

    /// Covariance of the results at two positions, through the sources they share.
    pub fn covariance(&self, a: u32, b: u32) -> Option<f64> {
        let find = |position| self.rows.binary_search_by_key(&position, |row| row.position).ok();
        Some(self.contributions.covariance(find(a)?, find(b)?))
    }

    /// Covariance matrix of all rows.
    ///
    /// # Errors
    /// Too many rows for a dense matrix.
    pub fn covariance_matrix(&self) -> Result<Square, Error> {
        self.contributions.covariance_matrix()
    }

    /// The checks, in order.
    pub fn checks(&self) -> &[Check] {
        &self.verdicts.checks
    }

    /// The findings, in order.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// What failed instrument checks condemn.
    pub fn condemnations(&self) -> &[Condemnation] {
        &self.verdicts.condemnations
    }

    /// What the checks say as a whole: success only where everything required is there, evaluated and passed.
    pub fn standing(&self) -> Standing {
        self.verdicts.standing()
    }
}
