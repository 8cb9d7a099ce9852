//! Random streams for Monte Carlo: small, fast, and the same on every machine and for any number of threads.
//!
//! A stream is made from a seed and the number of a chunk of trials. Work is cut into fixed chunks, each drawing from
//! its own stream, so the result does not depend on which thread takes which chunk. There is no global generator.
//!
//! Bits come from xoshiro256++ (D. Blackman and S. Vigna, "Scrambled linear pseudorandom number generators", ACM
//! Transactions on Mathematical Software 47(4), 2021), its state from SplitMix64 (G. Steele, D. Lea and C. Flood,
//! "Fast splittable pseudorandom number generators", OOPSLA 2014); normal numbers from the ziggurat with 256 layers
//! (G. Marsaglia and W. W. Tsang, "The ziggurat method for generating random variables", Journal of Statistical
//! Software 5(8), 2000). It is no generator for secrets.

use super::ziggurat::{EDGES, HEIGHTS};

/// A stream of random numbers.
///
/// ```
/// use groundstate::numeric::stream::Stream;
/// let mut again = Stream::new(7, 0);
/// let mut stream = Stream::new(7, 0);
/// assert_eq!(stream.normal().to_bits(), again.normal().to_bits());
/// assert!(Stream::new(7, 1).bits() != Stream::new(7, 0).bits());
/// ```
#[derive(Clone, Debug)]
pub struct Stream {
    words: [u64; 4],
}

/// 2^-52.
const STEP: f64 = f64::EPSILON;

impl Stream {
    /// The stream of `chunk` under `seed`. Two chunks of a seed never start alike, and no state is reached from
    /// another chunk's start within any practical number of draws (the period is 2^256 - 1).
    pub fn new(seed: u64, chunk: u64) -> Self {
        // The chunk enters between two mixings: added to the counter of SplitMix64 itself it would give chunks whose
        // states share three of their four words.
        let start = mix(mix(seed.wrapping_add(GOLDEN_GAMMA)).wrapping_add(chunk));
        // Four outputs of a bijection are not all zero, the one state that xoshiro must not have.
        Stream { words: [1, 2, 3, 4].map(|step: u64| mix(start.wrapping_add(step.wrapping_mul(GOLDEN_GAMMA)))) }
    }

    /// 64 random bits.
    #[inline]
    pub fn bits(&mut self) -> u64 {
        let [s0, s1, s2, s3] = self.words;
        let result = s0.wrapping_add(s3).rotate_left(23).wrapping_add(s0);
        let (s2, s3) = (s2 ^ s0, s3 ^ s1);
        self.words = [s0 ^ s3, s1 ^ s2, s2 ^ (s1 << 17), s3.rotate_left(45)];
        result
    }

