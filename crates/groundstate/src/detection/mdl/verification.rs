//! The yearly verification of an existing limit.

use super::super::{Date, State, edge};
use super::design::{DesignRule, Scope};
use super::initial::{Mdl, MdlBasis, compute};
use super::observation::{self, MdlKind, MdlResult, Measured};
use super::ongoing::{LevelDecision, judge_level};
use super::options::MdlOptions;
use super::parts::FailingSpikes;
use super::population::Population;
use super::rules;
use super::window::{self, BlankWindow, BlanksTaken, LeftOut};
use crate::error::Error;
use crate::finding::{Code, Finding, Severity, Subject};

/// A limit against the existing one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratio {
    /// New divided by existing.
    pub value: f64,
}

impl Ratio {
    pub(super) fn of(new: f64, existing: f64) -> Self {
        Ratio { value: new / existing }
    }

    /// Whether it lies within 0.5 to 2.0, ends included: an end on paper (0.3 / 0.6) is an end, whatever its last bit.
    pub fn within(self) -> bool {
        !self.below() && !self.above()
    }

    /// Whether it is below 0.5.
    pub fn below(self) -> bool {
        edge::below(self.value, 0.5)
    }

    /// Whether it is above 2.0.
    pub fn above(self) -> bool {
        !edge::at_most(self.value, 2.0)
    }
}

/// What a verification needs to know beside the results.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VerificationSetting {
    /// The limit in use, in the unit of the results.
    pub existing: f64,
    /// The day of the verification.
    pub as_of: Date,
    /// Which blanks are used.
    pub blanks: BlankWindow,
    /// Which spiking level is used; `None` takes that of the most recent spike.
    pub level: Option<f64>,
    /// The day since which a changed method is in use; only data from then on are used, and they have to be of three batches on
    /// three days.
    pub since: Option<Date>,
    /// The day of the last determination or verification, for the rule of 13 months.
    pub last: Option<Date>,
    /// The choices of the computation. Its `as_of` and `initial_estimate` are not used here.
    pub options: MdlOptions,
}

impl VerificationSetting {
    /// The limit `existing` on the day `as_of`, everything else at its default.
    pub fn new(existing: f64, as_of: Date) -> Self {
        VerificationSetting {
            existing,
            as_of,
            blanks: BlankWindow::default(),
            level: None,
            since: None,
            last: None,
            options: MdlOptions::default(),
        }
    }
}

/// What follows from a verification.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum VerificationDecision {
    /// The existing limit may be kept. The verified one may be adopted as well.
    MayKeep,
    /// The verified limit has to be adopted.
    Adopt,
    /// Too many spikes fail: raise the spiking level and repeat the initial determination.
    Redetermine,
    /// The data do not suffice for a decision.
    Undecided,
}

impl VerificationDecision {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            VerificationDecision::MayKeep => "may_keep",
            VerificationDecision::Adopt => "adopt",
            VerificationDecision::Redetermine => "redetermine",
            VerificationDecision::Undecided => "undecided",
        }
    }
}

/// Why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum VerificationReason {
    /// The verified limit is within 0.5 to 2.0 times the existing one.
    RatioWithin,
    /// It is below 0.5 times the existing one.
    RatioBelow,
    /// It is above 2.0 times the existing one.
    RatioAbove,
    /// Fewer than 3 % of the blanks are above the existing limit.
    FewBlanksAbove,
    /// 3 % of the blanks or more are above the existing limit.
    ManyBlanksAbove,
    /// More than 5 % of the spikes gave no positive number.
    SpikesFailing,
    /// Fewer than 7 spikes or fewer than 7 blanks.
    TooFewResults,
    /// After a change of the method: three batches on three days are not shown.
    DesignNotShown,
    /// No verified limit could be computed.
    NotComputed,
}

impl VerificationReason {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            VerificationReason::RatioWithin => "ratio_within",
            VerificationReason::RatioBelow => "ratio_below",
            VerificationReason::RatioAbove => "ratio_above",
            VerificationReason::FewBlanksAbove => "few_blanks_above",
            VerificationReason::ManyBlanksAbove => "many_blanks_above",
            VerificationReason::SpikesFailing => "spikes_failing",
            VerificationReason::TooFewResults => "too_few_results",
            VerificationReason::DesignNotShown => "design_not_shown",
            VerificationReason::NotComputed => "not_computed",
        }
    }

    /// The reason in words.
    pub const fn title(self) -> &'static str {
        match self {
            VerificationReason::RatioWithin => "the verified limit is within 0.5 to 2.0 times the existing one",
            VerificationReason::RatioBelow => "the verified limit is below 0.5 times the existing one",
            VerificationReason::RatioAbove => "the verified limit is above 2.0 times the existing one",
            VerificationReason::FewBlanksAbove => "fewer than 3 % of the blanks are above the existing limit",
            VerificationReason::ManyBlanksAbove => "3 % of the blanks or more are above the existing limit",
            VerificationReason::SpikesFailing => "more than 5 % of the spikes gave no number above 0",
            VerificationReason::TooFewResults => "fewer than 7 spikes or fewer than 7 blanks",
            VerificationReason::DesignNotShown => "three batches on three days since the change are not shown",
            VerificationReason::NotComputed => "no verified limit could be computed",
        }
    }
}

