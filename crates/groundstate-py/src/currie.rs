//! Currie's levels from a standard deviation, without a calibration.

use groundstate::Error;
use groundstate::detection::LimitDefinition;
use groundstate::detection::from_calibration::currie::{
    Blank, CurrieLevels as Core, CurrieOptions, Sigma, levels, levels_from_blanks,
};
use groundstate::estimate::Dof;
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised, wrong_type};
use crate::package;
use crate::recall::Recall;

/// Critical level, detection limit and quantification limit of a net signal. Made by `currie_levels`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct CurrieLevels {
    core: Core,
    recall: Recall,
}

#[pymethods]
impl CurrieLevels {
    /// L_C: a net result above it is a detection. The rule of decision.
    #[getter]
    fn critical(&self) -> f64 {
        self.core.critical
    }

    /// L_D: a true net value at it is detected with probability 1 - beta. Results are not compared with it.
    #[getter]
    fn detection(&self) -> f64 {
        self.core.detection
    }

    /// L_Q: a true net value at it has a relative standard deviation of 1/k.
    #[getter]
    fn quantitation(&self) -> f64 {
        self.core.quantitation
    }

    /// Standard deviation of the net signal at zero.
    #[getter]
    fn sigma0(&self) -> f64 {
        self.core.sigma0
    }

    /// Its degrees of freedom; infinite where it is known.
    #[getter]
    fn dof(&self) -> f64 {
        self.core.dof.get()
    }

    /// 95 % interval of L_D where sigma is estimated; None where it is known.
    #[getter]
    fn detection_interval(&self) -> Option<(f64, f64)> {
        self.core.detection_interval
    }

    /// Where the levels are defined.
    #[getter]
    fn citation(&self) -> String {
        LimitDefinition::CurrieCritical.citation().to_string()
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let Core { critical, detection, quantitation, .. } = self.core;
        format!("<CurrieLevels L_C {critical:.4e}, L_D {detection:.4e}, L_Q {quantitation:.4e}>")
    }
}

/// "well_known", "paired", or the number of blank readings that a sample is compared with the mean of.
fn blank_of(given: &Bound<'_, PyAny>) -> PyResult<Blank> {
    if let Ok(count) = given.extract::<u32>() {
        return Ok(Blank::MeanOf(count));
    }
    match given.extract::<&str>() {
        Ok("well_known") => Ok(Blank::WellKnown),
        Ok("paired") => Ok(Blank::Paired),
        Ok(word) => {
            let error = Error::argument("blank", format!("there is no blank {word:?}"));
            Err(raised(given.py(), error.help("it is well_known, paired, or a number of blank readings")))
        }
        Err(_) => Err(wrong_type("blank", given, "well_known, paired, or a number of blank readings")),
    }
}

/// Currie's three levels, in the unit of the standard deviation: signal or concentration.
///
/// Args:
///     s: standard deviation of one reading of a blank.
///     dof: its degrees of freedom; none where it is known: 1.645, 3.29 and 10 s of a well-known blank, 2.33, 4.65
///         and 14.1 s of a paired one.
///     blank: what a sample is compared with: a well-known blank, its own (paired), or the mean of so many readings.
///     blanks: readings of blanks in place of s, dof and blank; their mean is what a sample is compared with.
///     alpha: probability of a false detection.
///     beta: probability of missing L_D.
///     readings: how many readings a sample's signal is the mean of.
///     k: reciprocal of the relative standard deviation at L_Q.
///
/// Raises:
///     ArgumentError: a standard deviation that is not positive, probabilities or counts that are none, blanks that do
///         not scatter.
///
/// Source:
///     L. A. Currie, Pure Appl. Chem. 67 (1995) 1699 (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.currie_levels(1.0, blank="paired")
///     <CurrieLevels L_C 2.3262e0, L_D 4.6523e0, L_Q 1.4142e1>
#[pyfunction]
#[pyo3(signature = (s=None, *, dof=None, blank=None, blanks=None, alpha=0.05, beta=0.05, readings=1, k=10.0))]
#[pyo3(text_signature = "(s=None, *, dof=None, blank='well_known', blanks=None, alpha=0.05, beta=0.05, readings=1, \
    k=10.0)")]
#[allow(clippy::too_many_arguments)] // a keyword each
fn currie_levels(
    py: Python<'_>,
    s: Option<f64>,
    dof: Option<f64>,
    blank: Option<&Bound<'_, PyAny>>,
    blanks: Option<&Bound<'_, PyAny>>,
    alpha: f64,
    beta: f64,
    readings: u32,
    k: f64,
) -> PyResult<CurrieLevels> {
    let options = CurrieOptions { alpha, beta, readings, k };
    let recall = Recall::new(py, "currie_levels")
        .with(py, "alpha", alpha)?
        .with(py, "beta", beta)?
        .with(py, "readings", readings)?
        .with(py, "k", k)?;
    let (core, recall) = match (s, blanks) {
        (Some(s), None) => {
            let sigma = match dof {
                None => Sigma::Known(s),
                Some(dof) => Sigma::Estimated { s, dof: Dof::new(dof).or_raise(py)? },
            };
            let compared = blank.map_or(Ok(Blank::WellKnown), blank_of)?;
            let recall = recall.with(py, "s", s)?.with_some(py, "dof", dof)?.with_some(py, "blank", blank)?;
            (levels(sigma, compared, &options), recall)
        }
        (None, Some(given)) if blank.is_none() && dof.is_none() => {
            let numbers = Numbers::of("blanks", given)?;
            let recall = recall.with_numbers(py, "blanks", &numbers)?;
            (levels_from_blanks(numbers.flat("blanks", py)?, &options), recall)
        }
        (None, Some(_)) => {
            let what = "readings of blanks bring their own number and degrees of freedom";
            return Err(raised(py, Error::argument("blanks", what).help("leave blank and dof out")));
        }
        _ => {
            let what = "either a standard deviation or readings of blanks are needed";
            return Err(raised(py, Error::argument("s", what)));
        }
    };
    Ok(CurrieLevels { core: core.or_raise(py)?, recall })
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<CurrieLevels>()?;
    module.add_function(wrap_pyfunction!(currie_levels, module)?)
}
