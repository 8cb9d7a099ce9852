//! The arithmetic of one fitted curve: forward, inverse, spread. No heap, no branch on strings.
#![allow(clippy::needless_range_loop)] // matrices read best by their indices

use super::Shape;
use super::solve::{Frame, Solution};
use super::stray_light::StrayLight;
use crate::numeric::dd::Dd;
use crate::numeric::real::{Lanes, Real};

/// A fitted curve in two bases: powers of x for values, the frame's powers of t for uncertainty, where nothing
/// cancels however far the points lie from zero.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Kernel {
    pub shape: Shape,
    /// y = a + b x + c x²; `a_rest` is what rounding `a` dropped, so that a signal near the intercept keeps its digits.
    pub a: f64,
    a_rest: f64,
    pub b: f64,
    pub c: f64,
    /// The curve in place of the polynomial, whose a, b, c are then its first powers at zero.
    pub stray_light: Option<StrayLight>,
    pub frame: Frame,
    /// Coefficients of the frame's powers 0, 1, 2.
    pub beta: [f64; 3],
    /// Inverse Cholesky factor for unit weight, over the terms of the shape.
    inverse: [[f64; 3]; 3],
    shift: [f64; 3],
    /// Standard errors and covariance of the coefficients in x for unit weight, terms of the shape only.
    covariance: [[f64; 3]; 3],
}

/// A reading turned back into a concentration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Inverse {
    pub x: f64,
    /// Slope of the curve there, positive.
    pub slope: f64,
}

/// All of a polynomial's kernel that the signals have no part in: the same for every run of the same standards.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Basis<const P: usize> {
    shape: Shape,
    frame: Frame,
    /// Rows: coefficients of 1, x, x²; columns: terms t^first .. From t = (x - centre) / width.
    to_x: [[Dd; P]; 3],
    inverse: [[f64; 3]; 3],
    shift: [f64; 3],
    covariance: [[f64; 3]; 3],
}

/// [`Kernel::parts`] of a polynomial for each lane. `l` is the inverse Cholesky factor for unit weight.
#[inline(always)]
pub(crate) fn parts(shape: Shape, frame: &Frame, l: &[[f64; 3]; 3], x: Lanes) -> [Lanes; 3] {
    let (l, zero) = (|i: usize, j: usize| Lanes::of(l[i][j]), Lanes::ZERO);
    // A width is a power of two: its reciprocal is exact, and a product rounds as the quotient does.
    let t = (x - Lanes::of(frame.centre)) * Lanes::of(1.0 / frame.width);
    match shape {
        Shape::Line => [l(0, 0), l(1, 0) + l(1, 1) * t, zero],
        Shape::LineThroughZero => [l(0, 0) * t, zero, zero],
        Shape::Quadratic => [l(0, 0), l(1, 0) + l(1, 1) * t, l(2, 0) + t * (l(2, 1) + l(2, 2) * t)],
        Shape::QuadraticThroughZero => [l(0, 0) * t, t * (l(1, 0) + l(1, 1) * t), zero],
        // No polynomial, and never asked for.
        Shape::StrayLight => [Lanes::of(f64::NAN); 3],
    }
}

