//! Limits from calibrations: the standards' formulas written out here again, the definitions by simulation, the edges.
#![allow(missing_docs)]

use approx::assert_relative_eq;
use groundstate::curve::{Calibration, FitOptions, Noise, OnBadCurve, Points, ReplicateModel, Shape, Sigmas, Zeroing};
use groundstate::detection::from_calibration::currie::{self, Blank, CurrieOptions, Sigma};
use groundstate::detection::from_calibration::{BlankReading, critical_value, detection_limit, quantitation_limit};
use groundstate::detection::{CalibrationLimit, LimitMethod, LimitOptions};
use groundstate::estimate::Dof;
use groundstate::finding::Code;
use groundstate::numeric::distribution::{noncentral_t, student_t};
use groundstate::numeric::stream::Stream;

/// QUAM (2012), example A5: cadmium, five levels of three readings.
const CADMIUM: [(f64, [f64; 3]); 5] = [
    (0.1, [0.028, 0.029, 0.029]),
    (0.3, [0.084, 0.083, 0.081]),
    (0.5, [0.135, 0.131, 0.133]),
    (0.7, [0.180, 0.181, 0.183]),
    (0.9, [0.215, 0.230, 0.216]),
];

fn cadmium() -> (Vec<f64>, Vec<f64>) {
    CADMIUM.iter().flat_map(|(x, ys)| ys.iter().map(move |y| (*x, *y))).unzip()
}

fn fitted(x: &[f64], y: &[f64], shape: Shape, noise: Noise) -> Calibration {
    let options = FitOptions { shape, noise, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() };
    Calibration::fit(&Points::from_readings(x, y).unwrap(), &options).unwrap()
}

fn has(limit: &CalibrationLimit, code: Code) -> bool {
    limit.findings.iter().any(|finding| finding.code == code)
}

/// The unweighted line by its textbook sums.
struct Line {
    n: f64,
    mean: f64,
    sxx: f64,
    slope: f64,
    s: f64,
}

impl Line {
    fn of(x: &[f64], y: &[f64]) -> Line {
        let n = x.len() as f64;
        let (mean, mean_y) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
        let sxx: f64 = x.iter().map(|x| (x - mean) * (x - mean)).sum();
        let slope = x.iter().zip(y).map(|(x, y)| (x - mean) * (y - mean_y)).sum::<f64>() / sxx;
        let square = |(x, y): (&f64, &f64)| {
            let rest = y - mean_y - slope * (x - mean);
            rest * rest
        };
        let s = (x.iter().zip(y).map(square).sum::<f64>() / (n - 2.0)).sqrt();
        Line { n, mean, sxx, slope, s }
    }

    /// s/b times the root of 1/m + 1/n + (x - mean)²/Sxx.
    fn spread(&self, m: f64, x: f64) -> f64 {
        let away = x - self.mean;
        self.s / self.slope * (1.0 / m + 1.0 / self.n + away * away / self.sxx).sqrt()
    }
}

