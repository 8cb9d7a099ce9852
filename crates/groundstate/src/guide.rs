//! The guide: what is computed and why, with formulas and the documents they come from.
//!
//! These are the pages of the documentation site. Their code is compiled and run with the documentation tests.

// The pages mark in brackets how a line is known, as in [S], which is no link.
#![allow(rustdoc::broken_intra_doc_links)]

#[doc = include_str!("../docs/tutorials/rust.md")]
#[cfg(feature = "text")]
pub mod tutorial {}

#[doc = include_str!("../docs/explanation/curves.md")]
pub mod curves {}

#[doc = include_str!("../docs/explanation/errors-in-the-standards.md")]
pub mod errors_in_the_standards {}

#[doc = include_str!("../docs/explanation/standard-additions.md")]
pub mod standard_additions {}

#[doc = include_str!("../docs/explanation/preparation.md")]
pub mod preparation {}

#[doc = include_str!("../docs/explanation/limits.md")]
pub mod limits {}

#[doc = include_str!("../docs/explanation/checks.md")]
pub mod checks {}

#[doc = include_str!("../docs/explanation/monte-carlo.md")]
pub mod monte_carlo {}

#[doc = include_str!("../docs/explanation/small-samples.md")]
pub mod small_samples {}

#[doc = include_str!("../docs/formats.md")]
pub mod files {}

#[doc = include_str!("../docs/safety.md")]
pub mod safety {}
