//! The method detection limit of 40 CFR Part 136, Appendix B, Revision 2: the initial determination, the data to gather
//! from then on, the yearly verification, and the record.
//!
//! An MDL is the lowest *measured* result that can be told from method blanks with 99 % confidence. It is a decision limit
//! (Currie's L_C), not the lowest content that is surely found, and not a limit of quantitation. It holds for samples at
//! their nominal mass, volume and dilution, in the method's reporting unit.
//!
//! The text of the appendix was available up to II(2)(b) and in restatements; what follows there is cited by section,
//! without clause letters, as unverified. Read the current text before quoting it in a statement of compliance.

mod design;
mod estimate;
mod initial;
mod interval;
mod observation;
mod ongoing;
mod options;
mod parts;
mod population;
mod rank;
mod record;
mod rules;
mod t_factor;
mod verification;
mod window;

#[cfg(test)]
#[allow(clippy::excessive_precision, reason = "figures stand as they were computed or published")]
mod tests;

pub use design::{DesignRule, Requirement};

pub use super::State;
pub use estimate::{EstimateBasis, InitialEstimate, initial_estimate};
pub use initial::{Mdl, MdlBasis, MdlPart, initial, initial_from_values};
pub use interval::LimitInterval;
pub use observation::{Exclusion, MdlKind, MdlResult, Measured};
pub use ongoing::{
    JoiningDecision, JoiningInstrument, LevelDecision, OngoingPlan, OngoingSetting, QuarterPlan, QuarterState,
    SPIKES_A_QUARTER, SpikingLevel, joining_instrument, ongoing_plan, spiking_level,
};
pub use options::{ManyBlanks, MdlOptions, NumericBlanks, Percentile, RankTie, TValues};
pub use parts::{BlankBranch, BlankPart, SpikeOutcome, SpikePart};
pub use population::Counts;
pub use rank::{PercentilePlace, PercentileRank};
pub use record::{MdlRecord, MdlRecordHeader};
pub use t_factor::{TFactor, TSource};
pub use verification::{Ratio, Verification, VerificationDecision, VerificationReason, VerificationSetting, verify};
pub use window::{BlankWindow, BlanksTaken, LeftOut};
