//! Monte Carlo against published distributions, against first-order propagation, and against itself.
#![cfg(feature = "text")]
#![allow(missing_docs)]

use std::num::NonZeroUsize;
use std::sync::Arc;

use groundstate::curve::{
    Calibration, FitOptions, Noise, Points, Readings, Shape, Sigmas, StandardsError, Stock, Zero, Zeroing,
};
use groundstate::error::Kind;
use groundstate::estimate::{Column, Coverage, Dof, SourceKind};
use groundstate::method::{ExtraFactor, Method};
use groundstate::numeric::stream::Stream;
use groundstate::reduce::reduce;
use groundstate::run::Run;
use groundstate::simulate::{
    self, Distribution, Ended, Form, Of, Scatter, SimulateOptions, Simulated, Simulation, Tolerance, Trials, additive,
    of_calibration,
};

const WATER: &str = include_str!("../../../python/groundstate/demo/roof_water.csv");
const WATER_METHOD: &str = include_str!("../../../python/groundstate/demo/roof_water.toml");
const SEDIMENT: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.csv");
const SEDIMENT_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.toml");

/// Figures are held to five of their own standard deviations: with a fixed seed this is no matter of luck, and an
/// error of a few per cent in any standard deviation would show.
const SIGMAS: f64 = 5.0;
const MANY: usize = 204_800;

fn options(trials: usize) -> SimulateOptions {
    SimulateOptions::seeded(20_260_112).fixed(trials)
}

/// Holds mean, u and interval of a simulated result to the first-order ones; `second_order` is what the model's
/// curvature may add, relative to u.
fn agrees(result: &Simulated, options: &SimulateOptions, second_order: f64) {
    let (first, found) = (result.first_order, result.distribution.as_ref().unwrap());
    let accuracy = found.accuracy.unwrap();
    let allowed = |error: f64| SIGMAS * error + second_order * first.u;
    let dof = first.dof.get();
    let wider = if options.scatter == Scatter::StudentT && dof.is_finite() { (dof / (dof - 2.0)).sqrt() } else { 1.0 };
    let k = match options.scatter {
        Scatter::StudentT => first.dof.coverage_factor(options.coverage),
        Scatter::Normal => Dof::INFINITE.coverage_factor(options.coverage),
    };
    let close = |what: &str, a: f64, b: f64, error: f64| {
        assert!((a - b).abs() <= allowed(error), "{what} {a} {b} {error} {first:?}");
    };
    close("mean", found.mean.unwrap(), first.value, accuracy.mean);
    close("u", found.u.unwrap(), first.u * wider, accuracy.u);
    close("low", found.symmetric.low, first.value - k * first.u, accuracy.low);
    close("high", found.symmetric.high, first.value + k * first.u, accuracy.high);
    assert!(accuracy.u < 0.01 * first.u, "the check would see little");
}

