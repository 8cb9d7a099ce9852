//! Checks of a preparation batch, and the samples they speak for.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::judgement::{Judgement, Positions};
use super::matrix::{MatrixDecision, MatrixEffect, MatrixTest, MatrixTests, matrix_decision};
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
            (Verdict::Fail, _) => positions.samples(&position.batch).map(|sample| sample.position).collect(),
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

/// What the tests of one batch say together of its matrix, with the indices of the checks that show it.
pub(super) struct Shown {
    pub decision: MatrixDecision,
    /// Failed checks that the effect rests on.
    pub by: Vec<usize>,
    /// Failed dilutions.
    pub dilutions: Vec<usize>,
}

/// The batches in which a matrix effect shows.
pub(super) fn matrix_effects(checks: &[Check]) -> Vec<Shown> {
    let mut batches: BTreeMap<&Option<Arc<str>>, [Vec<usize>; 3]> = BTreeMap::new();
    for (index, check) in checks.iter().enumerate() {
        let recovery = check.statistic.is_some_and(|one| one.figure == Figure::Recovery);
        let list = match check.kind {
            CheckKind::MatrixSpike | CheckKind::MatrixSpikeDuplicate if recovery => 0,
            CheckKind::PostDigestionSpike => 1,
            CheckKind::SerialDilution => 2,
            _ => continue,
        };
        batches.entry(&check.batch).or_default()[list].push(index);
    }
    let test = |indices: &[usize]| {
        MatrixTest::all(indices.iter().filter_map(|index| checks.get(*index)).map(|check| match check.verdict {
            Verdict::Pass => MatrixTest::Pass,
            Verdict::Fail => MatrixTest::Fail,
            Verdict::NotEvaluated(_) | Verdict::Missing(_) => MatrixTest::NotEvaluated,
        }))
    };
    let effects = batches.into_values().filter_map(|[before, after, diluted]| {
        let decision = matrix_decision(&MatrixTests {
            matrix_spike: test(&before),
            post_digestion_spike: test(&after),
            dilution_test: test(&diluted),
        });
        let failed = |indices: Vec<usize>| -> Vec<usize> {
            indices.into_iter().filter(|i| checks.get(*i).is_some_and(|one| one.verdict == Verdict::Fail)).collect()
        };
        let [before, after, dilutions] = [failed(before), failed(after), failed(diluted)];
        let by = match decision.effect {
            MatrixEffect::NotShown => return None,
            MatrixEffect::Suspected => [after, dilutions.clone()].concat(),
            MatrixEffect::Confirmed => [before, after, dilutions.clone()].concat(),
        };
        Some(Shown { decision, by, dilutions })
    });
    effects.collect()
}
