//! The canonical form of a JSON value (RFC 8785) and its SHA-256: the same bytes from any language.

use serde_json::{Number, Value};
use sha2::Sha256;

use super::number::word;
use super::{Real, finite};

/// The canonical form of `value` by RFC 8785: no white space, members sorted by the UTF-16 code units of their names,
/// numbers as ECMAScript writes them, the fewest escapes.
///
/// ```
/// use groundstate::document::canonical;
/// let value = serde_json::json!({"b": [1.0, 1e21, 0.002], "a": "\u{20ac}\n"});
/// assert_eq!(canonical(&value), "{\"a\":\"\u{20ac}\\n\",\"b\":[1,1e+21,0.002]}");
/// ```
pub fn canonical(value: &Value) -> String {
    let mut text = String::new();
    write(value, &mut text);
    text
}

/// SHA-256 of `bytes`, in lower-case hexadecimal digits.
///
/// ```
/// // The one-block message of the examples to FIPS 180-4.
/// let digest = groundstate::document::sha256_hex(b"abc");
/// assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
/// ```
pub fn sha256_hex(bytes: &[u8]) -> String {
    Digest::default().with(bytes).hex()
}

/// A SHA-256 that texts are added to. A clone goes on from what many texts begin with alike.
#[derive(Clone, Debug, Default)]
pub(crate) struct Digest(Sha256);

impl Digest {
    /// With `bytes` after what is there.
    #[must_use]
    pub fn with(mut self, bytes: &[u8]) -> Self {
        sha2::Digest::update(&mut self.0, bytes);
        self
    }

    /// In lower-case hexadecimal digits.
    pub fn hex(self) -> String {
        let digit = |of: u8| char::from_digit(u32::from(of), 16).unwrap_or_default();
        let digest = sha2::Digest::finalize(self.0);
        digest.iter().flat_map(|byte| [digit(byte >> 4), digit(byte & 15)]).collect()
    }
}

/// An object in canonical form that is written member by member, without a [`Value`] between. Members come in the
/// order of their names, all of them ASCII.
pub(crate) struct Object<'t> {
    text: &'t mut String,
    last: &'static str,
}

impl<'t> Object<'t> {
    /// Begins an object at the end of `text`.
    pub fn begin(text: &'t mut String) -> Self {
        text.push('{');
        Object { text, last: "" }
    }

    /// Ends it.
    pub fn end(self) {
        self.text.push('}');
    }

    /// Writes a name; the value must follow.
    pub fn name(&mut self, name: &'static str) -> &mut String {
        debug_assert!(self.last < name, "{name} does not follow {}", self.last);
        self.text.push_str(if self.last.is_empty() { "\"" } else { ",\"" });
        self.text.push_str(name);
        self.text.push_str("\":");
        self.last = name;
        self.text
    }

    /// A text, left out where there is none.
    pub fn text(&mut self, name: &'static str, text: Option<&str>) {
        if let Some(text) = text {
            write_string(text, self.name(name));
        }
    }

    /// A number, left out where it is absent or NaN.
    pub fn number(&mut self, name: &'static str, number: Option<f64>) {
        if let Some(number) = number.and_then(finite) {
            write_real(number, self.name(name));
        }
    }

    /// A count.
    pub fn count(&mut self, name: &'static str, count: u32) {
        write_count(count, self.name(name));
    }

    /// A list.
    pub fn list<T>(&mut self, name: &'static str, items: &[T], write: impl Fn(&T, &mut String)) {
        write_list(items, write, self.name(name));
    }
}

fn write_list<T>(items: &[T], write: impl Fn(&T, &mut String), text: &mut String) {
    text.push('[');
    for (i, item) in items.iter().enumerate() {
        if i > 0 {
            text.push(',');
        }
        write(item, text);
    }
    text.push(']');
}

/// A number, or the word for one that is none.
pub(crate) fn write_real(real: Real, text: &mut String) {
    match word(real.0) {
        None => text.push_str(ryu_js::Buffer::new().format(real.0)),
        Some(word) => write_string(word, text),
    }
}

/// A count, which ECMAScript writes with its digits alone.
pub(crate) fn write_count(mut count: u32, text: &mut String) {
    let mut digits = [0_u8; 10];
    let mut used = 0;
    while used == 0 || count > 0 {
        used += 1;
        digits[10 - used] = b'0' + (count % 10) as u8;
        count /= 10;
    }
    text.extend(digits[10 - used..].iter().map(|digit| char::from(*digit)));
}