/// The additive model of JCGM 101:2008, 9.2: figures recomputed to 20 digits from the exact distribution of the sum.
#[test]
fn the_additive_model_has_its_exact_intervals() {
    let case: serde_json::Value =
        serde_json::from_str(include_str!("../../../python/groundstate/cases/jcgm101-additive-model.json")).unwrap();
    let exact = |key: &str| case["expected"][key].as_str().unwrap().parse::<f64>().unwrap();
    let normal = Distribution::normal(0.0, 1.0).unwrap();
    let rectangular = |u: f64| Distribution::rectangular(-u * 3.0_f64.sqrt(), u * 3.0_f64.sqrt()).unwrap();
    let unequal = [rectangular(1.0), rectangular(1.0), rectangular(1.0), rectangular(10.0)];
    let cases: [(&[Distribution], f64, f64, bool); 3] = [
        (&[normal; 4], exact("equal.u"), exact("equal.half_width_normal"), true),
        (&[rectangular(1.0); 4], exact("equal.u"), exact("equal.half_width_exact"), true),
        (&unequal, exact("unequal.u"), exact("unequal.half_width_exact"), false),
    ];
    for (inputs, u, half, validated) in cases {
        let simulation = additive(inputs, &SimulateOptions { comparison_figures: 2, ..options(5 * MANY) }).unwrap();
        let result = &simulation.results[0];
        let found = result.distribution.as_ref().unwrap();
        let accuracy = found.accuracy.unwrap();
        assert!((result.first_order.u - u).abs() < 1e-12);
        assert!(found.mean.unwrap().abs() <= SIGMAS * accuracy.mean);
        assert!((found.u.unwrap() - u).abs() <= SIGMAS * accuracy.u);
        assert!((found.symmetric.low + half).abs() <= SIGMAS * accuracy.low, "{:?}", found.symmetric);
        assert!((found.symmetric.high - half).abs() <= SIGMAS * accuracy.high, "{:?}", found.symmetric);
        // The shortest one is no longer, and by symmetry hardly shorter.
        let length = |interval: groundstate::simulate::Interval| interval.high - interval.low;
        let (short, symmetric) = (length(found.shortest), length(found.symmetric));
        assert!(short <= symmetric && short > symmetric - 20.0 * (accuracy.low + accuracy.high));
        // To two digits: 3.92 against 3.88 is within 0.05, 19.9 against 17.0 is not within 0.5.
        assert_eq!(result.comparison.unwrap().validated, validated);
    }
}

#[test]
fn forms_have_the_standard_uncertainty_they_are_given() {
    let trapezoid = Form::Trapezoidal { top: 0.5 };
    for form in [Form::Normal, Form::Rectangular, Form::Triangular, trapezoid, Form::StudentT { dof: 12.0 }] {
        let one = Distribution::new(form, 3.0, 0.2).unwrap();
        let simulation = additive(&[one], &options(MANY)).unwrap();
        let found = simulation.results[0].distribution.as_ref().unwrap();
        let accuracy = found.accuracy.unwrap();
        // sqrt(12/10) of a t on 12 degrees of freedom.
        let wider = if matches!(form, Form::StudentT { .. }) { 1.2_f64.sqrt() } else { 1.0 };
        assert!((found.u.unwrap() - 0.2 * wider).abs() <= SIGMAS * accuracy.u, "{form:?} {found:?}");
        assert!((found.mean.unwrap() - 3.0).abs() <= SIGMAS * accuracy.mean);
    }
    assert!((Distribution::triangular(-6.0, 6.0).unwrap().u() - 6.0_f64.sqrt()).abs() < 1e-15);
    assert!((Distribution::trapezoidal(0.0, 2.0, 1.0).unwrap().u() - (1.0_f64 / 3.0).sqrt()).abs() < 1e-15);
    for wrong in [
        Distribution::normal(f64::NAN, 1.0),
        Distribution::normal(0.0, -1.0),
        Distribution::rectangular(2.0, 1.0),
        Distribution::rectangular(f64::NEG_INFINITY, 1.0),
        Distribution::trapezoidal(0.0, 1.0, 1.5),
        Distribution::student_t(0.0, 1.0, 0.0),
    ] {
        assert_eq!(wrong.unwrap_err().kind(), Kind::Argument);
    }
    assert_eq!(Form::parse("t", Some(4.0)).unwrap(), Form::StudentT { dof: 4.0 });
    assert!(Form::parse("t", None).is_err() && Form::parse("normal", Some(1.0)).is_err());
    assert!(Form::parse("cauchy", None).is_err());
}

fn cadmium() -> Arc<Calibration> {
    let x: Vec<f64> = [0.1, 0.3, 0.5, 0.7, 0.9].into_iter().flat_map(|x| [x; 3]).collect();
    let y = [0.028, 0.029, 0.029, 0.084, 0.083, 0.081, 0.135, 0.131, 0.133, 0.180, 0.181, 0.183, 0.215, 0.230, 0.216];
    Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &FitOptions::default()).unwrap().into()
}

