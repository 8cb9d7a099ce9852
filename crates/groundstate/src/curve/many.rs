//! Many calibrations with errors in both variables at once: coefficients and covariance, nothing else.
//!
//! Each step is the weighted fit of the distance regression (see `distance_fit`), here in plain double precision on
//! centred and scaled concentrations and on the stack. It has the same fixed point; [`Calibration::fit`] finds it in
//! double-double and says more about it.
//!
//! [`Calibration::fit`]: super::Calibration::fit
#![allow(clippy::needless_range_loop)] // matrices read best by their indices

use std::num::NonZeroUsize;

use super::Shape;
use super::solve::Frame;
use crate::error::{Error, Kind, Place, Problem};
use crate::numeric::threads::Pool;

/// The most levels of one calibration.
const MOST_LEVELS: usize = 64;
const MOST_STEPS: u32 = 200;
/// Calibrations that a thread takes at a time.
const SHARE: usize = 256;

/// Figures of the levels of many calibrations.
#[derive(Clone, Copy, Debug)]
pub enum Levels<'a> {
    /// One for all.
    One(f64),
    /// One a level, the same for every calibration.
    Row(&'a [f64]),
    /// Calibration after calibration, one a level.
    Each(&'a [f64]),
}

impl Levels<'_> {
    /// The figure of level `level` of `levels` in calibration `run`.
    pub(crate) fn at(&self, run: usize, levels: usize, level: usize) -> f64 {
        match self {
            Levels::One(figure) => *figure,
            Levels::Row(row) => row.get(level).copied().unwrap_or(f64::NAN),
            Levels::Each(all) => all.get(run * levels + level).copied().unwrap_or(f64::NAN),
        }
    }

    /// Whether there is a figure for each of `levels` levels of `runs` calibrations.
    pub(crate) fn fits(&self, runs: usize, levels: usize) -> bool {
        match self {
            Levels::One(_) => true,
            Levels::Row(row) => row.len() == levels,
            Levels::Each(all) => all.len() == runs * levels,
        }
    }

    fn fill(&self, run: usize, to: &mut [f64]) {
        match self {
            Levels::One(figure) => to.fill(*figure),
            Levels::Row(row) => to.copy_from_slice(row),
            Levels::Each(all) => to.copy_from_slice(&all[run * to.len()..(run + 1) * to.len()]),
        }
    }

    fn all(&self, holds: impl Fn(f64) -> bool) -> bool {
        match self {
            Levels::One(figure) => holds(*figure),
            Levels::Row(figures) | Levels::Each(figures) => figures.iter().all(|figure| holds(*figure)),
        }
    }
}

/// Points of many calibrations of equally many levels.
#[derive(Clone, Copy, Debug)]
pub struct ManyPoints<'a> {
    /// Number of levels of each calibration.
    pub levels: usize,
    /// Concentrations of the standards.
    pub concentration: Levels<'a>,
    /// Signals, calibration after calibration.
    pub signal: &'a [f64],
    /// Standard uncertainties of the concentrations, from 0 up.
    pub concentration_u: Levels<'a>,
    /// Standard uncertainties of the signals, above 0.
    pub signal_u: Levels<'a>,
}

/// How one of many fits ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum ManyStatus {
    /// Converged.
    Fitted,
    /// The last step was still larger than rounding.
    NotConverged,
    /// The points do not determine the curve, or a figure is missing: no coefficients.
    Undetermined,
}

impl ManyStatus {
    /// Every status, in order of its code.
    pub const ALL: [ManyStatus; 3] = [ManyStatus::Fitted, ManyStatus::NotConverged, ManyStatus::Undetermined];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            ManyStatus::Fitted => "fitted",
            ManyStatus::NotConverged => "not_converged",
            ManyStatus::Undetermined => "undetermined",
        }
    }
}

/// Where the figures of many fits go.
#[derive(Debug)]
pub struct ManyOut<'a> {
    /// Coefficients in ascending powers of concentration, as many a calibration as the shape has.
    pub coefficients: &'a mut [f64],
    /// Covariance matrices of the coefficients, row by row (expected information, as `Calibration::covariance` has it
    /// by default).
    pub covariance: &'a mut [f64],
    /// Minima of the sum of squares, chi-squared.
    pub chi_squared: &'a mut [f64],
    /// How each fit ended, as the place in [`ManyStatus::ALL`].
    pub status: &'a mut [u8],
}

