//! Nanoseconds of W1's single calibration in Rust, as JSON: `single`, called by `./dev bench`.

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use groundstate::Error;
use groundstate::curve::{Calibration, FitOptions, Points, Shape};
use groundstate::estimate::Coverage;
use groundstate_bench::{calibration, closed_form, one_sample, standards};

const ROUNDS: usize = 400;
const TIMES: u32 = 50;

/// Something that is timed.
type Task<'a> = Box<dyn FnMut() -> Result<(), Error> + 'a>;

/// Nanoseconds of a call.
fn taken(work: &mut dyn FnMut() -> Result<(), Error>) -> Result<f64, Error> {
    let start = Instant::now();
    for _ in 0..TIMES {
        work()?;
    }
    Ok(start.elapsed().as_secs_f64() * 1e9 / f64::from(TIMES))
}

fn measured() -> Result<String, Error> {
    let (x, y) = standards(Shape::Line);
    let options = FitOptions::default();
    let k = calibration(Shape::Line)?.scale().dof.coverage_factor(Coverage::P95);
    let (ours, theirs) = (one_sample(&x, &y, &options, 0.2, k)?.1.unwrap_or_default(), closed_form(&x, &y, 0.2, k));
    // The closed form in plain doubles loses a few digits of the residuals, and no more.
    assert!(ours.iter().zip(theirs).all(|(a, b)| (a - b).abs() < 1e-11), "{ours:?} is not {theirs:?}");
    let mut works: [(&str, Task<'_>); 3] = [
        (
            "one_sample",
            Box::new(|| {
                one_sample(black_box(&x), black_box(&y), &options, black_box(0.2), k).map(|found| {
                    black_box(found);
                })
            }),
        ),
        (
            "fit",
            Box::new(|| {
                black_box(Calibration::fit(&Points::from_readings(black_box(&x), black_box(&y))?, &options)?);
                Ok(())
            }),
        ),
        (
            "closed_form",
            Box::new(|| {
                black_box(closed_form(black_box(&x), black_box(&y), black_box(0.2), k));
                Ok(())
            }),
        ),
    ];
    let mut times = vec![Vec::new(); works.len()];
    // In turn, so that whatever else the machine does meets all of them.
    for _ in 0..ROUNDS {
        for (times, (_, work)) in times.iter_mut().zip(&mut works) {
            times.push(taken(work)?);
        }
    }
    let medians = times.iter_mut().zip(&works).map(|(times, (name, _))| {
        times.sort_by(f64::total_cmp);
        format!("\"{name}\": {:.1}", times[times.len() / 2])
    });
    Ok(format!("{{{}}}", medians.collect::<Vec<_>>().join(", ")))
}

fn main() -> ExitCode {
    match measured() {
        Ok(found) => {
            println!("{found}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("single: {error}");
            ExitCode::FAILURE
        }
    }
}
