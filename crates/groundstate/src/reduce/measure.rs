//! Step 3: readings of every measured position turned into contents of the aspirated solution.

use std::collections::HashMap;
use std::sync::Arc;

use super::names::Names;
use super::segments;
use crate::curve::{Calibration, Readings};
use crate::error::Error;
use crate::estimate::{Column, Contributions, Dof, Estimates, Status};
use crate::finding::{Code, Finding, Subject};
use crate::method::{Method, OutlierTest, ReadingScatter};
use crate::outcome::{AdditionSeries, Measurement, Segment};
use crate::run::{Position, Run};
use crate::statistics::outlier::{self, Side};
use crate::statistics::replicates::{Replicates, replicates};

/// Every measured position in order, with the content of its solution.
pub(super) struct Measured<'a> {
    pub positions: Vec<&'a Position>,
    pub segments: Vec<u32>,
    pub measurements: Vec<Measurement>,
    pub solution: Estimates,
    /// Series of standard additions; the row at their position holds what they find.
    pub series: Vec<AdditionSeries>,
    /// Index of the series by position.
    series_at: HashMap<u32, usize>,
}

impl Measured<'_> {
    /// The series whose result stands in row `i`.
    pub fn series_at(&self, i: usize) -> Option<&AdditionSeries> {
        let position = self.positions.get(i)?.number;
        self.series.get(*self.series_at.get(&position)?)
    }

    /// Adds a series.
    pub fn push_series(&mut self, series: AdditionSeries) {
        self.series_at.entry(series.position).or_insert(self.series.len());
        self.series.push(series);
    }
}

pub(super) fn all<'a>(
    run: &'a Run,
    names: &Names<'_>,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
    findings: &mut Vec<Finding>,
) -> Result<Measured<'a>, Error> {
    for position in &run.positions {
        flag_outliers(position, method, findings);
    }
    let positions: Vec<&Position> = run.positions.iter().filter(|p| !p.role.is_calibration()).collect();
    let of_segment: Vec<u32> = positions
        .iter()
        .map(|p| segments::at(names, method, segments, p).map_or(0, |segment| segment.number))
        .collect();
    let scatter: Vec<Option<Replicates>> = positions.iter().map(|p| replicates(&p.readings).ok()).collect();
    let measurements = scatter.iter().map(measurement).collect();

    // One batch a segment and kind of scatter; the batches are put back in order at the end.
    let mut parts: Vec<Estimates> = Vec::new();
    let mut order: Vec<usize> = Vec::new();
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); segments.len() + 1];
    for (i, number) in of_segment.iter().enumerate() {
        if let Some(members) = members.get_mut(*number as usize) {
            members.push(i);
        }
    }
    for (number, of_this) in (0_u32..).zip(members) {
        let Some(calibration) = number.checked_sub(1).and_then(|i| calibrations.get(i as usize)) else {
            if !of_this.is_empty() {
                parts.push(uncalibrated(of_this.len(), method)?);
                order.extend(&of_this);
            }
            continue;
        };
        let owns =
            |i: &usize| method.calibration.reading_scatter == ReadingScatter::Own && sd_of(&scatter[*i]).is_some();
        let (own, model): (Vec<usize>, Vec<usize>) = of_this.into_iter().partition(owns);
        for (batch, has_own) in [(model, false), (own, true)] {
            if batch.is_empty() {
                continue;
            }
            let found = calibration.concentration(&readings(&batch, &scatter, has_own))?;
            findings.extend(found.findings().into_iter().map(|mut finding| {
                finding.subject = Subject::Calibration(number);
                finding
            }));
            let numbers: Vec<u32> = batch.iter().map(|i| positions[*i].number).collect();
            parts.push(found.estimates_of(&run.name, &numbers)?);
            order.extend(&batch);
        }
    }
    let solution = in_order(parts, &order, method)?;
    for (position, status) in positions.iter().zip(solution.statuses()) {
        if *status == Status::NoReading {
            findings.push(
                Finding::new(Code::NoReading, Subject::Position(position.number)).with("label", &*position.label),
            );
        }
    }
    Ok(Measured {
        positions,
        segments: of_segment,
        measurements,
        solution,
        series: Vec::new(),
        series_at: HashMap::new(),
    })
}

