//! Criteria as the plain structs that the judging rooms read.

use super::{CheckKind, Criteria};
use crate::finding::Citation;

/// Whether a figure exactly at its limit passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Edge {
    /// At the limit passes.
    #[default]
    Inclusive,
    /// At the limit fails.
    Strict,
}

/// A range of recoveries, %.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// Lowest acceptable, %.
    pub low: Option<f64>,
    /// Highest acceptable, %.
    pub high: Option<f64>,
    /// Whether a figure exactly at a limit passes.
    pub edge: Edge,
    /// Where the lower limit comes from, or the upper one where there is no lower.
    pub citation: Citation,
}

/// A largest difference, %.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Largest acceptable magnitude, %.
    pub most: Option<f64>,
    /// Whether a difference exactly at the limit passes.
    pub edge: Edge,
    /// Where the limit comes from.
    pub citation: Citation,
}

/// The limit a blank is measured by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// Limit of quantitation.
    Loq,
    /// Method detection limit.
    Mdl,
}

/// What a blank is judged against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BlankLimit {
    /// Not judged.
    Off,
    /// A multiple of a limit of the method.
    Limit {
        /// Which limit.
        basis: Basis,
        /// How many times it.
        factor: f64,
    },
    /// A percentage of the LOQ, of the action limit or of the lowest sample of the batch, whichever is greatest.
    ThreeWay {
        /// The percentage.
        percent: f64,
    },
}

/// Whether a blank below zero is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Negative {
    /// By its magnitude, as one above zero.
    Judged,
    /// Not at all: it passes.
    NotJudged,
}

/// How a blank is judged.
#[derive(Clone, Debug, PartialEq)]
pub struct BlankRules {
    /// Against what.
    pub limit: BlankLimit,
    /// Whether a blank exactly at the limit passes.
    pub edge: Edge,
    /// Whether blanks below zero are judged.
    pub negative: Negative,
    /// A failed method blank affects detected samples below this many times the blank; absent for calibration blanks.
    pub affected_factor: Option<f64>,
    /// Where the limit comes from.
    pub citation: Citation,
    /// Where the judgement of negative blanks comes from.
    pub negative_citation: Citation,
}

/// The rule for duplicates near the limit of quantitation.
#[derive(Clone, Debug, PartialEq)]
pub struct NearLimit {
    /// It applies where either value lies below this many LOQ.
    pub below: f64,
    /// Largest acceptable difference, in LOQ.
    pub difference: f64,
    /// Where the rule comes from.
    pub citation: Citation,
}

/// When the native content makes a spike recovery meaningless.
#[derive(Clone, Debug, PartialEq)]
pub struct NativeRule {
    /// Native over added from which on the spike is not evaluated.
    pub ratio: f64,
    /// Inclusive: not evaluated at the ratio itself.
    pub edge: Edge,
    /// Where the rule comes from.
    pub citation: Citation,
}

/// What stands for a native content below the MDL.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NativeBelowMdl {
    /// The signed estimate.
    Signed,
    /// Zero.
    Zero,
    /// The recovery is not calculable.
    NotCalculable,
}

/// The additions that a rule is for, in LOQ.
#[derive(Clone, Debug, PartialEq)]
pub struct AdditionRange {
    /// Smallest.
    pub least: Option<f64>,
    /// Largest.
    pub most: Option<f64>,
    /// Where the range comes from.
    pub citation: Citation,
}

/// How a spike is judged.
#[derive(Clone, Debug, PartialEq)]
pub struct SpikeRules {
    /// Limits of the recovery.
    pub range: Range,
    /// When the native content is too high; `None`: never.
    pub native: Option<NativeRule>,
    /// What stands for a native content below the MDL.
    pub below_mdl: NativeBelowMdl,
    /// Where that policy comes from.
    pub below_mdl_citation: Citation,
    /// Additions for which the rule holds.
    pub addition: AdditionRange,
}

/// Where the floor of a serial dilution is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FloorAt {
    /// By the diluted solution.
    AfterDilution,
    /// By the undiluted solution.
    BeforeDilution,
}

/// How a serial dilution is judged.
#[derive(Clone, Debug, PartialEq)]
pub struct DilutionRules {
    /// Largest difference from the undiluted result.
    pub difference: Difference,
    /// Smallest content, in LOQ of the solution.
    pub floor: Option<f64>,
    /// Which solution must reach the floor.
    pub floor_at: FloorAt,
    /// Where the floor comes from.
    pub floor_citation: Citation,
    /// The dilution the rule is for, such as fivefold.
    pub fold: Option<f64>,
    /// Where the dilution comes from.
    pub fold_citation: Citation,
}

