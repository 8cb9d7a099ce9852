//! A non-detect is a state of its own: never 0, never NaN.

use groundstate::Error;
use groundstate::detection::mdl::Measured;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;

use crate::arrays::Numbers;
use crate::error::raised;

/// The class of `ND`, the non-detect: a state of its own, never 0 and never missing.
#[pyclass(frozen, module = "groundstate")]
pub struct NonDetect;

static ND: PyOnceLock<Py<NonDetect>> = PyOnceLock::new();

/// The one non-detect.
pub fn nd(py: Python<'_>) -> PyResult<Py<NonDetect>> {
    Ok(ND.get_or_try_init(py, || Py::new(py, NonDetect))?.clone_ref(py))
}

#[pymethods]
impl NonDetect {
    #[new]
    fn new(py: Python<'_>) -> PyResult<Py<NonDetect>> {
        nd(py)
    }

    fn __bool__(&self) -> PyResult<bool> {
        Err(pyo3::exceptions::PyTypeError::new_err("a non-detect is neither true nor false; write `x is gs.ND`"))
    }

    fn __repr__(&self) -> &'static str {
        "ND"
    }

    fn __reduce__(&self) -> &'static str {
        "ND"
    }
}

/// One result that may be a non-detect or missing.
pub fn measured(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Measured> {
    if given.is_none() {
        return Ok(Measured::Missing);
    }
    if given.is_instance_of::<NonDetect>() {
        return Ok(Measured::NonDetect);
    }
    match given.extract::<&str>() {
        Ok("ND") => Ok(Measured::NonDetect),
        Ok(word) => {
            let error = Error::argument(name, format!("{word:?} is not a result"));
            Err(raised(given.py(), error.help("it is a number, ND for a non-detect, None where it is missing")))
        }
        Err(_) => Numbers::one(name, given).map(Measured::from),
    }
}

/// The result as Python has it.
pub fn to_python<'py>(measured: Measured, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
    Ok(match measured {
        Measured::Number(number) => number.into_pyobject(py)?.into_any(),
        Measured::NonDetect => nd(py)?.into_bound(py).into_any(),
        Measured::Missing => py.None().into_bound(py),
    })
}

/// Adds the class and its one object.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<NonDetect>()?;
    module.add("ND", nd(module.py())?)
}
