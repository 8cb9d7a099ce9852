//! Runs calibrated with the same standards, several at once: one run a lane.
//!
//! What the standards alone decide (weights, the factor of the normal matrix, the basis of the kernel) is worked out
//! once. What is left for each run is short and without a branch, and does the operations of a single fit and a single
//! reading in their order, so that the bits agree. A lane in which anything is out of the ordinary says so, and its run
//! is reduced by itself.
#![allow(clippy::needless_range_loop)] // lanes and terms read best by their indices

use super::Shape;
use super::calibration::Calibration;
use super::kernel::{Basis, parts};
use super::noise::Noise;
use super::options::Zeroing;
use super::points::{PointKind, mean_and_squares};
use super::solve::{Design, Frame};
use super::standards_error::StandardsError;
use super::weighing::{Scale, ScaleFrom, VarianceFunction, weigh};
use crate::estimate::{Dof, Status};
use crate::numeric::dd::Dd;
use crate::numeric::real::{LANES, Lanes, Real};

/// A variance from here up loses nothing when it is multiplied with weights and divided by counts.
const SMALLEST_VARIANCE: f64 = 1e-200;

/// Which lanes something holds for.
pub(crate) type Which = [bool; LANES];

/// What calibrations of the same standards have in common.
#[derive(Clone, Debug)]
pub(crate) struct Alike {
    shape: Shape,
    terms: Terms,
    /// Concentration, weight and number of readings of each point.
    points: Vec<(f64, f64, u32)>,
    kind: PointKind,
    noise: Noise,
    /// Where it is known beforehand.
    scale: Option<Scale>,
    variance: VarianceFunction,
    /// Lowest concentration, and the top one.
    reach: [f64; 2],
    range: [f64; 2],
    frame: Frame,
    /// Inverse Cholesky factor for unit weight.
    inverse: [[f64; 3]; 3],
    /// Degrees of freedom of every concentration.
    pub dof: Dof,
}

/// The number of terms is part of the type, so that their loops are unrolled.
#[derive(Clone, Debug)]
enum Terms {
    One(Design<1>, Basis<1>),
    Two(Design<2>, Basis<2>),
    Three(Design<3>, Basis<3>),
}

/// The curves of the lanes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Curves {
    a: Lanes,
    a_rest: Lanes,
    b: Lanes,
    c: Lanes,
    sse: Lanes,
    /// Variance of a point of unit weight.
    variance: Lanes,
    sd: Lanes,
    /// Scatter of a single reading within standards, where it is part of the residuals' scatter.
    within: Option<Lanes>,
    /// Lanes whose concentrations rest on the scale alone.
    pub ordinary: Which,
}

/// Concentrations of the lanes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    pub value: Lanes,
    /// The signed contributions of the fit's parts and of the reading.
    pub contributions: [Lanes; 4],
}

impl Alike {
    /// What `calibration` shares with others of the same standards; none where more than the signals may differ, or
    /// where an uncertainty rests on more than the scale.
    pub fn of(calibration: &Calibration) -> Option<Alike> {
        let (points, options, shape) = (calibration.points(), calibration.options(), calibration.shape());
        let served = shape != Shape::StrayLight
            && options.standards_error == StandardsError::Negligible
            && !matches!(options.noise, Noise::FromReplicates(_))
            && options.zeroing == Zeroing::Raw
            && options.stocks.is_empty()
            && options.resolution.is_none()
            && calibration.variance != VarianceFunction::Unknown
            && calibration.scale().dof.get() > 0.0;
        if !served {
            return None;
        }
        let levels = points.levels();
        let weighing = weigh(points, &options.noise, options, &levels).ok()?;
        let frame = calibration.kernel.frame;
        let (first, x) = (usize::from(shape.through_zero()), points.concentrations());
        let weight = |i: usize| weighing.weights.get(i).copied().unwrap_or(Dd::ONE);
        macro_rules! terms {
            ($terms:ident) => {{
                let design = Design::new(frame, first, x, weight)?;
                let basis = Basis::new(shape, frame, &design.inverse, &design.shift);
                Terms::$terms(design, basis)
            }};
        }
        let terms = match shape.parameters() {
            1 => terms!(One),
            2 => terms!(Two),
            _ => terms!(Three),
        };
        let inverse = match &terms {
            Terms::One(_, basis) => *basis.inverse(),
            Terms::Two(_, basis) => *basis.inverse(),
            Terms::Three(_, basis) => *basis.inverse(),
        };
        let each = x.iter().zip(calibration.weights()).zip(points.readings());
        Some(Alike {
            shape,
            terms,
            points: each.map(|((x, weight), readings)| (*x, *weight, *readings)).collect(),
            kind: points.kind(),
            noise: options.noise.clone(),
            scale: weighing.scale,
            variance: calibration.variance,
            reach: [levels.first().copied().unwrap_or(0.0), calibration.top()],
            range: calibration.guarded_range(),
            frame,
            inverse,
            dof: calibration.scale().dof,
        })
    }

