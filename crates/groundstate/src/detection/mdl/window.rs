//! Which results of the years past enter a verification.

use super::super::Date;
use super::design::same_level;
use super::observation::{MdlKind, MdlResult};
use crate::error::Error;

/// Which blanks are used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum BlankWindow {
    /// All of the last 24 months.
    #[default]
    TwentyFourMonths,
    /// Those of the last six months or the 50 most recent ones, whichever are more.
    SixMonthsOrFifty,
}

impl BlankWindow {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            BlankWindow::TwentyFourMonths => "twenty_four_months",
            BlankWindow::SixMonthsOrFifty => "six_months_or_fifty",
        }
    }
}

/// Which rule picked the blanks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BlanksTaken {
    /// No result has a date: all of them, on the caller's word.
    Undated,
    /// All of the last 24 months.
    TwentyFourMonths,
    /// The last six months, which held 50 or more.
    SixMonths,
    /// The 50 most recent, or all when there are fewer; the last six months held fewer than 50.
    FiftyLatest,
}

impl BlanksTaken {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            BlanksTaken::Undated => "undated",
            BlanksTaken::TwentyFourMonths => "twenty_four_months",
            BlanksTaken::SixMonths => "six_months",
            BlanksTaken::FiftyLatest => "fifty_latest",
        }
    }
}

/// What the selection left out, and why.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// Older than 24 months.
    pub too_old: usize,
    /// From before the change of the method.
    pub before_change: usize,
    /// Dated after the day of the verification.
    pub later: usize,
    /// Without a date, while others have one.
    pub undated: usize,
    /// Spikes of another level, or of none while others have one.
    pub other_level: usize,
    /// Blanks inside 24 months that the chosen window does not reach.
    pub earlier_blanks: usize,
}

pub(super) struct Selection<'a> {
    pub results: Vec<&'a MdlResult>,
    pub blanks_taken: BlanksTaken,
    pub level: Option<f64>,
    pub left_out: LeftOut,
}

pub(super) fn select<'a>(
    results: &'a [MdlResult],
    as_of: Date,
    window: BlankWindow,
    level: Option<f64>,
    since: Option<Date>,
) -> Result<Selection<'a>, Error> {
    let mut left_out = LeftOut::default();
    let dated = results.iter().any(|result| result.dated().is_some());
    let cutoff = as_of.plus_months(-24)?;
    let recent: Vec<&MdlResult> = results
        .iter()
        .filter(|result| match result.dated() {
            None if dated => count(&mut left_out.undated),
            Some(date) if date < cutoff => count(&mut left_out.too_old),
            Some(date) if since.is_some_and(|since| date < since) => count(&mut left_out.before_change),
            Some(date) if date > as_of => count(&mut left_out.later),
            _ => true,
        })
        .collect();
    let (spikes, blanks): (Vec<_>, Vec<_>) = recent.into_iter().partition(|result| result.kind == MdlKind::Spike);
    let level = level.or_else(|| latest_level(&spikes));
    let mut chosen: Vec<&MdlResult> = spikes
        .into_iter()
        .filter(|spike| match (level, spike.spike_level) {
            (Some(level), Some(own)) if same_level(level, own) => true,
            (None, _) => true,
            _ => count(&mut left_out.other_level),
        })
        .collect();
    let (blanks, blanks_taken) = match window {
        _ if !dated => (blanks, BlanksTaken::Undated),
        BlankWindow::TwentyFourMonths => (blanks, BlanksTaken::TwentyFourMonths),
        BlankWindow::SixMonthsOrFifty => six_months_or_fifty(blanks, as_of.plus_months(-6)?, &mut left_out),
    };
    chosen.extend(blanks);
    Ok(Selection { results: chosen, blanks_taken, level, left_out })
}

/// Counts a result that is left out.
fn count(counter: &mut usize) -> bool {
    *counter += 1;
    false
}

/// The level of the most recent spike that has one; of several on one day the highest, so that order does not matter.
fn latest_level(spikes: &[&MdlResult]) -> Option<f64> {
    let key = |spike: &&&MdlResult| (spike.dated(), spike.spike_level);
    spikes
        .iter()
        .filter(|spike| spike.spike_level.is_some() && !spike.is_missing() && spike.excluded.is_none())
        .max_by(|a, b| {
            let ((day_a, level_a), (day_b, level_b)) = (key(a), key(b));
            day_a.cmp(&day_b).then(level_a.unwrap_or(0.0).total_cmp(&level_b.unwrap_or(0.0)))
        })
        .and_then(|spike| spike.spike_level)
}

/// Both windows reach back from the same day, so the one that reaches further holds the other. Blanks of the day of the 50th
/// are all taken: which of them is the 50th, nobody can say.
fn six_months_or_fifty<'a>(
    blanks: Vec<&'a MdlResult>,
    six_months_ago: Date,
    left_out: &mut LeftOut,
) -> (Vec<&'a MdlResult>, BlanksTaken) {
    let usable = |blank: &&MdlResult| !blank.is_missing() && blank.excluded.is_none();
    let mut days: Vec<Date> = blanks.iter().copied().filter(usable).filter_map(MdlResult::dated).collect();
    days.sort_by(|a, b| b.cmp(a));
    let in_six_months = days.iter().filter(|day| **day >= six_months_ago).count();
    let (from, taken) = match days.get(49).or(days.last()) {
        Some(fiftieth) if in_six_months < 50 => (*fiftieth, BlanksTaken::FiftyLatest),
        _ => (six_months_ago, BlanksTaken::SixMonths),
    };
    let within = |blank: &&MdlResult| match blank.dated() {
        Some(day) if day < from => count(&mut left_out.earlier_blanks),
        _ => true,
    };
    (blanks.into_iter().filter(within).collect(), taken)
}