/// EURACHEM/CITAC QUAM 2012, Example A5: c0 = 0.260 mg/L, u 0.018 mg/L from two readings on 13 degrees of freedom.
#[test]
fn cadmium_agrees_with_first_order() {
    let readings = Readings::new(&[0.5 * (0.0712 + 0.0716)]).replicates(Column::One(2));
    let calibration = cadmium();
    // The slope's relative standard error, 0.0050/0.2410, enters the quotient's variance squared, times about 3.
    let second_order = 2.0 * (0.0050_f64 / 0.2410) * (0.0050 / 0.2410);
    for scatter in [Scatter::StudentT, Scatter::Normal] {
        let options = SimulateOptions { scatter, ..options(MANY) };
        let simulation = of_calibration(&calibration, &readings, &options).unwrap();
        let result = &simulation.results[0];
        agrees(result, &options, second_order);
        assert!((result.first_order.value - 0.260).abs() < 5e-4 && (result.first_order.u - 0.018).abs() < 5e-4);
        assert_eq!((result.without_value, simulation.ended), (0, Ended::Fixed));
        // To one digit of u the first-order interval, which is that of a t, is confirmed.
        assert!(result.comparison.unwrap().validated);
    }
}

/// Signals on a curve with a scatter of about 2e-5: every model is straight over it, so first order is the limit.
fn quiet(shape: Shape, options: FitOptions) -> Arc<Calibration> {
    let x = [0.2, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5];
    let bend = if shape.is_curved() { -0.008 } else { 0.0 };
    let base = if shape.through_zero() { 0.0 } else { 0.002 };
    let error = [2e-5, -1e-5, -2e-5, 1e-5, 3e-5, -2e-5, 0.0, 1e-5];
    let y: Vec<f64> = x.iter().zip(error).map(|(x, e)| base + x * (0.12 + bend * x) + e).collect();
    Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &FitOptions { shape, ..options }).unwrap().into()
}

#[test]
fn first_order_is_the_limit_of_small_noise() {
    let plain = FitOptions::default;
    let stock = || vec![Stock { name: "A".into(), relative_u: 1e-4 }];
    let known = || Noise::KnownSigma(Sigmas::new(&[3e-5]).unwrap());
    let covariance = |variance: f64, shared: f64| {
        let row = |i: usize| (0..8).map(|j| shared + if i == j { variance } else { 0.0 }).collect::<Vec<f64>>();
        StandardsError::covariance(&(0..8).map(row).collect::<Vec<_>>()).unwrap()
    };
    let independent = StandardsError::independent(&[2e-4]).unwrap();
    let cases = [
        (Shape::Line, plain()),
        (Shape::Quadratic, plain()),
        (Shape::Line, FitOptions { noise: Noise::InverseX, ..plain() }),
        (Shape::Line, FitOptions { noise: Noise::InverseX2, stocks: stock(), ..plain() }),
        (Shape::QuadraticThroughZero, FitOptions { zeroing: Zeroing::BlankSubtracted(3e-5), ..plain() }),
        (Shape::LineThroughZero, FitOptions { zeroing: Zeroing::Autozeroed(3e-5), stocks: stock(), ..plain() }),
        (Shape::Line, FitOptions { noise: known(), standards_error: independent.clone(), ..plain() }),
        (Shape::Quadratic, FitOptions { noise: known(), standards_error: independent, ..plain() }),
        (Shape::Line, FitOptions { noise: known(), standards_error: covariance(1e-8, 4e-8), ..plain() }),
    ];
    for (shape, fit) in cases {
        let allows_for_x = fit.standards_error != StandardsError::Negligible;
        // Where known parts join estimated ones the sum is no t, and Welch-Satterthwaite is an approximation.
        let mixed = !fit.stocks.is_empty() || fit.zeroing != Zeroing::Raw;
        let scatter = if mixed { Scatter::Normal } else { Scatter::StudentT };
        let options = SimulateOptions { scatter, ..options(if allows_for_x { 40_960 } else { MANY }) };
        let calibration = quiet(shape, fit);
        let readings = Readings::new(&[0.03, 0.2, 0.31]).replicates(Column::Each(vec![1, 3, 2]));
        let simulation = of_calibration(&calibration, &readings, &options).unwrap();
        // Relative errors of 1e-3 at most: their squares are 1e-6 of the value and below 1e-3 of u.
        simulation.results.iter().for_each(|result| agrees(result, &options, 1e-3));
        correlated(&simulation, |i, j| {
            calibration.concentration(&readings).unwrap().estimates().unwrap().contributions().covariance(i, j)
        });
    }
}

