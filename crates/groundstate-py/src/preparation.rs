//! From the measured solution back to the sample.

use std::sync::Arc;

use groundstate::Error;
use groundstate::finding::Subject;
use groundstate::glassware::{Dilution as CoreDilution, DilutionStep};
use groundstate::preparation::{Description, Portion, Portions, Preparation as Core, ReportBasis, Solids, Weighed};
use groundstate::unit::Unit;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString, PyTuple};

use crate::archive;
use crate::arrays::Numbers;
use crate::error::{OrRaise, raised, wrong_type};
use crate::estimates::{Estimate, Estimates, Origin};
use crate::finding::findings;
use crate::measured::{Factor, Measured};

/// A dilution as it was given.
#[derive(Clone, PartialEq)]
enum Given {
    Text(String),
    Steps(Vec<Step>),
}

#[derive(Clone, PartialEq)]
enum Step {
    Factor(Measured),
    Volumes(Measured, Measured),
}

impl Given {
    fn of(given: &Bound<'_, PyAny>) -> PyResult<Self> {
        const NAME: &str = "dilution";
        if let Ok(text) = given.extract::<String>() {
            return Ok(Given::Text(text));
        }
        if given.is_none() || given.hasattr("__len__")? {
            let step = |item: Bound<'_, PyAny>| match item.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>() {
                Ok((aliquot, flask)) if !item.is_instance_of::<PyString>() => {
                    Ok(Step::Volumes(Measured::of(NAME, &aliquot, None)?, Measured::of(NAME, &flask, None)?))
                }
                _ => Measured::of(NAME, &item, None).map(Step::Factor),
            };
            if given.is_instance_of::<PyDict>() || given.is_none() {
                return Err(wrong_type(NAME, given, "a factor, a chain of (aliquot_ml, flask_ml), or text"));
            }
            return Ok(Given::Steps(given.try_iter()?.map(|item| step(item?)).collect::<PyResult<_>>()?));
        }
        Ok(Given::Steps(vec![Step::Factor(Measured::of(NAME, given, None)?)]))
    }

    fn core(&self) -> Result<CoreDilution, Error> {
        match self {
            Given::Text(text) => CoreDilution::parse(text),
            Given::Steps(steps) => {
                let step = |step: &Step| match step {
                    Step::Factor(factor) => DilutionStep::factor(factor.core("dilution")?),
                    Step::Volumes(aliquot, flask) => {
                        DilutionStep::volumes(aliquot.core("dilution")?, flask.core("dilution")?)
                    }
                };
                CoreDilution::chain(steps.iter().map(step).collect::<Result<_, _>>()?)
            }
        }
    }

    fn to_python<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(match self {
            Given::Text(text) => PyString::new(py, text).into_any(),
            Given::Steps(steps) => {
                let step = |step: &Step| match step.clone() {
                    Step::Factor(factor) => Ok(Bound::new(py, factor)?.into_any()),
                    Step::Volumes(aliquot, flask) => Ok((aliquot, flask).into_pyobject(py)?.into_any()),
                };
                PyTuple::new(py, steps.iter().map(step).collect::<PyResult<Vec<_>>>()?)?.into_any()
            }
        })
    }
}

/// What was done to one portion of a sample, from weighing or measuring it to the solution that was aspirated.
///
/// Every contradiction and every open question is reported at once, as one ArgumentError.
///
/// Args:
///     mass_g: the portion of a solid, in g.
///     volume_ml: the portion of a liquid, in mL. Without either, the sample is the solution itself.
///     final_volume_ml: what the portion was made up to, in mL.
///     dilution: a factor; a chain of (aliquot_ml, flask_ml); or text such as "5/50;10/100", "1:5", "1+4".
///     percent_solids: of a solid, per cent of dry matter in the sample as received. It enters at most once.
///     weighed: of a solid, the state it was weighed in. There is no default.
///     report: of a solid, what the result refers to. There is no default.
///     extra: further factors.
///     mass_g_u, volume_ml_u, final_volume_ml_u, percent_solids_u: standard uncertainties in the unit of the figure,
///         where that is a plain number and not Measured.
///     dilution_relative_u: relative standard uncertainty of each step of the dilution.
///
/// Source:
///     SW-846 Method 7000B, 12.1.1 and 12.1.2; Method 6010D, 12.2; EPA 200.7, 12.
///
/// Example:
///     >>> import groundstate as gs
///     >>> gs.Preparation(mass_g=1.25, final_volume_ml=100, dilution="5/50", weighed="dry", report="dry")
///     <Preparation multiplier 800.0, mg/L to mg/kg>
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(Clone, PartialEq)]
pub struct Preparation {
    core: Core,
    mass: Option<Measured>,
    volume: Option<Measured>,
    final_volume: Option<Measured>,
    dilution: Option<Given>,
    dilution_u: Option<f64>,
    percent_solids: Option<Measured>,
    extra: Vec<Factor>,
}

