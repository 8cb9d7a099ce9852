//! What comes out of a reduction.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::sync::Arc;

use groundstate::check::{Check, Scale, Verdict};
use groundstate::estimate::Estimate;
use groundstate::outcome::{Matched, Outcome as Core, Reported, SCOPE, U_NAME};
use groundstate::preparation::SampleLimit;
use groundstate::reduce::{reduce, reduce_many};
use groundstate::wire::{Deviation, Layout, Verification as CoreVerification, header, verify};
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyTuple};

use crate::addition::Addition;
use crate::archive::function;
use crate::arrays::{read_only, square};
use crate::budget::BudgetLine;
use crate::calibration::Calibration;
use crate::error::{OrRaise, raised, wrong_type};
use crate::finding::findings;
use crate::method::{Method, Methods};
use crate::package;
use crate::run::{Kind, Recipe, Run};

/// The outcome of reducing one run by one method. Frozen; it holds its input.
///
/// Columns of figures are read-only float64 arrays in the unit of the row (column `unit`); NaN where a row has no
/// such figure, and then `status` says why.
#[pyclass(frozen, module = "groundstate")]
pub struct Outcome(pub Arc<Core>, pub Option<Kind>);

/// Columns of results that are in the unit of their row.
const IN_UNIT_OF_ROW: [&str; 6] = ["value", "standard_uncertainty", "expanded_uncertainty", "mdl", "lod", "loq"];

/// A column of figures; NaN where there is none.
fn figures<'py>(py: Python<'py>, values: impl Iterator<Item = f64>) -> Bound<'py, PyArray1<f64>> {
    read_only(py, values.collect())
}

/// A column of whole numbers.
fn counts<'py>(py: Python<'py>, values: impl Iterator<Item = u32>) -> Bound<'py, PyArray1<i64>> {
    read_only(py, values.map(i64::from).collect())
}