    /// Number of readings of each point.
    pub fn readings(&self) -> impl Iterator<Item = usize> {
        self.points.iter().map(|(.., readings)| *readings as usize)
    }

    /// Whether the uncertainty of a mean of `count` readings rests on the scale alone.
    pub fn serves(&self, count: usize) -> bool {
        // As the scatter within standards counts in it: not at all where samples are read as often as they.
        self.mean_reciprocal().is_none_or(|mean| (1.0 / count as f64 - mean).abs() <= 0.0)
    }

    /// Mean of 1/m over the standards, where their own scatter is part of the residuals'.
    fn mean_reciprocal(&self) -> Option<f64> {
        let repeated = self.points.iter().any(|(.., readings)| *readings > 1);
        let counts = self.kind == PointKind::Standards && self.noise.scales_by_level() && repeated;
        let reciprocals: f64 = self.points.iter().map(|(.., readings)| 1.0 / f64::from(*readings)).sum();
        counts.then(|| reciprocals / self.points.len() as f64)
    }

    /// Fits the curves to `readings`: those of each point after those of the one before. `signals` is memory for them.
    #[inline(always)]
    pub fn fit(&self, readings: &[Lanes], signals: &mut Vec<Lanes>) -> Curves {
        let within = self.signals(readings, signals);
        match &self.terms {
            Terms::One(design, basis) => self.fitted(design, basis, signals, within),
            Terms::Two(design, basis) => self.fitted(design, basis, signals, within),
            Terms::Three(design, basis) => self.fitted(design, basis, signals, within),
        }
    }

    /// The points' signals, and the variance of a single reading within standards.
    #[inline(always)]
    fn signals(&self, readings: &[Lanes], signals: &mut Vec<Lanes>) -> Option<Lanes> {
        signals.clear();
        if self.kind == PointKind::Readings {
            signals.extend_from_slice(readings);
            return None;
        }
        let (mut squares, mut dof, mut from) = (Lanes::ZERO, 0, 0);
        for (x, _, count) in &self.points {
            let count = *count as usize;
            let own = readings.get(from..from + count).unwrap_or(&[]);
            from += count;
            let (mean, square) = mean_and_squares(own);
            signals.push(mean);
            squares = squares + square / Lanes::of(self.variance.at(*x));
            dof += count - 1;
        }
        self.mean_reciprocal().map(|_| squares / Lanes::of(dof as f64))
    }

