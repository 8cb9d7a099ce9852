//! Step 1: the stretches of a run, each under the calibration that opens it.

use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};
use crate::outcome::Segment;
use crate::run::{Position, Role, Run};

/// A block of calibration positions with a standard in it opens a segment. A calibration blank by itself does not:
/// it has no slope to give.
pub(super) fn of(run: &Run, findings: &mut Vec<Finding>) -> Result<Vec<Segment>, Error> {
    let mut segments: Vec<Segment> = Vec::new();
    let positions = &run.positions;
    let mut at = 0;
    let mut before = 0;
    while at < positions.len() {
        let block = positions[at..].iter().take_while(|position| position.role.is_calibration()).count();
        let (opening, number) = (&positions[at..at + block], positions[at].number);
        if opening.iter().any(|position| position.role == Role::Standard) {
            segments.push(Segment {
                number: segments.len() as u32 + 1,
                positions: (number, number),
                fitted: opening.iter().map(|position| position.number).collect(),
            });
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
        match segments.last_mut() {
            Some(segment) => segment.positions.1 = positions[end - 1].number,
            // A series of additions brings its calibration with it.
            None => before += measured - series,
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

/// The segment that `position` was measured in; none before the first calibration.
pub(super) fn at<'a>(segments: &'a [Segment], position: &Position) -> Option<&'a Segment> {
    segments.iter().rev().find(|segment| segment.positions.0 <= position.number)
}
