//! The one error type: input that cannot be understood, with every problem in it at once.
//!
//! What chemistry can do wrong (a flat curve, a failed check) is not an error: it is a status and a
//! [`Finding`](crate::finding::Finding) in an outcome.
//!
//! ```
//! use groundstate::error::Kind;
//! use groundstate::unit::Unit;
//!
//! let error = Unit::parse("mg/l.").unwrap_err();
//! assert_eq!(error.kind(), Kind::Unit);
//! assert_eq!(error.total(), 1); // every problem of the input is in it
//! println!("{error}"); // what, where, what to do
//! ```

use std::fmt;

/// What part of the input an [`Error`] is about. Stable: the Python exceptions map onto it one to one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Kind {
    /// An argument of a call.
    Argument,
    /// A table of readings.
    Table,
    /// A method, criteria profile or reporting style.
    Method,
    /// A unit, or two units that do not go together.
    Unit,
    /// A calibration that cannot serve: flat, falling, or turning inside its range.
    Calibration,
    /// A figure that this object cannot give.
    NotAvailable,
    /// A serialised document.
    Wire,
    /// A size limit of the library.
    Limit,
    /// The caller asked for a stop.
    Interrupted,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Kind; 9] = [
        Kind::Argument,
        Kind::Table,
        Kind::Method,
        Kind::Unit,
        Kind::Calibration,
        Kind::NotAvailable,
        Kind::Wire,
        Kind::Limit,
        Kind::Interrupted,
    ];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Argument => "argument",
            Kind::Table => "table",
            Kind::Method => "method",
            Kind::Unit => "unit",
            Kind::Calibration => "calibration",
            Kind::NotAvailable => "not_available",
            Kind::Wire => "wire",
            Kind::Limit => "limit",
            Kind::Interrupted => "interrupted",
        }
    }
}

/// Where in the input a problem stands.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Place {
    /// Row of a table, counted from 1 below the header.
    pub row: Option<u64>,
    /// Column of a table, name of an argument, or dotted key of a method.
    pub name: Option<String>,
    /// Label of the sample, standard or run concerned.
    pub label: Option<String>,
}

impl Place {
    /// A place named by an argument, a column or a dotted key.
    // Errors are made in hundreds of places, none of them hot: what makes them stands once.
    #[inline(never)]
    pub fn named(name: impl Into<String>) -> Self {
        Place { name: Some(name.into()), ..Place::default() }
    }

    /// A cell of a table; `row` counts from 1 below the header.
    #[inline(never)]
    pub fn cell(row: u64, column: impl Into<String>) -> Self {
        Place { row: Some(row), name: Some(column.into()), label: None }
    }

    /// The same place with the label of what stands there.
    #[must_use]
    #[inline(never)]
    pub fn labelled(mut self, label: impl Into<String>) -> Self {
        self.label = Some(label.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut separator = "";
        if let Some(row) = self.row {
            write!(f, "row {row}")?;
            separator = ", ";
        }
        if let Some(name) = &self.name {
            let word = if self.row.is_some() { "column " } else { "" };
            write!(f, "{separator}{word}{name}")?;
            separator = ", ";
        }
        if let Some(label) = &self.label {
            write!(f, "{separator}label {label:?}")?;
        }
        Ok(())
    }
}

/// One thing wrong with the input: where, what, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where it stands.
    pub place: Place,
    /// What is wrong, in one sentence without a final stop.
    pub what: String,
    /// What to do about it, if the library can tell.
    pub help: Option<String>,
}

impl Problem {
    /// A problem at `place`.
    #[inline(never)]
    pub fn new(place: Place, what: impl Into<String>) -> Self {
        Problem { place, what: what.into(), help: None }
    }

    /// The same problem with advice.
    #[must_use]
    #[inline(never)]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.place != Place::default() {
            write!(f, "{}: ", self.place)?;
        }
        f.write_str(&self.what)?;
        match &self.help {
            Some(help) => write!(f, "; {help}"),
            None => Ok(()),
        }
    }
}

/// Input that cannot be understood. Holds at least one [`Problem`], at most [`Error::MOST`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub struct Error(Box<Inner>);

#[derive(Clone, Debug, PartialEq)]
struct Inner {
    kind: Kind,
    problems: Vec<Problem>,
    total: usize,
}

