//! A fitted calibration function.

use std::sync::OnceLock;

use super::distance_fit::{self, Termination};
use super::kernel::Kernel;
use super::options::{FitOptions, OnBadCurve, Zeroing};
use super::points::{PointKind, Points};
use super::solve::{self, Frame};
use super::standards_error::StandardsError;
use super::weighing::{Scale, ScaleFrom, VarianceFunction, Within, weigh, without_zero};
use super::{Shape, identity, replicated, stray_light};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{CalibrationId, Dof, Square};
use crate::finding::{Code, Finding, Subject};
use crate::numeric::dd::Dd;
use crate::unit::Unit;

/// A calibration function y = f(x) with its covariance, range and findings.
///
/// ```
/// use groundstate::curve::{Calibration, FitOptions, Points, Readings};
/// # fn main() -> Result<(), groundstate::Error> {
/// let points = Points::from_readings(&[0.0, 0.5, 1.0, 2.0], &[0.0004, 0.0562, 0.1125, 0.2238])?;
/// let calibration = std::sync::Arc::new(Calibration::fit(&points, &FitOptions::default())?);
/// let sample = calibration.concentration(&Readings::new(&[0.0871]))?;
/// let estimate = sample.get(0).unwrap();
/// assert!((estimate.value - 0.776).abs() < 0.001 && estimate.u < 0.01);
/// # Ok(()) }
/// ```
#[derive(Clone, Debug)]
pub struct Calibration {
    /// Worked out when it is asked for.
    id: OnceLock<CalibrationId>,
    points: Points,
    options: FitOptions,
    pub(crate) kernel: Kernel,
    weights: Vec<f64>,
    sse: f64,
    termination: Option<Termination>,
    scale: Scale,
    pub(crate) variance: VarianceFunction,
    pub(crate) within: Option<Within>,
    lowest: f64,
    top: f64,
    serves: bool,
    /// What was noticed while fitting.
    noticed: Vec<Finding>,
    /// Everything that there is to notice, worked out when it is asked for.
    findings: OnceLock<Vec<Finding>>,
}

/// The mean signal of a calibration at one concentration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Response {
    /// Signal.
    pub value: f64,
    /// Its standard uncertainty, from the coefficients alone.
    pub u: f64,
    /// Degrees of freedom.
    pub dof: Dof,
}

impl Calibration {
    /// Fits `points` as `options` say, by weighted least squares, exactly to the last digit or two of the result.
    ///
    /// # Errors
    /// Fewer levels or points than coefficients; weights that a zero level does not have; sigmas that do not go with
    /// the points; a curve that does not rise or turns inside its range, unless
    /// [`OnBadCurve::Flag`] is chosen.
    pub fn fit(points: &Points, options: &FitOptions) -> Result<Calibration, Error> {
        let mut findings = Vec::new();
        let (points, noise, standards_error) = without_zero(points, options, &mut findings)?;
        let shape = options.shape;
        let levels = points.levels();
        enough(&points, &levels, shape)?;
        let weighing = weigh(&points, &noise, options, &levels)?;
        let frame = Frame::of(points.concentrations(), !shape.through_zero());
        let undetermined = || {
            let what = format!("the levels do not determine a {}", shape.name().replace('_', " "));
            Error::argument("concentration", what).help("spread the standards further apart")
        };
        if shape == Shape::StrayLight {
            no_offset(&points, &options.zeroing, &standards_error, &mut findings)?;
        }
        let (plain, plain_sse, ended) = fitted(shape, frame, &points, &weighing.weights).ok_or_else(undetermined)?;
        let (kernel, sse, termination) = match &standards_error {
            StandardsError::Negligible => (plain, plain_sse, ended),
            errors => {
                let unit = weighing.unit_variance(&noise)?;
                let variances = errors.of(points.len(), unit)?;
                let (kernel, sse, termination) =
                    distance_fit::fit(shape, frame, &points, &weighing.weights, &variances, options.convention)
                        .ok_or_else(undetermined)?;
                (kernel, sse, Some(termination))
            }
        };
        let dof = Dof::count(points.len() - shape.parameters());
        let scale = weighing.scale.unwrap_or(Scale {
            variance: if dof.get() > 0.0 { sse / dof.get() } else { f64::NAN },
            dof,
            estimate: ScaleFrom::Residuals,
        });
        let within = replicated::within(&points, &noise, weighing.variance);
        // Only errors of standards that were left out make it differ from that of what is kept.
        let id = match options.standards_error {
            StandardsError::Negligible => OnceLock::new(),
            _ => OnceLock::from(identity::of(&points, options, &noise)),
        };
        let mut calibration = Calibration {
            id,
            lowest: levels.iter().copied().find(|x| *x > 0.0).unwrap_or(0.0),
            top: levels.last().copied().unwrap_or(0.0),
            weights: weighing.weights.iter().map(|w| w.value()).collect(),
            points,
            options: FitOptions { noise, standards_error, ..options.clone() },
            kernel,
            sse,
            termination,
            scale,
            variance: weighing.variance,
            within,
            serves: true,
            noticed: findings,
            findings: OnceLock::new(),
        };
        calibration.judge(levels.first().copied().unwrap_or(0.0))?;
        if let Some(finding) = calibration.weight_of_standards_error(&plain, plain_sse) {
            calibration.findings =
                OnceLock::from(calibration.all_findings().into_iter().chain([finding]).collect::<Vec<_>>());
        }
        Ok(calibration)
    }

