//! How results are written.

use std::sync::Arc;

use super::SampleKind;
use super::policy::words;
use crate::estimate::Coverage;
use crate::rounding::Rule;
use crate::unit::Unit;

words! {
    /// What becomes of a fractional number of effective degrees of freedom before the coverage factor is taken.
    DofPolicy, "dof":
    /// It is kept; the t distribution has a meaning for it.
    Real = "real",
    /// It is cut to the whole number below (JCGM 100:2008, G.4.1).
    Truncate = "truncate",
}

/// How results are written.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// Unit of liquids.
    pub liquid_unit: Unit,
    /// Unit of solids.
    pub solid_unit: Unit,
    /// Rounding and its ties.
    pub rounding: Rule,
    /// Coverage probability of expanded uncertainties and intervals.
    pub coverage: Coverage,
    /// What becomes of fractional degrees of freedom.
    pub dof: DofPolicy,
    /// The words for a result below the limit of `nondetect_at`; `{limit}` stands for the adjusted limit.
    pub nondetect: Arc<str>,
    /// The words for a position without a result.
    pub no_result: Arc<str>,
}

impl Default for Style {
    fn default() -> Self {
        Style {
            liquid_unit: Unit::MilligramPerLitre,
            solid_unit: Unit::MilligramPerKilogram,
            rounding: Rule::default(),
            coverage: Coverage::P95,
            dof: DofPolicy::Real,
            nondetect: "< {limit}".into(),
            no_result: "no result".into(),
        }
    }
}

impl Style {
    /// The unit of samples of one kind.
    pub const fn unit(&self, kind: SampleKind) -> Unit {
        match kind {
            SampleKind::Liquid => self.liquid_unit,
            SampleKind::Solid => self.solid_unit,
        }
    }
}
