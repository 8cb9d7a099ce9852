//! One result of a study of limits, and results in every form that they come in.

use groundstate::Error;
use groundstate::detection::Date;
use groundstate::detection::mdl::{Exclusion, MdlKind, MdlResult as Core, Measured};
use groundstate::error::{Kind, Place, Problem, nearest};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyString};

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::nondetect::{NonDetect, measured, to_python};
use crate::package;

/// One result of a spiked sample or a method blank, with what is known of it.
///
/// Args:
///     value: a number, ND or its text, or None where it is missing.
///     batch: preparation batch.
///     prepared_on, analysed_on: dates, YYYY-MM-DD or a date.
///     instrument: instrument it was measured on.
///     spike_level: concentration spiked, in the unit of the results.
///     label: the laboratory's name of the preparation.
///     excluded: (reason, by whom) or (reason, by whom, date) of a documented gross failure.
///
/// Raises:
///     ArgumentError: a date or text that cannot be understood.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlResult(pub Core);

#[pymethods]
impl MdlResult {
    #[new]
    #[pyo3(signature = (value, *, batch=None, prepared_on=None, analysed_on=None, instrument=None, spike_level=None,
        label=None, excluded=None))]
    #[allow(clippy::too_many_arguments)] // a keyword each
    fn new(
        value: &Bound<'_, PyAny>,
        batch: Option<String>,
        prepared_on: Option<&Bound<'_, PyAny>>,
        analysed_on: Option<&Bound<'_, PyAny>>,
        instrument: Option<String>,
        spike_level: Option<f64>,
        label: Option<String>,
        excluded: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let mut result = Core::spike(measured("value", value)?);
        result.batch = batch;
        result.prepared = prepared_on.map(date).transpose()?;
        result.analysed = analysed_on.map(date).transpose()?;
        result.instrument = instrument;
        result.spike_level = spike_level;
        result.label = label;
        result.excluded = excluded.map(exclusion).transpose()?;
        Ok(MdlResult(result))
    }

    /// A number, ND, or None where it is missing.
    #[getter]
    fn value<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(self.0.measured, py)
    }

    /// Preparation batch.
    #[getter]
    fn batch(&self) -> Option<&str> {
        self.0.batch.as_deref()
    }

    /// Date of preparation.
    #[getter]
    fn prepared_on(&self) -> Option<String> {
        self.0.prepared.map(|date| date.to_string())
    }

    /// Date of analysis.
    #[getter]
    fn analysed_on(&self) -> Option<String> {
        self.0.analysed.map(|date| date.to_string())
    }

    /// Instrument it was measured on.
    #[getter]
    fn instrument(&self) -> Option<&str> {
        self.0.instrument.as_deref()
    }

    /// Concentration spiked, in the unit of the results.
    #[getter]
    fn spike_level(&self) -> Option<f64> {
        self.0.spike_level
    }

    /// The laboratory's name of the preparation.
    #[getter]
    fn label(&self) -> Option<&str> {
        self.0.label.as_deref()
    }

    /// Why it was left out as a gross failure, who did so, and when where that is known.
    #[getter]
    fn excluded(&self) -> Option<(&str, &str, Option<String>)> {
        let excluded = self.0.excluded.as_ref()?;
        Some((&excluded.reason, &excluded.by, excluded.on.map(|date| date.to_string())))
    }

    /// Plain figures and words; a non-detect is "ND".
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<((Bound<'py, PyAny>,), Bound<'py, PyDict>)> {
        let named = PyDict::new(py);
        named.set_item("batch", self.batch())?;
        named.set_item("prepared_on", self.prepared_on())?;
        named.set_item("analysed_on", self.analysed_on())?;
        named.set_item("instrument", self.instrument())?;
        named.set_item("spike_level", self.spike_level())?;
        named.set_item("label", self.label())?;
        named.set_item("excluded", self.excluded())?;
        Ok(((self.value(py)?,), named))
    }

    fn __repr__(&self) -> String {
        format!("<MdlResult {}>", self.0.measured)
    }
}

/// A reason, by whom, and perhaps when.
fn exclusion(given: &Bound<'_, PyAny>) -> PyResult<Exclusion> {
    if let Ok((reason, by)) = given.extract::<(String, String)>() {
        return Ok(Exclusion { reason, by, on: None });
    }
    let Ok((reason, by, on)) = given.extract::<(String, String, Bound<'_, PyAny>)>() else {
        let error = Error::argument("excluded", "a result is left out by a reason, a name, and perhaps a date");
        return Err(raised(given.py(), error.help("as in (\"cracked vial\", \"J. Doe\", \"2025-03-31\")")));
    };
    let on = if on.is_none() { None } else { Some(date(&on)?) };
    Ok(Exclusion { reason, by, on })
}

/// A date as text, as datetime.date (whose text is the same), or the date of a moment.
pub fn date(given: &Bound<'_, PyAny>) -> PyResult<Date> {
    let day = given.getattr("date").and_then(|date| date.call0());
    day.as_ref().unwrap_or(given).str()?.to_cow()?.parse::<Date>().or_raise(given.py())
}

