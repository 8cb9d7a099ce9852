//! Which rows belong to which run, and the rows of one run in order of position and replicate.

use std::ops::Range;

use super::ColumnsRef;
use crate::run::Role;

/// Rows grouped by run, ascending; rows of a run keep their order.
pub(super) struct Runs {
    /// The rows, run after run; none where they came so.
    order: Option<Vec<u32>>,
    /// Where each run begins, and the number of rows at the end.
    offsets: Vec<u32>,
}

impl Runs {
    /// The runs that these codes name.
    pub fn of(run: &[u32]) -> Runs {
        let rows = run.len();
        // Without a branch a row, so that it goes at the pace of memory.
        let sorted = run.windows(2).fold(true, |sorted, pair| sorted & (pair[0] <= pair[1]));
        if sorted {
            let (mut offsets, mut from) = (vec![0], 0);
            while let Some(code) = run.get(from) {
                from += length(&run[from..], *code);
                offsets.push(from as u32);
            }
            return Runs { order: None, offsets };
        }
        let most = run.iter().copied().fold(0, u32::max) as usize;
        if most < 4 * rows + 1024 { Runs::counted(run, most) } else { Runs::compared(run) }
    }

    /// Codes that are about as many as the rows: counted, then each row put in its place.
    fn counted(run: &[u32], most: usize) -> Runs {
        let mut next = vec![0_u32; most + 2];
        run.iter().for_each(|code| next[*code as usize + 1] += 1);
        (1..next.len()).for_each(|code| next[code] += next[code - 1]);
        let mut offsets = next.clone();
        offsets.dedup();
        let mut order = vec![0; run.len()];
        for (row, code) in run.iter().enumerate() {
            let place = &mut next[*code as usize];
            order[*place as usize] = row as u32;
            *place += 1;
        }
        Runs { order: Some(order), offsets }
    }

    fn compared(run: &[u32]) -> Runs {
        let code = |row: &u32| run[*row as usize];
        let mut order: Vec<u32> = (0..run.len() as u32).collect();
        order.sort_unstable_by_key(|row| (code(row), *row));
        let mut offsets = vec![0];
        let changes = order.windows(2).enumerate().filter(|(_, pair)| code(&pair[0]) != code(&pair[1]));
        offsets.extend(changes.map(|(i, _)| i as u32 + 1));
        offsets.push(run.len() as u32);
        Runs { order: Some(order), offsets }
    }

    /// Number of runs.
    pub fn len(&self) -> usize {
        self.offsets.len() - 1
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

    /// Positions and role codes of run number `i`, in order.
    fn positions<'s>(&'s self, i: usize, scratch: &'s mut Scratch) -> (&'s [u32], &'s [u32]) {
        let rows = self.lend(i, scratch, |_| false);
        (rows.position, rows.role)
    }

    /// The rows of run number `i`, where they stand together.
    fn in_place(&self, i: usize) -> Option<Range<usize>>;

    /// Whether two such runs have the same positions and role codes, row by row.
    fn same(&self, a: Range<usize>, b: Range<usize>) -> bool;
}

/// Columns, one row a reading.
pub(super) struct Tidy<'a> {
    columns: ColumnsRef<'a>,
    runs: Runs,
}

impl<'a> Tidy<'a> {
    pub fn of(columns: ColumnsRef<'a>) -> Self {
        Tidy { runs: Runs::of(columns.run), columns }
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
        self.runs.order.is_none().then(|| self.runs.offsets[i] as usize..self.runs.offsets[i + 1] as usize)
    }

    fn same(&self, a: Range<usize>, b: Range<usize>) -> bool {
        let ColumnsRef { position, role, replicate, .. } = self.columns;
        position[a.clone()] == position[b.clone()]
            && role[a.clone()] == role[b.clone()]
            && replicate.is_none_or(|replicate| replicate[a] == replicate[b])
    }

