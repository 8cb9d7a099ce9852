//! gs.standard_additions: calibration inside the sample itself.

use std::sync::Arc;

use groundstate::Error;
use groundstate::addition::{Aliquot, Series, SeriesOptions, Volumes};
use groundstate::curve::{Noise, Points, Zeroing};
use groundstate::estimate::{Coverage, Estimate as Row};
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::archive;
use crate::arrays::{Numbers, read_only, square};
use crate::calibrate::{point_kind, points_of, stock_choice};
use crate::calibration::{Calibration, beside};
use crate::error::{OrRaise, raised, wrong_type};
use crate::estimates::{Estimate, Estimates, Origin};
use crate::finding::findings;
use crate::interval::{Interval, method};
use crate::matrix::SlopeRatio;
use crate::measured::Measured;
use crate::noise::{Figures, Layout, aligned};
use crate::outcome::Outcome;
use crate::recall::Recall;

/// A series of standard additions, evaluated. Made by `standard_additions`.
#[pyclass(frozen, eq, module = "groundstate")]
pub struct Addition {
    core: Series,
    /// Points as they were given.
    points: Points,
    recall: Recall,
}

impl PartialEq for Addition {
    fn eq(&self, other: &Self) -> bool {
        self.points == other.points && self.core.options() == other.core.options()
    }
}

impl Addition {
    /// A series of an outcome, the one with this index.
    pub fn of_outcome(outcome: &Bound<'_, Outcome>, index: usize, core: &Series) -> PyResult<Self> {
        let py = outcome.py();
        let recall = Recall::new(py, "_outcome_addition").with(py, "outcome", outcome)?.with(py, "index", index)?;
        Ok(Addition { points: core.line().points().clone(), core: core.clone(), recall })
    }
}

/// The coverage probability, 95 % where none is given.
pub fn coverage(given: Option<&Bound<'_, PyAny>>) -> PyResult<Coverage> {
    match given {
        None => Ok(Coverage::P95),
        Some(given) => Coverage::new(Numbers::one("coverage", given)?).or_raise(given.py()),
    }
}

/// A number that is there.
fn present(number: f64) -> Option<f64> {
    (!number.is_nan()).then_some(number)
}

