//! Many runs at once: one bad run never stops the others.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;

use super::reduce;
use crate::error::{Error, Kind, Place, Problem};
use crate::method::Method;
use crate::outcome::Outcome;
use crate::run::{Run, RunError};

/// Runs between two words of progress: enough to keep the threads busy, few enough to stop within a moment.
pub(crate) const CHUNK: usize = 64;

/// Reduces each run by the method that `method` names for it, on `threads` threads (one without the feature
/// `parallel`), in the order of the runs. Thread count and chunking change no bit of any outcome.
///
/// Between chunks `progress` is told how many runs are done of how many; where it breaks off, the runs not yet begun
/// end as [`Kind::Interrupted`] and those finished are kept.
pub fn reduce_many<'m, M, P>(
    runs: &[Run],
    method: M,
    threads: NonZeroUsize,
    mut progress: P,
) -> Vec<Result<Outcome, RunError>>
where
    M: Fn(&Run) -> Result<&'m Method, Error> + Sync,
    P: FnMut(usize, usize) -> ControlFlow<()>,
{
    let one = &|run: &Run| {
        method(run).and_then(|method| reduce(run, method)).map_err(|error| RunError { run: run.name.clone(), error })
    };
    let mut outcomes = Vec::with_capacity(runs.len());
    let pool = Pool::new(threads);
    for chunk in runs.chunks(CHUNK) {
        if progress(outcomes.len(), runs.len()).is_break() {
            outcomes.extend(runs[outcomes.len()..].iter().map(|run| Err(interrupted(run))));
            return outcomes;
        }
        pool.map(chunk, one, &mut outcomes);
    }
    // The last word: everything is done, so there is nothing left to break off.
    let _ = progress(outcomes.len(), runs.len());
    outcomes
}

fn interrupted(run: &Run) -> RunError {
    let problem = Problem::new(Place::default().labelled(&*run.name), "not reduced: the caller asked for a stop");
    RunError { run: run.name.clone(), error: Error::new(Kind::Interrupted, problem) }
}

/// The threads of one call; none outlives it.
#[cfg(feature = "parallel")]
pub(crate) struct Pool(Option<rayon::ThreadPool>);

#[cfg(feature = "parallel")]
impl Pool {
    /// Where no threads can be had, the caller's own does the work.
    pub fn new(threads: NonZeroUsize) -> Self {
        Pool(
            (threads.get() > 1)
                .then(|| rayon::ThreadPoolBuilder::new().num_threads(threads.get()).build().ok())
                .flatten(),
        )
    }

    pub fn map<T: Sync, R: Send>(&self, items: &[T], one: impl Fn(&T) -> R + Sync, done: &mut Vec<R>) {
        use rayon::prelude::*;
        match &self.0 {
            Some(pool) => done.extend(pool.install(|| items.par_iter().map(&one).collect::<Vec<R>>())),
            None => done.extend(items.iter().map(one)),
        }
    }

    /// Does `one` with every item, each of which is one thread's alone.
    pub fn each<T: Send>(&self, items: &mut [T], one: impl Fn(&mut T) + Sync) {
        use rayon::prelude::*;
        match &self.0 {
            Some(pool) => pool.install(|| items.par_iter_mut().for_each(&one)),
            None => items.iter_mut().for_each(one),
        }
    }
}

#[cfg(not(feature = "parallel"))]
pub(crate) struct Pool;

#[cfg(not(feature = "parallel"))]
impl Pool {
    pub fn new(_: NonZeroUsize) -> Self {
        Pool
    }

    pub fn map<T, R>(&self, items: &[T], one: impl Fn(&T) -> R, done: &mut Vec<R>) {
        done.extend(items.iter().map(one));
    }

    pub fn each<T>(&self, items: &mut [T], one: impl Fn(&mut T)) {
        items.iter_mut().for_each(one);
    }
}
