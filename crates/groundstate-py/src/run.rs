//! Tables of readings and the runs in them.

use std::sync::Arc;

use groundstate::run::{Cells, RawTable, ReadOptions, Run as Core, Runs, Texts};
use numpy::PyReadonlyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyTuple};

use crate::error::{OrRaise, raised, wrong_type};
use crate::finding::findings;
use crate::method::Method;

/// One run as it was read: positions in order, with their readings. Frozen; equal by content.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Run(pub Arc<Core>);

#[pymethods]
impl Run {
    /// Name of the run.
    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    /// Further columns whose value is the same in every row, by name.
    #[getter]
    fn facts(&self) -> std::collections::BTreeMap<String, String> {
        self.0.facts.iter().map(|(name, value)| (name.to_string(), value.to_string())).collect()
    }

    /// How readings came to their positions: given, consecutive_replicates or each_row.
    #[getter]
    fn position_rule(&self) -> &'static str {
        self.0.position_rule.name()
    }

    /// What was noticed while it was read.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.0.findings.clone())
    }

    /// The run as a CSV table, rows in order.
    fn to_csv(&self) -> String {
        self.0.to_csv()
    }

    fn __len__(&self) -> usize {
        self.0.positions.len()
    }

    fn __repr__(&self) -> String {
        format!("<Run {}: {} positions>", self.0.name, self.0.positions.len())
    }
}

/// A table as the package hands it over: `(name, kind, data)` for each column, with kind "number" (float64, NaN
/// missing), "text" (list of str, "" missing) or "coded" (uint32 codes and a list of words).
pub fn table(columns: &Bound<'_, PyAny>) -> PyResult<RawTable> {
    let py = columns.py();
    if let Ok(bytes) = columns.cast::<PyBytes>() {
        return RawTable::from_csv_bytes(bytes.as_bytes()).or_raise(py);
    }
    let columns = columns.cast::<PyList>().map_err(|_| wrong_type("table", columns, "a table"))?;
    let mut table = RawTable::new();
    for column in columns {
        let (name, kind, data): (String, String, Bound<'_, PyAny>) = column.extract()?;
        let cells = match kind.as_str() {
            "number" => Cells::Number(data.extract::<PyReadonlyArray1<'_, f64>>()?.as_array().to_vec()),
            "coded" => {
                let (codes, dictionary): (PyReadonlyArray1<'_, u32>, Vec<String>) = data.extract()?;
                let dictionary = dictionary.into_iter().map(String::into_boxed_str).collect();
                Cells::Coded { codes: codes.as_array().to_vec(), dictionary }
            }
            _ => Cells::Text(data.extract::<Vec<String>>()?.iter().collect::<Texts>()),
        };
        table.push(&name, cells).or_raise(py)?;
    }
    Ok(table)
}

/// How a table is read under `method`, or by default.
pub fn options(method: Option<&Method>) -> ReadOptions {
    method.map_or_else(ReadOptions::default, |method| ReadOptions::from(&*method.0))
}

/// Every run of a table; all problems of the table at once.
#[pyfunction]
#[pyo3(signature = (columns, method=None))]
fn _read_runs(py: Python<'_>, columns: &Bound<'_, PyAny>, method: Option<&Method>) -> PyResult<Vec<Run>> {
    let (table, options) = (table(columns)?, options(method));
    let runs = py.detach(|| Runs::from_table(&table, &options)).or_raise(py)?;
    Ok(runs.into_vec().into_iter().map(|run| Run(Arc::new(run))).collect())
}

/// Each run of a table, or the exception that says what is wrong with it: `(name, run or exception)`.
#[pyfunction]
#[pyo3(signature = (columns, method=None))]
fn _read_each(
    py: Python<'_>,
    columns: &Bound<'_, PyAny>,
    method: Option<&Method>,
) -> PyResult<Vec<(String, Py<PyAny>)>> {
    let (table, options) = (table(columns)?, options(method));
    let each = py.detach(|| Runs::each_from_table(&table, &options)).or_raise(py)?;
    each.into_iter()
        .map(|run| match run {
            Ok(run) => Ok((run.name.to_string(), Bound::new(py, Run(Arc::new(run)))?.into_any().unbind())),
            Err(failed) => Ok((failed.run.to_string(), raised(py, failed.error).into_value(py).into_any())),
        })
        .collect()
}

/// Adds the class and its helpers.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Run>()?;
    module.add_function(wrap_pyfunction!(_read_runs, module)?)?;
    module.add_function(wrap_pyfunction!(_read_each, module)?)
}
