//! Slopes and intercepts of two calibrations, and bracketing by two standards.

use std::sync::Arc;

use groundstate::addition::{Bracket, BracketStandard, Origin, SeriesOptions, Signal, VarianceModel, compare};
use groundstate::curve::{Calibration, FitOptions, Noise, Points, Readings, Shape, Sigmas, Stock, Zeroing};
use groundstate::estimate::{Coverage, Dof, Status};
use groundstate::finding::{CitationStatus, Code, Origin as Rule};
use groundstate::unit::Unit;

use super::{SILVER, codes, fit, near, signal, silver, textbook};

const EXTERNAL: ([f64; 6], [f64; 6]) = ([0.0, 5.0, 10.0, 20.0, 30.0, 40.0], [0.001, 0.103, 0.199, 0.404, 0.598, 0.803]);

fn calibrated(x: &[f64], y: &[f64], options: &FitOptions) -> Calibration {
    Calibration::fit(&Points::from_readings(x, y).unwrap(), options).unwrap()
}

fn external() -> Calibration {
    calibrated(&EXTERNAL.0, &EXTERNAL.1, &FitOptions::default())
}

fn matched() -> Calibration {
    calibrated(&SILVER.0, &SILVER.1, &FitOptions::default())
}

/// Welch on two independent slopes, by the textbook sums.
#[test]
fn the_slope_ratio_and_its_test() {
    let (m, e) = (textbook(&SILVER.0, &SILVER.1), textbook(&EXTERNAL.0, &EXTERNAL.1));
    let variance = |line: &super::Line| line.s * line.s / line.sxx;
    let (vm, ve) = (variance(&m), variance(&e));
    let ratio = silver().slope_ratio(&external()).unwrap();
    near(ratio.value, m.b / e.b, 1e-13);
    let relative = vm / (m.b * m.b) + ve / (e.b * e.b);
    near(ratio.u, ratio.value * relative.sqrt(), 1e-11);
    let test = ratio.test.unwrap();
    near(test.statistic, (m.b - e.b) / (vm + ve).sqrt(), 1e-10);
    near(test.dof.get(), (vm + ve) * (vm + ve) / (vm * vm / 5.0 + ve * ve / 4.0), 1e-10);
    let (rm, re) = (vm / (m.b * m.b), ve / (e.b * e.b));
    near(ratio.dof.get(), (rm + re) * (rm + re) / (rm * rm / 5.0 + re * re / 4.0), 1e-10);
    near(ratio.percent().0, 100.0 * (m.b / e.b - 1.0), 1e-11);
    // Fieller's quadratic, independent numerator and denominator.
    let k = ratio.dof.coverage_factor(Coverage::P95);
    let (a, b, c) = (e.b * e.b - k * k * ve, -2.0 * m.b * e.b, m.b * m.b - k * k * vm);
    let root = (b * b - 4.0 * a * c).sqrt();
    let (lo, hi) = ratio.interval(Coverage::P95).ends();
    near(lo, (-b - root) / (2.0 * a), 1e-10);
    near(hi, (-b + root) / (2.0 * a), 1e-10);
    // 7 % apart and significant: noted, and no caution of the 20 % rule.
    assert_eq!(codes(&ratio.findings), [Code::SlopeNotSame]);
}

#[test]
fn the_caution_begins_beyond_a_fifth() {
    let x = [0.0, 1.0, 2.0, 3.0, 4.0];
    let scatter = [0.01, -0.01, 0.0, 0.01, -0.01];
    let line = |slope: f64| -> Vec<f64> { x.iter().zip(scatter).map(|(x, e)| 0.5 + slope * (x + e)).collect() };
    let reference = calibrated(&x, &line(1.0), &FitOptions::default());
    for (slope, far) in [(1.2, false), (0.8, false), (1.2001, true), (0.7999, true)] {
        let ratio = fit(&x, &line(slope), &SeriesOptions::default()).slope_ratio(&reference).unwrap();
        near(ratio.value, slope, 1e-12);
        let finding = ratio.findings.iter().find(|finding| finding.code == Code::SlopeRatioFar);
        assert_eq!(finding.is_some(), far, "{slope}");
        if let Some(citation) = finding.and_then(|finding| finding.citation.as_ref()) {
            assert_eq!((citation.status, citation.origin), (CitationStatus::Unverified, Rule::OtherProgramme));
        }
    }
}

