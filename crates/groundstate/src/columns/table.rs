//! Columns as they go out.

use std::fmt;
use std::ops::BitOr;

use super::gather::Spot;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Estimate, Status};
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

    /// The flags that these bits are.
    pub const fn from_bits(bits: u8) -> Flags {
        Flags(bits)
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

impl ColumnTable {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.value.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.value.is_empty()
    }
}

/// Columns to be filled: arrays of as many elements each as there are rows.
#[derive(Debug)]
pub struct ColumnsOut<'a> {
    /// Code of the run.
    pub run: &'a mut [u32],
    /// Place in the run.
    pub position: &'a mut [u32],
    /// Code of the role, as it came in.
    pub role: &'a mut [u32],
    /// As [`ColumnTable::value`].
    pub value: &'a mut [f64],
    /// As [`ColumnTable::u`].
    pub u: &'a mut [f64],
    /// As [`ColumnTable::lo`].
    pub lo: &'a mut [f64],
    /// As [`ColumnTable::hi`].
    pub hi: &'a mut [f64],
    /// Code of the status: its place in [`Status::ALL`].
    pub status: &'a mut [u8],
    /// Bits of the flags.
    pub flags: &'a mut [u8],
}

impl<'a> ColumnsOut<'a> {
    pub(super) fn check(&self, rows: usize) -> Result<(), Error> {
        let lengths = [
            ("run", self.run.len()),
            ("position", self.position.len()),
            ("role", self.role.len()),
            ("value", self.value.len()),
            ("u", self.u.len()),
            ("lo", self.lo.len()),
            ("hi", self.hi.len()),
            ("status", self.status.len()),
            ("flags", self.flags.len()),
        ];
        let problem =
            |(name, length)| Problem::new(Place::named(name), format!("an array of {length} elements for {rows} rows"));
        let wrong = lengths.into_iter().filter(|(_, length)| *length != rows);
        Error::unless_empty(Kind::Argument, wrong.map(problem).collect(), ())
    }

    /// The first `rows` rows, and the rest.
    pub(super) fn split(self, rows: usize) -> (ColumnsOut<'a>, ColumnsOut<'a>) {
        fn cut<T>(column: &mut [T], rows: usize) -> (&mut [T], &mut [T]) {
            column.split_at_mut(rows.min(column.len()))
        }
        let (run, position, role) = (cut(self.run, rows), cut(self.position, rows), cut(self.role, rows));
        let (value, u, lo, hi) = (cut(self.value, rows), cut(self.u, rows), cut(self.lo, rows), cut(self.hi, rows));
        let (status, flags) = (cut(self.status, rows), cut(self.flags, rows));
        (
            ColumnsOut {
                run: run.0,
                position: position.0,
                role: role.0,
                value: value.0,
                u: u.0,
                lo: lo.0,
                hi: hi.0,
                status: status.0,
                flags: flags.0,
            },
            ColumnsOut {
                run: run.1,
                position: position.1,
                role: role.1,
                value: value.1,
                u: u.1,
                lo: lo.1,
                hi: hi.1,
                status: status.1,
                flags: flags.1,
            },
        )
    }
}

/// One row.
pub(super) struct Row {
    pub run: u32,
    pub position: u32,
    pub role: u32,
    pub value: f64,
    pub u: f64,
    pub ends: (f64, f64),
    pub status: u8,
    pub flags: u8,
}

impl Row {
    pub fn of(run: u32, spot: &Spot, result: &Estimate, ends: (f64, f64), flags: Flags) -> Row {
        let Estimate { value, u, status, .. } = *result;
        Row { run, position: spot.number, role: spot.code, value, u, ends, status: status as u8, flags: flags.bits() }
    }
}

/// Columns that are filled row after row.
pub(super) struct Sink<'a> {
    to: ColumnsOut<'a>,
    at: usize,
}

impl<'a> Sink<'a> {
    pub fn new(to: ColumnsOut<'a>) -> Self {
        Sink { to, at: 0 }
    }

    /// The next `rows` rows.
    pub fn next(&mut self, rows: usize) -> ColumnsOut<'_> {
        let (from, to) = (self.at, self.at + rows);
        self.at = to;
        fn part<T>(column: &mut [T], from: usize, to: usize) -> &mut [T] {
            column.get_mut(from..to).unwrap_or_default()
        }
        let of = &mut self.to;
        ColumnsOut {
            run: part(of.run, from, to),
            position: part(of.position, from, to),
            role: part(of.role, from, to),
            value: part(of.value, from, to),
            u: part(of.u, from, to),
            lo: part(of.lo, from, to),
            hi: part(of.hi, from, to),
            status: part(of.status, from, to),
            flags: part(of.flags, from, to),
        }
    }

    pub fn push(&mut self, row: Row) {
        let to = self.next(1);
        to.run.fill(row.run);
        to.position.fill(row.position);
        to.role.fill(row.role);
        to.value.fill(row.value);
        to.u.fill(row.u);
        to.lo.fill(row.ends.0);
        to.hi.fill(row.ends.1);
        to.status.fill(row.status);
        to.flags.fill(row.flags);
    }
}
