//! The bracket law in its cases, missing checks, and laws that hold for any run.

use std::collections::BTreeSet;

use proptest::prelude::*;

use crate::check::tests::{at, sw846};
use crate::check::{CheckKind, Detection, Gap, Judged, Measured, Reach, Verdict, judge};
use crate::criteria::Criteria;
use crate::run::Role;

/// A run in letters: `S` sample, `V`/`v` CCV passed/failed, `B`/`b` CCB, `I`/`i` ICV, `Z`/`z` ICB, `L`/`l` low check,
/// `h` CCV failed high, `?` CCV without a true value, `|` new calibration. Positions count letters from 1.
fn run(letters: &str) -> Vec<Measured> {
    let mut segment = 1;
    let mut measured = Vec::new();
    for (index, letter) in letters.chars().enumerate() {
        let position = index as u32 + 1;
        let (role, value) = match letter {
            'S' => (Role::Sample, 1.0),
            'V' => (Role::Ccv, 1.0),
            'v' => (Role::Ccv, 0.5),
            'h' => (Role::Ccv, 1.5),
            '?' => (Role::Ccv, 1.0),
            'I' => (Role::Icv, 1.0),
            'i' => (Role::Icv, 0.5),
            'L' => (Role::LowCheck, 1.0),
            'l' => (Role::LowCheck, 0.5),
            'B' => (Role::Ccb, 0.0),
            'b' => (Role::Ccb, 0.5),
            'Z' => (Role::Icb, 0.0),
            'z' => (Role::Icb, 0.5),
            '|' => {
                segment += 1;
                (Role::Standard, 1.0)
            }
            other => panic!("{other}"),
        };
        let mut one = at(position, role, value);
        one.segment = segment;
        one.nominal = (letter != '?' && !role.is_blank()).then_some(1.0);
        measured.push(one);
    }
    measured
}

fn condemned(letters: &str, criteria: &Criteria) -> Vec<u32> {
    judge(&run(letters), &[], criteria).unwrap().condemned.into_iter().collect()
}

fn general(letters: &str) -> Vec<u32> {
    condemned(letters, &Criteria::default())
}

/// Semantics 24; SW-846 Method 7000B 10.2.2: everything after the last good CCV and CCB is to be run again.
#[test]
fn a_failure_condemns_from_the_last_good_pair_up_to_the_next() {
    //                  1234567890123
    assert_eq!(general("VBSSVBSSvBSSVBSS"), [7, 8, 11, 12]);
    assert_eq!(general("VBSSVBSSVbSSVBSS"), [7, 8, 11, 12]);
    assert_eq!(general("VBSSVBSS"), Vec::<u32>::new());
    let judged = judge(&run("VBSSVBSSvBSSVBSS"), &[], &Criteria::default()).unwrap();
    assert_eq!(judged.condemnations.len(), 1);
    assert_eq!(judged.condemnations[0].reach, Reach::Bracketed);
    assert_eq!(judged.checks[judged.condemnations[0].check].position, Some(9));
    assert_eq!(judged.checks[judged.condemnations[0].check].affects, [7, 8, 11, 12]);
}

#[test]
fn without_an_opening_check_a_failure_condemns_from_the_start() {
    assert_eq!(general("SSvBSSVBSS"), [1, 2, 5, 6]);
    // A first check that passes condemns nothing.
    assert_eq!(general("SSVBSSvB"), [5, 6]);
    // An opening check is a good pair.
    assert_eq!(general("IZSSvBSSVBSS"), [3, 4, 7, 8]);
}

#[test]
fn a_passing_repeat_never_reinstates_what_came_before() {
    assert_eq!(general("VBSSvVBSSVB"), [3, 4]);
    assert_eq!(general("VBSSvBVSSVB"), [3, 4]);
    // Where the failure is of the blank, a repeat of the verification opens nothing.
    assert_eq!(general("VBSSVbVSSVB"), [3, 4, 8, 9]);
    let judged = judge(&run("VBSSvVBSSVB"), &[], &Criteria::default()).unwrap();
    assert_eq!(judged.checks.iter().filter(|check| check.verdict == Verdict::Fail).count(), 1);
}

