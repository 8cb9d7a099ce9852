//! What is wrong with a table, row by row.

use crate::error::{Place, Problem};

/// Problems with the row each stands in.
#[derive(Default)]
pub(super) struct Problems(Vec<(usize, Problem)>);

impl Problems {
    /// A problem in a cell; `row` counts from 0.
    pub fn cell(&mut self, row: usize, column: &str, what: impl Into<String>) -> Added<'_> {
        self.0.push((row, Problem::new(Place::cell(row as u64 + 1, column), what)));
        Added(self)
    }

    /// The problems with their rows, ascending.
    pub fn into_vec(mut self) -> Vec<(usize, Problem)> {
        self.0.sort_by_key(|(row, _)| *row);
        self.0
    }
}

/// A problem that was just added, to be told more of.
pub(super) struct Added<'a>(&'a mut Problems);

impl Added<'_> {
    pub fn help(self, help: impl Into<String>) -> Self {
        if let Some((_, problem)) = self.0.0.last_mut() {
            problem.help = Some(help.into());
        }
        self
    }

    pub fn label(self, label: &str) -> Self {
        if let Some((_, problem)) = self.0.0.last_mut() {
            problem.place.label = Some(label.to_owned());
        }
        self
    }
}
