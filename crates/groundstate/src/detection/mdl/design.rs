//! What Appendix B asks of the data, rule by rule.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::super::{Date, LimitCheck, State, edge};
use super::observation::{MdlKind, MdlResult};
use super::options::MdlOptions;
use super::population::Population;
use super::rules;
use crate::error::Error;
use crate::finding::Citation;

macro_rules! requirements {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $title:literal, $required:literal, $citation:expr;)+) => {
        /// A requirement of Appendix B on the data of a limit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum DesignRule { $($(#[$doc])* $variant,)+ }

        impl DesignRule {
            /// Every requirement, in the order of the appendix.
            pub const ALL: &'static [DesignRule] = &[$(DesignRule::$variant,)+];

            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(DesignRule::$variant => $name,)+ }
            }

            /// What is looked at.
            pub const fn title(self) -> &'static str {
                match self { $(DesignRule::$variant => $title,)+ }
            }

            /// What is required, or advised.
            pub const fn required(self) -> &'static str {
                match self { $(DesignRule::$variant => $required,)+ }
            }

            /// Where it stands.
            pub const fn citation(self) -> Citation {
                match self { $(DesignRule::$variant => $citation,)+ }
            }
        }
    };
}

requirements! {
    /// Spiking level against the initial estimate. Advice.
    SpikeLevelRange = "spike_level_range", "spiking level",
        "2 to 10 times the initial estimate (more only for very poor recovery)", rules::SPIKE_LEVEL;
    /// All spikes at one level.
    OneSpikeLevel = "one_spike_level", "spiking levels", "the same level in every spike", rules::INITIAL;
    /// Seven spikes.
    SpikeCount = "spike_count", "number of spikes", "at least 7", rules::DESIGN;
    /// Seven blanks.
    BlankCount = "blank_count", "number of blanks", "at least 7", rules::DESIGN;
    /// Spikes in three batches.
    SpikeBatches = "spike_batches", "batches of the spikes", "at least 3", rules::DESIGN;
    /// Blanks in three batches.
    BlankBatches = "blank_batches", "batches of the blanks", "at least 3", rules::DESIGN;
    /// Spikes prepared on three dates.
    SpikePreparationDates = "spike_preparation_dates", "preparation dates of the spikes", "at least 3", rules::DESIGN;
    /// Blanks prepared on three dates.
    BlankPreparationDates = "blank_preparation_dates", "preparation dates of the blanks", "at least 3", rules::DESIGN;
    /// Spikes analysed on three dates.
    SpikeAnalysisDates = "spike_analysis_dates", "analysis dates of the spikes", "at least 3", rules::DESIGN;
    /// Blanks analysed on three dates.
    BlankAnalysisDates = "blank_analysis_dates", "analysis dates of the blanks", "at least 3", rules::DESIGN;
    /// Two spikes and two blanks on each instrument.
    PerInstrument = "per_instrument", "results on each instrument", "at least 2 spikes and 2 blanks", rules::INITIAL;
    /// Those of one instrument on different dates.
    InstrumentDates = "instrument_dates", "dates of each instrument's spikes and of its blanks",
        "prepared and analysed on different dates", rules::INITIAL;
    /// Data at most 24 months old.
    Age = "age", "age of the data", "at most 24 months", rules::DESIGN;
    /// Every spike a positive number.
    SpikesPositive = "spikes_positive", "results of the spikes",
        "every one a number above 0; otherwise repeat the spikes at a higher level", rules::INITIAL;
}

/// One requirement, what was found, and what follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Requirement {
    /// Which requirement.
    pub rule: DesignRule,
    /// What became of it.
    pub state: State,
    /// What was found, in words.
    pub found: String,
}

impl fmt::Display for Requirement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        LimitCheck::from(self).fmt(f)
    }
}

impl From<&Requirement> for LimitCheck {
    fn from(requirement: &Requirement) -> Self {
        LimitCheck {
            name: requirement.rule.name(),
            title: requirement.rule.title(),
            required: requirement.rule.required().into(),
            found: requirement.found.clone(),
            state: requirement.state,
            citation: requirement.rule.citation(),
        }
    }
}

/// Which requirements apply.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Scope {
    /// All of them.
    Initial,
    /// The numbers and the one level; routine data carry the rest.
    Verification,
    /// As for a verification, and three batches on three days: the data begin with a change of the method.
    AfterChange,
}

