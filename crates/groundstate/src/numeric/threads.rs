//! What a machine has beyond one plain thread: more of them, and wider vectors.

use std::num::NonZeroUsize;

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

    /// How many there are.
    pub fn threads(&self) -> usize {
        self.0.as_ref().map_or(1, rayon::ThreadPool::current_num_threads)
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

    pub fn threads(&self) -> usize {
        1
    }

    pub fn map<T, R>(&self, items: &[T], one: impl Fn(&T) -> R, done: &mut Vec<R>) {
        done.extend(items.iter().map(one));
    }

    pub fn each<T>(&self, items: &mut [T], one: impl Fn(&mut T)) {
        items.iter_mut().for_each(one);
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
