//! Concentrations written into arrays of the caller: to the last bit those of single rows, in every case.
#![allow(missing_docs)]

use std::num::NonZeroUsize;
use std::sync::Arc;

use groundstate::curve::{
    Calibration, ConcentrationsOut, FitOptions, Noise, OnBadCurve, Points, Readings, ReplicateModel, Shape, Sigmas,
    Stock, Zero, Zeroing,
};
use groundstate::estimate::{Column, Coverage, Dof, IntervalMethod};
use groundstate::numeric::stream::Stream;

const LEVELS: [f64; 6] = [0.0, 0.2, 0.5, 1.0, 2.0, 3.0];

fn standards(shape: Shape, as_readings: bool) -> Points {
    let mut stream = Stream::new(7, 1);
    let bend = if shape.is_curved() { -0.01 } else { 0.0 };
    let offset = if shape.through_zero() { 0.0 } else { 0.002 };
    let mut reading = |x: f64| {
        let noise = if x > 0.0 { 0.0005 * stream.normal() } else { 0.0 };
        offset + x * (0.2 + bend * x) + noise
    };
    let readings: Vec<Vec<f64>> = LEVELS.iter().map(|x| (0..3).map(|_| reading(*x)).collect()).collect();
    if as_readings {
        let x: Vec<f64> = LEVELS.iter().flat_map(|x| [*x; 3]).collect();
        Points::from_readings(&x, &readings.concat()).unwrap()
    } else {
        Points::from_standards(&LEVELS, &readings).unwrap()
    }
}

/// More than one block and one share of a thread; ordinary signals among all that are not.
fn signals() -> Vec<f64> {
    let mut stream = Stream::new(8, 0);
    let mut signals: Vec<f64> = (0..17_000).map(|_| 0.9 * stream.uniform() - 0.1).collect();
    let odd = [f64::NAN, 0.0, -0.0, 2.5, -40.0, 1e200, -1e200, 1e308, f64::MIN_POSITIVE, 0.002, 1e99, 3e120];
    for (k, y) in odd.into_iter().enumerate() {
        signals[113 * k * k + k] = y;
    }
    signals
}

/// Every option that changes how a row is worked out.
fn calibrations() -> Vec<Arc<Calibration>> {
    let mut all = Vec::new();
    let mut add =
        |points: &Points, options: FitOptions| all.push(Arc::new(Calibration::fit(points, &options).unwrap()));
    let shapes = [Shape::Line, Shape::LineThroughZero, Shape::Quadratic, Shape::QuadraticThroughZero];
    for (shape, as_readings) in shapes.into_iter().flat_map(|shape| [(shape, true), (shape, false)]) {
        let points = standards(shape, as_readings);
        let plain = FitOptions { shape, ..FitOptions::default() };
        add(&points, plain.clone());
        for noise in [Noise::InverseX, Noise::InverseX2] {
            add(&points, FitOptions { noise, zero: Zero::LeaveOut, ..plain.clone() });
        }
        let sigma = Sigmas::new(&[0.0007]).unwrap();
        add(&points, FitOptions { noise: Noise::KnownSigma(sigma.clone()), ..plain.clone() });
        add(&points, FitOptions { noise: Noise::RelativeSigma(sigma), ..plain.clone() });
        add(&points, FitOptions { zeroing: Zeroing::Autozeroed(0.0004), ..plain.clone() });
        add(&points, FitOptions { resolution: Some(0.004), ..plain.clone() });
        let stock = Stock { name: "Zn-A".into(), relative_u: 0.004 };
        add(&points, FitOptions { stocks: vec![stock], ..plain.clone() });
        if !as_readings {
            add(&points, FitOptions { noise: Noise::FromReplicates(ReplicateModel::Pooled), ..plain.clone() });
        }
    }
    add(&standards(Shape::StrayLight, false), FitOptions { shape: Shape::StrayLight, ..FitOptions::default() });
    // As many levels as coefficients: no degree of freedom; and a curve that cannot serve.
    let two = Points::from_readings(&[0.0, 1.0], &[0.001, 0.2]).unwrap();
    add(&two, FitOptions::default());
    let falling = Points::from_readings(&[0.0, 1.0, 2.0], &[0.3, 0.2, 0.1]).unwrap();
    add(&falling, FitOptions { on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() });
    // Rises only past its minimum: the other form of the root.
    let bowl = Points::from_readings(&[1.0, 2.0, 3.0, 4.0], &[0.101, 0.4, 0.9, 1.6]).unwrap();
    add(&bowl, FitOptions { shape: Shape::Quadratic, on_bad_curve: OnBadCurve::Flag, ..FitOptions::default() });
    all
}

