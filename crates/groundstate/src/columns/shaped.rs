//! Runs of one shape: a block of readings, positions by replicates, for each.

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
}

impl Source for Shaped<'_> {
    fn len(&self) -> usize {
        self.runs
    }

    fn roles(&self) -> &[Role] {
        self.of.roles
    }

    fn lend<'s>(&'s self, i: usize, scratch: &'s mut Scratch) -> Lent<'s> {
        let (length, replicates) = (self.of.run_length(), self.of.replicates);
        let spread = |to: &mut Vec<f64>, figures: Option<Levels<'_>>| {
            to.clear();
            let figure = |position| figures.map_or(f64::NAN, |figures| figures.at(i, self.of.role.len(), position));
            let each = (0..self.of.role.len()).flat_map(|position| std::iter::repeat_n(figure(position), replicates));
            to.extend(each);
        };
        spread(&mut scratch.nominal, self.of.nominal);
        spread(&mut scratch.dilution, self.of.dilution);
        let from = i * length;
        Lent {
            run: i as u32,
            position: &self.position,
            role: &self.role,
            replicate: None,
            absorbance: &self.of.absorbance[from..from + length],
            nominal: self.of.nominal.map(|_| &scratch.nominal[..]),
            dilution: self.of.dilution.map(|_| &scratch.dilution[..]),
            rows: Rows::From(from),
        }
    }
}
