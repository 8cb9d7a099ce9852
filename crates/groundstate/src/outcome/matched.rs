//! Matrix-matched calibrations of a run against the external ones.

use std::sync::Arc;

use super::{Outcome, Segment};
use crate::addition::{MatrixComparison, VarianceModel, compare};
use crate::curve::Calibration;
use crate::error::Error;

/// A matrix-matched calibration against the external one of the same stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Matched {
    /// The matrix.
    pub matrix: Arc<str>,
    /// Number of the segment under the matched calibration.
    pub segment: u32,
    /// Number of the segment under the external calibration.
    pub external: u32,
    /// Common slope, common intercept, matrix effect.
    pub comparison: MatrixComparison,
}

impl Outcome {
    /// Every matrix-matched calibration against the external one of its stretch, in order; those that cannot be compared
    /// (a curve that does not rise) are left out, with a finding.
    pub fn matched(&self) -> Vec<Matched> {
        all(&self.segments, &self.calibrations, self.method.calibration.variance)
            .into_iter()
            .filter_map(|(_, matched)| matched.ok())
            .collect()
    }
}

/// Every matched segment with its comparison, or why there is none.
pub(crate) fn all<'a>(
    segments: &'a [Segment],
    calibrations: &[Arc<Calibration>],
    model: VarianceModel,
) -> Vec<(&'a Segment, Result<Matched, Error>)> {
    let matched = segments.iter().zip(calibrations).filter_map(|(segment, matched)| {
        let matrix = segment.matrix.clone()?;
        let base =
            |one: &&(&Segment, &Arc<Calibration>)| one.0.matrix.is_none() && one.0.positions == segment.positions;
        let pairs: Vec<(&Segment, &Arc<Calibration>)> = segments.iter().zip(calibrations).collect();
        let (external, calibration) = pairs.iter().find(base).copied()?;
        let compared = compare(calibration, matched, model).map(|comparison| Matched {
            matrix,
            segment: segment.number,
            external: external.number,
            comparison,
        });
        Some((segment, compared))
    });
    matched.collect()
}
