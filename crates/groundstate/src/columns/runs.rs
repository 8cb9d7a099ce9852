//! Which rows belong to which run, and the rows of one run in order of position and replicate.

use std::ops::Range;

use super::ColumnsRef;
use super::order::Order;
use crate::numeric::threads::Pool;
use crate::run::Role;

/// Rows grouped by run, ascending; rows of a run keep their order.
pub(super) struct Runs<'a> {
    /// The rows, run after run; none where they came so.
    order: Option<Order<'a>>,
    /// Where each run begins, and the number of rows at the end.
    offsets: Vec<u32>,
}

impl<'a> Runs<'a> {
    /// The runs that the columns name.
    pub fn of(columns: &ColumnsRef<'a>, pool: &Pool) -> Runs<'a> {
        let run = columns.run;
        // Without a branch a row, so that it goes at the pace of memory.
        let sorted = run.windows(2).fold(true, |sorted, pair| sorted & (pair[0] <= pair[1]));
        if !sorted {
            let (order, offsets) = Order::of(columns, pool);
            return Runs { order: Some(order), offsets };
        }
        let (mut offsets, mut from) = (vec![0], 0);
        while let Some(code) = run.get(from) {
            from += length(&run[from..], *code);
            offsets.push(from as u32);
        }
        Runs { order: None, offsets }
    }

    /// Number of runs.
    pub fn len(&self) -> usize {
        self.offsets.len() - 1
    }

    fn range(&self, i: usize) -> Range<usize> {
        self.offsets[i] as usize..self.offsets[i + 1] as usize
    }
}

/// How many of the ascending `codes` are `code`, which is the first: looked for further and further away, then nearer.
fn length(codes: &[u32], code: u32) -> usize {
    let mut step = 1;
    while codes.get(step).is_some_and(|other| *other == code) {
        step *= 2;
    }
    let (from, to) = (step / 2, codes.len().min(step));
    from + codes[from..to].partition_point(|other| *other == code)
}

/// Where runs come from.
pub(super) trait Source: Sync {
    /// Number of runs.
    fn len(&self) -> usize;

    /// The roles that codes mean.
    fn roles(&self) -> &[Role];

    /// The rows of run number `i`, in order of position and replicate; `scratch` is memory to put them in order. Rows
    /// that are `known` in their order need not be looked through.
    fn lend<'s>(&'s self, i: usize, scratch: &'s mut Scratch, known: impl Fn(&Lent<'_>) -> bool) -> Lent<'s>;

    /// How many positions of run number `i` have a role whose code is `measured`.
    fn count(&self, i: usize, scratch: &mut Scratch, measured: impl Fn(u32) -> bool) -> usize {
        begun(&self.lend(i, scratch, |_| false), measured)
    }

    /// The rows of run number `i`, where they stand together.
    fn in_place(&self, i: usize) -> Option<Range<usize>>;

    /// Whether two such runs have the same positions and role codes, row by row.
    fn same(&self, a: Range<usize>, b: Range<usize>) -> bool;
}

/// How many positions begin in `rows` with a role whose code is `measured`.
fn begun(rows: &Lent<'_>, measured: impl Fn(u32) -> bool) -> usize {
    let Lent { position, role, .. } = rows;
    let begins = |i: &usize| *i == 0 || position[*i] != position[*i - 1];
    (0..position.len().min(role.len())).filter(begins).filter(|i| measured(role[*i])).count()
}

/// Columns, one row a reading.
pub(super) struct Tidy<'a> {
    columns: ColumnsRef<'a>,
    runs: Runs<'a>,
}

impl<'a> Tidy<'a> {
    pub fn of(columns: ColumnsRef<'a>, pool: &Pool) -> Self {
        Tidy { runs: Runs::of(&columns, pool), columns }
    }
}

