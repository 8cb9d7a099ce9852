//! A judgement before it is put in its place in the run.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::{Figure, Limit, Measured, Parent, Reason, Statistic, Verdict};
use crate::criteria::{Comparison, Criteria};
use crate::estimate::Estimate;
use crate::finding::Citation;
use crate::run::Role;
use crate::unit::Unit;

/// The positions of a run, and which of them are condemned.
pub(super) struct Positions<'a> {
    pub by_number: BTreeMap<u32, &'a Measured>,
    by_batch: BTreeMap<Option<Arc<str>>, Vec<&'a Measured>>,
    pub condemned: BTreeSet<u32>,
    pub criteria: &'a Criteria,
}

impl<'a> Positions<'a> {
    pub fn new(by_number: BTreeMap<u32, &'a Measured>, criteria: &'a Criteria) -> Self {
        let mut by_batch: BTreeMap<_, Vec<&Measured>> = BTreeMap::new();
        for position in by_number.values().copied() {
            by_batch.entry(position.batch.clone()).or_default().push(position);
        }
        Positions { by_number, by_batch, condemned: BTreeSet::new(), criteria }
    }

    /// Every position of `batch`, ascending.
    fn batch(&self, batch: &Option<Arc<str>>) -> &[&'a Measured] {
        self.by_batch.get(batch).map_or(&[], Vec::as_slice)
    }

    /// The samples of `batch`, ascending.
    pub fn samples(&self, batch: &Option<Arc<str>>) -> impl Iterator<Item = &'a Measured> {
        self.batch(batch).iter().copied().filter(|other| other.is_sample())
    }

    /// Positions of the samples of `batch` that no series of standard additions was made of, ascending.
    pub fn without_additions(&self, batch: &Option<Arc<str>>) -> Vec<u32> {
        let portions = || self.samples(batch).filter(|one| one.role == Role::Addition);
        let made: BTreeSet<&str> =
            portions().filter_map(|one| self.parent(one).ok()).map(|parent| &*parent.label).collect();
        let samples = self.samples(batch).filter(|one| one.role == Role::Sample && !made.contains(&*one.label));
        samples.map(|one| one.position).collect()
    }

    /// What `position` was made from.
    pub fn parent(&self, position: &Measured) -> Result<&'a Measured, Reason> {
        match &position.parent {
            Parent::NotNamed => Err(Reason::ParentNotNamed),
            Parent::NotFound(name) => Err(Reason::ParentNotFound(name.clone())),
            Parent::Position(number) => match self.by_number.get(number) {
                Some(parent) if parent.position != position.position => Ok(parent),
                _ => Err(Reason::ParentNotFound(number.to_string().into())),
            },
        }
    }

    /// The value of `position` if it can serve.
    pub fn own(&self, position: &Measured, value: Estimate) -> Result<Estimate, Reason> {
        if self.condemned.contains(&position.position) {
            return Err(Reason::Condemned);
        }
        if value.status.has_value() && value.value.is_finite() { Ok(value) } else { Err(Reason::NoValue(value.status)) }
    }

    /// The result of `position` if it can serve.
    pub fn own_result(&self, position: &Measured) -> Result<Estimate, Reason> {
        self.own(position, position.result.ok_or(Reason::NoResult)?)
    }

    /// The value of what a check is compared with, if it can serve.
    pub fn others(&self, position: &Measured, value: Option<Estimate>) -> Result<Estimate, Reason> {
        let number = position.position;
        match self.own(position, value.ok_or(Reason::ParentNoValue(number))?) {
            Err(Reason::Condemned) => Err(Reason::ParentCondemned(number)),
            Err(_) => Err(Reason::ParentNoValue(number)),
            Ok(value) => Ok(value),
        }
    }

    /// The position of `role` in the same batch and with the same parent, nearest before `position`, or else the
    /// first after it.
    pub fn partner(&self, position: &Measured, role: Role) -> Option<&'a Measured> {
        if let Ok(named) = self.parent(position)
            && named.role == role
        {
            return Some(named);
        }
        let same = |other: &&'a Measured| {
            other.role == role
                && (other.parent == position.parent || role == Role::Lcs)
                && !self.condemned.contains(&other.position)
        };
        let batch = self.batch(&position.batch);
        let (before, after) = batch.split_at(batch.partition_point(|other| other.position < position.position));
        before.iter().copied().rfind(same).or_else(|| after.iter().copied().find(same))
    }
}

/// What was judged, by what, and how.
pub(super) struct Judgement {
    pub found: Option<Estimate>,
    pub expected: Option<f64>,
    pub unit: Unit,
    pub statistic: Option<Statistic>,
    pub limit: Option<Limit>,
    pub verdict: Verdict,
    pub citation: Citation,
}

impl Judgement {
    /// `statistic` against `limit`; not evaluated where there is no limit at all.
    pub fn of(statistic: Statistic, limit: Limit, comparison: Comparison, unit: Unit, citation: Citation) -> Self {
        let set = limit.low.is_some() || limit.high.is_some();
        let passes = limit.admits(statistic.value, statistic.figure.scale(), comparison);
        Judgement {
            found: None,
            expected: None,
            unit,
            statistic: Some(statistic),
            limit: set.then_some(limit),
            verdict: match (set, passes) {
                (false, _) => Verdict::NotEvaluated(Reason::NoLimit),
                (true, true) => Verdict::Pass,
                (true, false) => Verdict::Fail,
            },
            citation,
        }
    }

    /// Not evaluated.
    pub fn not(reason: Reason, unit: Unit, citation: Citation) -> Self {
        let verdict = Verdict::NotEvaluated(reason);
        Judgement { found: None, expected: None, unit, statistic: None, limit: None, verdict, citation }
    }

    pub fn with(mut self, found: Option<Estimate>, expected: Option<f64>) -> Self {
        (self.found, self.expected) = (found, expected);
        self
    }
}

/// A statistic; an uncertainty that is not a number is absent.
pub(super) fn statistic(figure: Figure, value: f64, u: f64) -> Statistic {
    Statistic { figure, value, u: u.is_finite().then_some(u) }
}

/// The root of a sum of two squares.
pub(super) fn root_sum(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}
