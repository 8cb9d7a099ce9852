//! The method detection limit.

use groundstate::Error;
use groundstate::detection::mdl::{
    BlankPart, Counts, ManyBlanks, Mdl as Core, MdlKind, MdlOptions, MdlResult as CoreResult, NumericBlanks, RankTie,
    Requirement as CoreRequirement, SpikePart, TFactor, TValues, initial,
};
use groundstate::detection::{Date, minimum_level as core_level};
use pyo3::prelude::*;
use pyo3::pybacked::PyBackedStr;
use pyo3::types::{PyDict, PyTuple};

use crate::archive;
use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::finding::findings;
use crate::nondetect::{measured, to_python};

/// One result of a spiked sample or a method blank, with what is known of it.
///
/// Args:
///     value: a number, ND or its text, or None where it is missing.
///     batch: preparation batch.
///     prepared, analysed: dates, YYYY-MM-DD or a date.
///     instrument: instrument it was measured on.
///     spike_level: concentration spiked, in the unit of the results.
///     label: the laboratory's name of the preparation.
///     excluded: (reason, by whom) of a documented gross failure.
///
/// Raises:
///     ArgumentError: a date or text that cannot be understood.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlResult(pub CoreResult);

#[pymethods]
impl MdlResult {
    #[new]
    #[pyo3(signature = (value, *, batch=None, prepared=None, analysed=None, instrument=None, spike_level=None,
        label=None, excluded=None))]
    #[allow(clippy::too_many_arguments)] // a keyword each
    fn new(
        value: &Bound<'_, PyAny>,
        batch: Option<String>,
        prepared: Option<&Bound<'_, PyAny>>,
        analysed: Option<&Bound<'_, PyAny>>,
        instrument: Option<String>,
        spike_level: Option<f64>,
        label: Option<String>,
        excluded: Option<(String, String)>,
    ) -> PyResult<Self> {
        let mut result = CoreResult::spike(measured("value", value)?);
        result.batch = batch;
        result.prepared = prepared.map(date).transpose()?;
        result.analysed = analysed.map(date).transpose()?;
        result.instrument = instrument;
        result.spike_level = spike_level;
        result.label = label;
        Ok(MdlResult(match excluded {
            Some((reason, by)) => result.excluding(reason, by),
            None => result,
        }))
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
    fn prepared(&self) -> Option<String> {
        self.0.prepared.map(|date| date.to_string())
    }

    /// Date of analysis.
    #[getter]
    fn analysed(&self) -> Option<String> {
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

    /// Why it was left out as a gross failure, and who did so.
    #[getter]
    fn excluded(&self) -> Option<(&str, &str)> {
        self.0.excluded.as_ref().map(|excluded| (excluded.reason.as_str(), excluded.by.as_str()))
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<((Bound<'py, PyAny>,), Bound<'py, PyDict>)> {
        let named = PyDict::new(py);
        named.set_item("batch", self.batch())?;
        named.set_item("prepared", self.prepared())?;
        named.set_item("analysed", self.analysed())?;
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

/// A date as text or as datetime.date, whose text is the same.
pub fn date(given: &Bound<'_, PyAny>) -> PyResult<Date> {
    given.str()?.to_cow()?.parse::<Date>().or_raise(given.py())
}

/// Results of one kind: plain values, non-detects, or MdlResult.
pub fn results(name: &str, kind: MdlKind, given: &Bound<'_, PyAny>) -> PyResult<Vec<CoreResult>> {
    if let Ok(numbers) = Numbers::of(name, given) {
        let values = numbers.flat(name, given.py())?;
        return Ok(values.iter().map(|value| CoreResult::new(kind, *value)).collect());
    }
    let one = |(i, item): (usize, PyResult<Bound<'_, PyAny>>)| {
        let item = item?;
        match item.cast::<MdlResult>() {
            Ok(result) => Ok(CoreResult { kind, ..result.get().0.clone() }),
            Err(_) => Ok(CoreResult::new(kind, measured(&format!("{name}[{i}]"), &item)?)),
        }
    };
    match given.try_iter() {
        Ok(items) if !given.is_instance_of::<pyo3::types::PyString>() => items.enumerate().map(one).collect(),
        // Numbers of the argument says what is wrong with it.
        _ => Numbers::of(name, given).map(|_| Vec::new()),
    }
}

/// One of the choices called `name`.
pub fn choice<T: Copy>(argument: &str, name: &str, all: &[T], word: fn(T) -> &'static str) -> Result<T, Error> {
    all.iter().copied().find(|choice| word(*choice) == name).ok_or_else(|| {
        let words: Vec<&str> = all.iter().map(|choice| word(*choice)).collect();
        Error::argument(argument, format!("there is no choice {name:?}"))
            .help(format!("it is one of {}", words.join(", ")))
    })
}

/// What one part of a method detection limit rests on.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlPart {
    /// The part of the limit; None where it could not be had or does not apply.
    value: Option<f64>,
    /// Mean of the numbers.
    mean: Option<f64>,
    /// Standard deviation of the numbers.
    sd: Option<f64>,
    /// Student's t that it rests on.
    t: Option<f64>,
    /// Numbers of either sign.
    numeric: usize,
    /// Non-detects.
    nondetects: usize,
    /// Missing results, removed before anything was computed.
    missing: usize,
    /// Results left out as documented gross failures.
    excluded: usize,
    /// What came of the spikes, or how the blanks were used.
    outcome: String,
}

impl MdlPart {
    fn of(numbers: [Option<f64>; 3], t: Option<TFactor>, counts: Counts, outcome: &str) -> Self {
        let [value, mean, sd] = numbers;
        let Counts { numeric, nondetects, missing, excluded } = counts;
        let t = t.map(|t| t.value);
        MdlPart { value, mean, sd, t, numeric, nondetects, missing, excluded, outcome: outcome.to_owned() }
    }
}

impl From<&SpikePart> for MdlPart {
    fn from(part: &SpikePart) -> Self {
        MdlPart::of([part.value, part.mean, part.standard_deviation], part.t, part.counts, part.outcome.name())
    }
}

impl From<&BlankPart> for MdlPart {
    fn from(part: &BlankPart) -> Self {
        MdlPart::of([part.value, part.mean, part.standard_deviation], part.t, part.counts, part.branch.name())
    }
}

#[pymethods]
impl MdlPart {
    fn __repr__(&self) -> String {
        let value = self.value.map_or("no value".to_owned(), |value| format!("{value:.4e}"));
        format!("<MdlPart {value}, {}, {} numbers and {} non-detects>", self.outcome, self.numeric, self.nondetects)
    }
}

/// One requirement on the data of a limit.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Requirement {
    /// Stable name.
    rule: String,
    /// One of met, not_met, not_evaluated (the facts were not given), advice.
    state: String,
    /// What is required, or advised.
    required: String,
    /// What was found, in words.
    found: String,
    /// Where it stands.
    citation: String,
}

impl From<&CoreRequirement> for Requirement {
    fn from(requirement: &CoreRequirement) -> Self {
        Requirement {
            rule: requirement.rule.name().to_owned(),
            state: requirement.state.name().to_owned(),
            required: requirement.rule.required().to_owned(),
            found: requirement.found.clone(),
            citation: requirement.rule.citation().to_string(),
        }
    }
}

#[pymethods]
impl Requirement {
    fn __repr__(&self) -> String {
        format!("<Requirement {}: {}, {}>", self.rule, self.state.replace('_', " "), self.found)
    }
}

/// A method detection limit with its parts and the requirements on its data.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Mdl {
    core: Core,
    spikes: Vec<CoreResult>,
    blanks: Vec<CoreResult>,
}

impl Mdl {
    /// The limit.
    pub fn figure(&self) -> Option<f64> {
        self.core.value
    }
}

#[pymethods]
impl Mdl {
    /// The greater of the two parts, in the unit of the results; None when it could not be had.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.core.value
    }

    /// MDL_S, t s of the spikes.
    #[getter(from_spikes)]
    fn part_from_spikes(&self) -> Option<f64> {
        self.core.from_spikes.value
    }

    /// MDL_b, from the method blanks; None where it does not apply.
    #[getter(from_blanks)]
    fn part_from_blanks(&self) -> Option<f64> {
        self.core.from_blanks.value
    }

    /// What MDL_S rests on.
    #[getter]
    fn spikes(&self) -> MdlPart {
        MdlPart::from(&self.core.from_spikes)
    }

    /// What MDL_b rests on.
    #[getter]
    fn blanks(&self) -> MdlPart {
        MdlPart::from(&self.core.from_blanks)
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::html(slf.py(), "mdl", slf)
    }

    /// How MDL_b was found.
    #[getter]
    fn branch(&self) -> &'static str {
        self.core.branch().name()
    }

    /// Which part the limit is; the spikes when both are equal.
    #[getter]
    fn decided_by(&self) -> Option<&'static str> {
        self.core.decided_by.map(|part| part.name())
    }

    /// What it may be called: design_met, design_not_met, design_incomplete, computed_from_values.
    #[getter]
    fn basis(&self) -> &'static str {
        self.core.basis.name()
    }

    /// 95 % interval of the limit where the spikes decide it; informative.
    #[getter]
    fn interval(&self) -> Option<(f64, f64)> {
        self.core.interval.map(|interval| (interval.lower, interval.upper))
    }

    /// Every requirement on the data, with its state.
    #[getter]
    fn design(&self) -> Vec<Requirement> {
        self.core.design.iter().map(Requirement::from).collect()
    }

    /// What was noticed, in order.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings.clone())
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let options = &self.core.options;
        let of = |results: &[CoreResult]| -> Vec<MdlResult> { results.iter().cloned().map(MdlResult).collect() };
        let words =
            (options.t.name(), options.rank_tie.name(), options.many_blanks.name(), options.numeric_blanks.name());
        let as_of = options.as_of.map(|date| date.to_string());
        let arguments = (of(&self.spikes), of(&self.blanks), words, options.initial_estimate, as_of);
        (archive::function(py, "_mdl")?, arguments).into_pyobject(py)
    }

    fn __repr__(&self) -> String {
        let value = self.core.value.map_or("no value".to_owned(), |value| format!("{value:.4e}"));
        let by = self.decided_by().map_or(String::new(), |part| format!(" from the {part}"));
        format!("<Mdl {value}{by}, {}>", self.basis().replace('_', " "))
    }
}

