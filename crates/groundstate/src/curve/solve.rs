//! Weighted least squares of one to three terms, solved in double-double on the stack.
//!
//! The normal equations square the condition number of the problem; in 32 digits, on centred and scaled
//! concentrations, that leaves far more than the 16 of the data. Cholesky's factor then gives the covariance
//! without an inverse (Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed., section 20.4).
#![allow(clippy::needless_range_loop)] // matrices read best by their indices

use crate::numeric::dd::{Dd, two_sum};

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
    match first {
        0 => fit_from::<P, 0>(frame, x, y, weight),
        _ => fit_from::<P, 1>(frame, x, y, weight),
    }
}

/// As [`fit`], from power `FIRST`, 0 or 1.
fn fit_from<const P: usize, const FIRST: usize>(
    frame: Frame,
    x: &[f64],
    y: &[f64],
    weight: impl Fn(usize) -> Dd,
) -> Option<Solution<P>> {
    // The normal matrix is Hankel: its elements are the moments sum(w t^k), k = 2 first .. 2 first + 2 P - 2. Those
    // from k = first on are the right-hand side of a signal of one.
    let mut moments = [Dd::ZERO; 7];
    let mut right = [Dd::ZERO; P];
    let last = 2 * (FIRST + P - 1);
    for (i, (x, y)) in x.iter().zip(y).enumerate() {
        let t = frame.exact(*x);
        // Products with a weight of one, which is most of them, are left out: they change no bit.
        let w = weight(i);
        let weighted = |value: Dd| if w == Dd::ONE { value } else { w * value };
        let mut power = w;
        for k in 0..=last {
            if k == 1 {
                power = weighted(t);
            } else if k > 1 {
                power = power * t;
            }
            if k >= FIRST {
                moments[k] += power;
            }
            if k >= FIRST && k < FIRST + P {
                right[k - FIRST] += if k == 0 { weighted(Dd::from(*y)) } else { power.times(*y) };
            }
        }
    }
    let ones = std::array::from_fn(|k| moments[FIRST + k]);
    let mut solution = from_normal(|i, j| moments[2 * FIRST + i + j], &right, &ones)?;
    for (i, (x, y)) in x.iter().zip(y).enumerate() {
        let t = frame.exact(*x);
        let mut fitted = solution.beta[P - 1];
        for k in (0..P - 1).rev() {
            fitted = fitted * t + solution.beta[k];
        }
        for _ in 0..FIRST {
            fitted = fitted * t;
        }
        let square = (Dd::from(*y) - fitted).square();
        let w = weight(i);
        solution.sse += if w == Dd::ONE { square } else { w * square };
    }
    Some(solution)
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
fn solve<const P: usize>(inverse: &[[Dd; P]; P], right: &[Dd; P]) -> [Dd; P] {
    let mut forward = [Dd::ZERO; P];
    for i in 0..P {
        forward[i] = (0..=i).fold(Dd::ZERO, |sum, j| sum + inverse[i][j] * right[j]);
    }
    let mut beta = [Dd::ZERO; P];
    for (j, b) in beta.iter_mut().enumerate() {
        *b = (j..P).fold(Dd::ZERO, |sum, i| sum + inverse[i][j] * forward[i]);
    }
    beta
}