/// ISO 11843-2 and DIN 32645 for the line, as rules from memory give them. 1e-11: the textbook sums lose four of
/// sixteen digits on these data.
#[test]
fn the_formulas_of_the_standards_for_the_line() {
    let (x, y) = cadmium();
    let calibration = fitted(&x, &y, Shape::Line, Noise::Equal);
    let line = Line::of(&x, &y);
    for m in [1, 2, 5] {
        let spread = line.spread(f64::from(m), 0.0);
        let iso = LimitOptions { preparations: m, ..LimitOptions::of(LimitMethod::Iso11843) };
        let t = student_t::upper_quantile(0.05, 13.0);
        let critical = critical_value(&calibration, &iso).unwrap();
        assert_relative_eq!(critical.value.unwrap(), t * spread, max_relative = 1e-11);
        let intercept = calibration.coefficients()[0];
        assert_relative_eq!(critical.signal.unwrap(), intercept + t * spread * line.slope, max_relative = 1e-11);
        let delta = noncentral_t::noncentrality(13.0, 0.05, 0.05);
        let found = detection_limit(&calibration, &iso).unwrap();
        assert_relative_eq!(found.value.unwrap(), delta * spread, max_relative = 1e-11);
        assert_eq!((found.definition.name(), found.dof), ("iso11843", Dof::count(13)));

        let din = LimitOptions { readings: m, ..LimitOptions::of(LimitMethod::Din32645) };
        let t = student_t::upper_quantile(0.01, 13.0);
        assert_relative_eq!(
            critical_value(&calibration, &din).unwrap().value.unwrap(),
            t * spread,
            max_relative = 1e-11
        );
        let unequal = LimitOptions { beta: 0.05, ..din.clone() };
        let expected = (t + student_t::upper_quantile(0.05, 13.0)) * spread;
        assert_relative_eq!(
            detection_limit(&calibration, &unequal).unwrap().value.unwrap(),
            expected,
            max_relative = 1e-11
        );

        // The quantitation limit by the iteration that the standard describes, from three times the critical value.
        let two_sided = student_t::upper_quantile(0.005, 13.0);
        let mut expected = 3.0 * t * spread;
        for _ in 0..200 {
            expected = 3.0 * two_sided * line.spread(f64::from(m), expected);
        }
        let found = quantitation_limit(&calibration, &din).unwrap();
        assert_relative_eq!(found.value.unwrap(), expected, max_relative = 1e-11);
        assert_relative_eq!(found.factor, 3.0 * two_sided, max_relative = 1e-14);
    }
}

/// tests/reference: Currie's multipliers, 20 digits by numerical integration at 40 (IUPAC 1995 prints 1.645, 3.29,
/// 2.132 and 4.07 for 4 degrees of freedom; from memory). 1e-11: the noncentrality is the root of an integral.
#[test]
fn curries_multipliers() {
    let options = CurrieOptions::default();
    let known = currie::levels(Sigma::Known(1.0), Blank::WellKnown, &options).unwrap();
    assert_relative_eq!(known.critical, 1.6448536269514727149, max_relative = 1e-14);
    assert_relative_eq!(known.detection, 3.2897072539029454297, max_relative = 1e-13);
    assert_relative_eq!(known.quantitation, 10.0, max_relative = 1e-15);
    assert_eq!(known.detection_interval, None);
    let paired = currie::levels(Sigma::Known(1.0), Blank::Paired, &options).unwrap();
    for (found, printed) in [(paired.critical, 2.33), (paired.detection, 4.65), (paired.quantitation, 14.14)] {
        assert!((found - printed).abs() < 0.005, "{found} {printed}");
    }
    for (nu, t, delta) in [
        (4, 2.1318467863266503183, 4.0672756411613924833),
        (5, 2.0150483733330242378, 3.8699418122421013126),
        (9, 1.8331129326562371687, 3.5753848340448191082),
        (10, 1.8124611228116764136, 3.5430408490412559327),
        (20, 1.7247182429207872728, 3.4083238304037191884),
    ] {
        let sigma = Sigma::Estimated { s: 2.0, dof: Dof::count(nu) };
        let levels = currie::levels(sigma, Blank::WellKnown, &options).unwrap();
        assert_relative_eq!(levels.critical, 2.0 * t, max_relative = 1e-13);
        assert_relative_eq!(levels.detection, 2.0 * delta, max_relative = 1e-11);
        let (low, high) = levels.detection_interval.unwrap();
        assert!(low < levels.detection && levels.detection < high);
    }
}

