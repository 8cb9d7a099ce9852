//! The work of one call: rows are counted first, so that every thread fills its part of the result in place.

use std::num::NonZeroUsize;
use std::ops::Range;

use super::lanes::Batch;
use super::layout::Layout;
use super::rules::Rules;
use super::runs::{Lent, Scratch, Source, Tidy};
use super::shaped::Shaped;
use super::solve::Solver;
use super::table::{ColumnTable, ColumnsOut, Flags, Sink};
use super::{ColumnOptions, ColumnsRef, ShapedRef};
use crate::curve::Which;
use crate::error::Error;
use crate::estimate::Status;
use crate::method::Method;
use crate::numeric::real::LANES;
use crate::numeric::threads::Pool;
use crate::run::Role;

/// Most runs that a thread takes at a time.
const SHARE: usize = 64 * LANES;
/// Shares for each thread, so that none waits long for another.
const SHARES: usize = 8;
/// Below so many readings a thread costs more than it saves.
const WORTH_A_THREAD: usize = 1 << 13;
/// After so many runs that have no layout, no more are looked for in a share.
const PATIENCE: usize = 4;

/// Columns that were looked through, ready to be reduced into arrays of the caller.
///
/// ```
/// use groundstate::columns::{ColumnOptions, ColumnsOut, ColumnsRef, Work};
/// use groundstate::criteria::ProfileName;
/// use groundstate::method::Method;
/// use groundstate::run::Role;
///
/// let columns = ColumnsRef {
///     run: &[0, 0, 0, 0],
///     position: &[1, 2, 3, 4],
///     role: &[0, 0, 0, 1],
///     roles: &[Role::Standard, Role::Sample],
///     absorbance: &[0.0562, 0.1125, 0.2238, 0.0871],
///     nominal: Some(&[0.5, 1.0, 2.0, f64::NAN]),
///     ..ColumnsRef::default()
/// };
/// let method = Method::new("Zn", ProfileName::General)?;
/// let work = Work::of(columns, &method, &ColumnOptions::default())?;
/// assert_eq!(work.rows(), 1);
/// let (mut codes, mut figures, mut bits) = ([[0; 1]; 3], [[0.0; 1]; 4], [[0; 1]; 2]);
/// let ([run, position, role], [value, u, lo, hi], [status, flags]) = (&mut codes, &mut figures, &mut bits);
/// work.fill(ColumnsOut { run, position, role, value, u, lo, hi, status, flags })?;
/// assert!((figures[0][0] - 0.776).abs() < 0.001); // mg/L
/// # Ok::<(), groundstate::Error>(())
/// ```
pub struct Work<'a> {
    rules: Rules<'a>,
    source: From<'a>,
    pool: Pool,
    /// The runs of each share, and how many rows they give.
    shares: Vec<(Range<usize>, usize)>,
}

enum From<'a> {
    Tidy(Tidy<'a>),
    Shaped(Shaped<'a>),
}

/// The part of the result that one thread fills.
struct Part<'o> {
    runs: Range<usize>,
    out: Option<ColumnsOut<'o>>,
    errors: Vec<(u32, Error)>,
}

