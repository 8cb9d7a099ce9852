//! Coverage intervals.

use std::sync::{Arc, OnceLock};

use groundstate::Error;
use groundstate::curve::{Concentrations, ConcentrationsOut};
use groundstate::error::{Kind, Place, Problem};
use groundstate::estimate::{Coverage, Dof, End, IntervalMethod, IntervalSet, Intervals as Core};
use groundstate::rounding::{Rounding, Rule};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::{filled, read_only, words};
use crate::error::{OrRaise, raised};
use crate::estimates::{fill, index, iterate};
use crate::package;

const KINDS: [&str; 6] = ["empty", "between", "below", "above", "outside", "whole"];

/// The method called `name`.
pub fn method(name: &str) -> Result<IntervalMethod, Error> {
    match name {
        "delta" => Ok(IntervalMethod::Delta),
        "inversion" => Ok(IntervalMethod::Inversion),
        _ => Err(Error::argument("method", format!("there is no interval method {name:?}"))
            .help("it is \"delta\" or \"inversion\"")),
    }
}

const fn method_name(method: IntervalMethod) -> &'static str {
    match method {
        IntervalMethod::Delta => "delta",
        IntervalMethod::Inversion => "inversion",
    }
}

const fn end_name(end: End) -> &'static str {
    match end {
        End::Crossed => "crossed",
        End::TurningPoint => "turning_point",
        End::Plateau => "plateau",
        End::Unbounded => "unbounded",
    }
}

const ENDS: [End; 4] = [End::Crossed, End::TurningPoint, End::Plateau, End::Unbounded];

/// The set of values that a coverage interval holds. One finite piece unpacks: `lo, hi = interval`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Interval {
    set: IntervalSet,
    ends: [End; 2],
    coverage: Coverage,
    method: IntervalMethod,
}

impl Interval {
    /// The set by `method`; it ends where the limit is crossed, or nowhere.
    pub fn of(set: IntervalSet, coverage: Coverage, method: IntervalMethod) -> Self {
        let (lo, hi) = set.ends();
        let end = |bound: f64| if bound.is_finite() { End::Crossed } else { End::Unbounded };
        Interval { set, ends: [end(lo), end(hi)], coverage, method }
    }
}

#[pymethods]
impl Interval {
    /// Lower end, minus infinity where there is none. Of "outside", the lower end of the gap; of "empty", NaN.
    #[getter]
    fn lo(&self) -> f64 {
        self.set.ends().0
    }

    /// Upper end, infinite where there is none. Of "outside", the upper end of the gap; of "empty", NaN.
    #[getter]
    fn hi(&self) -> f64 {
        self.set.ends().1
    }

    /// What the set looks like; "outside" is everything but a gap.
    #[getter]
    fn kind(&self) -> &'static str {
        self.set.name()
    }

    /// Why it ends where it does: "crossed", "turning_point", "plateau" or "unbounded".
    #[getter]
    fn ends(&self) -> (&'static str, &'static str) {
        (end_name(self.ends[0]), end_name(self.ends[1]))
    }

    /// Coverage probability.
    #[getter]
    fn coverage(&self) -> f64 {
        self.coverage.get()
    }

    /// How it was made.
    #[getter]
    fn method(&self) -> &'static str {
        method_name(self.method)
    }

    fn __contains__(&self, value: f64) -> bool {
        self.set.contains(value)
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        if self.set.is_finite() {
            let (lo, hi) = self.set.ends();
            return Ok(PyTuple::new(py, [lo, hi])?.as_any().try_iter()?.into_any());
        }
        let what = format!("the interval is not one finite piece: it holds {}", self.set);
        let problem = Problem::new(Place::named("interval"), what).help("look at kind, lo and hi");
        Err(raised(py, Error::new(Kind::NotAvailable, problem)))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Packed)> {
        let packed = (self.set.name(), self.set.ends(), self.ends(), self.coverage.get(), self.method());
        Ok((py.import("groundstate._core")?.getattr("_interval")?, packed))
    }

    /// Bounds, kind and why it ends there by name.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "interval", slf)
    }

    /// The set in words, its ends rounded for reading.
    fn __str__(&self) -> String {
        rounded(self.set).to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Interval {}, coverage {}, {}>", rounded(self.set), self.coverage.get(), self.method())
    }
}

/// The set with ends rounded for reading.
fn rounded(set: IntervalSet) -> IntervalSet {
    let to = |end: f64, width: Option<f64>| {
        let rounding = if width.is_some() { Rounding::uncertainty(2) } else { Rounding::figures(4) };
        rounding.and_then(|rounding| Rule::new(rounding).round(end, width)).map_or(end, |end| end.value())
    };
    match set {
        IntervalSet::Between { lo, hi } => {
            let width = Some(hi - lo).filter(|width| *width > 0.0);
            IntervalSet::Between { lo: to(lo, width), hi: to(hi, width) }
        }
        IntervalSet::Below { hi } => IntervalSet::Below { hi: to(hi, None) },
        IntervalSet::Above { lo } => IntervalSet::Above { lo: to(lo, None) },
        IntervalSet::Outside { below, above } => {
            IntervalSet::Outside { below: to(below, None), above: to(above, None) }
        }
        IntervalSet::Empty | IntervalSet::Whole => set,
    }
}