/// The tails: where t and delta are far out, L_C still leaves exactly alpha, and L_D exactly beta.
#[test]
fn far_tails_keep_their_probabilities() {
    for (alpha, beta, nu) in [(1e-6, 0.4, 2.5), (0.4, 1e-6, 3.0), (1e-9, 1e-9, 30.0), (0.01, 0.01, 1.0)] {
        let options = CurrieOptions { alpha, beta, ..CurrieOptions::default() };
        let sigma = Sigma::Estimated { s: 1.0, dof: Dof::new(nu).unwrap() };
        let levels = currie::levels(sigma, Blank::WellKnown, &options).unwrap();
        assert_relative_eq!(student_t::sf(levels.critical, nu), alpha, max_relative = 1e-10);
        assert_relative_eq!(noncentral_t::cdf(levels.critical, nu, levels.detection), beta, max_relative = 1e-8);
    }
}

/// Blanks: mean and scatter from them, the slope alone from the calibration; DIN's blank method and Currie's agree.
#[test]
fn from_blanks() {
    let blanks = [0.0012, 0.0003, -0.0004, 0.0009, 0.0006, -0.0001, 0.0010];
    let mean = blanks.iter().sum::<f64>() / 7.0;
    let s = (blanks.iter().map(|y| (y - mean) * (y - mean)).sum::<f64>() / 6.0_f64).sqrt();
    let (x, y) = cadmium();
    let slope = Line::of(&x, &y).slope;
    let sd = s * (1.0_f64 / 2.0 + 1.0 / 7.0).sqrt();
    for noise in [Noise::Equal, Noise::InverseX2] {
        let calibration = fitted(&x, &y, Shape::Line, noise.clone());
        let slope = if noise == Noise::Equal { slope } else { calibration.coefficients()[1] };
        let din = LimitOptions {
            readings: 2,
            blank: BlankReading::Blanks(blanks.to_vec()),
            ..LimitOptions::of(LimitMethod::Din32645)
        };
        let critical = critical_value(&calibration, &din).unwrap();
        let t = student_t::upper_quantile(0.01, 6.0);
        assert_relative_eq!(critical.value.unwrap(), t * sd / slope, max_relative = 1e-11);
        assert!(!has(&critical, Code::LimitZeroNotInDesign), "the blanks are the zero");
        let options = LimitOptions { readings: 2, blank: din.blank.clone(), ..LimitOptions::default() };
        let levels = currie::levels_from_blanks(&blanks, &CurrieOptions { readings: 2, ..Default::default() }).unwrap();
        let detection = detection_limit(&calibration, &options).unwrap();
        assert_relative_eq!(detection.value.unwrap(), levels.detection / slope, max_relative = 1e-11);
        let quantitation = quantitation_limit(&calibration, &options).unwrap();
        assert_relative_eq!(quantitation.value.unwrap(), levels.quantitation / slope, max_relative = 1e-11);
        let (low, high) = detection.interval.unwrap();
        let (expected_low, expected_high) = levels.detection_interval.unwrap();
        assert_relative_eq!(low, expected_low / slope, max_relative = 1e-11);
        assert_relative_eq!(high, expected_high / slope, max_relative = 1e-11);
    }
}

#[test]
fn relative_weights_say_nothing_of_a_blank() {
    let (x, y) = cadmium();
    for noise in [Noise::InverseX, Noise::InverseX2] {
        let calibration = fitted(&x, &y, Shape::Line, noise);
        let error = critical_value(&calibration, &LimitOptions::default()).unwrap_err().to_string();
        assert!(error.contains("reading_u") && error.contains("blanks"), "{error}");
        let blank = BlankReading::Known { u: 0.0008, dof: Dof::INFINITE };
        let options = LimitOptions { blank, ..LimitOptions::default() };
        let limit = critical_value(&calibration, &options).unwrap();
        let u2 = 0.0008 * 0.0008 + calibration.response(0.0).u * calibration.response(0.0).u;
        assert_relative_eq!(limit.sd_at_zero, u2.sqrt(), max_relative = 1e-12);
        // The known part brings its own degrees of freedom, so there are more than the curve's.
        assert!(limit.dof.get() > 13.0);
    }
    let unequal: Vec<f64> = x.iter().map(|x| 0.001 + 0.01 * x).collect();
    let calibration = fitted(&x, &y, Shape::Line, Noise::KnownSigma(Sigmas::new(&unequal).unwrap()));
    assert!(critical_value(&calibration, &LimitOptions::default()).is_err());
}

