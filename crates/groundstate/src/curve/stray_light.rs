//! Absorbance with a share of light that the atoms cannot absorb.
//!
//! Of the light that reaches the detector a part s/(1 + s) is not absorbed at any concentration: stray light, or lines
//! within the slit that the atoms do not take. With T = 10^(-k c) the transmittance of the rest,
//! A(c) = log10((1 + s)/(T + s)), which rises with slope k/(1 + s) and levels off at log10((1 + s)/s). It follows from
//! Beer's law and the definition of absorbance alone; J. D. Ingle and S. R. Crouch, Spectrochemical Analysis (1988),
//! chapter 13, has it in this form (from memory).

use std::f64::consts::LN_10;

use super::Shape;
use super::distance_fit::Termination;
use super::kernel::{Inverse, Kernel};
use super::points::Points;
use super::solve::Frame;
use crate::numeric::dd::Dd;

/// Largest s that a fit may take: as much light unabsorbed as absorbed is no calibration.
pub(super) const MOST: f64 = 1.0 - 1e-6;

/// The two parameters of the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct StrayLight {
    /// Slope that the absorbance would have without stray light, per unit of concentration.
    pub k: f64,
    /// Stray light over absorbable light.
    pub s: f64,
}

impl StrayLight {
    pub fn signal(&self, x: f64) -> f64 {
        let exponent = -LN_10 * self.k * x;
        let lost = libm::expm1(exponent);
        if lost > -0.5 && lost < f64::INFINITY {
            return -libm::log1p(lost / (1.0 + self.s)) / LN_10;
        }
        // Where little light is left, or so much that no number holds it, its logarithm is known better than itself.
        let light = libm::exp(exponent);
        let rest = if light >= self.s {
            exponent + libm::log1p(self.s / light)
        } else {
            libm::log(self.s) + libm::log1p(light / self.s)
        };
        (libm::log1p(self.s) - rest) / LN_10
    }

    /// T/(T + s): the slope in units of k.
    fn live(&self, x: f64) -> f64 {
        1.0 / (1.0 + self.s * libm::exp(LN_10 * self.k * x))
    }

    pub fn slope(&self, x: f64) -> f64 {
        self.k * self.live(x)
    }

    /// Derivatives of the signal with respect to k and s.
    pub fn gradient(&self, x: f64) -> [f64; 2] {
        let live = self.live(x);
        // (T - 1)/(T + s) = live (1 - 1/T), which is -1/s where T vanishes.
        let by_s = if live > 0.0 { -live * libm::expm1(LN_10 * self.k * x) } else { -1.0 / self.s };
        [x * live, by_s / ((1.0 + self.s) * LN_10)]
    }

    /// The concentration of signal `y`; `None` at and above the plateau.
    pub fn invert(&self, y: f64) -> Option<Inverse> {
        let lost = (1.0 + self.s) * libm::expm1(-LN_10 * y);
        if self.k.is_nan() || self.k <= 0.0 || lost.is_nan() || lost <= -1.0 {
            return None;
        }
        let x = if lost > -0.5 && lost.is_finite() {
            -libm::log1p(lost) / (LN_10 * self.k)
        } else if lost < 0.0 {
            -libm::log((1.0 + self.s) * libm::exp(-LN_10 * y) - self.s) / (LN_10 * self.k)
        } else {
            // Signals so far below zero have no exponential; there the curve is a line.
            (y - libm::log10(1.0 + self.s)) / self.k
        };
        Some(Inverse { x, slope: self.slope(x) }).filter(|inverse| inverse.x.is_finite() && inverse.slope > 0.0)
    }

    /// The signal that is never reached; `None` without stray light.
    pub fn plateau(&self) -> Option<f64> {
        (self.s > 0.0).then(|| libm::log10((1.0 + self.s) / self.s))
    }
}

/// The least-squares problem in (q, s), with q = k times the frame's width.
struct Problem<'a> {
    frame: Frame,
    points: &'a Points,
    weights: Vec<f64>,
}

