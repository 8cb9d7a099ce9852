//! Step 3b: series of standard additions. What a series finds stands in the row of its first solution, and leads from
//! there back to the sample like any other content of an aspirated solution.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use super::measure::{self, Measured};
use super::names::Names;
use super::segments;
use crate::addition::{Origin, Series, SeriesOptions, Volumes};
use crate::curve::{Calibration, PointKind, Points};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Estimates;
use crate::finding::{Code, Finding, Subject};
use crate::glassware;
use crate::method::Method;
use crate::outcome::{AdditionSeries, Segment};
use crate::run::{Position, Reference, Role, Run};

/// The portions of one series, in order.
struct Group<'a> {
    sample: &'a str,
    members: Vec<&'a Position>,
}

/// Puts the result of every series into the row of its first solution; the others keep what the external calibration
/// says of them.
pub(super) fn all<'a>(
    run: &'a Run,
    names: &Names<'a>,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
    mut measured: Measured<'a>,
    findings: &mut Vec<Finding>,
) -> Result<Measured<'a>, Error> {
    let mut found: Vec<(usize, Estimates)> = Vec::new();
    for (series, why_not) in evaluated(run, names, method, segments, calibrations)? {
        let Ok(row) = measured.positions.binary_search_by_key(&series.position, |one| one.number) else { continue };
        let subject = Subject::Position(series.position);
        match &series.series {
            Some(line) => {
                let of_ratio = series.slope_ratio.iter().flat_map(|ratio| &ratio.findings);
                findings.extend(line.findings().iter().chain(of_ratio).cloned().map(|mut finding| {
                    finding.subject = subject.clone();
                    finding
                }));
                found.push((row, line.estimates().clone()));
            }
            None => {
                let finding = Finding::new(Code::AdditionSeriesNotEvaluated, subject).with("label", &*series.sample);
                findings.push(finding.with("reason", why_not));
                found.push((row, measure::uncalibrated(1, method)?));
            }
        }
        measured.push_series(series);
    }
    if found.is_empty() {
        return Ok(measured);
    }
    let replaced: BTreeSet<usize> = found.iter().map(|(row, _)| *row).collect();
    let others: Vec<usize> = (0..measured.positions.len()).filter(|i| !replaced.contains(i)).collect();
    let mut parts = vec![measure::chosen(&measured.solution, &others)?];
    let mut order = others;
    for (row, estimates) in found {
        parts.push(estimates);
        order.push(row);
    }
    measured.solution = measure::in_order(parts, &order, method)?;
    Ok(measured)
}

/// Every series of a run, in order. Run and method determine it, so an archive that holds them need not hold it.
///
/// # Errors
/// A table that does not say what was added.
#[cfg(feature = "serde")]
pub(crate) fn of(
    run: &Run,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
) -> Result<Vec<AdditionSeries>, Error> {
    Ok(evaluated(run, &Names::of(run), method, segments, calibrations)?.into_iter().map(|(series, _)| series).collect())
}

/// The series, each with the reason why it gives none: what readings do not allow is no error of the table.
fn evaluated(
    run: &Run,
    names: &Names<'_>,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
) -> Result<Vec<(AdditionSeries, String)>, Error> {
    let mut problems = Vec::new();
    let mut all = Vec::new();
    for Group { sample, members } in groups(run, names) {
        let amounts = match amounts(method, &members) {
            Ok(amounts) => amounts,
            Err(problem) => {
                problems.push(problem);
                continue;
            }
        };
        // The portion with the least added; of several the first.
        let least = members.iter().zip(&amounts.added).min_by(|a, b| a.1.total_cmp(b.1));
        let Some((first, _)) = least else { continue };
        let (fitted, why_not) = match fit(run, method, &members, &amounts, first.number) {
            Ok(fitted) => (Some(fitted), String::new()),
            Err(error) => {
                let reasons: Vec<&str> = error.problems().iter().map(|problem| problem.what.as_str()).collect();
                (None, reasons.join("; "))
            }
        };
        let segment = segments::base(segments, first).and_then(|segment| segment.number.checked_sub(1));
        let external = segment.and_then(|i| calibrations.get(i as usize));
        let slope_ratio =
            fitted.as_ref().zip(external).and_then(|(fitted, external)| fitted.slope_ratio(external).ok());
        let series = AdditionSeries {
            sample: sample.into(),
            position: first.number,
            positions: members.iter().map(|position| position.number).collect(),
            series: fitted,
            slope_ratio,
        };
        all.push((series, why_not));
    }
    Error::unless_empty(Kind::Table, problems, all)
}

/// The series of a run: portions of one sample and fraction, of one preparation and dilution. A series measured again
/// under the same preparation joins the first: its portions are further points.
fn groups<'a>(run: &'a Run, names: &Names<'a>) -> Vec<Group<'a>> {
    let mut known = HashMap::new();
    let mut groups: Vec<Group<'a>> = Vec::new();
    for position in run.positions.iter().filter(|position| position.role == Role::Addition) {
        let sample = sample(names, position);
        let identity = &position.identity;
        let key = (sample, &identity.fraction, &identity.preparation_id, &position.preparation.dilution);
        let at = *known.entry(key).or_insert(groups.len());
        match groups.get_mut(at) {
            Some(group) => group.members.push(position),
            None => groups.push(Group { sample, members: vec![position] }),
        }
    }
    groups
}

