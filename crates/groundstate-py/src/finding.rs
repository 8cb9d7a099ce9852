//! What the library noticed.

use groundstate::finding::{Fact, Finding as Core};
use groundstate::wire::Layout;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::archive::function;
use crate::error::OrRaise;
use crate::package;

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

    /// Code, severity, subject, sentence, citation and facts by name.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, (String,))> {
        Ok((function(py, "_finding_from_json")?, (self.0.to_json(Layout::Compact),)))
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Finding {}>", self.0)
    }
}

/// The findings as the package's tuple that is a table as well.
pub fn findings<'py>(py: Python<'py>, findings: Vec<Core>) -> PyResult<Bound<'py, PyTuple>> {
    let findings = findings.into_iter().map(|finding| Bound::new(py, Finding(finding)));
    let all = PyTuple::new(py, findings.collect::<PyResult<Vec<_>>>()?)?;
    Ok(package::call(py, "_table", "Findings", (all,))?.cast_into::<PyTuple>()?)
}

/// The finding in a JSON document; what a pickle calls.
#[pyfunction]
fn _finding_from_json(py: Python<'_>, text: &str) -> PyResult<Finding> {
    Core::from_json(text).map(Finding).or_raise(py)
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Finding>()?;
    module.add_function(wrap_pyfunction!(_finding_from_json, module)?)
}
