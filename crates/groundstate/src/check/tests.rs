//! Every rule on both sides of its edge. Figures are chosen so that the exact answer is known; sources beside them.

use super::*;
use crate::criteria::{CriterionValue, ProfileName};
use crate::estimate::{Coverage, Dof, Estimate, Status};
use crate::finding::Origin;
use crate::method::{ActionLimit, ConformSide, DecisionRule};
use crate::run::Role;
use crate::unit::Unit;

pub(super) const MG_L: Unit = Unit::MilligramPerLitre;

pub(super) fn estimate(value: f64) -> Estimate {
    let status = if value < 0.0 { Status::Negative } else { Status::InRange };
    Estimate { value, u: 0.01, dof: Dof::INFINITE, status }
}

/// A position with the same content in solution and result.
pub(super) fn at(position: u32, role: Role, value: f64) -> Measured {
    let mut measured = Measured::new(position, role, &format!("{role} {position}"), 1, estimate(value), MG_L);
    measured.result = Some(estimate(value));
    (measured.loq, measured.solution_loq) = (Some(0.1), Some(0.1));
    (measured.mdl, measured.solution_mdl) = (Some(0.03), Some(0.03));
    measured
}

fn nominal(mut measured: Measured, nominal: f64) -> Measured {
    measured.nominal = Some(nominal);
    measured
}

fn of(mut measured: Measured, parent: u32) -> Measured {
    measured.parent = Parent::Position(parent);
    measured
}

fn spiked(measured: Measured, parent: u32, added: f64) -> Measured {
    let mut measured = of(measured, parent);
    measured.added = Added::Amount(added);
    measured
}

pub(super) fn sw846() -> Criteria {
    Criteria::profile(ProfileName::Sw846Method7000B)
}

fn with(settings: &[(&str, &str, CriterionValue)]) -> Criteria {
    let mut criteria = sw846();
    for (check, key, value) in settings {
        criteria.set(check, key, value.clone()).unwrap();
    }
    criteria
}

/// The verdicts at `position`.
fn verdicts(measured: &[Measured], criteria: &Criteria, position: u32) -> Vec<Verdict> {
    let judged = judge(measured, &[], criteria).unwrap();
    judged.checks.iter().filter(|check| check.position == Some(position)).map(|check| check.verdict.clone()).collect()
}

fn verdict(measured: &[Measured], criteria: &Criteria, position: u32) -> Verdict {
    let verdicts = verdicts(measured, criteria, position);
    assert_eq!(verdicts.len(), 1);
    verdicts[0].clone()
}

fn check_at(measured: &[Measured], criteria: &Criteria, position: u32) -> Check {
    let judged = judge(measured, &[], criteria).unwrap();
    judged.checks.into_iter().find(|check| check.position == Some(position)).unwrap()
}

fn not_evaluated(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::NotEvaluated(reason) => reason.name(),
        other => panic!("{other:?}"),
    }
}

/// Asserts the verdict of `make(value)` just inside and just outside of a limit. 1e-9 relative is far outside the
/// guard of 1e-12 and far inside any figure that a report shows.
fn edge(
    make: impl Fn(f64) -> Vec<Measured>,
    criteria: &Criteria,
    position: u32,
    limit: f64,
    at_limit: Verdict,
    up: bool,
) {
    let outside = if up { 1.0 + 1e-9 } else { 1.0 - 1e-9 };
    let inside = if up { 1.0 - 1e-9 } else { 1.0 + 1e-9 };
    assert_eq!(verdict(&make(limit), criteria, position), at_limit, "at {limit}");
    assert_eq!(verdict(&make(limit * inside), criteria, position), Verdict::Pass, "inside {limit}");
    assert_eq!(verdict(&make(limit * outside), criteria, position), Verdict::Fail, "outside {limit}");
}

/// Recovery limits of SW-846 Method 7000B: 10.2.1, 10.2.2, 10.2.3, 9.6.
#[test]
fn recoveries_of_known_contents_pass_at_their_limits_and_fail_beyond() {
    for (role, low, high) in [
        (Role::Icv, 0.9, 1.1),
        (Role::Ccv, 0.9, 1.1),
        (Role::LowCheck, 0.7, 1.3),
        (Role::Lcs, 0.8, 1.2),
        (Role::ReferenceMaterial, 0.8, 1.2),
    ] {
        let make = |value| vec![nominal(at(5, role, value), 1.0)];
        edge(make, &sw846(), 5, high, Verdict::Pass, true);
        edge(make, &sw846(), 5, low, Verdict::Pass, false);
        let strict = with(&[(role.name(), "edge", "strict".into())]);
        edge(make, &strict, 5, high, Verdict::Fail, true);
    }
}

/// The two examples of semantics 18: neither is 110 or 20 in binary.
#[test]
fn the_guard_takes_a_figure_an_ulp_off_for_its_limit() {
    assert!(Some(100.0 * 1.1 / 1.0) > Some(110.0));
    assert_eq!(verdict(&[nominal(at(1, Role::Ccv, 1.1), 1.0)], &sw846(), 1), Verdict::Pass);
    assert!(relative_percent_difference(0.9, 1.1) > Some(20.0));
    let pair = [at(1, Role::Sample, 0.9), of(at(2, Role::Duplicate, 1.1), 1)];
    assert_eq!(verdict(&pair, &sw846(), 2), Verdict::Pass);
}