    /// The calibration that was once fitted to `points`, with what was noticed then: levels at zero that were left
    /// out are no longer among its points.
    #[cfg(feature = "serde")]
    pub(crate) fn restored(
        points: &Points,
        options: &FitOptions,
        findings: Vec<Finding>,
    ) -> Result<Calibration, Error> {
        Ok(Calibration { findings: OnceLock::from(findings), ..Calibration::fit(points, options)? })
    }

    /// Notices where allowing for errors of the standards, shared ones included, changes the u of a single reading's
    /// concentration by more than a tenth somewhere in the range, against the `plain` fit that ignores them.
    fn weight_of_standards_error(&self, plain: &Kernel, plain_sse: f64) -> Option<Finding> {
        let stocks: f64 = self.options.stocks.iter().map(|stock| stock.relative_u * stock.relative_u).sum();
        if self.options.standards_error == StandardsError::Negligible && stocks <= 0.0 {
            return None;
        }
        // Where the scale is estimated, the plain fit takes errors of the standards for scatter of the readings.
        let plain_scale = match self.scale.estimate {
            ScaleFrom::Residuals => plain_sse / self.residual_dof() as f64,
            _ => self.scale.variance,
        };
        let variance = |x: f64| match self.variance {
            VarianceFunction::Unknown => 1.0 / self.weight_near(x),
            known => known.at(x),
        };
        let zero = self.options.zeroing.u();
        let u = |kernel: &Kernel, scale: f64, x: f64, shared: f64| {
            let (slope, zero) = (kernel.slope(x), zero * (1.0 - kernel.shift(x)));
            let signal = scale * (kernel.spread(x) + variance(x)) + zero * zero;
            (signal / (slope * slope) + shared * x * x).sqrt()
        };
        let change = |x: f64| u(&self.kernel, self.scale.variance, x, stocks) / u(plain, plain_scale, x, 0.0) - 1.0;
        let changes = [self.lowest, 0.5 * (self.lowest + self.top), self.top].map(change);
        let largest = changes.into_iter().fold(0.0_f64, |most, now| if now.abs() > most.abs() { now } else { most });
        let finding = Finding::new(Code::StandardsErrorMatters, Subject::Calibration(1));
        let finding = finding.with("percent", 100.0 * largest.abs());
        (largest.abs() > 0.1).then(|| finding.with("misstate", if largest > 0.0 { "understate" } else { "overstate" }))
    }

