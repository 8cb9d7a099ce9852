//! Numbers in, read-only arrays out.

use groundstate::Error;
use groundstate::estimate::Column;
use numpy::{
    Element, PyArray1, PyArray2, PyArrayDyn, PyArrayMethods, PyReadonlyArrayDyn, PyUntypedArray, PyUntypedArrayMethods,
};
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyBool, PyFloat, PyInt, PyList, PyTuple};

use crate::error::{raised, wrong_type};

/// Real numbers from Python: borrowed from a C-contiguous array of float64, converted otherwise. A missing number
/// is NaN.
pub struct Numbers<'py> {
    data: Data<'py>,
    /// Extents: none for a scalar, at most two.
    pub shape: Vec<usize>,
}

enum Data<'py> {
    One(f64),
    Own(Vec<f64>),
    Borrowed(PyReadonlyArrayDyn<'py, f64>),
}

/// The largest integer below which every integer is a float64.
const EXACT: i64 = 1 << 53;

impl<'py> Numbers<'py> {
    /// The numbers of `given`, which the caller knows as `name`.
    pub fn of(name: &str, given: &Bound<'py, PyAny>) -> PyResult<Self> {
        let quick = match scalar(given) {
            Some(number) => Some(Numbers { data: Data::One(number), shape: Vec::new() }),
            None => match Self::borrowed(given)? {
                Some(array) => Some(array),
                None => flat(given).map(|values| Numbers { shape: vec![values.len()], data: Data::Own(values) }),
            },
        };
        match quick {
            Some(numbers) => numbers.within_two_dimensions(name, given.py()),
            None => {
                let converted = convert(name, given)?;
                let array = Self::borrowed(&converted)?
                    .ok_or_else(|| PyTypeError::new_err(format!("{name}: it does not give an array of numbers")))?;
                array.within_two_dimensions(name, given.py())
            }
        }
    }

    /// The one number that `given` is.
    pub fn one(name: &str, given: &Bound<'py, PyAny>) -> PyResult<f64> {
        let numbers = Numbers::of(name, given)?;
        match numbers.as_slice()? {
            [number] if numbers.is_scalar() => Ok(*number),
            _ => Err(wrong_type(name, given, "one number")),
        }
    }

    /// The one number that `given` is, where it is given.
    pub fn one_or_none(name: &str, given: Option<&Bound<'py, PyAny>>) -> PyResult<Option<f64>> {
        given.map(|given| Numbers::one(name, given)).transpose()
    }

    fn borrowed(given: &Bound<'py, PyAny>) -> PyResult<Option<Self>> {
        // A subclass may hide elements behind a mask.
        if !given.get_type().is(given.py().get_type::<PyUntypedArray>()) {
            return Ok(None);
        }
        let Ok(array) = given.cast::<PyArrayDyn<f64>>() else { return Ok(None) };
        if !array.is_c_contiguous() {
            return Ok(None);
        }
        let shape = array.shape().to_vec();
        let array = array.try_readonly()?;
        if shape.is_empty() {
            let number = array.as_slice()?.first().copied().unwrap_or(f64::NAN);
            return Ok(Some(Numbers { data: Data::One(number), shape }));
        }
        Ok(Some(Numbers { data: Data::Borrowed(array), shape }))
    }

    fn within_two_dimensions(self, name: &str, py: Python<'_>) -> PyResult<Self> {
        if self.shape.len() > 2 {
            let what = format!("an array of {} dimensions cannot be understood, at most 2", self.shape.len());
            return Err(raised(py, Error::argument(name, what)));
        }
        Ok(self)
    }

    /// The numbers, row after row.
    pub fn as_slice(&self) -> PyResult<&[f64]> {
        Ok(match &self.data {
            Data::One(number) => std::slice::from_ref(number),
            Data::Own(numbers) => numbers,
            Data::Borrowed(array) => array.as_slice()?,
        })
    }

    /// Whether it is one number without a dimension.
    pub fn is_scalar(&self) -> bool {
        self.shape.is_empty()
    }

    /// Length of a row, where there are rows.
    pub fn width(&self) -> Option<usize> {
        self.shape.get(1).copied()
    }

    /// The numbers, which must not be a table.
    pub fn flat(&self, name: &str, py: Python<'_>) -> PyResult<&[f64]> {
        match self.width() {
            Some(_) => Err(raised(py, Error::argument(name, "a table cannot be understood, one dimension is needed"))),
            None => self.as_slice(),
        }
    }

