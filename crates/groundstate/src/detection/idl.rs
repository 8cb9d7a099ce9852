//! The instrument detection limit, by three recipes that share a name and little else.
//!
//! All three describe the noise of an instrument reading blanks. None has sample preparation in it, none is an MDL, and none
//! is used to set a limit of quantitation. The recipe is kept with the figure: for the same readings they differ by a factor
//! of three.

use std::collections::BTreeSet;

use super::check::{self, LimitCheck, State};
use super::moments::Moments;
use super::{Date, LimitDefinition};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};

/// Readings of a blank on one day, in concentration.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct IdlDay {
    /// The day.
    pub date: Option<Date>,
    /// Consecutive readings; NaN is missing.
    pub readings: Vec<f64>,
}

/// An instrument detection limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Idl {
    /// The limit in the unit of the readings; `None` when a standard deviation could not be had.
    pub value: Option<f64>,
    /// The recipe.
    pub definition: LimitDefinition,
    /// Standard deviations it was made of, one for each day.
    pub standard_deviations: Vec<f64>,
    /// The mean that entered it: 0 when negative. Only in the recipe of 6010D.
    pub mean_used: Option<f64>,
    /// Every requirement with its state.
    pub checks: Vec<LimitCheck>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// By 7000B, 9.3: the *average* of the standard deviations of seven consecutive readings on each of three days that do not
/// follow one another. No factor of three stands in that text. To be repeated every three months.
///
/// # Errors
/// For infinite readings.
///
/// ```
/// use groundstate::detection::idl::{IdlDay, idl_7000b};
/// let day = |date: &str, s: f64| Ok::<_, groundstate::Error>(IdlDay {
///     date: Some(date.parse()?), readings: vec![-s, -s, -s, 0.0, s, s, s],
/// });
/// let idl = idl_7000b(&[day("2025-03-03", 0.001)?, day("2025-03-05", 0.002)?, day("2025-03-07", 0.003)?])?;
/// assert!(idl.value.is_some_and(|value| (value - 0.002).abs() < 1e-15));
/// assert!(idl.findings.is_empty());
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn idl_7000b(days: &[IdlDay]) -> Result<Idl, Error> {
    let mut problems = Vec::new();
    for (row, day) in (1u64..).zip(days) {
        if day.readings.iter().any(|x| x.is_infinite()) {
            problems.push(Problem::new(Place::cell(row, "readings"), "a reading is infinite"));
        }
    }
    Error::unless_empty(Kind::Argument, problems, ())?;
    let mut findings = Vec::new();
    let mut deviations = Vec::new();
    let mut lacking = false;
    for day in days {
        let numbers = numbers(&day.readings, &mut findings);
        match Moments::of("readings", &numbers)?.and_then(|moments| moments.s) {
            Some(s) => deviations.push(s),
            None => lacking = true,
        }
    }
    let average = deviations.iter().sum::<f64>() / deviations.len() as f64;
    let value = (!deviations.is_empty() && !lacking).then_some(average);
    let checks = vec![days_apart(days), seven_a_day(days), enough_days(days.len())];
    Ok(finished(LimitDefinition::Idl7000b, value, deviations, None, checks, findings))
}

/// By 6010D, 9.3, and SW-846 Chapter Three: the mean of ten blank readings, taken as 0 when negative, plus three standard
/// deviations.
///
/// # Errors
/// For infinite readings.
pub fn idl_6010d(readings: &[f64]) -> Result<Idl, Error> {
    let (numbers, findings) = one_set(readings)?;
    let moments = Moments::of("readings", &numbers)?;
    let used = moments.map(|moments| if moments.mean > 0.0 { moments.mean } else { 0.0 });
    let s = moments.and_then(|moments| moments.s);
    let value = used.zip(s).map(|(mean, s)| mean + 3.0 * s);
    let definition = LimitDefinition::Idl6010d;
    let check = LimitCheck {
        name: "count",
        title: "blank readings",
        required: "at least 10".into(),
        found: numbers.len().to_string(),
        state: met(numbers.len() >= 10),
        citation: definition.citation(),
    };
    Ok(finished(definition, value, s.into_iter().collect(), used, vec![check], findings))
}

