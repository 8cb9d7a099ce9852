//! Estimates with their uncertainty.

use std::sync::{Arc, OnceLock};

use groundstate::Error;
use groundstate::curve::{Concentrations, ConcentrationsOut};
use groundstate::error::{Kind, Place, Problem};
use groundstate::estimate::{Coverage, Estimate as Row, Estimates as Core, IntervalMethod, Intervals as Sets, Status};
use groundstate::finding::Finding;
use groundstate::unit::Unit;
use numpy::Element;
use pyo3::exceptions::PyIndexError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PySlice, PyTuple};

use crate::archive;
use crate::arrays::{Kept, filled, read_only, square, words};
use crate::budget::{BudgetLine, Contributions};
use crate::calibration::beside;
use crate::error::{OrRaise, wrong_type};
use crate::finding::findings;
use crate::interval::{Interval, Intervals, method};
use crate::into::{coverage_of, threads};
use crate::package;
use crate::uncertain::Uncertain;

/// Where estimates come from.
pub enum Origin {
    /// A calibration curve: contributions are worked out when they are asked for.
    Curve(Arc<Concentrations>),
    /// Anything else: the estimates, what was noticed, and how to make them again (a function and its arguments).
    Rows(Arc<Core>, Vec<Finding>, Py<PyTuple>),
}

/// A whole set of estimates, shared by its slices and single rows.
pub struct Whole {
    origin: Origin,
    rows: OnceLock<Result<Arc<Core>, Error>>,
}

impl Whole {
    fn len(&self) -> usize {
        match &self.origin {
            Origin::Curve(curve) => curve.len(),
            Origin::Rows(rows, ..) => rows.len(),
        }
    }

    fn get(&self, i: usize) -> Option<Row> {
        match &self.origin {
            Origin::Curve(curve) => curve.get(i),
            Origin::Rows(rows, ..) => rows.get(i),
        }
    }

    fn unit(&self) -> Unit {
        match &self.origin {
            Origin::Curve(curve) => curve.calibration().unit(),
            Origin::Rows(rows, ..) => rows.unit(),
        }
    }

    fn findings(&self) -> Vec<Finding> {
        match &self.origin {
            Origin::Curve(curve) => curve.findings(),
            Origin::Rows(_, findings, _) => findings.clone(),
        }
    }

    /// The estimates with their contributions, worked out once.
    fn with_contributions(&self) -> Result<Arc<Core>, Error> {
        match &self.origin {
            Origin::Rows(rows, ..) => Ok(Arc::clone(rows)),
            Origin::Curve(curve) => self.rows.get_or_init(|| curve.estimates().map(Arc::new)).clone(),
        }
    }

    /// Coverage intervals.
    ///
    /// # Errors
    /// A method that these estimates have none by.
    pub fn interval(&self, coverage: Coverage, method: IntervalMethod) -> Result<Sets, Error> {
        match (&self.origin, method) {
            (Origin::Curve(curve), method) => Ok(curve.interval(coverage, method)),
            (Origin::Rows(rows, ..), IntervalMethod::Delta) => Ok(rows.interval(coverage)),
            (Origin::Rows(..), IntervalMethod::Inversion) => {
                let what = "only concentrations read from a curve have an interval by test inversion";
                let problem = Problem::new(Place::named("method"), what).help("use \"delta\"");
                Err(Error::new(Kind::NotAvailable, problem))
            }
        }
    }
}

/// Has the curve fill the arrays, on as many threads as the rows are worth.
pub fn fill(py: Python<'_>, curve: &Concentrations, coverage: Coverage, out: ConcentrationsOut<'_>) -> PyResult<()> {
    let threads = threads(py, None, curve.len())?;
    py.detach(|| curve.fill(coverage, threads, out)).or_raise(py)
}

/// Place of `index`, which may count from the end, in a sequence of `len`.
pub fn index(index: isize, len: usize) -> PyResult<usize> {
    let place = if index < 0 { len.checked_add_signed(index) } else { usize::try_from(index).ok() };
    place.filter(|place| *place < len).ok_or_else(|| PyIndexError::new_err("index out of range"))
}

