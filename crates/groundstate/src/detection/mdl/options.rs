//! Choices that Appendix B leaves open or words in two ways. Each is reported with the result.

use super::super::Date;

macro_rules! named {
    ($type:ident { $($variant:ident = $name:literal),+ $(,)? }) => {
        impl $type {
            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $($type::$variant => $name,)+ }
            }
        }
    };
}

/// Where Student's t comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum TValues {
    /// Computed to full precision.
    #[default]
    Exact,
    /// The three decimals of Table 1 of the appendix. For a number of results that the table does not list, the exact
    /// value is rounded to three decimals and a finding says so.
    PrintedTable,
}
named!(TValues { Exact = "exact", PrintedTable = "printed_table" });

/// Which way a rank goes that lies halfway between two results (n = 150 gives 148.5). The rule is silent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum RankTie {
    /// To the higher rank: the limit is then "no less than" the percentile, as the rule words it.
    #[default]
    HalfUp,
    /// To the even rank.
    HalfEven,
}
named!(RankTie { HalfUp = "half_up", HalfEven = "half_even" });

/// From how many blanks on the percentile takes over. The rule says "more than 100" in one place and n >= 100 in
/// another; the readings differ for exactly 100 blanks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum ManyBlanks {
    /// From 100 blanks on.
    #[default]
    AtLeast100,
    /// From 101 blanks on.
    MoreThan100,
}
named!(ManyBlanks { AtLeast100 = "at_least_100", MoreThan100 = "more_than_100" });

impl ManyBlanks {
    pub(super) const fn reached(self, n: usize) -> bool {
        match self {
            ManyBlanks::AtLeast100 => n >= 100,
            ManyBlanks::MoreThan100 => n > 100,
        }
    }
}

/// What to use when every blank is numeric and there are many of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum NumericBlanks {
    /// Mean plus t times s, however many there are.
    #[default]
    MeanPlusTs,
    /// The result at the 99th percentile when there are enough blanks for it; mean plus t times s otherwise.
    Percentile,
}
named!(NumericBlanks { MeanPlusTs = "mean_plus_ts", Percentile = "percentile" });

/// What is taken for the 99th percentile of many blanks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Percentile {
    /// The blank at rank 0.99 n, rounded to a whole number: the rule's own recipe.
    #[default]
    Rank,
    /// Between the two blanks around place 1 + 0.99 (n - 1), in proportion, as spreadsheets do it and as the rule is
    /// remembered to permit. Higher than the rank where the highest blanks lie far apart.
    Interpolated,
}
named!(Percentile { Rank = "rank", Interpolated = "interpolated" });

/// Choices and facts for an MDL. The default is the reading that the appendix's own words favour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MdlOptions {
    /// Where Student's t comes from.
    pub t: TValues,
    /// Which way a halfway rank goes.
    pub rank_tie: RankTie,
    /// From how many blanks on the percentile takes over.
    pub many_blanks: ManyBlanks,
    /// What to use for many blanks that are all numeric.
    pub numeric_blanks: NumericBlanks,
    /// What is taken for the 99th percentile of many blanks.
    pub percentile: Percentile,
    /// The initial estimate of the limit, in the unit of the results, for the advice on the spiking level.
    pub initial_estimate: Option<f64>,
    /// The day the limit is computed for, for the rule on the age of the data.
    pub as_of: Option<Date>,
}
