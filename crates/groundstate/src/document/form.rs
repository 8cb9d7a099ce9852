//! Forms: the structs that documents are made of, with their schemas.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::number::WORDS;
use super::{DofForm, Named, Real, Word};

/// Schemas of forms by name.
pub(crate) type Definitions = BTreeMap<&'static str, Value>;

/// Something that stands in a document.
pub(crate) trait Form {
    /// Whether the member may be left out.
    const OPTIONAL: bool = false;

    /// Whether the member is left out.
    fn is_absent(&self) -> bool {
        false
    }

    /// Its JSON Schema; schemas of structs are added to `definitions` and referred to.
    fn schema(definitions: &mut Definitions) -> Value;
}

/// Defines the structs of a document. A member that is an `Option` or a `Members` is left out where there is none.
macro_rules! form {
    ($(
        $(#[doc = $doc:literal])*
        $name:ident { $($(#[doc = $about:literal])* $member:ident: $type:ty),+ $(,)? }
    )+) => {$(
        $(#[doc = $doc])*
        #[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
        pub(crate) struct $name {
            $(
                $(#[doc = $about])*
                #[serde(skip_serializing_if = "crate::document::Form::is_absent")]
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
        }
    )+};
}
pub(crate) use form;

impl<T: Form> Form for Option<T> {
    const OPTIONAL: bool = true;

    fn is_absent(&self) -> bool {
        self.is_none()
    }

    fn schema(definitions: &mut Definitions) -> Value {
        T::schema(definitions)
    }
}

impl<T: Form> Form for Vec<T> {
    fn schema(definitions: &mut Definitions) -> Value {
        json!({"type": "array", "items": T::schema(definitions)})
    }
}

impl<T: Form> Form for BTreeMap<String, T> {
    fn schema(definitions: &mut Definitions) -> Value {
        json!({"type": "object", "additionalProperties": T::schema(definitions)})
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
}

impl Form for Real {
    fn schema(_: &mut Definitions) -> Value {
        json!({"anyOf": [{"type": "number"}, {"enum": WORDS.map(|(word, _)| word)}]})
    }
}

impl Form for DofForm {
    fn schema(_: &mut Definitions) -> Value {
        json!({"anyOf": [{"type": "number", "minimum": 0}, {"const": "infinite"}]})
    }
}

macro_rules! plain {
    ($($type:ty => $schema:tt),+ $(,)?) => {$(
        impl Form for $type {
            fn schema(_: &mut Definitions) -> Value {
                json!($schema)
            }
        }
    )+};
}

plain! {
    bool => {"type": "boolean"},
    f64 => {"type": "number"},
    String => {"type": "string"},
    u8 => {"type": "integer", "minimum": 0, "maximum": 255},
    u32 => {"type": "integer", "minimum": 0, "maximum": 4_294_967_295_u32},
    u64 => {"type": "integer", "minimum": 0},
    Value => {},
}
