//! Many runs at once: one bad run never stops the others.

use std::collections::HashMap;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::sync::Arc;

use super::by;
use crate::error::{Error, Kind, Place, Problem};
use crate::method::Method;
use crate::numeric::threads::Pool;
use crate::outcome::{Outcome, Used};
use crate::run::{Run, RunError};

/// Runs between two words of progress: enough to keep the threads busy, few enough to stop within a moment.
const CHUNK: usize = 64;

/// Reduces each run by the method that `method` names for it, on `threads` threads (one without the feature
/// `parallel`), in the order of the runs. Thread count and chunking change no bit of any outcome.
///
/// Between chunks `progress` is told how many runs are done of how many; where it breaks off, the runs not yet begun
/// end as [`Kind::Interrupted`] and those finished are kept.
pub fn reduce_many<'m, M, P>(
    runs: &[Arc<Run>],
    method: M,
    threads: NonZeroUsize,
    mut progress: P,
) -> Vec<Result<Outcome, RunError>>
where
    M: Fn(&Run) -> Result<&'m Method, Error> + Sync,
    P: FnMut(usize, usize) -> ControlFlow<()>,
{
    let pool = Pool::new(threads);
    let mut methods = Methods::default();
    let mut outcomes = Vec::with_capacity(runs.len());
    for chunk in runs.chunks(CHUNK) {
        if progress(outcomes.len(), runs.len()).is_break() {
            outcomes.extend(runs[outcomes.len()..].iter().map(|run| Err(interrupted(run))));
            return outcomes;
        }
        let used = methods.of(chunk, &method, &pool);
        let items: Vec<(&Arc<Run>, Ready<'_>)> = chunk.iter().zip(used).collect();
        let one = |(run, used): &(&Arc<Run>, Ready<'_>)| {
            let found = used.as_ref().map_err(Error::clone).and_then(|used| by(run, used));
            found.map_err(|error| RunError { run: run.name.clone(), error })
        };
        pool.map(&items, one, &mut outcomes);
    }
    // The last word: everything is done, so there is nothing left to break off.
    let _ = progress(outcomes.len(), runs.len());
    outcomes
}

/// The method of a run, or what is wrong with it.
type Ready<'a> = Result<&'a Arc<Used>, Error>;

/// Methods made ready to be used, each once however many runs it reduces.
#[derive(Default)]
struct Methods<'m> {
    /// Index of a method by where it stands.
    known: HashMap<*const Method, usize>,
    named: Vec<&'m Method>,
    used: Vec<Result<Arc<Used>, Error>>,
}

impl<'m> Methods<'m> {
    /// The method of each run.
    fn of(
        &mut self,
        runs: &[Arc<Run>],
        method: impl Fn(&Run) -> Result<&'m Method, Error>,
        pool: &Pool,
    ) -> Vec<Ready<'_>> {
        let mut index = |method: &'m Method| {
            *self.known.entry(std::ptr::from_ref(method)).or_insert_with(|| {
                self.named.push(method);
                self.named.len() - 1
            })
        };
        let found: Vec<Result<usize, Error>> = runs.iter().map(|run| method(run).map(&mut index)).collect();
        let ready = |method: &&Method| method.check().map(|()| Arc::new(Used::new((*method).clone())));
        pool.map(&self.named[self.used.len()..], ready, &mut self.used);
        found.into_iter().map(|index| index.and_then(|index| self.used[index].as_ref().map_err(Error::clone))).collect()
    }
}

fn interrupted(run: &Run) -> RunError {
    let problem = Problem::new(Place::default().labelled(&*run.name), "not reduced: the caller asked for a stop");
    RunError { run: run.name.clone(), error: Error::new(Kind::Interrupted, problem) }
}