/// The curve with stray light is fitted anew in each trial.
#[test]
fn stray_light_agrees_with_first_order() {
    let x = [0.5, 1.0, 2.0, 4.0, 6.0, 8.0];
    let error = [2e-5, -3e-5, 1e-5, 2e-5, -2e-5, 1e-5];
    let (k, s) = (0.12, 0.02);
    let signal = |x: f64| -> f64 { libm::log10((1.0 + s) / (libm::pow(10.0, -k * x) + s)) };
    let y: Vec<f64> = x.iter().zip(error).map(|(x, e)| signal(*x) + e).collect();
    let fit = FitOptions { shape: Shape::StrayLight, zeroing: Zeroing::Autozeroed(0.0), ..FitOptions::default() };
    let calibration = Arc::new(Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &fit).unwrap());
    let options = SimulateOptions { scatter: Scatter::Normal, ..options(61_440) };
    let simulation = of_calibration(&calibration, &Readings::new(&[signal(3.0)]), &options).unwrap();
    agrees(&simulation.results[0], &options, 1e-3);
}

/// Standards of two readings each and a sample of six: part of the residual variance is taken off again.
#[test]
fn more_readings_than_the_standards_agree_with_first_order() {
    let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    let y = [0.0552, 0.1079, 0.2101, 0.3131, 0.4179, 0.5218];
    let pairs: Vec<[f64; 2]> = y.iter().map(|y| [y - 6e-4, y + 6e-4]).collect();
    let points = Points::from_standards(&x, &pairs).unwrap();
    let calibration = Arc::new(Calibration::fit(&points, &FitOptions::default()).unwrap());
    let options = SimulateOptions { scatter: Scatter::Normal, ..options(MANY) };
    let readings = Readings::new(&[0.26, 0.26, 0.26]).replicates(Column::Each(vec![1, 2, 6]));
    let simulation = of_calibration(&calibration, &readings, &options).unwrap();
    simulation.results.iter().for_each(|result| agrees(result, &options, 1e-3));
    let u = |i: usize| simulation.results[i].distribution.as_ref().unwrap().u.unwrap();
    assert!(u(0) > u(1) && u(1) > u(2));
}

/// Holds the simulated correlations to the first-order ones: an estimate of a correlation from n trials has a
/// standard deviation of about (1 - r²)/sqrt(n), somewhat more for a t.
fn correlated(simulation: &Simulation, first_order: impl Fn(usize, usize) -> f64) {
    let n = simulation.results.len();
    let correlation = |of: &dyn Fn(usize, usize) -> f64, i, j| of(i, j) / (of(i, i) * of(j, j)).sqrt();
    let simulated = |i, j| simulation.covariance(i, j).unwrap();
    let allowed = 10.0 / (simulation.trials as f64).sqrt();
    for i in 0..n {
        for j in 0..i {
            let (a, b) = (correlation(&simulated, i, j), correlation(&first_order, i, j));
            assert!((a - b).abs() <= allowed, "{i} {j}: {a} {b}");
        }
    }
}

#[test]
fn a_run_agrees_with_its_reduction_and_its_covariances() {
    for (table, method) in [(WATER, WATER_METHOD), (SEDIMENT, SEDIMENT_METHOD)] {
        let (run, method) = (Run::from_csv(table).unwrap(), Method::from_toml(method).unwrap());
        let outcome = reduce(&run, &method).unwrap();
        let options = SimulateOptions { scatter: Scatter::Normal, ..options(61_440) };
        let simulation = simulate::run(&run, &method, &options).unwrap();
        assert_eq!(simulation.results.len(), outcome.reported().count());
        for (result, row) in simulation.results.iter().zip(outcome.reported()) {
            assert_eq!((result.position, result.unit), (row.position, Some(row.unit)));
            // Relative standard errors of slope, volumes and solids of up to 2 %: their squares beside a relative u
            // of a few per cent.
            agrees(result, &options, 0.02);
        }
        let positions: Vec<u32> = simulation.results.iter().map(|result| result.position).collect();
        correlated(&simulation, |i, j| outcome.covariance(positions[i], positions[j]).unwrap());
    }
}

