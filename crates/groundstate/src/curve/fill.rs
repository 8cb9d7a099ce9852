//! Concentrations straight into arrays of the caller: the figures of a row, worked out block by block.
//!
//! A block goes through short loops without branches, which a compiler turns into vector instructions; each does the
//! operations of the single row in the same order, so that the bits agree. What a block cannot do (missing readings,
//! signals beyond the curve, figures near the end of the range of numbers) is done again row by row.

use std::num::NonZeroUsize;

use super::calibration::Calibration;
use super::concentrations::Reading;
use super::kernel::Kernel;
use super::points::PointKind;
use super::weighing::{ScaleFrom, VarianceFunction};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Column, Coverage, Dof, Status};
use crate::numeric::real::{LANES, Lanes, Real};
use crate::numeric::threads::{Pool, Work, widest};

/// Rows that are worked on together: their figures stay in the nearest cache.
const BLOCK: usize = 256;
/// Rows that a thread takes at a time.
const SHARE: usize = 64 * BLOCK;
/// Below this size of a concentration, or of a slope, no product of a row leaves the range of numbers.
const ORDINARY: f64 = 1e100;

/// Where concentrations go: arrays of as many elements as there are readings, those that are wanted.
#[derive(Debug, Default)]
pub struct ConcentrationsOut<'a> {
    /// Concentrations in the unit of the calibration; NaN exactly where the status has no value.
    pub value: Option<&'a mut [f64]>,
    /// Standard uncertainties; NaN where there is no value or no degree of freedom.
    pub u: Option<&'a mut [f64]>,
    /// Lower ends of the delta interval, value less t times u; NaN where there is no value, minus infinity without a
    /// degree of freedom.
    pub lo: Option<&'a mut [f64]>,
    /// Upper ends, likewise.
    pub hi: Option<&'a mut [f64]>,
    /// Statuses by their code, which is the place in [`Status::ALL`].
    pub status: Option<&'a mut [u8]>,
}

impl ConcentrationsOut<'_> {
    pub(super) fn check(&self, rows: usize) -> Result<(), Error> {
        let lengths = [
            ("value", self.value.as_ref().map(|to| to.len())),
            ("u", self.u.as_ref().map(|to| to.len())),
            ("lo", self.lo.as_ref().map(|to| to.len())),
            ("hi", self.hi.as_ref().map(|to| to.len())),
            ("status", self.status.as_ref().map(|to| to.len())),
        ];
        let wrong = lengths.into_iter().filter_map(|(name, length)| Some((name, length.filter(|n| *n != rows)?)));
        let problem = |(name, length)| {
            Problem::new(Place::named(name), format!("an array of {length} elements for {rows} readings"))
        };
        Error::unless_empty(Kind::Argument, wrong.map(problem).collect(), ())
    }

    /// The first `rows` rows, and the rest.
    fn split(self, rows: usize) -> (Self, Self) {
        fn cut<T>(to: Option<&mut [T]>, rows: usize) -> (Option<&mut [T]>, Option<&mut [T]>) {
            to.map(|to| to.split_at_mut(rows.min(to.len()))).unzip()
        }
        let (value, u, lo) = (cut(self.value, rows), cut(self.u, rows), cut(self.lo, rows));
        let (hi, status) = (cut(self.hi, rows), cut(self.status, rows));
        (
            ConcentrationsOut { value: value.0, u: u.0, lo: lo.0, hi: hi.0, status: status.0 },
            ConcentrationsOut { value: value.1, u: u.1, lo: lo.1, hi: hi.1, status: status.1 },
        )
    }

    fn wants_ends(&self) -> bool {
        self.lo.is_some() || self.hi.is_some()
    }
}

