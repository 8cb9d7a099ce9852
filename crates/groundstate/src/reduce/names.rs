//! Positions of a run by what their rows call them, found without a search through the run for each.

use std::collections::{HashMap, HashSet};

use crate::run::{Position, Reference, Role, Run};

/// The names in a run.
pub(crate) struct Names<'a> {
    run: &'a Run,
    /// The first position of a label, and the first other one: a position is not made from itself.
    labels: HashMap<&'a str, (&'a Position, Option<&'a Position>)>,
    preparations: HashMap<&'a str, u32>,
    /// Preparation batches with a weighed sample.
    weighed: HashSet<Option<&'a str>>,
}

impl<'a> Names<'a> {
    pub(crate) fn of(run: &'a Run) -> Names<'a> {
        let mut names = Names { run, labels: HashMap::new(), preparations: HashMap::new(), weighed: HashSet::new() };
        // Without one that was made from another no label is asked for.
        let parents = run.positions.iter().any(|position| position.of.is_some());
        for position in &run.positions {
            if parents {
                let (first, other) = names.labels.entry(&position.label).or_insert((position, None));
                if other.is_none() && first.number != position.number {
                    *other = Some(position);
                }
            }
            if let Some(id) = &position.identity.preparation_id {
                names.preparations.entry(id).or_insert(position.number);
            }
            if position.role == Role::Sample && position.preparation.mass_g.is_some() {
                names.weighed.insert(position.identity.prep_batch.as_deref());
            }
        }
        names
    }

    /// What a position was made from, the first of its name.
    pub(super) fn parent(&self, position: &Position) -> Option<&'a Position> {
        match position.of.as_ref()? {
            Reference::Position(number) => self.run.position(*number),
            Reference::Label(label) => {
                let (first, other) = self.labels.get(&**label)?;
                if first.number == position.number { *other } else { Some(first) }
            }
        }
    }

    /// The first position of the preparation that `position` names; its own where it names none.
    pub(super) fn first_of_preparation(&self, position: &Position) -> u32 {
        let named = position.identity.preparation_id.as_deref();
        named.and_then(|id| self.preparations.get(id)).copied().unwrap_or(position.number)
    }

    /// Whether a sample of the preparation batch of `position` was weighed.
    pub(super) fn of_weighed_batch(&self, position: &Position) -> bool {
        self.weighed.contains(&position.identity.prep_batch.as_deref())
    }
}
