use super::*;
use proptest::prelude::*;

fn positive() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(0.01f64..0.1, 2..20)
}

fn signed() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(-0.01f64..0.05, 1..160)
}

fn some_options() -> impl Strategy<Value = MdlOptions> {
    (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>()).prop_map(|(a, b, c, d)| MdlOptions {
        t: if a { TValues::Exact } else { TValues::PrintedTable },
        rank_tie: if b { RankTie::HalfUp } else { RankTie::HalfEven },
        many_blanks: if c { ManyBlanks::AtLeast100 } else { ManyBlanks::MoreThan100 },
        numeric_blanks: if d { NumericBlanks::MeanPlusTs } else { NumericBlanks::Percentile },
        ..MdlOptions::default()
    })
}

fn blanks_with(values: &[f64], nondetects: usize) -> Vec<Measured> {
    let mut blanks = numbers(values);
    blanks.extend(vec![ND; nondetects]);
    blanks
}

proptest! {
    #[test]
    fn a_change_of_unit_changes_nothing_else(
        spikes in positive(), values in signed(), nondetects in 0usize..4, power in -20i32..20, options in some_options(),
    ) {
        // Powers of two are exact, so the limit has to follow to the last bit.
        let unit = libm::ldexp(1.0, power);
        let scaled = |values: &[f64]| values.iter().map(|x| x * unit).collect::<Vec<_>>();
        let one = initial_from_values(&numbers(&spikes), &blanks_with(&values, nondetects), &options).unwrap();
        let other =
            initial_from_values(&numbers(&scaled(&spikes)), &blanks_with(&scaled(&values), nondetects), &options).unwrap();
        prop_assert_eq!(one.value.map(|value| (value * unit).to_bits()), other.value.map(f64::to_bits));
        prop_assert_eq!((one.branch(), one.decided_by), (other.branch(), other.decided_by));
    }

    #[test]
    fn a_non_detect_ends_mean_plus_ts(values in signed(), options in some_options()) {
        let spikes = numbers(&SPIKES);
        let with = initial_from_values(&spikes, &blanks_with(&values, 1), &options).unwrap();
        prop_assert!(matches!(with.branch(), BlankBranch::HighestBlank | BlankBranch::PercentileOfSome));
        prop_assert_eq!(with.from_blanks.mean_used, None);
        // What the blanks then give is one of the blanks.
        let value = with.from_blanks.value;
        prop_assert!(value.is_none_or(|value| values.iter().any(|x| x.to_bits() == value.to_bits())));
    }

    #[test]
    fn order_does_not_matter(
        spikes in positive(), values in signed(), nondetects in 0usize..4, turn in 0usize..50, options in some_options(),
    ) {
        let mut blanks = blanks_with(&values, nondetects);
        let one = initial_from_values(&numbers(&spikes), &blanks, &options).unwrap();
        let mut turned = numbers(&spikes);
        turned.reverse();
        let middle = turn % blanks.len();
        blanks.rotate_left(middle);
        let other = initial_from_values(&turned, &blanks, &options).unwrap();
        prop_assert_eq!(one, other);
    }

    #[test]
    fn the_limit_is_its_greater_part(
        spikes in positive(), values in signed(), nondetects in 0usize..130, options in some_options(),
    ) {
        let limit = initial_from_values(&numbers(&spikes), &blanks_with(&values, nondetects), &options).unwrap();
        let parts = [limit.from_spikes.value, limit.from_blanks.value];
        if let Some(value) = limit.value {
            prop_assert!(value.is_finite() && value > 0.0);
            prop_assert!(parts.iter().flatten().all(|part| value >= *part));
            prop_assert!(parts.iter().flatten().any(|part| value.to_bits() == part.to_bits()));
        } else {
            prop_assert!(has(&limit.findings, Code::MdlNotComputed));
        }
        complete(&limit.findings);
    }

    #[test]
    fn missing_results_change_counts_only(values in signed(), missing in 1usize..5, options in some_options()) {
        let spikes = numbers(&SPIKES);
        let mut blanks = numbers(&values);
        let without = initial_from_values(&spikes, &blanks, &options).unwrap();
        blanks.extend(vec![Measured::Missing; missing]);
        let with = initial_from_values(&spikes, &blanks, &options).unwrap();
        prop_assert_eq!((with.value, with.branch()), (without.value, without.branch()));
        prop_assert_eq!(with.from_blanks.counts.missing, missing);
        prop_assert!(has(&with.findings, Code::LimitMissingRemoved));
    }

    #[test]
    fn any_number_is_taken_or_refused(values in prop::collection::vec(any::<f64>(), 0..12)) {
        // Whatever comes in: an error, or a limit that is absent or finite.
        if let Ok(limit) = initial_from_values(&numbers(&values), &numbers(&values), &MdlOptions::default()) {
            prop_assert!(limit.value.is_none_or(f64::is_finite));
        }
    }
}
