//! Generalised distance regression: errors in the standards as well as in the readings.
//!
//! Minimises the sum of (x - ξ)ᵀ Ux⁻¹ (x - ξ) + Σ (y - f(ξ))² w over the true concentrations ξ and the coefficients.
//! With f made linear at the current ξ, eliminating ξ leaves a weighted fit of y - f'(ξ)(x - ξ) at ξ whose variance
//! is 1/w + f' Ux f'; each step is therefore the library's own linear fit, and its fixed point is the exact solution
//! (York 1969, Earth Planet. Sci. Lett. 5, 320, for the line; ISO/TS 28037:2010, clauses 7 and 10, from memory).

#![allow(clippy::needless_range_loop)] // matrices read best by their indices

use nalgebra::{DMatrix, DVector};

use super::Shape;
use super::kernel::Kernel;
use super::points::Points;
use super::solve::{self, Frame, Solution};
use super::standards_error::{CovarianceConvention, Variances};
use crate::numeric::dd::Dd;

/// How an iterated fit ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Termination {
    /// Whether the steps became smaller than the rounding of the data.
    pub converged: bool,
    /// Number of steps.
    pub iterations: u32,
}

const MOST_STEPS: u32 = 500;

/// The fit, its weighted sum of squares, and how it ended. `None` where the points do not determine the curve.
pub(super) fn fit(
    shape: Shape,
    frame: Frame,
    points: &Points,
    weights: &[Dd],
    variances: &Variances,
    convention: CovarianceConvention,
) -> Option<(Kernel, f64, Termination)> {
    match shape {
        Shape::LineThroughZero => of::<1>(shape, frame, points, weights, variances, convention),
        Shape::Line | Shape::QuadraticThroughZero => of::<2>(shape, frame, points, weights, variances, convention),
        Shape::Quadratic => of::<3>(shape, frame, points, weights, variances, convention),
        Shape::StrayLight => None,
    }
}

fn of<const P: usize>(
    shape: Shape,
    frame: Frame,
    points: &Points,
    weights: &[Dd],
    variances: &Variances,
    convention: CovarianceConvention,
) -> Option<(Kernel, f64, Termination)> {
    let first = usize::from(shape.through_zero());
    let (x, y) = (points.concentrations(), points.signals());
    let start = solve::fit::<P>(frame, first, x, y, |i| weights[i])?;
    let mut kernel = Kernel::new(shape, frame, &start);
    let mut adjusted = x.to_vec();
    let mut termination = Termination { converged: false, iterations: 0 };
    let mut solution = start;
    let reach = x.iter().fold(0.0_f64, |reach, x| reach.max(x.abs()));
    let mut last = f64::INFINITY;
    for step in 1..=MOST_STEPS {
        let slopes: Vec<f64> = adjusted.iter().map(|x| kernel.slope(*x)).collect();
        let signals: Vec<f64> = (0..x.len()).map(|i| y[i] - slopes[i] * (x[i] - adjusted[i])).collect();
        solution = match variances {
            Variances::Diagonal(ux2) => {
                let weight = |i: usize| weights[i] / (Dd::ONE + weights[i] * Dd::from(slopes[i] * slopes[i] * ux2[i]));
                solve::fit::<P>(frame, first, &adjusted, &signals, weight)?
            }
            Variances::Full(ux) => correlated::<P>(frame, first, &adjusted, &signals, &slopes, weights, ux)?,
        };
        kernel = Kernel::new(shape, frame, &solution);
        let moved = adjust(&kernel, x, y, weights, variances, &mut adjusted);
        termination.iterations = step;
        // The steps shrink geometrically until rounding takes over; then no further step helps.
        if moved <= 4.0 * f64::EPSILON * reach || (moved >= last && moved <= 1e-12 * reach) {
            termination.converged = true;
            break;
        }
        last = moved;
    }
    let sse = distance(&kernel, x, y, weights, variances, &adjusted);
    if convention != CovarianceConvention::ExpectedInformation {
        let covariance =
            exact_covariance::<P>(&kernel, first, x, y, weights, &variances.matrix(), &adjusted, convention)?;
        solution.inverse = factor_of(&covariance)?;
        kernel = Kernel::new(shape, frame, &solution);
    }
    Some((kernel, sse, termination))
}

