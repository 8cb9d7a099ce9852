//! Methods from TOML.

use serde_json::Value;

use super::encoding::{decode, without_mark};
use crate::error::{Error, Kind, Place, Problem};
use crate::method::Method;

impl Method {
    /// The method in a TOML text.
    ///
    /// ```
    /// use groundstate::method::Method;
    /// let method = Method::from_toml(r#"
    ///     id = "ZN-FLAME"
    ///     version = "3"
    ///     element = "Zn"
    ///     [calibration]
    ///     shape = "quadratic"
    ///     [criteria.ccv]
    ///     high = 105
    /// "#)?;
    /// assert_eq!(method.calibration.shape.name(), "quadratic");
    /// let error = Method::from_toml("id = \"Z\"\nversion = \"1\"\nelement = \"Zn\"\nprofil = \"general\"").unwrap_err();
    /// assert!(error.to_string().contains("did you mean profile?"));
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// As [`Method::from_document`]; also text that is not TOML, with its line.
    pub fn from_toml(text: &str) -> Result<Method, Error> {
        let text = without_mark(text);
        let table: toml::Table = text.parse().map_err(|error| syntax(text, &error))?;
        let mut problems = Vec::new();
        let document = table.into_iter().map(|(key, value)| (key.clone(), plain(&key, value, &mut problems))).collect();
        Error::unless_empty(Kind::Method, problems, ())?;
        Method::from_document(&Value::Object(document))
    }

    /// As [`Method::from_toml`], from the bytes of a file.
    ///
    /// # Errors
    /// Also bytes that are not UTF-8.
    pub fn from_toml_bytes(bytes: &[u8]) -> Result<Method, Error> {
        Method::from_toml(decode(bytes, Kind::Method)?)
    }
}

fn syntax(text: &str, error: &toml::de::Error) -> Error {
    let line = error.span().and_then(|span| text.get(..span.start)).map(|before| before.matches('\n').count() + 1);
    let at = line.map_or(String::new(), |line| format!(" in line {line}"));
    let what = format!("the text is not TOML{at}: {}", error.message());
    Error::new(Kind::Method, Problem::new(Place::default(), what))
}

/// The value in terms of JSON. A date becomes its text; numbers that are not finite are told.
fn plain(path: &str, value: toml::Value, problems: &mut Vec<Problem>) -> Value {
    match value {
        toml::Value::String(text) => Value::String(text),
        toml::Value::Integer(number) => number.into(),
        toml::Value::Boolean(flag) => Value::Bool(flag),
        toml::Value::Datetime(date) => Value::String(date.to_string()),
        toml::Value::Float(number) => {
            if !number.is_finite() {
                let problem = Problem::new(Place::named(path), format!("{number} is not a finite number"));
                problems.push(problem.help("leave the key out where there is no value"));
            }
            number.into()
        }
        toml::Value::Array(items) => {
            let each = |(i, item)| plain(&format!("{path}[{i}]"), item, problems);
            Value::Array(items.into_iter().enumerate().map(each).collect())
        }
        toml::Value::Table(table) => {
            let each = |(key, value): (String, toml::Value)| {
                let value = plain(&format!("{path}.{key}"), value, problems);
                (key, value)
            };
            Value::Object(table.into_iter().map(each).collect())
        }
    }
}
