//! Entries of a table found by key.

use std::collections::HashMap;

use super::Key;

/// Below this many entries a look at each is quicker than a hash.
const FEW: usize = 16;

/// Where the first entry of each key stands in a table that only grows.
///
/// It says nothing that the table does not, so it is no part of a table's equality, and a copy starts without one.
#[derive(Debug, Default)]
pub(super) struct Index {
    places: HashMap<Key, usize>,
    /// How many entries of the table are in `places`.
    seen: usize,
    /// Entries looked at so far.
    #[cfg(test)]
    pub looked_at: usize,
}

impl Index {
    /// The place of the first entry known as `key`.
    pub fn find<T>(&mut self, key: &Key, table: &[T], key_of: impl Fn(&T) -> &Key) -> Option<usize> {
        if table.len() <= FEW {
            self.look(table.len());
            return table.iter().position(|entry| key_of(entry) == key);
        }
        self.look(table.len() - self.seen.min(table.len()) + 1);
        for (place, entry) in table.iter().enumerate().skip(self.seen) {
            self.places.entry(key_of(entry).clone()).or_insert(place);
        }
        self.seen = table.len();
        self.places.get(key).copied()
    }

    #[cfg(test)]
    fn look(&mut self, entries: usize) {
        self.looked_at += entries;
    }

    #[cfg(not(test))]
    fn look(&mut self, _: usize) {}
}

impl Clone for Index {
    fn clone(&self) -> Self {
        Index::default()
    }
}

impl PartialEq for Index {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