/// The QR decomposition of the weighted Jacobian, with what a step needs.
#[derive(Clone, Copy, Debug)]
struct Linear {
    /// Upper triangle: elements (0, 0), (0, 1), (1, 1).
    r: [f64; 3],
    /// Q' times the weighted residuals.
    right: [f64; 2],
    /// First column of Q' times a weighted one at every point, and the second.
    ones: [f64; 2],
    cost: f64,
}

impl Problem<'_> {
    fn curve(&self, at: [f64; 2]) -> StrayLight {
        StrayLight { k: at[0] / self.frame.width, s: at[1] }
    }

    fn cost(&self, at: [f64; 2]) -> f64 {
        let curve = self.curve(at);
        let points = self.points.concentrations().iter().zip(self.points.signals()).zip(&self.weights);
        points
            .map(|((x, y), w)| {
                let rest = y - curve.signal(*x);
                w * rest * rest
            })
            .sum()
    }

    /// `None` where the points do not tell the two parameters apart.
    fn linear(&self, at: [f64; 2]) -> Option<Linear> {
        let curve = self.curve(at);
        // Gram and Schmidt by turns: with two columns the second pass over the first suffices.
        let row = |(x, w): (&f64, &f64)| {
            let [by_k, by_s] = curve.gradient(*x);
            let root = w.sqrt();
            [root * by_k / self.frame.width, root * by_s]
        };
        let rows: Vec<[f64; 2]> = self.points.concentrations().iter().zip(&self.weights).map(row).collect();
        let roots: Vec<f64> = self.weights.iter().map(|w| w.sqrt()).collect();
        let residuals: Vec<f64> = (self.points.concentrations().iter().zip(self.points.signals()).zip(&roots))
            .map(|((x, y), root)| root * (y - curve.signal(*x)))
            .collect();
        let r00 = rows.iter().map(|row| row[0] * row[0]).sum::<f64>().sqrt();
        let r01 = rows.iter().map(|row| row[0] * row[1]).sum::<f64>() / r00;
        let second: Vec<f64> = rows.iter().map(|row| row[1] - r01 * row[0] / r00).collect();
        let r11 = second.iter().map(|v| v * v).sum::<f64>().sqrt();
        let size = rows.iter().map(|row| row[1] * row[1]).sum::<f64>().sqrt();
        if !(r00 > 0.0 && r11 > 1e-13 * size) {
            return None;
        }
        let against = |v: &[f64]| {
            let first = rows.iter().zip(v).map(|(row, v)| row[0] * v).sum::<f64>() / r00;
            let rest = second.iter().zip(v).map(|(q, v)| q * v).sum::<f64>() / r11;
            [first, rest]
        };
        let cost = residuals.iter().map(|v| v * v).sum();
        Some(Linear { r: [r00, r01, r11], right: against(&residuals), ones: against(&roots), cost })
    }

    /// The step from `at` with Marquardt's damping, inside the bounds: where it would carry s across one, s stops there
    /// and q takes the step that is best for it.
    fn step(linear: &Linear, at: [f64; 2], damping: f64) -> [f64; 2] {
        let [r00, r01, r11] = linear.r;
        let [g0, g1] = [r00 * linear.right[0], r01 * linear.right[0] + r11 * linear.right[1]];
        let mut ds = linear.right[1] / r11;
        if damping > 0.0 {
            let (n00, n11) = (r00 * r00 * (1.0 + damping), (r01 * r01 + r11 * r11) * (1.0 + damping));
            let n01 = r00 * r01;
            ds = (n00 * g1 - n01 * g0) / (n00 * n11 - n01 * n01);
        }
        let s = (at[1] + ds).clamp(0.0, MOST);
        let ds = s - at[1];
        let dq = (linear.right[0] - r01 * ds) / (r00 * (1.0 + damping));
        [(at[0] + dq).max(0.5 * at[0]), s]
    }

    /// Levenberg and Marquardt from a start until the steps are small: the place and the number of steps.
    fn descend(&self, start: [f64; 2]) -> Option<([f64; 2], f64, u32)> {
        let (mut at, mut damping) = (start, 1e-3);
        let mut linear = self.linear(at)?;
        let mut steps = 0;
        while steps < MOST_STEPS && damping < 1e12 {
            steps += 1;
            let next = Self::step(&linear, at, damping);
            let cost = self.cost(next);
            // False for a cost that is NaN.
            if cost <= linear.cost {
                let moved = moved(at, next);
                at = next;
                linear = self.linear(at)?;
                damping *= 0.2;
                if moved < 1e-7 {
                    break;
                }
            } else {
                damping *= 8.0;
            }
        }
        Some((at, linear.cost, steps))
    }
}