#[pymethods]
impl Addition {
    /// Concentration in the measured solution (in the volume before the additions, where that changes).
    ///
    /// Intercept over slope, signed. A line that does not rise gives the status not_calibrated and no value.
    #[getter]
    fn estimate<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        Estimate::first(&estimates(slf, false)?).into_python(slf.py())
    }

    /// Concentration in the sample; None without an aliquot.
    #[getter]
    fn sample<'py>(slf: &Bound<'py, Self>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let given = slf.get().core.sample_estimates().is_some();
        given.then(|| Estimate::first(&estimates(slf, true)?).into_python(slf.py())).transpose()
    }

    /// The fitted line: signals (times V/V0) against additions (over V0).
    #[getter]
    fn line(&self) -> Calibration {
        Calibration::of(Arc::clone(self.core.line()))
    }

    /// Intercept and slope.
    #[getter]
    fn coefficients<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.coefficients()).into_any()
    }

    /// Covariance of intercept and slope, from the scatter, shape (2, 2).
    #[getter]
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let matrix = self.core.covariance();
        square(py, matrix.size(), matrix.as_slice().to_vec())
    }

    /// Standard errors of intercept and slope, from the scatter.
    #[getter]
    fn standard_errors<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.line().standard_errors()).into_any()
    }

    /// Correlation coefficient; None below three different additions and where all signals are equal.
    #[getter]
    fn r(&self) -> Option<f64> {
        self.core.r()
    }

    /// Unit of the estimate.
    #[getter]
    fn unit(&self) -> &'static str {
        self.core.options().unit.name()
    }

    /// What was noticed, in order: what speaks against the series, and what no series can see.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings().to_vec())
    }

    /// Coverage interval of the estimate; "inversion" gives Fieller's set, which may be a half-line or more.
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    ///     method: "delta", value plus and minus t times u; or "inversion".
    ///
    /// Source:
    ///     Fieller, J. R. Stat. Soc. B 16 (1954) 175.
    #[pyo3(signature = (coverage=None, method="delta"), text_signature = "($self, coverage=0.95, method='delta')")]
    fn interval(&self, py: Python<'_>, coverage: Option<&Bound<'_, PyAny>>, method: &str) -> PyResult<Interval> {
        let (coverage, method) = (self::coverage(coverage)?, self::method(method).or_raise(py)?);
        Ok(Interval::of(self.core.interval(coverage, method), coverage, method))
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::html(slf.py(), "addition", slf)
    }

    /// Coverage interval of the concentration in the sample; None without an aliquot.
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    ///     method: "delta" or "inversion".
    #[pyo3(signature = (coverage=None, method="delta"), text_signature = "($self, coverage=0.95, method='delta')")]
    fn sample_interval(
        &self,
        py: Python<'_>,
        coverage: Option<&Bound<'_, PyAny>>,
        method: &str,
    ) -> PyResult<Option<Interval>> {
        let (coverage, method) = (self::coverage(coverage)?, self::method(method).or_raise(py)?);
        let set = self.core.sample_interval(coverage, method);
        Ok(set.map(|set| Interval::of(set, coverage, method)))
    }

    /// Slope of the series over that of an external calibration at zero, in common units, with a t test (Welch).
    ///
    /// An error that both share through the same stock cancels.
    ///
    /// Args:
    ///     calibration: the external calibration.
    ///
    /// Raises:
    ///     UnitError: the units do not go together.
    fn slope_ratio(slf: &Bound<'_, Self>, calibration: &Bound<'_, PyAny>) -> PyResult<SlopeRatio> {
        let py = slf.py();
        let Ok(external) = calibration.cast::<Calibration>() else {
            return Err(wrong_type("calibration", calibration, "a Calibration"));
        };
        let core = slf.get().core.slope_ratio(external.get().core()).or_raise(py)?;
        SlopeRatio::judged(core, slf, calibration)
    }

    /// Plain figures and words; None where a figure is absent.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let one = |row: Row| -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            dict.set_item("value", present(row.value))?;
            dict.set_item("standard_uncertainty", present(row.u))?;
            dict.set_item("dof", row.dof.get())?;
            dict.set_item("status", row.status.name())?;
            Ok(dict)
        };
        let (line, options) = (self.core.line(), self.core.options());
        let list = |numbers: &[f64]| numbers.iter().map(|number| present(*number)).collect::<Vec<_>>();
        let dict = PyDict::new(py);
        dict.set_item("unit", options.unit.name())?;
        dict.set_item("noise", options.noise.name())?;
        dict.set_item("points", self.points.kind().name())?;
        dict.set_item("added", self.points.concentrations())?;
        dict.set_item("absorbance", self.points.signals())?;
        dict.set_item("estimate", one(self.core.estimate())?)?;
        dict.set_item("sample", self.core.sample().map(one).transpose()?)?;
        dict.set_item("coefficients", list(&line.coefficients()))?;
        dict.set_item("standard_errors", list(&line.standard_errors()))?;
        let covariance = line.covariance();
        let rows = covariance.as_slice().chunks(covariance.size().max(1)).map(list);
        dict.set_item("covariance", rows.collect::<Vec<_>>())?;
        dict.set_item("residual_sd", line.residual_sd())?;
        dict.set_item("r", self.core.r())?;
        dict.set_item("findings", self.core.findings().iter().map(ToString::to_string).collect::<Vec<_>>())?;
        Ok(dict)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let found = self.core.estimate();
        let shown = if found.status.has_value() {
            format!("{} {}", beside(found.value, found.u), self.unit())
        } else {
            found.status.words().to_owned()
        };
        format!("<Addition {shown}, {} {}>", self.points.len(), self.points.kind().name())
    }
}

