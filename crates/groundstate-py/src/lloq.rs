//! Verification of a lower limit of quantitation, and instrument detection limits.

use groundstate::Error;
use groundstate::detection::LimitCheck;
use groundstate::detection::idl::{Idl as CoreIdl, IdlDay, idl_200, idl_6010d, idl_7000b};
use groundstate::detection::lloq::{LloqRule, LloqStudy, LloqVerification as Core, verify};
use groundstate::detection::mdl::{MdlKind, MdlResult as CoreResult};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::finding::findings;
use crate::mdl::Requirement;
use crate::mdl_result::{MdlResult, date, results};
use crate::package;
use crate::recall::Recall;

fn requirements(checks: &[LimitCheck]) -> Vec<Requirement> {
    checks.iter().map(Requirement::from).collect()
}

/// A lower limit of quantitation and whether it holds. Made by `lloq_verification`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct LloqVerification {
    core: Core,
    recall: Recall,
}

#[pymethods]
impl LloqVerification {
    /// All requirements together.
    #[getter]
    fn verdict(&self) -> &'static str {
        self.core.verdict.name()
    }

    /// Whose rule.
    #[getter]
    fn rule(&self) -> &'static str {
        self.core.rule.name()
    }

    /// Where it stands.
    #[getter]
    fn citation(&self) -> String {
        self.core.rule.citation().to_string()
    }

    /// The limit.
    #[getter]
    fn lloq(&self) -> f64 {
        self.core.lloq
    }

    /// Recovery of each sample in percent; None for a non-detect or a missing result.
    #[getter]
    fn recoveries(&self) -> Vec<Option<f64>> {
        self.core.recoveries.clone()
    }

    /// Mean recovery in percent, of the samples that gave a number.
    #[getter]
    fn mean_recovery(&self) -> Option<f64> {
        self.core.mean_recovery
    }

    /// Relative standard deviation in percent.
    #[getter]
    fn rsd(&self) -> Option<f64> {
        self.core.rsd
    }

    /// Every requirement with its state.
    #[getter]
    fn requirements(&self) -> Vec<Requirement> {
        requirements(&self.core.checks)
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
        let verdict = self.verdict().replace('_', " ");
        format!("<LloqVerification {} by {}: {verdict}>", self.core.lloq, self.core.rule.name())
    }
}

/// Judge samples spiked at a lower limit of quantitation and taken through the whole method.
///
/// A non-detect at the limit is a failure.
///
/// Args:
///     lloq: the limit.
///     found: results as for `mdl`.
///     rule: sw846_7000b: each recovers 70 to 130 %. sw846_6010d: at least seven, mean recovery 65 to 135 %, relative
///         standard deviation below 20 %. sw846_8000d: spiked at 0.5 to 2 times the limit, each within the limits of
///         the control sample widened by 20.
///     spiked: concentration spiked, the limit itself when not given.
///     lowest_standard: the lowest standard above zero, which the limit must not lie below.
///     lcs: of sw846_8000d: limits of the control sample in percent.
///
/// Raises:
///     ArgumentError: concentrations, results or words that cannot be understood.
///
/// Source:
///     SW-846 Methods 7000B, 10.2.3; 6010D; 8000D, 9.7.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.lloq_verification(0.1, [0.071, 0.13], lowest_standard=0.1)
///     <LloqVerification 0.1 by sw846_7000b: met>
#[pyfunction]
#[pyo3(signature = (lloq, found, *, rule="sw846_7000b", spiked=None, lowest_standard=None, lcs=None))]
fn lloq_verification(
    py: Python<'_>,
    lloq: f64,
    found: &Bound<'_, PyAny>,
    rule: &str,
    spiked: Option<f64>,
    lowest_standard: Option<f64>,
    lcs: Option<(f64, f64)>,
) -> PyResult<LloqVerification> {
    let rule_of = match (rule, lcs) {
        ("sw846_8000d", Some((lcs_low, lcs_high))) => LloqRule::Sw8000d { lcs_low, lcs_high },
        ("sw846_8000d", None) => {
            let error = Error::argument("lcs", "this rule widens the limits of the control sample");
            return Err(raised(py, error.help("give their recoveries in percent, as in (80, 120)")));
        }
        (_, Some(_)) => return Err(raised(py, Error::argument("lcs", "only the rule sw846_8000d uses these limits"))),
        ("sw846_7000b", None) => LloqRule::Sw7000b,
        ("sw846_6010d", None) => LloqRule::Sw6010d,
        _ => {
            let error = Error::argument("rule", format!("there is no rule {rule:?}"));
            return Err(raised(py, error.help("it is one of sw846_7000b, sw846_6010d, sw846_8000d")));
        }
    };
    let all: Vec<CoreResult> = results("found", MdlKind::Spike, found)?;
    let values: Vec<_> = all.iter().map(|result| result.measured).collect();
    let study = LloqStudy { lloq, spiked, found: &values, lowest_standard };
    let core = verify(&study, rule_of).or_raise(py)?;
    let recall = Recall::new(py, "lloq_verification")
        .with(py, "lloq", lloq)?
        .with(py, "found", PyTuple::new(py, all.into_iter().map(MdlResult))?)?
        .with(py, "rule", rule)?
        .with_some(py, "spiked", spiked)?
        .with_some(py, "lowest_standard", lowest_standard)?
        .with_some(py, "lcs", lcs)?;
    Ok(LloqVerification { core, recall })
}