    /// Weight of the point nearest to `x`.
    fn weight_near(&self, x: f64) -> f64 {
        let near = self.points.concentrations().iter().map(|level| (level - x).abs()).zip(&self.weights);
        near.min_by(|(a, _), (b, _)| a.total_cmp(b)).map_or(f64::NAN, |(_, weight)| *weight)
    }

    /// Notices a curve that cannot serve, over its range from `start`, and refuses it where the options say so.
    fn judge(&mut self, start: f64) -> Result<(), Error> {
        let subject = Subject::Calibration(1);
        let slope = self.kernel.slope(start);
        let turning = || self.turning_point().filter(|x| *x > start && *x <= self.top);
        let finding = if slope.is_nan() || slope <= 0.0 {
            Finding::new(Code::NotRising, subject).with("slope", slope)
        } else if let Some(turning) = turning() {
            let finding = Finding::new(Code::TurnsInRange, subject);
            finding.with("turning", turning).with("top", self.top).with("unit", self.options.unit.name())
        } else {
            return Ok(());
        };
        if self.options.on_bad_curve == OnBadCurve::Refuse {
            let problem = Problem::new(Place::named("absorbance"), finding.sentence())
                .help("check the order of levels and signals, drop levels above the turn, or ask for it to be flagged");
            return Err(Error::new(Kind::Calibration, problem));
        }
        self.serves = false;
        self.noticed.push(finding);
        Ok(())
    }

    /// What was noticed while fitting, and what the fitted curve shows.
    fn all_findings(&self) -> Vec<Finding> {
        let subject = Subject::Calibration(1);
        let mut findings = self.noticed.clone();
        if let Some(ended) = self.termination.filter(|ended| !ended.converged) {
            let finding = Finding::new(Code::FitStoppedEarly, subject.clone());
            findings.push(finding.with("iterations", ended.iterations));
        }
        if let Some(curve) = self.kernel.stray_light.filter(|curve| curve.s <= 0.0 || curve.s >= stray_light::MOST) {
            let finding = Finding::new(Code::StrayLightAtBound, subject.clone()).with("s", curve.s);
            let low = "the standards show no bend, and a line through zero says the same";
            let high = "that is no stray light; look at the standards";
            findings.push(finding.with("advice", if curve.s <= 0.0 { low } else { high }));
        }
        if self.scale.dof.get() <= 0.0 {
            findings.push(Finding::new(Code::NoScatterLeft, subject).with("count", self.points.len()));
        } else if self.scale.estimate == ScaleFrom::Residuals && self.is_perfect() {
            findings.push(Finding::new(Code::PerfectFit, subject));
        } else if self.points.kind() == PointKind::Readings
            && let Some(test) = self.lack_of_fit().filter(|test| test.p < 0.05)
        {
            let finding = Finding::new(Code::StandardsDisagree, subject);
            findings.push(finding.with("statistic", test.statistic).with("p", test.p));
        }
        findings
    }

    /// Whether the points lie on the curve to the last digits of their signals, so that what scatter is left is that
    /// of rounding.
    fn is_perfect(&self) -> bool {
        let largest = self.points.signals().iter().fold(0.0_f64, |largest, y| largest.max(y.abs()));
        self.residuals().iter().all(|residual| residual.abs() <= 4.0 * f64::EPSILON * largest)
    }

    /// Variance of the signal in which the fit expressed errors of the standards: what [`Weighing::unit_variance`]
    /// gave it.
    pub(super) fn unit_variance_of_x(&self) -> f64 {
        if self.scale.estimate == ScaleFrom::Residuals { 1.0 } else { self.scale.variance }
    }

    /// Identity, from content.
    pub fn id(&self) -> CalibrationId {
        *self.id.get_or_init(|| identity::of(&self.points, &self.options, &self.options.noise))
    }

    /// The points fitted.
    pub fn points(&self) -> &Points {
        &self.points
    }

