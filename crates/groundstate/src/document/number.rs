//! Numbers of documents, none of them NaN or infinite.

use serde_json::Value;

use super::Unread;
use crate::estimate::Dof;

/// A number that overflow may have made infinite or undefined; then it is written as a word.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Real(pub f64);

impl PartialEq for Real {
    fn eq(&self, other: &Real) -> bool {
        self.0.to_bits() == other.0.to_bits()
    }
}

/// `x` unless it is NaN: what is not a number is absent.
pub(crate) fn finite(x: f64) -> Option<Real> {
    (!x.is_nan()).then_some(Real(x))
}

/// The words for what no JSON number says.
pub(super) const WORDS: [(&str, f64); 3] =
    [("infinite", f64::INFINITY), ("minus_infinite", f64::NEG_INFINITY), ("undefined", f64::NAN)];

/// The word for `x`, where no JSON number says it.
pub(super) fn word(x: f64) -> Option<&'static str> {
    match x {
        x if x.is_finite() => None,
        x if x.is_nan() => Some("undefined"),
        x if x > 0.0 => Some("infinite"),
        _ => Some("minus_infinite"),
    }
}

/// The number that a number or one of [`WORDS`] says.
pub(super) fn real(value: &Value) -> Result<f64, Unread> {
    let Value::String(word) = value else {
        return value.as_f64().ok_or_else(|| Unread::expected("a number", value));
    };
    let found = WORDS.iter().find(|(name, _)| name == word);
    found.map(|(_, number)| *number).ok_or_else(|| {
        let shown: String = word.chars().take(40).collect();
        Unread::new(format!("{shown:?} is neither a number nor \"infinite\", \"minus_infinite\" or \"undefined\""))
    })
}

/// Degrees of freedom: a number from 0 up, or the word infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DofForm(pub Dof);
