//! The fitted calibration function.

use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

use groundstate::Error;
use groundstate::curve::{
    Calibration as Core, Concentrations, FTest as CoreTest, FitOptions, Noise, Points, Readings, Scatter, Shape, Sigmas,
};
use groundstate::estimate::{Column, Dof};
use groundstate::finding::{Code, Finding, Subject};
use groundstate::rounding::{Rounding, Rule};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString, PyTuple};

use crate::archive;

use crate::arrays::{Numbers, read_only, square};
use crate::calibrate::{allow_choice, zero_choice};
use crate::error::{OrRaise, raised};
use crate::estimates::{Estimate, Estimates, Origin};
use crate::finding::findings;
use crate::into::Given;
use crate::noise::{Layout, noise};
use crate::package;
use crate::recall::Recall;
use crate::response::{Response, Responses};
use crate::simulate::{self, How, Simulation};

/// A calibration function y = f(x) with its covariance, range and findings. Made by `calibrate`.
///
/// Equal to another when made from the same points in the same way. Arrays of points are in the order of the fitted
/// points, which a zero level that was left out is not among.
#[pyclass(frozen, module = "groundstate")]
pub struct Calibration {
    core: Arc<Core>,
    /// Points and options as they came, before a zero level was left out.
    points: Points,
    options: FitOptions,
    /// Readings of standards that were missing.
    missing: usize,
    /// Points left out by a refit, by their index in the calibration that was refitted.
    excluded: Vec<usize>,
}

/// An F test.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct FTest {
    /// Ratio of mean squares; infinite where the denominator is zero.
    statistic: f64,
    /// Probability of a ratio at least as large if the tested effect is not there.
    p: f64,
    /// Degrees of freedom of the numerator.
    numerator_dof: f64,
    /// Degrees of freedom of the denominator.
    denominator_dof: f64,
}

impl From<CoreTest> for FTest {
    fn from(test: CoreTest) -> Self {
        let CoreTest { statistic, p, numerator_dof, denominator_dof } = test;
        FTest { statistic, p, numerator_dof, denominator_dof }
    }
}

#[pymethods]
impl FTest {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    fn new(statistic: f64, p: f64, numerator_dof: f64, denominator_dof: f64) -> Self {
        FTest { statistic, p, numerator_dof, denominator_dof }
    }

    fn __getnewargs__(&self) -> (f64, f64, f64, f64) {
        (self.statistic, self.p, self.numerator_dof, self.denominator_dof)
    }

    fn __repr__(&self) -> String {
        let FTest { statistic, p, numerator_dof, denominator_dof } = self;
        format!("<FTest F({numerator_dof}, {denominator_dof}) = {statistic:.4}, p = {p:.2e}>")
    }
}

impl Calibration {
    /// Fits and judges.
    pub fn fit(
        py: Python<'_>,
        points: Points,
        options: FitOptions,
        missing: usize,
        excluded: Vec<usize>,
    ) -> PyResult<Self> {
        let core = py.detach(|| Core::fit(&points, &options)).or_raise(py)?;
        Ok(Calibration { core: Arc::new(core), points, options, missing, excluded })
    }

    /// A calibration that a reduction made.
    pub fn of(core: Arc<Core>) -> Self {
        let (points, options) = (core.points().clone(), core.options().clone());
        Calibration { core, points, options, missing: 0, excluded: Vec::new() }
    }

    /// The calibration of the core.
    pub fn core(&self) -> &Arc<Core> {
        &self.core
    }

    /// Points and options as they came.
    pub fn input(&self) -> (&Points, &FitOptions, usize, &[usize]) {
        (&self.points, &self.options, self.missing, &self.excluded)
    }

    /// What was noticed, in order.
    pub fn noticed(&self) -> Vec<Finding> {
        let mut noticed = Vec::new();
        if self.missing > 0 {
            let finding = Finding::new(Code::ReadingsMissing, Subject::Calibration(1));
            noticed.push(finding.with("count", self.missing));
        }
        if !self.excluded.is_empty() {
            let points = self.excluded.iter().map(usize::to_string).collect::<Vec<_>>().join(", ");
            let finding = Finding::new(Code::PointsExcluded, Subject::Calibration(1));
            noticed.push(finding.with("count", self.excluded.len()).with("points", points));
        }
        noticed.extend_from_slice(self.core.findings());
        noticed
    }