/// Fits a polynomial to each of many sets of points with known standard uncertainties in both variables. NaN where
/// there is no solution. The number of threads (one without the feature `parallel`) changes no bit.
///
/// ```
/// use groundstate::curve::{Levels, ManyOut, ManyPoints, Shape, fit_many};
///
/// let points = ManyPoints {
///     levels: 3,
///     concentration: Levels::Row(&[0.0, 1.0, 2.0]),
///     signal: &[0.1, 0.3, 0.5, 0.2, 0.3, 0.4],
///     concentration_u: Levels::One(0.01),
///     signal_u: Levels::One(0.002),
/// };
/// let (mut coefficients, mut covariance, mut chi_squared, mut status) = ([0.0; 4], [0.0; 8], [0.0; 2], [9; 2]);
/// let out = ManyOut {
///     coefficients: &mut coefficients,
///     covariance: &mut covariance,
///     chi_squared: &mut chi_squared,
///     status: &mut status,
/// };
/// fit_many(Shape::Line, &points, std::num::NonZeroUsize::MIN, out)?;
/// assert!((coefficients[1] - 0.2).abs() < 1e-12 && (coefficients[3] - 0.1).abs() < 1e-12);
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// Arrays that do not go together, more than 64 levels, a standard uncertainty that is none, and a shape that is no
/// polynomial.
pub fn fit_many(shape: Shape, points: &ManyPoints<'_>, threads: NonZeroUsize, out: ManyOut<'_>) -> Result<(), Error> {
    match shape {
        Shape::LineThroughZero => run::<1, 1>(shape, points, threads, out),
        Shape::Line => run::<2, 0>(shape, points, threads, out),
        Shape::QuadraticThroughZero => run::<2, 1>(shape, points, threads, out),
        Shape::Quadratic => run::<3, 0>(shape, points, threads, out),
        Shape::StrayLight => {
            let what = "many curves with stray light are not fitted at once";
            Err(Error::new(Kind::NotAvailable, Problem::new(Place::named("shape"), what).help("fit one after another")))
        }
    }
}

fn check(shape: Shape, points: &ManyPoints<'_>, out: &ManyOut<'_>) -> Result<usize, Error> {
    let (levels, p) = (points.levels, shape.parameters());
    let mut problems = Vec::new();
    let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
    if levels < p || levels > MOST_LEVELS {
        wrong("concentration", format!("{levels} levels: a {} here takes {p} to {MOST_LEVELS}", shape.name()));
    }
    let runs = points.signal.len() / levels.max(1);
    if runs * levels != points.signal.len() {
        wrong("absorbance", format!("{} signals do not make calibrations of {levels} levels", points.signal.len()));
    }
    let given = [
        ("concentration", points.concentration),
        ("x_uncertainty", points.concentration_u),
        ("y_uncertainty", points.signal_u),
    ];
    for (name, figures) in given.iter().filter(|(_, figures)| !figures.fits(runs, levels)) {
        let _ = figures;
        wrong(name, format!("the figures do not go with {runs} calibrations of {levels} levels"));
    }
    if !points.concentration_u.all(|u| u >= 0.0 && u.is_finite()) {
        wrong("x_uncertainty", "a standard uncertainty is a number from 0 up".to_owned());
    }
    if !points.signal_u.all(|u| u > 0.0 && u.is_finite()) {
        wrong("y_uncertainty", "the standard uncertainty of a signal is a number above 0".to_owned());
    }
    let lengths = [
        ("coefficients", out.coefficients.len(), runs * p),
        ("covariance", out.covariance.len(), runs * p * p),
        ("chi_squared", out.chi_squared.len(), runs),
        ("status", out.status.len(), runs),
    ];
    for (name, length, needed) in lengths.into_iter().filter(|(_, length, needed)| length != needed) {
        wrong(name, format!("an array of {length} elements where {needed} are needed"));
    }
    Error::unless_empty(Kind::Argument, problems, runs)
}

fn run<const P: usize, const FIRST: usize>(
    shape: Shape,
    points: &ManyPoints<'_>,
    threads: NonZeroUsize,
    out: ManyOut<'_>,
) -> Result<(), Error> {
    check(shape, points, &out)?;
    let mut shares: Vec<_> = (out.coefficients.chunks_mut(P * SHARE))
        .zip(out.covariance.chunks_mut(P * P * SHARE))
        .zip(out.chi_squared.chunks_mut(SHARE).zip(out.status.chunks_mut(SHARE)))
        .enumerate()
        .collect();
    Pool::new(threads).each(&mut shares, |(share, ((coefficients, covariance), (chi_squared, status)))| {
        let mut here = Here::default();
        let each = coefficients
            .chunks_mut(P)
            .zip(covariance.chunks_mut(P * P))
            .zip(chi_squared.iter_mut().zip(status.iter_mut()));
        for (k, ((coefficients, covariance), (chi_squared, status))) in each.enumerate() {
            let found = here.take(points, *share * SHARE + k).and_then(|()| here.fit::<P, FIRST>(points.levels));
            let (fitted, ended) = match found {
                Some((fitted, true)) => (fitted, ManyStatus::Fitted),
                Some((fitted, false)) => (fitted, ManyStatus::NotConverged),
                None => (Fitted::nothing(), ManyStatus::Undetermined),
            };
            coefficients.copy_from_slice(&fitted.coefficients);
            covariance.copy_from_slice(fitted.covariance.as_flattened());
            *chi_squared = fitted.chi_squared;
            *status = ended as u8;
        }
    });
    Ok(())
}