/// An iterator over `items`.
pub fn iterate<'py, T: IntoPyObject<'py>>(py: Python<'py>, items: Vec<T>) -> PyResult<Bound<'py, PyAny>> {
    Ok(PyList::new(py, items)?.as_any().try_iter()?.into_any())
}

/// Estimates in one unit, with the sources of uncertainty that they share. A sequence of Estimate.
#[pyclass(frozen, extends = Uncertain, module = "groundstate")]
pub struct Estimates {
    whole: Arc<Whole>,
    /// The rows of the whole that these are; `None`: all of them, in order.
    chosen: Option<Arc<[usize]>>,
    /// What kind of table the numbers came in, for the way back; of all rows of the whole.
    came_as: Option<Arc<Py<PyAny>>>,
    arrays: [Kept; 5],
}

impl Estimates {
    /// All estimates of `origin`.
    pub fn new(origin: Origin) -> Self {
        Estimates::of(Arc::new(Whole { origin, rows: OnceLock::new() }), None, None)
    }

    fn of(whole: Arc<Whole>, chosen: Option<Arc<[usize]>>, came_as: Option<Arc<Py<PyAny>>>) -> Self {
        Estimates { whole, chosen, came_as, arrays: [const { Kept::new() }; 5] }
    }

    /// The same estimates, which came in as `origin`.
    pub fn came_as(self, origin: Option<Py<PyAny>>) -> Self {
        Estimates { came_as: origin.map(Arc::new), ..self }
    }

    /// What they came in as, of all rows of the whole.
    pub fn origin_of_numbers(&self, py: Python<'_>) -> Option<Py<PyAny>> {
        self.came_as.as_ref().map(|origin| origin.clone_ref(py))
    }

    /// What these rows came in as.
    pub fn origin_of_rows(&self, py: Python<'_>) -> PyResult<Option<Py<PyAny>>> {
        let origin = self.origin_of_numbers(py);
        match (origin, &self.chosen) {
            (Some(origin), Some(rows)) => {
                package::call(py, "_frames", "rows_of", (origin, rows.to_vec())).map(|taken| Some(taken.unbind()))
            }
            (origin, _) => Ok(origin),
        }
    }

    /// The Python object.
    pub fn into_python(self, py: Python<'_>) -> PyResult<Bound<'_, PyAny>> {
        Ok(Bound::new(py, Uncertain::with(self))?.into_any())
    }

    /// What was noticed of them as a whole.
    pub fn noticed(&self) -> Vec<Finding> {
        self.whole.findings()
    }

    /// All rows of the whole.
    pub fn uncut(&self) -> Self {
        Estimates::of(Arc::clone(&self.whole), None, self.came_as.clone())
    }

    /// Where they come from, and which rows of that they are.
    pub fn origin(&self) -> (&Origin, Option<&[usize]>) {
        (&self.whole.origin, self.chosen.as_deref())
    }

    /// The rows with these indices, each of which must exist.
    pub fn chosen(self, rows: Option<Vec<usize>>) -> Self {
        Estimates::of(self.whole, rows.map(Arc::from), self.came_as)
    }

    /// Number of estimates.
    pub fn len(&self) -> usize {
        self.count()
    }

    fn count(&self) -> usize {
        self.chosen.as_ref().map_or_else(|| self.whole.len(), |chosen| chosen.len())
    }

    fn row(&self, i: usize) -> usize {
        self.chosen.as_ref().map_or(i, |chosen| chosen[i])
    }

    fn rows(&self) -> impl ExactSizeIterator<Item = Row> + '_ {
        // Every row chosen is one of the whole.
        (0..self.count()).map(|i| self.whole.get(self.row(i)).unwrap_or(NOTHING))
    }

    /// The curve that all of these, in order, were read from.
    fn curve(&self) -> Option<&Arc<Concentrations>> {
        match (&self.whole.origin, &self.chosen) {
            (Origin::Curve(curve), None) => Some(curve),
            _ => None,
        }
    }

    /// A figure of each row as an array: filled by the curve where there is one, otherwise row by row.
    fn column<'py, T: Element>(
        &self,
        py: Python<'py>,
        wanted: for<'a> fn(&'a mut [T]) -> ConcentrationsOut<'a>,
        of: fn(Row) -> T,
    ) -> PyResult<Bound<'py, PyAny>> {
        let [column] = filled(py, self.count(), |[to]: [&mut [T]; 1]| match self.curve() {
            Some(curve) => fill(py, curve, Coverage::P95, wanted(to)),
            None => {
                to.iter_mut().zip(self.rows()).for_each(|(to, row)| *to = of(row));
                Ok(())
            }
        })?;
        Ok(column)
    }

    fn pick<T: Copy>(&self, all: &[T]) -> Vec<T> {
        match &self.chosen {
            None => all.to_vec(),
            Some(chosen) => chosen.iter().map(|row| all[*row]).collect(),
        }
    }

    /// The estimates of the core with their contributions.
    pub fn core(&self, py: Python<'_>) -> PyResult<Arc<Core>> {
        let all = py.detach(|| self.whole.with_contributions()).or_raise(py)?;
        Ok(match &self.chosen {
            None => all,
            Some(chosen) => all.select(chosen).map_or(all, Arc::new),
        })
    }

    fn sets(&self, py: Python<'_>, coverage: Coverage, method: IntervalMethod) -> PyResult<Sets> {
        let all = py.detach(|| self.whole.interval(coverage, method)).or_raise(py)?;
        Ok(match &self.chosen {
            None => all,
            Some(_) => Sets { sets: self.pick(&all.sets), ends: self.pick(&all.ends), ..all },
        })
    }

    fn same_rows(&self, other: &Estimates, same: impl Fn(f64, f64) -> bool) -> bool {
        let alike = |a: Row, b: Row| {
            let numbers = [(a.value, b.value), (a.u, b.u), (a.dof.get(), b.dof.get())];
            a.status == b.status && numbers.into_iter().all(|(a, b)| (a.is_nan() && b.is_nan()) || same(a, b))
        };
        self.whole.unit() == other.whole.unit()
            && self.count() == other.count()
            && self.rows().zip(other.rows()).all(|(a, b)| alike(a, b))
    }
}

