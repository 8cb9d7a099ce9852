//! Recovery of a known content: ICV, CCV, low check, LCS, LCSD, reference material.

use super::judgement::{Judgement, Positions, statistic};
use super::{Figure, Limit, Measured, Reason};
use crate::criteria::{CheckKind, Edge};
use crate::finding::Citation;

/// Judges 100 found / true, or the value found against the row's own acceptance range. Instrument checks are judged
/// in the solution, the others in the result.
pub(super) fn recovery(positions: &Positions, position: &Measured, kind: CheckKind) -> Judgement {
    let range = positions.criteria.recovery(kind);
    let (found, unit) = if kind.is_instrument() {
        (Some(position.solution), position.solution_unit)
    } else {
        (position.result, position.result_unit)
    };
    let usable = found.ok_or(Reason::NoResult).and_then(|found| {
        // An instrument check is never condemned: it is what condemns.
        if kind.is_instrument() && found.status.has_value() { Ok(found) } else { positions.own(position, found) }
    });
    let usable = match usable {
        Ok(usable) => usable,
        Err(reason) => return Judgement::not(reason, unit, range.citation).with(found, position.nominal),
    };
    let comparison = positions.criteria.comparison();
    let judgement = if let Some((low, high)) = position.accept {
        let limit = Limit { low: Some(low), high: Some(high), edge: Edge::Inclusive };
        let figure = statistic(Figure::Found, usable.value, usable.u);
        Judgement::of(figure, limit, comparison, unit, Citation::laboratory())
    } else if let Some(nominal) = position.nominal.filter(|nominal| *nominal > 0.0) {
        let limit = Limit { low: range.low, high: range.high, edge: range.edge };
        let figure = statistic(Figure::Recovery, 100.0 * usable.value / nominal, 100.0 * usable.u / nominal);
        Judgement::of(figure, limit, comparison, unit, range.citation)
    } else {
        Judgement::not(Reason::NoNominal, unit, range.citation)
    };
    judgement.with(found, position.nominal)
}
