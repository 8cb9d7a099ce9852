//! A calibration's identity: a 64-bit hash of what was fitted and how.

use super::noise::{Noise, ReplicateModel};
use super::options::{FitOptions, Zero, Zeroing};
use super::points::Points;
use super::standards_error::StandardsError;
use crate::estimate::CalibrationId;

/// FNV-1a over 64-bit words, finished by SplitMix64's mixer so that every bit of the input reaches every bit out.
pub(crate) struct Hasher(u64);

impl Hasher {
    pub fn new() -> Self {
        Hasher(0xcbf2_9ce4_8422_2325)
    }

    pub fn word(&mut self, word: u64) {
        self.0 = (self.0 ^ word).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(23);
    }

    pub fn numbers(&mut self, numbers: &[f64]) {
        self.word(numbers.len() as u64);
        // What is not a number has several patterns of bits, and is one thing.
        let bits = |number: &f64| if number.is_nan() { f64::NAN.to_bits() } else { number.to_bits() };
        numbers.iter().for_each(|number| self.word(bits(number)));
    }

    pub fn text(&mut self, text: &str) {
        self.word(text.len() as u64);
        text.bytes().for_each(|byte| self.word(byte.into()));
    }

    pub fn finish(self) -> u64 {
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// The identity of a fit of `points` under `options` with the sigmas of `noise`.
pub(super) fn of(points: &Points, options: &FitOptions, noise: &Noise) -> CalibrationId {
    let mut hash = Hasher::new();
    hash.text(options.shape.name());
    hash.text(noise.name());
    match noise {
        Noise::RelativeSigma(sigmas) | Noise::KnownSigma(sigmas) => hash.numbers(sigmas.as_slice()),
        Noise::FromReplicates(ReplicateModel::PerLevel { at_least }) => hash.word((*at_least).into()),
        _ => {}
    }
    match options.zero {
        Zero::Include => hash.word(0),
        Zero::LeaveOut => hash.word(1),
        Zero::Floor(floor) => hash.numbers(&[floor]),
    }
    hash.word(match options.zeroing {
        Zeroing::Raw => 0,
        Zeroing::BlankSubtracted(_) => 1,
        Zeroing::Autozeroed(_) => 2,
    });
    hash.numbers(&[options.zeroing.u(), options.resolution.unwrap_or(0.0)]);
    hash.text(options.unit.name());
    for stock in &options.stocks {
        hash.text(&stock.name);
        hash.numbers(&[stock.relative_u]);
    }
    match &options.standards_error {
        StandardsError::Negligible => hash.word(0),
        StandardsError::Independent(u) => hash.numbers(u),
        StandardsError::Covariance(matrix) => hash.numbers(matrix.as_slice()),
    }
    hash.text(options.convention.name());
    hash.text(points.kind().name());
    hash.numbers(points.concentrations());
    hash.numbers(points.signals());
    hash.numbers(points.within());
    points.readings().iter().for_each(|count| hash.word((*count).into()));
    CalibrationId(hash.finish())
}