    /// Readings from what Python gave.
    fn readings(
        &self,
        absorbance: &Numbers<'_>,
        replicates: Option<&Bound<'_, PyAny>>,
        reading_u: Option<&Bound<'_, PyAny>>,
        scatter: Scatter,
        py: Python<'_>,
    ) -> PyResult<Readings> {
        let readings = match absorbance.width() {
            Some(_) if replicates.is_some() => {
                let what = "a table of samples x readings has its readings counted";
                return Err(raised(py, Error::argument("replicates", what).help("leave replicates out")));
            }
            Some(width) => Readings::of_samples(absorbance.as_slice()?, width, scatter).or_raise(py)?,
            None if scatter == Scatter::Own => {
                let what = "the scatter of a sample's own readings needs the readings";
                let help = "give a table of samples x readings";
                return Err(raised(py, Error::argument("scatter", what).help(help)));
            }
            None => Readings::new(absorbance.as_slice()?),
        };
        let readings = match replicates {
            Some(given) => readings.replicates(counts(given)?),
            None => readings,
        };
        match reading_u {
            Some(_) if scatter == Scatter::Own => {
                let what = "either a standard uncertainty or the sample's own scatter can be used, not both";
                Err(raised(py, Error::argument("reading_u", what)))
            }
            Some(given) => {
                let u = Numbers::of("reading_u", given)?.column("reading_u", py)?;
                Ok(readings.with_u(u, Column::One(Dof::INFINITE)))
            }
            None => Ok(readings),
        }
    }
}

/// Numbers of readings from 1 up: one for all samples, or one each.
fn counts(given: &Bound<'_, PyAny>) -> PyResult<Column<u32>> {
    let py = given.py();
    let column = Numbers::of("replicates", given)?.column("replicates", py)?;
    let count = |number: f64| -> PyResult<u32> {
        if number >= 1.0 && number <= f64::from(u32::MAX) && number.fract().abs() <= 0.0 {
            return Ok(number as u32);
        }
        Err(raised(py, Error::argument("replicates", format!("{number} is not a number of readings from 1 up"))))
    };
    Ok(match column {
        Column::One(number) => Column::One(count(number)?),
        Column::Each(numbers) => Column::Each(numbers.into_iter().map(count).collect::<PyResult<_>>()?),
    })
}

#[pymethods]
impl Calibration {
    /// Identity: a hash of points and options, 16 hexadecimal digits.
    #[getter]
    fn id(&self) -> String {
        self.core.id().to_string()
    }

