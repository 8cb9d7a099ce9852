//! Arithmetic the other rooms rest on: double-double, distributions, roots and random streams.

pub(crate) mod dd;
pub mod distribution;
pub mod root;
pub mod stream;

mod ziggurat;
