//! The work that is measured, from fixed seeds: see docs/performance.md for its definitions.

use std::sync::Arc;

use groundstate::Error;
use groundstate::columns::ColumnsRef;
use groundstate::criteria::ProfileName;
use groundstate::curve::{Calibration, FitOptions, Noise, PointKind, Points, Readings, Shape, Zero};
use groundstate::estimate::Square;
use groundstate::method::Method;
use groundstate::numeric::stream::Stream;
use groundstate::run::Role;

/// Concentrations of the standards of a run.
pub const LEVELS: [f64; 6] = [0.0, 0.2, 0.5, 1.0, 2.0, 3.0];
const SLOPE: f64 = 0.21;
const BEND: f64 = -0.008;
const SCATTER: f64 = 0.0005;

fn signal(x: f64, shape: Shape, stream: &mut Stream) -> f64 {
    let bend = if shape.is_curved() { BEND } else { 0.0 };
    0.001 + x * (SLOPE + x * bend) + SCATTER * stream.normal()
}

/// 18 readings of six standards, as concentrations and signals.
pub fn standards(shape: Shape) -> (Vec<f64>, Vec<f64>) {
    let mut stream = Stream::new(1, 0);
    let x: Vec<f64> = LEVELS.iter().flat_map(|x| [*x; 3]).collect();
    let y = x.iter().map(|x| signal(*x, shape, &mut stream)).collect();
    (x, y)
}

/// A calibration by those readings.
///
/// # Errors
/// None.
pub fn calibration(shape: Shape) -> Result<Arc<Calibration>, Error> {
    let (x, y) = standards(shape);
    let options = FitOptions { shape, ..FitOptions::default() };
    Calibration::fit(&Points::from_readings(&x, &y)?, &options).map(Arc::new)
}

/// One calibration with its covariance and one sample with both ends of its interval, `k` half widths of u: W1.
///
/// # Errors
/// Points that cannot be fitted.
pub fn one_sample(
    x: &[f64],
    y: &[f64],
    options: &FitOptions,
    signal: f64,
    k: f64,
) -> Result<(Square, Option<[f64; 3]>), Error> {
    let calibration = Arc::new(Calibration::fit(&Points::from_readings(x, y)?, options)?);
    let sample = calibration.concentration(&Readings::new(&[signal]))?;
    let found = sample.get(0).map(|found| [found.value, found.value - k * found.u, found.value + k * found.u]);
    Ok((calibration.covariance(), found))
}

/// Textbook sums: what a line costs where digits are not minded.
pub fn closed_form(x: &[f64], y: &[f64], signal: f64, k: f64) -> [f64; 3] {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|x| (x - mx) * (x - mx)).sum();
    let sxy: f64 = x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum();
    let b = sxy / sxx;
    let residual = |(x, y): (&f64, &f64)| y - my - b * (x - mx);
    let sse: f64 = x.iter().zip(y).map(residual).map(|r| r * r).sum();
    let found = mx + (signal - my) / b;
    let u = (sse / (n - 2.0) * (1.0 + 1.0 / n + (found - mx) * (found - mx) / sxx)).sqrt() / b;
    [found, found - k * u, found + k * u]
}

/// `count` signals within the range of the standards.
pub fn signals(count: usize) -> Vec<f64> {
    let mut stream = Stream::new(2, 0);
    (0..count).map(|_| 0.55 * stream.uniform()).collect()
}

/// Columns of many runs of 162 readings: six standards, then four blocks of ten samples, a check and a blank, three
/// readings each.
#[derive(Clone, Debug, Default)]
pub struct Archive {
    run: Vec<u32>,
    position: Vec<u32>,
    role: Vec<u32>,
    absorbance: Vec<f64>,
    nominal: Vec<f64>,
    dilution: Vec<f64>,
}

const ROLES: [Role; 4] = [Role::Standard, Role::Sample, Role::Ccv, Role::Ccb];

impl Archive {
    /// `runs` runs, sorted.
    pub fn new(runs: u32, shape: Shape) -> Archive {
        let mut archive = Archive::default();
        for run in 0..runs {
            let mut stream = Stream::new(3, u64::from(run));
            let mut position = 0;
            let mut add = |role: u32, x: f64, nominal: f64, dilution: f64, stream: &mut Stream| {
                position += 1;
                for _ in 0..3 {
                    archive.run.push(run);
                    archive.position.push(position);
                    archive.role.push(role);
                    archive.absorbance.push(signal(x, shape, stream));
                    archive.nominal.push(nominal);
                    archive.dilution.push(dilution);
                }
            };
            LEVELS.iter().for_each(|x| add(0, *x, *x, f64::NAN, &mut stream));
            for _ in 0..4 {
                for sample in 0..10 {
                    let x = 2.8 * stream.uniform();
                    add(1, x, f64::NAN, if sample % 5 == 0 { 10.0 } else { 1.0 }, &mut stream);
                }
                add(2, 1.0, 1.0, f64::NAN, &mut stream);
                add(3, 0.0, f64::NAN, f64::NAN, &mut stream);
            }
        }
        archive
    }

    /// The columns.
    pub fn columns(&self) -> ColumnsRef<'_> {
        ColumnsRef {
            run: &self.run,
            position: &self.position,
            role: &self.role,
            roles: &ROLES,
            absorbance: &self.absorbance,
            nominal: Some(&self.nominal),
            dilution: Some(&self.dilution),
            ..ColumnsRef::default()
        }
    }
}

/// The method of the archive: a line, or a quadratic weighted by 1/x.
///
/// # Errors
/// None.
pub fn method(shape: Shape) -> Result<Method, Error> {
    let mut method = Method::new("Zn", ProfileName::General)?;
    method.calibration.shape = shape;
    method.calibration.points = PointKind::Readings;
    if shape.is_curved() {
        method.calibration.noise = Noise::InverseX;
        method.calibration.zero = Zero::LeaveOut;
    }
    Ok(method)
}
