//! From the solution that was aspirated back to the sample: portion, final volume, dilution, solids, factors.
//!
//! mg/L times mL over g is mg/kg, and mg/L times mL over mL is mg/L, so the volumes and the portion need no factor of
//! ten. SW-846 7000B 12.1.2 and 6010D 12.2; for the printed legend of 7000B 12.1.1 see
//! [`Preparation::multiplier`].

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

// The code of the explanation compiles and runs with the documentation tests.
#[cfg(doctest)]
#[doc = include_str!("../../../../docs/explanation/preparation.md")]
struct Explanation;

#[cfg(test)]
mod tests;
