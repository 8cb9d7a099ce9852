//! Closed lists of words, as a method file and an argument have them.

use crate::error::{Error, nearest};

/// Gives an enum its stable names, parsing with the nearest name, and `Display`.
macro_rules! words {
    ($kind:ident, $key:literal: $($variant:ident = $name:literal),+) => {
        impl $kind {
            /// Every one of them.
            pub const ALL: &'static [$kind] = &[$($kind::$variant,)+];

            /// The stable name, as a method file has it.
            pub const fn name(self) -> &'static str {
                match self { $($kind::$variant => $name,)+ }
            }

            /// The one called `name`.
            ///
            /// # Errors
            /// Any other name, with the nearest one.
            pub fn parse(name: &str) -> Result<Self, $crate::error::Error> {
                $crate::preparation::words::one_of($key, name, Self::ALL, Self::name)
            }
        }

        impl std::fmt::Display for $kind {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.name())
            }
        }
    };
}
pub(crate) use words;

/// The one of `all` that is called `text`.
pub(crate) fn one_of<T: Copy>(key: &str, text: &str, all: &[T], name: impl Fn(T) -> &'static str) -> Result<T, Error> {
    if let Some(found) = all.iter().find(|one| name(**one) == text) {
        return Ok(*found);
    }
    let shown: String = text.chars().take(40).collect();
    let names: Vec<&str> = all.iter().map(|one| name(*one)).collect();
    let help = match nearest(&shown, names.iter().copied()) {
        Some(near) => format!("did you mean {near:?}?"),
        None => format!("it is one of {}", names.join(", ")),
    };
    Err(Error::argument(key, format!("there is no {key} {shown:?}")).help(help))
}
