//! Judging a run in full: only where something in it may have failed.

use super::gather::Spot;
use super::rules::Rules;
use super::table::Flags;
use crate::check::{self, CalibrationFigures, Check, Figure, Measured, Verdict};
use crate::error::Error;
use crate::estimate::Estimate;
use crate::outcome::Limits;

/// One measured position as the checks see it.
pub(super) struct Seen<'a> {
    pub spot: &'a Spot,
    pub solution: Estimate,
    pub result: Estimate,
    pub limits: Limits,
}

/// Whether a calibration was not accepted, for whatever figure.
pub(super) fn refused(checks: &[Check]) -> bool {
    checks.iter().any(|check| check.verdict == Verdict::Fail)
}

/// The flags of all `seen`, in order, by the library's own judgement.
pub(super) fn flags(rules: &Rules<'_>, seen: &[Seen<'_>], figures: &[CalibrationFigures]) -> Result<Vec<Flags>, Error> {
    let method = rules.method;
    let unit = method.calibration.unit;
    let facts = seen.iter().map(|one| {
        let instrument = one.spot.role.is_instrument_check();
        let result_unit = if instrument { unit } else { method.reporting.liquid_unit };
        let (mdl, loq) = (one.limits.mdl.map(|l| l.adjusted), one.limits.loq.map(|l| l.adjusted));
        let in_solution = |limit: f64| result_unit.convert(limit, rules.natural).ok();
        let action = method.limits.action_for(crate::method::SampleKind::Liquid);
        Measured {
            result: (!instrument).then_some(one.result),
            result_unit,
            dilution: one.spot.dilution.unwrap_or(1.0),
            mdl,
            loq,
            solution_mdl: mdl.filter(|_| instrument).and_then(in_solution),
            solution_loq: loq.filter(|_| instrument).and_then(in_solution),
            action_limit: action.and_then(|limit| limit.unit.convert(limit.value, result_unit).ok()),
            detection: crate::reduce::detection(method, one.result.value, &one.limits),
            nominal: one.spot.nominal,
            ..Measured::new(one.spot.number, one.spot.role, "", one.spot.segment, one.solution, unit)
        }
    });
    let measured: Vec<Measured> = facts.collect();
    let judged = check::judge(&measured, figures, &method.criteria)?;
    let failed = |check: &&Check| check.verdict == Verdict::Fail;
    let correlated = |check: &&Check| {
        check.statistic.is_some_and(|one| matches!(one.figure, Figure::Determination | Figure::Correlation))
    };
    let poor: Vec<u32> = (judged.checks.iter().filter(failed))
        .filter(|check| check.kind == check::CheckKind::Calibration)
        .filter(correlated)
        .map(|check| check.segment)
        .collect();
    let bad: Vec<u32> = (judged.checks.iter().filter(failed))
        .filter(|check| check.kind.is_instrument())
        .filter_map(|check| check.position)
        .collect();
    let flags = |one: &Measured| {
        Flags::default()
            .with(Flags::CONDEMNED, judged.condemned.contains(&one.position))
            .with(Flags::R2_BELOW_LIMIT, one.is_analysis() && poor.contains(&one.segment))
            .with(Flags::CHECK_FAILED, bad.contains(&one.position))
    };
    Ok(measured.iter().map(flags).collect())
}
