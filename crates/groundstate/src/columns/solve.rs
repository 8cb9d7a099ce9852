//! One run after another, in memory that is used again.

use std::ops::Range;
use std::sync::Arc;

use super::gather::{Gathered, Spot};
use super::judge::{self, Seen};
use super::line::Line;
use super::quick::Quick;
use super::rules::Rules;
use super::runs::Lent;
use super::table::{Flags, Row, Sink};
use crate::check::{CalibrationFigures, StandardReadings, accept_by};
use crate::curve::{Calibration, PointKind, Points, Reading};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Dof, Estimate, Status};
use crate::method::{DofPolicy, ReadingScatter, Style};
use crate::outcome::Limits;
use crate::run::Role;
use crate::statistics::replicates::{Replicates, replicates};

/// A stretch of a run and the calibration it is read by.
struct Segment {
    calibration: Calibration,
    /// The positions of its standards.
    opening: Range<usize>,
    /// Whether an earlier calibration of the run brought the stock in.
    stock_first: bool,
}

/// A measured position with its figures.
struct Measured {
    spot: usize,
    solution: Estimate,
    result: Estimate,
    ends: (f64, f64),
    limits: Limits,
    flags: Flags,
}

pub(super) struct Solver<'a> {
    rules: &'a Rules<'a>,
    gathered: Gathered,
    segments: Vec<Segment>,
    quick: Quick,
    measured: Vec<Measured>,
    /// Limits of the dilutions met so far.
    limits: Vec<(f64, Limits)>,
    /// The last degrees of freedom and their coverage factor.
    factor: (Dof, f64),
    no_label: Arc<str>,
}

impl<'a> Solver<'a> {
    pub fn new(rules: &'a Rules<'a>) -> Self {
        Solver {
            rules,
            gathered: Gathered::default(),
            segments: Vec::new(),
            quick: Quick::default(),
            measured: Vec::new(),
            limits: Vec::new(),
            factor: (Dof::NONE, f64::INFINITY),
            no_label: Arc::from(""),
        }
    }

    /// Adds the rows of a run; where it cannot be reduced, rows that say so, and the reason to `errors`.
    pub fn run(&mut self, rows: &Lent<'_>, roles: &[Role], to: &mut Sink<'_>, errors: &mut Vec<(u32, Error)>) {
        let run = rows.run;
        let read = self.gathered.read(rows, roles, self.rules.method.missing);
        match read.and_then(|()| self.solve(run)) {
            Ok(true) => self.quick.rows.drain(..).for_each(|row| to.push(row)),
            Ok(false) => {
                for one in &self.measured {
                    to.push(Row::of(run, &self.gathered.spots[one.spot], &one.result, one.ends, one.flags));
                }
            }
            Err(error) => {
                errors.push((run, error));
                let none = Estimate { value: f64::NAN, u: f64::NAN, dof: Dof::INFINITE, status: Status::NotCalibrated };
                for spot in self.gathered.spots.iter().filter(|spot| !spot.role.is_calibration()) {
                    to.push(Row::of(run, spot, &none, (f64::NAN, f64::NAN), Flags::NOT_REDUCED));
                }
            }
        }
    }

    /// Whether the quick way led to the end.
    fn solve(&mut self, run: u32) -> Result<bool, Error> {
        self.calibrate()?;
        if self.quickly(run)? {
            return Ok(true);
        }
        self.measure()?;
        self.judge()?;
        Ok(false)
    }