impl<const P: usize> Basis<P> {
    /// `inverse` is the inverse Cholesky factor of the fit, `shift` its answer to a signal of one everywhere.
    pub fn new(shape: Shape, frame: Frame, inverse: &[[Dd; P]; P], shift: &[f64; P]) -> Basis<P> {
        let first = usize::from(shape.through_zero());
        let centre = Dd::from(-frame.centre);
        let w = 1.0 / frame.width;
        let all = [
            [Dd::ONE, centre.scaled(w), centre.square().scaled(w * w)],
            [Dd::ZERO, Dd::from(w), centre.scaled(2.0 * w * w)],
            [Dd::ZERO, Dd::ZERO, Dd::from(w * w)],
        ];
        let to_x = all.map(|row| std::array::from_fn(|k| row[k + first]));
        // Half of the covariance: H = T Lᵢᵀ, then cov = H Hᵀ, all in double-double.
        let mut half = [[Dd::ZERO; P]; 3];
        for (row, line) in half.iter_mut().enumerate() {
            for (i, element) in line.iter_mut().enumerate() {
                for k in 0..=i {
                    *element += to_x[row][k] * inverse[i][k];
                }
            }
        }
        let mut covariance = [[0.0; 3]; 3];
        for i in 0..P {
            for j in 0..P {
                let dot = (0..P).fold(Dd::ZERO, |sum, k| sum + half[i + first][k] * half[j + first][k]);
                covariance[i][j] = dot.value();
            }
        }
        let mut plain = [[0.0; 3]; 3];
        let mut shifts = [0.0; 3];
        for i in 0..P {
            shifts[i] = shift[i];
            for j in 0..P {
                plain[i][j] = inverse[i][j].value();
            }
        }
        Basis { shape, frame, to_x, inverse: plain, shift: shifts, covariance }
    }

    /// Inverse Cholesky factor for unit weight, over the terms of the shape.
    pub fn inverse(&self) -> &[[f64; 3]; 3] {
        &self.inverse
    }

    /// Coefficients of 1, x, x² from those of the terms.
    #[inline(always)]
    pub fn coefficients<T: Real>(&self, beta: &[Dd<T>; P]) -> [Dd<T>; 3] {
        // A loop, because a closure would not be compiled for wide vectors.
        let mut sums = [Dd::from(T::of(0.0)); 3];
        for (sum, row) in sums.iter_mut().zip(&self.to_x) {
            for k in 0..P {
                *sum += row[k].spread() * beta[k];
            }
        }
        sums
    }
}

impl Kernel {
    pub fn new<const P: usize>(shape: Shape, frame: Frame, solution: &Solution<P>) -> Kernel {
        Kernel::on(&Basis::new(shape, frame, &solution.inverse, &solution.shift), &solution.beta)
    }

    /// The kernel with coefficients `terms` of the terms.
    pub fn on<const P: usize>(basis: &Basis<P>, terms: &[Dd; P]) -> Kernel {
        let first = usize::from(basis.shape.through_zero());
        let mut beta = [0.0; 3];
        for (k, value) in terms.iter().enumerate() {
            beta[k + first] = value.value();
        }
        let [a, b, c] = basis.coefficients(terms);
        let Basis { shape, frame, inverse, shift, covariance, .. } = *basis;
        let intercept = a.value();
        let a_rest = (a - Dd::from(intercept)).value();
        let (b, c) = (b.value(), c.value());
        Kernel { shape, a: intercept, a_rest, b, c, stray_light: None, frame, beta, inverse, shift, covariance }
    }

    /// A curve with stray light. `inverse` is the inverse of the lower factor of the normal matrix in (k width, s) and
    /// `shift` how these move with all signals.
    pub fn of_stray_light(
        shape: Shape,
        frame: Frame,
        curve: StrayLight,
        inverse: [[f64; 2]; 2],
        shift: [f64; 2],
    ) -> Kernel {
        let embedded = |m: [[f64; 2]; 2]| [[m[0][0], m[0][1], 0.0], [m[1][0], m[1][1], 0.0], [0.0; 3]];
        let units = [1.0 / frame.width, 1.0];
        let product = |i: usize, j: usize| inverse[0][i] * inverse[0][j] + inverse[1][i] * inverse[1][j];
        let covariance = [0, 1].map(|i| [0, 1].map(|j| product(i, j) * units[i] * units[j]));
        Kernel {
            shape,
            a: 0.0,
            a_rest: 0.0,
            b: curve.slope(0.0),
            c: 0.0,
            stray_light: Some(curve),
            frame,
            beta: [0.0; 3],
            inverse: embedded(inverse),
            shift: [shift[0], shift[1], 0.0],
            covariance: embedded(covariance),
        }
    }

