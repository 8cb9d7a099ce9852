//! Arithmetic the other rooms rest on: distributions, roots and random streams.

pub mod stream;

mod ziggurat;