    /// The quick way, where the run has nothing that asks for the long one.
    fn quickly(&mut self, run: u32) -> Result<bool, Error> {
        let rules = self.rules;
        if !rules.plain {
            return Ok(false);
        }
        let accepted = |(i, segment): (usize, &Segment)| {
            rules.clearly_accepts(&segment.calibration) || !self.refuses(&self.figures_of(i, segment))
        };
        if !self.segments.iter().enumerate().all(accepted) {
            return Ok(false);
        }
        let mut quick = std::mem::take(&mut self.quick);
        quick.begin(run);
        let mut done = true;
        for at in 0..self.gathered.spots.len() {
            let spot = self.gathered.spots[at].clone();
            if spot.role.is_calibration() {
                continue;
            }
            let limits = self.limits_at(spot.role, spot.dilution)?;
            let spot = &self.gathered.spots[at];
            let Some(segment) = (spot.segment as usize).checked_sub(1).and_then(|i| self.segments.get(i)) else {
                done = false;
                break;
            };
            let readings = self.gathered.readings_of(spot);
            let row = quick.row(rules, &segment.calibration, spot, readings, &limits);
            match row {
                Some(solution) if !rules.suspicious(spot.role, &solution, spot.nominal) => {}
                Some(_) => {
                    done = false;
                    break;
                }
                None => {
                    let (spot, found) = (spot.clone(), replicates(readings).ok());
                    let one = self.position(at, &spot, found)?;
                    if rules.suspicious(spot.role, &one.solution, spot.nominal) {
                        done = false;
                        break;
                    }
                    quick.push(&spot, &one.result, one.ends, one.flags);
                }
            }
        }
        self.quick = quick;
        Ok(done)
    }

    /// The limits that a position is held against.
    fn limits_at(&mut self, role: Role, dilution: Option<f64>) -> Result<Limits, Error> {
        if role.is_instrument_check() { Ok(self.rules.of_solution) } else { self.limits_of(dilution.unwrap_or(1.0)) }
    }

    /// One calibration a segment: a block of calibration positions with a standard in it opens one.
    fn calibrate(&mut self) -> Result<(), Error> {
        self.segments.clear();
        let count = self.gathered.spots.len();
        let mut at = 0;
        // The first calibration that anything was read by.
        let mut first = None;
        while at < count {
            let calibrates = |spot: &&Spot| spot.role.is_calibration();
            let block = self.gathered.spots[at..].iter().take_while(calibrates).count();
            let measured = self.gathered.spots[at + block..].iter().take_while(|spot| !calibrates(spot)).count();
            let opening = &self.gathered.spots[at..at + block];
            if opening.iter().any(|spot| spot.role == Role::Standard) {
                let number = self.segments.len() as u32 + 1;
                let calibration = self.fit(opening).map_err(|error| in_segment(&error, number))?;
                let stock = self.rules.method.calibration.stock.is_some();
                let stock_first = stock && first.is_some_and(|first| first != calibration.id());
                self.segments.push(Segment { calibration, opening: at..at + block, stock_first });
            }
            if measured > 0 && first.is_none() && self.rules.method.calibration.stock.is_some() {
                first = self.segments.last().map(|segment| segment.calibration.id());
            }
            let number = self.segments.len() as u32;
            self.gathered.spots[at + block..at + block + measured].iter_mut().for_each(|spot| spot.segment = number);
            at += block + measured;
        }
        if self.segments.is_empty() {
            let problem = Problem::new(Place::named("role"), "the run has no standards, so nothing can be calibrated");
            return Err(Error::new(Kind::Table, problem.help("mark the standards with the role standard")));
        }
        Ok(())
    }

    /// The positions of a calibration that are fitted.
    fn used<'s>(&'s self, opening: &'s [Spot]) -> impl Iterator<Item = &'s Spot> {
        let excluded = |spot: &Spot| self.rules.method.calibration.exclude.iter().any(|e| e.position == spot.number);
        opening.iter().filter(move |spot| !excluded(spot) && !spot.readings.is_empty())
    }

    fn fit(&self, opening: &[Spot]) -> Result<Calibration, Error> {
        let content = |spot: &Spot| spot.nominal.unwrap_or(f64::NAN);
        let points = match self.rules.method.calibration.points {
            PointKind::Standards => {
                let x: Vec<f64> = self.used(opening).map(content).collect();
                let signals: Vec<&[f64]> = self.used(opening).map(|spot| self.gathered.readings_of(spot)).collect();
                Points::from_standards(&x, &signals)
            }
            PointKind::Readings => {
                let each = self.used(opening).flat_map(|spot| {
                    self.gathered.readings_of(spot).iter().map(move |reading| (content(spot), *reading))
                });
                let (x, signals): (Vec<f64>, Vec<f64>) = each.unzip();
                Points::from_readings(&x, &signals)
            }
        }?;
        Calibration::fit(&points, &self.rules.fit)
    }

