//! The curve with stray light: against an independent fit, by its laws, at its edges, in simulation.
#![allow(missing_docs)]

use std::sync::Arc;

use approx::assert_relative_eq;
use groundstate::curve::{
    Calibration, ChoiceRules, FitOptions, Noise, OnBadCurve, Points, Readings, Shape, Sigmas, SquaredCorrelation,
    StandardsError, Stock, Zeroing, choose,
};
use groundstate::detection::{LimitMethod, LimitOptions, critical_value, detection_limit, quantitation_limit};
use groundstate::estimate::{Coverage, End, IntervalMethod, IntervalSet, Status};
use groundstate::finding::Code;
use groundstate::numeric::stream::Stream;
use serde_json::Value;

const REFERENCE: &str = include_str!("../../../tests/reference/stray_light.json");

fn options(noise: Noise) -> FitOptions {
    let zeroing = Zeroing::Autozeroed(0.0);
    FitOptions { shape: Shape::StrayLight, noise, zeroing, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() }
}

fn fit(x: &[f64], y: &[f64], noise: Noise) -> Arc<Calibration> {
    Arc::new(Calibration::fit(&Points::from_readings(x, y).unwrap(), &options(noise)).unwrap())
}

fn signal(k: f64, s: f64, x: f64) -> f64 {
    libm::log10((1.0 + s) / (libm::pow(10.0, -k * x) + s))
}

fn has(calibration: &Calibration, code: Code) -> bool {
    calibration.findings().iter().any(|finding| finding.code == code)
}

/// tests/generators/stray_light.py: Newton's method in 60 digits. Parameters of noisy data are good to about the
/// rounding of the signals over their own share in them: 1e-11 for s, which a bend of a tenth determines.
#[test]
fn agrees_with_an_independent_fit() {
    let file: Value = serde_json::from_str(REFERENCE).unwrap();
    let sets = file["sets"].as_array().unwrap();
    assert_eq!(sets.len(), 3);
    for set in sets {
        let numbers =
            |key: &str| -> Vec<f64> { set[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect() };
        let parsed = |v: &Value| -> f64 { v.as_str().unwrap().parse().unwrap() };
        let figure = |key: &str| parsed(&set[key]);
        let calibration = fit(&numbers("x"), &numbers("y"), Noise::parse(set["noise"].as_str().unwrap()).unwrap());
        assert!(calibration.termination().unwrap().converged);
        let [k, s] = calibration.coefficients()[..] else { panic!("two parameters") };
        assert_relative_eq!(k, figure("k"), max_relative = 1e-12);
        assert_relative_eq!(s, figure("s"), max_relative = 1e-11);
        assert_relative_eq!(calibration.sum_of_squares(), figure("sum_of_squares"), max_relative = 1e-10);
        for (found, expected) in calibration.standard_errors().iter().zip(set["standard_errors"].as_array().unwrap()) {
            assert_relative_eq!(*found, parsed(expected), max_relative = 1e-9);
        }
        let covariance = calibration.covariance();
        assert_relative_eq!(covariance.get(0, 1).unwrap(), figure("covariance"), max_relative = 1e-9);
        let characteristic = calibration.characteristic_concentration().unwrap();
        assert_relative_eq!(characteristic, figure("characteristic_concentration"), max_relative = 1e-11);
        assert_relative_eq!(calibration.ceiling().unwrap(), figure("plateau"), max_relative = 1e-11);
        let reading = Readings::new(&[set["sample"].as_f64().unwrap()]);
        let found = calibration.concentration(&reading).unwrap();
        assert_relative_eq!(found.values()[0], figure("concentration"), max_relative = 1e-11);
        assert_relative_eq!(found.standard_uncertainties()[0], figure("u"), max_relative = 1e-9);
        // Contributions give the same u back.
        assert_relative_eq!(found.estimates().unwrap().contributions().u(0), figure("u"), max_relative = 1e-9);
    }
}

/// Exact signals give the parameters back, from bends hardly seen to bends of half the absorbance.
#[test]
fn synthetic_curves_are_recovered() {
    for (k, top) in [(0.12, 6.0), (300.0, 0.004), (1e-3, 900.0)] {
        for s in [1e-3, 0.02, 0.1, 0.4, 0.8] {
            let x: Vec<f64> = (1..=8).map(|i| top * f64::from(i) / 8.0).collect();
            let y: Vec<f64> = x.iter().map(|x| signal(k, s, *x)).collect();
            let calibration = fit(&x, &y, Noise::Equal);
            assert!(calibration.termination().unwrap().converged && calibration.serves());
            let found = calibration.coefficients();
            assert_relative_eq!(found[0], k, max_relative = 1e-12);
            // The bend that tells s is s times the absorbance: its rounding is the rounding of that over s.
            assert_relative_eq!(found[1], s, max_relative = 1e-14 / s + 1e-12);
        }
    }
}

/// Where the standards show no bend the curve is the line through zero, and says that it stands at its bound.
#[test]
fn without_a_bend_it_is_the_line_through_zero() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    // Bent upwards: no stray light can do that.
    let y = [0.0549, 0.1098, 0.2203, 0.3311, 0.4423, 0.5537];
    let curve = fit(&x, &y, Noise::Equal);
    assert!(has(&curve, Code::StrayLightAtBound) && curve.termination().unwrap().converged);
    let line_options = FitOptions { shape: Shape::LineThroughZero, ..FitOptions::default() };
    let line = Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &line_options).unwrap();
    assert!(curve.coefficients()[1].abs() <= 0.0);
    assert_relative_eq!(curve.coefficients()[0], line.coefficients()[0], max_relative = 1e-13);
    assert_relative_eq!(curve.sum_of_squares(), line.sum_of_squares(), max_relative = 1e-9);
    let reading = Readings::new(&[0.25]);
    let found = curve.concentration(&reading).unwrap();
    assert_relative_eq!(
        found.values()[0],
        Arc::new(line).concentration(&reading).unwrap().values()[0],
        max_relative = 1e-13
    );
    assert_eq!(curve.ceiling(), None);
}

