//! gs.calibrate: from Python's arguments to points and options.

use groundstate::Error;
use groundstate::curve::{FitOptions, Noise, OnBadCurve, PointKind, Points, Shape, Stock as CoreStock, Zero, Zeroing};
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::{PySequence, PyString};

use crate::archive::convention;
use crate::arrays::Numbers;
use crate::calibration::Calibration;
use crate::error::{OrRaise, raised, wrong_type};
use crate::noise::Layout;
use crate::x_uncertainty;

/// The stock solution that all standards were made from.
///
/// Its relative error reaches every result undiminished. The same name is the same solution, in this calibration and in
/// any other.
///
/// Args:
///     name: name of the solution.
///     relative_u: relative standard uncertainty of its concentration.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Stock(pub CoreStock);

#[pymethods]
impl Stock {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    fn new(name: &str, relative_u: &Bound<'_, PyAny>) -> PyResult<Self> {
        let given = relative_u;
        let relative_u = Numbers::one("relative_u", given)?;
        if name.trim().is_empty() {
            let error = Error::argument("name", "a stock without a name cannot be known again");
            let help = "name it, or give XUncertainty(shared=...) for a stock that only one calibration knows";
            return Err(raised(given.py(), error.help(help)));
        }
        Ok(Stock(CoreStock { name: name.into(), relative_u }))
    }

    /// Name of the solution.
    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }

    /// Relative standard uncertainty of its concentration.
    #[getter]
    fn relative_u(&self) -> f64 {
        self.0.relative_u
    }

    fn __getnewargs__(&self) -> (String, f64) {
        (self.0.name.to_string(), self.0.relative_u)
    }

    fn __repr__(&self) -> String {
        format!("Stock({:?}, {})", &*self.0.name, self.0.relative_u)
    }
}

/// Fit a calibration function to standards, exactly to the last digit or two.
///
/// Args:
///     concentration: concentrations in `unit`, shape (readings,) or (levels,).
///     absorbance: signals, shape (readings,); or (levels, replicates), NaN where a reading is missing.
///     shape: a closed list; a third-order curve is not offered.
///     noise: what is assumed of the scatter, a word or KnownSigma, RelativeSigma, FromReplicates.
///     points: fit one point a reading, or one a poured standard (the mean of its readings). A 1-D absorbance then
///         has the readings of one concentration taken as those of one standard.
///     zero: None fits the zero level as a point (an error where the noise model has no weight for it), "leave_out"
///         leaves it out, a concentration is the floor of weights 1/x and 1/x^2.
///     zeroing: how the signals were zeroed.
///     zero_u: standard uncertainty of that zero, in units of the signal.
///     unit: unit of the concentrations.
///     resolution: smallest step of the signal, in units of the signal.
///     stock: the stock solution, or solutions, that all standards share.
///     x_uncertainty: errors of the concentrations beside the stock's: an XUncertainty; or standard uncertainties,
///         independent, one figure or one a standard; or a covariance matrix, shape (standards, standards).
///     convention: which covariance of the coefficients a fit with such errors reports.
///     allow: "flagged" gives a curve that does not rise, or turns in its range, with a finding instead of an error.
///
/// Returns:
///     The calibration, with covariance, diagnostics and findings.
///
/// Raises:
///     ArgumentError: figures or words that cannot be understood, or too few levels for the shape.
///     UnitError: an unknown unit.
///     CalibrationError: the curve does not rise or turns inside its range, and `allow` does not admit it.
///
/// Source:
///     Least squares by JCGM 100:2008, H.3; the pages on shapes and noise name the rest.
///
/// Example:
///     >>> import groundstate as gs
///     >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
///     >>> cal
///     <Calibration line, noise equal, 5 readings, 0.5 to 3 mg/L: y = (0.00124 ± 0.00063) + (0.20991 ± 0.00037) x>
#[pyfunction]
#[pyo3(signature = (concentration, absorbance, *, shape="line", noise=None, points="readings", zero=None,
    zeroing="raw", zero_u=None, unit="mg/L", resolution=None, stock=None, x_uncertainty=None,
    convention="expected_information", allow=None))]
#[pyo3(text_signature = "(concentration, absorbance, *, shape='line', noise='equal', points='readings', zero=None, \
    zeroing='raw', zero_u=None, unit='mg/L', resolution=None, stock=None, x_uncertainty=None, \
    convention='expected_information', allow=None)")]
