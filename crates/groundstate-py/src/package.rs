//! Functions of the Python package around this module, looked up when they are first needed.

use pyo3::call::PyCallArgs;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// What the function `name` of the module `groundstate.<module>` gives for `arguments`.
pub fn call<'py>(
    py: Python<'py>,
    module: &str,
    name: &str,
    arguments: impl PyCallArgs<'py>,
) -> PyResult<Bound<'py, PyAny>> {
    py.import(format!("groundstate.{module}"))?.getattr(name)?.call1(arguments)
}

/// The object as HTML for notebooks, by the function `name` of `groundstate._html`.
pub fn html<'py>(py: Python<'py>, name: &str, object: impl IntoPyObject<'py>) -> PyResult<Bound<'py, PyAny>> {
    call(py, "_html", name, (object,))
}

/// The public properties of an object as plain lists, words and figures.
pub fn plain<'py>(object: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    call(object.py(), "_plain", "to_dict", (object,))
}

/// Whether two objects say the same: their dictionaries are equal.
pub fn same<'py>(one: &Bound<'py, PyAny>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
    if !one.get_type().is(other.get_type()) {
        return Ok(false);
    }
    one.call_method0("to_dict")?.eq(other.call_method0("to_dict")?)
}

/// A table of the package from named columns, the units of columns that have one, and the kind of table it came as.
pub fn table<'py>(
    py: Python<'py>,
    columns: &Bound<'py, PyDict>,
    units: &Bound<'py, PyDict>,
    kind: Option<&str>,
) -> PyResult<Bound<'py, PyAny>> {
    call(py, "_table", "Table", (columns, units, kind))
}

/// What kind of table numbers came in, where they came in one; None for scalars, lists and arrays.
pub fn origin_of(given: &Bound<'_, PyAny>) -> PyResult<Option<Py<PyAny>>> {
    use numpy::{PyUntypedArray, PyUntypedArrayMethods as _};
    use pyo3::types::{PyFloat, PyInt, PyList, PyTuple};
    let plain = given.cast_exact::<PyFloat>().is_ok()
        || given.cast_exact::<PyInt>().is_ok()
        || given.cast_exact::<PyList>().is_ok()
        || given.cast_exact::<PyTuple>().is_ok()
        || given.cast::<PyUntypedArray>().is_ok_and(|array| array.ndim() <= 2);
    if plain {
        return Ok(None);
    }
    let origin = call(given.py(), "_frames", "origin_of", (given,))?;
    Ok((!origin.is_none()).then(|| origin.unbind()))
}
