//! Currie's three levels from a standard deviation, in whatever unit that has: signal or concentration.
//!
//! The decision is about a net signal, a sample's less a blank's. What is known of the blank decides by how much its own
//! scatter adds: nothing where it is well known, as much again where each sample has its own blank.

use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Dof;
use crate::numeric::distribution::{chi_squared, noncentral_t, student_t};
use crate::statistics::replicates::replicates;

/// The standard deviation of a single reading of a blank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sigma {
    /// Known.
    Known(f64),
    /// Estimated.
    Estimated {
        /// The estimate.
        s: f64,
        /// Its degrees of freedom.
        dof: Dof,
    },
}

/// What a sample's signal is compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blank {
    /// A blank so well known that it adds no scatter: eta = 1/m.
    WellKnown,
    /// The sample's own blank, read as often as the sample: eta = 2/m.
    Paired,
    /// The mean of this many readings of blanks: eta = 1/m + 1/n.
    MeanOf(u32),
}

/// Probabilities and counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurrieOptions {
    /// Probability of a false detection, one-sided.
    pub alpha: f64,
    /// Probability of missing the detection limit.
    pub beta: f64,
    /// How many readings a sample's signal is the mean of, m.
    pub readings: u32,
    /// Reciprocal of the relative standard deviation at the quantification limit.
    pub k: f64,
}

impl Default for CurrieOptions {
    fn default() -> Self {
        CurrieOptions { alpha: 0.05, beta: 0.05, readings: 1, k: 10.0 }
    }
}

/// Currie's levels, in the unit of the standard deviation, of the net signal or concentration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurrieLevels {
    /// L_C: a net result above it is a detection. The rule of decision.
    pub critical: f64,
    /// L_D: a true net value at it is detected with probability 1 - beta. Results are not compared with it.
    pub detection: f64,
    /// L_Q: a true net value at it has a relative standard deviation of 1/k, were the scatter there that of the blank.
    pub quantitation: f64,
    /// Standard deviation of the net signal at zero.
    pub sigma0: f64,
    /// Its degrees of freedom.
    pub dof: Dof,
    /// 95 % interval of L_D where sigma is estimated: L_D is a multiple of the true standard deviation.
    pub detection_interval: Option<(f64, f64)>,
}

/// L_C = t(1 - alpha, nu) s0, L_D = delta(alpha, beta, nu) s0, L_Q = k s0, with s0 = s sqrt(eta); normal quantiles in
/// place of t and delta where sigma is known: 1.645, 3.29 and 10 sigma0 at the usual options, 2.33, 4.65 and 14.1
/// sigma_B for a paired blank (L. A. Currie, Pure Appl. Chem. 67 (1995) 1699; the formulas from memory).
///
/// ```
/// use groundstate::detection::from_calibration::currie::{Blank, CurrieOptions, Sigma, levels};
/// let levels = levels(Sigma::Known(1.0), Blank::Paired, &CurrieOptions::default())?;
/// assert!((levels.critical - 2.33).abs() < 0.005 && (levels.detection - 4.65).abs() < 0.005);
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// A standard deviation that is not positive, no degrees of freedom, probabilities not between 0 and 0.5, counts of 0.
pub fn levels(sigma: Sigma, blank: Blank, options: &CurrieOptions) -> Result<CurrieLevels, Error> {
    let (s, dof) = match sigma {
        Sigma::Known(sigma) => (sigma, Dof::INFINITE),
        Sigma::Estimated { s, dof } => (s, dof),
    };
    check(s, dof, blank, options)?;
    let m = f64::from(options.readings);
    let eta = match blank {
        Blank::WellKnown => 1.0 / m,
        Blank::Paired => 2.0 / m,
        Blank::MeanOf(n) => 1.0 / m + 1.0 / f64::from(n),
    };
    let (sigma0, nu) = (s * eta.sqrt(), dof.get());
    let detection = noncentral_t::noncentrality(nu, options.alpha, options.beta) * sigma0;
    let at = |chi_squared: f64| detection * (nu / chi_squared).sqrt();
    let detection_interval = (!dof.is_infinite())
        .then(|| (at(chi_squared::upper_quantile(0.025, nu)), at(chi_squared::quantile(0.025, nu))));
    Ok(CurrieLevels {
        critical: student_t::upper_quantile(options.alpha, nu) * sigma0,
        detection,
        quantitation: options.k * sigma0,
        sigma0,
        dof,
        detection_interval,
    })
}

/// The levels from replicate readings of blanks, whose mean is what a sample is compared with: n - 1 degrees of freedom
/// and eta = 1/m + 1/n.
///
/// # Errors
/// Fewer than two readings, readings that are not finite or all the same, and as [`levels`].
pub fn levels_from_blanks(blanks: &[f64], options: &CurrieOptions) -> Result<CurrieLevels, Error> {
    let set = replicates(blanks)?;
    let Some(s) = set.sd.filter(|s| *s > 0.0) else {
        let what = format!("{} readings do not differ, so they say nothing of their scatter", blanks.len());
        return Err(Error::argument("blanks", what).help("read more blanks, with more figures"));
    };
    let n = u32::try_from(blanks.len()).unwrap_or(u32::MAX);
    levels(Sigma::Estimated { s, dof: Dof::count(blanks.len() - 1) }, Blank::MeanOf(n), options)
}

fn check(s: f64, dof: Dof, blank: Blank, options: &CurrieOptions) -> Result<(), Error> {
    let mut problems = Vec::new();
    let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
    if !(s > 0.0 && s.is_finite()) {
        wrong("sigma", format!("{s} is not a standard deviation above 0"));
    }
    if dof.get() <= 0.0 {
        wrong("dof", "an estimate without degrees of freedom says nothing".to_owned());
    }
    for (name, p) in [("alpha", options.alpha), ("beta", options.beta)] {
        if !(p > 0.0 && p < 0.5) {
            wrong(name, format!("{p} is not a probability of error: above 0 and below 0.5"));
        }
    }
    if options.readings == 0 || blank == Blank::MeanOf(0) {
        wrong("readings", "a signal cannot be the mean of 0 readings".to_owned());
    }
    if !(options.k >= 1.0 && options.k.is_finite()) {
        wrong("k", format!("{} is not the reciprocal of a relative standard deviation of at most 1", options.k));
    }
    Error::unless_empty(Kind::Argument, problems, ())
}
