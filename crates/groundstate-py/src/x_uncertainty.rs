//! Errors of the standards' concentrations as a value of its own.

use groundstate::Error;
use groundstate::curve::{PointKind, Points, StandardsError, Stock};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::archive::standards_error;
use crate::arrays::Numbers;
use crate::error::{OrRaise, raised, wrong_type};
use crate::noise::{Figures, Layout, aligned};

const NAME: &str = "x_uncertainty";

/// Arguments of the constructor: by position, and by name.
type NewArguments<'py> = ((Option<Bound<'py, PyAny>>,), Bound<'py, PyDict>);

/// What of the errors the standards share.
#[derive(Clone, PartialEq)]
enum Shared {
    /// Nothing.
    None,
    /// One stock without a name: the relative standard uncertainty.
    Unnamed(f64),
    /// Named stocks, by name.
    Named(Vec<(String, f64)>),
}

/// Errors of the standards' concentrations: independent ones, parts that all share, or a full covariance.
///
/// Args:
///     u: standard uncertainty of each standard, independent of the others, in the unit of the concentrations; one
///         figure or one a standard (or level).
///     shared: the relative standard uncertainty of one stock that this calibration alone knows; or a mapping
///         {"stock:name": relative standard uncertainty}: each is a source of every result under that key, the same
///         one as `Stock(name)` and as the stock of that name in any other calibration.
///     covariance: the covariance matrix of the concentrations, shape (standards, standards), in place of both.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct XUncertainty {
    u: Option<Figures>,
    shared: Shared,
    covariance: Option<Figures>,
}

#[pymethods]
impl XUncertainty {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (u=None, shared=None, covariance=None))]
    fn new(
        py: Python<'_>,
        u: Option<&Bound<'_, PyAny>>,
        shared: Option<&Bound<'_, PyAny>>,
        covariance: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let wrong = |name: &str, what: &str, help: &str| raised(py, Error::argument(name, what).help(help));
        if covariance.is_some() && (u.is_some() || shared.is_some()) {
            let help = "add u squared to its diagonal, and the product of the shared parts to every element";
            return Err(wrong("covariance", "a covariance matrix stands for all errors of the standards", help));
        }
        if u.is_none() && shared.is_none() && covariance.is_none() {
            return Err(wrong("u", "no error of the standards is given", "give u, shared or covariance"));
        }
        let u = u.map(|u| Figures::of("u", u)).transpose()?;
        if let Some(u) = &u {
            StandardsError::independent(u.values()).or_raise(py)?;
            if u.shape().len() > 1 {
                return Err(wrong("u", "a table is no list of standard uncertainties", "give a matrix as covariance"));
            }
        }
        let covariance = covariance.map(|matrix| Figures::of("covariance", matrix)).transpose()?;
        if let Some(matrix) = &covariance {
            StandardsError::covariance(&rows(matrix)).or_raise(py)?;
        }
        Ok(XUncertainty { u, shared: shared.map_or(Ok(Shared::None), shared_parts)?, covariance })
    }

    /// Independent standard uncertainties as they were given.
    #[getter]
    fn u<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        self.u.as_ref().map(|u| u.to_python(py)).transpose()
    }

    /// Relative standard uncertainty of the unnamed stock, or those of named stocks by their keys.
    #[getter]
    fn shared<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        Ok(match &self.shared {
            Shared::None => None,
            Shared::Unnamed(relative_u) => Some(relative_u.into_pyobject(py)?.into_any()),
            Shared::Named(stocks) => {
                let dict = PyDict::new(py);
                stocks.iter().try_for_each(|(name, relative_u)| dict.set_item(format!("stock:{name}"), relative_u))?;
                Some(dict.into_any())
            }
        })
    }

    /// The covariance matrix as it was given.
    #[getter]
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        self.covariance.as_ref().map(|matrix| matrix.to_python(py)).transpose()
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<NewArguments<'py>> {
        let named = PyDict::new(py);
        named.set_item("shared", self.shared(py)?)?;
        named.set_item("covariance", self.covariance(py)?)?;
        Ok(((self.u(py)?,), named))
    }

    fn __repr__(&self) -> String {
        let mut parts: Vec<String> = self.u.iter().map(Figures::shown).collect();
        match &self.shared {
            Shared::None => {}
            Shared::Unnamed(relative_u) => parts.push(format!("shared={relative_u}")),
            Shared::Named(stocks) => {
                let stocks: Vec<String> =
                    stocks.iter().map(|(name, relative_u)| format!("'stock:{name}': {relative_u}")).collect();
                parts.push(format!("shared={{{}}}", stocks.join(", ")));
            }
        }
        if let Some([size, ..]) = self.covariance.as_ref().map(Figures::shape) {
            parts.push(format!("covariance of {size} standards"));
        }
        format!("XUncertainty({})", parts.join(", "))
    }
}