#[test]
fn rounding_before_comparison_is_half_even_and_only_for_percentages() {
    let make = |value| vec![nominal(at(1, Role::Ccv, value), 1.0)];
    let whole = with(&[("comparison", "decimals", 0.0.into())]);
    assert_eq!(verdict(&make(1.1049), &sw846(), 1), Verdict::Fail);
    assert_eq!(verdict(&make(1.1049), &whole, 1), Verdict::Pass);
    // 110.5 is a tie: half-even goes to 110, which passes; 111.5 would go to 112.
    assert_eq!(verdict(&make(1.105), &whole, 1), Verdict::Pass);
    assert_eq!(verdict(&make(1.1051), &whole, 1), Verdict::Fail);
    // 89.5 is a tie to 90.
    assert_eq!(verdict(&make(0.895), &whole, 1), Verdict::Pass);
    // A blank is a concentration: never rounded. 0.1 mg/L is the LOQ and the limit is strict.
    assert_eq!(verdict(&[at(1, Role::Ccb, 0.1004)], &whole, 1), Verdict::Fail);
}

#[test]
fn a_row_may_bring_its_own_acceptance_range() {
    let mut check = nominal(at(1, Role::ReferenceMaterial, 1.3), 1.0);
    check.accept = Some((0.7, 1.3));
    let judged = check_at(std::slice::from_ref(&check), &sw846(), 1);
    assert_eq!((judged.verdict, judged.citation.origin), (Verdict::Pass, Origin::Laboratory));
    check.accept = Some((0.7, 1.29));
    check.nominal = None;
    assert_eq!(verdict(&[check], &sw846(), 1), Verdict::Fail);
}

#[test]
fn a_recovery_without_a_true_value_or_a_reading_says_why() {
    assert_eq!(not_evaluated(&verdict(&[at(1, Role::Ccv, 1.0)], &sw846(), 1)), "no_nominal");
    assert_eq!(not_evaluated(&verdict(&[nominal(at(1, Role::Ccv, 1.0), 0.0)], &sw846(), 1)), "no_nominal");
    let mut lost = nominal(at(1, Role::Ccv, f64::NAN), 1.0);
    lost.solution.status = Status::NoReading;
    assert_eq!(not_evaluated(&verdict(&[lost], &sw846(), 1)), "no_value");
    let mut control = nominal(at(1, Role::Lcs, 1.0), 1.0);
    control.result = None;
    assert_eq!(not_evaluated(&verdict(&[control], &sw846(), 1)), "no_result");
    let open = with(&[("ccv", "low", CriterionValue::Off), ("ccv", "high", CriterionValue::Off)]);
    assert_eq!(not_evaluated(&verdict(&[nominal(at(1, Role::Ccv, 5.0), 1.0)], &open, 1)), "no_limit");
}

/// 7000B 10.2.1, 10.2.2: no analyte at or above the LLOQ. That a blank below -LOQ fails too is the rule of
/// EPA Method 200.9.
#[test]
fn calibration_blanks_fail_at_the_loq_on_either_side_of_zero() {
    for role in [Role::Icb, Role::Ccb] {
        for sign in [1.0, -1.0] {
            edge(|value| vec![at(3, role, sign * value)], &sw846(), 3, 0.1, Verdict::Fail, true);
        }
        let one_sided = with(&[(role.name(), "negative", "not_judged".into())]);
        assert_eq!(verdict(&[at(3, role, -5.0)], &one_sided, 3), Verdict::Pass);
        // 6010D 10.8.4: the ICB below half the LLOQ.
        let half = with(&[(role.name(), "factor", 0.5.into())]);
        edge(|value| vec![at(3, role, value)], &half, 3, 0.05, Verdict::Fail, true);
        let mdl = with(&[(role.name(), "basis", "mdl".into())]);
        edge(|value| vec![at(3, role, value)], &mdl, 3, 0.03, Verdict::Fail, true);
    }
    assert_eq!(check_at(&[at(3, Role::Ccb, -0.2)], &sw846(), 3).citation.origin, Origin::OtherProgramme);
    let mut unknown = at(3, Role::Ccb, 0.0);
    unknown.solution_loq = None;
    assert_eq!(not_evaluated(&verdict(&[unknown], &sw846(), 3)), "no_basis");
}

/// 7000B 9.5: below 10 % of the LLQC concentration, of the regulatory limit, or of the lowest sample of the batch,
/// whichever is greatest.
#[test]
fn the_method_blank_is_judged_three_ways() {
    let run = |blank: f64, action: Option<f64>, lowest: f64| {
        let mut measured =
            vec![at(1, Role::MethodBlank, blank), at(2, Role::Sample, lowest), at(3, Role::Sample, 50.0)];
        measured[0].action_limit = action;
        measured
    };
    // 10 % of the LOQ 0.1; of the action limit 2; of the lowest sample 5.
    edge(|blank| run(blank, None, 0.05), &sw846(), 1, 0.01, Verdict::Fail, true);
    edge(|blank| run(blank, Some(2.0), 0.05), &sw846(), 1, 0.2, Verdict::Fail, true);
    edge(|blank| run(blank, Some(2.0), 5.0), &sw846(), 1, 0.5, Verdict::Fail, true);
    edge(|blank| run(-blank, Some(2.0), 5.0), &sw846(), 1, 0.5, Verdict::Fail, true);
    // A negative sample is never the greatest.
    edge(|blank| run(blank, None, -3.0), &sw846(), 1, 0.01, Verdict::Fail, true);
}

