//! By which standard, with which probabilities, from which scatter.

use crate::error::{Error, Kind, Place, Problem, nearest};
use crate::estimate::Dof;

/// Whose definition a limit from a calibration follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum LimitMethod {
    /// L. A. Currie's scheme, as IUPAC recommended it in 1995: alpha = beta = 0.05, quantitation at k = 10.
    #[default]
    Currie,
    /// ISO 11843-2: alpha = beta = 0.05; no quantitation limit.
    Iso11843,
    /// DIN 32645: alpha = beta = 0.01, quantitation at k = 3.
    Din32645,
}

impl LimitMethod {
    /// Every one of them.
    pub const ALL: [LimitMethod; 3] = [LimitMethod::Currie, LimitMethod::Iso11843, LimitMethod::Din32645];

    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            LimitMethod::Currie => "currie",
            LimitMethod::Iso11843 => "iso11843",
            LimitMethod::Din32645 => "din32645",
        }
    }

    /// The one called `name`.
    ///
    /// # Errors
    /// Any other name.
    pub fn parse(name: &str) -> Result<LimitMethod, Error> {
        if let Some(method) = LimitMethod::ALL.into_iter().find(|method| method.name() == name) {
            return Ok(method);
        }
        let error = Error::argument("method", format!("{name:?} is no definition of a limit from a calibration"));
        let names = LimitMethod::ALL.map(LimitMethod::name);
        Err(match nearest(name, names) {
            Some(near) => error.help(format!("did you mean {near:?}?")),
            None => error.help(format!("it is one of {}", names.join(", "))),
        })
    }
}

/// Where the scatter of a signal at zero is taken from.
#[derive(Clone, Debug, PartialEq, Default)]
pub enum BlankReading {
    /// The noise model of the calibration.
    #[default]
    Model,
    /// A standard uncertainty of the sample's signal as it is compared, not divided by any number of readings.
    Known {
        /// Standard uncertainty, in units of the signal.
        u: f64,
        /// Its degrees of freedom.
        dof: Dof,
    },
    /// Signals of replicate blanks, each read as often as it was prepared: the limit then rests on their scatter and
    /// mean, and the calibration lends its slope alone (the blank method of DIN 32645; Currie's blanks).
    Blanks(Vec<f64>),
}

/// How a limit is made.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitOptions {
    /// Whose definition.
    pub method: LimitMethod,
    /// Probability that a blank is taken for a sample, one-sided; of DIN's quantitation limit, of an interval that
    /// misses the value on either side.
    pub alpha: f64,
    /// Probability that a sample at the detection limit is taken for a blank.
    pub beta: f64,
    /// How many readings of one preparation a sample's signal is the mean of (m of DIN 32645).
    pub readings: u32,
    /// How many preparations of a sample are averaged (K of ISO 11843).
    pub preparations: u32,
    /// Reciprocal of the relative uncertainty at the quantitation limit.
    pub k: f64,
    /// Where the scatter at zero is taken from.
    pub blank: BlankReading,
}

impl LimitOptions {
    /// The usual options of `method`, one reading of one preparation.
    pub const fn of(method: LimitMethod) -> LimitOptions {
        let (level, k) = match method {
            LimitMethod::Currie | LimitMethod::Iso11843 => (0.05, 10.0),
            LimitMethod::Din32645 => (0.01, 3.0),
        };
        LimitOptions { method, alpha: level, beta: level, readings: 1, preparations: 1, k, blank: BlankReading::Model }
    }

    pub(super) fn check(&self) -> Result<(), Error> {
        let mut problems = Vec::new();
        let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
        for (name, p) in [("alpha", self.alpha), ("beta", self.beta)] {
            if !(p > 0.0 && p < 0.5) {
                wrong(name, format!("{p} is not a probability of error: above 0 and below 0.5"));
            }
        }
        for (name, count) in [("readings", self.readings), ("preparations", self.preparations)] {
            if count == 0 {
                wrong(name, "a signal cannot be the mean of 0".to_owned());
            }
        }
        if !(self.k >= 1.0 && self.k.is_finite()) {
            wrong("k", format!("{} is not the reciprocal of a relative uncertainty of at most 1", self.k));
        }
        match &self.blank {
            BlankReading::Known { u, .. } if !(*u >= 0.0 && u.is_finite()) => {
                wrong("reading_u", format!("{u} is not a standard uncertainty"));
            }
            BlankReading::Blanks(signals) => {
                if signals.len() < 2 {
                    wrong("blanks", format!("at least 2 blanks are needed, {} given", signals.len()));
                }
                for (i, y) in signals.iter().enumerate().filter(|(_, y)| !y.is_finite()) {
                    wrong("blanks", format!("{y} (element {i}) is not a reading; leave missing ones out"));
                }
            }
            _ => {}
        }
        Error::unless_empty(Kind::Argument, problems, ())
    }
}

impl Default for LimitOptions {
    fn default() -> Self {
        LimitOptions::of(LimitMethod::default())
    }
}
