//! What the values of the trials say: mean, standard deviation, coverage intervals, quantiles.

use super::options::BATCH;
use super::sift::{Marks, Sifted, Stretch};
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
pub(super) fn key(y: f64) -> i64 {
    flipped(y.to_bits() as i64)
}

pub(super) fn value(key: i64) -> f64 {
    f64::from_bits(flipped(key) as u64)
}

/// All bits but the sign turned over where the sign is set; its own inverse.
fn flipped(bits: i64) -> i64 {
    bits ^ (((bits >> 63) as u64) >> 1) as i64
}

/// Values put in order as far as they are asked for by their rank.
struct Ordered {
    /// The lowest and the highest, in order: as many as an interval leaves out, or one more.
    low: Vec<i64>,
    high: Vec<i64>,
    /// Stretches of all, in no order.
    middle: Vec<i64>,
    stretches: Vec<Stretch>,
    count: usize,
    /// How many an interval leaves out: M - q of JCGM 101:2008, 7.7.1.
    tail: usize,
}

impl Ordered {
    /// Of all the values that are there.
    fn of(values: &[f64], coverage: Coverage) -> Ordered {
        let mut keys: Vec<i64> = Vec::with_capacity(values.len());
        keys.extend(values.iter().filter(|y| !y.is_nan()).map(|y| key(*y)));
        let count = keys.len();
        let tail = count.saturating_sub(held(count, coverage));
        // Half of the values or more lie outside: the two ends meet.
        if tail == 0 || 2 * tail >= count {
            keys.sort_unstable();
        } else {
            keys.select_nth_unstable(tail - 1).0.sort_unstable();
            keys[tail..].select_nth_unstable(count - 2 * tail).2.sort_unstable();
        }
        let (low, high) = (keys[..tail].to_vec(), keys[count - tail..].to_vec());
        let stretches = vec![Stretch { rank: 0, place: 0, len: count }];
        Ordered { low, high, middle: keys, stretches, count, tail }
    }

    /// Of those that were sifted out; `None` where they are too few.
    fn sifted(sifted: Sifted, coverage: Coverage) -> Option<Ordered> {
        let (stretches, count) = (sifted.stretches(), sifted.count);
        let Sifted { mut low, mut high, middle, .. } = sifted;
        let tail = count.saturating_sub(held(count, coverage));
        if low.len() <= tail || high.len() <= tail {
            return None;
        }
        low.select_nth_unstable(tail).0.sort_unstable();
        low.truncate(tail + 1);
        let from = high.len() - 1 - tail;
        high.select_nth_unstable(from).2.sort_unstable();
        high.drain(..from);
        Some(Ordered { low, high, middle, stretches, count, tail })
    }

    /// The value of rank `rank`, counted from 0, if it is one of the middle. Puts nothing before `ordered` out of its
    /// place and gives where what is in order ends now.
    fn middle(&mut self, rank: usize, ordered: &mut usize) -> Option<f64> {
        let stretch = self.stretches.iter().find(|one| (one.rank..one.rank + one.len).contains(&rank))?;
        let place = stretch.place + (rank - stretch.rank);
        if place >= *ordered {
            self.middle.get_mut(*ordered..)?.select_nth_unstable(place - *ordered);
            *ordered = place + 1;
        }
        self.middle.get(place).map(|key| value(*key))
    }

    /// Ends of the interval that holds q of the sorted values and begins at the r-th, counted from 1, of the tail.
    fn from(&self, r: usize) -> Option<Interval> {
        let at = r.checked_sub(1)?;
        let (low, high) = (self.low.get(at)?, self.high.get(at + self.high.len() - self.tail)?);
        Some(Interval { low: value(*low), high: value(*high) })
    }

    /// Probabilistically symmetric (7.7.2); `None` for fewer than two values.
    fn symmetric(&self) -> Option<Interval> {
        self.from(self.tail.div_ceil(2))
    }

    /// Shortest (7.7.4): the first of them where several are equally short.
    fn shortest(&self) -> Option<Interval> {
        (1..=self.tail).filter_map(|r| self.from(r)).min_by(|a, b| (a.high - a.low).total_cmp(&(b.high - b.low)))
    }

    /// Quantiles of the continuous distribution function through the sorted values, (r - 1/2)/M at the r-th, straight
    /// between them (7.5.1); the extreme value beyond the ends. `None` where one of these is not held.
    fn quantiles(&mut self, probabilities: &[f64]) -> Option<Vec<(f64, f64)>> {
        let count = self.count;
        let mut wanted: Vec<usize> = probabilities.iter().flat_map(|p| ranks(*p, count)).flatten().collect();
        wanted.sort_unstable();
        wanted.dedup();
        let (low, high, mut ordered) = (self.low.len(), count - self.high.len(), 0);
        let mut found = Vec::with_capacity(wanted.len());
        for rank in wanted {
            let one = if rank < low {
                self.low.get(rank).map(|key| value(*key))
            } else if rank >= high {
                self.high.get(rank - high).map(|key| value(*key))
            } else {
                self.middle(rank, &mut ordered)
            };
            found.push((rank, one?));
        }
        let at = |rank: usize| found.iter().find(|(one, _)| *one == rank).map(|(_, value)| *value);
        let of = |p: f64| {
            let [below, above] = ranks(p, count)?;
            let (low, part) = (at(below)?, place(p, count).fract());
            Some((p, low + part * (at(above)? - low)))
        };
        probabilities.iter().map(|p| of(*p)).collect()
    }
}

