//! What leaves the laboratory: rounded values, qualifiers, text.

pub use crate::rounding as round;
