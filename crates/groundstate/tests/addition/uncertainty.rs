//! Standard uncertainties and coverage sets against formulas written out here.

use groundstate::addition::{Aliquot, Series, SeriesOptions, Volumes};
use groundstate::curve::{Noise, Points, ReplicateModel, Sigmas, Stock, Zeroing};
use groundstate::estimate::{Coverage, Dof, IntervalMethod, IntervalSet, Status};
use groundstate::finding::Code;
use groundstate::glassware::Measured;

use super::{SILVER, codes, fit, near, plain, silver, textbook};

/// (s/b) sqrt(1/n + ybar²/(b² Sxx)): the textbook extrapolation, without a part for a reading.
#[test]
fn u_is_that_of_the_extrapolated_point_alone() {
    let line = textbook(&SILVER.0, &SILVER.1);
    let by_hand = line.s / line.b * (1.0 / line.n + line.mean_y * line.mean_y / (line.b * line.b * line.sxx)).sqrt();
    let estimate = silver().estimate();
    near(estimate.value, line.a / line.b, 1e-13);
    // The textbook sums lose two digits in s.
    near(estimate.u, by_hand, 1e-12);
    assert_eq!(estimate.dof, Dof::count(5));
}

/// The same with the delta method on the covariance matrix of intercept and slope, for a weighted series.
#[test]
fn u_follows_from_the_covariance_of_a_weighted_line() {
    let sigma = [0.004, 0.005, 0.006, 0.007, 0.008, 0.009, 0.010];
    for (noise, dof) in [
        (Noise::KnownSigma(Sigmas::new(&sigma).unwrap()), Dof::INFINITE),
        (Noise::RelativeSigma(Sigmas::new(&sigma).unwrap()), Dof::count(5)),
    ] {
        let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { noise, ..SeriesOptions::default() });
        let (c, v) = (series.coefficients(), series.covariance());
        let (x, v) = (c[0] / c[1], |i, j| v.get(i, j).unwrap());
        let variance = (v(0, 0) - 2.0 * x * v(0, 1) + x * x * v(1, 1)) / (c[1] * c[1]);
        let estimate = series.estimate();
        near(estimate.value, x, 1e-14);
        near(estimate.u, variance.sqrt(), 1e-12);
        assert_eq!(estimate.dof, dof);
    }
    // Known sigmas: the covariance itself by the normal equations, from the definition.
    let w = sigma.map(|sigma| 1.0 / (sigma * sigma));
    let sum = |power: i32| (0..7).map(|i| w[i] * libm::pow(SILVER.0[i], f64::from(power))).sum::<f64>();
    let determinant = sum(0) * sum(2) - sum(1) * sum(1);
    let noise = Noise::KnownSigma(Sigmas::new(&sigma).unwrap());
    let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { noise, ..SeriesOptions::default() });
    near(series.covariance().get(0, 0).unwrap(), sum(2) / determinant, 1e-12);
    near(series.covariance().get(1, 1).unwrap(), sum(0) / determinant, 1e-12);
}

/// Fieller's set by its quadratic, from the textbook sums: (a - x b)² = t² s² (1/n + (x + xbar)²/Sxx).
#[test]
fn the_inversion_set_is_fiellers() {
    let line = textbook(&SILVER.0, &SILVER.1);
    let mean_x = 15.0;
    let t = 2.570_581_835_636_314; // t(0.975, 5)
    let k = t * t * line.s * line.s;
    let a = line.b * line.b - k / line.sxx;
    let b = -2.0 * (line.a * line.b + k * mean_x / line.sxx);
    let c = line.a * line.a - k * (1.0 / line.n + mean_x * mean_x / line.sxx);
    let root = (b * b - 4.0 * a * c).sqrt();
    let (lo, hi) = silver().interval(Coverage::P95, IntervalMethod::Inversion).ends();
    near(lo, (-b - root) / (2.0 * a), 1e-11);
    near(hi, (-b + root) / (2.0 * a), 1e-11);
    // The set is longer on the side away from the data.
    let value = silver().estimate().value;
    assert!(hi - value > value - lo);
}

#[test]
fn a_slope_lost_in_scatter_bounds_nothing() {
    let series = plain(&[0.0, 1.0, 2.0, 3.0], &[0.10, 0.13, 0.08, 0.12]);
    let estimate = series.estimate();
    assert!(estimate.status.has_value() && estimate.value > 0.0);
    let set = series.interval(Coverage::P95, IntervalMethod::Inversion);
    assert!(!set.is_finite() && set.contains(estimate.value), "{set:?}");
    assert!(codes(series.findings()).contains(&Code::ExtrapolationUnbounded));
}