#[test]
fn both_of_the_pair_must_be_acceptable_where_both_are_required() {
    //                                    123456789012345
    assert_eq!(condemned("IZSSVSSvBSSVSSVBSS", &sw846()), [3, 4, 6, 7, 10, 11, 13, 14]);
    // Where only the verification failed and no blank is required, the blank need not come again.
    assert_eq!(general("IZSSVSSvBSSVSSVBSS"), [6, 7, 10, 11]);
}

#[test]
fn a_failed_initial_check_condemns_until_a_new_calibration() {
    //                  12345678901234
    assert_eq!(general("iZSSVBSS|IZSSVB"), [3, 4, 7, 8]);
    assert_eq!(general("IzSSVBSS|IZSSVB"), [3, 4, 7, 8]);
    assert_eq!(general("iIZSSVBSS"), [4, 5, 8, 9]);
}

#[test]
fn a_failure_stops_at_the_new_calibration() {
    assert_eq!(general("IZSSvB|IZSSVB"), [3, 4]);
    assert_eq!(general("IZSSvBSS|SSVB"), [3, 4, 7, 8]);
}

#[test]
fn an_open_ended_run_is_missing_its_closing_check_and_not_condemned() {
    let judged = judge(&run("IZSSVBSS"), &[], &sw846()).unwrap();
    assert!(judged.condemned.is_empty());
    let gaps = gaps(&judged);
    assert!(gaps.contains(&(CheckKind::Ccv, Gap::Absent, vec![7, 8])));
    assert!(gaps.contains(&(CheckKind::Ccb, Gap::Absent, vec![7, 8])));
    assert!(
        judge(&run("IZSSVBSS"), &[], &Criteria::default())
            .unwrap()
            .findings
            .iter()
            .all(|f| f.severity < crate::finding::Severity::Fail)
    );
}

#[test]
fn a_failed_low_check_affects_its_stretch_without_condemning() {
    let judged = judge(&run("ILSSlSSLSS"), &[], &Criteria::default()).unwrap();
    assert!(judged.condemned.is_empty());
    let failed = judged.checks.iter().find(|check| check.verdict == Verdict::Fail).unwrap();
    assert_eq!(failed.affects, [3, 4, 6, 7]);
}

#[test]
fn the_retry_policy_lets_one_repeat_stand_where_it_is_named() {
    let mut criteria = Criteria::default();
    criteria.set("bracket", "retry", "one_immediate".into()).unwrap();
    assert_eq!(condemned("VBSSvVBSSVB", &criteria), Vec::<u32>::new());
    assert_eq!(condemned("iIZSSVBSS", &criteria), Vec::<u32>::new());
    // Not the second repeat, not one of another kind, not one after samples.
    assert_eq!(condemned("VBSSvvVBSS", &criteria), [3, 4]);
    assert_eq!(condemned("VBSSvBVSS", &criteria), [3, 4]);
    assert_eq!(condemned("VBSSvSSV", &criteria), [3, 4, 6, 7]);
    let judged = judge(&run("VBSSvVB"), &[], &criteria).unwrap();
    let failed = judged.checks.iter().find(|check| check.verdict == Verdict::Fail).unwrap();
    assert_eq!(failed.replaced_by, Some(6));
    assert_eq!(judged.standing(), crate::check::Standing::Complete);
}