/// The method detection limit of 40 CFR 136, Appendix B, Revision 2: initial determination.
///
/// The limit is in sample units at the nominal mass, volume and dilution.
///
/// Args:
///     spikes, blanks: results in one unit, plain or as MdlResult with dates and batches. ND (or the text "ND") is a
///         non-detect; None and NaN are missing, removed and counted. Of plain values the design is "not evaluated"
///         and the figure is called computed from values.
///     t, rank_tie, many_blanks, numeric_blanks: readings of the rule where it is silent or says two things.
///     initial_estimate: for the advice on the spiking level.
///     as_of: day the limit is computed for, YYYY-MM-DD or a date.
///
/// Raises:
///     ArgumentError: results, dates or words that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, (2)(a) to (2)(d).
///
/// Example:
///     >>> import groundstate as gs
///     >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
///     >>> gs.mdl(spikes, [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003])
///     <Mdl 1.4836e-3 from the spikes, computed from values>
#[pyfunction]
#[pyo3(signature = (spikes, blanks, *, t="exact", rank_tie="half_up", many_blanks="at_least_100",
    numeric_blanks="mean_plus_ts", initial_estimate=None, as_of=None))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn mdl(
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    t: &str,
    rank_tie: &str,
    many_blanks: &str,
    numeric_blanks: &str,
    initial_estimate: Option<f64>,
    as_of: Option<&Bound<'_, PyAny>>,
) -> PyResult<Mdl> {
    determined(spikes, blanks, [t, rank_tie, many_blanks, numeric_blanks], initial_estimate, as_of)
}