/// Results of one kind: plain values, non-detects, MdlResult, or a table with a row for each.
pub fn results(name: &str, kind: MdlKind, given: &Bound<'_, PyAny>) -> PyResult<Vec<Core>> {
    if let Some(columns) = columns(name, given)? {
        return rows(name, kind, &columns);
    }
    if let Ok(numbers) = Numbers::of(name, given) {
        let values = numbers.flat(name, given.py())?;
        return Ok(values.iter().map(|value| Core::new(kind, *value)).collect());
    }
    let one = |(i, item): (usize, PyResult<Bound<'_, PyAny>>)| {
        let item = item?;
        match item.cast::<MdlResult>() {
            Ok(result) => Ok(Core { kind, ..result.get().0.clone() }),
            Err(_) => Ok(Core::new(kind, measured(&format!("{name}[{i}]"), &item)?)),
        }
    };
    match given.try_iter() {
        Ok(items) if !given.is_instance_of::<PyString>() => items.enumerate().map(one).collect(),
        // Numbers of the argument says what is wrong with it.
        _ => Numbers::of(name, given).map(|_| Vec::new()),
    }
}

/// The columns of a table by name, cells that are missing as None; none where `given` is no table.
fn columns<'py>(name: &str, given: &Bound<'py, PyAny>) -> PyResult<Option<Bound<'py, PyDict>>> {
    static COLUMNS: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let py = given.py();
    let columns = COLUMNS.import(py, "groundstate._cells", "columns")?.call1((given, name))?;
    Ok(if columns.is_none() { None } else { Some(columns.cast_into()?) })
}

const COLUMNS: [&str; 11] = [
    "value",
    "nondetect",
    "batch",
    "prepared_on",
    "analysed_on",
    "instrument",
    "spike_level",
    "label",
    "excluded",
    "excluded_by",
    "excluded_on",
];

/// The rows of a table as results; every cell that cannot be understood is named.
fn rows(table: &str, kind: MdlKind, columns: &Bound<'_, PyDict>) -> PyResult<Vec<Core>> {
    let py = columns.py();
    let mut problems = Vec::new();
    let mut results = Vec::new();
    for (name, cells) in columns {
        let name: String = name.extract()?;
        if !COLUMNS.contains(&name.as_str()) {
            let problem = Problem::new(Place::named(format!("{table}.{name}")), "there is no such column");
            let help = match nearest(&name, COLUMNS) {
                Some(near) => format!("did you mean {near}?"),
                None => format!("the columns are {}", COLUMNS.join(", ")),
            };
            problems.push(problem.help(help));
            continue;
        }
        for (i, cell) in cells.try_iter()?.enumerate() {
            if results.len() <= i {
                results.resize(i + 1, Core::new(kind, Measured::Missing));
            }
            if let Some(result) = results.get_mut(i)
                && let Err(what) = set(result, &name, &cell?)?
            {
                problems.push(Problem::new(Place::cell(i as u64 + 1, format!("{table}.{name}")), what));
            }
        }
    }
    if !columns.contains("value")? {
        let problem = Problem::new(Place::named(format!("{table}.value")), "the table has no column of results");
        problems.push(problem.help("call it value; ND is a non-detect, an empty cell is missing"));
    }
    Error::unless_empty(Kind::Table, problems, results).or_raise(py)
}

/// Puts `cell` into `result`, or says why it cannot be.
fn set(result: &mut Core, column: &str, cell: &Bound<'_, PyAny>) -> PyResult<Result<(), String>> {
    // "nondetect" may come before or after the value of its row.
    if cell.is_none() {
        return Ok(Ok(()));
    }
    let word = cell.str()?.to_cow()?.trim().to_owned();
    match column {
        "value" if result.measured == Measured::NonDetect => {}
        "value" if cell.is_instance_of::<NonDetect>() || word == "ND" => result.measured = Measured::NonDetect,
        "value" => match number(cell, &word) {
            Ok(number) => result.measured = Measured::from(number),
            Err(what) => return Ok(Err(what)),
        },
        "nondetect" => match cell.extract::<bool>() {
            Ok(true) => result.measured = Measured::NonDetect,
            Ok(false) => {}
            Err(_) => return Ok(Err(format!("{word:?} is neither true nor false"))),
        },
        "spike_level" => match number(cell, &word) {
            Ok(number) => result.spike_level = number,
            Err(what) => return Ok(Err(what)),
        },
        "prepared_on" | "analysed_on" | "excluded_on" => match date(cell) {
            Ok(day) if column == "prepared_on" => result.prepared = Some(day),
            Ok(day) if column == "analysed_on" => result.analysed = Some(day),
            Ok(day) => excluded(result).on = Some(day),
            Err(_) if word.is_empty() => {}
            Err(_) => return Ok(Err(format!("{word:?} is not a date; write YYYY-MM-DD"))),
        },
        _ if word.is_empty() => {}
        "batch" => result.batch = Some(word),
        "instrument" => result.instrument = Some(word),
        "label" => result.label = Some(word),
        "excluded" => excluded(result).reason = word,
        _ => excluded(result).by = word,
    }
    Ok(Ok(()))
}

/// The exclusion of a result, begun where there is none: a reason without a name, or a name without a reason, is refused
/// by the study.
fn excluded(result: &mut Core) -> &mut Exclusion {
    result.excluded.get_or_insert_with(|| Exclusion { reason: String::new(), by: String::new(), on: None })
}

/// The number in a cell, which may be text; none where it is empty.
fn number(cell: &Bound<'_, PyAny>, word: &str) -> Result<Option<f64>, String> {
    if word.is_empty() {
        return Ok(None);
    }
    let found = if cell.is_instance_of::<PyString>() { word.parse().ok() } else { Numbers::one("value", cell).ok() };
    match found {
        Some(number) if number.is_finite() => Ok(Some(number)),
        _ => Err(format!("{word:?} is not a number; ND is a non-detect, an empty cell is missing")),
    }
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlResult>()
}