#[test]
fn the_release_lets_non_detects_go_where_the_check_failed_high() {
    let mut criteria = Criteria::default();
    let mut measured = run("VBSShBSSVB");
    measured[2].detection = Detection::NotDetected;
    let judge_with = |measured: &[Measured], criteria: &Criteria| -> Vec<u32> {
        judge(measured, &[], criteria).unwrap().condemned.into_iter().collect()
    };
    assert_eq!(judge_with(&measured, &criteria), [3, 4, 7, 8]);
    criteria.set("bracket", "release", "high_check_nondetect".into()).unwrap();
    assert_eq!(judge_with(&measured, &criteria), [4, 7, 8]);
    // A check that failed low releases nothing, nor does one high check beside a failed blank.
    let mut low = run("VBSSvBSSVB");
    low[2].detection = Detection::NotDetected;
    assert_eq!(judge_with(&low, &criteria), [3, 4, 7, 8]);
    let mut blank = run("VBSShbSSVB");
    blank[2].detection = Detection::NotDetected;
    assert_eq!(judge_with(&blank, &criteria), [3, 4, 7, 8]);
}

#[test]
fn a_condemned_batch_check_is_not_evaluated() {
    let mut measured = run("VBSSvB");
    measured[2].role = Role::Lcs;
    measured[2].nominal = Some(1.0);
    let judged = judge(&measured, &[], &Criteria::default()).unwrap();
    let lcs = judged.checks.iter().find(|check| check.kind == CheckKind::Lcs).unwrap();
    assert_eq!(lcs.verdict, Verdict::NotEvaluated(crate::check::Reason::Condemned));
}

fn gaps(judged: &Judged) -> Vec<(CheckKind, Gap, Vec<u32>)> {
    let missing = judged.checks.iter().filter_map(|check| match check.verdict {
        Verdict::Missing(gap) => Some((check.kind, gap, check.affects.clone())),
        _ => None,
    });
    missing.collect()
}

fn instrument_gaps(letters: &str) -> Vec<(CheckKind, Gap, Vec<u32>)> {
    let judged = judge(&run(letters), &[], &sw846()).unwrap();
    gaps(&judged).into_iter().filter(|(kind, _, _)| kind.is_instrument()).collect()
}

/// SW-846 Method 7000B 10.2.1 and 10.2.2: initial checks before samples; CCV and CCB every 10 samples and at the end.
#[test]
fn required_instrument_checks_are_absent_late_or_unevaluable() {
    use CheckKind::{Ccb, Ccv, Icb, Icv};
    assert_eq!(instrument_gaps("IZSSVB"), []);
    assert_eq!(instrument_gaps("IZSSSSSSSSSSVB"), []);
    assert_eq!(instrument_gaps("IZSSSSSSSSSSSVB"), [(Ccv, Gap::Late, vec![13]), (Ccb, Gap::Late, vec![13])]);
    // What was overdue at one check is not so at the next.
    assert_eq!(instrument_gaps("IZSSSSSSSSSSSVBSVB"), [(Ccv, Gap::Late, vec![13]), (Ccb, Gap::Late, vec![13])]);
    assert_eq!(instrument_gaps("SIZSVB"), [(Icv, Gap::Late, vec![1]), (Icb, Gap::Late, vec![1])]);
    assert_eq!(instrument_gaps("SSVB"), [(Icv, Gap::Absent, vec![1, 2]), (Icb, Gap::Absent, vec![1, 2])]);
    assert_eq!(instrument_gaps("IZSS?B"), [(Ccv, Gap::Unevaluable, vec![3, 4])]);
    // The whole stretch since the last check lacks a closing one, not only what came after the tenth.
    let open: Vec<u32> = (3..=14).collect();
    assert_eq!(instrument_gaps("IZSSSSSSSSSSSS"), [(Ccv, Gap::Absent, open.clone()), (Ccb, Gap::Absent, open)]);
    // Each segment must open and close for itself; a segment without analyses needs nothing.
    assert_eq!(instrument_gaps("IZSVB|SVB"), [(Icv, Gap::Absent, vec![7]), (Icb, Gap::Absent, vec![7])]);
    assert_eq!(instrument_gaps("IZSVB|"), []);
}

