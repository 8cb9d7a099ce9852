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
mod lanes;
mod layout;
mod line;
mod order;
mod quick;
mod rules;
mod runs;
mod shaped;
mod solve;
mod table;
mod work;

pub use input::{ColumnOptions, ColumnsRef, ReplicateLimit};
pub use shaped::ShapedRef;
pub use table::{ColumnTable, ColumnsOut, Flags};
pub use work::Work;

use crate::error::Error;
use crate::method::Method;

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
    Work::of(columns, method, options)?.table()
}

/// As [`reduce`], of runs that all have the same positions. Runs are counted from 0, positions from 1.
///
/// # Errors
/// As [`reduce`].
pub fn reduce_shaped(readings: ShapedRef<'_>, method: &Method, options: &ColumnOptions) -> Result<ColumnTable, Error> {
    Work::of_shaped(readings, method, options)?.table()
}
