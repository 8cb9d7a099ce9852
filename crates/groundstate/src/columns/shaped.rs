//! Runs of one shape: a block of readings, positions by replicates, for each.

use std::ops::Range;

use super::runs::{Lent, Rows, Scratch, Source};
use crate::curve::Levels;
use crate::error::{Error, Kind, Place, Problem};
use crate::run::Role;

/// Readings of many runs of the same positions: run after run, position after position, replicate after replicate.
#[derive(Clone, Copy, Debug)]
pub struct ShapedRef<'a> {
    /// Readings a position.
    pub replicates: usize,
    /// Code of the role of each position: an index into `roles`.
    pub role: &'a [u32],
    /// The roles that the codes mean, such as [`Role::ALL`].
    pub roles: &'a [Role],
    /// The readings, in units of the signal; NaN is a missing one.
    pub absorbance: &'a [f64],
    /// True value of each position, in the unit of the calibration; NaN where there is none.
    pub nominal: Option<Levels<'a>>,
    /// Dilution factor of each position; NaN means 1.
    pub dilution: Option<Levels<'a>>,
}

impl<'a> ShapedRef<'a> {
    fn run_length(&self) -> usize {
        self.role.len() * self.replicates
    }

    pub(super) fn check(&self) -> Result<Shaped<'a>, Error> {
        let (rows, length) = (self.absorbance.len(), self.run_length());
        let mut problems = Vec::new();
        let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
        let runs = rows / length.max(1);
        if runs * length != rows || rows >= u32::MAX as usize {
            let (positions, replicates) = (self.role.len(), self.replicates);
            wrong("absorbance", format!("{rows} readings do not make runs of {positions} x {replicates}"));
        }
        for (name, figures) in [("nominal", self.nominal), ("dilution", self.dilution)] {
            if figures.is_some_and(|figures| !figures.fits(runs, self.role.len())) {
                let positions = self.role.len();
                wrong(name, format!("the figures do not go with {runs} runs of {positions} positions"));
            }
        }
        if let Some(code) = self.role.iter().find(|code| **code as usize >= self.roles.len()) {
            wrong("role", format!("role code {code} is not in a dictionary of {} roles", self.roles.len()));
        }
        let each = |of: &dyn Fn(usize) -> u32| (0..length).map(|i| of(i / self.replicates)).collect();
        let shaped = Shaped {
            of: *self,
            runs,
            position: each(&|position| position as u32 + 1),
            role: each(&|position| self.role[position]),
            nominal: in_rows(self.nominal, self.replicates),
            dilution: in_rows(self.dilution, self.replicates),
        };
        Error::unless_empty(Kind::Table, problems, shaped)
    }
}

/// The same, with the rows of a run written out.
pub(super) struct Shaped<'a> {
    of: ShapedRef<'a>,
    runs: usize,
    position: Vec<u32>,
    role: Vec<u32>,
    /// Figures that are the same for every run.
    nominal: Vec<f64>,
    dilution: Vec<f64>,
}

impl Shaped<'_> {
    /// The figures of run number `i`, one a row: `common` ones, or its own, put into `own`.
    fn spread<'s>(
        &self,
        i: usize,
        figures: Option<Levels<'_>>,
        common: &'s [f64],
        own: &'s mut Vec<f64>,
    ) -> Option<&'s [f64]> {
        let figures = figures?;
        if matches!(figures, Levels::Row(_)) {
            return Some(common);
        }
        own.clear();
        let positions = self.of.role.len();
        for position in 0..positions {
            own.resize(own.len() + self.of.replicates, figures.at(i, positions, position));
        }
        Some(own)
    }
}

/// A figure of each position, one a row.
fn in_rows(figures: Option<Levels<'_>>, replicates: usize) -> Vec<f64> {
    match figures {
        Some(Levels::Row(row)) => row.iter().flat_map(|figure| std::iter::repeat_n(*figure, replicates)).collect(),
        _ => Vec::new(),
    }
}

impl Source for Shaped<'_> {
    fn len(&self) -> usize {
        self.runs
    }

    fn roles(&self) -> &[Role] {
        self.of.roles
    }

    fn in_place(&self, i: usize) -> Option<Range<usize>> {
        Some(i * self.of.run_length()..(i + 1) * self.of.run_length())
    }

    fn same(&self, _: Range<usize>, _: Range<usize>) -> bool {
        true
    }

    fn lend<'s>(&'s self, i: usize, scratch: &'s mut Scratch, _: impl Fn(&Lent<'_>) -> bool) -> Lent<'s> {
        let from = i * self.of.run_length();
        Lent {
            run: i as u32,
            position: &self.position,
            role: &self.role,
            replicate: None,
            absorbance: &self.of.absorbance[from..from + self.of.run_length()],
            nominal: self.spread(i, self.of.nominal, &self.nominal, &mut scratch.nominal),
            dilution: self.spread(i, self.of.dilution, &self.dilution, &mut scratch.dilution),
            rows: Rows::From(from),
        }
    }
}
