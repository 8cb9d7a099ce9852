//! From a run and a method to an outcome: the list of steps.
//!
//! ```
//! use groundstate::criteria::ProfileName;
//! use groundstate::method::Method;
//! use groundstate::reduce::reduce;
//! use groundstate::run::Run;
//!
//! let run = Run::builder("invented")
//!     .standard("S1", 0.5, &[0.0562, 0.0560])
//!     .standard("S2", 1.0, &[0.1125, 0.1121])
//!     .standard("S3", 2.0, &[0.2238, 0.2241])
//!     .sample("well 3", &[0.0871, 0.0868])
//!     .build()?;
//! let outcome = reduce(&run, &Method::new("Zn", ProfileName::General)?)?;
//! let row = outcome.reported().next().unwrap();
//! assert_eq!((row.label.as_ref(), row.text.as_str(), row.unit.symbol()), ("well 3", "0.775", "mg/L"));
//! # Ok::<(), groundstate::Error>(())
//! ```

pub(crate) mod additions;
mod calibrate;
mod chosen;
#[cfg(feature = "serde")]
mod diff;
mod judge;
mod limits;
mod lots;
mod many;
mod matched;
mod measure;
mod names;
mod prepare;
mod segments;
mod write;

pub(crate) use judge::calibration_figures;
pub(crate) use limits::{adjusted, detection, least_detected};
pub use many::reduce_many;
pub(crate) use names::Names;
pub(crate) use prepare::prepared_at;

use std::sync::Arc;

use crate::error::Error;
use crate::method::Method;
use crate::outcome::{Outcome, Provenance, Used};
use crate::run::Run;

/// Reduces one run by one method.
///
/// What chemistry can do wrong (a flat curve, a failed check, a missing reading) is a status and a finding in the
/// outcome. The same input gives the same outcome, bit for bit, whatever the order of the table's rows.
///
/// # Errors
/// A method whose parts do not go together; a run without standards, or with too few levels for the shape; a
/// preparation or limit that cannot be understood. All problems of a step are named at once.
pub fn reduce(run: &Run, method: &Method) -> Result<Outcome, Error> {
    method.check()?;
    by(&Arc::new(run.clone()), &Arc::new(Used::new(method.clone())))
}

/// Reduces one run by a method that was checked.
fn by(run: &Arc<Run>, method: &Arc<Used>) -> Result<Outcome, Error> {
    let mut findings = run.findings.clone();
    let names = Names::of(run);
    let segments = segments::of(run, method, &mut findings)?;
    let calibrations = calibrate::all(run, method, &segments, &mut findings)?;
    matched::compared(run, &names, method, &segments, &calibrations, &mut findings);
    lots::compared(run, &segments, &mut findings);
    let measured = measure::all(run, &names, method, &segments, &calibrations, &mut findings)?;
    let measured = additions::all(run, &names, method, &segments, &calibrations, measured, &mut findings)?;
    let prepared = prepare::all(run, &names, method, measured, &mut findings)?;
    let limited = limits::all(run, method, prepared, &mut findings)?;
    let judged = judge::all(run, &names, method, &segments, &calibrations, limited)?;
    let chosen = chosen::all(method, &judged, &mut findings)?;
    findings.extend(judged.verdicts.findings.iter().cloned());
    let rows = write::all(method, chosen.rows)?;
    Ok(Outcome {
        provenance: provenance(run, method),
        method: Arc::clone(method),
        run: Arc::clone(run),
        segments,
        calibrations,
        rows,
        contributions: chosen.contributions,
        additions: chosen.additions,
        verdicts: judged.verdicts,
        findings,
    })
}

/// With fingerprints where the feature `serde` is on.
#[cfg(feature = "serde")]
fn provenance(run: &Run, method: &Used) -> Provenance {
    Provenance::of(&method.digests, &run.canonical())
}

#[cfg(not(feature = "serde"))]
fn provenance(_: &Run, _: &Used) -> Provenance {
    Provenance::new()
}