/// Known and equal sigma: normal quantiles, 2 x 1.645.
#[test]
fn known_sigma_needs_no_t() {
    let (x, y) = cadmium();
    let calibration = fitted(&x, &y, Shape::Line, Noise::KnownSigma(Sigmas::new(&[0.005]).unwrap()));
    let critical = critical_value(&calibration, &LimitOptions::default()).unwrap();
    let detection = detection_limit(&calibration, &LimitOptions::default()).unwrap();
    assert_relative_eq!(critical.factor, 1.6448536269514727, max_relative = 1e-13);
    assert_relative_eq!(detection.value.unwrap() / critical.value.unwrap(), 2.0, max_relative = 1e-11);
    assert!(critical.dof.is_infinite() && detection.interval.is_none());
}

/// The definitions themselves on curves whose scatter grows: f(x_c) is y_c, the response falls below it with
/// probability beta at x_d, and x_q is k times its own u.
#[test]
fn general_curves_meet_the_definitions() {
    let levels = [0.0, 0.5, 1.0, 2.0, 4.0, 6.0];
    let mut stream = Stream::new(7, 0);
    let mut signals = Vec::new();
    for x in levels {
        signals.push(
            (0..6)
                .map(|_| 0.002 + 0.11 * x - 0.004 * x * x + (0.0008 + 0.004 * x) * stream.normal())
                .collect::<Vec<f64>>(),
        );
    }
    let points = Points::from_standards(&levels, &signals).unwrap();
    for shape in [Shape::Line, Shape::Quadratic] {
        let noise = Noise::FromReplicates(ReplicateModel::FloorPlusProportional);
        let options = FitOptions { shape, noise, ..FitOptions::default() };
        let calibration = Calibration::fit(&points, &options).unwrap();
        for method in LimitMethod::ALL {
            let options = LimitOptions { readings: 3, ..LimitOptions::of(method) };
            let critical = critical_value(&calibration, &options).unwrap();
            let zero = calibration.response(0.0);
            let y_c = zero.value + critical.factor * critical.sd_at_zero;
            assert_relative_eq!(critical.signal.unwrap(), y_c, max_relative = 1e-13);
            let detection = detection_limit(&calibration, &options).unwrap();
            let x_d = detection.value.unwrap();
            // Heavier scatter there moves the limit beyond that of equal scatter.
            let equal = zero.value + detection.factor * detection.sd_at_zero;
            assert!(detection.signal.unwrap() > equal);
            let (low, high) = detection.interval.unwrap();
            assert!(critical.value.unwrap() < x_d && low < x_d && x_d < high);
            if method != LimitMethod::Iso11843 {
                let quantitation = quantitation_limit(&calibration, &options).unwrap();
                let x = quantitation.value.unwrap();
                let arc = std::sync::Arc::new(calibration.clone());
                let readings = groundstate::curve::Readings::new(&[calibration.response(x).value])
                    .replicates(groundstate::estimate::Column::One(3));
                let u = arc.concentration(&readings).unwrap().get(0).unwrap().u;
                assert_relative_eq!(quantitation.factor * u, x, max_relative = 1e-9);
            }
        }
    }
    let iso = LimitOptions::of(LimitMethod::Iso11843);
    let calibration = Calibration::fit(&points, &FitOptions::default()).unwrap();
    assert_eq!(quantitation_limit(&calibration, &iso).unwrap_err().kind(), groundstate::Kind::NotAvailable);
}

