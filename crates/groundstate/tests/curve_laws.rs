//! Laws that every calibration obeys, whatever the data.
#![allow(missing_docs)]

use std::sync::Arc;

use groundstate::curve::{Calibration, FitOptions, Noise, OnBadCurve, Points, Readings, Shape, Sigmas};
use groundstate::estimate::{Column, Coverage, Dof, IntervalMethod, IntervalSet, Status};
use proptest::prelude::*;

/// Levels, signals and a shape that follows them: a response as flame absorption gives it, bent by up to a quarter
/// at the top, with a little scatter.
fn designs() -> impl Strategy<Value = (Vec<f64>, Vec<f64>, Shape)> {
    let levels = proptest::collection::vec(0.05_f64..1.0, 5..9);
    let scatter = proptest::collection::vec(-1.0_f64..1.0, 9);
    let shapes = prop_oneof![
        Just(Shape::Line),
        Just(Shape::LineThroughZero),
        Just(Shape::Quadratic),
        Just(Shape::QuadraticThroughZero)
    ];
    (levels, scatter, shapes, 0.05_f64..0.3, 0.0_f64..0.25, 0.1_f64..10.0).prop_map(
        |(steps, scatter, shape, slope, bend, unit)| {
            let mut x = 0.0;
            let x: Vec<f64> = steps
                .iter()
                .map(|step| {
                    x += step * unit;
                    x
                })
                .collect();
            let top = x[x.len() - 1];
            let bend = if shape.is_curved() { bend } else { 0.0 };
            let y = x.iter().zip(&scatter);
            let y = y.map(|(x, e)| slope * x * (1.0 - bend * x / (2.0 * top)) + 1e-3 * slope * top * e).collect();
            (x, y, shape)
        },
    )
}

fn fit(x: &[f64], y: &[f64], shape: Shape, noise: Noise) -> Arc<Calibration> {
    let options = FitOptions { shape, noise, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() };
    Arc::new(Calibration::fit(&Points::from_readings(x, y).unwrap(), &options).unwrap())
}

fn close(a: f64, b: f64, relative: f64, scale: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()).max(scale)
}

