//! From flame atomic absorption readings to concentrations that stand up in an audit.
//!
//! A run of readings and a method go in; results with their uncertainty, checks with their verdicts and every decision
//! with its rule come out. There is no I/O, no clock, no global state and no unsafe code, and the same input gives the
//! same output, bit for bit.
//!
//! ```
//! use groundstate::{criteria::ProfileName, method::Method, reduce::reduce, run::Run};
//!
//! let run = Run::builder("invented")
//!     .calibration_blank(&[0.0004, 0.0002])
//!     .standard("S1", 0.5, &[0.0562, 0.0560])
//!     .standard("S2", 1.0, &[0.1125, 0.1121])
//!     .standard("S3", 2.0, &[0.2238, 0.2241])
//!     .sample("well 3", &[0.0871, 0.0868])
//!     .build()?;
//! let outcome = reduce(&run, &Method::new("Cu", ProfileName::General)?)?;
//! for row in outcome.reported() {
//!     println!("{}: {} {}", row.label, row.text, row.unit.symbol());
//! }
//! # Ok::<(), groundstate::Error>(())
//! ```
//!
//! # A map
//!
//! | you have | look in |
//! |---|---|
//! | standards and readings | [`curve`]: fit, inverse, intervals, diagnostics, choice of shape |
//! | readings of standard additions, or two standards about a sample | [`addition`] |
//! | a concentration in a solution, and want that in the sample | [`preparation`], with volumes and dilutions of [`glassware`] |
//! | results, and want their budget or covariance | [`estimate`] |
//! | blanks and spikes, and want limits | [`detection`] |
//! | replicates | [`statistics`] |
//! | a whole run as a table | [`run`], [`method`], [`reduce`](mod@reduce); what comes out is an [`outcome`] |
//! | check standards, duplicates, spikes to judge | [`check`], by rules that are data in [`criteria`] |
//! | many runs of bare numbers | [`columns`] |
//! | doubts about first-order uncertainty | [`simulate`] |
//! | an outcome to store and to verify | [`wire`], feature `serde` |
//! | a figure to write | [`rounding`], [`unit`](mod@unit) |
//!
//! What was noticed on the way is a [`finding`]; what cannot be understood is an [`error`]. [`element`] and [`numeric`]
//! are there for anyone. The pages of the documentation site are in the [`guide`].
//!
//! # Features
//!
//! `parallel` reduces runs side by side, `serde` adds JSON documents, fingerprints and verification, `text` the readers of
//! CSV and TOML. All are on by default; without them the crate needs no more than `libm`, `nalgebra` and `thiserror`.
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
#[cfg(any(doc, doctest))]
pub mod guide;
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
#[doc = include_str!("../README.md")]
struct ReadMe;
