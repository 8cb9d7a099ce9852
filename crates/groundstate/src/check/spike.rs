//! Recovery of an addition: matrix spike, matrix spike duplicate, post-digestion spike.

use super::compare::order;
use super::judgement::{Judgement, Positions, root_sum, statistic};
use super::{Added, Figure, Limit, Measured, Reason, Scale, Statistic};
use crate::criteria::{CheckKind, Comparison, Edge, NativeBelowMdl, SpikeRules};
use crate::estimate::Estimate;
use crate::finding::Citation;

/// Judges 100 (spiked - native) / added (SW-846 Chapter One). Matrix spikes are judged in results, post-digestion
/// spikes in contents of the digest.
pub(super) fn spike(positions: &Positions, position: &Measured, kind: CheckKind) -> Judgement {
    let rules = positions.criteria.spike(kind);
    let digest = kind == CheckKind::PostDigestionSpike;
    let unit = if digest { position.solution_unit } else { position.result_unit };
    let content = |of: &Measured| if digest { Some(of.digest()) } else { of.result };
    let found = content(position);
    let expected = match position.added {
        Added::Amount(amount) => Some(amount),
        _ => None,
    };
    match measure(positions, position, &rules, digest) {
        Err((reason, citation)) => Judgement::not(reason, unit, citation).with(found, expected),
        Ok(figure) => {
            let limit = Limit { low: rules.range.low, high: rules.range.high, edge: rules.range.edge };
            Judgement::of(figure, limit, positions.criteria.comparison(), unit, rules.range.citation)
                .with(found, expected)
        }
    }
}

fn measure(
    positions: &Positions,
    position: &Measured,
    rules: &SpikeRules,
    digest: bool,
) -> Result<Statistic, (Reason, Citation)> {
    let plain = |reason| (reason, rules.range.citation.clone());
    let parent = positions.parent(position).map_err(plain)?;
    let (spiked, native) = if digest {
        (positions.own(position, position.digest()), positions.others(parent, Some(parent.digest())))
    } else {
        (positions.own_result(position), positions.others(parent, parent.result))
    };
    let (native, spiked) = (native.map_err(plain)?, spiked.map_err(plain)?);
    let units = |of: &Measured| if digest { of.solution_unit } else { of.result_unit };
    if units(parent) != units(position) {
        return Err(plain(Reason::UnitsDiffer));
    }
    let added = match &position.added {
        Added::Amount(amount) if *amount > 0.0 && amount.is_finite() => *amount,
        Added::Unknown(why) => return Err(plain(Reason::AdditionUnknown(why.clone()))),
        _ => return Err(plain(Reason::NoAddition)),
    };
    let loq = if digest { position.solution_loq } else { position.loq };
    addition(rules, added, loq)?;
    let mdl = if digest { parent.solution_mdl } else { parent.mdl };
    let native = known(rules, native, mdl)?;
    if let Some(rule) = &rules.native {
        let ratio = native.value / added;
        let side = order(ratio, rule.ratio);
        if side.is_gt() || (side.is_eq() && rule.edge == Edge::Inclusive) {
            return Err((Reason::NativeTooHigh { ratio }, rule.citation.clone()));
        }
    }
    let value = 100.0 * (spiked.value - native.value) / added;
    Ok(statistic(Figure::Recovery, value, 100.0 * root_sum(spiked.u, native.u) / added))
}

/// Whether the addition lies in the range that the rule is for.
fn addition(rules: &SpikeRules, added: f64, loq: Option<f64>) -> Result<(), (Reason, Citation)> {
    let range = &rules.addition;
    if range.least.is_none() && range.most.is_none() {
        return Ok(());
    }
    let Some(loq) = loq.filter(|loq| *loq > 0.0) else {
        return Err((Reason::NoBasis("limit of quantitation".into()), range.citation.clone()));
    };
    let multiple = added / loq;
    let limit = Limit { low: range.least, high: range.most, edge: Edge::Inclusive };
    let inside = limit.admits(multiple, Scale::Number, Comparison::Unrounded);
    if inside { Ok(()) } else { Err((Reason::AdditionOutOfRange { multiple }, range.citation.clone())) }
}

/// The native content under the policy for contents below the MDL.
fn known(rules: &SpikeRules, native: Estimate, mdl: Option<f64>) -> Result<Estimate, (Reason, Citation)> {
    let below = mdl.is_some_and(|mdl| order(native.value, mdl).is_lt());
    match rules.below_mdl {
        NativeBelowMdl::Zero if below => Ok(Estimate { value: 0.0, ..native }),
        NativeBelowMdl::NotCalculable if below => Err((Reason::NativeBelowMdl, rules.below_mdl_citation.clone())),
        _ => Ok(native),
    }
}
