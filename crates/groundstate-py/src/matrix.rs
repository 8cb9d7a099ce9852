//! Slopes compared: series of additions and matrix-matched standards against the external calibration.

use groundstate::addition::{
    Difference as CoreDifference, MatrixComparison as Core, SlopeRatio as CoreRatio, TTest, VarianceModel, compare,
};
use groundstate::error::Error;
use groundstate::estimate::{Dof, IntervalMethod};
use groundstate::finding::Code;
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::addition::coverage;
use crate::calibration::{Calibration, FTest, beside};
use crate::error::{OrRaise, raised, wrong_type};
use crate::finding::findings;
use crate::interval::Interval;
use crate::recall::Recall;

/// The ratio of two slopes at zero, in common units: in the matrix over that of the external calibration.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct SlopeRatio {
    core: CoreRatio,
    /// Whether it was held against the caution at 20 %.
    judged: bool,
    recall: Recall,
}

impl SlopeRatio {
    /// The ratio of an addition series, which is held against the caution.
    pub fn judged(core: CoreRatio, series: &Bound<'_, PyAny>, calibration: &Bound<'_, PyAny>) -> PyResult<Self> {
        let py = series.py();
        let recall = Recall::new(py, "_slope_ratio").with(py, "of", series)?.with(py, "calibration", calibration)?;
        Ok(SlopeRatio { core, judged: true, recall })
    }
}

#[pymethods]
impl SlopeRatio {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    /// The ratio.
    #[getter]
    fn value(&self) -> f64 {
        self.core.value
    }

    /// Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from.
    #[getter]
    fn u(&self) -> f64 {
        self.core.u
    }

    /// Effective degrees of freedom of u.
    #[getter]
    fn dof(&self) -> f64 {
        self.core.dof.get()
    }

    /// Statistic of the t test of equal slopes; None where there is no standard uncertainty.
    #[getter]
    fn statistic(&self) -> Option<f64> {
        self.core.test.map(|test| test.statistic)
    }

    /// Two-sided probability of slopes at least as far apart if they are equal; None where there is no test.
    #[getter]
    fn p(&self) -> Option<f64> {
        self.core.test.map(|test| test.p)
    }

    /// 100 (ratio - 1) and its standard uncertainty; negative where the matrix depresses the response.
    #[getter]
    fn percent(&self) -> (f64, f64) {
        self.core.percent()
    }

    /// Whether slopes are at most 20 % apart; None for standards in the matrix, which no such caution is for.
    #[getter]
    fn within_20_percent(&self) -> Option<bool> {
        self.judged.then(|| !self.core.findings.iter().any(|finding| finding.code == Code::SlopeRatioFar))
    }

    /// What was noticed.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings.clone())
    }

    /// Coverage interval of the ratio (Fieller).
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    #[pyo3(signature = (coverage=None), text_signature = "($self, coverage=0.95)")]
    fn interval(&self, coverage: Option<&Bound<'_, PyAny>>) -> PyResult<Interval> {
        let coverage = self::coverage(coverage)?;
        Ok(Interval::of(self.core.interval(coverage), coverage, IntervalMethod::Inversion))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let p = self.p().map_or(String::new(), |p| format!(", p = {p:.2e}"));
        format!("<SlopeRatio {}{p}>", beside(self.core.value, self.core.u))
    }
}

/// A difference between two calibrations, the second less the first, with a t test.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Difference(CoreDifference);

#[pymethods]
impl Difference {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    /// The difference.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value
    }

    /// Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from.
    #[getter]
    fn u(&self) -> f64 {
        self.0.u
    }

    /// Effective degrees of freedom of u.
    #[getter]
    fn dof(&self) -> f64 {
        self.0.dof.get()
    }

    /// Difference over its standard uncertainty; None where there is none.
    #[getter]
    fn statistic(&self) -> Option<f64> {
        self.0.test.map(|test| test.statistic)
    }

    /// Two-sided probability of a difference at least as large if there is none; None where there is no test.
    #[getter]
    fn p(&self) -> Option<f64> {
        self.0.test.map(|test| test.p)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, DifferenceFields)> {
        let CoreDifference { value, u, dof, test } = self.0;
        let test = test.map(|test| (test.statistic, test.p, test.dof.get()));
        Ok((crate::archive::function(py, "_difference")?, (value, u, dof.get(), test)))
    }

    fn __repr__(&self) -> String {
        let p = self.p().map_or(String::new(), |p| format!(", p = {p:.2e}"));
        format!("<Difference {}{p}>", beside(self.0.value, self.0.u))
    }
}

type DifferenceFields = (f64, f64, f64, Option<(f64, f64, f64)>);

