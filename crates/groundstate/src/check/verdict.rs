//! One check and its verdict.

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

use crate::criteria::{CheckKind, Edge};
use crate::estimate::{Estimate, Status};
use crate::finding::Citation;
use crate::unit::Unit;

/// Why a check was not evaluated.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Reason {
    /// No limit is set.
    NoLimit,
    /// The position has no value.
    NoValue(Status),
    /// No preparation leads from its solution to a result.
    NoResult,
    /// The position is condemned.
    Condemned,
    /// What it was made from is not named.
    ParentNotNamed,
    /// Nothing of that name is in the run.
    ParentNotFound(Arc<str>),
    /// What it is compared with has no value.
    ParentNoValue(u32),
    /// What it is compared with is condemned.
    ParentCondemned(u32),
    /// The two are in different units.
    UnitsDiffer,
    /// Neither a true value above zero nor an acceptance range was given.
    NoNominal,
    /// No addition above zero was given.
    NoAddition,
    /// The addition could not be converted.
    AdditionUnknown(Arc<str>),
    /// The limit it is judged by is not known for this position.
    NoBasis(Cow<'static, str>),
    /// The figure is not defined for this calibration.
    NotDefined(Cow<'static, str>),
    /// The rule is for an addition within a range of multiples of the LOQ.
    AdditionOutOfRange {
        /// The addition, in LOQ.
        multiple: f64,
    },
    /// The native content is too high for the addition.
    NativeTooHigh {
        /// Native over added.
        ratio: f64,
    },
    /// The native content is below the MDL, and the policy is not to calculate.
    NativeBelowMdl,
    /// Neither portion was detected.
    NeitherDetected,
    /// The mean of the two is not above zero.
    NoPositiveMean,
    /// Too little analyte for the rule.
    BelowFloor {
        /// The content, in LOQ.
        multiple: f64,
    },
    /// The rule is for another dilution.
    OtherDilution {
        /// The dilution made.
        fold: f64,
    },
}

impl Reason {
    /// Whether the rule itself says that it does not apply here. Otherwise a fact is missing that should be there.
    pub const fn is_by_rule(&self) -> bool {
        matches!(
            self,
            Reason::NativeTooHigh { .. }
                | Reason::NativeBelowMdl
                | Reason::NeitherDetected
                | Reason::NoPositiveMean
                | Reason::BelowFloor { .. }
                | Reason::AdditionOutOfRange { .. }
                | Reason::OtherDilution { .. }
                | Reason::NoLimit
        )
    }

    /// The stable name, in `snake_case`.
    pub const fn name(&self) -> &'static str {
        match self {
            Reason::NoLimit => "no_limit",
            Reason::NoValue(_) => "no_value",
            Reason::NoResult => "no_result",
            Reason::Condemned => "condemned",
            Reason::ParentNotNamed => "parent_not_named",
            Reason::ParentNotFound(_) => "parent_not_found",
            Reason::ParentNoValue(_) => "parent_no_value",
            Reason::ParentCondemned(_) => "parent_condemned",
            Reason::UnitsDiffer => "units_differ",
            Reason::NoNominal => "no_nominal",
            Reason::NoAddition => "no_addition",
            Reason::AdditionUnknown(_) => "addition_unknown",
            Reason::NoBasis(_) => "no_basis",
            Reason::NotDefined(_) => "not_defined",
            Reason::AdditionOutOfRange { .. } => "addition_out_of_range",
            Reason::NativeTooHigh { .. } => "native_too_high",
            Reason::NativeBelowMdl => "native_below_mdl",
            Reason::NeitherDetected => "neither_detected",
            Reason::NoPositiveMean => "no_positive_mean",
            Reason::BelowFloor { .. } => "below_floor",
            Reason::OtherDilution { .. } => "other_dilution",
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match self {
            Reason::NoLimit => "no limit is set for it",
            Reason::NoValue(status) => return write!(f, "it has no value ({})", status.words()),
            Reason::NoResult => "no preparation leads from its solution to a result",
            Reason::Condemned => "its position is condemned by a failed instrument check",
            Reason::ParentNotNamed => "what it was made from is not named; fill the column of",
            Reason::ParentNotFound(name) => return write!(f, "{name:?}, which it was made from, is not in the run"),
            Reason::ParentNoValue(position) => {
                return write!(f, "position {position}, which it is compared with, has no value");
            }
            Reason::ParentCondemned(position) => {
                return write!(f, "position {position}, which it is compared with, is condemned");
            }
            Reason::UnitsDiffer => "it and what it is compared with are in different units",
            Reason::NoNominal => "neither a true value above zero nor an acceptance range was given",
            Reason::NoAddition => "no addition above zero was given",
            Reason::AdditionUnknown(why) => return write!(f, "its addition is not known in result units: {why}"),
            Reason::NoBasis(what) => return write!(f, "its {what} is not known"),
            Reason::NotDefined(why) => &**why,
            Reason::AdditionOutOfRange { multiple } => {
                return write!(
                    f,
                    "the addition is {multiple:.3} times the LOQ, outside the range that the rule is for"
                );
            }
            Reason::NativeTooHigh { ratio } => {
                return write!(f, "the native content is {ratio:.3} times the addition, too high for a recovery");
            }
            Reason::NativeBelowMdl => "the native content is below the MDL, and the policy is not to calculate then",
            Reason::NeitherDetected => "the analyte was detected in neither portion",
            Reason::NoPositiveMean => "the mean that the difference refers to is not above zero",
            Reason::BelowFloor { multiple } => {
                return write!(f, "the content is {multiple:.3} times the LOQ, below the floor of the rule");
            }
            Reason::OtherDilution { fold } => {
                return write!(f, "it is a {fold:.4}-fold dilution, another one than the rule is for");
            }
        };
        f.write_str(text)
    }
}

/// In which way a required check is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Gap {
    /// It is not there.
    Absent,
    /// It came too late, or there are too few.
    Late,
    /// It is there but could not be evaluated.
    Unevaluable,
}

