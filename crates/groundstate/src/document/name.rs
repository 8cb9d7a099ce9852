//! Values of closed lists, by their names.

use serde_json::Value;

use super::Unread;
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

/// What is said of a `value` that is none of `names`.
pub(super) fn unknown(kind: &str, names: &[&str], value: &Value) -> Unread {
    let Some(text) = value.as_str() else {
        return Unread::expected(&format!("the name of a {kind}"), value);
    };
    let shown: String = text.chars().take(40).collect();
    let near = nearest(&shown, names.iter().copied());
    let help = near.map_or(String::new(), |near| format!("; did you mean {near:?}?"));
    Unread::new(format!("there is no {kind} {shown:?}{help}"))
}