#[allow(clippy::too_many_arguments)] // a keyword each
fn calibrate(
    py: Python<'_>,
    concentration: &Bound<'_, PyAny>,
    absorbance: &Bound<'_, PyAny>,
    shape: &str,
    noise: Option<&Bound<'_, PyAny>>,
    points: &str,
    zero: Option<&Bound<'_, PyAny>>,
    zeroing: &str,
    zero_u: Option<&Bound<'_, PyAny>>,
    unit: &str,
    resolution: Option<&Bound<'_, PyAny>>,
    stock: Option<&Bound<'_, PyAny>>,
    x_uncertainty: Option<&Bound<'_, PyAny>>,
    convention: &str,
    allow: Option<&str>,
) -> PyResult<Calibration> {
    let concentration = Numbers::of("concentration", concentration)?;
    let absorbance = Numbers::of("absorbance", absorbance)?;
    let layout = Layout {
        levels: concentration.flat("concentration", py)?,
        signals: absorbance.as_slice()?,
        width: absorbance.width(),
    };
    let kind = point_kind(points).or_raise(py)?;
    let (points, missing) = points_of(kind, &layout, &absorbance).or_raise(py)?;
    let (standards_error, shared) = x_uncertainty::choice(x_uncertainty, &layout, &points)?;
    let mut stocks = stock_choice(stock)?;
    stocks.extend(shared);
    let options = FitOptions {
        shape: Shape::parse(shape).or_raise(py)?,
        noise: match noise {
            Some(given) => crate::noise::noise(given, &layout, &points)?,
            None => Noise::Equal,
        },
        zero: zero_choice(zero)?,
        zeroing: zeroing_choice(zeroing, Numbers::one_or_none("zero_u", zero_u)?).or_raise(py)?,
        unit: Unit::parse(unit).or_raise(py)?,
        stocks,
        standards_error,
        convention: self::convention(convention).or_raise(py)?,
        resolution: Numbers::one_or_none("resolution", resolution)?,
        on_bad_curve: allow_choice(allow).or_raise(py)?,
    };
    Calibration::fit(py, points, options, missing, Vec::new())
}

/// The kind of points called `name`.
pub fn point_kind(name: &str) -> Result<PointKind, Error> {
    match name {
        "readings" => Ok(PointKind::Readings),
        "standards" => Ok(PointKind::Standards),
        _ => {
            let error = Error::argument("points", format!("there is no choice {name:?}"));
            Err(error.help("it is \"readings\", one point a reading, or \"standards\", one point a poured standard"))
        }
    }
}

/// The points, and how many readings are missing.
pub fn points_of(kind: PointKind, layout: &Layout<'_>, absorbance: &Numbers<'_>) -> Result<(Points, usize), Error> {
    let (levels, signals) = (layout.levels, layout.signals);
    match (&absorbance.shape[..], kind) {
        ([rows, _], _) if *rows != levels.len() => {
            let what = format!("{rows} rows of readings for {} concentrations", levels.len());
            Err(Error::argument("absorbance", what).help("a row holds the readings of one level"))
        }
        ([_, _], kind) => {
            let missing = signals.iter().filter(|signal| signal.is_nan()).count();
            Ok((Points::from_rows(kind, levels, signals)?, missing))
        }
        (_, PointKind::Readings) => Ok((Points::from_readings(levels, signals)?, 0)),
        (_, PointKind::Standards) => Ok((Points::standards_by_level(levels, signals)?, 0)),
    }
}

/// What becomes of the zero level.
pub fn zero_choice(given: Option<&Bound<'_, PyAny>>) -> PyResult<Zero> {
    let Some(given) = given else { return Ok(Zero::Include) };
    match given.extract::<&str>() {
        Ok("leave_out") => Ok(Zero::LeaveOut),
        Ok(word) => {
            let error = Error::argument("zero", format!("there is no choice {word:?}"));
            let help =
                "it is None to fit the zero level, \"leave_out\", or a concentration that is the floor of weights";
            Err(raised(given.py(), error.help(help)))
        }
        Err(_) => Ok(Zero::Floor(Numbers::one("zero", given)?)),
    }
}

/// The zeroing called `name` with its standard uncertainty.
pub fn zeroing_choice(name: &str, u: Option<f64>) -> Result<Zeroing, Error> {
    let of: fn(f64) -> Zeroing = match name {
        "raw" if u.is_none() => return Ok(Zeroing::Raw),
        "raw" => return Err(Error::argument("zero_u", "raw signals have no zero that could be uncertain")),
        "blank_subtracted" => Zeroing::BlankSubtracted,
        "autozeroed" => Zeroing::Autozeroed,
        _ => {
            let error = Error::argument("zeroing", format!("there is no choice {name:?}"));
            return Err(error.help("it is \"raw\", \"blank_subtracted\" or \"autozeroed\""));
        }
    };
    u.map(of).ok_or_else(|| {
        Error::argument("zero_u", format!("{name} signals need the standard uncertainty of their zero"))
            .help("give it in units of the signal, 0 if it is negligible")
    })
}

/// One stock solution or several.
pub fn stock_choice(given: Option<&Bound<'_, PyAny>>) -> PyResult<Vec<CoreStock>> {
    let Some(given) = given else { return Ok(Vec::new()) };
    let stock = |item: &Bound<'_, PyAny>| match item.cast::<Stock>() {
        Ok(stock) => Ok(stock.get().0.clone()),
        Err(_) => Err(wrong_type("stock", item, "a Stock(name, relative_u) or a sequence of them")),
    };
    match given.cast::<PySequence>() {
        Ok(several) if !given.is_instance_of::<PyString>() => several.try_iter()?.map(|item| stock(&item?)).collect(),
        _ => Ok(vec![stock(given)?]),
    }
}

pub fn allow_choice(given: Option<&str>) -> Result<OnBadCurve, Error> {
    match given {
        None => Ok(OnBadCurve::Refuse),
        Some("flagged") => Ok(OnBadCurve::Flag),
        Some(word) => Err(Error::argument("allow", format!("there is no choice {word:?}"))
            .help("it is None, or \"flagged\" to get a curve that cannot serve with a finding")),
    }
}

/// Adds the function and the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Stock>()?;
    module.add_function(wrap_pyfunction!(calibrate, module)?)
}
