//! What the checks of a run give to say.

use super::batch::Shown;
use super::compare::text;
use super::matrix::{MatrixEffect, MatrixStep};
use super::{Check, Condemnation, Figure, Gap, Reason, Scale, Verdict};
use crate::criteria::{BracketRules, CheckKind};
use crate::finding::{Citation, Code, Finding, Severity, Subject};

/// The finding on one check; none for one that passed by its usual rule.
pub(super) fn of(index: usize, check: &Check) -> Option<Finding> {
    let number = Subject::Check(u32::try_from(index + 1).unwrap_or(u32::MAX));
    let finding = match &check.verdict {
        Verdict::Pass => return near_limit(number, check),
        Verdict::Fail => {
            let (statistic, limit) = (check.statistic?, check.limit?);
            let unit = match statistic.figure.scale() {
                Scale::Percent => " %".to_owned(),
                Scale::Concentration => check.unit.map(|unit| format!(" {unit}")).unwrap_or_default(),
                Scale::Number => String::new(),
            };
            Finding::new(Code::CheckFailed, number)
                .with("check", name(check))
                .with("figure", statistic.figure.words())
                .with("value", text(statistic.value, Some(&limit)))
                .with("unit", unit.clone())
                .with("limit", format!("{limit}{unit}"))
                .with("positions", list(&check.affects))
        }
        Verdict::Missing(gap) => Finding::new(Code::CheckMissing, number)
            .with("check", name(check))
            .with("how", words(*gap))
            .with("positions", list(&check.affects)),
        Verdict::NotEvaluated(reason @ Reason::NoLimit) => Finding::new(Code::CheckNotEvaluated, number)
            .graded(Severity::Note)
            .with("check", name(check))
            .with("reason", reason.to_string()),
        Verdict::NotEvaluated(reason) => {
            let spike = matches!(
                check.kind,
                CheckKind::MatrixSpike | CheckKind::MatrixSpikeDuplicate | CheckKind::PostDigestionSpike
            );
            let code = if spike { Code::SpikeNotEvaluated } else { Code::CheckNotEvaluated };
            Finding::new(code, number).with("check", name(check)).with("reason", reason.to_string())
        }
    };
    Some(finding.citing(check.citation.clone()))
}

fn near_limit(number: Subject, check: &Check) -> Option<Finding> {
    let statistic = check.statistic.filter(|one| one.figure == Figure::AbsoluteDifference)?;
    let limit = check.limit?;
    let unit = check.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
    let finding = Finding::new(Code::DuplicateNearLimit, number)
        .with("check", name(check))
        .with("value", format!("{}{unit}", text(statistic.value, Some(&limit))))
        .with("limit", format!("{limit}{unit}"));
    Some(finding.citing(check.citation.clone()))
}

const fn words(gap: Gap) -> &'static str {
    match gap {
        Gap::Absent => "is not there",
        Gap::Late => "came too late or too seldom",
        Gap::Unevaluable => "is there but could not be evaluated",
    }
}

/// The check by title, label and place.
pub(super) fn name(check: &Check) -> String {
    let mut name = check.kind.title().to_owned();
    if check.label.as_ref() != name {
        name.push_str(&format!(" {}", check.label));
    }
    match (check.position, &check.batch) {
        (Some(position), _) => name.push_str(&format!(" at position {position}")),
        (None, Some(batch)) => name.push_str(&format!(" of batch {batch}")),
        (None, None) if check.kind.is_instrument() => name.push_str(&format!(" of segment {}", check.segment)),
        (None, None) => {}
    }
    name
}

/// Positions as a short list, runs of them by their ends.
pub(super) fn list(positions: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for &position in positions {
        match parts.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(position) => *last = position,
            _ => parts.push((position, position)),
        }
    }
    let written: Vec<String> = parts
        .iter()
        .map(|(first, last)| if first == last { first.to_string() } else { format!("{first}-{last}") })
        .collect();
    match positions.len() {
        0 => "no position".to_owned(),
        1 => format!("position {}", written.join(", ")),
        _ => format!("positions {}", written.join(", ")),
    }
}

/// The findings on one condemnation.
pub(super) fn condemned(one: &Condemnation, check: &Check, rules: &BracketRules) -> Vec<Finding> {
    let subject = Subject::Segment(one.segment);
    let mut findings = Vec::new();
    let kept: Vec<u32> = one.kept().collect();
    if !kept.is_empty() {
        let finding = Finding::new(Code::Condemned, subject.clone())
            .with("positions", list(&kept))
            .with("check", name(check))
            .with("reach", one.reach.words());
        findings.push(finding.citing(check.citation.clone()));
    }
    if !one.released.is_empty() {
        let finding = Finding::new(Code::CondemnedReleased, subject)
            .with("positions", list(&one.released))
            .with("check", name(check));
        findings.push(finding.citing(rules.release_citation.clone()));
    }
    findings
}

/// A failed check that its repeat stands for.
pub(super) fn repeated(index: usize, check: &Check, rules: &BracketRules) -> Option<Finding> {
    let number = Subject::Check(u32::try_from(index + 1).unwrap_or(u32::MAX));
    let repeat = check.replaced_by?;
    let finding = Finding::new(Code::CheckRepeated, number).with("check", name(check)).with("repeat", repeat);
    Some(finding.citing(rules.retry_citation.clone()))
}

/// What a matrix effect means for the batch. Which test comes next is said by the required checks that are missing;
/// what no check can say, that all samples of the batch need standard additions, is said here; `open` are those that
/// no series was made of.
pub(super) fn matrix(effect: &Shown, checks: &[Check], samples: &[u32], open: &[u32]) -> Vec<Finding> {
    let named = |indices: &[usize]| -> Vec<String> {
        indices.iter().filter_map(|index| checks.get(*index)).map(name).collect()
    };
    let last = |indices: &[usize]| indices.last().and_then(|index| checks.get(*index));
    let subject = match last(&effect.by).and_then(|check| check.batch.as_ref()) {
        Some(batch) => Subject::Label(format!("batch {batch}")),
        None => Subject::Run,
    };
    let code = match effect.decision.effect {
        MatrixEffect::NotShown => return Vec::new(),
        MatrixEffect::Suspected => Code::MatrixEffectSuspected,
        MatrixEffect::Confirmed => Code::MatrixEffectConfirmed,
    };
    let finding = |code: Code, by: &[usize], samples: &[u32]| {
        let citation = last(by).map_or_else(Citation::laboratory, |check| check.citation.clone());
        let finding = Finding::new(code, subject.clone()).with("checks", named(by).join(" and "));
        finding.with("positions", list(samples)).citing(citation)
    };
    let mut findings = vec![finding(code, &effect.by, samples)];
    if effect.decision.next == MatrixStep::StandardAdditions {
        findings.push(match open {
            [] if !samples.is_empty() => finding(Code::StandardAdditionsMade, &effect.dilutions, samples),
            _ => finding(Code::StandardAdditionsNeeded, &effect.dilutions, open),
        });
    }
    findings
}
