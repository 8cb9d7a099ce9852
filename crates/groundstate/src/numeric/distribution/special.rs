//! The small pieces that keep 15 digits where the textbook formula cancels.

use std::f64::consts::PI;

/// v - ln(1 + v) for v > -1, without cancellation near zero. `one_plus` is 1 + v, more exact than the sum when v is
/// near -1.
pub(super) fn log_gap(v: f64, one_plus: f64) -> f64 {
    if !(-0.5..=0.5).contains(&v) {
        return v - libm::log(one_plus);
    }
    // ln(1 + v) = 2 artanh(r) with r = v/(2 + v), and v - 2r = r v.
    let r = v / (2.0 + v);
    let square = r * r;
    let mut power = 1.0;
    let mut sum = 1.0 / 3.0;
    let mut odd = 5.0;
    while power > f64::EPSILON {
        power *= square;
        sum += power / odd;
        odd += 2.0;
    }
    r * v - 2.0 * r * square * sum
}

/// exp(v) - 1 - v, without cancellation near zero.
pub(super) fn exp_gap(v: f64) -> f64 {
    if !(-0.5..=0.5).contains(&v) {
        return libm::expm1(v) - v;
    }
    let (mut term, mut sum, mut n) = (0.5 * v * v, 0.0, 2.0);
    while term.abs() > f64::EPSILON * sum {
        sum += term;
        n += 1.0;
        term *= v / n;
    }
    sum
}

/// Stirling's error: ln Gamma(z) - [(z - 1/2) ln z - z + ln(2 pi)/2], for z > 0. Series: NIST DLMF 5.11.1.
pub(super) fn stirling_error(z: f64) -> f64 {
    if z < 12.0 {
        let half_log_two_pi = 0.918_938_533_204_672_8;
        return libm::log(libm::tgamma(z + 1.0)) - (z + 0.5) * libm::log(z) + z - half_log_two_pi;
    }
    const SERIES: [f64; 7] =
        [1.0 / 156.0, -691.0 / 360_360.0, 1.0 / 1188.0, -1.0 / 1680.0, 1.0 / 1260.0, -1.0 / 360.0, 1.0 / 12.0];
    let square = z * z;
    SERIES.iter().fold(0.0, |sum, term| sum / square + term) / z
}

/// Gamma(a + 1/2) / (sqrt(pi) Gamma(a)) = 1 / B(a, 1/2). Series: NIST DLMF 5.11.13.
pub(super) fn inverse_beta_half(a: f64) -> f64 {
    if a < 32.0 {
        // Gamma(a) overflows for the smallest a, a Gamma(a) does not.
        return a * libm::tgamma(a + 0.5) / (libm::tgamma(a + 1.0) * PI.sqrt());
    }
    const SERIES: [f64; 8] = [
        39_325.0 / 33_554_432.0,
        869.0 / 4_194_304.0,
        -399.0 / 262_144.0,
        -21.0 / 32_768.0,
        5.0 / 1024.0,
        1.0 / 128.0,
        -1.0 / 8.0,
        1.0,
    ];
    SERIES.iter().fold(0.0, |sum, term| sum / a + term) * (a / PI).sqrt()
}

/// The continued fraction that begins with `first` and goes on with the parts that `next` gives for 1, 2, 3 and so on:
/// the numerator, then the denominator. By the modified Lentz method, in at most `most` steps.
pub(super) fn continued_fraction(first: f64, most: usize, mut next: impl FnMut(f64) -> (f64, f64)) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |x: f64| if x.abs() < TINY { TINY } else { x };
    let mut value = first;
    let (mut c, mut d) = (value, 0.0);
    let mut m = 0.0;
    for _ in 0..most {
        m += 1.0;
        let (upper, lower) = next(m);
        d = 1.0 / away_from_zero(lower + upper * d);
        c = away_from_zero(lower + upper / c);
        let factor = c * d;
        value *= factor;
        if (factor - 1.0).abs() <= f64::EPSILON || factor.is_nan() {
            break;
        }
    }
    value
}
