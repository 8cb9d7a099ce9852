//! The parts of Appendix B that findings and requirements cite. What was read in a restatement carries a clause; what
//! is known from memory carries the name of its section only.

use crate::finding::Citation;

const DOCUMENT: &str = "40 CFR Part 136, Appendix B";
const REVISION: &str = "Revision 2";

/// Spiking level of 2 to 10 times the estimate.
pub(super) const SPIKE_LEVEL: Citation = Citation::restated(DOCUMENT, REVISION, "II(2)(a)");
/// Numbers, batches, dates, age of the data.
pub(super) const DESIGN: Citation = Citation::restated(DOCUMENT, REVISION, "II(2)(b)");
/// t times s of the spikes, and the greater of the two parts.
pub(super) const COMPUTATION: Citation = Citation::restated(DOCUMENT, REVISION, "section II, initial MDL");
/// Everything else about the initial determination.
pub(super) const INITIAL: Citation = Citation::unverified(DOCUMENT, REVISION, "section II, initial MDL");
/// Quarterly spikes, spiking level, new instruments.
pub(super) const ONGOING: Citation = Citation::unverified(DOCUMENT, REVISION, "section II, ongoing data collection");
/// The annual verification.
pub(super) const VERIFICATION: Citation =
    Citation::unverified(DOCUMENT, REVISION, "section II, ongoing annual verification");
/// The record.
pub(super) const RECORD: Citation = Citation::unverified(DOCUMENT, REVISION, "section III, documentation");
