//! Limits of detection and quantitation, each with the definition it was made by.
//!
//! Limits of a whole method: the method detection limit through its life ([`mdl`]), the minimum level that follows from it
//! ([`minimum_level()`]), the verification of a lower limit of quantitation ([`lloq`]) and the instrument detection limit
//! ([`idl`]); and what follows from a calibration alone ([`from_calibration`]). Two limits under one short name may differ by a factor of ten, so
//! every limit carries its [`LimitDefinition`].
//!
//! Nothing here reads a clock: "as of" is always a [`Date`] that the caller gives.
//!
//! ```
//! use groundstate::detection::from_calibration::currie::{Blank, CurrieOptions, Sigma, levels};
//!
//! // A known standard deviation of 1 and a paired blank: 2.33, 4.65 and 14.1 (Currie 1968).
//! let levels = levels(Sigma::Known(1.0), Blank::Paired, &CurrieOptions::default())?;
//! assert!((levels.critical - 2.326).abs() < 0.001);
//! # Ok::<(), groundstate::Error>(())
//! ```

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
