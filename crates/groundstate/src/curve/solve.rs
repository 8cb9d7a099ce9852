//! Weighted least squares of one to three terms, solved in double-double on the stack.
//!
//! The normal equations square the condition number of the problem; in 32 digits, on centred and scaled
//! concentrations, that leaves far more than the 16 of the data. Cholesky's factor then gives the covariance
//! without an inverse (Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed., section 20.4).
#![allow(clippy::needless_range_loop)] // matrices read best by their indices

use crate::numeric::dd::{Dd, two_sum};
use crate::numeric::real::Real;

/// The change of variable t = (x - centre) / width, exact because `width` is a power of two and the difference is
/// kept in double-double.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    pub centre: f64,
    pub width: f64,
}

impl Frame {
    /// Centred on the mean of `x` (or on zero), with all points within one width of it.
    pub fn of(x: &[f64], centred: bool) -> Frame {
        let centre = if centred { x.iter().sum::<f64>() / x.len() as f64 } else { 0.0 };
        let reach = x.iter().fold(0.0_f64, |reach, x| reach.max((x - centre).abs()));
        Frame { centre, width: power_of_two_above(reach) }
    }

    #[inline]
    pub fn exact(&self, x: f64) -> Dd {
        two_sum(x, -self.centre).scaled(1.0 / self.width)
    }

    #[inline]
    pub fn of_x(&self, x: f64) -> f64 {
        (x - self.centre) / self.width
    }
}

/// The least power of two above `reach`; 1 for zero.
fn power_of_two_above(reach: f64) -> f64 {
    const EXPONENT: u64 = 0x7ff0_0000_0000_0000;
    let floor = f64::from_bits(reach.to_bits() & EXPONENT);
    if floor > 0.0 && floor < 1e300 { 2.0 * floor } else { 1.0 }
}

/// A solved fit in the frame: terms t^first .. t^(first + P - 1).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Solution<const P: usize> {
    /// Coefficients of the terms.
    pub beta: [Dd; P],
    /// Inverse of the lower Cholesky factor of the normal matrix: cov = sigma² Lᵢᵀ Lᵢ.
    pub inverse: [[Dd; P]; P],
    /// Weighted sum of squared residuals.
    pub sse: Dd,
    /// The same fit to a signal of one at every point: how a common shift of all signals moves the coefficients.
    pub shift: [f64; P],
}

/// Fits `P` terms from power `first`; `weight(i)` weighs point `i`. `None` where the points do not determine them.
pub(crate) fn fit<const P: usize>(
    frame: Frame,
    first: usize,
    x: &[f64],
    y: &[f64],
    weight: impl Fn(usize) -> Dd,
) -> Option<Solution<P>> {
    let design = Design::new(frame, first, x, weight)?;
    let (beta, sse) = design.answer(y);
    Some(Solution { beta, inverse: design.inverse, sse, shift: design.shift })
}

/// All of a fit that the signals have no part in: the same for every run of the same standards.
#[derive(Clone, Debug)]
pub(crate) struct Design<const P: usize> {
    first: usize,
    points: Vec<Point<P>>,
    pub inverse: [[Dd; P]; P],
    pub shift: [f64; P],
}

/// A point without its signal.
#[derive(Clone, Copy, Debug)]
struct Point<const P: usize> {
    t: Dd,
    weight: Dd,
    /// Whether the weight is one, as most are. Products with it are then left out: they change no bit.
    plain: bool,
    /// Weight times t^first .. t^(first + P - 1).
    terms: [Dd; P],
}

impl<const P: usize> Design<P> {
    /// `None` where the points do not determine the coefficients.
    pub fn new(frame: Frame, first: usize, x: &[f64], weight: impl Fn(usize) -> Dd) -> Option<Design<P>> {
        // The normal matrix is Hankel: its elements are the moments sum(w t^k), k = 2 first .. 2 first + 2 P - 2. Those
        // from k = first on are the right-hand side of a signal of one.
        let mut moments = [Dd::ZERO; 7];
        let last = 2 * (first + P - 1);
        let mut points = Vec::with_capacity(x.len());
        for (i, x) in x.iter().enumerate() {
            let (t, weight) = (frame.exact(*x), weight(i));
            let plain = weight == Dd::ONE;
            let mut point = Point { t, weight, plain, terms: [Dd::ZERO; P] };
            let mut power = weight;
            for (k, moment) in moments.iter_mut().enumerate().take(last + 1) {
                if k == 1 {
                    power = if plain { t } else { weight * t };
                } else if k > 1 {
                    power = power * t;
                }
                if k >= first {
                    *moment += power;
                }
                if k >= first && k < first + P {
                    point.terms[k - first] = power;
                }
            }
            points.push(point);
        }
        let ones = std::array::from_fn(|k| moments[first + k]);
        let inverse = invert_lower(&cholesky::<P>(|i, j| moments[2 * first + i + j])?);
        let shift = solve(&inverse, &ones).map(Dd::value);
        Some(Design { first, points, inverse, shift })
    }

