//! Many fits with errors in both variables at once, against each of them in double-double.
#![allow(missing_docs)]

use std::num::NonZeroUsize;

use approx::assert_relative_eq;
use groundstate::curve::{
    Calibration, FitOptions, Levels, ManyOut, ManyPoints, ManyStatus, Noise, OnBadCurve, Points, Shape, Sigmas,
    StandardsError, fit_many,
};
use groundstate::numeric::stream::Stream;

const LEVELS: [f64; 6] = [0.0, 0.2, 0.5, 1.0, 2.0, 3.0];
const RUNS: usize = 600;

struct Found {
    coefficients: Vec<f64>,
    covariance: Vec<f64>,
    chi_squared: Vec<f64>,
    status: Vec<u8>,
}

fn fitted(shape: Shape, points: &ManyPoints<'_>, runs: usize, threads: usize) -> Found {
    let p = shape.parameters();
    let mut found = Found {
        coefficients: vec![9.0; runs * p],
        covariance: vec![9.0; runs * p * p],
        chi_squared: vec![9.0; runs],
        status: vec![9; runs],
    };
    let out = ManyOut {
        coefficients: &mut found.coefficients,
        covariance: &mut found.covariance,
        chi_squared: &mut found.chi_squared,
        status: &mut found.status,
    };
    fit_many(shape, points, NonZeroUsize::new(threads).unwrap(), out).unwrap();
    found
}

#[test]
fn each_is_the_exact_solution_to_1e_9() {
    let shapes = [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero];
    for shape in shapes {
        let mut stream = Stream::new(5, 0);
        let u: Vec<f64> = LEVELS.iter().map(|x| 0.004 + 0.01 * x).collect();
        let signal_u = 0.002;
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for _ in 0..RUNS {
            for (level, u) in LEVELS.iter().zip(&u) {
                let bend = if shape.is_curved() { -0.01 } else { 0.0 };
                let offset = if shape.through_zero() { 0.0 } else { 0.01 };
                x.push((level + u * stream.normal()).max(0.0));
                y.push(offset + level * (0.21 + bend * level) + signal_u * stream.normal());
            }
        }
        let points = ManyPoints {
            levels: LEVELS.len(),
            concentration: Levels::Each(&x),
            signal: &y,
            concentration_u: Levels::Row(&u),
            signal_u: Levels::One(signal_u),
        };
        let found = fitted(shape, &points, RUNS, 2);
        assert!(found.status.iter().all(|status| *status == ManyStatus::Fitted as u8));
        let alone = fitted(shape, &points, RUNS, 1);
        assert_eq!((alone.coefficients, alone.covariance), (found.coefficients.clone(), found.covariance.clone()));
        let options = FitOptions {
            shape,
            noise: Noise::KnownSigma(Sigmas::new(&[signal_u]).unwrap()),
            standards_error: StandardsError::independent(&u).unwrap(),
            on_bad_curve: OnBadCurve::Flag,
            ..FitOptions::default()
        };
        let p = shape.parameters();
        for run in 0..RUNS {
            let here = run * LEVELS.len()..(run + 1) * LEVELS.len();
            let one = Calibration::fit(&Points::from_readings(&x[here.clone()], &y[here]).unwrap(), &options).unwrap();
            let (expected, covariance) = (one.coefficients(), one.covariance());
            for (i, expected) in expected.iter().enumerate() {
                // Against its own standard error, which a coefficient near zero is no smaller than.
                let u = covariance.get(i, i).unwrap().sqrt();
                let error = (found.coefficients[run * p + i] - expected).abs();
                assert!(error <= 1e-9 * expected.abs().max(u), "{shape:?} {run} {i}: {error:e}");
                for j in 0..p {
                    let scale = u * covariance.get(j, j).unwrap().sqrt();
                    let error = (found.covariance[(run * p + i) * p + j] - covariance.get(i, j).unwrap()).abs();
                    assert!(error <= 1e-9 * scale, "{shape:?} {run} {i} {j}: {error:e}");
                }
            }
            assert_relative_eq!(
                found.chi_squared[run],
                one.chi_squared().unwrap(),
                max_relative = 1e-8,
                epsilon = 1e-9
            );
        }
    }
}

#[test]
fn what_has_no_solution_says_so() {
    let points = ManyPoints {
        levels: 3,
        concentration: Levels::Each(&[0.0, 1.0, 2.0, 1.0, 1.0, 1.0, 0.0, 1.0, f64::NAN]),
        signal: &[0.0, 0.1, 0.2, 0.0, 0.1, 0.2, 0.0, 0.1, 0.2],
        concentration_u: Levels::One(0.0),
        signal_u: Levels::One(0.001),
    };
    let found = fitted(Shape::Line, &points, 3, 1);
    assert_eq!(found.status, [0, 2, 2]);
    assert!(found.coefficients[2..].iter().all(|b| b.is_nan()) && found.chi_squared[1].is_nan());
    assert_relative_eq!(found.coefficients[1], 0.1, max_relative = 1e-13);
}

#[test]
fn what_does_not_go_together_is_refused() {
    let good = ManyPoints {
        levels: 3,
        concentration: Levels::Row(&[0.0, 1.0, 2.0]),
        signal: &[0.0, 0.1, 0.2],
        concentration_u: Levels::One(0.01),
        signal_u: Levels::One(0.001),
    };
    let refused = |shape: Shape, points: &ManyPoints<'_>, runs: usize| {
        let p = shape.parameters();
        let (mut a, mut b, mut c, mut d) =
            (vec![0.0; runs * p], vec![0.0; runs * p * p], vec![0.0; runs], vec![0; runs]);
        let out = ManyOut { coefficients: &mut a, covariance: &mut b, chi_squared: &mut c, status: &mut d };
        fit_many(shape, points, NonZeroUsize::MIN, out).unwrap_err().to_string()
    };
    assert!(refused(Shape::StrayLight, &good, 1).contains("stray light"));
    assert!(refused(Shape::Line, &good, 2).contains("an array of 4 elements where 2 are needed"));
    let row = Levels::Row(&[0.0, 1.0]);
    assert!(
        refused(Shape::Line, &ManyPoints { concentration: row, ..good }, 1).contains("do not go with 1 calibrations")
    );
    let none = Levels::One(0.0);
    assert!(refused(Shape::Line, &ManyPoints { signal_u: none, ..good }, 1).contains("above 0"));
    let negative = Levels::One(-0.1);
    assert!(refused(Shape::Line, &ManyPoints { concentration_u: negative, ..good }, 1).contains("from 0 up"));
    assert!(refused(Shape::Quadratic, &ManyPoints { levels: 2, ..good }, 1).contains("2 levels"));
}
