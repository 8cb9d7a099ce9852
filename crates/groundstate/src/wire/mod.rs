//! Outcomes, runs and methods as JSON documents: what leaves the process, and what is read back.
//!
//! Every document begins with its `schema`, such as `groundstate.outcome/1`, which [`header`] reads without the rest.
//! Numbers are the shortest that read back to the same double. There is no NaN and no infinity: what has no value is
//! left out and its status says why. An outcome holds its input, so that [`verify`] can reduce it again.
//!
//! ```
//! use groundstate::wire::Document;
//! # use groundstate::criteria::ProfileName;
//! # use groundstate::method::Method;
//! # use groundstate::reduce::reduce;
//! # use groundstate::run::Run;
//! #
//! # let run = Run::builder("invented")
//! #     .standard("S1", 0.5, &[0.0562, 0.0560])
//! #     .standard("S2", 1.0, &[0.1125, 0.1121])
//! #     .standard("S3", 2.0, &[0.2238, 0.2241])
//! #     .sample("well 3", &[0.0871, 0.0868])
//! #     .build()?;
//! # let outcome = reduce(&run, &Method::new("Zn", ProfileName::General)?)?;
//! let text = outcome.to_json(groundstate::wire::Layout::Compact);
//! assert!(text.starts_with("{\"schema\":\"groundstate.outcome/1\""));
//! assert!(groundstate::wire::verify(&text)?.is_identical());
//! # Ok::<(), groundstate::Error>(())
//! ```

mod header;
mod mdl_record;
mod schema;
mod v1;
mod verify;

pub use crate::document::{canonical, sha256_hex};
pub use header::{Document, Header, header};
pub use schema::schema;
pub use verify::{Deviation, Verification, verify};

use serde_json::{Map, Value};

use crate::document::{Bracket, Form, Text, member, members, nothing_unknown, parse};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::Finding;
use crate::method::Method;
use crate::outcome::Outcome;
use crate::run::Run;
use v1::{FindingForm, OutcomeForm};

/// How a document is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Layout {
    /// One member a line, indented by two spaces.
    #[default]
    Pretty,
    /// Without white space.
    Compact,
}

impl Layout {
    fn write(self, document: &impl Form) -> String {
        Text::of(document, self == Layout::Pretty)
    }

    /// The members of `body` after the schema of the document.
    fn write_headed(self, document: Document, body: &Map<String, Value>) -> String {
        Text::with(self == Layout::Pretty, |to| {
            to.open(Bracket::Object);
            member("schema", &document.schema(), to);
            members(body.iter(), to);
            to.close(Bracket::Object);
        })
    }
}

impl Outcome {
    /// The outcome as a JSON document, its input included.
    pub fn to_json(&self, layout: Layout) -> String {
        layout.write(&self.to_form())
    }

    /// The outcome in a JSON document: the stored results, checks and findings. Only calibrations are fitted again, to
    /// their stored points.
    ///
    /// # Errors
    /// [`Kind::Wire`]: text that is not JSON, another document, a newer major version, members that are missing,
    /// unknown or contradict each other, a calibration that was changed.
    pub fn from_json(text: &str) -> Result<Outcome, Error> {
        read(text)?.outcome()
    }

    pub(crate) fn to_form(&self) -> OutcomeForm {
        OutcomeForm::of(self, &Document::Outcome.schema())
    }
}

impl Run {
    /// The run as a JSON document.
    pub fn to_json(&self, layout: Layout) -> String {
        layout.write_headed(Document::Run, self.to_document().as_object().unwrap_or(&Map::new()))
    }

    /// The run in a JSON document.
    ///
    /// # Errors
    /// As [`Outcome::from_json`].
    pub fn from_json(text: &str) -> Result<Run, Error> {
        Run::from_document(&body_of(text, Document::Run)?)
    }
}

impl Finding {
    /// The finding as it stands in an outcome, without a schema of its own.
    pub fn to_json(&self, layout: Layout) -> String {
        layout.write(&FindingForm::of(self))
    }

    /// The finding that [`Finding::to_json`] wrote.
    ///
    /// # Errors
    /// [`Kind::Wire`]: text that is not JSON, or no finding.
    pub fn from_json(text: &str) -> Result<Finding, Error> {
        FindingForm::read(&value_in(text)?).map_err(|unread| unread.error("finding"))?.finding("finding")
    }
}

impl Method {
    /// The method as a JSON document, every default stated.
    pub fn to_json(&self, layout: Layout) -> String {
        layout.write_headed(Document::Method, self.to_document().as_object().unwrap_or(&Map::new()))
    }
}

/// The members of a document after its schema.
fn body_of(text: &str, document: Document) -> Result<Value, Error> {
    header(text)?.expect(document)?;
    let mut value = value_in(text)?;
    if let Value::Object(members) = &mut value {
        members.remove("schema");
    }
    Ok(value)
}

/// The form of an outcome in a document, checked for members that nobody knows.
fn read(text: &str) -> Result<OutcomeForm, Error> {
    let header = header(text)?;
    header.expect(Document::Outcome)?;
    let value = value_in(text)?;
    let form = OutcomeForm::read(&value).map_err(|unread| unread.error("outcome"))?;
    if !header.is_newer() {
        nothing_unknown(&value, &form, "outcome")?;
    }
    Ok(form)
}

/// The value in a JSON text.
fn value_in(text: &str) -> Result<Value, Error> {
    parse(text).map_err(|error| {
        Error::new(Kind::Wire, Problem::new(Place::default(), format!("the document cannot be read: {error}")))
    })
}
