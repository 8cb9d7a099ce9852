//! Which noise model replicate readings suggest.

use groundstate::Error;
use groundstate::curve::{NoiseSuggestion as Core, suggest_noise as core_suggest};
use groundstate::statistics::homogeneity::VarianceTest as Test;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::package;
use crate::recall::Recall;
use crate::variances::VarianceTest;

/// What replicate readings say of the noise model. Made by `suggest_noise` and `choose_shape`.
///
/// They say nothing of the standards' own errors: these readings are of one and the same solution.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct NoiseSuggestion {
    core: Core,
    recall: Recall,
}

impl NoiseSuggestion {
    /// The suggestion of the core, and how it is made again.
    pub fn of(core: Core, recall: Recall) -> Self {
        NoiseSuggestion { core, recall }
    }

    fn tests(&self) -> [(&'static str, Test, &groundstate::curve::VarianceTest); 4] {
        [
            ("lowest_and_top", Test::Ratio, &self.core.lowest_and_top),
            ("cochran", Test::Cochran, &self.core.cochran),
            ("bartlett", Test::Bartlett, &self.core.bartlett),
            ("levene", Test::Levene, &self.core.levene),
        ]
    }
}

#[pymethods]
impl NoiseSuggestion {
    /// Name of the model; None where the readings do not tell, or no model on offer suits them.
    #[getter]
    fn noise(&self) -> Option<&'static str> {
        self.core.noise.as_ref().map(|noise| noise.name())
    }

    /// Why, in one sentence.
    #[getter]
    fn reason(&self) -> &str {
        &self.core.reason
    }

    /// Tests of equal variances: lowest_and_top (lowest level above zero against the top one, which decides), and
    /// cochran, bartlett and levene over all levels.
    #[getter]
    fn tests_made<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, test, found) in self.tests() {
            if let Ok(found) = found {
                dict.set_item(name, VarianceTest::of(test, found, self.core.alpha))?;
            }
        }
        Ok(dict)
    }

    /// Why a test was not made, by name.
    #[getter]
    fn tests_not_made<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        for (name, _, found) in self.tests() {
            if let Err(why) = found {
                dict.set_item(name, why)?;
            }
        }
        Ok(dict)
    }

    /// The power of concentration that the variance grows with, and its standard uncertainty; None where too few
    /// levels scatter.
    #[getter]
    fn power(&self) -> Option<(f64, f64)> {
        self.core.slope.map(|slope| (slope.value, slope.u))
    }

    /// Level of significance of each test.
    #[getter]
    fn alpha(&self) -> f64 {
        self.core.alpha
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __repr__(&self) -> String {
        format!("<NoiseSuggestion {}: {}>", self.noise().unwrap_or("none"), self.core.reason)
    }
}

/// The noise model that replicate readings of standards suggest, by tests of equal variances.
///
/// The F test of the lowest level above zero against the top one decides whether the scatter changes; the power of
/// concentration that the variance grows with tells how: near 1 for "1/x", near 2 for "1/x^2".
///
/// Args:
///     concentration: shape (levels,).
///     absorbance: shape (levels, readings); NaN is missing.
///     alpha: level of significance of each test; 0.01 as in ISO 8466-1.
///
/// Raises:
///     ArgumentError: figures that do not go together, or a level that is none.
///
/// Source:
///     ISO 8466-1:1990, variance homogeneity (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> low = [0.0101, 0.0102, 0.0100, 0.0101, 0.0099, 0.0100]
///     >>> gs.suggest_noise([0.1, 4.0], [low, [0.401, 0.409, 0.395, 0.404, 0.392, 0.400]]).noise
///     '1/x^2'
#[pyfunction]
#[pyo3(signature = (concentration, absorbance, *, alpha=0.01))]
fn suggest_noise(
    py: Python<'_>,
    concentration: &Bound<'_, PyAny>,
    absorbance: &Bound<'_, PyAny>,
    alpha: f64,
) -> PyResult<NoiseSuggestion> {
    let concentration = Numbers::of("concentration", concentration)?;
    let absorbance = Numbers::of("absorbance", absorbance)?;
    let Some(width) = absorbance.width() else {
        let error = Error::argument("absorbance", "a table of standards and their readings is needed");
        return Err(raised(py, error.help("one row a standard; fill missing readings with nan")));
    };
    let readings = absorbance.as_slice()?.chunks(width.max(1));
    let present: Vec<Vec<f64>> = readings.map(|row| row.iter().copied().filter(|y| !y.is_nan()).collect()).collect();
    let levels = concentration.flat("concentration", py)?;
    let core = core_suggest(levels, &present, alpha).or_raise(py)?;
    let recall = Recall::new(py, "suggest_noise")
        .with_numbers(py, "concentration", &concentration)?
        .with_numbers(py, "absorbance", &absorbance)?
        .with(py, "alpha", alpha)?;
    Ok(NoiseSuggestion { core, recall })
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<NoiseSuggestion>()?;
    module.add_function(wrap_pyfunction!(suggest_noise, module)?)
}
