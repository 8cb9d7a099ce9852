//! A series of standard additions, extrapolated to a signal of zero.

use std::sync::Arc;

use super::noise;
use super::options::{SeriesOptions, Volumes};
use super::sources::{self, Move};
use super::{compare, validity};
use crate::curve::{Calibration, PointKind, Points};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{CalibrationId, Coverage, Dof, Estimate, Estimates, IntervalMethod, IntervalSet, Key, Square};
use crate::finding::{Code, Finding, Subject};

/// A series of standard additions: a line through signals against additions, and where it meets a signal of zero.
///
/// The concentration found is intercept over slope, signed, in the unit of the additions. Its standard uncertainty is
/// that of the extrapolated point alone, (s/b) sqrt(1/n + ybar²/(b² Sxx)) for the plain line, without a part for a
/// reading (there is none) and with the degrees of freedom of s.
///
/// ```
/// use groundstate::addition::{Series, SeriesOptions};
/// use groundstate::curve::Points;
/// # fn main() -> Result<(), groundstate::Error> {
/// let points = Points::from_readings(&[0.0, 0.5, 1.0, 1.5], &[0.0840, 0.1262, 0.1671, 0.2090])?;
/// let series = Series::fit(&points, &SeriesOptions::default())?;
/// let found = series.estimate();
/// assert!((found.value - 1.01).abs() < 0.01 && found.u < 0.02);
/// # Ok(()) }
/// ```
#[derive(Clone, Debug)]
pub struct Series {
    line: Arc<Calibration>,
    options: SeriesOptions,
    id: CalibrationId,
    moves: Vec<Move>,
    solution: Estimates,
    sample: Option<Estimates>,
    findings: Vec<Finding>,
}

impl Series {
    /// Evaluates `points`, whose "concentrations" are the additions as [`Volumes`] says: readings, or solutions with
    /// the mean of their readings.
    ///
    /// A line that does not rise is no error: the estimate then has the status `not_calibrated` and no value.
    ///
    /// # Errors
    /// Fewer than two different additions; volumes or standard deviations that do not go with the points; pooled
    /// replicates with a changing volume.
    pub fn fit(points: &Points, options: &SeriesOptions) -> Result<Series, Error> {
        check(options)?;
        let growth = growth(&options.volumes, points)?;
        let scaled = match &options.volumes {
            Volumes::Equal => points.clone(),
            Volumes::Changing { initial, .. } => {
                points.rescaled(initial.value(), |i| growth.get(i).copied().unwrap_or(1.0))
            }
        };
        let fitted = noise::fit(&scaled, &growth, &options.noise, options.unit)?;
        let line = Arc::new(fitted.line);
        let found = noise::extrapolated(&line);
        if found.is_some_and(|found| !found.is_finite()) {
            return Err(Error::argument("absorbance", "the line meets zero at no finite concentration"));
        }
        let id = sources::identity(&line, options);
        let moves = found.map_or_else(Vec::new, |found| sources::of(&line, options, &growth, found, id));
        let (solution, sample) = sources::estimates(found, &moves, options, id)?;
        let mut findings = line.findings().to_vec();
        if let Some(level) = fitted.held_below {
            let finding = Finding::new(Code::NoiseFloor, Subject::Run);
            findings.push(finding.with("level", level).with("unit", options.unit.name()));
        }
        if !fitted.settled {
            findings.push(Finding::new(Code::FitStoppedEarly, Subject::Run).with("iterations", 200usize));
        }
        let mut series = Series { line, options: options.clone(), id, moves, solution, sample, findings };
        let judged = validity::findings(&series);
        series.findings.extend(judged);
        Ok(series)
    }

    /// Concentration in the measured solution (in V0 of it before the additions, where the volume changes).
    pub fn estimate(&self) -> Estimate {
        one(&self.solution)
    }

    /// Concentration in the sample, where [`SeriesOptions::aliquot`] says how the solution was made from it.
    pub fn sample(&self) -> Option<Estimate> {
        self.sample.as_ref().map(one)
    }

    /// The concentration in the measured solution with the contributions of its sources.
    pub fn estimates(&self) -> &Estimates {
        &self.solution
    }

    /// The concentration in the sample with the contributions of its sources.
    pub fn sample_estimates(&self) -> Option<&Estimates> {
        self.sample.as_ref()
    }

    /// Coverage set of the concentration in the measured solution.
    pub fn interval(&self, coverage: Coverage, method: IntervalMethod) -> IntervalSet {
        self.set(&self.solution, coverage, method, 1.0, 0.0)
    }

    /// Coverage set of the concentration in the sample.
    pub fn sample_interval(&self, coverage: Coverage, method: IntervalMethod) -> Option<IntervalSet> {
        let (sample, aliquot) = (self.sample.as_ref()?, self.options.aliquot.as_ref()?);
        let relative = [&aliquot.sample, &aliquot.made_up_to].map(|volume| volume.relative_u());
        let variance = relative.iter().map(|u| u * u).sum();
        Some(self.set(sample, coverage, method, aliquot.factor(), variance))
    }