/// The same with the choices in a row, for pickles to name.
#[pyfunction]
fn _mdl(
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    choices: (PyBackedStr, PyBackedStr, PyBackedStr, PyBackedStr),
    initial_estimate: Option<f64>,
    as_of: Option<&Bound<'_, PyAny>>,
) -> PyResult<Mdl> {
    let (t, rank_tie, many_blanks, numeric_blanks) = choices;
    determined(spikes, blanks, [&t, &rank_tie, &many_blanks, &numeric_blanks], initial_estimate, as_of)
}

/// The readings of the rule that `choices` name: t, rank_tie, many_blanks, numeric_blanks.
pub fn readings(choices: [&str; 4]) -> Result<MdlOptions, Error> {
    let [t, rank_tie, many_blanks, numeric_blanks] = choices;
    const MANY: [ManyBlanks; 2] = [ManyBlanks::AtLeast100, ManyBlanks::MoreThan100];
    const NUMERIC: [NumericBlanks; 2] = [NumericBlanks::MeanPlusTs, NumericBlanks::Percentile];
    Ok(MdlOptions {
        t: choice("t", t, &[TValues::Exact, TValues::PrintedTable], TValues::name)?,
        rank_tie: choice("rank_tie", rank_tie, &[RankTie::HalfUp, RankTie::HalfEven], RankTie::name)?,
        many_blanks: choice("many_blanks", many_blanks, &MANY, ManyBlanks::name)?,
        numeric_blanks: choice("numeric_blanks", numeric_blanks, &NUMERIC, NumericBlanks::name)?,
        initial_estimate: None,
        as_of: None,
    })
}

