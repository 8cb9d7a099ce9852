//! A method detection limit between its determination and its verification.

use groundstate::detection::Quarter;
use groundstate::detection::mdl::{
    EstimateBasis, InitialEstimate, JoiningInstrument as CoreJoining, MdlKind, OngoingPlan as CorePlan, OngoingSetting,
    QuarterPlan, SpikingLevel as CoreLevel, initial_estimate as core_estimate, joining_instrument, ongoing_plan,
    spiking_level,
};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::OrRaise;
use crate::finding::findings;
use crate::mdl::{MdlPart, choice, figure, readings, study};
use crate::mdl_result::{MdlResult, date, results};
use crate::package;
use crate::recall::Recall;

/// An estimate of a limit before its determination. Made by `mdl_estimate`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlEstimate {
    core: InitialEstimate,
    results: Vec<f64>,
}

#[pymethods]
impl MdlEstimate {
    /// The estimate, in the unit of the results; no limit, nothing is reported by it.
    #[getter]
    fn value(&self) -> f64 {
        self.core.value
    }

    /// How it was made.
    #[getter]
    fn basis(&self) -> &'static str {
        self.core.basis.name()
    }

    /// Lowest and highest spiking level advised: 2 and 10 times the estimate.
    #[getter]
    fn spike_levels(&self) -> (f64, f64) {
        (self.core.spike_from, self.core.spike_to)
    }

    /// Where it stands.
    #[getter]
    fn citation(&self) -> String {
        self.core.basis.citation().to_string()
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let results = PyTuple::new(py, &self.results)?;
        Recall::new(py, "mdl_estimate").with(py, "results", results)?.with(py, "basis", self.basis())?.reduced(py)
    }

    fn __repr__(&self) -> String {
        let (low, high) = self.spike_levels();
        format!("<MdlEstimate {:.4e}, spike {low:.4e} to {high:.4e}>", self.core.value)
    }
}

/// An initial estimate of a method detection limit, for choosing the spiking level.
///
/// A signal-to-noise ratio of 3 to 5 at the instrument, or a former limit, serves as well.
///
/// Args:
///     results: results in one unit, shape (n,).
///     basis: method_blanks: mean plus three standard deviations of blanks. spiked_blanks: three standard deviations of
///         replicate measurements of spiked blanks.
///
/// Raises:
///     ArgumentError: fewer than two results, one that is missing, or an estimate that is not above 0.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, II(1).
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.mdl_estimate([0.0010, -0.0010, 0.0000])
///     <MdlEstimate 3.0000e-3, spike 6.0000e-3 to 3.0000e-2>
#[pyfunction]
#[pyo3(signature = (results, *, basis="method_blanks"))]
fn mdl_estimate(results: &Bound<'_, PyAny>, basis: &str) -> PyResult<MdlEstimate> {
    const BASES: [EstimateBasis; 2] = [EstimateBasis::MethodBlanks, EstimateBasis::SpikedBlanks];
    let py = results.py();
    let numbers = Numbers::of("results", results)?.flat("results", py)?.to_vec();
    let basis = choice("basis", basis, &BASES, EstimateBasis::name).or_raise(py)?;
    let core = core_estimate(&numbers, basis).or_raise(py)?;
    Ok(MdlEstimate { core, results: numbers })
}

/// One instrument in one quarter of an ongoing plan.
#[pyclass(frozen, eq, get_all, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct MdlQuarter {
    /// The quarter, such as 2025-Q1.
    quarter: String,
    /// The instrument.
    instrument: String,
    /// Spikes measured in it.
    spikes: usize,
    /// Batches that these were prepared in, as far as given.
    batches: usize,
    /// Spikes still missing, each in a batch of its own.
    missing: usize,
    /// Last day to run them.
    until: String,
    /// How it stands; "not_evaluated" where batches are not given.
    state: String,
}

impl From<&QuarterPlan> for MdlQuarter {
    fn from(plan: &QuarterPlan) -> Self {
        MdlQuarter {
            quarter: plan.quarter.to_string(),
            instrument: plan.instrument.clone(),
            spikes: plan.spikes,
            batches: plan.batches,
            missing: plan.missing,
            until: plan.until.to_string(),
            state: plan.state.name().to_owned(),
        }
    }
}

type QuarterFields = (String, String, usize, usize, usize, String, String);

#[pymethods]
impl MdlQuarter {
    #[new]
    fn new(
        quarter: String,
        instrument: String,
        spikes: usize,
        batches: usize,
        missing: usize,
        until: String,
        state: String,
    ) -> Self {
        MdlQuarter { quarter, instrument, spikes, batches, missing, until, state }
    }

