//! What estimates refuse: bare comparison and arithmetic, which would drop uncertainty and correlation in silence.

use pyo3::basic::CompareOp;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::{PyClass, PyClassInitializer};

/// What Estimate and Estimates have in common: they are no bare numbers.
///
/// Comparison, arithmetic and conversion to a bare array raise TypeError, because they would drop uncertainty and
/// correlation in silence.
#[pyclass(frozen, subclass, module = "groundstate")]
pub struct Uncertain;

impl Uncertain {
    /// A child of this class.
    pub fn with<T: PyClass<BaseType = Uncertain>>(child: T) -> PyClassInitializer<T> {
        PyClassInitializer::from(Uncertain).add_subclass(child)
    }
}

type Refused = PyResult<Py<PyAny>>;

fn refused<T>(what: &str) -> PyResult<T> {
    Err(PyTypeError::new_err(format!(
        "{what} of estimates would lose their uncertainty and correlation; compare with is_close or same_as, \
         or take numbers from .value"
    )))
}

#[pymethods]
impl Uncertain {
    /// NumPy asks here before it takes an operand apart.
    #[classattr]
    #[allow(non_upper_case_globals)] // NumPy's name
    const __array_ufunc__: Option<u8> = None;

    #[pyo3(signature = (_dtype=None, _copy=None))]
    fn __array__(&self, _dtype: Option<&Bound<'_, PyAny>>, _copy: Option<bool>) -> Refused {
        refused("a bare array")
    }

    fn __richcmp__(&self, _other: &Bound<'_, PyAny>, _op: CompareOp) -> PyResult<bool> {
        refused("a comparison")
    }

    fn __add__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a sum")
    }

    fn __radd__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a sum")
    }

    fn __sub__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a difference")
    }

    fn __rsub__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a difference")
    }

    fn __mul__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a product")
    }

    fn __rmul__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a product")
    }

    fn __truediv__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a quotient")
    }

    fn __rtruediv__(&self, _other: &Bound<'_, PyAny>) -> Refused {
        refused("a quotient")
    }

    fn __copy__(slf: Py<Self>) -> Py<Self> {
        slf
    }

    fn __deepcopy__(slf: Py<Self>, _memo: &Bound<'_, PyAny>) -> Py<Self> {
        slf
    }
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Uncertain>()
}
