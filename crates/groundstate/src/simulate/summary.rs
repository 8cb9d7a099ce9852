//! What the values of the trials say: mean, standard deviation, coverage intervals, quantiles.

use super::options::BATCH;
use crate::estimate::Coverage;

/// A coverage interval, ends included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Standard deviations of the figures of a simulation, from their scatter over its batches of 10,240 trials: how
/// well the simulation knows them (JCGM 101:2008, 7.9.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Of the mean.
    pub mean: f64,
    /// Of the standard uncertainty.
    pub u: f64,
    /// Of the lower end of the symmetric interval.
    pub low: f64,
    /// Of its upper end.
    pub high: f64,
}

/// The distribution of a result as the trials show it. All figures are in the unit of the result.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Number of trials that gave a value.
    pub trials: usize,
    /// Mean; absent where the distribution has none: a t on one degree of freedom is in it.
    pub mean: Option<f64>,
    /// Standard deviation, which is the standard uncertainty (JCGM 101:2008, 7.6); absent where the distribution has
    /// none: a t on two degrees of freedom or fewer is in it.
    pub u: Option<f64>,
    /// Coverage interval with equal probability beyond either end (7.7.2).
    pub symmetric: Interval,
    /// Shortest coverage interval (7.7.4).
    pub shortest: Interval,
    /// Probabilities asked for with their quantiles.
    pub quantiles: Vec<(f64, f64)>,
    /// How well the simulation knows these; absent for fewer than two full batches.
    pub accuracy: Option<Accuracy>,
}

/// Mean and standard deviation.
pub(super) fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|y| (y - mean) * (y - mean)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

/// Ends of the interval that holds q of the sorted values and begins at the r-th, counted from 1.
fn from(sorted: &[f64], r: usize, q: usize) -> Option<Interval> {
    Some(Interval { low: *sorted.get(r.checked_sub(1)?)?, high: *sorted.get(r + q - 1)? })
}

/// q of JCGM 101:2008, 7.7.1: pM rounded to a whole number, and less than M.
fn held(count: usize, coverage: Coverage) -> usize {
    ((coverage.get() * count as f64 + 0.5).floor() as usize).clamp(1, count.saturating_sub(1).max(1))
}

/// Probabilistically symmetric (7.7.2); `None` for fewer than two values.
pub(super) fn symmetric(sorted: &[f64], coverage: Coverage) -> Option<Interval> {
    let q = held(sorted.len(), coverage);
    from(sorted, sorted.len().checked_sub(q)?.div_ceil(2), q)
}

/// Shortest (7.7.4): the first of them where several are equally short.
pub(super) fn shortest(sorted: &[f64], coverage: Coverage) -> Option<Interval> {
    let q = held(sorted.len(), coverage);
    (1..=sorted.len().checked_sub(q)?)
        .filter_map(|r| from(sorted, r, q))
        .min_by(|a, b| (a.high - a.low).total_cmp(&(b.high - b.low)))
}

/// Quantile of the continuous distribution function through the sorted values, (r - 1/2)/M at the r-th, straight
/// between them (7.5.1); the extreme value beyond the ends.
fn quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let at = p * sorted.len() as f64 - 0.5;
    let (below, part) = (at.max(0.0).floor() as usize, at.max(0.0).fract());
    let low = sorted.get(below).or(sorted.last())?;
    let high = sorted.get(below + 1).unwrap_or(low);
    Some(low + part * (high - low))
}

/// Mean, u and symmetric ends of one batch; NaN stands for a trial without a value.
pub(super) fn of_batch(values: &[f64], coverage: Coverage) -> Option<[f64; 4]> {
    let sorted = sorted(values);
    let ends = symmetric(&sorted, coverage)?;
    let (mean, u) = moments(&sorted);
    Some([mean, u, ends.low, ends.high])
}

pub(super) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|y| !y.is_nan()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
}

/// Standard deviations of the means of the batches' figures; `None` for fewer than two batches, or where one has no
/// figures.
pub(super) fn accuracy(batches: &[Option<[f64; 4]>]) -> Option<Accuracy> {
    let all: Vec<[f64; 4]> = batches.iter().copied().collect::<Option<_>>()?;
    if all.len() < 2 {
        return None;
    }
    let of = |k: usize| {
        let figures: Vec<f64> = all.iter().map(|batch| batch[k]).collect();
        moments(&figures).1 / (all.len() as f64).sqrt()
    };
    Some(Accuracy { mean: of(0), u: of(1), low: of(2), high: of(3) })
}

/// All that the values of the trials say; `None` for fewer than two.
pub(super) fn summary(values: &[f64], coverage: Coverage, quantiles: &[f64], lowest_dof: f64) -> Option<Summary> {
    let ordered = sorted(values);
    let batches: Vec<_> = values.chunks_exact(BATCH).map(|batch| of_batch(batch, coverage)).collect();
    let (mean, u) = moments(&ordered);
    Some(Summary {
        trials: ordered.len(),
        mean: (lowest_dof > 1.0).then_some(mean),
        u: (lowest_dof > 2.0).then_some(u),
        symmetric: symmetric(&ordered, coverage)?,
        shortest: shortest(&ordered, coverage)?,
        quantiles: quantiles.iter().map(|p| Some((*p, quantile(&ordered, *p)?))).collect::<Option<_>>()?,
        accuracy: accuracy(&batches),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// M = 100, p = 0.95: q = 95, r = 3 of the text (integer part of (M - q + 1)/2), so the 3rd to the 98th.
    #[test]
    fn intervals_count_as_the_supplement_says() {
        let values: Vec<f64> = (1..=100).map(f64::from).collect();
        assert_eq!(symmetric(&values, Coverage::P95), Some(Interval { low: 3.0, high: 98.0 }));
        assert_eq!(shortest(&values, Coverage::P95), Some(Interval { low: 1.0, high: 96.0 }));
        // M - q = 10 is even: r = 5.
        let p90 = Coverage::new(0.9).unwrap();
        assert_eq!(symmetric(&values, p90), Some(Interval { low: 5.0, high: 95.0 }));
        // Squares crowd at zero, so the shortest interval begins there.
        let squares: Vec<f64> = values.iter().map(|y| y * y).collect();
        assert_eq!(shortest(&squares, p90), Some(Interval { low: 1.0, high: 8281.0 }));
    }

    #[test]
    fn quantiles_lie_between_the_values() {
        let values = [1.0, 2.0, 3.0, 4.0];
        assert_eq!(quantile(&values, 0.5), Some(2.5));
        assert_eq!(quantile(&values, 0.125), Some(1.0));
        assert_eq!(quantile(&values, 0.001), Some(1.0));
        assert_eq!(quantile(&values, 0.999), Some(4.0));
        assert_eq!(quantile(&[], 0.5), None);
    }

    #[test]
    fn too_few_values_say_nothing() {
        assert!(summary(&[f64::NAN, 1.0], Coverage::P95, &[0.5], f64::INFINITY).is_none());
        assert!(summary(&[], Coverage::P95, &[], f64::INFINITY).is_none());
        assert!(accuracy(&[Some([0.0; 4])]).is_none() && accuracy(&[Some([0.0; 4]), None]).is_none());
    }
}
