//! Whether several sets of readings scatter alike.

use groundstate::statistics::homogeneity::{Homogeneity, VarianceTest as Test};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::OrRaise;
use crate::mdl::choice;
use crate::package;

/// What a test of equal variances says. Made by `variance_homogeneity`.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct VarianceTest {
    /// Which test.
    test: String,
    /// The test's statistic; infinite where a variance of zero is divided by.
    statistic: f64,
    /// What the statistic must exceed.
    critical: f64,
    /// Probability of such a statistic or a larger one when the variances are equal.
    p: f64,
    /// Degrees of freedom of the reference distribution: two of F, one of chi-squared.
    dof: (f64, Option<f64>),
    /// The set with the largest variance, counted from 0, where the test points at one.
    index: Option<usize>,
    /// Whether the statistic exceeds the critical value.
    significant: bool,
    /// Level of significance.
    alpha: f64,
}

type Fields = (String, f64, f64, f64, (f64, Option<f64>), Option<usize>, bool, f64);

impl VarianceTest {
    /// What `test` found at `alpha`.
    pub fn of(test: Test, found: &Homogeneity, alpha: f64) -> Self {
        let Homogeneity { statistic, critical, p, dof, index, significant } = *found;
        VarianceTest { test: test.name().to_owned(), statistic, critical, p, dof, index, significant, alpha }
    }
}

#[pymethods]
impl VarianceTest {
    #[new]
    #[allow(clippy::too_many_arguments)] // a field each
    fn new(
        test: String,
        statistic: f64,
        critical: f64,
        p: f64,
        dof: (f64, Option<f64>),
        index: Option<usize>,
        significant: bool,
        alpha: f64,
    ) -> Self {
        VarianceTest { test, statistic, critical, p, dof, index, significant, alpha }
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
        let VarianceTest { statistic, critical, p, dof, index, significant, alpha, .. } = *self;
        (self.test.clone(), statistic, critical, p, dof, index, significant, alpha)
    }

    fn __repr__(&self) -> String {
        let verdict = if self.significant { "significant" } else { "not significant" };
        format!("<VarianceTest {}: {:.4} against {:.4}, {verdict}>", self.test, self.statistic, self.critical)
    }
}

/// Whether sets of readings have one variance.
///
/// Args:
///     sets: one array of readings each.
///     test: f_ratio: two sets, the larger variance over the smaller against the upper alpha point of F (ISO 8466-1:
///         lowest and highest standard, alpha 0.01). cochran: one variance that is too large, sets of one size.
///         bartlett: normal readings. levene: about the medians, three readings or more a set.
///     alpha: level of significance.
///
/// Raises:
///     ArgumentError: too few sets or readings, one that is missing, sizes that the test does not take.
///
/// Source:
///     ISO 8466-1:1990 and ISO 5725-2:2019 (from memory); NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.7 and
///     1.3.5.10.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.variance_homogeneity([[1.0, 1.1, 0.9, 1.0], [2.0, 2.9, 1.1, 2.2]], "f_ratio", 0.01).significant
///     True
#[pyfunction]
#[pyo3(signature = (sets, test, alpha=0.05))]
fn variance_homogeneity(py: Python<'_>, sets: &Bound<'_, PyAny>, test: &str, alpha: f64) -> PyResult<VarianceTest> {
    let test = choice("test", test, &Test::ALL, Test::name).or_raise(py)?;
    let mut read: Vec<Vec<f64>> = Vec::new();
    for (i, set) in sets.try_iter()?.enumerate() {
        let name = format!("sets[{i}]");
        read.push(Numbers::of(&name, &set?)?.flat(&name, py)?.to_vec());
    }
    let slices: Vec<&[f64]> = read.iter().map(Vec::as_slice).collect();
    py.detach(|| test.of(&slices, alpha)).or_raise(py).map(|found| VarianceTest::of(test, &found, alpha))
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<VarianceTest>()?;
    module.add_function(wrap_pyfunction!(variance_homogeneity, module)?)
}
