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
        let found = fitted(shape, &points, RUNS, 1);
        assert!(found.status.iter().all(|status| *status == ManyStatus::Fitted as u8));
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

/// Neighbours, of which eight are worked out abreast, change no bit: not one that has no solution, nor one that takes
/// long or moves a run to another place.
#[test]
fn a_fit_does_not_depend_on_its_neighbours() {
    let mut stream = Stream::new(6, 0);
    let runs = 21;
    let u: Vec<f64> = LEVELS.iter().map(|x| 0.01 + 0.03 * x).collect();
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for run in 0..runs {
        // Each third run scatters ten times as much and needs more steps.
        let wild = if run % 3 == 0 { 10.0 } else { 1.0 };
        for (level, u) in LEVELS.iter().zip(&u) {
            x.push((level + wild * u * stream.normal()).max(0.0));
            y.push(0.01 + level * (0.21 - 0.01 * level) + wild * 0.002 * stream.normal());
        }
    }
    y[5 * LEVELS.len()] = f64::NAN;
    x[9 * LEVELS.len()..10 * LEVELS.len()].fill(1.0);
    for shape in [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero] {
        let points = |from: usize, to: usize| ManyPoints {
            levels: LEVELS.len(),
            concentration: Levels::Each(&x[from * LEVELS.len()..to * LEVELS.len()]),
            signal: &y[from * LEVELS.len()..to * LEVELS.len()],
            concentration_u: Levels::Row(&u),
            signal_u: Levels::One(0.002),
        };
        let (together, p) = (fitted(shape, &points(0, runs), runs, 1), shape.parameters());
        assert_eq!(together.status[5], ManyStatus::Undetermined as u8);
        let bits = |values: &[f64]| values.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
        for run in 0..runs {
            let alone = fitted(shape, &points(run, run + 1), 1, 1);
            let of = |values: &[f64], each: usize| bits(&values[run * each..(run + 1) * each]);
            assert_eq!(bits(&alone.coefficients), of(&together.coefficients, p), "{shape:?} {run}");
            assert_eq!(bits(&alone.covariance), of(&together.covariance, p * p), "{shape:?} {run}");
            assert_eq!(bits(&alone.chi_squared), of(&together.chi_squared, 1), "{shape:?} {run}");
            assert_eq!(alone.status[0], together.status[run]);
        }
    }
}

/// Enough points that threads are worth it.
#[test]
fn threads_change_no_bit() {
    let (mut stream, runs) = (Stream::new(7, 0), 22_003);
    let y: Vec<f64> = (0..runs)
        .flat_map(|_| LEVELS)
        .map(|level| 0.01 + level * (0.21 - 0.01 * level) + 0.002 * stream.normal())
        .collect();
    let points = ManyPoints {
        levels: LEVELS.len(),
        concentration: Levels::Row(&LEVELS),
        signal: &y,
        concentration_u: Levels::One(0.01),
        signal_u: Levels::One(0.002),
    };
    let one = fitted(Shape::Quadratic, &points, runs, 1);
    assert!(one.status.iter().all(|status| *status == ManyStatus::Fitted as u8));
    for threads in [2, 8] {
        let more = fitted(Shape::Quadratic, &points, runs, threads);
        assert!(more.coefficients == one.coefficients && more.covariance == one.covariance);
        assert!(more.chi_squared == one.chi_squared && more.status == one.status);
    }
}

#[test]
fn figures_beyond_the_range_of_numbers_are_no_curve() {
    let points = ManyPoints {
        levels: 3,
        concentration: Levels::Row(&[0.0, 1.0, 2.0]),
        signal: &[0.0, 1e306, -1e306],
        concentration_u: Levels::One(0.1),
        signal_u: Levels::One(1e-3),
    };
    let found = fitted(Shape::Line, &points, 1, 1);
    assert_eq!(found.status, [ManyStatus::Undetermined as u8]);
    assert!(found.coefficients.iter().chain(&found.covariance).chain(&found.chi_squared).all(|figure| figure.is_nan()));
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