#[test]
fn samples_alone_count_where_the_criteria_say_so() {
    let mut measured = run("IZSSSSSSSSSSSVB");
    measured[4].role = Role::MethodBlank;
    let late = |criteria: &Criteria| {
        let judged = judge(&measured, &[], criteria).unwrap();
        gaps(&judged).into_iter().any(|(kind, _, _)| kind == CheckKind::Ccv)
    };
    let mut criteria = sw846();
    assert!(late(&criteria));
    criteria.set("bracket", "counting", "samples".into()).unwrap();
    assert!(!late(&criteria));
}

/// SW-846 Method 7000B 9.5 to 9.7; a batch is at most 20 samples (SW-846 Chapter One).
#[test]
fn required_batch_checks_are_wanted_by_batch_and_by_twenty_samples() {
    let batch = |samples: u32, blanks: u32| {
        let blanks = (1..=blanks).map(|n| at(n, Role::MethodBlank, 0.0));
        let samples = (101..101 + samples).map(|n| at(n, Role::Sample, 1.0));
        let judged = judge(&blanks.chain(samples).collect::<Vec<_>>(), &[], &sw846()).unwrap();
        let missing = gaps(&judged).into_iter().find(|(kind, _, _)| *kind == CheckKind::MethodBlank);
        missing.map(|(_, gap, affects)| (gap, affects.len()))
    };
    assert_eq!(batch(20, 1), None);
    assert_eq!(batch(21, 1), Some((Gap::Late, 21)));
    assert_eq!(batch(21, 2), None);
    assert_eq!(batch(3, 0), Some((Gap::Absent, 3)));
    // A blank of another batch serves nobody here.
    let mut other = vec![at(1, Role::MethodBlank, 0.0), at(2, Role::Sample, 1.0)];
    other[0].batch = Some("A".into());
    let judged = judge(&other, &[], &sw846()).unwrap();
    assert!(gaps(&judged).contains(&(CheckKind::MethodBlank, Gap::Absent, vec![2])));
}

#[test]
fn re_runs_of_a_sample_are_one_portion() {
    let mut measured: Vec<Measured> = (101..131).map(|n| at(n, Role::Sample, 1.0)).collect();
    for (index, one) in measured.iter_mut().enumerate() {
        one.label = format!("RR-{}", index % 15).into();
    }
    measured.push(at(1, Role::MethodBlank, 0.0));
    let judged = judge(&measured, &[], &sw846()).unwrap();
    assert!(gaps(&judged).iter().all(|(kind, _, _)| *kind != CheckKind::MethodBlank));
}

/// SW-846 Method 7000B 9.7: matrix spike and duplicate, or matrix spike and matrix spike duplicate.
#[test]
fn a_matrix_spike_duplicate_serves_as_the_duplicate() {
    let mut measured =
        vec![at(1, Role::Sample, 1.0), at(2, Role::MatrixSpike, 2.0), at(3, Role::MatrixSpikeDuplicate, 2.0)];
    for spike in &mut measured[1..] {
        spike.parent = crate::check::Parent::Position(1);
        spike.added = crate::check::Added::Amount(1.0);
    }
    let missing = |measured: &[Measured]| -> BTreeSet<CheckKind> {
        gaps(&judge(measured, &[], &sw846()).unwrap()).into_iter().map(|(kind, _, _)| kind).collect()
    };
    assert!(!missing(&measured).contains(&CheckKind::Duplicate));
    assert!(missing(&measured[..2]).contains(&CheckKind::Duplicate));
    // A required spike that its rule does not evaluate is not success.
    let mut criteria = sw846();
    criteria.set("matrix_spike", "native_rule", "native_4x".into()).unwrap();
    measured[0].result = Some(crate::check::tests::estimate(8.0));
    let judged = judge(&measured[..2], &[], &criteria).unwrap();
    assert!(gaps(&judged).contains(&(CheckKind::MatrixSpike, Gap::Unevaluable, vec![1])));
}

