//! One hot path, done as often as is said, for whoever counts its instructions: `counted PATH TIMES`.

use std::hint::black_box;
use std::num::NonZeroUsize;
use std::process::ExitCode;

use groundstate::Error;
use groundstate::columns::{ColumnOptions, reduce};
use groundstate::curve::{Calibration, ConcentrationsOut, FitOptions, Points, Shape};
use groundstate::estimate::{Column, Coverage};
use groundstate_bench::{Archive, calibration, method, signals, standards};

/// Names of the paths.
const PATHS: [&str; 3] = ["fit", "invert_into", "reduce_columns"];

fn path(name: &str, times: u32) -> Result<(), Error> {
    match name {
        "fit" => {
            let (x, y) = standards(Shape::Line);
            for _ in 0..times {
                let points = Points::from_readings(black_box(&x), black_box(&y))?;
                black_box(Calibration::fit(&points, &FitOptions::default())?);
            }
        }
        "invert_into" => {
            let calibration = calibration(Shape::Quadratic)?;
            let signals = signals(1 << 14);
            let (mut value, mut lo, mut hi) = (signals.clone(), signals.clone(), signals.clone());
            for _ in 0..times {
                let out = ConcentrationsOut {
                    value: Some(&mut value),
                    lo: Some(&mut lo),
                    hi: Some(&mut hi),
                    ..ConcentrationsOut::default()
                };
                let signals = black_box(&signals);
                calibration.concentration_into(signals, &Column::One(1), Coverage::P95, NonZeroUsize::MIN, out)?;
                black_box(&value);
            }
        }
        _ => {
            // "reduce_columns", or "reduce_columns:RUNS".
            let runs = name.split_once(':').and_then(|(_, runs)| runs.parse().ok()).unwrap_or(100);
            let (archive, method) = (Archive::new(runs, Shape::Line), method(Shape::Line)?);
            for _ in 0..times {
                black_box(reduce(black_box(archive.columns()), &method, &ColumnOptions::default())?);
            }
        }
    }
    Ok(())
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let usage = "counted PATH TIMES: PATH is one of";
    let (Some(name), Some(times)) = (arguments.get(1), arguments.get(2).and_then(|times| times.parse().ok())) else {
        eprintln!("{usage} {}", PATHS.join(", "));
        return ExitCode::from(2);
    };
    if !PATHS.iter().any(|known| name.split(':').next() == Some(known)) {
        eprintln!("{usage} {}", PATHS.join(", "));
        return ExitCode::from(2);
    }
    match path(name, times) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("counted: {error}");
            ExitCode::FAILURE
        }
    }
}
