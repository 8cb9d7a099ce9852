//! Noise models that come with figures.

use groundstate::Error;
use groundstate::curve::{Noise, PointKind, Points, ReplicateModel, Sigmas};
use pyo3::prelude::*;

use crate::arrays::{Numbers, read_only};
use crate::error::{OrRaise, raised, wrong_type};

/// Standard deviations as they were given: one, one a level, or one a reading.
#[derive(Clone, PartialEq)]
pub struct Figures {
    values: Vec<f64>,
    shape: Vec<usize>,
}

impl Figures {
    /// The figures of the argument `name`.
    pub fn of(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Self> {
        let numbers = Numbers::of(name, given)?;
        let values = numbers.as_slice()?.to_vec();
        Ok(Figures { values, shape: numbers.shape })
    }

    /// As an array, or a number where one was given.
    pub fn to_python<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(match (self.shape.as_slice(), self.values.first()) {
            ([], Some(only)) => only.into_pyobject(py)?.into_any(),
            (shape, _) => read_only(py, self.values.clone()).call_method1("reshape", (shape.to_vec(),))?,
        })
    }

    /// The figures, row after row.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Extents: none for a single figure.
    pub fn shape(&self) -> &[usize] {
        &self.shape
    }

    /// In a few words.
    pub fn shown(&self) -> String {
        match self.values.as_slice() {
            [only] => format!("{only}"),
            several => format!("{} values", several.len()),
        }
    }
}

macro_rules! sigma_class {
    ($(#[$doc:meta])* $name:ident, $field:ident, $(#[$field_doc:meta])*) => {
        $(#[$doc])*
        #[pyclass(frozen, eq, module = "groundstate")]
        #[derive(Clone, PartialEq)]
        pub struct $name(Figures);

        #[pymethods]
        impl $name {
            /// Every property by name, as plain lists, words and figures; None where a figure is absent.
            fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
                crate::package::plain(slf)
            }

            #[new]
            #[pyo3(signature = ($field))]
            fn new($field: &Bound<'_, PyAny>) -> PyResult<Self> {
                let figures = Figures::of(stringify!($field), $field)?;
                Sigmas::new(&figures.values).or_raise($field.py())?;
                Ok($name(figures))
            }

            $(#[$field_doc])*
            #[getter]
            fn $field<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
                self.0.to_python(py)
            }

            fn __getnewargs__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>,)> {
                Ok((self.0.to_python(py)?,))
            }

            fn __repr__(&self) -> String {
                format!("{}({})", stringify!($name), self.0.shown())
            }
        }
    };
}

sigma_class! {
    /// Standard deviations of single readings, known, in units of the signal.
    ///
    /// Chi-squared is reported and never used to rescale; degrees of freedom are infinite.
    ///
    /// Args:
    ///     u: one figure for all points, one a level, or one a reading (of the shape of the absorbance).
    KnownSigma, u,
    /// The standard deviations as they were given.
}

sigma_class! {
    /// Standard deviations known up to one common factor, which is estimated from the residuals.
    ///
    /// These are not relative standard deviations.
    ///
    /// Args:
    ///     sigma: one figure for all points, one a level, or one a reading (of the shape of the absorbance).
    RelativeSigma, sigma,
    /// The standard deviations as they were given.
}

/// Standard deviations estimated from the replicate readings of each standard.
///
/// They lack the standards' own error, so what follows from them is repeatability.
///
/// Args:
///     model: how the scatter of replicates becomes a standard deviation at each level.
///     at_least: the fewest readings that a level may have under "per_level".
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct FromReplicates(ReplicateModel);

