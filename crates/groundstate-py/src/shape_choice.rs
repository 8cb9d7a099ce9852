//! gs.choose_shape: which shape and noise model a set of standards supports.

use std::sync::Arc;

use groundstate::Error;
use groundstate::criteria::{CalibrationLimits, Criteria, ProfileName};
use groundstate::curve::{Candidate, Choice, ChoiceRules, ChoiceTest, Ends, FitOptions, Ruled, Shape, choose};
use groundstate::finding::Citation;
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::pybacked::PyBackedStr;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::calibrate::{Stock, point_kind, points_of, stock_choice, zero_choice, zeroing_choice};
use crate::calibration::Calibration;
use crate::error::{OrRaise, raised, wrong_type};
use crate::finding::findings;
use crate::method::Method;
use crate::noise::{Layout, noise};
use crate::noise_choice::NoiseSuggestion;
use crate::package;
use crate::recall::Recall;
use crate::x_uncertainty::{self, XUncertainty};

/// One test of one candidate shape.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct ShapeTest {
    /// One of admitted, standards, fitted, rising, intercept, mandel, lack_of_fit, percent_error,
    /// relative_standard_error, aicc.
    name: String,
    /// Test statistic or figure.
    figure: Option<f64>,
    /// Probability of such a figure if there is nothing wrong.
    p: Option<f64>,
    /// What the figure, or p where there is one, is held against.
    limit: Option<f64>,
    /// What became of it; "not_evaluated" is not a pass.
    outcome: String,
    /// The rule that it follows; None where it follows none.
    citation: Option<String>,
}

impl From<&ChoiceTest> for ShapeTest {
    fn from(test: &ChoiceTest) -> Self {
        ShapeTest {
            name: test.name.to_owned(),
            figure: test.figure,
            p: test.p,
            limit: test.limit,
            outcome: test.outcome.name().to_owned(),
            citation: test.citation.as_ref().map(ToString::to_string),
        }
    }
}

type TestFields = (String, Option<f64>, Option<f64>, Option<f64>, String, Option<String>);

#[pymethods]
impl ShapeTest {
    #[new]
    #[pyo3(signature = (name, figure, p, limit, outcome, citation))]
    fn new(
        name: String,
        figure: Option<f64>,
        p: Option<f64>,
        limit: Option<f64>,
        outcome: String,
        citation: Option<String>,
    ) -> Self {
        ShapeTest { name, figure, p, limit, outcome, citation }
    }

    fn __getnewargs__(&self) -> TestFields {
        let ShapeTest { name, figure, p, limit, outcome, citation } = self.clone();
        (name, figure, p, limit, outcome, citation)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    fn __repr__(&self) -> String {
        format!("<ShapeTest {}: {}>", self.name, self.outcome.replace('_', " "))
    }
}

/// One shape with one noise model over one stretch of the levels.
#[pyclass(frozen, module = "groundstate")]
pub struct ShapeCandidate {
    core: Candidate,
    recall: Recall,
}

#[pymethods]
impl ShapeCandidate {
    /// Shape.
    #[getter]
    fn shape(&self) -> &'static str {
        self.core.shape.name()
    }

    /// Name of the noise model.
    #[getter]
    fn noise(&self) -> &'static str {
        self.core.noise.name()
    }

    /// Levels taken off the low end, and off the top, by concentration.
    #[getter]
    fn dropped(&self) -> (Vec<f64>, Vec<f64>) {
        let [low, top] = &self.core.dropped;
        (low.clone(), top.clone())
    }

    /// The fit over standards; None where it could not be made, as the reason says.
    #[getter]
    fn calibration(&self) -> Option<Calibration> {
        self.core.calibration.as_ref().ok().map(|fitted| Calibration::of(Arc::new(fitted.clone())))
    }

    /// Every test, in order.
    #[getter]
    fn tests(&self) -> Vec<ShapeTest> {
        self.core.tests.iter().map(ShapeTest::from).collect()
    }

    /// Name of the first test that rejects it; None where none does.
    #[getter]
    fn rejected_by(&self) -> Option<&'static str> {
        self.core.rejected_by
    }

    /// Why it was taken or not, in one sentence.
    #[getter]
    fn reason(&self) -> &str {
        &self.core.reason
    }

    fn __eq__<'py>(slf: &Bound<'py, Self>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
        crate::package::same(slf, other)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __repr__(&self) -> String {
        format!("<ShapeCandidate {}, noise {}: {}>", self.shape(), self.noise(), self.core.reason)
    }
}

