//! The choice of shape and noise: each test by its own figures, the ranking, the rules, the findings.
#![allow(missing_docs)]

use approx::assert_relative_eq;
use groundstate::criteria::{Criteria, ProfileName};
use groundstate::curve::{
    Choice, ChoiceRules, Ends, FitOptions, Noise, Points, Shape, Sigmas, StandardsError, TestOutcome, Zero, choose,
};
use groundstate::finding::{Citation, Code, Severity};
use groundstate::numeric::distribution::fisher_f;
use groundstate::numeric::stream::Stream;

fn has(choice: &Choice, code: Code) -> bool {
    choice.findings.iter().any(|finding| finding.code == code)
}

fn standards(x: &[f64], y: &[f64]) -> Points {
    Points::from_readings(x, y).unwrap()
}

const LEVELS: [f64; 7] = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
/// Alternating scatter of 0.3 per mille of the top.
const SCATTER: [f64; 7] = [1.0, -1.0, 0.5, -0.5, 1.0, -1.0, 0.5];

fn signals(bend: f64) -> Vec<f64> {
    LEVELS.iter().zip(SCATTER).map(|(x, e)| 0.11 * x - bend * x * x + 2e-4 * e).collect()
}

#[test]
fn a_line_is_taken_where_nothing_speaks_against_it() {
    let choice = choose(&standards(&LEVELS, &signals(0.0)), &ChoiceRules::default()).unwrap();
    let taken = choice.taken().unwrap();
    assert_eq!((taken.shape, taken.rejected_by), (Shape::Line, None));
    assert!(!has(&choice, Code::CurveInAbsorption) && has(&choice, Code::ChoiceUncertainty));
    assert_eq!(choice.candidates[1].reason, "no test rejects it, but line is simpler");
    let names: Vec<&str> = taken.tests.iter().map(|test| test.name).collect();
    let order = ["admitted", "standards", "fitted", "rising", "mandel", "lack_of_fit", "percent_error", "aicc"];
    assert_eq!(names, order);
    // Single standards have no lack of fit to test, and that is not a pass.
    assert_eq!(taken.test("lack_of_fit").unwrap().outcome, TestOutcome::NotEvaluated);
}

/// Mandel's F from residual sums of squares solved here by plain normal equations on centred levels. 1e-6: those sums
/// cancel where the fit is close.
#[test]
fn a_bend_rejects_the_line_by_mandels_test() {
    let y = signals(0.003);
    let choice = choose(&standards(&LEVELS, &y), &ChoiceRules::default()).unwrap();
    assert_eq!(choice.taken().unwrap().shape, Shape::Quadratic);
    let line = &choice.candidates[1];
    assert_eq!(line.rejected_by, Some("mandel"));
    let (without, with) = (residual_squares(&LEVELS, &y, 1), residual_squares(&LEVELS, &y, 2));
    let statistic = (without - with) / (with / 4.0);
    let test = line.test("mandel").unwrap();
    assert_relative_eq!(test.figure.unwrap(), statistic, max_relative = 1e-6);
    assert_relative_eq!(test.p.unwrap(), fisher_f::sf(statistic, 1.0, 4.0), max_relative = 1e-5);
    assert!(line.reason.starts_with("a quadratic term improves the fit (F "), "{}", line.reason);
    let caution = choice.findings.iter().find(|finding| finding.code == Code::CurveInAbsorption).unwrap();
    assert!(caution.severity == Severity::Caution && caution.citation.as_ref().unwrap().document.contains("FAQ"));
}

