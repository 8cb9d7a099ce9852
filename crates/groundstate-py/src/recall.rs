//! How an object is made again: the function that made it and its arguments, all of them immutable.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::arrays::{Numbers, read_only};

/// Name of a function of this module with the keywords that it was called with.
pub struct Recall {
    function: &'static str,
    keywords: Py<PyDict>,
}

/// How an object was called for tells no two of them apart: what it holds does.
impl PartialEq for Recall {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Recall {
    /// A call of `function`, its keywords to be told.
    pub fn new(py: Python<'_>, function: &'static str) -> Self {
        Recall { function, keywords: PyDict::new(py).unbind() }
    }

    /// The same call with one keyword more, whose value must be immutable.
    pub fn with<'py>(self, py: Python<'py>, name: &str, value: impl IntoPyObject<'py>) -> PyResult<Self> {
        self.keywords.bind(py).set_item(name, value)?;
        Ok(self)
    }

    /// The same call with `value` where it was given.
    pub fn with_some<'py>(self, py: Python<'py>, name: &str, value: Option<impl IntoPyObject<'py>>) -> PyResult<Self> {
        match value {
            Some(value) => self.with(py, name, value),
            None => Ok(self),
        }
    }

    /// The same call with a copy of numbers that the caller could still change.
    pub fn with_numbers(self, py: Python<'_>, name: &str, numbers: &Numbers<'_>) -> PyResult<Self> {
        let values = numbers.as_slice()?;
        match values.first() {
            Some(only) if numbers.is_scalar() => self.with(py, name, *only),
            _ => {
                let shaped = read_only(py, values.to_vec()).call_method1("reshape", (numbers.shape.clone(),))?;
                self.with(py, name, shaped)
            }
        }
    }

    /// What `__reduce__` gives.
    pub fn reduced<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let keywords = self.keywords.bind(py).copy()?;
        (crate::archive::function(py, "_recall")?, (self.function, keywords)).into_pyobject(py)
    }
}

/// Calls the function of this module with this name.
#[pyfunction]
fn _recall<'py>(py: Python<'py>, name: &str, keywords: &Bound<'py, PyDict>) -> PyResult<Bound<'py, PyAny>> {
    crate::archive::function(py, name)?.call((), Some(keywords))
}

/// Adds the function that pickles name.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_recall, module)?)
}
