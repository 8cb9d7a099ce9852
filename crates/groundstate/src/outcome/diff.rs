//! What changed from one outcome to another, and why.

mod cause;
mod figures;
mod proof;

pub use cause::Cause;

use std::collections::HashSet;
use std::fmt;
use std::sync::Arc;

use super::{Outcome, Segment};
use crate::criteria::CheckKind;
use crate::error::{Error, Kind, Place, Problem};
use crate::method::Method;
use crate::run::Run;
use figures::{Changed, Depth, Key};

/// What reduces a run by a method: the room above this one.
pub(super) type Reduce = fn(&Run, &Method) -> Result<Outcome, Error>;

/// What a change is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum About {
    /// A measured position.
    Result {
        /// Its position.
        position: u32,
        /// Its label.
        label: Arc<str>,
    },
    /// A check.
    Check {
        /// Which check.
        kind: CheckKind,
        /// Where it stands, if it has a place.
        position: Option<u32>,
        /// The segment it belongs to.
        segment: u32,
        /// Its label.
        label: Arc<str>,
    },
    /// A calibration, by the number of its segment.
    Calibration(u32),
}

impl fmt::Display for About {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            About::Result { position, label } => write!(f, "{label} at position {position}"),
            About::Check { kind, position: Some(position), .. } => write!(f, "{} at position {position}", kind.title()),
            About::Check { kind, label, segment, .. } => write!(f, "{} {label} of segment {segment}", kind.title()),
            About::Calibration(number) => write!(f, "calibration {number}"),
        }
    }
}

/// One figure that is not what it was.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What it belongs to.
    pub about: About,
    /// Which figure, by its name on the wire; `presence` where the whole is new or gone.
    pub what: &'static str,
    /// What it was; none where it was not there.
    pub old: Option<String>,
    /// What it is; none where it is not there.
    pub new: Option<String>,
    /// Indices of its causes in [`Difference::causes`].
    pub causes: Vec<usize>,
    /// Whether the causes are shown: each changes this figure when it alone is carried into the older input, or alone
    /// taken back out of the newer one. Otherwise they are those that can have reached it.
    pub shown: bool,
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".to_owned());
        write!(f, "{}: {} was {}, is {}", self.about, self.what, shown(&self.old), shown(&self.new))
    }
}

/// What changed from one outcome to another: why, and what.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Difference {
    /// What differs in library, method and run.
    pub causes: Vec<Cause>,
    /// What differs in calibrations, results and checks, in that order.
    pub changes: Vec<Change>,
}

impl Difference {
    /// Whether calibrations, results and checks are the same, whatever they were made from.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.causes.is_empty() && self.changes.is_empty() {
            return f.write_str("no difference");
        }
        write!(f, "{} differences of the input", self.causes.len())?;
        for (i, cause) in self.causes.iter().enumerate() {
            write!(f, "\n  [{}] {cause}", i + 1)?;
        }
        write!(f, "\n{} differences of the outcome", self.changes.len())?;
        for change in &self.changes {
            write!(f, "\n  {change}")?;
            let numbers: Vec<String> = change.causes.iter().map(|i| format!("[{}]", i + 1)).collect();
            if !numbers.is_empty() {
                write!(f, " {}{}", if change.shown { "" } else { "perhaps " }, numbers.join(""))?;
            }
        }
        Ok(())
    }
}

