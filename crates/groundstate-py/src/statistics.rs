//! Small samples: replicates and outliers.

use groundstate::Error;
use groundstate::statistics::outlier::{
    OutlierTest as Test, Side, Suspect, dixon as core_dixon, dixon_p, generalized_esd as core_esd,
    grubbs as core_grubbs, grubbs_p,
};
use groundstate::statistics::replicates::{Replicates as Core, replicates as core_replicates};
use groundstate::statistics::robust::{
    RobustMethod, algorithm_a, huber, mad as core_mad, mad_scaled, median as core_median,
};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::mdl::choice;
use crate::package;

/// Mean and scatter of repeated readings of one thing.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Replicates(Core);

#[pymethods]
impl Replicates {
    #[new]
    fn new(n: usize, mean: f64, sd: Option<f64>) -> Self {
        Replicates(Core { count: n, mean, sd })
    }

    /// How many readings.
    #[getter]
    fn n(&self) -> usize {
        self.0.count
    }

    /// Arithmetic mean, in the unit of the readings.
    #[getter]
    fn mean(&self) -> f64 {
        self.0.mean
    }

    /// Standard deviation on n - 1 degrees of freedom, in the unit of the readings; None from one reading.
    #[getter]
    fn sd(&self) -> Option<f64> {
        self.0.sd
    }

    /// Standard deviation in percent of the size of the mean; None from one reading or about a mean of zero.
    #[getter]
    fn rsd(&self) -> Option<f64> {
        self.0.rsd_percent()
    }

    /// Standard deviation of the mean; None from one reading.
    #[getter]
    fn standard_error(&self) -> Option<f64> {
        self.0.standard_error()
    }

    /// Degrees of freedom of the standard deviation.
    #[getter]
    fn dof(&self) -> f64 {
        self.0.dof()
    }

    /// Plain figures.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __getnewargs__(&self) -> (usize, f64, Option<f64>) {
        (self.0.count, self.0.mean, self.0.sd)
    }

    fn __repr__(&self) -> String {
        match self.0.sd {
            Some(sd) => format!(
                "<Replicates n = {}, mean and SD {}>",
                self.0.count,
                crate::calibration::beside(self.0.mean, sd)
            ),
            None => format!("<Replicates n = 1, {}>", self.0.mean),
        }
    }
}

/// What an outlier test says of the value that stands out most. Nothing is ever dropped by it.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct OutlierTest {
    /// Which test.
    test: String,
    /// How many values were looked at.
    n: usize,
    /// Which end was looked at.
    side: String,
    /// Level of significance.
    alpha: f64,
    /// Place of the value, counted from 0.
    index: usize,
    /// The value.
    value: f64,
    /// The test's statistic; 0 where all values are equal.
    statistic: f64,
    /// What the statistic must exceed.
    critical: f64,
    /// Probability of such a statistic or a larger one among normal values, by the bound of the critical value.
    p: f64,
    /// Whether the statistic exceeds the critical value.
    significant: bool,
}

type Fields = (String, usize, String, f64, usize, f64, f64, f64, f64, bool);

impl OutlierTest {
    fn of(test: Test, n: usize, side: Side, alpha: f64, found: Suspect) -> Result<Self, Error> {
        let Suspect { index, value, statistic, critical, significant } = found;
        let p = match test {
            Test::Dixon => dixon_p(n, statistic, side)?,
            Test::Grubbs | Test::GeneralizedEsd => grubbs_p(n, statistic, side)?,
        };
        let (test, side) = (test.name().to_owned(), side.name().to_owned());
        Ok(OutlierTest { test, n, side, alpha, index, value, statistic, critical, p, significant })
    }
}

#[pymethods]
impl OutlierTest {
    #[new]
    #[allow(clippy::too_many_arguments)] // a field each
    fn new(
        test: String,
        n: usize,
        side: String,
        alpha: f64,
        index: usize,
        value: f64,
        statistic: f64,
        critical: f64,
        p: f64,
        significant: bool,
    ) -> Self {
        OutlierTest { test, n, side, alpha, index, value, statistic, critical, p, significant }
    }

