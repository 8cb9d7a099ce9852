//! A calibration fitted again to signals and concentrations moved by their errors: one trial of a Monte Carlo.

use super::Shape;
use super::calibration::{Calibration, fitted};
use super::distance_fit;
use super::kernel::Kernel;
use super::points::Points;
use super::readings::Readings;
use super::solve::Frame;
use super::standards_error::{StandardsError, Variances};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Dof;
use crate::numeric::dd::Dd;

/// How a calibration answers to errors of its points. The weights stay those of the fit.
pub(crate) struct Refit {
    points: Points,
    weights: Vec<Dd>,
    kernel: Kernel,
    /// What an error of one in each point's signal does to the coefficients of 1, x, x²: with fixed weights the fit of
    /// a polynomial without errors of the concentrations is linear in the signals, so these say all. `None` where it
    /// is not.
    influence: Option<Vec<[f64; 3]>>,
    variances: Option<Variances>,
    calibration: Calibration,
}

/// A curve of one trial.
pub(crate) struct Moved(Kernel);

/// The variance of a reading by the estimates it rests on, in units of the signal squared.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ReadingError {
    /// On the scale of the calibration.
    pub scale: f64,
    /// On the scatter within its standards; negative where the sample has more readings than these.
    pub within: f64,
    /// Given with the reading, and its degrees of freedom.
    pub given: f64,
    pub given_dof: Dof,
}

impl Refit {
    pub fn of(calibration: &Calibration) -> Result<Refit, Error> {
        let points = calibration.points().clone();
        let weights: Vec<Dd> = calibration.weights().iter().map(|w| Dd::from(*w)).collect();
        let frame = calibration.kernel.frame;
        let none = || {
            let what = "the calibration cannot be fitted again to moved signals";
            Error::new(Kind::Calibration, Problem::new(Place::named("calibration"), what))
        };
        let influence = |moved: usize| {
            let y = (0..points.len()).map(|i| f64::from(u8::from(i == moved))).collect();
            let unit = points.moved(points.concentrations().to_vec(), y);
            let (kernel, ..) = fitted(calibration.shape(), frame, &unit, &weights)?;
            Some([kernel.a, kernel.b, kernel.c])
        };
        let linear = calibration.shape() != Shape::StrayLight
            && calibration.options().standards_error == StandardsError::Negligible;
        let influence = match linear {
            true => Some((0..points.len()).map(influence).collect::<Option<Vec<_>>>().ok_or_else(none)?),
            false => None,
        };
        let variances = match &calibration.options().standards_error {
            StandardsError::Negligible => None,
            errors => Some(errors.of(points.len(), calibration.unit_variance_of_x())?),
        };
        Ok(Refit {
            points,
            weights,
            kernel: calibration.kernel,
            influence,
            variances,
            calibration: calibration.clone(),
        })
    }

    /// What an error of one in each point's signal does to the coefficients of 1, x, x²; `None` where the curve must be
    /// fitted anew.
    pub fn influence(&self) -> Option<&[[f64; 3]]> {
        self.influence.as_deref()
    }

    /// The curve at the best estimates.
    pub fn kernel(&self) -> &Kernel {
        &self.kernel
    }

    pub fn points(&self) -> &Points {
        &self.points
    }

    /// Standard deviations of the points' signals.
    pub fn signal_sds(&self) -> Vec<f64> {
        let variance = self.calibration.scale().variance;
        self.weights.iter().map(|w| (variance / w.value()).sqrt()).collect()
    }

    /// A factor F of the covariance F Fᵀ of the errors of the concentrations that the fit allows for, row by row;
    /// `None` where it allows for none.
    pub fn concentration_factor(&self) -> Option<Vec<Vec<f64>>> {
        let n = self.points.len();
        // The fit holds them for unit scale.
        let scaled = |v: f64| v * self.calibration.scale().variance;
        match self.variances.as_ref()? {
            Variances::Diagonal(each) => Some(
                (0..n).map(|i| (0..n).map(|j| if i == j { scaled(each[i]).sqrt() } else { 0.0 }).collect()).collect(),
            ),
            Variances::Full(all) => Some(factor(n, |i, j| scaled(all[i * n + j]))),
        }
    }

    /// The curve for signals moved by `errors`; `None` where they determine none.
    pub fn signals_moved(&self, errors: &[f64]) -> Option<Moved> {
        let Some(influence) = &self.influence else { return self.all_moved(errors, &vec![0.0; errors.len()]) };
        let mut kernel = self.kernel;
        for (error, influence) in errors.iter().zip(influence) {
            kernel.a += error * influence[0];
            kernel.b += error * influence[1];
            kernel.c += error * influence[2];
        }
        Some(Moved(kernel))
    }

