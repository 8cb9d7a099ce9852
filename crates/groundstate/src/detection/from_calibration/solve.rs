//! The concentrations at which the definitions are met.

use super::net::Net;
use super::options::{LimitMethod, LimitOptions};
use crate::curve::Calibration;
use crate::estimate::Dof;
use crate::numeric::distribution::{noncentral_t, student_t};
use crate::numeric::root;

const BEYOND: &str = "its signal lies beyond the curve";

/// Concentration whose signal is `net` above the curve at zero.
fn inverse(calibration: &Calibration, net: f64) -> Result<f64, &'static str> {
    calibration.kernel.above_zero(net).ok_or(BEYOND)
}

/// The critical value.
pub(super) fn critical(calibration: &Calibration, net: &Net<'_>, options: &LimitOptions) -> Result<f64, &'static str> {
    let (variance, dof) = net.at_zero();
    inverse(calibration, student_t::upper_quantile(options.alpha, dof.get()) * variance.sqrt())
}

/// What the standard deviation at zero is multiplied with where the scatter is the same everywhere.
pub(super) fn detection_factor(options: &LimitOptions, dof: Dof) -> f64 {
    let nu = dof.get();
    match options.method {
        LimitMethod::Din32645 => {
            student_t::upper_quantile(options.alpha, nu) + student_t::upper_quantile(options.beta, nu)
        }
        LimitMethod::Currie | LimitMethod::Iso11843 => noncentral_t::noncentrality(nu, options.alpha, options.beta),
    }
}

/// The detection limit were the true standard deviations `stretch` times the estimated ones.
///
/// The signal less the curve's zero, D, is normal about f(x) - f(0) with standard deviation s(x), and is compared with
/// t s0, whose s0 scatters as the root of chi-squared over its degrees of freedom. So P(D < t s0) is a non-central t
/// probability, of t s0/s(x) with noncentrality (f(x) - f(0))/s(x); with s(x) = s0 it is ISO 11843's. DIN 32645 takes
/// t(1 - beta) s(x) below f(x) instead.
pub(super) fn detection(
    calibration: &Calibration,
    net: &Net<'_>,
    options: &LimitOptions,
    stretch: f64,
) -> Result<f64, &'static str> {
    let (variance, dof) = net.at_zero();
    let (nu, s0) = (dof.get(), variance.sqrt());
    let t = student_t::upper_quantile(options.alpha, nu);
    let of_equal_scatter = inverse(calibration, stretch * s0 * detection_factor(options, dof));
    let sd = |x: f64| net.above_zero(x).0.sqrt();
    if let Ok(x) = of_equal_scatter
        && (sd(x) - s0).abs() <= 4.0 * f64::EPSILON * s0
    {
        return Ok(x);
    }
    let kernel = &calibration.kernel;
    let signal = |x: f64| (kernel.signal(x) - kernel.signal(0.0)) / stretch;
    let t_beta = student_t::upper_quantile(options.beta, nu);
    let excess = |x: f64| match options.method {
        LimitMethod::Din32645 => signal(x) - t * s0 - t_beta * sd(x),
        LimitMethod::Currie | LimitMethod::Iso11843 => {
            let missed = noncentral_t::cdf(t * s0 / sd(x), nu, signal(x) / sd(x));
            libm::log(options.beta / missed.max(f64::MIN_POSITIVE))
        }
    };
    first_root(calibration, inverse(calibration, stretch * t * s0)?, excess)
}

/// Student's t of the half-width at the quantitation limit; 1 where the definition is in standard deviations.
pub(super) fn two_sided(options: &LimitOptions, dof: Dof) -> f64 {
    match options.method {
        LimitMethod::Din32645 => student_t::upper_quantile(0.5 * options.alpha, dof.get()),
        LimitMethod::Currie | LimitMethod::Iso11843 => 1.0,
    }
}

/// The quantitation limit.
pub(super) fn quantitation(
    calibration: &Calibration,
    net: &Net<'_>,
    options: &LimitOptions,
) -> Result<f64, &'static str> {
    let excess = |x: f64| {
        let (variance, dof) = net.at(x);
        x - options.k * two_sided(options, dof) * variance.sqrt() / calibration.kernel.slope(x)
    };
    first_root(calibration, 0.01 * critical(calibration, net, options)?, excess)
}

/// The least concentration from `start` on, where `excess` is negative, at which it comes to zero.
fn first_root(calibration: &Calibration, start: f64, excess: impl Fn(f64) -> f64) -> Result<f64, &'static str> {
    /// Small against what the definitions change over, large enough to be soon at the end.
    const STEP: f64 = 1.1;
    /// Tops of the calibration, where the search gives up.
    const FAR: f64 = 1e3;
    if excess(start) >= 0.0 {
        return root::bracketed(excess, 0.0, start).ok_or("it is not defined near zero");
    }
    let kernel = &calibration.kernel;
    let mut near = start;
    while near < FAR * calibration.top().max(start) {
        let far = near * STEP;
        // Beyond the turn or the plateau nothing is measured.
        if kernel.slope(far).is_nan() || kernel.slope(far) <= 0.0 {
            return Err(BEYOND);
        }
        if excess(far) >= 0.0 {
            return root::bracketed(excess, near, far).ok_or("it is not defined on this curve");
        }
        near = far;
    }
    Err("the relative uncertainty never becomes so small on this curve")
}