    /// Where the test stands.
    #[getter]
    fn citation(&self) -> String {
        let known = Test::ALL.into_iter().find(|test| test.name() == self.test);
        known.map_or_else(String::new, |test| test.citation().to_string())
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __getnewargs__(&self) -> Fields {
        let OutlierTest { n, alpha, index, value, statistic, critical, p, significant, .. } = *self;
        (self.test.clone(), n, self.side.clone(), alpha, index, value, statistic, critical, p, significant)
    }

    fn __repr__(&self) -> String {
        let OutlierTest { test, index, value, statistic, critical, .. } = self;
        let verdict = if self.significant { "significant" } else { "not significant" };
        format!("<OutlierTest {test}, value {value} at {index}: {statistic:.4} against {critical:.4}, {verdict}>")
    }
}

/// What the test for several outliers says. Made by `generalized_esd`. Nothing is ever dropped by it.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct ExtremeDeviates {
    /// One step for each outlier looked for: the value farthest from the mean of what the earlier steps left.
    steps: Vec<OutlierTest>,
    /// Places of the outliers, the most extreme first: all steps up to the last significant one.
    outliers: Vec<usize>,
}

#[pymethods]
impl ExtremeDeviates {
    #[new]
    fn new(steps: Vec<Bound<'_, OutlierTest>>, outliers: Vec<usize>) -> Self {
        ExtremeDeviates { steps: steps.iter().map(|step| step.get().clone()).collect(), outliers }
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __getnewargs__(&self) -> (Vec<OutlierTest>, Vec<usize>) {
        (self.steps.clone(), self.outliers.clone())
    }

    fn __repr__(&self) -> String {
        format!("<ExtremeDeviates: {} outliers in {} steps>", self.outliers.len(), self.steps.len())
    }
}

/// A robust mean and standard deviation. Made by `robust`.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Robust {
    /// Which method.
    method: String,
    /// The robust mean, in the unit of the values.
    mean: f64,
    /// The robust standard deviation, in the unit of the values.
    sd: f64,
    /// How many values were pulled in to the limits at the last step.
    winsorised: usize,
    /// How many steps were taken.
    steps: usize,
}

#[pymethods]
impl Robust {
    #[new]
    fn new(method: String, mean: f64, sd: f64, winsorised: usize, steps: usize) -> Self {
        Robust { method, mean, sd, winsorised, steps }
    }