impl Source for Tidy<'_> {
    fn len(&self) -> usize {
        self.runs.len()
    }

    fn roles(&self) -> &[Role] {
        self.columns.roles
    }

    fn in_place(&self, i: usize) -> Option<Range<usize>> {
        self.runs.order.is_none().then(|| self.runs.range(i))
    }

    fn same(&self, a: Range<usize>, b: Range<usize>) -> bool {
        let ColumnsRef { position, role, replicate, .. } = self.columns;
        position[a.clone()] == position[b.clone()]
            && role[a.clone()] == role[b.clone()]
            && replicate.is_none_or(|replicate| replicate[a] == replicate[b])
    }

    fn count(&self, i: usize, scratch: &mut Scratch, measured: impl Fn(u32) -> bool) -> usize {
        if let Some(order) = &self.runs.order
            && let Some((roles, _)) = order.uniform()
        {
            // A bit a position that was met.
            scratch.met.clear();
            scratch.met.resize(roles.len(), false);
            order.entries(self.runs.range(i)).for_each(|entry| scratch.met[entry.position as usize] = true);
            return scratch.met.iter().zip(roles).filter(|(met, role)| **met && measured(**role)).count();
        }
        begun(&self.lend(i, scratch, |_| false), measured)
    }

    fn lend<'s>(&'s self, i: usize, scratch: &'s mut Scratch, known: impl Fn(&Lent<'_>) -> bool) -> Lent<'s> {
        let (columns, range) = (&self.columns, self.runs.range(i));
        let Some(order) = &self.runs.order else {
            let whole = |column: &'s [u32]| &column[range.clone()];
            let figures = |column: &'s [f64]| &column[range.clone()];
            let own = Lent {
                run: columns.run[range.start],
                position: whole(columns.position),
                role: whole(columns.role),
                replicate: columns.replicate.map(whole),
                absorbance: figures(columns.absorbance),
                nominal: columns.nominal.map(figures),
                dilution: columns.dilution.map(figures),
                rows: Rows::From(range.start),
            };
            if known(&own) || is_ordered(own.position, own.replicate) {
                return own;
            }
            let rows = range.start as u32..range.end as u32;
            scratch.arrange(rows.map(|row| Entry { row, position: columns.position[row as usize] }), columns);
            scratch.pick_figures(columns, None);
            return scratch.lend(columns);
        };
        scratch.arrange(order.entries(range), columns);
        scratch.pick_figures(columns, order.uniform());
        scratch.lend(columns)
    }
}

/// Whether rows come by ascending position, and the replicates of a position ascending.
fn is_ordered(position: &[u32], replicate: Option<&[u32]>) -> bool {
    let ordered = position.windows(2).fold(true, |ordered, pair| ordered & (pair[0] <= pair[1]));
    ordered
        && replicate.is_none_or(|replicate| {
            (1..position.len()).all(|i| position[i - 1] < position[i] || replicate[i - 1] <= replicate[i])
        })
}

/// The rows of one run, in order.
pub(super) struct Lent<'a> {
    pub run: u32,
    pub position: &'a [u32],
    pub role: &'a [u32],
    pub replicate: Option<&'a [u32]>,
    pub absorbance: &'a [f64],
    pub nominal: Option<&'a [f64]>,
    pub dilution: Option<&'a [f64]>,
    pub rows: Rows<'a>,
}

/// Where the rows stand in the columns.
pub(super) enum Rows<'a> {
    From(usize),
    These(&'a [u32]),
}

impl Rows<'_> {
    /// The number of row `i` of the run, counted from 1.
    pub fn number(&self, i: usize) -> u64 {
        match self {
            Rows::From(first) => (first + i) as u64 + 1,
            Rows::These(rows) => rows.get(i).map_or(0, |row| u64::from(*row) + 1),
        }
    }
}

/// A row and its position.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Entry {
    pub row: u32,
    pub position: u32,
}

/// The rows of one run put in order, in memory that is used again.
#[derive(Default)]
pub(super) struct Scratch {
    run: u32,
    met: Vec<bool>,
    came: Vec<Entry>,
    counts: Vec<u32>,
    rows: Vec<u32>,
    position: Vec<u32>,
    role: Vec<u32>,
    replicate: Vec<u32>,
    absorbance: Vec<f64>,
    pub nominal: Vec<f64>,
    pub dilution: Vec<f64>,
}

fn pick<T: Copy>(to: &mut Vec<T>, rows: &[u32], column: Option<&[T]>) {
    to.clear();
    if let Some(column) = column {
        to.extend(rows.iter().map(|row| column[*row as usize]));
    }
}

impl Scratch {
    /// Puts rows in order of position; rows of a position keep their order but for their replicate numbers.
    fn arrange(&mut self, entries: impl Iterator<Item = Entry>, columns: &ColumnsRef<'_>) {
        self.came.clear();
        self.came.extend(entries);
        let most = self.came.iter().fold(0, |most, entry| most.max(entry.position)) as usize;
        self.rows.clear();
        self.position.clear();
        if most < 4 * self.came.len() + 64 {
            // Counted, as the runs are.
            self.counts.clear();
            self.counts.resize(most + 2, 0);
            self.came.iter().for_each(|entry| self.counts[entry.position as usize + 1] += 1);
            (1..most + 2).for_each(|i| self.counts[i] += self.counts[i - 1]);
            self.rows.resize(self.came.len(), 0);
            self.position.resize(self.came.len(), 0);
            for entry in &self.came {
                let place = &mut self.counts[entry.position as usize];
                (self.rows[*place as usize], self.position[*place as usize]) = (entry.row, entry.position);
                *place += 1;
            }
        } else {
            self.came.sort_by_key(|entry| entry.position);
            self.rows.extend(self.came.iter().map(|entry| entry.row));
            self.position.extend(self.came.iter().map(|entry| entry.position));
        }
        if let Some(replicate) = columns.replicate {
            let key = |row: &u32| (columns.position[*row as usize], replicate[*row as usize]);
            if !self.rows.is_sorted_by_key(key) {
                self.rows.sort_by_key(key);
            }
        }
        self.run = self.rows.first().map_or(0, |row| columns.run[*row as usize]);
    }

