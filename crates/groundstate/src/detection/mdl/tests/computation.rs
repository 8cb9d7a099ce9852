use super::*;

// 1e-13: the data carry four figures, the mean and s lose at most a few units in the last place, t is good to some ten.
const TIGHT: f64 = 1e-13;

#[test]
fn v1_spikes_decide() {
    let limit = limit(&numbers(&SPIKES), &numbers(&BLANKS));
    approx::assert_relative_eq!(limit.from_spikes.mean.unwrap(), 0.0208, max_relative = TIGHT);
    approx::assert_relative_eq!(
        limit.from_spikes.standard_deviation.unwrap(),
        0.001576916823001982773465110891,
        max_relative = TIGHT
    );
    approx::assert_relative_eq!(limit.value.unwrap(), 0.004955726674266331422697527914, max_relative = TIGHT);
    approx::assert_relative_eq!(
        limit.from_blanks.value.unwrap(),
        0.003027078295280233154149342442,
        max_relative = TIGHT
    );
    assert_eq!((limit.branch(), limit.decided_by), (BlankBranch::MeanPlusTs, Some(MdlPart::Spikes)));
    let interval = limit.interval.unwrap();
    // 0.64 and 2.20 times the limit for six degrees of freedom (cases/epa-mdl-factors.json).
    approx::assert_relative_eq!(interval.lower / limit.value.unwrap(), 0.644393407932372, max_relative = 1e-12);
    approx::assert_relative_eq!(interval.upper / limit.value.unwrap(), 2.202066112821558, max_relative = 1e-12);
    complete(&limit.findings);
}

#[test]
fn v1_with_the_printed_t() {
    let options = MdlOptions { t: TValues::PrintedTable, ..MdlOptions::default() };
    let limit = initial_from_values(&numbers(&SPIKES), &numbers(&BLANKS), &options).unwrap();
    approx::assert_relative_eq!(limit.value.unwrap(), 0.004956249574695231857000843531, max_relative = TIGHT);
    approx::assert_relative_eq!(
        limit.from_blanks.value.unwrap(),
        0.003027361519211680794864022831,
        max_relative = TIGHT
    );
    assert!(!has(&limit.findings, Code::MdlTNotPrinted));
}

#[test]
fn a_count_that_is_not_printed_says_so() {
    let options = MdlOptions { t: TValues::PrintedTable, ..MdlOptions::default() };
    let twelve: Vec<f64> = (0..12).map(|i| 1.0 + 0.01 * f64::from(i)).collect();
    let limit = initial_from_values(&numbers(&twelve), &numbers(&BLANKS), &options).unwrap();
    assert!(sentence(&limit.findings, Code::MdlTNotPrinted).contains("no row for 12 spikes"));
    assert_eq!(limit.from_spikes.t.unwrap().source, TSource::Rounded);
    assert_eq!(limit.from_blanks.t.unwrap().source, TSource::Printed);
}

#[test]
fn v2_a_negative_mean_is_zeroed_and_s_is_not() {
    let low: Vec<f64> = BLANKS.iter().map(|x| x - 0.002).collect();
    let limit = limit(&numbers(&SPIKES), &numbers(&low));
    let part = &limit.from_blanks;
    approx::assert_relative_eq!(part.value.unwrap(), 0.002684221152423090297006485299, max_relative = 1e-12);
    approx::assert_relative_eq!(part.mean.unwrap(), -0.001657142857142857, max_relative = 1e-12);
    assert_eq!(part.mean_used.map(f64::to_bits), Some(0.0f64.to_bits()));
    assert!(has(&limit.findings, Code::MdlBlankMeanZeroed));
}

/// 164 blanks, some not detected, the five highest as in the rule's example.
fn blanks_164() -> Vec<Measured> {
    let mut blanks = vec![ND; 60];
    blanks.extend((0..99).map(|i| Measured::Number(0.5 + 0.01 * f64::from(i))));
    blanks.extend(numbers(&[1.5, 10.0, 1.7, 5.0, 1.9]));
    blanks
}