/// A verification with all that led to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Verification {
    /// What it was made with.
    pub setting: VerificationSetting,
    /// The limit of the data of the last 24 months.
    pub verified: Mdl,
    /// Verified against existing.
    pub ratio: Option<Ratio>,
    /// Blanks looked at, non-detects among them.
    pub blanks: usize,
    /// Blanks with a number above the existing limit.
    pub blanks_above: usize,
    /// Which rule picked the blanks.
    pub blanks_taken: BlanksTaken,
    /// The spiking level used, if spikes have one.
    pub level: Option<f64>,
    /// What was left out.
    pub left_out: LeftOut,
    /// What follows.
    pub decision: VerificationDecision,
    /// Why, every ground of it.
    pub reasons: Vec<VerificationReason>,
    /// The last day for this verification: 13 months after the last one.
    pub due: Option<Date>,
    /// What was noticed, that about the verified limit among it.
    pub findings: Vec<Finding>,
}

impl Verification {
    /// The limit that holds when nobody decides otherwise: the existing one where it may be kept, the verified one where it
    /// has to be adopted.
    pub fn limit(&self) -> Option<f64> {
        match self.decision {
            VerificationDecision::MayKeep => Some(self.setting.existing),
            VerificationDecision::Adopt => self.verified.value,
            VerificationDecision::Redetermine | VerificationDecision::Undecided => None,
        }
    }
}

pub(super) fn check_existing(existing: f64) -> Result<(), Error> {
    if existing.is_finite() && existing > 0.0 {
        return Ok(());
    }
    Err(Error::argument("existing", format!("{existing} cannot be a limit")).help("give a positive concentration"))
}

/// Recomputes a limit from the data of the last 24 months and says whether the existing one may stay.
///
/// Spikes of one level only; blanks as [`BlankWindow`] says; documented gross failures left out. The existing limit may stay
/// when the verified one is within 0.5 to 2.0 times it, ends included, and fewer than 3 % of the blanks have a number above it.
/// Otherwise the verified one is to be adopted.
///
/// Up to 5 % of routine spikes may fail. Those without a number cannot enter a standard deviation and are left out of it, with
/// a finding, because the rule is silent; above 5 % the spiking level has to be raised instead.
///
/// # Errors
/// For input that cannot be meant.
///
/// ```
/// use groundstate::detection::mdl::{self, MdlResult, VerificationDecision, VerificationSetting};
/// let day: groundstate::detection::Date = "2025-06-30".parse()?;
/// let mut results: Vec<MdlResult> = [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194]
///     .map(|x| MdlResult::spike(x).level(0.02).analysed(day)).into();
/// results.extend([0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002].map(|x| MdlResult::blank(x).analysed(day)));
/// let kept = mdl::verify(&results, &VerificationSetting::new(0.004, day))?;
/// assert_eq!(kept.decision, VerificationDecision::MayKeep);
/// let replaced = mdl::verify(&results, &VerificationSetting::new(0.0024, day))?;
/// assert_eq!(replaced.decision, VerificationDecision::Adopt);
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn verify(results: &[MdlResult], setting: &VerificationSetting) -> Result<Verification, Error> {
    check_existing(setting.existing)?;
    observation::check(results)?;
    let selection = window::select(results, setting.as_of, setting.blanks, setting.level, setting.since)?;
    let scope = if setting.since.is_some() { Scope::AfterChange } else { Scope::Verification };
    let spikes = Population::of(MdlKind::Spike, selection.results.iter().copied());
    let blanks = Population::of(MdlKind::Blank, selection.results.iter().copied());
    let verified = compute(&spikes, &blanks, &setting.options, scope, FailingSpikes::LeaveOut)?;
    let ratio = verified.value.map(|value| Ratio::of(value, setting.existing));
    let blanks_above = blanks
        .used
        .iter()
        .filter(|blank| matches!(blank.measured, Measured::Number(x) if x > setting.existing))
        .count();
    let (level_decision, level_findings) = judge_level(&spikes);

    let total = blanks.counts.used();
    let mut reasons = Vec::new();
    if level_decision == LevelDecision::Raise {
        reasons.push(VerificationReason::SpikesFailing);
    }
    let enough = |rule| verified.state(rule) == Some(State::Met);
    if !enough(DesignRule::SpikeCount) || !enough(DesignRule::BlankCount) {
        reasons.push(VerificationReason::TooFewResults);
    }
    if scope == Scope::AfterChange && verified.basis != MdlBasis::DesignMet {
        reasons.push(VerificationReason::DesignNotShown);
    }
    reasons.push(match ratio {
        None => VerificationReason::NotComputed,
        Some(ratio) if ratio.below() => VerificationReason::RatioBelow,
        Some(ratio) if ratio.above() => VerificationReason::RatioAbove,
        Some(_) => VerificationReason::RatioWithin,
    });
    if total > 0 {
        // In whole numbers: 3 of 100 is 3 % and not fewer.
        let few = blanks_above * 100 < total * 3;
        reasons.push(if few { VerificationReason::FewBlanksAbove } else { VerificationReason::ManyBlanksAbove });
    }
    let decision = decide(&reasons);

    let due = setting.last.map(|last| last.plus_months(13)).transpose()?;
    let mut findings = verified.findings.clone();
    findings.extend(level_findings);
    findings.extend(selection_findings(&selection.left_out, selection.blanks_taken));
    findings.extend(lapse_finding(setting, due));
    let why: Vec<_> = reasons.iter().map(|reason| reason.title()).collect();
    findings.push(
        Finding::new(Code::MdlVerification, Subject::Run)
            .with("decision", decision.name())
            .with("existing", setting.existing)
            .with("verified", verified.value.map_or_else(|| "not computed".to_owned(), |value| format!("{value:.6e}")))
            .with("why", why.join("; "))
            .graded(match decision {
                VerificationDecision::MayKeep => Severity::Note,
                VerificationDecision::Adopt => Severity::Caution,
                VerificationDecision::Redetermine | VerificationDecision::Undecided => Severity::Fail,
            })
            .citing(rules::VERIFICATION),
    );
    crate::finding::gravest_first(&mut findings);
    Ok(Verification {
        setting: *setting,
        verified,
        ratio,
        blanks: total,
        blanks_above,
        blanks_taken: selection.blanks_taken,
        level: selection.level,
        left_out: selection.left_out,
        decision,
        reasons,
        due,
        findings,
    })
}

