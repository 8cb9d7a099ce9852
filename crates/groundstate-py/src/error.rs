//! One exception class for each kind of error, and the map from one to the other.

use groundstate::error::{Error, Kind};
use pyo3::exceptions::{
    PyArithmeticError, PyException, PyImportError, PyKeyboardInterrupt, PySystemError, PyTypeError, PyValueError,
};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyList, PyTuple, PyType};

/// One thing wrong with the input. Unpacks to row, name, label, what, help.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Problem {
    /// Row of a table, counted from 1 below the header; None outside a table.
    row: Option<u64>,
    /// Name of the argument, column or key.
    name: Option<String>,
    /// Label of the sample, standard or run concerned.
    label: Option<String>,
    /// What is wrong.
    what: String,
    /// What to do about it, if the library can tell.
    help: Option<String>,
}

type ProblemFields = (Option<u64>, Option<String>, Option<String>, String, Option<String>);

#[pymethods]
impl Problem {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (row, name, label, what, help))]
    fn new(row: Option<u64>, name: Option<String>, label: Option<String>, what: String, help: Option<String>) -> Self {
        Problem { row, name, label, what, help }
    }

    fn __getnewargs__(&self) -> ProblemFields {
        (self.row, self.name.clone(), self.label.clone(), self.what.clone(), self.help.clone())
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(self.__getnewargs__().into_pyobject(py)?.as_any().try_iter()?.into_any())
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let fields = self.__getnewargs__().into_pyobject(py)?;
        let names = ["row", "name", "label", "what", "help"];
        let shown = names.iter().zip(fields.iter()).map(|(name, value)| Ok(format!("{name}={}", value.repr()?)));
        Ok(format!("Problem({})", shown.collect::<PyResult<Vec<_>>>()?.join(", ")))
    }
}

