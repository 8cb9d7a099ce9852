//! Single kernels, by criterion: `cargo bench -p groundstate-bench`.
#![allow(missing_docs)]

use std::hint::black_box;
use std::num::NonZeroUsize;

use criterion::{Criterion, criterion_group, criterion_main};
use groundstate::columns::{ColumnOptions, reduce};
use groundstate::curve::{Calibration, ConcentrationsOut, FitOptions, Points, Readings, Shape};
use groundstate::estimate::{Column, Coverage, IntervalMethod};
use groundstate_bench::{Archive, calibration, closed_form, method, one_sample, signals, standards};

fn single(bench: &mut Criterion) {
    for shape in [Shape::Line, Shape::Quadratic] {
        let (x, y) = standards(shape);
        let options = FitOptions { shape, ..FitOptions::default() };
        let k = calibration(shape).unwrap().scale().dof.coverage_factor(Coverage::P95);
        bench.bench_function(&format!("one sample, t cached, {}", shape.name()), |b| {
            b.iter(|| one_sample(black_box(&x), black_box(&y), &options, black_box(0.2), k).unwrap());
        });
        bench.bench_function(&format!("one sample, t worked out, {}", shape.name()), |b| {
            b.iter(|| {
                let calibration = Calibration::fit(&Points::from_readings(&x, &y).unwrap(), &options).unwrap();
                let calibration = std::sync::Arc::new(calibration);
                let sample = calibration.concentration(&Readings::new(black_box(&[0.2]))).unwrap();
                (calibration.covariance(), sample.interval(Coverage::P95, IntervalMethod::Delta))
            });
        });
    }
    let (x, y) = standards(Shape::Line);
    bench.bench_function("one sample, closed form of the line in plain double precision", |b| {
        b.iter(|| closed_form(black_box(&x), black_box(&y), black_box(0.2), 2.12));
    });
}

fn many(bench: &mut Criterion) {
    let signals = signals(1_000_000);
    let (mut value, mut lo, mut hi) = (signals.clone(), signals.clone(), signals.clone());
    for shape in [Shape::Line, Shape::Quadratic] {
        let calibration = calibration(shape).unwrap();
        bench.bench_function(&format!("1e6 inverses with ends, one thread, {}", shape.name()), |b| {
            b.iter(|| {
                let out = ConcentrationsOut {
                    value: Some(&mut value),
                    lo: Some(&mut lo),
                    hi: Some(&mut hi),
                    ..ConcentrationsOut::default()
                };
                let (once, one) = (Column::One(1), NonZeroUsize::MIN);
                calibration.concentration_into(&signals, &once, Coverage::P95, one, out).unwrap();
            });
        });
    }
}

fn runs(bench: &mut Criterion) {
    for shape in [Shape::Line, Shape::Quadratic] {
        let (archive, method) = (Archive::new(100, shape), method(shape).unwrap());
        bench.bench_function(&format!("columns of 100 runs, one thread, {}", shape.name()), |b| {
            b.iter(|| reduce(archive.columns(), &method, &ColumnOptions::default()).unwrap());
        });
    }
}

criterion_group!(kernels, single, many, runs);
criterion_main!(kernels);