    #[inline(always)]
    fn fitted<const P: usize>(
        &self,
        design: &Design<P>,
        basis: &Basis<P>,
        signals: &[Lanes],
        within: Option<Lanes>,
    ) -> Curves {
        let (beta, sse) = design.answer(signals);
        let [a, b, c] = basis.coefficients(&beta);
        let intercept = a.value();
        let a_rest = (a - Dd::from(intercept)).value();
        let (b, c, sse) = (b.value(), c.value(), sse.value());
        let variance = match self.scale {
            Some(scale) => Lanes::of(scale.variance),
            None => sse / Lanes::of(self.dof.get()),
        };
        let [start, top] = self.reach;
        let curved = self.shape.is_curved();
        let mut ordinary = [true; LANES];
        for l in 0..LANES {
            let (b, c, s2) = (b.0[l], c.0[l], variance.0[l]);
            let turning = -b / (2.0 * c);
            // As a calibration is judged: rising at its start, and not turning within its range.
            let turns = c.abs() > 0.0 && turning > start && turning <= top;
            let enough = s2.is_finite() && s2 >= SMALLEST_VARIANCE;
            ordinary[l] = b + 2.0 * c * start > 0.0 && !(curved && (turns || b < 0.0)) && enough;
        }
        Curves { a: intercept, a_rest, b, c, sse, variance, sd: variance.sqrt(), within, ordinary }
    }

    /// The share of the signals' scatter that the curves explain, by plain sums, which err in the fourteenth digit.
    #[inline(always)]
    pub fn determination(&self, curves: &Curves, signals: &[Lanes]) -> Lanes {
        let (mut sum, mut weights) = (Lanes::ZERO, 0.0);
        for ((_, w, _), y) in self.points.iter().zip(signals) {
            sum = sum + Lanes::of(*w) * *y;
            weights += w;
        }
        let (mean, mut total) = (sum / Lanes::of(weights), Lanes::ZERO);
        for ((_, w, _), y) in self.points.iter().zip(signals) {
            total = total + Lanes::of(*w) * (*y - mean) * (*y - mean);
        }
        Lanes::of(1.0) - curves.sse / total
    }

    /// The concentrations of signals that are means of `count` readings. Whatever is not ordinary makes a figure that
    /// is not finite.
    #[inline(always)]
    pub fn concentration(&self, curves: &Curves, signal: Lanes, count: usize) -> Found {
        let d = (signal - curves.a) - curves.a_rest;
        let (b, c) = (curves.b, curves.c);
        let (x, slope) = if self.shape.is_curved() {
            let slope = (b * b + Lanes::of(4.0) * c * d).sqrt();
            (Lanes::of(2.0) * d / (b + slope), slope)
        } else {
            (d / b, b)
        };
        let minus = -curves.sd;
        let [p, q, r] = parts(self.shape, &self.frame, &self.inverse, x);
        let m = Lanes::of(count as f64);
        // The operations of `Calibration::reading_parts`, in its order.
        let whole = self.kind == PointKind::Standards
            && self.scale.is_none_or(|scale| scale.estimate == ScaleFrom::Residuals)
            && self.noise.scales_by_level();
        let scattered = curves.variance * x.map(|x| self.variance.at(x));
        let mut reading = if whole { scattered } else { scattered / m };
        if let Some(within) = curves.within {
            // More scatter within standards than about the curve: that rests on another estimate.
            let own = within / m;
            for l in 0..LANES {
                reading.0[l] = if curves.variance.0[l] < own.0[l] { f64::NAN } else { reading.0[l] };
            }
        }
        let contributions = [minus * p / slope, minus * q / slope, minus * r / slope, reading.sqrt() / slope];
        Found { value: x, contributions }
    }

    /// The codes of where concentrations lie.
    #[inline(always)]
    pub fn places(&self, x: Lanes) -> [u8; LANES] {
        let [lowest, top] = self.range;
        let mut codes = [0; LANES];
        for l in 0..LANES {
            let x = x.0[l];
            let (below, above) = (u8::from(x < lowest), u8::from(x > top));
            let outside = below * Status::BelowLowest as u8 + above * Status::AboveTop as u8;
            codes[l] = if x < 0.0 { Status::Negative as u8 } else { outside };
        }
        codes
    }

    /// Whether r² is defined as plain sums find it.
    pub fn through_zero(&self) -> bool {
        self.shape.through_zero()
    }

    /// Whether all points weigh the same on a line.
    pub fn is_plain_line(&self) -> bool {
        self.shape == Shape::Line && self.noise == Noise::Equal
    }
}
