//! Checks that the criteria require and the run does not have: absent, late, or there but not evaluable.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::bracket::by_segment;
use super::{Check, Figure, Gap, Measured, Verdict};
use crate::criteria::{CheckKind, Counting, Criteria, Requirement};
use crate::finding::Citation;
use crate::run::Role;

/// Instrument checks by position and kind.
type Made<'a> = BTreeMap<(u32, CheckKind), &'a Check>;

/// Every gap of the run. `positions` ascending.
pub(super) fn gaps(positions: &[&Measured], checks: &[Check], criteria: &Criteria) -> Vec<Check> {
    let mut gaps = Vec::new();
    let made: Made = checks.iter().filter_map(|check| Some(((check.position?, check.kind), check))).collect();
    for segment in by_segment(positions).into_values().filter(|all| all.iter().any(|one| one.is_analysis())) {
        for kind in [CheckKind::Icv, CheckKind::Icb] {
            gaps.extend(opening(&segment, &made, criteria, kind));
        }
        gaps.extend(low(&segment, &made, criteria));
        for (kind, initial) in [(CheckKind::Ccv, CheckKind::Icv), (CheckKind::Ccb, CheckKind::Icb)] {
            gaps.extend(continuing(&segment, &made, criteria, kind, initial));
        }
    }
    gaps.extend(batches(positions, checks, criteria));
    gaps
}

fn gap(kind: CheckKind, segment: u32, batch: Option<Arc<str>>, how: Gap, rule: Citation, affects: Vec<u32>) -> Check {
    Check {
        kind,
        position: None,
        segment,
        batch,
        label: kind.title().into(),
        found: None,
        expected: None,
        unit: None,
        statistic: None,
        limit: None,
        verdict: Verdict::Missing(how),
        citation: rule,
        affects,
        replaced_by: None,
    }
}

/// The check of `kind` at `position`, if one was made there.
fn made<'a>(made: &Made<'a>, position: &Measured, kind: CheckKind) -> Option<&'a Check> {
    made.get(&(position.position, kind)).copied()
}

fn numbers(positions: &[&Measured]) -> Vec<u32> {
    positions.iter().map(|position| position.position).collect()
}

/// An initial check must be judged before the first analysis.
fn opening(segment: &[&Measured], checks: &Made, criteria: &Criteria, kind: CheckKind) -> Option<Check> {
    let rule = criteria.frequency(kind).required?;
    let number = segment.first()?.segment;
    let mut before = Vec::new();
    let mut there = false;
    for position in segment {
        if position.is_analysis() {
            before.push(*position);
        } else if let Some(check) = made(checks, position, kind) {
            there = true;
            if check.verdict.is_evaluated() {
                let late = !before.is_empty();
                return late.then(|| gap(kind, number, None, Gap::Late, rule, numbers(&before)));
            }
        }
    }
    let how = if there { Gap::Unevaluable } else { Gap::Absent };
    Some(gap(kind, number, None, how, rule, numbers(&before)))
}

/// A low check must be judged somewhere in the segment.
fn low(segment: &[&Measured], checks: &Made, criteria: &Criteria) -> Option<Check> {
    let rule = criteria.frequency(CheckKind::LowCheck).required?;
    let made: Vec<&Check> = segment.iter().filter_map(|position| made(checks, position, CheckKind::LowCheck)).collect();
    if made.iter().any(|check| check.verdict.is_evaluated()) {
        return None;
    }
    let analyses: Vec<&Measured> = segment.iter().copied().filter(|one| one.is_analysis()).collect();
    let how = if made.is_empty() { Gap::Absent } else { Gap::Unevaluable };
    Some(gap(CheckKind::LowCheck, analyses.first()?.segment, None, how, rule, numbers(&analyses)))
}

/// A continuing check must come after so many analyses, and at the end. An initial check starts the count as well.
fn continuing(
    segment: &[&Measured],
    checks: &Made,
    criteria: &Criteria,
    kind: CheckKind,
    initial: CheckKind,
) -> Vec<Check> {
    let frequency = criteria.frequency(kind);
    let (Some(rule), Some(first)) = (frequency.required, segment.first()) else { return Vec::new() };
    let counts = |position: &Measured| match criteria.bracket().counting {
        Counting::Analyses => position.is_analysis(),
        Counting::Samples => position.is_sample(),
    };
    let mut gaps = Vec::new();
    // Analyses since the last judged check, those past the allowed number, and whether an unjudged one was met.
    let (mut open, mut overdue, mut unjudged, mut ever) = (Vec::new(), Vec::new(), false, false);
    let mut count = 0;
    for position in segment {
        if position.is_analysis() {
            count += u32::from(counts(position));
            open.push(*position);
            if frequency.every.as_ref().is_some_and(|(most, _)| count > *most) {
                overdue.push(*position);
            }
            continue;
        }
        let continuing = made(checks, position, kind);
        let Some(check) = continuing.or_else(|| made(checks, position, initial)) else { continue };
        if !check.verdict.is_evaluated() {
            unjudged = true;
            continue;
        }
        ever |= continuing.is_some();
        if let (false, Some((_, rule))) = (overdue.is_empty(), &frequency.every) {
            let how = if unjudged { Gap::Unevaluable } else { Gap::Late };
            gaps.push(gap(kind, first.segment, None, how, rule.clone(), numbers(&overdue)));
        }
        (count, unjudged) = (0, false);
        open.clear();
        overdue.clear();
    }
    let how = if unjudged { Gap::Unevaluable } else { Gap::Absent };
    let last = match (frequency.at_end, frequency.every) {
        (Some(rule), _) => Some((open, rule)),
        (None, Some((_, rule))) if !overdue.is_empty() => Some((overdue, rule)),
        _ if !ever => Some((segment.iter().copied().filter(|one| one.is_analysis()).collect(), rule)),
        _ => None,
    };
    if let Some((affected, rule)) = last.filter(|(affected, _)| !affected.is_empty()) {
        gaps.push(gap(kind, first.segment, None, how, rule, numbers(&affected)));
    }
    gaps
}