fn measurement(scatter: &Option<Replicates>) -> Measurement {
    match scatter {
        Some(found) => Measurement { mean: found.mean, readings: found.count as u32, sd: found.sd },
        None => Measurement { mean: f64::NAN, readings: 0, sd: None },
    }
}

fn sd_of(scatter: &Option<Replicates>) -> Option<f64> {
    scatter.as_ref().and_then(|found| found.sd)
}

/// The readings of a batch: means, counts, and where asked for each sample's own scatter.
fn readings(batch: &[usize], scatter: &[Option<Replicates>], own: bool) -> Readings {
    let of = |i: &usize| scatter[*i].as_ref();
    let means: Vec<f64> = batch.iter().map(|i| of(i).map_or(f64::NAN, |found| found.mean)).collect();
    let counts = batch.iter().map(|i| of(i).map_or(1, |found| found.count as u32)).collect();
    let readings = Readings::new(&means).replicates(Column::Each(counts));
    if !own {
        return readings;
    }
    let u = batch.iter().map(|i| of(i).and_then(Replicates::standard_error).unwrap_or(0.0)).collect();
    let dof = batch.iter().map(|i| of(i).map_or(Dof::NONE, |found| Dof::count(found.count - 1))).collect();
    readings.with_u(Column::Each(u), Column::Each(dof))
}

/// Positions before the first calibration.
pub(super) fn uncalibrated(count: usize, method: &Method) -> Result<Estimates, Error> {
    let mut empty = Contributions::default();
    (0..count).for_each(|_| empty.push_row([]));
    Estimates::new(vec![f64::NAN; count], vec![Status::NotCalibrated; count], method.calibration.unit, empty)
}

/// The rows of all parts in the order of their positions.
pub(super) fn in_order(mut parts: Vec<Estimates>, order: &[usize], method: &Method) -> Result<Estimates, Error> {
    if order.is_sorted()
        && parts.len() == 1
        && let Some(only) = parts.pop()
    {
        return Ok(only);
    }
    let tables: Vec<&Contributions> = parts.iter().map(Estimates::contributions).collect();
    let joined = Contributions::join(&tables)?;
    let values = parts.iter().flat_map(|part| part.values().iter().copied()).collect();
    let statuses = parts.iter().flat_map(|part| part.statuses().iter().copied()).collect();
    let all = Estimates::new(values, statuses, method.calibration.unit, joined)?;
    let mut rows: Vec<usize> = (0..order.len()).collect();
    rows.sort_by_key(|row| order[*row]);
    chosen(&all, &rows)
}

/// The estimates `rows`, in that order.
pub(super) fn chosen(estimates: &Estimates, rows: &[usize]) -> Result<Estimates, Error> {
    estimates.select(rows).ok_or_else(|| Error::argument("rows", "a row past the last"))
}

/// Flags an outlying reading; it stays in its mean. Of three readings of limited resolution any two equal ones would
/// make an outlier of the third, so four are asked for.
fn flag_outliers(position: &Position, method: &Method, findings: &mut Vec<Finding>) {
    if position.readings.len() < 4 {
        return;
    }
    let alpha = method.calibration.outlier_alpha;
    let test = match method.calibration.outliers {
        OutlierTest::Grubbs => outlier::grubbs(&position.readings, Side::Both, alpha),
        OutlierTest::Dixon => outlier::dixon(&position.readings, Side::Both, alpha),
        OutlierTest::None => return,
    };
    let Some(suspect) = test.ok().filter(|suspect| suspect.significant) else { return };
    let replicate = position.replicates.get(suspect.index).copied().unwrap_or(suspect.index as u32 + 1);
    findings.push(
        Finding::new(Code::OutlyingReading, Subject::Reading { position: position.number, replicate })
            .with("label", &*position.label)
            .with("value", position.readings[suspect.index])
            .with("test", method.calibration.outliers.name())
            .with("statistic", suspect.statistic)
            .with("critical", suspect.critical),
    );
}
