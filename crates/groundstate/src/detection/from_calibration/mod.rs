//! Limits that follow from a calibration: how large a reading must be to speak against a blank, how much must be there
//! to be found, and from where on a figure is a figure.
//!
//! None of them is a method detection limit: what they rest on are readings of standards or blanks, not samples that
//! went through the procedure. The standards' formulas are written for an unweighted line. They are reproduced exactly
//! there, and meant as follows for any other curve f with slope f':
//!
//! - the **critical value** is the concentration whose signal is y_c = f(0) + t(1 - alpha) s0, where s0 is the standard
//!   deviation of a signal at zero less the curve there;
//! - the **detection limit** is the least concentration whose signal falls below y_c with probability beta;
//! - the **quantitation limit** is the least concentration x with x = k u(x) (Currie) or x = k t u(x) (DIN 32645).
//!
//! ```
//! use groundstate::curve::{Calibration, FitOptions, Points};
//! use groundstate::detection::from_calibration::{LimitMethod, LimitOptions, critical_value, detection_limit};
//! let points = Points::from_readings(&[0.0, 0.1, 0.2, 0.3, 0.4], &[0.0006, 0.0242, 0.0487, 0.0719, 0.0966])?;
//! let calibration = Calibration::fit(&points, &FitOptions::default())?;
//! let options = LimitOptions::of(LimitMethod::Din32645);
//! let decision = critical_value(&calibration, &options)?;
//! let detection = detection_limit(&calibration, &options)?;
//! assert_eq!(decision.definition.name(), "din32645");
//! // With alpha = beta the identification limit is twice the detection limit of this standard.
//! let ratio = detection.value.unwrap() / decision.value.unwrap();
//! assert!((ratio - 2.0).abs() < 1e-9);
//! # Ok::<(), groundstate::Error>(())
//! ```

pub mod currie;
mod net;
mod options;
mod solve;

pub use options::{BlankReading, LimitMethod, LimitOptions};

use super::{LimitDefinition, LimitRole};
use crate::curve::Calibration;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Dof;
use crate::finding::{Citation, Code, Finding, Subject};
use crate::numeric::distribution::{chi_squared, student_t};
use crate::unit::Unit;
use net::Net;

/// A limit that follows from a calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationLimit {
    /// The limit in [`CalibrationLimit::unit`], for the measured solution; `None` when there is none, which a finding
    /// explains.
    pub value: Option<f64>,
    /// Unit of the calibration.
    pub unit: Unit,
    /// The definition it follows.
    pub definition: LimitDefinition,
    /// The signal that belongs to it: of a critical value the response above which a sample's signal speaks against a
    /// blank.
    pub signal: Option<f64>,
    /// Standard deviation s0 of a signal at zero less the curve (or the mean of the blanks) there, in units of the
    /// signal.
    pub sd_at_zero: f64,
    /// Its degrees of freedom.
    pub dof: Dof,
    /// What the standard deviation is multiplied with: t, the noncentrality delta, the sum of two t, k, or k t.
    /// Where the scatter changes with concentration, that of equal scatter.
    pub factor: f64,
    /// Probability of a false detection.
    pub alpha: f64,
    /// Probability of missing the detection limit; `None` where it does not enter.
    pub beta: Option<f64>,
    /// 95 % interval of the limit, as s0 is an estimate of the true standard deviation that it stands for: chi-squared
    /// with equal tails. Only of detection limits, and only where the degrees of freedom are finite.
    pub interval: Option<(f64, f64)>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// The least concentration found that speaks against a blank: Currie's L_C, the critical value of ISO 11843-2, the
/// Nachweisgrenze of DIN 32645. With n readings of the standards, m of the sample and an unweighted line,
/// t(1 - alpha; n - 2) (s/b) sqrt(1/m + 1/n + x̄²/Sxx), t one-sided.
///
/// # Errors
/// Options that have no meaning; a noise model that says nothing of a reading at zero, without [`BlankReading`].
pub fn critical_value(calibration: &Calibration, options: &LimitOptions) -> Result<CalibrationLimit, Error> {
    let net = Net::of(calibration, options)?;
    let definition = match options.method {
        LimitMethod::Currie => LimitDefinition::CurrieCritical,
        LimitMethod::Iso11843 => LimitDefinition::Iso11843Critical,
        LimitMethod::Din32645 => LimitDefinition::Din32645,
    };
    let mut limit = started(calibration, options, definition, &net);
    limit.factor = student_t::upper_quantile(options.alpha, limit.dof.get());
    let found = usable(calibration, &net).and_then(|()| solve::critical(calibration, &net, options));
    Ok(finished(limit, calibration, options, found))
}

/// The least true concentration that is found with probability 1 - beta: Currie's L_D and the minimum detectable value
/// of ISO 11843-2 (delta(nu; alpha; beta) in place of t, from the non-central t distribution), the Erfassungsgrenze of
/// DIN 32645 (t(1 - alpha) + t(1 - beta)). It describes the measurement; no result is compared with it.
///
/// # Errors
/// As [`critical_value`].
pub fn detection_limit(calibration: &Calibration, options: &LimitOptions) -> Result<CalibrationLimit, Error> {
    let net = Net::of(calibration, options)?;
    let definition = match options.method {
        LimitMethod::Currie => LimitDefinition::CurrieDetection,
        LimitMethod::Iso11843 => LimitDefinition::Iso11843,
        LimitMethod::Din32645 => LimitDefinition::Din32645Identification,
    };
    let mut limit = started(calibration, options, definition, &net);
    limit.beta = Some(options.beta);
    limit.factor = solve::detection_factor(options, limit.dof);
    let found = usable(calibration, &net).and_then(|()| solve::detection(calibration, &net, options, 1.0));
    if let (Ok(_), false) = (&found, limit.dof.is_infinite()) {
        let nu = limit.dof.get();
        let at = |chi_squared: f64| solve::detection(calibration, &net, options, (nu / chi_squared).sqrt()).ok();
        limit.interval = at(chi_squared::upper_quantile(0.025, nu)).zip(at(chi_squared::quantile(0.025, nu)));
    }
    Ok(finished(limit, calibration, options, found))
}

