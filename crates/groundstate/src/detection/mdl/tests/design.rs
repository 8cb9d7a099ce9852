use super::*;
use crate::finding::Severity;

fn states(limit: &Mdl) -> Vec<(DesignRule, State)> {
    limit.design.iter().map(|requirement| (requirement.rule, requirement.state)).collect()
}

#[test]
fn a_complete_study_meets_everything() {
    let limit = initial(&study(), &facts()).unwrap();
    for requirement in &limit.design {
        assert_eq!(requirement.state, State::Met, "{requirement}");
    }
    assert_eq!((limit.design.len(), limit.basis), (DesignRule::ALL.len(), MdlBasis::DesignMet));
    assert!(limit.findings.is_empty(), "{:?}", limit.findings);
}

#[test]
fn bare_lists_are_not_evaluated_and_called_computed_from_values() {
    let limit = limit(&numbers(&SPIKES), &numbers(&BLANKS));
    let known = [DesignRule::SpikeCount, DesignRule::BlankCount, DesignRule::SpikesPositive];
    for (rule, state) in states(&limit) {
        let expected = if known.contains(&rule) { State::Met } else { State::NotEvaluated };
        assert_eq!(state, expected, "{}", rule.name());
    }
    assert_eq!(limit.basis, MdlBasis::FromValues);
    assert!(has(&limit.findings, Code::MdlFromValues));
    assert!(sentence(&limit.findings, Code::LimitRequirementsNotEvaluated).starts_with("11 requirements"));
}

/// The states of `study` after `change`, where they differ from met.
fn broken(change: impl Fn(usize, &mut MdlResult), options: &MdlOptions) -> Vec<(DesignRule, State)> {
    let mut results = study();
    for (i, result) in results.iter_mut().enumerate() {
        change(i, result);
    }
    let limit = initial(&results, options).unwrap();
    complete(&limit.findings);
    let not_met = limit.design.iter().filter(|requirement| requirement.state == State::NotMet).count();
    let told = limit.findings.iter().filter(|finding| finding.code == Code::LimitRequirementNotMet).count();
    assert_eq!(told, not_met);
    states(&limit).into_iter().filter(|(_, state)| *state != State::Met).collect()
}

#[test]
fn each_requirement_fails_alone() {
    use DesignRule as R;
    let two = |i: usize| if i % 8 < 4 { "A".to_owned() } else { "B".to_owned() };
    assert_eq!(
        broken(|i, result| result.batch = Some(two(i)), &facts()),
        [(R::SpikeBatches, State::NotMet), (R::BlankBatches, State::NotMet)]
    );
    let date = |i: usize| Some(if i % 8 < 4 { day("2025-01-06") } else { day("2025-01-07") });
    assert_eq!(
        broken(|i, result| result.prepared = date(i), &facts()),
        [(R::SpikePreparationDates, State::NotMet), (R::BlankPreparationDates, State::NotMet)]
    );
    let late = |i: usize| Some(if i % 8 < 4 { day("2025-01-29") } else { day("2025-01-30") });
    assert_eq!(
        broken(|i, result| result.analysed = late(i), &facts()),
        [(R::SpikeAnalysisDates, State::NotMet), (R::BlankAnalysisDates, State::NotMet)]
    );
    assert_eq!(
        broken(
            |i, result| if i == 0 {
                result.spike_level = Some(0.025)
            },
            &facts()
        ),
        [(R::OneSpikeLevel, State::NotMet)]
    );
    assert_eq!(
        broken(|i, result| result.instrument = (i == 0).then(|| "AA-3".into()).or(result.instrument.take()), &facts()),
        [(R::PerInstrument, State::NotMet), (R::InstrumentDates, State::NotMet)]
    );
}

#[test]
fn two_on_one_instrument_need_two_dates() {
    // Spikes 0 and 1 move to a third instrument; both are of the first date, so are its blanks.
    let moved = |i: usize, result: &mut MdlResult| {
        if i % 8 < 2 {
            result.instrument = Some("AA-3".into());
        }
    };
    assert_eq!(broken(moved, &facts()), [(DesignRule::InstrumentDates, State::NotMet)]);
}

#[test]
fn two_of_one_kind_need_two_days_of_preparation_and_two_of_analysis() {
    for prepared in [true, false] {
        let moved = |i: usize, result: &mut MdlResult| {
            if i % 8 < 2 {
                result.instrument = Some("AA-3".into());
                // The dates differ in one respect only.
                result.prepared = Some(day(if prepared && i % 8 == 1 { "2025-01-08" } else { "2025-01-07" }));
                result.analysed = Some(day(if !prepared && i % 8 == 1 { "2025-01-10" } else { "2025-01-09" }));
            }
        };
        assert_eq!(broken(moved, &facts()), [(DesignRule::InstrumentDates, State::NotMet)], "{prepared}");
    }
}

