//! Degrees of freedom.

use std::fmt;

use crate::error::Error;
use crate::numeric::distribution::student_t;

/// Degrees of freedom of a variance estimate: real, 0 where nothing is left to estimate from, infinite where the
/// standard uncertainty is known.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Dof(f64);

impl Dof {
    /// A standard uncertainty that is known.
    pub const INFINITE: Dof = Dof(f64::INFINITY);
    /// No degree of freedom: the standard uncertainty cannot be estimated.
    pub const NONE: Dof = Dof(0.0);

    /// `dof` degrees of freedom, 0 to infinity.
    ///
    /// # Errors
    /// Negative or NaN.
    pub fn new(dof: f64) -> Result<Dof, Error> {
        if dof >= 0.0 { Ok(Dof(dof)) } else { Err(Error::argument("dof", format!("{dof} is not a number from 0 up"))) }
    }

    /// The count `n` as degrees of freedom.
    pub const fn count(n: usize) -> Dof {
        Dof(n as f64)
    }

    /// Degrees of freedom as a number, possibly infinite.
    pub const fn get(self) -> f64 {
        self.0
    }

    /// Whether the standard uncertainty is known.
    pub const fn is_infinite(self) -> bool {
        self.0 == f64::INFINITY
    }

    /// Effective degrees of freedom of a sum of variances on independent estimates (Welch-Satterthwaite,
    /// JCGM 100:2008 G.4.1), real, not truncated. A part may be negative, where one estimate is taken off another;
    /// the sum is not. Parts on the same estimate are added before they come here.
    pub fn effective(parts: impl Iterator<Item = (f64, Dof)>) -> Dof {
        let (mut sum, mut spread) = (0.0, 0.0);
        let mut only = [None, None];
        for (variance, dof) in parts.filter(|(variance, _)| variance.abs() > 0.0) {
            sum += variance;
            spread += if dof.is_infinite() { 0.0 } else { variance * variance / dof.0 };
            only = [Some(dof), only[0].map(|_| dof)];
        }
        match only {
            [Some(dof), None] => dof, // one estimate alone keeps its count to the last bit
            _ if spread > 0.0 => Dof(sum * sum / spread),
            _ => Dof::INFINITE,
        }
    }

    /// Two-sided coverage factor: the Student t quantile at (1 + coverage)/2; infinite without degrees of freedom.
    pub fn coverage_factor(self, coverage: super::Coverage) -> f64 {
        if self.0 > 0.0 { student_t::coverage_factor(coverage.get(), self.0) } else { f64::INFINITY }
    }
}

impl fmt::Display for Dof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_infinite() { f.write_str("infinite") } else { write!(f, "{:.1}", self.0) }
    }
}
