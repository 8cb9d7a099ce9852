//! Arithmetic the other rooms rest on: double-double, distributions, roots and random streams.
//!
//! ```
//! use groundstate::numeric::distribution::student_t;
//! use groundstate::numeric::root::real_roots;
//!
//! assert_eq!(real_roots([-6.0, 1.0, 1.0, 0.0, 0.0]).as_slice(), [-3.0, 2.0]);
//! assert!((student_t::quantile(0.975, 5.0) - 2.5706).abs() < 1e-4);
//! ```

pub(crate) mod dd;
pub mod distribution;
pub(crate) mod real;
pub mod root;
pub(crate) mod scale;
pub mod stream;
pub(crate) mod threads;

mod ziggurat;
