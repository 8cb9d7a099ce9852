//! Coverage intervals as sets: an interval can be finite, half a line, all of it, or what a gap leaves.

use std::fmt;

use crate::error::Error;

/// A coverage probability, above 0 and below 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Coverage(f64);

impl Coverage {
    /// 95 %.
    pub const P95: Coverage = Coverage(0.95);

    /// The coverage probability `p`.
    ///
    /// # Errors
    /// Not strictly between 0 and 1.
    pub fn new(p: f64) -> Result<Coverage, Error> {
        if p > 0.0 && p < 1.0 {
            return Ok(Coverage(p));
        }
        let error = Error::argument("coverage", format!("{p} is not a probability between 0 and 1"));
        Err(if p > 1.0 && p < 100.0 { error.help(format!("for {p} % write {}", p / 100.0)) } else { error })
    }

    /// The probability.
    pub const fn get(self) -> f64 {
        self.0
    }
}

/// How an interval is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum IntervalMethod {
    /// Value plus and minus t times u (JCGM 100:2008 G.3).
    #[default]
    Delta,
    /// All values that a test at this coverage does not reject (Fieller's set for the line).
    Inversion,
}

/// The values that an interval holds: at most two pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum IntervalSet {
    /// No value.
    Empty,
    /// From `lo` to `hi`.
    Between {
        /// Lower end.
        lo: f64,
        /// Upper end.
        hi: f64,
    },
    /// Everything up to `hi`.
    Below {
        /// Upper end.
        hi: f64,
    },
    /// Everything from `lo` up.
    Above {
        /// Lower end.
        lo: f64,
    },
    /// Everything but the gap between `below` and `above`.
    Outside {
        /// Upper end of the lower piece.
        below: f64,
        /// Lower end of the upper piece.
        above: f64,
    },
    /// Every value: the data do not bound it.
    Whole,
}

impl IntervalSet {
    /// The stable name, in `snake_case`.
    pub const fn name(&self) -> &'static str {
        match self {
            IntervalSet::Empty => "empty",
            IntervalSet::Between { .. } => "between",
            IntervalSet::Below { .. } => "below",
            IntervalSet::Above { .. } => "above",
            IntervalSet::Outside { .. } => "outside",
            IntervalSet::Whole => "whole",
        }
    }

    /// Whether both ends are finite: only then may "plus or minus" be printed.
    pub const fn is_finite(&self) -> bool {
        matches!(self, IntervalSet::Between { .. })
    }

    /// Whether the set holds `x`, ends included.
    pub fn contains(&self, x: f64) -> bool {
        match *self {
            IntervalSet::Empty => false,
            IntervalSet::Between { lo, hi } => lo <= x && x <= hi,
            IntervalSet::Below { hi } => x <= hi,
            IntervalSet::Above { lo } => lo <= x,
            IntervalSet::Outside { below, above } => x <= below || above <= x,
            IntervalSet::Whole => true,
        }
    }

    /// The two figures that bound the set, infinite where it is not bounded. Of [`IntervalSet::Outside`] they bound
    /// the gap; of [`IntervalSet::Empty`] they are NaN.
    pub const fn ends(&self) -> (f64, f64) {
        match *self {
            IntervalSet::Empty => (f64::NAN, f64::NAN),
            IntervalSet::Between { lo, hi } => (lo, hi),
            IntervalSet::Below { hi } => (f64::NEG_INFINITY, hi),
            IntervalSet::Above { lo } => (lo, f64::INFINITY),
            IntervalSet::Outside { below, above } => (below, above),
            IntervalSet::Whole => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// The set from `lo` to `hi`, either of which may be infinite.
    pub fn from_ends(lo: f64, hi: f64) -> IntervalSet {
        match (lo > f64::NEG_INFINITY, hi < f64::INFINITY) {
            (true, true) => IntervalSet::Between { lo, hi },
            (true, false) => IntervalSet::Above { lo },
            (false, true) => IntervalSet::Below { hi },
            (false, false) => IntervalSet::Whole,
        }
    }
}

impl fmt::Display for IntervalSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            IntervalSet::Empty => f.write_str("no value"),
            IntervalSet::Between { lo, hi } => write!(f, "values from {lo} to {hi}"),
            IntervalSet::Below { hi } => write!(f, "values up to {hi}"),
            IntervalSet::Above { lo } => write!(f, "values from {lo} up"),
            IntervalSet::Outside { below, above } => write!(f, "values up to {below} and from {above} up"),
            IntervalSet::Whole => f.write_str("every value"),
        }
    }
}

/// Why a set ends where it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum End {
    /// The test statistic crosses its critical value there.
    Crossed,
    /// The curve turns there.
    TurningPoint,
    /// The curve levels off there.
    Plateau,
    /// It does not end.
    Unbounded,
}

/// One set a row, with the reason of its lower and upper end.
#[derive(Clone, Debug, PartialEq)]
pub struct Intervals {
    /// The sets.
    pub sets: Vec<IntervalSet>,
    /// Why each ends where it does: lower, upper.
    pub ends: Vec<[End; 2]>,
    /// Coverage probability.
    pub coverage: Coverage,
    /// How they were made.
    pub method: IntervalMethod,
}

impl Intervals {
    /// The delta interval of each row: value plus and minus the coverage factor of `dof` times u. A row without a
    /// value has the empty set; one without degrees of freedom the whole line.
    pub fn delta(rows: impl ExactSizeIterator<Item = super::Estimate>, coverage: Coverage) -> Intervals {
        let mut cached = (super::Dof::NONE, f64::INFINITY);
        let mut sets = Vec::with_capacity(rows.len());
        for row in rows {
            if row.dof != cached.0 {
                cached = (row.dof, row.dof.coverage_factor(coverage));
            }
            sets.push(match row.status.has_value() {
                false => IntervalSet::Empty,
                true if row.u.is_finite() && cached.1.is_finite() => {
                    IntervalSet::Between { lo: row.value - cached.1 * row.u, hi: row.value + cached.1 * row.u }
                }
                true => IntervalSet::Whole,
            });
        }
        let ends =
            sets.iter().map(|set| if set.is_finite() { [End::Crossed; 2] } else { [End::Unbounded; 2] }).collect();
        Intervals { sets, ends, coverage, method: IntervalMethod::Delta }
    }
}