    /// A number between 0 and 1, neither of them: the middle of one of 2^52 equal steps.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        ((self.bits() >> 12) as f64 + 0.5) * STEP
    }

    /// A draw from the standard normal distribution.
    #[inline]
    pub fn normal(&mut self) -> f64 {
        let bits = self.bits();
        // The layer takes the lowest 8 bits, the place within it the highest 53, sign included.
        let layer = usize::from(bits as u8);
        let x = ((bits as i64 >> 11) as f64 + 0.5) * STEP * EDGES[layer];
        if x.abs() < EDGES[layer + 1] {
            return x;
        }
        // The state goes by value: a reference would keep it in memory through every loop that draws.
        let (after, x) = self.clone().normal_at_the_rim(layer, x);
        *self = after;
        x
    }

    /// Standard normal draws for all of `out`.
    pub fn fill_normal(&mut self, out: &mut [f64]) {
        let mut stream = self.clone();
        for value in out {
            *value = stream.normal();
        }
        *self = stream;
    }

    /// One draw in about 80 falls where a layer sticks out of the density, or into the tail.
    #[cold]
    fn normal_at_the_rim(mut self, layer: usize, x: f64) -> (Self, f64) {
        let drawn = if layer == 0 {
            self.normal_tail().copysign(x)
        } else {
            let y = HEIGHTS[layer] + self.uniform() * (HEIGHTS[layer + 1] - HEIGHTS[layer]);
            if y < libm::exp(-0.5 * x * x) { x } else { self.normal() }
        };
        (self, drawn)
    }

    /// A draw from the normal tail above the base layer (Marsaglia's method: two exponential numbers).
    fn normal_tail(&mut self) -> f64 {
        loop {
            let beyond = -libm::log(self.uniform()) / EDGES[1];
            if -2.0 * libm::log(self.uniform()) >= beyond * beyond {
                return EDGES[1] + beyond;
            }
        }
    }

    /// A draw from the rectangular distribution between `lower` and `upper` (JCGM 101:2008, 6.4.2).
    pub fn rectangular(&mut self, lower: f64, upper: f64) -> f64 {
        lower + (upper - lower) * self.uniform()
    }

    /// A draw from the symmetric triangular distribution between `lower` and `upper` (JCGM 101:2008, 6.4.5).
    pub fn triangular(&mut self, lower: f64, upper: f64) -> f64 {
        self.trapezoidal(lower, upper, 0.0)
    }

    /// A draw from the symmetric trapezoidal distribution between `lower` and `upper` whose top is `top` times as
    /// wide as its base (JCGM 101:2008, 6.4.4): 0 is the triangle, 1 the rectangle; outside 0 to 1 the draw is NaN.
    pub fn trapezoidal(&mut self, lower: f64, upper: f64, top: f64) -> f64 {
        if !(0.0..=1.0).contains(&top) {
            return f64::NAN;
        }
        // The sum of two rectangular numbers, as wide as base and top taken together and their difference.
        let sum = (1.0 + top) * self.uniform() + (1.0 - top) * self.uniform();
        lower + 0.5 * (upper - lower) * sum
    }

    /// A draw from Student's t distribution with `dof` degrees of freedom, which may be fractional or infinite.
    /// NaN unless `dof` is positive.
    ///
    /// The polar method of R. W. Bailey, "Polar generation of random variates with the t-distribution", Mathematics
    /// of Computation 62 (1994) 779.
    pub fn student_t(&mut self, dof: f64) -> f64 {
        if dof.is_infinite() && dof > 0.0 {
            return self.normal();
        }
        if dof.is_nan() || dof <= 0.0 {
            return f64::NAN;
        }
        loop {
            let (u, v) = (self.rectangular(-1.0, 1.0), self.rectangular(-1.0, 1.0));
            let w = u * u + v * v;
            if w <= 1.0 {
                // w^(-2/dof) - 1 by expm1, which keeps its digits for many degrees of freedom.
                let excess = libm::expm1(-2.0 / dof * libm::log(w));
                return u * (dof * excess / w).sqrt();
            }
        }
    }

    /// A draw from the chi-squared distribution with `dof` degrees of freedom, which may be fractional. NaN unless
    /// `dof` is positive and finite.
    ///
    /// By the method of G. Marsaglia and W. W. Tsang, "A simple method for generating gamma variables", ACM
    /// Transactions on Mathematical Software 26 (2000) 363.
    pub fn chi_squared(&mut self, dof: f64) -> f64 {
        if !(dof > 0.0 && dof.is_finite()) {
            return f64::NAN;
        }
        if dof < 2.0 {
            // Their remedy for a shape below one: the next one times a power of a uniform number.
            return self.chi_squared(dof + 2.0) * libm::pow(self.uniform(), 2.0 / dof);
        }
        let d = 0.5 * dof - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let root = 1.0 + c * x;
            let v = root * root * root;
            if v > 0.0 && libm::log(self.uniform()) < 0.5 * x * x + d - d * v + d * libm::log(v) {
                return 2.0 * d * v;
            }
        }
    }
}

/// The odd constant nearest to 2^64 over the golden ratio.
const GOLDEN_GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

/// The output function of SplitMix64, a bijection.
const fn mix(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
#[path = "stream_tests.rs"]
mod tests;