/// An instrument detection limit by a named recipe. Made by `idl`. No method detection limit.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct Idl {
    core: CoreIdl,
    recall: Recall,
}

#[pymethods]
impl Idl {
    /// The limit in the unit of the readings; None when a standard deviation could not be had.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.core.value
    }

    /// Stable name of the recipe's definition: idl_7000b, idl_6010d, idl_200.
    #[getter]
    fn definition(&self) -> &'static str {
        self.core.definition.name()
    }

    /// The limit in words.
    #[getter]
    fn title(&self) -> &'static str {
        self.core.definition.title()
    }

    /// Where the recipe stands.
    #[getter]
    fn citation(&self) -> String {
        self.core.definition.citation().to_string()
    }

    /// Standard deviations that it was made of, one for each day.
    #[getter]
    fn standard_deviations(&self) -> Vec<f64> {
        self.core.standard_deviations.clone()
    }

    /// The mean that entered it, 0 when negative; None where no mean does.
    #[getter]
    fn mean_used(&self) -> Option<f64> {
        self.core.mean_used
    }

    /// Every requirement with its state.
    #[getter]
    fn requirements(&self) -> Vec<Requirement> {
        requirements(&self.core.checks)
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
        let value = self.core.value.map_or("no value".to_owned(), |value| format!("{value:.4e}"));
        format!("<Idl {value}, {}>", self.core.definition.title())
    }
}

/// The instrument detection limit of readings of a blank. There is no default recipe: they differ threefold.
///
/// Args:
///     readings: readings in concentration; of sw846_7000b of shape (days, readings), of the others (n,). NaN is a
///         missing reading.
///     recipe: sw846_7000b: the average of the standard deviations of seven readings on each of three days that do not
///         follow one another. sw846_6010d: mean (0 when negative) plus three standard deviations of ten readings.
///         epa_200: three standard deviations.
///     dates: of sw846_7000b: the days, YYYY-MM-DD or dates.
///
/// Raises:
///     ArgumentError: readings, dates or words that cannot be understood.
///
/// Source:
///     SW-846 Methods 7000B, 9.3, and 6010D, 9.3; EPA Methods 200.7 and 200.9 (from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.idl([0.002, 0.001, 0.003, 0.002, 0.001, 0.002, 0.003, 0.002, 0.001, 0.003], recipe="sw846_6010d")
///     <Idl 4.4495e-3, instrument detection limit (6010D)>
#[pyfunction]
#[pyo3(signature = (readings, *, recipe, dates=None))]
fn idl(
    py: Python<'_>,
    readings: &Bound<'_, PyAny>,
    recipe: &str,
    dates: Option<Vec<Bound<'_, PyAny>>>,
) -> PyResult<Idl> {
    let numbers = Numbers::of("readings", readings)?;
    let days: Vec<_> = dates.iter().flatten().map(date).collect::<PyResult<_>>()?;
    let mut recall = Recall::new(py, "idl").with_numbers(py, "readings", &numbers)?.with(py, "recipe", recipe)?;
    if dates.is_some() {
        let words = days.iter().map(ToString::to_string);
        recall = recall.with(py, "dates", PyTuple::new(py, words.collect::<Vec<_>>())?)?;
    }
    let core = match recipe {
        "sw846_7000b" => {
            let width = numbers.width().unwrap_or_else(|| numbers.as_slice().map_or(0, <[f64]>::len)).max(1);
            let rows: Vec<&[f64]> = numbers.as_slice()?.chunks(width).collect();
            if dates.is_some() && days.len() != rows.len() {
                let what = format!("{} dates for {} days of readings", days.len(), rows.len());
                return Err(raised(py, Error::argument("dates", what)));
            }
            let day = |(i, row): (usize, &&[f64])| IdlDay { date: days.get(i).copied(), readings: row.to_vec() };
            idl_7000b(&rows.iter().enumerate().map(day).collect::<Vec<_>>())
        }
        _ if dates.is_some() => Err(Error::argument("dates", "only the recipe sw846_7000b asks for dates")),
        "sw846_6010d" => idl_6010d(numbers.flat("readings", py)?),
        "epa_200" => idl_200(numbers.flat("readings", py)?),
        _ => Err(Error::argument("recipe", format!("there is no recipe {recipe:?}"))
            .help("it is one of sw846_7000b, sw846_6010d, epa_200")),
    };
    Ok(Idl { core: core.or_raise(py)?, recall })
}

/// Adds the classes and functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<LloqVerification>()?;
    module.add_class::<Idl>()?;
    module.add_function(wrap_pyfunction!(lloq_verification, module)?)?;
    module.add_function(wrap_pyfunction!(idl, module)?)
}
