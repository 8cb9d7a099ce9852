//! Rounding for the report.

use groundstate::Error;
use groundstate::rounding::{Rounding, Rule, Ties};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};

/// A value as it is reported, rounded on the decimal that was written, half to even.
///
/// By exactly one of figures (significant), decimals, quantum (a step such as 0.05), or u, the uncertainty it is
/// reported with, which is itself rounded to uncertainty_figures.
#[pyfunction]
#[pyo3(signature = (value, *, figures=None, decimals=None, quantum=None, u=None, uncertainty_figures=2, ties="half_even"))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn round_reported(
    value: &Bound<'_, PyAny>,
    figures: Option<u8>,
    decimals: Option<u8>,
    quantum: Option<f64>,
    u: Option<&Bound<'_, PyAny>>,
    uncertainty_figures: u8,
    ties: &str,
) -> PyResult<String> {
    let py = value.py();
    let value = Numbers::one("value", value)?;
    let u = Numbers::one_or_none("u", u)?;
    let rounding = match (figures, decimals, quantum, u) {
        (Some(count), None, None, None) => Rounding::figures(count),
        (None, Some(count), None, None) => Rounding::decimals(count),
        (None, None, Some(step), None) => Rounding::quantum(step),
        (None, None, None, Some(_)) => Rounding::uncertainty(uncertainty_figures),
        _ => Err(Error::argument("figures", "it is not clear by what to round")
            .help("give exactly one of figures, decimals, quantum and u")),
    };
    let ties = match ties {
        "half_even" => Ties::HalfEven,
        "half_up" => Ties::HalfUp,
        word => {
            let error = Error::argument("ties", format!("there is no rule {word:?}"));
            return Err(raised(py, error.help("it is \"half_even\" or \"half_up\"")));
        }
    };
    let rule = Rule { rounding: rounding.or_raise(py)?, ties };
    Ok(rule.round(value, u).or_raise(py)?.to_string())
}

/// Adds the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(round_reported, module)?)
}
