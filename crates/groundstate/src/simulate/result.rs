//! What comes out of a simulation.

use std::sync::Arc;

use super::comparison::{Comparison, compare};
use super::engine::{self, Ended, Model};
use super::options::SimulateOptions;
use super::summary::{Summary, summary};
use crate::error::Error;
use crate::estimate::{Coverage, Estimate};
use crate::numeric::threads::Pool;
use crate::unit::Unit;

/// Why a result was not drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum NotDrawn {
    /// It has no value; its status says why.
    NoValue,
    /// It has no standard uncertainty: no degree of freedom is left to estimate the scatter from.
    NoUncertainty,
    /// Fewer than two trials gave a value.
    TooFewValues,
}

impl NotDrawn {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            NotDrawn::NoValue => "no_value",
            NotDrawn::NoUncertainty => "no_uncertainty",
            NotDrawn::TooFewValues => "too_few_values",
        }
    }
}

/// One simulated result.
#[derive(Clone, Debug, PartialEq)]
pub struct Simulated {
    /// Position in the run; outside of a run, the number of the result, counted from 1.
    pub position: u32,
    /// Its label; empty outside of a run.
    pub label: Arc<str>,
    /// Unit; none where the quantities have none.
    pub unit: Option<Unit>,
    /// The first-order result that it is compared with.
    pub first_order: Estimate,
    /// The distribution; absent where [`Simulated::not_drawn`] says why.
    pub distribution: Option<Summary>,
    /// Why there is no distribution.
    pub not_drawn: Option<NotDrawn>,
    /// Trials without a value: the moved reading lay beyond the moved curve, or a divisor came out at or below zero.
    /// The distribution is that of the others.
    pub without_value: usize,
    /// Comparison of the symmetric interval with the first-order one.
    pub comparison: Option<Comparison>,
}

/// A finished simulation.
#[derive(Clone, Debug, PartialEq)]
pub struct Simulation {
    /// What its random numbers followed from.
    pub seed: u64,
    /// Number of trials.
    pub trials: usize,
    /// How it ended.
    pub ended: Ended,
    /// Coverage probability of all intervals.
    pub coverage: Coverage,
    /// The results, in order.
    pub results: Vec<Simulated>,
    values: Vec<Vec<f64>>,
}

/// What is known of a result before the trials.
pub(super) struct Asked {
    pub position: u32,
    pub label: Arc<str>,
    pub unit: Option<Unit>,
    pub first_order: Estimate,
    pub not_drawn: Option<NotDrawn>,
}

impl NotDrawn {
    /// Whether `first_order` leaves something to draw from.
    pub(super) fn of(first_order: Estimate) -> Option<NotDrawn> {
        match (first_order.status.has_value(), first_order.u.is_finite()) {
            (false, _) => Some(NotDrawn::NoValue),
            (true, false) => Some(NotDrawn::NoUncertainty),
            (true, true) => None,
        }
    }
}

impl Simulation {
    /// Tries `model`, whose results are those of `asked` that can be drawn, in order.
    pub(super) fn of<M: Model>(
        asked: Vec<Asked>,
        model: &M,
        options: &SimulateOptions,
        progress: engine::Progress<'_>,
    ) -> Result<Simulation, Error> {
        options.check(model.results())?;
        let pool = Pool::new(options.threads);
        let tried = engine::run(model, options, &pool, progress)?;
        let drawn: Vec<usize> = (0..asked.len()).filter(|i| asked[*i].not_drawn.is_none()).collect();
        let mut columns: Vec<Vec<f64>> = vec![Vec::new(); asked.len()];
        let mut summaries: Vec<Option<Summary>> = vec![None; asked.len()];
        let pairs: Vec<(usize, &Vec<f64>)> = tried.columns.iter().enumerate().collect();
        let one = |(k, column): &(usize, &Vec<f64>)| {
            let (_, lowest_dof) = model.expected(*k);
            summary(column, options.coverage, &options.quantiles, lowest_dof)
        };
        let mut found = Vec::with_capacity(pairs.len());
        pool.map(&pairs, one, &mut found);
        for ((i, column), summary) in drawn.into_iter().zip(tried.columns).zip(found) {
            columns[i] = column;
            summaries[i] = summary;
        }
        let results = asked.into_iter().zip(summaries).zip(&columns).map(|((asked, distribution), column)| {
            let comparison = distribution.as_ref().and_then(|found| {
                compare(asked.first_order, found.symmetric, options.coverage, options.comparison_figures)
            });
            Simulated {
                position: asked.position,
                label: asked.label,
                unit: asked.unit,
                first_order: asked.first_order,
                not_drawn: asked.not_drawn.or(distribution.is_none().then_some(NotDrawn::TooFewValues)),
                without_value: match &distribution {
                    Some(found) => column.len() - found.trials,
                    None => column.iter().filter(|y| y.is_nan()).count(),
                },
                distribution,
                comparison,
            }
        });
        let results = results.collect();
        let coverage = options.coverage;
        Ok(Simulation {
            seed: options.seed,
            trials: tried.trials,
            ended: tried.ended,
            coverage,
            results,
            values: columns,
        })
    }

    /// The result at `position`.
    pub fn at(&self, position: u32) -> Option<&Simulated> {
        self.results.iter().find(|result| result.position == position)
    }

    /// Values of the `i`-th result in the order of the trials, NaN where a trial has none; empty where it was not
    /// drawn. `None` past the end.
    pub fn values(&self, i: usize) -> Option<&[f64]> {
        self.values.get(i).map(Vec::as_slice)
    }

    /// Covariance of the `i`-th and `j`-th results over the trials in which both have a value; `None` for fewer than
    /// two of those.
    pub fn covariance(&self, i: usize, j: usize) -> Option<f64> {
        let both = || {
            let pairs = self.values.get(i).into_iter().flatten().zip(self.values.get(j).into_iter().flatten());
            pairs.filter(|(a, b)| !a.is_nan() && !b.is_nan())
        };
        let n = both().count();
        if n < 2 {
            return None;
        }
        let (a, b) = both().fold((0.0, 0.0), |sum, pair| (sum.0 + pair.0, sum.1 + pair.1));
        let (a, b) = (a / n as f64, b / n as f64);
        Some(both().map(|(x, y)| (x - a) * (y - b)).sum::<f64>() / (n as f64 - 1.0))
    }
}
