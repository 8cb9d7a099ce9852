//! Step 7: which of a sample's re-runs is reported.

use std::collections::{BTreeSet, HashMap};

use super::judge::Judged;
use crate::check::{Check, Detection, Verdict};
use crate::criteria::CheckKind;
use crate::error::Error;
use crate::estimate::{Contributions, Dof, Estimate, Status};
use crate::finding::{Code, Finding, Subject};
use crate::method::{DofPolicy, Method, Qualification};
use crate::numeric::distribution::student_t;
use crate::outcome::{AdditionSeries, Reported, ResultRow};
use crate::run::Role;

/// Rows of an outcome without their text, and what their uncertainty is made of.
pub(super) struct Chosen {
    pub rows: Vec<ResultRow>,
    pub contributions: Contributions,
    pub additions: Vec<AdditionSeries>,
}

/// The least diluted position that is neither above the top standard nor condemned; of two equal ones the first.
/// Never an average, never by value. Where there is none, the most diluted stands, marked as it deserves.
pub(super) fn all(method: &Method, judged: &Judged<'_>, findings: &mut Vec<Finding>) -> Result<Chosen, Error> {
    let prepared = &judged.limited.prepared;
    let positions = &prepared.measured.positions;
    let mut reported = vec![Reported::NotASample; positions.len()];
    let series_at = |i: usize| prepared.measured.series_at(i);
    let sample_at = |i: usize| {
        let position = positions[i];
        let sample = match series_at(i) {
            Some(series) => Some(&*series.sample),
            None => (position.role == Role::Sample).then(|| position.sample()),
        };
        sample.map(|sample| (sample, position.identity.fraction.as_deref()))
    };
    let mut known: HashMap<(&str, Option<&str>), usize> = HashMap::new();
    let mut samples: Vec<(_, Vec<usize>)> = Vec::new();
    for (i, sample) in (0..positions.len()).filter_map(|i| Some((i, sample_at(i)?))) {
        let at = *known.entry(sample).or_insert(samples.len());
        match samples.get_mut(at) {
            Some((_, members)) => members.push(i),
            None => samples.push((sample, vec![i])),
        }
    }
    for (sample, all_of_sample) in samples {
        if let [only] = all_of_sample.as_slice() {
            reported[*only] = Reported::Yes;
            continue;
        }
        // Standard additions were made because the external calibration is in doubt: they go before it.
        let (series, external): (Vec<usize>, Vec<usize>) =
            all_of_sample.iter().copied().partition(|i| series_at(*i).is_some());
        let by_additions = !series.is_empty() && !external.is_empty();
        let of_sample = if series.is_empty() { external } else { series };
        let dilution = |i: &usize| prepared.preparations[*i].description().dilution.factor();
        let usable = |i: &&usize| !judged.condemned[**i] && on_the_curve(prepared.results[**i].status);
        let good: Vec<usize> = of_sample.iter().filter(usable).copied().collect();
        let least = good.iter().min_by(|a, b| dilution(a).total_cmp(&dilution(b)).then(a.cmp(b)));
        let most = || of_sample.iter().max_by(|a, b| dilution(a).total_cmp(&dilution(b)).then(b.cmp(a)));
        let Some(best) = least.or_else(most).copied() else { continue };
        for i in &all_of_sample {
            reported[*i] = if *i == best { Reported::Yes } else { Reported::Instead(positions[best].number) };
        }
        if by_additions {
            findings.push(
                Finding::new(Code::AdditionsReported, Subject::Position(positions[best].number))
                    .with("label", sample.0),
            );
        }
        if of_sample.len() > 1 {
            findings.push(
                Finding::new(Code::RerunChosen, Subject::Position(positions[best].number))
                    .with("label", sample.0)
                    .with("count", of_sample.len()),
            );
        }
        for other in good.iter().filter(|i| **i != best) {
            let (a, b) = (prepared.results[best], prepared.results[*other]);
            if let Some(p) = difference(a, b, prepared.contributions.covariance(best, *other)).filter(|p| *p < 0.05) {
                findings.push(
                    Finding::new(Code::RerunsDiffer, Subject::Position(positions[*other].number))
                        .with("label", sample.0)
                        .with("other", positions[best].number)
                        .with("p", p),
                );
            }
        }
    }
    let by_checks = by_checks(&judged.verdicts.checks);
    let mut rows = Vec::with_capacity(positions.len());
    // Results of one calibration mostly have the same degrees of freedom, and so the same coverage factor.
    let mut last: Option<(Dof, f64)> = None;
    for (i, position) in positions.iter().enumerate() {
        let result = prepared.results[i];
        let dof = match method.reporting.dof {
            DofPolicy::Truncate if !result.dof.is_infinite() => Dof::new(result.dof.get().floor())?,
            _ => result.dof,
        };
        let k = match last {
            Some((known, k)) if known == dof => k,
            _ => dof.coverage_factor(method.reporting.coverage),
        };
        last = Some((dof, k));
        let expanded_u = k * result.u;
        let solution = prepared.solutions[i];
        over_range(
            position.number,
            &position.label,
            solution,
            judged.tops[i],
            method.calibration.unit.name(),
            findings,
        );
        rows.push(ResultRow {
            position: position.number,
            role: position.role,
            label: series_at(i).map_or_else(|| position.label.clone(), |series| series.sample.clone()),
            segment: prepared.measured.segments[i],
            measurement: prepared.measured.measurements[i],
            solution,
            preparation: prepared.preparations[i].clone(),
            result,
            unit: prepared.units[i],
            expanded: expanded_u.is_finite().then_some((expanded_u, k)),
            limits: judged.limited.limits[i],
            qualifications: qualifications(judged, &by_checks, i, result),
            text: String::new(),
            condemned: judged.condemned[i],
            reported: reported[i],
            conformity: judged.conformity[i].clone(),
        });
    }
    let additions = prepared.measured.series.clone();
    Ok(Chosen { rows, contributions: prepared.contributions.clone(), additions })
}

