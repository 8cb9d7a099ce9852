//! The points that a calibration function is fitted to.

use crate::error::{Error, Kind, Place, Problem};
use crate::numeric::dd::Dd;

/// Points of a calibration: concentration, signal, and how many readings each signal is the mean of.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    x: Vec<f64>,
    y: Vec<f64>,
    readings: Vec<u32>,
    /// Sum of squared deviations of a point's readings from their mean.
    within: Vec<f64>,
    kind: PointKind,
}

/// What a point is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PointKind {
    /// One integration.
    Readings,
    /// One poured standard: the mean of its readings.
    Standards,
}

impl PointKind {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            PointKind::Readings => "readings",
            PointKind::Standards => "standards",
        }
    }
}

impl Points {
    /// One point a reading. `concentration` and `signal` of equal length.
    ///
    /// # Errors
    /// Different lengths, or a figure that is not finite, or a concentration below zero.
    pub fn from_readings(concentration: &[f64], signal: &[f64]) -> Result<Points, Error> {
        check(concentration, signal)?;
        let n = concentration.len();
        Ok(Points {
            x: concentration.to_vec(),
            y: signal.to_vec(),
            readings: vec![1; n],
            within: vec![0.0; n],
            kind: PointKind::Readings,
        })
    }

    /// One point a poured standard, the mean of its readings: `signals[i]` holds the readings of a standard of
    /// `concentration[i]`.
    ///
    /// # Errors
    /// As [`Points::from_readings`]; a standard without a reading.
    pub fn from_standards<S: AsRef<[f64]>>(concentration: &[f64], signals: &[S]) -> Result<Points, Error> {
        if let Some(i) = signals.iter().position(|readings| readings.as_ref().is_empty()) {
            return Err(Error::argument("absorbance", format!("standard {i} has no reading")));
        }
        let mut points = Points {
            x: concentration.to_vec(),
            y: Vec::with_capacity(signals.len()),
            readings: Vec::with_capacity(signals.len()),
            within: Vec::with_capacity(signals.len()),
            kind: PointKind::Standards,
        };
        for readings in signals {
            let readings = readings.as_ref();
            let sum = readings.iter().fold(Dd::ZERO, |sum, y| sum + Dd::from(*y));
            let mean = sum / Dd::from(readings.len() as f64);
            let squares = readings.iter().fold(Dd::ZERO, |sum, y| sum + (Dd::from(*y) - mean).square());
            points.y.push(mean.value());
            points.readings.push(readings.len() as u32);
            points.within.push(squares.value());
        }
        check(&points.x, &points.y)?;
        Ok(points)
    }

    /// As [`Points::from_standards`], taking readings of the same concentration as those of one standard.
    ///
    /// # Errors
    /// As [`Points::from_readings`].
    pub fn standards_by_level(concentration: &[f64], signal: &[f64]) -> Result<Points, Error> {
        check(concentration, signal)?;
        let mut levels: Vec<(f64, Vec<f64>)> = Vec::new();
        for (x, y) in concentration.iter().zip(signal) {
            match levels.iter_mut().find(|(level, _)| level.total_cmp(x).is_eq()) {
                Some((_, readings)) => readings.push(*y),
                None => levels.push((*x, vec![*y])),
            }
        }
        let (x, readings): (Vec<f64>, Vec<Vec<f64>>) = levels.into_iter().unzip();
        Points::from_standards(&x, &readings)
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.x.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.x.is_empty()
    }

    /// Concentrations.
    pub fn concentrations(&self) -> &[f64] {
        &self.x
    }

    /// Signals: readings, or means of readings.
    pub fn signals(&self) -> &[f64] {
        &self.y
    }

    /// How many readings each signal is the mean of.
    pub fn readings(&self) -> &[u32] {
        &self.readings
    }

    /// Sums of squared deviations of each point's readings from their mean.
    pub(crate) fn within(&self) -> &[f64] {
        &self.within
    }

    /// What a point is.
    pub fn kind(&self) -> PointKind {
        self.kind
    }

    /// The points that `keep` keeps.
    pub(crate) fn filtered(&self, keep: impl Fn(usize) -> bool) -> Points {
        let kept: Vec<usize> = (0..self.len()).filter(|i| keep(*i)).collect();
        fn pick<T: Copy>(from: &[T], kept: &[usize]) -> Vec<T> {
            kept.iter().map(|i| from[*i]).collect()
        }
        Points {
            x: pick(&self.x, &kept),
            y: pick(&self.y, &kept),
            readings: pick(&self.readings, &kept),
            within: pick(&self.within, &kept),
            kind: self.kind,
        }
    }

    /// The different concentrations, ascending.
    pub fn levels(&self) -> Vec<f64> {
        let mut levels = self.x.clone();
        levels.sort_by(f64::total_cmp);
        levels.dedup_by(|a, b| a.total_cmp(b).is_eq());
        levels
    }
}

fn check(concentration: &[f64], signal: &[f64]) -> Result<(), Error> {
    if concentration.len() != signal.len() {
        let what = format!("{} concentrations for {} signals", concentration.len(), signal.len());
        return Err(Error::argument("absorbance", what));
    }
    if concentration.is_empty() {
        return Err(Error::argument("concentration", "there are no points"));
    }
    let mut problems = Vec::new();
    for (i, x) in concentration.iter().enumerate() {
        if !(x.is_finite() && *x >= 0.0) {
            let what = format!("{x} (element {i}) is not a concentration: a number from 0 up is needed");
            problems.push(Problem::new(Place::named("concentration"), what));
        }
    }
    for (i, y) in signal.iter().enumerate().filter(|(_, y)| !y.is_finite()) {
        let what = format!("{y} (element {i}) is not a finite number");
        problems.push(Problem::new(Place::named("absorbance"), what).help("leave a missing reading out"));
    }
    Error::unless_empty(Kind::Argument, problems, ())
}
