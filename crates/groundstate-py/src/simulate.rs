//! Monte Carlo of a reduced run, or of one calibration (JCGM 101).

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::sync::Arc;

use groundstate::Error;
use groundstate::curve::{Calibration, Readings};
use groundstate::error::nearest;
use groundstate::estimate::{Coverage, SourceKind};
use groundstate::simulate::{
    Form, Of, Scatter, SimulateOptions, Simulated, Simulation as Core, Summary, Tolerance, Trials,
    of_calibration_watched, of_outcome_watched,
};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyInt, PyList, PyString, PyTuple};

use crate::arrays::{Numbers, read_only, square};
use crate::error::{OrRaise, raised, wrong_type};
use crate::outcome::Outcome;
use crate::package;
use crate::recall::Recall;
use crate::run::Kind;

/// Distributions of results by Monte Carlo (JCGM 101). The same seed gives the same figures on any number of
/// threads.
#[pyclass(frozen, module = "groundstate")]
pub struct Simulation {
    core: Core,
    kind: Option<Kind>,
    /// A pickle holds the input: the same seed gives the same trials again.
    recall: Recall,
}

#[pymethods]
impl Simulation {
    /// One row a result.
    ///
    /// label, position (the number of the reading outside of a run), unit. status: "drawn", or why not: "no_value",
    /// "no_uncertainty" (no degree of freedom), "too_few_values". value: the first-order value. mean and
    /// standard_uncertainty over the trials, NaN where the distribution has none (a t on few degrees of freedom is in
    /// it). lo, hi: probabilistically symmetric coverage interval; shortest_lo, shortest_hi: the shortest one.
    /// first_order_standard_uncertainty, first_order_lo, first_order_hi; first_order_validated: whether both ends
    /// agree within half a unit of the first figure of u (section 8 of that supplement). trials_without_value counts
    /// trials beyond the curve.
    #[getter]
    fn results<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let rows = &self.core.results;
        let text = |of: &dyn Fn(&Simulated) -> Option<String>| PyList::new(py, rows.iter().map(of));
        let number = |of: &dyn Fn(&Simulated) -> Option<f64>| {
            read_only(py, rows.iter().map(|row| of(row).unwrap_or(f64::NAN)).collect())
        };
        let drawn = |of: &dyn Fn(&Summary) -> Option<f64>| number(&|row| row.distribution.as_ref().and_then(of));
        let columns = PyDict::new(py);
        columns.set_item("label", text(&|row| Some(row.label.to_string()))?)?;
        columns.set_item("position", PyList::new(py, rows.iter().map(|row| row.position))?)?;
        columns.set_item("unit", text(&|row| row.unit.map(|unit| unit.name().to_owned()))?)?;
        columns.set_item("status", text(&|row| Some(row.not_drawn.map_or("drawn", |why| why.name()).to_owned()))?)?;
        columns.set_item("value", number(&|row| Some(row.first_order.value)))?;
        columns.set_item("mean", drawn(&|found| found.mean))?;
        columns.set_item("standard_uncertainty", drawn(&|found| found.u))?;
        columns.set_item("lo", drawn(&|found| Some(found.symmetric.low)))?;
        columns.set_item("hi", drawn(&|found| Some(found.symmetric.high)))?;
        columns.set_item("shortest_lo", drawn(&|found| Some(found.shortest.low)))?;
        columns.set_item("shortest_hi", drawn(&|found| Some(found.shortest.high)))?;
        columns.set_item("first_order_standard_uncertainty", number(&|row| Some(row.first_order.u)))?;
        let compared = |row: &Simulated| row.comparison;
        columns.set_item("first_order_lo", number(&|row| compared(row).map(|found| found.first_order.low)))?;
        columns.set_item("first_order_hi", number(&|row| compared(row).map(|found| found.first_order.high)))?;
        let validated = rows.iter().map(|row| row.comparison.as_ref().map(|comparison| comparison.validated));
        columns.set_item("first_order_validated", PyList::new(py, validated)?)?;
        columns.set_item("trials_without_value", PyList::new(py, rows.iter().map(|row| row.without_value))?)?;
        package::table(py, &columns, &PyDict::new(py), self.kind.map(Kind::name))
    }

    /// Number of trials.
    #[getter]
    fn trials(&self) -> usize {
        self.core.trials
    }

    /// The seed.
    #[getter]
    fn seed(&self) -> u64 {
        self.core.seed
    }

    /// Coverage probability of the intervals.
    #[getter]
    fn coverage(&self) -> f64 {
        self.core.coverage.get()
    }

    /// Whether the number of trials was fixed, or every result settled within its numerical tolerance, or not.
    #[getter]
    fn ended(&self) -> &'static str {
        self.core.ended.name()
    }

    /// The values of the trials of the i-th row of `results`, NaN where a trial gave none.
    fn values<'py>(&self, py: Python<'py>, i: usize) -> PyResult<Bound<'py, PyAny>> {
        match self.core.values(i) {
            Some(values) => Ok(read_only(py, values.to_vec()).into_any()),
            None => {
                let what = format!("there is no row {i} among {}", self.core.results.len());
                Err(pyo3::exceptions::PyIndexError::new_err(what))
            }
        }
    }

    /// Covariance matrix of the rows of `results` over the trials; NaN where a result was not drawn.
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let size = self.core.results.len();
        let element = |k: usize| self.core.covariance(k / size, k % size).unwrap_or(f64::NAN);
        square(py, size, (0..size * size).map(element).collect())
    }

    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __eq__<'py>(slf: &Bound<'py, Self>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
        package::same(slf, other)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "simulation", slf)
    }

    fn __repr__(&self) -> String {
        format!("<Simulation of {} results, {} trials, {}>", self.core.results.len(), self.core.trials, self.ended())
    }
}