fn decide(reasons: &[VerificationReason]) -> VerificationDecision {
    let told = |reason| reasons.contains(&reason);
    if told(VerificationReason::SpikesFailing) {
        VerificationDecision::Redetermine
    } else if told(VerificationReason::TooFewResults)
        || told(VerificationReason::DesignNotShown)
        || told(VerificationReason::NotComputed)
    {
        VerificationDecision::Undecided
    } else if told(VerificationReason::RatioWithin) && told(VerificationReason::FewBlanksAbove) {
        VerificationDecision::MayKeep
    } else {
        VerificationDecision::Adopt
    }
}

fn selection_findings(left_out: &LeftOut, taken: BlanksTaken) -> Vec<Finding> {
    let mut findings = Vec::new();
    if taken == BlanksTaken::Undated {
        findings.push(Finding::new(Code::MdlWindowNotEvaluated, Subject::Run).citing(rules::VERIFICATION));
    }
    let parts = [
        (left_out.too_old, "older than 24 months"),
        (left_out.before_change, "from before the change of the method"),
        (left_out.later, "dated after the day of the verification"),
        (left_out.undated, "without a date"),
        (left_out.other_level, "spikes not at the level used"),
        (left_out.earlier_blanks, "blanks before the chosen window"),
    ];
    let told: Vec<_> =
        parts.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if !told.is_empty() {
        // A missing date is a gap in the data; the others are what the rule asks for.
        let gap = left_out.undated + left_out.later > 0;
        findings.push(
            Finding::new(Code::MdlSelection, Subject::Run)
                .with("left_out", told.join(", "))
                .graded(if gap { Severity::Caution } else { Severity::Note })
                .citing(rules::VERIFICATION),
        );
    }
    findings
}

fn lapse_finding(setting: &VerificationSetting, due: Option<Date>) -> Option<Finding> {
    match (setting.last, due) {
        (Some(last), Some(due)) if setting.as_of > due => Some(
            Finding::new(Code::MdlVerificationLapsed, Subject::Run)
                .with("last", last.to_string())
                .with("due", due.to_string())
                .with("as_of", setting.as_of.to_string())
                .citing(rules::VERIFICATION),
        ),
        (None, _) => Some(Finding::new(Code::MdlLapseNotEvaluated, Subject::Run).citing(rules::VERIFICATION)),
        _ => None,
    }
}
