//! Python bindings of `groundstate`: frozen wrappers and one error map, no arithmetic.
#![allow(unsafe_code)] // pyo3's macros expand to it; none is written by hand.

mod addition;
mod archive;
mod arrays;
mod bracket;
mod budget;
mod calibrate;
mod calibration;
mod columns;
mod currie;
mod distribution;
mod error;
mod estimates;
mod finding;
mod interval;
mod into;
mod limits;
mod lloq;
mod many;
mod matrix;
mod matrix_decision;
mod mdl;
mod mdl_ongoing;
mod mdl_record;
mod mdl_result;
mod mdl_verification;
mod measured;
mod method;
mod noise;
mod noise_choice;
mod nondetect;
mod outcome;
mod package;
mod preparation;
mod recall;
mod response;
mod rounding;
mod run;
mod shape_choice;
mod simulate;
mod single_addition;
mod statistics;
mod uncertain;
mod variances;
mod x_uncertainty;

use pyo3::prelude::*;

/// Adds every class and function to `module`, so that another extension can embed them.
///
/// Conversions of unusual input, and pickles, go through the Python package `groundstate`, which must be installed.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    // What the compiler was asked for: debug assertions are on in every profile but that for speed.
    module.add("_BUILD", if cfg!(debug_assertions) { "development" } else { "release" })?;
    error::register(module)?;
    finding::register(module)?;
    noise::register(module)?;
    x_uncertainty::register(module)?;
    calibrate::register(module)?;
    calibration::register(module)?;
    response::register(module)?;
    uncertain::register(module)?;
    estimates::register(module)?;
    interval::register(module)?;
    budget::register(module)?;
    measured::register(module)?;
    preparation::register(module)?;
    statistics::register(module)?;
    variances::register(module)?;
    distribution::register(module)?;
    rounding::register(module)?;
    nondetect::register(module)?;
    mdl_result::register(module)?;
    mdl::register(module)?;
    mdl_record::register(module)?;
    mdl_ongoing::register(module)?;
    mdl_verification::register(module)?;
    lloq::register(module)?;
    limits::register(module)?;
    currie::register(module)?;
    noise_choice::register(module)?;
    many::register(module)?;
    shape_choice::register(module)?;
    addition::register(module)?;
    single_addition::register(module)?;
    matrix::register(module)?;
    bracket::register(module)?;
    matrix_decision::register(module)?;
    recall::register(module)?;
    archive::register(module)?;
    method::register(module)?;
    run::register(module)?;
    columns::register(module)?;
    simulate::register(module)?;
    outcome::register(module)
}

#[pymodule(gil_used = false)]
fn _core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    register(module)
}