#[test]
fn v3_the_rules_own_example() {
    let blanks = blanks_164();
    assert_eq!(blanks.len(), 164);
    let limit = limit(&numbers(&[8.0, 8.1, 8.2, 7.9, 8.0, 8.1, 8.3]), &blanks);
    assert_eq!(limit.branch(), BlankBranch::PercentileOfSome);
    assert_eq!(limit.from_blanks.rank.unwrap().rank, 162);
    assert_eq!(limit.value, Some(1.9));
    assert_eq!(limit.decided_by, Some(MdlPart::Blanks));
    assert_eq!(limit.interval, None);
    complete(&limit.findings);
}

#[test]
fn v5_non_detects() {
    let none = limit(&numbers(&SPIKES), &[ND; 7]);
    assert_eq!((none.branch(), none.from_blanks.value), (BlankBranch::NoneNumeric, None));
    assert_eq!(none.value, none.from_spikes.value);
    assert!(has(&none.findings, Code::CensoredUpstream));

    let mut one = vec![ND; 6];
    one.push(Measured::Number(0.0021));
    let one = limit(&numbers(&SPIKES), &one);
    assert_eq!((one.branch(), one.from_blanks.value), (BlankBranch::HighestBlank, Some(0.0021)));
    complete(&one.findings);
}

#[test]
fn the_highest_of_mixed_blanks_may_be_negative() {
    let limit = limit(&numbers(&SPIKES), &[ND, ND, ND, ND, ND, Measured::Number(-0.002), Measured::Number(-0.001)]);
    assert_eq!(limit.from_blanks.value, Some(-0.001));
    assert_eq!(limit.decided_by, Some(MdlPart::Spikes));
}

#[test]
fn zero_has_no_sign() {
    let limit = limit(&numbers(&SPIKES), &[ND, ND, ND, ND, ND, ND, Measured::Number(-0.0)]);
    assert_eq!(limit.from_blanks.value.map(f64::to_bits), Some(0.0f64.to_bits()));
}

/// `n` blanks 1, 2, ..., of which the `censored` lowest are not detected.
fn ladder(n: u32, censored: u32) -> Vec<Measured> {
    (1..=n).map(|i| if i <= censored { ND } else { Measured::Number(f64::from(i)) }).collect()
}

#[test]
fn ties_at_150_blanks_in_both_rules() {
    for (tie, rank) in [(RankTie::HalfUp, 149.0), (RankTie::HalfEven, 148.0)] {
        let options = MdlOptions { rank_tie: tie, ..MdlOptions::default() };
        let limit = initial_from_values(&numbers(&SPIKES), &ladder(150, 10), &options).unwrap();
        assert_eq!(limit.from_blanks.value, Some(rank));
        let told = sentence(&limit.findings, Code::MdlPercentileRank);
        assert!(told.contains("148.5") && told.contains(tie.name()), "{told}");
    }
}

#[test]
fn a_rank_on_a_non_detect_has_no_number() {
    // Rank 99 of 100: with 99 non-detects it falls on the last of them, with 98 on the lowest number.
    let on = limit(&numbers(&SPIKES), &ladder(100, 99));
    assert_eq!((on.branch(), on.from_blanks.value), (BlankBranch::PercentileOfSome, None));
    assert!(has(&on.findings, Code::MdlRankOnNonDetect));
    assert_eq!((on.value, on.decided_by), (on.from_spikes.value, Some(MdlPart::Spikes)));
    let off = limit(&numbers(&SPIKES), &ladder(100, 98));
    assert_eq!(off.from_blanks.value, Some(99.0));
}