/// Where a class gets its second parent.
type Parent = fn(Python<'_>) -> Bound<'_, PyType>;

/// Name, second parent and description of the class for errors of `kind`; `None` for a kind without one, which
/// [`register`] refuses, so that a new kind cannot be forgotten here.
fn class_of(kind: Kind) -> Option<(&'static str, Parent, &'static str)> {
    Some(match kind {
        Kind::Argument => (
            "ArgumentError",
            value,
            "An argument whose value cannot be understood. (One of the wrong type is a TypeError.)",
        ),
        Kind::Table => ("TableError", value, "A table of readings with cells or rows that cannot be understood."),
        Kind::Method => ("MethodError", value, "A method, profile or reporting style that cannot be understood."),
        Kind::Unit => ("UnitError", value, "An unknown unit, or two units that do not go together."),
        Kind::Calibration => (
            "CalibrationError",
            |py| py.get_type::<PyArithmeticError>(),
            "A calibration that cannot serve: flat, falling, or turning inside its range.",
        ),
        Kind::NotAvailable => ("NotAvailableError", value, "A figure that this object cannot give."),
        Kind::Wire => ("WireError", value, "A serialised document that cannot be read."),
        Kind::Limit => ("LimitError", value, "A size or range limit of the library."),
        // Not a child of GroundstateError: who catches that must still be able to stop the program.
        Kind::Interrupted => return None,
        _ => return None,
    })
}

fn value(py: Python<'_>) -> Bound<'_, PyType> {
    py.get_type::<PyValueError>()
}

struct Classes {
    base: Py<PyType>,
    of_kind: Vec<(Kind, Py<PyType>)>,
    missing_extra: Py<PyType>,
}

static CLASSES: PyOnceLock<Classes> = PyOnceLock::new();

fn classes(py: Python<'_>) -> PyResult<&'static Classes> {
    let classes = CLASSES.get_or_try_init(py, || {
        let new = |name: &str, bases: &[Bound<'_, PyType>], kind: &str, doc: &str| -> PyResult<Py<PyType>> {
            let members = PyDict::new(py);
            members.set_item("__module__", "groundstate")?;
            members.set_item("__doc__", doc)?;
            members.set_item("kind", kind)?;
            if let [only] = bases
                && only.is(py.get_type::<PyException>())
            {
                members.set_item("problems", PyTuple::empty(py))?;
            }
            let class = py.get_type::<PyType>().call1((name, PyTuple::new(py, bases)?, members))?;
            Ok(class.cast_into::<PyType>()?.unbind())
        };
        let base = new(
            "GroundstateError",
            &[py.get_type::<PyException>()],
            "error",
            "Input that cannot be understood. The parent of every error of this library.\n\n\
             `kind` is a stable word for what part of the input it is about. `problems` lists everything that is \
             wrong, in\norder of the input; the message shows the first five.",
        )?;
        let child = |name: &str, parent: Bound<'_, PyType>, kind: &str, doc: &str| {
            new(name, &[base.bind(py).clone(), parent], kind, doc)
        };
        let mut of_kind = Vec::new();
        for kind in Kind::ALL.into_iter().filter(|kind| *kind != Kind::Interrupted) {
            let (name, parent, doc) = class_of(kind)
                .ok_or_else(|| PySystemError::new_err(format!("no exception for errors of kind {}", kind.name())))?;
            of_kind.push((kind, child(name, parent(py), kind.name(), doc)?));
        }
        let doc = "An optional package that this function needs is not installed.";
        let missing_extra = child("MissingExtraError", py.get_type::<PyImportError>(), "missing_extra", doc)?;
        Ok::<_, PyErr>(Classes { base, of_kind, missing_extra })
    })?;
    Ok(classes)
}

/// The Python exception for `error`, with `kind` and `problems`.
pub fn raised(py: Python<'_>, error: Error) -> PyErr {
    if error.kind() == Kind::Interrupted {
        return PyKeyboardInterrupt::new_err(error.to_string());
    }
    exception(py, error).unwrap_or_else(|failure| failure)
}

fn exception(py: Python<'_>, error: Error) -> PyResult<PyErr> {
    let classes = classes(py)?;
    let known = classes.of_kind.iter().find(|(kind, _)| *kind == error.kind());
    let class = known.map_or(&classes.base, |(_, class)| class).bind(py);
    let instance = class.call1((error.to_string(),))?;
    let problems = error.problems().iter().map(|problem| Problem {
        row: problem.place.row,
        name: problem.place.name.clone(),
        label: problem.place.label.clone(),
        what: problem.what.clone(),
        help: problem.help.clone(),
    });
    let problems = problems.map(|problem| Bound::new(py, problem)).collect::<PyResult<Vec<_>>>()?;
    instance.setattr("problems", PyList::new(py, problems)?)?;
    Ok(PyErr::from_value(instance))
}

/// Turns the library's errors into Python's.
pub trait OrRaise<T> {
    /// The value, or the exception for the error.
    fn or_raise(self, py: Python<'_>) -> PyResult<T>;
}

impl<T> OrRaise<T> for Result<T, Error> {
    fn or_raise(self, py: Python<'_>) -> PyResult<T> {
        self.map_err(|error| raised(py, error))
    }
}

/// An argument of the wrong type: Python's own TypeError, with the argument's name.
pub fn wrong_type(name: &str, given: &Bound<'_, PyAny>, wanted: &str) -> PyErr {
    match given.get_type().name() {
        _ if given.is_none() => PyTypeError::new_err(format!("{name}: None is not {wanted}")),
        Ok(class) => PyTypeError::new_err(format!("{name}: a {class} is not {wanted}")),
        Err(failure) => failure,
    }
}

/// The exception for a bad value of the argument `name`; what the array conversion in Python raises.
#[pyfunction]
#[pyo3(signature = (name, what, help=None))]
fn _argument_error(py: Python<'_>, name: &str, what: &str, help: Option<&str>) -> PyErr {
    let error = Error::argument(name, what);
    raised(py, help.into_iter().fold(error, Error::help))
}

/// Raises an error of the kind called `kind`, so that a test can see the whole map.
#[pyfunction]
fn _raise_kind(py: Python<'_>, kind: &str) -> PyResult<()> {
    match Kind::ALL.into_iter().find(|known| known.name() == kind) {
        None => Ok(()),
        Some(kind) => {
            let problem = groundstate::Problem::new(groundstate::error::Place::cell(3, "role"), "unknown role");
            Err(raised(py, Error::new(kind, problem.help("write one"))))
        }
    }
}

/// Adds the exception classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    let py = module.py();
    let classes = classes(py)?;
    let all = classes.of_kind.iter().map(|(_, class)| class).chain([&classes.base, &classes.missing_extra]);
    for class in all {
        let class = class.bind(py);
        module.add(class.name()?, class)?;
    }
    module.add("_KINDS", PyTuple::new(py, Kind::ALL.map(Kind::name))?)?;
    module.add_class::<Problem>()?;
    module.add_function(wrap_pyfunction!(_argument_error, module)?)?;
    module.add_function(wrap_pyfunction!(_raise_kind, module)?)
}
