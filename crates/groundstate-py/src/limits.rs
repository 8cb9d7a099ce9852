//! Limits that follow from a calibration.

use groundstate::Error;
use groundstate::curve::Calibration as CoreCalibration;
use groundstate::detection::from_calibration::BlankReading;
use groundstate::detection::{
    CalibrationLimit as Core, LimitMethod, LimitOptions, critical_value as core_critical,
    detection_limit as core_detection, quantitation_limit as core_quantitation,
};
use groundstate::estimate::Dof;
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::arrays::Numbers;
use crate::error::{OrRaise, raised};
use crate::finding::findings;
use crate::matrix::calibration;
use crate::package;
use crate::recall::Recall;

/// A limit that follows from a calibration, with the definition that it follows.
///
/// It rests on readings of standards or blanks, not on samples that went through the procedure: no method detection
/// limit. Two limits under one short name may differ by a factor of ten; read `definition` and `role`.
#[pyclass(frozen, eq, module = "groundstate")]
#[derive(PartialEq)]
pub struct CalibrationLimit {
    core: Core,
    method: LimitMethod,
    recall: Recall,
}

#[pymethods]
impl CalibrationLimit {
    /// The limit in `unit`, for the measured solution; None when there is none, which a finding explains.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.core.value
    }

    /// Unit of the calibration.
    #[getter]
    fn unit(&self) -> &'static str {
        self.core.unit.name()
    }

    /// Whose definition it follows.
    #[getter]
    fn method(&self) -> &'static str {
        self.method.name()
    }

    /// Stable name of the definition.
    #[getter]
    fn definition(&self) -> &'static str {
        self.core.definition.name()
    }

    /// The limit in words.
    #[getter]
    fn title(&self) -> &'static str {
        self.core.definition.title()
    }

    /// Whether it decides on a result, describes what is found, or says from where on a figure is a figure.
    #[getter]
    fn role(&self) -> &'static str {
        self.core.role().name()
    }

    /// Where the definition stands.
    #[getter]
    fn citation(&self) -> String {
        self.core.definition.citation().to_string()
    }

    /// The signal that belongs to it: of a critical value, that above which a signal speaks against a blank.
    #[getter]
    fn signal(&self) -> Option<f64> {
        self.core.signal
    }

    /// Standard deviation of a signal at zero less the curve (or the mean of the blanks) there, in the signal's
    /// unit.
    #[getter]
    fn sd_at_zero(&self) -> f64 {
        self.core.sd_at_zero
    }

    /// Its degrees of freedom.
    #[getter]
    fn dof(&self) -> f64 {
        self.core.dof.get()
    }

    /// What the standard deviation is multiplied with: t, the noncentrality, the sum of two t, k, or k t.
    #[getter]
    fn factor(&self) -> f64 {
        self.core.factor
    }

    /// Probability of a false detection.
    #[getter]
    fn alpha(&self) -> f64 {
        self.core.alpha
    }

    /// Probability of missing the detection limit; None where it does not enter.
    #[getter]
    fn beta(&self) -> Option<f64> {
        self.core.beta
    }

    /// 95 % interval of a detection limit, as its standard deviation is an estimate; None of other limits, and
    /// where the degrees of freedom are infinite.
    #[getter]
    fn interval(&self) -> Option<(f64, f64)> {
        self.core.interval
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
        let value = self.core.value.map_or("no value".to_owned(), |value| format!("{value:.4e} {}", self.unit()));
        format!("<CalibrationLimit {value}, {}>", self.title())
    }
}

/// What Python gave to one of the three functions.
struct Given<'a, 'py> {
    calibration: &'a Bound<'py, PyAny>,
    method: &'a str,
    alpha: Option<f64>,
    beta: Option<f64>,
    k: Option<f64>,
    replicates: u32,
    preparations: u32,
    reading_u: Option<f64>,
    blanks: Option<&'a Bound<'py, PyAny>>,
}

type Computation = fn(&CoreCalibration, &LimitOptions) -> Result<Core, Error>;

impl Given<'_, '_> {
    fn limit(self, function: &'static str, compute: Computation) -> PyResult<CalibrationLimit> {
        let py = self.calibration.py();
        let method = LimitMethod::parse(self.method).or_raise(py)?;
        let usual = LimitOptions::of(method);
        let mut recall = Recall::new(py, function)
            .with(py, "calibration", self.calibration)?
            .with(py, "method", self.method)?
            .with_some(py, "alpha", self.alpha)?
            .with_some(py, "beta", self.beta)?
            .with_some(py, "k", self.k)?
            .with(py, "replicates", self.replicates)?
            .with(py, "preparations", self.preparations)?
            .with_some(py, "reading_u", self.reading_u)?;
        let blank = match (self.reading_u, self.blanks) {
            (Some(_), Some(_)) => {
                let what = "either a standard uncertainty of a reading or blanks can be used, not both";
                return Err(raised(py, Error::argument("reading_u", what)));
            }
            (Some(u), None) => BlankReading::Known { u, dof: Dof::INFINITE },
            (None, Some(given)) => {
                let numbers = Numbers::of("blanks", given)?;
                recall = recall.with_numbers(py, "blanks", &numbers)?;
                BlankReading::Blanks(numbers.flat("blanks", py)?.to_vec())
            }
            (None, None) => BlankReading::Model,
        };
        let options = LimitOptions {
            method,
            alpha: self.alpha.unwrap_or(usual.alpha),
            beta: self.beta.unwrap_or(usual.beta),
            readings: self.replicates,
            preparations: self.preparations,
            k: self.k.unwrap_or(usual.k),
            blank,
        };
        let calibration = calibration("calibration", self.calibration)?.get();
        let core = py.detach(|| compute(calibration.core(), &options)).or_raise(py)?;
        Ok(CalibrationLimit { core, method, recall })
    }
}