fn write(value: &Value, text: &mut String) {
    match value {
        Value::Null => text.push_str("null"),
        Value::Bool(true) => text.push_str("true"),
        Value::Bool(false) => text.push_str("false"),
        Value::Number(number) => write_number(number, text),
        Value::String(string) => write_string(string, text),
        Value::Array(items) => write_list(items, write, text),
        Value::Object(members) => {
            let mut members: Vec<(&String, &Value)> = members.iter().collect();
            // Members come sorted by their bytes, which is another order outside the basic plane of Unicode.
            members.sort_unstable_by(|(a, _), (b, _)| a.encode_utf16().cmp(b.encode_utf16()));
            text.push('{');
            for (i, (name, value)) in members.into_iter().enumerate() {
                if i > 0 {
                    text.push(',');
                }
                write_string(name, text);
                text.push(':');
                write(value, text);
            }
            text.push('}');
        }
    }
}

fn write_number(number: &Number, text: &mut String) {
    // Every JSON number is a double here (RFC 8785, section 3.2.2.3).
    let number = number.as_f64().unwrap_or(f64::NAN);
    text.push_str(ryu_js::Buffer::new().format(number));
}

/// A text with the fewest escapes.
fn write_string(string: &str, text: &mut String) {
    text.push('"');
    if !string.bytes().any(|byte| byte < 0x20 || byte == b'"' || byte == b'\\') {
        text.push_str(string);
        text.push('"');
        return;
    }
    for character in string.chars() {
        match character {
            '"' => text.push_str("\\\""),
            '\\' => text.push_str("\\\\"),
            '\u{8}' => text.push_str("\\b"),
            '\u{9}' => text.push_str("\\t"),
            '\u{a}' => text.push_str("\\n"),
            '\u{c}' => text.push_str("\\f"),
            '\u{d}' => text.push_str("\\r"),
            control if u32::from(control) < 0x20 => text.push_str(&format!("\\u{:04x}", u32::from(control))),
            other => text.push(other),
        }
    }
    text.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// RFC 8785, appendix B: the double of each bit pattern, as ECMAScript writes it.
    #[test]
    fn numbers_are_those_of_the_rfc() {
        let samples: [(u64, &str); 24] = [
            (0x0000_0000_0000_0000, "0"),
            (0x8000_0000_0000_0000, "0"),
            (0x0000_0000_0000_0001, "5e-324"),
            (0x8000_0000_0000_0001, "-5e-324"),
            (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
            (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
            (0x4340_0000_0000_0000, "9007199254740992"),
            (0xc340_0000_0000_0000, "-9007199254740992"),
            (0x4430_0000_0000_0000, "295147905179352830000"),
            (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
            (0x44b5_2d02_c7e1_4af6, "1e+23"),
            (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
            (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
            (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
            (0x444b_1ae4_d6e2_ef50, "1e+21"),
            (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
            (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
            (0x41b3_de43_5555_5553, "333333333.3333332"),
            (0x41b3_de43_5555_5554, "333333333.33333325"),
            (0x41b3_de43_5555_5555, "333333333.3333333"),
            (0x41b3_de43_5555_5556, "333333333.3333334"),
            (0x41b3_de43_5555_5557, "333333333.33333343"),
            (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
            (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
        ];
        for (bits, text) in samples {
            let number = f64::from_bits(bits);
            assert_eq!(canonical(&json!(number)), text, "{bits:016x}");
        }
    }

    /// RFC 8785, section 3.2.3: sorted by UTF-16 code units, so that the emoji comes before U+FB33.
    #[test]
    fn members_are_sorted_as_in_the_rfc() {
        let value = json!({
            "\u{20ac}": "Euro Sign", "\r": "Carriage Return", "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
            "1": "One", "\u{1f600}": "Emoji: Grinning Face", "\u{80}": "Control", "\u{f6}": "Latin Small Letter O With Diaeresis",
        });
        let text = canonical(&value);
        let order = ["Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Emoji", "Hebrew"];
        let places: Vec<_> = order.iter().map(|name| text.find(name)).collect();
        assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{text}");
    }

    /// RFC 8785, section 3.2.2: the whole example.
    #[test]
    fn the_example_of_the_rfc() {
        let text = r#"{
            "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
            "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
            "literals": [null, true, false]
        }"#;
        let value: Value = serde_json::from_str(text).unwrap();
        assert_eq!(
            canonical(&value),
            "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
             \"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}"
        );
    }
}
