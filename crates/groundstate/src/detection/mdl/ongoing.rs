//! Between the initial determination and the verification: spikes every quarter, the spiking level once a year, and
//! instruments that join.

use std::collections::{BTreeMap, BTreeSet};

use super::super::{Date, Quarter};
use super::design::same_level;
use super::observation::{self, MdlKind, MdlResult, Measured};
use super::options::MdlOptions;
use super::parts::{self, FailingSpikes, SpikePart};
use super::population::Population;
use super::rules;
use super::verification::Ratio;
use crate::error::Error;
use crate::finding::{Code, Finding, Severity, Subject};

/// Spikes required of an instrument in a quarter in which samples are run on it, each in a batch of its own.
pub const SPIKES_A_QUARTER: usize = 2;

/// How an instrument stands in a quarter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum QuarterState {
    /// Two spikes in separate batches, or more.
    Complete,
    /// Spikes are missing, and the quarter is not over.
    Due,
    /// Spikes are missing, and the quarter is over.
    Missed,
    /// Enough spikes, but without their batches it cannot be seen that these were separate.
    NotEvaluated,
    /// No samples were run, so none are required.
    Idle,
}

impl QuarterState {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            QuarterState::Complete => "complete",
            QuarterState::Due => "due",
            QuarterState::Missed => "missed",
            QuarterState::NotEvaluated => "not_evaluated",
            QuarterState::Idle => "idle",
        }
    }
}

/// One instrument in one quarter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuarterPlan {
    /// The quarter.
    pub quarter: Quarter,
    /// The instrument.
    pub instrument: String,
    /// Spikes measured in it.
    pub spikes: usize,
    /// Batches these were prepared in, as far as given.
    pub batches: usize,
    /// Spikes still missing, each in a batch of its own.
    pub missing: usize,
    /// Last day to run them.
    pub until: Date,
    /// How it stands.
    pub state: QuarterState,
}

/// The plan of the quarters and what was noticed.
#[derive(Clone, Debug, PartialEq)]
pub struct OngoingPlan {
    /// Every instrument in every quarter, from the first quarter to the one of the day asked for.
    pub quarters: Vec<QuarterPlan>,
    /// Quarters missed or not evaluated, and results that could not be placed.
    pub findings: Vec<Finding>,
}

impl OngoingPlan {
    /// Spikes that have to be run now.
    pub fn due(&self) -> impl Iterator<Item = &QuarterPlan> {
        self.quarters.iter().filter(|plan| plan.state == QuarterState::Due)
    }
}

/// What the ongoing plan needs to know.
#[derive(Clone, Debug, PartialEq)]
pub struct OngoingSetting<'a> {
    /// Instruments that share the limit.
    pub instruments: &'a [&'a str],
    /// First quarter after the initial determination.
    pub first: Quarter,
    /// The day the plan is drawn up.
    pub as_of: Date,
    /// Spiking level of the initial determination; `None` counts spikes of any level.
    pub level: Option<f64>,
    /// Quarters in which an instrument ran no samples.
    pub idle: &'a [(&'a str, Quarter)],
}

/// Which spikes were run in each calendar quarter on each instrument, and which are missing.
///
/// In a quarter in which samples are run, every instrument needs two spikes in separate batches at the level of the
/// initial determination. A spike belongs to the quarter of its analysis (of its preparation, when only that is known).
/// A spike that was left out, is missing, or has another level does not count; one that was not detected does, because it
/// was run. Blanks need no plan: the method blanks of routine batches are the population.
///
/// # Errors
/// For input that cannot be meant, and when no instrument is named.
///
/// ```
/// use groundstate::detection::mdl::{self, MdlResult, OngoingSetting, QuarterState};
/// let spikes = [MdlResult::spike(0.021).batch("B7").instrument("AA-1").analysed("2025-02-11".parse()?)];
/// let plan = mdl::ongoing_plan(&spikes, &OngoingSetting {
///     instruments: &["AA-1"], first: "2025-Q1".parse()?, as_of: "2025-05-02".parse()?, level: None, idle: &[],
/// })?;
/// assert_eq!(plan.quarters[0].state, QuarterState::Missed);
/// assert_eq!((plan.quarters[1].state, plan.quarters[1].missing), (QuarterState::Due, 2));
/// assert_eq!(plan.quarters[1].until.to_string(), "2025-06-30");
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn ongoing_plan(results: &[MdlResult], setting: &OngoingSetting<'_>) -> Result<OngoingPlan, Error> {
    observation::check(results)?;
    let last = setting.as_of.quarter();
    if setting.instruments.is_empty() {
        return Err(Error::argument("instruments", "no instrument is named"));
    }
    for (i, instrument) in setting.instruments.iter().enumerate() {
        if instrument.trim() != *instrument || instrument.is_empty() {
            return Err(Error::argument("instruments", format!("{instrument:?} is no name"))
                .help("write it without blanks around it"));
        }
        if setting.instruments.iter().skip(i + 1).any(|other| other == instrument) {
            return Err(Error::argument("instruments", format!("{instrument:?} is named twice")));
        }
    }
    if setting.first > last {
        let what = format!("the first quarter, {}, begins after {}", setting.first, setting.as_of);
        return Err(Error::argument("first", what));
    }
    let spikes = Population::of(MdlKind::Spike, results);
    let (mut unplaced, mut strangers) = (0, 0);
    let mut run: BTreeMap<(Quarter, &str), Vec<&MdlResult>> = BTreeMap::new();
    for spike in &spikes.used {
        let other = match (setting.level, spike.spike_level) {
            (Some(asked), Some(level)) => !same_level(asked, level),
            (Some(_), None) => {
                unplaced += 1;
                continue;
            }
            (None, _) => false,
        };
        match (spike.dated(), spike.instrument_name()) {
            _ if other => {}
            (Some(date), _) if date > setting.as_of => {}
            (Some(_), Some(instrument)) if !setting.instruments.contains(&instrument) => strangers += 1,
            (Some(date), Some(instrument)) => run.entry((date.quarter(), instrument)).or_default().push(spike),
            _ => unplaced += 1,
        }
    }
    let mut quarters = Vec::new();
    let mut quarter = Some(setting.first);
    while let Some(now) = quarter.filter(|quarter| *quarter <= last) {
        for instrument in setting.instruments {
            let found = run.get(&(now, *instrument)).map_or(&[][..], Vec::as_slice);
            quarters.push(stand(now, instrument, found, setting));
        }
        quarter = now.next();
    }
    let findings = plan_findings(&quarters, unplaced, strangers);
    Ok(OngoingPlan { quarters, findings })
}

