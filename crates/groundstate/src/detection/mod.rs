//! Limits of detection and quantitation, each with the definition it was made by.
//!
//! Limits of a whole method: the method detection limit through its life, the minimum level that
//! follows from it, the verification of a lower limit of quantitation and the
//! instrument detection limit. Two limits under one short name may differ by a factor of ten, so
//! every limit carries its [`LimitDefinition`].
//!
//! Nothing here reads a clock: "as of" is always a [`Date`] that the caller gives.

mod date;
mod definition;
pub mod mdl;

pub use date::{Date, Quarter};
pub use definition::{LimitDefinition, LimitRole};
