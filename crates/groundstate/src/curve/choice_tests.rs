//! The tests that a candidate shape has to stand, in their fixed order.

use super::Shape;
use super::calibration::Calibration;
use super::choice::{ChoiceRules, ChoiceTest, Ruled, TestOutcome, words};
use super::diagnostics::FTest;
use super::points::Points;
use crate::error::Error;
use crate::finding::{Citation, Code};
use crate::numeric::distribution::student_t;

/// Every test of one candidate.
pub(super) fn of(
    calibration: &Result<Calibration, Error>,
    points: &Points,
    shape: Shape,
    rules: &ChoiceRules,
) -> Vec<ChoiceTest> {
    let mut tests = vec![admitted(shape, rules), standards(points, shape, rules)];
    let fitted = blank("fitted");
    let Ok(calibration) = calibration else {
        tests.push(ChoiceTest { outcome: TestOutcome::Rejected, ..fitted });
        return tests;
    };
    tests.push(ChoiceTest { outcome: TestOutcome::Passed, ..fitted });
    tests.push(rising(calibration));
    if shape.through_zero() {
        tests.push(intercept(calibration, rules.alpha));
    }
    // Of a curve Mandel's test says whether its bend was needed, which is no reason against it.
    let linearity = Citation::unverified("ISO 8466-1", "1990", "linearity");
    let mandel = f_test("mandel", calibration.mandel(), rules.alpha, shape.is_curved());
    tests.push(ChoiceTest { citation: Some(linearity), ..mandel });
    tests.push(f_test("lack_of_fit", calibration.lack_of_fit(), rules.alpha, false));
    tests.extend(coefficient(calibration, shape, rules));
    if let Some(limit) = &rules.percent_error {
        tests.push(percent_error(calibration, limit, rules.percent_error_lowest.as_ref()));
    }
    if let Some((most, citation)) = &rules.relative_standard_error {
        let figure = calibration.relative_standard_error();
        let outcome = figure.map_or(TestOutcome::NotEvaluated, |rse| against(rse <= *most));
        let test = blank("relative_standard_error");
        tests.push(ChoiceTest { figure, limit: Some(*most), outcome, citation: Some(citation.clone()), ..test });
    }
    let figure = calibration.aicc();
    let outcome = if figure.is_some() { TestOutcome::Information } else { TestOutcome::NotEvaluated };
    tests.push(ChoiceTest { figure, outcome, ..blank("aicc") });
    tests
}

/// Why `test` rejects a shape, in words.
pub(super) fn sentence(test: &ChoiceTest, shape: Shape) -> String {
    let (figure, limit) = (test.figure.unwrap_or(f64::NAN), test.limit.unwrap_or(f64::NAN));
    let p = test.p.unwrap_or(f64::NAN);
    match test.name {
        "admitted" => format!("the rules admit straight lines only, no {}", words(shape)),
        "standards" => format!("a {} needs {limit} levels above zero, {figure} are there", words(shape)),
        "rising" => "the curve does not rise throughout its range".to_owned(),
        "intercept" => format!("the intercept differs from zero (t {figure:.3}, p {p:.2e}, alpha {limit})"),
        "mandel" => format!("a quadratic term improves the fit (F {figure:.3}, p {p:.2e}, alpha {limit})"),
        "lack_of_fit" => {
            format!(
                "the standards lie off the curve by more than they scatter (F {figure:.3}, p {p:.2e}, alpha {limit})"
            )
        }
        "correlation" => format!("the correlation coefficient is {figure:.6}, below {limit}"),
        "determination" => format!("the coefficient of determination is {figure:.6}, below {limit}"),
        "percent_error" => format!("the percent error of a level is {figure:.2}, above {limit}"),
        "relative_standard_error" => format!("the relative standard error is {figure:.2} %, above {limit} %"),
        other => format!("rejected by {other}"),
    }
}

fn blank(name: &'static str) -> ChoiceTest {
    ChoiceTest { name, figure: None, p: None, limit: None, outcome: TestOutcome::NotEvaluated, citation: None }
}

const fn against(passes: bool) -> TestOutcome {
    if passes { TestOutcome::Passed } else { TestOutcome::Rejected }
}