const MOST_STEPS: u32 = 200;

/// Relative move of q and move of s, the larger.
fn moved(from: [f64; 2], to: [f64; 2]) -> f64 {
    ((to[0] - from[0]) / from[0]).abs().max((to[1] - from[1]).abs())
}

/// The fit, its weighted sum of squares, and how it ended. `None` where the points do not determine the curve.
///
/// `bent` is the quadratic through zero of the same points, if they determine one: as the curve begins with
/// A = b c - b² s ln(10)/2 c², its coefficients give a start. Others keep a poor quadratic from deciding alone.
pub(super) fn fit(
    frame: Frame,
    points: &Points,
    weights: &[Dd],
    line: &Kernel,
    bent: Option<&Kernel>,
) -> Option<(Kernel, f64, Termination)> {
    let problem = Problem { frame, points, weights: weights.iter().map(|w| w.value()).collect() };
    if line.b.is_nan() || line.b <= 0.0 {
        // No k above zero follows these points; the line that does not rise says so.
        let at = [line.b * frame.width, 0.0];
        let kernel = kernel(&problem, at, &problem.linear(at)?);
        return Some((kernel, problem.cost(at), Termination { converged: true, iterations: 0 }));
    }
    let mut starts: Vec<[f64; 2]> = [0.0, 0.01, 0.1, 0.4].map(|s| [line.b * frame.width * (1.0 + s), s]).to_vec();
    if let Some(bent) = bent.filter(|bent| bent.b > 0.0) {
        let s = (-2.0 * bent.c / (bent.b * bent.b * LN_10)).clamp(0.0, 0.9);
        starts.insert(0, [bent.b * frame.width * (1.0 + s), s]);
    }
    let ends = starts.into_iter().filter_map(|start| problem.descend(start));
    let (mut at, _, mut iterations) = ends.min_by(|a, b| a.1.total_cmp(&b.1))?;

    // Undamped to the rounding of the data, where the cost is too flat to compare.
    let mut termination = Termination { converged: false, iterations };
    let mut last = f64::INFINITY;
    let mut linear = problem.linear(at)?;
    for _ in 0..MOST_STEPS {
        iterations += 1;
        let next = Problem::step(&linear, at, 0.0);
        let moved = moved(at, next);
        if moved.is_nan() || moved > 1e-2 {
            break;
        }
        at = next;
        linear = problem.linear(at)?;
        if moved <= 4.0 * f64::EPSILON || (moved >= last && moved <= 1e-10) {
            termination.converged = true;
            break;
        }
        last = moved;
    }
    termination.iterations = iterations;
    Some((kernel(&problem, at, &linear), linear.cost, termination))
}

