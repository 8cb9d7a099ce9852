//! Step 2: one calibration a segment.

use std::collections::HashMap;
use std::sync::Arc;

use crate::curve::{Calibration, FitOptions, OnBadCurve, PointKind, Points};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};
use crate::method::Method;
use crate::outcome::Segment;
use crate::run::{Position, Role, Run};

/// One poured standard: its concentration and all readings of it.
struct Poured {
    concentration: f64,
    readings: Vec<f64>,
}

pub(super) fn all(
    run: &Run,
    method: &Method,
    segments: &[Segment],
    findings: &mut Vec<Finding>,
) -> Result<Vec<Arc<Calibration>>, Error> {
    segments.iter().map(|segment| one(run, method, segment, findings).map(Arc::new)).collect()
}

fn one(run: &Run, method: &Method, segment: &Segment, findings: &mut Vec<Finding>) -> Result<Calibration, Error> {
    let fitted: Vec<&Position> = segment.fitted.iter().filter_map(|number| run.position(*number)).collect();
    let (poured, left_out) = poured(&fitted, method, findings);
    dropped_levels(&poured, &left_out, segment, method, findings);
    let concentrations: Vec<f64> = poured.iter().map(|standard| standard.concentration).collect();
    let signals: Vec<&[f64]> = poured.iter().map(|standard| standard.readings.as_slice()).collect();
    let rules = &method.calibration;
    let points = match rules.points {
        PointKind::Standards => Points::from_standards(&concentrations, &signals),
        PointKind::Readings => {
            let flat = |of: fn(&Poured) -> Vec<f64>| poured.iter().flat_map(of).collect::<Vec<f64>>();
            let x = flat(|standard| vec![standard.concentration; standard.readings.len()]);
            Points::from_readings(&x, &flat(|standard| standard.readings.clone()))
        }
    };
    let options = FitOptions {
        shape: rules.shape,
        noise: rules.noise.clone(),
        zero: rules.zero,
        zeroing: rules.zeroing,
        unit: rules.unit,
        stocks: rules.stock.iter().cloned().collect(),
        resolution: rules.resolution,
        on_bad_curve: OnBadCurve::Flag,
        ..FitOptions::default()
    };
    let calibration = points.and_then(|points| Calibration::fit(&points, &options)).map_err(|error| {
        let place = Place::named("calibration").labelled(format!("segment {}", segment.number));
        let told = |problem: &Problem| Problem { place: place.clone(), ..problem.clone() };
        let problems = error.problems().iter().map(told).collect();
        Error::unless_empty(Kind::Table, problems, ()).err().unwrap_or(error)
    })?;
    findings.extend(calibration.findings().iter().cloned().map(|mut finding| {
        finding.subject = Subject::Calibration(segment.number);
        finding
    }));
    Ok(calibration)
}

/// The standards as poured, with all readings of one poured standard together, and the positions left out.
fn poured<'a>(
    fitted: &[&'a Position],
    method: &Method,
    findings: &mut Vec<Finding>,
) -> (Vec<Poured>, Vec<&'a Position>) {
    let mut poured: Vec<Poured> = Vec::new();
    let mut known: HashMap<(&str, u64), usize> = HashMap::new();
    let mut left_out = Vec::new();
    for position in fitted {
        let subject = Subject::Position(position.number);
        if let Some(exclusion) = method.calibration.exclude.iter().find(|e| e.position == position.number) {
            findings.push(
                Finding::new(Code::PositionExcluded, subject)
                    .with("label", &*position.label)
                    .with("who", &*exclusion.who)
                    .with("when", &*exclusion.when)
                    .with("reason", &*exclusion.reason),
            );
            left_out.push(*position);
            continue;
        }
        if position.readings.is_empty() {
            findings.push(Finding::new(Code::StandardWithoutReading, subject).with("label", &*position.label));
            left_out.push(*position);
            continue;
        }
        let concentration = concentration(position);
        let id = position.identity.standard_id.as_deref();
        let at = id.map(|id| *known.entry((id, concentration.to_bits())).or_insert(poured.len()));
        match at.and_then(|at| poured.get_mut(at)) {
            Some(standard) => standard.readings.extend(&position.readings),
            None => poured.push(Poured { concentration, readings: position.readings.clone() }),
        }
    }
    (poured, left_out)
}

/// A calibration blank holds nothing; a standard what its row says.
fn concentration(position: &Position) -> f64 {
    match position.role {
        Role::CalibrationBlank => position.nominal.unwrap_or(0.0),
        _ => position.nominal.unwrap_or(f64::NAN),
    }
}

/// What leaving standards out means for the range (SW-846 Method 8000D, section 11.5.6: only from either end, which
/// moves the reporting limit or the upper limit; never from within).
fn dropped_levels(
    poured: &[Poured],
    left_out: &[&Position],
    segment: &Segment,
    method: &Method,
    findings: &mut Vec<Finding>,
) {
    let used = || poured.iter().map(|standard| standard.concentration).filter(|x| *x > 0.0);
    let (lowest, top) = (used().fold(f64::INFINITY, f64::min), used().fold(0.0, f64::max));
    for position in left_out {
        let level = concentration(position);
        if level.is_nan() || level <= 0.0 || used().any(|x| x.total_cmp(&level).is_eq()) {
            continue;
        }
        let code = if level < lowest {
            Code::LowEndDropped
        } else if level > top {
            Code::TopEndDropped
        } else {
            Code::InteriorLevelDropped
        };
        findings.push(
            Finding::new(code, Subject::Calibration(segment.number))
                .with("level", level)
                .with("unit", method.calibration.unit.name())
                .with("lowest", lowest)
                .with("top", top)
                .citing(crate::finding::Citation::transcribed(
                    "SW-846 Method 8000D",
                    "Revision 5, March 2018",
                    "section 11.5.6",
                )),
        );
    }
}