#[pymethods]
impl Outcome {
    /// One row a sample position, re-runs and series of additions included.
    ///
    /// `reported` marks the one to report for each sample.
    #[getter]
    fn results<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let rows: Vec<usize> = self.samples();
        self.rows_table(py, &rows)
    }

    /// One row a measured position: samples and checks.
    #[getter]
    fn measurements<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.rows_table(py, &(0..self.0.rows().len()).collect::<Vec<usize>>())
    }

    /// One row a check: verdict, figure, limits, positions affected, rule.
    #[getter]
    fn checks<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let checks = self.0.checks();
        let text = |of: &dyn Fn(&Check) -> Option<String>| PyList::new(py, checks.iter().map(of));
        let number = |of: &dyn Fn(&Check) -> Option<f64>| figures(py, checks.iter().map(|c| of(c).unwrap_or(f64::NAN)));
        let columns = PyDict::new(py);
        columns.set_item("check", text(&|c| Some(c.kind.name().to_owned()))?)?;
        columns.set_item("label", text(&|c| Some(c.label.to_string()))?)?;
        columns.set_item("position", PyList::new(py, checks.iter().map(|c| c.position))?)?;
        columns.set_item("segment", PyList::new(py, checks.iter().map(|c| c.segment))?)?;
        columns.set_item("prep_batch", text(&|c| c.batch.as_ref().map(ToString::to_string))?)?;
        columns.set_item("verdict", text(&|c| Some(c.verdict.name().to_owned()))?)?;
        columns.set_item(
            "reason",
            text(&|c| match &c.verdict {
                Verdict::NotEvaluated(reason) => Some(reason.to_string()),
                Verdict::Missing(gap) => Some(gap.name().to_owned()),
                Verdict::Pass | Verdict::Fail => None,
            })?,
        )?;
        columns.set_item("figure", text(&|c| c.statistic.map(|s| s.figure.name().to_owned()))?)?;
        columns.set_item("value", number(&|c| c.statistic.map(|s| s.value)))?;
        columns.set_item("low", number(&|c| c.limit.and_then(|l| l.low)))?;
        columns.set_item("high", number(&|c| c.limit.and_then(|l| l.high)))?;
        columns.set_item("found", number(&|c| c.found.map(|e| e.value)))?;
        columns.set_item("expected", number(&|c| c.expected))?;
        columns.set_item("unit", text(&|c| c.unit.map(|u| u.name().to_owned()))?)?;
        columns.set_item("affects", PyList::new(py, checks.iter().map(|c| c.affects.clone()))?)?;
        columns.set_item("citation", text(&|c| Some(c.citation.to_string()))?)?;
        package::table(py, &columns, &PyDict::new(py), self.1.map(Kind::name))
    }

    /// What was noticed, in order.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.0.findings().to_vec())
    }

    /// The calibrations, one a segment of the run.
    #[getter]
    fn calibrations<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let all = self.0.calibrations().iter().map(|core| Bound::new(py, Calibration::of(Arc::clone(core))));
        PyTuple::new(py, all.collect::<PyResult<Vec<_>>>()?)
    }

    /// One row a matrix-matched calibration (method key calibration.matched): its segment, that of the external
    /// calibration, the matrix effect in per cent, and the tests of common slope and intercept.
    #[getter]
    fn matched<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let all = self.0.matched();
        let number = |of: fn(&Matched) -> Option<f64>| figures(py, all.iter().map(|one| of(one).unwrap_or(f64::NAN)));
        let columns = PyDict::new(py);
        columns.set_item("matrix", PyList::new(py, all.iter().map(|one| one.matrix.to_string()))?)?;
        columns.set_item("segment", PyList::new(py, all.iter().map(|one| one.segment))?)?;
        columns.set_item("external", PyList::new(py, all.iter().map(|one| one.external))?)?;
        columns.set_item("effect_percent", number(|one| Some(one.comparison.effect.percent().0)))?;
        columns.set_item("effect_standard_uncertainty", number(|one| Some(one.comparison.effect.percent().1)))?;
        columns.set_item("slope_p", number(|one| one.comparison.slope.test.map(|test| test.p)))?;
        columns.set_item("intercept_difference", number(|one| one.comparison.intercept.map(|d| d.value)))?;
        columns.set_item("intercept_p", number(|one| one.comparison.intercept?.test.map(|test| test.p)))?;
        package::table(py, &columns, &PyDict::new(py), self.1.map(Kind::name))
    }

    /// The series of standard additions, in order: label of the sample, positions of its portions, and the series;
    /// None in its place where its readings allow none, which a finding explains.
    #[getter]
    fn additions<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyTuple>> {
        let py = slf.py();
        let all = slf.get().0.additions().iter().enumerate().map(|(index, found)| {
            let core = found.series.as_ref();
            let series = core.map(|core| Bound::new(py, Addition::of_outcome(slf, index, core)?)).transpose()?;
            (found.sample.to_string(), PyTuple::new(py, &found.positions)?, series).into_pyobject(py)
        });
        PyTuple::new(py, all.collect::<PyResult<Vec<_>>>()?)
    }

    /// The run as it was read.
    #[getter]
    fn run(&self) -> Run {
        Run(Arc::clone(self.0.run()), self.1)
    }

    /// The method as it was used.
    #[getter]
    fn method(&self) -> Method {
        Method(Arc::new(self.0.method().clone()))
    }

    /// What the standard uncertainties cover, in words that every report must carry.
    #[getter]
    fn scope(&self) -> &'static str {
        SCOPE
    }

    /// Name of what a standard uncertainty of an outcome is.
    #[getter]
    fn uncertainty_name(&self) -> &'static str {
        U_NAME
    }

    /// What the checks say as a whole: complete only where everything required is there, evaluated and passed.
    #[getter]
    fn standing(&self) -> &'static str {
        self.0.standing().name()
    }

    /// 0 where the standing is complete, else 1.
    #[getter]
    fn exit_status(&self) -> u8 {
        self.0.standing().exit_status()
    }

    /// The uncertainty budget of a result, largest share first.
    ///
    /// Args:
    ///     which: a label, for the reported result of that name; or a position.
    ///
    /// Raises:
    ///     ArgumentError: there is no such result.
    fn budget<'py>(&self, py: Python<'py>, which: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyTuple>> {
        let position = self.position(which)?;
        let lines = self.0.budget(position).unwrap_or_default().into_iter();
        let lines = lines.map(|line| Bound::new(py, BudgetLine::from(line)));
        PyTuple::new(py, lines.collect::<PyResult<Vec<_>>>()?)
    }

    /// Covariance matrix of the rows of `results`, through the sources they share; each in its own unit.
    ///
    /// Source:
    ///     JCGM 100:2008, 5.2.2 and F.1.2.3.
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let rows: Vec<usize> = self.samples();
        let chosen = self.0.contributions().select(&rows);
        let matrix = chosen.covariance_matrix().or_raise(py)?;
        square(py, matrix.size(), matrix.as_slice().to_vec())
    }

    /// Results, checks and findings as readable text.
    fn summary(&self) -> String {
        self.0.summary()
    }

    /// A result as numbered steps with figures and rules.
    ///
    /// Args:
    ///     which: a label, for the reported result of that name; or a position.
    ///
    /// Raises:
    ///     ArgumentError: there is no such result.
    fn explain(&self, py: Python<'_>, which: &Bound<'_, PyAny>) -> PyResult<String> {
        if let Ok(label) = which.extract::<String>() {
            return Ok(self.0.explain(&label).or_raise(py)?.to_string());
        }
        let position = which.extract().map_err(|_| wrong_type("which", which, "a label or a position"))?;
        Ok(self.0.explain_position(position).or_raise(py)?.to_string())
    }

    /// The outcome as one page of HTML that needs nothing beside it and prints to A4 and Letter.
    ///
    /// The same outcome gives the same bytes.
    ///
    /// Args:
    ///     title: of the page; element and run when not given.
    ///     budgets: of the results to report, of every row, or none.
    ///
    /// Raises:
    ///     MissingExtraError: Jinja2 is not installed (`groundstate[report]`).
    #[pyo3(signature = (title=None, *, budgets="reported"))]
    fn to_html<'py>(slf: &Bound<'py, Self>, title: Option<&str>, budgets: &str) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("groundstate.report")?.getattr("to_html")?.call1((slf, title, budgets))
    }

    /// The outcome as a JSON document that holds its input; docs/schema/outcome.json describes it.
    ///
    /// Args:
    ///     compact: leave white space out.
    #[pyo3(signature = (*, compact=false))]
    fn to_json(&self, py: Python<'_>, compact: bool) -> String {
        let layout = if compact { Layout::Compact } else { Layout::Pretty };
        py.detach(|| self.0.to_json(layout))
    }

    /// The outcome in a JSON document, as it was stored.
    ///
    /// Args:
    ///     text: the document.
    ///
    /// Raises:
    ///     WireError: what is wrong with the document.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        let core = py.detach(|| Core::from_json(text)).or_raise(py)?;
        Ok(Outcome(Arc::new(core), None))
    }

    /// The results as a CSV table.
    fn results_csv(&self) -> String {
        self.0.results_csv()
    }

    /// Version of the library and SHA-256 fingerprints of the input: fingerprint (method and run together),
    /// method, profile, table, raw (of the bytes a table was read from, if given), amends.
    #[getter]
    fn provenance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let from = self.0.provenance();
        let columns = PyDict::new(py);
        columns.set_item("library", &from.library)?;
        columns.set_item("fingerprint", &from.fingerprint)?;
        columns.set_item("method", &from.method)?;
        columns.set_item("profile", &from.profile)?;
        columns.set_item("table", &from.table)?;
        columns.set_item("raw", &from.raw)?;
        columns.set_item("amends", &from.amends)?;
        Ok(columns)
    }

    /// What changed from this outcome to a newer one, and what in library, method or run can have caused it.
    ///
    /// Args:
    ///     newer: the other outcome.
    fn diff(&self, newer: &Outcome) -> String {
        self.0.diff(&newer.0).to_string()
    }

    /// The same outcome marked as standing for `old`, with the reason.
    ///
    /// Args:
    ///     old: the outcome that it replaces.
    ///     reason: why, in words.
    ///
    /// Raises:
    ///     ArgumentError: no reason is given.
    fn amends(&self, py: Python<'_>, old: &Outcome, reason: &str) -> PyResult<Self> {
        let core = (*self.0).clone().amends(&old.0, reason).or_raise(py)?;
        Ok(Outcome(Arc::new(core), self.1))
    }

    fn __eq__(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || self.0.to_json(Layout::Compact) == other.0.to_json(Layout::Compact)
    }

    /// The members of the JSON document as a dictionary.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        py.import("json")?.getattr("loads")?.call1((self.0.to_json(Layout::Compact),))
    }

    /// Correlated numbers of the package uncertainties, one a row of `results`. Degrees of freedom are lost.
    ///
    /// Args:
    ///     sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
    ///         numbers of different results are correlated as they are here.
    ///
    /// Raises:
    ///     MissingExtraError: the package uncertainties is not installed.
    #[pyo3(signature = (sources=None))]
    fn to_uncertainties<'py>(
        slf: &Bound<'py, Self>,
        sources: Option<Bound<'py, PyDict>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        package::call(slf.py(), "_correlated", "outcome", (slf, sources))
    }

    /// Signed contributions by source, one dictionary a row of `results`, in the unit of the row.
    fn _contributions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        let all = self.0.contributions();
        let rows = PyList::empty(py);
        for i in self.samples() {
            let row = PyDict::new(py);
            for (source, contribution) in all.row(i) {
                if let Some(source) = all.source_at(source) {
                    row.set_item(source.key.to_string(), contribution)?;
                }
            }
            rows.append(row)?;
        }
        Ok(rows)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "outcome", slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Recipe<'py>> {
        Ok((function(py, "_outcome_from_json")?, (self.0.to_json(Layout::Compact), self.1.map(Kind::name))))
    }

    fn __repr__(&self) -> String {
        let outcome = &*self.0;
        let (samples, checks) = (outcome.reported().count(), outcome.checks().len());
        format!("<Outcome of run {}: {samples} samples, {checks} checks, {}>", outcome.run().name, self.standing())
    }
}

