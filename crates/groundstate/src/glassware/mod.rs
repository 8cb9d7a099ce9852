//! Measured quantities with their standard uncertainty, tolerances of volumetric glassware, and dilutions.
//!
//! A tolerance becomes a standard uncertainty by a named distribution (JCGM 100:2008 4.3), never silently.
//!
//! ```
//! use groundstate::glassware::{Dilution, Measured};
//!
//! let flask = Measured::new("final_volume_ml", 100.0, 0.08)?.with_item("flask 7")?;
//! assert_eq!(flask.u(), 0.08);
//! assert_eq!(Dilution::parse("5/50;10/100")?.factor().to_string(), "100");
//! # Ok::<(), groundstate::Error>(())
//! ```

mod dilution;
mod measured;
mod piston;
mod tolerance;
mod volumetric;

pub use dilution::{Dilution, DilutionStep};
pub use measured::Measured;
pub use piston::PistonPipette;
pub use tolerance::{Distribution, WATER_EXPANSION, combined, standard_uncertainty, temperature_half_width};
pub use volumetric::{Class, Specification, Tolerance, Vessel, tolerance};
