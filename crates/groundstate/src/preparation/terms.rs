//! One quantity in the product that leads back to the sample.

use std::sync::Arc;

use crate::estimate::{Dof, Key, Part, SourceKind};
use crate::glassware::Measured;

/// On which side of the fraction bar it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Power {
    /// The result is multiplied with it.
    Times,
    /// The result is divided by it.
    Over,
}

/// Which position an unnamed source belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Who {
    /// The one where the portion was first prepared: a re-run of a digest shares its mass and volumes.
    Portion,
    /// The one that was measured: each re-run has its own dilution.
    Position,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Term<'a> {
    pub measured: &'a Measured,
    pub power: Power,
    pub part: Part,
    pub kind: SourceKind,
    pub who: Who,
    /// Name of a factor that is one quantity for all who name it.
    pub factor: Option<&'a Arc<str>>,
}

/// What a term adds to a row: who it is, the relative contribution with its sign, and what that rests on.
pub(crate) struct Share {
    pub key: Key,
    pub kind: SourceKind,
    pub relative: f64,
    pub variance: Key,
    pub dof: Dof,
}

impl<'a> Term<'a> {
    pub fn new(measured: &'a Measured, power: Power, part: Part, kind: SourceKind, who: Who) -> Self {
        Term { measured, power, part, kind, who, factor: None }
    }

    /// The shares of the term, for unnamed parts at `at`.
    pub fn shares(&self, run: &Arc<str>, at: u32) -> impl Iterator<Item = Share> {
        let sign = if self.power == Power::Times { 1.0 } else { -1.0 };
        let share = |key: Key, variance: Key, u: f64, dof: Dof| Share {
            key,
            kind: self.kind,
            relative: sign * u / self.measured.value(),
            variance: if dof.is_infinite() { Key::Known } else { variance },
            dof,
        };
        let item = self.measured.shared().map(|(item, u, dof)| {
            let key = Key::Item(item.clone());
            share(key.clone(), key, u, dof)
        });
        let own = self.measured.own().map(|(u, dof)| match self.factor {
            Some(name) => share(Key::Factor(name.clone()), Key::Factor(name.clone()), u, dof),
            None => {
                // Rows of the same part with the same figures rest on the same estimate.
                let estimate = Key::Named(format!("{}: u {u:e} from {:e} dof", self.part, dof.get()).into());
                share(Key::At(run.clone(), at, self.part), estimate, u, dof)
            }
        });
        item.into_iter().chain(own)
    }
}
