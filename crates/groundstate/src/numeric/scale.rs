//! Scaling that rounds nothing.

/// The power of two that brings a positive number to between one and two; no further than 2^1000 either way. Read from
/// the exponent's bits, because it is wanted for every position of an archive.
pub(crate) fn to_about_one(largest: f64) -> f64 {
    const DIGITS: u32 = 52;
    const BIAS: u64 = 1023;
    let exponent = (largest.to_bits() >> DIGITS).clamp(BIAS - 1000, BIAS + 1000);
    f64::from_bits((2 * BIAS - exponent) << DIGITS)
}

#[cfg(test)]
mod tests {
    use super::to_about_one;

    #[test]
    fn it_is_the_power_of_two_by_the_logarithm() {
        for exponent in -1074..1024 {
            for part in [1.0, 1.25, 1.9] {
                let largest = part * libm::exp2(f64::from(exponent));
                let by_logarithm = libm::exp2(-libm::floor(libm::log2(largest)).clamp(-1000.0, 1000.0));
                assert_eq!(to_about_one(largest).to_bits(), by_logarithm.to_bits(), "{largest:e}");
            }
        }
        assert_eq!(to_about_one(f64::INFINITY).to_bits(), libm::exp2(-1000.0).to_bits());
    }
}
