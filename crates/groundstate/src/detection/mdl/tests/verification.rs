use super::*;

const DAY: &str = "2025-06-30";

fn spikes(date: &str) -> Vec<MdlResult> {
    SPIKES.iter().map(|x| MdlResult::spike(*x).level(0.02).analysed(day(date))).collect()
}

fn blanks(values: &[Measured], date: &str) -> Vec<MdlResult> {
    values.iter().map(|x| MdlResult::blank(*x).analysed(day(date))).collect()
}

fn data() -> Vec<MdlResult> {
    let mut all = spikes("2025-03-03");
    all.extend(blanks(&numbers(&BLANKS), "2025-03-03"));
    all
}

fn setting(existing: f64) -> VerificationSetting {
    VerificationSetting::new(existing, day(DAY))
}

fn verified(results: &[MdlResult], setting: &VerificationSetting) -> Verification {
    let verification = verify(results, setting).unwrap();
    complete(&verification.findings);
    verification
}

#[test]
fn the_factor_of_two_is_inclusive_at_both_ends() {
    use VerificationDecision::{Adopt, MayKeep};
    let value = verified(&data(), &setting(0.005)).verified.value.unwrap();
    for (existing, decision, reason) in [
        (value * 2.0, MayKeep, VerificationReason::RatioWithin),
        (value * 0.5, MayKeep, VerificationReason::RatioWithin),
        (value * 2.001, Adopt, VerificationReason::RatioBelow),
        (value * 0.4999, Adopt, VerificationReason::RatioAbove),
    ] {
        let verification = verified(&data(), &setting(existing));
        assert_eq!((verification.decision, verification.reasons[0]), (decision, reason), "{existing}");
        assert_eq!(verification.limit(), Some(if decision == MayKeep { existing } else { value }));
    }
    // An end on paper is an end: 0.15 / 0.3 and 0.3 / 0.15 may miss by a bit.
    assert!(Ratio::of(0.15, 0.3).within() && Ratio::of(0.3, 0.15).within() && Ratio::of(0.1 + 0.2, 0.6).within());
}

#[test]
fn fewer_than_three_percent_is_strict() {
    // 100 blanks, 97 not detected: with 3 above the existing limit it is 3 %, with 2 it is fewer.
    let with = |above: usize| {
        let mut values = vec![ND; 100 - above];
        values.extend(vec![Measured::Number(0.006); above]);
        let mut all = spikes("2025-03-03");
        all.extend(blanks(&values, "2025-03-03"));
        verified(&all, &setting(0.005))
    };
    let (two, three) = (with(2), with(3));
    assert_eq!((two.blanks, two.blanks_above), (100, 2));
    assert_eq!(two.decision, VerificationDecision::MayKeep);
    assert_eq!(three.decision, VerificationDecision::Adopt);
    assert!(three.reasons.contains(&VerificationReason::ManyBlanksAbove));
    assert!(three.reasons.contains(&VerificationReason::RatioWithin));
    // A blank at the existing limit is not above it.
    let mut all = data();
    all.extend(blanks(&[Measured::Number(0.005)], "2025-03-03"));
    assert_eq!(verified(&all, &setting(0.005)).blanks_above, 0);
}

#[test]
fn the_window_is_24_months_with_its_first_day() {
    let mut all = data();
    all.extend(spikes("2023-06-30"));
    all.extend(spikes("2023-06-29"));
    all.extend(spikes("2025-07-01"));
    all.push(MdlResult::spike(0.02).level(0.02));
    let verification = verified(&all, &setting(0.005));
    assert_eq!(verification.verified.from_spikes.counts.numeric, 14);
    assert_eq!(verification.left_out, LeftOut { too_old: 7, later: 7, undated: 1, ..LeftOut::default() });
    let told = sentence(&verification.findings, Code::MdlSelection);
    assert!(told.contains("7 older than 24 months") && told.contains("1 without a date"), "{told}");
}

