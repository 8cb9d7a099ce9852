//! Fits with errors in both variables, several calibrations abreast: one a lane.
//!
//! No number of one lane enters another: the bits of a fit do not depend on its neighbours. A calibration that has
//! converged keeps its figures while the others go on.
#![allow(clippy::needless_range_loop)] // lanes and terms read best by their indices

use super::many::{Levels, ManyPoints, ManyStatus};
use crate::numeric::real::{LANES, Lanes, Real};

/// The most levels of one calibration.
pub(super) const MOST_LEVELS: usize = 64;
const MOST_STEPS: u32 = 200;

/// What is known of one level of each calibration.
#[derive(Clone, Copy)]
struct Level {
    x: Lanes,
    y: Lanes,
    /// Variance of the concentration.
    ux2: Lanes,
    /// Inverse variance of the signal.
    w: Lanes,
    /// The true concentration as it is known so far.
    at: Lanes,
}

/// The points of some calibrations, each in a frame of its own: concentrations less a centre, over a width.
pub(super) struct Abreast {
    levels: [Level; MOST_LEVELS],
    count: usize,
    centre: Lanes,
    per_width: Lanes,
}

/// What the fits found. Coefficients and covariance have as many elements as the shape has parameters, then zeros.
pub(super) struct Found {
    pub coefficients: [Lanes; 3],
    pub covariance: [[Lanes; 3]; 3],
    pub chi_squared: Lanes,
    pub status: [ManyStatus; LANES],
}

/// `yes` in the lanes whose flag is above zero, `no` in the others.
#[inline(always)]
fn choose(flag: Lanes, yes: Lanes, no: Lanes) -> Lanes {
    let mut chosen = no;
    for l in 0..LANES {
        chosen.0[l] = if flag.0[l] > 0.0 { yes.0[l] } else { no.0[l] };
    }
    chosen
}

/// 1 in the lanes where that holds, 0 in the others.
#[inline(always)]
fn flags(holds: impl Fn(usize) -> bool) -> Lanes {
    let mut flags = Lanes::ZERO;
    for l in 0..LANES {
        flags.0[l] = if holds(l) { 1.0 } else { 0.0 };
    }
    flags
}

#[inline(always)]
fn larger(a: Lanes, b: Lanes) -> Lanes {
    let mut larger = a;
    for l in 0..LANES {
        larger.0[l] = if b.0[l] > a.0[l] { b.0[l] } else { a.0[l] };
    }
    larger
}

impl Abreast {
    pub fn new(count: usize) -> Self {
        let none = Lanes::ZERO;
        let level = Level { x: none, y: none, ux2: none, w: none, at: none };
        Abreast { levels: [level; MOST_LEVELS], count, centre: none, per_width: none }
    }

    /// Fits the `count` calibrations from `first` on, the last of which fills the lanes that are left.
    #[inline(always)]
    pub fn fit<const P: usize, const FIRST: usize>(
        &mut self,
        points: &ManyPoints<'_>,
        first: usize,
        count: usize,
    ) -> Found {
        let sound = self.take(points, FIRST == 0, |lane| first + lane.min(count - 1));
        self.solve(Fit::<P, FIRST>::new(sound))
    }

    /// Takes the points of the calibrations that `run` numbers; gives which have them all.
    #[inline(always)]
    fn take(&mut self, points: &ManyPoints<'_>, centred: bool, run: impl Fn(usize) -> usize) -> Lanes {
        let levels = &mut self.levels[..self.count];
        points.concentration.abreast(&run, levels, |level| &mut level.x);
        Levels::Each(points.signal).abreast(&run, levels, |level| &mut level.y);
        points.concentration_u.abreast(&run, levels, |level| &mut level.ux2);
        points.signal_u.abreast(&run, levels, |level| &mut level.w);
        let (zero, one) = (Lanes::ZERO, Lanes::of(1.0));
        let (mut sum, mut there, mut reach) = (zero, one, zero);
        for level in &mut *levels {
            level.ux2 = level.ux2 * level.ux2;
            level.w = one / (level.w * level.w);
            sum = sum + level.x;
            // Zero times what is not finite is no number.
            there = there + zero * level.x + zero * level.y + zero * level.w;
        }
        self.centre = if centred { sum / Lanes::of(levels.len() as f64) } else { zero };
        for level in &*levels {
            reach = larger(reach, (level.x - self.centre).map(f64::abs));
        }
        self.per_width = reach.map(|reach| 1.0 / power_of_two_above(reach));
        for level in levels {
            level.x = (level.x - self.centre) * self.per_width;
            level.ux2 = level.ux2 * self.per_width * self.per_width;
            level.at = level.x;
        }
        there
    }