/// Semantics 26: affected are samples detected and below 10 times the blank, of the same batch.
#[test]
fn a_failed_method_blank_affects_what_it_could_have_made() {
    let mut measured = vec![
        at(1, Role::MethodBlank, 0.5),
        at(2, Role::Sample, 4.9),
        at(3, Role::Sample, 5.0),
        at(4, Role::Sample, 0.01),
        at(5, Role::Sample, 1.0),
    ];
    for one in &mut measured {
        one.batch = Some("A".into());
        one.detection = Detection::Detected;
    }
    measured[3].detection = Detection::NotDetected;
    measured[4].batch = Some("B".into());
    let limit = with(&[("method_blank", "rule", "limit".into())]);
    assert_eq!(check_at(&measured, &limit, 1).affects, [2]);
    // A blank far below zero may have hidden the analyte of position 4.
    measured[0].result = Some(estimate(-0.5));
    assert_eq!(check_at(&measured, &limit, 1).affects, [2, 4]);
}

/// 7000B 9.7.1: RPD at most 20.
#[test]
fn duplicates_are_judged_by_their_relative_difference() {
    // RPD of 1 and x is 20 at x = 11/9.
    let make = |value| vec![at(1, Role::Sample, 1.0), of(at(2, Role::Duplicate, value), 1)];
    edge(make, &sw846(), 2, 11.0 / 9.0, Verdict::Pass, true);
    edge(make, &sw846(), 2, 9.0 / 11.0, Verdict::Pass, false);
    let check = check_at(&make(1.1), &sw846(), 2);
    let statistic = check.statistic.unwrap();
    // By hand: RPD = 0.2/2.1*100; u = 400 sqrt((1.1*0.01)^2 + (1*0.01)^2)/2.1^2.
    approx::assert_relative_eq!(statistic.value, 20.0 / 2.1, max_relative = 1e-13);
    let u = 400.0 * (1.21f64 * 1e-4 + 1e-4).sqrt() / (2.1 * 2.1);
    approx::assert_relative_eq!(statistic.u.unwrap(), u, max_relative = 1e-13);
}

#[test]
fn duplicates_without_a_positive_mean_or_without_detection_are_not_judged() {
    let make = |a, b| vec![at(1, Role::Sample, a), of(at(2, Role::Duplicate, b), 1)];
    assert_eq!(not_evaluated(&verdict(&make(0.1, -0.1), &sw846(), 2)), "no_positive_mean");
    assert_eq!(not_evaluated(&verdict(&make(-0.2, 0.1), &sw846(), 2)), "no_positive_mean");
    let mut neither = make(0.01, 0.02);
    for one in &mut neither {
        one.detection = Detection::NotDetected;
    }
    assert_eq!(not_evaluated(&verdict(&neither, &sw846(), 2)), "neither_detected");
    neither[1].detection = Detection::Detected;
    assert_eq!(verdict(&neither, &sw846(), 2), Verdict::Fail);
}

/// The near-limit rule of the Contract Laboratory Program, from memory: both at or above 5 x LOQ by RPD, either below
/// by a difference of at most 1 x LOQ. LOQ 0.1 here.
#[test]
fn near_the_limit_duplicates_are_judged_by_their_difference_where_that_rule_is_named() {
    let named = with(&[("duplicate", "near_limit", "loq_difference".into())]);
    let make = |a, b| vec![at(1, Role::Sample, a), of(at(2, Role::Duplicate, b), 1)];
    // 0.3 and 0.4 differ by 1 LOQ; their RPD is 28.6.
    assert_eq!(verdict(&make(0.3, 0.4), &sw846(), 2), Verdict::Fail);
    edge(|b| make(0.3, b), &named, 2, 0.4, Verdict::Pass, true);
    assert_eq!(check_at(&make(0.3, 0.4), &named, 2).citation.origin, Origin::OtherProgramme);
    // Exactly 5 x LOQ is judged by RPD; a hair below by difference.
    let figure = |a, b| check_at(&make(a, b), &named, 2).statistic.unwrap().figure;
    assert_eq!(figure(0.5, 0.58), Figure::RelativeDifference);
    assert_eq!(figure(0.5 * (1.0 - 1e-9), 0.58), Figure::AbsoluteDifference);
    assert_eq!(figure(0.58, 0.49), Figure::AbsoluteDifference);
    // Near the limit a pair around zero is judged too.
    assert_eq!(verdict(&make(0.05, -0.05), &named, 2), Verdict::Pass);
    // The greater LOQ of the two counts.
    let mut heavier = make(0.3, 0.45);
    heavier[0].loq = Some(0.15);
    assert_eq!(verdict(&heavier, &named, 2), Verdict::Pass);
}

