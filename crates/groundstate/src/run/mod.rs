//! The table of readings: roles, positions, runs.
//!
//! ```
//! use groundstate::run::{Role, Run};
//!
//! let run = Run::builder("invented")
//!     .calibration_blank(&[0.0004, 0.0002])
//!     .standard("S1", 0.5, &[0.0562, 0.0560])
//!     .standard("S2", 1.0, &[0.1125, 0.1121])
//!     .sample("well 3", &[0.0871, 0.0868])
//!     .build()?;
//! assert_eq!(run.positions.len(), 4);
//! assert_eq!(run.positions[3].role, Role::Sample);
//! # Ok::<(), groundstate::Error>(())
//! ```

mod builder;
mod coded;
mod columns;
#[cfg(feature = "serde")]
mod document;
mod group;
mod number;
mod options;
mod place;
mod position;
mod problems;
mod read;
mod role;
mod rules;
mod sheet;
mod table;

pub use builder::RunBuilder;
pub use columns::{FACTS, OWN_PREFIX, column_names};
#[cfg(feature = "serde")]
pub(crate) use document::RunForm;
pub use group::GroupIndex;
pub use options::ReadOptions;
pub use position::{Identity, Position, PreparationFields, Reference, SourceRow};
pub use read::RunError;
pub use role::{ALIASES, Role};
pub use table::{Cells, RawTable, Texts};

use std::sync::Arc;

use crate::finding::Finding;

/// How readings came to their positions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum PositionRule {
    /// The table has a column of positions, or the run was built by hand.
    #[default]
    Given,
    /// Consecutive rows of one role and label with different replicate numbers are one position.
    ConsecutiveReplicates,
    /// Every row is a position of its own.
    EachRow,
}

impl PositionRule {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            PositionRule::Given => "given",
            PositionRule::ConsecutiveReplicates => "consecutive_replicates",
            PositionRule::EachRow => "each_row",
        }
    }
}

/// One run: its positions in ascending order and what is known of it as a whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Name of the run.
    pub name: Arc<str>,
    /// Its positions, ascending.
    pub positions: Vec<Position>,
    /// Further columns whose value is the same in every row, such as analyst and instrument, by name.
    pub facts: Vec<(Arc<str>, Arc<str>)>,
    /// How readings came to their positions.
    pub position_rule: PositionRule,
    /// What was noticed while it was read.
    pub findings: Vec<Finding>,
}

/// Runs of one table, by name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Runs(Vec<Run>);

impl Runs {
    /// The runs, ascending by name.
    pub fn as_slice(&self) -> &[Run] {
        &self.0
    }

    /// The runs, ascending by name.
    pub fn into_vec(self) -> Vec<Run> {
        self.0
    }

    /// Number of runs.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl Run {
    /// The position of number `number`.
    pub fn position(&self, number: u32) -> Option<&Position> {
        let found = self.positions.binary_search_by_key(&number, |position| position.number).ok()?;
        self.positions.get(found)
    }

    /// The value of the fact `name`.
    pub fn fact(&self, name: &str) -> Option<&str> {
        self.facts.iter().find(|(known, _)| **known == *name).map(|(_, value)| &**value)
    }
}
