//! Many runs of bare numbers at once: columns in, columns out, without budgets, findings, text or fingerprints.
//!
//! The figures are those of [`reduce_many`](crate::reduce::reduce_many), bit for bit: the same kernels work here, and
//! what they give goes into plain arrays. What needs labels, batches or masses (batch checks, re-runs, solids) is not
//! done; a row's way back to its sample is a dilution factor.
//!
//! ```
//! use groundstate::columns::{ColumnOptions, ColumnsRef, reduce};
//! use groundstate::criteria::ProfileName;
//! use groundstate::method::Method;
//! use groundstate::run::Role;
//!
//! let columns = ColumnsRef {
//!     run: &[0, 0, 0, 0],
//!     position: &[1, 2, 3, 4],
//!     role: &[0, 0, 0, 1],
//!     roles: &[Role::Standard, Role::Sample],
//!     absorbance: &[0.0562, 0.1125, 0.2238, 0.0871],
//!     nominal: Some(&[0.5, 1.0, 2.0, f64::NAN]),
//!     ..ColumnsRef::default()
//! };
//! let method = Method::new("Zn", ProfileName::General)?;
//! let table = reduce(columns, &method, &ColumnOptions::default())?;
//! assert_eq!(table.position, [4]);
//! assert!(table.lo[0] < table.value[0] && (table.value[0] - 0.776).abs() < 0.001); // mg/L
//! # Ok::<(), groundstate::Error>(())
//! ```

mod gather;
mod input;
mod judge;
mod line;
mod quick;
mod rules;
mod runs;
mod shaped;
mod solve;
mod table;

pub use input::{ColumnOptions, ColumnsRef, ReplicateLimit};
pub use shaped::ShapedRef;
pub use table::{ColumnTable, Flags};

use std::ops::Range;

use crate::error::Error;
use crate::method::Method;
use crate::numeric::threads::Pool;
use crate::reduce::CHUNK;
use rules::Rules;
use runs::{Scratch, Source, Tidy};
use solve::Solver;

/// Chunks whose results wait beside the table they are appended to.
const WAVE: usize = 16;

/// Reduces every run of `columns` by one method. Rows may come in any order; the table has one row a measured
/// position (samples and checks), by ascending run code and position.
///
/// A run that cannot be reduced (no standards, too few levels, a position of two roles) never stops the others: its
/// rows are `not_calibrated` and flagged, and [`ColumnTable::errors`] says why. The number of threads changes no bit.
///
/// ```
/// use groundstate::columns::{self, ColumnOptions, ColumnsRef};
/// use groundstate::criteria::ProfileName;
/// use groundstate::method::Method;
/// use groundstate::run::Role;
///
/// let columns = ColumnsRef {
///     run: &[0, 0, 0, 0],
///     position: &[1, 2, 3, 4],
///     role: &[0, 0, 0, 1],
///     roles: &[Role::Standard, Role::Sample],
///     absorbance: &[0.0562, 0.1125, 0.2238, 0.0871],
///     nominal: Some(&[0.5, 1.0, 2.0, f64::NAN]),
///     ..ColumnsRef::default()
/// };
/// let method = Method::new("Zn", ProfileName::General)?;
/// let table = columns::reduce(columns, &method, &ColumnOptions::default())?;
/// assert_eq!(table.position, [4]);
/// assert!(table.lo[0] < table.value[0] && (table.value[0] - 0.776).abs() < 0.001);
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// Columns of different lengths, a role code outside its dictionary, and a method whose parts do not go together or
/// that multiplies results by factors of its own.
pub fn reduce(columns: ColumnsRef<'_>, method: &Method, options: &ColumnOptions) -> Result<ColumnTable, Error> {
    let rules = Rules::new(method, options)?;
    columns.check()?;
    Ok(table(&Tidy::of(columns), &rules, options))
}

/// As [`reduce`], of runs that all have the same positions. Runs are counted from 0, positions from 1.
///
/// # Errors
/// As [`reduce`].
pub fn reduce_shaped(readings: ShapedRef<'_>, method: &Method, options: &ColumnOptions) -> Result<ColumnTable, Error> {
    let rules = Rules::new(method, options)?;
    let shaped = readings.check()?;
    Ok(table(&shaped, &rules, options))
}

fn table(source: &impl Source, rules: &Rules<'_>, options: &ColumnOptions) -> ColumnTable {
    let runs = source.len();
    let chunk = |i: usize| i * CHUNK..runs.min((i + 1) * CHUNK);
    let chunks: Vec<Range<usize>> = (0..runs.div_ceil(CHUNK)).map(chunk).collect();
    let one = |chunk: &Range<usize>| {
        let mut part = ColumnTable::default();
        let (mut solver, mut scratch) = (Solver::new(rules), Scratch::default());
        for run in chunk.clone() {
            solver.run(&source.lend(run, &mut scratch), source.roles(), &mut part);
        }
        part
    };
    let pool = Pool::new(options.threads);
    let mut table = ColumnTable::default();
    let mut parts = Vec::new();
    for wave in chunks.chunks(WAVE) {
        pool.map(wave, one, &mut parts);
        if table.is_empty() {
            // As many rows a chunk as these, and a little more: runs of an archive are alike.
            let rows: usize = parts.iter().map(ColumnTable::len).sum();
            table.reserve((rows + rows / 64) * chunks.len() / wave.len());
        }
        parts.drain(..).for_each(|mut part| table.append(&mut part));
    }
    table
}
