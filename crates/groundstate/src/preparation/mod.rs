//! From the solution that was aspirated back to the sample: portion, final volume, dilution, solids, factors.
//!
//! mg/L times mL over g is mg/kg, and mg/L times mL over mL is mg/L, so the volumes and the portion need no factor of
//! ten. SW-846 7000B 12.1.2 and 6010D 12.2; for the printed legend of 7000B 12.1.1 see
//! [`Preparation::multiplier`].
//!
//! ```
//! use groundstate::glassware::{Dilution, Measured};
//! use groundstate::preparation::{Description, Portion, Preparation};
//!
//! let water = Preparation::new(Description {
//!     portion: Some(Portion::Volume(Measured::new("volume_ml", 100.0, 0.1)?)),
//!     final_volume: Some(Measured::new("final_volume_ml", 50.0, 0.05)?),
//!     dilution: Dilution::parse("5/50")?,
//!     ..Description::default()
//! })?;
//! assert_eq!(water.multiplier(), 5.0);
//! # Ok::<(), groundstate::Error>(())
//! ```

mod apply;
mod description;
mod limit;
mod solids;
mod spike;
mod terms;
pub(crate) mod words;

pub use apply::{Origin, Portions, apply_each};
pub use description::{Description, Factor, Portion, Preparation};
pub use limit::{LimitBasis, LimitFloor, Nominal, SampleLimit, StatedLimit};
pub use solids::{ReportBasis, Solids, Weighed};
pub use spike::{PostDigestionSpike, Spike, post_digestion_spike};
pub(crate) use terms::Share;

#[cfg(test)]
mod tests;
