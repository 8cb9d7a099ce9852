//! Signals of a calibration function.

use groundstate::curve::Response as Core;
use groundstate::estimate::Dof;
use pyo3::prelude::*;

use crate::arrays::read_only;
use crate::calibration::beside;
use crate::error::OrRaise;
use crate::estimates::{index, iterate};

/// Mean signal at one concentration.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Response(Core);

impl From<Core> for Response {
    fn from(core: Core) -> Self {
        Response(core)
    }
}

#[pymethods]
impl Response {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    fn new(py: Python<'_>, value: f64, u: f64, dof: f64) -> PyResult<Self> {
        Ok(Response(Core { value, u, dof: Dof::new(dof).or_raise(py)? }))
    }

    /// Signal.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value
    }

    /// Its standard uncertainty, from the coefficients alone.
    #[getter]
    fn u(&self) -> f64 {
        self.0.u
    }

    /// Degrees of freedom of u.
    #[getter]
    fn dof(&self) -> f64 {
        self.0.dof.get()
    }

    fn __getnewargs__(&self) -> (f64, f64, f64) {
        (self.0.value, self.0.u, self.0.dof.get())
    }

    fn __repr__(&self) -> String {
        format!("<Response {}>", beside(self.0.value, self.0.u))
    }
}

/// Mean signals at several concentrations. A sequence of Response.
#[pyclass(frozen, module = "groundstate")]
pub struct Responses(pub Vec<Core>);

#[pymethods]
impl Responses {
    fn __eq__<'py>(slf: &Bound<'py, Self>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
        crate::package::same(slf, other)
    }

    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    fn new(py: Python<'_>, value: Vec<f64>, u: Vec<f64>, dof: Vec<f64>) -> PyResult<Self> {
        let rows = value.into_iter().zip(u).zip(dof);
        let rows = rows.map(|((value, u), dof)| Ok(Core { value, u, dof: Dof::new(dof).or_raise(py)? }));
        Ok(Responses(rows.collect::<PyResult<_>>()?))
    }

    /// Signals, shape (n,).
    #[getter]
    fn value<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        self.column(py, |row| row.value)
    }

    /// Their standard uncertainties, from the coefficients alone, shape (n,).
    #[getter]
    fn u<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        self.column(py, |row| row.u)
    }

    /// Degrees of freedom of u, shape (n,).
    #[getter]
    fn dof<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        self.column(py, |row| row.dof.get())
    }

    fn __len__(&self) -> usize {
        self.0.len()
    }

    fn __getitem__(&self, at: isize) -> PyResult<Response> {
        Ok(Response(self.0[index(at, self.0.len())?]))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        iterate(py, self.0.iter().copied().map(Response).collect())
    }

    fn __getnewargs__(&self) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let column = |of: fn(&Core) -> f64| self.0.iter().map(of).collect();
        (column(|row| row.value), column(|row| row.u), column(|row| row.dof.get()))
    }

    fn __repr__(&self) -> String {
        format!("<Responses of {}>", self.0.len())
    }
}

impl Responses {
    fn column<'py>(&self, py: Python<'py>, of: fn(&Core) -> f64) -> Bound<'py, PyAny> {
        read_only(py, self.0.iter().map(of).collect()).into_any()
    }
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Response>()?;
    module.add_class::<Responses>()
}
