//! The distributions that limits and tests rest on, for tests against other libraries.

use groundstate::Error;
use groundstate::numeric::distribution::{chi_squared, fisher_f, noncentral_t, normal, student_t};
use pyo3::prelude::*;

use crate::error::OrRaise;

/// A figure of a distribution: `which` is cdf, sf, quantile or upper_quantile, `at` its argument.
#[pyfunction]
#[pyo3(signature = (name, which, at, *parameters))]
fn _distribution(py: Python<'_>, name: &str, which: &str, at: f64, parameters: Vec<f64>) -> PyResult<f64> {
    let found = match (name, which, &parameters[..]) {
        ("normal", "cdf", []) => Ok(normal::cdf(at)),
        ("normal", "sf", []) => Ok(normal::sf(at)),
        ("normal", "quantile", []) => Ok(normal::quantile(at)),
        ("normal", "upper_quantile", []) => Ok(normal::upper_quantile(at)),
        ("student_t", "cdf", [dof]) => Ok(student_t::cdf(at, *dof)),
        ("student_t", "sf", [dof]) => Ok(student_t::sf(at, *dof)),
        ("student_t", "quantile", [dof]) => Ok(student_t::quantile(at, *dof)),
        ("student_t", "upper_quantile", [dof]) => Ok(student_t::upper_quantile(at, *dof)),
        ("chi_squared", "cdf", [dof]) => Ok(chi_squared::cdf(at, *dof)),
        ("chi_squared", "sf", [dof]) => Ok(chi_squared::sf(at, *dof)),
        ("chi_squared", "quantile", [dof]) => Ok(chi_squared::quantile(at, *dof)),
        ("chi_squared", "upper_quantile", [dof]) => Ok(chi_squared::upper_quantile(at, *dof)),
        ("fisher_f", "cdf", [one, two]) => Ok(fisher_f::cdf(at, *one, *two)),
        ("fisher_f", "sf", [one, two]) => Ok(fisher_f::sf(at, *one, *two)),
        ("fisher_f", "quantile", [one, two]) => Ok(fisher_f::quantile(at, *one, *two)),
        ("fisher_f", "upper_quantile", [one, two]) => Ok(fisher_f::upper_quantile(at, *one, *two)),
        ("noncentral_t", "cdf", [dof, delta]) => Ok(noncentral_t::cdf(at, *dof, *delta)),
        ("noncentral_t", "sf", [dof, delta]) => Ok(noncentral_t::sf(at, *dof, *delta)),
        ("noncentral_t", "quantile", [dof, delta]) => Ok(noncentral_t::quantile(at, *dof, *delta)),
        _ => {
            Err(Error::argument("name", format!("there is no {which} of {name} with {} parameters", parameters.len())))
        }
    };
    found.or_raise(py)
}

/// Adds the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_distribution, module)?)
}
