//! From flame atomic absorption readings to concentrations that stand up in an audit.
#![forbid(unsafe_code)]
#![deny(missing_docs, clippy::float_cmp)]

pub mod addition;
pub mod check;
pub mod columns;
pub mod criteria;
pub mod curve;
pub mod detection;
#[cfg(feature = "serde")]
pub mod document;
pub mod element;
pub mod error;
pub mod estimate;
pub mod finding;
pub mod glassware;
pub mod method;
pub mod numeric;
pub mod outcome;
pub mod preparation;
pub mod reduce;
pub mod rounding;
pub mod run;
pub mod simulate;
pub mod statistics;
#[cfg(feature = "text")]
mod text;
pub mod unit;
#[cfg(feature = "serde")]
pub mod wire;

pub use error::{Error, Kind, Problem};

// The Rust code in README.md compiles and runs with the documentation tests.
#[cfg(doctest)]
#[doc = include_str!("../../../README.md")]
struct ReadMe;
