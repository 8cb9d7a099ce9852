//! What the limit promises, by simulation: blanks of a procedure in control exceed MDL_S in one of a hundred cases.

use super::*;
use crate::numeric::stream::Stream;

const TRIALS: u32 = 40_000;

/// `n` results of normal scatter 1 about `mean`.
fn results(stream: &mut Stream, mean: f64, n: usize) -> Vec<Measured> {
    (0..n).map(|_| Measured::Number(mean + stream.normal())).collect()
}

/// Four standard deviations of a binomial count: a right program fails once in some 16 000 seeds, and this seed is fixed.
fn within(count: u32, p: f64) {
    let n = f64::from(TRIALS);
    let (expected, band) = (n * p, 4.0 * (n * p * (1.0 - p)).sqrt());
    assert!((f64::from(count) - expected).abs() < band, "{count} against {expected} +- {band}");
}

#[test]
fn one_blank_in_a_hundred_exceeds_the_limit() {
    let (mut above_spikes, mut above_blanks, mut covered) = (0, 0, 0);
    let true_limit = {
        let exact = limit(&numbers(&SPIKES), &[ND; 7]).from_spikes;
        // t times a standard deviation of 1.
        exact.value.unwrap() / exact.standard_deviation.unwrap()
    };
    for trial in 0..TRIALS {
        let mut stream = Stream::new(20_250_301, u64::from(trial));
        // Spikes far from zero, so that none of them can fail.
        let spikes = results(&mut stream, 50.0, 7);
        let blanks = results(&mut stream, 0.0, 8);
        let (next, blanks) = blanks.split_first().unwrap();
        let Measured::Number(next) = next else { unreachable!() };
        let limit = limit(&spikes, blanks);
        let from_spikes = limit.from_spikes.value.unwrap();
        above_spikes += u32::from(*next > from_spikes);
        above_blanks += u32::from(*next > limit.value.unwrap());
        let interval = limit.from_spikes.interval.unwrap();
        covered += u32::from(interval.lower < true_limit && true_limit < interval.upper);
    }
    // next / s follows Student's t with 6 degrees of freedom when the blanks' mean is 0: exactly 1 % above t(6, 0.99) s.
    within(above_spikes, 0.01);
    // The greater of two limits is exceeded less often.
    assert!(above_blanks < above_spikes);
    within(covered, 0.95);
}