fn kernel(problem: &Problem<'_>, at: [f64; 2], linear: &Linear) -> Kernel {
    let [r00, r01, r11] = linear.r;
    // The inverse of the lower factor R' of the normal matrix.
    let inverse = [[1.0 / r00, 0.0], [-r01 / (r00 * r11), 1.0 / r11]];
    let by_s = linear.ones[1] / r11;
    let shift = [(linear.ones[0] - r01 * by_s) / r00, by_s];
    Kernel::of_stray_light(Shape::StrayLight, problem.frame, problem.curve(at), inverse, shift)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const CURVES: [StrayLight; 4] = [
        StrayLight { k: 0.11, s: 0.0 },
        StrayLight { k: 0.11, s: 0.02 },
        StrayLight { k: 3.0, s: 0.3 },
        StrayLight { k: 1e-3, s: 1e-9 },
    ];

    /// Central differences lose half the digits and their own third-order term: 1e-7.
    #[test]
    fn derivatives_agree_with_differences() {
        for curve in CURVES {
            for a in [0.01, 0.3, 0.8, 1.5] {
                let x = a / curve.k;
                let h = 1e-5;
                let of = |k: f64, s: f64, x: f64| StrayLight { k, s }.signal(x);
                let (k, s) = (curve.k, curve.s.max(2.0 * h));
                let here = StrayLight { k, s };
                let by_x = (of(k, s, x * (1.0 + h)) - of(k, s, x * (1.0 - h))) / (2.0 * h * x);
                let by_k = (of(k * (1.0 + h), s, x) - of(k * (1.0 - h), s, x)) / (2.0 * h * k);
                let by_s = (of(k, s + h, x) - of(k, s - h, x)) / (2.0 * h);
                assert_relative_eq!(here.slope(x), by_x, max_relative = 1e-7);
                assert_relative_eq!(here.gradient(x)[0], by_k, max_relative = 1e-7);
                // s itself may be as small as the difference; the third derivative is large where T + s is small.
                assert_relative_eq!(here.gradient(x)[1], by_s, max_relative = 1e-5);
            }
        }
    }

    #[test]
    fn without_stray_light_it_is_a_line() {
        let curve = CURVES[0];
        for x in [-1e4, -3.0, 1e-9, 0.5, 8.0, 1000.0] {
            assert_relative_eq!(curve.signal(x), 0.11 * x, max_relative = 4e-15);
            assert_relative_eq!(curve.slope(x), 0.11, max_relative = 1e-15);
        }
        assert_eq!(curve.plateau(), None);
    }

    /// Near the plateau the inverse is ill-conditioned by the inverse of the slope, which the tolerance follows.
    #[test]
    fn the_inverse_undoes_the_curve_up_to_the_plateau() {
        for curve in CURVES {
            for a in [-400.0, -2.0, -1e-6, 1e-12, 0.01, 0.5, 1.0, 2.0, 4.0] {
                let x = a / curve.k;
                let y = curve.signal(x);
                if curve.slope(x) / curve.k < 1e-6 {
                    continue;
                }
                let back = curve.invert(y).unwrap();
                let tolerance = 1e-14 * (curve.k / curve.slope(x)).max(1.0);
                assert_relative_eq!(back.x, x, max_relative = tolerance);
            }
            if let Some(plateau) = curve.plateau() {
                assert_eq!(curve.invert(plateau * (1.0 + 1e-12)), None);
                assert!(curve.signal(1e3 / curve.k) <= plateau * (1.0 + 1e-15));
                assert_relative_eq!(curve.signal(1e3 / curve.k), plateau, max_relative = 1e-12);
            }
        }
        assert_eq!(StrayLight { k: -1.0, s: 0.0 }.invert(0.1), None);
        assert_eq!(CURVES[1].invert(f64::NAN), None);
    }

    #[test]
    fn far_out_nothing_overflows() {
        let curve = CURVES[2];
        for x in [-1e6, 1e6] {
            assert!(curve.signal(x).is_finite() && curve.slope(x).is_finite());
            assert!(curve.gradient(x).iter().all(|d| d.is_finite()));
        }
        assert_relative_eq!(curve.gradient(1e6)[1], -1.0 / (0.3 * 1.3 * LN_10), max_relative = 1e-14);
    }
}
