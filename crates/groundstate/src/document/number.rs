//! Numbers of documents, none of them NaN or infinite.

use serde::de::{Deserialize, Deserializer};
use serde::ser::{Serialize, Serializer};

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

/// A number, or one of [`WORDS`].
#[derive(serde::Deserialize)]
#[serde(untagged, expecting = "a number, \"infinite\", \"minus_infinite\" or \"undefined\"")]
enum Raw {
    Number(f64),
    Word(Box<str>),
}

impl Serialize for Real {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            x if x.is_finite() => serializer.serialize_f64(x),
            x if x.is_nan() => serializer.serialize_str("undefined"),
            x if x > 0.0 => serializer.serialize_str("infinite"),
            _ => serializer.serialize_str("minus_infinite"),
        }
    }
}

impl<'de> Deserialize<'de> for Real {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match Raw::deserialize(deserializer)? {
            Raw::Number(number) => Ok(Real(number)),
            Raw::Word(word) => match WORDS.iter().find(|(name, _)| **name == *word) {
                Some((_, number)) => Ok(Real(*number)),
                None => {
                    let shown: String = word.chars().take(40).collect();
                    Err(serde::de::Error::custom(format!("{shown:?} is neither a number nor \"infinite\"")))
                }
            },
        }
    }
}

/// Degrees of freedom: a number from 0 up, or the word infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DofForm(pub Dof);

impl Serialize for DofForm {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Real(self.0.get()).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for DofForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Dof::new(Real::deserialize(deserializer)?.0).map(DofForm).map_err(serde::de::Error::custom)
    }
}