/// QUAM 2012, Example A5, as a run: r = c0 V/a with factors for acid, time and temperature, the last two rectangular.
/// u_r 0.001419 from the Guide's own components (it prints 0.0015 after rounding up u of a).
#[test]
fn the_whole_of_cadmium_release_agrees_with_first_order() {
    let mut table =
        "run,position,role,label,replicate,absorbance,nominal,volume_ml,final_volume_ml,prep_batch\n".to_owned();
    let points = cadmium();
    for (i, (x, y)) in points.points().concentrations().iter().zip(points.points().signals()).enumerate() {
        table += &format!("A5,{},standard,S {x},1,{y},{x},,,\n", i + 1);
    }
    for (replicate, y) in [(1, 0.0712), (2, 0.0716)] {
        table += &format!("A5,16,sample,Dish,{replicate},{y},,5.7255526111673981771,0.332,B\n");
    }
    let method = "id = \"A5\"\nversion = \"1\"\nelement = \"Cd\"\nline_nm = 228.8\nprofile = \"general\"\n\
                  [calibration]\nshape = \"line\"\nnoise = \"equal\"\nunit = \"mg/L\"\npoints = \"readings\"\n";
    let mut method = Method::from_toml(method).unwrap();
    method.preparation.u.volume = Some(0.15209294380918259915 / 5.7255526111673981771);
    method.preparation.u.final_volume = Some(0.0018 / 0.332);
    let factor = |name: &str, u: f64| ExtraFactor { name: name.into(), value: 1.0, u };
    let root3 = 3.0_f64.sqrt();
    method.preparation.extra =
        vec![factor("acid", 0.0008), factor("time", 0.0015 / root3), factor("temperature", 0.1 / root3)];
    let rectangular = |name: &str| (Of::Source(format!("factor:{name}")), Form::Rectangular);
    let options = SimulateOptions {
        scatter: Scatter::Normal,
        forms: vec![rectangular("time"), rectangular("temperature")],
        ..options(MANY)
    };
    let run = Run::from_csv(&table).unwrap();
    let simulation = simulate::run(&run, &method, &options).unwrap();
    let result = &simulation.results[0];
    assert!((result.first_order.value * 0.26 / 0.26016597510373443983 / 0.015076274005698112904 - 1.0).abs() < 1e-12);
    // The Guide takes 0.018 for u of c0 (0.01784 here).
    assert!((result.first_order.u - 0.0014193).abs() < 1e-5);
    // Products of relative u of 7 %, 6 % and 3 %: their squares, 0.5 % and less, beside a relative u of 9 %.
    let found = result.distribution.as_ref().unwrap();
    let (first, accuracy) = (result.first_order, found.accuracy.unwrap());
    assert!((found.mean.unwrap() - first.value).abs() < 0.03 * first.u + SIGMAS * accuracy.mean);
    assert!((found.u.unwrap() - first.u).abs() < 0.03 * first.u + SIGMAS * accuracy.u);
    // The product is skew, its lower end nearer than 1.96 u, which one digit of u does not show.
    assert!(result.comparison.unwrap().validated);
    assert!(found.symmetric.low - first.value > -1.96 * first.u);
    // The limits of the rectangular factor are kept: no trial of a factor alone would pass them, and the whole is
    // narrower than with normal factors.
    let normal = simulate::run(&run, &method, &SimulateOptions { forms: Vec::new(), ..options.clone() }).unwrap();
    let extreme = |s: &Simulation| s.values(0).unwrap().iter().fold(0.0_f64, |most, y| most.max(*y));
    assert!(extreme(&simulation) < extreme(&normal));
}