/// Whole experiments, simulated: blanks are taken for samples with probability alpha, samples at the detection limit
/// of the true scatter are missed with probability beta. 4000 experiments: 0.05 within four standard errors, 0.0138.
#[test]
fn errors_of_both_kinds_come_as_often_as_stated() {
    let x = [0.0, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5];
    let (slope, sigma) = (0.2, 0.002);
    let options = LimitOptions::of(LimitMethod::Iso11843);
    let truth: Vec<f64> = x.iter().map(|x| 0.001 + slope * x).collect();
    let exact = fitted(&x, &truth, Shape::Line, Noise::KnownSigma(Sigmas::new(&[sigma]).unwrap()));
    let sd = critical_value(&exact, &options).unwrap().sd_at_zero;
    let x_d = noncentral_t::noncentrality(5.0, 0.05, 0.05) * sd / slope;
    let mut stream = Stream::new(20_240_501, 0);
    let (mut false_positive, mut missed) = (0, 0);
    const TRIALS: u32 = 4000;
    for _ in 0..TRIALS {
        let y: Vec<f64> = truth.iter().map(|y| y + sigma * stream.normal()).collect();
        let calibration = fitted(&x, &y, Shape::Line, Noise::Equal);
        let y_c = critical_value(&calibration, &options).unwrap().signal.unwrap();
        false_positive += u32::from(0.001 + sigma * stream.normal() > y_c);
        missed += u32::from(0.001 + slope * x_d + sigma * stream.normal() <= y_c);
    }
    for count in [false_positive, missed] {
        let share = f64::from(count) / f64::from(TRIALS);
        assert!((share - 0.05).abs() < 0.0138, "{share}");
    }
}

#[test]
fn what_the_design_does_is_said() {
    let (x, y) = cadmium();
    let limit = critical_value(&fitted(&x, &y, Shape::Line, Noise::Equal), &LimitOptions::default()).unwrap();
    assert!(has(&limit, Code::LimitZeroNotInDesign) && has(&limit, Code::LimitNotAnMdl));
    assert_eq!(has(&limit, Code::LimitRangeWide), 0.9 > 10.0 * limit.value.unwrap());
    let wide_x = [0.0, 2.0, 4.0, 6.0, 8.0];
    let wide = fitted(&wide_x, &[0.001, 0.2003, 0.3996, 0.6009, 0.7997], Shape::Line, Noise::Equal);
    let limit = detection_limit(&wide, &LimitOptions::of(LimitMethod::Din32645)).unwrap();
    assert!(has(&limit, Code::LimitRangeWide) && !has(&limit, Code::LimitZeroNotInDesign));
    // One finding a limit stands at the end, always.
    assert_eq!(limit.findings.last().unwrap().code, Code::LimitNotAnMdl);
}

/// Through zero the curve adds nothing at zero, but the blank that zeroed the signals does.
#[test]
fn a_zeroing_blank_is_part_of_the_zero() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0];
    let y = [0.0502, 0.0997, 0.2011, 0.2989, 0.4003];
    let with = |u: f64| {
        let options =
            FitOptions { shape: Shape::LineThroughZero, zeroing: Zeroing::BlankSubtracted(u), ..FitOptions::default() };
        let calibration = Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &options).unwrap();
        critical_value(&calibration, &LimitOptions::default()).unwrap()
    };
    let (exact, scattered) = (with(0.0), with(0.0007));
    let expected = (exact.sd_at_zero * exact.sd_at_zero + 0.0007 * 0.0007).sqrt();
    assert_relative_eq!(scattered.sd_at_zero, expected, max_relative = 1e-12);
    assert!(scattered.dof.get() > exact.dof.get());
}