impl Outcome {
    /// What changed from this outcome to the `newer` one, with the differences of library, method and run that caused
    /// it, as reductions by `reduce` of inputs between the two show. Figures are compared to the last bit.
    pub(crate) fn compared(&self, newer: &Outcome, reduce: Reduce) -> Difference {
        let causes = cause::all(self, newer);
        let changed = figures::all(self, newer);
        // Without a change there is nothing to show.
        let effects = if changed.is_empty() { Vec::new() } else { proof::effects(self, newer, &causes, reduce) };
        let changes = changed.into_iter().map(|Changed { key, depth, old, new }| {
            let shows = |effect: &Option<HashSet<Key>>| effect.as_ref().is_some_and(|figures| figures.contains(&key));
            let mut of: Vec<usize> = (0..effects.len()).filter(|i| effects.get(*i).is_some_and(shows)).collect();
            let scope = Scope::of(&key.0, depth, self, newer);
            let can = |i: &usize| causes.get(*i).is_some_and(|cause| cause.reaches(&scope));
            // What could not be tried alone, or what only several together have done, is named as possible.
            let open = |i: &usize| of.is_empty() || effects.get(*i).is_none_or(Option::is_none);
            let possible: Vec<usize> = (0..causes.len()).filter(|i| open(i) && can(i) && !of.contains(i)).collect();
            let shown = possible.is_empty() && !of.is_empty();
            of.extend(possible);
            of.sort_unstable();
            Change { about: key.0, what: key.2, old, new, causes: of, shown }
        });
        let changes = changes.collect();
        Difference { causes, changes }
    }

    /// The same outcome, marked as standing for `old`, with the reason.
    ///
    /// # Errors
    /// No reason; an old outcome without a fingerprint.
    pub fn amends(mut self, old: &Outcome, reason: &str) -> Result<Outcome, Error> {
        let reason = reason.trim();
        if reason.is_empty() {
            return Err(Error::argument("reason", "the reason is empty").help("say why the old outcome is amended"));
        }
        let fingerprint = old.provenance.fingerprint.clone().ok_or_else(|| {
            let problem = Problem::new(Place::named("old"), "the old outcome has no fingerprint");
            Error::new(Kind::NotAvailable, problem.help("reduce its input again"))
        })?;
        self.provenance.amends = Some((fingerprint, reason.to_owned()));
        Ok(self)
    }
}

/// Whence a change can have been reached.
pub(super) struct Scope {
    depth: Depth,
    /// The positions whose readings and preparation a value follows from; none where every position may matter.
    positions: Option<Vec<u32>>,
}

impl Scope {
    fn of(about: &About, depth: Depth, old: &Outcome, new: &Outcome) -> Scope {
        let outcomes = [old, new];
        let fitted = |segment: u32| {
            let here = move |one: &&Segment| one.number == segment;
            outcomes.into_iter().flat_map(move |outcome| outcome.segments.iter().find(here)).flat_map(|one| &one.fitted)
        };
        let positions = match (about, depth) {
            // A judgement looks at limits, checks, batches and re-runs all over the run.
            (About::Check { .. }, _) | (_, Depth::Judgement) => None,
            (About::Calibration(number), Depth::Value) => Some(fitted(*number).copied().collect()),
            (About::Result { position, .. }, Depth::Value) => {
                let mut positions = vec![*position];
                for row in outcomes.into_iter().filter_map(|outcome| outcome.row(*position)) {
                    positions.extend(fitted(row.segment));
                }
                for outcome in outcomes {
                    positions.extend(related(outcome, *position));
                }
                Some(positions)
            }
        };
        Scope { depth, positions }
    }
}

/// The positions that a position was made from or prepared with.
fn related(outcome: &Outcome, position: u32) -> Vec<u32> {
    let Some(here) = outcome.run.position(position) else { return Vec::new() };
    let parent = |other: &crate::run::Position| match &here.of {
        Some(crate::run::Reference::Label(label)) => other.label == *label,
        Some(crate::run::Reference::Position(number)) => other.number == *number,
        None => false,
    };
    let (batch, id) = (&here.identity.prep_batch, &here.identity.preparation_id);
    // A blank without a portion of its own takes that of its batch.
    let together = |other: &crate::run::Position| {
        (batch.is_some() && other.identity.prep_batch == *batch)
            || (id.is_some() && other.identity.preparation_id == *id)
    };
    let found = outcome.run.positions.iter().filter(|other| parent(other) || together(other));
    let series = outcome.additions.iter().filter(|series| series.position == position);
    found.map(|other| other.number).chain(series.flat_map(|series| series.positions.iter().copied())).collect()
}

#[cfg(test)]
mod tests;