/// Least squares of a polynomial by Gaussian elimination; the sum of squared residuals.
#[allow(clippy::needless_range_loop)] // elimination reads best by its indices
fn residual_squares(x: &[f64], y: &[f64], degree: usize) -> f64 {
    let mean = x.iter().sum::<f64>() / x.len() as f64;
    let power = |x: f64, k: usize| (0..k).fold(1.0, |p, _| p * (x - mean));
    let size = degree + 1;
    let mut a = vec![vec![0.0; size + 1]; size];
    for (x, y) in x.iter().zip(y) {
        for i in 0..size {
            (0..size).for_each(|j| a[i][j] += power(*x, i + j));
            a[i][size] += power(*x, i) * y;
        }
    }
    for i in 0..size {
        for j in i + 1..size {
            let factor = a[j][i] / a[i][i];
            (i..=size).for_each(|k| a[j][k] -= factor * a[i][k]);
        }
    }
    let mut beta = vec![0.0; size];
    for i in (0..size).rev() {
        beta[i] = (a[i][size] - (i + 1..size).map(|j| a[i][j] * beta[j]).sum::<f64>()) / a[i][i];
    }
    let fitted = |x: f64| (0..size).map(|k| beta[k] * power(x, k)).sum::<f64>();
    x.iter().zip(y).map(|(x, y)| (y - fitted(*x)) * (y - fitted(*x))).sum()
}

#[test]
fn rules_that_admit_lines_only_leave_the_bend_unmet() {
    let method = Citation::transcribed("EPA SW-846 Method 7000B", "Revision 2, 2007", "");
    let rules = ChoiceRules { line_only: Some(method.clone()), ..ChoiceRules::default() };
    let choice = choose(&standards(&LEVELS, &signals(0.003)), &rules).unwrap();
    assert!(choice.taken().is_none() && has(&choice, Code::NoShapeAdequate) && has(&choice, Code::LineOnly));
    let curve = choice.candidates.iter().find(|candidate| candidate.shape == Shape::Quadratic).unwrap();
    assert_eq!(curve.rejected_by, Some("admitted"));
    assert_eq!(curve.test("admitted").unwrap().citation, Some(method));
    // It is fitted and tested all the same: a reader sees what was forgone.
    assert!(curve.calibration.is_ok() && curve.test("percent_error").is_some());
}

#[test]
fn a_curve_needs_six_levels() {
    let five = choose(&standards(&LEVELS[..5], &signals(0.003)[..5]), &ChoiceRules::default()).unwrap();
    let curve = five.candidates.iter().find(|candidate| candidate.shape == Shape::Quadratic).unwrap();
    assert_eq!(curve.rejected_by, Some("standards"));
    assert!(has(&five, Code::TooFewForCurve));
    // The zero level is none of them.
    let x = [[0.0].as_slice(), &LEVELS[..5]].concat();
    let y = [[1e-4].as_slice(), &signals(0.003)[..5]].concat();
    let with_zero = choose(&standards(&x, &y), &ChoiceRules::default()).unwrap();
    assert!(has(&with_zero, Code::TooFewForCurve));
    let six = choose(&standards(&LEVELS[..6], &signals(0.003)[..6]), &ChoiceRules::default()).unwrap();
    assert!(!has(&six, Code::TooFewForCurve));
}

/// Ends come off only when asked, never from inside; the shorter line is preferred to the longer curve.
#[test]
fn ends_may_go_when_asked_and_it_moves_the_limits() {
    let mut y = signals(1e-4);
    // Only the two top levels bend beyond what the scatter hides: Mandel's p is 0.0059 with the top level, 0.078 without.
    y[5] -= 0.001;
    y[6] -= 0.003;
    let points = standards(&LEVELS, &y);
    let keep = choose(&points, &ChoiceRules::default()).unwrap();
    assert!(keep.candidates.iter().all(|candidate| candidate.dropped.iter().all(Vec::is_empty)));
    let rules = ChoiceRules { ends: Ends::MayDrop { low: 1, top: 1 }, ..ChoiceRules::default() };
    let choice = choose(&points, &rules).unwrap();
    assert_eq!(choice.candidates.len(), 8);
    let taken = choice.taken().unwrap();
    assert_eq!((taken.shape, &taken.dropped), (Shape::Line, &[vec![], vec![6.0]]));
    let finding = choice.findings.iter().find(|finding| finding.code == Code::EndLevelDropped).unwrap();
    assert!(
        finding.sentence().contains("the levels 6 mg/L at the top were left out, which moves the upper limit to 5")
    );
    for candidate in &choice.candidates {
        let kept = candidate.calibration.as_ref().unwrap().points().levels();
        let from = LEVELS.iter().position(|x| x.to_bits() == kept[0].to_bits()).unwrap();
        assert_eq!(kept, LEVELS[from..from + kept.len()], "an interior level is gone");
    }
}