#[test]
fn one_blank_on_an_instrument_is_too_few() {
    let mut results = study();
    // The seventh and eighth blanks are the last two; AA-2 keeps its four spikes and one blank.
    for result in results.iter_mut().filter(|result| result.kind == MdlKind::Blank).skip(2) {
        result.instrument = Some("AA-1".into());
    }
    let limit = initial(&results, &facts()).unwrap();
    assert_eq!(limit.state(DesignRule::PerInstrument), Some(State::NotMet));
}

#[test]
fn three_known_facts_suffice_and_two_with_gaps_do_not() {
    // The first three dates are known: enough, whatever the last is.
    let gap = |i: usize, result: &mut MdlResult| {
        if i % 8 >= 6 {
            result.batch = None;
        }
    };
    assert_eq!(broken(gap, &facts()), []);
    let gap = |i: usize, result: &mut MdlResult| {
        if i % 8 >= 4 {
            result.batch = Some("  ".into());
        }
    };
    let open = State::NotEvaluated;
    assert_eq!(broken(gap, &facts()), [(DesignRule::SpikeBatches, open), (DesignRule::BlankBatches, open)]);
}

#[test]
fn age_counts_24_calendar_months() {
    let at = |text: &str| broken(|_, _| {}, &MdlOptions { as_of: Some(day(text)), ..facts() });
    // The oldest result is of 2025-01-07.
    assert_eq!(at("2027-01-07"), []);
    assert_eq!(at("2027-01-08"), [(DesignRule::Age, State::NotMet)]);
    // A day to count from before the last result is a slip.
    assert_eq!(at("2025-01-27"), [(DesignRule::Age, State::NotMet)]);
    assert_eq!(broken(|_, _| {}, &MdlOptions { as_of: None, ..facts() }), [(DesignRule::Age, State::NotEvaluated)]);
}

#[test]
fn the_spiking_level_is_advice_with_its_ends_inside() {
    let at = |estimate: f64| {
        let limit = initial(&study(), &MdlOptions { initial_estimate: Some(estimate), ..facts() }).unwrap();
        assert_eq!(limit.basis, MdlBasis::DesignMet);
        (limit.state(DesignRule::SpikeLevelRange).unwrap(), has(&limit.findings, Code::LimitAdviceNotFollowed))
    };
    // 0.02 is 2, 10, 1.99 and 10.05 times these.
    assert_eq!(at(0.01), (State::Met, false));
    assert_eq!(at(0.002), (State::Met, false));
    assert_eq!(at(0.01005), (State::Advice, true));
    assert_eq!(at(0.00199), (State::Advice, true));
    // 0.3 / 0.03 is above 10 by one bit in binary.
    let mut results = study();
    for result in results.iter_mut().filter(|result| result.kind == MdlKind::Spike) {
        result.spike_level = Some(0.3);
    }
    let limit = initial(&results, &MdlOptions { initial_estimate: Some(0.03), ..facts() }).unwrap();
    assert_eq!(limit.state(DesignRule::SpikeLevelRange), Some(State::Met));
    for estimate in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(initial(&results, &MdlOptions { initial_estimate: Some(estimate), ..facts() }).is_err());
    }
}

#[test]
fn gross_failures_are_counted_and_seven_must_remain() {
    let mut results = study();
    results[0] = results[0].clone().excluding("cracked vial", "R. Ito");
    let limit = initial(&results, &facts()).unwrap();
    assert_eq!((limit.from_spikes.counts.numeric, limit.from_spikes.counts.excluded), (7, 1));
    assert_eq!(limit.state(DesignRule::SpikeCount), Some(State::Met));
    let grade = |limit: &Mdl| {
        limit.findings.iter().find(|finding| finding.code == Code::MdlGrossFailures).map(|finding| finding.severity)
    };
    assert_eq!(grade(&limit), Some(Severity::Note));
    results[1] = results[1].clone().excluding("mislabelled", "R. Ito");
    let limit = initial(&results, &facts()).unwrap();
    assert_eq!(limit.state(DesignRule::SpikeCount), Some(State::NotMet));
    assert_eq!((limit.basis, grade(&limit)), (MdlBasis::DesignNotMet, Some(Severity::Fail)));
}

#[test]
fn unverified_rules_are_cited_without_clause_letters() {
    for rule in DesignRule::ALL {
        let citation = rule.citation();
        if citation.status == crate::finding::CitationStatus::Unverified {
            assert!(!citation.clause.contains('('), "{citation}");
        }
        assert_ne!(citation.status, crate::finding::CitationStatus::Transcribed, "{citation}");
    }
}
