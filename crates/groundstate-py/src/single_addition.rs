//! gs.single_addition: one addition to one of two equal portions.

use std::sync::Arc;

use groundstate::Error;
use groundstate::addition::{Origin as Place, Signal, SingleAddition as Core, SingleResult};
use groundstate::estimate::Dof;
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::addition::coverage;
use crate::archive;
use crate::arrays::Numbers;
use crate::calibrate::{Stock, stock_choice};
use crate::error::{OrRaise, raised};
use crate::estimates::{Estimate, Estimates, Origin};
use crate::finding::findings;
use crate::interval::{Interval, method};
use crate::measured::Measured;
use crate::package;
use crate::recall::Recall;

/// One standard addition to one of two equal portions, evaluated. Made by `single_addition`.
#[pyclass(frozen, eq, module = "groundstate")]
pub struct SingleAddition {
    given: Core,
    core: SingleResult,
    recall: Recall,
}

impl PartialEq for SingleAddition {
    fn eq(&self, other: &Self) -> bool {
        self.given == other.given
    }
}

#[pymethods]
impl SingleAddition {
    /// Concentration in the portion; status not_calibrated and no value where the addition is not seen.
    #[getter]
    fn estimate<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        Estimate::first(&estimates(slf)?).into_python(slf.py())
    }

    /// Unit of the estimate.
    #[getter]
    fn unit(&self) -> &'static str {
        self.given.unit.name()
    }

    /// What was noticed, in order.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings().to_vec())
    }

    /// Coverage interval of the estimate, by "inversion" the set of Fieller.
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    ///     method: "delta", value plus and minus t times u; or "inversion".
    #[pyo3(signature = (coverage=None, method="delta"), text_signature = "($self, coverage=0.95, method='delta')")]
    fn interval(&self, py: Python<'_>, coverage: Option<&Bound<'_, PyAny>>, method: &str) -> PyResult<Interval> {
        let (coverage, method) = (self::coverage(coverage)?, self::method(method).or_raise(py)?);
        Ok(Interval::of(self.core.interval(coverage, method), coverage, method))
    }

    /// Plain figures and words; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let found = self.core.estimate();
        let shown = if found.status.has_value() {
            format!("{} {}", crate::calibration::beside(found.value, found.u), self.unit())
        } else {
            found.status.words().to_owned()
        };
        format!("<SingleAddition {shown}>")
    }
}

/// The concentration in the portion as estimates of one row.
fn estimates(of: &Bound<'_, SingleAddition>) -> PyResult<Estimates> {
    let core = &of.get().core;
    let recipe = (archive::function(of.py(), "_single_addition_estimates")?, (of,)).into_pyobject(of.py())?;
    Ok(Estimates::new(Origin::Rows(Arc::new(core.estimates().clone()), core.findings().to_vec(), recipe.unbind())))
}

/// The estimates of a single addition that a pickle names.
#[pyfunction]
fn _single_addition_estimates<'py>(addition: &Bound<'py, SingleAddition>) -> PyResult<Bound<'py, PyAny>> {
    estimates(addition)?.into_python(addition.py())
}

/// A signal: one number with its standard uncertainty, or readings whose scatter tells it.
fn signal(name: &str, numbers: &Numbers<'_>, u: Option<f64>, py: Python<'_>) -> PyResult<Signal> {
    let found = match (numbers.is_scalar(), numbers.flat(name, py)?, u) {
        (true, [value], u) => Signal::new(*value, u.unwrap_or(0.0), Dof::INFINITE),
        (_, _, Some(_)) => {
            let what = "readings bring their own scatter";
            Err(Error::argument(&format!("{name}_u"), what).help("give their mean for one with a known uncertainty"))
        }
        (_, readings, None) => Signal::of_readings(readings),
    };
    found.or_raise(py)
}

/// Evaluate one standard addition to one of two equal portions of a sample.
///
/// The concentration is S_B V_s C_s / ((S_A - S_B) V_x), that of the portion before the addition.
///
/// Args:
///     spiked, unspiked: blank-corrected signals of the portion with the standard (A) and of the one with as much water
///         (B): a number, or readings of shape (m,) whose scatter tells their uncertainty.
///     standard: concentration of the standard, in `unit`.
///     standard_volume: volume of it added.
///     portion_volume: volume of each portion, in the same unit.
///     spiked_u, unspiked_u: standard uncertainties of signals given as numbers.
///     blank_u: standard uncertainty of the blank.
///     stock: of the standard.
///     unit: unit of concentrations.
///
/// Raises:
///     ArgumentError: figures that cannot be understood. A signal that the addition does not raise is no error: the
///         estimate has no value, as its status says.
///
/// Source:
///     SW-846 Method 7000B, 9.10.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.single_addition(0.4, 0.2, standard=100, standard_volume=0.1, portion_volume=10).estimate.value
///     1.0
#[pyfunction]
#[pyo3(signature = (spiked, unspiked, *, standard, standard_volume, portion_volume, spiked_u=None, unspiked_u=None,
    blank_u=0.0, stock=None, unit="mg/L"))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn single_addition(
    py: Python<'_>,
    spiked: &Bound<'_, PyAny>,
    unspiked: &Bound<'_, PyAny>,
    standard: f64,
    standard_volume: &Bound<'_, PyAny>,
    portion_volume: &Bound<'_, PyAny>,
    spiked_u: Option<f64>,
    unspiked_u: Option<f64>,
    blank_u: f64,
    stock: Option<&Bound<'_, PyAny>>,
    unit: &str,
) -> PyResult<SingleAddition> {
    let (with, without) = (Numbers::of("spiked", spiked)?, Numbers::of("unspiked", unspiked)?);
    let (added, portion) = (
        Measured::of("standard_volume", standard_volume, None)?,
        Measured::of("portion_volume", portion_volume, None)?,
    );
    let mut stocks = stock_choice(stock)?;
    let stock = stocks.pop();
    if !stocks.is_empty() {
        return Err(raised(py, Error::argument("stock", "one standard is added, several stocks are given")));
    }
    let given = Core {
        with: signal("spiked", &with, spiked_u, py)?,
        without: signal("unspiked", &without, unspiked_u, py)?,
        blank_u,
        standard_volume: added.core("standard_volume").or_raise(py)?,
        standard,
        stock: stock.clone(),
        portion_volume: portion.core("portion_volume").or_raise(py)?,
        unit: Unit::parse(unit).or_raise(py)?,
        origin: Place { run: Arc::from("single_addition"), position: 1 },
    };
    let core = given.evaluate().or_raise(py)?;
    let recall = Recall::new(py, "single_addition")
        .with_numbers(py, "spiked", &with)?
        .with_numbers(py, "unspiked", &without)?
        .with(py, "standard", standard)?
        .with(py, "standard_volume", added)?
        .with(py, "portion_volume", portion)?
        .with_some(py, "spiked_u", spiked_u)?
        .with_some(py, "unspiked_u", unspiked_u)?
        .with(py, "blank_u", blank_u)?
        .with_some(py, "stock", stock.map(Stock))?
        .with(py, "unit", unit)?;
    Ok(SingleAddition { given, core, recall })
}

/// Adds the class and its functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<SingleAddition>()?;
    module.add_function(wrap_pyfunction!(_single_addition_estimates, module)?)?;
    module.add_function(wrap_pyfunction!(single_addition, module)?)
}