    /// The curve for signals and concentrations moved by `errors` and `x_errors`; `None` where they determine none.
    pub fn all_moved(&self, errors: &[f64], x_errors: &[f64]) -> Option<Moved> {
        let add = |values: &[f64], errors: &[f64]| values.iter().zip(errors).map(|(v, e)| v + e).collect::<Vec<f64>>();
        let points = self.points.moved(add(self.points.concentrations(), x_errors), add(self.points.signals(), errors));
        let shape = self.calibration.shape();
        let frame = Frame::of(points.concentrations(), !shape.through_zero());
        let kernel = match &self.variances {
            None => fitted(shape, frame, &points, &self.weights)?.0,
            Some(variances) => {
                let convention = self.calibration.options().convention;
                distance_fit::fit(shape, frame, &points, &self.weights, variances, convention)?.0
            }
        };
        Some(Moved(kernel))
    }

    /// The error of reading `i` at concentration `x`.
    pub fn reading_error(&self, readings: &Readings, i: usize, x: f64) -> ReadingError {
        let parts = self.calibration.reading_parts(&readings.at(i), x);
        ReadingError {
            scale: parts.scale,
            within: parts.within,
            given: parts.given,
            given_dof: parts.given_dof.unwrap_or(Dof::INFINITE),
        }
    }

    /// Degrees of freedom of the scatter within standards.
    pub fn within_dof(&self) -> Dof {
        self.calibration.within.map_or(Dof::INFINITE, |within| Dof::count(within.dof))
    }
}

impl Moved {
    /// The concentration of `signal`; `None` where the curve does not reach it or does not rise.
    pub fn concentration(&self, signal: f64) -> Option<f64> {
        self.0.invert(signal).map(|found| found.x).filter(|x| x.is_finite())
    }
}

/// Lower Cholesky factor of a covariance matrix, which may be singular: a column without a pivot is zero.
fn factor(n: usize, covariance: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
    let mut l = vec![vec![0.0; n]; n];
    for j in 0..n {
        let rest = covariance(j, j) - l[j][..j].iter().map(|v| v * v).sum::<f64>();
        // What rounding leaves of a variance that others explain in full.
        if rest <= 1e-12 * covariance(j, j) {
            continue;
        }
        l[j][j] = rest.sqrt();
        for i in j + 1..n {
            let dot: f64 = l[i][..j].iter().zip(&l[j][..j]).map(|(a, b)| a * b).sum();
            l[i][j] = (covariance(i, j) - dot) / l[j][j];
        }
    }
    l
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::{FitOptions, Noise, Shape, Sigmas};

    /// The shortcut is the fit itself, but for the rounding of a sum of a few terms.
    #[test]
    fn moved_signals_give_the_curve_that_a_new_fit_gives() {
        let (x, y) = ([0.5, 1.0, 2.0, 3.0, 4.0], [0.055, 0.108, 0.209, 0.302, 0.388]);
        let errors = [0.001, -0.002, 0.0005, 0.0015, -0.001];
        let moved: Vec<f64> = y.iter().zip(errors).map(|(y, e)| y + e).collect();
        for shape in [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero] {
            for noise in [Noise::Equal, Noise::InverseX2] {
                let options = FitOptions { shape, noise, ..FitOptions::default() };
                let fit = |y: &[f64]| Calibration::fit(&Points::from_readings(&x, y).unwrap(), &options).unwrap();
                let (first, again) = (fit(&y), fit(&moved));
                let refit = Refit::of(&first).unwrap();
                let quick = refit.signals_moved(&errors).unwrap().concentration(0.25).unwrap();
                let full = refit.all_moved(&errors, &[0.0; 5]).unwrap().concentration(0.25).unwrap();
                let expected = again.kernel.invert(0.25).unwrap().x;
                assert!((quick / expected - 1.0).abs() < 1e-13 && (full / expected - 1.0).abs() < 1e-13);
            }
        }
    }

    #[test]
    fn errors_of_concentrations_are_drawn_with_their_covariance() {
        let rows = vec![vec![4e-4, 2e-4, 0.0], vec![2e-4, 4e-4, 0.0], vec![0.0, 0.0, 0.0]];
        let options = FitOptions {
            noise: Noise::KnownSigma(Sigmas::new(&[0.002]).unwrap()),
            standards_error: StandardsError::covariance(&rows).unwrap(),
            ..FitOptions::default()
        };
        let points = Points::from_readings(&[1.0, 2.0, 3.0], &[0.1, 0.2, 0.3]).unwrap();
        let l = Refit::of(&Calibration::fit(&points, &options).unwrap()).unwrap().concentration_factor().unwrap();
        for i in 0..3 {
            for j in 0..3 {
                let product: f64 = (0..3).map(|k| l[i][k] * l[j][k]).sum();
                assert!((product - rows[i][j]).abs() < 1e-18, "{i} {j} {product}");
            }
        }
    }
}
