//! Step 2b: matrix-matched calibrations against the external ones.

use std::sync::Arc;

use super::names::Names;
use super::segments;
use crate::curve::Calibration;
use crate::finding::{Code, Finding, Subject};
use crate::method::Method;
use crate::outcome::{self, Segment};
use crate::run::{Role, Run};

/// What the comparisons say, and which positions have no calibration of their matrix.
pub(super) fn compared(
    run: &Run,
    names: &Names<'_>,
    method: &Method,
    segments: &[Segment],
    calibrations: &[Arc<Calibration>],
    findings: &mut Vec<Finding>,
) {
    for (segment, compared) in outcome::matched(segments, calibrations, method.calibration.variance) {
        let subject = Subject::Calibration(segment.number);
        let matrix = segment.matrix.as_deref().unwrap_or_default();
        match compared {
            Ok(matched) => {
                let (percent, u) = matched.comparison.effect.percent();
                let finding = Finding::new(Code::MatrixCompared, subject.clone()).with("matrix", matrix);
                findings.push(finding.with("external", matched.external).with("percent", percent).with("u", u));
                let told = matched.comparison.findings.into_iter();
                findings.extend(told.map(|finding| Finding { subject: subject.clone(), ..finding }));
            }
            Err(error) => {
                let finding = Finding::new(Code::MatrixNotCompared, subject).with("matrix", matrix);
                findings.push(finding.with("reason", error.to_string()));
            }
        }
    }
    for matched in &method.calibration.matched {
        let lost: Vec<u32> = (run.positions.iter())
            .filter(|position| !position.role.is_calibration() && !position.role.is_instrument_check())
            .filter(|position| segments::matrix(names, position).is_some_and(|matrix| *matrix == matched.matrix))
            // A series of additions brings its calibration with it.
            .filter(|position| {
                position.role != Role::Addition && segments::at(names, method, segments, position).is_none()
            })
            .map(|position| position.number)
            .collect();
        if let Some(first) = lost.first() {
            let finding = Finding::new(Code::MatchedCalibrationMissing, Subject::Position(*first));
            findings.push(finding.with("matrix", &*matched.matrix).with("count", lost.len()));
        }
    }
}
