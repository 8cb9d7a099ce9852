//! Limits of detection and quantitation, each with the definition it was made by.
//!
//! Limits of a whole method: the method detection limit through its life ([`mdl`]), the minimum level that follows from it
//! ([`minimum_level()`]), the verification of a lower limit of quantitation ([`lloq`]) and the instrument detection limit
//! ([`idl`]); and what follows from a calibration alone ([`from_calibration`]). Two limits under one short name may differ by a factor of ten, so
//! every limit carries its [`LimitDefinition`].
//!
//! Nothing here reads a clock: "as of" is always a [`Date`] that the caller gives.

mod check;
mod date;
mod definition;
mod edge;
pub mod from_calibration;
pub mod idl;
pub mod lloq;
pub mod mdl;
mod minimum_level;
mod moments;

pub use check::{LimitCheck, State};
pub use date::{Date, Quarter};
pub use definition::{LimitDefinition, LimitRole};
pub use from_calibration::{
    CalibrationLimit, LimitMethod, LimitOptions, critical_value, detection_limit, quantitation_limit,
};
pub use minimum_level::{MinimumLevel, minimum_level, minimum_level_of_s};
