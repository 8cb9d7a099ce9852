//! Signals to be turned into concentrations.

use super::concentrations::Reading;
use super::points::mean_and_squares;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Column, Dof};

/// Signals to be turned into concentrations. NaN is a missing reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    signal: Vec<f64>,
    replicates: Column<u32>,
    u: Option<Column<f64>>,
    u_dof: Column<Dof>,
}

/// What the scatter of a sample's readings is taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Scatter {
    /// The calibration: its noise model and scale.
    #[default]
    Calibration,
    /// The sample's own m readings, on m - 1 degrees of freedom.
    Own,
}

impl Scatter {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Scatter::Calibration => "calibration",
            Scatter::Own => "own",
        }
    }

    /// The choice called `name`.
    ///
    /// # Errors
    /// An unknown name.
    pub fn parse(name: &str) -> Result<Scatter, Error> {
        [Scatter::Calibration, Scatter::Own].into_iter().find(|scatter| scatter.name() == name).ok_or_else(|| {
            Error::argument("scatter", format!("there is no choice {name:?}")).help("it is \"calibration\" or \"own\"")
        })
    }
}

impl Readings {
    /// The mean of each row of `signals`, row after row of `width` readings of one sample each; NaN where a reading
    /// is missing. The readings of each row are counted.
    ///
    /// # Errors
    /// Rows that are not all of `width`; a single reading where a sample's own scatter is asked for.
    pub fn of_samples(signals: &[f64], width: usize, scatter: Scatter) -> Result<Readings, Error> {
        if width == 0 || !signals.len().is_multiple_of(width) {
            let what = format!("{} readings do not make rows of {width}", signals.len());
            return Err(Error::argument("absorbance", what));
        }
        let samples = signals.len() / width;
        let (mut signal, mut counts) = (Vec::with_capacity(samples), Vec::with_capacity(samples));
        let (mut u, mut dof) = (Vec::new(), Vec::new());
        let mut present = Vec::with_capacity(width);
        for row in signals.chunks_exact(width) {
            present.clear();
            present.extend(row.iter().copied().filter(|y| !y.is_nan()));
            let m = present.len();
            let (mean, squares) = if m == 0 { (f64::NAN, 0.0) } else { mean_and_squares(&present) };
            if scatter == Scatter::Own {
                if m == 1 {
                    let what = format!("sample {} has a single reading and so no scatter of its own", signal.len());
                    return Err(Error::argument("absorbance", what).help("take the scatter from the calibration"));
                }
                // A row without a reading has no value; what stands here is not looked at.
                u.push(if m == 0 { 0.0 } else { (squares / (m as f64 - 1.0) / m as f64).sqrt() });
                dof.push(Dof::count(m.saturating_sub(1)));
            }
            signal.push(mean);
            counts.push(m.max(1) as u32);
        }
        let readings = Readings::new(&signal).replicates(Column::Each(counts));
        Ok(match scatter {
            Scatter::Calibration => readings,
            Scatter::Own => readings.with_u(Column::Each(u), Column::Each(dof)),
        })
    }

    /// One (mean) signal a sample, each a single reading until [`Readings::replicates`] says otherwise.
    pub fn new(signal: &[f64]) -> Readings {
        Readings { signal: signal.to_vec(), replicates: Column::One(1), u: None, u_dof: Column::One(Dof::INFINITE) }
    }

    /// How many readings each signal is the mean of; it never reshapes the signals.
    #[must_use]
    pub fn replicates(mut self, replicates: Column<u32>) -> Readings {
        self.replicates = replicates;
        self
    }

    /// The standard uncertainty of each signal as it was passed, not divided again, in place of the noise model's;
    /// with its degrees of freedom.
    #[must_use]
    pub fn with_u(mut self, u: Column<f64>, dof: Column<Dof>) -> Readings {
        self.u = Some(u);
        self.u_dof = dof;
        self
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.signal.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.signal.is_empty()
    }

    /// The signals.
    pub fn signals(&self) -> &[f64] {
        &self.signal
    }

    /// How many readings each signal is the mean of.
    pub fn counts(&self) -> &Column<u32> {
        &self.replicates
    }

