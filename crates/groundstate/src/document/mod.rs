//! What every document of this library shares: members, names, numbers, the canonical form and its digest.
//!
//! ```
//! let value = serde_json::json!({"b": [1.0, 0.002], "a": "zinc"});
//! assert_eq!(groundstate::document::canonical(&value), r#"{"a":"zinc","b":[1,0.002]}"#);
//! ```

mod canonical;
mod form;
mod name;
mod number;
mod read;
mod write;

pub(crate) use canonical::{Digest, Object, write_count, write_real};
pub use canonical::{canonical, sha256_hex};
pub(crate) use form::{Definitions, Form, form};
pub(crate) use name::{Named, Word, named};
pub(crate) use number::{DofForm, Real, finite};
pub(crate) use read::{Members, Unread, parse};
pub(crate) use write::{Bracket, Sink, Text, member, members};

use serde_json::Value;

use crate::error::{Error, Kind, Place, Problem};

/// An error about a document; `at` is the path of the member.
pub(crate) fn wrong(at: impl Into<String>, what: impl Into<String>) -> Error {
    Error::new(Kind::Wire, Problem::new(Place::named(at), what))
}

/// `error` as one about the member at `at` of a document.
pub(crate) fn at(at: &str, error: &Error) -> Error {
    let told = |problem: &Problem| {
        let name = problem.place.name.as_ref().map_or(at.to_owned(), |name| format!("{at}.{name}"));
        Problem { place: Place { name: Some(name), ..problem.place.clone() }, ..problem.clone() }
    };
    let problems = error.problems().iter().map(told).collect();
    Error::unless_empty(Kind::Wire, problems, ()).err().unwrap_or_else(|| error.clone())
}

/// The value that a form stands for.
pub(crate) fn value_of(form: &impl Form) -> Value {
    write::Tree::of(form)
}

/// Refuses members of `document` that `form`, read from it, does not have.
pub(crate) fn nothing_unknown(document: &Value, form: &impl Form, name: &str) -> Result<(), Error> {
    match unknown(document, &value_of(form), name) {
        Some(path) => {
            Err(wrong(path, "there is no such member").help("was the document changed, or is it another one?"))
        }
        None => Ok(()),
    }
}

/// The path of the first member of `document` that `known` does not have.
fn unknown(document: &Value, known: &Value, path: &str) -> Option<String> {
    match (document, known) {
        (Value::Object(members), Value::Object(known)) => members.iter().find_map(|(name, value)| {
            let path = format!("{path}.{name}");
            match known.get(name) {
                Some(known) => unknown(value, known, &path),
                None => Some(path),
            }
        }),
        (Value::Array(items), Value::Array(known)) => {
            let each = items.iter().zip(known).enumerate();
            each.filter_map(|(i, (item, known))| unknown(item, known, &format!("{path}[{i}]"))).next()
        }
        _ => None,
    }
}
