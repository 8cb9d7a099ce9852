//! Which stretches of a run a failed instrument check condemns.
//!
//! Instrument checks that follow each other without an analysis between them are one *stop*. Within one segment:
//!
//! | case | what is condemned |
//! |---|---|
//! | a CCV or CCB fails, a good pair came before | from that pair up to the next acceptable CCV and CCB |
//! | it fails, and no good pair came before | from the start of the segment up to the next acceptable CCV and CCB |
//! | it fails, and a repeat at the same stop passes | everything before the stop as above; nothing after it |
//! | an ICV or ICB fails | from the last good pair, or the start, to the end of the segment |
//!
//! A *good pair* is a stop that leaves with the verification (ICV or CCV) and the blank (ICB or CCB) acceptable. Of
//! the two, those count that the criteria require and those that failed. What comes after the last stop of an
//! open-ended run is not condemned by that; whether a closing check was required is asked elsewhere.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use super::{Check, Detection, Measured, Verdict};
use crate::criteria::{CheckKind, Criteria, Release, Retry};

/// What an instrument check verifies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Family {
    Verification,
    Blank,
    Low,
}

impl Family {
    fn of(kind: CheckKind) -> Option<Family> {
        match kind {
            CheckKind::Icv | CheckKind::Ccv => Some(Family::Verification),
            CheckKind::Icb | CheckKind::Ccb => Some(Family::Blank),
            CheckKind::LowCheck => Some(Family::Low),
            _ => None,
        }
    }
}

/// A stretch of a run condemned by one failed check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condemnation {
    /// Index of the failed check.
    pub check: usize,
    /// The segment.
    pub segment: u32,
    /// Every analysis in the stretch, ascending.
    pub positions: Vec<u32>,
    /// Those of them that the named release option lets go, ascending.
    pub released: Vec<u32>,
    /// How far it reaches.
    pub reach: Reach,
}

impl Condemnation {
    /// The positions that are not released, ascending.
    pub fn kept(&self) -> impl Iterator<Item = u32> + '_ {
        self.positions.iter().copied().filter(|at| self.released.binary_search(at).is_err())
    }
}

/// How far a condemnation reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reach {
    /// From the last good pair up to the next acceptable CCV and CCB.
    Bracketed,
    /// From the last good pair to the end of the segment: nothing acceptable followed.
    ToEnd,
    /// From the start of the segment up to the next acceptable CCV and CCB.
    FromStart,
    /// The whole segment.
    Whole,
}

impl Reach {
    /// The reach in words.
    pub const fn words(self) -> &'static str {
        match self {
            Reach::Bracketed => "from the last good pair up to the next acceptable CCV and CCB",
            Reach::ToEnd => "from the last good pair to the end of the segment",
            Reach::FromStart => "from the start of the segment up to the next acceptable CCV and CCB",
            Reach::Whole => "the whole segment",
        }
    }
}

/// A stop: indices of its checks, and how many analyses of the segment came before it.
struct Stop {
    checks: Vec<usize>,
    before: usize,
}

/// The sequence of one segment.
struct Segment<'a> {
    checks: &'a [Check],
    analyses: Vec<&'a Measured>,
    stops: Vec<Stop>,
}

impl<'a> Segment<'a> {
    /// `positions` those of the segment, ascending; `checks` holds a verdict for each instrument check.
    fn new(positions: &[&'a Measured], checks: &'a [Check], places: &BTreeMap<u32, usize>) -> Self {
        let mut segment = Segment { checks, analyses: Vec::new(), stops: Vec::new() };
        for position in positions.iter().copied() {
            if position.is_analysis() {
                segment.analyses.push(position);
                continue;
            }
            let Some(&check) = places.get(&position.position) else { continue };
            let before = segment.analyses.len();
            match segment.stops.last_mut() {
                Some(stop) if stop.before == before => stop.checks.push(check),
                _ => segment.stops.push(Stop { checks: vec![check], before }),
            }
        }
        segment
    }

    /// Whether the stop leaves with every one of `wanted` acceptable: the last judged check of each passed.
    fn leaves_good(&self, stop: &Stop, wanted: &BTreeSet<Family>) -> bool {
        wanted.iter().all(|family| {
            let of_family = stop.checks.iter().filter_map(|check| self.checks.get(*check));
            let mut judged =
                of_family.filter(|check| Family::of(check.kind) == Some(*family) && check.verdict.is_evaluated());
            judged.next_back().is_some_and(|check| check.verdict == Verdict::Pass)
        })
    }

    /// The failures of a stop that count.
    fn failures(&self, stop: &Stop) -> Vec<usize> {
        let counts = |check: &&usize| {
            let found = self.checks.get(**check);
            found.is_some_and(|check| check.verdict == Verdict::Fail && check.replaced_by.is_none())
        };
        stop.checks.iter().filter(counts).copied().collect()
    }

    fn family(&self, check: usize) -> Option<Family> {
        self.checks.get(check).and_then(|check| Family::of(check.kind))
    }

    /// The range of analyses that the failure of `check` at stop `at` spoils, as indices, and how far it reaches.
    fn spoiled(&self, at: usize, check: usize, base: &BTreeSet<Family>) -> Option<(RangeInclusive<usize>, Reach)> {
        let own = self.family(check)?;
        let kind = self.checks.get(check)?.kind;
        let concerned = |family: &Family| (own == Family::Low) == (*family == Family::Low);
        let mut wanted = base.clone();
        wanted.insert(own);
        let here = self.stops.get(at)?;
        for failure in self.failures(here) {
            wanted.extend(self.family(failure).filter(concerned));
        }
        let last_good = self.stops.iter().take(at).rfind(|stop| self.leaves_good(stop, &wanted));
        let from = last_good.map_or(0, |stop| stop.before);
        let mut end = None;
        if !matches!(kind, CheckKind::Icv | CheckKind::Icb) {
            for stop in self.stops.iter().skip(at) {
                for failure in self.failures(stop) {
                    wanted.extend(self.family(failure).filter(concerned));
                }
                if self.leaves_good(stop, &wanted) {
                    end = Some(stop.before);
                    break;
                }
            }
        }
        let reach = match (last_good, end) {
            (Some(_), Some(_)) => Reach::Bracketed,
            (Some(_), None) => Reach::ToEnd,
            (None, Some(_)) => Reach::FromStart,
            (None, None) => Reach::Whole,
        };
        let to = end.unwrap_or(self.analyses.len());
        (from < to).then(|| (from..=to - 1, reach))
    }
}

/// The positions of each segment, in their order.
pub(super) fn by_segment<'a>(positions: &[&'a Measured]) -> BTreeMap<u32, Vec<&'a Measured>> {
    let mut segments: BTreeMap<u32, Vec<&Measured>> = BTreeMap::new();
    for position in positions.iter().copied() {
        segments.entry(position.segment).or_default().push(position);
    }
    segments
}

