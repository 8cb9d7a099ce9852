//! gs.matrix_decision: what the tests of a batch's matrix say together.

use groundstate::check::{MatrixDecision as Core, MatrixTest, MatrixTests, matrix_decision as decide};
use groundstate::error::Error;
use groundstate::finding::Subject;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::archive::function;
use crate::error::OrRaise;
use crate::finding::findings;

/// What the tests of a batch's matrix say together, and what to do next. Made by `matrix_decision`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MatrixDecision {
    core: Core,
    tests: MatrixTests,
}

#[pymethods]
impl MatrixDecision {
    /// Whether the matrix acts on the reading.
    #[getter]
    fn effect(&self) -> &'static str {
        self.core.effect.name()
    }

    /// What to do next.
    #[getter]
    fn next(&self) -> &'static str {
        self.core.next.name()
    }

    /// The next step in words with its clause; empty where nothing further is asked for.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.next.finding(Subject::Run).into_iter().collect())
    }

    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let keywords = PyDict::new(py);
        keywords.set_item("matrix_spike", self.tests.matrix_spike.name())?;
        keywords.set_item("post_digestion_spike", self.tests.post_digestion_spike.name())?;
        keywords.set_item("dilution_test", self.tests.dilution_test.name())?;
        (function(py, "_recall")?, ("matrix_decision", keywords)).into_pyobject(py)
    }

    fn __repr__(&self) -> String {
        format!("<MatrixDecision effect {}, next {}>", self.effect(), self.next())
    }
}

/// Decide by a matrix spike, a spike of the digest and a fivefold dilution what the matrix does and what comes next.
///
/// A run is judged by the same rules batch by batch; its findings say so.
///
/// Args:
///     matrix_spike: recovery of the spike before preparation.
///     post_digestion_spike: recovery of the spike of the finished digest, 80 to 120 %.
///     dilution_test: agreement of the fivefold dilution within 10 %.
///
/// Returns:
///     The decision: the effect, the next step, and that step in words with its clause.
///
/// Raises:
///     ArgumentError: a word that is none of the three.
///
/// Source:
///     SW-846 Method 7000B, Revision 2, 2007, 9.7 and 9.8.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.matrix_decision(matrix_spike="fail", post_digestion_spike="fail")
///     <MatrixDecision effect confirmed, next dilute>
#[pyfunction]
#[pyo3(signature = (*, matrix_spike="not_evaluated", post_digestion_spike="not_evaluated",
    dilution_test="not_evaluated"))]
fn matrix_decision(
    py: Python<'_>,
    matrix_spike: &str,
    post_digestion_spike: &str,
    dilution_test: &str,
) -> PyResult<MatrixDecision> {
    let test = |argument: &str, word: &str| {
        let all = [MatrixTest::Pass, MatrixTest::Fail, MatrixTest::NotEvaluated];
        all.into_iter().find(|test| test.name() == word).ok_or_else(|| {
            let error = Error::argument(argument, format!("there is no outcome {word:?} of a test"));
            error.help("it is \"pass\", \"fail\" or \"not_evaluated\"")
        })
    };
    let tests = || {
        Ok(MatrixTests {
            matrix_spike: test("matrix_spike", matrix_spike)?,
            post_digestion_spike: test("post_digestion_spike", post_digestion_spike)?,
            dilution_test: test("dilution_test", dilution_test)?,
        })
    };
    let tests = tests().or_raise(py)?;
    Ok(MatrixDecision { core: decide(&tests), tests })
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MatrixDecision>()?;
    module.add_function(wrap_pyfunction!(matrix_decision, module)?)
}