    /// The fitted parameters, as many as the shape has.
    pub fn coefficients(&self) -> Vec<f64> {
        if let Some(curve) = self.stray_light {
            return vec![curve.k, curve.s];
        }
        let first = usize::from(self.shape.through_zero());
        [self.a, self.b, self.c][first..first + self.shape.parameters()].to_vec()
    }

    /// The signal that the curve does not exceed: at its turn, or its plateau.
    pub fn ceiling(&self) -> Option<f64> {
        match self.stray_light {
            Some(curve) => curve.plateau(),
            None => self.turning_point().filter(|_| self.c < 0.0).map(|x| self.signal(x)),
        }
    }

    /// Derivatives of the curve with respect to (k width, s).
    fn stray_gradient(&self, curve: StrayLight, x: f64) -> [f64; 2] {
        let [by_k, by_s] = curve.gradient(x);
        [by_k / self.frame.width, by_s]
    }

    /// Signal at `x`.
    #[inline]
    pub fn signal(&self, x: f64) -> f64 {
        match self.stray_light {
            None => self.a + x * (self.b + x * self.c),
            Some(curve) => curve.signal(x),
        }
    }

    /// Slope of the curve at `x`.
    #[inline]
    pub fn slope(&self, x: f64) -> f64 {
        match self.stray_light {
            None => self.b + 2.0 * self.c * x,
            Some(curve) => curve.slope(x),
        }
    }

    /// Where the curve turns; `None` for one that does not.
    pub fn turning_point(&self) -> Option<f64> {
        (self.c.abs() > 0.0).then(|| -self.b / (2.0 * self.c)).filter(|x| x.is_finite())
    }

    /// The concentration on the rising branch whose signal is `y`; `None` beyond the turning point.
    ///
    /// The root is 2 d / (b + sqrt(b² + 4 c d)) with d = y - a, which neither cancels for small c nor for either
    /// sign of it (Higham, section 1.8); on a curve that rises only past its minimum (b < 0) the other form is
    /// the one that does not cancel.
    #[inline]
    pub fn invert(&self, y: f64) -> Option<Inverse> {
        if let Some(curve) = self.stray_light {
            return curve.invert(y);
        }
        let d = self.above_intercept(y);
        if !self.shape.is_curved() {
            return (self.b > 0.0).then(|| Inverse { x: d / self.b, slope: self.b });
        }
        let discriminant = self.b * self.b + 4.0 * self.c * d;
        if discriminant.is_nan() || discriminant <= 0.0 {
            return None;
        }
        let slope = discriminant.sqrt();
        let x = if self.b >= 0.0 { 2.0 * d / (self.b + slope) } else { (slope - self.b) / (2.0 * self.c) };
        x.is_finite().then_some(Inverse { x, slope })
    }

    /// Turns `signals` into the concentrations that [`Kernel::invert`] finds on curves whose coefficients of 1, x, x²
    /// are moved by `moved`, NaN where it finds none. Not for curves with stray light.
    pub fn inverted<const N: usize>(&self, moved: &[[f64; N]; 3], signals: &mut [f64; N]) {
        let finite = |x: f64| if x.is_finite() { x } else { f64::NAN };
        let [a, b, c] = moved;
        if !self.shape.is_curved() {
            for t in 0..N {
                let (d, b) = ((signals[t] - (self.a + a[t])) - self.a_rest, self.b + b[t]);
                signals[t] = if b > 0.0 { finite(d / b) } else { f64::NAN };
            }
            return;
        }
        for t in 0..N {
            let (d, b, c) = ((signals[t] - (self.a + a[t])) - self.a_rest, self.b + b[t], self.c + c[t]);
            let discriminant = b * b + 4.0 * c * d;
            let slope = discriminant.sqrt();
            let x = if b >= 0.0 { 2.0 * d / (b + slope) } else { (slope - b) / (2.0 * c) };
            signals[t] = if discriminant > 0.0 { finite(x) } else { f64::NAN };
        }
    }