impl Calibration {
    /// Turns signals into concentrations, into arrays of the caller: the figures of [`Calibration::concentration`] and
    /// the ends of its delta interval, bit for bit. `replicates`: how many readings each signal is the mean of. The
    /// number of threads (one without the feature `parallel`) changes no bit.
    ///
    /// # Errors
    /// Arrays of another length; what [`Calibration::concentration`] refuses.
    pub fn concentration_into(
        &self,
        signals: &[f64],
        replicates: &Column<u32>,
        coverage: Coverage,
        threads: NonZeroUsize,
        out: ConcentrationsOut<'_>,
    ) -> Result<(), Error> {
        out.check(signals.len())?;
        super::readings::check_signals(signals, replicates)?;
        if !signals.is_empty() {
            self.knows_new_readings()?;
        }
        let one = |i: usize| Reading {
            signal: signals.get(i).copied().unwrap_or(f64::NAN),
            count: replicates.get(i).unwrap_or(1),
            given: None,
        };
        let common = match replicates {
            Column::One(count) => Some(*count),
            Column::Each(_) => None,
        };
        self.fill(signals, common, one, coverage, threads, out);
        Ok(())
    }

    /// Fills `out`, whose arrays are as long as `signals`. `common`: how many readings every signal is the mean of,
    /// where that is one number and nothing else is known of them.
    pub(super) fn fill(
        &self,
        signals: &[f64],
        common: Option<u32>,
        one: impl Fn(usize) -> Reading + Sync,
        coverage: Coverage,
        threads: NonZeroUsize,
        out: ConcentrationsOut<'_>,
    ) {
        let plan = common.and_then(|count| Plan::of(self, count, coverage));
        let rows = Rows { calibration: self, one: &one, coverage };
        if signals.len() <= SHARE || threads == NonZeroUsize::MIN {
            rows.fill(plan.as_ref(), signals, 0, out);
            return;
        }
        let mut shares = Vec::with_capacity(signals.len().div_ceil(SHARE));
        let mut rest = out;
        for (k, part) in signals.chunks(SHARE).enumerate() {
            let (first, others) = rest.split(part.len());
            shares.push((part, k * SHARE, first));
            rest = others;
        }
        Pool::new(threads)
            .each(&mut shares, |(part, from, out)| rows.fill(plan.as_ref(), part, *from, std::mem::take(out)));
    }
}

/// Rows one by one: every case, at the pace of a single reading.
struct Rows<'a, F> {
    calibration: &'a Calibration,
    one: &'a F,
    coverage: Coverage,
}

impl<F: Fn(usize) -> Reading> Rows<'_, F> {
    /// Fills the rows of `signals`, the first of which is row `from`.
    fn fill(&self, plan: Option<&Plan<'_>>, signals: &[f64], from: usize, out: ConcentrationsOut<'_>) {
        let mut factor = (Dof::NONE, f64::INFINITY);
        let mut rest = out;
        for (k, block) in signals.chunks(BLOCK).enumerate() {
            let (mut here, others) = rest.split(block.len());
            rest = others;
            let from = from + k * BLOCK;
            match plan {
                Some(plan) => {
                    let ordinary = widest(Block { plan, signals: block, out: &mut here });
                    if let Some(ordinary) = ordinary {
                        let others = (0..block.len()).filter(|i| !ordinary[*i]);
                        others.for_each(|i| self.row(from + i, i, &mut factor, &mut here));
                    }
                }
                None => (0..block.len()).for_each(|i| self.row(from + i, i, &mut factor, &mut here)),
            }
        }
    }

    /// Writes row `row` to element `i`.
    fn row(&self, row: usize, i: usize, factor: &mut (Dof, f64), out: &mut ConcentrationsOut<'_>) {
        let found = self.calibration.row(&(self.one)(row)).estimate;
        let (mut lo, mut hi) = (f64::NAN, f64::NAN);
        if out.wants_ends() && found.status.has_value() {
            if found.dof != factor.0 {
                *factor = (found.dof, found.dof.coverage_factor(self.coverage));
            }
            (lo, hi) = if found.u.is_finite() && factor.1.is_finite() {
                (found.value - factor.1 * found.u, found.value + factor.1 * found.u)
            } else {
                (f64::NEG_INFINITY, f64::INFINITY)
            };
        }
        let put = |to: &mut Option<&mut [f64]>, figure: f64| {
            if let Some(to) = to.as_mut().and_then(|to| to.get_mut(i)) {
                *to = figure;
            }
        };
        put(&mut out.value, found.value);
        put(&mut out.u, found.u);
        put(&mut out.lo, lo);
        put(&mut out.hi, hi);
        if let Some(to) = out.status.as_mut().and_then(|to| to.get_mut(i)) {
            *to = found.status as u8;
        }
    }
}