/// SW-846 Method 7000B 9.7, 9.8.1: a failed matrix spike calls for a post-digestion spike, a failed one of these for a
/// dilution. One of them at most is called for once in a batch.
#[test]
fn failed_spikes_call_for_the_next_test() {
    let spike = |position, role, found| {
        let mut spike = at(position, role, found);
        spike.parent = crate::check::Parent::Position(1);
        spike.added = crate::check::Added::Amount(2.0);
        spike
    };
    let called_for = |spikes: &[Measured]| -> Vec<CheckKind> {
        let measured: Vec<Measured> = std::iter::once(at(1, Role::Sample, 1.0)).chain(spikes.iter().cloned()).collect();
        let missing = gaps(&judge(&measured, &[], &sw846()).unwrap()).into_iter().map(|(kind, _, _)| kind);
        missing.filter(|kind| matches!(kind, CheckKind::PostDigestionSpike | CheckKind::SerialDilution)).collect()
    };
    let good = spike(2, Role::MatrixSpike, 3.0);
    let bad = spike(2, Role::MatrixSpike, 1.5);
    assert_eq!(called_for(&[]), []);
    assert_eq!(called_for(&[good]), []);
    assert_eq!(called_for(std::slice::from_ref(&bad)), [CheckKind::PostDigestionSpike]);
    assert_eq!(called_for(&[bad.clone(), spike(3, Role::PostDigestionSpike, 3.0)]), []);
    let failed = [bad, spike(3, Role::PostDigestionSpike, 1.5)];
    assert_eq!(called_for(&failed), [CheckKind::SerialDilution]);
    let mut diluted = spike(4, Role::SerialDilution, 1.0);
    diluted.dilution = 5.0;
    diluted.solution_loq = Some(0.01);
    assert_eq!(called_for(&[failed[0].clone(), failed[1].clone(), diluted]), []);
}

fn letters() -> impl Strategy<Value = String> {
    proptest::collection::vec(proptest::sample::select("SSSSVvBbIiZzh?L|".chars().collect::<Vec<_>>()), 0..40)
        .prop_map(|letters| letters.into_iter().collect())
}

fn profiles() -> impl Strategy<Value = Criteria> {
    proptest::bool::ANY.prop_map(|strict| if strict { sw846() } else { Criteria::default() })
}