fn stand(quarter: Quarter, instrument: &str, found: &[&MdlResult], setting: &OngoingSetting<'_>) -> QuarterPlan {
    let batches: BTreeSet<&str> = found.iter().filter_map(|spike| spike.batch_name()).collect();
    let unnamed = found.iter().filter(|spike| spike.batch_name().is_none()).count();
    let until = quarter.last_day();
    let known_missing = SPIKES_A_QUARTER.saturating_sub(batches.len());
    let state = if setting.idle.contains(&(instrument, quarter)) {
        QuarterState::Idle
    } else if known_missing == 0 {
        QuarterState::Complete
    } else if batches.len() + unnamed >= SPIKES_A_QUARTER {
        QuarterState::NotEvaluated
    } else if setting.as_of > until {
        QuarterState::Missed
    } else {
        QuarterState::Due
    };
    let missing = match state {
        QuarterState::Due | QuarterState::Missed => SPIKES_A_QUARTER.saturating_sub(batches.len() + unnamed),
        QuarterState::Complete | QuarterState::NotEvaluated | QuarterState::Idle => 0,
    };
    QuarterPlan {
        quarter,
        instrument: instrument.to_owned(),
        spikes: found.len(),
        batches: batches.len(),
        missing,
        until,
        state,
    }
}

fn plan_findings(quarters: &[QuarterPlan], unplaced: usize, strangers: usize) -> Vec<Finding> {
    let mut findings: Vec<Finding> = quarters
        .iter()
        .filter(|plan| matches!(plan.state, QuarterState::Missed | QuarterState::NotEvaluated))
        .map(|plan| {
            let missed = plan.state == QuarterState::Missed;
            Finding::new(Code::MdlQuarterIncomplete, Subject::Label(plan.instrument.clone()))
                .with("instrument", plan.instrument.clone())
                .with("quarter", plan.quarter.to_string())
                .with("spikes", plan.spikes)
                .with("batches", plan.batches)
                .graded(if missed { Severity::Fail } else { Severity::Caution })
                .citing(rules::ONGOING)
        })
        .collect();
    let not_placed = [
        (unplaced, "date, instrument or level not given"),
        (strangers, "their instrument is not among those that share the limit"),
    ];
    for (count, why) in not_placed.into_iter().filter(|(count, _)| *count > 0) {
        findings.push(
            Finding::new(Code::MdlResultsNotPlaced, Subject::Run)
                .with("count", count)
                .with("why", why)
                .citing(rules::ONGOING),
        );
    }
    findings
}

/// Whether the spiking level still serves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LevelDecision {
    /// At most 5 % of the spikes failed.
    Keep,
    /// More than 5 % failed: raise the level and repeat the initial determination.
    Raise,
    /// There are no spikes.
    NotEvaluated,
}

impl LevelDecision {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            LevelDecision::Keep => "keep",
            LevelDecision::Raise => "raise",
            LevelDecision::NotEvaluated => "not_evaluated",
        }
    }
}

