//! Trials in fixed chunks, each with its own stream, that write into the columns of the results where they belong.

use std::ops::ControlFlow;

use super::comparison::tolerance;
use super::options::{BATCH, CHUNK, MOST_VALUES, SimulateOptions, Tolerance, Trials};
use super::summary::{accuracy, lane_moments, of_batch};
use crate::error::{Error, Kind, Place, Problem};
use crate::numeric::stream::Stream;
use crate::numeric::threads::Pool;

/// Threads wait for each other this often in a long simulation, and after these chunks each in a short one.
const GROUPS: usize = 16;
const FEWEST_CHUNKS: usize = 8;

/// Something that can be tried: each trial draws its inputs and gives one value a result.
pub(super) trait Model: Sync {
    /// Number of results.
    fn results(&self) -> usize;

    /// The trials of one chunk, a slice a result, all of the length of the chunk. A result without a value is NaN.
    fn chunk(&self, stream: &mut Stream, out: &mut [&mut [f64]]);

    /// How many chunks a thread may do before it looks up: about a tenth of a second's work.
    fn chunks_at_once(&self) -> usize {
        FEWEST_CHUNKS
    }

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

/// Who is told, between batches, how many trials are done of the most that there may be, and may break off.
pub(super) type Progress<'a> = &'a mut dyn FnMut(usize, usize) -> ControlFlow<()>;

/// Tries `model`.
///
/// # Errors
/// [`Kind::Interrupted`] where `progress` breaks off.
pub(super) fn run<M: Model>(
    model: &M,
    options: &SimulateOptions,
    pool: &Pool,
    progress: Progress<'_>,
) -> Result<Tried, Error> {
    let results = model.results();
    let mut tried = Tried { columns: vec![Vec::new(); results], trials: 0, ended: Ended::Fixed };
    match options.trials {
        Trials::Fixed(count) => {
            tried.columns = (0..results).map(|_| vec![0.0; count]).collect();
            // Enough for every thread to be busy most of the time, few enough to stop within a moment and to tell of
            // progress often.
            let threads = options.threads.get();
            let chunks = (count / CHUNK / threads / GROUPS).max(FEWEST_CHUNKS).min(model.chunks_at_once());
            let group = CHUNK * chunks * threads;
            while tried.trials < count {
                told(progress, tried.trials, count)?;
                let end = count.min(tried.trials.saturating_add(group));
                extend(&mut tried, model, options.seed, pool, end);
            }
        }
        Trials::Adaptive { tolerance, most } => {
            let most = most.min(MOST_VALUES / results.max(1));
            let mut batches: Vec<Vec<Option<[f64; 4]>>> = vec![Vec::new(); results];
            tried.ended = Ended::NotSettled;
            while tried.ended == Ended::NotSettled && tried.trials < most {
                told(progress, tried.trials, most)?;
                let start = tried.trials;
                let end = most.min(start + BATCH);
                tried.columns.iter_mut().for_each(|column| column.resize(end, 0.0));
                extend(&mut tried, model, options.seed, pool, end);
                for (column, batches) in tried.columns.iter().zip(&mut batches) {
                    batches.push(column.get(start..).and_then(|batch| of_batch(batch, options.coverage)));
                }
                let settled = |result: usize| settled(&batches[result], model.expected(result), tolerance);
                if tried.trials.is_multiple_of(BATCH) && (0..results).all(settled) {
                    tried.ended = Ended::Settled;
                }
            }
        }
    }
    // The last word: everything is done, so there is nothing left to break off.
    let _ = progress(tried.trials, tried.trials);
    Ok(tried)
}

fn told(progress: &mut dyn FnMut(usize, usize) -> ControlFlow<()>, done: usize, most: usize) -> Result<(), Error> {
    match progress(done, most) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => {
            let what = format!("the caller asked for a stop after {done} trials");
            Err(Error::new(Kind::Interrupted, Problem::new(Place::named("progress"), what)))
        }
    }
}

/// Whether twice the standard deviations of a result's figures are within its tolerance. Where a distribution has no
/// mean or no standard deviation, these are not asked for and the tolerance is that of the first-order u.
fn settled(batches: &[Option<[f64; 4]>], (first_u, lowest_dof): (f64, f64), wanted: Tolerance) -> bool {
    let Some(found) = accuracy(batches) else { return false };
    let us: Vec<f64> = batches.iter().flatten().map(|batch| batch[1]).collect();
    let u = if lowest_dof > 2.0 { lane_moments(&us).0 } else { first_u };
    let tolerance = match wanted {
        Tolerance::Figures(figures) => tolerance(u, figures),
        Tolerance::Absolute(tolerance) => tolerance,
    };
    // A result without any scatter is what it is.
    let within = |s: f64| 2.0 * s <= tolerance || s <= 0.0;
    let mean = lowest_dof <= 1.0 || within(found.mean);
    let sd = lowest_dof <= 2.0 || within(found.u);
    mean && sd && within(found.low) && within(found.high)
}

/// Tries up to `end` trials in all, for which the columns have room; those done already are whole chunks.
fn extend<M: Model>(tried: &mut Tried, model: &M, seed: u64, pool: &Pool, end: usize) {
    let start = tried.trials;
    let first = (start / CHUNK) as u64;
    let mut tasks: Vec<(u64, Vec<&mut [f64]>)> =
        (0..(end - start).div_ceil(CHUNK) as u64).map(|chunk| (first + chunk, Vec::new())).collect();
    for column in &mut tried.columns {
        let Some(room) = column.get_mut(start..end) else { continue };
        for (task, part) in tasks.iter_mut().zip(room.chunks_mut(CHUNK)) {
            task.1.push(part);
        }
    }
    pool.each(&mut tasks, |(chunk, out)| {
        if !out.is_empty() {
            model.chunk(&mut Stream::new(seed, *chunk), out);
        }
    });
    tried.trials = end;
}