impl Scope {
    fn asks(self, rule: DesignRule) -> bool {
        use DesignRule as R;
        let numbers = matches!(rule, R::OneSpikeLevel | R::SpikeCount | R::BlankCount);
        let days = matches!(
            rule,
            R::SpikeBatches
                | R::BlankBatches
                | R::SpikePreparationDates
                | R::BlankPreparationDates
                | R::SpikeAnalysisDates
                | R::BlankAnalysisDates
        );
        match self {
            Scope::Initial => true,
            Scope::Verification => numbers,
            Scope::AfterChange => numbers || days,
        }
    }
}

/// Whether two spiking levels are the same; the guard absorbs a unit conversion, nothing a laboratory could pipette.
pub(super) fn same_level(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs())
}

pub(super) fn evaluate(
    spikes: &Population<'_>,
    blanks: &Population<'_>,
    options: &MdlOptions,
    scope: Scope,
) -> Result<Vec<Requirement>, Error> {
    let mut requirements = Vec::new();
    for rule in DesignRule::ALL.iter().copied().filter(|rule| scope.asks(*rule)) {
        let (state, found) = match rule {
            DesignRule::SpikeLevelRange => level_range(spikes, options)?,
            DesignRule::OneSpikeLevel => one_level(spikes),
            DesignRule::SpikeCount => seven(spikes),
            DesignRule::BlankCount => seven(blanks),
            DesignRule::SpikeBatches => three(spikes, "batch", |result| result.batch_name()),
            DesignRule::BlankBatches => three(blanks, "batch", |result| result.batch_name()),
            DesignRule::SpikePreparationDates => three(spikes, "date of preparation", |result| result.prepared),
            DesignRule::BlankPreparationDates => three(blanks, "date of preparation", |result| result.prepared),
            DesignRule::SpikeAnalysisDates => three(spikes, "date of analysis", |result| result.analysed),
            DesignRule::BlankAnalysisDates => three(blanks, "date of analysis", |result| result.analysed),
            DesignRule::PerInstrument => per_instrument(spikes, blanks),
            DesignRule::InstrumentDates => instrument_dates(spikes, blanks),
            DesignRule::Age => age(spikes, blanks, options.as_of)?,
            DesignRule::SpikesPositive => positive(spikes),
        };
        requirements.push(Requirement { rule, state, found });
    }
    Ok(requirements)
}

type Judged = (State, String);

fn met(yes: bool) -> State {
    if yes { State::Met } else { State::NotMet }
}

fn not_given(what: &str, lacking: usize, total: usize) -> Judged {
    let found = match lacking == total {
        true => format!("{what} not given"),
        false => format!("{what} not given for {lacking} of {total} results"),
    };
    (State::NotEvaluated, found)
}

fn seven(population: &Population<'_>) -> Judged {
    let n = population.counts.used();
    (met(n >= 7), n.to_string())
}

/// At least three different facts. Facts that are lacking can only add to those known, so three known ones suffice.
fn three<'a, K: Ord>(population: &Population<'a>, name: &str, fact: impl Fn(&'a MdlResult) -> Option<K>) -> Judged {
    let known: BTreeSet<K> = population.used.iter().filter_map(|result| fact(result)).collect();
    let lacking = population.used.iter().filter(|result| fact(result).is_none()).count();
    if known.len() < 3 && lacking > 0 {
        return not_given(name, lacking, population.used.len());
    }
    (met(known.len() >= 3), known.len().to_string())
}

fn one_level(spikes: &Population<'_>) -> Judged {
    let mut levels: Vec<f64> = spikes.used.iter().filter_map(|spike| spike.spike_level).collect();
    let lacking = spikes.used.len() - levels.len();
    levels.sort_unstable_by(f64::total_cmp);
    levels.dedup_by(|a, b| same_level(*a, *b));
    let list = || levels.iter().map(|level| format!("{level:?}")).collect::<Vec<_>>().join(", ");
    match (levels.len(), lacking) {
        (2.., _) => (State::NotMet, list()),
        (_, 1..) => not_given("level", lacking, spikes.used.len()),
        (0, 0) => (State::NotEvaluated, "no spikes".into()),
        (1, 0) => (State::Met, list()),
    }
}