/// How to simulate, as Python says it; both ways to simulate take the same words.
#[derive(FromPyObject)]
pub struct How<'py> {
    // The names of the items are those of the arguments.
    #[pyo3(item)]
    pub seed: u64,
    #[pyo3(item)]
    pub trials: Bound<'py, PyAny>,
    #[pyo3(item)]
    pub tolerance: Bound<'py, PyAny>,
    #[pyo3(item)]
    pub coverage: f64,
    #[pyo3(item)]
    pub distributions: Option<Bound<'py, PyDict>>,
    #[pyo3(item)]
    pub standards_relative_u: f64,
    #[pyo3(item)]
    pub scatter: String,
    #[pyo3(item)]
    pub threads: Option<usize>,
}

impl How<'_> {
    fn options(&self, py: Python<'_>) -> PyResult<SimulateOptions> {
        let mut options = SimulateOptions::seeded(self.seed);
        // Whoever wants quantiles has the values.
        options.quantiles = Vec::new();
        options.coverage = Coverage::new(self.coverage).or_raise(py)?;
        options.standards_relative_u = self.standards_relative_u;
        options.scatter = [Scatter::StudentT, Scatter::Normal]
            .into_iter()
            .find(|known| known.name() == self.scatter)
            .ok_or_else(|| {
            let what = format!("there is no way {:?} to draw scatter", self.scatter);
            raised(py, Error::argument("scatter", what).help("write \"t\" or \"normal\""))
        })?;
        let threads = match self.threads {
            Some(threads) => NonZeroUsize::new(threads).ok_or_else(|| {
                raised(py, Error::argument("threads", "no thread can do nothing").help("give 1 or more"))
            })?,
            None => std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN),
        };
        options.threads = threads;
        options.trials = self.trials(py)?;
        if let Some(distributions) = &self.distributions {
            options.forms = distributions.iter().map(|(of, form)| form_of(&of, &form)).collect::<PyResult<_>>()?;
        }
        Ok(options)
    }

    fn trials(&self, py: Python<'_>) -> PyResult<Trials> {
        let adaptive = self.trials.extract::<&str>().is_ok_and(|word| word == "adaptive");
        if !adaptive {
            if !self.tolerance.is_none() {
                let what = "a fixed number of trials settles within no tolerance";
                let error = Error::argument("tolerance", what).help("leave it out, or ask for trials=\"adaptive\"");
                return Err(raised(py, error));
            }
            let Ok(count) = self.trials.extract::<usize>() else {
                return Err(wrong_type("trials", &self.trials, "a number of trials or \"adaptive\""));
            };
            return Ok(Trials::Fixed(count));
        }
        let Trials::Adaptive { mut tolerance, most } = Trials::default() else { return Ok(Trials::default()) };
        if self.tolerance.is_exact_instance_of::<PyInt>() {
            tolerance = Tolerance::Figures(self.tolerance.extract().unwrap_or(0));
        } else if !self.tolerance.is_none() {
            tolerance = Tolerance::Absolute(Numbers::one("tolerance", &self.tolerance)?);
        }
        Ok(Trials::Adaptive { tolerance, most })
    }
}

/// A source or a kind of sources, with the form of its distribution: a word, or a word with its parameter.
fn form_of(of: &Bound<'_, PyAny>, form: &Bound<'_, PyAny>) -> PyResult<(Of, Form)> {
    const NAME: &str = "distributions";
    let py = of.py();
    let Ok(named) = of.extract::<String>() else {
        return Err(wrong_type(NAME, of, "the kind or the key of a source, as a budget names it"));
    };
    let kind = SourceKind::ALL.into_iter().find(|kind| kind.name() == named);
    let of = match kind {
        Some(kind) => Of::Kind(kind),
        // Keys have a colon; a bare word was meant for a kind.
        None if !named.contains(':') => {
            let kinds = SourceKind::ALL.map(SourceKind::name);
            let error = Error::argument(NAME, format!("{named:?} is neither a kind of source nor the key of one"));
            let help = match nearest(&named, kinds) {
                Some(near) => format!("did you mean {near:?}?"),
                None => format!("kinds are {}; a key is written as the budget writes it", kinds.join(", ")),
            };
            return Err(raised(py, error.help(help)));
        }
        None => Of::Source(named),
    };
    let (word, parameter) = match form.cast::<PyString>() {
        Ok(word) => (word.to_string(), None),
        Err(_) => match form.cast::<PyTuple>() {
            Ok(pair) if pair.len() == 2 => {
                (pair.get_item(0)?.extract()?, Some(Numbers::one(NAME, &pair.get_item(1)?)?))
            }
            _ => return Err(wrong_type(NAME, form, "the name of a distribution, or (name, parameter)")),
        },
    };
    Ok((of, Form::parse(&word, parameter).or_raise(py)?))
}