/// The least concentration with a stated relative uncertainty: Currie's L_Q (x = k u, k = 10, a relative standard
/// deviation of 10 %) or the Bestimmungsgrenze of DIN 32645 (x = k t(1 - alpha/2) u, t two-sided, k = 3: a half-width
/// of a third of the value). u is that of the concentration at the limit itself, curve and reading together.
///
/// # Errors
/// As [`critical_value`]; ISO 11843 has no such limit.
pub fn quantitation_limit(calibration: &Calibration, options: &LimitOptions) -> Result<CalibrationLimit, Error> {
    let definition = match options.method {
        LimitMethod::Currie => LimitDefinition::CurrieQuantitation,
        LimitMethod::Din32645 => LimitDefinition::Din32645Quantitation,
        LimitMethod::Iso11843 => {
            let problem = Problem::new(Place::named("method"), "ISO 11843 defines no quantitation limit");
            return Err(Error::new(Kind::NotAvailable, problem.help("use currie or din32645")));
        }
    };
    let net = Net::of(calibration, options)?;
    let mut limit = started(calibration, options, definition, &net);
    limit.factor = options.k * solve::two_sided(options, limit.dof);
    let found = usable(calibration, &net).and_then(|()| solve::quantitation(calibration, &net, options));
    Ok(finished(limit, calibration, options, found))
}

fn started(
    calibration: &Calibration,
    options: &LimitOptions,
    definition: LimitDefinition,
    net: &Net<'_>,
) -> CalibrationLimit {
    let (variance, dof) = net.at_zero();
    CalibrationLimit {
        value: None,
        unit: calibration.unit(),
        definition,
        signal: None,
        sd_at_zero: variance.sqrt(),
        dof,
        factor: f64::NAN,
        alpha: options.alpha,
        beta: None,
        interval: None,
        findings: Vec::new(),
    }
}

/// Whether there is anything to make a limit of.
fn usable(calibration: &Calibration, net: &Net<'_>) -> Result<(), &'static str> {
    let (variance, dof) = net.at_zero();
    if !calibration.serves() || calibration.kernel.slope(0.0) <= 0.0 {
        Err("the curve does not rise from zero on")
    } else if dof.get() <= 0.0 || variance.is_nan() {
        Err("no degree of freedom is left to estimate the scatter with")
    } else if variance <= 0.0 {
        Err("there is no scatter, and everything exceeds a limit of 0")
    } else {
        Ok(())
    }
}

fn finished(
    mut limit: CalibrationLimit,
    calibration: &Calibration,
    options: &LimitOptions,
    found: Result<f64, &'static str>,
) -> CalibrationLimit {
    let title = limit.definition.title();
    let mut note = |finding: Finding| limit.findings.push(finding);
    let about = |code| Finding::new(code, Subject::Calibration(1)).with("limit", title);
    match found {
        Ok(x) => {
            limit.value = Some(x);
            limit.signal = Some(calibration.kernel.signal(x));
            if x > calibration.top() {
                let finding = about(Code::LimitAboveTop).with("value", x).with("unit", calibration.unit().name());
                note(finding.with("top", calibration.top()));
            }
        }
        Err(why) => note(about(Code::LimitNotReached).with("why", why)),
    }
    if !matches!(options.blank, BlankReading::Blanks(_)) {
        design(calibration, options).into_iter().for_each(&mut note);
    }
    note(about(Code::LimitNotAnMdl).citing(LimitDefinition::Cfr136.citation()));
    limit
}

/// What the design of the calibration does to a limit that rests on it.
fn design(calibration: &Calibration, options: &LimitOptions) -> Vec<Finding> {
    const MOST: f64 = 10.0;
    let mut findings = Vec::new();
    let unit = calibration.unit().name();
    let lowest = calibration.points().levels().first().copied().unwrap_or(0.0);
    if lowest > 0.0 {
        let finding = Finding::new(Code::LimitZeroNotInDesign, Subject::Calibration(1));
        let citation = Citation::unverified("ISO 11843-2", "2000", "");
        findings.push(finding.with("lowest", lowest).with("unit", unit).citing(citation));
    }
    let critical = Net::of(calibration, options).ok().and_then(|net| {
        usable(calibration, &net).ok()?;
        solve::critical(calibration, &net, options).ok()
    });
    if let Some(critical) = critical.filter(|critical| calibration.top() > MOST * critical) {
        let finding = Finding::new(Code::LimitRangeWide, Subject::Calibration(1))
            .with("ratio", calibration.top() / critical)
            .with("critical", critical)
            .with("unit", unit);
        findings.push(finding.citing(Citation::unverified("DIN 32645", "2008", "")));
    }
    findings
}

impl CalibrationLimit {
    /// What question it answers.
    pub const fn role(&self) -> LimitRole {
        self.definition.role()
    }
}
