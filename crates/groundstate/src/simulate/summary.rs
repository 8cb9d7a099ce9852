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

/// Mean and standard deviation, summed in eight lanes: as quick as the values can be read, and the same on every
/// machine.
pub(super) fn lane_moments(values: &[f64]) -> (f64, f64) {
    fn total(values: &[f64], of: impl Fn(f64) -> f64) -> f64 {
        const LANES: usize = 8;
        let mut lanes = [0.0; LANES];
        let (whole, rest) = values.as_chunks::<LANES>();
        for chunk in whole {
            for (lane, value) in lanes.iter_mut().zip(chunk) {
                *lane += of(*value);
            }
        }
        lanes.iter().sum::<f64>() + rest.iter().map(|value| of(*value)).sum::<f64>()
    }
    let n = values.len() as f64;
    let mean = total(values, |y| y) / n;
    let squares = total(values, |y| (y - mean) * (y - mean));
    (mean, (squares / (n - 1.0)).sqrt())
}

/// A whole number in the order of the numbers, -0 before 0.
fn key(y: f64) -> i64 {
    flipped(y.to_bits() as i64)
}

fn value(key: i64) -> f64 {
    f64::from_bits(flipped(key) as u64)
}

/// All bits but the sign turned over where the sign is set; its own inverse.
fn flipped(bits: i64) -> i64 {
    bits ^ (((bits >> 63) as u64) >> 1) as i64
}

/// Values put in order as far as intervals of one coverage need it: the lowest and the highest that are left out.
struct Ordered {
    keys: Vec<i64>,
    /// q of JCGM 101:2008, 7.7.1.
    held: usize,
}

impl Ordered {
    /// Of the values that are there.
    fn of(values: &[f64], coverage: Coverage) -> Ordered {
        let mut keys: Vec<i64> = Vec::with_capacity(values.len());
        keys.extend(values.iter().filter(|y| !y.is_nan()).map(|y| key(*y)));
        let count = keys.len();
        let held = held(count, coverage);
        match count.saturating_sub(held) {
            // Half of the values or more lie outside: the two ends meet.
            tail if tail == 0 || 2 * tail >= count => keys.sort_unstable(),
            tail => {
                keys.select_nth_unstable(tail - 1).0.sort_unstable();
                keys[tail..].select_nth_unstable(count - 2 * tail).2.sort_unstable();
            }
        }
        Ordered { keys, held }
    }

    fn len(&self) -> usize {
        self.keys.len()
    }

    /// How many are left out.
    fn tail(&self) -> Option<usize> {
        self.len().checked_sub(self.held)
    }

    /// Ends of the interval that holds q of the sorted values and begins at the r-th, counted from 1, of the tail.
    fn from(&self, r: usize) -> Option<Interval> {
        let (low, high) = (self.keys.get(r.checked_sub(1)?)?, self.keys.get(r + self.held - 1)?);
        Some(Interval { low: value(*low), high: value(*high) })
    }

    /// Probabilistically symmetric (7.7.2); `None` for fewer than two values.
    fn symmetric(&self) -> Option<Interval> {
        self.from(self.tail()?.div_ceil(2))
    }

    /// Shortest (7.7.4): the first of them where several are equally short.
    fn shortest(&self) -> Option<Interval> {
        (1..=self.tail()?).filter_map(|r| self.from(r)).min_by(|a, b| (a.high - a.low).total_cmp(&(b.high - b.low)))
    }

    /// Quantiles of the continuous distribution function through the sorted values, (r - 1/2)/M at the r-th, straight
    /// between them (7.5.1); the extreme value beyond the ends. Puts the middle in order as far as these need it.
    fn quantiles(mut self, probabilities: &[f64]) -> Option<Vec<(f64, f64)>> {
        let last = self.len().checked_sub(1)?;
        let at = |p: f64| {
            let at = (p * (last + 1) as f64 - 0.5).max(0.0);
            ((at.floor() as usize).min(last), (at.floor() as usize + 1).min(last), at.fract())
        };
        let mut wanted: Vec<usize> = probabilities.iter().flat_map(|p| [at(*p).0, at(*p).1]).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let mut ordered = 0;
        for rank in wanted {
            self.keys[ordered..].select_nth_unstable(rank - ordered);
            ordered = rank + 1;
        }
        let of = |p: f64| {
            let (below, above, part) = at(p);
            let low = value(self.keys[below]);
            (p, low + part * (value(self.keys[above]) - low))
        };
        Some(probabilities.iter().map(|p| of(*p)).collect())
    }
}

/// q of JCGM 101:2008, 7.7.1: pM rounded to a whole number, and less than M.
fn held(count: usize, coverage: Coverage) -> usize {
    ((coverage.get() * count as f64 + 0.5).floor() as usize).clamp(1, count.saturating_sub(1).max(1))
}

/// Mean and standard deviation of the values that are there.
fn moments_of(values: &[f64], count: usize) -> (f64, f64) {
    if count == values.len() {
        return lane_moments(values);
    }
    lane_moments(&values.iter().copied().filter(|y| !y.is_nan()).collect::<Vec<f64>>())
}

