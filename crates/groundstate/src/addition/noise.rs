//! Noise models of an addition series: what a level means where every solution already holds the analyte.

use crate::curve::{Calibration, FitOptions, Noise, OnBadCurve, Points, ReplicateModel, Sigmas};
use crate::error::Error;
use crate::unit::Unit;

/// A line fitted to an addition series.
pub(super) struct Fitted {
    pub line: Calibration,
    /// The level below which a noise model that weighs by concentration was held, where that acted.
    pub held_below: Option<f64>,
    /// Whether the iterated weights settled.
    pub settled: bool,
}

/// Fits `points`, whose signals stand multiplied by `growth` each.
pub(super) fn fit(points: &Points, growth: &[f64], noise: &Noise, unit: Unit) -> Result<Fitted, Error> {
    let line = |noise: Noise| {
        let options = FitOptions { noise, unit, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() };
        Calibration::fit(points, &options)
    };
    let plain = |line: Calibration| Fitted { line, held_below: None, settled: true };
    let changing = growth.iter().any(|factor| *factor > 1.0);
    match noise {
        Noise::InverseX | Noise::InverseX2 => by_concentration(points, growth, noise, line),
        _ if !changing => line(noise.clone()).map(plain),
        Noise::Equal => line(Noise::RelativeSigma(scaled(points, |i| growth[i])?)).map(plain),
        Noise::RelativeSigma(sigmas) => line(Noise::RelativeSigma(times(sigmas, growth)?)).map(plain),
        Noise::KnownSigma(sigmas) => line(Noise::KnownSigma(times(sigmas, growth)?)).map(plain),
        Noise::FromReplicates(ReplicateModel::PerLevel { .. }) => line(noise.clone()).map(plain),
        Noise::FromReplicates(_) => {
            let what = format!("{} pools signals that a changing volume scales differently", noise.name());
            Err(Error::argument("noise", what).help("use equal, or known standard deviations of the readings"))
        }
    }
}

/// Variances in proportion to the whole concentration, or its square. The concentration found and the weights
/// determine each other, so they are iterated; the fixed point is the estimate.
fn by_concentration(
    points: &Points,
    growth: &[f64],
    noise: &Noise,
    line: impl Fn(Noise) -> Result<Calibration, Error>,
) -> Result<Fitted, Error> {
    const MOST_STEPS: usize = 200;
    let added = points.concentrations();
    let lowest = added.iter().copied().filter(|x| *x > 0.0).fold(f64::INFINITY, f64::min);
    let mut fitted = line(Noise::RelativeSigma(scaled(points, |i| growth[i])?))?;
    let (mut held_below, mut settled) = (None, false);
    for _ in 0..MOST_STEPS {
        let Some(native) = extrapolated(&fitted) else {
            settled = true;
            break;
        };
        held_below = added.iter().any(|x| native + x < lowest).then_some(lowest);
        // Concentration in the solution is (native + added) / growth, and the signal's scatter is multiplied by growth.
        let sigma = |i: usize| {
            let whole = (native + added[i]).max(lowest);
            if *noise == Noise::InverseX { (whole * growth[i]).sqrt() } else { whole }
        };
        fitted = line(Noise::RelativeSigma(scaled(points, sigma)?))?;
        let Some(next) = extrapolated(&fitted) else { continue };
        // 1e-13 of the scale of the series: two figures above the rounding of the fit.
        if (next - native).abs() <= 1e-13 * (next.abs() + lowest) {
            settled = true;
            break;
        }
    }
    Ok(Fitted { line: fitted, held_below, settled })
}

/// Where the line meets a signal of zero, as a concentration found; `None` where it does not rise.
pub(super) fn extrapolated(line: &Calibration) -> Option<f64> {
    // Adding zero turns a negative zero into zero.
    line.kernel.invert(0.0).filter(|_| line.serves()).map(|inverse| -inverse.x + 0.0)
}

/// Standard deviations of the points themselves, whatever number of readings each is the mean of, as those of single
/// readings: the noise models by level give every point one weight.
fn scaled(points: &Points, of: impl Fn(usize) -> f64) -> Result<Sigmas, Error> {
    let all: Vec<f64> = points.readings().iter().enumerate().map(|(i, m)| of(i) * f64::from(*m).sqrt()).collect();
    Sigmas::new(&all)
}

fn times(sigmas: &Sigmas, growth: &[f64]) -> Result<Sigmas, Error> {
    if !sigmas.fits(growth.len()) {
        let what = format!("{} standard deviations for {} points", sigmas.as_slice().len(), growth.len());
        return Err(Error::argument("noise", what).help("give one for all points or one for each"));
    }
    Sigmas::new(&growth.iter().enumerate().map(|(i, factor)| sigmas.get(i) * factor).collect::<Vec<f64>>())
}
