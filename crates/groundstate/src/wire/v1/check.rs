//! Checks and condemnations on the wire.

use super::finding::CitationForm;
use super::result::EstimateForm;
use crate::check::{Check, Condemnation, Figure, Gap, Limit, Reach, Reason, Statistic, Verdict};
use crate::criteria::{CheckKind, Edge};
use crate::document::{Real, Word, finite, form, wrong};
use crate::error::Error;
use crate::estimate::Status;
use crate::unit::Unit;

form! {
    /// One judgement.
    CheckForm {
        kind: Word<CheckKind>,
        /// Where it stands; absent for calibrations and for what is missing.
        position: Option<u32>,
        segment: u32,
        /// The preparation batch it speaks for.
        batch: Option<String>,
        label: String,
        found: Option<EstimateForm>,
        expected: Option<Real>,
        /// Unit of what was found and expected.
        unit: Option<Word<Unit>>,
        statistic: Option<StatisticForm>,
        limit: Option<LimitForm>,
        /// pass, fail, not_evaluated or missing.
        verdict: String,
        /// Why it was not evaluated.
        reason: Option<ReasonForm>,
        /// In which way a required check is missing.
        gap: Option<Word<Gap>>,
        citation: CitationForm,
        /// Positions that it affects, ascending.
        affects: Vec<u32>,
        /// Position of the repeat that stands for it.
        replaced_by: Option<u32>,
    }

    /// The figure of a check.
    StatisticForm {
        figure: Word<Figure>,
        value: Option<Real>,
        standard_uncertainty: Option<Real>,
    }

    /// The limits of a check.
    LimitForm {
        low: Option<Real>,
        high: Option<Real>,
        /// Whether a value exactly at a limit passes.
        edge: Word<Edge>,
    }

    /// Why a check was not evaluated: the reason, and the member that tells more.
    ReasonForm {
        code: String,
        /// The reason in words; it follows from the rest.
        words: String,
        status: Option<Word<Status>>,
        position: Option<u32>,
        number: Option<Real>,
        text: Option<String>,
    }

    /// A stretch of a run condemned by one failed check.
    CondemnationForm {
        /// Number of the failed check, from 1.
        check: u32,
        segment: u32,
        /// Every analysis in the stretch.
        positions: Vec<u32>,
        /// Those that a named release option lets go.
        released: Vec<u32>,
        reach: Word<Reach>,
    }
}

impl CheckForm {
    pub fn of(check: &Check) -> Self {
        let (reason, gap) = match &check.verdict {
            Verdict::NotEvaluated(reason) => (Some(ReasonForm::of(reason)), None),
            Verdict::Missing(gap) => (None, Some(Word(*gap))),
            Verdict::Pass | Verdict::Fail => (None, None),
        };
        CheckForm {
            kind: Word(check.kind),
            position: check.position,
            segment: check.segment,
            batch: check.batch.as_deref().map(str::to_owned),
            label: check.label.to_string(),
            found: check.found.as_ref().map(EstimateForm::of),
            expected: check.expected.and_then(finite),
            unit: check.unit.map(Word),
            statistic: check.statistic.as_ref().map(|one| StatisticForm {
                figure: Word(one.figure),
                value: finite(one.value),
                standard_uncertainty: one.u.and_then(finite),
            }),
            limit: check.limit.as_ref().map(|limit| LimitForm {
                low: limit.low.and_then(finite),
                high: limit.high.and_then(finite),
                edge: Word(limit.edge),
            }),
            verdict: check.verdict.name().to_owned(),
            reason,
            gap,
            citation: CitationForm::of(&check.citation),
            affects: check.affects.clone(),
            replaced_by: check.replaced_by,
        }
    }

    pub fn check(&self, at: &str) -> Result<Check, Error> {
        let verdict = match (self.verdict.as_str(), &self.reason, self.gap) {
            ("pass", None, None) => Verdict::Pass,
            ("fail", None, None) => Verdict::Fail,
            ("not_evaluated", Some(reason), None) => Verdict::NotEvaluated(reason.reason().ok_or_else(|| {
                let code: String = reason.code.chars().take(40).collect();
                let what = format!("{code:?} is no reason, or the member that tells more is missing");
                wrong(format!("{at}.reason"), what)
            })?),
            ("missing", None, Some(gap)) => Verdict::Missing(gap.0),
            _ => {
                let what = "a verdict is pass, fail, not_evaluated with its reason, or missing with its gap";
                return Err(wrong(format!("{at}.verdict"), what));
            }
        };
        let number = |real: Option<Real>| real.map(|real| real.0);
        Ok(Check {
            kind: self.kind.0,
            position: self.position,
            segment: self.segment,
            batch: self.batch.as_deref().map(Into::into),
            label: self.label.as_str().into(),
            found: self.found.as_ref().map(|form| form.estimate(&format!("{at}.found"))).transpose()?,
            expected: number(self.expected),
            unit: self.unit.map(|unit| unit.0),
            statistic: self.statistic.as_ref().map(|form| Statistic {
                figure: form.figure.0,
                value: form.value.map_or(f64::NAN, |value| value.0),
                u: number(form.standard_uncertainty),
            }),
            limit: self.limit.as_ref().map(|form| Limit {
                low: number(form.low),
                high: number(form.high),
                edge: form.edge.0,
            }),
            verdict,
            citation: self.citation.citation(),
            affects: self.affects.clone(),
            replaced_by: self.replaced_by,
        })
    }
}

