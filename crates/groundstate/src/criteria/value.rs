//! The value of one criterion, and which values it can take.

use std::borrow::Cow;
use std::fmt;

/// The value of a criterion: a number, a named choice, or nothing set.
#[derive(Clone, Debug, PartialEq)]
pub enum CriterionValue {
    /// The rule is not applied. Written `off`.
    Off,
    /// A limit, factor or count.
    Number(f64),
    /// A named choice.
    Word(Cow<'static, str>),
}

/// The named choice `word`; `off` is [`CriterionValue::Off`] and never a word.
pub(super) const fn choice(word: &'static str) -> CriterionValue {
    match word.as_bytes() {
        b"off" => CriterionValue::Off,
        _ => CriterionValue::Word(Cow::Borrowed(word)),
    }
}

impl From<f64> for CriterionValue {
    fn from(number: f64) -> Self {
        CriterionValue::Number(number)
    }
}

impl From<u32> for CriterionValue {
    fn from(count: u32) -> Self {
        CriterionValue::Number(count.into())
    }
}

impl From<&str> for CriterionValue {
    fn from(word: &str) -> Self {
        if word == "off" { CriterionValue::Off } else { CriterionValue::Word(Cow::Owned(word.to_owned())) }
    }
}

impl fmt::Display for CriterionValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CriterionValue::Off => f.write_str("off"),
            CriterionValue::Number(number) => write!(f, "{number}"),
            CriterionValue::Word(word) => f.write_str(word),
        }
    }
}

/// Which values a criterion can take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Domain {
    /// A finite number from 0 to `most`, or off.
    Number {
        /// The largest sensible number.
        most: f64,
    },
    /// A whole number from `least` to `most`, or off.
    Count {
        /// The smallest.
        least: u32,
        /// The largest.
        most: u32,
    },
    /// One of these words; `off` only where it is listed.
    Word(&'static [&'static str]),
}

impl Domain {
    /// Whether `value` lies in the domain.
    pub fn holds(self, value: &CriterionValue) -> bool {
        match (self, value) {
            (Domain::Word(words), CriterionValue::Word(word)) => words.contains(&word.as_ref()),
            (Domain::Word(words), CriterionValue::Off) => words.contains(&"off"),
            (_, CriterionValue::Off) => true,
            (Domain::Number { most }, CriterionValue::Number(x)) => x.is_finite() && (0.0..=most).contains(x),
            (Domain::Count { least, most }, CriterionValue::Number(x)) => {
                x.fract().abs() <= 0.0 && (f64::from(least)..=f64::from(most)).contains(x)
            }
            _ => false,
        }
    }
}

impl fmt::Display for Domain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Domain::Number { most } if most.is_finite() => write!(f, "a number from 0 to {most}, or \"off\""),
            Domain::Number { .. } => f.write_str("a number from 0 up, or \"off\""),
            Domain::Count { least, most } => write!(f, "a whole number from {least} to {most}, or \"off\""),
            Domain::Word(words) => {
                let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
                f.write_str(&quoted.join(" or "))
            }
        }
    }
}
