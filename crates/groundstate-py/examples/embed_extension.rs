//! An extension module of a laboratory that brings the classes of groundstate with it, beside functions of its own.
//!
//!     cargo build -p groundstate-py --example embed_extension
//!
//! In a crate of its own this is a `cdylib` that depends on `groundstate-py`, `groundstate` and `pyo3`. The classes are
//! those of this module, not of an installed groundstate; pickles and conversions of unusual input go through the
//! Python package, which has to be installed too.
#![allow(missing_docs, unsafe_code)] // pyo3's macros expand to unsafe code; none is written by hand.

use groundstate::element::Element;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;

/// Name of the house method of an element.
#[pyfunction]
fn house_method(element: &str) -> PyResult<String> {
    let element = Element::parse(element).map_err(|error| PyValueError::new_err(error.to_string()))?;
    Ok(format!("{}-HOUSE", element.symbol().to_uppercase()))
}

#[pymodule]
fn embed_extension(module: &Bound<'_, PyModule>) -> PyResult<()> {
    let core = PyModule::new(module.py(), "core")?;
    groundstate_py::register(&core)?;
    module.add_submodule(&core)?;
    module.add_function(wrap_pyfunction!(house_method, module)?)
}
