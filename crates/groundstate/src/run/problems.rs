//! What is wrong with a table, row by row.

use crate::error::{Place, Problem};

/// Problems with the row each stands in.
#[derive(Default)]
pub(super) struct Problems(Vec<(usize, Problem)>);

impl Problems {
    /// A problem in a cell; `row` counts from 0.
    pub fn cell(&mut self, row: usize, column: &str, what: impl Into<String>) -> Added<'_> {
        self.0.push((row, Problem::new(Place::cell(row as u64 + 1, column), what)));
        Added(self.0.last_mut().map(|(_, problem)| problem))
    }

    /// The problems, with their rows.
    pub fn into_vec(mut self) -> Vec<(usize, Problem)> {
        self.0.sort_by_key(|(row, _)| *row);
        self.0
    }
}

/// A problem that was just added, to be told more of.
pub(super) struct Added<'a>(Option<&'a mut Problem>);

impl Added<'_> {
    pub fn help(self, help: impl Into<String>) -> Self {
        Added(self.0.map(|problem| {
            problem.help = Some(help.into());
            problem
        }))
    }

    pub fn label(self, label: &str) -> Self {
        Added(self.0.map(|problem| {
            problem.place.label = Some(label.to_owned());
            problem
        }))
    }
}
