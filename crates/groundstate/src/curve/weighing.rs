//! What a noise model says of points and of new readings: weights, scale, variance by concentration.

use super::noise::{Noise, Sigmas};
use super::options::{FitOptions, Zero, Zeroing};
use super::points::Points;
use super::replicated;
use super::standards_error::StandardsError;
use crate::error::Error;
use crate::estimate::Dof;
use crate::finding::{Code, Finding, Subject};
use crate::numeric::dd::Dd;

/// The factor that turns unit-weight variances into variances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Variance of a point of unit weight.
    pub variance: f64,
    /// Degrees of freedom of that variance.
    pub dof: Dof,
    /// Which estimate it is.
    pub estimate: ScaleFrom,
}

/// Where a scale comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScaleFrom {
    /// The scatter of the points about the curve.
    Residuals,
    /// The scatter of readings within standards.
    Replicates,
    /// The caller's known standard deviations.
    Known,
}

/// Variance of a reading of unit weight as a function of concentration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum VarianceFunction {
    Constant,
    Proportional {
        held_below: f64,
    },
    ProportionalSd {
        held_below: f64,
    },
    FloorPlusProportional {
        floor2: f64,
        slope2: f64,
    },
    /// Only known at the points.
    Unknown,
}

impl VarianceFunction {
    /// Constant where all sigmas are equal; otherwise a new reading's is not known.
    fn of_sigmas(sigmas: &Sigmas) -> VarianceFunction {
        match sigmas.common() {
            Some(sigma) => VarianceFunction::FloorPlusProportional { floor2: sigma * sigma, slope2: 0.0 },
            None => VarianceFunction::Unknown,
        }
    }

    #[inline(always)]
    pub fn at(self, x: f64) -> f64 {
        match self {
            VarianceFunction::Constant => 1.0,
            VarianceFunction::Proportional { held_below } => x.max(held_below),
            VarianceFunction::ProportionalSd { held_below } => {
                let x = x.max(held_below);
                x * x
            }
            VarianceFunction::FloorPlusProportional { floor2, slope2 } => floor2 + slope2 * x.max(0.0) * x.max(0.0),
            VarianceFunction::Unknown => f64::NAN,
        }
    }
}

/// Scatter of readings within standards: variance of a single reading of unit weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Within {
    pub variance: f64,
    pub dof: usize,
    /// Mean of 1/m over the standards: the part of it that their mean signals still hold.
    pub mean_reciprocal: f64,
}

/// Leaves zero levels out where that is asked for or follows from the zeroing, with a finding.
pub(super) fn without_zero(
    points: &Points,
    options: &FitOptions,
    findings: &mut Vec<Finding>,
) -> Result<(Points, Noise, StandardsError), Error> {
    let noise = options.noise.clone();
    let standards_error = &options.standards_error;
    if let Noise::RelativeSigma(sigmas) | Noise::KnownSigma(sigmas) = &noise
        && !sigmas.fits(points.len())
    {
        let what = format!("{} standard deviations for {} points", sigmas.as_slice().len(), points.len());
        return Err(Error::argument("noise", what).help("give one for all points or one for each"));
    }
    for (name, value) in [("zeroing", options.zeroing.u()), ("resolution", options.resolution.unwrap_or(0.0))] {
        if !(value.is_finite() && value >= 0.0) {
            return Err(Error::argument(name, format!("{value} is not a number from 0 up")));
        }
    }
    if let Some(stock) = options.stocks.iter().find(|s| !(s.relative_u.is_finite() && s.relative_u >= 0.0)) {
        let what = format!("{} is not a relative standard uncertainty", stock.relative_u);
        return Err(Error::argument("stock", what));
    }
    let twice = |i: usize| options.stocks[..i].iter().any(|other| other.name == options.stocks[i].name);
    if let Some(i) = (0..options.stocks.len()).find(|i| twice(*i)) {
        let name = &options.stocks[i].name;
        let what = if name.is_empty() {
            "two stocks without a name are given".to_owned()
        } else {
            format!("the stock {name:?} is given twice")
        };
        return Err(Error::argument("stock", what).help("its error counts once: give it once, with one figure"));
    }
    let at_zero = points.concentrations().iter().filter(|x| **x <= 0.0).count();
    let leave_out = options.zero == Zero::LeaveOut || options.zeroing != Zeroing::Raw;
    if at_zero == 0 {
        return Ok((points.clone(), noise, standards_error.clone()));
    }
    if !leave_out {
        if noise.weighs_by_concentration() && !matches!(options.zero, Zero::Floor(_)) {
            let what = format!("weight_at_zero: the noise model {} gives a level at zero no weight", noise.name());
            return Err(
                Error::argument("noise", what).help("leave the zero level out, or give a floor for the weights")
            );
        }
        return Ok((points.clone(), noise, standards_error.clone()));
    }
    findings.push(
        Finding::new(Code::ZeroLeftOut, Subject::Calibration(1)).with("count", at_zero).with("noise", noise.name()),
    );
    let kept = |i: usize| points.concentrations()[i] > 0.0;
    let each = |sigmas: &Sigmas| -> Result<Sigmas, Error> {
        let values: Vec<f64> = (0..points.len()).filter(|i| kept(*i)).map(|i| sigmas.get(i)).collect();
        Sigmas::new(&values)
    };
    let noise = match &noise {
        Noise::RelativeSigma(sigmas) if at_zero < points.len() => Noise::RelativeSigma(each(sigmas)?),
        Noise::KnownSigma(sigmas) if at_zero < points.len() => Noise::KnownSigma(each(sigmas)?),
        _ => noise,
    };
    Ok((points.filtered(kept), noise, standards_error.filtered(kept)))
}

