//! Plain dictionaries of calibrations, and pickles. What is kept is the input: a fit of the same input is the same
//! fit to the last bit.

use std::sync::Arc;

use groundstate::Error;
use groundstate::curve::{
    CovarianceConvention, FitOptions, Noise, OnBadCurve, Points, Readings, ReplicateModel, Shape, Sigmas,
    StandardsError, Stock, Zero, Zeroing,
};
use groundstate::estimate::{Column, Dof};
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::arrays::read_only;
use crate::calibrate::{point_kind, zeroing_choice};
use crate::calibration::Calibration;
use crate::error::{OrRaise, raised};
use crate::estimates::{Estimates, Origin};

/// A function of the compiled module, for `__reduce__` to name.
pub fn function<'py>(py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
    py.import("groundstate._core")?.getattr(name)
}

/// What a calibration was fitted to and how.
pub fn input<'py>(calibration: &Calibration, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
    let (points, options, missing, excluded) = calibration.input();
    let dict = PyDict::new(py);
    let table = PyDict::new(py);
    table.set_item("kind", points.kind().name())?;
    table.set_item("concentration", points.concentrations())?;
    table.set_item("absorbance", points.signals())?;
    table.set_item("readings", points.readings())?;
    table.set_item("within", points.within())?;
    dict.set_item("points", table)?;
    dict.set_item("shape", options.shape.name())?;
    dict.set_item("noise", options.noise.name())?;
    dict.set_item(
        "sigma",
        match &options.noise {
            Noise::KnownSigma(sigmas) | Noise::RelativeSigma(sigmas) => Some(sigmas.as_slice()),
            _ => None,
        },
    )?;
    dict.set_item(
        "at_least",
        match options.noise {
            Noise::FromReplicates(ReplicateModel::PerLevel { at_least }) => Some(at_least),
            _ => None,
        },
    )?;
    match options.zero {
        Zero::Include => dict.set_item("zero", py.None())?,
        Zero::LeaveOut => dict.set_item("zero", "leave_out")?,
        Zero::Floor(floor) => dict.set_item("zero", floor)?,
    }
    let (zeroing, u) = match options.zeroing {
        Zeroing::Raw => ("raw", None),
        Zeroing::BlankSubtracted(u) => ("blank_subtracted", Some(u)),
        Zeroing::Autozeroed(u) => ("autozeroed", Some(u)),
    };
    dict.set_item("zeroing", zeroing)?;
    dict.set_item("zero_u", u)?;
    dict.set_item("unit", options.unit.name())?;
    dict.set_item("resolution", options.resolution)?;
    let stocks: Vec<(String, f64)> =
        options.stocks.iter().map(|stock| (stock.name.to_string(), stock.relative_u)).collect();
    dict.set_item("stock", stocks)?;
    dict.set_item(
        "x_u",
        match &options.standards_error {
            StandardsError::Independent(u) => Some(u.as_slice()),
            _ => None,
        },
    )?;
    dict.set_item(
        "x_covariance",
        match &options.standards_error {
            StandardsError::Covariance(matrix) => {
                Some(matrix.as_slice().chunks(matrix.size().max(1)).map(<[f64]>::to_vec).collect::<Vec<_>>())
            }
            _ => None,
        },
    )?;
    dict.set_item("convention", options.convention.name())?;
    dict.set_item("allow", (options.on_bad_curve == OnBadCurve::Flag).then_some("flagged"))?;
    dict.set_item("missing", missing)?;
    dict.set_item("excluded", excluded)?;
    Ok(dict)
}