impl Gap {
    /// The gap in words and in `snake_case`: one word each.
    pub const fn name(self) -> &'static str {
        match self {
            Gap::Absent => "absent",
            Gap::Late => "late",
            Gap::Unevaluable => "unevaluable",
        }
    }
}

/// The verdict of a check.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Within its limit.
    Pass,
    /// Outside.
    Fail,
    /// Not judged; why.
    NotEvaluated(Reason),
    /// Required, and missing.
    Missing(Gap),
}

impl Verdict {
    /// The stable name, in `snake_case`.
    pub const fn name(&self) -> &'static str {
        match self {
            Verdict::Pass => "pass",
            Verdict::Fail => "fail",
            Verdict::NotEvaluated(_) => "not_evaluated",
            Verdict::Missing(_) => "missing",
        }
    }

    /// Whether it was judged: passed or failed.
    pub const fn is_evaluated(&self) -> bool {
        matches!(self, Verdict::Pass | Verdict::Fail)
    }
}

macro_rules! figures {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $words:literal, $scale:ident;)+) => {
        /// The figure a check is judged by.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[non_exhaustive]
        pub enum Figure { $($(#[$doc])* $variant,)+ }

        impl Figure {
            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(Figure::$variant => $name,)+ }
            }

            /// The figure in words.
            pub const fn words(self) -> &'static str {
                match self { $(Figure::$variant => $words,)+ }
            }

            /// What it is counted in.
            pub const fn scale(self) -> Scale {
                match self { $(Figure::$variant => Scale::$scale,)+ }
            }
        }
    };
}

/// What a figure is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scale {
    /// Per cent.
    Percent,
    /// The unit of the check.
    Concentration,
    /// A pure number or a count.
    Number,
}

figures! {
    /// 100 found / true, or 100 (spiked - native) / added.
    Recovery = "recovery", "recovery", Percent;
    /// The value found, against the row's own acceptance range.
    Found = "found", "value found", Concentration;
    /// The value of a blank.
    Blank = "blank", "blank", Concentration;
    /// 100 |D1 - D2| / ((D1 + D2) / 2).
    RelativeDifference = "relative_percent_difference", "relative percent difference", Percent;
    /// |D1 - D2|.
    AbsoluteDifference = "absolute_difference", "difference", Concentration;
    /// 100 |I - S| / I, with S the diluted result times its dilution.
    DilutionDifference = "percent_difference", "difference from the undiluted", Percent;
    /// Pearson's r.
    Correlation = "r", "correlation coefficient", Number;
    /// Coefficient of determination.
    Determination = "r_squared", "coefficient of determination", Number;
    /// Largest magnitude of a level's percent error.
    PercentError = "percent_error", "largest percent error of a level", Percent;
    /// Magnitude of the lowest level's percent error.
    LowestPercentError = "percent_error_lowest", "percent error of the lowest level", Percent;
    /// Relative standard error.
    RelativeStandardError = "rse", "relative standard error", Percent;
    /// Largest magnitude of a studentized residual.
    StudentizedResidual = "studentized_residual", "largest studentized residual", Number;
    /// Largest relative standard deviation of a standard's readings.
    StandardDeviation = "standard_rsd", "largest relative standard deviation of a standard's readings", Percent;
    /// Largest relative percent difference of a standard's two readings.
    StandardDifference = "standard_rpd", "largest relative percent difference of a standard's readings", Percent;
    /// Standards above zero.
    Standards = "standards", "number of standards above zero", Number;
    /// Calibration blanks.
    CalibrationBlanks = "calibration_blanks", "number of calibration blanks", Number;
    /// Parameters of the shape beyond those of a line.
    Curvature = "curvature", "number of curvature terms", Number;
}

/// The figure of a check, with its standard uncertainty where that is known. The verdict does not use it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Statistic {
    /// Which figure.
    pub figure: Figure,
    /// Its value.
    pub value: f64,
    /// Its standard uncertainty, same scale, from those of the estimates it is made of, these taken as independent.
    /// Two estimates from one calibration are positively correlated, so of a difference this is the upper figure.
    pub u: Option<f64>,
}

/// The limits of a check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Lowest acceptable value.
    pub low: Option<f64>,
    /// Highest acceptable value.
    pub high: Option<f64>,
    /// Whether a value exactly at a limit passes.
    pub edge: Edge,
}

/// One judgement.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Which check.
    pub kind: CheckKind,
    /// Where it stands; absent for calibrations and for what is missing.
    pub position: Option<u32>,
    /// The calibrated stretch it belongs to.
    pub segment: u32,
    /// The preparation batch it speaks for.
    pub batch: Option<Arc<str>>,
    /// Its label.
    pub label: Arc<str>,
    /// What was found, in `unit`.
    pub found: Option<Estimate>,
    /// What was expected, in `unit`: true value, addition, or the other portion.
    pub expected: Option<f64>,
    /// Unit of `found` and `expected`.
    pub unit: Option<Unit>,
    /// The figure that was judged.
    pub statistic: Option<Statistic>,
    /// What it was judged by.
    pub limit: Option<Limit>,
    /// The verdict.
    pub verdict: Verdict,
    /// The rule.
    pub citation: Citation,
    /// Positions that a failed or missing check affects, ascending.
    pub affects: Vec<u32>,
    /// Position of the repeat that stands for this failed check, where the retry policy allows one.
    pub replaced_by: Option<u32>,
}