/// An external calibration in another unit, and a curve: its slope at zero.
#[test]
fn slopes_are_compared_in_common_units_at_zero() {
    let micro = EXTERNAL.0.map(|x| 1000.0 * x);
    let options = FitOptions { unit: Unit::MicrogramPerLitre, ..FitOptions::default() };
    let [one, two] = [external(), calibrated(&micro, &EXTERNAL.1, &options)].map(|c| silver().slope_ratio(&c).unwrap());
    near(two.value, one.value, 1e-12);
    near(two.u, one.u, 1e-10);
    let bent = EXTERNAL.0.map(|x| 0.02 * x - 5e-5 * x * x + if x > 15.0 { 1e-4 } else { -1e-4 });
    let curve = calibrated(&EXTERNAL.0, &bent, &FitOptions { shape: Shape::Quadratic, ..FitOptions::default() });
    let ratio = silver().slope_ratio(&curve).unwrap();
    near(ratio.value, silver().coefficients()[1] / curve.coefficients()[1], 1e-13);
    let (u, b) = (curve.standard_errors()[1], curve.coefficients()[1]);
    let own = silver().line().standard_errors()[1] / silver().coefficients()[1];
    near(ratio.u, ratio.value * (own * own + u * u / (b * b)).sqrt(), 1e-9);
    let solids =
        calibrated(&EXTERNAL.0, &EXTERNAL.1, &FitOptions { unit: Unit::PercentByMass, ..FitOptions::default() });
    assert!(silver().slope_ratio(&solids).is_err());
}

/// Stray light: the slope at zero is k/(1 + s), its u by the covariance of k and s.
#[test]
fn the_slope_at_zero_of_a_curve_with_stray_light() {
    let x = [5.0, 10.0, 20.0, 40.0, 60.0, 80.0];
    let e = [2e-4, -1e-4, -2e-4, 3e-4, -1e-4, 1e-4];
    let y: [f64; 6] = std::array::from_fn(|i| libm::log10(1.05 / (libm::pow(10.0, -0.02 * x[i]) + 0.05)) + e[i]);
    let zeroing = Zeroing::Autozeroed(0.0);
    let options = FitOptions { shape: Shape::StrayLight, zeroing, ..FitOptions::default() };
    let external = calibrated(&x, &y, &options);
    let (c, v) = (external.coefficients(), external.covariance());
    let (k, s) = (c[0], c[1]);
    let (by_k, by_s) = (1.0 / (1.0 + s), -k / ((1.0 + s) * (1.0 + s)));
    let v = |i, j| v.get(i, j).unwrap();
    let variance = by_k * by_k * v(0, 0) + 2.0 * by_k * by_s * v(0, 1) + by_s * by_s * v(1, 1);
    let (slope, series) = (k / (1.0 + s), silver());
    let ratio = series.slope_ratio(&external).unwrap();
    near(ratio.value, series.coefficients()[1] / slope, 1e-12);
    let own = series.line().standard_errors()[1] / series.coefficients()[1];
    // The derivative is taken by differences, to about 1e-8.
    near(ratio.u, ratio.value * (own * own + variance / (slope * slope)).sqrt(), 1e-6);
}

/// The same stock on both sides cancels; two stocks add up.
#[test]
fn a_common_stock_cancels() {
    let stocks = |name: &str| vec![Stock { name: name.into(), relative_u: 0.02 }];
    let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { stocks: stocks("A"), ..SeriesOptions::default() });
    let with = |name: &str| {
        let options = FitOptions { stocks: stocks(name), ..FitOptions::default() };
        series.slope_ratio(&calibrated(&EXTERNAL.0, &EXTERNAL.1, &options)).unwrap()
    };
    let plain = silver().slope_ratio(&external()).unwrap();
    near(with("A").u, plain.u, 1e-10);
    near(with("B").u, (plain.u * plain.u + 2.0 * (0.02 * plain.value) * (0.02 * plain.value)).sqrt(), 1e-10);
    near(with("A").interval(Coverage::P95).ends().0, plain.interval(Coverage::P95).ends().0, 1e-3);
}