    fn __getnewargs__(&self) -> QuarterFields {
        let MdlQuarter { quarter, instrument, spikes, batches, missing, until, state } = self.clone();
        (quarter, instrument, spikes, batches, missing, until, state)
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __repr__(&self) -> String {
        let MdlQuarter { quarter, instrument, state, missing, .. } = self;
        format!("<MdlQuarter {quarter} {instrument}: {}, {missing} missing>", state.replace('_', " "))
    }
}

/// The spikes of each quarter on each instrument, and what is missing. Made by `mdl_ongoing_plan`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct MdlPlan {
    core: CorePlan,
    recall: Recall,
}

#[pymethods]
impl MdlPlan {
    /// Every instrument in every quarter.
    #[getter]
    fn quarters(&self) -> Vec<MdlQuarter> {
        self.core.quarters.iter().map(MdlQuarter::from).collect()
    }

    /// Those in which spikes have to be run now.
    #[getter]
    fn due(&self) -> Vec<MdlQuarter> {
        self.core.due().map(MdlQuarter::from).collect()
    }

    /// Quarters missed or not evaluated, and results that could not be placed.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings.clone())
    }

    /// Plain figures and words.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        package::plain(slf)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        format!("<MdlPlan of {} quarters, {} due>", self.core.quarters.len(), self.core.due().count())
    }
}

/// Which spikes were run in each calendar quarter on each instrument that shares a limit, and which are missing.
///
/// Each instrument needs two spikes in separate batches in every quarter in which samples are run on it.
///
/// Args:
///     spikes: results as for `mdl`.
///     instruments: names of the instruments that share the limit.
///     first: first quarter after the determination, such as "2025-Q1".
///     as_of: the day the plan is drawn up, YYYY-MM-DD or a date.
///     level: spiking level of the determination; spikes of another do not count.
///     idle: (instrument, quarter) in which no samples were run.
///
/// Raises:
///     ArgumentError: results, dates, quarters or instruments that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> spikes = [gs.MdlResult(0.021, batch="B7", instrument="AA-1", analysed_on="2025-02-11")]
///     >>> gs.mdl_ongoing_plan(spikes, instruments=["AA-1"], first="2025-Q1", as_of="2025-05-02").quarters
///     [<MdlQuarter 2025-Q1 AA-1: missed, 1 missing>, <MdlQuarter 2025-Q2 AA-1: due, 2 missing>]
#[pyfunction]
#[pyo3(signature = (spikes, *, instruments, first, as_of, level=None, idle=Vec::new()))]
#[pyo3(text_signature = "(spikes, *, instruments, first, as_of, level=None, idle=())")]
fn mdl_ongoing_plan(
    py: Python<'_>,
    spikes: &Bound<'_, PyAny>,
    instruments: Vec<String>,
    first: &str,
    as_of: &Bound<'_, PyAny>,
    level: Option<f64>,
    idle: Vec<(String, String)>,
) -> PyResult<MdlPlan> {
    let all = results("spikes", MdlKind::Spike, spikes)?;
    let names: Vec<&str> = instruments.iter().map(String::as_str).collect();
    let parsed = idle.iter().map(|(instrument, quarter)| Ok((instrument.as_str(), quarter.parse::<Quarter>()?)));
    let parsed = parsed.collect::<Result<Vec<_>, groundstate::Error>>().or_raise(py)?;
    let setting = OngoingSetting {
        instruments: &names,
        first: first.parse().or_raise(py)?,
        as_of: date(as_of)?,
        level,
        idle: &parsed,
    };
    let core = ongoing_plan(&all, &setting).or_raise(py)?;
    let recall = Recall::new(py, "mdl_ongoing_plan")
        .with(py, "spikes", PyTuple::new(py, all.iter().cloned().map(MdlResult))?)?
        .with(py, "instruments", PyTuple::new(py, &instruments)?)?
        .with(py, "first", first)?
        .with(py, "as_of", setting.as_of.to_string())?
        .with_some(py, "level", level)?
        .with(py, "idle", PyTuple::new(py, &idle)?)?;
    Ok(MdlPlan { core, recall })
}

/// Whether a spiking level still serves. Made by `mdl_spiking_level`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct MdlSpikingLevel {
    core: CoreLevel,
    recall: Recall,
}

#[pymethods]
impl MdlSpikingLevel {
    /// What follows; "raise" means a higher level and a new determination.
    #[getter]
    fn decision(&self) -> &'static str {
        self.core.decision.name()
    }

    /// Spikes looked at.
    #[getter]
    fn spikes(&self) -> usize {
        self.core.spikes
    }

    /// Those that gave no number above 0.
    #[getter]
    fn failing(&self) -> usize {
        self.core.failing
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

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        let (decision, core) = (self.decision().replace('_', " "), &self.core);
        format!("<MdlSpikingLevel {decision}: {} of {} spikes fail>", core.failing, core.spikes)
    }
}