    /// What the columns say of the rows. `uniform`: role and true value by position, where they are the same in all
    /// runs, which spares a look at each row.
    fn pick_figures(&mut self, columns: &ColumnsRef<'_>, uniform: Option<(&[u32], &[f64])>) {
        match uniform {
            Some((roles, nominal)) => {
                self.role.clear();
                self.role.extend(self.position.iter().map(|position| roles[*position as usize]));
                self.nominal.clear();
                if columns.nominal.is_some() {
                    self.nominal.extend(self.position.iter().map(|position| nominal[*position as usize]));
                }
            }
            None => {
                pick(&mut self.role, &self.rows, Some(columns.role));
                pick(&mut self.nominal, &self.rows, columns.nominal);
            }
        }
        pick(&mut self.replicate, &self.rows, columns.replicate);
        pick(&mut self.absorbance, &self.rows, Some(columns.absorbance));
        pick(&mut self.dilution, &self.rows, columns.dilution);
    }

    fn lend(&self, columns: &ColumnsRef<'_>) -> Lent<'_> {
        Lent {
            run: self.run,
            position: &self.position,
            role: &self.role,
            replicate: columns.replicate.map(|_| &self.replicate[..]),
            absorbance: &self.absorbance,
            nominal: columns.nominal.map(|_| &self.nominal[..]),
            dilution: columns.dilution.map(|_| &self.dilution[..]),
            rows: Rows::These(&self.rows),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(codes: &[u32]) -> (Option<Vec<u32>>, Vec<u32>) {
        let position: Vec<u32> = (0..codes.len() as u32).collect();
        let columns = ColumnsRef { run: codes, position: &position, role: &position, ..ColumnsRef::default() };
        let runs = Runs::of(&columns, &Pool::new(std::num::NonZeroUsize::MIN));
        let rows = |order: &Order<'_>| order.entries(0..codes.len()).map(|entry| entry.row).collect();
        (runs.order.as_ref().map(rows), runs.offsets)
    }

    #[test]
    fn rows_of_a_run_stand_together_and_keep_their_order() {
        assert_eq!(runs(&[3, 3, 7]), (None, vec![0, 2, 3]));
        let expected = (Some(vec![1, 3, 0, 2, 4]), vec![0, 2, 4, 5]);
        assert_eq!(runs(&[2, 0, 2, 0, 9]), expected);
        // Codes far apart are compared, not counted.
        let far = [1 << 20, 0, 1 << 20, 0, u32::MAX];
        assert_eq!(runs(&far), expected);
        assert_eq!(runs(&[]), (None, vec![0]));
    }

    #[test]
    fn the_length_of_a_run_is_found_by_strides() {
        for (length_wanted, others) in [(1, 0), (1, 5), (2, 1), (7, 9), (8, 0), (9, 3), (162, 1000)] {
            let codes = [vec![4; length_wanted], vec![5; others]].concat();
            assert_eq!(length(&codes, 4), length_wanted);
        }
    }

    #[test]
    fn rows_of_a_run_are_lent_by_position_and_replicate() {
        let columns = ColumnsRef {
            run: &[5, 5, 5, 5],
            position: &[2, 1, 1, 900_000],
            role: &[0, 1, 1, 2],
            replicate: Some(&[1, 2, 1, 1]),
            absorbance: &[0.1, 0.2, 0.3, 0.4],
            ..ColumnsRef::default()
        };
        let mut scratch = Scratch::default();
        let tidy = Tidy::of(columns, &Pool::new(std::num::NonZeroUsize::MIN));
        let lent = tidy.lend(0, &mut scratch, |_| false);
        assert_eq!((lent.run, lent.position), (5, &[1, 1, 2, 900_000][..]));
        assert_eq!((lent.absorbance, lent.role), (&[0.3, 0.2, 0.1, 0.4][..], &[1, 1, 0, 2][..]));
        assert_eq!((0..4).map(|i| lent.rows.number(i)).collect::<Vec<_>>(), [3, 2, 1, 4]);
    }
}