/// The index of the check at each position.
fn places(checks: &[Check]) -> BTreeMap<u32, usize> {
    checks.iter().enumerate().filter_map(|(index, check)| Some((check.position?, index))).collect()
}

/// Marks failed checks that a repeat right after them stands for, where the retry policy allows one.
pub(super) fn retries(checks: &mut [Check], positions: &[&Measured], criteria: &Criteria) {
    if criteria.bracket().retry == Retry::Off {
        return;
    }
    let places = places(checks);
    let order: Vec<Option<usize>> = positions.iter().map(|position| places.get(&position.position).copied()).collect();
    let mut repeated = false; // the check before was itself a repeat of the one before it
    for pair in order.windows(2) {
        let &[Some(first), Some(second)] = pair else {
            repeated = false;
            continue;
        };
        let (Some(failed), Some(repeat)) = (checks.get(first), checks.get(second)) else { continue };
        let same = failed.kind == repeat.kind && failed.kind.is_instrument() && failed.segment == repeat.segment;
        let stands = same && !repeated && failed.verdict == Verdict::Fail && repeat.verdict == Verdict::Pass;
        let position = repeat.position;
        repeated = same;
        if let Some(failed) = checks.get_mut(first).filter(|_| stands) {
            failed.replaced_by = position;
        }
    }
}

/// What failed instrument checks condemn, in order of the failed checks. `positions` ascending. Fills in `affects` of
/// the failed instrument checks; a failed low check affects the stretch around it without condemning it.
pub(super) fn condemnations(checks: &mut [Check], positions: &[&Measured], criteria: &Criteria) -> Vec<Condemnation> {
    let segments = by_segment(positions);
    let rules = criteria.bracket();
    let mut base = BTreeSet::new();
    for (family, kinds) in
        [(Family::Verification, [CheckKind::Icv, CheckKind::Ccv]), (Family::Blank, [CheckKind::Icb, CheckKind::Ccb])]
    {
        if kinds.iter().any(|kind| criteria.frequency(*kind).required.is_some()) {
            base.insert(family);
        }
    }
    let places = places(checks);
    let mut condemned = Vec::new();
    let mut affects = Vec::new();
    for (number, positions) in segments {
        let segment = Segment::new(&positions, checks, &places);
        for (at, stop) in segment.stops.iter().enumerate() {
            for check in segment.failures(stop) {
                let low = segment.family(check) == Some(Family::Low);
                let base = if low { BTreeSet::new() } else { base.clone() };
                let Some((range, reach)) = segment.spoiled(at, check, &base) else { continue };
                let spoiled = segment.analyses.get(range).unwrap_or(&[]);
                let released: Vec<u32> = spoiled
                    .iter()
                    .filter(|one| {
                        rules.release == Release::HighCheckNondetect
                            && one.detection == Detection::NotDetected
                            && failed_high(&checks[check])
                    })
                    .map(|one| one.position)
                    .collect();
                let positions: Vec<u32> = spoiled.iter().map(|one| one.position).collect();
                affects.push((check, positions.clone()));
                if !low {
                    condemned.push(Condemnation { check, segment: number, positions, released, reach });
                }
            }
        }
    }
    for (check, positions) in affects {
        if let Some(check) = checks.get_mut(check) {
            check.affects = positions;
        }
    }
    condemned
}

/// Whether a verification failed by reading too high, which cannot hide analyte.
fn failed_high(check: &Check) -> bool {
    let value = check.statistic.map(|statistic| statistic.value);
    let high = check.limit.and_then(|limit| limit.high);
    matches!(check.kind, CheckKind::Icv | CheckKind::Ccv) && value.zip(high).is_some_and(|(value, high)| value >= high)
}

/// The positions that stay condemned: those that some condemnation does not release.
pub(super) fn condemned(condemnations: &[Condemnation]) -> BTreeSet<u32> {
    condemnations.iter().flat_map(Condemnation::kept).collect()
}

#[cfg(test)]
mod tests;