    /// Shape of the function.
    #[getter]
    fn shape(&self) -> &'static str {
        self.core.shape().name()
    }

    /// Name of the noise model.
    #[getter]
    fn noise(&self) -> &'static str {
        self.core.options().noise.name()
    }

    /// What the points are.
    #[getter]
    fn points(&self) -> &'static str {
        self.core.points().kind().name()
    }

    /// Unit of the concentrations.
    #[getter]
    fn unit(&self) -> &'static str {
        self.core.unit().name()
    }

    /// Concentrations of the points, shape (points,).
    #[getter]
    fn point_concentrations<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.points().concentrations().to_vec()).into_any()
    }

    /// Signals of the points, shape (points,).
    #[getter]
    fn point_signals<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.points().signals().to_vec()).into_any()
    }

    /// How many readings each signal is the mean of, shape (points,).
    #[getter]
    fn point_readings<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.points().readings().to_vec()).into_any()
    }

    /// Weights of the points, inverse variances for unit scale, shape (points,).
    #[getter]
    fn weights<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.weights().to_vec()).into_any()
    }

    /// Fitted coefficients in ascending powers; a through-zero shape has no intercept to list.
    #[getter]
    fn coefficients<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.coefficients()).into_any()
    }

    /// Covariance of the coefficients, shape (coefficients, coefficients).
    #[getter]
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let matrix = self.core.covariance();
        square(py, matrix.size(), matrix.as_slice().to_vec())
    }

    /// Standard errors of the coefficients.
    #[getter]
    fn standard_errors<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.standard_errors()).into_any()
    }

    /// Residual standard deviation of a point of unit weight; None without degrees of freedom.
    #[getter]
    fn residual_sd(&self) -> Option<f64> {
        self.core.residual_sd()
    }

    /// Chi-squared of the residuals where their standard deviations are known; otherwise None.
    #[getter]
    fn chi_squared(&self) -> Option<f64> {
        self.core.chi_squared()
    }

    /// Degrees of freedom of the variance that the standard errors rest on; infinite where it is known.
    #[getter]
    fn dof(&self) -> f64 {
        self.core.scale().dof.get()
    }

    /// Points less coefficients.
    #[getter]
    fn residual_dof(&self) -> usize {
        self.core.residual_dof()
    }

    /// Coefficient of determination of the kind that `r_squared_kind` names; None where all signals are equal.
    #[getter]
    fn r_squared(&self) -> Option<f64> {
        self.core.r_squared().map(|squared| squared.value())
    }

    /// What it is about. The kind about zero, of through-zero shapes, is large whatever the fit.
    #[getter]
    fn r_squared_kind(&self) -> Option<&'static str> {
        self.core.r_squared().map(|squared| squared.kind())
    }

    /// Correlation coefficient of the unweighted line with a free intercept; otherwise None.
    #[getter]
    fn correlation(&self) -> Option<f64> {
        self.core.correlation()
    }

    /// Percent error of each point, shape (points,); NaN at the zero level and beyond the curve.
    #[getter]
    fn percent_error<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.percent_error()).into_any()
    }

    /// Relative standard error in percent over the points above zero; None without degrees of freedom.
    #[getter]
    fn rse(&self) -> Option<f64> {
        self.core.relative_standard_error()
    }

    /// Akaike's information criterion, corrected for few points; None where it is not defined.
    #[getter]
    fn aicc(&self) -> Option<f64> {
        self.core.aicc()
    }

    /// Lowest non-zero standard used.
    #[getter]
    fn lowest(&self) -> f64 {
        self.core.lowest()
    }

    /// Top standard used.
    #[getter]
    fn top(&self) -> f64 {
        self.core.top()
    }

    /// Concentration at which the curve turns; None for a line.
    #[getter]
    fn turning_point(&self) -> Option<f64> {
        self.core.turning_point()
    }

    /// Highest signal that a concentration belongs to; None where there is no such bound.
    #[getter]
    fn ceiling(&self) -> Option<f64> {
        self.core.ceiling()
    }

    /// Concentration of 1 % absorption, 0.0044 over the slope at zero; None where that is not positive.
    #[getter]
    fn characteristic_concentration(&self) -> Option<f64> {
        self.core.characteristic_concentration()
    }

    /// Signal less the curve, shape (points,).
    #[getter]
    fn residuals<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.residuals()).into_any()
    }

    /// Residuals over their own standard deviations, shape (points,); NaN where a leverage is one.
    #[getter]
    fn studentised_residuals<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.studentised_residuals()).into_any()
    }

    /// How much of each signal its own fitted value holds, shape (points,).
    #[getter]
    fn leverages<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.leverages()).into_any()
    }

    /// Cook's distances, shape (points,).
    #[getter]
    fn cooks_distances<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.cooks_distances()).into_any()
    }

    /// Lack of fit against the scatter of points of the same concentration; None without such points.
    fn lack_of_fit(&self) -> Option<FTest> {
        self.core.lack_of_fit().map(FTest::from)
    }

    /// Mandel's test of the quadratic term; None where a quadratic would leave no degree of freedom.
    fn mandel(&self) -> Option<FTest> {
        self.core.mandel().map(FTest::from)
    }

    /// Whether the slope keeps its sign over the range.
    fn is_monotonic(&self) -> bool {
        self.core.is_monotonic()
    }

    /// Whether it can turn readings into concentrations.
    fn serves(&self) -> bool {
        self.core.serves()
    }

    /// What was noticed, in order.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.noticed())
    }

    /// The calibration as HTML for notebooks.
    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "calibration", slf)
    }

    /// Turn readings into concentrations.
    ///
    /// Args:
    ///     absorbance: a number or shape (samples,), one (mean) signal a sample; or (samples, readings), NaN where a
    ///         reading is missing: the mean of each row counts, and its number of readings. A sample without a reading
    ///         has the status "no_reading".
    ///     replicates: how many readings each signal is the mean of, one figure or one a sample; 1 when not given. An
    ///         error with a table, where readings are counted.
    ///     reading_u: standard uncertainty of each signal as passed, in units of the signal, not divided again; it
    ///         replaces the noise model's.
    ///     scatter: "own" takes the scatter of a sample from its own readings, on one less degree of freedom than
    ///         readings.
    ///
    /// Returns:
    ///     An Estimate for a number, otherwise Estimates, in the unit of the calibration. A signal beyond the curve has
    ///     a status and no value; one outside the standards has both.
    ///
    /// Raises:
    ///     ArgumentError: counts or uncertainties that do not go with the signals.
    ///
    /// Source:
    ///     JCGM 100:2008, 5.1.2 and 5.2.2: coefficients with their covariance, and the reading.
    ///
    /// Example:
    ///     >>> import groundstate as gs
    ///     >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
    ///     >>> cal.concentration(0.2871, replicates=3)
    ///     <Estimate 1.3618 ± 0.0031 mg/L>
    #[pyo3(signature = (absorbance, replicates=None, *, reading_u=None, scatter="calibration"))]
    fn concentration<'py>(
        &self,
        absorbance: &Bound<'py, PyAny>,
        replicates: Option<&Bound<'py, PyAny>>,
        reading_u: Option<&Bound<'py, PyAny>>,
        scatter: &str,
    ) -> PyResult<Bound<'py, PyAny>> {
        let py = absorbance.py();
        let numbers = Numbers::of("absorbance", absorbance)?;
        let scatter = Scatter::parse(scatter).or_raise(py)?;
        let readings = self.readings(&numbers, replicates, reading_u, scatter, py)?;
        let found = py.detach(|| Concentrations::new(Arc::clone(&self.core), readings)).or_raise(py)?;
        let estimates = Estimates::new(Origin::Curve(Arc::new(found))).came_as(package::origin_of(absorbance)?);
        if numbers.is_scalar() {
            return Estimate::first(&estimates).into_python(py);
        }
        estimates.into_python(py)
    }

    /// Simulate the concentrations of readings by Monte Carlo, the standards included.
    ///
    /// Args:
    ///     absorbance, replicates, reading_u: as for `concentration`.
    ///     seed, trials, tolerance, coverage, distributions, standards_relative_u, scatter, threads, progress: as for
    ///         `groundstate.simulate`.
    ///
    /// Raises:
    ///     ArgumentError, LimitError, KeyboardInterrupt.
    ///
    /// Source:
    ///     JCGM 101:2008, sections 6 to 8.
    #[pyo3(signature = (absorbance, replicates=None, *, seed, reading_u=None, trials=None, tolerance=None,
        coverage=0.95, distributions=None, standards_relative_u=0.0, scatter="t", threads=None, progress=None))]
    #[pyo3(text_signature = "($self, absorbance, replicates=None, *, seed, reading_u=None, trials='adaptive', \
        tolerance=None, coverage=0.95, distributions=None, standards_relative_u=0.0, scatter='t', threads=None, \
        progress=None)")]
    #[allow(clippy::too_many_arguments)] // a keyword each
    fn simulate(
        slf: &Bound<'_, Self>,
        absorbance: &Bound<'_, PyAny>,
        replicates: Option<&Bound<'_, PyAny>>,
        seed: u64,
        reading_u: Option<&Bound<'_, PyAny>>,
        trials: Option<Bound<'_, PyAny>>,
        tolerance: Option<Bound<'_, PyAny>>,
        coverage: f64,
        distributions: Option<Bound<'_, PyDict>>,
        standards_relative_u: f64,
        scatter: &str,
        threads: Option<usize>,
        progress: Option<Py<PyAny>>,
    ) -> PyResult<Simulation> {
        let (py, this) = (slf.py(), slf.get());
        let numbers = Numbers::of("absorbance", absorbance)?;
        let readings = this.readings(&numbers, replicates, reading_u, Scatter::Calibration, py)?;
        let none = || py.None().into_bound(py);
        let mut recall = Recall::new(py, "_simulate_curve")
            .with(py, "calibration", slf)?
            .with_numbers(py, "absorbance", &numbers)?
            .with(py, "seed", seed)?
            .with_some(py, "trials", trials.clone())?
            .with_some(py, "tolerance", tolerance.clone())?
            .with(py, "coverage", coverage)?
            .with_some(py, "distributions", distributions.as_ref().map(|given| given.copy()).transpose()?)?
            .with(py, "standards_relative_u", standards_relative_u)?
            .with(py, "scatter", scatter)?
            .with_some(py, "threads", threads)?;
        for (name, given) in [("replicates", replicates), ("reading_u", reading_u)] {
            if let Some(given) = given {
                recall = recall.with_numbers(py, name, &Numbers::of(name, given)?)?;
            }
        }
        let how = How {
            seed,
            trials: trials.unwrap_or_else(|| PyString::new(py, "adaptive").into_any()),
            tolerance: tolerance.unwrap_or_else(none),
            coverage,
            distributions,
            standards_relative_u,
            scatter: scatter.to_owned(),
            threads,
        };
        simulate::of_curve(py, &this.core, &readings, &how, progress, recall)
    }

    /// Turn readings into concentrations, into arrays of the caller; those given are filled.
    ///
    /// absorbance: one (mean) signal a sample, of at most two dimensions; not copied when it is C-contiguous float64.
    /// value, u, lo, hi, status: C-contiguous arrays of its shape, of which no two share memory. The figures are bit
    ///     for bit those of ``concentration(absorbance, replicates)`` and of its ``interval(coverage)``: the delta
    ///     interval, value plus and minus t times u, t the Student quantile for the degrees of freedom of u. status
    ///     holds codes as `Estimates.status_code`. Where new arrays are needed each time, rows of one, as of
    ///     ``numpy.empty((3, n))``, are quicker than several.
    /// replicates: how many readings each signal is the mean of, one figure or one a sample; 1 when not given.
    /// threads: how many work; all processors when not given, where there are many readings. They change no bit.
    #[pyo3(signature = (absorbance, *, value=None, u=None, lo=None, hi=None, status=None, coverage=None,
        replicates=None, threads=None))]
    #[pyo3(
        text_signature = "($self, absorbance, *, value=None, u=None, lo=None, hi=None, status=None, coverage=0.95, \
        replicates=None, threads=None)"
    )]
    #[allow(clippy::too_many_arguments)] // an array a figure
    fn concentration_into<'py>(
        &self,
        absorbance: &Bound<'py, PyAny>,
        value: Option<&Bound<'py, PyAny>>,
        u: Option<&Bound<'py, PyAny>>,
        lo: Option<&Bound<'py, PyAny>>,
        hi: Option<&Bound<'py, PyAny>>,
        status: Option<&Bound<'py, PyAny>>,
        coverage: Option<&Bound<'py, PyAny>>,
        replicates: Option<&Bound<'py, PyAny>>,
        threads: Option<usize>,
    ) -> PyResult<()> {
        let replicates = replicates.map_or(Ok(Column::One(1)), counts)?;
        Given { value, u, lo, hi, status }.fill(self, absorbance, coverage, &replicates, threads)
    }

    /// Mean signal at a concentration, with the standard uncertainty of the curve there.
    ///
    /// Args:
    ///     concentration: a number, or shape (n,), in the unit of the calibration.
    ///
    /// Returns:
    ///     A Response for a number, otherwise Responses, in units of the signal.
    ///
    /// Raises:
    ///     ArgumentError: a concentration that is missing or not finite.
    fn absorbance<'py>(&self, concentration: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = concentration.py();
        let numbers = Numbers::of("concentration", concentration)?;
        let at = numbers.flat("concentration", py)?;
        if let Some(i) = at.iter().position(|x| !x.is_finite()) {
            let what = format!("{} (element {i}) is not a concentration", at[i]);
            return Err(raised(py, Error::argument("concentration", what)));
        }
        if let ([x], true) = (at, numbers.is_scalar()) {
            return Ok(Bound::new(py, Response::from(self.core.response(*x)))?.into_any());
        }
        Ok(Bound::new(py, Responses(at.iter().map(|x| self.core.response(*x)).collect()))?.into_any())
    }

    /// The same points fitted another way: a new calibration. None keeps what is.
    ///
    /// Args:
    ///     shape: another shape.
    ///     noise: another noise model.
    ///     exclude: indices of points to leave out, as in `residuals`; the findings say so.
    ///     zero: another choice for the zero level, as for `calibrate`: weights 1/x need one.
    ///     allow: "flagged" gives a curve that does not serve, with findings, instead of raising.
    ///
    /// Raises:
    ///     ArgumentError: an index that is none, or too few points left.
    ///     CalibrationError: the new curve does not rise or turns inside its range.
    #[pyo3(signature = (*, shape=None, noise=None, exclude=None, zero=None, allow=None))]
    fn refit(
        &self,
        py: Python<'_>,
        shape: Option<&str>,
        noise: Option<&Bound<'_, PyAny>>,
        exclude: Option<Vec<usize>>,
        zero: Option<&Bound<'_, PyAny>>,
        allow: Option<&str>,
    ) -> PyResult<Calibration> {
        let all = self.core.points();
        let mut excluded = exclude.unwrap_or_default();
        excluded.sort_unstable();
        excluded.dedup();
        if let Some(past) = excluded.iter().find(|i| **i >= all.len()) {
            let what = format!("there is no point {past} among {}", all.len());
            return Err(raised(py, Error::argument("exclude", what)));
        }
        let keep = |i: usize| excluded.binary_search(&i).is_err();
        let points = all.filtered(keep);
        let kept = self.core.options();
        let options = FitOptions {
            shape: shape.map_or(Ok(kept.shape), Shape::parse).or_raise(py)?,
            noise: match noise {
                Some(given) => {
                    let layout = Layout { levels: all.concentrations(), signals: all.signals(), width: None };
                    filtered(crate::calibration::noise(given, &layout, all)?, all.len(), keep).or_raise(py)?
                }
                None => filtered(kept.noise.clone(), all.len(), keep).or_raise(py)?,
            },
            standards_error: kept.standards_error.filtered(keep),
            zero: if zero.is_some() { zero_choice(zero)? } else { kept.zero },
            on_bad_curve: if allow.is_some() { allow_choice(allow).or_raise(py)? } else { kept.on_bad_curve },
            ..kept.clone()
        };
        Calibration::fit(py, points, options, self.missing, excluded)
    }

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> bool {
        other.cast::<Calibration>().is_ok_and(|other| {
            let other = other.get();
            self.points == other.points && self.options == other.options && self.input() == other.input()
        })
    }

    fn __hash__(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.core.id().hash(&mut hasher);
        hasher.finish()
    }

    /// Points, options and figures as plain lists and words; None where a figure is absent.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        archive::calibration(self, py)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, (Bound<'py, PyDict>,))> {
        Ok((archive::function(py, "_calibration_from_dict")?, (archive::input(self, py)?,)))
    }

    fn __copy__(slf: Py<Self>) -> Py<Self> {
        slf
    }

    fn __deepcopy__(slf: Py<Self>, _memo: &Bound<'_, PyAny>) -> Py<Self> {
        slf
    }

    fn __repr__(&self) -> String {
        let (coefficients, errors) = (self.core.coefficients(), self.core.standard_errors());
        let first = usize::from(self.core.shape().through_zero());
        let terms = coefficients.iter().zip(errors).enumerate().map(|(i, (value, u))| {
            let power = ["", " x", " x\u{b2}"].get(i + first).copied().unwrap_or_default();
            format!("({}){power}", beside(*value, u))
        });
        let terms = terms.collect::<Vec<_>>().join(" + ");
        format!(
            "<Calibration {}, noise {}, {} {}, {} to {} {}: y = {terms}>",
            self.shape(),
            self.noise(),
            self.core.points().len(),
            self.points(),
            self.lowest(),
            self.top(),
            self.unit(),
        )
    }
}