#[test]
fn exactly_one_hundred_blanks_in_both_wordings() {
    let some = ladder(100, 10);
    assert_eq!(limit(&numbers(&SPIKES), &some).from_blanks.value, Some(99.0));
    let options = MdlOptions { many_blanks: ManyBlanks::MoreThan100, ..MdlOptions::default() };
    let read = initial_from_values(&numbers(&SPIKES), &some, &options).unwrap();
    assert_eq!((read.branch(), read.from_blanks.value), (BlankBranch::HighestBlank, Some(100.0)));
    assert!(sentence(&read.findings, Code::MdlHundredBlanks).contains("more_than_100"));
    // One more, and both wordings say the same: rank 100 of 101.
    let more = initial_from_values(&numbers(&SPIKES), &ladder(101, 10), &options).unwrap();
    assert_eq!(more.from_blanks.value, Some(100.0));
    // One fewer, and neither takes the percentile.
    assert_eq!(limit(&numbers(&SPIKES), &ladder(99, 10)).from_blanks.value, Some(99.0));
    assert_eq!(limit(&numbers(&SPIKES), &ladder(99, 10)).branch(), BlankBranch::HighestBlank);
}

#[test]
fn the_percentile_of_numeric_blanks_is_a_choice() {
    let all = ladder(120, 0);
    assert_eq!(limit(&numbers(&SPIKES), &all).branch(), BlankBranch::MeanPlusTs);
    let options = MdlOptions { numeric_blanks: NumericBlanks::Percentile, ..MdlOptions::default() };
    let chosen = initial_from_values(&numbers(&SPIKES), &all, &options).unwrap();
    // 0.99 * 120 = 118.8
    assert_eq!((chosen.branch(), chosen.from_blanks.value), (BlankBranch::PercentileOfAll, Some(119.0)));
    let few = initial_from_values(&numbers(&SPIKES), &numbers(&BLANKS), &options).unwrap();
    assert_eq!(few.branch(), BlankBranch::MeanPlusTs);
}

#[test]
fn missing_is_removed_and_never_changes_the_branch() {
    let mut blanks = numbers(&BLANKS);
    blanks.extend([Measured::Missing, Measured::from(f64::NAN), Measured::Number(f64::NAN)]);
    let with = limit(&numbers(&SPIKES), &blanks);
    let without = limit(&numbers(&SPIKES), &numbers(&BLANKS));
    assert_eq!((with.value, with.branch()), (without.value, without.branch()));
    assert_eq!(with.from_blanks.counts, Counts { numeric: 7, missing: 3, ..Counts::default() });
    assert!(sentence(&with.findings, Code::LimitMissingRemoved).starts_with("3 of the blanks"));

    let gone = limit(&numbers(&SPIKES), &[Measured::Missing; 7]);
    assert_eq!((gone.branch(), gone.value), (BlankBranch::NoBlanks, None));
    assert!(has(&gone.findings, Code::MdlNotComputed));
    assert!(gone.from_spikes.value.is_some());
    complete(&gone.findings);
}

#[test]
fn a_spike_without_a_positive_number_asks_for_a_higher_level() {
    for bad in [ND, Measured::Number(0.0), Measured::Number(-0.001)] {
        let mut spikes = numbers(&SPIKES);
        spikes.push(bad);
        let limit = limit(&spikes, &numbers(&BLANKS));
        assert_eq!(limit.from_spikes.outcome, SpikeOutcome::RepeatAtHigherLevel, "{bad}");
        assert_eq!((limit.value, limit.from_spikes.value), (None, None));
        assert_eq!(limit.state(DesignRule::SpikesPositive), Some(State::NotMet));
        assert!(has(&limit.findings, Code::MdlRepeatAtHigherLevel));
        complete(&limit.findings);
    }
}

