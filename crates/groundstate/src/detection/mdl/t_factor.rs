//! Student's t as Appendix B uses it: one-sided, 99 %.

use super::options::TValues;
use crate::numeric::distribution::student_t;

/// Table 1 of the appendix: number of results and t(n - 1, 0.99) as printed. Rows 7 to 11, 16, 21, 26, 31 and 61 read in
/// Wis. Adm. Code NR 252.0365, the others from memory; every row agrees with the computed value at three decimals.
const PRINTED: [(usize, f64); 17] = [
    (7, 3.143),
    (8, 2.998),
    (9, 2.896),
    (10, 2.821),
    (11, 2.764),
    (16, 2.602),
    (21, 2.528),
    (26, 2.485),
    (31, 2.457),
    (32, 2.453),
    (48, 2.408),
    (50, 2.405),
    (61, 2.390),
    (64, 2.387),
    (80, 2.374),
    (96, 2.366),
    (100, 2.365),
];

/// Where one value of t came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TSource {
    /// Computed to full precision.
    Exact,
    /// A row of the printed table.
    Printed,
    /// Computed and rounded to three decimals, because the printed table has no such row.
    Rounded,
}

impl TSource {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            TSource::Exact => "exact",
            TSource::Printed => "printed",
            TSource::Rounded => "rounded",
        }
    }
}

/// A value of t with its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TFactor {
    /// One-sided 99 % quantile of Student's t.
    pub value: f64,
    /// Degrees of freedom: the number of results less one.
    pub dof: usize,
    /// Where it came from.
    pub source: TSource,
}

impl TFactor {
    /// t for `n` results; `None` below two.
    pub(super) fn of(n: usize, values: TValues) -> Option<Self> {
        let dof = n.checked_sub(1).filter(|dof| *dof > 0)?;
        let exact = student_t::upper_quantile(0.01, dof as f64);
        let (value, source) = match (values, PRINTED.iter().find(|(printed, _)| *printed == n)) {
            (TValues::Exact, _) => (exact, TSource::Exact),
            (TValues::PrintedTable, Some((_, printed))) => (*printed, TSource::Printed),
            (TValues::PrintedTable, None) => ((exact * 1000.0).round() / 1000.0, TSource::Rounded),
        };
        Some(TFactor { value, dof, source })
    }
}

#[cfg(test)]
#[allow(clippy::excessive_precision, reason = "figures stand as they were computed or published")]
mod tests {
    use super::*;

    #[test]
    fn the_printed_table_is_the_computed_one_at_three_decimals() {
        for (n, printed) in PRINTED {
            let exact = TFactor::of(n, TValues::Exact).unwrap();
            // Half a unit of the third decimal and not a bit more.
            assert!((exact.value - printed).abs() <= 0.0005, "n = {n}: {} against {printed}", exact.value);
            let taken = TFactor::of(n, TValues::PrintedTable).unwrap();
            assert_eq!((taken.value.to_bits(), taken.source), (printed.to_bits(), TSource::Printed));
        }
    }

    #[test]
    fn t_to_twenty_digits() {
        // cases/epa-mdl-factors.json, recomputed values.
        for (dof, t) in [
            (6, 3.1426684032909833591),
            (7, 2.9979515668685284338),
            (8, 2.8964594477096223339),
            (9, 2.8214379250258087643),
            (10, 2.7637694581126961988),
            (12, 2.6809979931209148949),
            (15, 2.6024802950111233443),
            (20, 2.5279770027415734818),
            (25, 2.4851071754107628117),
            (30, 2.4572615424005913725),
            (60, 2.3901194726249133199),
        ] {
            let exact = TFactor::of(dof + 1, TValues::Exact).unwrap();
            // A quantile found by root search on a double-precision CDF is good to some ten units in the last place.
            approx::assert_relative_eq!(exact.value, t, max_relative = 1e-13);
            assert_eq!(exact.dof, dof);
        }
    }

    #[test]
    fn a_row_that_is_not_printed_is_rounded_and_says_so() {
        let t = TFactor::of(13, TValues::PrintedTable).unwrap();
        // 2.681 for 12 degrees of freedom: printed for another purpose in Revision 1.11 and in NR 252.0365.
        assert_eq!((t.value.to_bits(), t.source), (2.681f64.to_bits(), TSource::Rounded));
        assert_eq!(TFactor::of(1, TValues::Exact), None);
        assert_eq!(TFactor::of(0, TValues::PrintedTable), None);
    }
}