/// The sample that a portion belongs to: the one its row names, otherwise that of its own label.
fn sample<'a>(names: &Names<'a>, position: &'a Position) -> &'a str {
    match (&position.of, names.parent(position)) {
        (Some(_), Some(parent)) => parent.sample(),
        (Some(Reference::Label(label)), None) => label,
        _ => position.sample(),
    }
}

/// What was added to each portion.
struct Amounts {
    /// Concentration made in the measured solution, or amount where the volume changes.
    added: Vec<f64>,
    volumes: Volumes,
}

/// `added` is a concentration in the measured solution, all portions having one final volume. A spiking solution
/// (`spike_volume_ml` in all, of `spike_conc`) enlarges the portion, whose volume before is `volume_ml`.
fn amounts(method: &Method, members: &[&Position]) -> Result<Amounts, Problem> {
    let problem = |position: &Position, column: &str, what: String| {
        let label = Some(position.label.to_string());
        Problem::new(Place { row: position.row.get(), name: Some(column.into()), label }, what)
    };
    let spiked = members.iter().any(|position| position.spike_volume_ml.is_some());
    let mut amounts = Amounts { added: Vec::new(), volumes: Volumes::Equal };
    if !spiked {
        for position in members {
            let told = |error: Error| problem(position, "added_unit", error.to_string());
            let added = match (position.added, position.added_unit) {
                (Some(added), Some(unit)) => unit.convert(added, method.calibration.unit).map_err(told)?,
                (Some(added), None) if added <= 0.0 => 0.0,
                (Some(_), None) => return Err(problem(position, "added_unit", "the addition has no unit".into())),
                (None, _) => {
                    let what = "the portion does not say what was added to it".to_owned();
                    let help =
                        "give added (0 for the portion without) and added_unit, or spike_volume_ml and spike_conc";
                    return Err(problem(position, "added", what).help(help));
                }
            };
            amounts.added.push(added);
        }
        return Ok(amounts);
    }
    let mut volumes = Vec::new();
    let mut initial: Option<f64> = None;
    for position in members {
        if position.added.is_some_and(|added| added > 0.0) {
            let what = "one portion of the series has an amount, another a volume of spiking solution".to_owned();
            return Err(problem(position, "added", what).help("describe all additions of a series alike"));
        }
        let volume = position.spike_volume_ml.unwrap_or(0.0);
        volumes.push(volume);
        amounts.added.push(volume * position.spike_conc.unwrap_or(0.0));
        match (position.preparation.volume_ml, initial) {
            (Some(own), Some(first)) if own.total_cmp(&first).is_ne() => {
                let what = format!("the portions of the series have {first} and {own} mL before any addition");
                return Err(problem(position, "volume_ml", what).help("make a series from equal portions"));
            }
            (own, first) => initial = first.or(own),
        }
    }
    let (Some(initial), Some(position)) = (initial, members.first()) else {
        let what = "the volume that the additions went into is not given".to_owned();
        let problem = members.first().map(|position| problem(position, "volume_ml", what.clone()));
        let problem = problem.unwrap_or_else(|| Problem::new(Place::named("volume_ml"), what));
        return Err(problem.help("give volume_ml, the volume of solution before any addition"));
    };
    let rules = &method.preparation;
    let measured = glassware::Measured::new("volume_ml", initial, initial * rules.u.volume.unwrap_or(0.0));
    let measured = measured.and_then(|measured| match &rules.items.volume {
        Some(item) => measured.with_item(item),
        None => Ok(measured),
    });
    let initial = measured.map_err(|error| problem(position, "volume_ml", error.to_string()))?;
    amounts.volumes = Volumes::Changing { initial, added: volumes };
    Ok(amounts)
}

/// The series of `members`, portions without a reading left out.
fn fit(run: &Run, method: &Method, members: &[&Position], amounts: &Amounts, position: u32) -> Result<Series, Error> {
    let rules = &method.calibration;
    let read: Vec<usize> = (0..members.len()).filter(|i| !members[*i].readings.is_empty()).collect();
    // One index a point: a portion, or each of its readings.
    let points_of = |i: &usize| match rules.points {
        PointKind::Standards => 1,
        PointKind::Readings => members[*i].readings.len(),
    };
    let index: Vec<usize> = read.iter().flat_map(|i| std::iter::repeat_n(*i, points_of(i))).collect();
    let added: Vec<f64> = index.iter().map(|i| amounts.added[*i]).collect();
    let points = match rules.points {
        PointKind::Standards => {
            let signals: Vec<&[f64]> = read.iter().map(|i| members[*i].readings.as_slice()).collect();
            Points::from_standards(&added, &signals)?
        }
        PointKind::Readings => {
            let signals: Vec<f64> = read.iter().flat_map(|i| members[*i].readings.iter().copied()).collect();
            Points::from_readings(&added, &signals)?
        }
    };
    let volumes = match &amounts.volumes {
        Volumes::Equal => Volumes::Equal,
        Volumes::Changing { initial, added } => {
            Volumes::Changing { initial: initial.clone(), added: index.iter().map(|i| added[*i]).collect() }
        }
    };
    let options = SeriesOptions {
        noise: rules.noise.clone(),
        zeroing: rules.zeroing,
        volumes,
        aliquot: None,
        unit: rules.unit,
        stocks: rules.stock.iter().cloned().collect(),
        origin: Some(Origin { run: Arc::clone(&run.name), position }),
    };
    Series::fit(&points, &options)
}
