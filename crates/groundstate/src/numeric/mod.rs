//! Arithmetic the other rooms rest on: distributions, roots and random streams.

pub mod distribution;
pub mod root;
pub mod stream;

mod ziggurat;
