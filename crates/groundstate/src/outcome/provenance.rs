//! Where an outcome comes from.

#[cfg(feature = "serde")]
use crate::document::{Digest, canonical, sha256_hex};

/// Version and fingerprints of an outcome. Times, people and lots are in the run's own facts: passed through, never
/// invented.
///
/// The digests are SHA-256 of canonical JSON (RFC 8785), in lower-case hexadecimal, so that any language can compute
/// them again. They need the feature `serde`. Neither the version of the library nor any result is part of them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Provenance {
    /// Version of this library.
    pub library: String,
    /// Of `{"schema": "groundstate.input/1", "method": ..., "run": ...}`: the same input has the same fingerprint.
    pub fingerprint: Option<String>,
    /// Of the method alone, every default stated.
    pub method: Option<String>,
    /// Of `{"profile": ..., "criteria": ...}` of the method alone.
    pub profile: Option<String>,
    /// Of the run alone, its positions in ascending order.
    pub table: Option<String>,
    /// SHA-256 of the raw bytes that the table was read from, if the caller gave it.
    pub raw: Option<String>,
    /// Fingerprint of the outcome that this one amends, and why.
    pub amends: Option<(String, String)>,
}

impl Provenance {
    /// Schema of the canonical input.
    pub const INPUT: &str = "groundstate.input/1";

    /// Of this version of the library, without fingerprints.
    pub fn new() -> Self {
        Provenance { library: env!("CARGO_PKG_VERSION").to_owned(), ..Provenance::default() }
    }

    /// Of this version of the library reducing a run, whose canonical form is `run`, by a method of these digests.
    #[cfg(feature = "serde")]
    pub(crate) fn of(method: &MethodDigests, run: &str) -> Self {
        // The members are in the order of RFC 8785 as they stand.
        let input = method.input.clone().with(run.as_bytes());
        let input = input.with(b",\"schema\":\"").with(Self::INPUT.as_bytes()).with(b"\"}");
        Provenance {
            fingerprint: Some(input.hex()),
            method: Some(method.method.clone()),
            profile: Some(method.profile.clone()),
            table: Some(sha256_hex(run.as_bytes())),
            ..Provenance::new()
        }
    }
}

/// What a method gives to the provenance of every run that it reduces.
#[cfg(feature = "serde")]
#[derive(Clone, Debug)]
pub(crate) struct MethodDigests {
    method: String,
    profile: String,
    /// Of the canonical input up to the run.
    input: Digest,
}

#[cfg(feature = "serde")]
impl MethodDigests {
    /// Of a method's document.
    pub fn of(document: &serde_json::Value) -> Self {
        let member = |name: &str| document.get(name).map_or_else(|| "null".to_owned(), canonical);
        let profile = format!("{{\"criteria\":{},\"profile\":{}}}", member("criteria"), member("profile"));
        let method = canonical(document);
        MethodDigests {
            method: sha256_hex(method.as_bytes()),
            profile: sha256_hex(profile.as_bytes()),
            input: Digest::default().with(b"{\"method\":").with(method.as_bytes()).with(b",\"run\":"),
        }
    }
}

#[cfg(feature = "serde")]
impl super::Outcome {
    /// The same outcome with the digest of the raw bytes that its table was read from.
    #[must_use]
    pub fn with_raw_table(mut self, bytes: &[u8]) -> Self {
        self.provenance.raw = Some(sha256_hex(bytes));
        self
    }

    /// As [`with_raw_table`](Self::with_raw_table), with the digest of a file that many runs were read from.
    ///
    /// # Errors
    /// [`Kind::Argument`](crate::error::Kind::Argument) for a text that is not 64 hexadecimal digits in lower case.
    pub fn with_raw_digest(mut self, digest: &str) -> Result<Self, crate::Error> {
        if digest.len() != 64 || !digest.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f')) {
            let help = "give 64 hexadecimal digits in lower case";
            return Err(crate::Error::argument("digest", format!("{digest:?} is not a SHA-256 digest")).help(help));
        }
        self.provenance.raw = Some(digest.to_owned());
        Ok(self)
    }
}

#[cfg(all(test, feature = "text"))]
mod tests {
    use crate::method::Method;
    use crate::run::Run;

    #[test]
    fn the_digest_of_a_file_is_that_of_its_bytes() {
        // SHA-256 of nothing, as FIPS 180-4 implementations all give it (common knowledge, no source).
        let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        let run = Run::from_csv("role,label,nominal,absorbance\nstandard,A,1,0.1\nstandard,B,2,0.2\nsample,C,,0.1\n");
        let method = Method::new("Zn", crate::criteria::ProfileName::General).unwrap();
        let outcome = crate::reduce::reduce(&run.unwrap(), &method).unwrap();
        let named = outcome.clone().with_raw_digest(empty).unwrap();
        assert_eq!(named.provenance(), outcome.clone().with_raw_table(b"").provenance());
        for wrong in ["", "E3", &empty.to_uppercase(), &format!("{empty}0")] {
            assert!(outcome.clone().with_raw_digest(wrong).unwrap_err().to_string().contains("SHA-256"));
        }
    }
}
