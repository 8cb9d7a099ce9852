//! Values of closed lists, by their names.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

use crate::error::nearest;

/// A closed list whose values have stable names.
pub(crate) trait Named: Copy + 'static {
    /// What one of them is called in an error.
    const KIND: &'static str;
    /// Whether the list grows with every version, so that a schema should not close it.
    const GROWS: bool = false;
    /// All of them.
    fn all() -> Vec<Self>;
    /// The name on the wire.
    fn on_wire(self) -> &'static str;
}

/// A value of a closed list, written as its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Word<T>(pub T);

/// Makes a type [`Named`]: by its own list, or by naming every value so that a new one cannot be forgotten.
macro_rules! named {
    ($type:ty, $kind:literal, $all:expr) => {
        impl $crate::document::Named for $type {
            const KIND: &'static str = $kind;
            fn all() -> Vec<Self> {
                $all.to_vec()
            }
            fn on_wire(self) -> &'static str {
                self.name()
            }
        }
    };
    ($type:ident, $kind:literal: $($variant:ident = $name:literal),+ $(,)?) => {
        impl $crate::document::Named for $type {
            const KIND: &'static str = $kind;
            fn all() -> Vec<Self> {
                vec![$($type::$variant,)+]
            }
            fn on_wire(self) -> &'static str {
                match self { $($type::$variant => $name,)+ }
            }
        }
    };
}
pub(crate) use named;

impl<T: Named> Serialize for Word<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.on_wire())
    }
}

impl<'de, T: Named> Deserialize<'de> for Word<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Names<T>(PhantomData<T>);
        impl<T: Named> Visitor<'_> for Names<T> {
            type Value = Word<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "the name of a {}", T::KIND)
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Word<T>, E> {
                if let Some(found) = T::all().into_iter().find(|one| one.on_wire() == text) {
                    return Ok(Word(found));
                }
                let shown: String = text.chars().take(40).collect();
                let near = nearest(&shown, T::all().into_iter().map(Named::on_wire));
                let help = near.map_or(String::new(), |near| format!("; did you mean {near:?}?"));
                Err(E::custom(format!("there is no {} {shown:?}{help}", T::KIND)))
            }
        }
        deserializer.deserialize_str(Names(PhantomData))
    }
}