/// The difference that `__reduce__` packed.
#[pyfunction]
#[pyo3(signature = (value, u, dof, test))]
fn _difference(py: Python<'_>, value: f64, u: f64, dof: f64, test: Option<(f64, f64, f64)>) -> PyResult<Difference> {
    let test = match test {
        Some((statistic, p, dof)) => Some(TTest { statistic, p, dof: Dof::new(dof).or_raise(py)? }),
        None => None,
    };
    Ok(Difference(CoreDifference { value, u, dof: Dof::new(dof).or_raise(py)?, test }))
}

/// The ratio of slopes of a series of additions to a calibration, or of a comparison; what a pickle calls.
#[pyfunction]
#[pyo3(signature = (of, calibration=None))]
fn _slope_ratio<'py>(of: &Bound<'py, PyAny>, calibration: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
    match calibration {
        Some(calibration) => of.call_method1("slope_ratio", (calibration,)),
        None => of.getattr("ratio"),
    }
}

/// A matrix-matched calibration against the external one. Made by `compare_calibrations`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct MatrixComparison {
    core: Core,
    recall: Recall,
}

#[pymethods]
impl MatrixComparison {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    /// Slope at zero in the matrix less that of the external calibration, signal per unit of the external one.
    #[getter]
    fn slope(&self) -> Difference {
        Difference(self.core.slope)
    }

    /// Intercept in the matrix less that of the external calibration; None where a curve is fixed at zero.
    #[getter]
    fn intercept(&self) -> Option<Difference> {
        self.core.intercept.map(Difference)
    }

    /// Slope in the matrix over the external one; its `percent` is the matrix effect.
    #[getter]
    fn ratio(slf: &Bound<'_, Self>) -> PyResult<SlopeRatio> {
        let py = slf.py();
        let recall = Recall::new(py, "_slope_ratio").with(py, "of", slf)?;
        Ok(SlopeRatio { core: slf.get().core.effect.clone(), judged: false, recall })
    }

    /// Whose residual variances entered.
    #[getter]
    fn variance(&self) -> &'static str {
        self.core.model.name()
    }

    /// The larger residual variance over the smaller, two-sided; None where they are not both from residuals.
    #[getter]
    fn variances(&self) -> Option<FTest> {
        self.core.variances.map(FTest::from)
    }

    /// What was noticed.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings.clone())
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let (percent, u) = self.core.effect.percent();
        format!("<MatrixComparison effect {} %, {}>", beside(percent, u), self.variance())
    }
}

/// Compare a matrix-matched calibration with the external one: common slope, common intercept, matrix effect.
///
/// Args:
///     external: the calibration without matrix.
///     matched: the calibration in the matrix, in a unit that goes with the other's.
///     variance: "welch" keeps the residual variance of each; "pooled" takes one from both, for two unweighted fits.
///         Choose before looking.
///
/// Raises:
///     ArgumentError: a variance model that the two fits do not admit.
///     UnitError: the units do not go together.
///
/// Source:
///     Welch's and the pooled t test of two slopes; within 20 % by SW-846 Method 7000B, 9.10.3.
///
/// Example:
///     >>> import groundstate as gs
///     >>> water = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
///     >>> digest = gs.calibrate([0, 0.5, 1, 2, 3], [0.0104, 0.1056, 0.2019, 0.3911, 0.5802])
///     >>> gs.compare_calibrations(water, digest)
///     <MatrixComparison effect -9.52 ± 0.22 %, welch>
#[pyfunction]
#[pyo3(signature = (external, matched, *, variance="welch"))]
fn compare_calibrations(
    py: Python<'_>,
    external: &Bound<'_, PyAny>,
    matched: &Bound<'_, PyAny>,
    variance: &str,
) -> PyResult<MatrixComparison> {
    let model = VarianceModel::ALL.into_iter().find(|one| one.name() == variance);
    let model = model.ok_or_else(|| {
        let error = Error::argument("variance", format!("there is no choice {variance:?}"));
        raised(py, error.help("it is \"welch\" or \"pooled\""))
    })?;
    let one = calibration("external", external)?;
    let two = calibration("matched", matched)?;
    let core = compare(one.get().core(), two.get().core(), model).or_raise(py)?;
    let recall = Recall::new(py, "compare_calibrations")
        .with(py, "external", external)?
        .with(py, "matched", matched)?
        .with(py, "variance", variance)?;
    Ok(MatrixComparison { core, recall })
}

/// The calibration that the argument `name` is.
pub fn calibration<'a, 'py>(name: &str, given: &'a Bound<'py, PyAny>) -> PyResult<&'a Bound<'py, Calibration>> {
    given.cast::<Calibration>().map_err(|_| wrong_type(name, given, "a Calibration"))
}

/// Adds the classes and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_difference, module)?)?;
    module.add_function(wrap_pyfunction!(_slope_ratio, module)?)?;
    module.add_class::<SlopeRatio>()?;
    module.add_class::<Difference>()?;
    module.add_class::<MatrixComparison>()?;
    module.add_function(wrap_pyfunction!(compare_calibrations, module)?)
}
