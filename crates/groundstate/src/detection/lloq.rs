//! Verification of a lower limit of quantitation, as three methods of SW-846 ask for it.
//!
//! An LLOQ is the lowest concentration that is given as a figure; results below it are estimates. It is not computed from an
//! MDL or an IDL but chosen, at or above the lowest standard, and then shown to hold by samples spiked at that level and taken
//! through the whole method.

use super::check::{self, LimitCheck, State};
use super::edge;
use super::mdl::Measured;
use super::moments::Moments;
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Citation, Code, Finding, Subject};

/// Whose rule the LLOQ is verified by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LloqRule {
    /// 7000B: each sample spiked at the LLOQ recovers within 30 %.
    Sw7000b,
    /// 6010D: at least seven samples, mean recovery 65 to 135 %, relative standard deviation below 20 %.
    Sw6010d,
    /// 8000D: a spike of 0.5 to 2 times the LLOQ recovers within the limits of the control sample, widened by 20 % on either
    /// side. Once a year.
    Sw8000d {
        /// Lowest recovery allowed in the control sample, in percent.
        lcs_low: f64,
        /// Highest recovery allowed in the control sample, in percent.
        lcs_high: f64,
    },
}

impl LloqRule {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            LloqRule::Sw7000b => "sw846_7000b",
            LloqRule::Sw6010d => "sw846_6010d",
            LloqRule::Sw8000d { .. } => "sw846_8000d",
        }
    }

    /// Where it stands.
    pub const fn citation(self) -> Citation {
        match self {
            LloqRule::Sw7000b => Citation::transcribed("EPA SW-846 Method 7000B", "Revision 2, 2007", "10.2.3"),
            LloqRule::Sw6010d => Citation::transcribed("EPA SW-846 Method 6010D", "Revision 5, 2018", ""),
            LloqRule::Sw8000d { .. } => Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "9.7"),
        }
    }
}

/// What was done to show that an LLOQ holds. Concentrations in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LloqStudy<'a> {
    /// The limit to be verified.
    pub lloq: f64,
    /// Concentration spiked; `None` when it is the LLOQ itself.
    pub spiked: Option<f64>,
    /// What was found, through the whole method.
    pub found: &'a [Measured],
    /// Lowest non-zero standard of the calibration, in the same terms as the LLOQ.
    pub lowest_standard: Option<f64>,
}