/// The standard deviations of the points that `keep` keeps; other models as they are.
fn filtered(noise: Noise, points: usize, keep: impl Fn(usize) -> bool) -> Result<Noise, Error> {
    let kept = |sigmas: &Sigmas| {
        let values = sigmas.as_slice();
        if values.len() != points {
            return Ok(sigmas.clone());
        }
        Sigmas::new(&(0..points).filter(|i| keep(*i)).map(|i| values[i]).collect::<Vec<_>>())
    };
    Ok(match &noise {
        Noise::KnownSigma(sigmas) => Noise::KnownSigma(kept(sigmas)?),
        Noise::RelativeSigma(sigmas) => Noise::RelativeSigma(kept(sigmas)?),
        _ => noise,
    })
}

/// `value` rounded to two figures of its standard uncertainty, with it; four figures where there is none.
pub fn beside(value: f64, u: f64) -> String {
    let rule = |rounding: Result<Rounding, Error>| rounding.map(Rule::new);
    rule(Rounding::uncertainty(2))
        .and_then(|rule| rule.pair(value, u))
        .map(|pair| pair.to_string())
        .or_else(|_| rule(Rounding::figures(4)).and_then(|rule| rule.round(value, None)).map(|value| value.to_string()))
        .unwrap_or_else(|_| value.to_string())
}

/// A value with its uncertainty as text, for the package.
#[pyfunction]
fn _beside(value: f64, u: f64) -> String {
    beside(value, u)
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_beside, module)?)?;
    module.add_class::<FTest>()?;
    module.add_class::<Calibration>()
}
