use super::*;
use crate::detection::Quarter;

fn quarter(text: &str) -> Quarter {
    text.parse().unwrap()
}

fn spike(batch: &str, instrument: &str, date: &str) -> MdlResult {
    MdlResult::spike(0.02).level(0.02).batch(batch).instrument(instrument).analysed(day(date))
}

fn setting(as_of: &str) -> OngoingSetting<'static> {
    OngoingSetting {
        instruments: &["AA-1", "AA-2"],
        first: quarter("2025-Q1"),
        as_of: day(as_of),
        level: Some(0.02),
        idle: &[],
    }
}

fn states(plan: &OngoingPlan) -> Vec<(&str, QuarterState, usize)> {
    plan.quarters.iter().map(|plan| (plan.instrument.as_str(), plan.state, plan.missing)).collect()
}

#[test]
fn the_plan_tells_what_is_missing() {
    let results = [
        spike("B1", "AA-1", "2025-01-02"),
        spike("B2", "AA-1", "2025-03-31"),
        spike("B2", "AA-2", "2025-03-31"),
        // Two spikes of one batch are one too few.
        spike("B3", "AA-2", "2025-04-01"),
        spike("B3", "AA-2", "2025-04-01"),
    ];
    let plan = ongoing_plan(&results, &setting("2025-06-30")).unwrap();
    assert_eq!(
        states(&plan),
        [
            ("AA-1", QuarterState::Complete, 0),
            ("AA-2", QuarterState::Missed, 1),
            ("AA-1", QuarterState::Due, 2),
            ("AA-2", QuarterState::Due, 1),
        ]
    );
    assert_eq!(plan.due().count(), 2);
    assert_eq!(plan.findings.len(), 1);
    complete(&plan.findings);
    // The day after, the second quarter is missed and a third is due.
    let plan = ongoing_plan(&results, &setting("2025-07-01")).unwrap();
    assert_eq!(plan.quarters.iter().filter(|plan| plan.state == QuarterState::Missed).count(), 3);
    assert_eq!(plan.quarters.len(), 6);
}

#[test]
fn what_does_not_count() {
    let mut other_level = spike("B2", "AA-1", "2025-02-01");
    other_level.spike_level = Some(0.05);
    let mut no_level = spike("B3", "AA-1", "2025-02-01");
    no_level.spike_level = None;
    let mut no_instrument = spike("B4", "AA-1", "2025-02-01");
    no_instrument.instrument = None;
    let results = [
        spike("B1", "AA-1", "2025-02-01"),
        other_level,
        no_level,
        no_instrument,
        spike("B5", "AA-1", "2025-02-02").excluding("spilled", "R. Ito"),
        spike("B6", "AA-1", "2025-05-05"),
    ];
    let plan = ongoing_plan(&results, &setting("2025-03-01")).unwrap();
    assert_eq!(states(&plan), [("AA-1", QuarterState::Due, 1), ("AA-2", QuarterState::Due, 2)]);
    assert!(sentence(&plan.findings, Code::MdlResultsNotPlaced).starts_with("2 spikes"));
}

#[test]
fn unknown_batches_and_idle_quarters() {
    let mut unknown = spike("", "AA-1", "2025-02-01");
    unknown.measured = ND;
    let results = [unknown, spike("B1", "AA-1", "2025-02-01")];
    let idle = [("AA-2", quarter("2025-Q1"))];
    let plan = ongoing_plan(&results, &OngoingSetting { idle: &idle, ..setting("2025-04-01") }).unwrap();
    assert_eq!(states(&plan)[..2], [("AA-1", QuarterState::NotEvaluated, 0), ("AA-2", QuarterState::Idle, 0)]);
    complete(&plan.findings);
    for names in [&["AA-1", "AA-1"][..], &[" AA-1"], &[""]] {
        assert!(ongoing_plan(&results, &OngoingSetting { instruments: names, ..setting("2025-04-01") }).is_err());
    }
    let other = ongoing_plan(&results, &OngoingSetting { instruments: &["AA-2"], ..setting("2025-02-20") }).unwrap();
    assert!(sentence(&other.findings, Code::MdlResultsNotPlaced).contains("not among those"));
    assert!(ongoing_plan(&results, &OngoingSetting { instruments: &[], ..setting("2025-04-01") }).is_err());
    assert!(ongoing_plan(&results, &setting("2024-12-31")).is_err());
}

#[test]
fn more_than_five_percent_is_strict() {
    let spikes = |good: usize, bad: usize| {
        let mut all = vec![MdlResult::spike(0.02); good];
        all.extend(vec![MdlResult::spike(ND); bad]);
        spiking_level(&all).unwrap().decision
    };
    assert_eq!(spikes(19, 1), LevelDecision::Keep);
    assert_eq!(spikes(18, 1), LevelDecision::Raise);
    assert_eq!(spikes(38, 2), LevelDecision::Keep);
    assert_eq!(spikes(37, 2), LevelDecision::Raise);
    assert_eq!(spikes(0, 0), LevelDecision::NotEvaluated);
    assert_eq!(spiking_level(&[MdlResult::spike(0.0)]).unwrap().failing, 1);
}