#[test]
fn the_plateau_is_the_ceiling() {
    let (k, s) = (0.5, 0.15);
    let x = [0.2, 0.5, 1.0, 2.0, 3.0, 4.0];
    let y: Vec<f64> =
        x.iter().zip([1.0, -1.0, 1.0, -1.0, 1.0, -1.0]).map(|(x, e)| signal(k, s, *x) + 5e-4 * e).collect();
    let curve = fit(&x, &y, Noise::Equal);
    let ceiling = curve.ceiling().unwrap();
    let found = curve.concentration(&Readings::new(&[ceiling + 0.01, ceiling - 0.0005, 0.4, -0.02, f64::NAN])).unwrap();
    let expected = [Status::BeyondCurve, Status::AboveTop, Status::InRange, Status::Negative, Status::NoReading];
    assert_eq!(found.statuses(), expected);
    for (value, status) in found.values().iter().zip(expected) {
        assert_eq!(value.is_nan(), !status.has_value());
    }
    let sets = found.interval(Coverage::P95, IntervalMethod::Inversion);
    // Near the plateau no concentration is too high; in the range the ends are crossings around the value.
    assert!(matches!(sets.sets[1], IntervalSet::Above { .. }), "{:?}", sets.sets[1]);
    assert_eq!(sets.ends[1], [End::Crossed, End::Plateau]);
    assert!(sets.sets[2].is_finite() && sets.sets[2].contains(found.values()[2]));
    assert_eq!(sets.ends[2], [End::Crossed; 2]);
    assert!(sets.sets[3].is_finite() && sets.sets[3].contains(found.values()[3]));
    assert_eq!(sets.sets[4], IntervalSet::Empty);
}