/// Runs `simulate` off the interpreter; between batches signals are looked at and `progress` is told.
fn watched(
    py: Python<'_>,
    progress: Option<Py<PyAny>>,
    kind: Option<Kind>,
    recall: Recall,
    simulate: impl FnOnce(&mut (dyn FnMut(usize, usize) -> ControlFlow<()> + Send)) -> Result<Core, Error> + Send,
) -> PyResult<Simulation> {
    let mut failure: Option<PyErr> = None;
    let mut tell = |done: usize, total: usize| {
        Python::attach(|py| {
            let told = py.check_signals().and_then(|()| match &progress {
                Some(progress) => progress.call1(py, (done, total))?.extract::<Option<bool>>(py),
                None => Ok(None),
            });
            match told {
                Ok(Some(false)) => ControlFlow::Break(()),
                Ok(_) => ControlFlow::Continue(()),
                Err(error) => {
                    failure = Some(error);
                    ControlFlow::Break(())
                }
            }
        })
    };
    let found = py.detach(|| simulate(&mut tell));
    match failure {
        Some(error) => Err(error),
        None => found.map(|core| Simulation { core, kind, recall }).or_raise(py),
    }
}

/// Simulates results of an outcome: those reported, or those at `positions` (numbers or labels).
#[pyfunction]
fn _simulate(
    py: Python<'_>,
    outcome: &Bound<'_, Outcome>,
    positions: Option<Vec<Bound<'_, PyAny>>>,
    how: Bound<'_, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Simulation> {
    let mut options = how.extract::<How<'_>>()?.options(py)?;
    let chosen = positions.as_ref().map(|all| PyTuple::new(py, all)).transpose()?;
    let recall = Recall::new(py, "_simulate")
        .with(py, "outcome", outcome)?
        .with(py, "positions", chosen)?
        .with(py, "how", how)?
        .with(py, "progress", py.None())?;
    let outcome = outcome.get();
    let position = |one: &Bound<'_, PyAny>| match one.extract::<String>() {
        Ok(label) => {
            let mut rows = outcome.0.reported();
            rows.find(|row| *row.label == *label).map(|row| row.position).ok_or_else(|| {
                let error = Error::argument("positions", format!("no reported result is labelled {label:?}"));
                let labels: Vec<Arc<str>> = outcome.0.reported().map(|row| Arc::clone(&row.label)).collect();
                raised(
                    py,
                    match nearest(&label, labels.iter().map(|label| &**label)) {
                        Some(near) => error.help(format!("did you mean {near:?}?")),
                        None => error.help("results that are not reported have their position"),
                    },
                )
            })
        }
        Err(_) => one.extract::<u32>().map_err(|_| wrong_type("positions", one, "a position or a label")),
    };
    options.positions = positions.map(|all| all.iter().map(position).collect()).transpose()?;
    let (outcome, kind) = (Arc::clone(&outcome.0), outcome.1);
    watched(py, progress, kind, recall, move |tell| of_outcome_watched(&outcome, &options, tell))
}

/// Simulates the contents of readings by one calibration.
pub fn of_curve(
    py: Python<'_>,
    calibration: &Arc<Calibration>,
    readings: &Readings,
    how: &How<'_>,
    progress: Option<Py<PyAny>>,
    recall: Recall,
) -> PyResult<Simulation> {
    let options = how.options(py)?;
    watched(py, progress, None, recall, |tell| of_calibration_watched(calibration, readings, &options, tell))
}

/// Simulates by one calibration; what a pickle calls.
#[pyfunction]
#[pyo3(signature = (calibration, **keywords))]
fn _simulate_curve<'py>(
    calibration: &Bound<'py, PyAny>,
    keywords: Option<&Bound<'py, PyDict>>,
) -> PyResult<Bound<'py, PyAny>> {
    calibration.call_method("simulate", (), keywords)
}

/// Adds the class and its function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Simulation>()?;
    module.add_function(wrap_pyfunction!(_simulate_curve, module)?)?;
    module.add_function(wrap_pyfunction!(_simulate, module)?)
}