/// How often an instrument check is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Frequency {
    /// Where the requirement comes from; `None`: not required.
    pub required: Option<Citation>,
    /// Largest number of analyses between two.
    pub every: Option<(u32, Citation)>,
    /// The run must close with one; where that comes from.
    pub at_end: Option<Citation>,
}

/// Which batches must have a check.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Requirement {
    /// Every one.
    Always,
    /// One whose spike before it failed: the matrix spike before a post-digestion spike, that before a dilution.
    AfterFailedSpike,
}

/// How often a batch check is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct BatchRules {
    /// Which batches must have it, and where that comes from; `None`: not required.
    pub required: Option<(Requirement, Citation)>,
    /// Largest number of samples that one serves.
    pub batch_size: Option<(u32, Citation)>,
}

/// What counts between two checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Counting {
    /// Every analysis that is neither a standard nor a calibration check.
    Analyses,
    /// Samples alone.
    Samples,
}

/// What becomes of a failed check that is repeated at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Retry {
    /// The failure stands.
    Off,
    /// One repeat of the same check right after it stands for it.
    OneImmediate,
}

/// Which samples a failed check does not condemn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Release {
    /// It condemns all.
    Off,
    /// A check that failed high does not condemn a sample in which nothing was detected.
    HighCheckNondetect,
}

/// How failed instrument checks condemn.
#[derive(Clone, Debug, PartialEq)]
pub struct BracketRules {
    /// What counts between two checks.
    pub counting: Counting,
    /// Whether a repeat may stand for a failed check.
    pub retry: Retry,
    /// Which samples are released.
    pub release: Release,
    /// Where the release comes from.
    pub release_citation: Citation,
    /// Where the retry policy comes from.
    pub retry_citation: Citation,
}

/// What is compared with the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Comparison {
    /// The figure as computed.
    #[default]
    Unrounded,
    /// Percentages rounded half-even to so many decimals.
    HalfEven {
        /// Digits after the point.
        decimals: u8,
    },
}

impl Criteria {
    pub(super) fn edge(&self, check: &str, key: &str) -> Edge {
        if self.word(check, key) == "strict" { Edge::Strict } else { Edge::Inclusive }
    }

    /// The recovery limits of a check; none for a check that has no recovery.
    pub fn recovery(&self, kind: CheckKind) -> Range {
        let check = kind.name();
        let (low, high) = (self.number(check, "low"), self.number(check, "high"));
        let named = if low.is_some() { "low" } else { "high" };
        Range { low, high, edge: self.edge(check, "edge"), citation: self.citation(check, named) }
    }

    /// The largest relative percent difference of a duplicate, LCSD or MSD.
    pub fn relative_difference(&self, kind: CheckKind) -> Difference {
        let check = kind.name();
        Difference {
            most: self.number(check, "rpd"),
            edge: self.edge(check, "rpd_edge"),
            citation: self.citation(check, "rpd"),
        }
    }

    /// The rule for duplicates near the limit of quantitation, where it is named.
    pub fn near_limit(&self) -> Option<NearLimit> {
        if self.word("duplicate", "near_limit") != "loq_difference" {
            return None;
        }
        let below = self.number("duplicate", "near_limit_factor")?;
        let difference = self.number("duplicate", "near_limit_difference")?;
        Some(NearLimit { below, difference, citation: self.citation("duplicate", "near_limit") })
    }

    /// How the blank `kind` is judged.
    pub fn blank(&self, kind: CheckKind) -> BlankRules {
        let check = kind.name();
        let basis = if self.word(check, "basis") == "mdl" { Basis::Mdl } else { Basis::Loq };
        let number = |key| self.number(check, key);
        let limit = match (self.word(check, "rule"), number("factor"), number("percent")) {
            ("limit", Some(factor), _) => BlankLimit::Limit { basis, factor },
            ("three_way", _, Some(percent)) => BlankLimit::ThreeWay { percent },
            _ => BlankLimit::Off,
        };
        let negative = self.word(check, "negative") == "judged";
        BlankRules {
            limit,
            edge: self.edge(check, "edge"),
            negative: if negative { Negative::Judged } else { Negative::NotJudged },
            affected_factor: number("affected_factor"),
            citation: self.citation(check, if matches!(limit, BlankLimit::Limit { .. }) { "factor" } else { "rule" }),
            negative_citation: self.citation(check, "negative"),
        }
    }