#[test]
fn degenerate_sets() {
    let empty = limit(&[], &[]);
    assert_eq!(
        (empty.value, empty.from_spikes.outcome, empty.branch()),
        (None, SpikeOutcome::TooFew, BlankBranch::NoBlanks)
    );
    let one = limit(&numbers(&[0.02]), &numbers(&[0.001]));
    assert_eq!((one.value, one.from_spikes.value, one.from_blanks.value), (None, None, None));
    let single_blank = limit(&numbers(&SPIKES), &numbers(&[0.001]));
    assert_eq!((single_blank.branch(), single_blank.value), (BlankBranch::MeanPlusTs, None));

    let flat = limit(&numbers(&[0.02; 7]), &numbers(&BLANKS));
    assert_eq!((flat.from_spikes.outcome, flat.value), (SpikeOutcome::NoScatter, None));
    assert!(has(&flat.findings, Code::LimitNoScatter));
    // Flat blanks are what the rule makes of them: their mean.
    let flat = limit(&numbers(&SPIKES), &numbers(&[0.1; 7]));
    approx::assert_relative_eq!(flat.value.unwrap(), 0.1, max_relative = 1e-15);
    assert!(has(&flat.findings, Code::LimitNoScatter));
    complete(&flat.findings);
}

#[test]
fn figures_beyond_the_number_range_are_an_error() {
    let huge = numbers(&[1e308, 1.5e308, 1.7e308, 1e308, 1e308, 1e308, 1e307]);
    let error = initial_from_values(&huge, &numbers(&BLANKS), &MdlOptions::default()).unwrap_err();
    assert!(error.to_string().contains("spikes"), "{error}");
    let error = initial_from_values(&numbers(&SPIKES), &huge, &MdlOptions::default()).unwrap_err();
    assert!(error.to_string().contains("blanks"), "{error}");
}

#[test]
fn no_outlier_is_removed() {
    let mut spikes = SPIKES;
    spikes[3] = 0.5;
    let limit = limit(&numbers(&spikes), &numbers(&BLANKS));
    assert_eq!(limit.from_spikes.counts.numeric, 7);
    assert!(limit.value.unwrap() > 0.1);
}

#[test]
fn equal_parts_are_decided_by_the_spikes() {
    let mut blanks = vec![ND; 6];
    blanks.push(Measured::Number(limit(&numbers(&SPIKES), &[ND; 7]).value.unwrap()));
    assert_eq!(limit(&numbers(&SPIKES), &blanks).decided_by, Some(MdlPart::Spikes));
}

#[test]
fn the_percentile_may_be_interpolated_when_that_is_chosen() {
    let options = MdlOptions { percentile: Percentile::Interpolated, ..MdlOptions::default() };
    let limit = initial_from_values(&numbers(&SPIKES), &blanks_164(), &options).unwrap();
    // By hand: place 1 + 0.99 * 163 = 162.37, between 1.9 and 5.0.
    approx::assert_relative_eq!(limit.from_blanks.value.unwrap(), 1.9 + 0.37 * 3.1, max_relative = 1e-15);
    assert_eq!((limit.from_blanks.rank, limit.from_blanks.place.unwrap().text().as_str()), (None, "162.37"));
    assert!(sentence(&limit.findings, Code::MdlPercentileInterpolated).contains("place 162.37"));
    complete(&limit.findings);
    // 101 blanks have a whole place: 1 + 0.99 * 100 = 100.
    let whole = initial_from_values(&numbers(&SPIKES), &ladder(101, 10), &options).unwrap();
    assert_eq!(whole.from_blanks.value, Some(100.0));
    // Below it a non-detect, above it a number: what lies between has no numeric value.
    let censored = initial_from_values(&numbers(&SPIKES), &ladder(164, 162), &options).unwrap();
    assert_eq!((censored.from_blanks.value, censored.value), (None, censored.from_spikes.value));
    assert!(has(&censored.findings, Code::MdlRankOnNonDetect));
    complete(&censored.findings);
    // Numbers of any size and sign.
    let numeric = MdlOptions { numeric_blanks: NumericBlanks::Percentile, ..options };
    assert!(initial_from_values(&numbers(&SPIKES), &ladder(100, 0), &numeric).unwrap().from_blanks.value.is_some());
    assert!(PercentilePlace::of(164).value(&[-1e308, 1e308], 161).unwrap().is_finite());
}
