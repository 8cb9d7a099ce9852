//! From numbers to reported text.

pub mod round;