proptest! {
    /// Ten digits: the inverse loses up to four near the turn, where the slope is a quarter of its start.
    #[test]
    fn inverse_undoes_the_curve((x, y, shape) in designs(), at in 0.0_f64..1.0) {
        let calibration = fit(&x, &y, shape, Noise::Equal);
        prop_assume!(calibration.serves());
        let concentration = at * calibration.top();
        let signal = calibration.response(concentration).value;
        let back = calibration.concentration(&Readings::new(&[signal])).unwrap().get(0).unwrap();
        prop_assert!(close(back.value, concentration, 1e-10, calibration.top()), "{} {}", back.value, concentration);
    }

    #[test]
    fn scaling_both_axes_scales_the_answer((x, y, shape) in designs(), a in 0.01_f64..100.0, b in 0.01_f64..100.0) {
        let scaled = |v: &[f64], by: f64| v.iter().map(|v| v * by).collect::<Vec<_>>();
        let (plain, other) = (fit(&x, &y, shape, Noise::Equal), fit(&scaled(&x, a), &scaled(&y, b), shape, Noise::Equal));
        prop_assume!(plain.serves());
        let signal = y[y.len() / 2];
        let one = plain.concentration(&Readings::new(&[signal])).unwrap().get(0).unwrap();
        let two = other.concentration(&Readings::new(&[signal * b])).unwrap().get(0).unwrap();
        prop_assert!(close(one.value * a, two.value, 1e-9, 0.0) && close(one.u * a, two.u, 1e-9, 0.0));
    }

    #[test]
    fn shifting_the_signals_shifts_only_the_intercept((x, y, _) in designs(), by in -0.5_f64..0.5) {
        let moved: Vec<f64> = y.iter().map(|y| y + by).collect();
        let (one, two) = (fit(&x, &y, Shape::Line, Noise::Equal), fit(&x, &moved, Shape::Line, Noise::Equal));
        prop_assert!(close(one.coefficients()[1], two.coefficients()[1], 1e-11, 0.0));
        prop_assert!(close(one.coefficients()[0] + by, two.coefficients()[0], 1e-11, 1.0));
    }

    #[test]
    fn order_of_points_does_not_matter((x, y, shape) in designs()) {
        let (mut rx, mut ry) = (x.clone(), y.clone());
        rx.reverse();
        ry.reverse();
        let (one, two) = (fit(&x, &y, shape, Noise::Equal), fit(&rx, &ry, shape, Noise::Equal));
        for (a, b) in one.coefficients().iter().zip(two.coefficients()) {
            prop_assert!(close(*a, b, 1e-14, 0.0));
        }
    }

    /// Doubling every reading changes no coefficient, but its scatter is no longer the same estimate.
    #[test]
    fn repeating_readings_keeps_the_curve((x, y, shape) in designs()) {
        let twice = |v: &[f64]| [v, v].concat();
        let (one, two) = (fit(&x, &y, shape, Noise::Equal), fit(&twice(&x), &twice(&y), shape, Noise::Equal));
        for (a, b) in one.coefficients().iter().zip(two.coefficients()) {
            prop_assert!(close(*a, b, 1e-13, 0.0));
        }
        let p = shape.parameters();
        prop_assert_eq!(two.residual_dof() - one.residual_dof(), x.len());
        let ratio = (2.0 * (x.len() - p) as f64 / (2 * x.len() - p) as f64).sqrt();
        prop_assert!(close(two.residual_sd().unwrap(), one.residual_sd().unwrap() * ratio, 1e-11, 0.0));
    }

    #[test]
    fn a_common_factor_of_sigmas_counts_only_when_they_are_known((x, y, shape) in designs(), f in 0.1_f64..10.0) {
        let sigmas: Vec<f64> = x.iter().map(|x| 0.001 + 0.01 * x).collect();
        let scaled: Vec<f64> = sigmas.iter().map(|s| s * f).collect();
        let errors = |noise: fn(Sigmas) -> Noise, s: &[f64]| fit(&x, &y, shape, noise(Sigmas::new(s).unwrap())).standard_errors()[0];
        prop_assert!(close(errors(Noise::RelativeSigma, &sigmas), errors(Noise::RelativeSigma, &scaled), 1e-11, 0.0));
        prop_assert!(close(errors(Noise::KnownSigma, &sigmas) * f, errors(Noise::KnownSigma, &scaled), 1e-11, 0.0));
    }

    #[test]
    fn equal_relative_sigmas_are_no_weights((x, y, shape) in designs()) {
        let weighted = fit(&x, &y, shape, Noise::RelativeSigma(Sigmas::new(&vec![0.3; x.len()]).unwrap()));
        let plain = fit(&x, &y, shape, Noise::Equal);
        for (a, b) in plain.standard_errors().iter().zip(weighted.standard_errors()) {
            prop_assert!(close(*a, b, 1e-12, 0.0));
        }
        prop_assume!(plain.serves());
        let u = |c: &Arc<Calibration>| c.concentration(&Readings::new(&[y[2]])).unwrap().get(0).unwrap().u;
        prop_assert!(close(u(&plain), u(&weighted), 1e-11, 0.0));
    }

    #[test]
    fn covariance_is_positive_semidefinite((x, y, shape) in designs()) {
        let calibration = fit(&x, &y, shape, Noise::Equal);
        let covariance = calibration.covariance();
        for i in 0..covariance.size() {
            for j in 0..covariance.size() {
                let (a, b) = (covariance.get(i, j).unwrap(), covariance.get(j, i).unwrap());
                prop_assert!(close(a, b, 1e-14, 0.0));
                let bound = (covariance.get(i, i).unwrap() * covariance.get(j, j).unwrap()).sqrt();
                prop_assert!(a.abs() <= bound * (1.0 + 1e-12));
            }
        }
    }

    #[test]
    fn intervals_grow_with_coverage_and_hold_the_value((x, y, shape) in designs(), at in 0.2_f64..0.9) {
        let calibration = fit(&x, &y, shape, Noise::Equal);
        prop_assume!(calibration.serves());
        let found = calibration.concentration(&Readings::new(&[calibration.response(at * calibration.top()).value])).unwrap();
        let value = found.get(0).unwrap().value;
        for method in [IntervalMethod::Delta, IntervalMethod::Inversion] {
            let of = |p: f64| found.interval(Coverage::new(p).unwrap(), method).sets[0];
            let (narrow, wide) = (of(0.8), of(0.99));
            prop_assert!(narrow.contains(value) && wide.contains(value), "{narrow:?} {wide:?} {value}");
            if let (IntervalSet::Between { lo, hi }, IntervalSet::Between { lo: wl, hi: wh }) = (narrow, wide) {
                prop_assert!(wl <= lo && hi <= wh);
            }
        }
    }

    /// Contributions are the uncertainty: they give back the u that the kernel computed, and the same degrees of
    /// freedom; covariances of results stay within Cauchy and Schwarz.
    #[test]
    fn contributions_give_back_u((x, y, shape) in designs(), zero_u in 0.0_f64..0.002) {
        use groundstate::curve::{Stock, Zeroing};
        let options = FitOptions {
            shape,
            zeroing: Zeroing::BlankSubtracted(zero_u),
            stocks: vec![Stock { name: "A".into(), relative_u: 0.004 }],
            on_bad_curve: OnBadCurve::Flag,
            ..FitOptions::default()
        };
        let calibration = Arc::new(Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &options).unwrap());
        prop_assume!(calibration.serves());
        let found = calibration.concentration(&Readings::new(&y).replicates(Column::One(3))).unwrap();
        let estimates = found.estimates().unwrap();
        for (i, estimate) in estimates.iter().enumerate() {
            let direct = found.get(i).unwrap();
            if direct.status.has_value() {
                prop_assert!(close(estimate.u, direct.u, 1e-12, 0.0), "{} {}", estimate.u, direct.u);
                prop_assert!(close(estimate.dof.get(), direct.dof.get(), 1e-9, 0.0));
                let shares: f64 = estimates.contributions().budget(i).iter().map(|line| line.share).sum();
                prop_assert!(close(shares, 1.0, 1e-12, 0.0));
                let c = estimates.contributions().covariance(0, i);
                let bound = estimates.contributions().u(0) * estimate.u;
                prop_assert!(c.abs() <= bound * (1.0 + 1e-12));
            }
        }
    }
}