#[test]
fn any_number_of_threads_gives_the_same_bits() {
    let (run, method) = (Run::from_csv(WATER).unwrap(), Method::from_toml(WATER_METHOD).unwrap());
    let on = |threads: usize, trials: Trials| {
        let threads = NonZeroUsize::new(threads).unwrap();
        let options = SimulateOptions { threads, trials, ..SimulateOptions::seeded(5) };
        simulate::run(&run, &method, &options).unwrap()
    };
    // A last chunk that is not full, and the adaptive way.
    for trials in [Trials::Fixed(5_000), Trials::Adaptive { tolerance: Tolerance::Figures(1), most: 40_960 }] {
        let one = on(1, trials);
        for threads in [2, 8] {
            let other = on(threads, trials);
            for i in 0..one.results.len() {
                let bits = |s: &Simulation| s.values(i).unwrap().iter().map(|y| y.to_bits()).collect::<Vec<u64>>();
                assert_eq!(bits(&one), bits(&other));
            }
            assert_eq!(one.results, other.results);
        }
    }
}

#[test]
fn seeds_differ_and_a_longer_run_begins_like_a_shorter_one() {
    let (calibration, readings) = (cadmium(), Readings::new(&[0.0714]));
    let values = |seed: u64, trials: usize| {
        let options = SimulateOptions::seeded(seed).fixed(trials);
        of_calibration(&calibration, &readings, &options).unwrap().values(0).unwrap().to_vec()
    };
    let (a, b) = (values(1, 3_000), values(2, 3_000));
    assert!(a.iter().zip(&b).all(|(a, b)| (a - b).abs() > 0.0));
    assert_eq!(a[..2_048], values(1, 2_048));
}

#[test]
fn an_adaptive_simulation_says_whether_it_settled() {
    let (calibration, readings) = (cadmium(), Readings::new(&[0.0714, 0.15]));
    let with = |figures: u8, most: usize| {
        let options = SimulateOptions {
            trials: Trials::Adaptive { tolerance: Tolerance::Figures(figures), most },
            ..SimulateOptions::seeded(3)
        };
        of_calibration(&calibration, &readings, &options).unwrap()
    };
    let settled = with(1, 1_024_000);
    assert_eq!(settled.ended, Ended::Settled);
    assert!(settled.trials >= 20_480 && settled.trials < 1_024_000);
    for result in &settled.results {
        let found = result.distribution.as_ref().unwrap();
        let (accuracy, tolerance) = (found.accuracy.unwrap(), simulate::tolerance(found.u.unwrap(), 1));
        for error in [accuracy.mean, accuracy.u, accuracy.low, accuracy.high] {
            assert!(2.0 * error <= tolerance, "{error} {tolerance}");
        }
    }
    let stopped = with(2, 30_000);
    assert_eq!((stopped.ended, stopped.trials), (Ended::NotSettled, 30_000));
    // One batch has no scatter to judge by.
    assert_eq!(with(1, 10_240).ended, Ended::NotSettled);
}

/// Of many calibrations drawn about one true line, the simulated 95 % interval holds the true content in 95 %:
/// among 600, within 4 standard deviations of a binomial count.
#[test]
fn intervals_cover_in_the_middle_of_the_range() {
    let (sets, mut covered, mut stream) = (600, 0, Stream::new(11, 0));
    let x = [0.5, 1.0, 2.0, 3.0, 4.0];
    for _ in 0..sets {
        let mut read = |x: f64| 0.003 + 0.11 * x + 0.002 * stream.normal();
        let y = x.map(&mut read);
        let points = Points::from_readings(&x, &y).unwrap();
        let calibration = Arc::new(Calibration::fit(&points, &FitOptions::default()).unwrap());
        let readings = Readings::new(&[read(1.7)]);
        let simulation = of_calibration(&calibration, &readings, &options(4_096)).unwrap();
        let interval = simulation.results[0].distribution.as_ref().unwrap().symmetric;
        covered += usize::from((interval.low..=interval.high).contains(&1.7));
    }
    let spread = (0.95 * 0.05 * f64::from(sets)).sqrt();
    assert!((covered as f64 - 0.95 * f64::from(sets)).abs() < 4.0 * spread, "{covered}");
}