#[test]
fn only_one_level_enters() {
    let mut all = data();
    all.extend(spikes("2024-12-01").into_iter().map(|spike| spike.level(0.05)));
    let verification = verified(&all, &setting(0.005));
    assert_eq!((verification.level, verification.left_out.other_level), (Some(0.02), 7));
    let asked = verified(&all, &VerificationSetting { level: Some(0.05), ..setting(0.005) });
    assert_eq!((asked.level, asked.left_out.other_level), (Some(0.05), 7));
    assert_eq!(asked.verified.from_spikes.counts.numeric, 7);
}

#[test]
fn six_months_or_fifty_whichever_are_more() {
    let six = |setting: VerificationSetting| VerificationSetting { blanks: BlankWindow::SixMonthsOrFifty, ..setting };
    let some = |n: usize, date: &str| blanks(&vec![Measured::Number(0.0005); n], date);
    // 30 in six months, 40 before: the 50 latest reach back to the day of the 50th, all of that day.
    let mut all = spikes("2025-03-03");
    all.extend(some(30, "2025-02-02"));
    all.extend(some(10, "2024-11-11"));
    all.extend(some(15, "2024-10-10"));
    all.extend(some(15, "2024-01-10"));
    let verification = verified(&all, &six(setting(0.005)));
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::FiftyLatest, 55));
    assert_eq!(verification.left_out.earlier_blanks, 15);
    // 60 in six months: all of them.
    all.extend(some(30, "2024-12-30"));
    let verification = verified(&all, &six(setting(0.005)));
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::SixMonths, 60));
    // One blank a month, six of them in six months: the 50 latest go beyond, 24 months bound them.
    let mut monthly = spikes("2025-03-03");
    monthly.extend((0..30).flat_map(|back| {
        let date = day(DAY).plus_months(-back).unwrap();
        [1, 2, 3].map(|_| MdlResult::blank(0.0005).analysed(date))
    }));
    let verification = verified(&monthly, &six(setting(0.005)));
    // Three each of the months 0 to 16 are 51; the 50th is of month 16.
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::FiftyLatest, 51));
    // 75 within 24 months, the first and the last day among them.
    assert_eq!(verified(&monthly, &setting(0.005)).blanks, 75);
    // 50 blanks of 50 days and one older: the older one stays out.
    let mut daily = spikes("2025-03-03");
    let first = day("2024-01-01");
    for i in 0..51 {
        let month = first.plus_months(i / 25).unwrap();
        let date = Date::new(month.year(), month.month(), u8::try_from(i % 25 + 1).unwrap()).unwrap();
        daily.push(MdlResult::blank(0.0005).analysed(date));
    }
    assert_eq!(verified(&daily, &six(setting(0.005))).blanks, 50);
    // Exactly 50 in six months are enough of them.
    let mut fifty = spikes("2025-03-03");
    fifty.extend(some(50, "2024-12-30"));
    fifty.extend(some(50, "2024-12-29"));
    let verification = verified(&fifty, &six(setting(0.005)));
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::SixMonths, 50));
    // Fewer than 50 in all: all of them.
    let mut few = spikes("2025-03-03");
    few.extend(some(20, "2023-09-09"));
    assert_eq!(verified(&few, &six(setting(0.005))).blanks, 20);
    // By default the 24 months count.
    assert_eq!(verified(&all, &setting(0.005)).blanks, 100);
}

#[test]
fn missing_and_excluded_blanks_are_not_among_the_fifty() {
    let mut all = spikes("2025-03-03");
    all.extend(blanks(&[Measured::Missing; 60], "2024-12-20"));
    all.extend(blanks(&[Measured::Number(0.0005); 60], "2024-09-09"));
    let setting = VerificationSetting { blanks: BlankWindow::SixMonthsOrFifty, ..setting(0.005) };
    let verification = verified(&all, &setting);
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::FiftyLatest, 60));
}

