//! Blanks: ICB, CCB, method blank. A blank far below zero is judged too: it lowers every result near it.

use super::compare::order;
use super::judgement::{Judgement, Positions, statistic};
use super::{Detection, Figure, Limit, Measured, Reason, Verdict};
use crate::criteria::{Basis, BlankLimit, BlankRules, CheckKind, Negative};
use crate::estimate::Estimate;

/// Judges a blank. Calibration blanks are judged in the solution, method blanks in the result.
pub(super) fn blank(positions: &Positions, position: &Measured, kind: CheckKind) -> Judgement {
    let rules = positions.criteria.blank(kind);
    let instrument = kind.is_instrument();
    let (found, unit, loq, mdl) = if instrument {
        (Some(position.solution), position.solution_unit, position.solution_loq, position.solution_mdl)
    } else {
        (position.result, position.result_unit, position.loq, position.mdl)
    };
    let judged = || -> Result<(Estimate, f64), Reason> {
        let found = found.ok_or(Reason::NoResult)?;
        let usable = if instrument && found.status.has_value() { found } else { positions.own(position, found)? };
        let limit = match rules.limit {
            BlankLimit::Off => return Err(Reason::NoLimit),
            BlankLimit::Limit { basis: Basis::Loq, factor } => {
                factor * loq.ok_or(Reason::NoBasis("limit of quantitation".into()))?
            }
            BlankLimit::Limit { basis: Basis::Mdl, factor } => {
                factor * mdl.ok_or(Reason::NoBasis("method detection limit".into()))?
            }
            BlankLimit::ThreeWay { percent } => {
                let fraction = percent / 100.0;
                fraction
                    * greatest(positions, position)
                        .ok_or(Reason::NoBasis("limit of quantitation or action limit".into()))?
            }
        };
        Ok((usable, limit))
    };
    match judged() {
        Err(reason) => Judgement::not(reason, unit, rules.citation).with(found, None),
        Ok((usable, most)) => {
            let low = match rules.negative {
                Negative::Judged => Some(-most),
                Negative::NotJudged => None,
            };
            let limit = Limit { low, high: Some(most), edge: rules.edge };
            let citation = if usable.value < 0.0 { rules.negative_citation } else { rules.citation };
            let figure = statistic(Figure::Blank, usable.value, usable.u);
            Judgement::of(figure, limit, positions.criteria.comparison(), unit, citation).with(found, Some(0.0))
        }
    }
}

/// The greatest of LOQ, action limit and lowest sample of the batch.
fn greatest(positions: &Positions, blank: &Measured) -> Option<f64> {
    let same_unit = |other: &&Measured| other.result_unit == blank.result_unit;
    let results =
        positions.samples(&blank.batch).filter(same_unit).filter_map(|sample| positions.own_result(sample).ok());
    let lowest = results.map(|result| result.value).min_by(f64::total_cmp);
    // Without LOQ and action limit there is nothing the lowest sample could be the greater of.
    let named = blank.loq.into_iter().chain(blank.action_limit).max_by(f64::total_cmp)?;
    Some(lowest.map_or(named, |lowest| lowest.max(named)))
}

/// The samples that a failed method blank affects: detected, and below so many times the blank. A negative blank
/// hides analyte, so what was not detected is affected as well.
pub(super) fn affected(positions: &Positions, blank: &Measured, rules: &BlankRules, verdict: &Verdict) -> Vec<u32> {
    let (Verdict::Fail, Some(found)) = (verdict, blank.result) else { return Vec::new() };
    let concerned = |sample: &&Measured| {
        let detected = sample.detection != Detection::NotDetected || found.value < 0.0;
        let below = match (rules.affected_factor, sample.result) {
            (Some(factor), Some(result)) if result.status.has_value() && sample.result_unit == blank.result_unit => {
                order(result.value, factor * found.value.abs()).is_lt()
            }
            _ => true, // nothing shows that it is not
        };
        detected && below
    };
    positions.samples(&blank.batch).filter(concerned).map(|sample| sample.position).collect()
}