/// The estimate of the solution, or of the sample, as estimates of one row.
fn estimates(of: &Bound<'_, Addition>, sample: bool) -> PyResult<Estimates> {
    let py = of.py();
    let core = &of.get().core;
    let (rows, which) = match core.sample_estimates() {
        Some(rows) if sample => (rows, "sample"),
        _ => (core.estimates(), "solution"),
    };
    let recipe = (archive::function(py, "_addition_estimates")?, (of, which)).into_pyobject(py)?;
    Ok(Estimates::new(Origin::Rows(Arc::new(rows.clone()), core.findings().to_vec(), recipe.unbind())))
}

/// The estimates of an addition series that a pickle names: "solution" or "sample".
#[pyfunction]
fn _addition_estimates<'py>(addition: &Bound<'py, Addition>, which: &str) -> PyResult<Bound<'py, PyAny>> {
    estimates(addition, which == "sample")?.into_python(addition.py())
}

/// Evaluate a series of standard additions: a line through signals against additions, extrapolated to a signal of
/// zero.
///
/// Args:
///     added: concentrations that the additions make in the measured solution, in `unit`, shape (readings,) or
///         (portions,); 0 for the portion without. With `volumes`, amounts: concentration times volume, in their
///         units.
///     absorbance: signals, shape (readings,) or (portions, readings), NaN where a reading is missing.
///     noise: what is assumed of the scatter; "1/x" and "1/x^2" weigh by the whole concentration, found plus added.
///     points: fit one point a reading, or one a portion (the mean of its readings).
///     volumes: None where all portions have one final volume; otherwise the volume before any addition and the
///         volumes added before each point, in all, in the same unit.
///     aliquot: volume of the sample and what it was made up to, in one unit; `sample` is then given.
///     unit: unit of the additions.
///     stock: what all additions share.
///     blank_u: standard uncertainty of the blank that was subtracted from all signals, or that the instrument was
///         zeroed on, in units of the signal; None where signals are raw. Unlike on an external calibration, it does
///         not cancel.
///
/// Returns:
///     The series evaluated. A line that does not rise gives the status not_calibrated and no value.
///
/// Raises:
///     ArgumentError: figures or words that cannot be understood, or too few portions.
///     UnitError: an unknown unit.
///
/// Source:
///     SW-846 Method 7000B, 9.10.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.standard_additions([0, 0.5, 1, 1.5], [0.112, 0.214, 0.318, 0.421])
///     <Addition 0.5412 ± 0.0036 mg/L, 4 readings>
#[pyfunction]
#[pyo3(signature = (added, absorbance, *, noise=None, points="readings", volumes=None, aliquot=None, unit="mg/L",
    stock=None, blank_u=None))]
#[pyo3(text_signature = "(added, absorbance, *, noise='equal', points='readings', volumes=None, aliquot=None, \
    unit='mg/L', stock=None, blank_u=None)")]
