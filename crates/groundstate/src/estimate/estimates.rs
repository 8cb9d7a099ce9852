//! Estimates of concentrations: value, standard uncertainty, degrees of freedom, status.

use std::sync::Arc;

use super::{Contributions, Coverage, Dof, Intervals, Status};
use crate::error::Error;
use crate::unit::Unit;

/// One estimate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Value in the unit of its table; NaN exactly when the status has no value.
    pub value: f64,
    /// Standard uncertainty, same unit; NaN where there is no value or no degree of freedom to estimate it from.
    pub u: f64,
    /// Effective degrees of freedom.
    pub dof: Dof,
    /// Where it lies, or why there is no value.
    pub status: Status,
}

/// Expanded uncertainty and coverage factor of a standard uncertainty `u` with `dof` (JCGM 100:2008 6.2, G.3).
pub fn expanded(u: f64, dof: Dof, coverage: Coverage) -> (f64, f64) {
    let k = dof.coverage_factor(coverage);
    (k * u, k)
}

/// Estimates in one unit, with the contributions of their sources.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimates {
    value: Vec<f64>,
    status: Vec<Status>,
    unit: Unit,
    contributions: Arc<Contributions>,
}

impl Estimates {
    /// Estimates of `value` with one row of `contributions` each.
    ///
    /// # Errors
    /// Different lengths, or a value that is NaN where its status has a value (or the reverse).
    pub fn new(value: Vec<f64>, status: Vec<Status>, unit: Unit, contributions: Contributions) -> Result<Self, Error> {
        if value.len() != status.len() || value.len() != contributions.rows() {
            let what = format!(
                "{} values, {} statuses and {} rows of contributions do not go together",
                value.len(),
                status.len(),
                contributions.rows()
            );
            return Err(Error::argument("estimates", what));
        }
        if let Some(i) = (0..value.len()).find(|&i| value[i].is_finite() != status[i].has_value()) {
            let what = format!("value {i} is {} but its status is {}", value[i], status[i].name());
            return Err(Error::argument("estimates", what));
        }
        Ok(Estimates { value, status, unit, contributions: Arc::new(contributions) })
    }

    /// Number of estimates.
    pub fn len(&self) -> usize {
        self.value.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.value.is_empty()
    }

    /// Values in [`Estimates::unit`].
    pub fn values(&self) -> &[f64] {
        &self.value
    }

    /// Statuses.
    pub fn statuses(&self) -> &[Status] {
        &self.status
    }

    /// Unit of values and standard uncertainties.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The contributions that all uncertainty follows from.
    pub fn contributions(&self) -> &Contributions {
        &self.contributions
    }

    /// The `i`-th estimate; `None` past the end.
    pub fn get(&self, i: usize) -> Option<Estimate> {
        (i < self.len()).then(|| self.at(i))
    }

    /// The estimates with these indices, in this order; `None` if one is past the end.
    pub fn select(&self, rows: &[usize]) -> Option<Estimates> {
        Some(Estimates {
            value: rows.iter().map(|row| self.value.get(*row).copied()).collect::<Option<_>>()?,
            status: rows.iter().map(|row| self.status.get(*row).copied()).collect::<Option<_>>()?,
            unit: self.unit,
            contributions: Arc::new(self.contributions.select(rows)),
        })
    }

    /// All estimates, in order.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = Estimate> + '_ {
        (0..self.len()).map(|i| self.at(i))
    }

    fn at(&self, i: usize) -> Estimate {
        let (status, dof) = (self.status[i], self.contributions.dof(i));
        let u = if status.has_value() && dof.get() > 0.0 { self.contributions.u(i) } else { f64::NAN };
        Estimate { value: self.value[i], u, dof, status }
    }

    /// Delta intervals: value plus and minus the coverage factor times u.
    pub fn interval(&self, coverage: Coverage) -> Intervals {
        Intervals::delta(self.iter(), coverage)
    }
}
