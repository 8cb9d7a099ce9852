//! The figures of an outcome that are compared, as text that is the same exactly where they are.

use std::collections::{HashMap, VecDeque};

use super::About;
use crate::check::Verdict;
use crate::estimate::Estimate;
use crate::outcome::{Outcome, Reported};
use crate::preparation::SampleLimit;

/// What a figure follows from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Depth {
    /// From readings, calibration and preparation.
    Value,
    /// From limits, criteria and other positions too.
    Judgement,
}

/// The figures of one thing, in a fixed order.
pub(super) struct Figures {
    about: About,
    figures: Vec<(&'static str, Depth, Option<String>)>,
}

/// A figure of one thing: what it is about, which of those that are about the same, which figure.
pub(super) type Key = (About, usize, &'static str);

/// A figure that differs.
pub(super) struct Changed {
    pub key: Key,
    pub depth: Depth,
    pub old: Option<String>,
    pub new: Option<String>,
}

/// Everything of two outcomes that differs: calibrations, results, checks, in that order.
pub(super) fn all(old: &Outcome, new: &Outcome) -> Vec<Changed> {
    let parts = [calibrations, results, checks];
    parts.into_iter().flat_map(|part| changed(part(old), part(new))).collect()
}

/// The figures that differ, without their values.
pub(super) fn differing(old: &Outcome, new: &Outcome) -> Vec<Key> {
    all(old, new).into_iter().map(|changed| changed.key).collect()
}

/// Figures that differ. Things are the same where they are about the same, the n-th of them with the n-th.
fn changed(old: Vec<Figures>, new: Vec<Figures>) -> Vec<Changed> {
    let mut changes = Vec::new();
    let mut seen: HashMap<About, usize> = HashMap::new();
    let mut before: HashMap<About, VecDeque<Figures>> = HashMap::new();
    let order: Vec<About> = old.iter().map(|one| one.about.clone()).collect();
    old.into_iter().for_each(|one| before.entry(one.about.clone()).or_default().push_back(one));
    let presence = |about: About, nth: usize, there: bool| {
        let word = |there: bool| there.then(|| "present".to_owned());
        Changed { key: (about, nth, "presence"), depth: Depth::Judgement, old: word(!there), new: word(there) }
    };
    for new in new {
        let count = seen.entry(new.about.clone()).or_default();
        let nth = std::mem::replace(count, *count + 1);
        let Some(old) = before.get_mut(&new.about).and_then(VecDeque::pop_front) else {
            changes.push(presence(new.about, nth, true));
            continue;
        };
        for ((what, depth, old), (_, _, now)) in old.figures.into_iter().zip(new.figures) {
            if old != now {
                changes.push(Changed { key: (new.about.clone(), nth, what), depth, old, new: now });
            }
        }
    }
    for about in order {
        if before.get_mut(&about).and_then(VecDeque::pop_front).is_some() {
            let count = seen.entry(about.clone()).or_default();
            let nth = std::mem::replace(count, *count + 1);
            changes.push(presence(about, nth, false));
        }
    }
    changes
}

/// The shortest text of a number, which differs where the number does; none where it is not one.
fn number(x: f64) -> Option<String> {
    (!x.is_nan()).then(|| x.to_string())
}

fn list(numbers: impl IntoIterator<Item = f64>) -> Option<String> {
    let all: Vec<String> = numbers.into_iter().map(|x| x.to_string()).collect();
    Some(all.join(", "))
}

fn estimate(found: &Estimate) -> Option<String> {
    Some(format!("{} (u {}, {})", found.value, found.u, found.status.name()))
}

fn calibrations(outcome: &Outcome) -> Vec<Figures> {
    let each = outcome.segments.iter().zip(&outcome.calibrations);
    each.map(|(segment, one)| Figures {
        about: About::Calibration(segment.number),
        figures: [
            ("matrix", segment.matrix.as_deref().map(str::to_owned)),
            ("points", Some(one.points().len().to_string())),
            ("shape", Some(one.shape().name().to_owned())),
            ("noise", Some(one.options().noise.name().to_owned())),
            ("unit", Some(one.unit().name().to_owned())),
            ("coefficients", list(one.coefficients())),
            ("standard_errors", list(one.standard_errors())),
            ("residual_standard_deviation", one.residual_sd().and_then(number)),
            ("lowest", number(one.lowest())),
            ("top", number(one.top())),
            ("serves", Some(one.serves().to_string())),
            ("id", Some(one.id().to_string())),
        ]
        .map(|(what, value)| (what, Depth::Value, value))
        .to_vec(),
    })
    .collect()
}

fn results(outcome: &Outcome) -> Vec<Figures> {
    let limit = |limit: &Option<SampleLimit>| limit.and_then(|limit| number(limit.adjusted));
    let each = outcome.rows.iter().map(|row| {
        let values = [
            ("solution", estimate(&row.solution)),
            ("multiplier", number(row.preparation.multiplier())),
            ("unit", Some(row.unit.name().to_owned())),
            ("status", Some(row.result.status.name().to_owned())),
            ("value", number(row.result.value)),
            ("standard_uncertainty", number(row.result.u)),
            ("degrees_of_freedom", number(row.result.dof.get())),
        ];
        let qualifiers: Vec<&str> = row.qualifications.iter().map(|what| what.name()).collect();
        let judgements = [
            ("expanded_uncertainty", row.expanded.and_then(|(u, _)| number(u))),
            ("mdl", limit(&row.limits.mdl)),
            ("lod", limit(&row.limits.lod)),
            ("loq", limit(&row.limits.loq)),
            ("qualifiers", Some(qualifiers.join(", "))),
            ("reported_text", Some(row.text.clone())),
            ("condemned", Some(row.condemned.to_string())),
            (
                "reported",
                Some(match row.reported {
                    Reported::Yes => "yes".to_owned(),
                    Reported::Instead(position) => format!("position {position} instead"),
                    Reported::NotASample => "not a sample".to_owned(),
                }),
            ),
            ("conformity", row.conformity.as_ref().map(|conformity| conformity.name().to_owned())),
        ];
        let values = values.map(|(what, value)| (what, Depth::Value, value));
        let judgements = judgements.map(|(what, value)| (what, Depth::Judgement, value));
        let about = About::Result { position: row.position, label: row.label.clone() };
        Figures { about, figures: values.into_iter().chain(judgements).collect() }
    });
    each.collect()
}

fn checks(outcome: &Outcome) -> Vec<Figures> {
    let each = outcome.verdicts.checks.iter().map(|check| {
        let verdict = match &check.verdict {
            Verdict::NotEvaluated(reason) => format!("not evaluated: {reason}"),
            Verdict::Missing(gap) => format!("missing: {}", gap.name()),
            other => other.name().to_owned(),
        };
        let about = About::Check {
            kind: check.kind,
            position: check.position,
            segment: check.segment,
            label: check.label.clone(),
        };
        let figures = [
            ("verdict", Some(verdict)),
            ("found", check.found.as_ref().and_then(estimate)),
            ("expected", check.expected.and_then(number)),
            ("statistic", check.statistic.map(|one| format!("{} {}", one.figure.name(), one.value))),
            (
                "limit",
                check.limit.map(|limit| {
                    let end = |end: Option<f64>| end.and_then(number).unwrap_or_else(|| "none".to_owned());
                    format!("{} to {}", end(limit.low), end(limit.high))
                }),
            ),
            ("affects", list(check.affects.iter().copied().map(f64::from))),
            ("replaced_by", check.replaced_by.map(|position| position.to_string())),
        ];
        Figures { about, figures: figures.map(|(what, value)| (what, Depth::Judgement, value)).to_vec() }
    });
    each.collect()
}
