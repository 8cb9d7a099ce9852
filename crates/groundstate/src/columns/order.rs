//! Rows that come in any order, put in order of their runs by counting.

use std::ops::Range;
use std::sync::atomic::{AtomicU32, Ordering};

use super::ColumnsRef;
use super::runs::Entry;
use crate::numeric::threads::Pool;

/// Up to here positions are few enough to keep what is common to all runs.
const MOST_POSITIONS: u32 = 1 << 16;

/// The rows, run after run; rows of a run as they came.
pub(super) struct Order<'a> {
    /// A row, and its position in the bits that a row does not need.
    entries: Vec<AtomicU32>,
    /// The bits that a row needs; positions are looked up where the others do not hold them.
    bits: Bits,
    uniform: Option<Uniform>,
    position: &'a [u32],
}

#[derive(Clone, Copy)]
enum Bits {
    /// The row in so many lower bits, the position in the others.
    Both(u32),
    /// The row alone, positions beside it.
    RowOnly,
}

/// What all runs say alike of a position; not met in any run where the role is [`UNMET`].
#[derive(Clone, Debug, PartialEq)]
struct Uniform {
    role: Vec<u32>,
    nominal: Vec<f64>,
}

const UNMET: u32 = u32::MAX;

impl<'a> Order<'a> {
    /// The order, and where each run begins in it, with the number of rows at the end.
    pub fn of(columns: &ColumnsRef<'a>, pool: &Pool) -> (Order<'a>, Vec<u32>) {
        let rows = columns.run.len();
        let most = |codes: &[u32]| codes.iter().fold(0, |most, code| most.max(*code));
        let (runs, positions) = (most(columns.run), most(columns.position));
        let bits = u32::BITS - (rows as u32).leading_zeros();
        let packed = positions < MOST_POSITIONS && u32::BITS - positions.leading_zeros() + bits <= u32::BITS;
        let bits = if packed { Bits::Both(bits) } else { Bits::RowOnly };
        if runs as usize >= 4 * rows + 1024 {
            return compared(columns, bits);
        }
        // Every thread counts its part of the rows, and so knows where they go.
        let share = rows.div_ceil(pool.threads()).max(1);
        let parts: Vec<Range<usize>> = (0..rows).step_by(share).map(|from| from..rows.min(from + share)).collect();
        let count = |part: &Range<usize>| {
            let mut counts = vec![0_u32; runs as usize + 1];
            columns.run[part.clone()].iter().for_each(|code| counts[*code as usize] += 1);
            counts
        };
        let mut counts = Vec::with_capacity(parts.len());
        pool.map(&parts, count, &mut counts);
        let (mut offsets, mut total) = (vec![0], 0);
        for run in 0..=runs as usize {
            for counts in &mut counts {
                let here = counts[run];
                counts[run] = total;
                total += here;
            }
            if offsets.last() != Some(&total) {
                offsets.push(total);
            }
        }
        let mut entries = Vec::with_capacity(rows);
        entries.resize_with(rows, || AtomicU32::new(0));
        let mut placed: Vec<(Range<usize>, Vec<u32>, Option<Uniform>)> =
            parts.into_iter().zip(counts).map(|(part, counts)| (part, counts, None)).collect();
        pool.each(&mut placed, |(part, next, uniform)| {
            for row in part.clone() {
                let next = &mut next[columns.run[row] as usize];
                // Each place is one row's alone, so that no order between threads is needed.
                entries[*next as usize].store(bits.packed(row as u32, columns.position[row]), Ordering::Relaxed);
                *next += 1;
            }
            *uniform = if packed { Uniform::of(columns, part.clone(), positions) } else { None };
        });
        let mut parts = placed.into_iter().map(|(.., uniform)| uniform);
        let first = parts.next().flatten();
        let uniform = parts.fold(first, |all, part| all?.joined(&part?));
        (Order { entries, bits, uniform, position: columns.position }, offsets)
    }

    /// The rows in this part of the order.
    pub fn entries(&self, range: Range<usize>) -> impl Iterator<Item = Entry> {
        self.entries[range].iter().map(|entry| {
            let entry = entry.load(Ordering::Relaxed);
            match self.bits {
                Bits::Both(bits) => {
                    let mask = u32::MAX.checked_shr(u32::BITS - bits).unwrap_or(0);
                    Entry { row: entry & mask, position: entry.checked_shr(bits).unwrap_or(0) }
                }
                Bits::RowOnly => Entry { row: entry, position: self.position[entry as usize] },
            }
        })
    }

    /// Role code and true value by position, where they are the same in all runs.
    pub fn uniform(&self) -> Option<(&[u32], &[f64])> {
        self.uniform.as_ref().map(|uniform| (uniform.role.as_slice(), uniform.nominal.as_slice()))
    }
}

impl Bits {
    fn packed(self, row: u32, position: u32) -> u32 {
        match self {
            Bits::Both(bits) => row | position.checked_shl(bits).unwrap_or(0),
            Bits::RowOnly => row,
        }
    }
}

/// Codes far apart.
fn compared<'a>(columns: &ColumnsRef<'a>, bits: Bits) -> (Order<'a>, Vec<u32>) {
    let code = |row: &u32| columns.run[*row as usize];
    let mut order: Vec<u32> = (0..columns.run.len() as u32).collect();
    order.sort_unstable_by_key(|row| (code(row), *row));
    let mut offsets = vec![0];
    let changes = order.windows(2).enumerate().filter(|(_, pair)| code(&pair[0]) != code(&pair[1]));
    offsets.extend(changes.map(|(i, _)| i as u32 + 1));
    offsets.push(columns.run.len() as u32);
    let packed = |row: u32| AtomicU32::new(bits.packed(row, columns.position[row as usize]));
    let entries = order.into_iter().map(packed).collect();
    (Order { entries, bits, uniform: None, position: columns.position }, offsets)
}

impl Uniform {
    /// What these rows say alike of each position up to `most`; none where two of them differ.
    fn of(columns: &ColumnsRef<'_>, rows: Range<usize>, most: u32) -> Option<Uniform> {
        let length = most as usize + 1;
        let mut found = Uniform { role: vec![UNMET; length], nominal: vec![f64::NAN; length] };
        let nominal = |row: usize| columns.nominal.map_or(f64::NAN, |column| column[row]);
        for row in rows.clone() {
            let position = columns.position[row] as usize;
            if found.role[position] == UNMET {
                (found.role[position], found.nominal[position]) = (columns.role[row], nominal(row));
            }
        }
        let same = |row: usize| {
            let position = columns.position[row] as usize;
            (columns.role[row] == found.role[position]) & (nominal(row).to_bits() == found.nominal[position].to_bits())
        };
        rows.fold(true, |all, row| all & same(row)).then_some(found)
    }

    /// What both say; none where they differ.
    fn joined(mut self, other: &Uniform) -> Option<Uniform> {
        for position in 0..self.role.len() {
            if other.role[position] == UNMET {
                continue;
            }
            if self.role[position] == UNMET {
                (self.role[position], self.nominal[position]) = (other.role[position], other.nominal[position]);
            }
            let differs = self.role[position] != other.role[position]
                || self.nominal[position].to_bits() != other.nominal[position].to_bits();
            if differs {
                return None;
            }
        }
        Some(self)
    }
}