    #[inline(always)]
    fn solve<const P: usize, const FIRST: usize>(&mut self, mut fit: Fit<P, FIRST>) -> Found {
        let levels = &mut self.levels[..self.count];
        for level in &*levels {
            fit.add(level.x, level.y, level.w);
        }
        fit.solve(Lanes::ZERO);
        for _ in 0..MOST_STEPS {
            let mut moved = Lanes::ZERO;
            fit.clear();
            for level in &mut *levels {
                fit.step(level, &mut moved);
            }
            fit.solve(moved);
            if fit.active.0.iter().sum::<f64>() <= 0.0 {
                break;
            }
        }
        let none = fit.sound.map(|sound| if sound > 0.0 { 0.0 } else { f64::NAN });
        let (coefficients, covariance) = fit.in_concentrations(self.centre, self.per_width, none);
        let chi_squared = levels.iter().fold(none, |sum, level| sum + fit.square(level));
        let status = std::array::from_fn(|l| match (fit.sound.0[l] > 0.0, fit.active.0[l] > 0.0) {
            (false, _) => ManyStatus::Undetermined,
            (true, true) => ManyStatus::NotConverged,
            (true, false) => ManyStatus::Fitted,
        });
        Found { coefficients, covariance, chi_squared, status }
    }
}

/// The least power of two above `reach`; 1 for zero.
#[inline(always)]
fn power_of_two_above(reach: f64) -> f64 {
    const EXPONENT: u64 = 0x7ff0_0000_0000_0000;
    let floor = f64::from_bits(reach.to_bits() & EXPONENT);
    if (floor > 0.0) & (floor < 1e300) { 2.0 * floor } else { 1.0 }
}

/// Weighted fits of terms t^FIRST to t^(FIRST + P - 1).
struct Fit<const P: usize, const FIRST: usize> {
    /// Sums of w t^k from k = 2 FIRST on.
    moments: [Lanes; 5],
    /// Sums of w t^k y from k = FIRST on.
    right: [Lanes; 3],
    /// Coefficients of the terms.
    beta: [Lanes; 3],
    /// Of the normal matrix as L D Lᵀ: the elements (1, 0), (2, 0), (2, 1) of the inverse of L, and the inverse of D.
    inverse: [Lanes; 3],
    over: [Lanes; 3],
    /// 1 where the points determine the curve.
    sound: Lanes,
    /// 1 where that is so and the last step was larger than rounding.
    active: Lanes,
    /// How far the last step moved a true concentration.
    last: Lanes,
}

impl<const P: usize, const FIRST: usize> Fit<P, FIRST> {
    #[inline(always)]
    fn new(sound: Lanes) -> Self {
        let zero = Lanes::ZERO;
        let last = Lanes::of(f64::INFINITY);
        Fit {
            moments: [zero; 5],
            right: [zero; 3],
            beta: [zero; 3],
            inverse: [zero; 3],
            over: [zero; 3],
            sound,
            active: sound,
            last,
        }
    }

    #[inline(always)]
    fn clear(&mut self) {
        self.moments = [Lanes::ZERO; 5];
        self.right = [Lanes::ZERO; 3];
    }

    /// The curve at `t`, and its slope.
    #[inline(always)]
    fn at(&self, t: Lanes) -> (Lanes, Lanes) {
        let ([b0, b1, b2], two) = (self.beta, Lanes::of(2.0));
        match (P, FIRST) {
            (1, _) => (b0 * t, b0),
            (2, 0) => (b1 * t + b0, b1),
            (2, _) => ((b1 * t + b0) * t, two * b1 * t + b0),
            _ => ((b2 * t + b1) * t + b0, two * b2 * t + b1),
        }
    }

    /// Adds a level.
    #[inline(always)]
    fn add(&mut self, t: Lanes, y: Lanes, w: Lanes) {
        let mut power = if FIRST == 0 { w } else { w * t };
        for k in 0..P {
            self.right[k] = self.right[k] + power * y;
            power = power * t;
        }
        let mut power = if FIRST == 0 { w } else { w * t * t };
        for k in 0..2 * P - 1 {
            self.moments[k] = self.moments[k] + power;
            power = power * t;
        }
    }

    /// The residual of a level under the curve made linear where it is, its slope there, and the weight that is left.
    #[inline(always)]
    fn linear(&self, level: &Level) -> (Lanes, Lanes, Lanes) {
        let (signal, slope) = self.at(level.at);
        let rest = (level.y - signal) - slope * (level.x - level.at);
        (rest, slope, level.w / (Lanes::of(1.0) + level.w * slope * slope * level.ux2))
    }

    #[inline(always)]
    fn square(&self, level: &Level) -> Lanes {
        let (rest, _, weight) = self.linear(level);
        rest * rest * weight
    }