#[allow(clippy::too_many_arguments)] // a keyword each
fn standard_additions(
    py: Python<'_>,
    added: &Bound<'_, PyAny>,
    absorbance: &Bound<'_, PyAny>,
    noise: Option<&Bound<'_, PyAny>>,
    points: &str,
    volumes: Option<&Bound<'_, PyAny>>,
    aliquot: Option<&Bound<'_, PyAny>>,
    unit: &str,
    stock: Option<&Bound<'_, PyAny>>,
    blank_u: Option<&Bound<'_, PyAny>>,
) -> PyResult<Addition> {
    let added = Numbers::of("added", added)?;
    let absorbance = Numbers::of("absorbance", absorbance)?;
    let layout =
        Layout { levels: added.flat("added", py)?, signals: absorbance.as_slice()?, width: absorbance.width() };
    let kind = point_kind(points).or_raise(py)?;
    let (fitted, _) = points_of(kind, &layout, &absorbance).or_raise(py)?;
    let stocks = stock_choice(stock)?;
    let blank_u = Numbers::one_or_none("blank_u", blank_u)?;
    let (volumes, volumes_given) = changing(volumes, &layout, &fitted)?;
    let (aliquot, aliquot_given) = portion(aliquot)?;
    let options = SeriesOptions {
        noise: match noise {
            Some(given) => crate::noise::noise(given, &layout, &fitted)?,
            None => Noise::Equal,
        },
        zeroing: blank_u.map_or(Zeroing::Raw, Zeroing::BlankSubtracted),
        volumes,
        aliquot,
        unit: Unit::parse(unit).or_raise(py)?,
        stocks,
        origin: None,
    };
    let core = py.detach(|| Series::fit(&fitted, &options)).or_raise(py)?;
    let stocks: Vec<_> = core.options().stocks.iter().cloned().map(crate::calibrate::Stock).collect();
    let recall = Recall::new(py, "standard_additions")
        .with_numbers(py, "added", &added)?
        .with_numbers(py, "absorbance", &absorbance)?
        .with_some(py, "noise", noise)?
        .with(py, "points", points)?
        .with_some(py, "volumes", volumes_given)?
        .with_some(py, "aliquot", aliquot_given)?
        .with(py, "unit", unit)?
        .with(py, "stock", PyTuple::new(py, stocks)?)?
        .with_some(py, "blank_u", blank_u)?;
    Ok(Addition { core, points: fitted, recall })
}

type Given<'py, T> = (T, Option<Bound<'py, PyTuple>>);

/// The two items of a pair.
fn pair<'py>(name: &str, given: &Bound<'py, PyAny>, what: &str) -> PyResult<[Bound<'py, PyAny>; 2]> {
    let items = given.cast::<PyTuple>().map_err(|_| wrong_type(name, given, what))?;
    match &items.iter().collect::<Vec<_>>()[..] {
        [one, two] => Ok([one.clone(), two.clone()]),
        items => Err(raised(given.py(), Error::argument(name, format!("{} items are not {what}", items.len())))),
    }
}

/// The volume before the additions, and that added before each point.
fn changing<'py>(
    given: Option<&Bound<'py, PyAny>>,
    layout: &Layout<'_>,
    points: &Points,
) -> PyResult<Given<'py, Volumes>> {
    const NAME: &str = "volumes";
    let Some(given) = given else { return Ok((Volumes::Equal, None)) };
    let py = given.py();
    let [initial, added] = pair(NAME, given, "a pair of the volume before the additions and the volumes added")?;
    let initial = Measured::of(NAME, &initial, None)?;
    let numbers = Numbers::of(NAME, &added)?;
    let copy = read_only(py, numbers.as_slice()?.to_vec()).call_method1("reshape", (numbers.shape.clone(),))?;
    let added = aligned(&Figures::of(NAME, &added)?, layout, points, NAME).or_raise(py)?;
    let core = Volumes::Changing { initial: initial.core(NAME).or_raise(py)?, added };
    Ok((core, Some((initial, copy).into_pyobject(py)?)))
}

/// How the measured solution was made from the sample.
fn portion<'py>(given: Option<&Bound<'py, PyAny>>) -> PyResult<Given<'py, Option<Aliquot>>> {
    const NAME: &str = "aliquot";
    let Some(given) = given else { return Ok((None, None)) };
    let py = given.py();
    let [sample, made_up_to] = pair(NAME, given, "a pair of the volume of sample and the volume it was made up to")?;
    let (sample, made_up_to) = (Measured::of(NAME, &sample, None)?, Measured::of(NAME, &made_up_to, None)?);
    let core = Aliquot { sample: sample.core(NAME).or_raise(py)?, made_up_to: made_up_to.core(NAME).or_raise(py)? };
    Ok((Some(core), Some((sample, made_up_to).into_pyobject(py)?)))
}

/// Adds the class and its functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Addition>()?;
    module.add_function(wrap_pyfunction!(_addition_estimates, module)?)?;
    module.add_function(wrap_pyfunction!(standard_additions, module)?)
}
