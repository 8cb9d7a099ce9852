//! Coverage intervals.

use std::sync::Arc;

use groundstate::Error;
use groundstate::error::{Kind, Place, Problem};
use groundstate::estimate::{Coverage, Dof, End, IntervalMethod, IntervalSet, Intervals as Core};
use groundstate::rounding::{Rounding, Rule};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::{read_only, words};
use crate::error::{OrRaise, raised};
use crate::estimates::{index, iterate};
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
    /// The sets.
    pub core: Core,
    /// What kind of table their numbers came in, and which rows of it they are; all where None.
    pub came_as: Option<Arc<Py<PyAny>>>,
    /// Those rows.
    pub rows: Option<Arc<[usize]>>,
}

#[pymethods]
impl Intervals {
    /// Lower ends, shape (n,); see `Interval`.
    #[getter]
    fn lo<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.sets.iter().map(|set| set.ends().0).collect()).into_any()
    }

    /// Upper ends, shape (n,); see `Interval`.
    #[getter]
    fn hi<'py>(&self, py: Python<'py>) -> Bound<'py, PyAny> {
        read_only(py, self.core.sets.iter().map(|set| set.ends().1).collect()).into_any()
    }

    /// Kinds, shape (n,); see `Interval`.
    #[getter]
    fn kind<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let code = |set: &IntervalSet| KINDS.iter().position(|name| *name == set.name()).unwrap_or_default() as u8;
        words(py, &KINDS, self.core.sets.iter().map(code).collect())
    }

    /// Why each ends where it does, shape (n, 2); see `Interval`.
    #[getter]
    fn ends<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let code = |end: &End| ENDS.iter().position(|known| known == end).unwrap_or_default() as u8;
        let flat = words(py, &ENDS.map(end_name), self.core.ends.iter().flatten().map(code).collect())?;
        flat.call_method1("reshape", (self.core.ends.len(), 2))
    }

    /// Coverage probability.
    #[getter]
    fn coverage(&self) -> f64 {
        self.core.coverage.get()
    }

    /// How they were made.
    #[getter]
    fn method(&self) -> &'static str {
        method_name(self.core.method)
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
        self.core == other.core
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, PackedAll)> {
        let each: Vec<Interval> = (0..self.core.sets.len()).map(|i| self.at(i)).collect();
        let rows = self.rows.as_deref().map(<[usize]>::to_vec);
        let origin = self.came_as.as_ref().map(|origin| origin.clone_ref(py));
        let function = py.import("groundstate._core")?.getattr("_intervals")?;
        Ok((function, (each, self.coverage(), self.method(), origin, rows)))
    }

    fn __len__(&self) -> usize {
        self.core.sets.len()
    }

    fn __getitem__(&self, at: isize) -> PyResult<Interval> {
        let i = index(at, self.core.sets.len())?;
        Ok(self.at(i))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        iterate(py, (0..self.core.sets.len()).map(|i| self.at(i)).collect())
    }

    fn __repr__(&self) -> String {
        format!("<Intervals of {}, coverage {}, {}>", self.core.sets.len(), self.coverage(), self.method())
    }
}

impl Intervals {
    /// Intervals of numbers that came in no table.
    pub fn bare(core: Core) -> Self {
        Intervals { core, came_as: None, rows: None }
    }

    fn table<'py>(&self, whole: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = whole.py();
        let origin = self.came_as.as_ref().map(|origin| origin.clone_ref(py));
        let rows = self.rows.as_deref().map(<[usize]>::to_vec);
        package::call(py, "_table", "intervals_table", (whole, origin, rows))
    }

    /// The interval with this index, which must exist.
    pub fn at(&self, i: usize) -> Interval {
        Interval {
            set: self.core.sets[i],
            ends: self.core.ends[i],
            coverage: self.core.coverage,
            method: self.core.method,
        }
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
    Ok(Intervals { core, came_as: origin.map(Arc::new), rows: rows.map(Arc::from) })
}

/// Adds the classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_function(wrap_pyfunction!(_coverage_factors, module)?)?;
    module.add_class::<Interval>()?;
    module.add_class::<Intervals>()?;
    module.add_function(wrap_pyfunction!(_interval, module)?)?;
    module.add_function(wrap_pyfunction!(_intervals, module)?)
}