impl Outcome {
    /// Rows that hold a result of a sample: series of standard additions included, whatever the role of their row.
    fn samples(&self) -> Vec<usize> {
        (0..self.0.rows().len()).filter(|i| self.0.rows()[*i].reported != Reported::NotASample).collect()
    }

    /// The position of a label's reported row, or of a position given as such.
    fn position(&self, which: &Bound<'_, PyAny>) -> PyResult<u32> {
        let py = which.py();
        if let Ok(position) = which.extract::<u32>() {
            return Ok(self.0.explain_position(position).or_raise(py)?.position);
        }
        let label: String = which.extract().map_err(|_| wrong_type("which", which, "a label or a position"))?;
        Ok(self.0.explain(&label).or_raise(py)?.position)
    }

    fn rows_table<'py>(&self, py: Python<'py>, rows: &[usize]) -> PyResult<Bound<'py, PyAny>> {
        let outcome = &*self.0;
        let all: Vec<&groundstate::outcome::ResultRow> = rows.iter().map(|i| &outcome.rows()[*i]).collect();
        let estimate = |of: &dyn Fn(&Estimate) -> f64| figures(py, all.iter().map(|row| of(&row.result)));
        let solution = |of: &dyn Fn(&Estimate) -> f64| figures(py, all.iter().map(|row| of(&row.solution)));
        let limit = |of: &dyn Fn(&groundstate::outcome::Limits) -> Option<SampleLimit>| {
            figures(py, all.iter().map(|row| of(&row.limits).map_or(f64::NAN, |limit| limit.adjusted)))
        };
        let text =
            |of: &dyn Fn(&groundstate::outcome::ResultRow) -> String| PyList::new(py, all.iter().map(|row| of(row)));
        let (mut bound, mut factor) = (Vec::new(), Vec::new());
        for row in &all {
            let (u, k) = row.expanded.unwrap_or((f64::NAN, f64::NAN));
            bound.push(u);
            factor.push(k);
        }
        let marks = |row: &groundstate::outcome::ResultRow| {
            let letters = |what: &_| outcome.method().qualifiers.get(*what).letters.as_deref().map(str::to_owned);
            let named =
                |what: &groundstate::method::Qualification| letters(what).unwrap_or_else(|| what.name().to_owned());
            row.qualifications.iter().map(named).collect::<Vec<String>>().join(" ")
        };
        let columns = PyDict::new(py);
        columns.set_item("label", text(&|row| row.label.to_string())?)?;
        columns.set_item("position", counts(py, all.iter().map(|row| row.position)))?;
        columns.set_item("role", text(&|row| row.role.name().to_owned())?)?;
        columns.set_item("segment", counts(py, all.iter().map(|row| row.segment)))?;
        columns.set_item("value", estimate(&|e| e.value))?;
        columns.set_item("standard_uncertainty", estimate(&|e| e.u))?;
        columns.set_item("degrees_of_freedom", estimate(&|e| e.dof.get()))?;
        columns.set_item("expanded_uncertainty", read_only(py, bound))?;
        columns.set_item("coverage_factor", read_only(py, factor))?;
        columns.set_item("unit", text(&|row| row.unit.name().to_owned())?)?;
        columns.set_item("status", text(&|row| row.result.status.name().to_owned())?)?;
        columns.set_item("text", text(&|row| row.text.clone())?)?;
        columns.set_item("qualifiers", text(&marks)?)?;
        columns.set_item("reported", read_only(py, all.iter().map(|row| row.reported.is_reported()).collect()))?;
        columns.set_item("condemned", read_only(py, all.iter().map(|row| row.condemned).collect()))?;
        columns.set_item(
            "conformity",
            PyList::new(py, all.iter().map(|row| row.conformity.as_ref().map(|c| c.name())))?,
        )?;
        columns.set_item("solution_value", solution(&|e| e.value))?;
        columns.set_item("solution_standard_uncertainty", solution(&|e| e.u))?;
        let solution_unit = outcome.method().calibration.unit.name();
        columns.set_item("solution_unit", PyList::new(py, all.iter().map(|_| solution_unit))?)?;
        columns.set_item("multiplier", figures(py, all.iter().map(|row| row.preparation.multiplier())))?;
        columns.set_item("mean_signal", figures(py, all.iter().map(|row| row.measurement.mean)))?;
        columns.set_item("readings", counts(py, all.iter().map(|row| row.measurement.readings)))?;
        columns.set_item("mdl", limit(&|limits| limits.mdl))?;
        columns.set_item("lod", limit(&|limits| limits.lod))?;
        columns.set_item("loq", limit(&|limits| limits.loq))?;
        let units = PyDict::new(py);
        for name in ["solution_value", "solution_standard_uncertainty"] {
            units.set_item(name, solution_unit)?;
        }
        if let Some(unit) = all.first().map(|row| row.unit).filter(|unit| all.iter().all(|row| row.unit == *unit)) {
            for name in IN_UNIT_OF_ROW {
                units.set_item(name, unit.name())?;
            }
        }
        package::table(py, &columns, &units, self.1.map(Kind::name))
    }
}

