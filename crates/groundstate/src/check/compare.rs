//! Comparison with a limit.

use std::cmp::Ordering;
use std::fmt;

use super::{Limit, Scale};
use crate::criteria::{Comparison, Edge};
use crate::rounding::{Rounding, Rule};

/// Two figures closer than this, relative to the larger, are one. Binary arithmetic puts 100 * 1.1 / 1.0 an ulp above
/// 110; no measurement has twelve figures.
const GUARD: f64 = 1e-12;

/// The order of `value` and `limit`, equal within the guard.
pub(super) fn order(value: f64, limit: f64) -> Ordering {
    if (value - limit).abs() <= GUARD * value.abs().max(limit.abs()) {
        return Ordering::Equal;
    }
    value.total_cmp(&limit)
}

impl Limit {
    /// At most `high`.
    pub(super) const fn at_most(high: f64, edge: Edge) -> Limit {
        Limit { low: None, high: Some(high), edge }
    }

    /// At least `low`.
    pub(super) const fn at_least(low: f64, edge: Edge) -> Limit {
        Limit { low: Some(low), high: None, edge }
    }

    /// Whether `value` is within the limits: unrounded, or rounded half-even first where `comparison` says so and the
    /// figure is a percentage. A value within a relative 1e-12 of a limit is at the limit. NaN never passes.
    ///
    /// ```
    /// use groundstate::check::{Limit, Scale};
    /// use groundstate::criteria::{Comparison, Edge};
    /// let limit = Limit { low: Some(90.0), high: Some(110.0), edge: Edge::Inclusive };
    /// assert!(limit.admits(100.0 * 1.1 / 1.0, Scale::Percent, Comparison::Unrounded));
    /// assert!(!limit.admits(110.04, Scale::Percent, Comparison::Unrounded));
    /// assert!(limit.admits(110.04, Scale::Percent, Comparison::HalfEven { decimals: 1 }));
    /// ```
    pub fn admits(&self, value: f64, scale: Scale, comparison: Comparison) -> bool {
        let value = compared(value, scale, comparison);
        let passes = |limit: f64, outside: Ordering| match order(value, limit) {
            Ordering::Equal => self.edge == Edge::Inclusive,
            side => side != outside,
        };
        !value.is_nan()
            && self.low.is_none_or(|low| passes(low, Ordering::Less))
            && self.high.is_none_or(|high| passes(high, Ordering::Greater))
    }

    /// Whether `value` lies so far within the limits that no comparison can put it elsewhere.
    pub(crate) fn clearly_admits(&self, value: f64, comparison: Comparison) -> bool {
        let step = match comparison {
            Comparison::Unrounded => 0.0,
            // More than a unit of the last digit kept, without a power to work out.
            Comparison::HalfEven { decimals: 0 } => 2.0,
            Comparison::HalfEven { .. } => 0.2,
        };
        let clear = |limit: f64| step + 1e-9 * limit.abs();
        self.low.is_none_or(|low| value > low + clear(low)) && self.high.is_none_or(|high| value < high - clear(high))
    }
}

/// The figure that is compared.
fn compared(value: f64, scale: Scale, comparison: Comparison) -> f64 {
    let (Comparison::HalfEven { decimals }, Scale::Percent) = (comparison, scale) else { return value };
    // A tie that binary arithmetic missed by an ulp is a tie: the same guard as at the edge.
    let tidy: f64 = format!("{value:.12e}").parse().unwrap_or(value);
    let rounded = Rounding::decimals(decimals).and_then(|rounding| Rule::new(rounding).round(tidy, None));
    rounded.map_or(value, |rounded| rounded.value())
}

/// `value` to four figures, or as many as keep it on its side of the limits.
pub(super) fn text(value: f64, limit: Option<&Limit>) -> String {
    let limits: Vec<f64> = limit.iter().flat_map(|limit| [limit.low, limit.high]).flatten().collect();
    let rounded = Rounding::figures(4).and_then(|rounding| Rule::new(rounding).distinguishing(value, None, &limits));
    rounded.map_or_else(|_| value.to_string(), |rounded| rounded.to_string())
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Twelve figures: what binary products add beyond them is not meant, and not compared either.
        let tidy = |limit: f64| format!("{limit:.11e}").parse().unwrap_or(limit);
        let strict = self.edge == Edge::Strict;
        match (self.low.map(tidy), self.high.map(tidy)) {
            (Some(low), Some(high)) if strict => write!(f, "above {low} and below {high}"),
            (Some(low), Some(high)) => write!(f, "{low} to {high}"),
            (None, Some(high)) => write!(f, "{} {high}", if strict { "below" } else { "at most" }),
            (Some(low), None) => write!(f, "{} {low}", if strict { "above" } else { "at least" }),
            (None, None) => f.write_str("no limit"),
        }
    }
}
