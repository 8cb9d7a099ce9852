//! Runs of one layout, several at once: one run a lane.

#![allow(clippy::needless_range_loop)] // lanes read best by their indices

use super::ReplicateLimit;
use super::gather::LARGEST_DILUTION;
use super::layout::Layout;
use super::rules::Rules;
use super::runs::Lent;
use super::table::{Flags, Sink};
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
/// So many dilutions are kept in mind; archives have a few.
const MOST_KNOWN: usize = 32;

/// Memory that is used again. A vector has one element a row, or one a measured position.
#[derive(Default)]
pub(super) struct Batch {
    readings: Vec<Lanes>,
    dilutions: Vec<Lanes>,
    fitted: Vec<Lanes>,
    signals: Vec<Lanes>,
    /// Dilutions met so far, and the least value that is detected at each.
    known: Vec<(f64, f64)>,
    /// In the solution that was measured.
    solution: Vec<Lanes>,
    value: Vec<Lanes>,
    u: Vec<Lanes>,
    lo: Vec<Lanes>,
    hi: Vec<Lanes>,
    status: Vec<[u8; LANES]>,
    flags: Vec<[u8; LANES]>,
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
        let absorbance = runs.iter().map(|run| Some(run.absorbance));
        across(absorbance, layout.rows(), &mut self.readings);
        across(runs.iter().map(|run| run.dilution), layout.rows(), &mut self.dilutions);
        let mut done = [false; LANES];
        done.iter_mut().zip(runs).for_each(|(done, _)| *done = true);
        loop {
            let (mut found, unknown) = widest(Together { rules, layout, batch: self });
            let Some(dilution) = unknown else {
                found.iter_mut().zip(done).for_each(|(found, done)| *found &= done);
                self.look_at_checks(rules, layout, &mut found);
                return found;
            };
            // Where it is told no least value, its own way is.
            let least = least_of(dilution).ok().filter(|_| self.known.len() < MOST_KNOWN);
            let Some(least) = least else { return [false; LANES] };
            self.known.push((dilution, least));
        }
    }

    /// What a lane says of the instrument may condemn it: then its run is judged in full.
    fn look_at_checks(&self, rules: &Rules<'_>, layout: &Layout, done: &mut Which) {
        for (i, (place, stretch)) in
            layout.places().enumerate().filter(|(_, (place, _))| place.role.is_instrument_check())
        {
            for (l, done) in done.iter_mut().enumerate().filter(|(_, done)| **done) {
                let status = Status::ALL[usize::from(self.status[i][l])];
                let (value, u) = (self.solution[i].0[l], self.u[i].0[l]);
                let solution = Estimate { value, u, dof: stretch.alike.dof, status };
                *done = !rules.suspicious(place.role, &solution, place.nominal);
            }
        }
    }

    /// The rows of lane `l`, whose run is `run`.
    pub fn write(&self, layout: &Layout, l: usize, run: u32, to: &mut Sink<'_>) {
        let to = to.next(self.value.len());
        to.run.fill(run);
        to.position.copy_from_slice(&layout.numbers);
        to.role.copy_from_slice(&layout.codes);
        let lane = |to: &mut [f64], from: &[Lanes]| to.iter_mut().zip(from).for_each(|(to, from)| *to = from.0[l]);
        lane(to.value, &self.value);
        lane(to.u, &self.u);
        lane(to.lo, &self.lo);
        lane(to.hi, &self.hi);
        let bits = |to: &mut [u8], from: &[[u8; LANES]]| to.iter_mut().zip(from).for_each(|(to, from)| *to = from[l]);
        bits(to.status, &self.status);
        bits(to.flags, &self.flags);
    }
}

/// Puts columns of `rows` rows beside each other, one a lane; ones where there is no column.
fn across<'c>(columns: impl Iterator<Item = Option<&'c [f64]>>, rows: usize, to: &mut Vec<Lanes>) {
    to.clear();
    to.resize(rows, Lanes::of(1.0));
    for (l, column) in columns.enumerate().take(LANES) {
        let Some(column) = column else { continue };
        to.iter_mut().zip(column).for_each(|(to, from)| to.0[l] = *from);
    }
}

/// All lanes of a layout; gives which of them are ordinary, or else a dilution that is not known yet.
struct Together<'b, 'r> {
    rules: &'b Rules<'r>,
    layout: &'b Layout,
    batch: &'b mut Batch,
}

impl Work for Together<'_, '_> {
    type Output = (Which, Option<f64>);

