//! Checks of a preparation batch, and the samples they speak for.

use super::judgement::{Judgement, Positions};
use super::{Check, Figure, Measured, Verdict, blank, dilution, duplicate, recovery, spike};
use crate::criteria::CheckKind;

/// The checks that the position of a batch check gives: a second spike or control sample is judged both for its
/// recovery and for its agreement with the first.
pub(super) fn checks(positions: &Positions, position: &Measured, kind: CheckKind) -> Vec<Check> {
    let judgements = match kind {
        CheckKind::MethodBlank => vec![blank::blank(positions, position, kind)],
        CheckKind::Lcs | CheckKind::ReferenceMaterial => vec![recovery::recovery(positions, position, kind)],
        CheckKind::Lcsd => {
            vec![recovery::recovery(positions, position, kind), duplicate::agreement(positions, position, kind)]
        }
        CheckKind::Duplicate => vec![duplicate::agreement(positions, position, kind)],
        CheckKind::MatrixSpike | CheckKind::PostDigestionSpike => vec![spike::spike(positions, position, kind)],
        CheckKind::MatrixSpikeDuplicate => {
            vec![spike::spike(positions, position, kind), duplicate::agreement(positions, position, kind)]
        }
        CheckKind::SerialDilution => vec![dilution::dilution(positions, position)],
        _ => Vec::new(),
    };
    let placed = judgements.into_iter().map(|judgement| {
        let affects = match (&judgement.verdict, kind) {
            (Verdict::Fail, CheckKind::MethodBlank) => {
                blank::affected(positions, position, &positions.criteria.blank(kind), &judgement.verdict)
            }
            (Verdict::Fail, _) => positions.samples_with(position).map(|sample| sample.position).collect(),
            _ => Vec::new(),
        };
        place(position, kind, judgement, affects)
    });
    placed.collect()
}

/// The check of an instrument check's position.
pub(super) fn instrument(positions: &Positions, position: &Measured, kind: CheckKind) -> Check {
    let judgement = match kind {
        CheckKind::Icb | CheckKind::Ccb => blank::blank(positions, position, kind),
        _ => recovery::recovery(positions, position, kind),
    };
    place(position, kind, judgement, Vec::new())
}

fn place(position: &Measured, kind: CheckKind, judgement: Judgement, affects: Vec<u32>) -> Check {
    Check {
        kind,
        position: Some(position.position),
        segment: position.segment,
        batch: if kind.is_batch() { position.batch.clone() } else { None },
        label: position.label.clone(),
        found: judgement.found,
        expected: judgement.expected,
        unit: Some(judgement.unit),
        statistic: judgement.statistic,
        limit: judgement.limit,
        verdict: judgement.verdict,
        citation: judgement.citation,
        affects,
        replaced_by: None,
    }
}

/// What spikes and dilutions of one batch say together of its matrix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Matrix {
    /// The post-digestion spike or the dilution failed: something in the digest disturbs the reading.
    Suspected,
    /// Both a spike before digestion and the one after it failed (SW-846 Method 7000B, 9.8.1).
    Confirmed,
}

/// The batches in which a matrix effect shows, each with the indices of the checks that show it.
pub(super) fn matrix_effects(checks: &[Check]) -> Vec<(Matrix, Vec<usize>)> {
    let failed = |check: &Check, kinds: &[CheckKind]| check.verdict == Verdict::Fail && kinds.contains(&check.kind);
    let recovery = |check: &Check| check.statistic.is_some_and(|one| one.figure == Figure::Recovery);
    let mut seen = Vec::new();
    let mut effects = Vec::new();
    for check in checks.iter().filter(|check| check.kind.is_batch()) {
        if seen.contains(&check.batch) {
            continue;
        }
        seen.push(check.batch.clone());
        let with = |kinds: &[CheckKind], recovered: bool| -> Vec<usize> {
            let here = checks.iter().enumerate().filter(|(_, one)| one.batch == check.batch && one.kind.is_batch());
            here.filter(|(_, one)| failed(one, kinds) && (!recovered || recovery(one))).map(|(i, _)| i).collect()
        };
        let before = with(&[CheckKind::MatrixSpike, CheckKind::MatrixSpikeDuplicate], true);
        let after = with(&[CheckKind::PostDigestionSpike], true);
        let diluted = with(&[CheckKind::SerialDilution], false);
        if !before.is_empty() && !after.is_empty() {
            effects.push((Matrix::Confirmed, [before, after, diluted].concat()));
        } else if !after.is_empty() || !diluted.is_empty() {
            effects.push((Matrix::Suspected, [after, diluted].concat()));
        }
    }
    effects
}
