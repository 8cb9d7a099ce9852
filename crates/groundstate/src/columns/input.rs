//! Columns as they come in.

use std::num::NonZeroUsize;

use crate::error::{Error, Kind, Place, Problem};
use crate::run::Role;
use crate::statistics::replicates::Replicates;

/// Readings of many runs, one row a reading, in any order. Every column has the same number of rows.
#[derive(Clone, Copy, Debug, Default)]
pub struct ColumnsRef<'a> {
    /// Code of the run.
    pub run: &'a [u32],
    /// Place in the run; ascending in time.
    pub position: &'a [u32],
    /// Code of the role: an index into `roles`.
    pub role: &'a [u32],
    /// The roles that the codes mean, such as [`Role::ALL`].
    pub roles: &'a [Role],
    /// Number of the reading within its position, [`u32::MAX`] where it has none.
    pub replicate: Option<&'a [u32]>,
    /// The readings, in units of the signal; NaN is a missing one.
    pub absorbance: &'a [f64],
    /// True value of standards and instrument checks, in the unit of the calibration; NaN where there is none.
    pub nominal: Option<&'a [f64]>,
    /// Dilution factor from the aspirated solution back to the sample, 1 or more; NaN means 1. Its relative standard
    /// uncertainty is the method's.
    pub dilution: Option<&'a [f64]>,
}

/// When the readings of a position scatter too much.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct ReplicateLimit {
    /// Largest standard deviation, in units of the signal.
    pub sd: f64,
    /// Largest relative standard deviation, %. Flagged is what exceeds both, so that `sd` keeps blanks out of it.
    pub rsd_percent: f64,
}

impl ReplicateLimit {
    pub(super) fn is_exceeded_by(self, readings: &Replicates) -> bool {
        readings.sd.is_some_and(|sd| sd > self.sd && 100.0 * sd > self.rsd_percent * readings.mean.abs())
    }
}

/// How columns are reduced, besides the method.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnOptions {
    /// How many threads work (one without the feature `parallel`). They change no bit of the result.
    pub threads: NonZeroUsize,
    /// The limit of replicate scatter; none by default, as methods have none for samples.
    pub replicates: Option<ReplicateLimit>,
}

impl Default for ColumnOptions {
    fn default() -> Self {
        ColumnOptions { threads: NonZeroUsize::MIN, replicates: None }
    }
}

impl ColumnsRef<'_> {
    /// Whether the columns go together.
    pub(super) fn check(&self) -> Result<(), Error> {
        let rows = self.absorbance.len();
        let mut problems = Vec::new();
        let lengths = [
            ("run", Some(self.run.len())),
            ("position", Some(self.position.len())),
            ("role", Some(self.role.len())),
            ("replicate", self.replicate.map(<[u32]>::len)),
            ("nominal", self.nominal.map(<[f64]>::len)),
            ("dilution", self.dilution.map(<[f64]>::len)),
        ];
        for (name, length) in lengths {
            if let Some(length) = length.filter(|length| *length != rows) {
                let what = format!("the column has {length} rows and the column absorbance {rows}");
                problems.push(Problem::new(Place::named(name), what));
            }
        }
        if rows >= u32::MAX as usize {
            let what = format!("{rows} rows are too many for one call");
            problems.push(Problem::new(Place::named("absorbance"), what).help("reduce them in parts, run by run"));
        }
        let known = u32::try_from(self.roles.len()).unwrap_or(u32::MAX);
        let past = |code: u32| code >= known;
        // Without a branch a row, as a rule.
        let wrong = self.role.iter().fold(false, |wrong, code| wrong | past(*code));
        if let Some(row) = wrong.then(|| self.role.iter().position(|code| past(*code))).flatten() {
            let what = format!("role code {} is not in a dictionary of {} roles", self.role[row], self.roles.len());
            problems.push(Problem::new(Place::cell(row as u64 + 1, "role"), what));
        }
        Error::unless_empty(Kind::Table, problems, ())
    }
}