    fn refuses(&self, figures: &CalibrationFigures) -> bool {
        judge::refused(&accept_by(figures, &self.rules.acceptance, self.rules.comparison))
    }

    /// The figures that segment number `i` is accepted by.
    fn figures_of(&self, i: usize, segment: &Segment) -> CalibrationFigures {
        let (opening, calibration) = (&self.gathered.spots[segment.opening.clone()], &segment.calibration);
        let number = i as u32 + 1;
        let limits = &self.rules.acceptance;
        let blanks = self.used(opening).filter(|spot| spot.role == Role::CalibrationBlank).count() as u32;
        let mut readings = Vec::new();
        if limits.standard_rsd.is_some() || limits.standard_rpd.is_some() {
            let standards = self.used(opening).filter(|spot| spot.role == Role::Standard);
            readings.extend(standards.filter_map(|spot| {
                let found = replicates(self.gathered.readings_of(spot)).ok()?;
                let label = Arc::clone(&self.no_label);
                Some(StandardReadings { label, count: found.count as u32, rsd: found.rsd_percent()? })
            }));
        }
        crate::reduce::calibration_figures(self.rules.method, number, calibration, blanks, readings)
    }

    fn measure(&mut self) -> Result<(), Error> {
        self.measured.clear();
        for at in 0..self.gathered.spots.len() {
            let spot = &self.gathered.spots[at];
            if spot.role.is_calibration() {
                continue;
            }
            let found = replicates(self.gathered.readings_of(spot)).ok();
            let spot = spot.clone();
            let one = self.position(at, &spot, found)?;
            self.measured.push(one);
        }
        Ok(())
    }

    fn position(&mut self, at: usize, spot: &Spot, found: Option<Replicates>) -> Result<Measured, Error> {
        let rules = self.rules;
        let instrument = spot.role.is_instrument_check();
        let dilution = spot.dilution.unwrap_or(1.0);
        let limits = self.limits_at(spot.role, spot.dilution)?;
        let segment = (spot.segment as usize).checked_sub(1).and_then(|i| self.segments.get(i));
        let (solution, result) = match segment {
            None => {
                let dof = Dof::INFINITE;
                let none = Estimate { value: f64::NAN, u: f64::NAN, dof, status: Status::NotCalibrated };
                (none, none)
            }
            Some(segment) => {
                let own = rules.method.calibration.reading_scatter == ReadingScatter::Own;
                let given = found
                    .as_ref()
                    .filter(|_| own)
                    .and_then(|one| Some((one.standard_error()?, Some(Dof::count(one.count - 1)))));
                if given.is_none() {
                    segment.calibration.knows_new_readings()?;
                }
                let reading = Reading {
                    signal: found.as_ref().map_or(f64::NAN, |one| one.mean),
                    count: found.as_ref().map_or(1, |one| one.count as u32),
                    given,
                };
                let row = segment.calibration.row(&reading);
                let mut line = Line::of(&segment.calibration, &row, segment.stock_first);
                let estimate = |value: f64, line: &Line| {
                    let (status, dof) = (row.estimate.status, line.dof());
                    let u = if status.has_value() && dof.get() > 0.0 { line.u() } else { f64::NAN };
                    Estimate { value, u, dof, status }
                };
                let solution = estimate(row.estimate.value, &line);
                let to = rules.method.reporting.liquid_unit;
                let result = if instrument {
                    solution
                } else if solution.status.has_value() {
                    let scaled = |x: f64| rules.natural.convert(finite(x, dilution)?, to);
                    let value = scaled(solution.value)?;
                    line.convert(scaled)?;
                    if let Some(relative) = rules.dilution_u(dilution) {
                        line.push_known(value * relative);
                    }
                    estimate(value, &line)
                } else {
                    solution
                };
                (solution, result)
            }
        };
        let high = rules.replicates.zip(found).is_some_and(|(limit, one)| limit.is_exceeded_by(&one));
        let below = crate::reduce::detection(rules.method, result.value, &limits);
        let flags = Flags::default()
            .with(Flags::NO_ROOT, result.status == Status::BeyondCurve)
            .with(Flags::ABOVE_TOP, result.status == Status::AboveTop)
            .with(Flags::BELOW_LIMIT, below == crate::check::Detection::NotDetected)
            .with(Flags::HIGH_REPLICATE_SD, high);
        let ends = ends(&mut self.factor, &rules.method.reporting, &result);
        Ok(Measured { spot: at, solution, result, ends, limits, flags })
    }

