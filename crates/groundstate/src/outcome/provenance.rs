//! Where an outcome comes from.

/// Version and fingerprints of an outcome. Times, people and lots are in the run's own facts: passed through, never
/// invented.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Provenance {
    /// Version of this library.
    pub library: String,
    /// SHA-256 of the canonical form of schema, method and run (feature `serde`).
    pub fingerprint: Option<String>,
    /// SHA-256 of the canonical method alone.
    pub method: Option<String>,
    /// SHA-256 of the canonical criteria alone.
    pub profile: Option<String>,
    /// SHA-256 of the canonical table alone.
    pub table: Option<String>,
    /// SHA-256 of the raw bytes that the table was read from, if the caller gave it.
    pub raw: Option<String>,
    /// Fingerprint of the outcome that this one amends, and why.
    pub amends: Option<(String, String)>,
}

impl Provenance {
    /// Of this version of the library, without fingerprints.
    pub fn new() -> Self {
        Provenance { library: env!("CARGO_PKG_VERSION").to_owned(), ..Provenance::default() }
    }
}
