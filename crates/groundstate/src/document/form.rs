//! Forms: the structs that documents are made of, with their schemas.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde_json::{Number, Value, json};

use super::number::WORDS;
use super::read::{Members, Unread, items};
use super::write::{Bracket, Sink, list, members};
use super::{DofForm, Named, Real, Word};
use crate::estimate::Dof;

/// Schemas of forms by name.
pub(crate) type Definitions = BTreeMap<&'static str, Value>;

/// Something that stands in a document.
pub(crate) trait Form: Sized {
    /// Whether the member may be left out.
    const OPTIONAL: bool = false;

    /// Whether the member is left out.
    fn is_absent(&self) -> bool {
        false
    }

    /// What a member stands for that was left out, where that is allowed.
    fn absent() -> Option<Self> {
        None
    }

    /// Its JSON Schema; schemas of structs are added to `definitions` and referred to.
    fn schema(definitions: &mut Definitions) -> Value;

    /// What `value` says.
    fn read(value: &Value) -> Result<Self, Unread>;

    /// Says it to `to`.
    fn write(&self, to: &mut dyn Sink);
}

/// Defines the structs of a document. A member that is an `Option` is left out where there is none.
macro_rules! form {
    ($(
        $(#[doc = $doc:literal])*
        $name:ident { $($(#[doc = $about:literal])* $member:ident: $type:ty),+ $(,)? }
    )+) => {$(
        $(#[doc = $doc])*
        #[derive(Clone, Debug, PartialEq)]
        pub(crate) struct $name {
            $(
                $(#[doc = $about])*
                pub $member: $type,
            )+
        }

        impl $name {
            /// The members, in the order they are written.
            #[allow(dead_code)] // not every struct is asked
            pub const MEMBERS: &[&str] = &[$(stringify!($member),)+];
        }

        impl $crate::document::Form for $name {
            fn schema(definitions: &mut std::collections::BTreeMap<&'static str, serde_json::Value>) -> serde_json::Value {
                let name = stringify!($name).trim_end_matches("Form");
                if !definitions.contains_key(name) {
                    definitions.insert(name, serde_json::Value::Null); // keeps a form that holds itself from going round
                    let mut properties = serde_json::Map::new();
                    let mut required: Vec<&str> = Vec::new();
                    $(
                        let mut property = <$type as $crate::document::Form>::schema(definitions);
                        let about = concat!($($about,)* "").trim();
                        if !about.is_empty() {
                            property["description"] = about.into();
                        }
                        properties.insert(stringify!($member).to_owned(), property);
                        if !<$type as $crate::document::Form>::OPTIONAL {
                            required.push(stringify!($member));
                        }
                    )+
                    let definition = serde_json::json!({
                        "description": concat!($($doc,)* "").trim(),
                        "type": "object",
                        "properties": properties,
                        "required": required,
                        "additionalProperties": false,
                    });
                    definitions.insert(name, definition);
                }
                serde_json::json!({"$ref": format!("#/$defs/{name}")})
            }

            fn read(value: &serde_json::Value) -> Result<Self, $crate::document::Unread> {
                let members = $crate::document::Members::of(value)?;
                Ok($name { $($member: members.get(stringify!($member))?,)+ })
            }

            fn write(&self, to: &mut dyn $crate::document::Sink) {
                to.open($crate::document::Bracket::Object);
                $($crate::document::member(stringify!($member), &self.$member, to);)+
                to.close($crate::document::Bracket::Object);
            }
        }
    )+};
}
pub(crate) use form;

impl<T: Form> Form for Option<T> {
    const OPTIONAL: bool = true;

    fn is_absent(&self) -> bool {
        self.is_none()
    }

    fn absent() -> Option<Self> {
        Some(None)
    }

    fn schema(definitions: &mut Definitions) -> Value {
        T::schema(definitions)
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        if value.is_null() { Ok(None) } else { T::read(value).map(Some) }
    }

    fn write(&self, to: &mut dyn Sink) {
        match self {
            Some(value) => value.write(to),
            None => to.null(),
        }
    }
}

impl<T: Form> Form for Vec<T> {
    fn schema(definitions: &mut Definitions) -> Value {
        json!({"type": "array", "items": T::schema(definitions)})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        items(value)
    }

    fn write(&self, to: &mut dyn Sink) {
        list(self, to);
    }
}

impl<T: Form> Form for BTreeMap<String, T> {
    fn schema(definitions: &mut Definitions) -> Value {
        json!({"type": "object", "additionalProperties": T::schema(definitions)})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        let given = Members::of(value)?;
        let mut read = BTreeMap::new();
        for name in given.names() {
            read.insert(name.clone(), given.get(name)?);
        }
        Ok(read)
    }

    fn write(&self, to: &mut dyn Sink) {
        to.open(Bracket::Object);
        members(self.iter(), to);
        to.close(Bracket::Object);
    }
}

impl<T: Named> Form for Word<T> {
    fn schema(_: &mut Definitions) -> Value {
        if T::GROWS {
            return json!({"type": "string", "pattern": "^[a-z][a-z0-9_]*$"});
        }
        let names: Vec<&str> = T::all().into_iter().map(Named::on_wire).collect();
        json!({"enum": names})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        let found = value.as_str().and_then(|text| T::all().into_iter().find(|one| one.on_wire() == text));
        found.map(Word).ok_or_else(|| {
            let names: Vec<&str> = T::all().into_iter().map(Named::on_wire).collect();
            super::name::unknown(T::KIND, &names, value)
        })
    }

    fn write(&self, to: &mut dyn Sink) {
        to.text(self.0.on_wire());
    }
}

impl Form for Real {
    fn schema(_: &mut Definitions) -> Value {
        json!({"anyOf": [{"type": "number"}, {"enum": WORDS.map(|(word, _)| word)}]})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        super::number::real(value).map(Real)
    }

    fn write(&self, to: &mut dyn Sink) {
        match super::number::word(self.0) {
            Some(word) => to.text(word),
            None => self.0.write(to),
        }
    }
}

impl Form for DofForm {
    fn schema(_: &mut Definitions) -> Value {
        json!({"anyOf": [{"type": "number", "minimum": 0}, {"const": "infinite"}]})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        Dof::new(super::number::real(value)?).map(DofForm).map_err(|error| Unread::new(error.to_string()))
    }

    fn write(&self, to: &mut dyn Sink) {
        Real(self.0.get()).write(to);
    }
}

/// What several documents hold.
impl<T: Form> Form for Arc<T> {
    fn schema(definitions: &mut Definitions) -> Value {
        T::schema(definitions)
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        T::read(value).map(Arc::new)
    }

    fn write(&self, to: &mut dyn Sink) {
        T::write(self, to);
    }
}

impl Form for Value {
    fn schema(_: &mut Definitions) -> Value {
        json!({})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        Ok(value.clone())
    }

    fn write(&self, to: &mut dyn Sink) {
        match self {
            Value::Null => to.null(),
            Value::Bool(value) => to.bool(*value),
            Value::Number(number) => to.number(number.clone()),
            Value::String(text) => to.text(text),
            Value::Array(items) => list(items, to),
            Value::Object(given) => {
                to.open(Bracket::Object);
                members(given.iter(), to);
                to.close(Bracket::Object);
            }
        }
    }
}

/// Plain values: schema, what is expected, how it is read and how it is written.
macro_rules! plain {
    ($($type:ty => $schema:tt, $expected:literal, $read:expr, $write:expr;)+) => {$(
        impl Form for $type {
            fn schema(_: &mut Definitions) -> Value {
                json!($schema)
            }

            fn read(value: &Value) -> Result<Self, Unread> {
                let read: fn(&Value) -> Option<$type> = $read;
                read(value).ok_or_else(|| Unread::expected($expected, value))
            }

            fn write(&self, to: &mut dyn Sink) {
                let write: fn(&$type, &mut dyn Sink) = $write;
                write(self, to);
            }
        }
    )+};
}

plain! {
    bool => {"type": "boolean"}, "true or false", Value::as_bool, |value, to| to.bool(*value);
    f64 => {"type": "number"}, "a number", Value::as_f64, |value, to| match Number::from_f64(*value) {
        Some(number) => to.number(number),
        None => to.null(),
    };
    String => {"type": "string"}, "a text", |value| value.as_str().map(str::to_owned), |value, to| to.text(value);
    u8 => {"type": "integer", "minimum": 0, "maximum": 255}, "a whole number from 0 to 255",
        |value| value.as_u64()?.try_into().ok(), |value, to| to.number((*value).into());
    u32 => {"type": "integer", "minimum": 0, "maximum": 4_294_967_295_u32}, "a whole number from 0 to 4294967295",
        |value| value.as_u64()?.try_into().ok(), |value, to| to.number((*value).into());
    u64 => {"type": "integer", "minimum": 0}, "a whole number from 0 up", Value::as_u64,
        |value, to| to.number((*value).into());
}
