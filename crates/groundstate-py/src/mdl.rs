//! The method detection limit.

use groundstate::Error;
use groundstate::detection::mdl::{
    BlankPart, Counts, ManyBlanks, Mdl as Core, MdlKind, MdlOptions, MdlRecord as CoreRecord, MdlRecordHeader,
    MdlResult as CoreResult, NumericBlanks, Percentile, RankTie, Requirement as CoreRequirement, SpikePart, TFactor,
    TValues, initial,
};
use groundstate::detection::{LimitCheck, minimum_level as core_level, minimum_level_of_s};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::finding::findings;
use crate::mdl_record::MdlRecord;
use crate::mdl_result::{MdlResult, date, results};
use crate::package;
use crate::recall::Recall;

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

type Figure = Option<f64>;
type PartFields = (Figure, Figure, Figure, Figure, usize, usize, usize, usize, String);

#[pymethods]
impl MdlPart {
    #[new]
    #[allow(clippy::too_many_arguments)] // one a field
    fn new(
        value: Option<f64>,
        mean: Option<f64>,
        sd: Option<f64>,
        t: Option<f64>,
        numeric: usize,
        nondetects: usize,
        missing: usize,
        excluded: usize,
        outcome: String,
    ) -> Self {
        MdlPart { value, mean, sd, t, numeric, nondetects, missing, excluded, outcome }
    }