impl ReasonForm {
    fn of(reason: &Reason) -> Self {
        let plain = ReasonForm {
            code: reason.name().to_owned(),
            words: reason.to_string(),
            status: None,
            position: None,
            number: None,
            text: None,
        };
        match reason {
            Reason::NoValue(status) => ReasonForm { status: Some(Word(*status)), ..plain },
            Reason::ParentNoValue(position) | Reason::ParentCondemned(position) => {
                ReasonForm { position: Some(*position), ..plain }
            }
            Reason::ParentNotFound(text) | Reason::AdditionUnknown(text) => {
                ReasonForm { text: Some(text.to_string()), ..plain }
            }
            Reason::NoBasis(text) | Reason::NotDefined(text) => ReasonForm { text: Some(text.to_string()), ..plain },
            Reason::AdditionOutOfRange { multiple: number }
            | Reason::NativeTooHigh { ratio: number }
            | Reason::BelowFloor { multiple: number }
            | Reason::OtherDilution { fold: number } => ReasonForm { number: Some(Real(*number)), ..plain },
            Reason::NoLimit
            | Reason::NoResult
            | Reason::Condemned
            | Reason::ParentNotNamed
            | Reason::UnitsDiffer
            | Reason::NoNominal
            | Reason::NoAddition
            | Reason::NativeBelowMdl
            | Reason::NeitherDetected
            | Reason::NoPositiveMean => plain,
        }
    }

    fn reason(&self) -> Option<Reason> {
        let number = || self.number.map(|number| number.0);
        let text = || self.text.clone();
        Some(match self.code.as_str() {
            "no_limit" => Reason::NoLimit,
            "no_value" => Reason::NoValue(self.status?.0),
            "no_result" => Reason::NoResult,
            "condemned" => Reason::Condemned,
            "parent_not_named" => Reason::ParentNotNamed,
            "parent_not_found" => Reason::ParentNotFound(text()?.into()),
            "parent_no_value" => Reason::ParentNoValue(self.position?),
            "parent_condemned" => Reason::ParentCondemned(self.position?),
            "units_differ" => Reason::UnitsDiffer,
            "no_nominal" => Reason::NoNominal,
            "no_addition" => Reason::NoAddition,
            "addition_unknown" => Reason::AdditionUnknown(text()?.into()),
            "no_basis" => Reason::NoBasis(text()?.into()),
            "not_defined" => Reason::NotDefined(text()?.into()),
            "addition_out_of_range" => Reason::AdditionOutOfRange { multiple: number()? },
            "native_too_high" => Reason::NativeTooHigh { ratio: number()? },
            "native_below_mdl" => Reason::NativeBelowMdl,
            "neither_detected" => Reason::NeitherDetected,
            "no_positive_mean" => Reason::NoPositiveMean,
            "below_floor" => Reason::BelowFloor { multiple: number()? },
            "other_dilution" => Reason::OtherDilution { fold: number()? },
            _ => return None,
        })
    }
}

impl CondemnationForm {
    pub fn of(one: &Condemnation) -> Self {
        CondemnationForm {
            check: u32::try_from(one.check).unwrap_or(u32::MAX).saturating_add(1),
            segment: one.segment,
            positions: one.positions.clone(),
            released: one.released.clone(),
            reach: Word(one.reach),
        }
    }

    pub fn condemnation(&self, at: &str, checks: usize) -> Result<Condemnation, Error> {
        let check = (self.check as usize).checked_sub(1).filter(|check| *check < checks);
        Ok(Condemnation {
            check: check.ok_or_else(|| wrong(format!("{at}.check"), format!("there is no check {}", self.check)))?,
            segment: self.segment,
            positions: self.positions.clone(),
            released: self.released.clone(),
            reach: self.reach.0,
        })
    }
}
