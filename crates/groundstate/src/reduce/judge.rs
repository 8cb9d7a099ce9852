//! Step 6: checks, what they condemn, and statements of conformity.

use std::collections::HashMap;
use std::sync::Arc;

use super::limits::Limited;
use super::names::Names;
use crate::check::{
    self, Added, CalibrationFigures, Conformity, Fitness, Measured, Parent, StandardReadings, conformity,
};
use crate::curve::Calibration;
use crate::error::Error;
use crate::estimate::{Estimate, Status};
use crate::glassware;
use crate::method::{Method, SignalKind};
use crate::outcome::Segment;
use crate::preparation::{Preparation, Spike, post_digestion_spike};
use crate::run::{Position, Reference, Role, Run};
use crate::statistics::replicates::replicates;

/// Positions with their limits and what the checks say of them.
pub(super) struct Judged<'a> {
    pub limited: Limited<'a>,
    pub verdicts: check::Judged,
    pub condemned: Vec<bool>,
    pub conformity: Vec<Option<Conformity>>,
    /// Top standard of the segment of each row; NaN before the first calibration.
    pub tops: Vec<f64>,
}

pub(super) fn all<'a>(
    run: &Run,
    names: &Names<'_>,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
    limited: Limited<'a>,
) -> Result<Judged<'a>, Error> {
    let prepared = &limited.prepared;
    let positions = &prepared.measured.positions;
    let mut labels: HashMap<&str, Vec<usize>> = HashMap::new();
    let named = positions.iter().any(|position| matches!(position.of, Some(Reference::Label(_))));
    for (i, position) in positions.iter().enumerate().filter(|_| named) {
        labels.entry(&position.label).or_default().push(i);
    }
    let measured: Vec<Measured> = (0..positions.len())
        .map(|i| Measured {
            parent: parent(names, &labels, &limited, positions[i]),
            ..facts(run, method, segments, &limited, i)
        })
        .collect();
    let figures: Vec<CalibrationFigures> =
        segments.iter().zip(calibrations).map(|(segment, found)| figures(run, method, segment, found)).collect();
    let verdicts = check::judge(&measured, &figures, &method.criteria)?;
    // A series is as good as the worst of its portions.
    let numbers = |i: usize| match prepared.measured.series_at(i) {
        Some(series) => series.positions.as_slice(),
        None => std::slice::from_ref(&positions[i].number),
    };
    let condemned: Vec<bool> =
        (0..positions.len()).map(|i| numbers(i).iter().any(|one| verdicts.condemned.contains(one))).collect();
    let conformity = (0..positions.len())
        .map(|i| {
            let limit = method
                .limits
                .action_for(prepared.kinds[i])
                .filter(|_| positions[i].role == Role::Sample || prepared.measured.series_at(i).is_some())?;
            let fitness = numbers(i).iter().map(|one| verdicts.fitness(*one)).find(|fitness| *fitness != Fitness::Fit);
            let result = converted(prepared.results[i], prepared.units[i].factor_to(limit.unit).ok()?);
            Some(conformity(&result, limit, method.reporting.coverage, fitness.unwrap_or(Fitness::Fit)))
        })
        .collect();
    let top =
        |segment: &u32| segment.checked_sub(1).and_then(|i| calibrations.get(i as usize)).map_or(f64::NAN, |c| c.top());
    let tops = prepared.measured.segments.iter().map(top).collect();
    Ok(Judged { limited, verdicts, condemned, conformity, tops })
}

fn converted(estimate: Estimate, factor: f64) -> Estimate {
    Estimate { value: estimate.value * factor, u: estimate.u * factor, ..estimate }
}

