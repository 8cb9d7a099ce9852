//! Monte Carlo propagation of distributions (JCGM 101:2008) over the chain that a reduction goes through.
//!
//! # The model
//! In each trial
//! - the signal of every fitted point is its measured one plus an error whose variance is the calibration's scale
//!   over the point's weight: normal where the scale is known. Where it is estimated with ν degrees of freedom, one
//!   draw of ν/χ² a trial multiplies the variance for everything that rests on that estimate, readings of samples
//!   included, so that each error follows a scaled and shifted t with ν degrees of freedom (6.4.9) and coefficients
//!   and readings are jointly t;
//! - the error of the zero is added to all signals, of standards and samples alike; each stock multiplies all
//!   concentrations by its own factor; errors of the standards' concentrations are added where the fit allows for
//!   them, and where [`SimulateOptions::standards_relative_u`] asks for them;
//! - the curve is fitted again, with the weights of the first fit. The fit is linear in the signals, so unless
//!   concentrations moved this is done by the exact influence of each point on the coefficients (a curve with stray
//!   light is fitted anew);
//! - the reading of each sample is its mean plus errors with the variances that first-order propagation gives it at
//!   its content, and is turned back by the moved curve;
//! - each quantity of the preparation is its value plus its error and enters the result as it stands in the model,
//!   multiplied or divided. What results share (calibration, zero, stock, a named item or factor, the portion of a re-run)
//!   is drawn once a trial, so the results of a simulation are correlated as they should be;
//! - a series of standard additions has its signals moved in the same way, each multiplied by the growth of its volume,
//!   and is extrapolated again; the error of a growing portion's initial volume moves both.
//!
//! As all errors become small the standard deviation goes to the first-order u where every scale is known or
//! [`Scatter::Normal`] takes it for known. With ν degrees of freedom it goes to the u of a t, larger by the root of
//! ν/(ν - 2), while the interval goes to the first-order one with its coverage factor from t.
//!
//! A quotient by a slope that can come out near zero has, strictly, no moments. Where the slope is many of its
//! standard errors from zero no trial ever shows that; where it is not, the interval is to be trusted and the
//! standard deviation is not, and an adaptive simulation will not settle.

mod additive;
mod chain;
mod comparison;
mod distribution;
mod engine;
mod options;
mod result;
mod sift;
mod summary;

pub use additive::additive;
pub use comparison::{Comparison, tolerance};
pub use distribution::{Distribution, Form};
pub use engine::Ended;
pub use options::{MOST_VALUES, Of, Scatter, SimulateOptions, Tolerance, Trials};
pub use result::{NotDrawn, Simulated, Simulation};
pub use summary::{Accuracy, Interval, Summary};

use std::ops::ControlFlow;
use std::sync::Arc;

use crate::curve::{Calibration, Readings};
use crate::error::Error;
use crate::estimate::{Column, Dof};
use crate::method::{Method, ReadingScatter};
use crate::outcome::{Outcome, ResultRow};
use crate::reduce::{Names, prepared_at, reduce};
use crate::run::Run;
use chain::{Builder, Found, Measured};
use result::Asked;

/// Simulates the contents that `readings` have by `calibration`, in its unit.
///
/// ```
/// use groundstate::curve::{Calibration, FitOptions, Points, Readings};
/// use groundstate::simulate::{SimulateOptions, of_calibration};
/// # fn main() -> Result<(), groundstate::Error> {
/// let (x, y) = ([0.0, 0.5, 1.0, 1.5, 2.0], [0.0004, 0.0562, 0.1125, 0.1684, 0.2238]);
/// let calibration = Calibration::fit(&Points::from_readings(&x, &y)?, &FitOptions::default())?;
/// let options = SimulateOptions::seeded(2026).fixed(20_000);
/// let found = of_calibration(&calibration.into(), &Readings::new(&[0.0871]), &options)?;
/// let result = &found.results[0];
/// let simulated = result.distribution.as_ref().unwrap().symmetric;
/// assert!(simulated.low < result.first_order.value && result.first_order.value < simulated.high);
/// assert!(result.comparison.unwrap().validated);
/// # Ok(()) }
/// ```
///
/// # Errors
/// Options that cannot be; readings that [`Calibration::concentration`] refuses.
pub fn of_calibration(
    calibration: &Arc<Calibration>,
    readings: &Readings,
    options: &SimulateOptions,
) -> Result<Simulation, Error> {
    of_calibration_watched(calibration, readings, options, |_, _| ControlFlow::Continue(()))
}