#[test]
fn there_may_be_no_limit_and_then_it_is_said() {
    let (x, y) = cadmium();
    let none = |limit: CalibrationLimit| limit.value.is_none() && has(&limit, Code::LimitNotReached);
    let options = LimitOptions::default();
    // Two points, three coefficients' worth of nothing left; a perfect fit; a falling line.
    assert!(none(critical_value(&fitted(&[1.0, 2.0], &[0.1, 0.2], Shape::Line, Noise::Equal), &options).unwrap()));
    assert!(none(
        critical_value(&fitted(&[0.0, 1.0, 2.0], &[0.0, 0.25, 0.5], Shape::Line, Noise::Equal), &options).unwrap()
    ));
    let falling: Vec<f64> = y.iter().map(|y| -y).collect();
    assert!(none(detection_limit(&fitted(&x, &falling, Shape::Line, Noise::Equal), &options).unwrap()));
    // A slope so uncertain that no concentration has the relative uncertainty asked for.
    let noisy = fitted(&[0.0, 1.0, 2.0, 3.0], &[0.0, 0.3, 0.1, 0.4], Shape::Line, Noise::Equal);
    assert!(none(quantitation_limit(&noisy, &LimitOptions::of(LimitMethod::Din32645)).unwrap()));
    // A reading so scattered that the critical response lies beyond the turn.
    let bent = fitted(&[0.0, 1.0, 2.0, 3.0, 4.0], &[0.0, 0.1, 0.17, 0.22, 0.235], Shape::Quadratic, Noise::Equal);
    let blank = BlankReading::Known { u: 0.5, dof: Dof::INFINITE };
    assert!(none(critical_value(&bent, &LimitOptions { blank, ..LimitOptions::default() }).unwrap()));
}

#[test]
fn options_without_meaning_are_refused() {
    let (x, y) = cadmium();
    let calibration = fitted(&x, &y, Shape::Line, Noise::Equal);
    let wrong = [
        LimitOptions { alpha: 0.5, ..LimitOptions::default() },
        LimitOptions { beta: f64::NAN, ..LimitOptions::default() },
        LimitOptions { readings: 0, ..LimitOptions::default() },
        LimitOptions { k: 0.3, ..LimitOptions::default() },
        LimitOptions { blank: BlankReading::Blanks(vec![0.1]), ..LimitOptions::default() },
        LimitOptions { blank: BlankReading::Blanks(vec![0.1, f64::NAN]), ..LimitOptions::default() },
        LimitOptions { blank: BlankReading::Known { u: -1.0, dof: Dof::INFINITE }, ..LimitOptions::default() },
    ];
    for options in wrong {
        assert!(critical_value(&calibration, &options).is_err(), "{options:?}");
    }
    let several = LimitOptions { alpha: 2.0, readings: 0, ..LimitOptions::default() };
    assert_eq!(critical_value(&calibration, &several).unwrap_err().problems().len(), 2);
    assert!(LimitMethod::parse("din32654").unwrap_err().to_string().contains("din32645"));
    assert!(currie::levels_from_blanks(&[0.1, 0.1, 0.1], &CurrieOptions::default()).is_err());
}

/// Laws: a limit scales with the signals' scatter and against the slope; more readings never raise it.
#[test]
fn limits_scale() {
    let (x, y) = cadmium();
    let base = fitted(&x, &y, Shape::Line, Noise::Equal);
    let scaled: Vec<f64> = y.iter().map(|y| 3.0 * y).collect();
    let stretched: Vec<f64> = x.iter().map(|x| 5.0 * x).collect();
    for method in LimitMethod::ALL {
        let options = LimitOptions::of(method);
        for of in [critical_value, detection_limit] {
            let value = |c: &Calibration, o: &LimitOptions| of(c, o).unwrap().value.unwrap();
            let plain = value(&base, &options);
            assert_relative_eq!(
                value(&fitted(&x, &scaled, Shape::Line, Noise::Equal), &options),
                plain,
                max_relative = 1e-10
            );
            let wide = value(&fitted(&stretched, &y, Shape::Line, Noise::Equal), &options);
            assert_relative_eq!(wide, 5.0 * plain, max_relative = 1e-10);
            let more = LimitOptions { readings: 4, ..options.clone() };
            assert!(value(&base, &more) < plain);
        }
    }
}