/// Reduces one run.
#[pyfunction]
fn _reduce(py: Python<'_>, run: &Run, method: &Method) -> PyResult<Outcome> {
    let outcome = py.detach(|| reduce(&run.0, &method.0)).or_raise(py)?;
    Ok(Outcome(Arc::new(outcome), run.1))
}

/// Reduces many runs; a list of outcomes and exceptions in the order of the runs. `progress(done, total)` may return
/// False to stop; a signal stops too, and what is finished is kept. `digest` is the SHA-256 of the bytes of the file
/// that the runs were read from.
#[pyfunction]
#[pyo3(signature = (runs, methods, threads, progress=None, digest=None))]
fn _reduce_many<'py>(
    py: Python<'py>,
    runs: Vec<PyRef<'py, Run>>,
    methods: &Bound<'py, PyAny>,
    threads: usize,
    progress: Option<Py<PyAny>>,
    digest: Option<&str>,
) -> PyResult<(Bound<'py, PyList>, bool)> {
    let methods = match methods.cast::<Method>() {
        Ok(one) => Methods::One(one.get().clone()),
        Err(_) => {
            let named: Vec<(String, Bound<'_, Method>)> = methods.extract()?;
            Methods::ByRun(named.into_iter().map(|(run, method)| (run, method.get().clone())).collect())
        }
    };
    let kinds: Vec<Option<Kind>> = runs.iter().map(|run| run.1).collect();
    let cores: Vec<Arc<groundstate::run::Run>> = runs.iter().map(|run| Arc::clone(&run.0)).collect();
    let threads = NonZeroUsize::new(threads).unwrap_or(NonZeroUsize::MIN);
    let mut failure: Option<PyErr> = None;
    let mut stopped = false;
    let tell = |done: usize, total: usize| {
        Python::attach(|py| {
            let told = py.check_signals().and_then(|()| match &progress {
                Some(progress) => progress.call1(py, (done, total))?.extract::<Option<bool>>(py),
                None => Ok(None),
            });
            match told {
                Ok(Some(false)) => {
                    stopped = true;
                    ControlFlow::Break(())
                }
                Ok(_) => ControlFlow::Continue(()),
                Err(error) => {
                    stopped = true;
                    failure = Some(error);
                    ControlFlow::Break(())
                }
            }
        })
    };
    let outcomes = py.detach(|| reduce_many(&cores, |run| methods.of(run), threads, tell));
    if let Some(error) = failure.filter(|error| !error.is_instance_of::<pyo3::exceptions::PyKeyboardInterrupt>(py)) {
        return Err(error);
    }
    let list = PyList::empty(py);
    for (outcome, kind) in outcomes.into_iter().zip(kinds) {
        match outcome {
            Ok(outcome) => {
                let outcome = match digest {
                    Some(digest) => outcome.with_raw_digest(digest).or_raise(py)?,
                    None => outcome,
                };
                list.append(Bound::new(py, Outcome(Arc::new(outcome), kind))?)?;
            }
            Err(failed) => list.append(raised(py, failed.error).into_value(py))?,
        }
    }
    Ok((list, stopped))
}

/// The same outcome with the SHA-256 of the bytes of the file that its run was read from.
#[pyfunction]
fn _with_raw_digest(py: Python<'_>, outcome: &Outcome, digest: &str) -> PyResult<Outcome> {
    (*outcome.0).clone().with_raw_digest(digest).map(|core| Outcome(Arc::new(core), outcome.1)).or_raise(py)
}

/// An outcome from JSON; what a pickle calls.
#[pyfunction]
#[pyo3(signature = (text, kind=None))]
fn _outcome_from_json(py: Python<'_>, text: &str, kind: Option<&str>) -> PyResult<Outcome> {
    Ok(Outcome(Outcome::from_json(py, text)?.0, Kind::named(kind)))
}

/// A series of standard additions of an outcome; what a pickle calls.
#[pyfunction]
fn _outcome_addition(outcome: &Bound<'_, Outcome>, index: usize) -> PyResult<Option<Addition>> {
    let series = outcome.get().0.additions().get(index).and_then(|found| found.series.as_ref());
    series.map(|core| Addition::of_outcome(outcome, index, core)).transpose()
}

/// The checks in words, in order: title of the check, and figure with its unit ("%", a unit, or nothing for a number).
#[pyfunction]
fn _check_words(outcome: &Outcome) -> Vec<(String, Option<String>, String)> {
    let words = |check: &Check| {
        let unit = check.statistic.map_or("", |statistic| match statistic.figure.scale() {
            Scale::Percent => "%",
            Scale::Concentration => check.unit.map_or("", |unit| unit.name()),
            Scale::Number => "",
        });
        let figure = check.statistic.map(|statistic| statistic.figure.words().to_owned());
        (check.kind.title().to_owned(), figure, unit.to_owned())
    };
    outcome.0.checks().iter().map(words).collect()
}

/// What a second reduction of an archive's input says. Its text is "identical" or names the first difference.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Verification(CoreVerification);

#[pymethods]
impl Verification {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    /// Whether nothing differs.
    #[getter]
    fn identical(&self) -> bool {
        self.0.is_identical()
    }

    /// How many members of the document differ.
    #[getter]
    fn count(&self) -> usize {
        self.0.count
    }

    /// The first difference: path, what is stored, what its input gives, the latter two as JSON.
    #[getter]
    fn first(&self) -> Option<(String, Option<String>, Option<String>)> {
        let first = self.0.first.clone()?;
        Some((first.path, first.stored, first.recomputed))
    }

    /// Version of the library that wrote the archive.
    #[getter]
    fn written_by(&self) -> &str {
        &self.0.written_by
    }

    /// Version of the library that reduced its input again.
    #[getter]
    fn verified_by(&self) -> &str {
        &self.0.verified_by
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, VerificationFields)> {
        let CoreVerification { written_by, verified_by, count, .. } = self.0.clone();
        Ok((function(py, "_verification")?, (written_by, verified_by, self.first(), count)))
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Verification: {}>", self.0)
    }
}

type First = Option<(String, Option<String>, Option<String>)>;
type VerificationFields = (String, String, First, usize);

/// The verification that `__reduce__` packed.
#[pyfunction]
#[pyo3(signature = (written_by, verified_by, first, count))]
fn _verification(written_by: String, verified_by: String, first: First, count: usize) -> Verification {
    let first = first.map(|(path, stored, recomputed)| Deviation { path, stored, recomputed });
    Verification(CoreVerification { written_by, verified_by, first, count })
}

/// What the first member of a document says: kind of document, major and minor version, and whether this library
/// knows no such minor version yet.
#[pyfunction]
fn _header(py: Python<'_>, text: &str) -> PyResult<(&'static str, u32, u32, bool)> {
    let header = header(text).or_raise(py)?;
    Ok((header.document.name(), header.major, header.minor, header.is_newer()))
}

/// Reduces the input of an archived outcome again and compares every member.
#[pyfunction]
fn _verify(py: Python<'_>, text: &str) -> PyResult<Verification> {
    py.detach(|| verify(text)).map(Verification).or_raise(py)
}

/// Adds the classes and functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Outcome>()?;
    module.add_class::<Verification>()?;
    module.add_function(wrap_pyfunction!(_with_raw_digest, module)?)?;
    module.add_function(wrap_pyfunction!(_outcome_from_json, module)?)?;
    module.add_function(wrap_pyfunction!(_outcome_addition, module)?)?;
    module.add_function(wrap_pyfunction!(_check_words, module)?)?;
    module.add_function(wrap_pyfunction!(_verify, module)?)?;
    module.add_function(wrap_pyfunction!(_verification, module)?)?;
    module.add_function(wrap_pyfunction!(_header, module)?)?;
    module.add_function(wrap_pyfunction!(_reduce, module)?)?;
    module.add_function(wrap_pyfunction!(_reduce_many, module)?)
}
