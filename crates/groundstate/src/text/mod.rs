//! Readers and writers of text: CSV tables of readings, TOML methods. Files belong to the caller.

mod csv;
mod encoding;
mod method;
mod write;

#[cfg(test)]
mod manual_tests;
#[cfg(test)]
mod tests;
