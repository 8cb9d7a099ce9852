//! Fits with errors in both variables against published examples.
//!
//! The 20-digit figures are recomputations of the published ones; python/groundstate/cases says how each was obtained.
#![allow(missing_docs)]

use std::sync::Arc;

use groundstate::curve::{
    Calibration, CovarianceConvention, FitOptions, Noise, OnBadCurve, Points, Readings, Shape, Sigmas, StandardsError,
    Stock,
};
use groundstate::finding::Code;

fn options(shape: Shape, noise: Noise, standards_error: StandardsError) -> FitOptions {
    FitOptions { shape, noise, standards_error, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() }
}

fn near(found: f64, expected: f64, relative: f64) -> bool {
    ((found - expected) / expected).abs() <= relative
}

/// Intercept, slope and sum of squares, then standard errors and covariance under each convention.
struct Expected {
    solution: [f64; 3],
    errors: [[f64; 3]; 3],
}

fn reproduces(x: &[f64], ux: &[f64], y: &[f64], uy: &[f64], expected: &Expected) {
    let points = Points::from_readings(x, y).unwrap();
    for (convention, [sa, sb, cov]) in CovarianceConvention::ALL.into_iter().zip(expected.errors) {
        let noise = Noise::KnownSigma(Sigmas::new(uy).unwrap());
        let error = StandardsError::independent(ux).unwrap();
        let fit = Calibration::fit(&points, &FitOptions { convention, ..options(Shape::Line, noise, error) }).unwrap();
        assert!(fit.termination().unwrap().converged);
        let found = [fit.coefficients()[0], fit.coefficients()[1], fit.chi_squared().unwrap()];
        // Thirteen digits: the last steps towards the fixed point move by a few units in the last place.
        for (found, expected) in found.iter().zip(expected.solution) {
            assert!(near(*found, expected, 1e-13), "{}: {found:?} {expected:?}", convention.name());
        }
        let found = [fit.standard_errors()[0], fit.standard_errors()[1], fit.covariance().get(0, 1).unwrap()];
        for (found, expected) in found.into_iter().zip([sa, sb, cov]) {
            assert!(near(found, expected, 1e-12), "{}: {found:?} {expected:?}", convention.name());
        }
    }
}

/// ISO/TS 28037:2010, clause 7.4 (restated).
#[test]
fn iso_ts_28037_line() {
    reproduces(
        &[1.2, 1.9, 2.9, 4.0, 4.7, 5.9],
        &[0.2; 6],
        &[3.4, 4.4, 7.2, 8.5, 10.8, 13.5],
        &[0.2, 0.2, 0.2, 0.4, 0.4, 0.4],
        &Expected {
            solution: [0.578_822_122_149_498_4, 2.159_656_567_399_293, 2.742_676_789_730_967],
            errors: [
                [0.476_420_629_621_775_54, 0.135_547_927_467_508_79, -0.057_716_939_098_509_83],
                [0.478_174_201_106_654_1, 0.135_820_612_936_195_04, -0.058_099_409_761_283_95],
                [0.480_359_046_511_403_4, 0.136_246_483_136_520_2, -0.058_614_341_956_003_74],
            ],
        },
    );
}

/// Pearson (1901) with the weights of York (1966); the three conventions of York et al. (2004) and of the references
/// named there.
#[test]
fn pearson_data_with_york_weights() {
    let u = |weights: [f64; 10]| weights.map(|w| 1.0 / w.sqrt());
    reproduces(
        &[0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4],
        &u([1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0]),
        &[5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5],
        &u([1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0]),
        &Expected {
            solution: [5.479_910_224_032_865, -0.480_533_407_446_202, 11.866_353_194_061_445],
            errors: [
                [0.294_970_735_493_108_56, 0.057_985_009_000_774_44, -0.016_472_544_658_115_81],
                [0.292_371_483_277_929_1, 0.057_571_706_598_742_45, -0.016_199_699_849_850_343],
                [0.291_933_502_089_409_9, 0.057_616_741_706_572_58, -0.016_186_196_519_284_81],
            ],
        },
    );
}