#[test]
fn a_low_standard_that_is_off_rejects_equal_scatter_by_percent_error() {
    // rules/03, 3.5: an unweighted line is 16 % off at the lowest level, a weighted one 0.2 %.
    let x = [0.05, 0.1, 0.5, 1.0, 2.0];
    let y = [0.0062, 0.0118, 0.0570, 0.1130, 0.2190];
    let cite = Citation::laboratory;
    let rules = ChoiceRules {
        noises: vec![Noise::Equal, Noise::InverseX, Noise::InverseX2],
        percent_error: Some((10.0, cite())),
        percent_error_lowest: None,
        relative_standard_error: Some((20.0, cite())),
        shapes: vec![Shape::Line],
        ..ChoiceRules::default()
    };
    let choice = choose(&standards(&x, &y), &rules).unwrap();
    assert_eq!(choice.taken().unwrap().noise, Noise::InverseX);
    let equal = choice.candidates.iter().find(|candidate| candidate.noise == Noise::Equal).unwrap();
    assert_eq!(equal.rejected_by, Some("percent_error"));
    let test = equal.test("percent_error").unwrap();
    // Printed to three decimals there.
    assert!((test.figure.unwrap() + 16.424).abs() < 5e-4);
    assert!((equal.test("relative_standard_error").unwrap().figure.unwrap() - 10.392).abs() < 5e-4);
    // A limit is met at its edge.
    let edge = ChoiceRules { percent_error: Some((-test.figure.unwrap(), cite())), ..rules };
    assert_eq!(choose(&standards(&x, &y), &edge).unwrap().taken().unwrap().noise, Noise::Equal);
}

#[test]
fn an_intercept_speaks_against_a_shape_through_zero() {
    let raised: Vec<f64> = signals(0.0).iter().map(|y| y + 0.01).collect();
    let rules = ChoiceRules { shapes: vec![Shape::LineThroughZero, Shape::Line], ..ChoiceRules::default() };
    let choice = choose(&standards(&LEVELS, &raised), &rules).unwrap();
    assert_eq!(choice.taken().unwrap().shape, Shape::Line);
    let through = choice.candidates.iter().find(|candidate| candidate.shape == Shape::LineThroughZero).unwrap();
    assert_eq!(through.rejected_by, Some("intercept"));
    // t is the free line's intercept over its standard error.
    let line = choice.taken().unwrap().calibration.as_ref().unwrap();
    let t = line.coefficients()[0] / line.standard_errors()[0];
    assert_relative_eq!(through.test("intercept").unwrap().figure.unwrap(), t, max_relative = 1e-12);
    let centred = choose(&standards(&LEVELS, &signals(0.0)), &rules).unwrap();
    assert_eq!(centred.taken().unwrap().shape, Shape::LineThroughZero);
}

#[test]
fn duplicate_standards_have_a_lack_of_fit() {
    // A kink that a parabola does not follow either; two poured standards a level.
    let levels: Vec<f64> = LEVELS.iter().flat_map(|x| [*x, *x]).collect();
    let kink = |x: f64| if (x - 3.0).abs() < 0.1 { 0.02 } else { 0.0 };
    let mut side = -1.0;
    let readings: Vec<[f64; 1]> = levels
        .iter()
        .map(|x| {
            side = -side;
            [0.11 * x + kink(*x) + 2e-4 * side]
        })
        .collect();
    let points = Points::from_standards(&levels, &readings).unwrap();
    let choice = choose(&points, &ChoiceRules::default()).unwrap();
    assert!(choice.taken().is_none());
    assert!(choice.candidates.iter().all(|candidate| candidate.rejected_by == Some("lack_of_fit")));
}