/// Input and figures of a calibration.
pub fn calibration<'py>(calibration: &Calibration, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
    let core = calibration.core();
    let dict = input(calibration, py)?;
    let present = |number: &f64| (!number.is_nan()).then_some(*number);
    let list = |numbers: &[f64]| numbers.iter().map(present).collect::<Vec<_>>();
    dict.set_item("id", core.id().to_string())?;
    dict.set_item("coefficients", list(&core.coefficients()))?;
    dict.set_item("standard_errors", list(&core.standard_errors()))?;
    let covariance = core.covariance();
    dict.set_item("covariance", covariance.as_slice().chunks(covariance.size().max(1)).map(list).collect::<Vec<_>>())?;
    let dof = core.scale().dof;
    if dof.is_infinite() { dict.set_item("dof", "infinite") } else { dict.set_item("dof", dof.get()) }?;
    dict.set_item("residual_dof", core.residual_dof())?;
    dict.set_item("residual_sd", core.residual_sd())?;
    dict.set_item("chi_squared", core.chi_squared())?;
    dict.set_item("r_squared", core.r_squared().map(|squared| squared.value()))?;
    dict.set_item("r_squared_kind", core.r_squared().map(|squared| squared.kind()))?;
    dict.set_item("percent_error", list(&core.percent_error()))?;
    dict.set_item("rse", core.relative_standard_error())?;
    dict.set_item("residuals", list(&core.residuals()))?;
    dict.set_item("lowest", core.lowest())?;
    dict.set_item("top", core.top())?;
    dict.set_item("turning_point", core.turning_point())?;
    dict.set_item("ceiling", core.ceiling())?;
    let findings: Vec<String> = calibration.noticed().iter().map(ToString::to_string).collect();
    dict.set_item("findings", findings)?;
    Ok(dict)
}

/// The calibration that `input` describes.
#[pyfunction]
fn _calibration_from_dict(input: &Bound<'_, PyDict>) -> PyResult<Calibration> {
    let py = input.py();
    let table = input.as_any().get_item("points")?;
    let kind: String = table.get_item("kind")?.extract()?;
    let points = Points::from_parts(
        point_kind(&kind).or_raise(py)?,
        table.get_item("concentration")?.extract()?,
        table.get_item("absorbance")?.extract()?,
        table.get_item("readings")?.extract()?,
        table.get_item("within")?.extract()?,
    )
    .or_raise(py)?;
    let get = |name: &str| input.as_any().get_item(name);
    let word = |name: &str| get(name)?.extract::<String>();
    let zero = get("zero")?;
    let stocks: Vec<(String, f64)> = get("stock")?.extract()?;
    let options = FitOptions {
        shape: Shape::parse(&word("shape")?).or_raise(py)?,
        noise: noise_of(&word("noise")?, get("sigma")?.extract()?, get("at_least")?.extract()?).or_raise(py)?,
        zero: match zero.extract::<f64>() {
            Ok(floor) => Zero::Floor(floor),
            Err(_) if zero.is_none() => Zero::Include,
            Err(_) => Zero::LeaveOut,
        },
        zeroing: zeroing_choice(&word("zeroing")?, get("zero_u")?.extract()?).or_raise(py)?,
        unit: Unit::parse(&word("unit")?).or_raise(py)?,
        stocks: stocks.into_iter().map(|(name, relative_u)| Stock { name: name.into(), relative_u }).collect(),
        standards_error: standards_error(get("x_u")?.extract()?, get("x_covariance")?.extract()?).or_raise(py)?,
        convention: convention(&word("convention")?).or_raise(py)?,
        resolution: get("resolution")?.extract()?,
        on_bad_curve: if get("allow")?.is_none() { OnBadCurve::Refuse } else { OnBadCurve::Flag },
    };
    Calibration::fit(py, points, options, get("missing")?.extract()?, get("excluded")?.extract()?)
}

/// The errors of the standards: independent ones, or a covariance matrix.
pub fn standards_error(u: Option<Vec<f64>>, covariance: Option<Vec<Vec<f64>>>) -> Result<StandardsError, Error> {
    match (u, covariance) {
        (_, Some(rows)) => StandardsError::covariance(&rows),
        (Some(u), None) => StandardsError::independent(&u),
        (None, None) => Ok(StandardsError::Negligible),
    }
}

/// The covariance convention called `name`.
pub fn convention(name: &str) -> Result<CovarianceConvention, Error> {
    CovarianceConvention::ALL.into_iter().find(|known| known.name() == name).ok_or_else(|| {
        let names = CovarianceConvention::ALL.map(CovarianceConvention::name);
        Error::argument("convention", format!("there is no convention {name:?}"))
            .help(format!("it is one of {}", names.join(", ")))
    })
}

fn noise_of(name: &str, sigma: Option<Vec<f64>>, at_least: Option<u32>) -> Result<Noise, Error> {
    match (name, sigma, at_least) {
        ("known_sigma", Some(sigma), _) => Sigmas::new(&sigma).map(Noise::KnownSigma),
        ("relative_sigma", Some(sigma), _) => Sigmas::new(&sigma).map(Noise::RelativeSigma),
        (_, _, Some(at_least)) => Ok(Noise::FromReplicates(ReplicateModel::PerLevel { at_least })),
        _ => Noise::parse(name),
    }
}

