//! Contributions of sources to uncertainty.

use std::sync::Arc;

use groundstate::estimate::{BudgetLine as CoreLine, Estimates};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::estimates::index;

/// An attribute of an object, for `__reduce__` to name.
type Attribute<'py> = (Bound<'py, PyAny>, (Py<PyAny>, &'static str));

/// One line of an uncertainty budget: a source, or the coefficients of one calibration together.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct BudgetLine {
    /// Name of the source; the same name is the same quantity, wherever it occurs.
    source: String,
    /// What kind of thing it is: calibration, zero, reading, stock, level, volume, mass, solids, factor, drift.
    kind: String,
    /// Standard uncertainty that it contributes, in the unit of the value.
    u: f64,
    /// Its share of the variance, 0 to 1.
    share: f64,
    /// Degrees of freedom of its variance estimate; may be infinite.
    dof: f64,
}

impl From<CoreLine> for BudgetLine {
    fn from(line: CoreLine) -> Self {
        let CoreLine { source, kind, u, share, dof } = line;
        BudgetLine { source, kind: kind.name().to_owned(), u, share, dof: dof.get() }
    }
}

#[pymethods]
impl BudgetLine {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    fn new(source: String, kind: String, u: f64, share: f64, dof: f64) -> Self {
        BudgetLine { source, kind, u, share, dof }
    }

    fn __getnewargs__(&self) -> (String, String, f64, f64, f64) {
        (self.source.clone(), self.kind.clone(), self.u, self.share, self.dof)
    }

    fn __repr__(&self) -> String {
        let BudgetLine { source, kind, u, share, .. } = self;
        format!("<BudgetLine {source} ({kind}): u {u:.3e}, share {:.1} %>", 100.0 * share)
    }
}

/// Signed contributions c = (d value / d source) u(source) of independent sources, one row an estimate.
///
/// They are all the uncertainty there is: u squared is the sum of c squared, a covariance the sum of products over
/// common sources.
#[pyclass(frozen, module = "groundstate")]
pub struct Contributions {
    /// The estimates of the core.
    pub core: Arc<Estimates>,
    /// The Estimate or Estimates that they are of.
    pub of: Py<PyAny>,
}

#[pymethods]
impl Contributions {
    /// Names of the sources. The same name is the same quantity, wherever it occurs.
    #[getter]
    fn sources(&self) -> Vec<String> {
        self.core.contributions().sources().iter().map(|source| source.key.to_string()).collect()
    }

    /// The contributions of a row by source, in the unit of the estimates.
    ///
    /// Args:
    ///     i: place of the row; negative ones count from the end.
    ///
    /// Raises:
    ///     IndexError: there is no such row.
    fn row<'py>(&self, py: Python<'py>, i: isize) -> PyResult<Bound<'py, PyDict>> {
        let table = self.core.contributions();
        let row = PyDict::new(py);
        for (source, contribution) in table.row(index(i, table.rows())?) {
            if let Some(source) = table.source_at(source) {
                row.set_item(source.key.to_string(), contribution)?;
            }
        }
        Ok(row)
    }

    /// Covariance of two rows through the sources they share, in the unit squared.
    ///
    /// Args:
    ///     i, j: places of the rows; negative ones count from the end.
    ///
    /// Raises:
    ///     IndexError: there is no such row.
    ///
    /// Source:
    ///     JCGM 100:2008, F.1.2.3.
    fn covariance(&self, i: isize, j: isize) -> PyResult<f64> {
        let table = self.core.contributions();
        Ok(table.covariance(index(i, table.rows())?, index(j, table.rows())?))
    }

    /// The sources, and the contributions of each row.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("sources", self.sources())?;
        let rows = (0..self.core.contributions().rows()).map(|i| self.row(py, i as isize));
        dict.set_item("rows", rows.collect::<PyResult<Vec<_>>>()?)?;
        Ok(dict)
    }

    fn __eq__<'py>(slf: &Bound<'py, Self>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
        crate::package::same(slf, other)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Attribute<'py>> {
        Ok((py.import("builtins")?.getattr("getattr")?, (self.of.clone_ref(py), "contributions")))
    }

    fn __len__(&self) -> usize {
        self.core.contributions().rows()
    }

    fn __repr__(&self) -> String {
        let table = self.core.contributions();
        format!("<Contributions of {} sources to {} estimates>", table.sources().len(), table.rows())
    }
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<BudgetLine>()?;
    module.add_class::<Contributions>()
}