    /// Intercept over slope of lines whose coefficients are moved by `moved`, NaN where they do not rise.
    pub fn extrapolated<const N: usize>(&self, moved: &[[f64; N]; 3], out: &mut [f64; N]) {
        for t in 0..N {
            let (a, b) = ((self.a + moved[0][t]) + self.a_rest, self.b + moved[1][t]);
            out[t] = if b > 0.0 { a / b } else { f64::NAN };
        }
    }

    /// How far a signal lies above the intercept.
    #[inline]
    pub fn above_intercept(&self, y: f64) -> f64 {
        (y - self.a) - self.a_rest
    }

    /// The concentration whose signal lies `net` above the curve at zero; `None` beyond the turning point. Nothing of
    /// a small `net` is lost to the intercept.
    pub fn above_zero(&self, net: f64) -> Option<f64> {
        let origin = Kernel { a: 0.0, a_rest: 0.0, ..*self };
        origin.invert(net).map(|inverse| inverse.x)
    }

    /// How far the fit's independent unit-weight parts move the curve at `x`; unused parts are zero.
    #[inline]
    pub fn parts(&self, x: f64) -> [f64; 3] {
        let t = self.frame.of_x(x);
        let l = &self.inverse;
        match self.shape {
            Shape::Line => [l[0][0], l[1][0] + l[1][1] * t, 0.0],
            Shape::LineThroughZero => [l[0][0] * t, 0.0, 0.0],
            Shape::Quadratic => [l[0][0], l[1][0] + l[1][1] * t, l[2][0] + t * (l[2][1] + l[2][2] * t)],
            Shape::QuadraticThroughZero => [l[0][0] * t, t * (l[1][0] + l[1][1] * t), 0.0],
            Shape::StrayLight => self.stray_light.map_or([0.0; 3], |curve| {
                let [by_q, by_s] = self.stray_gradient(curve, x);
                [l[0][0] * by_q, l[1][0] * by_q + l[1][1] * by_s, 0.0]
            }),
        }
    }

    /// Variance of the curve at `x` for unit weight.
    #[inline]
    pub fn spread(&self, x: f64) -> f64 {
        let [p, q, r] = self.parts(x);
        p * p + q * q + r * r
    }

    /// [`Kernel::spread`] of a polynomial, in the same operations, for each lane.
    #[inline(always)]
    pub fn spreads(&self, x: Lanes) -> Lanes {
        let [p, q, r] = parts(self.shape, &self.frame, &self.inverse, x);
        p * p + q * q + r * r
    }

    /// Leverage-free figure: how far a shift of one of every signal moves the curve at `x` (one for a free intercept).
    pub fn shift(&self, x: f64) -> f64 {
        if !self.shape.through_zero() {
            return 1.0;
        }
        if let Some(curve) = self.stray_light {
            let [by_q, by_s] = self.stray_gradient(curve, x);
            return by_q * self.shift[0] + by_s * self.shift[1];
        }
        let t = self.frame.of_x(x);
        t * (self.shift[0] + t * self.shift[1])
    }

    /// 1 less [`Kernel::shift`] as a polynomial in t, ascending powers.
    pub fn unshifted(&self) -> [f64; 3] {
        if self.shape.through_zero() { [1.0, -self.shift[0], -self.shift[1]] } else { [0.0; 3] }
    }

    /// The polynomials in t whose squares add up to [`Kernel::spread`], ascending powers.
    pub fn part_polynomials(&self) -> [[f64; 3]; 3] {
        let l = &self.inverse;
        match self.shape {
            Shape::Line | Shape::Quadratic => {
                [[l[0][0], 0.0, 0.0], [l[1][0], l[1][1], 0.0], [l[2][0], l[2][1], l[2][2]]]
            }
            // A curve with stray light is no polynomial and is never asked for one.
            Shape::LineThroughZero | Shape::QuadraticThroughZero | Shape::StrayLight => {
                [[0.0, l[0][0], 0.0], [0.0, l[1][0], l[1][1]], [0.0; 3]]
            }
        }
    }

    /// Covariance of the shape's coefficients for unit weight, element (i, j).
    pub fn unit_covariance(&self, i: usize, j: usize) -> f64 {
        self.covariance[i][j]
    }
}