#[test]
fn what_a_check_was_made_from_must_be_there() {
    let alone = at(2, Role::Duplicate, 1.0);
    assert_eq!(not_evaluated(&verdict(&[alone], &sw846(), 2)), "parent_not_named");
    assert_eq!(not_evaluated(&verdict(&[of(at(2, Role::Duplicate, 1.0), 9)], &sw846(), 2)), "parent_not_found");
    assert_eq!(not_evaluated(&verdict(&[of(at(2, Role::Duplicate, 1.0), 2)], &sw846(), 2)), "parent_not_found");
    let mut named = spiked(at(2, Role::MatrixSpike, 1.0), 1, 1.0);
    named.parent = Parent::NotFound("RR-7".into());
    let verdict_named = verdict(&[named], &sw846(), 2);
    assert_eq!(not_evaluated(&verdict_named), "parent_not_found");
    let mut lost = at(1, Role::Sample, f64::NAN);
    lost.result = None;
    assert_eq!(not_evaluated(&verdict(&[lost, of(at(2, Role::Duplicate, 1.0), 1)], &sw846(), 2)), "parent_no_value");
    let mut solid = of(at(2, Role::Duplicate, 1.0), 1);
    solid.result_unit = Unit::MilligramPerKilogram;
    assert_eq!(not_evaluated(&verdict(&[at(1, Role::Sample, 1.0), solid], &sw846(), 2)), "units_differ");
}

/// 7000B 9.7: 75 to 125 %; the recovery of SW-846 Chapter One.
#[test]
fn spikes_are_judged_by_the_recovery_of_the_addition() {
    let make = |found| vec![at(1, Role::Sample, 1.0), spiked(at(2, Role::MatrixSpike, found), 1, 2.0)];
    edge(make, &sw846(), 2, 3.5, Verdict::Pass, true);
    edge(make, &sw846(), 2, 2.5, Verdict::Pass, false);
    let statistic = check_at(&make(3.1), &sw846(), 2).statistic.unwrap();
    // By hand: 100 (3.1 - 1)/2 = 105; u = 100 sqrt(2) 0.01 / 2.
    approx::assert_relative_eq!(statistic.value, 105.0, max_relative = 1e-13);
    approx::assert_relative_eq!(statistic.u.unwrap(), 0.5 * 2f64.sqrt(), max_relative = 1e-13);
}

/// The fourfold rule is another programme's (from memory; Method 200.9 prints its mirror image, added < 25 %).
#[test]
fn a_native_of_exactly_four_times_the_addition_falls_to_the_rule_that_is_named() {
    let make = |native: f64| vec![at(1, Role::Sample, native), spiked(at(2, Role::MatrixSpike, native + 1.0), 1, 1.0)];
    let verdict_of =
        |native, rule: &str| verdict(&make(native), &with(&[("matrix_spike", "native_rule", rule.into())]), 2);
    assert_eq!(verdict(&make(40.0), &sw846(), 2), Verdict::Pass);
    assert_eq!(not_evaluated(&verdict_of(4.0, "native_4x")), "native_too_high");
    assert_eq!(verdict_of(4.0 * (1.0 - 1e-9), "native_4x"), Verdict::Pass);
    assert_eq!(verdict_of(4.0, "added_below_25_percent"), Verdict::Pass);
    assert_eq!(not_evaluated(&verdict_of(4.0 * (1.0 + 1e-9), "added_below_25_percent")), "native_too_high");
    // 30 %: native over added of 10/3.
    assert_eq!(verdict_of(10.0 / 3.0, "added_below_30_percent"), Verdict::Pass);
    assert_eq!(not_evaluated(&verdict_of(10.0 / 3.0 * (1.0 + 1e-9), "added_below_30_percent")), "native_too_high");
    let check = check_at(&make(4.0), &with(&[("matrix_spike", "native_rule", "native_4x".into())]), 2);
    assert_eq!(check.citation.origin, Origin::OtherProgramme);
}

#[test]
fn a_native_below_the_mdl_follows_the_named_policy() {
    // MDL 0.03; native -0.02, addition 0.1, found 0.1: 120 % signed, 100 % with the native as zero.
    let run = [at(1, Role::Sample, -0.02), spiked(at(2, Role::MatrixSpike, 0.1), 1, 0.1)];
    let recovery = |policy: &str| {
        let criteria = with(&[("matrix_spike", "native_below_mdl", policy.into())]);
        check_at(&run, &criteria, 2).statistic.map(|statistic| statistic.value)
    };
    approx::assert_relative_eq!(recovery("signed").unwrap(), 120.0, max_relative = 1e-12);
    approx::assert_relative_eq!(recovery("zero").unwrap(), 100.0, max_relative = 1e-12);
    assert_eq!(recovery("not_calculable"), None);
    // At the MDL the policy does not act.
    let at_mdl = [at(1, Role::Sample, 0.03), spiked(at(2, Role::MatrixSpike, 0.13), 1, 0.1)];
    let not_calculable = with(&[("matrix_spike", "native_below_mdl", "not_calculable".into())]);
    assert_eq!(verdict(&at_mdl, &not_calculable, 2), Verdict::Pass);
}

#[test]
fn a_spike_needs_its_addition() {
    let run = |added| {
        let mut spike = of(at(2, Role::MatrixSpike, 2.0), 1);
        spike.added = added;
        [at(1, Role::Sample, 1.0), spike]
    };
    for (added, reason) in [
        (Added::NotGiven, "no_addition"),
        (Added::Amount(0.0), "no_addition"),
        (Added::Amount(f64::INFINITY), "no_addition"),
        (Added::Unknown("no spike volume".into()), "addition_unknown"),
    ] {
        assert_eq!(not_evaluated(&verdict(&run(added), &sw846(), 2)), reason);
    }
}