/// Errors of the standards that the fit ignores: the simulation shows what they would add.
#[test]
fn ignored_errors_of_the_standards_show() {
    let calibration = quiet(Shape::LineThroughZero, FitOptions::default());
    let with = |standards_relative_u: f64| {
        let options = SimulateOptions { standards_relative_u, ..options(20_480) };
        let simulation = of_calibration(&calibration, &Readings::new(&[0.2]), &options).unwrap();
        simulation.results[0].distribution.as_ref().unwrap().u.unwrap()
    };
    // A slope Σxy/Σx² whose x are moved by relative errors e: d ln slope = -Σ x² e/Σx², to first order.
    let x = [0.2, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5_f64];
    let (fourth, second) = x.iter().fold((0.0, 0.0), |sum, x| (sum.0 + x * x * x * x, sum.1 + x * x));
    let content = calibration.concentration(&Readings::new(&[0.2])).unwrap().values()[0];
    let added = 0.01 * content * fourth.sqrt() / second;
    let expected = (with(0.0) * with(0.0) + added * added).sqrt();
    // 20,480 trials know a standard deviation to 0.5 %.
    assert!((with(0.01) / expected - 1.0).abs() < 0.025, "{} {expected}", with(0.01));
}

#[test]
fn a_stock_with_limits_is_drawn_within_them() {
    let stocks = vec![Stock { name: "A".into(), relative_u: 0.01 }];
    let calibration = quiet(Shape::Line, FitOptions { stocks, ..FitOptions::default() });
    let forms =
        vec![(Of::Kind(SourceKind::Stock), Form::Rectangular), (Of::Source("stock:A".into()), Form::Triangular)];
    let with = |forms: Vec<(Of, Form)>| {
        let options = SimulateOptions { forms, ..options(20_480) };
        of_calibration(&calibration, &Readings::new(&[0.242]), &options)
    };
    let ends = |forms: &[(Of, Form)]| {
        let simulation = with(forms.to_vec()).unwrap();
        let value = simulation.results[0].first_order.value;
        simulation.values(0).unwrap().iter().fold(0.0_f64, |most, y| most.max((y / value - 1.0).abs()))
    };
    // Half-widths u sqrt(3) and u sqrt(6); the scatter of the readings adds a thousandth.
    assert!((ends(&forms[..1]) - 0.01 * 3.0_f64.sqrt()).abs() < 0.002);
    // The named source goes before its kind.
    assert!(ends(&forms) > 0.0205 && ends(&forms) < 0.0265);
    let near = with(vec![(Of::Source("stock:B".into()), Form::Normal)]).unwrap_err();
    assert!(near.to_string().contains("stock:A"), "{near}");
    assert!(with(vec![(Of::Kind(SourceKind::Calibration), Form::Normal)]).is_err());
}