    fn set(
        &self,
        of: &Estimates,
        coverage: Coverage,
        method: IntervalMethod,
        factor: f64,
        factor_variance: f64,
    ) -> IntervalSet {
        let estimate = one(of);
        match method {
            _ if !estimate.status.has_value() => IntervalSet::Empty,
            IntervalMethod::Delta => of.interval(coverage).sets.first().copied().unwrap_or(IntervalSet::Empty),
            IntervalMethod::Inversion => match estimate.dof.coverage_factor(coverage) {
                k if k.is_finite() => sources::ratio(&self.line, &self.moves, factor, factor_variance).set(k),
                _ => IntervalSet::Whole,
            },
        }
    }

    /// The fitted line: signals (times V/V0) against additions (over V0). Its covariance lacks what zero, stocks and
    /// volumes add to the estimate.
    pub fn line(&self) -> &Arc<Calibration> {
        &self.line
    }

    /// Identity of the series, by which its sources are known.
    pub fn id(&self) -> CalibrationId {
        self.id
    }

    /// How it was evaluated.
    pub fn options(&self) -> &SeriesOptions {
        &self.options
    }

    /// Intercept and slope.
    pub fn coefficients(&self) -> Vec<f64> {
        self.line.coefficients()
    }

    /// Covariance matrix of intercept and slope, from the scatter.
    pub fn covariance(&self) -> Square {
        self.line.covariance()
    }

    /// Correlation coefficient r of signals and additions, unweighted, over the points fitted. `None` below three
    /// different additions, where it says nothing, and where all signals are equal.
    pub fn r(&self) -> Option<f64> {
        validity::correlation(self.line.points())
    }

    /// What the points fitted are.
    pub fn over(&self) -> PointKind {
        self.line.over()
    }

    /// Slope of the series over that of an external calibration at zero, in common units, with a test of their
    /// equality (Welch). An error that both share through the same stock cancels.
    ///
    /// # Errors
    /// A calibration of mass fractions; a slope that does not rise, or without a standard uncertainty.
    pub fn slope_ratio(&self, external: &Calibration) -> Result<compare::SlopeRatio, Error> {
        if !self.line.serves() {
            let problem = Problem::new(Place::named("absorbance"), "the addition series does not rise");
            return Err(Error::new(Kind::NotAvailable, problem));
        }
        compare::series_to_external(&self.line, &self.moves, external)
    }

    /// V/V0 of every point fitted.
    pub(crate) fn growth(&self) -> Result<Vec<f64>, Error> {
        growth(&self.options.volumes, self.line.points())
    }

    /// The independent relative errors of the initial volume: key, degrees of freedom, standard uncertainty.
    pub(crate) fn initial_volume(&self) -> Vec<(Key, Dof, f64)> {
        match &self.options.volumes {
            Volumes::Changing { initial, .. } => sources::initial_volume(initial, &self.options, self.id),
            Volumes::Equal => Vec::new(),
        }
    }

    /// What was noticed, in order.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}

/// The only row of `estimates`.
fn one(estimates: &Estimates) -> Estimate {
    let none =
        Estimate { value: f64::NAN, u: f64::NAN, dof: Dof::NONE, status: crate::estimate::Status::NotCalibrated };
    estimates.get(0).unwrap_or(none)
}

/// V/V0 of every point.
fn growth(volumes: &Volumes, points: &Points) -> Result<Vec<f64>, Error> {
    let Volumes::Changing { initial, added } = volumes else { return Ok(vec![1.0; points.len()]) };
    if added.len() != points.len() {
        let what = format!("{} volumes added for {} points", added.len(), points.len());
        return Err(Error::argument("volumes", what).help("give the volume added in all before each point, 0 for none"));
    }
    let mut problems = Vec::new();
    for (i, v) in added.iter().enumerate().filter(|(_, v)| !(v.is_finite() && **v >= 0.0)) {
        let what = format!("{v} (element {i}) is not a volume added: a number from 0 up is needed");
        problems.push(Problem::new(Place::named("volumes"), what));
    }
    let growth = added.iter().map(|v| (initial.value() + v) / initial.value()).collect();
    Error::unless_empty(Kind::Argument, problems, growth)
}

fn check(options: &SeriesOptions) -> Result<(), Error> {
    let u = options.zeroing.u();
    if !(u.is_finite() && u >= 0.0) {
        return Err(Error::argument("zeroing", format!("{u} is not a standard uncertainty")));
    }
    match options.stocks.iter().find(|stock| !(stock.relative_u.is_finite() && stock.relative_u >= 0.0)) {
        Some(stock) => {
            let what = format!("{} is not a relative standard uncertainty", stock.relative_u);
            Err(Error::argument("stock", what))
        }
        None => Ok(()),
    }
}