fn rows(matrix: &Figures) -> Vec<Vec<f64>> {
    let width = matrix.shape().get(1).copied().unwrap_or(1).max(1);
    matrix.values().chunks(width).map(<[f64]>::to_vec).collect()
}

fn shared_parts(given: &Bound<'_, PyAny>) -> PyResult<Shared> {
    const SHARED: &str = "shared";
    let py = given.py();
    let relative = |what: &str, u: f64| match (0.0..1.0).contains(&u) {
        true => Ok(u),
        false => {
            let error = Error::argument(SHARED, format!("{u}{what} is not a relative standard uncertainty below 1"));
            Err(raised(py, error.help("for half a per cent write 0.005")))
        }
    };
    let Ok(mapping) = given.cast::<PyDict>() else {
        if given.is_instance_of::<PyString>() {
            return Err(wrong_type(SHARED, given, "a relative standard uncertainty or a mapping of them"));
        }
        return Ok(Shared::Unnamed(relative("", Numbers::one(SHARED, given)?)?));
    };
    let mut stocks = Vec::with_capacity(mapping.len());
    for (key, u) in mapping {
        let Ok(word) = key.extract::<String>() else {
            return Err(wrong_type(SHARED, &key, "the key of a source: \"stock:\" and a name"));
        };
        let Some(name) = word.strip_prefix("stock:").filter(|name| !name.trim().is_empty()) else {
            let error = Error::argument(SHARED, format!("{word:?} is not the key of a source that standards share"));
            return Err(raised(py, error.help("write \"stock:\" and the name of the solution, as in \"stock:Zn-A\"")));
        };
        stocks.push((name.to_owned(), relative(&format!(" of {word:?}"), Numbers::one(SHARED, &u)?)?));
    }
    stocks.sort_by(|a, b| a.0.cmp(&b.0));
    Ok(Shared::Named(stocks))
}

/// The errors of single standards in the order of the points, and the stocks that all share: from an XUncertainty, or
/// from plain standard uncertainties or a covariance matrix.
pub fn choice(
    given: Option<&Bound<'_, PyAny>>,
    layout: &Layout<'_>,
    points: &Points,
) -> PyResult<(StandardsError, Vec<Stock>)> {
    let Some(given) = given else { return Ok((StandardsError::Negligible, Vec::new())) };
    let py = given.py();
    let (own, shared) = match given.cast::<XUncertainty>() {
        Ok(whole) => {
            let XUncertainty { u, shared, covariance } = whole.get();
            (covariance.clone().or_else(|| u.clone()), shared.clone())
        }
        Err(_) => (Some(Figures::of(NAME, given)?), Shared::None),
    };
    let stocks = match shared {
        Shared::None => Vec::new(),
        Shared::Unnamed(relative_u) => vec![Stock { name: "".into(), relative_u }],
        Shared::Named(stocks) => {
            stocks.into_iter().map(|(name, relative_u)| Stock { name: name.into(), relative_u }).collect()
        }
    };
    let error = match own {
        None => StandardsError::Negligible,
        Some(figures) if figures.shape().len() > 1 => standards_error(None, Some(rows(&figures))).or_raise(py)?,
        Some(figures) => {
            standards_error(Some(aligned(&figures, layout, points, NAME).or_raise(py)?), None).or_raise(py)?
        }
    };
    let readings = layout.width.is_some_and(|width| width > 1) && points.kind() == PointKind::Readings;
    if readings && error != StandardsError::Negligible {
        let what = "the readings of one standard share its error and cannot be fitted as independent points";
        return Err(raised(py, Error::argument(NAME, what).help("fit points=\"standards\"")));
    }
    Ok((error, stocks))
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<XUncertainty>()
}
