//! Where a rule comes from, and how well that is known.

use std::borrow::Cow;
use std::fmt;

/// How the wording behind a citation was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CitationStatus {
    /// Read in the document itself.
    Transcribed,
    /// Read in another document that restates it.
    Restated,
    /// Recalled; the document is cited without its clause.
    Unverified,
}

/// Whose rule it is, seen from the method in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Origin {
    /// The method's own.
    Method,
    /// Borrowed from another programme; off unless it is named.
    OtherProgramme,
    /// Set by the laboratory.
    Laboratory,
}

/// A rule's document, edition and clause, with the status of our knowledge of it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Citation {
    /// Title or number of the document.
    pub document: Cow<'static, str>,
    /// Edition, revision or year.
    pub edition: Cow<'static, str>,
    /// Clause or section; empty where the whole document is meant.
    pub clause: Cow<'static, str>,
    /// How the wording was seen.
    pub status: CitationStatus,
    /// Whose rule it is.
    pub origin: Origin,
}

impl Citation {
    /// A rule of the method, read in the document.
    pub const fn transcribed(document: &'static str, edition: &'static str, clause: &'static str) -> Self {
        Self::of(document, edition, clause, CitationStatus::Transcribed)
    }

    /// A rule of the method, read in a restatement.
    pub const fn restated(document: &'static str, edition: &'static str, clause: &'static str) -> Self {
        Self::of(document, edition, clause, CitationStatus::Restated)
    }

    /// A rule of the method, from memory. `section` is a section heading, not a clause letter.
    pub const fn unverified(document: &'static str, edition: &'static str, section: &'static str) -> Self {
        Self::of(document, edition, section, CitationStatus::Unverified)
    }

    /// Common practice, for which no document is known.
    pub const fn common_practice() -> Self {
        Self::of(Self::PRACTICE, "", "", CitationStatus::Unverified)
    }

    /// A choice that this library makes where the documents are silent.
    pub const fn own_choice() -> Self {
        Self::of(Self::CHOICE, "", "", CitationStatus::Unverified)
    }

    const PRACTICE: &str = "common practice, no source";
    const CHOICE: &str = "no document; a choice of this library";

    /// Whether a document is named, whose wording could be verified.
    pub fn names_a_document(&self) -> bool {
        self.document != Self::PRACTICE && self.document != Self::CHOICE
    }

    /// The same rule seen from another programme's method.
    #[must_use]
    pub const fn borrowed(mut self) -> Self {
        self.origin = Origin::OtherProgramme;
        self
    }

    /// A figure that the laboratory set itself.
    pub const fn laboratory() -> Self {
        let mut citation = Self::of("laboratory setting", "", "", CitationStatus::Transcribed);
        citation.origin = Origin::Laboratory;
        citation
    }

    const fn of(document: &'static str, edition: &'static str, clause: &'static str, status: CitationStatus) -> Self {
        Citation {
            document: Cow::Borrowed(document),
            edition: Cow::Borrowed(edition),
            clause: Cow::Borrowed(clause),
            status,
            origin: Origin::Method,
        }
    }
}

impl fmt::Display for Citation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.document)?;
        for part in [&self.edition, &self.clause] {
            if !part.is_empty() {
                write!(f, ", {part}")?;
            }
        }
        match self.status {
            CitationStatus::Transcribed => {}
            CitationStatus::Restated => f.write_str(" (restated)")?,
            CitationStatus::Unverified if !self.names_a_document() => {}
            CitationStatus::Unverified => f.write_str(" (unverified)")?,
        }
        match self.origin {
            Origin::OtherProgramme => f.write_str(" [rule of another programme]"),
            Origin::Method | Origin::Laboratory => Ok(()),
        }
    }
}