    /// How it was fitted; sigmas are those of the fitted points.
    pub fn options(&self) -> &FitOptions {
        &self.options
    }

    /// The shape.
    pub fn shape(&self) -> Shape {
        self.options.shape
    }

    /// Unit of concentrations.
    pub fn unit(&self) -> Unit {
        self.options.unit
    }

    /// Fitted coefficients in ascending powers of concentration; a through-zero shape has no intercept to list. Of
    /// [`Shape::StrayLight`] k, per unit of concentration, and s.
    pub fn coefficients(&self) -> Vec<f64> {
        self.kernel.coefficients()
    }

    /// Covariance of the coefficients.
    pub fn covariance(&self) -> Square {
        let size = self.shape().parameters();
        Square::from_fn(size, |i, j| self.kernel.unit_covariance(i, j) * self.scale.variance)
    }

    /// Standard errors of the coefficients.
    pub fn standard_errors(&self) -> Vec<f64> {
        let sd = self.scale.variance.sqrt();
        (0..self.shape().parameters()).map(|i| self.kernel.unit_covariance(i, i).sqrt() * sd).collect()
    }

    /// Weighted sum of squared residuals.
    pub fn sum_of_squares(&self) -> f64 {
        self.sse
    }

    /// Residual standard deviation, of a point of unit weight; `None` without degrees of freedom.
    pub fn residual_sd(&self) -> Option<f64> {
        let dof = self.residual_dof();
        (dof > 0).then(|| (self.sse / dof as f64).sqrt())
    }

    /// How an iterated fit ended; `None` for one that needs no iteration.
    pub fn termination(&self) -> Option<Termination> {
        self.termination
    }

    /// Chi-squared of the residuals, where their standard deviations are known.
    pub fn chi_squared(&self) -> Option<f64> {
        (self.scale.estimate == ScaleFrom::Known).then_some(self.sse)
    }

    /// Points less coefficients.
    pub fn residual_dof(&self) -> usize {
        self.points.len() - self.shape().parameters()
    }

    /// The scale of the variances: its degrees of freedom are those of every u that rests on this calibration alone.
    pub fn scale(&self) -> Scale {
        self.scale
    }

    /// The weights of the points, inverse variances for unit scale.
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Lowest non-zero standard used.
    pub fn lowest(&self) -> f64 {
        self.lowest
    }

    /// Top standard used.
    pub fn top(&self) -> f64 {
        self.top
    }

    /// Where the curve turns; `None` for one that does not.
    pub fn turning_point(&self) -> Option<f64> {
        self.kernel.turning_point()
    }

    /// The highest signal that a concentration belongs to; `None` where there is no such bound.
    pub fn ceiling(&self) -> Option<f64> {
        self.kernel.ceiling()
    }

    /// Whether the slope keeps its sign from the lowest point to the top one.
    pub fn is_monotonic(&self) -> bool {
        let levels = self.points.levels();
        let ends = [levels.first(), levels.last()].map(|x| x.map_or(0.0, |x| self.kernel.slope(*x)));
        ends[0] * ends[1] > 0.0
    }

    /// Whether it can turn readings into concentrations.
    pub fn serves(&self) -> bool {
        self.serves
    }

    /// Concentration of 1 % absorption, 0.0044 over the slope at zero, never a chord: 0.0044 (1 + s)/k with stray light (SW-846 Chapter Three, section 3.1, which
    /// prints "transmission of 1 %" and means absorption).
    pub fn characteristic_concentration(&self) -> Option<f64> {
        (self.kernel.b > 0.0).then(|| 0.0044 / self.kernel.b)
    }

    /// What was noticed, in order.
    pub fn findings(&self) -> &[Finding] {
        self.findings.get_or_init(|| self.all_findings())
    }

