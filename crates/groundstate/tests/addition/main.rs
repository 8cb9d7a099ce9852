//! Standard additions, comparison of calibrations, bracketing: published examples, independent formulas, laws.
#![allow(missing_docs)]

use groundstate::addition::{Series, SeriesOptions, Signal};
use groundstate::curve::Points;
use groundstate::estimate::Dof;
use groundstate::finding::{Code, Finding};

mod coverage;
mod laws;
mod matrix;
mod published;
mod uncertainty;
mod validity;

/// Silver in photographic waste (Miller and Miller, Example 5.8.1; recalled).
const SILVER: ([f64; 7], [f64; 7]) =
    ([0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0], [0.32, 0.41, 0.52, 0.60, 0.70, 0.77, 0.89]);

fn fit(x: &[f64], y: &[f64], options: &SeriesOptions) -> Series {
    Series::fit(&Points::from_readings(x, y).unwrap(), options).unwrap()
}

fn plain(x: &[f64], y: &[f64]) -> Series {
    fit(x, y, &SeriesOptions::default())
}

fn silver() -> Series {
    plain(&SILVER.0, &SILVER.1)
}

fn signal(value: f64, u: f64) -> Signal {
    Signal::new(value, u, Dof::INFINITE).unwrap()
}

fn codes(findings: &[Finding]) -> Vec<Code> {
    findings.iter().map(|finding| finding.code).collect()
}

#[track_caller]
fn near(found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs();
    assert!(off <= relative * expected.abs(), "{found:?} against {expected:?}: off by {off:e}");
}

/// An unweighted line by the textbook sums: intercept, slope, s, and what the standard uncertainty needs.
struct Line {
    a: f64,
    b: f64,
    s: f64,
    n: f64,
    mean_y: f64,
    sxx: f64,
}

fn textbook(x: &[f64], y: &[f64]) -> Line {
    let n = x.len() as f64;
    let (mean_x, mean_y) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|x| (x - mean_x) * (x - mean_x)).sum();
    let sxy: f64 = x.iter().zip(y).map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    let b = sxy / sxx;
    let a = mean_y - b * mean_x;
    let sse: f64 = x.iter().zip(y).map(|(x, y)| (y - a - b * x) * (y - a - b * x)).sum();
    Line { a, b, s: (sse / (n - 2.0)).sqrt(), n, mean_y, sxx }
}