/// The ends of a test-inversion set are where the reading is exactly t standard deviations from the curve; where the
/// curve is nearly straight the set is nearly the delta interval.
#[test]
fn interval_ends_are_where_the_test_turns() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let y: Vec<f64> =
        x.iter().zip([1.0, -2.0, 1.0, 0.5, -1.0, 1.5, -0.5]).map(|(x, e)| signal(0.11, 0.03, *x) + 4e-4 * e).collect();
    let curve = fit(&x, &y, Noise::Equal);
    let found = curve.concentration(&Readings::new(&[0.25])).unwrap();
    let inverted = found.interval(Coverage::P95, IntervalMethod::Inversion).sets[0];
    let delta = found.interval(Coverage::P95, IntervalMethod::Delta).sets[0];
    let t = found.get(0).unwrap().dof.coverage_factor(Coverage::P95);
    let (lo, hi) = inverted.ends();
    for end in [lo, hi] {
        let response = curve.response(end);
        let spread = (response.u * response.u + curve.scale().variance).sqrt();
        assert_relative_eq!((0.25 - response.value).abs(), t * spread, max_relative = 1e-9);
    }
    assert_relative_eq!(hi - lo, delta.ends().1 - delta.ends().0, max_relative = 1e-3);
}

#[test]
fn zeroed_signals_are_needed() {
    let x = [0.0, 0.5, 1.0, 2.0, 3.0, 4.0];
    let y: Vec<f64> = x.iter().map(|x| signal(0.12, 0.04, *x) + 0.0021).collect();
    let raw = FitOptions { shape: Shape::StrayLight, ..FitOptions::default() };
    let points = Points::from_readings(&x, &y).unwrap();
    let error = Calibration::fit(&points, &raw).unwrap_err().to_string();
    assert!(error.contains("zeroing") && error.contains("blank_subtracted"), "{error}");
    // Without a blank nobody can tell, and it is said.
    let without = Calibration::fit(&Points::from_readings(&x[1..], &y[1..]).unwrap(), &raw).unwrap();
    assert!(has(&without, Code::ZeroAssumed));
    // A blank of exactly nothing is a zeroed signal.
    let zeroed: Vec<f64> = y.iter().map(|y| y - y.min(0.0021)).collect();
    assert!(!has(&Calibration::fit(&Points::from_readings(&x, &zeroed).unwrap(), &raw).unwrap(), Code::ZeroAssumed));
    // The zero's uncertainty is a source of every result, undiminished at zero.
    let with = |u: f64| {
        let options = FitOptions { zeroing: Zeroing::BlankSubtracted(u), ..raw.clone() };
        let noise = Noise::KnownSigma(Sigmas::new(&[3e-4]).unwrap());
        Arc::new(
            Calibration::fit(&Points::from_readings(&x[1..], &zeroed[1..]).unwrap(), &FitOptions { noise, ..options })
                .unwrap(),
        )
    };
    let u = |c: &Arc<Calibration>| c.concentration(&Readings::new(&[0.0])).unwrap().standard_uncertainties()[0];
    let (exact, known) = (with(0.0), with(0.002));
    let slope = exact.coefficients()[0] / (1.0 + exact.coefficients()[1]);
    let added = (u(&known) * u(&known) - u(&exact) * u(&exact)).sqrt();
    assert_relative_eq!(added, 0.002 / slope, max_relative = 1e-9);
}

/// A common shift of all signals moves the fit as the kernel says it does: first order, checked by a small shift.
#[test]
fn a_shared_zero_moves_the_curve_with_its_readings() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    let y: Vec<f64> = x.iter().map(|x| signal(0.12, 0.04, *x)).collect();
    let (h, u) = (1e-6, 0.002);
    let shifted: Vec<f64> = y.iter().map(|y| y + h).collect();
    let with = |y: &[f64], zeroing| {
        let options = FitOptions { zeroing, ..options(Noise::KnownSigma(Sigmas::new(&[1e-3]).unwrap())) };
        Arc::new(Calibration::fit(&Points::from_readings(&x, y).unwrap(), &options).unwrap())
    };
    let value = |c: &Arc<Calibration>, y: f64| c.concentration(&Readings::new(&[y])).unwrap().get(0).unwrap();
    let plain = with(&y, Zeroing::Autozeroed(0.0));
    for reading in [0.02, 0.2, 0.5] {
        let moved =
            (value(&with(&shifted, Zeroing::Autozeroed(0.0)), reading + h).value - value(&plain, reading).value) / h;
        let (known, exact) = (value(&with(&y, Zeroing::Autozeroed(u)), reading).u, value(&plain, reading).u);
        assert_relative_eq!((known * known - exact * exact).sqrt(), (moved * u).abs(), max_relative = 1e-3);
    }
}

