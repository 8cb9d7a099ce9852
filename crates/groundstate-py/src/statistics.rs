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

    /// Place of the value, counted from 0; the first of equals.
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

    /// What the statistic must exceed; computed, not from a table.
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
/// At most once: repeated on what remains it no longer keeps its level.
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
    tested(values, alpha, two_sided, side, core_grubbs)
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
///     <OutlierTest value 2.51 at 5: 0.8361 against 0.6275, significant>
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
