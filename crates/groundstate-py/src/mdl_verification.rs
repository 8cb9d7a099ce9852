//! The yearly verification of a method detection limit.

use groundstate::Error;
use groundstate::detection::mdl::{BlankWindow, MdlKind, Verification as Core, VerificationSetting, verify};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::finding::findings;
use crate::mdl::{Mdl, MdlPart, MdlResult, Requirement, choice, date, readings, results};
use crate::recall::Recall;

/// The verification of an existing method detection limit. Made by `mdl_verification`.
#[pyclass(frozen, eq, module = "groundstate")]
pub struct MdlVerification {
    core: Core,
    recall: Recall,
}

impl PartialEq for MdlVerification {
    fn eq(&self, other: &Self) -> bool {
        self.core == other.core
    }
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
///     blank_window: which blanks enter.
///     level: spiking level used; that of the most recent spike when not given.
///     since: day since which a changed method is in use.
///     last: day of the last determination or verification.
///     t, rank_tie, many_blanks, numeric_blanks: readings of the rule where it is silent or says two things.
///
/// Raises:
///     ArgumentError: results, dates or words that cannot be understood.
///
/// Source:
///     40 CFR Part 136, Appendix B, Revision 2, (3) and (4).
///
/// Example:
///     >>> import groundstate as gs
///     >>> spikes = [0.0041, 0.0048, 0.0052, 0.0039, 0.0045, 0.0050, 0.0044]
///     >>> blanks = [0.0003, -0.0001, 0.0004, 0.0002, gs.ND, 0.0001, 0.0003]
///     >>> gs.mdl_verification(0.0021, spikes, blanks, as_of="2026-03-01").decision
///     'may_keep'
#[pyfunction]
#[pyo3(signature = (existing, spikes, blanks, *, as_of, blank_window="twenty_four_months", level=None, since=None,
    last=None, t="exact", rank_tie="half_up", many_blanks="at_least_100", numeric_blanks="mean_plus_ts"))]
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
) -> PyResult<MdlVerification> {
    const WINDOWS: [BlankWindow; 2] = [BlankWindow::TwentyFourMonths, BlankWindow::SixMonthsOrFifty];
    let existing = match existing.cast::<Mdl>() {
        Ok(limit) => limit.get().figure().ok_or_else(|| {
            raised(py, Error::argument("existing", "this limit has no value").help("its findings say why"))
        })?,
        Err(_) => Numbers::one("existing", existing)?,
    };
    let setting = VerificationSetting {
        blanks: choice("blank_window", blank_window, &WINDOWS, BlankWindow::name).or_raise(py)?,
        level,
        since: since.map(date).transpose()?,
        last: last.map(date).transpose()?,
        options: readings([t, rank_tie, many_blanks, numeric_blanks]).or_raise(py)?,
        ..VerificationSetting::new(existing, date(as_of)?)
    };
    let spikes = results("spikes", MdlKind::Spike, spikes)?;
    let blanks = results("blanks", MdlKind::Blank, blanks)?;
    let all: Vec<_> = spikes.iter().chain(&blanks).cloned().collect();
    let core = py.detach(|| verify(&all, &setting)).or_raise(py)?;
    let day = |date: groundstate::detection::Date| date.to_string();
    let recall = Recall::new(py, "mdl_verification")
        .with(py, "existing", existing)?
        .with(py, "spikes", PyTuple::new(py, spikes.into_iter().map(MdlResult))?)?
        .with(py, "blanks", PyTuple::new(py, blanks.into_iter().map(MdlResult))?)?
        .with(py, "as_of", day(setting.as_of))?
        .with(py, "blank_window", blank_window)?
        .with_some(py, "level", level)?
        .with_some(py, "since", setting.since.map(day))?
        .with_some(py, "last", setting.last.map(day))?
        .with(py, "t", t)?
        .with(py, "rank_tie", rank_tie)?
        .with(py, "many_blanks", many_blanks)?
        .with(py, "numeric_blanks", numeric_blanks)?;
    Ok(MdlVerification { core, recall })
}

/// Adds the class and the function.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<MdlVerification>()?;
    module.add_function(wrap_pyfunction!(mdl_verification, module)?)
}