/// Close under the turning point some trials do not reach the curve: they are counted, not made up.
#[test]
fn trials_beyond_the_curve_are_counted() {
    let (x, y) = ([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [0.001, 0.0935, 0.166, 0.2255, 0.264, 0.289]);
    let shape = FitOptions { shape: Shape::Quadratic, zero: Zero::Include, ..FitOptions::default() };
    let calibration = Arc::new(
        Calibration::fit(
            &Points::from_readings(&x, &y).unwrap(),
            &FitOptions { on_bad_curve: groundstate::curve::OnBadCurve::Refuse, ..shape },
        )
        .unwrap(),
    );
    let top = calibration.ceiling().unwrap();
    let readings = Readings::new(&[top - 0.001, top + 0.01, f64::NAN, 0.1]);
    let simulation = of_calibration(&calibration, &readings, &options(10_240)).unwrap();
    let [near, beyond, missing, fine] = simulation.results.as_slice() else { panic!("four results") };
    let found = near.distribution.as_ref().unwrap();
    assert!(near.without_value > 500 && found.trials + near.without_value == 10_240);
    assert!(found.u.unwrap().is_finite() && !near.comparison.unwrap().validated);
    // What has no first-order value is not drawn, and says so by its status.
    assert_eq!(beyond.not_drawn, Some(simulate::NotDrawn::NoValue));
    assert!(beyond.distribution.is_none() && missing.distribution.is_none() && beyond.comparison.is_none());
    assert_eq!(simulation.values(1), Some(&[][..]));
    assert_eq!((fine.without_value, fine.position), (0, 4));
    assert!(simulation.at(4).is_some() && simulation.at(5).is_none());
}

#[test]
fn few_degrees_of_freedom_have_no_standard_deviation_and_none_no_distribution() {
    let fit = |n: usize| {
        let (x, y) = ([1.0, 2.0, 3.0, 4.0], [0.101, 0.2, 0.299, 0.402]);
        let points = Points::from_readings(&x[..n], &y[..n]).unwrap();
        Arc::new(Calibration::fit(&points, &FitOptions::default()).unwrap())
    };
    let result =
        |n: usize| of_calibration(&fit(n), &Readings::new(&[0.25]), &options(20_480)).unwrap().results.remove(0);
    let none = result(2);
    assert!(none.distribution.is_none() && none.not_drawn == Some(simulate::NotDrawn::NoUncertainty));
    let (one, two) = (result(3).distribution.unwrap(), result(4).distribution.unwrap());
    assert!(one.mean.is_none() && one.u.is_none() && two.mean.is_some() && two.u.is_none());
    // The interval is that of the t on 2 degrees of freedom all the same: 4.30 u on either side.
    let first = result(4).first_order;
    assert!(
        (two.symmetric.high - first.value - 4.303 * first.u).abs()
            < SIGMAS * two.accuracy.unwrap().high + 0.02 * first.u
    );
}

#[test]
fn what_cannot_be_is_refused_with_a_word() {
    let (calibration, readings) = (cadmium(), Readings::new(&[0.1]));
    let refused = |options: SimulateOptions| of_calibration(&calibration, &readings, &options).unwrap_err();
    let base = || options(1_000);
    let with_tolerance = |tolerance| SimulateOptions { trials: Trials::Adaptive { tolerance, most: 20_000 }, ..base() };
    for (word, options) in [
        ("trials", options(10)),
        ("quantiles", SimulateOptions { quantiles: vec![1.0], ..base() }),
        ("comparison_figures", SimulateOptions { comparison_figures: 3, ..base() }),
        ("standards_relative_u", SimulateOptions { standards_relative_u: f64::NAN, ..base() }),
        ("tolerance", with_tolerance(Tolerance::Figures(0))),
        ("tolerance", with_tolerance(Tolerance::Absolute(0.0))),
        ("trials", SimulateOptions { coverage: Coverage::new(0.9999).unwrap(), ..base() }),
        (
            "distribution",
            SimulateOptions { forms: vec![(Of::Kind(SourceKind::Stock), Form::Trapezoidal { top: 2.0 })], ..base() },
        ),
    ] {
        let error = refused(options);
        assert!(error.kind() == Kind::Argument && error.to_string().contains(word), "{word}: {error}");
    }
    assert_eq!(refused(options(usize::MAX)).kind(), Kind::Limit);
    assert!(additive(&[], &base()).is_err());
    let (run, method) = (Run::from_csv(WATER).unwrap(), Method::from_toml(WATER_METHOD).unwrap());
    let nowhere = SimulateOptions { positions: Some(vec![1]), ..base() };
    assert!(simulate::run(&run, &method, &nowhere).unwrap_err().to_string().contains("position 1"));
    let two = SimulateOptions { positions: Some(vec![20, 18]), ..base() };
    let found = simulate::run(&run, &method, &two).unwrap();
    assert_eq!(found.results.iter().map(|result| result.position).collect::<Vec<_>>(), [20, 18]);
}