const NOTHING: Row =
    Row { value: f64::NAN, u: f64::NAN, dof: groundstate::estimate::Dof::NONE, status: Status::NoReading };

fn comparable<'a>(given: &'a Bound<'_, PyAny>) -> PyResult<std::borrow::Cow<'a, Estimates>>
where
    Estimates: Clone,
{
    if let Ok(estimates) = given.cast::<Estimates>() {
        return Ok(std::borrow::Cow::Borrowed(estimates.get()));
    }
    match given.cast::<Estimate>() {
        Ok(estimate) => Ok(std::borrow::Cow::Owned(estimate.get().0.clone())),
        Err(_) => Err(wrong_type("other", given, "an Estimate or Estimates")),
    }
}

impl Clone for Estimates {
    fn clone(&self) -> Self {
        Estimates::of(Arc::clone(&self.whole), self.chosen.clone(), self.came_as.clone())
    }
}

fn close(rtol: f64) -> impl Fn(f64, f64) -> bool {
    move |a, b| (a.is_infinite() && a.total_cmp(&b).is_eq()) || (a - b).abs() <= rtol * a.abs().max(b.abs())
}

/// Numbers and None for the unnamed: an absent figure is not NaN outside of arrays.
fn present(number: f64) -> Option<f64> {
    (!number.is_nan()).then_some(number)
}

