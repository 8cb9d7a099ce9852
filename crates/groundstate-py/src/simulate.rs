//! Monte Carlo of a reduced run (JCGM 101).

use std::num::NonZeroUsize;

use groundstate::estimate::Coverage;
use groundstate::simulate::{Scatter, SimulateOptions, Simulated, Simulation as Core, Summary, of_outcome};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::arrays::{read_only, square};
use crate::error::{OrRaise, raised};
use crate::outcome::Outcome;
use crate::package;
use crate::run::Kind;

/// Distributions of results by Monte Carlo (JCGM 101). The same seed gives the same figures on any number of
/// threads.
#[pyclass(frozen, module = "groundstate")]
pub struct Simulation(Core, Option<Kind>);

#[pymethods]
impl Simulation {
    /// One row a result: mean and standard_uncertainty over the trials, probabilistically symmetric (lo, hi) and
    /// shortest coverage intervals, the first-order figures beside them and whether these are validated by section 8
    /// of that supplement; trials_without_value counts trials beyond the curve.
    #[getter]
    fn results<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let rows = &self.0.results;
        let text = |of: &dyn Fn(&Simulated) -> Option<String>| PyList::new(py, rows.iter().map(of));
        let number = |of: &dyn Fn(&Simulated) -> Option<f64>| {
            read_only(py, rows.iter().map(|row| of(row).unwrap_or(f64::NAN)).collect())
        };
        let drawn = |of: &dyn Fn(&Summary) -> Option<f64>| number(&|row| row.distribution.as_ref().and_then(of));
        let columns = PyDict::new(py);
        columns.set_item("label", text(&|row| Some(row.label.to_string()))?)?;
        columns.set_item("position", PyList::new(py, rows.iter().map(|row| row.position))?)?;
        columns.set_item("unit", text(&|row| row.unit.map(|unit| unit.name().to_owned()))?)?;
        columns.set_item("value", drawn(&|found| found.mean))?;
        columns.set_item("standard_uncertainty", drawn(&|found| found.u))?;
        columns.set_item("lo", drawn(&|found| Some(found.symmetric.low)))?;
        columns.set_item("hi", drawn(&|found| Some(found.symmetric.high)))?;
        columns.set_item("shortest_lo", drawn(&|found| Some(found.shortest.low)))?;
        columns.set_item("shortest_hi", drawn(&|found| Some(found.shortest.high)))?;
        columns.set_item("first_order_value", number(&|row| Some(row.first_order.value)))?;
        columns.set_item("first_order_standard_uncertainty", number(&|row| Some(row.first_order.u)))?;
        let validated = rows.iter().map(|row| row.comparison.as_ref().map(|comparison| comparison.validated));
        columns.set_item("first_order_validated", PyList::new(py, validated)?)?;
        columns.set_item("trials_without_value", PyList::new(py, rows.iter().map(|row| row.without_value))?)?;
        package::table(py, &columns, &PyDict::new(py), self.1.map(Kind::name))
    }

    /// Number of trials.
    #[getter]
    fn trials(&self) -> usize {
        self.0.trials
    }

    /// The seed.
    #[getter]
    fn seed(&self) -> u64 {
        self.0.seed
    }

    /// Whether the number of trials was fixed, or every result settled within its numerical tolerance, or not.
    #[getter]
    fn ended(&self) -> &'static str {
        self.0.ended.name()
    }

    /// Covariance matrix of the rows of `results` over the trials; NaN where a result was not drawn.
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let size = self.0.results.len();
        let element = |k: usize| self.0.covariance(k / size, k % size).unwrap_or(f64::NAN);
        square(py, size, (0..size * size).map(element).collect())
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "simulation", slf)
    }

    fn __repr__(&self) -> String {
        format!("<Simulation of {} results, {} trials, {}>", self.0.results.len(), self.0.trials, self.ended())
    }
}

/// Simulates the reported results of an outcome; `trials` None is adaptive.
#[pyfunction]
fn _simulate(
    py: Python<'_>,
    outcome: &Outcome,
    seed: u64,
    trials: Option<usize>,
    coverage: f64,
    scatter: &str,
    threads: usize,
) -> PyResult<Simulation> {
    let scatter =
        [Scatter::StudentT, Scatter::Normal].into_iter().find(|known| known.name() == scatter).ok_or_else(|| {
            let error = groundstate::Error::argument("scatter", format!("there is no way {scatter:?} to draw scatter"));
            raised(py, error.help("write \"t\" or \"normal\""))
        })?;
    let mut options = SimulateOptions::seeded(seed);
    options.coverage = Coverage::new(coverage).or_raise(py)?;
    options.scatter = scatter;
    options.threads = NonZeroUsize::new(threads).unwrap_or(NonZeroUsize::MIN);
    if let Some(trials) = trials {
        options = options.fixed(trials);
    }
    let core = py.detach(|| of_outcome(&outcome.0, &options)).or_raise(py)?;
    Ok(Simulation(core, outcome.1))
}

/// Adds the class and its function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Simulation>()?;
    module.add_function(wrap_pyfunction!(_simulate, module)?)
}
