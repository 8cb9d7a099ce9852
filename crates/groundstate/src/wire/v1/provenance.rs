//! Provenance on the wire.

use crate::document::form;
use crate::outcome::Provenance;

form! {
    /// Where an outcome comes from: SHA-256 digests in hexadecimal.
    ProvenanceForm {
        /// Of the canonical form (RFC 8785) of schema, method and run.
        fingerprint: Option<String>,
        /// Of the canonical method alone.
        method: Option<String>,
        /// Of the canonical criteria alone, with the profile's name.
        profile: Option<String>,
        /// Of the canonical run alone.
        table: Option<String>,
        /// Of the raw bytes that the table was read from.
        raw: Option<String>,
        amends: Option<AmendmentForm>,
    }

    /// The outcome that this one stands for, and why.
    AmendmentForm {
        fingerprint: String,
        reason: String,
    }
}

impl ProvenanceForm {
    pub fn of(provenance: &Provenance) -> Self {
        ProvenanceForm {
            fingerprint: provenance.fingerprint.clone(),
            method: provenance.method.clone(),
            profile: provenance.profile.clone(),
            table: provenance.table.clone(),
            raw: provenance.raw.clone(),
            amends: provenance.amends.as_ref().map(|(fingerprint, reason)| AmendmentForm {
                fingerprint: fingerprint.clone(),
                reason: reason.clone(),
            }),
        }
    }

    pub fn provenance(&self, library: &str) -> Provenance {
        Provenance {
            library: library.to_owned(),
            fingerprint: self.fingerprint.clone(),
            method: self.method.clone(),
            profile: self.profile.clone(),
            table: self.table.clone(),
            raw: self.raw.clone(),
            amends: self.amends.as_ref().map(|form| (form.fingerprint.clone(), form.reason.clone())),
        }
    }
}
