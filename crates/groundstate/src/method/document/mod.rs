//! A method as a document of tables, texts and numbers, which TOML and JSON files share.

mod clauses;
mod entries;
mod node;
mod read;
mod study;
#[cfg(test)]
mod tests;

use serde_json::Value;

use super::Method;
use crate::document::parse;
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::Citation;
use entries::Entries;

/// Whether a written method states what it leaves at the default.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Explicit {
    /// Every key, the defaults with the clause they follow.
    Yes,
    /// Only what differs from the profile's defaults.
    No,
}

/// A default that a method leaves as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct DefaultUsed {
    /// Dotted key.
    pub key: String,
    /// Its value, as in a JSON file.
    pub value: String,
    /// What the default follows.
    pub citation: Citation,
}

impl Method {
    /// Schema of a method that is a document of its own.
    pub const SCHEMA: &str = "groundstate.method/1";

    /// The method in a document.
    ///
    /// ```
    /// use groundstate::method::Method;
    /// let document = serde_json::json!({
    ///     "id": "ZN-FLAME", "version": "3", "element": "Zn", "profile": "sw846_7000b",
    ///     "limits": {
    ///         "loq": { "value": 0.02, "unit": "mg/L", "basis": "solution", "definition": "sw846_lloq" },
    ///         "nondetect_at": "loq",
    ///     },
    /// });
    /// let method = Method::from_document(&document)?;
    /// assert_eq!(method.limits.loq[0].value, 0.02);
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Kind::Method`], with every problem by its dotted key: keys that are unknown (with the nearest one), values
    /// of a wrong type or out of range, what does not go together.
    pub fn from_document(document: &Value) -> Result<Method, Error> {
        read::method(document)
    }

    /// The method in a JSON text, with or without its `schema`.
    ///
    /// # Errors
    /// As [`Method::from_document`]; also text that is not JSON, or that says it is another document.
    pub fn from_json(text: &str) -> Result<Method, Error> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut document = parse(text).map_err(|error| {
            Error::new(Kind::Method, Problem::new(Place::default(), format!("the text is not JSON: {error}")))
        })?;
        match document.as_object_mut().and_then(|members| members.remove("schema")) {
            Some(schema) if schema != Self::SCHEMA => {
                let what = format!("got {schema}, expected {:?}", Self::SCHEMA);
                Err(Error::new(Kind::Wire, Problem::new(Place::named("schema"), what)))
            }
            _ => Method::from_document(&document),
        }
    }

    /// The method as a document, every default stated. Reading it gives the same method.
    pub fn to_document(&self) -> Value {
        Entries::of(self).nested()
    }

    /// The defaults that the method leaves as they are, with what they follow.
    pub fn defaults_used(&self) -> Vec<DefaultUsed> {
        let defaults = self.defaults();
        let used = |(key, value): (String, Value)| {
            let citation = clauses::of(&key, self);
            DefaultUsed { value: value.to_string(), citation, key }
        };
        Entries::of(self).into_iter().filter(|(key, value)| defaults.get(key) == Some(value)).map(used).collect()
    }

    /// The method as TOML. With [`Explicit::Yes`] every default is stated, with a comment that says what it follows.
    pub fn to_toml(&self, explicit: Explicit) -> String {
        let defaults = self.defaults();
        let comment = |key: &str, value: &Value| {
            (defaults.get(key) == Some(value)).then(|| format!("default: {}", clauses::of(key, self)))
        };
        Entries::of(self).toml(explicit, comment)
    }

    /// What the method would be with nothing set but its element and profile.
    fn defaults(&self) -> Entries {
        // The symbol of an element parses; without defaults nothing would count as one.
        let defaults = Method::new(self.element.symbol(), self.profile());
        let mut entries = defaults.map(|defaults| Entries::of(&defaults)).unwrap_or_default();
        // A method always states what it is and where its non-detects lie, even where a new one would say the same.
        entries.forget(&["id", "version", "element", "profile", "limits.nondetect_at"]);
        entries
    }
}