/// What a choice suggests of the noise; what a pickle calls.
#[pyfunction]
fn _suggested_noise(choice: &Bound<'_, ShapeChoice>) -> PyResult<Option<NoiseSuggestion>> {
    ShapeChoice::suggested_noise(choice)
}

/// One candidate of a choice.
#[pyfunction]
fn _shape_candidate(choice: &Bound<'_, ShapeChoice>, index: usize) -> PyResult<ShapeCandidate> {
    let py = choice.py();
    let Some(core) = choice.get().core.candidates.get(index).cloned() else {
        return Err(raised(py, Error::argument("index", format!("there is no candidate {index}"))));
    };
    let recall = Recall::new(py, "_shape_candidate").with(py, "choice", choice)?.with(py, "index", index)?;
    Ok(ShapeCandidate { core, recall })
}

/// A choice of shape with everything that it rests on. Made by `choose_shape`.
#[pyclass(frozen, module = "groundstate")]
pub struct ShapeChoice {
    core: Choice,
    recall: Recall,
}

#[pymethods]
impl ShapeChoice {
    /// The fit of the shape that was taken; None where every candidate was rejected.
    #[getter]
    fn calibration(&self) -> Option<Calibration> {
        let taken = self.core.taken()?.calibration.as_ref().ok()?;
        Some(Calibration::of(Arc::new(taken.clone())))
    }

    /// The shape that was taken; None where every candidate was rejected.
    #[getter]
    fn shape(&self) -> Option<&'static str> {
        self.core.taken().map(|taken| taken.shape.name())
    }

    /// Name of the noise model that was taken; None where every candidate was rejected.
    #[getter]
    fn noise(&self) -> Option<&'static str> {
        self.core.taken().map(|taken| taken.noise.name())
    }

    /// The candidates, best first.
    #[getter]
    fn candidates(slf: &Bound<'_, Self>) -> PyResult<Vec<ShapeCandidate>> {
        let count = slf.get().core.candidates.len();
        (0..count).map(|i| _shape_candidate(slf, i)).collect()
    }

    /// What replicate readings suggest, with the tests that it rests on. None without replicates.
    #[getter]
    fn suggested_noise(slf: &Bound<'_, Self>) -> PyResult<Option<NoiseSuggestion>> {
        let py = slf.py();
        let Some(core) = slf.get().core.noise.clone() else { return Ok(None) };
        let recall = Recall::new(py, "_suggested_noise").with(py, "choice", slf)?;
        Ok(Some(NoiseSuggestion::of(core, recall)))
    }

    /// Level of significance of each test.
    #[getter]
    fn alpha(&self) -> f64 {
        self.core.alpha
    }

    /// What was noticed, in order.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings.clone())
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __eq__<'py>(slf: &Bound<'py, Self>, other: &Bound<'py, PyAny>) -> PyResult<bool> {
        crate::package::same(slf, other)
    }

    fn __repr__(&self) -> String {
        let shape = self.shape().unwrap_or("no shape");
        format!("<ShapeChoice {shape} of {} candidates>", self.core.candidates.len())
    }
}

/// A limit of the caller's own in place of the usual one.
fn own<T: Copy>(usual: Ruled<T>, given: Option<T>) -> Ruled<T> {
    given.map_or(usual, |own| (own, Citation::laboratory()))
}

/// A limit of the caller's own, or else the usual one.
fn own_or<T>(usual: Option<Ruled<T>>, given: Option<T>) -> Option<Ruled<T>> {
    given.map(|own| (own, Citation::laboratory())).or(usual)
}

/// What a profile, or the criteria of a method, asks of a calibration.
fn limits(given: &Bound<'_, PyAny>) -> PyResult<CalibrationLimits> {
    if let Ok(method) = given.cast::<Method>() {
        return Ok(method.get().0.criteria.calibration());
    }
    let Ok(name) = given.extract::<PyBackedStr>() else {
        return Err(wrong_type("profile", given, "the name of a profile, or a Method"));
    };
    let profile = ProfileName::from_name(&name).or_raise(given.py())?;
    Ok(Criteria::profile(profile).calibration())
}

