//! Trials in fixed chunks, each with its own stream, put together in the order of the chunks.

use super::comparison::tolerance;
use super::options::{BATCH, CHUNK, MOST_VALUES, SimulateOptions, Trials};
use super::summary::{self, accuracy, of_batch};
use crate::numeric::stream::Stream;
use crate::reduce::Pool;

/// Something that can be tried: each trial draws its inputs and gives one value a result.
pub(super) trait Model: Sync {
    /// Number of results.
    fn results(&self) -> usize;

    /// Room for one trial's draws.
    fn room(&self) -> Vec<f64>;

    /// One trial. A result without a value is NaN.
    fn trial(&self, stream: &mut Stream, room: &mut Vec<f64>, out: &mut [f64]);

    /// First-order u and lowest degrees of freedom of a result.
    fn expected(&self, result: usize) -> (f64, f64);
}

/// How a simulation came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ended {
    /// It had the number of trials that was asked for.
    Fixed,
    /// Every result settled within its numerical tolerance.
    Settled,
    /// It had all the trials it may have before every result had settled.
    NotSettled,
}

impl Ended {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Ended::Fixed => "fixed",
            Ended::Settled => "settled",
            Ended::NotSettled => "not_settled",
        }
    }
}

/// Values of all trials, one column a result.
pub(super) struct Tried {
    pub columns: Vec<Vec<f64>>,
    pub trials: usize,
    pub ended: Ended,
}

pub(super) fn run<M: Model>(model: &M, options: &SimulateOptions) -> Tried {
    let results = model.results();
    let pool = Pool::new(options.threads);
    let mut tried = Tried { columns: vec![Vec::new(); results], trials: 0, ended: Ended::Fixed };
    match options.trials {
        Trials::Fixed(count) => extend(&mut tried, model, options.seed, &pool, count),
        Trials::Adaptive { figures, most } => {
            let most = most.min(MOST_VALUES / results.max(1));
            let mut batches: Vec<Vec<Option<[f64; 4]>>> = vec![Vec::new(); results];
            tried.ended = Ended::NotSettled;
            while tried.ended == Ended::NotSettled && tried.trials < most {
                let start = tried.trials;
                extend(&mut tried, model, options.seed, &pool, BATCH.min(most - start));
                for (column, batches) in tried.columns.iter().zip(&mut batches) {
                    batches.push(column.get(start..).and_then(|batch| of_batch(batch, options.coverage)));
                }
                let settled = |result: usize| settled(&batches[result], model.expected(result), figures);
                if tried.trials.is_multiple_of(BATCH) && (0..results).all(settled) {
                    tried.ended = Ended::Settled;
                }
            }
        }
    }
    tried
}

/// Whether twice the standard deviations of a result's figures are within its tolerance. Where a distribution has no
/// mean or no standard deviation, these are not asked for and the tolerance is that of the first-order u.
fn settled(batches: &[Option<[f64; 4]>], (first_u, lowest_dof): (f64, f64), figures: u8) -> bool {
    let Some(found) = accuracy(batches) else { return false };
    let us: Vec<f64> = batches.iter().flatten().map(|batch| batch[1]).collect();
    let u = if lowest_dof > 2.0 { summary::moments(&us).0 } else { first_u };
    // A result without any scatter is what it is.
    let within = |s: f64| 2.0 * s <= tolerance(u, figures) || s <= 0.0;
    let mean = lowest_dof <= 1.0 || within(found.mean);
    let sd = lowest_dof <= 2.0 || within(found.u);
    mean && sd && within(found.low) && within(found.high)
}

/// Adds `count` trials; those there already are whole chunks.
fn extend<M: Model>(tried: &mut Tried, model: &M, seed: u64, pool: &Pool, count: usize) {
    let first = tried.trials / CHUNK;
    let chunks: Vec<(u64, usize)> =
        (0..count.div_ceil(CHUNK)).map(|chunk| ((first + chunk) as u64, CHUNK.min(count - chunk * CHUNK))).collect();
    let results = model.results();
    let mut done: Vec<Vec<f64>> = Vec::with_capacity(chunks.len());
    let one = |(chunk, trials): &(u64, usize)| {
        let (mut stream, mut room) = (Stream::new(seed, *chunk), model.room());
        let mut values = vec![f64::NAN; trials * results];
        if results > 0 {
            values.chunks_exact_mut(results).for_each(|out| model.trial(&mut stream, &mut room, out));
        }
        values
    };
    pool.map(&chunks, one, &mut done);
    for values in &done {
        for (k, column) in tried.columns.iter_mut().enumerate() {
            column.extend(values.iter().skip(k).step_by(results));
        }
    }
    tried.trials += count;
}