type Any<'a, 'py> = Option<&'a Bound<'py, PyAny>>;

#[pymethods]
impl Preparation {
    /// Every property by name, as plain lists, words and figures; None where a figure is absent.
    fn to_dict<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        crate::package::plain(slf)
    }

    #[new]
    #[pyo3(signature = (*, mass_g=None, volume_ml=None, final_volume_ml=None, dilution=None, percent_solids=None,
        weighed=None, report=None, extra=None, mass_g_u=None, volume_ml_u=None, final_volume_ml_u=None,
        dilution_relative_u=None, percent_solids_u=None))]
    #[allow(clippy::too_many_arguments)] // a keyword each
    fn new(
        py: Python<'_>,
        mass_g: Any<'_, '_>,
        volume_ml: Any<'_, '_>,
        final_volume_ml: Any<'_, '_>,
        dilution: Any<'_, '_>,
        percent_solids: Any<'_, '_>,
        weighed: Option<&str>,
        report: Option<&str>,
        extra: Any<'_, '_>,
        mass_g_u: Any<'_, '_>,
        volume_ml_u: Any<'_, '_>,
        final_volume_ml_u: Any<'_, '_>,
        dilution_relative_u: Any<'_, '_>,
        percent_solids_u: Any<'_, '_>,
    ) -> PyResult<Self> {
        let mass = quantity("mass_g", mass_g, mass_g_u, py)?;
        let volume = quantity("volume_ml", volume_ml, volume_ml_u, py)?;
        let final_volume = quantity("final_volume_ml", final_volume_ml, final_volume_ml_u, py)?;
        let percent_solids = quantity("percent_solids", percent_solids, percent_solids_u, py)?;
        let dilution = dilution.map(Given::of).transpose()?;
        let dilution_u = Numbers::one_or_none("dilution_relative_u", dilution_relative_u)?;
        let extra = extra.map(factors).transpose()?.unwrap_or_default();
        let core = || -> Result<Core, Error> {
            let measured = |name: &str, given: &Option<Measured>| given.as_ref().map(|m| m.core(name)).transpose();
            let mut diluted = dilution.as_ref().map_or(Ok(CoreDilution::none()), Given::core)?;
            if let Some(relative) = dilution_u {
                diluted = diluted.with_relative_u(relative, None)?;
            }
            Core::new(Description {
                portion: Portion::of(measured("mass_g", &mass)?, measured("volume_ml", &volume)?)?,
                final_volume: measured("final_volume_ml", &final_volume)?,
                dilution: diluted,
                solids: percent_solids.as_ref().map(solids).transpose()?,
                weighed: weighed.map(Weighed::parse).transpose()?,
                report: report.map(ReportBasis::parse).transpose()?,
                extra: extra.iter().map(Factor::core).collect::<Result<_, _>>()?,
            })
        };
        let core = core().or_raise(py)?;
        Ok(Preparation { core, mass, volume, final_volume, dilution, dilution_u, percent_solids, extra })
    }

    /// What a concentration in the measured solution is multiplied by, before any change of unit.
    #[getter]
    fn multiplier(&self) -> f64 {
        self.core.multiplier()
    }

    /// Standard uncertainty of the multiplier.
    #[getter]
    fn multiplier_u(&self, py: Python<'_>) -> PyResult<f64> {
        Ok(self.core.uncertainty().or_raise(py)?.0)
    }

    /// Unit of the result of a solution measured in mg/L.
    #[getter]
    fn unit(&self, py: Python<'_>) -> PyResult<&'static str> {
        Ok(self.core.result_unit(Unit::MilligramPerLitre).or_raise(py)?.name())
    }

    /// What a reader of the result should know of its preparation.
    #[getter]
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        findings(py, self.core.findings(&Subject::Run))
    }

    /// Estimates of the measured solution turned into results of the sample.
    ///
    /// Args:
    ///     estimates: concentrations in the measured solution.
    ///     unit: of the results; mg/kg for a solid measured in mg/L when not given, and so on.
    ///     portions: "one", all estimates are of one portion and share its masses and volumes; "each", every estimate
    ///         is of a portion of its own that was prepared in this way. The uncertainties are the same, the
    ///         covariances are not. Named items and factors are shared in both.
    ///
    /// Raises:
    ///     UnitError: a unit that this kind of sample cannot have.
    ///
    /// Source:
    ///     JCGM 100:2008, 5.1.2 and 5.1.6.
    #[pyo3(signature = (estimates, unit=None, *, portions="one"))]
    fn apply<'py>(
        slf: &Bound<'py, Self>,
        estimates: &Bound<'py, PyAny>,
        unit: Option<&str>,
        portions: &str,
    ) -> PyResult<Bound<'py, PyAny>> {
        let (py, this) = (slf.py(), slf.get());
        let (given, single) = match (estimates.cast::<Estimates>(), estimates.cast::<Estimate>()) {
            (Ok(several), _) => (several.get().clone(), false),
            (_, Ok(one)) => (one.get().alone(), true),
            _ => return Err(wrong_type("estimates", estimates, "an Estimate or Estimates")),
        };
        let of = Portions::parse(portions).or_raise(py)?;
        let to = unit.map(Unit::parse).transpose().or_raise(py)?;
        let core = given.core(py)?;
        let prepared = py.detach(|| this.core.apply_to(&core, of, to)).or_raise(py)?;
        let mut noticed = given.noticed();
        noticed.extend(this.core.findings(&Subject::Run));
        let origin = given.origin_of_rows(py)?;
        let whole = given.into_python(py)?;
        let recipe = (archive::function(py, "_prepared")?, (slf, whole, unit, portions)).into_pyobject(py)?;
        let results = Estimates::new(Origin::Rows(Arc::new(prepared), noticed, recipe.unbind())).came_as(origin);
        if single { Estimate::first(&results).into_python(py) } else { results.into_python(py) }
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
        let named = PyDict::new(py);
        named.set_item("mass_g", self.mass.clone())?;
        named.set_item("volume_ml", self.volume.clone())?;
        named.set_item("final_volume_ml", self.final_volume.clone())?;
        named.set_item("dilution", self.dilution.as_ref().map(|given| given.to_python(py)).transpose()?)?;
        named.set_item("dilution_relative_u", self.dilution_u)?;
        named.set_item("percent_solids", self.percent_solids.clone())?;
        named.set_item("weighed", self.core.description().weighed.map(Weighed::name))?;
        named.set_item("report", self.core.description().report.map(ReportBasis::name))?;
        named.set_item("extra", self.extra.clone())?;
        Ok((PyTuple::empty(py), named))
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let (u, _) = self.core.uncertainty().or_raise(py)?;
        let multiplier = crate::calibration::beside(self.core.multiplier(), u);
        Ok(format!("<Preparation multiplier {multiplier}, mg/L to {}>", self.unit(py)?))
    }
}

