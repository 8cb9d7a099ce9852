//! Which noise model the scatter of replicate readings suggests.

use super::noise::Noise;
use super::points::Points;
use super::replicated;
use crate::error::Error;
use crate::finding::{Citation, Code, Finding, Subject};
use crate::numeric::distribution::normal;
use crate::statistics::homogeneity::{Homogeneity, bartlett, cochran, levene, variance_ratio};
use crate::statistics::replicates::{Replicates, replicates};

/// A test of equal variances, or why it was not made.
pub type VarianceTest = Result<Homogeneity, &'static str>;

/// The exponent p of variance proportional to concentration to the power p.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VarianceSlope {
    /// Slope of the logarithm of variance on the logarithm of concentration, over the levels above zero that scatter.
    pub value: f64,
    /// Its standard uncertainty, from the scatter that variances of normal readings have.
    pub u: f64,
    /// Levels it rests on.
    pub levels: usize,
}

/// What replicate readings say of the noise model.
///
/// They say nothing of the standards' own errors: these readings are of one and the same solution.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseSuggestion {
    /// The model; `None` where the readings do not tell or no model on offer suits them.
    pub noise: Option<Noise>,
    /// Variances of the lowest level above zero and of the top one (ISO 8466-1). This test decides.
    pub lowest_and_top: VarianceTest,
    /// Cochran's test over all levels.
    pub cochran: VarianceTest,
    /// Bartlett's test over all levels.
    pub bartlett: VarianceTest,
    /// Levene's test over all levels, about the medians.
    pub levene: VarianceTest,
    /// How variance grows with concentration.
    pub slope: Option<VarianceSlope>,
    /// Why, in one sentence.
    pub reason: String,
    /// Level of significance of each test.
    pub alpha: f64,
}

/// One level's readings; the readings themselves where they are known.
struct Set {
    x: f64,
    summary: Replicates,
    readings: Option<Vec<f64>>,
}

/// The noise model that `signals` suggest, `signals[i]` the readings of the standard of `concentration[i]`.
///
/// The F test of the lowest standard against the top one, at `alpha` (0.01 in ISO 8466-1), decides whether the scatter
/// changes at all. If it does, the slope of log variance on log concentration tells how: variance growing with a power
/// of 0.5 to 1.5 is nearest to 1/x, above that to 1/x².
///
/// ```
/// use groundstate::curve::{Noise, suggest_noise};
/// let low = [0.0101, 0.0102, 0.0100, 0.0101, 0.0099, 0.0100];
/// let top = [0.401, 0.409, 0.395, 0.404, 0.392, 0.400];
/// let suggestion = suggest_noise(&[0.1, 4.0], &[low, top], 0.01)?;
/// assert_eq!(suggestion.noise, Some(Noise::InverseX2));
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// Figures that are not finite, lists that do not go together, an `alpha` that is no level of significance.
pub fn suggest_noise<S: AsRef<[f64]>>(
    concentration: &[f64],
    signals: &[S],
    alpha: f64,
) -> Result<NoiseSuggestion, Error> {
    // The same checks as for a fit.
    let points = Points::from_standards(concentration, signals)?;
    let mut levels: Vec<(f64, Vec<f64>)> = Vec::new();
    for x in points.levels() {
        let of_level = concentration.iter().zip(signals).filter(|(level, _)| level.total_cmp(&x).is_eq());
        // Standards of one level are tested each for itself: between them there is more than reading scatter.
        levels.extend(of_level.map(|(_, readings)| (x, readings.as_ref().to_vec())));
    }
    let sets = levels.into_iter().filter(|(_, readings)| readings.len() > 1);
    let sets: Vec<Set> = sets
        .map(|(x, readings)| Ok(Set { x, summary: replicates(&readings)?, readings: Some(readings) }))
        .collect::<Result<_, Error>>()?;
    suggest(&sets, alpha)
}

/// The same from points: of standards only the scatter is known, not the readings, so Levene's test is not made.
pub(super) fn of_points(points: &Points, alpha: f64) -> Result<NoiseSuggestion, Error> {
    let sets: Vec<Set> = replicated::levels(points)
        .into_iter()
        .filter(|level| level.dof > 0)
        .map(|level| {
            let sd = (level.squares / level.dof as f64).sqrt();
            let summary = Replicates { count: level.dof + 1, mean: 0.0, sd: Some(sd) };
            Set { x: level.x, summary, readings: None }
        })
        .collect();
    suggest(&sets, alpha)
}