    /// The limits of a dilution: most of an archive has a few dilutions only.
    pub fn limits_of(&mut self, dilution: f64) -> Result<Limits, Error> {
        const KEPT: usize = 16;
        if let Some((_, limits)) = self.limits.iter().find(|(known, _)| known.total_cmp(&dilution).is_eq()) {
            return Ok(*limits);
        }
        let limits = self.rules.limits_of(dilution)?;
        if self.limits.len() < KEPT {
            self.limits.push((dilution, limits));
        }
        Ok(limits)
    }

    /// Judges the run: a quick look at every check, and the whole judgement where one may have failed.
    fn judge(&mut self) -> Result<(), Error> {
        let rules = self.rules;
        let figures: Vec<CalibrationFigures> =
            self.segments.iter().enumerate().map(|(i, segment)| self.figures_of(i, segment)).collect();
        let refused = figures.iter().any(|one| self.refuses(one));
        let spots = &self.gathered.spots;
        let suspicious =
            |one: &Measured| rules.suspicious(spots[one.spot].role, &one.solution, spots[one.spot].nominal);
        if !refused && !self.measured.iter().any(suspicious) {
            return Ok(());
        }
        let seen = self.measured.iter().map(|one| Seen {
            spot: &spots[one.spot],
            solution: one.solution,
            result: one.result,
            limits: one.limits,
        });
        let flags = judge::flags(rules, &seen.collect::<Vec<Seen<'_>>>(), &figures)?;
        self.measured.iter_mut().zip(flags).for_each(|(one, flags)| one.flags = one.flags | flags);
        Ok(())
    }
}

/// The ends of the delta interval, as delta intervals of estimates have them. `factor` keeps the last degrees of
/// freedom and their coverage factor.
pub(super) fn ends(factor: &mut (Dof, f64), style: &Style, result: &Estimate) -> (f64, f64) {
    if !result.status.has_value() {
        return (f64::NAN, f64::NAN);
    }
    if result.dof != factor.0 {
        *factor = (result.dof, coverage_factor(style, result.dof));
    }
    let half = factor.1 * result.u;
    if half.is_finite() { (result.value - half, result.value + half) } else { (f64::NEG_INFINITY, f64::INFINITY) }
}

/// The coverage factor of an interval.
pub(super) fn coverage_factor(style: &Style, dof: Dof) -> f64 {
    let whole = || Dof::new(dof.get().floor()).unwrap_or(Dof::NONE);
    let dof = if style.dof == DofPolicy::Truncate && !dof.is_infinite() { whole() } else { dof };
    dof.coverage_factor(style.coverage)
}

fn finite(x: f64, factor: f64) -> Result<f64, Error> {
    let product = x * factor;
    if x.is_finite() && !product.is_finite() {
        return Err(Error::argument("dilution", format!("{x:e} times {factor:e} is too large for a number")));
    }
    Ok(product)
}

/// The same problems, placed at a calibration.
fn in_segment(error: &Error, number: u32) -> Error {
    let place = Place::named("calibration").labelled(format!("segment {number}"));
    let told = |problem: &Problem| Problem { place: place.clone(), ..problem.clone() };
    let problems = error.problems().iter().map(told).collect();
    Error::unless_empty(Kind::Table, problems, ()).err().unwrap_or_else(|| error.clone())
}