    #[inline(always)]
    fn done(self) -> Self::Output {
        let Together { rules, layout, batch } = self;
        let places = layout.numbers.len();
        for column in [&mut batch.solution, &mut batch.value, &mut batch.u, &mut batch.lo, &mut batch.hi] {
            column.resize(places, Lanes::ZERO);
        }
        batch.status.resize(places, [0; LANES]);
        batch.flags.resize(places, [0; LANES]);
        let mut ordinary = [true; LANES];
        // What is out of the ordinary makes this something else than zero, and so it stays.
        let mut doubt = batch.readings.iter().fold(Lanes::ZERO, |doubt, reading| doubt + beyond(*reading));
        let least_of_solution = Lanes::of(rules.least_of(&rules.of_solution));
        let mut i = 0;
        for stretch in &layout.stretches {
            let alike = &stretch.alike;
            batch.fitted.clear();
            batch.fitted.extend(stretch.fitted.iter().filter_map(|row| batch.readings.get(*row)));
            let curves = alike.fit(&batch.fitted, &mut batch.signals);
            if let Some(least) = rules.least_determination() {
                let found = alike.determination(&curves, &batch.signals);
                for l in 0..LANES {
                    ordinary[l] &= found.0[l] > least;
                }
            }
            for l in 0..LANES {
                ordinary[l] &= curves.ordinary[l];
            }
            let (t, minus_t) = (Lanes::of(stretch.factor), Lanes::of(-stretch.factor));
            for place in &stretch.places {
                let readings = batch.readings.get(place.rows.clone()).unwrap_or(&[]);
                let mean = mean(readings);
                let found = alike.concentration(&curves, mean, readings.len());
                let (mut value, mut parts, mut least) = (found.value, found.contributions, least_of_solution);
                if !place.role.is_instrument_check() {
                    let dilutions = batch.dilutions.get(place.rows.clone()).unwrap_or(&[]);
                    let (factor, apart) = dilution(dilutions);
                    doubt = doubt + apart;
                    least = least_at(&batch.known, factor);
                    let asks = |l: &usize| least.0[*l].is_nan() && doubt.0[*l].abs() <= 0.0;
                    if let Some(l) = (0..LANES).find(asks) {
                        return (ordinary, Some(factor.0[l]));
                    }
                    value = in_result_unit(rules, value * factor);
                    for part in &mut parts {
                        *part = in_result_unit(rules, *part * factor);
                    }
                }
                let [p, q, r, reading] = parts;
                let u = (Lanes::ZERO + p * p + q * q + r * r + reading * reading).sqrt();
                let (lo, hi) = (value + minus_t * u, value + t * u);
                doubt = doubt + (lo + hi) * Lanes::ZERO + found.value * Lanes::ZERO;
                let status = alike.places(found.value);
                let mut flags = [0; LANES];
                for l in 0..LANES {
                    let above = Flags::default().with(Flags::ABOVE_TOP, status[l] == Status::AboveTop as u8);
                    flags[l] = above.with(Flags::BELOW_LIMIT, value.0[l] < least.0[l]).bits();
                }
                if let Some(limit) = rules.replicates
                    && readings.len() > 1
                {
                    let scattered = scattered(readings, mean, limit);
                    for l in (0..LANES).filter(|l| scattered[*l]) {
                        flags[l] |= rules.scatters(readings.iter().map(|lanes| lanes.0[l])).bits();
                    }
                }
                batch.solution[i] = found.value;
                (batch.value[i], batch.u[i], batch.lo[i], batch.hi[i]) = (value, u, lo, hi);
                (batch.status[i], batch.flags[i]) = (status, flags);
                i += 1;
            }
        }
        for l in 0..LANES {
            ordinary[l] &= doubt.0[l].abs() <= 0.0;
        }
        (ordinary, None)
    }
}

/// Zero for readings that can be summed, otherwise not finite.
#[inline(always)]
fn beyond(reading: Lanes) -> Lanes {
    reading.map(|y| if y.abs() <= LARGEST { 0.0 } else { f64::NAN })
}

#[inline(always)]
fn in_result_unit(rules: &Rules<'_>, figure: Lanes) -> Lanes {
    figure.map(|figure| rules.in_result_unit(figure))
}

/// The factor that the rows of a position say, one where they say none; beside it, not a number where they disagree or
/// say what is none.
#[inline(always)]
fn dilution(rows: &[Lanes]) -> (Lanes, Lanes) {
    let said = rows.first().copied().unwrap_or(Lanes::of(1.0));
    let (mut factor, mut doubt) = (said, Lanes::ZERO);
    for l in 0..LANES {
        let ordinary = said.0[l].is_nan() || (said.0[l] >= 1.0 && said.0[l] <= LARGEST_DILUTION);
        doubt.0[l] = if ordinary { 0.0 } else { f64::NAN };
        factor.0[l] = if said.0[l].is_nan() { 1.0 } else { said.0[l] };
    }
    for row in rows.iter().skip(1) {
        for l in 0..LANES {
            doubt.0[l] = if row.0[l].to_bits() == said.0[l].to_bits() { doubt.0[l] } else { f64::NAN };
        }
    }
    (factor, doubt)
}

/// The least value that is detected at each factor; not a number where the factor is not known yet.
#[inline(always)]
fn least_at(known: &[(f64, f64)], factor: Lanes) -> Lanes {
    let mut least = Lanes::of(f64::NAN);
    for (dilution, found) in known {
        for l in 0..LANES {
            least.0[l] = if factor.0[l].to_bits() == dilution.to_bits() { *found } else { least.0[l] };
        }
    }
    least
}

/// The lanes whose readings may scatter more than they should, by plain arithmetic.
#[inline(always)]
fn scattered(readings: &[Lanes], mean: Lanes, limit: ReplicateLimit) -> Which {
    let squares = readings.iter().fold(Lanes::ZERO, |sum, y| sum + (*y - mean) * (*y - mean));
    let variance = squares / Lanes::of(readings.len() as f64 - 1.0);
    let (sd, rsd) = (limit.sd * limit.sd, 1e-4 * limit.rsd_percent * limit.rsd_percent);
    let mut scattered = [false; LANES];
    for l in 0..LANES {
        let (variance, mean) = (variance.0[l], mean.0[l]);
        let within = (variance < (1.0 - DOUBT) * sd) | (variance < (1.0 - DOUBT) * rsd * mean * mean);
        scattered[l] = !within;
    }
    scattered
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