/// Mean, u and symmetric ends of one batch; NaN stands for a trial without a value.
pub(super) fn of_batch(values: &[f64], coverage: Coverage) -> Option<[f64; 4]> {
    let mut keys: Vec<i64> = values.iter().filter(|y| !y.is_nan()).map(|y| key(*y)).collect();
    let count = keys.len();
    let held = held(count, coverage);
    let low = count.checked_sub(held)?.div_ceil(2).checked_sub(1)?;
    let (below, high, _) = keys.select_nth_unstable(low + held);
    let high = value(*high);
    let low = value(*below.select_nth_unstable(low).1);
    let (mean, u) = moments_of(values, count);
    Some([mean, u, low, high])
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
        lane_moments(&figures).1 / (all.len() as f64).sqrt()
    };
    Some(Accuracy { mean: of(0), u: of(1), low: of(2), high: of(3) })
}

/// All that the values of the trials say; `None` for fewer than two.
pub(super) fn summary(values: &[f64], coverage: Coverage, quantiles: &[f64], lowest_dof: f64) -> Option<Summary> {
    let ordered = Ordered::of(values, coverage);
    let trials = ordered.len();
    let (symmetric, shortest) = (ordered.symmetric()?, ordered.shortest()?);
    let quantiles = ordered.quantiles(quantiles)?;
    let batches: Vec<_> = values.chunks_exact(BATCH).map(|batch| of_batch(batch, coverage)).collect();
    let (mean, u) = moments_of(values, trials);
    Some(Summary {
        trials,
        mean: (lowest_dof > 1.0).then_some(mean),
        u: (lowest_dof > 2.0).then_some(u),
        symmetric,
        shortest,
        quantiles,
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
        let found = |values: &[f64], coverage| {
            // In no order, and with some missing.
            let mixed: Vec<f64> = (0..100).flat_map(|i| [values[i * 37 % 100], f64::NAN]).collect();
            let ordered = Ordered::of(&mixed, coverage);
            assert_eq!(of_batch(&mixed, coverage).map(|[_, _, low, high]| Interval { low, high }), ordered.symmetric());
            (ordered.symmetric().unwrap(), ordered.shortest().unwrap())
        };
        let (symmetric, shortest) = found(&values, Coverage::P95);
        assert_eq!((symmetric, shortest), (Interval { low: 3.0, high: 98.0 }, Interval { low: 1.0, high: 96.0 }));
        // M - q = 10 is even: r = 5.
        let p90 = Coverage::new(0.9).unwrap();
        assert_eq!(found(&values, p90).0, Interval { low: 5.0, high: 95.0 });
        // Squares crowd at zero, so the shortest interval begins there.
        let squares: Vec<f64> = values.iter().map(|y| y * y).collect();
        assert_eq!(found(&squares, p90).1, Interval { low: 1.0, high: 8281.0 });
        // q = 30: the tails overlap. Negative numbers are in order too.
        let p30 = Coverage::new(0.3).unwrap();
        assert_eq!(found(&values, p30).0, Interval { low: 35.0, high: 65.0 });
        let below: Vec<f64> = values.iter().map(|y| -y).collect();
        assert_eq!(found(&below, Coverage::P95).0, Interval { low: -98.0, high: -3.0 });
    }

    #[test]
    fn quantiles_lie_between_the_values() {
        let quantiles = |values: &[f64], p: &[f64]| {
            let found = Ordered::of(values, Coverage::P95).quantiles(p)?;
            Some(found.into_iter().map(|(_, value)| value).collect::<Vec<f64>>())
        };
        let wanted = [0.5, 0.125, 0.001, 0.999, 0.5];
        assert_eq!(quantiles(&[3.0, 1.0, 4.0, 2.0], &wanted), Some(vec![2.5, 1.0, 1.0, 4.0, 2.5]));
        assert_eq!(quantiles(&[7.0], &wanted[..1]), Some(vec![7.0]));
        assert_eq!(quantiles(&[], &wanted), None);
    }

    #[test]
    fn moments_are_those_of_a_plain_sum() {
        let values: Vec<f64> = (0..1_003).map(|i| 1e6 + f64::from(i * 7919 % 1_003)).collect();
        let (mean, sd) = lane_moments(&values);
        // 0 to 1002 in some order: variance n (n + 1)/12.
        assert!((mean - 1e6 - 501.0).abs() < 1e-9 && (sd - (1_003.0_f64 * 1_004.0 / 12.0).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn too_few_values_say_nothing() {
        assert!(summary(&[f64::NAN, 1.0], Coverage::P95, &[0.5], f64::INFINITY).is_none());
        assert!(summary(&[], Coverage::P95, &[], f64::INFINITY).is_none());
        assert!(accuracy(&[Some([0.0; 4])]).is_none() && accuracy(&[Some([0.0; 4]), None]).is_none());
    }
}
