//! The method: everything that turns readings into reported results.

use std::sync::Arc;

use groundstate::Error;
use groundstate::criteria::ProfileName;
use groundstate::method::{Explicit, Method as Core};
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict};

use crate::archive::function;
use crate::error::OrRaise;

/// A method: everything that turns a run's readings into reported results. Frozen; equal by content.
///
/// Its keys are described in docs/formats.md.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Method(pub Arc<Core>);

#[pymethods]
impl Method {
    /// A method for `element` with nothing set but the defaults of a profile.
    ///
    /// Args:
    ///     element: symbol or English name.
    ///     profile: general, sw846_7000b or standard_methods_3111.
    ///
    /// Raises:
    ///     ArgumentError: an unknown element.
    ///     MethodError: an unknown profile.
    ///
    /// Example:
    ///     >>> import groundstate as gs
    ///     >>> gs.Method.new("Zn")
    ///     <Method Zn by flame version 1: Zn, profile general>
    #[staticmethod]
    #[pyo3(signature = (element, *, profile="general"))]
    fn new(py: Python<'_>, element: &str, profile: &str) -> PyResult<Self> {
        let profile = ProfileName::from_name(profile).or_raise(py)?;
        Ok(Method(Arc::new(Core::new(element, profile).or_raise(py)?)))
    }

    /// The method of a TOML document; its keys are described in docs/formats.md.
    ///
    /// Args:
    ///     text: the document.
    ///
    /// Raises:
    ///     MethodError: everything that is wrong with it, at once.
    #[staticmethod]
    fn from_toml(py: Python<'_>, text: &str) -> PyResult<Self> {
        Core::from_toml(text).map(|core| Method(Arc::new(core))).or_raise(py)
    }

    /// The method of a JSON document with the same keys.
    ///
    /// Args:
    ///     text: the document.
    ///
    /// Raises:
    ///     MethodError: everything that is wrong with it, at once.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        Core::from_json(text).map(|core| Method(Arc::new(core))).or_raise(py)
    }

    /// The method as TOML.
    ///
    /// Args:
    ///     explicit: every key, with the clause of each default as a comment, and not only what differs from the
    ///         defaults.
    #[pyo3(signature = (*, explicit=false))]
    fn to_toml(&self, explicit: bool) -> String {
        self.0.to_toml(if explicit { Explicit::Yes } else { Explicit::No })
    }

    /// The method as JSON, every default stated.
    fn to_json(&self) -> String {
        self.0.to_document().to_string()
    }

    /// The method as a dictionary, every default stated.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        Ok(py.import("json")?.getattr("loads")?.call1((self.to_json(),))?.cast_into()?)
    }

    /// Name of the method in the laboratory.
    #[getter]
    fn id(&self) -> &str {
        &self.0.id
    }

    /// Its version.
    #[getter]
    fn version(&self) -> &str {
        &self.0.version
    }

    /// Symbol of the element.
    #[getter]
    fn element(&self) -> &'static str {
        self.0.element.symbol()
    }

    /// The profile of criteria it started from.
    #[getter]
    fn profile(&self) -> &'static str {
        self.0.profile().name()
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, (String,))> {
        Ok((function(py, "_method_from_json")?, (self.to_json(),)))
    }

    fn __repr__(&self) -> String {
        let core = &*self.0;
        format!("<Method {} version {}: {}, profile {}>", core.id, core.version, core.element.symbol(), self.profile())
    }
}

/// A method from the bytes of a TOML file.
#[pyfunction]
fn _method_from_toml_bytes(py: Python<'_>, bytes: &Bound<'_, PyBytes>) -> PyResult<Method> {
    Core::from_toml_bytes(bytes.as_bytes()).map(|core| Method(Arc::new(core))).or_raise(py)
}

/// A method from JSON; what a pickle calls.
#[pyfunction]
fn _method_from_json(py: Python<'_>, text: &str) -> PyResult<Method> {
    Core::from_json(text).map(|core| Method(Arc::new(core))).or_raise(py)
}

/// The method of each run, for `reduce_many`.
pub enum Methods {
    /// The same for all.
    One(Method),
    /// By name of the run.
    ByRun(Vec<(String, Method)>),
}

impl Methods {
    /// The method of `run`.
    pub fn of(&self, run: &groundstate::run::Run) -> Result<&Core, Error> {
        match self {
            Methods::One(method) => Ok(&method.0),
            Methods::ByRun(methods) => methods
                .iter()
                .find(|(name, _)| **name == *run.name)
                .map(|(_, method)| &*method.0)
                .ok_or_else(|| Error::argument("method", format!("no method is given for run {:?}", run.name))),
        }
    }
}

/// Adds the class and its helpers.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Method>()?;
    module.add_function(wrap_pyfunction!(_method_from_toml_bytes, module)?)?;
    module.add_function(wrap_pyfunction!(_method_from_json, module)?)
}