/// An LLOQ and whether it holds.
#[derive(Clone, Debug, PartialEq)]
pub struct LloqVerification {
    /// Whose rule.
    pub rule: LloqRule,
    /// The limit.
    pub lloq: f64,
    /// Recovery of each sample in percent; `None` for a non-detect or a missing result.
    pub recoveries: Vec<Option<f64>>,
    /// Mean recovery in percent, of the samples that gave a number.
    pub mean_recovery: Option<f64>,
    /// Relative standard deviation in percent, n - 1.
    pub rsd: Option<f64>,
    /// Every requirement with its state.
    pub checks: Vec<LimitCheck>,
    /// Met, not met, or not evaluated, all together.
    pub verdict: State,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Judges the samples of `study` by `rule`. Limits of recovery are inclusive; the relative standard deviation has to be below
/// its limit. A non-detect at the LLOQ is a failure, not a gap.
///
/// # Errors
/// For a limit, a spike or a standard that is not a positive concentration, infinite results, or limits that are no range.
///
/// ```
/// use groundstate::detection::State;
/// use groundstate::detection::lloq::{LloqRule, LloqStudy, verify};
/// use groundstate::detection::mdl::Measured;
/// let found = [0.071, 0.13].map(Measured::from);
/// let study = LloqStudy { lloq: 0.1, spiked: None, found: &found, lowest_standard: Some(0.1) };
/// assert_eq!(verify(&study, LloqRule::Sw7000b)?.verdict, State::Met);
/// assert_eq!(verify(&study, LloqRule::Sw6010d)?.verdict, State::NotMet); // two samples are not seven
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn verify(study: &LloqStudy<'_>, rule: LloqRule) -> Result<LloqVerification, Error> {
    input(study, rule)?;
    let spiked = study.spiked.unwrap_or(study.lloq);
    let recoveries: Vec<Option<f64>> = study
        .found
        .iter()
        .map(|measured| match measured {
            Measured::Number(x) if !x.is_nan() => Some(100.0 * x / spiked),
            _ => None,
        })
        .collect();
    let missing = study
        .found
        .iter()
        .filter(|measured| {
            matches!(measured, Measured::Missing) || matches!(measured, Measured::Number(x) if x.is_nan())
        })
        .count();
    let used = study.found.len() - missing;
    let mut numbers: Vec<f64> = recoveries.iter().flatten().copied().collect();
    numbers.sort_unstable_by(f64::total_cmp);
    let nondetects = used - numbers.len();
    let moments = Moments::of("found", &numbers)?;
    let mean = moments.map(|moments| moments.mean);
    let rsd = moments
        .and_then(|moments| moments.s.filter(|_| moments.mean > 0.0).map(|s| 100.0 * s / moments.mean))
        .filter(|rsd| rsd.is_finite());

    let mut checks = vec![lowest_standard(study), detected(nondetects, used)];
    match rule {
        LloqRule::Sw7000b => checks.push(each(&numbers, 70.0, 130.0)),
        LloqRule::Sw6010d => {
            let state = if used >= 7 { State::Met } else { State::NotMet };
            checks.push(check("count", "number of samples", "at least 7", used.to_string(), state));
            checks.push(range("mean_recovery", "mean recovery", mean, 65.0, 135.0));
            checks.push(scatter(rsd, nondetects));
        }
        LloqRule::Sw8000d { lcs_low, lcs_high } => {
            checks.push(spike_level(spiked / study.lloq));
            checks.push(each(&numbers, lcs_low - 20.0, lcs_high + 20.0));
        }
    }
    for check in &mut checks {
        check.citation = rule.citation();
    }
    // The rule that an LLOQ is not below the lowest standard is that of 8000D, whichever method is in use.
    if let Some(check) = checks.first_mut() {
        check.citation = LloqRule::Sw8000d { lcs_low: 0.0, lcs_high: 0.0 }.citation();
    }
    let mut findings = check::findings(&checks);
    for (count, code) in [(missing, Code::LimitMissingRemoved), (nondetects, Code::CensoredUpstream)] {
        if count > 0 {
            findings.push(Finding::new(code, Subject::Run).with("count", count).with("what", "samples at the LLOQ"));
        }
    }
    let verdict = check::verdict(&checks);
    Ok(LloqVerification { rule, lloq: study.lloq, recoveries, mean_recovery: mean, rsd, checks, verdict, findings })
}

fn input(study: &LloqStudy<'_>, rule: LloqRule) -> Result<(), Error> {
    let mut problems = Vec::new();
    let named = [("lloq", Some(study.lloq)), ("spiked", study.spiked), ("lowest_standard", study.lowest_standard)];
    for (name, value) in named {
        if let Some(value) = value.filter(|value| !(value.is_finite() && *value > 0.0)) {
            problems.push(
                Problem::new(Place::named(name), format!("{value} is not a positive concentration"))
                    .help("give it in the unit of the results"),
            );
        }
    }
    for (row, measured) in (1u64..).zip(study.found) {
        if matches!(measured, Measured::Number(x) if x.is_infinite()) {
            problems.push(Problem::new(Place::cell(row, "found"), "the result is infinite"));
        }
    }
    if let LloqRule::Sw8000d { lcs_low, lcs_high } = rule
        && !(lcs_low.is_finite() && lcs_high.is_finite() && lcs_low < lcs_high)
    {
        let what = format!("{lcs_low} to {lcs_high} % is not a range of recoveries");
        problems.push(Problem::new(Place::named("rule"), what).help("as in 80 to 120"));
    }
    Error::unless_empty(Kind::Argument, problems, ())
}

/// A check whose citation the caller puts in.
fn check(
    name: &'static str,
    title: &'static str,
    required: impl Into<std::borrow::Cow<'static, str>>,
    found: String,
    state: State,
) -> LimitCheck {
    LimitCheck { name, title, required: required.into(), found, state, citation: Citation::laboratory() }
}

fn judged(yes: bool) -> State {
    if yes { State::Met } else { State::NotMet }
}

fn lowest_standard(study: &LloqStudy<'_>) -> LimitCheck {
    let (found, state) = match study.lowest_standard {
        None => ("lowest standard not given".to_owned(), State::NotEvaluated),
        Some(lowest) => (
            format!("{:?} against a lowest standard of {lowest:?}", study.lloq),
            judged(edge::at_least(study.lloq, lowest)),
        ),
    };
    check("lowest_standard", "LLOQ", "at or above the lowest standard", found, state)
}

fn detected(nondetects: usize, used: usize) -> LimitCheck {
    let state = if used == 0 { State::NotEvaluated } else { judged(nondetects == 0) };
    let found = if used == 0 { "no results".to_owned() } else { format!("{nondetects} of {used} not detected") };
    check("detected", "samples at the LLOQ", "a number for every one", found, state)
}

fn each(numbers: &[f64], low: f64, high: f64) -> LimitCheck {
    let out: Vec<_> = numbers
        .iter()
        .filter(|recovery| !(edge::at_least(**recovery, low) && edge::at_most(**recovery, high)))
        .map(|recovery| figure(*recovery, low, high))
        .collect();
    let (found, state) = match (numbers.first(), numbers.last()) {
        (Some(first), Some(last)) if out.is_empty() => {
            (format!("{} to {}", figure(*first, low, high), figure(*last, low, high)), State::Met)
        }
        (Some(_), _) => (out.join(", "), State::NotMet),
        _ => ("no numeric result".to_owned(), State::NotEvaluated),
    };
    check("recovery", "recovery of each sample", format!("{low} to {high} %"), found, state)
}

fn range(name: &'static str, title: &'static str, value: Option<f64>, low: f64, high: f64) -> LimitCheck {
    let (found, state) = match value {
        None => ("no numeric result".to_owned(), State::NotEvaluated),
        Some(value) => (figure(value, low, high), judged(edge::at_least(value, low) && edge::at_most(value, high))),
    };
    check(name, title, format!("{low} to {high} %"), found, state)
}

fn scatter(rsd: Option<f64>, nondetects: usize) -> LimitCheck {
    let (found, state) = match rsd {
        None => ("not defined: fewer than two numbers, or a mean not above 0".to_owned(), State::NotEvaluated),
        Some(_) if nondetects > 0 => ("not defined with non-detects".to_owned(), State::NotEvaluated),
        Some(rsd) => (figure(rsd, 20.0, 20.0), judged(edge::below(rsd, 20.0))),
    };
    check("rsd", "relative standard deviation", "below 20 %", found, state)
}

fn spike_level(ratio: f64) -> LimitCheck {
    let state = judged(edge::at_least(ratio, 0.5) && edge::at_most(ratio, 2.0));
    check("spike_level", "spike against the LLOQ", "0.5 to 2 times", format!("{ratio:.3} times"), state)
}

/// A percentage with as many decimals as it takes not to look like a limit it is not.
fn figure(value: f64, low: f64, high: f64) -> String {
    let looks_like = |text: &str, limit: f64| {
        text.parse::<f64>().is_ok_and(|shown| (shown - limit).abs() < 1e-9)
            && (value - limit).abs() > 1e-12 * limit.abs()
    };
    for decimals in [1, 2, 4, 8] {
        let text = format!("{value:.decimals$}");
        if !looks_like(&text, low) && !looks_like(&text, high) {
            return format!("{text} %");
        }
    }
    format!("{value:?} %")
}

#[cfg(test)]
mod tests {
    use super::*;

