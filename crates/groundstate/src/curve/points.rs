//! The points that a calibration function is fitted to.

use crate::error::{Error, Kind, Place, Problem};
use crate::numeric::dd::Dd;
use crate::numeric::real::Real;

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
            let (mean, squares) = mean_and_squares(readings);
            points.y.push(mean);
            points.readings.push(readings.len() as u32);
            points.within.push(squares);
        }
        check(&points.x, &points.y)?;
        Ok(points)
    }

    /// Points of `kind` from a table of readings: row after row of `signals`, a row a level of `concentration`, NaN
    /// where a reading is missing.
    ///
    /// # Errors
    /// As [`Points::from_readings`]; rows that do not go with the levels; a level without a reading.
    pub fn from_rows(kind: PointKind, concentration: &[f64], signals: &[f64]) -> Result<Points, Error> {
        let (levels, width) = (concentration.len(), signals.len() / concentration.len().max(1));
        if width * levels != signals.len() {
            let what = format!("{levels} concentrations do not go with {} signals", signals.len());
            return Err(Error::argument("absorbance", what));
        }
        let rows = signals.chunks(width.max(1));
        let rows: Vec<Vec<f64>> = rows.map(|row| row.iter().copied().filter(|y| !y.is_nan()).collect()).collect();
        if let Some(i) = (0..levels).find(|i| rows.get(*i).is_none_or(Vec::is_empty)) {
            let what = format!("level {i} (concentration {}) has no reading", concentration[i]);
            return Err(Error::argument("absorbance", what).help("leave the level out"));
        }
        match kind {
            PointKind::Standards => Points::from_standards(concentration, &rows),
            PointKind::Readings => {
                let each = concentration.iter().zip(&rows);
                let x: Vec<f64> = each.flat_map(|(x, row)| std::iter::repeat_n(*x, row.len())).collect();
                Points::from_readings(&x, &rows.concat())
            }
        }
    }

    /// The same points at other places, which errors may have moved below zero.
    pub(super) fn moved(&self, x: Vec<f64>, y: Vec<f64>) -> Points {
        Points { x, y, ..self.clone() }
    }

    /// Points from what the accessors of other points gave, of equal length.
    ///
    /// # Errors
    /// As [`Points::from_readings`]; a point without a reading, or a sum of squares below zero.
    pub fn from_parts(
        kind: PointKind,
        concentration: Vec<f64>,
        signal: Vec<f64>,
        readings: Vec<u32>,
        within: Vec<f64>,
    ) -> Result<Points, Error> {
        check(&concentration, &signal)?;
        let n = concentration.len();
        if readings.len() != n || within.len() != n || readings.contains(&0) {
            return Err(Error::argument("readings", format!("{n} points need one number of readings from 1 up each")));
        }
        if let Some(bad) = within.iter().find(|squares| !(**squares >= 0.0 && squares.is_finite())) {
            return Err(Error::argument("within", format!("{bad} is not a sum of squares")));
        }
        Ok(Points { x: concentration, y: signal, readings, within, kind })
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

    /// The points of a fitted calibration, from all that they hold.
    #[cfg(feature = "serde")]
    pub(crate) fn restored(
        x: Vec<f64>,
        y: Vec<f64>,
        readings: Vec<u32>,
        within: Vec<f64>,
        kind: PointKind,
    ) -> Result<Points, Error> {
        check(&x, &y)?;
        if readings.len() != x.len() || readings.contains(&0) {
            return Err(Error::argument("readings", "every point is the mean of one reading or more"));
        }
        if within.len() != x.len() || within.iter().any(|squares| *squares < 0.0) {
            return Err(Error::argument("within", "a sum of squares is a number from 0 up"));
        }
        Ok(Points { x, y, readings, within, kind })
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
    pub fn within(&self) -> &[f64] {
        &self.within
    }

    /// What a point is.
    pub fn kind(&self) -> PointKind {
        self.kind
    }

    /// The points with every concentration divided by `divisor` and the signals of point `i` multiplied by `times(i)`,
    /// both above zero.
    pub(crate) fn rescaled(&self, divisor: f64, times: impl Fn(usize) -> f64) -> Points {
        let each = |from: &[f64], factor: &dyn Fn(usize) -> f64| -> Vec<f64> {
            from.iter().enumerate().map(|(i, value)| value * factor(i)).collect()
        };
        Points {
            x: self.x.iter().map(|x| x / divisor).collect(),
            y: each(&self.y, &times),
            readings: self.readings.clone(),
            within: each(&self.within, &|i| times(i) * times(i)),
            kind: self.kind,
        }
    }

    /// The points that `keep` keeps.
    #[must_use]
    pub fn filtered(&self, keep: impl Fn(usize) -> bool) -> Points {
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
        levels.sort_unstable_by(f64::total_cmp);
        levels.dedup_by(|a, b| a.total_cmp(b).is_eq());
        levels
    }
}

/// Mean and sum of squared deviations, both in double-double.
#[inline(always)]
pub(super) fn mean_and_squares<T: Real>(readings: &[T]) -> (T, T) {
    let zero = Dd::from(T::of(0.0));
    let sum = readings.iter().fold(zero, |sum, y| sum + Dd::from(*y));
    let mean = sum / Dd::from(T::of(readings.len() as f64));
    let squares = readings.iter().fold(zero, |sum, y| sum + (Dd::from(*y) - mean).square());
    (mean.value(), squares.value())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_become_readings_or_standards() {
        let table = [0.1, f64::NAN, 0.2, 0.4];
        let readings = Points::from_rows(PointKind::Readings, &[0.0, 1.0], &table).unwrap();
        assert_eq!(readings, Points::from_readings(&[0.0, 1.0, 1.0], &[0.1, 0.2, 0.4]).unwrap());
        let standards = Points::from_rows(PointKind::Standards, &[0.0, 1.0], &table).unwrap();
        assert_eq!(standards.readings(), [1, 2]);
        for wrong in [&table[..3], &[0.1, 0.2, f64::NAN, f64::NAN], &[]] {
            assert!(Points::from_rows(PointKind::Readings, &[0.0, 1.0], wrong).is_err());
        }
    }

    #[test]
    fn parts_make_the_same_points() {
        let points = Points::from_standards(&[0.0, 1.0], &[vec![0.1], vec![0.2, 0.4]]).unwrap();
        let parts = |readings: Vec<u32>, within: Vec<f64>| {
            let (x, y) = (points.concentrations().to_vec(), points.signals().to_vec());
            Points::from_parts(points.kind(), x, y, readings, within)
        };
        assert_eq!(parts(points.readings().to_vec(), points.within().to_vec()).unwrap(), points);
        assert!(parts(vec![1, 0], vec![0.0, 0.0]).is_err());
        assert!(parts(vec![1], vec![0.0, 0.0]).is_err());
        assert!(parts(vec![1, 2], vec![0.0, -1.0]).is_err());
    }
}