/// A calibration whose rows all rest on one variance estimate, prepared for blocks.
struct Plan<'a> {
    kernel: &'a Kernel,
    /// Variance of a point of unit weight.
    scale: f64,
    variance: VarianceFunction,
    /// How many readings divide the variance of a signal.
    divisor: Option<f64>,
    /// Coverage factor, for all rows.
    factor: f64,
    /// Below the one, above the other a concentration is not in range.
    range: [f64; 2],
    /// Concentrations below this in size are ordinary.
    bound: f64,
}

/// The figures of a few rows. `doubt` is zero for those that are ordinary, and no number for the others.
struct Figures {
    x: Lanes,
    u: Lanes,
    doubt: Lanes,
}

impl Figures {
    /// Writes the figures to chunk number `i`, or as many of them as there is room for.
    #[inline(always)]
    fn put(&self, plan: &Plan<'_>, i: usize, out: &mut ConcentrationsOut<'_>) {
        #[inline(always)]
        fn put<T: Copy>(to: &mut Option<&mut [T]>, i: usize, figures: impl Fn() -> [T; LANES]) {
            let Some(to) = to else { return };
            let (full, rest) = to.as_chunks_mut::<LANES>();
            match full.get_mut(i) {
                Some(to) => *to = figures(),
                None => rest.iter_mut().zip(figures()).for_each(|(to, figure)| *to = figure),
            }
        }
        let half = Lanes::of(plan.factor) * self.u;
        put(&mut out.value, i, || self.x.0);
        put(&mut out.u, i, || self.u.0);
        put(&mut out.lo, i, || (self.x - half).0);
        put(&mut out.hi, i, || (self.x + half).0);
        put(&mut out.status, i, || {
            let mut codes = [0; LANES];
            for (code, x) in codes.iter_mut().zip(self.x.0) {
                *code = plan.place(x);
            }
            codes
        });
    }
}

/// A block of signals to be filled in.
struct Block<'b, 'a, 'o> {
    plan: &'b Plan<'a>,
    signals: &'b [f64],
    out: &'b mut ConcentrationsOut<'o>,
}

impl Work for Block<'_, '_, '_> {
    /// Which rows are ordinary, where not all are.
    type Output = Option<[bool; BLOCK]>;

    #[inline(always)]
    fn done(self) -> Self::Output {
        self.plan.fill(self.signals, self.out)
    }
}

