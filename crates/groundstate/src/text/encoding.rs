//! From bytes to text.

use crate::error::{Error, Kind, Place, Problem};

const HELP: &str = "save the file as UTF-8";

/// `bytes` as text, without a byte order mark.
pub(super) fn decode(bytes: &[u8], kind: Kind) -> Result<&str, Error> {
    let refuse = |what: String| Err(Error::new(kind, Problem::new(Place::default(), what).help(HELP)));
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return refuse("the text is UTF-16".to_owned());
    }
    // Plain letters in UTF-16 have a zero in every second byte.
    if bytes.iter().take(200).any(|byte| *byte == 0) {
        return refuse("the text holds zero bytes, as UTF-16 or a binary file does".to_owned());
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(without_mark(text)),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
            refuse(format!("line {line} is not UTF-8"))
        }
    }
}

/// `text` without a byte order mark.
pub(super) fn without_mark(text: &str) -> &str {
    text.strip_prefix('\u{feff}').unwrap_or(text)
}