    /// Moves the true concentration of a level to its best value under the curve made linear where it is, and adds the
    /// level as the curve is linear where it comes to.
    #[inline(always)]
    fn step(&mut self, level: &mut Level, moved: &mut Lanes) {
        let (rest, slope, weight) = self.linear(level);
        let to = choose(self.active, level.x + level.ux2 * slope * weight * rest, level.at);
        *moved = larger(*moved, (to - level.at).map(f64::abs));
        level.at = to;
        let (_, slope) = self.at(to);
        let weight = level.w / (Lanes::of(1.0) + level.w * slope * slope * level.ux2);
        self.add(to, level.y - slope * (level.x - to), weight);
    }

    /// Solves the normal equations of those that are active, after a step that `moved` their concentrations.
    #[inline(always)]
    fn solve(&mut self, moved: Lanes) {
        let ([m0, m1, m2, m3, m4], [r0, r1, r2]) = (self.moments, self.right);
        let (zero, one) = (Lanes::ZERO, Lanes::of(1.0));
        // Pivots, and the moments that they are what is left of. A term that the shape has not adds nothing.
        let (mut pivots, mut whole, mut over) = ([m0; 3], [m0; 3], [one / m0, zero, zero]);
        let [mut i10, mut i20, mut i21] = [zero; 3];
        if P > 1 {
            i10 = -(m1 * over[0]);
            (pivots[1], whole[1]) = (m2 + i10 * m1, m2);
            over[1] = one / pivots[1];
        }
        if P > 2 {
            let (l20, scaled21) = (m2 * over[0], m3 + i10 * m2);
            i21 = -(scaled21 * over[1]);
            i20 = i21 * i10 - l20;
            (pivots[2], whole[2]) = (m4 - l20 * m2 + i21 * scaled21, m4);
            over[2] = one / pivots[2];
        }
        let forward = [r0 * over[0], (r1 + i10 * r0) * over[1], (r2 + i21 * r1 + i20 * r0) * over[2]];
        let beta = [forward[0] + i10 * forward[1] + i20 * forward[2], forward[1] + i21 * forward[2], forward[2]];
        let determined = flags(|l| {
            // Figures beyond the range of numbers are no curve.
            let is = |k: usize| (pivots[k].0[l] > 1e-12 * whole[k].0[l]) & (beta[k].0[l].abs() <= f64::MAX);
            is(0) & is(1) & is(2)
        });
        for (k, inverse) in [i10, i20, i21].into_iter().enumerate() {
            self.beta[k] = choose(self.active, beta[k], self.beta[k]);
            self.inverse[k] = choose(self.active, inverse, self.inverse[k]);
            self.over[k] = choose(self.active, over[k], self.over[k]);
        }
        self.sound = choose(self.active, determined, self.sound);
        let goes_on = flags(|l| {
            let (moved, last) = (moved.0[l], self.last.0[l]);
            // The steps shrink geometrically: what all that follow would add up to. Then rounding takes over.
            let rest = moved * moved <= 1e-15 * (last - moved);
            let done = (moved <= 4.0 * f64::EPSILON) | ((moved <= 1e-12) & (rest | (moved >= last)));
            // There is no last step before the first.
            !(done & (last < f64::INFINITY))
        });
        self.active = choose(self.active, determined * goes_on, zero);
        self.last = moved;
    }

    /// Coefficients in powers of concentration and their covariance, NaN where `none` is.
    #[inline(always)]
    fn in_concentrations(&self, centre: Lanes, per: Lanes, none: Lanes) -> ([Lanes; 3], [[Lanes; 3]; 3]) {
        let ([b0, b1, b2], [i10, i20, i21]) = (self.beta, self.inverse);
        let [o0, o1, o2] = self.over.map(|over| over + none);
        let (zero, off) = (Lanes::ZERO, -centre * per);
        // Powers of t in powers of concentration, an upper triangle.
        let [t00, t11, t22] = if FIRST == 0 { [Lanes::of(1.0), per, per * per] } else { [per, per * per, zero] };
        let [t01, t02, t12] = if FIRST == 0 { [off, off * off, Lanes::of(2.0) * off * per] } else { [zero; 3] };
        let coefficients = [t00 * b0 + t01 * b1 + t02 * b2 + none, t11 * b1 + t12 * b2 + none, t22 * b2 + none];
        // The same of the inverse of Lᵀ, and of its square.
        let (h01, h02, h12) = (t00 * i10 + t01, t00 * i20 + t01 * i21 + t02, t11 * i21 + t12);
        let c00 = t00 * t00 * o0 + h01 * h01 * o1 + h02 * h02 * o2;
        let (c01, c02) = (h01 * t11 * o1 + h02 * h12 * o2, h02 * t22 * o2);
        let (c11, c12, c22) = (t11 * t11 * o1 + h12 * h12 * o2, h12 * t22 * o2, t22 * t22 * o2);
        (coefficients, [[c00, c01, c02], [c01, c11, c12], [c02, c12, c22]])
    }
}