/// A diagonal covariance matrix is the same as independent errors, to the float64 whitening of the full case.
#[test]
fn a_diagonal_covariance_is_independent() {
    let (x, y) = ([1.2, 1.9, 2.9, 4.0, 4.7, 5.9], [3.4, 4.4, 7.2, 8.5, 10.8, 13.5]);
    let points = Points::from_readings(&x, &y).unwrap();
    let rows: Vec<Vec<f64>> = (0..6).map(|i| (0..6).map(|j| if i == j { 0.04 } else { 0.0 }).collect()).collect();
    for shape in [Shape::Line, Shape::Quadratic] {
        let noise = || Noise::KnownSigma(Sigmas::new(&[0.3]).unwrap());
        let fit = |error| Arc::new(Calibration::fit(&points, &options(shape, noise(), error)).unwrap());
        let (one, full) =
            (fit(StandardsError::independent(&[0.2]).unwrap()), fit(StandardsError::covariance(&rows).unwrap()));
        for (a, b) in one.coefficients().iter().zip(full.coefficients()) {
            assert!(near(*a, b, 1e-9), "{a} {b}");
        }
        for (a, b) in one.standard_errors().iter().zip(full.standard_errors()) {
            assert!(near(*a, b, 1e-9), "{a} {b}");
        }
        let u = |c: &Arc<Calibration>| c.concentration(&Readings::new(&[7.0])).unwrap().get(0).unwrap().u;
        assert!(near(u(&one), u(&full), 1e-9));
    }
}

/// Deming's case (equal variances in both variables, known up to one factor) has a closed form for the slope.
#[test]
fn deming_regression_has_its_closed_form() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.5, 6.0];
    let y = [0.61, 0.98, 2.15, 2.91, 4.62, 5.87];
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let (mut sxx, mut syy, mut sxy) = (0.0, 0.0, 0.0);
    for (x, y) in x.iter().zip(y) {
        sxx += (x - mx) * (x - mx);
        syy += (y - my) * (y - my);
        sxy += (x - mx) * (y - my);
    }
    let d = syy - sxx;
    let slope = (d + (d * d + 4.0 * sxy * sxy).sqrt()) / (2.0 * sxy);
    let noise = Noise::RelativeSigma(Sigmas::new(&[1.0]).unwrap());
    let error = StandardsError::independent(&[1.0]).unwrap();
    let fit = Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &options(Shape::Line, noise, error)).unwrap();
    assert!(near(fit.coefficients()[1], slope, 1e-12), "{} {slope}", fit.coefficients()[1]);
    assert!(near(fit.coefficients()[0], my - slope * mx, 1e-11));
}