/// Rank the shapes and noise models that a set of standards supports. The simplest that no test rejects is taken.
///
/// Readings are averaged by level first: readings of one standard are no independent witnesses of a shape.
/// `calibrate` with the shape that was taken fits the readings themselves.
///
/// Args:
///     concentration, absorbance: as for `calibrate`.
///     shapes: what to choose from.
///     noises: what to choose from, the one preferred most first; equal scatter when not given.
///     alpha: level of significance of each test; 0.01 as in ISO 8466-1.
///     may_drop: how many levels may come off the low end and off the top. An interior level never goes.
///     least_for_line, least_for_curve: least number of levels above zero; 3, and 6 by SW-846 8000D, when not given.
///     percent_error, percent_error_lowest: largest percent error of a level, and of the lowest; 30 and 50 by SW-846
///         8000D when not given.
///     relative_standard_error: largest RSE in percent; not asked for when not given.
///     correlation: smallest r of an unweighted line with free intercept.
///     determination: smallest r squared of the others.
///     profile: criteria to obey, by name or those of a Method: sw846_7000b admits a line alone, of three levels and
///         r >= 0.995. A figure given beside it goes before that of the profile.
///     points, zero, zeroing, zero_u, unit, resolution, stock, x_uncertainty: as for `calibrate`.
///
/// Raises:
///     ArgumentError: figures or words that cannot be understood.
///
/// Source:
///     ISO 8466-1 (linearity, from memory); SW-846 Method 8000D, 11.5.
///
/// Example:
///     >>> import groundstate as gs
///     >>> levels = [0, 0.2, 0.5, 1, 1.5, 2, 3]
///     >>> signals = [0.0003, 0.0431, 0.1056, 0.2051, 0.2980, 0.3823, 0.5291]
///     >>> gs.choose_shape(levels, signals).shape
///     'quadratic'
#[pyfunction]
#[pyo3(signature = (concentration, absorbance, *, shapes=None, noises=None, alpha=0.01, may_drop=(0, 0),
    least_for_line=None, least_for_curve=None, percent_error=None, percent_error_lowest=None,
    relative_standard_error=None, correlation=None, determination=None, profile=None, points="readings", zero=None,
    zeroing="raw", zero_u=None, unit="mg/L", resolution=None, stock=None, x_uncertainty=None))]
#[pyo3(text_signature = "(concentration, absorbance, *, shapes=('line', 'quadratic'), noises=None, alpha=0.01, \
    may_drop=(0, 0), least_for_line=None, least_for_curve=None, percent_error=None, percent_error_lowest=None, \
    relative_standard_error=None, correlation=None, determination=None, profile=None, points='readings', zero=None, \
    zeroing='raw', zero_u=None, unit='mg/L', resolution=None, stock=None, x_uncertainty=None)")]