#[pymethods]
impl Estimates {
    /// Values in `unit`, shape (n,); NaN exactly where the status has no value.
    #[getter]
    fn value<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.arrays[0].get(py, || {
            self.column(py, |to| ConcentrationsOut { value: Some(to), ..ConcentrationsOut::default() }, |row| row.value)
        })
    }

    /// Standard uncertainties in `unit`, shape (n,); NaN where there is no value or no degree of freedom.
    #[getter]
    fn u<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.arrays[1].get(py, || {
            self.column(py, |to| ConcentrationsOut { u: Some(to), ..ConcentrationsOut::default() }, |row| row.u)
        })
    }

    /// Effective degrees of freedom, shape (n,); infinite where u is known.
    #[getter]
    fn dof<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.arrays[2].get(py, || Ok(read_only(py, self.rows().map(|row| row.dof.get()).collect()).into_any()))
    }

    /// Statuses in words, shape (n,); see `Estimate.status`.
    #[getter]
    fn status<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let codes = || self.rows().map(|row| row.status as u8).collect();
        self.arrays[3].get(py, || words(py, &Status::ALL.map(Status::name), codes()))
    }

    /// Statuses as numbers, shape (n,).
    #[getter]
    fn status_code<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        self.arrays[4].get(py, || {
            self.column(
                py,
                |to| ConcentrationsOut { status: Some(to), ..ConcentrationsOut::default() },
                |row| row.status as u8,
            )
        })
    }

    /// Unit of values and standard uncertainties.
    #[getter]
    fn unit(&self) -> &'static str {
        self.whole.unit().name()
    }

    /// What was noticed of the readings as a whole.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.whole.findings())
    }

    /// The contributions of independent sources that all uncertainty follows from; worked out when asked for.
    #[getter]
    fn contributions(&self, py: Python<'_>) -> PyResult<Contributions> {
        Ok(Contributions { core: self.core(py)?, of: self.clone().into_python(py)?.unbind() })
    }

    /// Coverage intervals.
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    ///     method: "delta", value plus and minus t times u; or "inversion", all values that a test at this coverage
    ///         does not reject (Fieller's set for the line), which may be a half-line, everything but a gap, or every
    ///         value.
    ///
    /// Raises:
    ///     ArgumentError: a coverage out of range.
    ///     NotAvailableError: inversion of anything but concentrations read from a curve.
    ///
    /// Source:
    ///     JCGM 100:2008, 6.2 and G.3; Fieller, J. R. Stat. Soc. B 16 (1954) 175.
    #[pyo3(signature = (coverage=None, method="delta"), text_signature = "($self, coverage=0.95, method='delta')")]
    fn interval(&self, py: Python<'_>, coverage: Option<&Bound<'_, PyAny>>, method: &str) -> PyResult<Intervals> {
        let (coverage, method) = (coverage_of(py, coverage)?, self::method(method).or_raise(py)?);
        let intervals = match self.curve() {
            Some(curve) if method == IntervalMethod::Delta => Intervals::of_curve(Arc::clone(curve), coverage),
            _ => Intervals::bare(self.sets(py, coverage, method)?),
        };
        Ok(intervals.came_as(self.came_as.clone(), self.chosen.clone()))
    }

    /// Covariance matrix through shared sources, shape (n, n), in the unit squared.
    ///
    /// Raises:
    ///     LimitError: above 4000 x 4000.
    ///
    /// Source:
    ///     JCGM 100:2008, 5.2.2 and F.1.2.3.
    fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let core = self.core(py)?;
        let matrix = py.detach(|| core.contributions().covariance_matrix()).or_raise(py)?;
        square(py, matrix.size(), matrix.as_slice().to_vec())
    }

    /// The uncertainty budget of one estimate, largest share first; a calibration's coefficients are one line.
    ///
    /// Args:
    ///     i: place of the estimate; negative ones count from the end.
    ///
    /// Raises:
    ///     IndexError: there is no such estimate.
    fn budget(&self, py: Python<'_>, i: isize) -> PyResult<Vec<BudgetLine>> {
        let row = self.row(index(i, self.count())?);
        let all = py.detach(|| self.whole.with_contributions()).or_raise(py)?;
        Ok(all.contributions().budget(row).into_iter().map(BudgetLine::from).collect())
    }

    /// Whether statuses and unit are the same and numbers agree within the relative tolerance.
    ///
    /// Args:
    ///     other: what it is compared with.
    ///     rtol: relative tolerance of value, u and degrees of freedom.
    #[pyo3(signature = (other, *, rtol=1e-9))]
    fn is_close(&self, other: &Bound<'_, PyAny>, rtol: f64) -> PyResult<bool> {
        Ok(self.same_rows(&*comparable(other)?, close(rtol)))
    }

    /// Whether statuses and unit are the same and numbers agree to the last bit.
    ///
    /// Args:
    ///     other: what it is compared with.
    fn same_as(&self, other: &Bound<'_, PyAny>) -> PyResult<bool> {
        Ok(self.same_rows(&*comparable(other)?, |a, b| a.to_bits() == b.to_bits()))
    }

    /// Plain lists and words; None where a figure is absent.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let dict = PyDict::new(py);
        dict.set_item("unit", self.unit())?;
        let column = |of: fn(Row) -> f64| self.rows().map(|row| present(of(row))).collect::<Vec<_>>();
        dict.set_item("value", column(|row| row.value))?;
        dict.set_item("standard_uncertainty", column(|row| row.u))?;
        dict.set_item("dof", column(|row| row.dof.get()))?;
        dict.set_item("status", self.rows().map(|row| row.status.name()).collect::<Vec<_>>())?;
        Ok(dict)
    }

    /// A table of value, standard_uncertainty, degrees_of_freedom, status and unit.
    ///
    /// Args:
    ///     kind: "pandas", "polars", "arrow" or "table"; that which the numbers came in when not given, with the index
    ///         of pandas, and a `Table` where they came as arrays or lists.
    ///
    /// Raises:
    ///     MissingExtraError: the library of that kind is not installed.
    #[pyo3(signature = (kind=None))]
    fn to_frame<'py>(&self, py: Python<'py>, kind: Option<&str>) -> PyResult<Bound<'py, PyAny>> {
        self.table(py)?.call_method1("to_frame", (kind,))
    }

    /// The table as an Arrow stream.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        self.table(py)?.call_method1("__arrow_c_stream__", (requested_schema,))
    }

    /// Correlated numbers of the package uncertainties, one an estimate. Degrees of freedom are lost.
    ///
    /// Args:
    ///     sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
    ///         numbers of different results are correlated as they are here.
    ///
    /// Raises:
    ///     MissingExtraError: the package uncertainties is not installed.
    #[pyo3(signature = (sources=None))]
    fn to_uncertainties<'py>(
        slf: &Bound<'py, Self>,
        sources: Option<Bound<'py, PyDict>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        package::call(slf.py(), "_correlated", "estimates", (slf, sources))
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "estimates", slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let bare = Estimates { came_as: None, ..self.clone() };
        match self.origin_of_numbers(py) {
            None => archive::estimates(&bare, py),
            Some(origin) => {
                let arguments = (bare.into_python(py)?, origin);
                (archive::function(py, "_came_as")?, arguments).into_pyobject(py)
            }
        }
    }

    fn __len__(&self) -> usize {
        self.count()
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let each = (0..self.count()).map(|i| self.one(i).into_python(py));
        iterate(py, each.collect::<PyResult<Vec<_>>>()?)
    }

    fn __getitem__<'py>(&self, at: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = at.py();
        if let Ok(slice) = at.cast::<PySlice>() {
            let range = slice.indices(self.count() as isize)?;
            let rows = (0..range.slicelength).map(|k| self.row((range.start + k as isize * range.step) as usize));
            let part = Estimates::of(Arc::clone(&self.whole), Some(rows.collect()), self.came_as.clone());
            return part.into_python(py);
        }
        let i = index(at.extract()?, self.count())?;
        self.one(i).into_python(py)
    }

    fn __repr__(&self) -> String {
        const SHOWN: usize = 3;
        let mut rows: Vec<String> = self.rows().take(SHOWN).map(shown).collect();
        if self.count() > SHOWN {
            rows.push("...".to_owned());
        }
        format!("<Estimates of {} in {}: {}>", self.count(), self.unit(), rows.join(", "))
    }
}

