//! From flame atomic absorption readings to concentrations that stand up in an audit.
#![forbid(unsafe_code)]
#![deny(missing_docs, clippy::float_cmp)]

pub mod detection;
pub mod error;
pub mod finding;
pub mod report;
pub mod unit;

pub use error::{Error, Kind, Problem};