fn quantity(name: &str, given: Any<'_, '_>, u: Any<'_, '_>, py: Python<'_>) -> PyResult<Option<Measured>> {
    match (given, u) {
        (Some(given), u) => Measured::of(name, given, u).map(Some),
        (None, None) => Ok(None),
        (None, Some(_)) => {
            let what = format!("it is given without {name}");
            Err(raised(py, Error::argument(&format!("{name}_u"), what)))
        }
    }
}

fn solids(percent: &Measured) -> Result<Solids, Error> {
    // Checks the range in per cent, which a message about a fraction would not speak of.
    Solids::percent(percent.value(), 0.0)?;
    Solids::fraction_of(percent.core_in("percent_solids", 100.0)?)
}

fn factors(given: &Bound<'_, PyAny>) -> PyResult<Vec<Factor>> {
    let factor = |item: &Bound<'_, PyAny>| match item.cast::<Factor>() {
        Ok(factor) => Ok(factor.get().clone()),
        Err(_) => Err(wrong_type("extra", item, "a Factor or a sequence of them")),
    };
    match given.cast::<Factor>() {
        Ok(one) => Ok(vec![one.get().clone()]),
        Err(_) if given.hasattr("__len__")? && !given.is_instance_of::<PyString>() => {
            given.try_iter()?.map(|item| factor(&item?)).collect()
        }
        Err(_) => Err(wrong_type("extra", given, "a Factor or a sequence of them")),
    }
}

/// What `Preparation.apply` gives, for pickles to name.
#[pyfunction]
fn _prepared<'py>(
    preparation: &Bound<'py, Preparation>,
    estimates: &Bound<'py, PyAny>,
    unit: Option<&str>,
    portions: &str,
) -> PyResult<Bound<'py, PyAny>> {
    Preparation::apply(preparation, estimates, unit, portions)
}

/// Adds the class.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<Preparation>()?;
    module.add_function(wrap_pyfunction!(_prepared, module)?)
}