impl Estimates {
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let of = self.clone().into_python(py)?;
        let rows = self.chosen.as_deref().map(<[usize]>::to_vec);
        package::call(py, "_table", "estimates_table", (of, self.origin_of_numbers(py), rows))
    }

    fn one(&self, i: usize) -> Estimate {
        Estimate(Estimates::of(Arc::clone(&self.whole), Some(Arc::new([self.row(i)])), self.came_as.clone()))
    }
}

/// Value with its standard uncertainty, or the status where there is none.
fn shown(row: Row) -> String {
    match row.status {
        Status::InRange => beside(row.value, row.u),
        status if status.has_value() => format!("{} ({})", beside(row.value, row.u), status.words()),
        status => status.words().to_owned(),
    }
}

/// One estimate: value, standard uncertainty, degrees of freedom, status.
#[pyclass(frozen, extends = Uncertain, module = "groundstate")]
pub struct Estimate(Estimates);

impl Estimate {
    /// The same as estimates of one row.
    pub fn alone(&self) -> Estimates {
        self.0.clone()
    }

    /// The first of estimates that hold at least one.
    pub fn first(estimates: &Estimates) -> Self {
        estimates.one(0)
    }

    /// The Python object.
    pub fn into_python(self, py: Python<'_>) -> PyResult<Bound<'_, PyAny>> {
        Ok(Bound::new(py, Uncertain::with(self))?.into_any())
    }

    fn row(&self) -> Row {
        self.0.rows().next().unwrap_or(NOTHING)
    }
}

#[pymethods]
impl Estimate {
    /// Value in `unit`; NaN exactly where the status has no value.
    #[getter]
    fn value(&self) -> f64 {
        self.row().value
    }

    /// Standard uncertainty in `unit`; NaN where there is no value or no degree of freedom.
    #[getter]
    fn u(&self) -> f64 {
        self.row().u
    }

    /// Effective degrees of freedom; infinite where u is known.
    #[getter]
    fn dof(&self) -> f64 {
        self.row().dof.get()
    }