struct Fitted<const P: usize> {
    coefficients: [f64; P],
    covariance: [[f64; P]; P],
    chi_squared: f64,
}

impl<const P: usize> Fitted<P> {
    fn nothing() -> Self {
        Fitted { coefficients: [f64::NAN; P], covariance: [[f64::NAN; P]; P], chi_squared: f64::NAN }
    }
}

/// The points of one calibration.
struct Here {
    x: [f64; MOST_LEVELS],
    y: [f64; MOST_LEVELS],
    /// Variances of the concentrations.
    ux2: [f64; MOST_LEVELS],
    /// Inverse variances of the signals.
    w: [f64; MOST_LEVELS],
    /// The true concentrations as they are known so far.
    adjusted: [f64; MOST_LEVELS],
}

impl Default for Here {
    fn default() -> Self {
        let none = [0.0; MOST_LEVELS];
        Here { x: none, y: none, ux2: none, w: none, adjusted: none }
    }
}

impl Here {
    /// Takes the points of calibration `run`; nothing where a figure is missing.
    fn take(&mut self, points: &ManyPoints<'_>, run: usize) -> Option<()> {
        let n = points.levels;
        points.concentration.fill(run, &mut self.x[..n]);
        self.y[..n].copy_from_slice(&points.signal[run * n..(run + 1) * n]);
        points.concentration_u.fill(run, &mut self.ux2[..n]);
        points.signal_u.fill(run, &mut self.w[..n]);
        self.ux2[..n].iter_mut().for_each(|u| *u *= *u);
        self.w[..n].iter_mut().for_each(|u| *u = 1.0 / (*u * *u));
        (0..n).all(|i| self.x[i].is_finite() && self.y[i].is_finite() && self.w[i].is_finite()).then_some(())
    }

    /// The fit, and whether it converged.
    fn fit<const P: usize, const FIRST: usize>(&mut self, n: usize) -> Option<(Fitted<P>, bool)> {
        let Here { x, y, ux2, w, adjusted } = self;
        let (x, y, ux2, w, adjusted) = (&mut x[..n], &y[..n], &mut ux2[..n], &w[..n], &mut adjusted[..n]);
        let frame = Frame::of(x, FIRST == 0);
        // From here on concentrations are those of the frame.
        let per = 1.0 / frame.width;
        x.iter_mut().for_each(|x| *x = (*x - frame.centre) * per);
        ux2.iter_mut().for_each(|u2| *u2 *= per * per);
        adjusted.copy_from_slice(x);
        let mut normal = Normal::<P, FIRST>::default();
        for i in 0..n {
            normal.add(x[i], y[i], w[i]);
        }
        let (mut beta, mut inverse) = normal.solve()?;
        let (mut converged, mut last) = (false, f64::INFINITY);
        for _ in 0..MOST_STEPS {
            let mut normal = Normal::<P, FIRST>::default();
            for i in 0..n {
                let slope = slope::<P, FIRST>(&beta, adjusted[i]);
                let signal = y[i] - slope * (x[i] - adjusted[i]);
                normal.add(adjusted[i], signal, w[i] / (1.0 + w[i] * slope * slope * ux2[i]));
            }
            (beta, inverse) = normal.solve()?;
            let mut moved = 0.0_f64;
            for i in 0..n {
                let at = adjusted[i];
                let slope = slope::<P, FIRST>(&beta, at);
                let rest = (y[i] - signal::<P, FIRST>(&beta, at)) - slope * (x[i] - at);
                let next = x[i] + ux2[i] * slope * w[i] * rest / (1.0 + w[i] * slope * slope * ux2[i]);
                moved = moved.max((next - at).abs());
                adjusted[i] = next;
            }
            // The steps shrink geometrically until rounding takes over; then no further step helps.
            if moved <= 4.0 * f64::EPSILON || (moved >= last && moved <= 1e-12) {
                converged = true;
                break;
            }
            last = moved;
        }
        let chi_squared = (0..n).map(|i| {
            let slope = slope::<P, FIRST>(&beta, adjusted[i]);
            let rest = (y[i] - signal::<P, FIRST>(&beta, adjusted[i])) - slope * (x[i] - adjusted[i]);
            rest * rest * w[i] / (1.0 + w[i] * slope * slope * ux2[i])
        });
        let chi_squared = chi_squared.sum();
        Some((in_concentrations::<P, FIRST>(frame, &beta, &inverse, chi_squared), converged))
    }
}