#[test]
fn diagnostics_are_those_that_the_shape_has() {
    let x = [0.5, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    let y = [0.0581, 0.0575, 0.1149, 0.2247, 0.3287, 0.4271, 0.5188];
    let curve = fit(&x, &y, Noise::Equal);
    assert!(curve.mandel().is_none() && curve.correlation().is_none() && curve.turning_point().is_none());
    assert!(matches!(curve.r_squared(), Some(SquaredCorrelation::AboutZero(_))));
    // Leverages add up to the number of parameters.
    assert_relative_eq!(curve.leverages().iter().sum::<f64>(), 2.0, max_relative = 1e-10);
    // Least squares: the residuals stand at right angles to both derivatives, here by differences of the curve.
    let (k, s) = (curve.coefficients()[0], curve.coefficients()[1]);
    let h = 1e-6;
    for (dk, ds) in [(h * k, 0.0), (0.0, h)] {
        let products = x
            .iter()
            .zip(curve.residuals())
            .map(|(x, r)| r * (signal(k + dk, s + ds, *x) - signal(k - dk, s - ds, *x)) / (2.0 * h));
        // Differences of 1e-6 keep nine digits; the residuals are some 1e-4.
        assert!(products.sum::<f64>().abs() < 1e-10);
    }
    for (error, (x, y)) in curve.percent_error().iter().zip(x.iter().zip(&y)) {
        let back = -libm::log10((1.0 + s) * libm::pow(10.0, -y) - s) / k;
        assert_relative_eq!(*error, 100.0 * (back - x) / x, max_relative = 1e-8);
    }
    let sum: f64 = curve.percent_error().iter().map(|e| e * e).sum();
    assert_relative_eq!(curve.relative_standard_error().unwrap(), (sum / 5.0).sqrt(), max_relative = 1e-12);
    let lack = curve.lack_of_fit().unwrap();
    assert!((lack.numerator_dof - 4.0).abs() < 1e-12 && (lack.denominator_dof - 1.0).abs() < 1e-12);
}

#[test]
fn what_is_no_such_curve_is_said() {
    let x = [0.5, 1.0, 2.0, 3.0];
    let down = fit(&x, &[-0.1, -0.2, -0.4, -0.6], Noise::Equal);
    assert!(has(&down, Code::NotRising) && !down.serves());
    let one_level =
        Calibration::fit(&Points::from_readings(&[1.0, 1.0], &[0.1, 0.11]).unwrap(), &options(Noise::Equal));
    assert!(one_level.is_err());
    let errors = FitOptions { standards_error: StandardsError::independent(&[0.01]).unwrap(), ..options(Noise::Equal) };
    let points = Points::from_readings(&x, &[0.06, 0.11, 0.21, 0.3]).unwrap();
    assert_eq!(Calibration::fit(&points, &errors).unwrap_err().kind(), groundstate::Kind::NotAvailable);
    let stock = Stock { name: "A".into(), relative_u: 0.01 };
    let shared =
        Arc::new(Calibration::fit(&points, &FitOptions { stocks: vec![stock], ..options(Noise::Equal) }).unwrap());
    let plain = fit(&x, &[0.06, 0.11, 0.21, 0.3], Noise::Equal);
    let at = |c: &Arc<Calibration>| c.concentration(&Readings::new(&[0.2])).unwrap().get(0).unwrap();
    let (with, without) = (at(&shared), at(&plain));
    assert_relative_eq!((with.u * with.u - without.u * without.u).sqrt(), 0.01 * with.value, max_relative = 1e-9);
    assert_eq!(Shape::parse("stray_light").unwrap(), Shape::StrayLight);
}

/// Limits hold on this curve as on any other; the critical response is where the reading at zero is exceeded.
#[test]
fn limits_follow_the_general_definition() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let y = [0.0581, 0.1149, 0.2247, 0.3287, 0.4271, 0.5188, 0.6047];
    let curve = fit(&x, &y, Noise::Equal);
    let options = LimitOptions::of(LimitMethod::Din32645);
    let critical = critical_value(&curve, &options).unwrap();
    assert_relative_eq!(critical.signal.unwrap(), critical.factor * critical.sd_at_zero, max_relative = 1e-12);
    // At zero the curve is fixed, so a reading's scatter is all.
    assert_relative_eq!(critical.sd_at_zero, curve.residual_sd().unwrap(), max_relative = 1e-14);
    let detection = detection_limit(&curve, &options).unwrap();
    let quantitation = quantitation_limit(&curve, &options).unwrap();
    assert!(critical.value < detection.value && detection.value < quantitation.value);
}

