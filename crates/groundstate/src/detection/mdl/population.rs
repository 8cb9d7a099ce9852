//! The results of one kind, sorted into what can be computed with and what is only counted.

use super::observation::{MdlKind, MdlResult, Measured};

/// How many results of one kind there were, and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Numbers of either sign.
    pub numeric: usize,
    /// Non-detects.
    pub nondetects: usize,
    /// Missing, removed before anything was computed.
    pub missing: usize,
    /// Left out as documented gross failures.
    pub excluded: usize,
}

impl Counts {
    /// The results that count: numbers and non-detects.
    pub const fn used(self) -> usize {
        self.numeric + self.nondetects
    }
}

/// The results of one kind.
pub(super) struct Population<'a> {
    pub kind: MdlKind,
    /// Neither missing nor left out.
    pub used: Vec<&'a MdlResult>,
    /// Their numbers, ascending.
    pub numbers: Vec<f64>,
    pub counts: Counts,
}

impl<'a> Population<'a> {
    pub fn of(kind: MdlKind, results: impl IntoIterator<Item = &'a MdlResult>) -> Self {
        let mut population = Population { kind, used: Vec::new(), numbers: Vec::new(), counts: Counts::default() };
        for result in results.into_iter().filter(|result| result.kind == kind) {
            // A result that is both left out and missing was never a result.
            if result.is_missing() {
                population.counts.missing += 1;
                continue;
            }
            if result.excluded.is_some() {
                population.counts.excluded += 1;
                continue;
            }
            match result.measured {
                // Adding zero turns -0 into 0, which would otherwise be printed.
                Measured::Number(x) => population.numbers.push(x + 0.0),
                Measured::NonDetect | Measured::Missing => population.counts.nondetects += 1,
            }
            population.used.push(result);
        }
        // Sorted, so that sums and with them every figure are the same in any order of the input.
        population.numbers.sort_unstable_by(f64::total_cmp);
        population.counts.numeric = population.numbers.len();
        population
    }

    /// Spikes that gave no positive number.
    pub fn failing(&self) -> usize {
        self.used.iter().filter(|result| !result.is_positive_number()).count()
    }
}
