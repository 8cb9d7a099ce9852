//! Many runs at once: one bad run never stops the others.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;

use super::reduce;
use crate::error::{Error, Kind, Place, Problem};
use crate::method::Method;
use crate::numeric::threads::Pool;
use crate::outcome::Outcome;
use crate::run::{Run, RunError};

/// Runs between two words of progress: enough to keep the threads busy, few enough to stop within a moment.
const CHUNK: usize = 64;

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