fn bits(figures: &[f64]) -> Vec<u64> {
    figures.iter().map(|x| if x.is_nan() { u64::MAX } else { x.to_bits() }).collect()
}

fn same_as_rows(calibration: &Arc<Calibration>, counts: &Column<u32>, coverage: Coverage, threads: usize) {
    let signals = signals();
    let n = signals.len();
    let (mut value, mut u, mut lo, mut hi) = (vec![9.0; n], vec![9.0; n], vec![9.0; n], vec![9.0; n]);
    let mut status = vec![99; n];
    let out = ConcentrationsOut {
        value: Some(&mut value),
        u: Some(&mut u),
        lo: Some(&mut lo),
        hi: Some(&mut hi),
        status: Some(&mut status),
    };
    let threads = NonZeroUsize::new(threads).unwrap();
    calibration.concentration_into(&signals, counts, coverage, threads, out).unwrap();
    let rows = calibration.concentration(&Readings::new(&signals).replicates(counts.clone())).unwrap();
    let sets = rows.interval(coverage, IntervalMethod::Delta).sets;
    let name = format!("{calibration:?}");
    let name = &name[..name.len().min(400)];
    assert_eq!(bits(&value), bits(rows.values()), "{name}");
    assert_eq!(bits(&u), bits(rows.standard_uncertainties()), "{name}");
    assert_eq!(status, rows.statuses().iter().map(|status| *status as u8).collect::<Vec<_>>(), "{name}");
    assert_eq!(bits(&lo), bits(&sets.iter().map(|set| set.ends().0).collect::<Vec<_>>()), "{name}");
    assert_eq!(bits(&hi), bits(&sets.iter().map(|set| set.ends().1).collect::<Vec<_>>()), "{name}");
}

#[test]
fn every_figure_is_that_of_the_single_row() {
    for calibration in calibrations() {
        same_as_rows(&calibration, &Column::One(1), Coverage::P95, 2);
    }
    same_as_rows(&calibrations()[0], &Column::One(3), Coverage::new(0.99).unwrap(), 1);
    let counts = Column::Each((0..signals().len() as u32).map(|i| 1 + i % 4).collect());
    same_as_rows(&calibrations()[0], &counts, Coverage::P95, 3);
}

#[test]
fn what_is_not_asked_for_changes_nothing() {
    let calibration = &calibrations()[0];
    let signals = signals();
    let rows = calibration.concentration(&Readings::new(&signals)).unwrap();
    let fill = |out: ConcentrationsOut<'_>| {
        calibration.concentration_into(&signals, &Column::One(1), Coverage::P95, NonZeroUsize::MIN, out).unwrap();
    };
    let mut value = vec![0.0; signals.len()];
    fill(ConcentrationsOut { value: Some(&mut value), ..ConcentrationsOut::default() });
    assert_eq!(bits(&value), bits(rows.values()));
    let mut u = vec![0.0; signals.len()];
    fill(ConcentrationsOut { u: Some(&mut u), ..ConcentrationsOut::default() });
    assert_eq!(bits(&u), bits(rows.standard_uncertainties()));
    // The same from readings that came with an uncertainty of their own.
    let given = Readings::new(&signals).with_u(Column::One(0.001), Column::One(Dof::count(4)));
    let rows = calibration.concentration(&given).unwrap();
    let out = ConcentrationsOut { u: Some(&mut u), ..ConcentrationsOut::default() };
    rows.fill(Coverage::P95, NonZeroUsize::MIN, out).unwrap();
    assert_eq!(bits(&u), bits(rows.standard_uncertainties()));
}

#[test]
fn what_does_not_go_together_is_refused() {
    let calibration = &calibrations()[0];
    let into = |signals: &[f64], counts: Column<u32>, len: usize| {
        let mut value = vec![0.0; len];
        let out = ConcentrationsOut { value: Some(&mut value), ..ConcentrationsOut::default() };
        let found = calibration.concentration_into(signals, &counts, Coverage::P95, NonZeroUsize::MIN, out);
        found.unwrap_err().to_string()
    };
    assert!(into(&[0.1, 0.2], Column::One(1), 3).contains("an array of 3 elements for 2 readings"));
    assert!(into(&[0.1, f64::INFINITY], Column::One(1), 2).contains("element 1"));
    assert!(into(&[0.1], Column::One(0), 1).contains("0 readings"));
    assert!(into(&[0.1], Column::Each(vec![1, 1]), 1).contains("do not go with 1 signals"));
}