/// 7000B 9.8.1: 80 to 120 %, addition 10 to 100 times the LLOQ (0.1 here). Semantics 19: in digest units.
#[test]
fn a_post_digestion_spike_is_judged_in_the_digest() {
    let run = |found: f64, added: f64| {
        // The sample was read tenfold diluted, so its digest holds 5; the spiked digest was read undiluted.
        let mut native = at(1, Role::Sample, 0.5);
        native.dilution = 10.0;
        native.result = Some(estimate(500.0)); // a result per mass must not be used
        vec![native, spiked(at(2, Role::PostDigestionSpike, found), 1, added)]
    };
    edge(|found| run(found, 2.0), &sw846(), 2, 7.4, Verdict::Pass, true);
    edge(|found| run(found, 2.0), &sw846(), 2, 6.6, Verdict::Pass, false);
    let lacks = |added: f64| verdict(&run(5.0 + added, added), &sw846(), 2);
    assert_eq!(lacks(1.0), Verdict::Pass);
    assert_eq!(not_evaluated(&lacks(1.0 - 1e-9)), "addition_out_of_range");
    assert_eq!(lacks(10.0), Verdict::Pass);
    assert_eq!(not_evaluated(&lacks(10.0 + 1e-8)), "addition_out_of_range");
}

/// 7000B 9.8.2: 1:5 within 10 %, where the diluted solution holds at least 10 times the LLOQ (0.1 here).
#[test]
fn a_serial_dilution_is_judged_above_its_floor() {
    let run = |read: f64, undiluted: f64, fold: f64| {
        let mut diluted = of(at(2, Role::SerialDilution, read), 1);
        diluted.dilution = fold;
        vec![at(1, Role::Sample, undiluted), diluted]
    };
    edge(|read| run(read, 10.0, 5.0), &sw846(), 2, 2.2, Verdict::Pass, true);
    edge(|read| run(read, 10.0, 5.0), &sw846(), 2, 1.8, Verdict::Pass, false);
    assert_eq!(verdict(&run(1.0, 5.0, 5.0), &sw846(), 2), Verdict::Pass);
    assert_eq!(not_evaluated(&verdict(&run(1.0 - 1e-9, 5.0, 5.0), &sw846(), 2)), "below_floor");
    assert_eq!(not_evaluated(&verdict(&run(2.0, 12.0, 6.0), &sw846(), 2)), "other_dilution");
    // 5 mL to 25 mL with real glassware: a fold of 5.004 is fivefold.
    assert_eq!(verdict(&run(2.0, 10.0, 5.004), &sw846(), 2), Verdict::Pass);
    // 6010D: 25 x LLOQ of the undiluted, 20 %.
    let sister = with(&[
        ("serial_dilution", "floor", 25.0.into()),
        ("serial_dilution", "floor_at", "before_dilution".into()),
        ("serial_dilution", "difference", 20.0.into()),
    ]);
    assert_eq!(verdict(&run(0.6, 2.5, 5.0), &sister, 2), Verdict::Pass);
    assert_eq!(not_evaluated(&verdict(&run(0.6, 2.4, 5.0), &sister, 2)), "below_floor");
    let statistic = check_at(&run(2.1, 10.0, 5.0), &sw846(), 2).statistic.unwrap();
    approx::assert_relative_eq!(statistic.value, 5.0, max_relative = 1e-12);
    // By hand: S = 10.5 with u = 0.05, I = 10 with u = 0.01: 100/10 sqrt(0.05^2 + (1.05*0.01)^2).
    let u = 10.0 * (0.0025f64 + 0.0105 * 0.0105).sqrt();
    approx::assert_relative_eq!(statistic.u.unwrap(), u, max_relative = 1e-12);
}

/// 8000D 9.6.3: the RPD of a spike pair is of concentrations, not of recoveries.
#[test]
fn a_second_spike_is_judged_for_recovery_and_for_agreement_of_concentrations() {
    // Recoveries 100 and 80 differ by 22 % RPD, concentrations 11 and 10.8 by 1.8 %.
    let run = [
        at(1, Role::Sample, 10.0),
        spiked(at(2, Role::MatrixSpike, 11.0), 1, 1.0),
        spiked(at(3, Role::MatrixSpikeDuplicate, 10.8), 1, 1.0),
    ];
    assert_eq!(verdicts(&run, &sw846(), 3), [Verdict::Pass, Verdict::Pass]);
    let run = [
        at(1, Role::Sample, 0.0),
        spiked(at(2, Role::MatrixSpike, 1.2), 1, 1.0),
        spiked(at(3, Role::MatrixSpikeDuplicate, 0.8), 1, 1.0),
    ];
    assert_eq!(verdicts(&run, &sw846(), 3), [Verdict::Pass, Verdict::Fail]);
    let pair = [nominal(at(1, Role::Lcs, 1.0), 1.0), nominal(at(2, Role::Lcsd, 1.19), 1.0)];
    assert_eq!(verdicts(&pair, &sw846(), 2), [Verdict::Pass, Verdict::Pass]);
    let alone = verdicts(&[nominal(at(2, Role::Lcsd, 1.19), 1.0)], &sw846(), 2);
    assert_eq!((&alone[0], not_evaluated(&alone[1])), (&Verdict::Pass, "parent_not_named"));
}