/// What pickle needs to make `estimates` again.
pub fn estimates<'py>(estimates: &Estimates, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
    let (origin, chosen) = estimates.origin();
    match origin {
        Origin::Curve(curve) => {
            let readings = curve.readings();
            let calibration = Bound::new(py, Calibration::of(Arc::clone(curve.calibration())))?;
            let signal = read_only(py, readings.signals().to_vec());
            let counts = column(py, readings.counts(), |count| f64::from(*count))?;
            let given = match readings.given_u() {
                None => py.None().into_bound(py),
                Some((u, dof)) => {
                    (column(py, u, |u| *u)?, column(py, dof, |dof| dof.get())?).into_pyobject(py)?.into_any()
                }
            };
            let arguments = (calibration, signal, counts, given, chosen.map(<[usize]>::to_vec));
            (function(py, "_estimates_from_curve")?, arguments).into_pyobject(py)
        }
        Origin::Rows(_, _, recipe) => match chosen {
            None => Ok(recipe.bind(py).clone()),
            Some(rows) => {
                let whole = estimates.uncut().into_python(py)?;
                (function(py, "_choose")?, (whole, rows.to_vec())).into_pyobject(py)
            }
        },
    }
}

fn column<'py, T>(py: Python<'py>, column: &Column<T>, of: fn(&T) -> f64) -> PyResult<Bound<'py, PyAny>> {
    Ok(match column {
        Column::One(value) => of(value).into_pyobject(py)?.into_any(),
        Column::Each(values) => read_only(py, values.iter().map(of).collect()).into_any(),
    })
}

fn column_of<T>(given: &Bound<'_, PyAny>, of: impl Fn(f64) -> PyResult<T>) -> PyResult<Column<T>> {
    Ok(match given.extract::<f64>() {
        Ok(value) => Column::One(of(value)?),
        Err(_) => Column::Each(given.extract::<Vec<f64>>()?.into_iter().map(of).collect::<PyResult<_>>()?),
    })
}

/// Standard uncertainties with their degrees of freedom.
type Given<'py> = (Bound<'py, PyAny>, Bound<'py, PyAny>);

/// The estimates of `signal` on `calibration`.
#[pyfunction]
fn _estimates_from_curve<'py>(
    py: Python<'py>,
    calibration: &Bound<'py, Calibration>,
    signal: Vec<f64>,
    counts: &Bound<'py, PyAny>,
    given: Option<Given<'py>>,
    chosen: Option<Vec<usize>>,
) -> PyResult<Bound<'py, PyAny>> {
    let mut readings = Readings::new(&signal).replicates(column_of(counts, |count| Ok(count as u32))?);
    if let Some((u, dof)) = given {
        readings = readings.with_u(column_of(&u, Ok)?, column_of(&dof, |dof| Dof::new(dof).or_raise(py))?);
    }
    if let Some(past) = chosen.iter().flatten().find(|row| **row >= signal.len()) {
        return Err(raised(py, Error::argument("chosen", format!("there is no row {past}"))));
    }
    let core = Arc::clone(calibration.get().core());
    let found = py.detach(|| core.concentration(&readings)).or_raise(py)?;
    Estimates::new(Origin::Curve(Arc::new(found))).chosen(chosen).into_python(py)
}

/// The rows with these indices.
#[pyfunction]
fn _choose<'py>(estimates: &Bound<'py, PyAny>, rows: Vec<usize>) -> PyResult<Bound<'py, PyAny>> {
    let py = estimates.py();
    let whole = match estimates.cast::<Estimates>() {
        Ok(estimates) => estimates.get().uncut(),
        // One estimate was made again as itself.
        Err(_) => estimates.cast::<crate::estimates::Estimate>()?.get().alone().uncut(),
    };
    if let Some(past) = rows.iter().find(|row| **row >= whole.len()) {
        return Err(raised(py, Error::argument("rows", format!("there is no row {past}"))));
    }
    whole.chosen(Some(rows)).into_python(py)
}

/// Adds the functions that pickles name.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_calibration_from_dict, module)?)?;
    module.add_function(wrap_pyfunction!(_estimates_from_curve, module)?)?;
    module.add_function(wrap_pyfunction!(_choose, module)?)
}
