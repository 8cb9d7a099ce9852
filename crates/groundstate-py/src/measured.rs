//! Measured quantities of a preparation.

use groundstate::Error;
use groundstate::estimate::Dof;
use groundstate::glassware::Measured as Core;
use groundstate::preparation::Factor as CoreFactor;
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::error::OrRaise;

/// A positive quantity (a mass, a volume, a fraction) with its standard uncertainty.
///
/// A named item keeps the same unknown error wherever it is used, so results that share it are correlated. The
/// repeatability is new each time and is never shared.
///
/// Args:
///     value: the value.
///     u: standard uncertainty of what it was measured with, in the unit of the value.
///     dof: degrees of freedom of u.
///     repeatability: standard deviation that each use brings anew, in the unit of the value.
///     repeatability_dof: degrees of freedom of the repeatability.
///     item: name of what it was measured with.
///
/// Raises:
///     ArgumentError: a value that is not positive, or an uncertainty that is negative.
///
/// Source:
///     JCGM 100:2008, 4.2 and 4.3; a common item as in F.1.2.3.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Measured {
    /// The value.
    value: f64,
    /// Standard uncertainty of what it was measured with, in the unit of the value.
    u: f64,
    /// Degrees of freedom of u; infinite where it is known.
    dof: f64,
    /// Standard deviation that each use brings anew, in the unit of the value.
    repeatability: f64,
    /// Degrees of freedom of the repeatability.
    repeatability_dof: f64,
    /// Name of what it was measured with; None where it has none.
    item: Option<String>,
}

impl Measured {
    /// A number, with `u` beside it, or a Measured. `name` is the argument.
    pub fn of(name: &str, given: &Bound<'_, PyAny>, u: Option<&Bound<'_, PyAny>>) -> PyResult<Self> {
        let py = given.py();
        let u = Numbers::one_or_none(&format!("{name}_u"), u)?;
        if let Ok(measured) = given.cast::<Measured>() {
            if u.is_some() {
                let error = Error::argument(&format!("{name}_u"), "the quantity brings its own uncertainty");
                return Err(crate::error::raised(py, error));
            }
            return Ok(measured.get().clone());
        }
        let value = Numbers::one(name, given)?;
        let u = u.unwrap_or(0.0);
        let dof = f64::INFINITY;
        Ok(Measured { value, u, dof, repeatability: 0.0, repeatability_dof: dof, item: None })
    }

    /// The quantity of the core, its value and uncertainties divided by `unit`.
    pub fn core_in(&self, name: &str, unit: f64) -> Result<Core, Error> {
        let measured = Core::new(name, self.value / unit, self.u / unit)?
            .with_dof(Dof::new(self.dof)?)?
            .with_repeatability(self.repeatability / unit)?
            .with_repeatability_dof(Dof::new(self.repeatability_dof)?)?;
        self.item.as_deref().map_or(Ok(measured.clone()), |item| measured.clone().with_item(item))
    }

    /// The quantity of the core.
    pub fn core(&self, name: &str) -> Result<Core, Error> {
        self.core_in(name, 1.0)
    }

    /// The value.
    pub fn value(&self) -> f64 {
        self.value
    }
}

type Fields = (f64, f64);
type FactorFields = (f64, f64, Option<String>);
type Named<'py> = Bound<'py, pyo3::types::PyDict>;

#[pymethods]
impl Measured {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (value, u=0.0, *, dof=f64::INFINITY, repeatability=0.0, repeatability_dof=f64::INFINITY, item=None))]
    #[pyo3(text_signature = "(value, u=0.0, *, dof=inf, repeatability=0.0, repeatability_dof=inf, item=None)")]
    fn new(
        py: Python<'_>,
        value: f64,
        u: f64,
        dof: f64,
        repeatability: f64,
        repeatability_dof: f64,
        item: Option<String>,
    ) -> PyResult<Self> {
        let measured = Measured { value, u, dof, repeatability, repeatability_dof, item };
        measured.core("value").or_raise(py)?;
        Ok(measured)
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Fields, Named<'py>)> {
        let named = pyo3::types::PyDict::new(py);
        named.set_item("dof", self.dof)?;
        named.set_item("repeatability", self.repeatability)?;
        named.set_item("repeatability_dof", self.repeatability_dof)?;
        named.set_item("item", &self.item)?;
        Ok(((self.value, self.u), named))
    }

    fn __repr__(&self) -> String {
        let item = self.item.as_ref().map_or(String::new(), |item| format!(", item {item:?}"));
        format!("<Measured {}, u {}, repeatability {}{item}>", self.value, self.u, self.repeatability)
    }
}

/// A further factor that results are multiplied by, for example for recovery.
///
/// A named factor is one quantity for all who name it; an unnamed one is new with every portion.
///
/// Args:
///     value: the factor, above zero.
///     u: its standard uncertainty.
///     name: its name.
///     dof: degrees of freedom of u.
///
/// Raises:
///     ArgumentError: a factor that is not positive, or an uncertainty that is negative.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Factor {
    /// The factor.
    value: f64,
    /// Its standard uncertainty.
    u: f64,
    /// Degrees of freedom of u.
    dof: f64,
    /// Its name; None where it has none.
    name: Option<String>,
}

impl Factor {
    /// The factor of the core.
    pub fn core(&self) -> Result<CoreFactor, Error> {
        let dof = Dof::new(self.dof)?;
        match &self.name {
            Some(name) => CoreFactor::new(name, self.value, self.u)?.with_dof(dof),
            None => Ok(CoreFactor { name: None, measured: Core::new("extra", self.value, self.u)?.with_dof(dof)? }),
        }
    }
}

#[pymethods]
impl Factor {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (value, u=0.0, name=None, *, dof=f64::INFINITY), text_signature = "(value, u=0.0, name=None, *, dof=inf)")]
    fn new(py: Python<'_>, value: f64, u: f64, name: Option<String>, dof: f64) -> PyResult<Self> {
        let factor = Factor { value, u, dof, name };
        factor.core().or_raise(py)?;
        Ok(factor)
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(FactorFields, Named<'py>)> {
        let named = pyo3::types::PyDict::new(py);
        named.set_item("dof", self.dof)?;
        Ok(((self.value, self.u, self.name.clone()), named))
    }

    fn __repr__(&self) -> String {
        let name = self.name.as_ref().map_or(String::new(), |name| format!(", name={name:?}"));
        format!("Factor({}, u={}{name})", self.value, self.u)
    }
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Measured>()?;
    module.add_class::<Factor>()
}