/// A common error of all signals moves the intercept and nothing cancels it: u(blank)/b joins in quadrature.
#[test]
fn the_blank_does_not_cancel() {
    let zeroing = Zeroing::BlankSubtracted(0.003);
    let with = fit(&SILVER.0, &SILVER.1, &SeriesOptions { zeroing, ..SeriesOptions::default() });
    let (with, without) = (with.estimate(), silver().estimate());
    let blank = 0.003 / textbook(&SILVER.0, &SILVER.1).b;
    near(with.value, without.value, 1e-15);
    near(with.u, (without.u * without.u + blank * blank).sqrt(), 1e-13);
    // Welch-Satterthwaite with a known part.
    let share = without.u * without.u / (with.u * with.u);
    near(with.dof.get(), 5.0 / (share * share), 1e-12);
    // The point without an addition is no zero standard: it stays.
    let all = fit(&SILVER.0, &SILVER.1, &SeriesOptions { zeroing, ..SeriesOptions::default() });
    assert_eq!(all.line().points().len(), 7);
}

fn changing(y: &[f64], v0: f64, options: &SeriesOptions) -> Series {
    let initial = Measured::new("initial", v0, 0.05).unwrap();
    let volumes = Volumes::Changing { initial, added: vec![0.0, 0.1, 0.2, 0.35, 0.5] };
    // 1000 mg/L added: amounts in micrograms.
    fit(&[0.0, 100.0, 200.0, 350.0, 500.0], y, &SeriesOptions { volumes, ..options.clone() })
}

const GROWING: [f64; 5] = [0.151, 0.2235, 0.298, 0.4015, 0.503];

/// u of V0, blank and stock by differences of the whole evaluation.
#[test]
fn every_known_source_has_the_contribution_that_moving_it_shows() {
    let stocks = vec![Stock { name: "A".into(), relative_u: 0.01 }];
    let options = SeriesOptions { stocks, zeroing: Zeroing::Autozeroed(0.002), ..SeriesOptions::default() };
    let series = changing(&GROWING, 20.0, &options);
    let table = series.estimates().contributions();
    // Every source has a contribution here, so row and sources go together.
    let named = |name: &str| {
        table.row(0).zip(table.sources()).find(|(_, source)| source.key.to_string().contains(name)).unwrap().0.1
    };
    let value = |y: &[f64], v0: f64| changing(y, v0, &SeriesOptions::default()).estimate().value;
    let step = 1e-4;
    // The differences hold ten digits in the step of 1e-4, so six of the slope.
    let of_v0 = (value(&GROWING, 20.0 + step) - value(&GROWING, 20.0 - step)) / (2.0 * step) * 0.05;
    near(named("aliquot_1"), of_v0, 1e-2);
    let lifted = |by: f64| GROWING.map(|y| y + by);
    let of_blank = -(value(&lifted(step), 20.0) - value(&lifted(-step), 20.0)) / (2.0 * step) * 0.002;
    near(named("zero:"), of_blank, 1e-6);
    near(named("stock:A"), 0.01 * series.estimate().value, 1e-13);
    let scatter = changing(&GROWING, 20.0, &SeriesOptions::default());
    let table = scatter.estimates().contributions();
    let residual: f64 = table
        .row(0)
        .zip(table.sources())
        .filter(|(_, s)| s.key.to_string().starts_with("calibration"))
        .map(|((_, c), _)| c * c)
        .sum();
    near(scatter.estimate().u, (residual + of_v0 * of_v0).sqrt(), 1e-3);
}

/// Ideal signals k (N + A)/(V0 + v) give back N/V0 whatever the volumes do.
#[test]
fn a_growing_volume_is_corrected() {
    let (native, k) = (300.0, 0.01);
    let amounts = [0.0, 100.0, 200.0, 350.0, 500.0];
    let volumes = [0.0, 0.1, 0.2, 0.35, 0.5];
    let y: Vec<f64> = amounts.iter().zip(volumes).map(|(a, v)| k * (native + a) / (20.0 + v)).collect();
    let series = changing(&y, 20.0, &SeriesOptions::default());
    near(series.estimate().value, native / 20.0, 1e-12);
    // Without the correction it would be off by about the relative growth.
    let uncorrected = plain(&amounts.map(|a| a / 20.0), &y).estimate().value;
    assert!((uncorrected / 15.0 - 1.0).abs() > 0.02, "{uncorrected}");
}

/// Equal scatter of the signals as measured: weights (V0/V)² in the corrected line, from the definition.
#[test]
fn a_growing_volume_lowers_the_weight_of_later_signals() {
    let series = changing(&GROWING, 2.0, &SeriesOptions::default());
    for (weight, v) in series.line().weights().iter().zip([0.0, 0.1, 0.2, 0.35, 0.5]) {
        near(*weight, (2.0 / (2.0 + v)) * (2.0 / (2.0 + v)), 1e-14);
    }
    let sigma = Noise::KnownSigma(Sigmas::new(&[0.002]).unwrap());
    let known = changing(&GROWING, 2.0, &SeriesOptions { noise: sigma, ..SeriesOptions::default() });
    near(known.line().weights()[4], 1.0 / (0.002 * 1.25 * 0.002 * 1.25), 1e-13);
}