    /// One figure for all rows, or one a row.
    pub fn column(&self, name: &str, py: Python<'_>) -> PyResult<Column<f64>> {
        let values = self.flat(name, py)?;
        Ok(match self.data {
            Data::One(number) => Column::One(number),
            _ => Column::Each(values.to_vec()),
        })
    }
}

/// A Python float or int of any subclass but bool; NumPy's float64 is a float.
fn scalar(given: &Bound<'_, PyAny>) -> Option<f64> {
    if let Ok(number) = given.cast::<PyFloat>() {
        return Some(number.value());
    }
    if given.is_instance_of::<PyBool>() {
        return None;
    }
    let number: i64 = given.cast::<PyInt>().ok()?.extract().ok()?;
    (number.unsigned_abs() <= EXACT.unsigned_abs()).then_some(number as f64)
}

/// The items of a list or tuple of plain numbers and None.
fn flat(given: &Bound<'_, PyAny>) -> Option<Vec<f64>> {
    let number = |item: Bound<'_, PyAny>| if item.is_none() { Some(f64::NAN) } else { scalar(&item) };
    if let Ok(list) = given.cast_exact::<PyList>() {
        return list.iter().map(number).collect();
    }
    given.cast_exact::<PyTuple>().ok()?.iter().map(number).collect()
}

/// Everything else: converted in Python, where the libraries that made it can be asked.
fn convert<'py>(name: &str, given: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    static AS_FLOAT64: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let py = given.py();
    AS_FLOAT64.import(py, "groundstate._arrays", "as_float64")?.call1((given, name))
}

/// A read-only array of `values`.
pub fn read_only<'py, T: Element>(py: Python<'py>, values: Vec<T>) -> Bound<'py, PyArray1<T>> {
    let array = PyArray1::from_vec(py, values);
    if let Ok(unshared) = array.try_readwrite() {
        unshared.make_nonwriteable();
    }
    array
}

/// Read-only arrays of `len` elements each that `fill` fills, every one of them: rows of one block of NumPy's memory,
/// which it does not clear first. NumPy asks for large pages within a block; what lies outside of them at its ends costs
/// more to touch than all the rest, so one block is better than several.
pub fn filled<'py, T: Element, const N: usize>(
    py: Python<'py>,
    len: usize,
    fill: impl FnOnce([&mut [T]; N]) -> PyResult<()>,
) -> PyResult<[Bound<'py, PyAny>; N]> {
    static EMPTY: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let block = EMPTY.import(py, "numpy", "empty")?.call1(((N, len), T::get_dtype(py)))?;
    let block = block.cast_into::<PyArray2<T>>()?;
    let mut unshared = block.try_readwrite()?;
    let mut rows = unshared.as_slice_mut()?.chunks_mut(len.max(1));
    fill(std::array::from_fn(|_| rows.next().unwrap_or_default()))?;
    unshared.make_nonwriteable();
    let rows = (0..N).map(|row| block.get_item(row)).collect::<PyResult<Vec<_>>>()?;
    rows.try_into().map_err(|_| PyTypeError::new_err("numpy.empty gave an array of another shape"))
}

/// A read-only square array.
pub fn square<'py>(py: Python<'py>, size: usize, values: Vec<f64>) -> PyResult<Bound<'py, PyAny>> {
    // A view of a read-only array is read-only.
    Ok(read_only(py, values).reshape([size, size])?.into_any())
}

/// A read-only array of words: `words[code]` for each code.
pub fn words<'py>(py: Python<'py>, words: &[&str], codes: Vec<u8>) -> PyResult<Bound<'py, PyAny>> {
    static ARRAY: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let all = ARRAY.import(py, "numpy", "array")?.call1((PyTuple::new(py, words)?,))?;
    let chosen = all.call_method1("take", (read_only(py, codes),))?;
    chosen.call_method1("setflags", (false,))?;
    Ok(chosen)
}

/// An array made once and handed out each time it is asked for.
pub struct Kept(PyOnceLock<Py<PyAny>>);

impl Kept {
    /// Not made yet.
    pub const fn new() -> Self {
        Kept(PyOnceLock::new())
    }

    /// The array, made by `make` the first time.
    pub fn get<'py>(
        &self,
        py: Python<'py>,
        make: impl FnOnce() -> PyResult<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        Ok(self.0.get_or_try_init(py, || make().map(Bound::unbind))?.bind(py).clone())
    }
}