/// Both signs of curvature, and curvature going to zero, where the textbook root cancels.
#[test]
fn the_root_is_stable_for_any_curvature() {
    let x = [0.5, 1.0, 2.0, 4.0, 6.0, 8.0];
    for curvature in [-5e-3, -1e-6, -1e-12, 0.0, 1e-12, 1e-6, 5e-3] {
        let y: Vec<f64> = x.iter().map(|x| 0.002 + 0.11 * x + curvature * x * x).collect();
        let calibration = fit(&x, &y, Shape::Quadratic, Noise::KnownSigma(Sigmas::new(&[0.001]).unwrap()));
        for target in [0.01, 1.0, 7.5] {
            let signal = 0.002 + target * (0.11 + curvature * target);
            let found = calibration.concentration(&Readings::new(&[signal])).unwrap().get(0).unwrap();
            // The data are rounded to 1e-16 of about 0.5; at 0.01 that is 12 digits.
            assert!(close(found.value, target, 1e-11, 0.0), "{curvature}: {} {target}", found.value);
        }
    }
}

/// Fieller's set of a line whose slope is hardly there: half lines, the whole line, never a plausible number.
#[test]
fn sets_open_up_as_the_slope_fades() {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0];
    let kind = |y: [f64; 5], signal: f64| {
        let calibration = fit(&x, &y, Shape::Line, Noise::Equal);
        let found = calibration.concentration(&Readings::new(&[signal])).unwrap();
        found.interval(Coverage::P95, IntervalMethod::Inversion).sets[0]
    };
    assert!(kind([0.11, 0.20, 0.31, 0.40, 0.51], 0.25).is_finite());
    let noisy = [0.11, 0.05, 0.13, 0.04, 0.12];
    assert_eq!(kind(noisy, 0.09), IntervalSet::Whole);
    assert!(matches!(kind(noisy, 5.0), IntervalSet::Outside { .. }));
}

#[test]
fn readings_beyond_the_turn_have_no_value_and_say_so() {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0];
    let y: Vec<f64> = x.iter().map(|x| 0.2 * x - 0.018 * x * x).collect();
    let calibration = fit(&x, &y, Shape::QuadraticThroughZero, Noise::KnownSigma(Sigmas::new(&[0.001]).unwrap()));
    let ceiling = calibration.ceiling().unwrap();
    let found = calibration.concentration(&Readings::new(&[ceiling + 0.01, ceiling - 0.002, f64::NAN, -0.01])).unwrap();
    let statuses: Vec<Status> = found.statuses().to_vec();
    assert_eq!(statuses, [Status::BeyondCurve, Status::AboveTop, Status::NoReading, Status::Negative]);
    for (value, status) in found.values().iter().zip(statuses) {
        assert_eq!(value.is_nan(), !status.has_value());
    }
}