    /// The standard uncertainties that were given with the signals, and their degrees of freedom.
    pub fn given_u(&self) -> Option<(&Column<f64>, &Column<Dof>)> {
        self.u.as_ref().map(|u| (u, &self.u_dof))
    }

    /// The signal of sample `i` with what is known of its scatter.
    pub(super) fn at(&self, i: usize) -> Reading {
        Reading {
            signal: self.signal.get(i).copied().unwrap_or(f64::NAN),
            count: self.replicates.get(i).unwrap_or(1),
            given: self.u.as_ref().and_then(|u| u.get(i)).map(|u| (u, self.u_dof.get(i))),
        }
    }

    /// How many readings every signal is the mean of, where that is one number and nothing else is known of them.
    pub(super) fn common_count(&self) -> Option<u32> {
        match (&self.replicates, &self.u) {
            (Column::One(count), None) => Some(*count),
            _ => None,
        }
    }

    pub(super) fn check(&self) -> Result<(), Error> {
        let n = self.len();
        let mut problems = problems_of_signals(&self.signal, &self.replicates);
        let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
        if let Some(u) = &self.u {
            if !u.fits(n) || !self.u_dof.fits(n) {
                wrong("reading_u", format!("the standard uncertainties do not go with {n} signals"));
            } else if let Some(bad) = u.to_vec(n).into_iter().find(|u| !(*u >= 0.0 && u.is_finite())) {
                wrong("reading_u", format!("{bad} is not a standard uncertainty"));
            }
        }
        Error::unless_empty(Kind::Argument, problems, ())
    }
}

/// Whether these can be signals, and these the numbers of readings that they are means of.
pub(super) fn check_signals(signals: &[f64], replicates: &Column<u32>) -> Result<(), Error> {
    Error::unless_empty(Kind::Argument, problems_of_signals(signals, replicates), ())
}

fn problems_of_signals(signals: &[f64], replicates: &Column<u32>) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
    // Without a branch an element, for all is well as a rule.
    if signals.iter().fold(false, |infinite, y| infinite | y.is_infinite()) {
        for (i, y) in signals.iter().enumerate().filter(|(_, y)| y.is_infinite()) {
            wrong("absorbance", format!("{y} (element {i}) is not a reading"));
        }
    }
    let none = match replicates {
        Column::One(count) => *count == 0,
        Column::Each(counts) => counts.contains(&0),
    };
    if !replicates.fits(signals.len()) {
        wrong("replicates", format!("the numbers of replicates do not go with {} signals", signals.len()));
    } else if none {
        wrong("replicates", "a signal cannot be the mean of 0 readings".to_owned());
    }
    problems
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_readings_are_averaged_and_counted() {
        let nan = f64::NAN;
        let table = [0.1, 0.2, nan, 0.5, nan, nan, nan, nan, nan];
        let readings = Readings::of_samples(&table, 3, Scatter::Calibration).unwrap();
        assert!((readings.signals()[0] - 0.15).abs() < 1e-16 && readings.signals()[2].is_nan());
        assert_eq!(readings.counts(), &Column::Each(vec![2, 1, 1]));
        assert!(readings.given_u().is_none());
        assert!(Readings::of_samples(&table, 2, Scatter::Calibration).is_err());
        assert!(Readings::of_samples(&table, 0, Scatter::Calibration).is_err());
        let lonely = Readings::of_samples(&table, 3, Scatter::Own).unwrap_err();
        assert!(lonely.to_string().contains("sample 1 has a single reading"));
    }

    #[test]
    fn own_scatter_is_the_standard_error_of_the_mean() {
        let readings = Readings::of_samples(&[0.1, 0.3, 0.2, 0.4, 0.4, 0.4], 3, Scatter::Own).unwrap();
        let Some((Column::Each(u), Column::Each(dof))) = readings.given_u() else { panic!("no u of its own") };
        // SD 0.1 of three readings: the figures are exact but for the rounding of 0.1, 0.2, 0.3.
        assert!((u[0] - 0.1 / 3.0_f64.sqrt()).abs() < 1e-15 && u[1].abs() < 1e-15);
        assert_eq!(dof, &[Dof::count(2), Dof::count(2)]);
    }
}
