//! The record that has to be kept of a method detection limit.

use groundstate::detection::mdl::MdlRecord as Core;
use groundstate::wire::Layout;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::archive::function;
use crate::error::OrRaise;
use crate::mdl_result::MdlResult;

/// The record of a method detection limit. Made by `Mdl.record`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlRecord(pub Core);

#[pymethods]
impl MdlRecord {
    /// The record in a JSON document. Its limit is computed again: a document whose figures do not follow from its
    /// results and choices is refused.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        py.detach(|| Core::from_json(text)).map(MdlRecord).or_raise(py)
    }

    /// The record as a JSON document (groundstate.mdl_record/1) from which anybody can compute the limit again.
    #[pyo3(signature = (*, compact=false))]
    fn to_json(&self, compact: bool) -> String {
        self.0.to_json(if compact { Layout::Compact } else { Layout::Pretty })
    }

    /// The members of the JSON document.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        Ok(py.import("json")?.getattr("loads")?.call1((self.to_json(true),))?.cast_into()?)
    }

    /// The record as plain text, in full precision; also `str(record)`.
    #[getter]
    fn text(&self) -> String {
        self.0.to_string()
    }

    /// The limit.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.0.mdl.value
    }

    /// Mean level spiked; None where no spike has one.
    #[getter]
    fn mean_spiked(&self) -> Option<f64> {
        self.0.mean_spiked
    }

    /// Mean level found, of the spikes that gave a number.
    #[getter]
    fn mean_recovered(&self) -> Option<f64> {
        self.0.mean_recovered
    }

    /// Every result, those left out among them.
    #[getter]
    fn results(&self) -> Vec<MdlResult> {
        self.0.results.iter().cloned().map(MdlResult).collect()
    }

    fn __str__(&self) -> String {
        self.text()
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        (function(py, "_mdl_record_from_json")?, (self.to_json(true),)).into_pyobject(py)
    }

    fn __repr__(&self) -> String {
        let value = self.0.mdl.value.map_or("no value".to_owned(), |value| format!("{value:.4e}"));
        format!("<MdlRecord {value}, {} results>", self.0.results.len())
    }
}

/// The record in a JSON document, for pickles to name.
#[pyfunction]
fn _mdl_record_from_json(py: Python<'_>, text: &str) -> PyResult<MdlRecord> {
    MdlRecord::from_json(py, text)
}

/// Adds the class and its function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlRecord>()?;
    module.add_function(wrap_pyfunction!(_mdl_record_from_json, module)?)
}