fn suggest(sets: &[Set], alpha: f64) -> Result<NoiseSuggestion, Error> {
    if !(alpha > 0.0 && alpha < 1.0) {
        return Err(Error::argument("alpha", format!("a level of significance lies between 0 and 1, got {alpha}")));
    }
    const FEW: &str = "fewer than two levels have replicate readings";
    let summaries: Vec<Replicates> = sets.iter().map(|set| set.summary).collect();
    let all = |test: fn(&[Replicates], f64) -> Result<Homogeneity, Error>, why| {
        if sets.len() < 2 { Err(FEW) } else { test(&summaries, alpha).map_err(|_| why) }
    };
    let mut above: Vec<&Set> = sets.iter().filter(|set| set.x > 0.0).collect();
    above.sort_by(|a, b| a.x.total_cmp(&b.x));
    let lowest_and_top = match (above.first(), above.last()) {
        (Some(low), Some(top)) if low.x < top.x => {
            variance_ratio(&low.summary, &top.summary, alpha).map_err(|_| "the readings do not allow it")
        }
        _ => Err(FEW),
    };
    let raw: Option<Vec<&[f64]>> = sets.iter().map(|set| set.readings.as_deref()).collect();
    let levene = match raw {
        None => Err("only the scatter of the readings is known, not the readings"),
        Some(_) if sets.len() < 2 => Err(FEW),
        Some(raw) => levene(&raw, alpha).map_err(|_| "a level has fewer than three readings"),
    };
    let slope = slope(&above);
    let (noise, reason) = decide(&lowest_and_top, slope, above.first().zip(above.last()).map(|(l, t)| (l.x, t.x)));
    Ok(NoiseSuggestion {
        noise,
        cochran: all(cochran, "the levels were not read equally often"),
        bartlett: all(bartlett, "the readings do not allow it"),
        levene,
        lowest_and_top,
        slope,
        reason,
        alpha,
    })
}

fn decide(test: &VarianceTest, slope: Option<VarianceSlope>, ends: Option<(f64, f64)>) -> (Option<Noise>, String) {
    let test = match test {
        Ok(test) => test,
        Err(why) => return (None, format!("not evaluated: {why}")),
    };
    let (low, top) = ends.unwrap_or((f64::NAN, f64::NAN));
    let ratio =
        format!("variances at {low} and {top} in the ratio {:.3}, critical {:.3}", test.statistic, test.critical);
    if !test.significant {
        return (Some(Noise::Equal), format!("{ratio}: the readings do not speak against equal scatter"));
    }
    let Some(slope) = slope else {
        return (None, format!("{ratio}: unequal, but too few levels scatter to tell how"));
    };
    let grows =
        format!("{ratio}; variance grows with the power {:.2} (u {:.2}) of concentration", slope.value, slope.u);
    match slope.value {
        p if p >= 1.5 => (Some(Noise::InverseX2), format!("{grows}, nearest to 2")),
        p if p >= 0.5 => (Some(Noise::InverseX), format!("{grows}, nearest to 1")),
        _ => (None, format!("{grows}, which none of the weights describes; use the replicates' own scatter")),
    }
}

/// Weighted regression of ln s² on ln x. For normal readings ln s² has expectation ln sigma² + psi(nu/2) - ln(nu/2) and
/// variance psi'(nu/2), which is known: so the slope's uncertainty is, too.
fn slope(sets: &[&Set]) -> Option<VarianceSlope> {
    let points: Vec<(f64, f64, f64)> = (sets.iter())
        .filter_map(|set| {
            let sd = set.summary.sd.filter(|sd| *sd > 0.0)?;
            let half = 0.5 * set.summary.dof();
            let unbiased = 2.0 * libm::log(sd) - (digamma(half) - libm::log(half));
            Some((libm::log(set.x), unbiased, 1.0 / trigamma(half)))
        })
        .collect();
    let sum = |of: fn(&(f64, f64, f64)) -> f64| points.iter().map(of).sum::<f64>();
    let weight = sum(|p| p.2);
    let (mean_x, mean_y) = (sum(|p| p.2 * p.0) / weight, sum(|p| p.2 * p.1) / weight);
    let sxx: f64 = points.iter().map(|p| p.2 * (p.0 - mean_x) * (p.0 - mean_x)).sum();
    let sxy: f64 = points.iter().map(|p| p.2 * (p.0 - mean_x) * (p.1 - mean_y)).sum();
    (points.len() >= 2 && sxx > 0.0).then(|| VarianceSlope {
        value: sxy / sxx,
        u: (1.0 / sxx).sqrt(),
        levels: points.len(),
    })
}