#[test]
fn thirteen_months_lapse_the_day_after() {
    let at = |last: Option<&str>| {
        let setting = VerificationSetting { last: last.map(day), ..setting(0.005) };
        let verification = verified(&data(), &setting);
        (
            has(&verification.findings, Code::MdlVerificationLapsed),
            has(&verification.findings, Code::MdlLapseNotEvaluated),
        )
    };
    assert_eq!(at(Some("2024-05-30")), (false, false));
    assert_eq!(at(Some("2024-05-29")), (true, false));
    assert_eq!(at(None), (false, true));
}

#[test]
fn few_data_decide_nothing() {
    let few: Vec<_> = data().into_iter().skip(1).collect();
    let verification = verified(&few, &setting(0.005));
    assert_eq!((verification.decision, verification.limit()), (VerificationDecision::Undecided, None));
    assert!(verification.reasons.contains(&VerificationReason::TooFewResults));
    let nothing = verified(&[], &setting(0.005));
    assert_eq!(nothing.decision, VerificationDecision::Undecided);
    assert!(nothing.reasons.contains(&VerificationReason::NotComputed));
    for existing in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(verify(&data(), &setting(existing)).is_err());
    }
}

#[test]
fn failing_spikes_up_to_five_percent_are_left_out_and_told() {
    let mut all = data();
    for _ in 0..3 {
        all.extend(spikes("2025-04-04"));
    }
    all.push(MdlResult::spike(ND).level(0.02).analysed(day("2025-04-04")));
    let one = verified(&all, &setting(0.005));
    assert_eq!(one.decision, VerificationDecision::MayKeep);
    assert!(sentence(&one.findings, Code::MdlSpikesLeftOut).starts_with("1 of 29"));
    // 2 of 30 are more than 5 %.
    all.push(MdlResult::spike(ND).level(0.02).analysed(day("2025-04-04")));
    let two = verified(&all, &setting(0.005));
    assert_eq!((two.decision, two.limit()), (VerificationDecision::Redetermine, None));
    assert!(has(&two.findings, Code::MdlRaiseSpikingLevel));
}

#[test]
fn undated_results_are_all_used_and_the_window_is_not_evaluated() {
    let bare: Vec<_> = SPIKES.map(MdlResult::spike).into_iter().chain(BLANKS.map(MdlResult::blank)).collect();
    let verification = verified(&bare, &setting(0.005));
    assert_eq!((verification.blanks_taken, verification.blanks), (BlanksTaken::Undated, 7));
    assert!(has(&verification.findings, Code::MdlWindowNotEvaluated));
    assert_eq!(verification.decision, VerificationDecision::MayKeep);
}

#[test]
fn after_a_change_only_later_data_of_three_days_decide() {
    let place = |i: usize, result: MdlResult, days: &[&str]| {
        let date = day(days[i % days.len()]);
        result.batch(format!("B{}", i % days.len())).prepared(date).analysed(date)
    };
    let make = |days: &[&str]| {
        let mut all: Vec<_> =
            SPIKES.iter().enumerate().map(|(i, x)| place(i, MdlResult::spike(*x).level(0.02), days)).collect();
        all.extend(BLANKS.iter().enumerate().map(|(i, x)| place(i, MdlResult::blank(*x), days)));
        all.extend(spikes("2024-12-12"));
        all
    };
    let changed = VerificationSetting { since: Some(day("2025-03-01")), ..setting(0.005) };
    let three = verified(&make(&["2025-03-01", "2025-03-08", "2025-03-15"]), &changed);
    assert_eq!((three.decision, three.left_out.before_change), (VerificationDecision::MayKeep, 7));
    assert_eq!(three.verified.from_spikes.counts.numeric, 7);
    let two = verified(&make(&["2025-03-01", "2025-03-08"]), &changed);
    assert_eq!(two.decision, VerificationDecision::Undecided);
    assert!(two.reasons.contains(&VerificationReason::DesignNotShown));
    // Without a change two days are enough: routine data are spread as they come.
    let routine = verified(&make(&["2025-03-01", "2025-03-08"]), &setting(0.005));
    assert_eq!(routine.decision, VerificationDecision::MayKeep);
}