    /// One of in_range, below_lowest, above_top, beyond_curve, negative, no_reading, not_calibrated, saturated.
    #[getter]
    fn status(&self) -> &'static str {
        self.row().status.name()
    }

    /// Place of the status in that list.
    #[getter]
    fn status_code(&self) -> u8 {
        self.row().status as u8
    }

    /// Unit of value and standard uncertainty.
    #[getter]
    fn unit(&self) -> &'static str {
        self.0.unit()
    }

    /// What was noticed of the readings that it was estimated with.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.0.findings(py)
    }

    /// The contributions of independent sources, one row.
    #[getter]
    fn contributions(&self, py: Python<'_>) -> PyResult<Contributions> {
        let of = Estimate(self.0.clone()).into_python(py)?.unbind();
        Ok(Contributions { core: self.0.core(py)?, of })
    }

    /// Coverage interval; see `Estimates.interval`.
    ///
    /// Args:
    ///     coverage: coverage probability, above 0 and below 1.
    ///     method: "delta" or "inversion".
    #[pyo3(signature = (coverage=None, method="delta"), text_signature = "($self, coverage=0.95, method='delta')")]
    fn interval(&self, py: Python<'_>, coverage: Option<&Bound<'_, PyAny>>, method: &str) -> PyResult<Interval> {
        let (coverage, method) = (coverage_of(py, coverage)?, self::method(method).or_raise(py)?);
        Ok(Intervals::bare(self.0.sets(py, coverage, method)?).at(0))
    }

    /// The uncertainty budget, largest share first; a calibration's coefficients are one line.
    fn budget(&self, py: Python<'_>) -> PyResult<Vec<BudgetLine>> {
        self.0.budget(py, 0)
    }

    /// Whether status and unit are the same and numbers agree within the relative tolerance.
    ///
    /// Args:
    ///     other: what it is compared with.
    ///     rtol: relative tolerance of value, u and degrees of freedom.
    #[pyo3(signature = (other, *, rtol=1e-9))]
    fn is_close(&self, other: &Bound<'_, PyAny>, rtol: f64) -> PyResult<bool> {
        self.0.is_close(other, rtol)
    }

    /// Whether status and unit are the same and numbers agree to the last bit.
    ///
    /// Args:
    ///     other: what it is compared with.
    fn same_as(&self, other: &Bound<'_, PyAny>) -> PyResult<bool> {
        self.0.same_as(other)
    }

    /// Plain figures and words; None where a figure is absent.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let row = self.row();
        let dict = PyDict::new(py);
        dict.set_item("unit", self.unit())?;
        dict.set_item("value", present(row.value))?;
        dict.set_item("standard_uncertainty", present(row.u))?;
        dict.set_item("dof", row.dof.get())?;
        dict.set_item("status", row.status.name())?;
        Ok(dict)
    }

    /// The number of the package uncertainties. Degrees of freedom are lost.
    ///
    /// Args:
    ///     sources: a dictionary that is filled with the independent sources; give the same one to several calls, and
    ///         numbers of different results are correlated as they are here.
    ///
    /// Raises:
    ///     MissingExtraError: the package uncertainties is not installed.
    #[pyo3(signature = (sources=None))]
    fn to_uncertainties<'py>(
        slf: &Bound<'py, Self>,
        sources: Option<Bound<'py, PyDict>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        package::call(slf.py(), "_correlated", "estimate", (slf, sources))
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "estimate", slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let of = self.0.clone().into_python(py)?;
        (py.import("operator")?.getattr("getitem")?, (of, 0)).into_pyobject(py)
    }

    fn __repr__(&self) -> String {
        let row = self.row();
        let unit = if row.status.has_value() { format!(" {}", self.unit()) } else { String::new() };
        let value = if row.status.has_value() { beside(row.value, row.u) } else { row.status.words().to_owned() };
        let status = match row.status {
            Status::InRange => String::new(),
            status if status.has_value() => format!(", {}", status.words()),
            _ => String::new(),
        };
        format!("<Estimate {value}{unit}{status}>")
    }
}

/// The estimates with what they came in as; what a pickle calls.
#[pyfunction]
fn _came_as<'py>(estimates: &Bound<'py, Estimates>, origin: Py<PyAny>) -> PyResult<Bound<'py, PyAny>> {
    estimates.get().clone().came_as(Some(origin)).into_python(estimates.py())
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Estimates>()?;
    module.add_class::<Estimate>()?;
    module.add_function(wrap_pyfunction!(_came_as, module)?)
}