fn level_range(spikes: &Population<'_>, options: &MdlOptions) -> Result<Judged, Error> {
    let Some(estimate) = options.initial_estimate else {
        return Ok((State::NotEvaluated, "initial estimate not given".into()));
    };
    if !(estimate.is_finite() && estimate > 0.0) {
        return Err(Error::argument("initial_estimate", format!("{estimate} is not a positive concentration")));
    }
    let ratios: Vec<f64> = spikes.used.iter().filter_map(|spike| spike.spike_level).map(|x| x / estimate).collect();
    let lacking = spikes.used.len() - ratios.len();
    if ratios.is_empty() || lacking > 0 {
        return Ok(not_given("level", lacking, spikes.used.len()));
    }
    let lowest = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = ratios.iter().copied().fold(0.0, f64::max);
    let inside = edge::at_least(lowest, 2.0) && edge::at_most(highest, 10.0);
    let found = match same_level(lowest, highest) {
        true => format!("{lowest:.4} times"),
        false => format!("{lowest:.4} to {highest:.4} times"),
    };
    Ok((if inside { State::Met } else { State::Advice }, found))
}

fn per_instrument(spikes: &Population<'_>, blanks: &Population<'_>) -> Judged {
    let all = || spikes.used.iter().chain(&blanks.used);
    let lacking = all().filter(|result| result.instrument_name().is_none()).count();
    let total = all().count();
    if lacking > 0 || total == 0 {
        return not_given("instrument", lacking, total);
    }
    let mut counts: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for result in all() {
        let (spiked, blank) = counts.entry(result.instrument_name().unwrap_or_default()).or_default();
        match result.kind {
            MdlKind::Spike => *spiked += 1,
            MdlKind::Blank => *blank += 1,
        }
    }
    let found: Vec<_> = counts.iter().map(|(name, (s, b))| format!("{name}: {s} spikes, {b} blanks")).collect();
    (met(counts.values().all(|(s, b)| *s >= 2 && *b >= 2)), found.join("; "))
}

fn instrument_dates(spikes: &Population<'_>, blanks: &Population<'_>) -> Judged {
    let all = || spikes.used.iter().chain(&blanks.used);
    let total = all().count();
    let dated = |result: &MdlResult| Some((result.instrument_name()?.to_owned(), result.prepared?, result.analysed?));
    let lacking = all().filter(|result| dated(result).is_none()).count();
    if lacking > 0 || total == 0 {
        return not_given("instrument or dates", lacking, total);
    }
    let mut dates: BTreeMap<(String, MdlKind), (BTreeSet<Date>, BTreeSet<Date>)> = BTreeMap::new();
    for result in all() {
        if let Some((instrument, prepared, analysed)) = dated(result) {
            let (preparations, analyses) = dates.entry((instrument, result.kind)).or_default();
            preparations.insert(prepared);
            analyses.insert(analysed);
        }
    }
    let short: Vec<_> = dates
        .iter()
        .filter(|(_, (preparations, analyses))| preparations.len() < 2 || analyses.len() < 2)
        .map(|((instrument, kind), _)| format!("{} on {instrument} on one date only", kind.plural()))
        .collect();
    match short.is_empty() {
        true => (State::Met, "at least two dates each".into()),
        false => (State::NotMet, short.join("; ")),
    }
}

fn age(spikes: &Population<'_>, blanks: &Population<'_>, as_of: Option<Date>) -> Result<Judged, Error> {
    let Some(as_of) = as_of else { return Ok((State::NotEvaluated, "the day to count from not given".into())) };
    let all = || spikes.used.iter().chain(&blanks.used);
    let total = all().count();
    let cutoff = as_of.plus_months(-24)?;
    let old = all().filter(|result| result.oldest().is_some_and(|day| day < cutoff)).count();
    let ahead = all().filter(|result| result.dated().is_some_and(|day| day > as_of)).count();
    let lacking = all().filter(|result| result.oldest().is_none()).count();
    if old > 0 {
        return Ok((State::NotMet, format!("{old} of {total} results from before {cutoff}")));
    }
    if ahead > 0 {
        return Ok((State::NotMet, format!("{ahead} of {total} results dated after {as_of}, the day to count from")));
    }
    if lacking > 0 || total == 0 {
        return Ok(not_given("dates", lacking, total));
    }
    Ok((State::Met, format!("none from before {cutoff}")))
}

fn positive(spikes: &Population<'_>) -> Judged {
    let (failing, total) = (spikes.failing(), spikes.counts.used());
    match total {
        0 => (State::NotEvaluated, "no spikes".into()),
        _ => (met(failing == 0), format!("{failing} of {total} not a number above 0")),
    }
}