#[test]
fn readings_are_averaged_and_their_scatter_suggests_the_noise() {
    let mut stream = Stream::new(3, 0);
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for level in LEVELS {
        for _ in 0..8 {
            x.push(level);
            y.push(0.11 * level * (1.0 + 0.01 * stream.normal()));
        }
    }
    let noises = vec![Noise::Equal, Noise::InverseX2];
    let choice = choose(&standards(&x, &y), &ChoiceRules { noises, ..ChoiceRules::default() }).unwrap();
    assert!(has(&choice, Code::ChoiceOverStandards));
    let suggestion = choice.noise.as_ref().unwrap();
    assert_eq!(suggestion.noise, Some(Noise::InverseX2));
    assert_eq!(choice.taken().unwrap().noise, Noise::InverseX2, "the suggested model goes first");
    assert_eq!(choice.taken().unwrap().calibration.as_ref().unwrap().points().len(), 7);
    let only_equal = choose(&standards(&x, &y), &ChoiceRules::default()).unwrap();
    let finding = only_equal.findings.iter().find(|finding| finding.code == Code::NoiseSuggested).unwrap();
    assert_eq!(finding.severity, Severity::Caution, "another model is in use");
    let sigmas = Noise::KnownSigma(Sigmas::new(&vec![0.001; x.len()]).unwrap());
    let each = ChoiceRules { noises: vec![sigmas], ..ChoiceRules::default() };
    assert!(choose(&standards(&x, &y), &each).is_err());
}

#[test]
fn what_cannot_be_fitted_is_listed_with_its_reason() {
    let x = [[0.0].as_slice(), &LEVELS].concat();
    let y = [[1e-4].as_slice(), &signals(0.0)].concat();
    let noises = vec![Noise::InverseX, Noise::Equal];
    let rules = ChoiceRules { noises, shapes: vec![Shape::Line], ..ChoiceRules::default() };
    let choice = choose(&standards(&x, &y), &rules).unwrap();
    assert_eq!(choice.taken().unwrap().noise, Noise::Equal);
    let weighted = &choice.candidates[1];
    assert_eq!(weighted.rejected_by, Some("fitted"));
    assert!(weighted.reason.contains("weight_at_zero"), "{}", weighted.reason);
    let fit = FitOptions { zero: Zero::LeaveOut, ..FitOptions::default() };
    let left_out = choose(&standards(&x, &y), &ChoiceRules { fit, ..rules }).unwrap();
    assert_eq!(left_out.taken().unwrap().noise, Noise::InverseX);
    // A falling response is no calibration, whatever fits it.
    let falling: Vec<f64> = signals(0.0).iter().map(|y| -y).collect();
    let none = choose(&standards(&LEVELS, &falling), &ChoiceRules::default()).unwrap();
    assert!(none.taken().is_none() && none.candidates.iter().all(|c| c.rejected_by == Some("rising")));
}

#[test]
fn rules_that_cannot_be_are_refused_all_at_once() {
    let rules = ChoiceRules { shapes: vec![], noises: vec![], alpha: 0.0, ..ChoiceRules::default() };
    let error = choose(&standards(&LEVELS, &signals(0.0)), &rules).unwrap_err();
    assert_eq!(error.problems().len(), 3);
}