/// Moves the true concentrations to their best values under the curve; returns the largest move.
fn adjust(kernel: &Kernel, x: &[f64], y: &[f64], weights: &[Dd], variances: &Variances, adjusted: &mut [f64]) -> f64 {
    let slopes: Vec<f64> = adjusted.iter().map(|x| kernel.slope(*x)).collect();
    let rest: Vec<f64> =
        (0..x.len()).map(|i| (y[i] - kernel.signal(adjusted[i])) - slopes[i] * (x[i] - adjusted[i])).collect();
    let next: Vec<f64> = match variances {
        Variances::Diagonal(ux2) => (0..x.len())
            .map(|i| {
                let w = weights[i].value();
                x[i] + ux2[i] * slopes[i] * w * rest[i] / (1.0 + w * slopes[i] * slopes[i] * ux2[i])
            })
            .collect(),
        Variances::Full(ux) => {
            let n = x.len();
            let Some(pull) = combined(&slopes, weights, ux).cholesky().map(|c| c.solve(&DVector::from_vec(rest)))
            else {
                return 0.0;
            };
            (0..n).map(|i| x[i] + (0..n).map(|j| ux[i * n + j] * slopes[j] * pull[j]).sum::<f64>()).collect()
        }
    };
    let moved = adjusted.iter().zip(&next).fold(0.0_f64, |most, (old, new)| most.max((old - new).abs()));
    adjusted.copy_from_slice(&next);
    moved
}

/// Variance of the signals that remain after eliminating the true concentrations: 1/w + f' Ux f'.
fn combined(slopes: &[f64], weights: &[Dd], ux: &[f64]) -> DMatrix<f64> {
    let n = slopes.len();
    DMatrix::from_fn(n, n, |i, j| {
        let own = if i == j { 1.0 / weights[i].value() } else { 0.0 };
        own + slopes[i] * ux[i * n + j] * slopes[j]
    })
}

/// One linear step with correlated errors, whitened by the Cholesky factor of the combined variance.
fn correlated<const P: usize>(
    frame: Frame,
    first: usize,
    x: &[f64],
    y: &[f64],
    slopes: &[f64],
    weights: &[Dd],
    ux: &[f64],
) -> Option<Solution<P>> {
    let n = x.len();
    let cholesky = combined(slopes, weights, ux).cholesky()?;
    let design = DMatrix::from_fn(n, P, |i, k| {
        let t = frame.of_x(x[i]);
        (0..first + k).fold(1.0, |power, _| power * t)
    });
    let pulled = cholesky.solve(&design);
    let normal = design.transpose() * &pulled;
    let right = pulled.transpose() * DVector::from_column_slice(y);
    let ones = pulled.transpose() * DVector::from_element(n, 1.0);
    let column = |v: &DVector<f64>| std::array::from_fn(|k| Dd::from(v[k]));
    solve::from_normal(|i, j| Dd::from(normal[(i, j)]), &column(&right), &column(&ones))
}

/// The minimum of the objective.
fn distance(kernel: &Kernel, x: &[f64], y: &[f64], weights: &[Dd], variances: &Variances, adjusted: &[f64]) -> f64 {
    let rest: Vec<f64> = (0..x.len()).map(|i| y[i] - kernel.signal(adjusted[i])).collect();
    let slopes: Vec<f64> = adjusted.iter().map(|x| kernel.slope(*x)).collect();
    match variances {
        Variances::Diagonal(ux2) => (0..x.len())
            .map(|i| {
                let w = weights[i].value();
                let linear = rest[i] - slopes[i] * (x[i] - adjusted[i]);
                linear * linear * w / (1.0 + w * slopes[i] * slopes[i] * ux2[i])
            })
            .sum(),
        Variances::Full(ux) => {
            let linear = DVector::from_fn(x.len(), |i, _| rest[i] - slopes[i] * (x[i] - adjusted[i]));
            combined(&slopes, weights, ux).cholesky().map_or(f64::NAN, |c| linear.dot(&c.solve(&linear)))
        }
    }
}

