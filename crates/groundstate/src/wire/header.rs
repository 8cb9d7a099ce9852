//! The first member of every document: what it is and by which version.

use std::fmt;

use serde::de::{Deserializer, MapAccess, Visitor};

use crate::document::{self, wrong};
use crate::error::{Error, Kind, Place, Problem, nearest};

/// What a document holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Document {
    /// A method.
    Method,
    /// A run.
    Run,
    /// An outcome with its input.
    Outcome,
    /// The record of a method detection limit.
    MdlRecord,
}

impl Document {
    /// Every kind of document.
    pub const ALL: [Document; 4] = [Document::Method, Document::Run, Document::Outcome, Document::MdlRecord];
    /// The major version that this library writes, and the newest it reads.
    pub const MAJOR: u32 = 1;
    /// The minor version that this library writes. A newer minor version only adds members.
    pub const MINOR: u32 = 0;

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Document::Method => "method",
            Document::Run => "run",
            Document::Outcome => "outcome",
            Document::MdlRecord => "mdl_record",
        }
    }

    /// The schema of documents that this library writes, such as `groundstate.outcome/1`.
    pub fn schema(self) -> String {
        Header { document: self, major: Self::MAJOR, minor: Self::MINOR }.to_string()
    }
}

/// What the first member of a document says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Header {
    /// What the document holds.
    pub document: Document,
    /// Major version: readers of another one cannot read it.
    pub major: u32,
    /// Minor version: readers of an older one pass over members they do not know.
    pub minor: u32,
}

impl Header {
    /// Whether the document has a newer minor version than this library writes.
    pub const fn is_newer(&self) -> bool {
        self.minor > Document::MINOR
    }

    /// Refuses another kind of document.
    ///
    /// # Errors
    /// [`Kind::Wire`], with what was got and what was expected.
    pub fn expect(&self, document: Document) -> Result<(), Error> {
        if self.document == document {
            return Ok(());
        }
        let what = format!("got a document {:?}, expected {:?}", self.to_string(), document.schema());
        Err(wrong("schema", what))
    }
}

impl fmt::Display for Header {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "groundstate.{}/{}", self.document.name(), self.major)?;
        if self.minor > 0 { write!(f, ".{}", self.minor) } else { Ok(()) }
    }
}

/// The header of a document, from its first member alone: the rest may be of any version, or missing. Where the schema
/// is not the first member, the document has to be whole.
///
/// ```
/// use groundstate::wire::{Document, header};
/// let header = header(r#"{"schema": "groundstate.outcome/1", "anything": "#)?;
/// assert_eq!((header.document, header.major), (Document::Outcome, 1));
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// [`Kind::Wire`]: the text does not begin with a schema, or with one that this library cannot read.
pub fn header(text: &str) -> Result<Header, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut found = None;
    // The error at the end of a cut document does not matter once the first member is read.
    let end = serde_json::Deserializer::from_str(text).deserialize_map(First(&mut found));
    // A store that keeps members in an order of its own (a data base, a canonical form) leaves it further down.
    let anywhere = || document::parse(text).ok()?.get("schema")?.as_str().map(str::to_owned);
    let first = found.filter(|(name, _)| name == "schema").map(|(_, schema)| schema);
    let Some(schema) = first.or_else(anywhere) else {
        let why = end.err().map_or_else(|| "it has no such member".to_owned(), |error| error.to_string());
        let problem =
            Problem::new(Place::named("schema"), format!("the document does not begin with its schema: {why}"));
        return Err(Error::new(Kind::Wire, problem.help("it begins like {\"schema\": \"groundstate.outcome/1\"")));
    };
    let shown: String = schema.chars().take(60).collect();
    parse(&schema).ok_or_else(|| unknown(&shown))?.readable(&shown)
}

impl Header {
    fn readable(self, shown: &str) -> Result<Header, Error> {
        if self.major == Document::MAJOR {
            return Ok(self);
        }
        let what = format!("got {shown:?}, expected \"{}\"", self.document.schema());
        Err(wrong("schema", what).help("read it with the version of the library that belongs to it"))
    }
}

fn parse(schema: &str) -> Option<Header> {
    let (name, version) = schema.strip_prefix("groundstate.")?.split_once('/')?;
    let document = Document::ALL.into_iter().find(|document| document.name() == name)?;
    let number =
        |text: &str| text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse::<u32>().ok()).flatten();
    let (major, minor) = match version.split_once('.') {
        Some((major, minor)) => (number(major)?, number(minor)?),
        None => (number(version)?, 0),
    };
    Some(Header { document, major, minor })
}

fn unknown(shown: &str) -> Error {
    let schemas = Document::ALL.map(Document::schema);
    let near = nearest(shown, schemas.iter().map(String::as_str));
    let help = near.map_or(format!("it is one of {}", schemas.join(", ")), |near| format!("did you mean {near:?}?"));
    wrong("schema", format!("there is no schema {shown:?}")).help(help)
}

/// Takes the first member of an object and stops.
struct First<'a>(&'a mut Option<(String, String)>);

impl<'de> Visitor<'de> for First<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object that begins with its schema")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        *self.0 = members.next_entry()?;
        Ok(())
    }
}