    /// Coefficients of the terms and weighted sum of squared residuals for signals `y`, one a point: of one run, or of
    /// one in each lane.
    #[inline(always)]
    pub fn answer<T: Real>(&self, y: &[T]) -> ([Dd<T>; P], Dd<T>) {
        let zero = Dd::from(T::of(0.0));
        let mut right = [zero; P];
        for (point, y) in self.points.iter().zip(y) {
            for k in 0..P {
                right[k] += if k + self.first > 0 {
                    point.terms[k].spread().times(*y)
                } else if point.plain {
                    Dd::from(*y)
                } else {
                    point.weight.spread() * Dd::from(*y)
                };
            }
        }
        let beta = solve(&self.inverse, &right);
        let mut sse = zero;
        for (point, y) in self.points.iter().zip(y) {
            let t = point.t.spread();
            let mut fitted = beta[P - 1];
            for k in (0..P - 1).rev() {
                fitted = fitted * t + beta[k];
            }
            for _ in 0..self.first {
                fitted = fitted * t;
            }
            let square = (Dd::from(*y) - fitted).square();
            sse += if point.plain { square } else { point.weight.spread() * square };
        }
        (beta, sse)
    }
}

/// The solution of normal equations, without its sum of squares. `None` where they are singular.
pub(crate) fn from_normal<const P: usize>(
    element: impl Fn(usize, usize) -> Dd,
    right: &[Dd; P],
    ones: &[Dd; P],
) -> Option<Solution<P>> {
    let inverse = invert_lower(&cholesky::<P>(element)?);
    let beta = solve(&inverse, right);
    let shift = solve(&inverse, ones).map(Dd::value);
    Some(Solution { beta, inverse, sse: Dd::ZERO, shift })
}

/// The lower Cholesky factor; `None` where a pivot vanishes against its diagonal element.
fn cholesky<const P: usize>(element: impl Fn(usize, usize) -> Dd) -> Option<[[Dd; P]; P]> {
    let mut lower = [[Dd::ZERO; P]; P];
    for i in 0..P {
        for j in 0..=i {
            let mut rest = element(i, j);
            for k in 0..j {
                rest = rest - lower[i][k] * lower[j][k];
            }
            if i == j {
                // 32 digits less the growth of three eliminations: below this a pivot is rounding, not data.
                if rest.hi.is_nan() || rest.hi <= 1e-27 * element(i, i).hi {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[j][j];
            }
        }
    }
    Some(lower)
}

fn invert_lower<const P: usize>(lower: &[[Dd; P]; P]) -> [[Dd; P]; P] {
    let mut inverse = [[Dd::ZERO; P]; P];
    for i in 0..P {
        let reciprocal = Dd::ONE / lower[i][i];
        for j in 0..i {
            let sum = (j..i).fold(Dd::ZERO, |sum, k| sum + lower[i][k] * inverse[k][j]);
            inverse[i][j] = -(sum * reciprocal);
        }
        inverse[i][i] = reciprocal;
    }
    inverse
}

/// Solves the normal equations through the inverse factor: beta = Lᵢᵀ (Lᵢ right).
#[inline(always)]
fn solve<const P: usize, T: Real>(inverse: &[[Dd; P]; P], right: &[Dd<T>; P]) -> [Dd<T>; P] {
    let zero = Dd::from(T::of(0.0));
    let mut forward = [zero; P];
    for i in 0..P {
        for j in 0..=i {
            forward[i] += inverse[i][j].spread() * right[j];
        }
    }
    let mut beta = [zero; P];
    for j in 0..P {
        for i in j..P {
            beta[j] += inverse[i][j].spread() * forward[i];
        }
    }
    beta
}
