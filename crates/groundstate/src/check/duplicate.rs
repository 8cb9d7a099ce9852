//! Agreement of two portions: duplicate, LCSD, MSD. Always from concentrations, never from recoveries (8000D 9.6.3).

use super::compare::order;
use super::judgement::{Judgement, Positions, root_sum, statistic};
use super::{Detection, Figure, Limit, Measured, Reason, Statistic};
use crate::criteria::{CheckKind, Edge, NearLimit};
use crate::estimate::Estimate;
use crate::run::Role;

/// The relative percent difference 100 |a - b| / ((a + b) / 2) (SW-846 Method 7000B, 9.7.1); `None` where the mean is
/// not above zero.
///
/// ```
/// use groundstate::check::relative_percent_difference;
/// assert_eq!(relative_percent_difference(10.0, 6.0), Some(50.0));
/// assert_eq!(relative_percent_difference(0.1, -0.1), None);
/// ```
pub fn relative_percent_difference(a: f64, b: f64) -> Option<f64> {
    let mean = (a + b) / 2.0;
    (mean > 0.0).then(|| 100.0 * (a - b).abs() / mean)
}

/// Judges the difference between `position` and the portion it repeats.
pub(super) fn agreement(positions: &Positions, position: &Measured, kind: CheckKind) -> Judgement {
    let rule = positions.criteria.relative_difference(kind);
    let near = if kind == CheckKind::Duplicate { positions.criteria.near_limit() } else { None };
    let other = match kind {
        CheckKind::Lcsd => positions.partner(position, Role::Lcs).ok_or(Reason::ParentNotNamed),
        CheckKind::MatrixSpikeDuplicate => positions.partner(position, Role::MatrixSpike).ok_or(Reason::ParentNotNamed),
        _ => positions.parent(position),
    };
    let values = other.and_then(|other| {
        let first = positions.others(other, other.result)?;
        let second = positions.own_result(position)?;
        if other.result_unit == position.result_unit { Ok((other, first, second)) } else { Err(Reason::UnitsDiffer) }
    });
    let unit = position.result_unit;
    let (other, first, second) = match values {
        Ok(values) => values,
        Err(reason) => return Judgement::not(reason, unit, rule.citation).with(position.result, None),
    };
    let comparison = positions.criteria.comparison();
    let judgement = if [other, position].iter().all(|portion| portion.detection == Detection::NotDetected) {
        Judgement::not(Reason::NeitherDetected, unit, rule.citation)
    } else if let Some((near, loq)) = near.and_then(|near| near_limit(near, other, position, first, second)) {
        let limit = Limit::at_most(near.difference * loq, Edge::Inclusive);
        let difference = (first.value - second.value).abs();
        let figure = statistic(Figure::AbsoluteDifference, difference, root_sum(first.u, second.u));
        Judgement::of(figure, limit, comparison, unit, near.citation)
    } else {
        match (relative(first, second), rule.most) {
            (None, _) => Judgement::not(Reason::NoPositiveMean, unit, rule.citation),
            (_, None) => Judgement::not(Reason::NoLimit, unit, rule.citation),
            (Some(figure), Some(most)) => {
                Judgement::of(figure, Limit::at_most(most, rule.edge), comparison, unit, rule.citation)
            }
        }
    };
    judgement.with(position.result, Some(first.value))
}

/// The near-limit rule and the greater LOQ of the two portions, where either value is below its multiple.
fn near_limit(
    rule: NearLimit,
    a: &Measured,
    b: &Measured,
    first: Estimate,
    second: Estimate,
) -> Option<(NearLimit, f64)> {
    let loq = a.loq.into_iter().chain(b.loq).max_by(f64::total_cmp)?;
    let either = [first, second].iter().any(|portion| order(portion.value, rule.below * loq).is_lt());
    either.then_some((rule, loq))
}

fn relative(a: Estimate, b: Estimate) -> Option<Statistic> {
    let value = relative_percent_difference(a.value, b.value)?;
    // RPD = 200 |a - b| / (a + b), so its derivatives are 400 b / (a + b)^2 and -400 a / (a + b)^2.
    let sum = a.value + b.value;
    let u = 400.0 * root_sum(b.value * a.u, a.value * b.u) / (sum * sum);
    Some(statistic(Figure::RelativeDifference, value, u))
}