type PackedAll = (Vec<Interval>, f64, &'static str, Option<Py<PyAny>>, Option<Vec<usize>>);
type Packed = (&'static str, (f64, f64), (&'static str, &'static str), f64, &'static str);

/// The interval that __reduce__ packed.
#[pyfunction]
fn _interval(
    py: Python<'_>,
    kind: &str,
    bounds: (f64, f64),
    ends: (String, String),
    coverage: f64,
    method: &str,
) -> PyResult<Interval> {
    let (lo, hi) = bounds;
    let set = match kind {
        "empty" => IntervalSet::Empty,
        "outside" => IntervalSet::Outside { below: lo, above: hi },
        _ => IntervalSet::from_ends(lo, hi),
    };
    let end = |name: &str| ENDS.into_iter().find(|end| end_name(*end) == name).unwrap_or(End::Unbounded);
    let read = |error| raised(py, error);
    Ok(Interval {
        set,
        ends: [end(&ends.0), end(&ends.1)],
        coverage: Coverage::new(coverage).map_err(read)?,
        method: self::method(method).map_err(read)?,
    })
}

/// Coverage intervals, one an estimate. A sequence of Interval.
#[pyclass(frozen, module = "groundstate")]
pub struct Intervals {
    of: Of,
    bounds: OnceLock<[Py<PyAny>; 2]>,
    /// What kind of table their numbers came in, and which rows of it they are; all where None.
    came_as: Option<Arc<Py<PyAny>>>,
    /// Those rows.
    rows: Option<Arc<[usize]>>,
}

/// What the intervals are made from.
enum Of {
    Sets(Core),
    /// Delta intervals of concentrations; as sets when they are asked for.
    Curve(Arc<Concentrations>, Coverage, OnceLock<Core>),
}

#[pymethods]
impl Intervals {
    /// Lower ends, shape (n,); see `Interval`.
    #[getter]
    fn lo<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(self.bounds(py)?[0].bind(py).clone())
    }

    /// Upper ends, shape (n,); see `Interval`.
    #[getter]
    fn hi<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(self.bounds(py)?[1].bind(py).clone())
    }

    /// Kinds, shape (n,); see `Interval`.
    #[getter]
    fn kind<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let sets = self.sets();
        let code = |set: &IntervalSet| KINDS.iter().position(|name| *name == set.name()).unwrap_or_default() as u8;
        words(py, &KINDS, sets.sets.iter().map(code).collect())
    }

    /// Why each ends where it does, shape (n, 2); see `Interval`.
    #[getter]
    fn ends<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let sets = self.sets();
        let code = |end: &End| ENDS.iter().position(|known| known == end).unwrap_or_default() as u8;
        let flat = words(py, &ENDS.map(end_name), sets.ends.iter().flatten().map(code).collect())?;
        flat.call_method1("reshape", (sets.ends.len(), 2))
    }

    /// Coverage probability.
    #[getter]
    fn coverage(&self) -> f64 {
        match &self.of {
            Of::Sets(sets) => sets.coverage.get(),
            Of::Curve(_, coverage, _) => coverage.get(),
        }
    }

    /// How they were made.
    #[getter]
    fn method(&self) -> &'static str {
        match &self.of {
            Of::Sets(sets) => method_name(sets.method),
            Of::Curve(..) => method_name(IntervalMethod::Delta),
        }
    }

    /// A table of lo, hi, kind, lower_end and upper_end.
    ///
    /// Args:
    ///     kind: "pandas", "polars", "arrow" or "table"; that which the numbers came in when not given, with the index
    ///         of pandas, and a `Table` where they came as arrays or lists.
    ///
    /// Raises:
    ///     MissingExtraError: the library of that kind is not installed.
    #[pyo3(signature = (kind=None))]
    fn to_frame<'py>(slf: &Bound<'py, Self>, kind: Option<&str>) -> PyResult<Bound<'py, PyAny>> {
        slf.get().table(slf.as_any())?.call_method1("to_frame", (kind,))
    }

    /// The table as an Arrow stream.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        slf: &Bound<'py, Self>,
        requested_schema: Option<Py<PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        slf.get().table(slf.as_any())?.call_method1("__arrow_c_stream__", (requested_schema,))
    }

    /// Bounds, kinds and why they end there as plain lists.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::html(slf.py(), "intervals", slf)
    }

    fn __eq__(&self, other: &Self) -> bool {
        self.sets() == other.sets()
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, PackedAll)> {
        let each: Vec<Interval> = (0..self.len()).map(|i| self.at(i)).collect();
        let rows = self.rows.as_deref().map(<[usize]>::to_vec);
        let origin = self.came_as.as_ref().map(|origin| origin.clone_ref(py));
        let function = py.import("groundstate._core")?.getattr("_intervals")?;
        Ok((function, (each, self.coverage(), self.method(), origin, rows)))
    }

    fn __len__(&self) -> usize {
        self.len()
    }

    fn __getitem__(&self, at: isize) -> PyResult<Interval> {
        let i = index(at, self.len())?;
        Ok(self.at(i))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        iterate(py, (0..self.len()).map(|i| self.at(i)).collect())
    }

    fn __repr__(&self) -> String {
        format!("<Intervals of {}, coverage {}, {}>", self.len(), self.coverage(), self.method())
    }
}