    /// How the spike `kind` is judged.
    pub fn spike(&self, kind: CheckKind) -> SpikeRules {
        let check = kind.name();
        let citation = self.citation(check, "native_rule");
        let native = match self.word(check, "native_rule") {
            "native_4x" => self.number(check, "native_factor").map(|ratio| (ratio, Edge::Inclusive)),
            "added_below_25_percent" => Some((1.0 / 0.25, Edge::Strict)),
            "added_below_30_percent" => Some((1.0 / 0.30, Edge::Strict)),
            _ => None,
        };
        SpikeRules {
            range: self.recovery(kind),
            native: native.map(|(ratio, edge)| NativeRule { ratio, edge, citation }),
            below_mdl: match self.word(check, "native_below_mdl") {
                "zero" => NativeBelowMdl::Zero,
                "not_calculable" => NativeBelowMdl::NotCalculable,
                _ => NativeBelowMdl::Signed,
            },
            below_mdl_citation: self.citation(check, "native_below_mdl"),
            addition: AdditionRange {
                least: self.number(check, "addition_least"),
                most: self.number(check, "addition_most"),
                citation: self.citation(check, "addition_least"),
            },
        }
    }

    /// How a serial dilution is judged.
    pub fn dilution(&self) -> DilutionRules {
        let check = CheckKind::SerialDilution.name();
        let before = self.word(check, "floor_at") == "before_dilution";
        DilutionRules {
            difference: Difference {
                most: self.number(check, "difference"),
                edge: self.edge(check, "edge"),
                citation: self.citation(check, "difference"),
            },
            floor: self.number(check, "floor"),
            floor_at: if before { FloorAt::BeforeDilution } else { FloorAt::AfterDilution },
            floor_citation: self.citation(check, "floor"),
            fold: self.number(check, "fold"),
            fold_citation: self.citation(check, "fold"),
        }
    }

    fn required(&self, check: &str) -> Option<Citation> {
        (self.word(check, "required") == "required").then(|| self.citation(check, "required"))
    }

    fn count(&self, check: &str, key: &str) -> Option<(u32, Citation)> {
        self.number(check, key).filter(|count| *count >= 1.0).map(|count| (count as u32, self.citation(check, key)))
    }

    /// How often the instrument check `kind` is wanted.
    pub fn frequency(&self, kind: CheckKind) -> Frequency {
        let check = kind.name();
        let at_end = self.word(check, "at_end") == "required";
        Frequency {
            required: self.required(check),
            every: self.count(check, "every"),
            at_end: at_end.then(|| self.citation(check, "at_end")),
        }
    }

    /// How often the batch check `kind` is wanted.
    pub fn batch(&self, kind: CheckKind) -> BatchRules {
        let check = kind.name();
        let requirement = match self.word(check, "required") {
            "required" => Some(Requirement::Always),
            "after_failed_spike" => Some(Requirement::AfterFailedSpike),
            _ => None,
        };
        let required = requirement.map(|which| (which, self.citation(check, "required")));
        BatchRules { required, batch_size: self.count(check, "batch_size") }
    }

    /// How failed instrument checks condemn.
    pub fn bracket(&self) -> BracketRules {
        let check = "bracket";
        let is = |key, word: &str| self.word(check, key) == word;
        BracketRules {
            counting: if is("counting", "samples") { Counting::Samples } else { Counting::Analyses },
            retry: if is("retry", "one_immediate") { Retry::OneImmediate } else { Retry::Off },
            release: if is("release", "high_check_nondetect") { Release::HighCheckNondetect } else { Release::Off },
            release_citation: self.citation(check, "release"),
            retry_citation: self.citation(check, "retry"),
        }
    }

    /// What is compared with a limit.
    pub fn comparison(&self) -> Comparison {
        match self.number("comparison", "decimals") {
            Some(decimals) => Comparison::HalfEven { decimals: decimals as u8 },
            None => Comparison::Unrounded,
        }
    }

    /// Whether the method blank is subtracted from results, and where that policy comes from.
    pub fn subtracts_method_blank(&self) -> (bool, Citation) {
        (self.word("method_blank", "subtract") == "on", self.citation("method_blank", "subtract"))
    }
}
