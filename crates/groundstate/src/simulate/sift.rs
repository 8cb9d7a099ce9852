//! Values that may be asked for by their rank, gathered in one pass from among many that will not be.
//!
//! The first batch of trials is put in order and sets marks: below the one, above the other, or between two of them the
//! wanted ranks lie almost certainly. Only what lies there is kept. That the marks did their work is seen from the
//! counts: whoever asks for a rank that is not held looks at all values instead, so the marks change no figure.

use super::options::BATCH;
use super::summary::{key, value};
use crate::estimate::Coverage;
use crate::numeric::threads::{Work, widest};

/// Values that are looked at together.
const BLOCK: usize = 256;
/// How many standard deviations of a rank within the first batch the marks lie beyond it.
const SAFELY: f64 = 5.0;

/// Where the wanted values lie.
pub(super) struct Marks {
    /// The lowest and the highest that an interval may leave out lie at or beyond these.
    low: f64,
    high: f64,
    /// Stretches about quantiles, ends included, in order and apart.
    about: Vec<[f64; 2]>,
}

/// What lies there.
pub(super) struct Sifted {
    marks: Marks,
    /// Keys of the values, in no order.
    pub low: Vec<i64>,
    pub high: Vec<i64>,
    pub middle: Vec<i64>,
    /// How many values lie below each stretch.
    below: Vec<usize>,
    /// How many values there are.
    pub count: usize,
    room: [f64; BLOCK],
}

/// A stretch of the middle: the rank of its first value, the place that this has in the middle once that is in order,
/// and how many values it has.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub rank: usize,
    pub place: usize,
    pub len: usize,
}

impl Marks {
    /// Marks for `coverage` and `quantiles` by the first of many `values`; `None` where it is as quick to look at all.
    pub fn of(values: &[f64], coverage: Coverage, quantiles: &[f64]) -> Option<Marks> {
        let outside = 1.0 - coverage.get();
        if values.len() < 4 * BATCH || outside > 0.25 {
            return None;
        }
        let mut sample: Vec<i64> = values.iter().take(BATCH).filter(|y| !y.is_nan()).map(|y| key(*y)).collect();
        sample.sort_unstable();
        let n = sample.len() as f64;
        let margin = |p: f64| SAFELY * (p * (1.0 - p) * n).sqrt() + SAFELY;
        let at = |rank: f64| sample.get(rank as usize).map(|key| value(*key));
        let beyond = outside * n + margin(outside);
        let (low, high) = (at(beyond)?, at((n - 1.0 - beyond).max(0.0))?);
        let mut about: Vec<[f64; 2]> = Vec::new();
        let mut wanted: Vec<f64> = quantiles.iter().copied().filter(|p| p.min(1.0 - p) > outside).collect();
        wanted.sort_unstable_by(f64::total_cmp);
        for p in wanted {
            let (from, to) = (p * n - margin(p), p * n + margin(p));
            let from = if from < 0.0 { f64::NEG_INFINITY } else { at(from)? };
            let to = at(to).unwrap_or(f64::INFINITY);
            match about.last_mut() {
                Some(last) if from <= last[1] => last[1] = to,
                _ => about.push([from, to]),
            }
        }
        Some(Marks { low, high, about })
    }
}

impl Sifted {
    pub fn new(marks: Marks) -> Sifted {
        let below = vec![0; marks.about.len()];
        Sifted { marks, low: Vec::new(), high: Vec::new(), middle: Vec::new(), below, count: 0, room: [0.0; BLOCK] }
    }

    /// Looks at more values.
    pub fn add(&mut self, values: &[f64]) {
        for block in values.chunks(BLOCK) {
            widest(Look { sifted: self, block });
        }
    }

    /// The stretches of the middle.
    pub fn stretches(&self) -> Vec<Stretch> {
        let mut place = 0;
        let each = self.marks.about.iter().zip(&self.below);
        each.map(|([from, to], below)| {
            let within = |key: &&i64| (*from..=*to).contains(&value(**key));
            let stretch = Stretch { rank: *below, place, len: self.middle.iter().filter(within).count() };
            place += stretch.len;
            stretch
        })
        .collect()
    }
}

struct Look<'a, 'b> {
    sifted: &'a mut Sifted,
    block: &'b [f64],
}

impl Work for Look<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn done(self) {
        let Look { sifted: Sifted { marks, low, high, middle, below, count, room }, block } = self;
        *count += block.iter().map(|y| u64::from(!y.is_nan())).sum::<u64>() as usize;
        let mut flags = [0; BLOCK];
        flags.iter_mut().zip(block).for_each(|(flag, y)| *flag = u64::from(*y <= marks.low));
        keep(block, &flags, room, low);
        flags.iter_mut().zip(block).for_each(|(flag, y)| *flag = u64::from(*y >= marks.high));
        keep(block, &flags, room, high);
        if marks.about.is_empty() {
            return;
        }
        flags = [0; BLOCK];
        for ([from, to], below) in marks.about.iter().zip(below) {
            let mut sum = 0;
            for (flag, y) in flags.iter_mut().zip(block) {
                *flag |= u64::from(*y >= *from) & u64::from(*y <= *to);
                sum += u64::from(*y < *from);
            }
            *below += sum as usize;
        }
        keep(block, &flags, room, middle);
    }
}

/// Keeps the flagged values, without a branch for each: there is no telling which comes next.
#[inline(always)]
fn keep(block: &[f64], flags: &[u64; BLOCK], room: &mut [f64; BLOCK], kept: &mut Vec<i64>) {
    let mut end = 0;
    for (y, flag) in block.iter().zip(flags) {
        if let Some(room) = room.get_mut(end) {
            *room = *y;
        }
        end += *flag as usize;
    }
    kept.extend(room.iter().take(end).map(|y| key(*y)));
}