#[allow(clippy::too_many_arguments)] // a keyword each
fn choose_shape(
    py: Python<'_>,
    concentration: &Bound<'_, PyAny>,
    absorbance: &Bound<'_, PyAny>,
    shapes: Option<Vec<PyBackedStr>>,
    noises: Option<Vec<Bound<'_, PyAny>>>,
    alpha: f64,
    may_drop: (usize, usize),
    least_for_line: Option<usize>,
    least_for_curve: Option<usize>,
    percent_error: Option<f64>,
    percent_error_lowest: Option<f64>,
    relative_standard_error: Option<f64>,
    correlation: Option<f64>,
    determination: Option<f64>,
    profile: Option<&Bound<'_, PyAny>>,
    points: &str,
    zero: Option<&Bound<'_, PyAny>>,
    zeroing: &str,
    zero_u: Option<f64>,
    unit: &str,
    resolution: Option<f64>,
    stock: Option<&Bound<'_, PyAny>>,
    x_uncertainty: Option<&Bound<'_, PyAny>>,
) -> PyResult<ShapeChoice> {
    let concentration = Numbers::of("concentration", concentration)?;
    let absorbance = Numbers::of("absorbance", absorbance)?;
    let levels = concentration.flat("concentration", py)?;
    let layout = Layout { levels, signals: absorbance.as_slice()?, width: absorbance.width() };
    let (fitted, _) = point_kind(points).and_then(|kind| points_of(kind, &layout, &absorbance)).or_raise(py)?;
    let usual = match profile {
        Some(given) => limits(given)?.choice(ChoiceRules::default()),
        None => ChoiceRules::default(),
    };
    let (low, top) = may_drop;
    let stocks = stock_choice(stock)?;
    let own_stocks = PyTuple::new(py, stocks.iter().cloned().map(Stock))?;
    let (standards_error, shared) = x_uncertainty::choice(x_uncertainty, &layout, &fitted)?;
    let rules = ChoiceRules {
        shapes: match &shapes {
            None => usual.shapes,
            Some(names) => names.iter().map(|name| Shape::parse(name)).collect::<Result<_, Error>>().or_raise(py)?,
        },
        noises: match &noises {
            None => usual.noises,
            Some(given) => given.iter().map(|one| noise(one, &layout, &fitted)).collect::<PyResult<_>>()?,
        },
        alpha,
        least_for_line: own(usual.least_for_line, least_for_line),
        least_for_curve: own(usual.least_for_curve, least_for_curve),
        line_only: usual.line_only,
        percent_error: own_or(usual.percent_error, percent_error),
        percent_error_lowest: own_or(usual.percent_error_lowest, percent_error_lowest),
        relative_standard_error: own_or(usual.relative_standard_error, relative_standard_error),
        correlation: own_or(usual.correlation, correlation),
        determination: own_or(usual.determination, determination),
        ends: if (low, top) == (0, 0) { Ends::Keep } else { Ends::MayDrop { low, top } },
        fit: FitOptions {
            zero: zero_choice(zero)?,
            zeroing: zeroing_choice(zeroing, zero_u).or_raise(py)?,
            unit: Unit::parse(unit).or_raise(py)?,
            stocks: stocks.into_iter().chain(shared).collect(),
            standards_error,
            resolution,
            ..FitOptions::default()
        },
    };
    let core = py.detach(|| choose(&fitted, &rules)).or_raise(py)?;
    let recall = Recall::new(py, "choose_shape")
        .with_numbers(py, "concentration", &concentration)?
        .with_numbers(py, "absorbance", &absorbance)?
        .with_some(py, "shapes", shapes.map(|_| rules.shapes.iter().map(|shape| shape.name()).collect::<Vec<_>>()))?
        .with_some(py, "noises", noises.map(|given| PyTuple::new(py, given)).transpose()?)?
        .with(py, "alpha", alpha)?
        .with(py, "may_drop", may_drop)?
        .with_some(py, "least_for_line", least_for_line)?
        .with_some(py, "least_for_curve", least_for_curve)?
        .with_some(py, "percent_error", percent_error)?
        .with_some(py, "percent_error_lowest", percent_error_lowest)?
        .with_some(py, "relative_standard_error", relative_standard_error)?
        .with_some(py, "correlation", correlation)?
        .with_some(py, "determination", determination)?
        .with_some(py, "profile", profile)?
        .with(py, "points", points)?
        .with_some(py, "zero", zero)?
        .with(py, "zeroing", zeroing)?
        .with_some(py, "zero_u", zero_u)?
        .with(py, "unit", unit)?
        .with_some(py, "resolution", resolution)?
        .with(py, "stock", own_stocks)?;
    let recall = match x_uncertainty {
        Some(given) if !given.is_instance_of::<XUncertainty>() => {
            recall.with_numbers(py, "x_uncertainty", &Numbers::of("x_uncertainty", given)?)?
        }
        given => recall.with_some(py, "x_uncertainty", given)?,
    };
    Ok(ShapeChoice { core, recall })
}

/// Adds the classes and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<ShapeTest>()?;
    module.add_class::<ShapeCandidate>()?;
    module.add_class::<ShapeChoice>()?;
    module.add_function(wrap_pyfunction!(_shape_candidate, module)?)?;
    module.add_function(wrap_pyfunction!(_suggested_noise, module)?)?;
    module.add_function(wrap_pyfunction!(choose_shape, module)?)
}