/// By the methods of the 200 series: three standard deviations of replicate blank readings. From memory; how many readings, the
/// text has to tell.
///
/// # Errors
/// For infinite readings.
pub fn idl_200(readings: &[f64]) -> Result<Idl, Error> {
    let (numbers, findings) = one_set(readings)?;
    let s = Moments::of("readings", &numbers)?.and_then(|moments| moments.s);
    let value = s.map(|s| 3.0 * s);
    Ok(finished(LimitDefinition::Idl200, value, s.into_iter().collect(), None, Vec::new(), findings))
}

fn met(yes: bool) -> State {
    if yes { State::Met } else { State::NotMet }
}

fn one_set(readings: &[f64]) -> Result<(Vec<f64>, Vec<Finding>), Error> {
    if readings.iter().any(|x| x.is_infinite()) {
        return Err(Error::argument("readings", "a reading is infinite"));
    }
    let mut findings = Vec::new();
    let numbers = numbers(readings, &mut findings);
    Ok((numbers, findings))
}

/// The readings that are there, ascending.
fn numbers(readings: &[f64], findings: &mut Vec<Finding>) -> Vec<f64> {
    let mut numbers: Vec<f64> = readings.iter().copied().filter(|x| !x.is_nan()).collect();
    let missing = readings.len() - numbers.len();
    if missing > 0 {
        let finding = Finding::new(Code::LimitMissingRemoved, Subject::Run);
        findings.push(finding.with("count", missing).with("what", "readings"));
    }
    numbers.sort_unstable_by(f64::total_cmp);
    numbers
}

fn finished(
    definition: LimitDefinition,
    value: Option<f64>,
    standard_deviations: Vec<f64>,
    mean_used: Option<f64>,
    checks: Vec<LimitCheck>,
    mut findings: Vec<Finding>,
) -> Idl {
    findings.extend(check::findings(&checks));
    if value.is_none() {
        findings.push(Finding::new(Code::IdlNotComputed, Subject::Run).citing(definition.citation()));
    }
    let flat = standard_deviations.iter().filter(|s| **s <= 0.0).count();
    if flat > 0 {
        findings.push(
            Finding::new(Code::LimitNoScatter, Subject::Run).with("what", "series of readings").with("count", flat),
        );
    }
    Idl { value, definition, standard_deviations, mean_used, checks, findings }
}

fn enough_days(days: usize) -> LimitCheck {
    LimitCheck {
        name: "days",
        title: "days",
        required: "3".into(),
        found: days.to_string(),
        state: met(days >= 3),
        citation: LimitDefinition::Idl7000b.citation(),
    }
}

fn seven_a_day(days: &[IdlDay]) -> LimitCheck {
    let counts: Vec<usize> =
        days.iter().map(|day| day.readings.iter().filter(|reading| !reading.is_nan()).count()).collect();
    LimitCheck {
        name: "readings",
        title: "readings a day",
        required: "7".into(),
        found: counts.iter().map(usize::to_string).collect::<Vec<_>>().join(", "),
        state: met(!counts.is_empty() && counts.iter().all(|count| *count >= 7)),
        citation: LimitDefinition::Idl7000b.citation(),
    }
}

