//! Qualifiers: letters and words beside a result, as data.

use std::sync::Arc;

use super::policy::words;

words! {
    /// What a qualifier says of a result.
    Qualification, "qualifier":
    /// Below the limit of `nondetect_at`.
    NotDetected = "not_detected",
    /// Detected, but below the limit of quantitation.
    BelowQuantitation = "below_quantitation",
    /// Above the top standard.
    AboveRange = "above_range",
    /// Between instrument checks that did not pass.
    InstrumentCheckFailed = "instrument_check_failed",
    /// In a batch whose checks did not pass.
    BatchCheckFailed = "batch_check_failed",
    /// In a batch whose method blank holds the analyte.
    BlankAffected = "blank_affected",
    /// A required check is missing or could not be evaluated.
    CheckMissing = "check_missing",
}

/// The mark for one qualification.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Qualifier {
    /// Letters beside the result; none where words alone say it.
    pub letters: Option<Arc<str>>,
    /// The words for the legend.
    pub words: Arc<str>,
}

/// The mark of every qualification.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Qualifiers([Qualifier; Qualification::ALL.len()]);

impl Default for Qualifiers {
    /// U and J as in the contract laboratory programme of the EPA; words for the rest, whose letters differ from
    /// programme to programme.
    fn default() -> Self {
        let mark = |what: Qualification| {
            let (letters, words): (Option<&str>, &str) = match what {
                Qualification::NotDetected => (Some("U"), "not detected at or above the limit shown"),
                Qualification::BelowQuantitation => (Some("J"), "estimated: detected below the limit of quantitation"),
                Qualification::AboveRange => (None, "estimated: above the top standard"),
                Qualification::InstrumentCheckFailed => (None, "an instrument check that covers it did not pass"),
                Qualification::BatchCheckFailed => (None, "a check of its preparation batch did not pass"),
                Qualification::BlankAffected => (None, "the method blank of its batch holds the analyte"),
                Qualification::CheckMissing => (None, "a required check is missing or could not be evaluated"),
            };
            Qualifier { letters: letters.map(Arc::from), words: words.into() }
        };
        Qualifiers(std::array::from_fn(|i| mark(Qualification::ALL[i])))
    }
}

impl Qualifiers {
    /// The mark for `what`.
    pub fn get(&self, what: Qualification) -> &Qualifier {
        // One for each qualification, in their order, by construction.
        &self.0[what as usize]
    }

    /// Changes the mark for `what`.
    pub fn set(&mut self, what: Qualification, mark: Qualifier) {
        self.0[what as usize] = mark;
    }

    /// Every qualification with its mark.
    pub fn iter(&self) -> impl Iterator<Item = (Qualification, &Qualifier)> {
        Qualification::ALL.iter().copied().zip(&self.0)
    }
}