/// The facts of row `i` that checks look at.
fn facts(run: &Run, method: &Method, segments: &[Segment], limited: &Limited<'_>, i: usize) -> Measured {
    let prepared = &limited.prepared;
    let position = prepared.measured.positions[i];
    let solution = prepared.solutions[i];
    // Checks of the instrument speak for their stretch, whatever calibration a position is read from.
    let stretch = super::segments::base(segments, position).map_or(0, |segment| segment.number);
    let unit = method.calibration.unit;
    let limits = &limited.limits[i];
    let multiplier = prepared.preparations[i].multiplier();
    // A limit in result units is one in solution units over the same factor.
    let in_solution = |limit: f64| {
        let natural = prepared.preparations[i].result_unit(unit).ok()?;
        prepared.units[i].convert(limit, natural).ok().map(|limit| limit / multiplier)
    };
    let (mdl, loq) = (limits.mdl.map(|l| l.adjusted), limits.loq.map(|l| l.adjusted));
    let action = method.limits.action_for(prepared.kinds[i]);
    Measured {
        batch: position.identity.prep_batch.clone(),
        result: (!position.role.is_instrument_check()).then_some(prepared.results[i]),
        result_unit: prepared.units[i],
        dilution: digest_dilution(position, &prepared.preparations[i]),
        mdl,
        loq,
        solution_mdl: mdl.and_then(in_solution),
        solution_loq: loq.and_then(in_solution),
        action_limit: action.and_then(|limit| limit.unit.convert(limit.value, prepared.units[i]).ok()),
        detection: limited.detection[i],
        nominal: position.nominal,
        accept: position.accept,
        added: added(run, method, limited, i),
        calibration: prepared.measured.segments.get(i).copied(),
        ..Measured::new(position.number, position.role, &position.label, stretch, solution, unit)
    }
}

/// From the aspirated solution back to the digest, the volume of a post-digestion spike included.
fn digest_dilution(position: &Position, preparation: &Preparation) -> f64 {
    let dilution = preparation.description().dilution.factor();
    match (position.role, position.spike_volume_ml, digest_ml(position)) {
        (Role::PostDigestionSpike, Some(spike), Some(digest)) if digest > 0.0 => dilution * (digest + spike) / digest,
        _ => dilution,
    }
}

/// Volume of digest that a post-digestion spike was added to: what its row calls the volume.
fn digest_ml(position: &Position) -> Option<f64> {
    position.preparation.volume_ml
}

/// Of several positions of the parent's label the one that would be reported: in the same segment, on the curve,
/// least diluted, first.
fn parent(names: &Names<'_>, labels: &HashMap<&str, Vec<usize>>, limited: &Limited<'_>, position: &Position) -> Parent {
    let label = match &position.of {
        None => return Parent::NotNamed,
        Some(Reference::Position(number)) => return Parent::Position(*number),
        Some(Reference::Label(label)) => label,
    };
    let prepared = &limited.prepared;
    let here = prepared.measured.positions.binary_search_by_key(&position.number, |other| other.number).ok();
    let segment = here.and_then(|i| prepared.measured.segments.get(i));
    let rank = |i: &usize| {
        let elsewhere = prepared.measured.segments.get(*i) != segment;
        let off = !matches!(prepared.results[*i].status, Status::InRange | Status::BelowLowest | Status::Negative);
        (elsewhere, off)
    };
    let dilution = |i: &usize| prepared.preparations[*i].description().dilution.factor();
    let best = (labels.get(&**label).into_iter().flatten().copied())
        .filter(|i| Some(*i) != here)
        // A portion with an addition is nobody's parent; the result of its series may be.
        .filter(|i| prepared.measured.positions[*i].role != Role::Addition || prepared.measured.series_at(*i).is_some())
        .min_by(|a, b| rank(a).cmp(&rank(b)).then(dilution(a).total_cmp(&dilution(b))).then(a.cmp(b)));
    match best {
        Some(i) => Parent::Position(prepared.measured.positions[i].number),
        None => names.parent(position).map_or(Parent::NotFound(label.clone()), |p| Parent::Position(p.number)),
    }
}