/// 7000B 9.8.1: spike before and spike after digestion both fail: the matrix effect is confirmed.
#[test]
fn failed_spikes_together_confirm_a_matrix_effect() {
    let run = |before: f64, after: f64| {
        let run = [
            at(1, Role::Sample, 1.0),
            spiked(at(2, Role::MatrixSpike, before), 1, 2.0),
            spiked(at(3, Role::PostDigestionSpike, after), 1, 2.0),
        ];
        let findings = judge(&run, &[], &sw846()).unwrap().findings;
        let codes: Vec<Code> = findings.iter().map(|finding| finding.code).collect();
        (codes.contains(&Code::MatrixEffectSuspected), codes.contains(&Code::MatrixEffectConfirmed))
    };
    assert_eq!(run(3.0, 3.0), (false, false));
    assert_eq!(run(2.0, 3.0), (false, false));
    assert_eq!(run(3.0, 2.0), (true, false));
    assert_eq!(run(2.0, 2.0), (false, true));
    // A failed dilution beside a failed matrix spike does not confirm it: the text asks for the spike of the digest.
    let mut diluted = of(at(3, Role::SerialDilution, 1.0), 1);
    diluted.dilution = 5.0;
    diluted.solution_loq = Some(0.01);
    let run = [at(1, Role::Sample, 1.0), spiked(at(2, Role::MatrixSpike, 2.0), 1, 2.0), diluted];
    let codes: Vec<Code> = judge(&run, &[], &sw846()).unwrap().findings.iter().map(|finding| finding.code).collect();
    assert!(codes.contains(&Code::MatrixEffectSuspected) && !codes.contains(&Code::MatrixEffectConfirmed));
    // 9.8.2: the failed dilution (1.0 x 5 against 1.0) asks for standard additions, for all samples of the batch.
    assert!(codes.contains(&Code::StandardAdditionsNeeded));
}

#[test]
fn batch_checks_affect_only_their_own_batch() {
    let mut run = vec![nominal(at(1, Role::Lcs, 0.5), 1.0), at(2, Role::Sample, 1.0), at(3, Role::Sample, 1.0)];
    run[0].batch = Some("A".into());
    run[1].batch = Some("A".into());
    run[2].batch = Some("B".into());
    assert_eq!(check_at(&run, &Criteria::default(), 1).affects, [2]);
}

fn calibration() -> CalibrationFigures {
    CalibrationFigures {
        segment: 1,
        shape: crate::curve::Shape::Line,
        unit: MG_L,
        standards: 3,
        blanks: 1,
        r: Some(0.995),
        r_squared: Some(0.99),
        percent_errors: vec![40.0, -30.0, 2.0],
        rse: Some(20.0),
        studentized_residuals: vec![f64::NAN, -2.0, 1.0],
        readings: vec![
            StandardReadings { label: "S1".into(), count: 2, rsd: 7.0 },
            StandardReadings { label: "S2".into(), count: 3, rsd: 9.0 },
        ],
        lowest_absorbance: Some(0.04),
        top_absorbance: Some(0.7),
    }
}

fn failing(figures: &CalibrationFigures, criteria: &Criteria) -> Vec<&'static str> {
    let checks = accept(figures, criteria);
    let failed = checks.iter().filter(|check| check.verdict == Verdict::Fail);
    failed.filter_map(|check| check.statistic).map(|statistic| statistic.figure.name()).collect()
}

/// 7000B 10.1.1, 10.2, 10.3: blank and 3 standards, line, r at least 0.995, replicate standards within 10 % RPD.
#[test]
fn a_calibration_is_accepted_at_its_limits_and_refused_beyond() {
    let good = calibration();
    assert_eq!(failing(&good, &sw846()), Vec::<&str>::new());
    let r = |r| CalibrationFigures { r: Some(r), ..calibration() };
    assert_eq!(failing(&r(0.995 * (1.0 - 1e-9)), &sw846()), ["r"]);
    // 6010D prints r > 0.995: strict.
    let strict = with(&[("calibration", "correlation_edge", "strict".into())]);
    assert_eq!(failing(&r(0.995), &strict), ["r"]);
    assert_eq!(failing(&CalibrationFigures { standards: 2, ..calibration() }, &sw846()), ["standards"]);
    assert_eq!(failing(&CalibrationFigures { blanks: 0, ..calibration() }, &sw846()), ["calibration_blanks"]);
    let curved = CalibrationFigures { shape: crate::curve::Shape::Quadratic, r: None, ..calibration() };
    assert_eq!(failing(&curved, &sw846()), ["curvature"]);
    let unknown = accept(&curved, &sw846());
    assert!(unknown.iter().any(|check| matches!(check.verdict, Verdict::NotEvaluated(Reason::NotDefined(_)))));
    // Two readings: RPD = sqrt(2) RSD, so 10 % RPD is 7.0711 % RSD.
    let readings = |rsd| CalibrationFigures {
        readings: vec![StandardReadings { label: "S".into(), count: 2, rsd }],
        ..calibration()
    };
    assert_eq!(failing(&readings(50f64.sqrt()), &sw846()), Vec::<&str>::new());
    assert_eq!(failing(&readings(50f64.sqrt() * (1.0 + 1e-9)), &sw846()), ["standard_rpd"]);
}

#[test]
fn a_figure_that_a_required_rule_cannot_have_is_not_success() {
    let weighted = CalibrationFigures { r: None, ..calibration() };
    let judged = judge(&[], &[weighted], &sw846()).unwrap();
    assert_eq!(judged.standing(), Standing::Incomplete);
}

