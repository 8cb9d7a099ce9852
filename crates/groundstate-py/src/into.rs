//! Concentrations straight into arrays of the caller.

use std::num::NonZeroUsize;
use std::ops::Range;
use std::thread::available_parallelism;

use groundstate::Error;
use groundstate::curve::ConcentrationsOut;
use groundstate::error::{Kind, Place, Problem};
use groundstate::estimate::{Column, Coverage};
use numpy::{
    Element, PyArrayDescrMethods, PyArrayDyn, PyArrayMethods, PyReadwriteArrayDyn, PyUntypedArray,
    PyUntypedArrayMethods,
};
use pyo3::prelude::*;

use crate::arrays::Numbers;
use crate::calibration::Calibration;
use crate::error::{OrRaise, raised, wrong_type};

/// Below this number of rows a thread costs more than it saves.
const WORTH_A_THREAD: usize = 1 << 16;

/// As many threads as the caller wants, or as serve `rows` rows.
pub fn threads(py: Python<'_>, wanted: Option<usize>, rows: usize) -> PyResult<NonZeroUsize> {
    match wanted {
        Some(wanted) => NonZeroUsize::new(wanted)
            .ok_or_else(|| raised(py, Error::argument("threads", "0 threads do no work").help("give 1 or more"))),
        None if rows < WORTH_A_THREAD => Ok(NonZeroUsize::MIN),
        None => Ok(available_parallelism().unwrap_or(NonZeroUsize::MIN)),
    }
}

/// The coverage probability given, 95 % where there is none.
pub fn coverage_of(py: Python<'_>, given: Option<&Bound<'_, PyAny>>) -> PyResult<Coverage> {
    match given {
        None => Ok(Coverage::P95),
        Some(given) => Coverage::new(Numbers::one("coverage", given)?).or_raise(py),
    }
}

/// One array to be filled.
struct Target<'a, 'py> {
    name: &'static str,
    array: &'a Bound<'py, PyAny>,
}

/// The bytes of memory that an array without gaps takes.
fn memory(array: &Bound<'_, PyUntypedArray>) -> Range<usize> {
    let from = array.as_any().getattr("ctypes").and_then(|c| c.getattr("data")?.extract::<usize>()).unwrap_or(0);
    from..from + array.len() * array.dtype().itemsize()
}

fn shared(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
}

impl<'py> Target<'_, 'py> {
    fn wrong(&self, what: &str, help: &str) -> PyErr {
        raised(self.array.py(), Error::new(Kind::Argument, Problem::new(Place::named(self.name), what).help(help)))
    }

    /// The array, if it can be written element by element; `taken` is the memory of arrays named before.
    fn writable<T: Element>(
        &self,
        kind: &str,
        shape: &[usize],
        taken: &mut Vec<(&'static str, Range<usize>)>,
    ) -> PyResult<PyReadwriteArrayDyn<'py, T>> {
        let Ok(untyped) = self.array.cast::<PyUntypedArray>() else {
            return Err(wrong_type(self.name, self.array, "a NumPy array"));
        };
        let Ok(array) = self.array.cast::<PyArrayDyn<T>>() else {
            return Err(self
                .wrong(&format!("an array of {} cannot be filled", untyped.dtype()), &format!("give one of {kind}")));
        };
        if array.shape() != shape {
            let what = format!("an array of shape {:?} for readings of shape {shape:?}", array.shape());
            return Err(self.wrong(&what, "give one of the shape of absorbance"));
        }
        if !array.is_c_contiguous() {
            return Err(
                self.wrong("the array has gaps or is not in C order", "give a C-contiguous one, as numpy.empty makes")
            );
        }
        let here = memory(untyped);
        if let Some((other, _)) = taken.iter().find(|(_, memory)| shared(memory, &here)) {
            return Err(self.wrong(&format!("it shares memory with {other}"), "give every figure an array of its own"));
        }
        taken.push((self.name, here));
        array.try_readwrite().map_err(|error| match error {
            numpy::BorrowError::NotWriteable => self.wrong("the array is read-only", "give one that may be written"),
            _ => self.wrong("the array is in use by another call", "give every call arrays of its own"),
        })
    }
}

/// The arrays to be filled, as they were given.
#[derive(Default)]
pub struct Given<'a, 'py> {
    pub value: Option<&'a Bound<'py, PyAny>>,
    pub u: Option<&'a Bound<'py, PyAny>>,
    pub lo: Option<&'a Bound<'py, PyAny>>,
    pub hi: Option<&'a Bound<'py, PyAny>>,
    pub status: Option<&'a Bound<'py, PyAny>>,
}

impl<'py> Given<'_, 'py> {
    /// Fills them with the concentrations of `absorbance`.
    pub fn fill(
        self,
        calibration: &Calibration,
        absorbance: &Bound<'py, PyAny>,
        coverage: Option<&Bound<'py, PyAny>>,
        replicates: &Column<u32>,
        threads: Option<usize>,
    ) -> PyResult<()> {
        let py = absorbance.py();
        let coverage = coverage_of(py, coverage)?;
        let signals = Numbers::of("absorbance", absorbance)?;
        let shape = &signals.shape[..];
        let mut taken = Vec::new();
        if let Ok(array) = absorbance.cast::<PyUntypedArray>() {
            taken.push(("absorbance", memory(array)));
        }
        let mut figures = |name, array: Option<&Bound<'py, PyAny>>| {
            array.map(|array| Target { name, array }.writable::<f64>("float64", shape, &mut taken)).transpose()
        };
        let (mut value, mut u) = (figures("value", self.value)?, figures("u", self.u)?);
        let (mut lo, mut hi) = (figures("lo", self.lo)?, figures("hi", self.hi)?);
        let status = self.status.map(|array| Target { name: "status", array });
        let mut status = status.map(|target| target.writable::<u8>("uint8", shape, &mut taken)).transpose()?;
        let signals = signals.as_slice()?;
        let threads = self::threads(py, threads, signals.len())?;
        let out = ConcentrationsOut {
            value: value.as_mut().map(|to| to.as_slice_mut()).transpose()?,
            u: u.as_mut().map(|to| to.as_slice_mut()).transpose()?,
            lo: lo.as_mut().map(|to| to.as_slice_mut()).transpose()?,
            hi: hi.as_mut().map(|to| to.as_slice_mut()).transpose()?,
            status: status.as_mut().map(|to| to.as_slice_mut()).transpose()?,
        };
        let core = calibration.core();
        py.detach(|| core.concentration_into(signals, replicates, coverage, threads, out)).or_raise(py)
    }
}