/// The checks that a preparation batch must have, and the samples each of them serves.
fn batches(positions: &[&Measured], checks: &[Check], criteria: &Criteria) -> Vec<Check> {
    let mut batches: BTreeMap<Option<Arc<str>>, Vec<&Measured>> = BTreeMap::new();
    for position in positions.iter().filter(|position| position.is_sample()) {
        batches.entry(position.batch.clone()).or_default().push(position);
    }
    let mut by_batch: BTreeMap<&Option<Arc<str>>, Vec<&Check>> = BTreeMap::new();
    for check in checks.iter().filter(|check| check.kind.is_batch()) {
        by_batch.entry(&check.batch).or_default().push(check);
    }
    let mut gaps = Vec::new();
    for kind in CheckKind::ALL.iter().copied().filter(|kind| kind.is_batch()) {
        let rules = criteria.batch(kind);
        let Some((requirement, rule)) = rules.required else { continue };
        for (batch, samples) in &batches {
            let here = by_batch.get(batch).map_or(&[] as &[&Check], Vec::as_slice);
            if requirement == Requirement::AfterFailedSpike && !here.iter().any(|check| calls_for(check, kind)) {
                continue;
            }
            // A re-run of a sample is the same portion.
            let portions: BTreeSet<&str> = samples.iter().map(|sample| sample.label.as_ref()).collect();
            let size = rules.batch_size.as_ref().map_or(usize::MAX, |(size, _)| *size as usize);
            let wanted = portions.len().div_ceil(size);
            let there: Vec<&&Check> = here.iter().filter(|check| serves(check, kind)).collect();
            let judged: BTreeSet<Option<u32>> =
                there.iter().filter(|check| check.verdict.is_evaluated()).map(|check| check.position).collect();
            if judged.len() >= wanted {
                continue;
            }
            let how = match (there.is_empty(), judged.is_empty()) {
                (true, _) => Gap::Absent,
                (false, true) => Gap::Unevaluable,
                (false, false) => Gap::Late,
            };
            let segment = samples.first().map_or(1, |sample| sample.segment);
            gaps.push(gap(kind, segment, batch.clone(), how, rule.clone(), numbers(samples)));
        }
    }
    gaps
}

/// Whether a check of `made` serves where `wanted` is required: a matrix spike duplicate also shows agreement of two
/// portions (SW-846 Method 7000B, 9.7: matrix spike and duplicate, or matrix spike and its duplicate).
fn serves(made: &Check, wanted: CheckKind) -> bool {
    let agreement = made.statistic.is_some_and(|one| one.figure == Figure::RelativeDifference);
    made.kind == wanted || (wanted == CheckKind::Duplicate && made.kind == CheckKind::MatrixSpikeDuplicate && agreement)
}

/// Whether the failure of `check` calls for a check of kind `next` in its batch.
fn calls_for(check: &Check, next: CheckKind) -> bool {
    let before: &[CheckKind] = match next {
        CheckKind::PostDigestionSpike => &[CheckKind::MatrixSpike, CheckKind::MatrixSpikeDuplicate],
        CheckKind::SerialDilution => &[CheckKind::PostDigestionSpike],
        _ => return false,
    };
    let recovery = check.statistic.is_some_and(|one| one.figure == Figure::Recovery);
    check.verdict == Verdict::Fail && recovery && before.contains(&check.kind)
}

/// The check that a role stands for.
pub(super) const fn kind_of(role: Role) -> Option<CheckKind> {
    Some(match role {
        Role::Icv => CheckKind::Icv,
        Role::Icb => CheckKind::Icb,
        Role::Ccv => CheckKind::Ccv,
        Role::Ccb => CheckKind::Ccb,
        Role::LowCheck => CheckKind::LowCheck,
        Role::MethodBlank => CheckKind::MethodBlank,
        Role::Lcs => CheckKind::Lcs,
        Role::Lcsd => CheckKind::Lcsd,
        Role::Duplicate => CheckKind::Duplicate,
        Role::MatrixSpike => CheckKind::MatrixSpike,
        Role::MatrixSpikeDuplicate => CheckKind::MatrixSpikeDuplicate,
        Role::PostDigestionSpike => CheckKind::PostDigestionSpike,
        Role::SerialDilution => CheckKind::SerialDilution,
        Role::ReferenceMaterial => CheckKind::ReferenceMaterial,
        _ => return None,
    })
}