/// The reading part of a sample of m' readings, where points are standards of m: s² - s_r²/m + s_r²/m', never below
/// s_r²/m'. Once with standards that differ by more than their readings scatter, once by less, where the floor acts.
#[test]
fn the_reading_part_follows_the_numbers_of_replicates() {
    let levels = [0.5, 1.0, 2.0, 4.0];
    let disagreeing = [[0.054, 0.056], [0.113, 0.116], [0.218, 0.215], [0.437, 0.443]];
    let scattered = [[0.054, 0.056], [0.110, 0.113], [0.221, 0.218], [0.437, 0.443]];
    for (signals, floored) in [(disagreeing, false), (scattered, true)] {
        let points = Points::from_standards(&levels, &signals).unwrap();
        let calibration = Arc::new(Calibration::fit(&points, &FitOptions::default()).unwrap());
        let s2 = calibration.residual_sd().unwrap().squared();
        let within: f64 = signals.iter().map(|s| (s[0] - s[1]).squared() / 2.0).sum::<f64>() / 4.0;
        assert_eq!(s2 < within / 2.0, floored);
        let slope = calibration.coefficients()[1];
        for m in [1, 2, 5] {
            let found = calibration.concentration(&Readings::new(&[0.2]).replicates(Column::One(m))).unwrap();
            let estimate = found.get(0).unwrap();
            let curve = calibration.response(estimate.value).u.squared();
            let reading = (s2 + within * (1.0 / f64::from(m) - 0.5)).max(within / f64::from(m));
            assert!(close((estimate.u * slope).squared(), curve + reading, 1e-12, 0.0), "{m} {floored}");
            if !floored {
                // Welch-Satterthwaite over the two variance estimates, the second taken off where m > 2.
                let extra = within * (1.0 / f64::from(m) - 0.5);
                let expected = (curve + s2 + extra).squared() / ((curve + s2).squared() / 2.0 + extra.squared() / 4.0);
                assert!(close(estimate.dof.get(), expected, 1e-12, 0.0), "{} {expected}", estimate.dof.get());
                let stored = found.estimates().unwrap().get(0).unwrap();
                assert!(close(stored.dof.get(), expected, 1e-12, 0.0) && close(stored.u, estimate.u, 1e-14, 0.0));
            }
            if m == 2 && !floored {
                // Nothing but the residual variance is in it: exactly n - p.
                assert_eq!(estimate.dof, Dof::count(2));
            }
        }
    }
}

trait Square {
    fn squared(self) -> Self;
}

impl Square for f64 {
    fn squared(self) -> f64 {
        self * self
    }
}

/// Points that lie on a curve to the last bit leave a set no wider than rounding, but never an empty one.
#[test]
fn the_set_of_a_perfect_fit_holds_its_estimate() {
    let (x, y) = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [0.1, 0.19, 0.27, 0.34, 0.40, 0.45]);
    let calibration = fit(&x, &y, Shape::Quadratic, Noise::Equal);
    let found = calibration.concentration(&Readings::new(&[0.15, 0.3, 0.44])).unwrap();
    let sets = found.interval(Coverage::P95, IntervalMethod::Inversion).sets;
    for (value, set) in found.values().iter().zip(sets) {
        assert!(set.contains(*value) && set.is_finite(), "{value} {set:?}");
    }
}

/// Common practice, no source: copper reads near 0.15 at 1 mg/L and near 0.60 at 5 mg/L, a response that is bent and
/// still serves; and no third-order curve is offered for it.
#[test]
fn a_bent_copper_response_is_usable() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    // The curve without intercept through the two figures, with a step of the display as scatter.
    let bent = |x: f64| 0.1575 * x - 0.0075 * x * x;
    let y: Vec<f64> = x.iter().zip([1.0, -1.0, 1.0, 1.0, -1.0, 1.0]).map(|(x, e)| bent(*x) + 1e-4 * e).collect();
    let calibration = fit(&x, &y, Shape::Quadratic, Noise::Equal);
    assert!(calibration.serves() && calibration.is_monotonic());
    assert!(calibration.turning_point().is_some_and(|turning| turning > 5.0));
    let found = calibration.concentration(&Readings::new(&[0.15, 0.60])).unwrap();
    for (value, expected) in found.values().iter().zip([1.0, 5.0]) {
        assert!((value - expected).abs() < 0.01, "{value}");
    }
    assert!(fit(&x, &y, Shape::Line, Noise::Equal).mandel().is_some_and(|test| test.p < 1e-6));
    let refused = Shape::parse("cubic").unwrap_err().to_string();
    assert!(refused.contains("not offered"), "{refused}");
}

/// A curve that its points fix exactly has nothing to estimate a u from: none is given, and never one of 0.
#[test]
fn without_scatter_there_is_no_u_in_any_table() {
    let line = fit(&[0.0, 1.0], &[0.1, 0.2], Shape::Line, Noise::Equal);
    let through_zero = fit(&[1.0], &[0.1], Shape::LineThroughZero, Noise::Equal);
    for calibration in [line, through_zero] {
        let found = calibration.concentration(&Readings::new(&[0.15, 0.0])).unwrap();
        let estimates = found.estimates().unwrap();
        for i in 0..2 {
            for estimate in [found.get(i).unwrap(), estimates.get(i).unwrap()] {
                assert!(estimate.value.is_finite() && estimate.u.is_nan(), "{estimate:?}");
                assert!(estimate.dof.get() <= 0.0, "{estimate:?}");
            }
        }
    }
}