/// Covariance of the frame's coefficients by the second derivatives of the profiled sum of squares, or by
/// propagating the data's variances through the solution.
#[allow(clippy::too_many_arguments)]
fn exact_covariance<const P: usize>(
    kernel: &Kernel,
    first: usize,
    x: &[f64],
    y: &[f64],
    weights: &[Dd],
    ux: &DMatrix<f64>,
    adjusted: &[f64],
    convention: CovarianceConvention,
) -> Option<[[f64; P]; P]> {
    let (n, width, bend) = (x.len(), kernel.frame.width, 2.0 * kernel.c);
    let t = |i: usize| kernel.frame.of_x(adjusted[i]);
    let basis = DMatrix::from_fn(n, P, |i, k| (0..first + k).fold(1.0, |power, _| power * t(i)));
    let slope_of = DMatrix::from_fn(n, P, |i, k| match first + k {
        0 => 0.0,
        degree => degree as f64 / width * (1..degree).fold(1.0, |power, _| power * t(i)),
    });
    let w = DVector::from_fn(n, |i, _| weights[i].value());
    let slope = DVector::from_fn(n, |i, _| kernel.slope(adjusted[i]));
    let pull = DVector::from_fn(n, |i, _| (y[i] - kernel.signal(adjusted[i])) * w[i]);
    // The true concentrations are where ξ - x = Ux (pull f'): an exact standard stays put. Differentiated, with
    // d(pull f') = w f' (dy - basis dβ) + pull slope_of dβ - (w f'² - pull f'') dξ.
    let tied = DMatrix::identity(n, n)
        + DMatrix::from_fn(n, n, |i, j| ux[(i, j)] * (w[j] * slope[j] * slope[j] - pull[j] * bend));
    let tied = tied.lu();
    let by_beta = DMatrix::from_fn(n, P, |i, b| pull[i] * slope_of[(i, b)] - w[i] * slope[i] * basis[(i, b)]);
    let xi_beta = tied.solve(&(ux * by_beta))?;
    let xi_y = tied.solve(&(ux * DMatrix::from_diagonal(&w.component_mul(&slope))))?;
    let xi_x = tied.solve(&DMatrix::identity(n, n))?;
    // Half the gradient of the sum of squares is -basisᵀ pull.
    let by_xi = DMatrix::from_fn(P, n, |a, i| w[i] * slope[i] * basis[(i, a)] - pull[i] * slope_of[(i, a)]);
    let weighted = DMatrix::from_fn(P, n, |a, i| w[i] * basis[(i, a)]);
    let hessian = &weighted * &basis + &by_xi * xi_beta;
    let inverse = hessian.try_inverse()?;
    let covariance = match convention {
        CovarianceConvention::FirstOrderPropagation => {
            let y_moves = &inverse * (&by_xi * xi_y - weighted);
            let x_moves = &inverse * (by_xi * xi_x);
            let of_y = DMatrix::from_fn(P, n, |a, i| y_moves[(a, i)] / w[i]);
            of_y * y_moves.transpose() + &x_moves * ux * x_moves.transpose()
        }
        _ => inverse,
    };
    Some(std::array::from_fn(|i| std::array::from_fn(|j| 0.5 * (covariance[(i, j)] + covariance[(j, i)]))))
}

/// The lower factor Lᵢ with covariance = Lᵢᵀ Lᵢ: Cholesky from the last row up.
fn factor_of<const P: usize>(covariance: &[[f64; P]; P]) -> Option<[[Dd; P]; P]> {
    let mut lower = [[Dd::ZERO; P]; P];
    for i in (0..P).rev() {
        for j in (0..=i).rev() {
            let mut rest = Dd::from(covariance[i][j]);
            for k in i + 1..P {
                rest = rest - lower[k][i] * lower[k][j];
            }
            if i == j {
                if rest.hi.is_nan() || rest.hi <= 0.0 {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[i][i];
            }
        }
    }
    Some(lower)
}
