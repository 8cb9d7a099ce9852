//! What a machine has beyond one plain thread: more of them, and wider vectors.

use std::num::NonZeroUsize;
use std::sync::{Mutex, PoisonError};
use std::thread;

/// The threads of one call; none outlives it. The caller's own is one of them, so that one thread costs nothing and
/// two cost the start of one.
pub(crate) struct Pool(NonZeroUsize);

impl Pool {
    pub fn new(threads: NonZeroUsize) -> Self {
        Pool(if cfg!(feature = "parallel") { threads } else { NonZeroUsize::MIN })
    }

    /// How many there are.
    pub fn threads(&self) -> usize {
        self.0.get()
    }

    /// Does `one` with every item, and puts what it gives to the end of `done`, in order.
    pub fn map<T: Sync, R: Send>(&self, items: &[T], one: impl Fn(&T) -> R + Sync, done: &mut Vec<R>) {
        if self.threads() == 1 || items.len() < 2 {
            done.extend(items.iter().map(one));
            return;
        }
        let mut found: Vec<(&T, Option<R>)> = items.iter().map(|item| (item, None)).collect();
        self.each(&mut found, |(item, found)| *found = Some(one(item)));
        done.extend(found.into_iter().filter_map(|(_, found)| found));
    }

    /// Does `one` with every item, each of which is one thread's alone. A thread keeps to its own stretch of the items
    /// until that is done, so that no two of them begin the same page of memory.
    pub fn each<T: Send>(&self, items: &mut [T], one: impl Fn(&mut T) + Sync) {
        let threads = self.threads().min(items.len());
        if threads < 2 {
            items.iter_mut().for_each(one);
            return;
        }
        let stretches: Vec<_> =
            items.chunks_mut(items.len().div_ceil(threads)).map(|s| Mutex::new(s.iter_mut())).collect();
        // Held only to take an item; a thread that panics while it does one leaves the others whole.
        let next = |i: usize| stretches[i].lock().unwrap_or_else(PoisonError::into_inner).next();
        let work = |own: usize| {
            for i in (own..stretches.len()).chain(0..own) {
                while let Some(item) = next(i) {
                    one(item);
                }
            }
        };
        let work = &work;
        thread::scope(|scope| {
            for own in 1..stretches.len() {
                // Where no thread can be had, the others do the work.
                if thread::Builder::new().spawn_scoped(scope, move || work(own)).is_err() {
                    break;
                }
            }
            work(0);
        });
    }
}

/// Something that is done with the widest vectors there are.
pub(crate) trait Work {
    type Output;

    /// Does it. To be inlined with all that it calls, or it is compiled for plain vectors only; a closure would not be.
    fn done(self) -> Self::Output;
}

/// Does `work` with the widest vector instructions of this processor. Rounding is that of the standard whatever the
/// width, and no product is fused into a sum, so the bits are the same.
#[cfg(feature = "simd")]
pub(crate) fn widest<W: Work>(work: W) -> W::Output {
    struct Wide<W>(W);
    impl<W: Work> pulp::WithSimd for Wide<W> {
        type Output = W::Output;
        #[inline(always)]
        fn with_simd<S: pulp::Simd>(self, _: S) -> W::Output {
            self.0.done()
        }
    }
    pulp::Arch::new().dispatch(Wide(work))
}

#[cfg(not(feature = "simd"))]
pub(crate) fn widest<W: Work>(work: W) -> W::Output {
    work.done()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_are_each_done_once_and_results_keep_their_order() {
        for threads in [1, 2, 3, 16] {
            let pool = Pool::new(NonZeroUsize::new(threads).unwrap());
            for count in [0, 1, 2, 50] {
                let mut items: Vec<usize> = (0..count).collect();
                pool.each(&mut items, |item| *item += 1);
                assert_eq!(items, (1..=count).collect::<Vec<_>>());
                let mut done = vec![7];
                pool.map(&items, |item| item * 10, &mut done);
                assert_eq!(done[1..], (1..=count).map(|i| i * 10).collect::<Vec<_>>());
            }
        }
    }

    #[test]
    fn what_panics_in_a_thread_is_not_lost() {
        let pool = Pool::new(NonZeroUsize::new(2).unwrap());
        let work = || pool.each(&mut [1, 2, 3, 4], |item| assert!(*item != 3));
        assert!(std::panic::catch_unwind(work).is_err());
    }
}
