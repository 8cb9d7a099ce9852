//! The yearly verification of a method detection limit.

use groundstate::detection::mdl::{BlankWindow, Verification as Core, VerificationSetting, verify};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::error::OrRaise;
use crate::finding::findings;
use crate::mdl::{MdlPart, Requirement, choice, figure, readings, study, with_readings};
use crate::mdl_result::date;
use crate::package;
use crate::recall::Recall;

/// The verification of an existing method detection limit. Made by `mdl_verification`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct MdlVerification {
    core: Core,
    recall: Recall,
}

#[pymethods]
impl MdlVerification {
    /// What follows; `reasons` says why.
    #[getter]
    fn decision(&self) -> &'static str {
        self.core.decision.name()
    }

    /// Every ground of the decision.
    #[getter]
    fn reasons(&self) -> Vec<&'static str> {
        self.core.reasons.iter().map(|reason| reason.name()).collect()
    }

    /// The grounds in words.
    #[getter]
    fn why(&self) -> String {
        self.core.reasons.iter().map(|reason| reason.title()).collect::<Vec<_>>().join("; ")
    }

    /// The limit that holds when nobody decides otherwise; None where it is undecided or to be determined anew.
    #[getter]
    fn limit(&self) -> Option<f64> {
        self.core.limit()
    }

    /// The limit in use.
    #[getter]
    fn existing(&self) -> f64 {
        self.core.setting.existing
    }

    /// The day of the verification.
    #[getter]
    fn as_of(&self) -> String {
        self.core.setting.as_of.to_string()
    }

    /// The limit of the data looked at; None when it could not be had.
    #[getter]
    fn verified(&self) -> Option<f64> {
        self.core.verified.value
    }

    /// MDL_S of the data looked at.
    #[getter(from_spikes)]
    fn part_from_spikes(&self) -> Option<f64> {
        self.core.verified.from_spikes.value
    }

    /// MDL_b of the data looked at; None where it does not apply.
    #[getter(from_blanks)]
    fn part_from_blanks(&self) -> Option<f64> {
        self.core.verified.from_blanks.value
    }

    /// What MDL_S rests on.
    #[getter]
    fn spikes(&self) -> MdlPart {
        MdlPart::from(&self.core.verified.from_spikes)
    }

    /// What MDL_b rests on.
    #[getter]
    fn blanks(&self) -> MdlPart {
        MdlPart::from(&self.core.verified.from_blanks)
    }

    /// Every requirement on the data, with its state.
    #[getter]
    fn design(&self) -> Vec<Requirement> {
        self.core.verified.design.iter().map(Requirement::from).collect()
    }

    /// Verified over existing limit; from 0.5 to 2.0 it may be kept.
    #[getter]
    fn ratio(&self) -> Option<f64> {
        self.core.ratio.map(|ratio| ratio.value)
    }

    /// Blanks with a number above the existing limit, and blanks looked at.
    #[getter]
    fn blanks_above(&self) -> (usize, usize) {
        (self.core.blanks_above, self.core.blanks)
    }

    /// Which rule picked the blanks: undated, twenty_four_months, six_months, fifty_latest.
    #[getter]
    fn blanks_taken(&self) -> &'static str {
        self.core.blanks_taken.name()
    }

    /// What was left out of the data, and how many results of each: too_old, before_change, later, undated,
    /// other_level, earlier_blanks.
    #[getter]
    fn left_out<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let left_out = &self.core.left_out;
        let dict = PyDict::new(py);
        dict.set_item("too_old", left_out.too_old)?;
        dict.set_item("before_change", left_out.before_change)?;
        dict.set_item("later", left_out.later)?;
        dict.set_item("undated", left_out.undated)?;
        dict.set_item("other_level", left_out.other_level)?;
        dict.set_item("earlier_blanks", left_out.earlier_blanks)?;
        Ok(dict)
    }

    /// The spiking level used; None where spikes have none.
    #[getter]
    fn level(&self) -> Option<f64> {
        self.core.level
    }

    /// The last day for this verification, 13 months after the last one; None without its day.
    #[getter]
    fn due(&self) -> Option<String> {
        self.core.due.map(|due| due.to_string())
    }

    /// What was noticed, the gravest first.
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
        let verified = self.core.verified.value.map_or("no value".to_owned(), |value| format!("{value:.4e}"));
        let decision = self.decision().replace('_', " ");
        format!("<MdlVerification {decision}: {verified} against {}>", self.existing())
    }
}

/// Recompute a method detection limit from the data of the last 24 months, and say whether the existing one may
/// stay.
///
/// It may where the recomputed one is within 0.5 to 2.0 times it and fewer than 3 % of the blanks are above it.
///
/// Args:
///     existing: the limit in use.
///     spikes, blanks: results as for `mdl`, in the unit of the limit.
///     as_of: day of the verification, YYYY-MM-DD or a date.
///     blank_window: which blanks enter: all of 24 months; or those of six months or the 50 most recent, whichever are
///         more.
///     level: spiking level used; that of the most recent spike when not given.
///     since: day since which a changed method is in use.
///     last: day of the last determination or verification.
///     t, rank_tie, many_blanks, numeric_blanks, percentile: as for `mdl`.
///
/// Raises:
///     ArgumentError: results, dates or words that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, section II (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
///     >>> blanks = [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003]
///     >>> gs.mdl_verification(0.0021, spikes, blanks, as_of="2026-03-01").decision
///     'may_keep'
#[pyfunction]
#[pyo3(signature = (existing, spikes, blanks, *, as_of, blank_window="twenty_four_months", level=None, since=None,
    last=None, t="exact", rank_tie="half_up", many_blanks="at_least_100", numeric_blanks="mean_plus_ts",
    percentile="rank"))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn mdl_verification(
    py: Python<'_>,
    existing: &Bound<'_, PyAny>,
    spikes: &Bound<'_, PyAny>,
    blanks: &Bound<'_, PyAny>,
    as_of: &Bound<'_, PyAny>,
    blank_window: &str,
    level: Option<f64>,
    since: Option<&Bound<'_, PyAny>>,
    last: Option<&Bound<'_, PyAny>>,
    t: &str,
    rank_tie: &str,
    many_blanks: &str,
    numeric_blanks: &str,
    percentile: &str,
) -> PyResult<MdlVerification> {
    const WINDOWS: [BlankWindow; 2] = [BlankWindow::TwentyFourMonths, BlankWindow::SixMonthsOrFifty];
    let existing = figure("existing", existing)?;
    let choices = [t, rank_tie, many_blanks, numeric_blanks, percentile];
    let setting = VerificationSetting {
        blanks: choice("blank_window", blank_window, &WINDOWS, BlankWindow::name).or_raise(py)?,
        level,
        since: since.map(date).transpose()?,
        last: last.map(date).transpose()?,
        options: readings(choices).or_raise(py)?,
        ..VerificationSetting::new(existing, date(as_of)?)
    };
    let (recall, all) = study(py, "mdl_verification", spikes, blanks)?;
    let core = py.detach(|| verify(&all, &setting)).or_raise(py)?;
    let day = |date: groundstate::detection::Date| date.to_string();
    let recall = with_readings(py, recall, choices)?
        .with(py, "existing", existing)?
        .with(py, "as_of", day(setting.as_of))?
        .with(py, "blank_window", blank_window)?
        .with_some(py, "level", level)?
        .with_some(py, "since", setting.since.map(day))?
        .with_some(py, "last", setting.last.map(day))?;
    Ok(MdlVerification { core, recall })
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlVerification>()?;
    module.add_function(wrap_pyfunction!(mdl_verification, module)?)
}