/// Where the quantile of probability `p` lies among `count` sorted values, counted from 0.
fn place(p: f64, count: usize) -> f64 {
    (p * count as f64 - 0.5).max(0.0)
}

/// The ranks between which that is; `None` without a value.
fn ranks(p: f64, count: usize) -> Option<[usize; 2]> {
    let last = count.checked_sub(1)?;
    let below = place(p, count).floor() as usize;
    Some([below.min(last), (below + 1).min(last)])
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

/// Ranks, counted from 0, of the ends of the symmetric interval of `count` values.
fn ends(count: usize, coverage: Coverage) -> Option<[usize; 2]> {
    let held = held(count, coverage);
    let low = count.checked_sub(held)?.div_ceil(2).checked_sub(1)?;
    Some([low, low + held])
}

/// Mean, u and symmetric ends of one batch; NaN stands for a trial without a value.
pub(super) fn of_batch(values: &[f64], coverage: Coverage) -> Option<[f64; 4]> {
    let mut keys: Vec<i64> = values.iter().filter(|y| !y.is_nan()).map(|y| key(*y)).collect();
    let [low, high] = ends(keys.len(), coverage)?;
    let (mean, u) = moments_of(values, keys.len());
    let (below, high, _) = keys.select_nth_unstable(high);
    let high = value(*high);
    Some([mean, u, value(*below.select_nth_unstable(low).1), high])
}

/// The same of `count` values of which the lowest and the highest are known.
fn of_sifted_batch(
    values: &[f64],
    count: usize,
    coverage: Coverage,
    low: &mut [i64],
    high: &mut [i64],
) -> Option<[f64; 4]> {
    let [first, last] = ends(count, coverage)?;
    let above = count - 1 - last;
    if low.len() <= first || high.len() <= above {
        return of_batch(values, coverage);
    }
    let (mean, u) = moments_of(values, count);
    let from = high.len() - 1 - above;
    Some([mean, u, value(*low.select_nth_unstable(first).1), value(*high.select_nth_unstable(from).1)])
}

/// Values in order, and the figures of each full batch, without a look at all values more than once or twice; `None`
/// where that will not do.
fn sifted(values: &[f64], coverage: Coverage, quantiles: &[f64]) -> Option<(Ordered, Vec<Option<[f64; 4]>>)> {
    let mut sifted = Sifted::new(Marks::of(values, coverage, quantiles)?);
    let mut batches = Vec::with_capacity(values.len() / BATCH);
    for batch in values.chunks(BATCH) {
        let before = (sifted.low.len(), sifted.high.len(), sifted.count);
        sifted.add(batch);
        if batch.len() == BATCH {
            let (low, high) = (&mut sifted.low[before.0..], &mut sifted.high[before.1..]);
            batches.push(of_sifted_batch(batch, sifted.count - before.2, coverage, low, high));
        }
    }
    Some((Ordered::sifted(sifted, coverage)?, batches))
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
    let all = || {
        let batches = values.chunks_exact(BATCH).map(|batch| of_batch(batch, coverage)).collect();
        (Ordered::of(values, coverage), batches)
    };
    let (mut ordered, batches) = sifted(values, coverage, quantiles).unwrap_or_else(all);
    let trials = ordered.count;
    let (symmetric, shortest) = (ordered.symmetric()?, ordered.shortest()?);
    let quantiles = match ordered.quantiles(quantiles) {
        Some(found) => found,
        None => Ordered::of(values, coverage).quantiles(quantiles)?,
    };
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

    /// What is sifted out is what all values show, whatever they are: bits and all.
    #[test]
    fn sifted_values_show_what_all_show() {
        let mut stream = crate::numeric::stream::Stream::new(9, 0);
        let n = 5 * BATCH + 77;
        let normal: Vec<f64> = (0..n).map(|_| stream.normal()).collect();
        let signs = |y: &f64| if y.fract().abs() < 0.3 { 0.0_f64.copysign(*y) } else { *y };
        let columns: [Vec<f64>; 7] = [
            normal.clone(),
            normal.iter().map(|y| if *y > 1.0 { f64::NAN } else { *y }).collect(),
            // Many alike, zeros of both signs, all alike.
            normal.iter().map(|y| (4.0 * y).round()).collect(),
            normal.iter().map(signs).collect(),
            vec![3.0; n],
            // The first batch is no sample of the others.
            (0..n).map(|i| i as f64).collect(),
            (0..n).map(|i| normal[i] - if i < BATCH { 9.0 } else { 0.0 }).collect(),
        ];
        let p = [0.05, 0.25, 0.5, 0.75, 0.95, 0.002, 0.26];
        for (k, values) in columns.iter().enumerate() {
            for coverage in [Coverage::P95, Coverage::new(0.8).unwrap(), Coverage::new(0.999).unwrap()] {
                let mut all = Ordered::of(values, coverage);
                let batches: Vec<_> = values.chunks_exact(BATCH).map(|batch| of_batch(batch, coverage)).collect();
                let found = summary(values, coverage, &p, f64::INFINITY).unwrap();
                // As they are written, which tells zeros of either sign apart.
                let shown =
                    (all.symmetric().unwrap(), all.shortest().unwrap(), all.quantiles(&p).unwrap(), accuracy(&batches));
                let found = (found.symmetric, found.shortest, found.quantiles, found.accuracy);
                assert_eq!(format!("{found:?}"), format!("{shown:?}"));
                // The first columns are what the marks are for; then they are too few for all values.
                let sifted = sifted(values, coverage, &p).and_then(|(mut sifted, _)| sifted.quantiles(&p));
                assert_eq!(sifted.is_some(), k < 5, "{k}");
            }
        }
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