/// As [`of_calibration`]. Between batches, about a second or less apart, `progress` is told how many trials are done of
/// the most that there may be, and may break off.
///
/// # Errors
/// As [`of_calibration`]; [`crate::error::Kind::Interrupted`] where `progress` breaks off.
pub fn of_calibration_watched(
    calibration: &Arc<Calibration>,
    readings: &Readings,
    options: &SimulateOptions,
    mut progress: impl FnMut(usize, usize) -> ControlFlow<()>,
) -> Result<Simulation, Error> {
    options.check(readings.len())?;
    let contents = calibration.concentration(readings)?;
    let run: Arc<str> = "readings".into();
    let mut builder = Builder::new(options);
    let mut asked = Vec::with_capacity(readings.len());
    for (index, position) in (0..readings.len()).zip(1_u32..) {
        let Some(first_order) = contents.get(index) else { break };
        if options.positions.as_ref().is_some_and(|wanted| !wanted.contains(&position)) {
            continue;
        }
        let not_drawn = NotDrawn::of(first_order);
        let one = Asked { position, label: Arc::from(""), unit: Some(calibration.unit()), first_order, not_drawn };
        if not_drawn.is_none() {
            builder.push(Measured {
                run: &run,
                position,
                found: Found::Reading { calibration, readings, index },
                content: first_order.value,
                multiplier: 1.0,
                shares: Vec::new(),
                first_u: first_order.u,
            })?;
        }
        asked.push(one);
    }
    Simulation::of(asked, &builder.finish()?, options, &mut progress)
}

/// Reduces `run` by `method` and simulates its results.
///
/// # Errors
/// As [`reduce`] and [`of_outcome`].
pub fn run(run: &Run, method: &Method, options: &SimulateOptions) -> Result<Simulation, Error> {
    of_outcome(&reduce(run, method)?, options)
}

/// Simulates the results of an outcome: those to be reported, or those at the positions that are asked for.
///
/// # Errors
/// Options that cannot be; a position where nothing was measured; a named source that no result has.
pub fn of_outcome(outcome: &Outcome, options: &SimulateOptions) -> Result<Simulation, Error> {
    of_outcome_watched(outcome, options, |_, _| ControlFlow::Continue(()))
}

/// As [`of_outcome`], with progress as in [`of_calibration_watched`].
///
/// # Errors
/// As [`of_outcome`]; [`crate::error::Kind::Interrupted`] where `progress` breaks off.
pub fn of_outcome_watched(
    outcome: &Outcome,
    options: &SimulateOptions,
    mut progress: impl FnMut(usize, usize) -> ControlFlow<()>,
) -> Result<Simulation, Error> {
    let rows: Vec<&ResultRow> = match &options.positions {
        None => outcome.reported().collect(),
        Some(positions) => positions.iter().map(|position| row(outcome, *position)).collect::<Result<_, _>>()?,
    };
    options.check(rows.len())?;
    let mut builder = Builder::new(options);
    let mut asked = Vec::with_capacity(rows.len());
    let names = Names::of(outcome.run());
    for row in rows {
        let calibration = row.segment.checked_sub(1).and_then(|i| outcome.calibrations().get(i as usize));
        let series = outcome.additions().iter().find(|series| series.position == row.position);
        let readings = readings(outcome.method(), row);
        let found = match (series, calibration) {
            (Some(additions), _) => additions.series.as_ref().map(Found::Additions),
            (None, Some(calibration)) => Some(Found::Reading { calibration, readings: &readings, index: 0 }),
            (None, None) => None,
        };
        let one = Asked {
            position: row.position,
            label: Arc::clone(&row.label),
            unit: Some(row.unit),
            first_order: row.result,
            not_drawn: NotDrawn::of(row.result).or(found.is_none().then_some(NotDrawn::NoValue)),
        };
        if let Some(found) = found.filter(|_| one.not_drawn.is_none()) {
            let name = &outcome.run().name;
            let portion = outcome.run().position(row.position).map(|found| prepared_at(&names, found));
            let natural = row.preparation.result_unit(outcome.method().calibration.unit)?;
            builder.push(Measured {
                run: name,
                position: row.position,
                found,
                content: row.solution.value,
                multiplier: row.preparation.multiplier() * natural.factor_to(row.unit)?,
                shares: row.preparation.shares(name, row.position, portion.unwrap_or(row.position)),
                first_u: row.result.u,
            })?;
        }
        asked.push(one);
    }
    Simulation::of(asked, &builder.finish()?, options, &mut progress)
}

fn row(outcome: &Outcome, position: u32) -> Result<&ResultRow, Error> {
    outcome.row(position).ok_or_else(|| {
        Error::argument("positions", format!("position {position} holds no measured sample or check"))
            .help("points of the calibration have no result to simulate")
    })
}

/// The reading of a row as the reduction turned it into a content.
fn readings(method: &Method, row: &ResultRow) -> Readings {
    let found = row.measurement;
    let readings = Readings::new(&[found.mean]).replicates(Column::One(found.readings.max(1)));
    match found.sd.filter(|_| method.calibration.reading_scatter == ReadingScatter::Own) {
        Some(sd) => {
            let m = found.readings as usize;
            let dof = Dof::count(m.saturating_sub(1));
            readings.with_u(Column::One(sd / (m as f64).sqrt()), Column::One(dof))
        }
        None => readings,
    }
}