    const ND: Measured = Measured::NonDetect;

    fn by(rule: LloqRule, found: &[Measured]) -> LloqVerification {
        let study = LloqStudy { lloq: 0.1, spiked: None, found, lowest_standard: Some(0.1) };
        let verification = verify(&study, rule).unwrap();
        for finding in &verification.findings {
            assert!(!finding.sentence().contains("(not given)"), "{finding}");
        }
        verification
    }

    fn numbers(values: &[f64]) -> Vec<Measured> {
        values.iter().copied().map(Measured::from).collect()
    }

    fn state(verification: &LloqVerification, name: &str) -> State {
        verification.checks.iter().find(|check| check.name == name).unwrap().state
    }

    #[test]
    fn seven_thousand_b_is_plus_minus_thirty_percent_inclusive() {
        // 7000B 10.2.3
        for (found, verdict) in [
            (0.07, State::Met),
            (0.13, State::Met),
            (0.0699, State::NotMet),
            (0.1301, State::NotMet),
            (-0.1, State::NotMet),
        ] {
            assert_eq!(by(LloqRule::Sw7000b, &numbers(&[found])).verdict, verdict, "{found}");
        }
        // 100 * 0.13 / 0.1 is 130 on paper and a bit more in binary.
        assert_eq!(by(LloqRule::Sw7000b, &[ND]).verdict, State::NotMet);
        assert_eq!(by(LloqRule::Sw7000b, &[]).verdict, State::NotEvaluated);
        assert_eq!(by(LloqRule::Sw7000b, &[Measured::Missing]).verdict, State::NotEvaluated);
    }