impl<'a> Work<'a> {
    /// Looks through `columns`, one row a reading.
    ///
    /// # Errors
    /// As [`reduce`](super::reduce).
    pub fn of(columns: ColumnsRef<'a>, method: &'a Method, options: &ColumnOptions) -> Result<Work<'a>, Error> {
        let rules = Rules::new(method, options)?;
        columns.check()?;
        let pool = pool(options, columns.run.len());
        let source = From::Tidy(Tidy::of(columns, &pool));
        Ok(Work::new(rules, source, pool))
    }

    /// Looks through the readings of runs that all have the same positions.
    ///
    /// # Errors
    /// As [`reduce`](super::reduce).
    pub fn of_shaped(readings: ShapedRef<'a>, method: &'a Method, options: &ColumnOptions) -> Result<Work<'a>, Error> {
        let rules = Rules::new(method, options)?;
        let source = From::Shaped(readings.check()?);
        Ok(Work::new(rules, source, pool(options, readings.absorbance.len())))
    }

    fn new(rules: Rules<'a>, source: From<'a>, pool: Pool) -> Work<'a> {
        let runs = match &source {
            From::Tidy(tidy) => tidy.len(),
            From::Shaped(shaped) => shaped.len(),
        };
        let share = runs.div_ceil(SHARES * pool.threads()).next_multiple_of(LANES).clamp(LANES, SHARE);
        let each: Vec<Range<usize>> = (0..runs).step_by(share).map(|from| from..runs.min(from + share)).collect();
        let mut rows = Vec::with_capacity(each.len());
        match &source {
            From::Tidy(tidy) => pool.map(&each, |runs| count(tidy, runs), &mut rows),
            From::Shaped(shaped) => pool.map(&each, |runs| count(shaped, runs), &mut rows),
        }
        Work { rules, source, pool, shares: each.into_iter().zip(rows).collect() }
    }

    /// Number of rows of the result: one a measured position.
    pub fn rows(&self) -> usize {
        self.shares.iter().map(|(_, rows)| rows).sum()
    }

    /// Fills `out`, and gives the runs that could not be reduced, by code, ascending, and why.
    ///
    /// # Errors
    /// Arrays of another length.
    pub fn fill(&self, out: ColumnsOut<'_>) -> Result<Vec<(u32, Error)>, Error> {
        out.check(self.rows())?;
        let mut rest = out;
        let mut parts = Vec::with_capacity(self.shares.len());
        for (runs, rows) in &self.shares {
            let (here, others) = rest.split(*rows);
            rest = others;
            parts.push(Part { runs: runs.clone(), out: Some(here), errors: Vec::new() });
        }
        match &self.source {
            From::Tidy(tidy) => self.pool.each(&mut parts, |part| self.share(tidy, part)),
            From::Shaped(shaped) => self.pool.each(&mut parts, |part| self.share(shaped, part)),
        }
        Ok(parts.into_iter().flat_map(|part| part.errors).collect())
    }

    /// The result as a table of its own.
    pub(super) fn table(&self) -> Result<ColumnTable, Error> {
        let rows = self.rows();
        let [mut run, mut position, mut role] = [vec![0; rows], vec![0; rows], vec![0; rows]];
        let [mut value, mut u, mut lo, mut hi] = [vec![0.0; rows], vec![0.0; rows], vec![0.0; rows], vec![0.0; rows]];
        let [mut status, mut flags] = [vec![0; rows], vec![0; rows]];
        let errors = self.fill(ColumnsOut {
            run: &mut run,
            position: &mut position,
            role: &mut role,
            value: &mut value,
            u: &mut u,
            lo: &mut lo,
            hi: &mut hi,
            status: &mut status,
            flags: &mut flags,
        })?;
        let roles = match &self.source {
            From::Tidy(tidy) => tidy.roles(),
            From::Shaped(shaped) => shaped.roles(),
        };
        let role = role.into_iter().map(|code| roles.get(code as usize).copied().unwrap_or(Role::Sample)).collect();
        let status = status.into_iter().map(|code| Status::ALL[usize::from(code)]).collect();
        let flags = flags.into_iter().map(Flags::from_bits).collect();
        Ok(ColumnTable { run, position, role, value, u, lo, hi, status, flags, errors })
    }

    /// Reduces the runs of a share: those of one layout together, the others by themselves.
    fn share(&self, source: &impl Source, part: &mut Part<'_>) {
        let Some(out) = part.out.take() else { return };
        let roles = source.roles();
        let (mut to, mut solver, mut batch) = (Sink::new(out), Solver::new(&self.rules), Batch::default());
        let mut scratches: [Scratch; LANES] = Default::default();
        let (mut layout, mut refused): (Option<Layout>, usize) = (None, 0);
        let mut from = part.runs.start;
        while from < part.runs.end {
            let lent: Vec<Lent<'_>> = (from..part.runs.end)
                .zip(&mut scratches)
                .map(|(run, scratch)| {
                    source.lend(run, scratch, |rows| layout.as_ref().is_some_and(|one| one.fits(rows)))
                })
                .collect();
            from += lent.len();
            let mut fits: Which = [false; LANES];
            let mut compare = |layout: Option<&Layout>| {
                let found = lent.iter().map(|rows| layout.is_some_and(|layout| layout.fits(rows)));
                fits.iter_mut().zip(found).for_each(|(fits, found)| *fits = found);
                fits.iter().filter(|fits| **fits).count()
            };
            let mut alike = compare(layout.as_ref());
            if alike < 2 && lent.len() > 1 && refused < PATIENCE {
                layout = Layout::of(&lent[0], roles, &self.rules);
                alike = compare(layout.as_ref());
                refused += usize::from(alike < 2);
            }
            // The lane of each run that is done.
            let mut lane = [None; LANES];
            if let Some(layout) = layout.as_ref().filter(|_| alike > 1) {
                let together: Vec<&Lent<'_>> =
                    lent.iter().zip(fits).filter(|(_, fits)| *fits).map(|(rows, _)| rows).collect();
                let least = |dilution| Ok(self.rules.least_of(&solver.limits_of(dilution)?));
                let done = batch.reduce(&self.rules, layout, &together, least);
                let of = (0..LANES).filter(|i| fits[*i]).enumerate();
                of.filter(|(l, _)| done[*l]).for_each(|(l, i)| lane[i] = Some((l, layout)));
            }
            for (rows, lane) in lent.iter().zip(lane) {
                match lane {
                    Some((l, layout)) => batch.write(layout, l, rows.run, &mut to),
                    None => solver.run(rows, roles, &mut to, &mut part.errors),
                }
            }
        }
    }
}

/// The threads for so many readings.
fn pool(options: &ColumnOptions, readings: usize) -> Pool {
    Pool::new(if readings < WORTH_A_THREAD { NonZeroUsize::MIN } else { options.threads })
}

/// How many rows `runs` give.
fn count(source: &impl Source, runs: &Range<usize>) -> usize {
    let (mut scratch, mut total) = (Scratch::default(), 0);
    let roles = source.roles();
    let measured = |code: u32| roles.get(code as usize).is_none_or(|role| !role.is_calibration());
    // Runs of an archive are alike, and two of them are compared quickly.
    let mut last: Option<(Range<usize>, usize)> = None;
    for run in runs.clone() {
        let here = source.in_place(run);
        let known =
            last.as_ref().zip(here.as_ref()).filter(|((last, _), here)| source.same(last.clone(), (*here).clone()));
        let rows = match known {
            Some(((_, rows), _)) => *rows,
            None => source.count(run, &mut scratch, measured),
        };
        total += rows;
        last = here.map(|here| (here, rows));
    }
    total
}
