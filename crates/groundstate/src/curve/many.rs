//! Many calibrations with errors in both variables at once: coefficients and covariance, nothing else.
//!
//! Each step is the weighted fit of the distance regression (see `distance_fit`), here in plain double precision on
//! centred and scaled concentrations, on the stack and for some calibrations abreast (see `abreast`). It has the same
//! fixed point; [`Calibration::fit`] finds it in double-double and says more about it.
//!
//! [`Calibration::fit`]: super::Calibration::fit

use std::num::NonZeroUsize;

use super::Shape;
use super::abreast::{Abreast, MOST_LEVELS};
use crate::error::{Error, Kind, Place, Problem};
use crate::numeric::real::{LANES, Lanes, Real};
use crate::numeric::threads::{Pool, Work, widest};

/// Calibrations that a thread takes at a time.
const SHARE: usize = 32 * LANES;
/// Below so many points, some tenths of a millisecond of work, a thread costs more than it saves.
const WORTH_A_THREAD: usize = 1 << 14;

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

    /// Puts the figures of the calibrations that `run` numbers, a lane each, where `part` says in the element of `to`
    /// that their level has.
    #[inline(always)]
    pub(super) fn abreast<T>(&self, run: impl Fn(usize) -> usize, to: &mut [T], part: impl Fn(&mut T) -> &mut Lanes) {
        let levels = to.len();
        match self {
            Levels::One(figure) => to.iter_mut().for_each(|to| *part(to) = Lanes::of(*figure)),
            Levels::Row(row) => to.iter_mut().zip(*row).for_each(|(to, figure)| *part(to) = Lanes::of(*figure)),
            Levels::Each(all) => {
                for lane in 0..LANES {
                    let from = all.iter().skip(run(lane) * levels);
                    to.iter_mut().zip(from).for_each(|(to, figure)| part(to).0[lane] = *figure);
                }
            }
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
        .map(|((coefficients, covariance), (chi_squared, status))| ManyOut {
            coefficients,
            covariance,
            chi_squared,
            status,
        })
        .enumerate()
        .map(|(share, out)| (share * SHARE, out))
        .collect();
    let threads = if points.signal.len() < WORTH_A_THREAD { NonZeroUsize::MIN } else { threads };
    Pool::new(threads).each(&mut shares, |(from, out)| widest(Share::<P, FIRST> { points, from: *from, out }));
    Ok(())
}

/// Calibrations that are one thread's alone.
struct Share<'a, 'b, const P: usize, const FIRST: usize> {
    points: &'a ManyPoints<'a>,
    /// The first of them.
    from: usize,
    out: &'a mut ManyOut<'b>,
}

impl<const P: usize, const FIRST: usize> Work for Share<'_, '_, P, FIRST> {
    type Output = ();

    #[inline(always)]
    fn done(self) {
        let Share { points, from, out } = self;
        let mut here = Abreast::new(points.levels);
        let groups = (out.coefficients.chunks_mut(P * LANES))
            .zip(out.covariance.chunks_mut(P * P * LANES))
            .zip(out.chi_squared.chunks_mut(LANES).zip(out.status.chunks_mut(LANES)));
        for (k, ((coefficients, covariance), (chi_squared, status))) in groups.enumerate() {
            let count = status.len();
            let found = here.fit::<P, FIRST>(points, from + k * LANES, count);
            for l in 0..count {
                for i in 0..P {
                    coefficients[l * P + i] = found.coefficients[i].0[l];
                    for j in 0..P {
                        covariance[(l * P + i) * P + j] = found.covariance[i][j].0[l];
                    }
                }
                chi_squared[l] = found.chi_squared.0[l];
                status[l] = found.status[l] as u8;
            }
        }
    }
}
