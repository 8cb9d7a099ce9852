//! Small samples: replicates and outliers.

use groundstate::Error;
use groundstate::statistics::outlier::{Side, Suspect, dixon as core_dixon, grubbs as core_grubbs};
use groundstate::statistics::replicates::{Replicates as Core, replicates as core_replicates};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};

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
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct OutlierTest(Suspect);

#[pymethods]
impl OutlierTest {
    #[new]
    fn new(index: usize, value: f64, statistic: f64, critical: f64, significant: bool) -> Self {
        OutlierTest(Suspect { index, value, statistic, critical, significant })
    }

    /// Place of the value, counted from 0.
    #[getter]
    fn index(&self) -> usize {
        self.0.index
    }

    /// The value.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value
    }

    /// The test's statistic; 0 where all values are equal.
    #[getter]
    fn statistic(&self) -> f64 {
        self.0.statistic
    }

    /// What the statistic must exceed.
    #[getter]
    fn critical(&self) -> f64 {
        self.0.critical
    }

    /// Whether it does.
    #[getter]
    fn significant(&self) -> bool {
        self.0.significant
    }

    fn __getnewargs__(&self) -> (usize, f64, f64, f64, bool) {
        (self.0.index, self.0.value, self.0.statistic, self.0.critical, self.0.significant)
    }

    fn __repr__(&self) -> String {
        let Suspect { index, value, statistic, critical, significant } = self.0;
        let verdict = if significant { "significant" } else { "not significant" };
        format!("<OutlierTest value {value} at {index}: {statistic:.4} against {critical:.4}, {verdict}>")
    }
}

/// Mean, standard deviation and relative standard deviation of repeated readings.
#[pyfunction]
fn replicates(values: &Bound<'_, PyAny>) -> PyResult<Replicates> {
    let py = values.py();
    let numbers = Numbers::of("values", values)?;
    core_replicates(numbers.flat("values", py)?).or_raise(py).map(Replicates)
}

/// Grubbs' test for one outlier: the largest distance from the mean in standard deviations.
#[pyfunction]
#[pyo3(signature = (values, alpha=0.05, two_sided=true, *, side=None))]
fn grubbs(values: &Bound<'_, PyAny>, alpha: f64, two_sided: bool, side: Option<&str>) -> PyResult<OutlierTest> {
    tested(values, alpha, two_sided, side, core_grubbs)
}

/// Dixon's test for one outlier with r10, the gap at an end over the range; 3 to 30 values.
#[pyfunction]
#[pyo3(signature = (values, alpha=0.05, two_sided=true, *, side=None))]
fn dixon(values: &Bound<'_, PyAny>, alpha: f64, two_sided: bool, side: Option<&str>) -> PyResult<OutlierTest> {
    tested(values, alpha, two_sided, side, core_dixon)
}

type Test = fn(&[f64], Side, f64) -> Result<Suspect, Error>;

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
    py.detach(|| test(&values, side, alpha)).or_raise(py).map(OutlierTest)
}

/// Adds the functions and classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Replicates>()?;
    module.add_class::<OutlierTest>()?;
    module.add_function(wrap_pyfunction!(replicates, module)?)?;
    module.add_function(wrap_pyfunction!(grubbs, module)?)?;
    module.add_function(wrap_pyfunction!(dixon, module)?)
}
