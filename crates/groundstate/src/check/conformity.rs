//! Statements of conformity with an action limit: only with a named decision rule, never of a result that is
//! condemned or incomplete.

use std::borrow::Cow;
use std::cmp::Ordering;

use super::compare::order;
use crate::estimate::{Coverage, Estimate, expanded};
use crate::finding::Citation;
use crate::method::{ActionLimit, ConformSide, DecisionRule};

/// Whether a result may be judged at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Fitness {
    /// It may.
    Fit,
    /// A failed check condemns it.
    Condemned,
    /// A required check that concerns it failed, is missing or was not evaluable.
    Incomplete,
}

/// A statement of conformity.
#[derive(Clone, Debug, PartialEq)]
pub enum Conformity {
    /// The result conforms.
    Conforms,
    /// It does not.
    DoesNotConform,
    /// It lies within the guard band, where this rule makes no statement.
    Undecided,
    /// No statement is made; why.
    NotJudged(Cow<'static, str>),
}

impl Conformity {
    /// The stable name, in `snake_case`.
    pub const fn name(&self) -> &'static str {
        match self {
            Conformity::Conforms => "conforms",
            Conformity::DoesNotConform => "does_not_conform",
            Conformity::Undecided => "undecided",
            Conformity::NotJudged(_) => "not_judged",
        }
    }
}

/// Where the decision rules come from.
pub const DECISION_RULES: Citation = Citation::unverified("JCGM 106:2012", "", "");

/// The statement on `result`, given in the unit of `limit`, under the limit's decision rule.
///
/// - simple: the value is compared with the limit.
/// - guard band: it conforms at least `multiple` expanded uncertainties inside the limit, it does not conform that far
///   outside, and nothing is said between.
/// - shared risk: the value is compared with the limit, provided that the expanded uncertainty is at most the agreed
///   fraction of the limit.
///
/// A value at the limit conforms. Figures are compared unrounded.
pub fn conformity(result: &Estimate, limit: &ActionLimit, coverage: Coverage, fitness: Fitness) -> Conformity {
    match fitness {
        Fitness::Fit => {}
        Fitness::Condemned => return Conformity::NotJudged("the result is condemned".into()),
        Fitness::Incomplete => {
            return Conformity::NotJudged("a required check of the result failed or is missing".into());
        }
    }
    if !result.status.has_value() || !result.value.is_finite() {
        return Conformity::NotJudged("the result has no value".into());
    }
    let (uncertainty, _) = expanded(result.u, result.dof, coverage);
    let guard = match limit.rule {
        DecisionRule::Simple => 0.0,
        DecisionRule::GuardBand { multiple } => multiple * uncertainty,
        DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: largest } => {
            let most = largest * limit.value.abs();
            match uncertainty.is_finite() {
                true if order(uncertainty, most).is_le() => 0.0,
                true => {
                    return Conformity::NotJudged("the expanded uncertainty is larger than the parties accept".into());
                }
                false => f64::NAN,
            }
        }
    };
    if !guard.is_finite() {
        return Conformity::NotJudged("the expanded uncertainty is not known".into());
    }
    let inside = |bound: f64| match limit.conforms {
        ConformSide::AtLeast => order(result.value, bound) != Ordering::Less,
        _ => order(result.value, bound) != Ordering::Greater,
    };
    let inward = if limit.conforms == ConformSide::AtLeast { guard } else { -guard };
    if inside(limit.value + inward) {
        Conformity::Conforms
    } else if inside(limit.value - inward) && guard > 0.0 {
        Conformity::Undecided
    } else {
        Conformity::DoesNotConform
    }
}