/// What a noise model says of points and new readings.
pub(super) struct Weighing {
    pub weights: Vec<Dd>,
    pub variance: VarianceFunction,
    /// `None`: estimated from the residuals.
    pub scale: Option<Scale>,
}

impl Weighing {
    /// Variance of a reading of unit weight, in which errors of the standards are to be expressed: what the noise
    /// model knows beforehand.
    pub fn unit_variance(&self, noise: &Noise) -> Result<f64, Error> {
        match (noise, self.scale) {
            (_, Some(scale)) => Ok(scale.variance),
            (Noise::RelativeSigma(_), None) => Ok(1.0),
            _ => {
                let what = format!(
                    "errors of the standards cannot be weighed against the noise model {}, whose size is unknown",
                    noise.name()
                );
                Err(Error::argument("x_uncertainty", what)
                    .help("give known standard deviations of the readings, or relative ones in the same proportion"))
            }
        }
    }
}

/// Weights, the variance function of a new reading, and the scale where the noise model fixes it.
pub(super) fn weigh(points: &Points, noise: &Noise, options: &FitOptions, levels: &[f64]) -> Result<Weighing, Error> {
    let n = points.len();
    let lowest = levels.iter().copied().find(|x| *x > 0.0).unwrap_or(0.0);
    let held_below = match options.zero {
        Zero::Floor(floor) if !(floor > 0.0 && floor.is_finite()) => {
            return Err(Error::argument("zero", format!("{floor} is not a concentration above 0")));
        }
        Zero::Floor(floor) => floor,
        _ => lowest,
    };
    let readings = |i: usize| Dd::from(f64::from(points.readings()[i]));
    let from_x = |power: fn(Dd) -> Dd| -> Vec<Dd> {
        points.concentrations().iter().map(|x| Dd::ONE / power(Dd::from(x.max(held_below)))).collect()
    };
    let from_sigmas =
        |sigmas: &Sigmas| -> Vec<Dd> { (0..n).map(|i| readings(i) / Dd::from(sigmas.get(i)).square()).collect() };
    let residuals = |weights, variance| Weighing { weights, variance, scale: None };
    Ok(match noise {
        Noise::Equal => residuals(vec![Dd::ONE; n], VarianceFunction::Constant),
        Noise::InverseX => residuals(from_x(|x| x), VarianceFunction::Proportional { held_below }),
        Noise::InverseX2 => residuals(from_x(Dd::square), VarianceFunction::ProportionalSd { held_below }),
        Noise::RelativeSigma(sigmas) => residuals(from_sigmas(sigmas), VarianceFunction::of_sigmas(sigmas)),
        Noise::KnownSigma(sigmas) => Weighing {
            weights: from_sigmas(sigmas),
            variance: VarianceFunction::of_sigmas(sigmas),
            scale: Some(Scale { variance: 1.0, dof: Dof::INFINITE, estimate: ScaleFrom::Known }),
        },
        Noise::FromReplicates(model) => replicated::weigh(points, *model)?,
    })
}