/// Weights by the whole concentration: the estimate is the weighted line whose weights it gives itself.
#[test]
fn weights_by_concentration_hold_what_was_found() {
    for (noise, power) in [(Noise::InverseX, 0.5), (Noise::InverseX2, 1.0)] {
        let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { noise, ..SeriesOptions::default() });
        let found = series.estimate().value;
        let sigmas: Vec<f64> = SILVER.0.iter().map(|x| libm::pow(found + x, power)).collect();
        let noise = Noise::RelativeSigma(Sigmas::new(&sigmas).unwrap());
        let again = fit(&SILVER.0, &SILVER.1, &SeriesOptions { noise, ..SeriesOptions::default() });
        near(again.estimate().value, found, 1e-12);
        near(again.estimate().u, series.estimate().u, 1e-11);
        assert!(!codes(series.findings()).contains(&Code::NoiseFloor));
    }
    // A native next to nothing: the weight of the first point is held at the smallest addition.
    let x = [0.0, 1.0, 2.0, 3.0];
    let noise = Noise::InverseX2;
    let series = fit(&x, &[0.001, 0.1, 0.202, 0.297], &SeriesOptions { noise, ..SeriesOptions::default() });
    assert!(codes(series.findings()).contains(&Code::NoiseFloor));
    let w = series.line().weights();
    assert!(w[0] / w[1] < 1.1, "{w:?}");
}

#[test]
fn the_sample_gets_the_volumes_as_sources() {
    let aliquot = Aliquot {
        sample: Measured::new("sample", 10.0, 0.02).unwrap().with_item("pipette 10").unwrap(),
        made_up_to: Measured::new("made_up_to", 50.0, 0.05).unwrap(),
    };
    let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { aliquot: Some(aliquot), ..SeriesOptions::default() });
    let (solution, sample) = (series.estimate(), series.sample().unwrap());
    near(sample.value, 5.0 * solution.value, 1e-15);
    let relative = |u: f64, value: f64| (u / value) * (u / value);
    let total = relative(solution.u, solution.value) + relative(0.02, 10.0) + relative(0.05, 50.0);
    near(sample.u, sample.value * total.sqrt(), 1e-13);
    let [set, delta] = [IntervalMethod::Inversion, IntervalMethod::Delta]
        .map(|method| series.sample_interval(Coverage::P95, method).unwrap().ends());
    assert!(set.0 < sample.value && sample.value < set.1);
    near(set.1 - set.0, delta.1 - delta.0, 0.05);
    assert!(silver().sample().is_none());
}

/// Means of solutions read unequally often count once each; replicates give the scatter of readings alone.
#[test]
fn solutions_and_replicates() {
    let x = [0.0, 10.0, 20.0, 30.0];
    let readings = [vec![0.320, 0.323, 0.317], vec![0.520, 0.516], vec![0.700, 0.704, 0.702], vec![0.888, 0.890]];
    let means: Vec<f64> = readings.iter().map(|r| r.iter().sum::<f64>() / r.len() as f64).collect();
    let points = Points::from_standards(&x, &readings).unwrap();
    let by_solution = Series::fit(&points, &SeriesOptions::default()).unwrap();
    near(by_solution.estimate().u, plain(&x, &means).estimate().u, 1e-11);
    assert_eq!(by_solution.estimate().dof, Dof::count(2));
    let noise = Noise::FromReplicates(ReplicateModel::Pooled);
    let pooled = Series::fit(&points, &SeriesOptions { noise: noise.clone(), ..SeriesOptions::default() }).unwrap();
    assert_eq!(pooled.estimate().dof, Dof::count(6));
    let initial = Measured::exact("initial", 20.0).unwrap();
    let volumes = Volumes::Changing { initial, added: vec![0.0, 0.1, 0.2, 0.3] };
    let error = Series::fit(&points, &SeriesOptions { noise, volumes, ..SeriesOptions::default() }).unwrap_err();
    assert!(error.to_string().contains("changing volume"), "{error}");
}

/// Two points and no sigma: a value, and no standard uncertainty rather than none at all.
#[test]
fn two_points_have_a_value_and_no_u() {
    let series = plain(&[0.0, 1.0], &[0.1, 0.2]);
    let estimate = series.estimate();
    near(estimate.value, 1.0, 1e-14);
    assert!(estimate.u.is_nan() && estimate.dof == Dof::NONE && estimate.status == Status::InRange);
    for method in [IntervalMethod::Delta, IntervalMethod::Inversion] {
        assert_eq!(series.interval(Coverage::P95, method), IntervalSet::Whole);
    }
    assert!(codes(series.findings()).contains(&Code::NoScatterLeft) && series.r().is_none());
    // With a sample's volumes beside it, still none.
    let volume = |v| Measured::new("volume", v, 0.1).unwrap();
    let aliquot = Some(Aliquot { sample: volume(10.0), made_up_to: volume(50.0) });
    let series = fit(&[0.0, 1.0], &[0.1, 0.2], &SeriesOptions { aliquot, ..SeriesOptions::default() });
    assert!(series.sample().unwrap().u.is_nan());
}