#[test]
fn a_choice_prefers_it_to_a_quadratic_when_it_is_asked_for() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let y = [0.0581, 0.1149, 0.2247, 0.3287, 0.4271, 0.5188, 0.6047];
    let fit = FitOptions { zeroing: Zeroing::Autozeroed(0.0), ..FitOptions::default() };
    let shapes = vec![Shape::Quadratic, Shape::StrayLight, Shape::Line];
    let choice =
        choose(&Points::from_readings(&x, &y).unwrap(), &ChoiceRules { shapes, fit, ..ChoiceRules::default() })
            .unwrap();
    assert_eq!(choice.taken().unwrap().shape, Shape::StrayLight);
    assert!(choice.findings.iter().any(|finding| finding.code == Code::CurveInAbsorption));
}

/// Seeded coverage of 95 % intervals, low, middle and near the plateau, by delta (where the curve is not too flat) and
/// by test inversion. 2000 draws: 0.95 within 0.02, four standard errors; delta, of first order, within 0.03.
#[test]
fn intervals_cover() {
    let (k, s, sigma) = (0.25, 0.05, 0.002);
    let x = [0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
    let truths = [0.3, 2.5, 5.5];
    let mut stream = Stream::new(20_240_601, 0);
    const TRIALS: u32 = 2000;
    let mut inside = [[0_u32; 3]; 2];
    for _ in 0..TRIALS {
        let y: Vec<f64> = x.iter().map(|x| signal(k, s, *x) + sigma * stream.normal()).collect();
        let curve = fit(&x, &y, Noise::Equal);
        assert!(curve.termination().unwrap().converged);
        let readings: Vec<f64> = truths.iter().map(|x| signal(k, s, *x) + sigma * stream.normal()).collect();
        let found = curve.concentration(&Readings::new(&readings)).unwrap();
        for (row, method) in [IntervalMethod::Delta, IntervalMethod::Inversion].into_iter().enumerate() {
            let sets = found.interval(Coverage::P95, method).sets;
            for (place, (set, truth)) in sets.iter().zip(truths).enumerate() {
                inside[row][place] += u32::from(set.contains(truth));
            }
        }
    }
    for (row, bound) in [(0, 0.03), (1, 0.02)] {
        for count in inside[row] {
            let share = f64::from(count) / f64::from(TRIALS);
            assert!((share - 0.95).abs() < bound, "{inside:?}");
        }
    }
}

/// A method file may name the shape, except under a profile that admits lines only.
#[cfg(feature = "text")]
#[test]
fn a_method_names_it_but_not_under_7000b() {
    use groundstate::method::Method;
    let method = |profile: &str| {
        let text = format!(
            "id = \"NI\"\nversion = \"1\"\nelement = \"Ni\"\nprofile = \"{profile}\"\n\n[calibration]\nunit = \"mg/L\"\nshape = \"stray_light\"\n"
        );
        Method::from_toml(&text)
    };
    assert_eq!(method("general").unwrap().calibration.shape, Shape::StrayLight);
    let error = method("sw846_7000b").unwrap_err().to_string();
    assert!(error.contains("admits only a line, not stray_light"), "{error}");
}