#[test]
fn a_new_instrument_joins_or_not() {
    let existing = initial(&study(), &facts()).unwrap().value.unwrap();
    let join = |spikes: &[f64], blanks: &[Measured]| {
        let mut all = study();
        all.extend(spikes.iter().map(|x| MdlResult::spike(*x).instrument("AA-3")));
        all.extend(blanks.iter().map(|x| MdlResult::blank(*x).instrument(" AA-3 ")));
        let joining = joining_instrument(existing, &all, "AA-3", &MdlOptions::default()).unwrap();
        complete(&joining.findings);
        joining
    };
    let good = join(&[0.0205, 0.0211], &[Measured::Number(0.001), ND]);
    assert_eq!((good.decision, good.spikes, good.blanks), (JoiningDecision::Validated, 2, 2));
    // A blank at the limit is not below it.
    let at = join(&[0.0205, 0.0211], &[Measured::Number(existing), ND]);
    assert_eq!((at.decision, at.blanks_at_or_above), (JoiningDecision::Redetermine, 1));
    // Spikes that scatter widely raise the pooled limit beyond twice the existing one.
    let wide = join(&[0.002, 0.04], &[ND, ND]);
    assert_eq!(wide.decision, JoiningDecision::Redetermine);
    assert!(wide.ratio.unwrap().above());
    let few = join(&[0.0205], &[ND, ND]);
    assert_eq!(few.decision, JoiningDecision::NotEvaluated);
    let one_blank = join(&[0.0205, 0.0211], &[ND]);
    assert_eq!(one_blank.decision, JoiningDecision::NotEvaluated);
    // Six spikes in all are one too few for a pool, seven are enough.
    for (group, decision) in [(4, JoiningDecision::NotEvaluated), (5, JoiningDecision::Validated)] {
        let mut all: Vec<_> = study().into_iter().take(group).collect();
        all.extend([0.0205, 0.0211].map(|x| MdlResult::spike(x).instrument("AA-3")));
        all.extend([ND, ND].map(|x| MdlResult::blank(x).instrument("AA-3")));
        let joining = joining_instrument(existing, &all, "AA-3", &MdlOptions::default()).unwrap();
        assert_eq!(joining.decision, decision, "{group}");
    }
    // Without the group there is no pool.
    let alone: Vec<_> =
        [MdlResult::spike(0.0205), MdlResult::spike(0.0211), MdlResult::blank(ND), MdlResult::blank(ND)]
            .map(|result| result.instrument("AA-3"))
            .into();
    let alone = joining_instrument(existing, &alone, "AA-3", &MdlOptions::default()).unwrap();
    assert_eq!(alone.decision, JoiningDecision::NotEvaluated);
    assert!(joining_instrument(0.0, &study(), "AA-3", &MdlOptions::default()).is_err());
}

#[test]
fn the_record_has_what_section_three_asks_for() {
    let mut results = study();
    results.push(MdlResult::spike(0.9).level(0.02).label("S9").excluding("cracked\tvial", "R. Ito\n"));
    results.push(MdlResult::blank(Measured::Missing));
    let header = MdlRecordHeader {
        method: "EPA SW-846 7000B".into(),
        title: "Flame atomic absorption".into(),
        analyte: "Cu".into(),
        unit: "mg/L".into(),
        matrix: "reagent water".into(),
        determined_on: Some(day("2025-02-01")),
        ..MdlRecordHeader::default()
    };
    let record = MdlRecord::new(header, &results, initial(&results, &facts()).unwrap());
    approx::assert_relative_eq!(record.mean_spiked.unwrap(), 0.02, max_relative = 1e-15);
    // The mean of the eight spikes by hand: 0.1659 / 8.
    approx::assert_relative_eq!(record.mean_recovered.unwrap(), 0.0207375, max_relative = 1e-14);
    let text = record.to_string();
    for part in [
        "method: EPA SW-846 7000B",
        "unit: mg/L",
        "matrix: reagent water",
        "determined by: not given",
        "mean spiked level: 0.02 mg/L",
        "spikes: 8 numeric, 0 not detected, 0 missing, 1 left out",
        "cracked vial (R. Ito )",
        "MDL_S = t * s = 2.99795156",
        "MDL_b = mean + t * s",
    ] {
        assert!(text.contains(part), "{part} not in\n{text}");
    }
    // Every result is there: the computation can be done again from the record.
    assert_eq!(record.results.len(), 18);
    let again = initial(&record.results, &record.mdl.options).unwrap();
    assert_eq!(again, record.mdl);
}
