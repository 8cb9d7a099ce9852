//! Runs of one layout, several at once: one run a lane.

use super::layout::{Layout, Stretch, dilution};
use super::rules::Rules;
use super::runs::Lent;
use super::solve::coverage_factor;
use super::table::{Flags, Row, Sink};
use crate::curve::Which;
use crate::error::Error;
use crate::estimate::{Estimate, Status};
use crate::numeric::dd::two_sum;
use crate::numeric::real::{LANES, Lanes, Real};
use crate::numeric::threads::{Work, widest};

/// Readings up to here are summed without a second look.
const LARGEST: f64 = 1e100;
/// How far plain arithmetic may be off when it decides that a scatter is within its limit.
const DOUBT: f64 = 1e-9;

/// A measured position in all lanes.
#[derive(Clone, Copy)]
struct Cell {
    value: Lanes,
    u: Lanes,
    lo: Lanes,
    hi: Lanes,
    /// In the solution that was measured.
    solution: Lanes,
    status: [u8; LANES],
    flags: [u8; LANES],
}

/// Factor of a position, and the value below which its result is not detected.
#[derive(Clone, Copy)]
struct Way {
    factor: Lanes,
    least: Lanes,
}

/// Memory that is used again.
#[derive(Default)]
pub(super) struct Batch {
    readings: Vec<Lanes>,
    signals: Vec<Lanes>,
    ways: Vec<Way>,
    cells: Vec<Cell>,
}