fn days_apart(days: &[IdlDay]) -> LimitCheck {
    let dates: BTreeSet<Date> = days.iter().filter_map(|day| day.date).collect();
    let dated = days.iter().filter(|day| day.date.is_some()).count();
    let apart = dates.iter().zip(dates.iter().skip(1)).all(|(one, next)| one.days_until(*next) >= 2);
    let (found, state) = if !apart || dates.len() < dated {
        ("days that follow one another or are the same".to_owned(), State::NotMet)
    } else if dated < days.len() || days.is_empty() {
        ("dates not given".to_owned(), State::NotEvaluated)
    } else {
        ("days apart".to_owned(), State::Met)
    };
    LimitCheck {
        name: "days_apart",
        title: "dates",
        required: "days that do not follow one another".into(),
        found,
        state,
        citation: LimitDefinition::Idl7000b.citation(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seven readings about `mean` whose standard deviation is `s`: six deviations of s, six degrees of freedom.
    fn seven(mean: f64, s: f64) -> Vec<f64> {
        [-1.0, -1.0, -1.0, 0.0, 1.0, 1.0, 1.0].map(|z| mean + z * s).into()
    }

    fn day(date: &str, s: f64) -> IdlDay {
        IdlDay { date: (!date.is_empty()).then(|| date.parse().unwrap()), readings: seven(0.01, s) }
    }

    fn state(idl: &Idl, name: &str) -> State {
        idl.checks.iter().find(|check| check.name == name).unwrap().state
    }

    #[test]
    fn seven_thousand_b_averages_without_a_factor() {
        let days = [day("2025-03-03", 0.001), day("2025-03-05", 0.002), day("2025-03-10", 0.006)];
        let idl = idl_7000b(&days).unwrap();
        // Offsets of 0.01 cost the last few of sixteen figures of s.
        approx::assert_relative_eq!(idl.value.unwrap(), 0.003, max_relative = 1e-13);
        assert_eq!(idl.definition.name(), "idl_7000b");
        assert!(idl.findings.is_empty());
    }

    #[test]
    fn the_recipes_differ_for_the_same_readings() {
        let readings = seven(0.01, 0.001);
        let day = |date: &str| IdlDay { date: Some(date.parse().unwrap()), readings: readings.clone() };
        let average = idl_7000b(&[day("2025-03-03"), day("2025-03-05"), day("2025-03-07")]).unwrap();
        approx::assert_relative_eq!(average.value.unwrap(), 0.001, max_relative = 1e-13);
        approx::assert_relative_eq!(idl_200(&readings).unwrap().value.unwrap(), 0.003, max_relative = 1e-13);
        approx::assert_relative_eq!(idl_6010d(&readings).unwrap().value.unwrap(), 0.013, max_relative = 1e-13);
    }

    #[test]
    fn a_negative_mean_counts_as_zero_in_6010d() {
        let idl = idl_6010d(&seven(-0.01, 0.001)).unwrap();
        approx::assert_relative_eq!(idl.value.unwrap(), 0.003, max_relative = 1e-13);
        assert_eq!(idl.mean_used.map(f64::to_bits), Some(0.0f64.to_bits()));
        assert_eq!(state(&idl, "count"), State::NotMet);
        let mut ten = seven(0.0, 0.001);
        ten.extend([0.0, 0.001]);
        assert_eq!(state(&idl_6010d(&ten).unwrap(), "count"), State::NotMet);
        ten.push(-0.001);
        assert_eq!(state(&idl_6010d(&ten).unwrap(), "count"), State::Met);
    }

    #[test]
    fn days_have_to_lie_apart() {
        let apart = |dates: [&str; 3]| state(&idl_7000b(&dates.map(|date| day(date, 0.001))).unwrap(), "days_apart");
        assert_eq!(apart(["2025-03-03", "2025-03-05", "2025-03-07"]), State::Met);
        assert_eq!(apart(["2025-03-07", "2025-03-03", "2025-03-05"]), State::Met);
        assert_eq!(apart(["2025-03-03", "2025-03-04", "2025-03-07"]), State::NotMet);
        assert_eq!(apart(["2025-03-03", "2025-03-03", "2025-03-07"]), State::NotMet);
        assert_eq!(apart(["2025-03-03", "", "2025-03-07"]), State::NotEvaluated);
        assert_eq!(apart(["2025-02-28", "2025-03-01", ""]), State::NotMet);
    }

    #[test]
    fn what_cannot_be_computed_says_so() {
        for idl in [idl_7000b(&[]), idl_6010d(&[]), idl_6010d(&[0.1]), idl_200(&[f64::NAN, 0.1])] {
            let idl = idl.unwrap();
            assert_eq!(idl.value, None);
            assert!(idl.findings.iter().any(|finding| finding.code == Code::IdlNotComputed));
        }
        let short = IdlDay { date: None, readings: vec![0.1, f64::NAN] };
        let idl = idl_7000b(&[day("2025-03-03", 0.001), day("2025-03-05", 0.001), short]).unwrap();
        assert_eq!((idl.value, state(&idl, "readings")), (None, State::NotMet));
        assert!(idl.findings.iter().any(|finding| finding.code == Code::LimitMissingRemoved));
        assert!(idl_200(&[f64::INFINITY]).is_err());
        assert!(idl_7000b(&[IdlDay { date: None, readings: vec![f64::NEG_INFINITY] }]).is_err());
        let flat = idl_200(&[0.1; 10]).unwrap();
        assert!(flat.findings.iter().any(|finding| finding.code == Code::LimitNoScatter));
    }
}
