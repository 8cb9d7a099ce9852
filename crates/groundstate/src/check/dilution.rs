//! Serial dilution: the digest again, diluted; the result should stay.

use super::compare::order;
use super::judgement::{Judgement, Positions, root_sum, statistic};
use super::{Figure, Limit, Measured, Reason, Statistic};
use crate::criteria::{DilutionRules, FloorAt};
use crate::finding::Citation;

/// A dilution made to within so much, relative, is the dilution the rule is for: pipettes and flasks are no better.
const FOLD_TOLERANCE: f64 = 0.01;

/// Judges 100 |I - S| / I, with I the undiluted content of the digest and S the diluted one times its dilution.
pub(super) fn dilution(positions: &Positions, position: &Measured) -> Judgement {
    let rules = positions.criteria.dilution();
    let unit = position.solution_unit;
    let found = Some(position.digest());
    let undiluted = positions.parent(position).ok().map(|parent| parent.digest().value);
    let expected = undiluted.filter(|value| value.is_finite());
    let judgement = match (measure(positions, position, &rules), rules.difference.most) {
        (Err((reason, citation)), _) => Judgement::not(reason, unit, citation),
        (Ok(_), None) => Judgement::not(Reason::NoLimit, unit, rules.difference.citation),
        (Ok(figure), Some(most)) => {
            let limit = Limit::at_most(most, rules.difference.edge);
            Judgement::of(figure, limit, positions.criteria.comparison(), unit, rules.difference.citation)
        }
    };
    judgement.with(found, expected)
}

fn measure(positions: &Positions, position: &Measured, rules: &DilutionRules) -> Result<Statistic, (Reason, Citation)> {
    let plain = |reason| (reason, rules.difference.citation.clone());
    let parent = positions.parent(position).map_err(plain)?;
    let undiluted = positions.others(parent, Some(parent.digest())).map_err(plain)?;
    let diluted = positions.own(position, position.digest()).map_err(plain)?;
    if parent.solution_unit != position.solution_unit {
        return Err(plain(Reason::UnitsDiffer));
    }
    if let Some(fold) = rules.fold {
        let made = position.dilution / parent.dilution;
        let off = (made / fold - 1.0).abs();
        if off.is_nan() || off > FOLD_TOLERANCE {
            return Err((Reason::OtherDilution { fold: made }, rules.fold_citation.clone()));
        }
    }
    if let Some(floor) = rules.floor {
        let (judged, loq) = match rules.floor_at {
            FloorAt::AfterDilution => (position.solution.value, position.solution_loq),
            FloorAt::BeforeDilution => (parent.solution.value, parent.solution_loq),
        };
        let no_basis = || (Reason::NoBasis("limit of quantitation".into()), rules.floor_citation.clone());
        let loq = loq.filter(|loq| *loq > 0.0).ok_or_else(no_basis)?;
        if order(judged, floor * loq).is_lt() {
            return Err((Reason::BelowFloor { multiple: judged / loq }, rules.floor_citation.clone()));
        }
    }
    if undiluted.value <= 0.0 {
        return Err(plain(Reason::NoPositiveMean));
    }
    let value = 100.0 * (undiluted.value - diluted.value).abs() / undiluted.value;
    // (S/I - 1): its derivatives are 1/I and -S/I^2.
    let u = 100.0 * root_sum(diluted.u, diluted.value / undiluted.value * undiluted.u) / undiluted.value;
    Ok(statistic(Figure::DilutionDifference, value, u))
}
