//! Rounding for the report.

use groundstate::Error;
use groundstate::rounding::{Rounding, Rule, Ties};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};

/// A value as it is reported: rounded on the shortest decimal that reads back as the number, trailing zeros kept.
///
/// Args:
///     value: the figure.
///     figures: significant figures, 1 to 15.
///     decimals: digits after the point, 0 to 15.
///     quantum: a step: 1, 2, 5 or 25 times a power of ten.
///     u: the uncertainty that the value is reported with, whose last place it gets. Exactly one of these four is
///         given.
///     uncertainty_figures: figures of that uncertainty.
///     ties: what becomes of a value half-way between two steps.
///
/// Raises:
///     ArgumentError: none or several of the four, or one that is out of range.
///
/// Source:
///     JCGM 100:2008, 7.2.6; ISO 80000-1:2009, Annex B (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.round_reported(0.012345, u=0.00067)
///     '0.01234'
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
