//! What the library noticed.

use groundstate::finding::{Fact, Finding as Core};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

/// Something the library noticed: a stable code, how much it matters, and a sentence.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Finding(Core);

#[pymethods]
impl Finding {
    /// The stable name, in snake_case.
    #[getter]
    fn code(&self) -> &'static str {
        self.0.code.name()
    }

    /// How much it matters.
    #[getter]
    fn severity(&self) -> &'static str {
        self.0.severity.name()
    }

    /// What it is about.
    #[getter]
    fn subject(&self) -> String {
        self.0.subject.to_string()
    }

    /// The finding in one sentence.
    #[getter]
    fn sentence(&self) -> String {
        self.0.sentence()
    }

    /// The rule it follows: document, edition and clause; None where it follows none.
    #[getter]
    fn citation(&self) -> Option<String> {
        self.0.citation.as_ref().map(ToString::to_string)
    }

    /// The figures and words of the sentence by name.
    #[getter]
    fn facts<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let facts = PyDict::new(py);
        for (name, fact) in &self.0.facts {
            match fact {
                Fact::Number(number) => facts.set_item(name, number)?,
                Fact::Count(count) => facts.set_item(name, count)?,
                Fact::Text(text) => facts.set_item(name, text)?,
            }
        }
        Ok(facts)
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Finding {}>", self.0)
    }
}

/// The findings as a tuple.
pub fn findings<'py>(py: Python<'py>, findings: Vec<Core>) -> PyResult<Bound<'py, PyTuple>> {
    let findings = findings.into_iter().map(|finding| Bound::new(py, Finding(finding)));
    PyTuple::new(py, findings.collect::<PyResult<Vec<_>>>()?)
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Finding>()
}