#[pymethods]
impl FromReplicates {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (model="pooled", *, at_least=6))]
    fn new(py: Python<'_>, model: &str, at_least: u32) -> PyResult<Self> {
        let name = if model == "pooled" { "from_replicates".to_owned() } else { format!("from_replicates_{model}") };
        match Noise::parse(&name) {
            Ok(Noise::FromReplicates(ReplicateModel::PerLevel { .. })) => {
                Ok(FromReplicates(ReplicateModel::PerLevel { at_least }))
            }
            Ok(Noise::FromReplicates(model)) => Ok(FromReplicates(model)),
            _ => {
                let error = Error::argument("model", format!("there is no model {model:?}"));
                Err(raised(py, error.help("it is \"pooled\", \"floor_plus_proportional\" or \"per_level\"")))
            }
        }
    }

    /// How the scatter of replicates becomes a standard deviation at each level.
    #[getter]
    fn model(&self) -> &'static str {
        let name = Noise::FromReplicates(self.0).name();
        name.strip_prefix("from_replicates_").unwrap_or("pooled")
    }

    /// Fewest readings a level may have under "per_level"; None under the other models.
    #[getter]
    fn at_least(&self) -> Option<u32> {
        match self.0 {
            ReplicateModel::PerLevel { at_least } => Some(at_least),
            _ => None,
        }
    }

    fn __getnewargs_ex__(&self) -> ((&'static str,), std::collections::BTreeMap<&'static str, u32>) {
        ((self.model(),), self.at_least().map(|count| ("at_least", count)).into_iter().collect())
    }

    fn __repr__(&self) -> String {
        match self.at_least() {
            Some(count) => format!("FromReplicates({:?}, at_least={count})", self.model()),
            None => format!("FromReplicates({:?})", self.model()),
        }
    }
}

/// How the points of a fit lie in the table of readings they were made from.
pub struct Layout<'a> {
    /// Concentrations as given.
    pub levels: &'a [f64],
    /// Readings as given, row after row.
    pub signals: &'a [f64],
    /// Length of a row, for a table of levels x replicates.
    pub width: Option<usize>,
}

/// The noise model that `given` names or is, its standard deviations brought into the order of `points`.
pub fn noise(given: &Bound<'_, PyAny>, layout: &Layout<'_>, points: &Points) -> PyResult<Noise> {
    let py = given.py();
    if let Ok(word) = given.extract::<&str>() {
        return Noise::parse(word).or_raise(py);
    }
    if let Ok(model) = given.cast::<FromReplicates>() {
        return Ok(Noise::FromReplicates(model.get().0));
    }
    let of = |figures: &Figures| Sigmas::new(&aligned(figures, layout, points, "noise")?);
    if let Ok(known) = given.cast::<KnownSigma>() {
        return of(&known.get().0).map(Noise::KnownSigma).or_raise(py);
    }
    if let Ok(relative) = given.cast::<RelativeSigma>() {
        return of(&relative.get().0).map(Noise::RelativeSigma).or_raise(py);
    }
    Err(wrong_type("noise", given, "a noise model: a word, KnownSigma, RelativeSigma or FromReplicates"))
}

/// The figures in the order of the points. Figures that fit nothing are passed on as they are: the fit refuses them.
pub fn aligned(figures: &Figures, layout: &Layout<'_>, points: &Points, name: &str) -> Result<Vec<f64>, Error> {
    let values = &figures.values;
    let (rows, width) = (layout.levels.len(), layout.width.unwrap_or(1).max(1));
    let each_reading: Vec<f64> = match figures.shape.as_slice() {
        // One a level where a row is a level, or one a reading where a row is a reading.
        [n] if *n == rows => values.iter().flat_map(|sigma| std::iter::repeat_n(*sigma, width)).collect(),
        [n, m] if *n == rows && *m == width => values.clone(),
        _ => return Ok(values.clone()),
    };
    let present = layout.signals.iter().map(|signal| !signal.is_nan());
    match points.kind() {
        PointKind::Readings => {
            Ok(each_reading.into_iter().zip(present).filter(|(_, present)| *present).map(|(sigma, _)| sigma).collect())
        }
        PointKind::Standards => {
            // In a table a standard is a row; otherwise the readings of one concentration.
            let mut of_points: Vec<(usize, f64)> = Vec::with_capacity(points.len());
            for (i, sigma) in each_reading.into_iter().enumerate() {
                let level = layout.levels[i / width];
                let known = of_points.iter().find(|(first, _)| match layout.width {
                    Some(width) => first / width == i / width,
                    None => layout.levels[*first].total_cmp(&level).is_eq(),
                });
                match known {
                    None => of_points.push((i, sigma)),
                    Some((_, first)) if first.total_cmp(&sigma).is_eq() => {}
                    Some(_) => {
                        let what =
                            format!("the readings of the standard at {level} have different standard deviations");
                        return Err(Error::argument(name, what).help("give one a standard"));
                    }
                }
            }
            Ok(of_points.into_iter().map(|(_, sigma)| sigma).collect())
        }
    }
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<KnownSigma>()?;
    module.add_class::<RelativeSigma>()?;
    module.add_class::<FromReplicates>()
}
