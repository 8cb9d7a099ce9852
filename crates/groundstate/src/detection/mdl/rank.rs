//! The rank of the 99th percentile, in whole numbers.

use super::options::RankTie;

/// The rank of the 99th percentile among `n` results, counted from the lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PercentileRank {
    /// How many results were ranked, non-detects among them.
    pub n: usize,
    /// The rank, from 1 (lowest) to `n`.
    pub rank: usize,
    /// Whether 0.99 n lay exactly halfway, so that the tie rule decided.
    pub tie: bool,
}

impl PercentileRank {
    /// 0.99 n to the nearest whole number. Whole-number arithmetic: 0.99 has no exact binary form, and a product that
    /// misses the tie by one bit takes the wrong blank.
    ///
    /// ```
    /// use groundstate::detection::mdl::{PercentileRank, RankTie};
    /// assert_eq!(PercentileRank::of(164, RankTie::HalfUp).rank, 162);
    /// assert_eq!(PercentileRank::of(150, RankTie::HalfUp).rank, 149);
    /// assert_eq!(PercentileRank::of(150, RankTie::HalfEven).rank, 148);
    /// ```
    pub fn of(n: usize, tie_rule: RankTie) -> Self {
        // n = 100 h + r, so 0.99 n = 99 h + 0.99 r: no product can overflow.
        let (hundreds, rest) = (n / 100, n % 100);
        let below = hundreds * 99 + rest * 99 / 100;
        let hundredths = rest * 99 % 100;
        let up = match hundredths.cmp(&50) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Greater => true,
            std::cmp::Ordering::Equal => match tie_rule {
                RankTie::HalfUp => true,
                RankTie::HalfEven => below % 2 == 1,
            },
        };
        PercentileRank { n, rank: below + usize::from(up), tie: hundredths == 50 }
    }

    /// 0.99 n as text, exactly.
    pub fn product(&self) -> String {
        let (hundreds, rest) = (self.n / 100, self.n % 100);
        let hundredths = rest * 99 % 100;
        let whole = hundreds * 99 + rest * 99 / 100;
        match hundredths {
            0 => whole.to_string(),
            _ => format!("{whole}.{hundredths:02}").trim_end_matches('0').to_owned(),
        }
    }
}

/// A place between two ranks: 1 + 0.99 (n - 1), counted from the lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PercentilePlace {
    /// How many results were ranked, non-detects among them.
    pub n: usize,
    /// The rank below the place, from 1.
    pub below: usize,
    /// How far the place lies above that rank, in hundredths of the way to the next.
    pub hundredths: u8,
}

impl PercentilePlace {
    /// The place of the 99th percentile among `n` results, in whole-number arithmetic.
    ///
    /// ```
    /// use groundstate::detection::mdl::PercentilePlace;
    /// let place = PercentilePlace::of(164); // 1 + 0.99 * 163 = 162.37
    /// assert_eq!((place.below, place.hundredths), (162, 37));
    /// ```
    pub fn of(n: usize) -> Self {
        let steps = n.saturating_sub(1);
        let (hundreds, rest) = (steps / 100, steps % 100);
        let hundredths = u8::try_from(rest * 99 % 100).unwrap_or(0);
        PercentilePlace { n, below: 1 + hundreds * 99 + rest * 99 / 100, hundredths }
    }

    /// The place as text, exactly.
    pub fn text(&self) -> String {
        format!("{}.{:02}", self.below, self.hundredths)
    }

    /// The value at the place, of `numbers` in ascending order above `nondetects` results without a number; `None` where
    /// a result that it rests on has none.
    pub(super) fn value(&self, numbers: &[f64], nondetects: usize) -> Option<f64> {
        let at = |rank: usize| rank.checked_sub(nondetects + 1).and_then(|index| numbers.get(index)).copied();
        let low = at(self.below)?;
        if self.hundredths == 0 {
            return Some(low);
        }
        let high = at(self.below + 1)?;
        let share = f64::from(self.hundredths) / 100.0;
        // Each end by itself: the difference of two large numbers of different sign may be none.
        Some((1.0 - share) * low + share * high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ranks_by_hand() {
        // n x 0.99 worked by hand; the rule's own example is 164 -> 162.36 -> 162 (from memory).
        for (n, product, up, even) in [
            (100, "99", 99, 99),
            (101, "99.99", 100, 100),
            (133, "131.67", 132, 132),
            (149, "147.51", 148, 148),
            (150, "148.5", 149, 148),
            (164, "162.36", 162, 162),
            (250, "247.5", 248, 248),
            (350, "346.5", 347, 346),
        ] {
            let (half_up, half_even) =
                (PercentileRank::of(n, RankTie::HalfUp), PercentileRank::of(n, RankTie::HalfEven));
            assert_eq!((half_up.rank, half_even.rank), (up, even), "n = {n}");
            assert_eq!(half_up.product(), product);
            assert_eq!(half_up.tie, product.ends_with(".5"), "n = {n}");
        }
    }

    proptest! {
        #[test]
        fn the_rank_is_the_nearest_whole_number(n in 1usize..2_000_000) {
            for tie_rule in [RankTie::HalfUp, RankTie::HalfEven] {
                let rank = PercentileRank::of(n, tie_rule);
                let (exact, taken) = (n as i128 * 99, rank.rank as i128 * 100);
                prop_assert!((exact - taken).abs() <= 50);
                prop_assert_eq!(rank.tie, (exact - taken).abs() == 50);
                prop_assert!((1..=n).contains(&rank.rank));
            }
        }

        #[test]
        fn huge_counts_do_not_overflow(n in usize::MAX - 1000..=usize::MAX) {
            prop_assert!(PercentileRank::of(n, RankTie::HalfUp).rank <= n);
        }
    }
}
