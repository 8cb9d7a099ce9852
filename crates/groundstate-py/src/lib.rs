//! Python bindings of `groundstate`: frozen wrappers and one error map, no arithmetic.
#![allow(unsafe_code)] // pyo3's macros expand to it; none is written by hand.

use pyo3::prelude::*;

/// Adds every class and function to `module`, so that another extension can embed them.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))
}

#[pymodule]
fn _core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    register(module)
}
