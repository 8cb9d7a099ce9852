//! JSON Schemas (2020-12) of the documents, from the forms they are written with.

mod method;

use serde_json::{Map, Value, json};

use super::Document;
use super::v1::{MdlRecordForm, OutcomeForm};
use crate::document::{Definitions, Form, Text};
use crate::run::RunForm;

/// The JSON Schema (draft 2020-12) of a kind of document, as text.
///
/// It is the schema of what this version writes: a document of a newer minor version may have further members.
pub fn schema(document: Document) -> String {
    let mut definitions = Definitions::new();
    let root = match document {
        Document::Run => {
            RunForm::schema(&mut definitions);
            definitions.remove("Run").unwrap_or_default()
        }
        Document::Method => method::schema(),
        Document::Outcome => {
            OutcomeForm::schema(&mut definitions);
            definitions.insert("Method", method::schema());
            definitions.remove("Outcome").unwrap_or_default()
        }
        Document::MdlRecord => {
            MdlRecordForm::schema(&mut definitions);
            definitions.remove("MdlRecord").unwrap_or_default()
        }
    };
    let mut text = Text::of(&headed(document, root, definitions), true);
    text.push('\n');
    text
}

/// The schema of a whole document: the members of `root` behind the one that names the schema.
fn headed(document: Document, mut root: Value, definitions: Definitions) -> Value {
    let name = document.schema();
    let mut members = Map::new();
    members.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    members.insert("$id".to_owned(), json!(format!("urn:{}", name.replace(['.', '/'], ":"))));
    members.insert("title".to_owned(), json!(name));
    root["properties"]["schema"] = json!({"const": name});
    if document == Document::Outcome {
        root["properties"]["method"] = json!({"$ref": "#/$defs/Method"});
    }
    // A method is mostly written by hand, and then need not say what it is.
    let must = document == Document::Run;
    if let Some(required) = root["required"].as_array_mut().filter(|_| must) {
        required.insert(0, json!("schema"));
    }
    if let Value::Object(rest) = root {
        members.extend(rest);
    }
    if !definitions.is_empty() {
        members.insert("$defs".to_owned(), json!(definitions));
    }
    Value::Object(members)
}
