//! The limit itself.

use super::super::{LimitCheck, State, check};
use super::design::{self, Requirement, Scope};
use super::interval::LimitInterval;
use super::observation::{self, MdlKind, MdlResult, Measured};
use super::options::MdlOptions;
use super::parts::{self, BlankBranch, BlankPart, FailingSpikes, SpikePart};
use super::population::Population;
use super::rules;
use crate::error::Error;
use crate::finding::{Code, Finding, Severity, Subject};

/// The part that decides the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MdlPart {
    /// MDL_S, the scatter of the spikes.
    Spikes,
    /// MDL_b, the method blanks.
    Blanks,
}

impl MdlPart {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MdlPart::Spikes => "spikes",
            MdlPart::Blanks => "blanks",
        }
    }
}

/// What the figure may be called.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MdlBasis {
    /// Every requirement on the data was looked at and met.
    DesignMet,
    /// A requirement is not met.
    DesignNotMet,
    /// None is known to be broken, and some could not be looked at.
    DesignIncomplete,
    /// Nothing but values was given: the figure is computed from values, and says nothing of a procedure.
    FromValues,
}

impl MdlBasis {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MdlBasis::DesignMet => "design_met",
            MdlBasis::DesignNotMet => "design_not_met",
            MdlBasis::DesignIncomplete => "design_incomplete",
            MdlBasis::FromValues => "computed_from_values",
        }
    }
}

/// A method detection limit with its parts, the requirements on its data, and what was noticed.
#[derive(Clone, Debug, PartialEq)]
pub struct Mdl {
    /// The greater of the two parts, in the unit of the results; `None` when it could not be had, and the findings say
    /// why. Full precision: the appendix has no rule on figures.
    pub value: Option<f64>,
    /// MDL_S.
    pub from_spikes: SpikePart,
    /// MDL_b.
    pub from_blanks: BlankPart,
    /// Which part the limit is; the spikes when both are equal.
    pub decided_by: Option<MdlPart>,
    /// What the figure may be called.
    pub basis: MdlBasis,
    /// Every requirement with its state.
    pub design: Vec<Requirement>,
    /// 95 % interval of the limit when the spikes decide it. Informative.
    pub interval: Option<LimitInterval>,
    /// The choices made.
    pub options: MdlOptions,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

impl Mdl {
    /// How MDL_b was found.
    pub fn branch(&self) -> BlankBranch {
        self.from_blanks.branch
    }