fn determined(
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    choices: [&str; 4],
    initial_estimate: Option<f64>,
    as_of: Option<&Bound<'_, PyAny>>,
) -> PyResult<Mdl> {
    let py = spikes.py();
    let options =
        MdlOptions { initial_estimate, as_of: as_of.map(date).transpose()?, ..readings(choices).or_raise(py)? };
    let spikes = results("spikes", MdlKind::Spike, spikes)?;
    let blanks = results("blanks", MdlKind::Blank, blanks)?;
    let all: Vec<CoreResult> = spikes.iter().chain(&blanks).cloned().collect();
    let core = py.detach(|| initial(&all, &options)).or_raise(py)?;
    Ok(Mdl { core, spikes, blanks })
}

/// The minimum level of quantitation: 3.18 times the limit, to the nearest 1, 2 or 5 times a power of ten.
///
/// Args:
///     mdl: the method detection limit, a figure or an Mdl that has one.
///
/// Returns:
///     The level, in the unit of the limit.
///
/// Raises:
///     ArgumentError: a limit that is not positive, or an Mdl without a value.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.minimum_level(0.0021)
///     0.005
#[pyfunction]
fn minimum_level(mdl: &Bound<'_, PyAny>) -> PyResult<f64> {
    let py = mdl.py();
    let value = match mdl.cast::<Mdl>() {
        Ok(limit) => limit.get().figure().ok_or_else(|| {
            raised(py, Error::argument("mdl", "this limit has no value").help("its findings say why"))
        })?,
        Err(_) => Numbers::one("mdl", mdl)?,
    };
    Ok(core_level(value).or_raise(py)?.value)
}

/// Adds the functions and classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlResult>()?;
    module.add_class::<MdlPart>()?;
    module.add_class::<Requirement>()?;
    module.add_class::<Mdl>()?;
    module.add_function(wrap_pyfunction!(mdl, module)?)?;
    module.add_function(wrap_pyfunction!(_mdl, module)?)?;
    module.add_function(wrap_pyfunction!(minimum_level, module)?)
}