/// Whether a sample of this status was read within what the curve can tell: a low reading is a result too.
const fn on_the_curve(status: Status) -> bool {
    matches!(status, Status::InRange | Status::BelowLowest | Status::Negative)
}

/// Probability of a difference of two results at least as large if they were one, from their covariance; `None`
/// where they have no uncertainty to tell by.
fn difference(a: Estimate, b: Estimate, covariance: f64) -> Option<f64> {
    let variance = a.u * a.u + b.u * b.u - 2.0 * covariance;
    let dof = a.dof.get().min(b.dof.get());
    (variance > 0.0 && dof > 0.0).then(|| student_t::two_sided((a.value - b.value).abs() / variance.sqrt(), dof))
}

/// Suggests a dilution for a position above the top standard: the smallest customary one that brings it to seven
/// tenths of the top or below; beyond the curve the reading bounds nothing, so at least tenfold.
fn over_range(position: u32, label: &str, solution: Estimate, top: f64, unit: &str, findings: &mut Vec<Finding>) {
    const CUSTOMARY: [f64; 7] = [2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1000.0];
    let subject = Subject::Position(position);
    match solution.status {
        Status::AboveTop => {
            let factor = CUSTOMARY.into_iter().find(|f| solution.value / f <= 0.7 * top).unwrap_or(10_000.0);
            findings.push(
                Finding::new(Code::AboveTopStandard, subject)
                    .with("label", label)
                    .with("found", solution.value)
                    .with("top", top)
                    .with("unit", unit)
                    .with("factor", factor),
            );
        }
        Status::BeyondCurve => {
            findings.push(Finding::new(Code::BeyondTheCurve, subject).with("label", label).with("factor", 10.0));
        }
        _ => {}
    }
}

/// What failed and missing checks say of each position.
fn by_checks(checks: &[Check]) -> HashMap<u32, BTreeSet<Qualification>> {
    let mut said: HashMap<u32, BTreeSet<Qualification>> = HashMap::new();
    for check in checks {
        let what = match (&check.verdict, check.kind) {
            (Verdict::Fail, CheckKind::MethodBlank) => Qualification::BlankAffected,
            (Verdict::Fail, kind) if kind.is_batch() => Qualification::BatchCheckFailed,
            (Verdict::Missing(_), _) => Qualification::CheckMissing,
            _ => continue,
        };
        for position in &check.affects {
            said.entry(*position).or_default().insert(what);
        }
    }
    said
}

/// What the qualifiers of a row say, in the order of the method's list.
fn qualifications(
    judged: &Judged<'_>,
    by_checks: &HashMap<u32, BTreeSet<Qualification>>,
    i: usize,
    result: Estimate,
) -> Vec<Qualification> {
    let limits = &judged.limited.limits[i];
    let detection = judged.limited.detection[i];
    let below_loq = limits.loq.is_some_and(|loq| result.value < loq.adjusted * (1.0 - 1e-12));
    let position = judged.limited.prepared.measured.positions[i].number;
    let mut all = Vec::new();
    let mut add = |condition: bool, what: Qualification| {
        if condition {
            all.push(what);
        }
    };
    add(detection == Detection::NotDetected, Qualification::NotDetected);
    let estimated =
        below_loq || (limits.loq.is_none() && matches!(result.status, Status::BelowLowest | Status::Negative));
    add(detection != Detection::NotDetected && estimated, Qualification::BelowQuantitation);
    add(matches!(result.status, Status::AboveTop | Status::BeyondCurve), Qualification::AboveRange);
    add(judged.condemned[i], Qualification::InstrumentCheckFailed);
    all.extend(by_checks.get(&position).into_iter().flatten().copied());
    all.sort_unstable();
    all
}
