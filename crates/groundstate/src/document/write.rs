//! Writing forms: as text, member by member in the order of the form, and as JSON values.

use serde_json::{Map, Number, Value};

use super::Form;

/// What a form is written to. Everything is written once per kind of form and not once per kind of form and target: a
/// document has dozens of forms.
pub(crate) trait Sink {
    fn null(&mut self);
    fn bool(&mut self, value: bool);
    fn number(&mut self, number: Number);
    fn text(&mut self, text: &str);
    /// Begins a list or an object.
    fn open(&mut self, bracket: Bracket);
    /// Before every item of a list.
    fn item(&mut self);
    /// Before the value of every member of an object.
    fn member(&mut self, name: &str);
    fn close(&mut self, bracket: Bracket);
}

/// What stands between brackets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bracket {
    List,
    Object,
}

/// The items of a list.
pub(super) fn list<T: Form>(items: &[T], to: &mut dyn Sink) {
    to.open(Bracket::List);
    for item in items {
        to.item();
        item.write(to);
    }
    to.close(Bracket::List);
}

/// A member of an object, left out where it is absent.
pub(crate) fn member<T: Form>(name: &str, value: &T, to: &mut dyn Sink) {
    if !value.is_absent() {
        to.member(name);
        value.write(to);
    }
}

/// The members of an object.
pub(crate) fn members<'a, T: Form + 'a>(of: impl Iterator<Item = (&'a String, &'a T)>, to: &mut dyn Sink) {
    for (name, value) in of {
        to.member(name);
        value.write(to);
    }
}

/// JSON text, without white space or one member a line, indented by two spaces.
pub(crate) struct Text {
    written: Vec<u8>,
    indented: bool,
    depth: usize,
    /// Whether nothing was written since the last bracket was opened.
    begun: bool,
}

impl Text {
    /// The text of `form`.
    pub fn of(form: &impl Form, indented: bool) -> String {
        Text::with(indented, |to| form.write(to))
    }

    /// The text of what `write` says.
    pub fn with(indented: bool, write: impl FnOnce(&mut dyn Sink)) -> String {
        let mut text = Text { written: Vec::with_capacity(128), indented, depth: 0, begun: false };
        write(&mut text);
        // Texts are written whole, so that these bytes are UTF-8.
        String::from_utf8(text.written).unwrap_or_default()
    }

    fn plain(&mut self, value: &impl serde::Serialize) {
        // Writing a number or a text to memory cannot fail.
        let _ = serde_json::to_writer(&mut self.written, value);
    }

    /// A text in quotation marks; nearly every one is written as it is.
    fn quoted(&mut self, text: &str) {
        if text.bytes().any(|byte| byte < 0x20 || byte == b'"' || byte == b'\\') {
            return self.plain(&text);
        }
        self.written.push(b'"');
        self.written.extend_from_slice(text.as_bytes());
        self.written.push(b'"');
    }

    fn new_line(&mut self) {
        if self.indented {
            self.written.push(b'\n');
            self.written.resize(self.written.len() + 2 * self.depth, b' ');
        }
    }
}

impl Sink for Text {
    fn null(&mut self) {
        self.written.extend_from_slice(b"null");
    }

    fn bool(&mut self, value: bool) {
        self.written.extend_from_slice(if value { b"true" } else { b"false" });
    }

    fn number(&mut self, number: Number) {
        self.plain(&number);
    }

    fn text(&mut self, text: &str) {
        self.quoted(text);
    }

    fn open(&mut self, bracket: Bracket) {
        self.written.push(if bracket == Bracket::List { b'[' } else { b'{' });
        self.depth += 1;
        self.begun = true;
    }

    fn item(&mut self) {
        if !self.begun {
            self.written.push(b',');
        }
        self.begun = false;
        self.new_line();
    }

    fn member(&mut self, name: &str) {
        self.item();
        self.quoted(name);
        self.written.extend_from_slice(if self.indented { b": " } else { b":" });
    }

    fn close(&mut self, bracket: Bracket) {
        self.depth -= 1;
        if !self.begun {
            self.new_line();
        }
        self.begun = false;
        self.written.push(if bracket == Bracket::List { b']' } else { b'}' });
    }
}

/// A JSON value.
#[derive(Default)]
pub(crate) struct Tree {
    /// Lists and objects that are open, the innermost last, and the names of members that wait for their values.
    open: Vec<Value>,
    names: Vec<String>,
    done: Value,
}

impl Tree {
    /// The value that `form` stands for.
    pub fn of(form: &impl Form) -> Value {
        let mut tree = Tree::default();
        form.write(&mut tree);
        tree.done
    }

    fn put(&mut self, value: Value) {
        match self.open.last_mut() {
            Some(Value::Array(items)) => items.push(value),
            Some(Value::Object(members)) => {
                members.insert(self.names.pop().unwrap_or_default(), value);
            }
            _ => self.done = value,
        }
    }
}

impl Sink for Tree {
    fn null(&mut self) {
        self.put(Value::Null);
    }

    fn bool(&mut self, value: bool) {
        self.put(Value::Bool(value));
    }

    fn number(&mut self, number: Number) {
        self.put(Value::Number(number));
    }

    fn text(&mut self, text: &str) {
        self.put(Value::String(text.to_owned()));
    }

    fn open(&mut self, bracket: Bracket) {
        self.open.push(match bracket {
            Bracket::List => Value::Array(Vec::new()),
            Bracket::Object => Value::Object(Map::new()),
        });
    }

    fn item(&mut self) {}

    fn member(&mut self, name: &str) {
        self.names.push(name.to_owned());
    }

    fn close(&mut self, _: Bracket) {
        let whole = self.open.pop().unwrap_or_default();
        self.put(whole);
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// serde_json writes the same value the same way: brackets that hold nothing, nesting, escapes, numbers.
    #[test]
    fn text_and_tree_are_those_of_serde_json() {
        for value in [
            json!(null),
            json!([]),
            json!({}),
            json!([[], {}, [[]], {"a": {}, "b": []}]),
            json!({"a": [1, -2, 0.1, 1e300, 5e-324, 18_446_744_073_709_551_615_u64, -0.0, 3.0], "b": {"c": [true, {"d": null}]}}),
            json!(["\u{0}\u{1f}\"\\\u{b5}\n\t\u{1f600}\u{7f}", {"a \" key": "\u{20ac}"}]),
        ] {
            assert_eq!(Text::of(&value, false), serde_json::to_string(&value).unwrap());
            assert_eq!(Text::of(&value, true), serde_json::to_string_pretty(&value).unwrap());
            assert_eq!(Tree::of(&value), value);
        }
        // JSON has no such numbers.
        for none in [f64::NAN, f64::INFINITY] {
            assert_eq!((Text::of(&none, false), Tree::of(&none)), ("null".to_owned(), Value::Null));
        }
    }
}