proptest! {
    /// A passing check anywhere, in the same segment, condemns no sample that was not condemned without it.
    #[test]
    fn a_passing_check_never_condemns_more(letters in letters(), place in 0usize..40, which in 0usize..4, criteria in profiles()) {
        let before = run(&letters);
        // Spread the positions so that one fits between.
        let mut spread = before.clone();
        for one in &mut spread { one.position *= 2; }
        let place = place.min(spread.len());
        let segment = place.checked_sub(1).and_then(|i| spread.get(i)).map_or(1, |one| one.segment);
        let mut added = run(["V", "B", "I", "Z"][which]).remove(0);
        added.position = place as u32 * 2 + 1;
        added.segment = segment;
        let without = judge(&spread, &[], &criteria).unwrap().condemned;
        spread.push(added);
        let with = judge(&spread, &[], &criteria).unwrap().condemned;
        prop_assert!(with.is_subset(&without), "{letters} {place} {which}: {with:?} {without:?}");
    }

    /// Every condemnation is an interval of the analyses of one segment.
    #[test]
    fn condemned_stretches_are_intervals(letters in letters(), criteria in profiles()) {
        let measured = run(&letters);
        let judged = judge(&measured, &[], &criteria).unwrap();
        for one in &judged.condemnations {
            let analyses = measured.iter().filter(|m| m.is_analysis() && m.segment == one.segment).map(|m| m.position);
            let (first, last) = (one.positions[0], one.positions[one.positions.len() - 1]);
            let between: Vec<u32> = analyses.filter(|position| (first..=last).contains(position)).collect();
            prop_assert_eq!(&between, &one.positions);
        }
    }

    /// Independent statement of the law for runs of one segment with verifications alone: a sample stands exactly when
    /// the nearest stops on both sides let it, the one before by its last check and the one after by all its checks.
    #[test]
    fn a_sample_stands_when_both_of_its_stops_let_it(letters in "[SVv]{0,30}") {
        let condemned = judge(&run(&letters), &[], &Criteria::default()).unwrap().condemned;
        let letters: Vec<char> = letters.chars().collect();
        for (index, letter) in letters.iter().enumerate().filter(|(_, letter)| **letter == 'S') {
            let before = letters[..index].iter().rev().find(|letter| **letter != 'S');
            let after: Vec<char> = letters[index..].iter().skip_while(|l| **l == 'S').take_while(|l| **l != 'S').copied().collect();
            let stands = before != Some(&'v') && !after.contains(&'v');
            prop_assert_eq!(!condemned.contains(&(index as u32 + 1)), stands, "{} {}", index, letter);
        }
    }

    /// The order of the rows changes nothing, bit for bit; nor does the order of samples within a batch change what a
    /// batch check finds.
    #[test]
    fn the_order_of_rows_changes_nothing(letters in letters(), seed in 0usize..1000, criteria in profiles()) {
        let measured = run(&letters);
        let mut shuffled = measured.clone();
        let n = shuffled.len().max(1);
        shuffled.rotate_left(seed % n);
        if seed % 2 == 0 { shuffled.reverse(); }
        let (one, two) = (judge(&measured, &[], &criteria).unwrap(), judge(&shuffled, &[], &criteria).unwrap());
        prop_assert_eq!(format!("{one:?}"), format!("{two:?}"));
    }

    /// Exchanging two samples of a batch exchanges them in what is affected, and changes no verdict.
    #[test]
    fn exchanging_members_of_a_batch_changes_no_verdict(values in proptest::collection::vec(0.0f64..5.0, 2..12), blank in -0.5f64..0.5) {
        let make = |values: &[f64]| {
            let mut measured = vec![at(1, Role::MethodBlank, blank)];
            measured.extend(values.iter().zip(2..).map(|(value, position)| at(position, Role::Sample, *value)));
            judge(&measured, &[], &sw846()).unwrap()
        };
        let reversed: Vec<f64> = values.iter().rev().copied().collect();
        let (one, two) = (make(&values), make(&reversed));
        prop_assert_eq!(&one.checks[0].verdict, &two.checks[0].verdict);
        let last = values.len() as u32 + 3;
        let mirrored: BTreeSet<u32> = two.checks[0].affects.iter().map(|position| last - position).collect();
        prop_assert_eq!(one.checks[0].affects.iter().copied().collect::<BTreeSet<_>>(), mirrored);
    }

    /// Nothing panics and nothing judged is a NaN, whatever the figures.
    #[test]
    fn no_figure_panics(value in prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-0.0), any::<f64>()], other in any::<f64>(), nominal in any::<f64>()) {
        for role in Role::ALL {
            let mut parent = at(1, Role::Sample, 1.0);
            parent.result = Some(crate::check::tests::estimate(other));
            parent.solution.value = other;
            let mut one = at(2, *role, 1.0);
            one.solution.value = value;
            one.result = Some(crate::check::tests::estimate(value));
            one.nominal = Some(nominal);
            one.parent = crate::check::Parent::Position(1);
            one.added = crate::check::Added::Amount(nominal);
            for criteria in [sw846(), Criteria::default()] {
                for check in judge(&[parent.clone(), one.clone()], &[], &criteria).unwrap().checks {
                    if check.verdict == Verdict::Pass {
                        prop_assert!(check.statistic.is_some_and(|statistic| !statistic.value.is_nan()));
                    }
                }
            }
        }
    }
}