/// Whether more than 5 % of the spikes of a year gave no number above 0, so that their level has to be raised.
///
/// Args:
///     spikes: results as for `mdl`.
///
/// Raises:
///     ArgumentError: results that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.mdl_spiking_level([0.021, 0.019, gs.ND, 0.020])
///     <MdlSpikingLevel raise: 1 of 4 spikes fail>
#[pyfunction]
fn mdl_spiking_level(spikes: &Bound<'_, PyAny>) -> PyResult<MdlSpikingLevel> {
    let py = spikes.py();
    let all = results("spikes", MdlKind::Spike, spikes)?;
    let core = spiking_level(&all).or_raise(py)?;
    let spikes = PyTuple::new(py, all.into_iter().map(MdlResult))?;
    Ok(MdlSpikingLevel { core, recall: Recall::new(py, "mdl_spiking_level").with(py, "spikes", spikes)? })
}

/// A new instrument in a group that shares a limit. Made by `mdl_joining_instrument`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct MdlJoining {
    core: CoreJoining,
    recall: Recall,
}

#[pymethods]
impl MdlJoining {
    /// Whether the existing limit holds on it too.
    #[getter]
    fn decision(&self) -> &'static str {
        self.core.decision.name()
    }

    /// The instrument.
    #[getter]
    fn instrument(&self) -> &str {
        &self.core.instrument
    }

    /// Spikes measured on it.
    #[getter]
    fn spikes(&self) -> usize {
        self.core.spikes
    }

    /// Blanks measured on it.
    #[getter]
    fn blanks(&self) -> usize {
        self.core.blanks
    }

    /// Those of its blanks that are at or above the existing limit.
    #[getter]
    fn blanks_at_or_above(&self) -> usize {
        self.core.blanks_at_or_above
    }

    /// MDL_S of the whole group, the new spikes among them.
    #[getter]
    fn pooled(&self) -> MdlPart {
        MdlPart::from(&self.core.pooled)
    }

    /// Pooled MDL_S over the existing limit; from 0.5 to 2.0 it holds.
    #[getter]
    fn ratio(&self) -> Option<f64> {
        self.core.ratio.map(|ratio| ratio.value)
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

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.recall.reduced(py)
    }

    fn __repr__(&self) -> String {
        format!("<MdlJoining {}: {}>", self.core.instrument, self.decision().replace('_', " "))
    }
}

/// Whether the limit of a group of instruments also holds on one that joins it.
///
/// Its blanks (two or more) have to be below the limit, and MDL_S of all spikes within 0.5 to 2.0 times it.
///
/// Args:
///     existing: the limit in use.
///     spikes, blanks: results of the group and of the newcomer, with their instruments, as for `mdl`.
///     instrument: the newcomer.
///     t: Student's t computed, or the three decimals of the printed table.
///
/// Raises:
///     ArgumentError: results or a limit that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, ongoing data collection (from memory).
#[pyfunction]
#[pyo3(signature = (existing, spikes, blanks, *, instrument, t="exact"))]
fn mdl_joining_instrument(
    py: Python<'_>,
    existing: &Bound<'_, PyAny>,
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    instrument: &str,
    t: &str,
) -> PyResult<MdlJoining> {
    let existing = figure("existing", existing)?;
    let choices = [t, "half_up", "at_least_100", "mean_plus_ts", "rank"];
    let options = readings(choices).or_raise(py)?;
    let (recall, all) = study(py, "mdl_joining_instrument", spikes, blanks)?;
    let core = joining_instrument(existing, &all, instrument, &options).or_raise(py)?;
    let recall = recall.with(py, "existing", existing)?.with(py, "instrument", instrument)?.with(py, "t", t)?;
    Ok(MdlJoining { core, recall })
}

/// Adds the classes and functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlEstimate>()?;
    module.add_class::<MdlQuarter>()?;
    module.add_class::<MdlPlan>()?;
    module.add_class::<MdlSpikingLevel>()?;
    module.add_class::<MdlJoining>()?;
    module.add_function(wrap_pyfunction!(mdl_estimate, module)?)?;
    module.add_function(wrap_pyfunction!(mdl_ongoing_plan, module)?)?;
    module.add_function(wrap_pyfunction!(mdl_spiking_level, module)?)?;
    module.add_function(wrap_pyfunction!(mdl_joining_instrument, module)?)
}
