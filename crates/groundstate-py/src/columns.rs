//! Bare columns of many runs, at memory speed.

use std::num::NonZeroUsize;

use groundstate::Error;
use groundstate::columns::{ColumnOptions, ColumnsOut, ColumnsRef, ReplicateLimit, ShapedRef, Work};
use groundstate::curve::Levels;
use groundstate::method::AliasPolicy;
use groundstate::run::Role;
use numpy::PyReadonlyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::arrays::filled;
use crate::error::{OrRaise, raised};
use crate::method::Method;

type Codes<'py> = PyReadonlyArray1<'py, u32>;
type Figures<'py> = PyReadonlyArray1<'py, f64>;
/// The columns of the result, `(run code, exception)` for each run that could not be reduced, and the unit of results.
type Done<'py> = (Bound<'py, PyDict>, Bound<'py, PyList>, &'static str);

/// Reduces columns of codes and figures; `roles` are the words of the role codes.
#[pyfunction]
#[allow(clippy::too_many_arguments)] // one a column
fn _reduce_columns<'py>(
    py: Python<'py>,
    run: Codes<'py>,
    position: Codes<'py>,
    role: Codes<'py>,
    roles: Vec<String>,
    replicate: Option<Codes<'py>>,
    absorbance: Figures<'py>,
    nominal: Option<Figures<'py>>,
    dilution: Option<Figures<'py>>,
    method: &Method,
    threads: usize,
    replicate_limit: Option<(f64, f64)>,
) -> PyResult<Done<'py>> {
    let roles = parsed(&roles).or_raise(py)?;
    let columns = ColumnsRef {
        run: run.as_slice()?,
        position: position.as_slice()?,
        role: role.as_slice()?,
        roles: &roles,
        replicate: replicate.as_ref().map(|codes| codes.as_slice()).transpose()?,
        absorbance: absorbance.as_slice()?,
        nominal: nominal.as_ref().map(|figures| figures.as_slice()).transpose()?,
        dilution: dilution.as_ref().map(|figures| figures.as_slice()).transpose()?,
    };
    let options = options(threads, replicate_limit);
    let work = py.detach(|| Work::of(columns, &method.0, &options)).or_raise(py)?;
    done(py, &work, &method.0)
}

/// As _reduce_columns, of runs that all have the same positions: absorbance is run after run, position after position,
/// replicate after replicate; nominal and dilution are one a position, or run after run.
#[pyfunction]
#[allow(clippy::too_many_arguments)] // one an array
fn _reduce_shaped<'py>(
    py: Python<'py>,
    replicates: usize,
    role: Codes<'py>,
    roles: Vec<String>,
    absorbance: Figures<'py>,
    nominal: Option<Figures<'py>>,
    dilution: Option<Figures<'py>>,
    method: &Method,
    threads: usize,
    replicate_limit: Option<(f64, f64)>,
) -> PyResult<Done<'py>> {
    let roles = parsed(&roles).or_raise(py)?;
    let role = role.as_slice()?;
    let nominal = nominal.as_ref().map(|figures| figures.as_slice()).transpose()?;
    let dilution = dilution.as_ref().map(|figures| figures.as_slice()).transpose()?;
    let shaped = ShapedRef {
        replicates,
        role,
        roles: &roles,
        absorbance: absorbance.as_slice()?,
        nominal: nominal.map(|figures| levels(figures, role.len())),
        dilution: dilution.map(|figures| levels(figures, role.len())),
    };
    let options = options(threads, replicate_limit);
    let work = py.detach(|| Work::of_shaped(shaped, &method.0, &options)).or_raise(py)?;
    done(py, &work, &method.0)
}

/// One figure a position, or run after run.
fn levels(figures: &[f64], positions: usize) -> Levels<'_> {
    if figures.len() == positions { Levels::Row(figures) } else { Levels::Each(figures) }
}

fn parsed(roles: &[String]) -> Result<Vec<Role>, Error> {
    roles.iter().map(|word| Role::parse(word, AliasPolicy::Refuse)).collect()
}

fn options(threads: usize, replicate_limit: Option<(f64, f64)>) -> ColumnOptions {
    ColumnOptions {
        threads: NonZeroUsize::new(threads).unwrap_or(NonZeroUsize::MIN),
        replicates: replicate_limit.map(|(sd, rsd_percent)| ReplicateLimit { sd, rsd_percent }),
    }
}

/// Fills columns that are rows of NumPy's blocks: figures, codes and bits.
fn done<'py>(py: Python<'py>, work: &Work<'_>, method: &groundstate::method::Method) -> PyResult<Done<'py>> {
    let rows = work.rows();
    let (mut codes, mut bits, mut errors) = (None, None, Vec::new());
    let figures = filled(py, rows, |[value, u, lo, hi]: [&mut [f64]; 4]| {
        codes = Some(filled(py, rows, |[run, position, role]: [&mut [u32]; 3]| {
            bits = Some(filled(py, rows, |[status, flags]: [&mut [u8]; 2]| {
                let out = ColumnsOut { run, position, role, value, u, lo, hi, status, flags };
                errors = py.detach(|| work.fill(out)).or_raise(py)?;
                Ok(())
            })?);
            Ok(())
        })?);
        Ok(())
    })?;
    let found = PyDict::new(py);
    let codes = ["run", "position", "role"].into_iter().zip(codes.into_iter().flatten());
    let figures = ["value", "standard_uncertainty", "lo", "hi"].into_iter().zip(figures);
    let bits = ["status_code", "flags"].into_iter().zip(bits.into_iter().flatten());
    for (name, column) in codes.chain(figures).chain(bits) {
        found.set_item(name, column)?;
    }
    let told = PyList::empty(py);
    for (run, error) in errors {
        told.append((run, raised(py, error).into_value(py)))?;
    }
    Ok((found, told, method.reporting.liquid_unit.name()))
}

/// Adds the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_reduce_columns, module)?)?;
    module.add_function(wrap_pyfunction!(_reduce_shaped, module)?)
}