/// A true line is given up for a curve about as often as alpha says: 2000 draws at 0.05, four standard errors 0.0195.
#[test]
fn a_true_line_is_rejected_as_often_as_alpha_says() {
    let mut stream = Stream::new(99, 0);
    let rules = ChoiceRules { alpha: 0.05, percent_error: None, percent_error_lowest: None, ..ChoiceRules::default() };
    let mut rejected = 0;
    for _ in 0..2000 {
        let y: Vec<f64> = LEVELS.iter().map(|x| 0.11 * x + 0.002 * stream.normal()).collect();
        let choice = choose(&standards(&LEVELS, &y), &rules).unwrap();
        rejected += u32::from(choice.taken().is_none_or(|taken| taken.shape != Shape::Line));
    }
    assert!((f64::from(rejected) / 2000.0 - 0.05).abs() < 0.0195, "{rejected}");
}

/// 7000B 10.1.1 and 10.2: three levels, a line, r of 0.995 and more. A criterion that is set goes before the usual one.
#[test]
fn criteria_of_a_profile_rule_the_choice() {
    let limits = Criteria::profile(ProfileName::Sw846Method7000B).calibration();
    let rules = limits.choice(ChoiceRules::default());
    assert_eq!((rules.least_for_line.0, rules.least_for_curve.0), (3, 6));
    let choice = choose(&standards(&LEVELS, &signals(1e-3)), &rules).unwrap();
    assert!(choice.taken().is_none() && has(&choice, Code::LineOnly));
    let straight = choose(&standards(&LEVELS, &signals(0.0)), &rules).unwrap();
    let test = straight.taken().unwrap().test("correlation").unwrap();
    assert_eq!((test.outcome, test.limit), (TestOutcome::Passed, Some(0.995)));
    assert_eq!(test.citation.as_ref().map(|citation| citation.clause.as_ref()), Some("10.2"));
    // The general profile asks nothing of its own, so nothing changes.
    let usual = Criteria::default().calibration().choice(ChoiceRules::default());
    assert_eq!(usual, ChoiceRules::default());
    // More standards than a curve usually needs are asked of it, too; a limit of all levels holds for the lowest.
    let mut strict = Criteria::default();
    strict.set("calibration", "minimum_standards", 8.0.into()).unwrap();
    strict.set("calibration", "percent_error", 10.0.into()).unwrap();
    let rules = strict.calibration().choice(ChoiceRules::default());
    assert_eq!((rules.least_for_line.0, rules.least_for_curve.0), (8, 8));
    assert_eq!((rules.percent_error.map(|(most, _)| most), rules.percent_error_lowest), (Some(10.0), None));
}

#[test]
fn errors_of_standards_need_points_that_are_standards() {
    let fit =
        FitOptions { standards_error: StandardsError::independent(&[0.001; 14]).unwrap(), ..FitOptions::default() };
    let noises = vec![Noise::KnownSigma(Sigmas::new(&[1e-3]).unwrap())];
    let (x, y) = (LEVELS.repeat(2), signals(0.0).repeat(2));
    let error = choose(&standards(&x, &y), &ChoiceRules { fit, noises, ..ChoiceRules::default() }).unwrap_err();
    assert!(error.to_string().contains("errors of the standards go with standards"), "{error}");
}

#[test]
fn nothing_is_accepted_on_r_squared_about_zero() {
    let determination = Some((0.99, Citation::laboratory()));
    let rules = ChoiceRules {
        shapes: vec![Shape::Line, Shape::LineThroughZero],
        noises: vec![Noise::InverseX],
        determination,
        ..ChoiceRules::default()
    };
    let choice = choose(&standards(&LEVELS, &signals(0.0)), &rules).unwrap();
    let outcome = |shape| {
        let candidate = choice.candidates.iter().find(|candidate| candidate.shape == shape).unwrap();
        candidate.test("determination").map(|test| (test.outcome, test.figure.is_some()))
    };
    assert_eq!(outcome(Shape::Line), Some((TestOutcome::Passed, true)));
    assert_eq!(outcome(Shape::LineThroughZero), Some((TestOutcome::NotEvaluated, false)));
}