impl<'a> Plan<'a> {
    /// The plan, where signals are means of `count` readings; none where a row needs more than a plan holds.
    fn of(calibration: &'a Calibration, count: u32, coverage: Coverage) -> Option<Plan<'a>> {
        let (kernel, scale, options) = (&calibration.kernel, calibration.scale(), calibration.options());
        let rises = kernel.shape.is_curved() || kernel.b > 0.0;
        let known = options.zeroing.u() > 0.0
            || options.stocks.iter().any(|stock| stock.relative_u > 0.0)
            || options.resolution.is_some_and(|step| step > 0.0);
        if !calibration.serves() || kernel.stray_light.is_some() || !rises || known || calibration.within.is_some() {
            return None;
        }
        let dof = scale.dof;
        if dof.get() <= 0.0 || kernel.b.abs() >= ORDINARY || kernel.c.abs() >= ORDINARY {
            return None;
        }
        let whole = calibration.points().kind() == PointKind::Standards && scale.estimate == ScaleFrom::Residuals;
        let factor = dof.coverage_factor(coverage);
        factor.is_finite().then_some(Plan {
            kernel,
            scale: scale.variance,
            variance: calibration.variance,
            divisor: (!(whole && options.noise.scales_by_level())).then_some(f64::from(count)),
            factor,
            range: calibration.guarded_range(),
            bound: ORDINARY * kernel.frame.width.min(1.0),
        })
    }

    /// Fills a block; gives which rows are ordinary where not all are.
    #[inline(always)]
    fn fill(&self, signals: &[f64], out: &mut ConcentrationsOut<'_>) -> Option<[bool; BLOCK]> {
        let (full, rest) = signals.as_chunks::<LANES>();
        let mut doubt = Lanes::ZERO;
        for (i, signals) in full.iter().enumerate() {
            let row = self.row(Lanes(*signals));
            doubt = doubt + row.doubt;
            row.put(self, i, out);
        }
        if !rest.is_empty() {
            let mut signals = [rest[0]; LANES];
            signals[..rest.len()].copy_from_slice(rest);
            let row = self.row(Lanes(signals));
            doubt = doubt + row.doubt;
            row.put(self, full.len(), out);
        }
        (!doubt.0.iter().all(|doubt| doubt.abs() <= 0.0)).then(|| {
            let mut ordinary = [false; BLOCK];
            for (ordinary, signal) in ordinary.iter_mut().zip(signals) {
                *ordinary = self.row(Lanes::of(*signal)).doubt.0[0].abs() <= 0.0;
            }
            ordinary
        })
    }

    /// The figures of signals.
    #[inline(always)]
    fn row(&self, signal: Lanes) -> Figures {
        let (x, slope) = self.invert(signal);
        let u = self.variance(x).sqrt() / slope;
        let mut doubt = u * Lanes::ZERO;
        for l in 0..LANES {
            let ordinary = (x.0[l].abs() < self.bound) & (slope.0[l] > 0.0) & (slope.0[l] < ORDINARY);
            doubt.0[l] = if ordinary { doubt.0[l] } else { f64::NAN };
        }
        Figures { x, u, doubt }
    }

    /// What [`Kernel::invert`] gives where it gives something ordinary.
    #[inline(always)]
    fn invert(&self, signal: Lanes) -> (Lanes, Lanes) {
        let kernel = self.kernel;
        let (b, c) = (Lanes::of(kernel.b), Lanes::of(kernel.c));
        let d = signal.map(|y| kernel.above_intercept(y));
        if !kernel.shape.is_curved() {
            return (d / b, b);
        }
        let slope = (b * b + Lanes::of(4.0) * c * d).sqrt();
        let two = Lanes::of(2.0);
        let x = if kernel.b >= 0.0 { two * d / (b + slope) } else { (slope - b) / (two * c) };
        (x, slope)
    }

    /// Variance of the curve and of a signal at `x` together.
    #[inline(always)]
    fn variance(&self, x: Lanes) -> Lanes {
        let (scale, spread) = (Lanes::of(self.scale), self.kernel.spreads(x));
        let reading = match (self.variance, self.divisor) {
            (VarianceFunction::Constant, Some(m)) => Lanes::of(self.scale * 1.0 / m),
            (variance, None) => x.map(|x| self.scale * variance.at(x)),
            (variance, Some(m)) => x.map(|x| self.scale * variance.at(x) / m),
        };
        scale * spread + reading
    }

    /// The code of the status of a concentration. The lowest standard is not below zero, so a negative concentration is
    /// below it too, unless it is zero.
    #[inline(always)]
    fn place(&self, x: f64) -> u8 {
        const NEGATIVE: u8 = Status::Negative as u8;
        let (below, above) = (u8::from(x < self.range[0]), u8::from(x > self.range[1]));
        let outside = below * Status::BelowLowest as u8 + above * Status::AboveTop as u8;
        if x < 0.0 { NEGATIVE } else { outside }
    }
}