    /// Where the method stands.
    #[getter]
    fn citation(&self) -> String {
        let known = RobustMethod::ALL.into_iter().find(|method| method.name() == self.method);
        known.map_or_else(String::new, |method| method.citation().to_string())
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __getnewargs__(&self) -> (String, f64, f64, usize, usize) {
        (self.method.clone(), self.mean, self.sd, self.winsorised, self.steps)
    }

    fn __repr__(&self) -> String {
        format!("<Robust {}, mean and SD {}>", self.method, crate::calibration::beside(self.mean, self.sd))
    }
}

/// Mean, standard deviation and relative standard deviation of repeated readings.
///
/// Args:
///     values: readings in one unit, shape (n,).
///
/// Raises:
///     ArgumentError: there is no reading, or one is missing: leave it out.
///
/// Source:
///     JCGM 100:2008, 4.2.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.replicates([0.2871, 0.2862, 0.2880])
///     <Replicates n = 3, mean and SD 0.28710 ± 0.00090>
#[pyfunction]
fn replicates(values: &Bound<'_, PyAny>) -> PyResult<Replicates> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    core_replicates(numbers.flat("values", py)?).or_raise(py).map(Replicates)
}

/// Grubbs' test for one outlier: the largest distance from the mean in standard deviations.
///
/// At most once: repeated on what remains it no longer keeps its level. `generalized_esd` looks for several.
///
/// Args:
///     values: at least 3 values in one unit, shape (n,).
///     alpha: level of significance.
///     two_sided: whether either end is looked at.
///     side: the end that a one-sided test looks at; "high" when not given.
///
/// Raises:
///     ArgumentError: too few values, one that is missing, or a level that is none.
///
/// Source:
///     NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1; F. E. Grubbs, Technometrics 11 (1969) 1.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.grubbs([3.08, 3.09, 3.11, 3.12, 3.02, 2.51]).significant
///     True
#[pyfunction]
#[pyo3(signature = (values, alpha=0.05, two_sided=true, *, side=None))]
fn grubbs(values: &Bound<'_, PyAny>, alpha: f64, two_sided: bool, side: Option<&str>) -> PyResult<OutlierTest> {
    tested(values, alpha, two_sided, side, Test::Grubbs)
}

/// Dixon's test for one outlier with r10, the gap at an end over the range.
///
/// Args:
///     values: 3 to 30 values in one unit, shape (n,).
///     alpha: level of significance.
///     two_sided: whether either end is looked at.
///     side: the end that a one-sided test looks at; "high" when not given.
///
/// Raises:
///     ArgumentError: too few or too many values, one that is missing, or a level that is none.
///
/// Source:
///     W. J. Dixon, Ann. Math. Statist. 21 (1950) 488; D. B. Rorabacher, Anal. Chem. 63 (1991) 139.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.dixon([3.08, 3.09, 3.11, 3.12, 3.02, 2.51])
///     <OutlierTest dixon, value 2.51 at 5: 0.8361 against 0.6275, significant>
#[pyfunction]
#[pyo3(signature = (values, alpha=0.05, two_sided=true, *, side=None))]
fn dixon(values: &Bound<'_, PyAny>, alpha: f64, two_sided: bool, side: Option<&str>) -> PyResult<OutlierTest> {
    tested(values, alpha, two_sided, side, Test::Dixon)
}

fn tested(
    values: &Bound<'_, PyAny>,
    alpha: f64,
    two_sided: bool,
    side: Option<&str>,
    test: Test,
) -> PyResult<OutlierTest> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    let values = numbers.flat("values", py)?.to_vec();
    let side = match (two_sided, side) {
        (true, None) => Side::Both,
        (false, None | Some("high")) => Side::High,
        (false, Some("low")) => Side::Low,
        (true, Some(_)) => {
            let error = Error::argument("side", "a two-sided test looks at both ends");
            return Err(raised(py, error.help("give two_sided=False with a side")));
        }
        (false, Some(word)) => {
            let error = Error::argument("side", format!("there is no side {word:?}"));
            return Err(raised(py, error.help("it is \"high\" or \"low\"")));
        }
    };
    let found = || {
        let suspect = match test {
            Test::Dixon => core_dixon(&values, side, alpha),
            Test::Grubbs | Test::GeneralizedEsd => core_grubbs(&values, side, alpha),
        };
        OutlierTest::of(test, values.len(), side, alpha, suspect?)
    };
    py.detach(found).or_raise(py)
}

/// Rosner's generalized extreme Studentized deviate test for several outliers, at either end.
///
/// The level is accurate from 25 values on and fair from 15. Each step has n and p of what the earlier steps left.
///
/// Args:
///     values: values in one unit, shape (n,).
///     most: how many outliers are looked for, from 1 to n - 2.
///     alpha: level of significance.
///
/// Raises:
///     ArgumentError: fewer than 3 values, one that is missing, too many outliers, or a level that is none.
///
/// Source:
///     NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.3; B. Rosner, Technometrics 25 (1983) 165.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.generalized_esd([3.08, 3.09, 3.11, 3.12, 3.02, 3.10, 3.07, 2.51], most=2).outliers
///     [7]
#[pyfunction]
#[pyo3(signature = (values, most, alpha=0.05))]
fn generalized_esd(values: &Bound<'_, PyAny>, most: usize, alpha: f64) -> PyResult<ExtremeDeviates> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    let values = numbers.flat("values", py)?;
    let core = core_esd(values, most, alpha).or_raise(py)?;
    let step = |(i, found): (usize, &Suspect)| {
        OutlierTest::of(Test::GeneralizedEsd, values.len() - i, Side::Both, alpha, *found)
    };
    let steps = core.steps.iter().enumerate().map(step).collect::<Result<_, Error>>().or_raise(py)?;
    Ok(ExtremeDeviates { steps, outliers: core.indices().collect() })
}