/// The polynomial of terms t^FIRST .. at `t`.
#[inline]
fn signal<const P: usize, const FIRST: usize>(beta: &[f64; P], t: f64) -> f64 {
    let sum = beta.iter().rev().fold(0.0, |sum, b| sum * t + b);
    if FIRST == 0 { sum } else { sum * t }
}

/// Its derivative.
#[inline]
fn slope<const P: usize, const FIRST: usize>(beta: &[f64; P], t: f64) -> f64 {
    let term = |k: usize| (k + FIRST) as f64 * beta[k];
    (1 - FIRST..P).rev().fold(0.0, |sum, k| sum * t + term(k))
}

/// Normal equations of a weighted fit.
struct Normal<const P: usize, const FIRST: usize> {
    moments: [f64; 6],
    right: [f64; P],
}

impl<const P: usize, const FIRST: usize> Default for Normal<P, FIRST> {
    fn default() -> Self {
        Normal { moments: [0.0; 6], right: [0.0; P] }
    }
}

impl<const P: usize, const FIRST: usize> Normal<P, FIRST> {
    #[inline]
    fn add(&mut self, t: f64, y: f64, w: f64) {
        let mut power = if FIRST == 0 { w } else { w * t };
        for k in 0..P {
            self.right[k] += power * y;
            if FIRST == 0 {
                self.moments[k] += power;
            }
            power *= t;
            if FIRST == 1 {
                self.moments[k] += power;
            }
        }
        for k in P..2 * P - 1 {
            if FIRST == 0 {
                self.moments[k] += power;
                power *= t;
            } else {
                power *= t;
                self.moments[k] += power;
            }
        }
    }

    /// Coefficients, and the inverse of the lower Cholesky factor.
    #[inline]
    fn solve(&self) -> Option<([f64; P], [[f64; P]; P])> {
        let mut lower = [[0.0; P]; P];
        for i in 0..P {
            for j in 0..=i {
                let mut rest = self.moments[i + j];
                for k in 0..j {
                    rest -= lower[i][k] * lower[j][k];
                }
                if i == j {
                    if rest.is_nan() || rest <= 1e-12 * self.moments[2 * i] {
                        return None;
                    }
                    lower[i][i] = rest.sqrt();
                } else {
                    lower[i][j] = rest / lower[j][j];
                }
            }
        }
        let mut inverse = [[0.0; P]; P];
        for i in 0..P {
            inverse[i][i] = 1.0 / lower[i][i];
            for j in 0..i {
                let sum: f64 = (j..i).map(|k| lower[i][k] * inverse[k][j]).sum();
                inverse[i][j] = -sum * inverse[i][i];
            }
        }
        let forward: [f64; P] = std::array::from_fn(|i| (0..=i).map(|j| inverse[i][j] * self.right[j]).sum());
        let beta = std::array::from_fn(|j| (j..P).map(|i| inverse[i][j] * forward[i]).sum());
        Some((beta, inverse))
    }
}

/// The same in powers of concentration.
fn in_concentrations<const P: usize, const FIRST: usize>(
    frame: Frame,
    beta: &[f64; P],
    inverse: &[[f64; P]; P],
    chi_squared: f64,
) -> Fitted<P> {
    let (per, centre) = (1.0 / frame.width, -frame.centre);
    let to_x = [
        [1.0, centre * per, centre * per * (centre * per)],
        [0.0, per, 2.0 * centre * per * per],
        [0.0, 0.0, per * per],
    ];
    let coefficients = std::array::from_fn(|row| (0..P).map(|k| to_x[row + FIRST][k + FIRST] * beta[k]).sum());
    let half: [[f64; P]; P] = std::array::from_fn(|row| {
        std::array::from_fn(|i| (0..=i).map(|k| to_x[row + FIRST][k + FIRST] * inverse[i][k]).sum())
    });
    let covariance = std::array::from_fn(|i| std::array::from_fn(|j| (0..P).map(|k| half[i][k] * half[j][k]).sum()));
    Fitted { coefficients, covariance, chi_squared }
}
