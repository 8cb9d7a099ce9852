//! Step 1: the stretches of a run, each under the calibration that opens it.

use std::sync::Arc;

use super::names::Names;
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};
use crate::method::{MatchedStandards, Method};
use crate::outcome::Segment;
use crate::run::{Position, Role, Run};

/// A block of calibration positions with a standard in it opens a segment, and one more for every matrix that has
/// standards of its own in it. A calibration blank by itself does not: it has no slope to give.
pub(super) fn of(run: &Run, method: &Method, findings: &mut Vec<Finding>) -> Result<Vec<Segment>, Error> {
    let matched = &method.calibration.matched;
    let mut segments: Vec<Segment> = Vec::new();
    let positions = &run.positions;
    let mut at = 0;
    let mut before = 0;
    while at < positions.len() {
        let block = positions[at..].iter().take_while(|position| position.role.is_calibration()).count();
        let (opening, number) = (&positions[at..at + block], positions[at].number);
        if opening.iter().any(|position| position.role == Role::Standard) {
            let fitted = |of: &dyn Fn(&&Position) -> bool| -> Vec<u32> {
                opening.iter().filter(of).map(|position| position.number).collect()
            };
            let external = fitted(&|position| !matched.iter().any(|one| belongs(position, one)));
            if !external.iter().filter_map(|number| run.position(*number)).any(|one| one.role == Role::Standard) {
                return Err(only_matched(&opening[0]));
            }
            let mut open = |matrix: Option<Arc<str>>, fitted: Vec<u32>| {
                let number_of = segments.len() as u32 + 1;
                segments.push(Segment { number: number_of, positions: (number, number), fitted, matrix });
            };
            open(None, external);
            for one in matched {
                let own = fitted(&|position| belongs(position, one));
                if own.iter().filter_map(|number| run.position(*number)).any(|one| one.role == Role::Standard) {
                    open(Some(Arc::clone(&one.matrix)), own);
                }
            }
            mixed(opening, matched, number, findings);
        } else {
            for lone in opening {
                findings.push(
                    Finding::new(Code::LoneCalibrationBlank, Subject::Position(lone.number))
                        .with("label", &*lone.label),
                );
            }
        }
        let follow = positions[at + block..].iter().take_while(|position| !position.role.is_calibration());
        let (measured, series) =
            follow.fold((0, 0), |(all, series), one| (all + 1, series + usize::from(one.role == Role::Addition)));
        let end = at + block + measured;
        let first = segments.last().map(|segment| segment.positions.0);
        if first.is_none() {
            // A series of additions brings its calibration with it.
            before += measured - series;
        }
        for segment in segments.iter_mut().rev().take_while(|segment| Some(segment.positions.0) == first) {
            segment.positions.1 = positions[end - 1].number;
        }
        at = end;
    }
    if segments.is_empty() && !positions.iter().any(|position| position.role == Role::Addition) {
        let what = format!("run {:?} has no standards, so nothing can be calibrated", run.name);
        let problem = Problem::new(Place::named("role"), what).help("mark the standards with the role standard");
        return Err(Error::new(Kind::Table, problem));
    }
    if before > 0 {
        let finding = Finding::new(Code::BeforeCalibration, Subject::Run);
        findings.push(finding.with("count", before));
    }
    Ok(segments)
}

/// The external calibration that `position` stands under; none before the first.
pub(super) fn base<'a>(segments: &'a [Segment], position: &Position) -> Option<&'a Segment> {
    let begun = segments.partition_point(|segment| segment.positions.0 <= position.number);
    segments.get(..begun)?.iter().rev().find(|segment| segment.matrix.is_none())
}

/// The calibration that `position` is read from: that of its matrix where the method names one, and then no other.
/// None before the first calibration, and where standards of its matrix are wanting.
pub(super) fn at<'a>(
    names: &Names<'_>,
    method: &Method,
    segments: &'a [Segment],
    position: &Position,
) -> Option<&'a Segment> {
    let base = base(segments, position)?;
    if position.role.is_instrument_check() || method.calibration.matched.is_empty() {
        return Some(base);
    }
    let matrix = matrix(names, position).filter(|own| method.calibration.matched.iter().any(|one| one.matrix == **own));
    match matrix {
        None => Some(base),
        Some(own) => {
            let start = base.positions.0;
            let first = segments.partition_point(|one| one.positions.0 < start);
            let together = segments.get(first..)?.iter().take_while(|one| one.positions.0 == start);
            together.into_iter().find(|one| one.matrix.as_deref() == Some(&**own))
        }
    }
}

/// The matrix of a position: its own, or that of what it was made from.
pub(super) fn matrix<'a>(names: &Names<'a>, position: &'a Position) -> Option<&'a Arc<str>> {
    let own = position.identity.matrix.as_ref();
    own.or_else(|| names.parent(position)?.identity.matrix.as_ref())
}

/// Whether a standard or calibration blank is one of the matched ones.
fn belongs(position: &Position, matched: &MatchedStandards) -> bool {
    let identity = &position.identity;
    match matched.standards.as_slice() {
        [] => identity.matrix.as_deref() == Some(&*matched.matrix),
        named => identity.standard_id.as_ref().is_some_and(|own| named.contains(own)),
    }
}

/// Notes standards of several matrices in one calibration, of which the method says nothing.
fn mixed(opening: &[Position], matched: &[MatchedStandards], number: u32, findings: &mut Vec<Finding>) {
    let external = opening.iter().filter(|position| !matched.iter().any(|one| belongs(position, one)));
    let mut matrices: Vec<&str> = external.filter_map(|position| position.identity.matrix.as_deref()).collect();
    matrices.sort_unstable();
    matrices.dedup();
    if matrices.len() > 1 {
        let finding = Finding::new(Code::StandardsOfSeveralMatrices, Subject::Position(number));
        findings.push(finding.with("matrices", matrices.join(", ")));
    }
}

fn only_matched(first: &Position) -> Error {
    let place = Place { row: first.row.get(), name: Some("role".into()), label: Some(first.label.to_string()) };
    let problem = Problem::new(place, "this calibration has no standards beside those that are matched to a matrix");
    let help = "add external standards: instrument checks are read from them, and the matched calibration is compared \
                with theirs";
    Error::new(Kind::Table, problem.help(help))
}