impl Error {
    /// The most problems one error lists; [`Error::total`] counts the rest.
    pub const MOST: usize = 100;
    const SHOWN: usize = 5;

    /// An error of one problem.
    #[inline(never)]
    pub fn new(kind: Kind, problem: Problem) -> Self {
        Error(Box::new(Inner { kind, problems: vec![problem], total: 1 }))
    }

    /// An error about the argument `name`.
    #[inline(never)]
    pub fn argument(name: &str, what: impl Into<String>) -> Self {
        Error::new(Kind::Argument, Problem::new(Place::named(name), what))
    }

    /// Puts advice on the last problem.
    #[must_use]
    #[inline(never)]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        if let Some(problem) = self.0.problems.last_mut() {
            problem.help = Some(help.into());
        }
        self
    }

    /// `Ok(value)` when `problems` is empty, otherwise one error that lists them all.
    pub fn unless_empty<T>(kind: Kind, mut problems: Vec<Problem>, value: T) -> Result<T, Self> {
        if problems.is_empty() {
            return Ok(value);
        }
        let total = problems.len();
        problems.truncate(Self::MOST);
        Err(Error(Box::new(Inner { kind, problems, total })))
    }

    /// What the error is about.
    pub fn kind(&self) -> Kind {
        self.0.kind
    }

    /// The problems, in the order of the input.
    pub fn problems(&self) -> &[Problem] {
        &self.0.problems
    }

    /// How many problems were found, listed or not.
    pub fn total(&self) -> usize {
        self.0.total
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut shown = self.0.problems.iter().take(Self::SHOWN);
        if self.0.total == 1 {
            return shown.try_for_each(|problem| write!(f, "{problem}"));
        }
        write!(f, "{} problems", self.0.total)?;
        for problem in shown {
            write!(f, "\n  {problem}")?;
        }
        match self.0.total.saturating_sub(Self::SHOWN) {
            0 => Ok(()),
            more => write!(f, "\n  and {more} more"),
        }
    }
}

/// The candidate nearest to `word` in spelling, for "did you mean": at most a third of its letters differ.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let limit = (word.chars().count() / 3).max(1);
    candidates
        .into_iter()
        .map(|candidate| (edits(&word, &candidate.to_lowercase()), candidate))
        .filter(|(distance, _)| *distance <= limit)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Edits of one character that turn `a` into `b`: insert, delete, substitute, or exchange two neighbours.
fn edits(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    // The last three rows of the table of distances between beginnings of `a` and of `b`.
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for i in 0..a.len() {
        let mut row = vec![i + 1];
        for j in 0..b.len() {
            let mut least = (above[j] + usize::from(a[i] != b[j])).min(above[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && a[i] == b[j - 1] && a[i - 1] == b[j] {
                least = least.min(before[j - 1] + 1);
            }
            row.push(least);
        }
        before = std::mem::replace(&mut above, row);
    }
    above[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_problem_reads_as_a_sentence() {
        let error = Error::new(
            Kind::Table,
            Problem::new(Place::cell(7, "absorbance").labelled("S-3"), "\"o.12\" is not a number").help("write 0.12"),
        );
        assert_eq!(error.to_string(), "row 7, column absorbance, label \"S-3\": \"o.12\" is not a number; write 0.12");
    }

    #[test]
    fn many_problems_are_counted_and_the_first_five_shown() {
        let problems = (1..=120).map(|row| Problem::new(Place::cell(row, "role"), "unknown role")).collect();
        let error = Error::unless_empty(Kind::Table, problems, ()).unwrap_err();
        assert_eq!((error.problems().len(), error.total()), (100, 120));
        assert!(error.to_string().starts_with("120 problems\n  row 1, column role"));
        assert!(error.to_string().ends_with("and 115 more"));
    }

    #[test]
    fn nearest_finds_slips_and_refuses_strangers() {
        assert_eq!(nearest("absorbence", ["absorbance", "nominal"]), Some("absorbance"));
        assert_eq!(nearest("shpae", ["sharp", "shape"]), Some("shape"));
        assert_eq!(nearest("Quadratic", ["line", "quadratic"]), Some("quadratic"));
        assert_eq!(nearest("temperature", ["absorbance", "nominal"]), None);
    }
}
