//! Tables of readings and the runs in them.

use std::sync::Arc;

use groundstate::run::{Cells, RawTable, ReadOptions, Run as Core, Runs, Texts};
use groundstate::wire::Layout;
use numpy::PyReadonlyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyList, PyString, PyTuple};

use crate::archive::function;
use crate::error::{OrRaise, raised, wrong_type};
use crate::finding::findings;
use crate::method::Method;

/// One run as it was read: positions in order, with their readings. Frozen; equal by content.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone)]
pub struct Run(pub Arc<Core>, pub Option<Kind>);

/// What kind of table something came in, for the way back; nothing that it says depends on it.
#[derive(Clone, Copy)]
pub struct Kind(&'static str);

impl Kind {
    const ALL: [&'static str; 3] = ["pandas", "polars", "arrow"];

    /// The kind called so.
    pub fn named(name: Option<&str>) -> Option<Self> {
        Self::ALL.into_iter().find(|known| Some(*known) == name).map(Kind)
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        self.0
    }
}

impl PartialEq for Run {
    fn eq(&self, other: &Self) -> bool {
        self.0 == other.0
    }
}

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

    /// The run as a JSON document; docs/schema/run.json describes it.
    ///
    /// Args:
    ///     compact: leave white space out.
    #[pyo3(signature = (*, compact=false))]
    fn to_json(&self, compact: bool) -> String {
        self.0.to_json(if compact { Layout::Compact } else { Layout::Pretty })
    }

    /// The run in a JSON document, as it was stored.
    ///
    /// Args:
    ///     text: the document.
    ///
    /// Raises:
    ///     WireError: what is wrong with the document.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        Core::from_json(text).map(|core| Run(Arc::new(core), None)).or_raise(py)
    }

    /// The members of the JSON document as a dictionary.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        py.import("json")?.getattr("loads")?.call1((self.to_json(true),))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Recipe<'py>> {
        Ok((function(py, "_run_from_json")?, (self.to_json(true), self.1.map(Kind::name))))
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
/// missing), "text" (list of str, "" or None missing) or "coded" (uint32 codes and a list of words).
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
            _ => Cells::Text(texts(&data)?),
        };
        table.push(&name, cells).or_raise(py)?;
    }
    Ok(table)
}

/// The words of a list, without a string of its own for each of them.
fn texts(cells: &Bound<'_, PyAny>) -> PyResult<Texts> {
    let mut texts = Texts::new();
    for cell in cells.cast::<PyList>().map_err(|_| wrong_type("table", cells, "a list of words"))? {
        if cell.is_none() {
            texts.push("");
        } else {
            texts.push(cell.cast::<PyString>().map_err(|_| wrong_type("table", &cell, "a word"))?.to_str()?);
        }
    }
    Ok(texts)
}

/// A function and what it makes an object again from: JSON, and what kind of table it came in.
pub type Recipe<'py> = (Bound<'py, PyAny>, (String, Option<&'static str>));

/// A run from JSON; what a pickle calls.
#[pyfunction]
fn _run_from_json(py: Python<'_>, text: &str, kind: Option<&str>) -> PyResult<Run> {
    Ok(Run(Run::from_json(py, text)?.0, Kind::named(kind)))
}

/// Their name of a column with ours, or None to leave the column out.
type Renaming = Option<Vec<(String, Option<String>)>>;

fn renamed(py: Python<'_>, table: RawTable, names: &Renaming) -> PyResult<RawTable> {
    let Some(names) = names else { return Ok(table) };
    let pairs: Vec<(&str, Option<&str>)> =
        names.iter().map(|(theirs, ours)| (theirs.as_str(), ours.as_deref())).collect();
    table.renamed(&pairs).or_raise(py)
}

/// How a table is read under `method`, or by default.
pub fn options(method: Option<&Method>) -> ReadOptions {
    method.map_or_else(ReadOptions::default, |method| ReadOptions::from(&*method.0))
}

/// Every run of a table; all problems of the table at once.
#[pyfunction]
#[pyo3(signature = (columns, method=None, names=None, kind=None))]
fn _read_runs(
    py: Python<'_>,
    columns: &Bound<'_, PyAny>,
    method: Option<&Method>,
    names: Renaming,
    kind: Option<&str>,
) -> PyResult<Vec<Run>> {
    let (table, options) = (renamed(py, table(columns)?, &names)?, options(method));
    let runs = py.detach(|| Runs::from_table(&table, &options)).or_raise(py)?;
    Ok(runs.into_vec().into_iter().map(|run| Run(Arc::new(run), Kind::named(kind))).collect())
}

/// Each run of a table, or the exception that says what is wrong with it: `(name, run or exception)`.
#[pyfunction]
#[pyo3(signature = (columns, method=None, names=None, kind=None))]
fn _read_each(
    py: Python<'_>,
    columns: &Bound<'_, PyAny>,
    method: Option<&Method>,
    names: Renaming,
    kind: Option<&str>,
) -> PyResult<Vec<(String, Py<PyAny>)>> {
    let (table, options) = (renamed(py, table(columns)?, &names)?, options(method));
    each_of(py, &table, &options, Kind::named(kind))
}

/// Each run of a CSV file, as `_read_each`; a table that names no run is one run called `name`.
#[pyfunction]
fn _read_file(
    py: Python<'_>,
    bytes: &Bound<'_, PyBytes>,
    name: &str,
    method: Option<&Method>,
) -> PyResult<Vec<(String, Py<PyAny>)>> {
    let mut table = RawTable::from_csv_bytes(bytes.as_bytes()).or_raise(py)?;
    if table.column("run").is_none() {
        let codes = vec![0; table.rows()];
        table.push("run", Cells::Coded { codes, dictionary: vec![name.into()] }).or_raise(py)?;
    }
    each_of(py, &table, &options(method), None)
}

fn each_of(
    py: Python<'_>,
    table: &RawTable,
    options: &ReadOptions,
    kind: Option<Kind>,
) -> PyResult<Vec<(String, Py<PyAny>)>> {
    let each = py.detach(|| Runs::each_from_table(table, options)).or_raise(py)?;
    each.into_iter()
        .map(|run| match run {
            Ok(run) => Ok((run.name.to_string(), Bound::new(py, Run(Arc::new(run), kind))?.into_any().unbind())),
            Err(failed) => Ok((failed.run.to_string(), raised(py, failed.error).into_value(py).into_any())),
        })
        .collect()
}

/// Adds the class and its helpers.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Run>()?;
    module.add_function(wrap_pyfunction!(_run_from_json, module)?)?;
    module.add_function(wrap_pyfunction!(_read_runs, module)?)?;
    module.add_function(wrap_pyfunction!(_read_each, module)?)?;
    module.add_function(wrap_pyfunction!(_read_file, module)?)
}