#[test]
fn standards_errors_need_a_noise_model_of_known_size() {
    let points = Points::from_readings(&[1.0, 2.0, 3.0], &[0.1, 0.2, 0.3]).unwrap();
    let error = StandardsError::independent(&[0.1]).unwrap();
    let refused = Calibration::fit(&points, &options(Shape::Line, Noise::Equal, error)).unwrap_err();
    assert!(refused.to_string().contains("whose size is unknown"), "{refused}");
    assert!(StandardsError::independent(&[-0.1]).is_err());
    assert!(StandardsError::covariance(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_err());
}

/// Independent errors written as a matrix give the same covariance in every convention.
#[test]
fn every_convention_holds_for_a_matrix() {
    let (x, y) = ([0.5, 1.0, 2.0, 3.0, 4.0, 5.0], [0.0558, 0.1087, 0.2140, 0.3101, 0.4080, 0.4901]);
    let points = Points::from_readings(&x, &y).unwrap();
    let ux = [0.012, 0.014, 0.018, 0.022, 0.026, 0.030];
    let rows: Vec<Vec<f64>> =
        (0..6).map(|i| (0..6).map(|j| if i == j { ux[i] * ux[i] } else { 0.0 }).collect()).collect();
    for shape in [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero] {
        let mut of_convention = Vec::new();
        for convention in CovarianceConvention::ALL {
            let fit = |error| {
                let noise = Noise::KnownSigma(Sigmas::new(&[0.001]).unwrap());
                Calibration::fit(&points, &FitOptions { convention, ..options(shape, noise, error) }).unwrap()
            };
            let (one, full) =
                (fit(StandardsError::independent(&ux).unwrap()), fit(StandardsError::covariance(&rows).unwrap()));
            // The full case is whitened in float64.
            for (a, b) in one.standard_errors().into_iter().zip(full.standard_errors()) {
                assert!(near(a, b, 1e-9), "{} {a} {b}", convention.name());
            }
            of_convention.push(one.standard_errors()[0]);
        }
        // They differ, so none stands in for another.
        assert!(!near(of_convention[0], of_convention[1], 1e-6) && !near(of_convention[1], of_convention[2], 1e-6));
    }
}

#[test]
fn a_matrix_must_be_one_of_covariances() {
    let wrong = |rows: &[[f64; 3]]| {
        let rows: Vec<Vec<f64>> = rows.iter().map(|row| row.to_vec()).collect();
        StandardsError::covariance(&rows).unwrap_err().to_string()
    };
    let error = wrong(&[[1.0, -0.9, -0.9], [-0.9, 1.0, -0.9], [-0.9, -0.9, 1.0]]);
    assert!(error.contains("not positive semidefinite"), "{error}");
    // Of any size: correlations are what is judged.
    let error = wrong(&[[1e-12, -0.9e-6, -0.9e-9], [-0.9e-6, 1.0, -0.9e-3], [-0.9e-9, -0.9e-3, 1e-6]]);
    assert!(error.contains("not positive semidefinite"), "{error}");
    let shared: Vec<Vec<f64>> = [0.0, 1.0, 2.0].map(|x| [0.0, 1.0, 2.0].map(|y| x * y * 1e-4).to_vec()).to_vec();
    assert!(StandardsError::covariance(&shared).is_ok());
}

/// A stock counts once, whatever it is called, and one without a name belongs to its calibration alone.
#[test]
fn stocks_are_sources_of_every_result() {
    let points = Points::from_readings(&[0.5, 1.0, 2.0, 4.0], &[0.051, 0.101, 0.199, 0.402]).unwrap();
    let fit = |names: &[&str]| {
        let stocks = names.iter().map(|name| Stock { name: (*name).into(), relative_u: 0.01 }).collect();
        Calibration::fit(&points, &FitOptions { stocks, ..FitOptions::default() }).map(Arc::new)
    };
    let sources = |calibration: &Arc<Calibration>| {
        let found = calibration.concentration(&Readings::new(&[0.15])).unwrap().estimates().unwrap();
        found.contributions().sources().iter().map(|source| source.key.to_string()).collect::<Vec<_>>()
    };
    let (named, unnamed) = (fit(&["A"]).unwrap(), fit(&[""]).unwrap());
    assert!(sources(&named).contains(&"stock:A".to_owned()));
    assert!(sources(&unnamed).contains(&format!("stock:{}", unnamed.id())));
    assert!(fit(&["A", "B"]).is_ok());
    for twice in [["A", "A"], ["", ""]] {
        assert!(fit(&twice).unwrap_err().to_string().contains("counts once"));
    }
}

#[test]
fn errors_that_change_u_by_a_tenth_are_noticed() {
    let (x, y) = ([0.5, 1.0, 2.0, 3.0, 4.0, 5.0], [0.0573, 0.1012, 0.2331, 0.3198, 0.4531, 0.5377]);
    let points = Points::from_readings(&x, &y).unwrap();
    let noticed = |noise: Noise, u: f64| {
        let fit = Calibration::fit(&points, &options(Shape::Line, noise, StandardsError::independent(&[u]).unwrap()))
            .unwrap();
        let finding = fit.findings().iter().find(|finding| finding.code == Code::StandardsErrorMatters);
        finding.map(|finding| finding.sentence().contains("understate"))
    };
    let sigmas = || Sigmas::new(&[0.0006]).unwrap();
    assert_eq!(noticed(Noise::KnownSigma(sigmas()), 0.0005), None);
    assert_eq!(noticed(Noise::KnownSigma(sigmas()), 0.02), Some(true));
    // The plain fit takes the standards' scatter for the readings'.
    assert_eq!(noticed(Noise::RelativeSigma(sigmas()), 0.02), Some(false));
    // Sigmas that differ say nothing of a new reading; the nearest standard's stands for it.
    let each = Sigmas::new(&[0.0005, 0.0006, 0.0007, 0.0008, 0.0009, 0.001]).unwrap();
    assert_eq!(noticed(Noise::KnownSigma(each), 0.02), Some(true));
}
