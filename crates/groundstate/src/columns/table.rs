//! Columns as they go out.

use std::fmt;
use std::ops::BitOr;

use crate::error::Error;
use crate::estimate::Status;
use crate::run::Role;

/// What is to be said of a row, one bit each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Flags(u8);

impl Flags {
    /// The reading lies beyond the curve: no concentration belongs to it.
    pub const NO_ROOT: Flags = Flags(1);
    /// Above the top standard.
    pub const ABOVE_TOP: Flags = Flags(1 << 1);
    /// Below the limit that the method reports non-detects at.
    pub const BELOW_LIMIT: Flags = Flags(1 << 2);
    /// The readings scatter more than [`ReplicateLimit`](super::ReplicateLimit) allows.
    pub const HIGH_REPLICATE_SD: Flags = Flags(1 << 3);
    /// Condemned: outside the good brackets of instrument checks, or under a calibration that was not accepted.
    pub const CONDEMNED: Flags = Flags(1 << 4);
    /// The calibration's r² or r is below its limit.
    pub const R2_BELOW_LIMIT: Flags = Flags(1 << 5);
    /// The row is an instrument check that failed.
    pub const CHECK_FAILED: Flags = Flags(1 << 6);
    /// Its run could not be reduced.
    pub const NOT_REDUCED: Flags = Flags(1 << 7);

    /// Every flag by its stable name, in order of its bit.
    pub const ALL: [(&'static str, Flags); 8] = [
        ("no_root", Flags::NO_ROOT),
        ("above_top", Flags::ABOVE_TOP),
        ("below_limit", Flags::BELOW_LIMIT),
        ("high_replicate_sd", Flags::HIGH_REPLICATE_SD),
        ("condemned", Flags::CONDEMNED),
        ("r2_below_limit", Flags::R2_BELOW_LIMIT),
        ("check_failed", Flags::CHECK_FAILED),
        ("not_reduced", Flags::NOT_REDUCED),
    ];

    /// The bits.
    pub const fn bits(self) -> u8 {
        self.0
    }

    /// Whether all flags of `other` are set.
    pub const fn contains(self, other: Flags) -> bool {
        self.0 & other.0 == other.0
    }

    /// These flags, and those of `other` where `condition` holds.
    #[must_use]
    pub(super) const fn with(self, other: Flags, condition: bool) -> Flags {
        if condition { Flags(self.0 | other.0) } else { self }
    }
}

impl BitOr for Flags {
    type Output = Flags;

    fn bitor(self, other: Flags) -> Flags {
        Flags(self.0 | other.0)
    }
}

impl fmt::Display for Flags {
    /// The names of the flags set, parted by spaces.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let set = Flags::ALL.iter().filter(|(_, flag)| self.contains(*flag));
        set.enumerate().try_for_each(|(i, (name, _))| write!(f, "{}{name}", if i == 0 { "" } else { " " }))
    }
}

/// One row a measured position, by ascending run and position. All columns have the same length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColumnTable {
    /// Code of the run.
    pub run: Vec<u32>,
    /// Place in the run.
    pub position: Vec<u32>,
    /// What the position is for.
    pub role: Vec<Role>,
    /// Content: of instrument checks in the solution and the unit of the calibration, of all others with the dilution
    /// and in the method's unit of liquids. NaN exactly where the status has no value.
    pub value: Vec<f64>,
    /// Standard uncertainty, same unit.
    pub u: Vec<f64>,
    /// Lower end of the delta interval at the method's coverage; minus infinity without a degree of freedom.
    pub lo: Vec<f64>,
    /// Upper end.
    pub hi: Vec<f64>,
    /// Where the solution lies, or why there is no value.
    pub status: Vec<Status>,
    /// What else is to be said.
    pub flags: Vec<Flags>,
    /// Runs that could not be reduced, by code, ascending, and why.
    pub errors: Vec<(u32, Error)>,
}

/// One row to be added.
pub(super) struct Row {
    pub run: u32,
    pub position: u32,
    pub role: Role,
    pub value: f64,
    pub u: f64,
    pub ends: (f64, f64),
    pub status: Status,
    pub flags: Flags,
}

impl ColumnTable {
    /// Makes room for `rows` more rows.
    pub(super) fn reserve(&mut self, rows: usize) {
        self.run.reserve(rows);
        self.position.reserve(rows);
        self.role.reserve(rows);
        self.value.reserve(rows);
        self.u.reserve(rows);
        self.lo.reserve(rows);
        self.hi.reserve(rows);
        self.status.reserve(rows);
        self.flags.reserve(rows);
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.value.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.value.is_empty()
    }

    pub(super) fn push(&mut self, row: Row) {
        self.run.push(row.run);
        self.position.push(row.position);
        self.role.push(row.role);
        self.value.push(row.value);
        self.u.push(row.u);
        self.lo.push(row.ends.0);
        self.hi.push(row.ends.1);
        self.status.push(row.status);
        self.flags.push(row.flags);
    }

    /// Moves the rows of `other` to the end.
    pub(super) fn append(&mut self, other: &mut ColumnTable) {
        self.run.append(&mut other.run);
        self.position.append(&mut other.position);
        self.role.append(&mut other.role);
        self.value.append(&mut other.value);
        self.u.append(&mut other.u);
        self.lo.append(&mut other.lo);
        self.hi.append(&mut other.hi);
        self.status.append(&mut other.status);
        self.flags.append(&mut other.flags);
        self.errors.append(&mut other.errors);
    }
}