/// psi(x) for x > 0: recurrence up to 10, then the asymptotic series (DLMF 5.11.2).
fn digamma(mut x: f64) -> f64 {
    let mut sum = 0.0;
    while x < 10.0 {
        sum -= 1.0 / x;
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    sum + libm::log(x)
        - 0.5 / x
        - y * (1.0 / 12.0 - y * (1.0 / 120.0 - y * (1.0 / 252.0 - y * (1.0 / 240.0 - y / 132.0))))
}

/// psi'(x) for x > 0: recurrence up to 10, then the asymptotic series (DLMF 5.15.8).
fn trigamma(mut x: f64) -> f64 {
    let mut sum = 0.0;
    while x < 10.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    sum + 1.0 / x
        + 0.5 * y
        + (y / x) * (1.0 / 6.0 - y * (1.0 / 30.0 - y * (1.0 / 42.0 - y * (1.0 / 30.0 - y * 5.0 / 66.0))))
}

impl VarianceSlope {
    /// Two-sided probability of a slope as far from `exponent` if that were the true one.
    pub fn p_of(&self, exponent: f64) -> f64 {
        2.0 * normal::sf((self.value - exponent).abs() / self.u)
    }
}

impl NoiseSuggestion {
    /// The suggestion as a finding; more than a note where `in_use` is another model.
    pub fn finding(&self, in_use: &Noise) -> Finding {
        let finding = Finding::new(Code::NoiseSuggested, Subject::Calibration(1))
            .with("noise", self.noise.as_ref().map_or("no model on offer", Noise::name))
            .with("in_use", in_use.name())
            .with("reason", self.reason.clone())
            .citing(Citation::unverified("ISO 8466-1", "1990", "variance homogeneity"));
        let other = self.noise.as_ref().is_some_and(|noise| noise.name() != in_use.name());
        if other { finding.graded(crate::finding::Severity::Caution) } else { finding }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::stream::Stream;

    /// DLMF 5.4.14: psi(1) = -gamma, psi(1/2) = -gamma - 2 ln 2; 5.15.1: psi'(1) = pi²/6, psi'(1/2) = pi²/2.
    #[test]
    fn polygamma_at_known_places() {
        const GAMMA: f64 = 0.577_215_664_901_532_86;
        let pi2 = std::f64::consts::PI * std::f64::consts::PI;
        approx::assert_relative_eq!(digamma(1.0), -GAMMA, max_relative = 1e-13);
        approx::assert_relative_eq!(digamma(0.5), -GAMMA - 2.0 * std::f64::consts::LN_2, max_relative = 1e-13);
        approx::assert_relative_eq!(trigamma(1.0), pi2 / 6.0, max_relative = 1e-13);
        approx::assert_relative_eq!(trigamma(0.5), pi2 / 2.0, max_relative = 1e-13);
    }

    fn simulated(power: f64, seed: u64, readings: usize) -> NoiseSuggestion {
        let levels = [0.1, 0.5, 1.0, 2.0, 5.0];
        let mut stream = Stream::new(seed, 0);
        let signals: Vec<Vec<f64>> = levels
            .iter()
            .map(|x| (0..readings).map(|_| 0.1 * x + 0.002 * libm::pow(*x, power / 2.0) * stream.normal()).collect())
            .collect();
        suggest_noise(&levels, &signals, 0.01).unwrap()
    }

    #[test]
    fn the_power_is_found() {
        for (power, expected) in [(0.0, Noise::Equal), (1.0, Noise::InverseX), (2.0, Noise::InverseX2)] {
            let suggestion = simulated(power, 11, 40);
            assert_eq!(suggestion.noise, Some(expected), "{}", suggestion.reason);
            let slope = suggestion.slope.unwrap();
            // Four standard uncertainties of a seeded draw.
            assert!((slope.value - power).abs() < 4.0 * slope.u, "{slope:?}");
            assert!(slope.p_of(power) > 1e-4 && slope.p_of(power + 10.0) < 1e-10);
            let (others, unequal) = ([suggestion.cochran, suggestion.bartlett, suggestion.levene], power > 0.0);
            assert!(others.into_iter().all(|test| test.unwrap().significant == unequal));
        }
    }

    /// Its stated u is the scatter of the slope: 400 draws, a standard deviation within 15 %, four standard errors.
    #[test]
    fn the_slopes_uncertainty_is_its_scatter() {
        let slopes: Vec<VarianceSlope> = (0..400).map(|seed| simulated(1.0, seed, 4).slope.unwrap()).collect();
        let summary = replicates(&slopes.iter().map(|s| s.value).collect::<Vec<_>>()).unwrap();
        approx::assert_relative_eq!(summary.sd.unwrap(), slopes[0].u, max_relative = 0.15);
        assert!((summary.mean - 1.0).abs() < 4.0 * slopes[0].u / 20.0);
    }

    #[test]
    fn what_cannot_be_told_is_not_told() {
        let single = suggest_noise(&[1.0, 2.0], &[vec![0.1], vec![0.2]], 0.01).unwrap();
        assert!(single.noise.is_none() && single.lowest_and_top.is_err() && single.slope.is_none());
        // Falling scatter: unequal, and no weight describes it.
        let low = [0.10, 0.12, 0.08, 0.11, 0.09, 0.13, 0.07];
        let top = [0.4, 0.4001, 0.3999, 0.4, 0.4001, 0.3999, 0.4];
        let falling = suggest_noise(&[1.0, 4.0], &[low, top], 0.01).unwrap();
        assert!(falling.noise.is_none() && falling.slope.unwrap().value < 0.0);
        // A level without scatter beside one with it.
        let flat = suggest_noise(&[1.0, 4.0], &[[0.1; 7], low], 0.01).unwrap();
        assert!(flat.noise.is_none() && flat.lowest_and_top.unwrap().significant);
        assert!(suggest_noise(&[1.0], &[[0.1, f64::NAN]], 0.01).is_err());
        assert!(suggest_noise(&[1.0], &[[0.1, 0.2]], 1.0).is_err());
    }
}