/// A mean and standard deviation that a few wild values hardly move.
///
/// Args:
///     values: at least 3 values in one unit, shape (n,).
///     method: algorithm_a: mean and standard deviation by Algorithm A of ISO 13528. huber: Huber's mean with the scale
///         held at the median absolute deviation.
///     k: of huber: how many scales from the mean a value is pulled in; 1.5 when not given.
///
/// Raises:
///     ArgumentError: too few values, one that is missing, an unknown method, or k for Algorithm A.
///
/// Source:
///     ISO 13528:2022, annex C (from memory); Analytical Methods Committee, Analyst 114 (1989) 1693.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.robust([3.08, 3.09, 3.11, 3.12, 3.02, 3.10, 3.07, 2.51]).winsorised
///     1
#[pyfunction]
#[pyo3(signature = (values, method="algorithm_a", *, k=None))]
fn robust(values: &Bound<'_, PyAny>, method: &str, k: Option<f64>) -> PyResult<Robust> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    let values = numbers.flat("values", py)?;
    let method = choice("method", method, &RobustMethod::ALL, RobustMethod::name).or_raise(py)?;
    let found = match (method, k) {
        (RobustMethod::AlgorithmA, None) => algorithm_a(values),
        (RobustMethod::AlgorithmA, Some(_)) => {
            Err(Error::argument("k", "the constants of Algorithm A are fixed").help("k belongs to huber"))
        }
        (RobustMethod::Huber, k) => huber(values, k.unwrap_or(1.5)),
    };
    let core = found.or_raise(py)?;
    let (mean, sd, winsorised, steps) = (core.mean, core.sd, core.winsorised, core.steps);
    Ok(Robust { method: method.name().to_owned(), mean, sd, winsorised, steps })
}

/// Median absolute deviation from the median, in the unit of the values.
///
/// Args:
///     values: values in one unit, shape (n,).
///     scale: normal: times 1.4826, so that it estimates the standard deviation of normal values. none: as it is.
///
/// Raises:
///     ArgumentError: no values, one that is missing, or an unknown scale.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.mad([1.0, 2.0, 3.0, 4.0, 9.0], scale="none")
///     1.0
#[pyfunction]
#[pyo3(signature = (values, *, scale="normal"))]
fn mad(values: &Bound<'_, PyAny>, scale: &str) -> PyResult<f64> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    let values = numbers.flat("values", py)?;
    match scale {
        "normal" => mad_scaled(values),
        "none" => core_mad(values),
        _ => Err(Error::argument("scale", format!("there is no scale {scale:?}")).help("it is \"normal\" or \"none\"")),
    }
    .or_raise(py)
}

/// The middle value, or the mean of the two in the middle.
///
/// Args:
///     values: values in one unit, shape (n,).
///
/// Raises:
///     ArgumentError: no values, or one that is missing.
#[pyfunction]
fn median(values: &Bound<'_, PyAny>) -> PyResult<f64> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    core_median(numbers.flat("values", py)?).or_raise(py)
}

/// Adds the functions and classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Replicates>()?;
    module.add_class::<OutlierTest>()?;
    module.add_class::<ExtremeDeviates>()?;
    module.add_class::<Robust>()?;
    module.add_function(wrap_pyfunction!(generalized_esd, module)?)?;
    module.add_function(wrap_pyfunction!(robust, module)?)?;
    module.add_function(wrap_pyfunction!(mad, module)?)?;
    module.add_function(wrap_pyfunction!(median, module)?)?;
    module.add_function(wrap_pyfunction!(replicates, module)?)?;
    module.add_function(wrap_pyfunction!(grubbs, module)?)?;
    module.add_function(wrap_pyfunction!(dixon, module)?)
}
