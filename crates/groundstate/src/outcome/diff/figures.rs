//! The figures of an outcome that are compared, as text that is the same exactly where they are.

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

type Changed = (About, &'static str, Depth, Option<String>, Option<String>);

/// Figures that differ. Things are the same where they are about the same, the n-th of them with the n-th.
pub(super) fn changed(old: Vec<Figures>, new: Vec<Figures>) -> Vec<Changed> {
    let mut changes = Vec::new();
    let mut old: Vec<Option<Figures>> = old.into_iter().map(Some).collect();
    for new in new {
        let same = |one: &&mut Option<Figures>| one.as_ref().is_some_and(|one| one.about == new.about);
        let Some(old) = old.iter_mut().find(same).and_then(Option::take) else {
            changes.push((new.about, "presence", Depth::Judgement, None, Some("present".to_owned())));
            continue;
        };
        for ((what, depth, old), (_, _, new_value)) in old.figures.into_iter().zip(new.figures) {
            if old != new_value {
                changes.push((new.about.clone(), what, depth, old, new_value));
            }
        }
    }
    let gone = old.into_iter().flatten();
    changes.extend(gone.map(|one| (one.about, "presence", Depth::Judgement, Some("present".to_owned()), None)));
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

pub(super) fn calibrations(outcome: &Outcome) -> Vec<Figures> {
    let each = outcome.segments.iter().zip(&outcome.calibrations);
    each.map(|(segment, one)| Figures {
        about: About::Calibration(segment.number),
        figures: [
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

pub(super) fn results(outcome: &Outcome) -> Vec<Figures> {
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

pub(super) fn checks(outcome: &Outcome) -> Vec<Figures> {
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