impl Intervals {
    /// Intervals of numbers that came in no table.
    pub fn bare(sets: Core) -> Self {
        Intervals { of: Of::Sets(sets), bounds: OnceLock::new(), came_as: None, rows: None }
    }

    /// Delta intervals of concentrations.
    pub fn of_curve(curve: Arc<Concentrations>, coverage: Coverage) -> Self {
        let of = Of::Curve(curve, coverage, OnceLock::new());
        Intervals { of, bounds: OnceLock::new(), came_as: None, rows: None }
    }

    /// The same of numbers that came in a table of some kind, of which they are these rows; all where None.
    pub fn came_as(self, came_as: Option<Arc<Py<PyAny>>>, rows: Option<Arc<[usize]>>) -> Self {
        Intervals { came_as, rows, ..self }
    }

    fn table<'py>(&self, whole: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = whole.py();
        let origin = self.came_as.as_ref().map(|origin| origin.clone_ref(py));
        let rows = self.rows.as_deref().map(<[usize]>::to_vec);
        package::call(py, "_table", "intervals_table", (whole, origin, rows))
    }

    /// The interval with this index, which must exist.
    pub fn at(&self, i: usize) -> Interval {
        let sets = self.sets();
        Interval { set: sets.sets[i], ends: sets.ends[i], coverage: sets.coverage, method: sets.method }
    }

    fn sets(&self) -> &Core {
        match &self.of {
            Of::Sets(sets) => sets,
            Of::Curve(curve, coverage, sets) => sets.get_or_init(|| curve.interval(*coverage, IntervalMethod::Delta)),
        }
    }

    fn len(&self) -> usize {
        match &self.of {
            Of::Sets(sets) => sets.sets.len(),
            Of::Curve(curve, ..) => curve.len(),
        }
    }

    /// Lower and upper ends as arrays.
    fn bounds(&self, py: Python<'_>) -> PyResult<&[Py<PyAny>; 2]> {
        if let Some(bounds) = self.bounds.get() {
            return Ok(bounds);
        }
        let bounds = match &self.of {
            Of::Sets(sets) => {
                let end = |of: fn((f64, f64)) -> f64| sets.sets.iter().map(|set| of(set.ends())).collect();
                [read_only(py, end(|ends| ends.0)).into_any(), read_only(py, end(|ends| ends.1)).into_any()]
            }
            Of::Curve(curve, coverage, _) => filled(py, curve.len(), |[lo, hi]| {
                let out = ConcentrationsOut { lo: Some(lo), hi: Some(hi), ..ConcentrationsOut::default() };
                fill(py, curve, *coverage, out)
            })?,
        };
        Ok(self.bounds.get_or_init(|| bounds.map(Bound::unbind)))
    }
}

/// Two-sided coverage factors k for degrees of freedom, infinite ones included; NaN where there is none.
#[pyfunction]
fn _coverage_factors<'py>(py: Python<'py>, coverage: f64, dof: Vec<f64>) -> PyResult<Bound<'py, PyAny>> {
    let coverage = Coverage::new(coverage).or_raise(py)?;
    let factor = |dof: f64| Dof::new(dof).map_or(f64::NAN, |dof| dof.coverage_factor(coverage));
    Ok(read_only(py, dof.into_iter().map(factor).collect()).into_any())
}

/// The intervals that __reduce__ packed.
#[pyfunction]
fn _intervals(
    py: Python<'_>,
    each: Vec<PyRef<'_, Interval>>,
    coverage: f64,
    method: &str,
    origin: Option<Py<PyAny>>,
    rows: Option<Vec<usize>>,
) -> PyResult<Intervals> {
    let core = Core {
        sets: each.iter().map(|one| one.set).collect(),
        ends: each.iter().map(|one| one.ends).collect(),
        coverage: Coverage::new(coverage).map_err(|error| raised(py, error))?,
        method: self::method(method).map_err(|error| raised(py, error))?,
    };
    Ok(Intervals::bare(core).came_as(origin.map(Arc::new), rows.map(Arc::from)))
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_coverage_factors, module)?)?;
    module.add_class::<Interval>()?;
    module.add_class::<Intervals>()?;
    module.add_function(wrap_pyfunction!(_interval, module)?)?;
    module.add_function(wrap_pyfunction!(_intervals, module)?)
}
