//! What to simulate, and how long.

use std::num::NonZeroUsize;

use super::distribution::Form;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Coverage, SourceKind};

/// Trials that draw from one stream: the unit of work of a thread.
pub(super) const CHUNK: usize = 1_024;
/// Chunks in a batch of the adaptive procedure: the first whole number of them with 10⁴ trials or more (JCGM
/// 101:2008, 7.9.4).
const CHUNKS_A_BATCH: usize = 10;
pub(super) const BATCH: usize = CHUNK * CHUNKS_A_BATCH;
/// The most values that one simulation holds, results times trials (half a gigabyte).
pub const MOST_VALUES: usize = 1 << 26;

/// How many trials.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Trials {
    /// As many as this.
    Fixed(usize),
    /// Batches of 10,240 until twice the standard deviation, over the batches, of mean, u and both ends of the
    /// symmetric interval is within the numerical tolerance of u for every result (JCGM 101:2008, 7.9.4).
    Adaptive {
        /// Within what the figures are to settle.
        tolerance: Tolerance,
        /// The most trials; reached without having settled, the simulation says so.
        most: usize,
    },
}

impl Default for Trials {
    fn default() -> Self {
        Trials::Adaptive { tolerance: Tolerance::Figures(2), most: 100 * BATCH }
    }
}

/// The numerical tolerance of an adaptive simulation (JCGM 101:2008, 7.9.2).
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Tolerance {
    /// Half a unit of the last of so many significant decimal digits of each result's u: 1 or 2.
    Figures(u8),
    /// So much, in the unit of the results.
    Absolute(f64),
}

/// How scatter that was estimated from finitely many readings is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Scatter {
    /// From a scaled and shifted t with the degrees of freedom of the estimate (JCGM 101:2008, 6.4.9). Everything
    /// that rests on one estimate shares its draw.
    #[default]
    StudentT,
    /// From a normal distribution with the estimate as if it were known: what first-order propagation takes u for.
    Normal,
}

impl Scatter {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Scatter::StudentT => "t",
            Scatter::Normal => "normal",
        }
    }
}

/// What sources a form is for.
#[derive(Clone, Debug, PartialEq)]
pub enum Of {
    /// All of one kind.
    Kind(SourceKind),
    /// The one that a budget calls so.
    Source(String),
}

/// How to simulate. There is no default: a seed must be given.
#[derive(Clone, Debug, PartialEq)]
pub struct SimulateOptions {
    /// What the random numbers follow from: the same seed gives the same result, bit for bit, on any number of
    /// threads.
    pub seed: u64,
    /// How many trials.
    pub trials: Trials,
    /// Coverage probability of the intervals.
    pub coverage: Coverage,
    /// Probabilities whose quantiles are wanted, above 0 and below 1.
    pub quantiles: Vec<f64>,
    /// Forms of sources that are not normal. One for a named source goes before one for its kind.
    pub forms: Vec<(Of, Form)>,
    /// How estimated scatter is drawn.
    pub scatter: Scatter,
    /// Relative standard uncertainty of the concentration of each standard, independent of the others, over what the
    /// fit allows for.
    pub standards_relative_u: f64,
    /// Positions whose results are wanted; `None`: the results to be reported.
    pub positions: Option<Vec<u32>>,
    /// Significant digits of u by which the first-order result is compared (JCGM 101:2008, 8.1): 1 or 2.
    pub comparison_figures: u8,
    /// Threads to work on, one without the feature `parallel`.
    pub threads: NonZeroUsize,
}

impl SimulateOptions {
    /// The default choices with this seed.
    pub fn seeded(seed: u64) -> SimulateOptions {
        SimulateOptions {
            seed,
            trials: Trials::default(),
            coverage: Coverage::P95,
            quantiles: vec![0.05, 0.25, 0.5, 0.75, 0.95],
            forms: Vec::new(),
            scatter: Scatter::default(),
            standards_relative_u: 0.0,
            positions: None,
            comparison_figures: 1,
            threads: NonZeroUsize::MIN,
        }
    }

    /// That many trials.
    #[must_use]
    pub fn fixed(self, trials: usize) -> SimulateOptions {
        SimulateOptions { trials: Trials::Fixed(trials), ..self }
    }

    /// Fewest trials from which the interval can be told: two in its tails.
    fn fewest(&self) -> usize {
        (2.0 / (1.0 - self.coverage.get())).ceil() as usize
    }

    pub(super) fn check(&self, results: usize) -> Result<(), Error> {
        let mut problems = Vec::new();
        let mut wrong = |name: &str, what: String, help: &str| {
            problems.push(Problem::new(Place::named(name), what).help(help));
        };
        let one_or_two = |figures: u8| matches!(figures, 1 | 2);
        let figures_help = "JCGM 101 works with 1 or 2 significant digits";
        let asked = match self.trials {
            Trials::Fixed(count) => count,
            Trials::Adaptive { tolerance, most } => {
                match tolerance {
                    Tolerance::Figures(figures) if !one_or_two(figures) => {
                        wrong("tolerance", format!("{figures} significant digits are no tolerance"), figures_help);
                    }
                    Tolerance::Absolute(bad) if !(bad > 0.0 && bad.is_finite()) => {
                        let help = "give half a unit of the last digit that is wanted, in the unit of the results";
                        wrong("tolerance", format!("{bad} is not a tolerance above 0"), help);
                    }
                    _ => {}
                }
                most
            }
        };
        if asked < self.fewest() {
            let what = format!("{asked} trials say nothing of a coverage of {}", self.coverage.get());
            wrong("trials", what, &format!("ask for {} or more, better 10000 times that over 2", self.fewest()));
        }
        if !one_or_two(self.comparison_figures) {
            wrong(
                "comparison_figures",
                format!("{} significant digits are no tolerance", self.comparison_figures),
                figures_help,
            );
        }
        if let Some(bad) = self.quantiles.iter().find(|p| !(**p > 0.0 && **p < 1.0)) {
            wrong("quantiles", format!("{bad} is not a probability between 0 and 1"), "for the median write 0.5");
        }
        let u = self.standards_relative_u;
        if !(0.0..1.0).contains(&u) {
            wrong(
                "standards_relative_u",
                format!("{u} is not a relative standard uncertainty below 1"),
                "for half a per cent write 0.005",
            );
        }
        for (of, form) in &self.forms {
            problems.extend(form.checked().err().into_iter().flat_map(|error| error.problems().to_vec()));
            if *of == Of::Kind(SourceKind::Calibration) {
                let what = "the coefficients of a calibration are not drawn: its points are, by its noise model";
                problems.push(Problem::new(Place::named("distributions"), what).help("choose another noise model"));
            }
        }
        Error::unless_empty(Kind::Argument, problems, ())?;
        if let Trials::Fixed(count) = self.trials
            && count.saturating_mul(results) > MOST_VALUES
        {
            let what = format!("{count} trials of {results} results are more than {MOST_VALUES} values");
            let problem = Problem::new(Place::named("trials"), what);
            return Err(Error::new(Kind::Limit, problem.help("simulate fewer positions at a time")));
        }
        Ok(())
    }
}