/// The known addition of row `i`: in result units for matrix spikes, in units of the digest after digestion.
fn added(run: &Run, method: &Method, limited: &Limited<'_>, i: usize) -> Added {
    let prepared = &limited.prepared;
    let position = prepared.measured.positions[i];
    let told = |found: Result<f64, Error>| match found {
        Ok(amount) => Added::Amount(amount),
        Err(error) => Added::Unknown(error.to_string().into()),
    };
    match (position.spike_volume_ml, position.spike_conc, position.added) {
        (Some(volume), Some(concentration), _) if position.role == Role::PostDigestionSpike => {
            match digest_ml(position) {
                Some(digest) => {
                    // In units of the digest as it was before the spike thinned it, as its content is too.
                    told(
                        post_digestion_spike(digest, volume, concentration)
                            .map(|spike| spike.added / spike.digest_share),
                    )
                }
                None => Added::Unknown("give volume_ml, the volume of digest that was spiked".into()),
            }
        }
        (Some(volume), Some(concentration), _) => {
            let spike = || {
                Ok(Spike::Solution {
                    volume_ml: glassware::Measured::exact("spike_volume_ml", volume)?,
                    concentration: glassware::Measured::exact("spike_conc", concentration)?,
                    unit: method.calibration.unit,
                })
            };
            let amount = |spike: Spike| {
                let found =
                    spike.added_to(&prepared.preparations[i], &run.name, position.number, Some(prepared.units[i]))?;
                found.get(0).map(|e| e.value).ok_or_else(|| Error::argument("spike", "it has no amount"))
            };
            told(spike().and_then(amount))
        }
        (_, _, Some(added)) => match position.added_unit {
            Some(unit) if position.role == Role::PostDigestionSpike => {
                told(unit.convert(added, method.calibration.unit))
            }
            Some(unit) => told(unit.convert(added, prepared.units[i])),
            None => Added::Unknown("give added_unit".into()),
        },
        _ => Added::NotGiven,
    }
}

/// The figures that the acceptance of a calibration looks at.
fn figures(run: &Run, method: &Method, segment: &Segment, calibration: &Calibration) -> CalibrationFigures {
    let fitted: Vec<&Position> = segment.fitted.iter().filter_map(|number| run.position(*number)).collect();
    let excluded = |p: &&&Position| method.calibration.exclude.iter().any(|e| e.position == p.number);
    let used = || fitted.iter().filter(|p| !excluded(p) && !p.readings.is_empty());
    let standards = || used().filter(|p| p.role == Role::Standard);
    let readings = standards().filter_map(|p| {
        let found = replicates(&p.readings).ok()?;
        Some(StandardReadings { label: p.label.clone(), count: found.count as u32, rsd: found.rsd_percent()? })
    });
    let blanks = used().filter(|p| p.role == Role::CalibrationBlank).count() as u32;
    calibration_figures(method, segment.number, calibration, blanks, readings.collect())
}

/// The figures of a calibration with `blanks` blanks and these readings of its standards above zero.
pub(crate) fn calibration_figures(
    method: &Method,
    segment: u32,
    calibration: &Calibration,
    blanks: u32,
    readings: Vec<StandardReadings>,
) -> CalibrationFigures {
    let points = calibration.points();
    let above_zero = points.concentrations().iter().filter(|x| **x > 0.0).count();
    let absorbance = (method.signal_kind == SignalKind::Absorbance).then_some(());
    let extreme = |pick: fn(f64, f64) -> f64, start: f64| {
        let at = points.concentrations().iter().copied().filter(|x| *x > 0.0).fold(start, pick);
        points.concentrations().iter().position(|x| x.total_cmp(&at).is_eq()).map(|i| points.signals()[i])
    };
    let loq_standard = method.limits.loq.iter().any(|loq| {
        loq.basis == crate::method::LimitBasis::Solution
            && loq
                .unit
                .convert(loq.value, method.calibration.unit)
                .is_ok_and(|loq| loq >= calibration.lowest() * (1.0 - 1e-12))
    });
    CalibrationFigures {
        segment,
        shape: calibration.shape(),
        unit: calibration.unit(),
        standards: above_zero as u32,
        blanks,
        r: calibration.correlation(),
        r_squared: calibration.r_squared().filter(|r| r.kind() == "about_mean").map(|r| r.value()),
        percent_errors: by_level(calibration),
        rse: calibration.relative_standard_error(),
        studentized_residuals: calibration.studentised_residuals(),
        readings,
        lowest_absorbance: absorbance.filter(|()| !loq_standard).and_then(|()| extreme(f64::min, f64::INFINITY)),
        top_absorbance: absorbance.and_then(|()| extreme(f64::max, 0.0)),
    }
}

/// Percent errors of the points above zero, by ascending level.
fn by_level(calibration: &Calibration) -> Vec<f64> {
    let mut errors: Vec<(f64, f64)> = (calibration.points().concentrations().iter().copied())
        .zip(calibration.percent_error())
        .filter(|(x, _)| *x > 0.0)
        .collect();
    errors.sort_by(|a, b| a.0.total_cmp(&b.0));
    errors.into_iter().map(|(_, error)| error).collect()
}