    fn lend<'s>(&'s self, i: usize, scratch: &'s mut Scratch, known: impl Fn(&Lent<'_>) -> bool) -> Lent<'s> {
        let (runs, columns) = (&self.runs, &self.columns);
        let (from, to) = (runs.offsets[i] as usize, runs.offsets[i + 1] as usize);
        let whole = |column: &'s [u32]| &column[from..to];
        if runs.order.is_none() {
            let own = Lent {
                run: columns.run[from],
                position: whole(columns.position),
                role: whole(columns.role),
                replicate: columns.replicate.map(whole),
                absorbance: &columns.absorbance[from..to],
                nominal: columns.nominal.map(|column| &column[from..to]),
                dilution: columns.dilution.map(|column| &column[from..to]),
                rows: Rows::From(from),
            };
            if known(&own) || is_ordered(own.position, own.replicate) {
                return own;
            }
        }
        match &runs.order {
            None => scratch.arrange(from as u32..to as u32, columns),
            Some(order) => scratch.arrange(order[from..to].iter().copied(), columns),
        }
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

/// The rows of one run put in order, in memory that is used again.
#[derive(Default)]
pub(super) struct Scratch {
    run: u32,
    rows: Vec<u32>,
    came: Vec<u32>,
    counts: Vec<u32>,
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
    fn arrange(&mut self, rows: impl Iterator<Item = u32>, columns: &ColumnsRef<'_>) {
        self.came.clear();
        self.came.extend(rows);
        let position = |row: &u32| columns.position[*row as usize];
        let most = self.came.iter().map(position).fold(0, u32::max) as usize;
        if most < 4 * self.came.len() + 64 {
            // Counted, as the runs are: rows of a position keep their order.
            self.counts.clear();
            self.counts.resize(most + 2, 0);
            self.came.iter().for_each(|row| self.counts[position(row) as usize + 1] += 1);
            (1..most + 2).for_each(|i| self.counts[i] += self.counts[i - 1]);
            self.rows.clear();
            self.rows.resize(self.came.len(), 0);
            for row in &self.came {
                let place = &mut self.counts[position(row) as usize];
                self.rows[*place as usize] = *row;
                *place += 1;
            }
        } else {
            self.rows.clone_from(&self.came);
            self.rows.sort_by_key(position);
        }
        if let Some(replicate) = columns.replicate {
            let key = |row: &u32| (position(row), replicate[*row as usize]);
            if !self.rows.is_sorted_by_key(key) {
                self.rows.sort_by_key(key);
            }
        }
        self.run = self.rows.first().map_or(0, |row| columns.run[*row as usize]);
        pick(&mut self.position, &self.rows, Some(columns.position));
        pick(&mut self.role, &self.rows, Some(columns.role));
        pick(&mut self.replicate, &self.rows, columns.replicate);
        pick(&mut self.absorbance, &self.rows, Some(columns.absorbance));
        pick(&mut self.nominal, &self.rows, columns.nominal);
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
        let runs = Runs::of(codes);
        (runs.order, runs.offsets)
    }

    #[test]
    fn rows_of_a_run_stand_together_and_keep_their_order() {
        assert_eq!(runs(&[3, 3, 7]), (None, vec![0, 2, 3]));
        let expected = (Some(vec![1, 3, 0, 2, 4]), vec![0, 2, 4, 5]);
        assert_eq!(runs(&[2, 0, 2, 0, 9]), expected);
        // Codes far apart are compared, not counted.
        let far = [1 << 20, 0, 1 << 20, 0, u32::MAX];
        assert_eq!(runs(&far), expected);
        assert_eq!(Runs::of(&[]).len(), 0);
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
        let tidy = Tidy::of(columns);
        let lent = tidy.lend(0, &mut scratch, |_| false);
        assert_eq!((lent.run, lent.position), (5, &[1, 1, 2, 900_000][..]));
        assert_eq!((lent.absorbance, lent.role), (&[0.3, 0.2, 0.1, 0.4][..], &[1, 1, 0, 2][..]));
        assert_eq!((0..4).map(|i| lent.rows.number(i)).collect::<Vec<_>>(), [3, 2, 1, 4]);
    }
}
