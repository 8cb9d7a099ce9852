//! Bare columns of many runs, at memory speed.

use std::num::NonZeroUsize;

use groundstate::Error;
use groundstate::columns::{ColumnOptions, ColumnTable, ColumnsRef, ReplicateLimit, ShapedRef, reduce, reduce_shaped};
use groundstate::curve::Levels;
use groundstate::method::AliasPolicy;
use groundstate::run::Role;
use numpy::{IntoPyArray, PyReadonlyArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::error::{OrRaise, raised};
use crate::method::Method;

type Codes<'py> = PyReadonlyArray1<'py, u32>;
type Figures<'py> = PyReadonlyArray1<'py, f64>;

/// Reduces columns of codes and figures; `roles` are the words of the role codes. Gives the columns of the result and
/// `(run code, exception)` for each run that could not be reduced.
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
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyList>)> {
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
    let table = py.detach(|| reduce(columns, &method.0, &options)).or_raise(py)?;
    handed_out(py, table, &roles)
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
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyList>)> {
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
    let table = py.detach(|| reduce_shaped(shaped, &method.0, &options)).or_raise(py)?;
    handed_out(py, table, &roles)
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

fn handed_out<'py>(
    py: Python<'py>,
    table: ColumnTable,
    roles: &[Role],
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyList>)> {
    let found = PyDict::new(py);
    let code_of = |wanted: &Role| roles.iter().position(|role| role == wanted).unwrap_or(0) as u32;
    found.set_item("run", table.run.into_pyarray(py))?;
    found.set_item("position", table.position.into_pyarray(py))?;
    found.set_item("role", table.role.iter().map(code_of).collect::<Vec<u32>>().into_pyarray(py))?;
    found.set_item("value", table.value.into_pyarray(py))?;
    found.set_item("standard_uncertainty", table.u.into_pyarray(py))?;
    found.set_item("lo", table.lo.into_pyarray(py))?;
    found.set_item("hi", table.hi.into_pyarray(py))?;
    found.set_item("status_code", table.status.iter().map(|one| *one as u8).collect::<Vec<u8>>().into_pyarray(py))?;
    found.set_item("flags", table.flags.iter().map(|one| one.bits()).collect::<Vec<u8>>().into_pyarray(py))?;
    let errors = PyList::empty(py);
    for (run, error) in table.errors {
        errors.append((run, raised(py, error).into_value(py)))?;
    }
    Ok((found, errors))
}

/// Adds the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_reduce_columns, module)?)?;
    module.add_function(wrap_pyfunction!(_reduce_shaped, module)?)
}
