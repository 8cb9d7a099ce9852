//! gs.bracket: interpolation between two standards.

use std::sync::Arc;

use groundstate::Error;
use groundstate::addition::{Bracket, BracketStandard, Origin, Signal};
use groundstate::estimate::Dof;
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::archive;
use crate::arrays::Numbers;
use crate::calibrate::{Stock, stock_choice};
use crate::error::{OrRaise, raised};
use crate::estimates::{Estimate, Estimates, Origin as Source};

/// Two numbers, or one for both.
fn two(name: &str, given: &Bound<'_, PyAny>) -> PyResult<[f64; 2]> {
    let numbers = Numbers::of(name, given)?;
    match numbers.as_slice()? {
        [both] if numbers.is_scalar() => Ok([*both; 2]),
        [low, high] if numbers.width().is_none() => Ok([*low, *high]),
        _ => Err(raised(
            given.py(),
            Error::argument(name, "two numbers are needed, of the lower and the higher standard"),
        )),
    }
}

/// Two numbers, or one for both; 0 where there are none.
fn two_or_zero(name: &str, given: Option<&Bound<'_, PyAny>>) -> PyResult<[f64; 2]> {
    given.map_or(Ok([0.0; 2]), |given| two(name, given))
}

/// Interpolate a sample between two standards that bracket it: x1 + (y - y1)(x2 - x1)/(y2 - y1).
///
/// Args:
///     concentration, absorbance: of the lower and the higher standard, shape (2,).
///     sample: signal of the sample.
///     absorbance_u, sample_u: standard uncertainties of those (mean) signals; two points leave no scatter to take
///         them from.
///     x_uncertainty: standard uncertainties of the concentrations beyond the stock's; one figure or two.
///     stock: the stock solution, or solutions, that both standards share.
///     unit: unit of the concentrations.
///     run: name of the pair of standards: results under the same name share their errors.
///     position: of the sample.
///
/// Returns:
///     The estimate. A sample outside is extrapolated, with the finding not_bracketed; standards that do not rise
///     give the status not_calibrated.
///
/// Raises:
///     ArgumentError: figures that cannot be understood.
///     UnitError: an unknown unit.
///
/// Source:
///     JCGM 100:2008, 5.1.2, on the formula above.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.bracket([1, 2], [0.2119, 0.4218], 0.3, absorbance_u=0.0005, sample_u=0.0004)
///     <Estimate 1.4197 ± 0.0026 mg/L>
#[pyfunction]
#[pyo3(signature = (concentration, absorbance, sample, *, absorbance_u=None, sample_u=0.0, x_uncertainty=None,
    stock=None, unit="mg/L", run="bracket", position=1))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn bracket<'py>(
    py: Python<'py>,
    concentration: &Bound<'py, PyAny>,
    absorbance: &Bound<'py, PyAny>,
    sample: f64,
    absorbance_u: Option<&Bound<'py, PyAny>>,
    sample_u: f64,
    x_uncertainty: Option<&Bound<'py, PyAny>>,
    stock: Option<&Bound<'py, PyAny>>,
    unit: &str,
    run: &str,
    position: u32,
) -> PyResult<Bound<'py, PyAny>> {
    let (x, y) = (two("concentration", concentration)?, two("absorbance", absorbance)?);
    let (y_u, x_u) = (two_or_zero("absorbance_u", absorbance_u)?, two_or_zero("x_uncertainty", x_uncertainty)?);
    let mut stocks = stock_choice(stock)?;
    let stock = stocks.pop();
    if !stocks.is_empty() {
        let what = "both standards are made from one stock, several are given";
        return Err(raised(py, Error::argument("stock", what)));
    }
    let standard = |i: usize| -> Result<BracketStandard, Error> {
        Ok(BracketStandard { concentration: x[i], u: x_u[i], signal: Signal::new(y[i], y_u[i], Dof::INFINITE)? })
    };
    let found = || {
        let origin = Origin { run: Arc::from(run), position: 0 };
        let unit = Unit::parse(unit)?;
        let bracket = Bracket::new(standard(0)?, standard(1)?, stock.clone(), unit, origin)?;
        bracket.concentration(&Signal::new(sample, sample_u, Dof::INFINITE)?, position)
    };
    let found = found().or_raise(py)?;
    let keywords = PyDict::new(py);
    keywords.set_item("concentration", (x[0], x[1]))?;
    keywords.set_item("absorbance", (y[0], y[1]))?;
    keywords.set_item("sample", sample)?;
    keywords.set_item("absorbance_u", (y_u[0], y_u[1]))?;
    keywords.set_item("sample_u", sample_u)?;
    keywords.set_item("x_uncertainty", (x_u[0], x_u[1]))?;
    keywords.set_item("stock", stock.map(Stock).map(|stock| Bound::new(py, stock)).transpose()?)?;
    keywords.set_item("unit", unit)?;
    keywords.set_item("run", run)?;
    keywords.set_item("position", position)?;
    let recipe: Bound<'_, PyTuple> = (archive::function(py, "_bracketed")?, (keywords,)).into_pyobject(py)?;
    let rows = Arc::new(found.estimates().clone());
    let whole = Estimates::new(Source::Rows(rows, found.findings().to_vec(), recipe.unbind()));
    Estimate::first(&whole).into_python(py)
}

/// The estimates of one row that `bracket` took its result from.
#[pyfunction]
fn _bracketed<'py>(py: Python<'py>, keywords: &Bound<'py, PyDict>) -> PyResult<Bound<'py, PyAny>> {
    let one = archive::function(py, "bracket")?.call((), Some(keywords))?;
    one.cast::<Estimate>()?.get().alone().uncut().into_python(py)
}

/// Adds the functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_bracketed, module)?)?;
    module.add_function(wrap_pyfunction!(bracket, module)?)
}
