//! The documents that criteria come from.

use crate::finding::Citation;

/// Custom of the trade: no document is claimed for it.
pub(super) const CUSTOM: Citation = Citation::common_practice();

/// A choice this library makes where the documents are silent.
pub(super) const SILENT: Citation = Citation::own_choice();

/// SW-846 Method 7000B, read in the document.
pub(super) const fn m7000b(clause: &'static str) -> Citation {
    Citation::transcribed("SW-846 Method 7000B", "Revision 2, February 2007", clause)
}

/// SW-846 Method 8000D: the general text on calibration, not the flame method's own.
pub(super) const fn m8000d(clause: &'static str) -> Citation {
    Citation::transcribed("SW-846 Method 8000D", "Revision 5, March 2018", clause).borrowed()
}

/// SW-846 Method 6010D, a sister method.
pub(super) const fn m6010d(clause: &'static str) -> Citation {
    Citation::transcribed("SW-846 Method 6010D", "Revision 5, July 2018", clause).borrowed()
}

/// EPA Method 200.7, a sister method.
pub(super) const M200_7: Citation = Citation::transcribed("EPA Method 200.7", "Revision 4.4, 1994", "").borrowed();

/// EPA Method 200.9, a sister method.
pub(super) const M200_9: Citation = Citation::transcribed("EPA Method 200.9", "Revision 2.2, 1994", "").borrowed();

/// SW-846 Chapter One, where batches are defined.
pub(super) const CHAPTER_ONE: Citation = Citation::transcribed("SW-846 Chapter One", "", "");

/// The inorganic statement of work of the Contract Laboratory Program, from memory.
pub(super) const CLP: Citation =
    Citation::unverified("EPA Contract Laboratory Program, inorganic statement of work", "", "").borrowed();

/// Standard Methods, from memory.
pub(super) const SM3111: Citation =
    Citation::unverified("Standard Methods for the Examination of Water and Wastewater", "", "3111");
