//! How well an MDL itself is known.

use crate::numeric::distribution::chi_squared;

/// 95 % interval of a limit that is a multiple of a standard deviation. Informative: Appendix B takes no decision by it,
/// and only the scatter of the spikes is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitInterval {
    /// Lower end, in the unit of the limit.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Degrees of freedom of the standard deviation.
    pub dof: usize,
    /// Probability between the ends, equal tails.
    pub probability: f64,
}

impl LimitInterval {
    /// The interval of `limit` = constant * s, where s has `dof` degrees of freedom and the results are normal:
    /// limit * sqrt(dof / chi-squared) at the two quantiles.
    ///
    /// The formula is that of EPA-600/4-82-057 (reprinted in Wis. Adm. Code NR 252.0365), whose factors 0.69 and 1.92 for
    /// seven results are called 95 % but are the 90 % interval; the 95 % factors are 0.64 and 2.20.
    pub(super) fn of(limit: f64, dof: usize) -> Option<Self> {
        if dof == 0 {
            return None;
        }
        let (tail, nu) = (0.025, dof as f64);
        Some(LimitInterval {
            lower: limit * (nu / chi_squared::upper_quantile(tail, nu)).sqrt(),
            upper: limit * (nu / chi_squared::quantile(tail, nu)).sqrt(),
            dof,
            probability: 0.95,
        })
    }
}

#[cfg(test)]
#[allow(clippy::excessive_precision, reason = "figures stand as they were computed or published")]
mod tests {
    use super::*;

    #[test]
    fn factors_for_seven_results() {
        let interval = LimitInterval::of(1.0, 6).unwrap();
        // cases/epa-mdl-factors.json, lower and upper_factor_nu6_at_95pc. 1e-13: quantiles good to some ten last places.
        approx::assert_relative_eq!(interval.lower, 0.64439340793237189786, max_relative = 1e-13);
        approx::assert_relative_eq!(interval.upper, 2.2020661128215579539, max_relative = 1e-13);
    }

    #[test]
    fn factors_for_fourteen_results_as_printed() {
        let interval = LimitInterval::of(1.0, 12).unwrap();
        // 0.72 and 1.65 in NR 252.0365; twenty digits in cases/epa-mdl-factors.json.
        approx::assert_relative_eq!(interval.lower, 0.71708598553809405381, max_relative = 1e-13);
        approx::assert_relative_eq!(interval.upper, 1.6507351390525681891, max_relative = 1e-13);
        assert_eq!(LimitInterval::of(1.0, 0), None);
    }
}