/// The least concentration found that speaks against a blank: Currie's L_C, the critical value of ISO 11843-2, the
/// Nachweisgrenze of DIN 32645.
///
/// Args:
///     calibration: the calibration that the sample is read from.
///     method: whose definition it follows.
///     alpha: probability that a blank is taken for a sample; 0.05, for DIN 0.01, when not given.
///     replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
///     reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
///     blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
///         calibration lends its slope alone.
///
/// Raises:
///     ArgumentError: a probability or number out of range.
///
/// Source:
///     L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; ISO 11843-2; DIN 32645 (formulas from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
///     >>> gs.critical_value(cal)
///     <CalibrationLimit 1.2296e-2 mg/L, critical level (Currie)>
#[pyfunction]
#[pyo3(signature = (calibration, *, method="currie", alpha=None, replicates=1, preparations=1, reading_u=None,
    blanks=None))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn critical_value(
    calibration: &Bound<'_, PyAny>,
    method: &str,
    alpha: Option<f64>,
    replicates: u32,
    preparations: u32,
    reading_u: Option<f64>,
    blanks: Option<&Bound<'_, PyAny>>,
) -> PyResult<CalibrationLimit> {
    let (beta, k) = (None, None);
    let given = Given { calibration, method, alpha, beta, k, replicates, preparations, reading_u, blanks };
    given.limit("critical_value", core_critical)
}

/// The least true concentration that is found with probability 1 - beta: Currie's L_D, the minimum detectable
/// value of ISO 11843-2, the Erfassungsgrenze of DIN 32645.
///
/// It describes the measurement; no result is compared with it.
///
/// Args:
///     calibration: the calibration that samples are read from.
///     method: whose definition it follows.
///     alpha: probability that a blank is taken for a sample; 0.05, for DIN 0.01, when not given.
///     beta: probability that a sample at the limit is taken for a blank; as alpha when not given.
///     replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
///     reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
///     blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
///         calibration lends its slope alone.
///
/// Raises:
///     ArgumentError: a probability or number out of range.
///
/// Source:
///     L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; ISO 11843-2; DIN 32645 (formulas from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
///     >>> gs.detection_limit(cal)
///     <CalibrationLimit 2.3284e-2 mg/L, detection limit (Currie)>
#[pyfunction]
#[pyo3(signature = (calibration, *, method="currie", alpha=None, beta=None, replicates=1, preparations=1,
    reading_u=None, blanks=None))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn detection_limit(
    calibration: &Bound<'_, PyAny>,
    method: &str,
    alpha: Option<f64>,
    beta: Option<f64>,
    replicates: u32,
    preparations: u32,
    reading_u: Option<f64>,
    blanks: Option<&Bound<'_, PyAny>>,
) -> PyResult<CalibrationLimit> {
    let given = Given { calibration, method, alpha, beta, k: None, replicates, preparations, reading_u, blanks };
    given.limit("detection_limit", core_detection)
}

/// The least concentration with a stated relative uncertainty: Currie's L_Q, the Bestimmungsgrenze of DIN 32645.
///
/// Args:
///     calibration: the calibration that samples are read from.
///     method: whose definition it follows; ISO 11843 has no such limit.
///     alpha: significance of DIN's interval; 0.01 when not given.
///     k: reciprocal of that uncertainty; 10, for DIN 3 (of the half-width of the interval), when not given.
///     replicates, preparations: how many readings of how many preparations a sample's signal is the mean of.
///     reading_u: standard uncertainty of the sample's signal as it is compared, in place of the noise model's.
///     blanks: signals of replicate blanks, shape (n,): the limit then rests on their scatter and mean, and the
///         calibration lends its slope alone.
///
/// Raises:
///     ArgumentError: a probability or number out of range.
///     NotAvailableError: a definition that has no such limit.
///
/// Source:
///     L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; DIN 32645 (formulas from memory).
///
/// Example:
///     >>> import groundstate as gs
///     >>> cal = gs.calibrate([0, 0.5, 1, 2, 3], [0.0004, 0.1063, 0.2119, 0.4218, 0.6302])
///     >>> gs.quantitation_limit(cal)
///     <CalibrationLimit 5.1848e-2 mg/L, quantification limit (Currie)>
#[pyfunction]
#[pyo3(signature = (calibration, *, method="currie", alpha=None, k=None, replicates=1, preparations=1,
    reading_u=None, blanks=None))]
#[allow(clippy::too_many_arguments)] // a keyword each
fn quantitation_limit(
    calibration: &Bound<'_, PyAny>,
    method: &str,
    alpha: Option<f64>,
    k: Option<f64>,
    replicates: u32,
    preparations: u32,
    reading_u: Option<f64>,
    blanks: Option<&Bound<'_, PyAny>>,
) -> PyResult<CalibrationLimit> {
    let given = Given { calibration, method, alpha, beta: None, k, replicates, preparations, reading_u, blanks };
    given.limit("quantitation_limit", core_quantitation)
}

/// Adds the class and the functions.
pub fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add_class::<CalibrationLimit>()?;
    module.add_function(wrap_pyfunction!(critical_value, module)?)?;
    module.add_function(wrap_pyfunction!(detection_limit, module)?)?;
    module.add_function(wrap_pyfunction!(quantitation_limit, module)?)
}