    fn __getnewargs__(&self) -> PartFields {
        let MdlPart { value, mean, sd, t, numeric, nondetects, missing, excluded, outcome } = self.clone();
        (value, mean, sd, t, numeric, nondetects, missing, excluded, outcome)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

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

impl From<&LimitCheck> for Requirement {
    fn from(check: &LimitCheck) -> Self {
        Requirement {
            rule: check.name.to_owned(),
            state: check.state.name().to_owned(),
            required: check.required.to_string(),
            found: check.found.clone(),
            citation: check.citation.to_string(),
        }
    }
}

#[pymethods]
impl Requirement {
    #[new]
    fn new(rule: String, state: String, required: String, found: String, citation: String) -> Self {
        Requirement { rule, state, required, found, citation }
    }

    fn __getnewargs__(&self) -> (String, String, String, String, String) {
        let Requirement { rule, state, required, found, citation } = self.clone();
        (rule, state, required, found, citation)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    fn __repr__(&self) -> String {
        format!("<Requirement {}: {}, {}>", self.rule, self.state.replace('_', " "), self.found)
    }
}

/// A method detection limit with its parts and the requirements on its data.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct Mdl {
    core: Core,
    results: Vec<CoreResult>,
    recall: Recall,
}

impl Mdl {
    fn of_kind(&self, kind: MdlKind) -> Vec<MdlResult> {
        self.results.iter().filter(|result| result.kind == kind).cloned().map(MdlResult).collect()
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

    /// Every spike that it was computed from, those left out among them.
    #[getter]
    fn spike_results(&self) -> Vec<MdlResult> {
        self.of_kind(MdlKind::Spike)
    }

    /// Every method blank that it was computed from, those left out among them.
    #[getter]
    fn blank_results(&self) -> Vec<MdlResult> {
        self.of_kind(MdlKind::Blank)
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

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    /// The record that has to be kept of the limit (section III): what the laboratory says of it, the mean levels
    /// spiked and recovered, the data, the computation, and the ground of every exclusion.
    #[pyo3(signature = (*, method="", title="", analyte="", unit="", matrix="", determined_on=None, determined_by=None,
        remarks=None))]
    #[allow(clippy::too_many_arguments)] // a keyword each
    fn record(
        &self,
        method: &str,
        title: &str,
        analyte: &str,
        unit: &str,
        matrix: &str,
        determined_on: Option<&Bound<'_, PyAny>>,
        determined_by: Option<String>,
        remarks: Option<String>,
    ) -> PyResult<MdlRecord> {
        let header = MdlRecordHeader {
            method: method.to_owned(),
            title: title.to_owned(),
            analyte: analyte.to_owned(),
            unit: unit.to_owned(),
            matrix: matrix.to_owned(),
            determined_on: determined_on.map(date).transpose()?,
            determined_by,
            remarks,
        };
        Ok(MdlRecord(CoreRecord::new(header, &self.results, self.core.clone())))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
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
///     spikes, blanks: results in one unit: plain values, `MdlResult`, or a table with a row each, as a mapping of
///         columns, a list of mappings or a data frame. Columns: value (a number, ND or empty), nondetect (true or
///         false), batch, prepared_on, analysed_on, instrument, spike_level, label, and of documented gross failures
///         excluded (the reason), excluded_by, excluded_on. ND (or the text "ND") is a non-detect; None and NaN are
///         missing, removed and counted. Of plain values the design is "not evaluated" and the figure is called
///         computed from values.
///     t: Student's t computed, or the three decimals of the printed table.
///     rank_tie, many_blanks, percentile: of 100 blanks or more, where the rule takes the 99th percentile: which way a
///         halfway rank goes; whether "more than 100" or "n >= 100" holds; the blank at rank 0.99 n, or the
///         interpolated percentile of spreadsheets. What was used is among the findings.
///     numeric_blanks: what to use for 100 blanks or more that are all numeric.
///     initial_estimate: for the advice on the spiking level.
///     as_of: day the limit is computed for, YYYY-MM-DD or a date.
///
/// Raises:
///     ArgumentError: results, dates or words that cannot be understood.
///     TableError: cells of a table that cannot be understood, every one of them.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, sections I and II; what follows II(2)(b) from memory.
///
/// Example:
///     >>> import groundstate as gs
///     >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
///     >>> gs.mdl(spikes, [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003])
///     <Mdl 1.4836e-3 from the spikes, computed from values>
#[pyfunction]
#[pyo3(signature = (spikes, blanks, *, t="exact", rank_tie="half_up", many_blanks="at_least_100",
    numeric_blanks="mean_plus_ts", percentile="rank", initial_estimate=None, as_of=None))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn mdl(
    py: Python<'_>,
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    t: &str,
    rank_tie: &str,
    many_blanks: &str,
    numeric_blanks: &str,
    percentile: &str,
    initial_estimate: Option<f64>,
    as_of: Option<&Bound<'_, PyAny>>,
) -> PyResult<Mdl> {
    let readings = [t, rank_tie, many_blanks, numeric_blanks, percentile];
    let options =
        MdlOptions { initial_estimate, as_of: as_of.map(date).transpose()?, ..self::readings(readings).or_raise(py)? };
    let (recall, all) = study(py, "mdl", spikes, blanks)?;
    let recall = with_readings(py, recall, readings)?.with_some(py, "initial_estimate", initial_estimate)?.with_some(
        py,
        "as_of",
        options.as_of.map(|date| date.to_string()),
    )?;
    let core = py.detach(|| initial(&all, &options)).or_raise(py)?;
    Ok(Mdl { core, results: all, recall })
}

/// The results of a study, and a call of `function` that names them.
pub fn study(
    py: Python<'_>,
    function: &'static str,
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
) -> PyResult<(Recall, Vec<CoreResult>)> {
    let mut recall = Recall::new(py, function);
    let mut all = Vec::new();
    for (name, kind, given) in [("spikes", MdlKind::Spike, spikes), ("blanks", MdlKind::Blank, blanks)] {
        let found = results(name, kind, given)?;
        recall = recall.with(py, name, PyTuple::new(py, found.iter().cloned().map(MdlResult))?)?;
        all.extend(found);
    }
    Ok((recall, all))
}

/// The arguments that name readings of the rule.
const READINGS: [&str; 5] = ["t", "rank_tie", "many_blanks", "numeric_blanks", "percentile"];

/// The same call with the readings of the rule.
pub fn with_readings(py: Python<'_>, recall: Recall, choices: [&str; 5]) -> PyResult<Recall> {
    READINGS.iter().zip(choices).try_fold(recall, |recall, (name, choice)| recall.with(py, name, choice))
}

/// The readings of the rule that `choices` name.
pub fn readings(choices: [&str; 5]) -> Result<MdlOptions, Error> {
    let [t, rank_tie, many_blanks, numeric_blanks, percentile] = choices;
    const MANY: [ManyBlanks; 2] = [ManyBlanks::AtLeast100, ManyBlanks::MoreThan100];
    const NUMERIC: [NumericBlanks; 2] = [NumericBlanks::MeanPlusTs, NumericBlanks::Percentile];
    const PERCENTILE: [Percentile; 2] = [Percentile::Rank, Percentile::Interpolated];
    Ok(MdlOptions {
        t: choice("t", t, &[TValues::Exact, TValues::PrintedTable], TValues::name)?,
        rank_tie: choice("rank_tie", rank_tie, &[RankTie::HalfUp, RankTie::HalfEven], RankTie::name)?,
        many_blanks: choice("many_blanks", many_blanks, &MANY, ManyBlanks::name)?,
        numeric_blanks: choice("numeric_blanks", numeric_blanks, &NUMERIC, NumericBlanks::name)?,
        percentile: choice("percentile", percentile, &PERCENTILE, Percentile::name)?,
        initial_estimate: None,
        as_of: None,
    })
}

/// The figure of a limit given as a number or as a limit.
pub fn figure(name: &str, given: &Bound<'_, PyAny>) -> PyResult<f64> {
    match given.cast::<Mdl>() {
        Ok(limit) => limit.get().core.value.ok_or_else(|| {
            raised(given.py(), Error::argument(name, "this limit has no value").help("its findings say why"))
        }),
        Err(_) => Numbers::one(name, given),
    }
}

/// The minimum level of quantitation, to the nearest 1, 2 or 5 times a power of ten.
///
/// Args:
///     mdl: a method detection limit of seven spikes, a figure or an Mdl that has one; its level is 3.18 times it.
///     s: in its place the standard deviation of any number of spikes; the level is ten times it, which 3.18 stands for
///         with seven.
///
/// Returns:
///     The level, in the unit of the limit.
///
/// Raises:
///     ArgumentError: a limit that is not positive, or an Mdl without a value.
///
/// Source:
///     EPA Method 1631, Revision E, 17.12; EPA Method 1638 (1996), table 1.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.minimum_level(0.0021)
///     0.005
#[pyfunction]
#[pyo3(signature = (mdl=None, *, s=None))]
fn minimum_level(py: Python<'_>, mdl: Option<&Bound<'_, PyAny>>, s: Option<f64>) -> PyResult<f64> {
    let level = match (mdl, s) {
        (Some(mdl), None) => core_level(figure("mdl", mdl)?),
        (None, Some(s)) => minimum_level_of_s(s),
        _ => {
            let error = Error::argument("mdl", "give either a limit or a standard deviation");
            return Err(raised(py, error.help("3.18 belongs to limits of seven spikes; of another number use s")));
        }
    };
    Ok(level.or_raise(py)?.value)
}

/// Adds the functions and classes.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlPart>()?;
    module.add_class::<Requirement>()?;
    module.add_class::<Mdl>()?;
    module.add_function(wrap_pyfunction!(mdl, module)?)?;
    module.add_function(wrap_pyfunction!(minimum_level, module)?)
}
