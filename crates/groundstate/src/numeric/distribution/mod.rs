//! Distribution functions and quantiles, with both tails computed directly.
//!
//! Every module has free functions on plain numbers: `cdf` (lower tail), `sf` (upper tail, never 1 - cdf),
//! `quantile` (from a lower-tail probability) and `upper_quantile` (from an upper-tail probability, exact where
//! 1 - q is not a number of its own). Degrees of freedom are real and positive and may be infinite. An argument
//! that has no meaning (a probability outside 0 to 1, degrees of freedom that are not positive, NaN) gives NaN;
//! callers check before they call.
//!
//! The functions are our own on top of `libm`, not those of a statistics library, for two reasons: the platform's
//! `exp` and `ln` under such a library give other last bits on another target, and the tails and large degrees of
//! freedom must hold 12 digits. `tests/distribution_table.rs` checks them against integrals of the densities.
//!
//! ```
//! use groundstate::numeric::distribution::student_t;
//! let k = student_t::coverage_factor(0.95, 13.0);
//! assert!((k - 2.160_368_656).abs() < 1e-9);
//! ```

pub mod chi_squared;
pub mod fisher_f;
pub mod noncentral_t;
pub mod normal;
pub mod student_t;

mod beta;
mod gamma;
mod solve;
mod special;

/// Both tails of a distribution at one point.
#[derive(Clone, Copy, Debug)]
struct Tails {
    lower: f64,
    upper: f64,
}

/// Whether `p` is a probability, ends included; NaN is not.
fn is_probability(p: f64) -> bool {
    (0.0..=1.0).contains(&p)
}

/// Whether `dof` can be degrees of freedom: above zero, infinity included; NaN is not.
fn is_dof(dof: f64) -> bool {
    dof > 0.0
}