/// Pooled: the square of t is the F of the extra sum of squares, here from two more fits.
#[test]
fn the_pooled_test_is_the_extra_sum_of_squares() {
    let found = compare(&external(), &matched(), VarianceModel::Pooled).unwrap();
    let (m, e) = (textbook(&SILVER.0, &SILVER.1), textbook(&EXTERNAL.0, &EXTERNAL.1));
    let sse = m.s * m.s * 5.0 + e.s * e.s * 4.0;
    // One slope for both, intercepts of their own.
    let common = (m.b * m.sxx + e.b * e.sxx) / (m.sxx + e.sxx);
    let extra = (m.b - common) * (m.b - common) * m.sxx + (e.b - common) * (e.b - common) * e.sxx;
    let test = found.slope.test.unwrap();
    near(test.statistic * test.statistic, extra / (sse / 9.0), 1e-9);
    assert_eq!((test.dof, found.model), (Dof::count(9), VarianceModel::Pooled));
    near(found.slope.value, m.b - e.b, 1e-11);
    let intercept = found.intercept.unwrap();
    let at_zero = |l: &super::Line, mean: f64| 1.0 / l.n + mean * mean / l.sxx;
    near(intercept.value, m.a - e.a, 1e-12);
    near(intercept.u, (sse / 9.0 * (at_zero(&m, 15.0) + at_zero(&e, 17.5))).sqrt(), 1e-11);
    near(found.effect.value, m.b / e.b, 1e-13);
    assert_eq!(found.effect.test, found.slope.test);
    let variances = found.variances.unwrap();
    near(variances.statistic, m.s * m.s / (e.s * e.s), 1e-10);
    assert_eq!((variances.numerator_dof, variances.denominator_dof), (5.0, 4.0));
    assert_eq!(codes(&found.findings), [Code::MatrixSlopeDiffers, Code::MatrixInterceptDiffers]);
}

#[test]
fn welch_keeps_each_variance() {
    let found = compare(&external(), &matched(), VarianceModel::Welch).unwrap();
    let errors = [external(), matched()].map(|c| c.standard_errors());
    for (difference, i) in [(found.intercept.unwrap(), 0), (found.slope, 1)] {
        let (a, b) = (errors[0][i] * errors[0][i], errors[1][i] * errors[1][i]);
        near(difference.u, (a + b).sqrt(), 1e-11);
        near(difference.dof.get(), (a + b) * (a + b) / (a * a / 4.0 + b * b / 5.0), 1e-10);
    }
    // A calibration against itself in other words: no difference.
    let same = compare(&external(), &external(), VarianceModel::Welch).unwrap();
    assert!(same.slope.value.abs() <= 0.0 && same.findings.is_empty());
    near(same.effect.value, 1.0, 1e-15);
}

#[test]
fn known_sigmas_make_it_a_normal_test() {
    let noise = Noise::KnownSigma(Sigmas::new(&[0.005]).unwrap());
    let options = FitOptions { noise, ..FitOptions::default() };
    let (e, m) = (calibrated(&EXTERNAL.0, &EXTERNAL.1, &options), calibrated(&SILVER.0, &SILVER.1, &options));
    let found = compare(&e, &m, VarianceModel::Welch).unwrap();
    assert!(found.slope.dof.is_infinite() && found.variances.is_none());
    let error = compare(&e, &m, VarianceModel::Pooled).unwrap_err();
    assert!(error.to_string().contains("unweighted"), "{error}");
}

#[test]
fn without_scatter_there_is_a_ratio_and_no_test() {
    let two = calibrated(&[0.0, 40.0], &[0.0, 0.8], &FitOptions::default());
    let ratio = silver().slope_ratio(&two).unwrap();
    near(ratio.value, silver().coefficients()[1] / 0.02, 1e-13);
    assert!(ratio.u.is_nan() && ratio.test.is_none() && ratio.dof == Dof::NONE);
    let zero =
        calibrated(&EXTERNAL.0, &EXTERNAL.1, &FitOptions { shape: Shape::LineThroughZero, ..Default::default() });
    assert!(compare(&zero, &matched(), VarianceModel::Welch).unwrap().intercept.is_none());
}

/// The zero of blank-corrected standards moves a line through zero and leaves the slope of a free one.
#[test]
fn the_blank_moves_what_it_can() {
    let zeroing = Zeroing::BlankSubtracted(0.01);
    let (x, y) = (&EXTERNAL.0[1..], &EXTERNAL.1[1..]);
    let u = |shape, zeroing| {
        let fitted = calibrated(x, y, &FitOptions { shape, zeroing, ..FitOptions::default() });
        silver().slope_ratio(&fitted).unwrap().u
    };
    near(u(Shape::Line, zeroing), u(Shape::Line, Zeroing::Raw), 1e-12);
    // Through zero: db = u sum(x)/sum(x²).
    let fitted = calibrated(x, y, &FitOptions { shape: Shape::LineThroughZero, zeroing, ..FitOptions::default() });
    let db = 0.01 * x.iter().sum::<f64>() / x.iter().map(|x| x * x).sum::<f64>();
    let ratio = silver().slope_ratio(&fitted).unwrap();
    let raw = u(Shape::LineThroughZero, Zeroing::Raw);
    let expected = (raw * raw + libm::pow(ratio.value * db / fitted.coefficients()[0], 2.0)).sqrt();
    near(ratio.u, expected, 1e-10);
}

