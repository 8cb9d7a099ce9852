//! Reading forms from JSON values: what is wrong is told by the path of the member.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use super::{Form, wrong};
use crate::error::Error;

/// The value in a JSON text. An object that has a member twice is refused: readers elsewhere would differ in which one
/// they take (RFC 8259, section 4).
///
/// # Errors
/// Text that is not JSON, or a member twice, with line and column.
pub(crate) fn parse(text: &str) -> Result<Value, serde_json::Error> {
    serde_json::from_str::<Once>(text).map(|once| once.0)
}

/// A value whose objects have every member once.
struct Once(Value);

impl<'de> Deserialize<'de> for Once {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Once, D::Error> {
        deserializer.deserialize_any(Values).map(Once)
    }
}

struct Values;

impl<'de> Visitor<'de> for Values {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(Number::from_f64(value).map_or(Value::Null, Value::Number))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut given: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        while let Some(Once(item)) = given.next_element()? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut given: A) -> Result<Value, A::Error> {
        let mut members = Map::new();
        while let Some(name) = given.next_key::<String>()? {
            if members.contains_key(&name) {
                return Err(A::Error::custom(format!("the member {name:?} stands there twice")));
            }
            let Once(value) = given.next_value()?;
            members.insert(name, value);
        }
        Ok(Value::Object(members))
    }
}

/// Why a value is not what a form asks for, and the path of the member.
#[derive(Debug)]
pub(crate) struct Unread {
    path: String,
    what: String,
}

impl Unread {
    pub fn new(what: impl Into<String>) -> Unread {
        Unread { path: String::new(), what: what.into() }
    }

    /// `got` where `expected` should stand.
    #[cold]
    pub fn expected(expected: &str, got: &Value) -> Unread {
        let got = match got {
            Value::Null => "null".to_owned(),
            Value::Bool(value) => value.to_string(),
            Value::Number(number) => number.to_string(),
            Value::String(text) => format!("{:?}", text.chars().take(40).collect::<String>()),
            Value::Array(_) => "a list".to_owned(),
            Value::Object(_) => "an object".to_owned(),
        };
        Unread::new(format!("got {got}, expected {expected}"))
    }

    /// The same, told from the object that has `member`.
    #[cold]
    pub fn under(self, member: &str) -> Unread {
        let dot = if self.path.is_empty() || self.path.starts_with('[') { "" } else { "." };
        Unread { path: format!("{member}{dot}{}", self.path), ..self }
    }

    /// The same, told from the list that has the item at `index`.
    #[cold]
    fn at(self, index: usize) -> Unread {
        self.under(&format!("[{index}]"))
    }

    /// The error; `whole` names the document where no member is meant.
    pub fn error(self, whole: &str) -> Error {
        wrong(if self.path.is_empty() { whole.to_owned() } else { self.path }, self.what)
    }
}

/// The members of an object.
#[derive(Clone, Copy)]
pub(crate) struct Members<'a>(&'a Map<String, Value>);

impl<'a> Members<'a> {
    pub fn of(value: &'a Value) -> Result<Members<'a>, Unread> {
        value.as_object().map(Members).ok_or_else(|| Unread::expected("an object", value))
    }

    /// The names of all members.
    pub fn names(self) -> impl Iterator<Item = &'a String> {
        self.0.keys()
    }

    /// The member of that name.
    pub fn get<T: Form>(self, name: &str) -> Result<T, Unread> {
        match self.0.get(name) {
            Some(value) => T::read(value).map_err(|unread| unread.under(name)),
            None => T::absent().ok_or_else(|| Unread::new("it is missing").under(name)),
        }
    }
}

/// The items of a list.
pub(super) fn items<T: Form>(value: &Value) -> Result<Vec<T>, Unread> {
    let given = value.as_array().ok_or_else(|| Unread::expected("a list", value))?;
    let mut items = Vec::with_capacity(given.len());
    for (i, item) in given.iter().enumerate() {
        items.push(T::read(item).map_err(|unread| unread.at(i))?);
    }
    Ok(items)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use serde_json::json;

    use super::*;
    use crate::document::{Real, form};

    form! {
        /// Invented.
        OuterForm {
            count: u32,
            inner: Vec<InnerForm>,
            note: Option<String>,
        }

        /// Invented.
        InnerForm {
            figures: Vec<Real>,
            facts: BTreeMap<String, bool>,
        }
    }

    #[test]
    fn what_is_wrong_is_told_by_its_path() {
        let good = json!({"count": 2, "inner": [{"figures": [], "facts": {}}, {"figures": [1, "infinite"], "facts": {"a": true}}]});
        let read = OuterForm::read(&good).unwrap();
        assert_eq!((read.count, read.inner[1].figures[1].0, read.note), (2, f64::INFINITY, None));
        for (pointer, to, told) in [
            ("", json!(3), "document: got 3, expected an object"),
            ("/count", json!(-1), "count: got -1, expected a whole number from 0 to 4294967295"),
            ("/count", json!(4_294_967_296_u64), "count: got 4294967296, expected a whole number from 0 to 4294967295"),
            ("/count", json!(1.0), "count: got 1.0, expected a whole number from 0 to 4294967295"),
            ("/count", Value::Null, "count: got null, expected a whole number from 0 to 4294967295"),
            ("/inner", json!({}), "inner: got an object, expected a list"),
            ("/inner/1", json!({}), "inner[1].figures: it is missing"),
            ("/inner/0/facts", json!({"b": "yes"}), "inner[0].facts.b: got \"yes\", expected true or false"),
            (
                "/inner/1/figures/0",
                json!("many"),
                "inner[1].figures[0]: \"many\" is neither a number nor \"infinite\", \"minus_infinite\" or \"undefined\"",
            ),
            ("/inner/1/figures/0", json!([]), "inner[1].figures[0]: got a list, expected a number"),
        ] {
            let mut changed = good.clone();
            *changed.pointer_mut(pointer).unwrap() = to;
            assert_eq!(OuterForm::read(&changed).unwrap_err().error("document").to_string(), told);
        }
        // An optional member may be null, and be missing.
        let mut null = good.clone();
        null["note"] = Value::Null;
        assert_eq!(OuterForm::read(&null).unwrap(), OuterForm::read(&good).unwrap());
    }

    #[test]
    fn values_are_those_of_the_text() {
        let text = r#"{"a": [null, true, -3, 18446744073709551615, 0.1, -0.0, 1e300, "\u00b5\n"], "b": {"a": {}}}"#;
        assert_eq!(parse(text).unwrap(), serde_json::from_str::<Value>(text).unwrap());
        assert!(parse("{\"a\": 1").is_err() && parse("1 2").is_err() && parse(&"[".repeat(100_000)).is_err());
    }

    #[test]
    fn a_member_that_stands_there_twice_is_refused() {
        let told = parse("{\"a\": 1,\n \"b\": {\"c\": 1, \"c\": 1}}").unwrap_err().to_string();
        assert!(told.starts_with("the member \"c\" stands there twice at line 2"), "{told}");
    }
}