#[test]
fn limits_read_as_they_were_meant() {
    // 3 * 0.1 is 0.30000000000000004 in binary.
    let limit = Limit { low: None, high: Some(3.0 * 0.1), edge: crate::criteria::Edge::Inclusive };
    assert_eq!(limit.to_string(), "at most 0.3");
}

/// 8000D 11.5.4.1 and 11.5.4.2: 30 % at every level, 50 % at the lowest for some uses, RSE 20 %.
#[test]
fn percent_error_and_rse_are_judged_where_they_are_named() {
    let named = with(&[("calibration", "percent_error", 30.0.into()), ("calibration", "rse", 20.0.into())]);
    assert_eq!(failing(&calibration(), &named), ["percent_error"]);
    let lenient = with(&[
        ("calibration", "percent_error", 30.0.into()),
        ("calibration", "percent_error_lowest", 50.0.into()),
        ("calibration", "rse", 20.0.into()),
    ]);
    assert_eq!(failing(&calibration(), &lenient), Vec::<&str>::new());
    let worse =
        CalibrationFigures { percent_errors: vec![50.0 + 1e-7, 30.0 + 1e-7], rse: Some(20.0 + 1e-7), ..calibration() };
    assert_eq!(failing(&worse, &lenient), ["percent_error", "percent_error_lowest", "rse"]);
    let residuals = with(&[("calibration", "studentized_residual", 2.0.into())]);
    assert_eq!(failing(&calibration(), &residuals), Vec::<&str>::new());
    let far = CalibrationFigures { studentized_residuals: vec![-2.1], ..calibration() };
    assert_eq!(failing(&far, &residuals), ["studentized_residual"]);
    let scatter = with(&[("calibration", "standard_rsd", 9.0.into())]);
    assert_eq!(failing(&calibration(), &scatter), Vec::<&str>::new());
    let scatter = with(&[("calibration", "standard_rsd", 8.9.into())]);
    assert_eq!(failing(&calibration(), &scatter), ["standard_rsd"]);
}

/// 0.04 for the lowest standard is common practice without a source: advice, never a failure.
#[test]
fn absorbances_of_the_end_standards_are_advice() {
    let codes = |figures: &CalibrationFigures| -> Vec<Code> {
        let judged = judge(&[], std::slice::from_ref(figures), &sw846()).unwrap();
        assert_eq!(judged.standing(), Standing::Complete);
        judged.findings.iter().map(|finding| finding.code).collect()
    };
    assert_eq!(codes(&calibration()), []);
    let faint = CalibrationFigures { lowest_absorbance: Some(0.039), ..calibration() };
    assert_eq!(codes(&faint), [Code::LowestStandardFaint]);
    let silent = CalibrationFigures { lowest_absorbance: None, ..calibration() };
    assert_eq!(codes(&silent), []);
    let strong = CalibrationFigures { top_absorbance: Some(0.71), ..calibration() };
    assert_eq!(codes(&strong), [Code::TopStandardStrong]);
}

#[test]
fn a_refused_calibration_condemns_its_segment_and_no_other() {
    let mut run = vec![at(1, Role::Sample, 1.0), at(2, Role::Sample, 1.0)];
    run[1].segment = 2;
    let refused = CalibrationFigures { standards: 2, ..calibration() };
    let judged = judge(&run, &[refused], &sw846()).unwrap();
    assert_eq!(judged.condemned.iter().copied().collect::<Vec<_>>(), [1]);
    assert_eq!((judged.fitness(1), judged.standing()), (Fitness::Condemned, Standing::Failed));
}

#[test]
fn a_sentence_never_contradicts_its_verdict_and_cites_its_clause() {
    let judged = judge(&[nominal(at(1, Role::Ccv, 1.100_001), 1.0)], &[], &sw846()).unwrap();
    let finding = judged.findings.iter().find(|finding| finding.code == Code::CheckFailed).unwrap();
    assert!(finding.sentence().contains("recovery 110.0001 %, required 90 to 110 %"), "{}", finding.sentence());
    assert!(finding.to_string().contains("7000B, Revision 2, February 2007, 10.2.2"));
    assert!(!finding.sentence().contains("not given"));
}

#[test]
fn every_fact_that_a_sentence_names_is_given() {
    let mut run = vec![
        nominal(at(1, Role::Icv, 2.0), 1.0),
        at(2, Role::Sample, 1.0),
        spiked(at(3, Role::MatrixSpike, 1.1), 2, 2.0),
        spiked(at(4, Role::PostDigestionSpike, 1.1), 2, 2.0),
        nominal(at(5, Role::Ccv, 2.0), 1.0),
        nominal(at(6, Role::Ccv, 1.0), 1.0),
        of(at(7, Role::Duplicate, 1.0), 99),
    ];
    run[1].detection = Detection::NotDetected;
    let lenient =
        with(&[("bracket", "release", "high_check_nondetect".into()), ("bracket", "retry", "one_immediate".into())]);
    for criteria in [sw846(), Criteria::default(), lenient] {
        let strong = CalibrationFigures { top_absorbance: Some(2.0), lowest_absorbance: Some(0.0), ..calibration() };
        let judged = judge(&run, &[strong], &criteria).unwrap();
        assert!(judged.findings.len() > 5);
        for finding in judged.findings {
            assert!(!finding.sentence().contains("(not given)"), "{}", finding.sentence());
        }
    }
}

