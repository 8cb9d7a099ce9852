//! A table as it comes in: named columns of text, numbers or dictionary codes.

use crate::error::{Error, Kind, Place, Problem, nearest};

/// Text cells in one piece of memory. An empty cell is a missing one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    text: String,
    ends: Vec<usize>,
}

impl Texts {
    /// No cells.
    pub const fn new() -> Self {
        Texts { text: String::new(), ends: Vec::new() }
    }

    /// Adds a cell below the last.
    pub fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.ends.push(self.text.len());
    }

    /// Number of cells.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.ends.is_empty()
    }

    /// The cells, from the top.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &str> {
        let mut start = 0;
        self.ends.iter().map(move |end| {
            let cell = self.text.get(start..*end).unwrap_or("");
            start = *end;
            cell
        })
    }
}

impl<S: AsRef<str>> FromIterator<S> for Texts {
    fn from_iter<I: IntoIterator<Item = S>>(cells: I) -> Self {
        let mut texts = Texts::new();
        cells.into_iter().for_each(|cell| texts.push(cell.as_ref()));
        texts
    }
}

/// The cells of a column.
#[derive(Clone, Debug, PartialEq)]
pub enum Cells {
    /// Text; empty means missing.
    Text(Texts),
    /// Numbers; NaN means missing.
    Number(Vec<f64>),
    /// Indices into a dictionary; [`Cells::MISSING`] means missing.
    Coded {
        /// One index a row.
        codes: Vec<u32>,
        /// The words, each once.
        dictionary: Vec<Box<str>>,
    },
}

impl Cells {
    /// The code of a missing cell.
    pub const MISSING: u32 = u32::MAX;

    /// Number of rows.
    pub fn len(&self) -> usize {
        match self {
            Cells::Text(texts) => texts.len(),
            Cells::Number(numbers) => numbers.len(),
            Cells::Coded { codes, .. } => codes.len(),
        }
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A table of readings as it comes in. Column names are trimmed and put in lower case.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawTable {
    columns: Vec<(Box<str>, Cells)>,
}

impl RawTable {
    /// A table without columns.
    pub const fn new() -> Self {
        RawTable { columns: Vec::new() }
    }

    /// Adds a column.
    ///
    /// # Errors
    /// [`Kind::Table`] for a name that the table has already or that is empty, a column of another length, or a
    /// code outside its dictionary.
    pub fn push(&mut self, name: &str, cells: Cells) -> Result<(), Error> {
        let name = name.trim().to_lowercase();
        let refuse = |what: String| Err(Error::new(Kind::Table, Problem::new(Place::named(name.clone()), what)));
        if name.is_empty() {
            return refuse(format!("column {} has no name", self.columns.len() + 1));
        }
        if self.columns.iter().any(|(known, _)| **known == name) {
            return refuse(format!("there are two columns {name}"));
        }
        if let Some(rows) = self.columns.first().map(|(_, cells)| cells.len()).filter(|rows| *rows != cells.len()) {
            return refuse(format!("the column has {} rows and the first column {rows}", cells.len()));
        }
        if let Cells::Coded { codes, dictionary } = &cells
            && let Some(code) =
                codes.iter().find(|code| **code != Cells::MISSING && **code as usize >= dictionary.len())
        {
            return refuse(format!("code {code} is not in a dictionary of {} words", dictionary.len()));
        }
        self.columns.push((name.into(), cells));
        Ok(())
    }

    /// The same table with columns called otherwise: pairs of the name here and the new one, `None` to leave the
    /// column out.
    ///
    /// # Errors
    /// [`Kind::Table`] for a name that no column has, all of them at once, or two columns of one new name.
    pub fn renamed(self, names: &[(&str, Option<&str>)]) -> Result<Self, Error> {
        let theirs: Vec<String> = names.iter().map(|(theirs, _)| theirs.trim().to_lowercase()).collect();
        let missing = theirs.iter().filter(|name| self.column(name).is_none());
        let problems: Vec<Problem> = missing
            .map(|name| {
                let problem = Problem::new(Place::named(name.clone()), "the table has no such column to rename");
                let all: Vec<&str> = self.columns().map(|(name, _)| name).collect();
                let near = nearest(name, all.iter().copied());
                problem.help(match near {
                    Some(near) => format!("did you mean {near:?}?"),
                    None => format!("it has {}", all.join(", ")),
                })
            })
            .collect();
        Error::unless_empty(Kind::Table, problems, ())?;
        let mut table = RawTable::new();
        for (name, cells) in self.columns {
            let named = theirs.iter().zip(names).find(|(theirs, _)| ***theirs == *name);
            match named.map_or(Some(&*name), |(_, (_, ours))| *ours) {
                Some(ours) => table.push(ours, cells)?,
                None => continue,
            }
        }
        Ok(table)
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |(_, cells)| cells.len())
    }

    /// The columns, in the order they came.
    pub fn columns(&self) -> impl Iterator<Item = (&str, &Cells)> {
        self.columns.iter().map(|(name, cells)| (&**name, cells))
    }

    /// The cells of the column `name`.
    pub fn column(&self, name: &str) -> Option<&Cells> {
        self.columns.iter().find(|(known, _)| **known == *name).map(|(_, cells)| cells)
    }
}