    #[test]
    fn six_thousand_ten_d_wants_seven_a_mean_and_a_scatter() {
        // Recoveries 80, 90, 100, 110, 120, 100, 100: mean 100, s = sqrt(1000 / 6) = 12.909944...
        let found = numbers(&[0.08, 0.09, 0.10, 0.11, 0.12, 0.10, 0.10]);
        let met = by(LloqRule::Sw6010d, &found);
        assert_eq!(met.verdict, State::Met);
        approx::assert_relative_eq!(met.rsd.unwrap(), (1000.0f64 / 6.0).sqrt(), max_relative = 1e-13);
        approx::assert_relative_eq!(met.mean_recovery.unwrap(), 100.0, max_relative = 1e-14);
        assert_eq!(state(&by(LloqRule::Sw6010d, &found[..6]), "count"), State::NotMet);
        // Recoveries of 65 % without scatter are inside, 64.9 % are not.
        assert_eq!(by(LloqRule::Sw6010d, &numbers(&[0.065; 7])).verdict, State::Met);
        assert_eq!(state(&by(LloqRule::Sw6010d, &numbers(&[0.0649; 7])), "mean_recovery"), State::NotMet);
        // 100 +- d thrice and 100 once: s^2 = 6 d^2 / 6, so d = 20 gives 20 % exactly, which is not below.
        let wide = |d: f64| numbers(&[1.0 - d, 1.0 - d, 1.0 - d, 1.0, 1.0 + d, 1.0 + d, 1.0 + d].map(|x| 0.1 * x));
        assert_eq!(state(&by(LloqRule::Sw6010d, &wide(0.2)), "rsd"), State::NotMet);
        assert_eq!(by(LloqRule::Sw6010d, &wide(0.1999)).verdict, State::Met);
    }

    #[test]
    fn a_non_detect_is_a_failure_and_a_missing_result_is_not_counted() {
        let mut found = numbers(&[0.1, 0.1, 0.11, 0.09, 0.1, 0.1]);
        found.push(ND);
        let with = by(LloqRule::Sw6010d, &found);
        assert_eq!(
            (with.verdict, state(&with, "detected"), state(&with, "rsd")),
            (State::NotMet, State::NotMet, State::NotEvaluated)
        );
        found.pop();
        found.push(Measured::from(f64::NAN));
        let missing = by(LloqRule::Sw6010d, &found);
        assert_eq!((state(&missing, "count"), state(&missing, "detected")), (State::NotMet, State::Met));
        assert_eq!(missing.recoveries.last(), Some(&None));
    }

    #[test]
    fn eight_thousand_d_widens_the_limits_of_the_control_sample() {
        let rule = LloqRule::Sw8000d { lcs_low: 80.0, lcs_high: 120.0 };
        let at = |spiked: f64, found: f64| {
            let found = [Measured::from(found)];
            let study = LloqStudy { lloq: 0.1, spiked: Some(spiked), found: &found, lowest_standard: Some(0.05) };
            verify(&study, rule).unwrap().verdict
        };
        assert_eq!(at(0.2, 0.12), State::Met);
        assert_eq!(at(0.2, 0.28), State::Met);
        assert_eq!(at(0.2, 0.1199), State::NotMet);
        assert_eq!(at(0.05, 0.05), State::Met);
        assert_eq!(at(0.201, 0.2), State::NotMet);
        assert_eq!(at(0.0499, 0.05), State::NotMet);
    }

    #[test]
    fn an_lloq_below_the_lowest_standard_does_not_hold() {
        let found = numbers(&[0.1]);
        let study = LloqStudy { lloq: 0.1, spiked: None, found: &found, lowest_standard: Some(0.2) };
        assert_eq!(verify(&study, LloqRule::Sw7000b).unwrap().verdict, State::NotMet);
        let unknown = LloqStudy { lowest_standard: None, ..study };
        assert_eq!(verify(&unknown, LloqRule::Sw7000b).unwrap().verdict, State::NotEvaluated);
    }

    #[test]
    fn impossible_input_is_told_at_once() {
        let found = [Measured::Number(f64::INFINITY)];
        let study = LloqStudy { lloq: 0.0, spiked: Some(f64::NAN), found: &found, lowest_standard: Some(-1.0) };
        let error = verify(&study, LloqRule::Sw8000d { lcs_low: 120.0, lcs_high: 80.0 }).unwrap_err();
        assert_eq!(error.total(), 5);
    }

    #[test]
    fn a_recovery_is_never_printed_as_the_limit_it_misses() {
        assert_eq!(figure(129.96, 70.0, 130.0), "129.96 %");
        assert_eq!(figure(130.000_4, 70.0, 130.0), "130.0004 %");
        assert_eq!(figure(130.0, 70.0, 130.0), "130.0 %");
        assert_eq!(figure(99.0, 70.0, 130.0), "99.0 %");
    }
}