    /// Mean signal at `concentration` with the standard uncertainty of the curve there.
    pub fn response(&self, concentration: f64) -> Response {
        Response {
            value: self.kernel.signal(concentration),
            u: (self.scale.variance * self.kernel.spread(concentration)).sqrt(),
            dof: self.scale.dof,
        }
    }
}

/// The fit's kernel, its weighted sum of squares, and how an iteration ended.
pub(super) fn fitted(
    shape: Shape,
    frame: Frame,
    points: &Points,
    weights: &[Dd],
) -> Option<(Kernel, f64, Option<Termination>)> {
    if shape != Shape::StrayLight {
        return solved(shape, frame, points, weights).map(|(kernel, sse)| (kernel, sse, None));
    }
    let (line, _) = solved(Shape::LineThroughZero, frame, points, weights)?;
    let bent = solved(Shape::QuadraticThroughZero, frame, points, weights).map(|(kernel, _)| kernel);
    let (kernel, sse, termination) = stray_light::fit(frame, points, weights, &line, bent.as_ref())?;
    Some((kernel, sse, Some(termination)))
}

/// A curve with stray light has no offset: its signals must have been zeroed.
fn no_offset(
    points: &Points,
    zeroing: &Zeroing,
    standards_error: &StandardsError,
    findings: &mut Vec<Finding>,
) -> Result<(), Error> {
    if *standards_error != StandardsError::Negligible {
        let what = "errors of single standards are not offered with the shape stray_light";
        let problem = Problem::new(Place::named("x_uncertainty"), what);
        return Err(Error::new(Kind::NotAvailable, problem.help("name the stock they share, or use a polynomial")));
    }
    if *zeroing != Zeroing::Raw {
        return Ok(());
    }
    let blanks = || points.concentrations().iter().zip(points.signals()).filter(|(x, _)| **x <= 0.0).map(|(_, y)| *y);
    if let Some(y) = blanks().find(|y| y.abs() > 0.0) {
        let what = format!("the zero level reads {y}, but the shape stray_light has no offset and the signals are raw");
        return Err(Error::argument("zeroing", what)
            .help("subtract the blank and say blank_subtracted with its standard uncertainty, or autozeroed"));
    }
    if blanks().next().is_none() {
        findings.push(Finding::new(Code::ZeroAssumed, Subject::Calibration(1)).with("shape", "stray_light"));
    }
    Ok(())
}

/// The kernel and weighted sum of squares of a polynomial; `None` of another shape.
pub(super) fn solved(shape: Shape, frame: Frame, points: &Points, weights: &[Dd]) -> Option<(Kernel, f64)> {
    fn of<const P: usize>(shape: Shape, frame: Frame, points: &Points, weights: &[Dd]) -> Option<(Kernel, f64)> {
        let first = usize::from(shape.through_zero());
        let (x, y) = (points.concentrations(), points.signals());
        let solution = solve::fit::<P>(frame, first, x, y, |i| weights[i])?;
        Some((Kernel::new(shape, frame, &solution), solution.sse.value()))
    }
    match shape {
        Shape::LineThroughZero => of::<1>(shape, frame, points, weights),
        Shape::Line | Shape::QuadraticThroughZero => of::<2>(shape, frame, points, weights),
        Shape::Quadratic => of::<3>(shape, frame, points, weights),
        Shape::StrayLight => None,
    }
}

fn enough(points: &Points, levels: &[f64], shape: Shape) -> Result<(), Error> {
    // A level at zero tells nothing of a curve that is fixed there.
    let telling = levels.iter().filter(|x| !shape.through_zero() || **x > 0.0).count();
    let needed = shape.parameters();
    if telling < needed || points.len() < needed {
        let what = format!(
            "{telling} level{} cannot determine the {needed} coefficient{} of a {}",
            if telling == 1 { "" } else { "s" },
            if needed == 1 { "" } else { "s" },
            shape.name().replace('_', " ")
        );
        return Err(Error::argument("concentration", what).help("add standards, or choose a simpler shape"));
    }
    Ok(())
}