    /// The state of `rule`, if it was asked for.
    pub fn state(&self, rule: design::DesignRule) -> Option<State> {
        self.design.iter().find(|requirement| requirement.rule == rule).map(|requirement| requirement.state)
    }
}

/// The initial method detection limit of 40 CFR 136, Appendix B, Revision 2.
///
/// MDL_S = t(n - 1, 0.99) s of the spikes. MDL_b depends on the blanks: does not apply when none is numeric; is the highest
/// blank when some are, or the result at rank 0.99 n when there are many; is mean (not below 0) + t(n - 1, 0.99) s when
/// all are. The limit is the greater of the two. Nothing is left out as an outlier.
///
/// A spike that is not a positive number leaves the limit without a value: the spikes have to be repeated at a higher
/// level. Missing results are removed and counted, and never decide the branch.
///
/// # Errors
/// For input that cannot be meant (infinite results, analysis before preparation, an exclusion without reason or name, a
/// blank with a spiking level), all problems at once.
///
/// ```
/// use groundstate::detection::mdl::{self, BlankBranch, MdlBasis, MdlOptions, MdlResult, Measured};
/// let mut results: Vec<MdlResult> =
///     [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194].map(MdlResult::spike).into();
/// results.extend([0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002].map(MdlResult::blank));
/// let limit = mdl::initial(&results, &MdlOptions::default())?;
/// assert_eq!(limit.branch(), BlankBranch::MeanPlusTs);
/// assert_eq!(limit.value.map(|x| format!("{x:.7}")).as_deref(), Some("0.0049557"));
/// assert_eq!(limit.basis, MdlBasis::FromValues); // no dates, no batches: nothing is known of the procedure
///
/// results.retain(|result| result.kind == mdl::MdlKind::Spike);
/// results.extend([Measured::NonDetect; 7].map(MdlResult::blank));
/// assert_eq!(mdl::initial(&results, &MdlOptions::default())?.branch(), BlankBranch::NoneNumeric);
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn initial(results: &[MdlResult], options: &MdlOptions) -> Result<Mdl, Error> {
    observation::check(results)?;
    let spikes = Population::of(MdlKind::Spike, results);
    let blanks = Population::of(MdlKind::Blank, results);
    compute(&spikes, &blanks, options, Scope::Initial, FailingSpikes::Refuse)
}

/// The same of bare lists, in the unit of the lists. The design is then "not evaluated" and the basis
/// [`MdlBasis::FromValues`].
///
/// # Errors
/// As [`initial`].
pub fn initial_from_values(spikes: &[Measured], blanks: &[Measured], options: &MdlOptions) -> Result<Mdl, Error> {
    let spikes = spikes.iter().map(|measured| MdlResult::spike(*measured));
    let blanks = blanks.iter().map(|measured| MdlResult::blank(*measured));
    initial(&spikes.chain(blanks).collect::<Vec<_>>(), options)
}

pub(super) fn compute(
    spikes: &Population<'_>,
    blanks: &Population<'_>,
    options: &MdlOptions,
    scope: Scope,
    failing: FailingSpikes,
) -> Result<Mdl, Error> {
    let mut findings = Vec::new();
    for population in [spikes, blanks] {
        count_findings(population, &mut findings);
    }
    let from_spikes = parts::from_spikes(spikes, options, failing, &mut findings)?;
    let from_blanks = parts::from_blanks(blanks, options, &mut findings)?;
    let (value, decided_by) = greater(&from_spikes, &from_blanks);
    if value.is_none() {
        findings.push(
            Finding::new(Code::MdlNotComputed, Subject::Run)
                .with("spikes", from_spikes.outcome.name())
                .with("blanks", from_blanks.branch.name())
                .with("count", from_blanks.counts.used())
                .citing(rules::COMPUTATION),
        );
    }
    let design = design::evaluate(spikes, blanks, options, scope)?;
    let basis = basis(spikes, blanks, &design);
    findings.extend(check::findings(&design.iter().map(LimitCheck::from).collect::<Vec<_>>()));
    if basis == MdlBasis::FromValues {
        findings.push(Finding::new(Code::MdlFromValues, Subject::Run).citing(rules::DESIGN));
    }
    // The gravest first; within a grade in the order of the procedure.
    crate::finding::gravest_first(&mut findings);
    let interval = from_spikes.interval.filter(|_| decided_by == Some(MdlPart::Spikes));
    Ok(Mdl { value, from_spikes, from_blanks, decided_by, basis, design, interval, options: *options, findings })
}

/// The greater part. A part that should have a value and has none leaves the limit without one.
fn greater(spikes: &SpikePart, blanks: &BlankPart) -> (Option<f64>, Option<MdlPart>) {
    let Some(from_spikes) = spikes.value else { return (None, None) };
    match (blanks.branch, blanks.value) {
        (BlankBranch::NoBlanks | BlankBranch::MeanPlusTs | BlankBranch::HighestBlank, None) => (None, None),
        // None numeric, or so few that the percentile lies below every number: the blanks set no limit.
        (_, None) => (Some(from_spikes), Some(MdlPart::Spikes)),
        (_, Some(from_blanks)) if from_blanks > from_spikes => (Some(from_blanks), Some(MdlPart::Blanks)),
        (_, Some(_)) => (Some(from_spikes), Some(MdlPart::Spikes)),
    }
}

fn basis(spikes: &Population<'_>, blanks: &Population<'_>, design: &[Requirement]) -> MdlBasis {
    let known = |result: &&MdlResult| {
        result.batch_name().is_some() || result.instrument_name().is_some() || result.dated().is_some()
    };
    if !spikes.used.iter().chain(&blanks.used).any(known) {
        return MdlBasis::FromValues;
    }
    let any = |state| design.iter().any(|requirement| requirement.state == state);
    // Advice that was not followed is not a broken rule, and an estimate that was not given is not a gap in the design.
    let open = design.iter().any(|requirement| {
        requirement.state == State::NotEvaluated && requirement.rule != design::DesignRule::SpikeLevelRange
    });
    match (any(State::NotMet), open) {
        (true, _) => MdlBasis::DesignNotMet,
        (false, true) => MdlBasis::DesignIncomplete,
        (false, false) => MdlBasis::DesignMet,
    }
}

fn count_findings(population: &Population<'_>, findings: &mut Vec<Finding>) {
    let counts = population.counts;
    let told = |code, count: usize| {
        Finding::new(code, Subject::Run).with("count", count).with("what", population.kind.plural())
    };
    if counts.nondetects > 0 {
        findings.push(told(Code::CensoredUpstream, counts.nondetects));
    }
    if counts.missing > 0 {
        findings.push(told(Code::LimitMissingRemoved, counts.missing));
    }
    if counts.excluded > 0 {
        let enough = counts.used() >= 7;
        findings.push(
            told(Code::MdlGrossFailures, counts.excluded)
                .with("left", counts.used())
                .graded(if enough { Severity::Note } else { Severity::Fail })
                .citing(rules::INITIAL),
        );
    }
}