#[test]
fn the_standing_is_complete_only_where_nothing_required_is_missing_or_failed() {
    let judged = |run: &[Measured], criteria: &Criteria| judge(run, &[], criteria).unwrap().standing();
    let sample = at(4, Role::Sample, 1.0);
    assert_eq!(judged(std::slice::from_ref(&sample), &Criteria::default()), Standing::Complete);
    assert_eq!(judged(std::slice::from_ref(&sample), &sw846()), Standing::Incomplete);
    assert_eq!(judged(&[sample.clone(), nominal(at(5, Role::Ccv, 2.0), 1.0)], &Criteria::default()), Standing::Failed);
    // Not evaluable for want of a fact is not success, even where nothing is required ...
    assert_eq!(judged(&[sample.clone(), at(5, Role::Ccv, 1.0)], &Criteria::default()), Standing::Incomplete);
    // ... but a rule that does not apply stands in nobody's way.
    let mut named = Criteria::default();
    named.set("matrix_spike", "native_rule", "native_4x".into()).unwrap();
    let high = [at(1, Role::Sample, 10.0), spiked(at(2, Role::MatrixSpike, 11.0), 1, 1.0)];
    assert_eq!(judged(&high, &named), Standing::Complete);
    assert_eq!((Standing::Complete.exit_status(), Standing::Incomplete.exit_status()), (0, 1));
}

#[test]
fn a_position_that_occurs_twice_is_an_error_naming_it() {
    let run = [at(1, Role::Sample, 1.0), at(1, Role::Sample, 2.0)];
    let error = judge(&run, &[], &sw846()).unwrap_err();
    assert!(error.to_string().contains("position 1 occurs twice"));
}

/// JCGM 106:2012 (from memory): simple acceptance, guarded acceptance and rejection, shared risk with a limit on U.
#[test]
fn conformity_follows_the_named_rule() {
    let limit = |rule| ActionLimit { value: 10.0, unit: MG_L, conforms: ConformSide::AtMost, rule };
    // u 0.5 with infinite dof: U = 0.9799819922700271 at 95 %.
    let result = |value| Estimate { value, u: 0.5, dof: Dof::INFINITE, status: Status::InRange };
    let say = |value, rule| conformity(&result(value), &limit(rule), Coverage::P95, Fitness::Fit);
    let simple = DecisionRule::Simple;
    assert_eq!(say(10.0, simple), Conformity::Conforms);
    assert_eq!(say(10.0 + 1e-8, simple), Conformity::DoesNotConform);
    let guard = DecisionRule::GuardBand { multiple: 1.0 };
    assert_eq!(say(9.02, guard), Conformity::Conforms);
    assert_eq!(say(9.0201, guard), Conformity::Undecided);
    assert_eq!(say(10.979, guard), Conformity::Undecided);
    assert_eq!(say(10.98, guard), Conformity::DoesNotConform);
    let shared = |largest| DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: largest };
    assert_eq!(say(10.0, shared(0.098)), Conformity::Conforms);
    assert_eq!(say(10.1, shared(0.098)), Conformity::DoesNotConform);
    assert!(matches!(say(10.0, shared(0.0979)), Conformity::NotJudged(_)));
}

#[test]
fn a_minimum_is_guarded_on_its_own_side() {
    let result = |value| Estimate { value, u: 0.5, dof: Dof::INFINITE, status: Status::InRange };
    let rule = DecisionRule::GuardBand { multiple: 1.0 };
    let limit = ActionLimit { value: 10.0, unit: MG_L, conforms: ConformSide::AtLeast, rule };
    let say = |value| conformity(&result(value), &limit, Coverage::P95, Fitness::Fit);
    assert_eq!(say(10.98), Conformity::Conforms);
    assert_eq!(say(10.97), Conformity::Undecided);
    assert_eq!(say(9.03), Conformity::Undecided);
    assert_eq!(say(9.01), Conformity::DoesNotConform);
}

#[test]
fn condemned_incomplete_and_valueless_results_are_never_judged() {
    let limit = |rule| ActionLimit { value: 10.0, unit: MG_L, conforms: ConformSide::AtMost, rule };
    let good = estimate(1.0);
    for fitness in [Fitness::Condemned, Fitness::Incomplete] {
        let said = conformity(&good, &limit(DecisionRule::Simple), Coverage::P95, fitness);
        assert!(matches!(said, Conformity::NotJudged(_)));
    }
    let lost = Estimate { value: f64::NAN, status: Status::NoReading, ..good };
    assert!(matches!(
        conformity(&lost, &limit(DecisionRule::Simple), Coverage::P95, Fitness::Fit),
        Conformity::NotJudged(_)
    ));
    // Without a usable uncertainty the guarded rules say nothing; the simple one still does.
    let bare = Estimate { u: f64::NAN, dof: Dof::NONE, ..good };
    let guard = limit(DecisionRule::GuardBand { multiple: 1.0 });
    assert!(matches!(conformity(&bare, &guard, Coverage::P95, Fitness::Fit), Conformity::NotJudged(_)));
    assert_eq!(conformity(&bare, &limit(DecisionRule::Simple), Coverage::P95, Fitness::Fit), Conformity::Conforms);
}