/// The yearly look at the spiking level.
#[derive(Clone, Debug, PartialEq)]
pub struct SpikingLevel {
    /// Spikes looked at.
    pub spikes: usize,
    /// Those that gave no positive number.
    pub failing: usize,
    /// What follows.
    pub decision: LevelDecision,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Whether more than 5 % of the spikes gave no positive number; 5 % exactly is not more. Pass the spikes of the year.
///
/// # Errors
/// For input that cannot be meant.
pub fn spiking_level(results: &[MdlResult]) -> Result<SpikingLevel, Error> {
    observation::check(results)?;
    let spikes = Population::of(MdlKind::Spike, results);
    let (decision, findings) = judge_level(&spikes);
    Ok(SpikingLevel { spikes: spikes.counts.used(), failing: spikes.failing(), decision, findings })
}

pub(super) fn judge_level(spikes: &Population<'_>) -> (LevelDecision, Vec<Finding>) {
    let (failing, total) = (spikes.failing(), spikes.counts.used());
    // In whole numbers: 1 of 20 is 5 % and not more.
    match (total, failing * 20 > total) {
        (0, _) => (LevelDecision::NotEvaluated, Vec::new()),
        (_, false) => (LevelDecision::Keep, Vec::new()),
        (_, true) => {
            let finding = Finding::new(Code::MdlRaiseSpikingLevel, Subject::Run)
                .with("count", failing)
                .with("total", total)
                .citing(rules::ONGOING);
            (LevelDecision::Raise, vec![finding])
        }
    }
}

/// What a new instrument means for the limit of its group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum JoiningDecision {
    /// Both parts hold: the existing limit also stands for the new instrument.
    Validated,
    /// A part does not hold: repeat the initial determination with the new instrument.
    Redetermine,
    /// There are not two spikes and two blanks of it yet, fewer than seven spikes in all, or MDL_S could not be computed.
    NotEvaluated,
}

impl JoiningDecision {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            JoiningDecision::Validated => "validated",
            JoiningDecision::Redetermine => "redetermine",
            JoiningDecision::NotEvaluated => "not_evaluated",
        }
    }
}

/// A new instrument joining a group that shares a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct JoiningInstrument {
    /// The instrument.
    pub instrument: String,
    /// Its spikes.
    pub spikes: usize,
    /// Its blanks.
    pub blanks: usize,
    /// Its blanks with a number at or above the existing limit. A non-detect is not one.
    pub blanks_at_or_above: usize,
    /// MDL_S of the whole group, the new spikes among them.
    pub pooled: SpikePart,
    /// The pooled MDL_S against the existing limit.
    pub ratio: Option<Ratio>,
    /// What follows.
    pub decision: JoiningDecision,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Whether the limit `existing` of a group also holds on `instrument`, a newcomer to it.
///
/// `results` are those of the group and of the newcomer. Its blanks (at least two) all have to be below the existing limit, and
/// MDL_S of all spikes together has to be within 0.5 to 2.0 times the existing limit, ends included.
///
/// # Errors
/// For input that cannot be meant.
pub fn joining_instrument(
    existing: f64,
    results: &[MdlResult],
    instrument: &str,
    options: &MdlOptions,
) -> Result<JoiningInstrument, Error> {
    super::verification::check_existing(existing)?;
    observation::check(results)?;
    let instrument = instrument.trim();
    let new = |kind| Population::of(kind, results.iter().filter(|r| r.instrument_name() == Some(instrument)));
    let (new_spikes, new_blanks) = (new(MdlKind::Spike), new(MdlKind::Blank));
    let spikes = Population::of(MdlKind::Spike, results);
    let mut findings = Vec::new();
    let pooled = parts::from_spikes(&spikes, options, FailingSpikes::Refuse, &mut findings)?;
    let ratio = pooled.value.map(|value| Ratio::of(value, existing));
    let at_or_above =
        new_blanks.used.iter().filter(|blank| matches!(blank.measured, Measured::Number(x) if x >= existing)).count();
    // Fewer than seven spikes in all are no pool: t and s of two spikes would decide by accident.
    let enough = new_spikes.counts.used() >= 2 && new_blanks.counts.used() >= 2 && spikes.counts.used() >= 7;
    let decision = match ratio {
        _ if at_or_above > 0 => JoiningDecision::Redetermine,
        Some(ratio) if enough && ratio.within() => JoiningDecision::Validated,
        Some(_) if enough => JoiningDecision::Redetermine,
        _ => JoiningDecision::NotEvaluated,
    };
    findings.push(
        Finding::new(Code::MdlJoiningInstrument, Subject::Label(instrument.to_owned()))
            .with("instrument", instrument)
            .with("spikes", new_spikes.counts.used())
            .with("blanks", new_blanks.counts.used())
            .with("above", at_or_above)
            .with("ratio", ratio.map_or_else(|| "not computed".to_owned(), |ratio| format!("{:.4}", ratio.value)))
            .with("decision", decision.name())
            .graded(match decision {
                JoiningDecision::Validated => Severity::Note,
                JoiningDecision::NotEvaluated => Severity::Caution,
                JoiningDecision::Redetermine => Severity::Fail,
            })
            .citing(rules::ONGOING),
    );
    Ok(JoiningInstrument {
        instrument: instrument.to_owned(),
        spikes: new_spikes.counts.used(),
        blanks: new_blanks.counts.used(),
        blanks_at_or_above: at_or_above,
        pooled,
        ratio,
        decision,
        findings,
    })
}