impl Batch {
    /// Reduces `runs`, all of `layout` and at most one a lane. Gives the lanes that are done; the others must be looked
    /// at by themselves. `least_of` gives the least value that is detected at a dilution.
    pub fn reduce(
        &mut self,
        rules: &Rules<'_>,
        layout: &Layout,
        runs: &[&Lent<'_>],
        mut least_of: impl FnMut(f64) -> Result<f64, Error>,
    ) -> Which {
        let mut done = [false; LANES];
        done.iter_mut().zip(runs).for_each(|(done, _)| *done = true);
        self.cells.clear();
        for stretch in &layout.stretches {
            self.look_up(stretch, runs, &mut least_of, &mut done);
            let factor = coverage_factor(&rules.method.reporting, stretch.alike.dof);
            let from = self.cells.len();
            let ordinary = widest(Together { rules, stretch, runs, factor, batch: self });
            // What a lane says of the instrument may condemn it: then its run is judged in full.
            for (place, cell) in stretch.places.iter().zip(&self.cells[from..]) {
                if !place.role.is_instrument_check() {
                    continue;
                }
                for (l, done) in done.iter_mut().enumerate().filter(|(_, done)| **done) {
                    let status = Status::ALL[usize::from(cell.status[l])];
                    let (value, u) = (cell.solution.0[l], cell.u.0[l]);
                    let solution = Estimate { value, u, dof: stretch.alike.dof, status };
                    *done = !rules.suspicious(place.role, &solution, place.nominal);
                }
            }
            done.iter_mut().zip(ordinary).for_each(|(done, ordinary)| *done &= ordinary);
        }
        done
    }

    /// The rows of lane `l`, whose run is `run`.
    pub fn write(&self, layout: &Layout, l: usize, run: u32, to: &mut Sink<'_>) {
        let places = layout.stretches.iter().flat_map(|stretch| &stretch.places);
        for (place, cell) in places.zip(&self.cells) {
            to.push(Row {
                run,
                position: place.number,
                role: place.code,
                value: cell.value.0[l],
                u: cell.u.0[l],
                ends: (cell.lo.0[l], cell.hi.0[l]),
                status: cell.status[l],
                flags: cell.flags[l],
            });
        }
    }

    /// Looks up the dilutions of the lanes and their limits.
    fn look_up(
        &mut self,
        stretch: &Stretch,
        runs: &[&Lent<'_>],
        least_of: &mut impl FnMut(f64) -> Result<f64, Error>,
        done: &mut Which,
    ) {
        self.ways.clear();
        let mut last = (f64::NAN, f64::NAN);
        for place in &stretch.places {
            let mut way = Way { factor: Lanes::of(1.0), least: Lanes::of(f64::NEG_INFINITY) };
            if !place.role.is_instrument_check() {
                for (l, run) in runs.iter().enumerate() {
                    let found = run.dilution.map_or(Some(1.0), |column| dilution(column, place.rows.clone()));
                    let factor = found.unwrap_or(1.0);
                    if factor.to_bits() != last.0.to_bits() {
                        last = (factor, least_of(factor).unwrap_or(f64::NAN));
                    }
                    done[l] &= found.is_some() && !last.1.is_nan();
                    (way.factor.0[l], way.least.0[l]) = last;
                }
            }
            self.ways.push(way);
        }
    }
}

/// A stretch of all lanes; gives which of them are ordinary.
struct Together<'b, 'r> {
    rules: &'b Rules<'r>,
    stretch: &'b Stretch,
    runs: &'b [&'b Lent<'b>],
    /// Coverage factor.
    factor: f64,
    batch: &'b mut Batch,
}

impl Together<'_, '_> {
    /// The readings of a row.
    #[inline(always)]
    fn row(&self, row: usize) -> Lanes {
        let mut lanes = Lanes::ZERO;
        for (lane, run) in lanes.0.iter_mut().zip(self.runs) {
            *lane = run.absorbance.get(row).copied().unwrap_or(f64::NAN);
        }
        lanes
    }
}

impl Work for Together<'_, '_> {
    type Output = Which;

    #[inline(always)]
    fn done(self) -> Which {
        let Together { rules, stretch, factor, .. } = self;
        let alike = &stretch.alike;
        // A figure that is not finite makes this so, and it stays so.
        let mut doubt = Lanes::ZERO;
        let mut readings = std::mem::take(&mut self.batch.readings);
        let mut signals = std::mem::take(&mut self.batch.signals);
        readings.clear();
        for row in &stretch.fitted {
            let reading = self.row(*row);
            doubt = doubt + beyond(reading);
            readings.push(reading);
        }
        let curves = alike.fit(&readings, &mut signals);
        let mut ordinary = curves.ordinary;
        if let Some(least) = rules.least_determination() {
            let found = alike.determination(&curves, &signals);
            for l in 0..LANES {
                ordinary[l] &= found.0[l] > least;
            }
        }
        let least_of_solution = rules.least_of(&rules.of_solution);
        let (t, minus_t) = (Lanes::of(factor), Lanes::of(-factor));
        for (place, way) in stretch.places.iter().zip(&self.batch.ways) {
            readings.clear();
            for row in place.rows.clone() {
                let reading = self.row(row);
                doubt = doubt + beyond(reading);
                readings.push(reading);
            }
            let mean = mean(&readings);
            let found = alike.concentration(&curves, mean, readings.len());
            let (mut value, mut parts) = (found.value, found.contributions);
            let instrument = place.role.is_instrument_check();
            if !instrument {
                let result = |figure: Lanes| (figure * way.factor).map(|figure| rules.in_result_unit(figure));
                value = result(value);
                parts = parts.map(result);
            }
            let squares = parts.into_iter().fold(Lanes::ZERO, |sum, part| sum + part * part);
            let u = squares.sqrt();
            let (lo, hi) = (value + minus_t * u, value + t * u);
            doubt = doubt + (lo + hi) * Lanes::ZERO + found.value * Lanes::ZERO;
            let status = alike.places(found.value);
            let mut flags = [0; LANES];
            let least = match instrument {
                true => Lanes::of(least_of_solution),
                false => way.least,
            };
            for l in 0..LANES {
                let above = u8::from(status[l] == Status::AboveTop as u8) * Flags::ABOVE_TOP.bits();
                flags[l] = above | u8::from(value.0[l] < least.0[l]) * Flags::BELOW_LIMIT.bits();
            }
            if let Some(limit) = rules.replicates {
                let squares = readings.iter().fold(Lanes::ZERO, |sum, y| sum + (*y - mean) * (*y - mean));
                let scatter = squares / Lanes::of(readings.len() as f64 - 1.0);
                let (sd, rsd) = (limit.sd * limit.sd, 1e-4 * limit.rsd_percent * limit.rsd_percent);
                for l in 0..LANES {
                    let (scatter, mean) = (scatter.0[l], mean.0[l]);
                    let within = scatter < (1.0 - DOUBT) * sd || scatter < (1.0 - DOUBT) * rsd * mean * mean;
                    if !within && readings.len() > 1 {
                        flags[l] |= rules.scatters(readings.iter().map(|lanes| lanes.0[l])).bits();
                    }
                }
            }
            self.batch.cells.push(Cell { value, u, lo, hi, solution: found.value, status, flags });
        }
        for l in 0..LANES {
            ordinary[l] &= doubt.0[l].abs() <= 0.0;
        }
        (self.batch.readings, self.batch.signals) = (readings, signals);
        ordinary
    }
}

/// Zero for readings that can be summed, otherwise not finite.
#[inline(always)]
fn beyond(reading: Lanes) -> Lanes {
    reading.map(|y| if y.abs() <= LARGEST { 0.0 } else { f64::NAN })
}

/// [`crate::statistics::replicates::mean`] of each lane: the error of a sum is the same, whoever finds it.
#[inline(always)]
fn mean(readings: &[Lanes]) -> Lanes {
    let count = Lanes::of(readings.len() as f64);
    let first = sum(readings.iter().copied()) / count;
    first + sum(readings.iter().map(|reading| *reading - first)) / count
}

#[inline(always)]
fn sum(terms: impl Iterator<Item = Lanes>) -> Lanes {
    let (mut total, mut lost) = (Lanes::ZERO, Lanes::ZERO);
    for term in terms {
        let next = two_sum(total, term);
        lost = lost + next.lo;
        total = next.hi;
    }
    total + lost
}