fn bracket(low_u: f64, high_u: f64, stock: Option<Stock>) -> Bracket {
    let low = BracketStandard { concentration: 0.25, u: low_u, signal: signal(0.396, 0.002) };
    let high = BracketStandard { concentration: 0.45, u: high_u, signal: signal(0.599, 0.003) };
    Bracket::new(low, high, stock, Unit::MilligramPerLitre, Origin { run: "run".into(), position: 1 }).unwrap()
}

/// u by differences of the formula, with unequal parts everywhere.
#[test]
fn a_bracketed_sample_has_u_from_signals_and_standards() {
    let formula = |q: [f64; 6]| {
        let [y, x1, y1, x2, y2, stock] = q;
        stock * (x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    };
    let at = [0.444, 0.25, 0.396, 0.45, 0.599, 1.0];
    let u = [0.0015, 0.001, 0.002, 0.0014, 0.003, 0.004];
    let variance: f64 = (0..6)
        .map(|i| {
            let moved = |by: f64| formula(std::array::from_fn(|k| at[k] + if k == i { by * u[k] } else { 0.0 }));
            libm::pow((moved(1e-3) - moved(-1e-3)) / 2e-3, 2.0)
        })
        .sum();
    let stock = Stock { name: "A".into(), relative_u: 0.004 };
    let found = bracket(0.001, 0.0014, Some(stock)).concentration(&signal(0.444, 0.0015), 4).unwrap();
    near(found.estimate().u, variance.sqrt(), 1e-8);
}

#[test]
fn a_sample_outside_its_bracket_says_so() {
    let at = |y: f64| bracket(0.0, 0.0, None).concentration(&signal(y, 0.001), 4).unwrap();
    for (y, status, found) in [
        (0.396, Status::InRange, 0),
        (0.599, Status::InRange, 0),
        (0.395, Status::BelowLowest, 1),
        (0.600, Status::AboveTop, 1),
        (0.100, Status::Negative, 1),
    ] {
        let result = at(y);
        assert_eq!((result.estimate().status, result.findings().len()), (status, found), "{y}");
        assert!(result.estimate().value.is_finite());
    }
    let standard = |x, y| BracketStandard { concentration: x, u: 0.0, signal: signal(y, 0.001) };
    let origin = || Origin { run: "run".into(), position: 1 };
    let make = |low, high| Bracket::new(low, high, None, Unit::MilligramPerLitre, origin());
    let flat = make(standard(0.1, 0.2), standard(0.3, 0.2)).unwrap().concentration(&signal(0.2, 0.001), 2).unwrap();
    assert!(flat.estimate().value.is_nan() && flat.estimate().status == Status::NotCalibrated);
    assert_eq!(codes(flat.findings()), [Code::BracketNotRising]);
    assert!(make(standard(0.3, 0.2), standard(0.3, 0.4)).is_err());
    assert!(make(standard(-0.1, 0.2), standard(0.3, 0.4)).is_err());
    assert!(Signal::new(f64::NAN, 0.1, Dof::INFINITE).is_err() && Signal::new(0.1, 0.1, Dof::NONE).is_err());
}

/// An unaffected matrix: the series finds what the external calibration finds for the same solution.
#[test]
fn without_a_matrix_effect_both_ways_agree() {
    let (slope, native) = (0.02, 12.0);
    let added = [0.0, 6.0, 12.0, 18.0];
    let e = [1e-4, -2e-4, 2e-4, -1e-4];
    let y: Vec<f64> = added.iter().zip(e).map(|(x, e)| slope * (native + x) + e).collect();
    let standards = [0.0, 10.0, 20.0, 30.0];
    let z: Vec<f64> = standards.iter().zip(e).map(|(x, e)| slope * x - e).collect();
    let external = Arc::new(calibrated(&standards, &z, &FitOptions::default()));
    let direct = external.concentration(&Readings::new(&[y[0]])).unwrap().get(0).unwrap();
    let series = fit(&added, &y, &SeriesOptions::default());
    let found = series.estimate();
    let u = (found.u * found.u + direct.u * direct.u).sqrt();
    assert!((found.value - direct.value).abs() < 2.0 * u && u < 0.1);
    let ratio = series.slope_ratio(&external).unwrap();
    assert!(ratio.test.unwrap().p > 0.05 && ratio.findings.is_empty());
}
