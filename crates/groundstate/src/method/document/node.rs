//! A table of a document that is being read: what was asked for, and what is wrong with it.

use serde_json::{Map, Value};

use crate::detection::mdl::Measured;
use crate::error::{Error, Place, Problem, nearest};

/// A table with its dotted path.
pub(super) struct Node<'a> {
    path: String,
    table: &'a Map<String, Value>,
    asked: Vec<&'static str>,
    pub problems: Vec<Problem>,
}

impl<'a> Node<'a> {
    /// The table of a whole document.
    pub fn root(table: &'a Map<String, Value>) -> Node<'a> {
        Node { path: String::new(), table, asked: Vec::new(), problems: Vec::new() }
    }

    /// The dotted path of a key.
    pub fn path(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// Tells what is wrong with a key.
    pub fn problem(&mut self, key: &str, what: impl Into<String>, help: impl Into<String>) {
        self.problems.push(Problem::new(Place::named(self.path(key)), what).help(help));
    }

    /// Tells an error of a lower room as one of the key.
    pub fn error(&mut self, key: &str, error: &Error) {
        let path = self.path(key);
        self.problems.extend(
            error.problems().iter().map(|problem| Problem { place: Place::named(path.clone()), ..problem.clone() }),
        );
    }

    /// Whether the document has the key.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    fn get(&mut self, key: &'static str) -> Option<&'a Value> {
        self.asked.push(key);
        self.table.get(key)
    }

    fn typed<T>(&mut self, key: &'static str, wanted: &str, read: impl Fn(&'a Value) -> Option<T>) -> Option<T> {
        let value = self.get(key)?;
        let read = read(value);
        if read.is_none() {
            self.problem(key, format!("{} is not {wanted}", shown(value)), format!("give {wanted}"));
        }
        read
    }

    /// A text.
    pub fn text(&mut self, key: &'static str) -> Option<&'a str> {
        self.typed(key, "a text", Value::as_str)
    }

    /// A number.
    pub fn number(&mut self, key: &'static str) -> Option<f64> {
        self.typed(key, "a number", Value::as_f64)
    }

    /// A whole number from 0 up.
    pub fn count<T: TryFrom<u64>>(&mut self, key: &'static str) -> Option<T> {
        self.typed(key, "a whole number from 0 up", |value| T::try_from(value.as_u64()?).ok())
    }

    /// A measured result: a number, the word for a non-detect, or nothing where it is missing.
    pub fn measured(&mut self, key: &'static str, non_detect: &str) -> Measured {
        let wanted = format!("a number or the text {non_detect:?}");
        let read = self.typed(key, &wanted, |value| match value {
            Value::String(text) if text == non_detect => Some(Measured::NonDetect),
            other => other.as_f64().map(Measured::Number),
        });
        read.unwrap_or(Measured::Missing)
    }

    /// A list of texts.
    pub fn texts(&mut self, key: &'static str) -> Option<Vec<&'a str>> {
        self.typed(key, "a list of texts", |value| value.as_array()?.iter().map(Value::as_str).collect())
    }

    /// One number or a list of them.
    pub fn numbers(&mut self, key: &'static str) -> Option<Vec<f64>> {
        self.typed(key, "a number or a list of numbers", |value| match value {
            Value::Array(items) => items.iter().map(Value::as_f64).collect(),
            one => Some(vec![one.as_f64()?]),
        })
    }

    /// A text that `parse` understands.
    pub fn word<T>(&mut self, key: &'static str, parse: impl Fn(&str) -> Result<T, Error>) -> Option<T> {
        let text = self.text(key)?;
        parse(text).map_err(|error| self.error(key, &error)).ok()
    }

    /// A key that must be there.
    pub fn need(&mut self, key: &'static str, help: &str) {
        if !self.has(key) {
            self.problem(key, "it is missing", help);
        }
    }

    /// The table under a key, if it is there.
    pub fn child<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Node<'a>) -> T) -> Option<T> {
        let table = self.typed(key, "a table", Value::as_object)?;
        let path = self.path(key);
        Some(self.descend(path, table, read))
    }

    /// The tables in a list under a key; a single table is a list of one.
    pub fn children<T>(&mut self, key: &'static str, read: impl Fn(&mut Node<'a>) -> Option<T>) -> Option<Vec<T>> {
        let tables: Vec<&Map<String, Value>> = self.typed(key, "a table or a list of tables", |value| match value {
            Value::Object(table) => Some(vec![table]),
            Value::Array(items) => items.iter().map(Value::as_object).collect(),
            _ => None,
        })?;
        let (path, one) = (self.path(key), self.table.get(key).is_some_and(Value::is_object));
        let paths = (0..).map(|i| if one { path.clone() } else { format!("{path}[{i}]") });
        Some(tables.into_iter().zip(paths).filter_map(|(table, path)| self.descend(path, table, &read)).collect())
    }

    fn descend<T>(&mut self, path: String, table: &'a Map<String, Value>, read: impl FnOnce(&mut Node<'a>) -> T) -> T {
        let mut node = Node { path, table, asked: Vec::new(), problems: Vec::new() };
        let read = read(&mut node);
        self.problems.extend(node.close());
        read
    }

    /// Every key with its value, all taken as asked for by the caller.
    pub fn all(&mut self) -> impl Iterator<Item = (&'a str, &'a Value)> + use<'a> {
        self.table.iter().map(|(key, value)| (key.as_str(), value))
    }

    /// Closes a table whose keys were taken by [`Node::all`]: none of them is unknown.
    pub fn open_ended(&mut self) {
        self.asked.clear();
        self.asked.push(OPEN);
    }

    /// The problems, with those of keys that nobody asked for.
    pub fn close(mut self) -> Vec<Problem> {
        if self.asked.contains(&OPEN) {
            return self.problems;
        }
        let asked = std::mem::take(&mut self.asked);
        for key in self.table.keys().filter(|key| !asked.contains(&key.as_str())) {
            // The cut keeps the search short; a very long key is near none.
            let start: String = key.chars().take(40).collect();
            let help = match nearest(&start, asked.iter().copied()) {
                Some(near) => format!("did you mean {}?", self.path(near)),
                None => format!("the keys here are {}", asked.join(", ")),
            };
            let what = format!("there is no key {start}");
            self.problem(&start, what, help);
        }
        self.problems
    }
}

/// Not a key that a document can have beside others: it marks a table that was read whole.
const OPEN: &str = "\u{0}";

/// A value in a few words.
fn shown(value: &Value) -> String {
    match value {
        Value::Object(_) => "a table".to_owned(),
        Value::Array(_) => "this list".to_owned(),
        Value::String(text) => format!("the text {:?}", text.chars().take(40).collect::<String>()),
        other => other.to_string(),
    }
}
