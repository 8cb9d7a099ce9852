//! Many calibrations at once.

use groundstate::curve::{Levels, ManyOut, ManyPoints, ManyStatus, Shape, fit_many};
use numpy::{IntoPyArray, PyArrayDyn, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::OrRaise;
use crate::into::threads;

/// A figure for all, one a level, or a table of runs x levels.
fn levels<'a>(numbers: &'a Numbers<'_>) -> PyResult<Levels<'a>> {
    let figures = numbers.as_slice()?;
    Ok(match (numbers.width(), figures) {
        (Some(_), figures) => Levels::Each(figures),
        (None, [figure]) if numbers.is_scalar() => Levels::One(*figure),
        (None, figures) => Levels::Row(figures),
    })
}

/// Coefficients, covariance, chi-squared and status codes of each row of `absorbance`, and the words of the codes.
#[pyfunction]
#[allow(clippy::too_many_arguments)] // one an array
fn _calibrate_many<'py>(
    py: Python<'py>,
    concentration: &Bound<'py, PyAny>,
    absorbance: &Bound<'py, PyAny>,
    x_uncertainty: &Bound<'py, PyAny>,
    y_uncertainty: &Bound<'py, PyAny>,
    shape: &str,
    threads: Option<usize>,
) -> PyResult<Bound<'py, PyTuple>> {
    let shape = Shape::parse(shape).or_raise(py)?;
    let concentration = Numbers::of("concentration", concentration)?;
    let absorbance = Numbers::of("absorbance", absorbance)?;
    let (x_u, y_u) = (Numbers::of("x_uncertainty", x_uncertainty)?, Numbers::of("y_uncertainty", y_uncertainty)?);
    let signal = absorbance.as_slice()?;
    let width = absorbance.width().unwrap_or(signal.len());
    let points = ManyPoints {
        levels: width,
        concentration: levels(&concentration)?,
        signal,
        concentration_u: levels(&x_u)?,
        signal_u: levels(&y_u)?,
    };
    let (runs, p) = (signal.len() / width.max(1), shape.parameters());
    let (mut coefficients, mut covariance) = (vec![0.0; runs * p], vec![0.0; runs * p * p]);
    let (mut chi_squared, mut status) = (vec![0.0; runs], vec![0_u8; runs]);
    let threads = self::threads(py, threads, 16 * signal.len())?;
    py.detach(|| {
        let out = ManyOut {
            coefficients: &mut coefficients,
            covariance: &mut covariance,
            chi_squared: &mut chi_squared,
            status: &mut status,
        };
        fit_many(shape, &points, threads, out)
    })
    .or_raise(py)?;
    let shaped = |values: Vec<f64>, shape: &[usize]| -> PyResult<Bound<'py, PyArrayDyn<f64>>> {
        values.into_pyarray(py).reshape(shape)
    };
    (
        shaped(coefficients, &[runs, p])?,
        shaped(covariance, &[runs, p, p])?,
        chi_squared.into_pyarray(py),
        status.into_pyarray(py),
        ManyStatus::ALL.map(ManyStatus::name),
    )
        .into_pyobject(py)
}

/// Adds the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_calibrate_many, module)?)
}