fn admitted(shape: Shape, rules: &ChoiceRules) -> ChoiceTest {
    let outcome = against(rules.line_only.is_none() || !shape.is_curved());
    ChoiceTest { outcome, citation: rules.line_only.clone(), ..blank("admitted") }
}

fn standards(points: &Points, shape: Shape, rules: &ChoiceRules) -> ChoiceTest {
    let found = points.levels().into_iter().filter(|x| *x > 0.0).count();
    let (least, citation) = rules.least(shape);
    ChoiceTest {
        figure: Some(found as f64),
        limit: Some(*least as f64),
        outcome: against(found >= *least),
        citation: Some(citation.clone()),
        ..blank("standards")
    }
}

fn rising(calibration: &Calibration) -> ChoiceTest {
    let bad = |code| calibration.findings().iter().any(|finding| finding.code == code);
    let rises = calibration.is_monotonic() && !bad(Code::NotRising) && !bad(Code::TurnsInRange);
    let citation = Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "11.5.3.2");
    ChoiceTest { outcome: against(rises), citation: Some(citation), ..blank("rising") }
}

/// r of an unweighted line with free intercept, r squared of everything else, where a rule asks for it. Through zero
/// r squared is about zero, and near 1 whatever the fit: nothing is accepted on it.
fn coefficient(calibration: &Calibration, shape: Shape, rules: &ChoiceRules) -> Option<ChoiceTest> {
    let plain = shape == Shape::Line && calibration.correlation().is_some();
    let (name, rule, figure) = match &rules.correlation {
        Some(rule) if plain => ("correlation", rule, calibration.correlation()),
        _ => ("determination", rules.determination.as_ref()?, calibration.r_squared().map(|squared| squared.value())),
    };
    let (least, citation) = rule;
    let figure = figure.filter(|_| !shape.through_zero());
    let outcome = figure.map_or(TestOutcome::NotEvaluated, |r| against(r >= least * (1.0 - 1e-12)));
    Some(ChoiceTest { figure, limit: Some(*least), outcome, citation: Some(citation.clone()), ..blank(name) })
}

/// Student's t of the intercept that the same shape has when it is free.
fn intercept(calibration: &Calibration, alpha: f64) -> ChoiceTest {
    let test = ChoiceTest { limit: Some(alpha), ..blank("intercept") };
    let Some((a, se, dof)) = calibration.free_intercept() else { return test };
    let t = a / se;
    if t.is_nan() {
        return test;
    }
    let p = student_t::two_sided(t.abs(), dof);
    ChoiceTest { figure: Some(t), p: Some(p), outcome: against(p >= alpha), ..test }
}

fn f_test(name: &'static str, found: Option<FTest>, alpha: f64, information: bool) -> ChoiceTest {
    let test = ChoiceTest { limit: Some(alpha), ..blank(name) };
    match found {
        None => test,
        Some(found) => {
            let outcome = if information { TestOutcome::Information } else { against(found.p >= alpha) };
            ChoiceTest { figure: Some(found.statistic), p: Some(found.p), outcome, ..test }
        }
    }
}

/// The level whose error stands out most against its limit.
fn percent_error(calibration: &Calibration, limit: &Ruled<f64>, lowest: Option<&Ruled<f64>>) -> ChoiceTest {
    let test = blank("percent_error");
    let errors = calibration.percent_error();
    let x = calibration.points().concentrations();
    let own = |x: f64| if x > calibration.lowest() { limit } else { lowest.unwrap_or(limit) };
    let excess = |error: f64, most: f64| if error.is_nan() { f64::INFINITY } else { error.abs() / most };
    let worst = (x.iter().zip(&errors))
        .filter(|(x, _)| **x > 0.0)
        .map(|(x, error)| (*error, own(*x)))
        .max_by(|a, b| excess(a.0, a.1.0).total_cmp(&excess(b.0, b.1.0)));
    let Some((error, (most, citation))) = worst else { return test };
    ChoiceTest {
        figure: Some(error).filter(|error| !error.is_nan()),
        limit: Some(*most),
        // A point beyond the curve has no percent error: the worst there can be.
        outcome: against(excess(error, *most) <= 1.0 + 1e-12),
        citation: Some(citation.clone()),
        ..test
    }
}
