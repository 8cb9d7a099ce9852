//! A table with its columns known, coded and turned into numbers.

use std::borrow::Cow;
use std::cell::RefCell;
use std::sync::Arc;

use super::coded::{Coded, numbers};
use super::columns::{self, Known, NumberColumn, SIGNAL, TextColumn};
use super::problems::Problems;
use super::{Cells, RawTable, ReadOptions};
use crate::error::{Error, Kind, Place, Problem};
use crate::method::SignalKind;

/// A table with its columns known.
pub(super) struct Sheet<'a> {
    pub rows: usize,
    text: [Option<Words<'a>>; TextColumn::COUNT],
    numbers: [Option<Cow<'a, [f64]>>; NumberColumn::COUNT],
    pub facts: Vec<FactColumn<'a>>,
}

/// A column of words, each shared by the positions of a run that hold it.
pub(super) struct Words<'a> {
    pub coded: Coded<'a>,
    /// Each word as the run that asked for it last shares it. Runs are reduced side by side, and threads that count
    /// the holders of one word would wait for each other.
    shared: RefCell<Vec<Option<Shared>>>,
}

/// A word and the run that shares it.
type Shared = (u32, Arc<str>);

impl<'a> Words<'a> {
    fn new(cells: &'a Cells) -> Self {
        let coded = Coded::new(cells);
        let shared = RefCell::new(vec![None; coded.words.len()]);
        Words { coded, shared }
    }

    /// The word `code` as run `run` shares it.
    fn shared(&self, code: usize, run: u32) -> Option<Arc<str>> {
        let word = self.coded.words.get(code)?;
        let mut all = self.shared.borrow_mut();
        let shared = all.get_mut(code)?;
        match shared {
            Some((of, word)) if *of == run => Some(word.clone()),
            _ => Some(shared.insert((run, Arc::from(&**word))).1.clone()),
        }
    }
}

/// A column about the whole run.
pub(super) struct FactColumn<'a> {
    pub name: Arc<str>,
    /// Whether its name says so; otherwise it is a column that this library does not know.
    pub expected: bool,
    pub coded: Coded<'a>,
}

/// A value that the rows of one position agree on, and the row it stands in.
#[derive(Clone, Copy)]
pub(super) struct Agreed<T> {
    pub value: T,
    pub row: usize,
}

impl<'a> Sheet<'a> {
    /// The table with its columns known. Problems of cells go to `problems`.
    ///
    /// # Errors
    /// Columns that are missing, unknown or there twice.
    pub fn new(table: &'a RawTable, options: &ReadOptions, problems: &mut Problems) -> Result<Sheet<'a>, Error> {
        let rows = table.rows();
        let mut wrong = Vec::new();
        if rows == 0 {
            let what = if table.columns().next().is_none() { "the table is empty" } else { "the table has no rows" };
            wrong.push(
                Problem::new(Place::default(), what).help("give one row a reading, below a line of column names"),
            );
        } else if u32::try_from(rows).is_err() {
            let what = format!("the table has {rows} rows, more than {}", u32::MAX);
            return Err(Error::new(Kind::Limit, Problem::new(Place::default(), what).help("read it run by run")));
        }
        let mut sheet = Sheet {
            rows,
            text: std::array::from_fn(|_| None),
            numbers: std::array::from_fn(|_| None),
            facts: Vec::new(),
        };
        let mut signal = false;
        for (name, cells) in table.columns() {
            match columns::known(name) {
                Ok(Known::Text(column)) => sheet.text[column as usize] = Some(Words::new(cells)),
                Ok(Known::Number(column)) => {
                    sheet.numbers[column as usize] = Some(numbers(name, cells, problems));
                }
                Ok(Known::Signal) if options.signal == SignalKind::Absorbance => wrong.push(
                    Problem::new(Place::named(SIGNAL), "the method's readings are absorbances")
                        .help("name the column absorbance, or set signal_kind in the method"),
                ),
                Ok(Known::Signal) if table.column(NumberColumn::Absorbance.name()).is_some() => wrong.push(
                    Problem::new(Place::named(SIGNAL), "there is a column absorbance beside it")
                        .help("keep one of the two, or let the other begin with x_"),
                ),
                Ok(Known::Signal) => {
                    signal = true;
                    sheet.numbers[NumberColumn::Absorbance as usize] = Some(numbers(name, cells, problems));
                }
                Ok(Known::Fact { expected }) => {
                    sheet.facts.push(FactColumn { name: name.into(), expected, coded: Coded::new(cells) });
                }
                Err(problem) => wrong.push(problem),
            }
        }
        sheet.facts.sort_by(|a, b| a.name.cmp(&b.name));
        if rows > 0 {
            let has_readings = signal || table.column(NumberColumn::Absorbance.name()).is_some();
            let needed = [(TextColumn::Role.name(), sheet.text[TextColumn::Role as usize].is_some())];
            for (name, _) in needed.into_iter().chain([("absorbance", has_readings)]).filter(|(_, there)| !there) {
                let found: Vec<&str> = table.columns().map(|(name, _)| name).take(30).collect();
                wrong.push(
                    Problem::new(Place::named(name), format!("there is no column {name}"))
                        .help(format!("the columns are: {}", found.join(", "))),
                );
            }
        }
        Error::unless_empty(Kind::Table, wrong, sheet)
    }

    /// The words of a column.
    pub fn words(&self, column: TextColumn) -> Option<&Words<'a>> {
        self.text[column as usize].as_ref()
    }

    /// The numbers of a column.
    pub fn numbers(&self, column: NumberColumn) -> Option<&[f64]> {
        self.numbers[column as usize].as_deref()
    }

    /// The number that the rows of a position agree on. An empty cell agrees with all.
    pub fn number(
        &self,
        column: NumberColumn,
        rows: impl Iterator<Item = usize>,
        problems: &mut Problems,
    ) -> Option<Agreed<f64>> {
        let numbers = self.numbers(column)?;
        let given = rows.map(|row| Agreed { value: numbers[row], row }).filter(|cell| !cell.value.is_nan());
        agree(column.name(), given, problems, |a, b| a <= b && b <= a, f64::to_string)
    }

    /// The code of the word that the rows of a position agree on. An empty cell agrees with all.
    pub fn code(
        &self,
        column: TextColumn,
        rows: impl Iterator<Item = usize>,
        problems: &mut Problems,
    ) -> Option<Agreed<usize>> {
        let words = self.words(column)?;
        let codes = rows.map(|row| Agreed { value: words.coded.codes[row] as usize, row });
        let given = codes.filter(|cell| cell.value < words.coded.words.len());
        agree(column.name(), given, problems, |a, b| a == b, |code| format!("{:?}", words.coded.words[*code]))
    }

    /// The word that the rows of a position of run `run` agree on.
    pub fn word(
        &self,
        column: TextColumn,
        run: u32,
        rows: impl Iterator<Item = usize>,
        problems: &mut Problems,
    ) -> Option<Agreed<Arc<str>>> {
        let Agreed { value, row } = self.code(column, rows, problems)?;
        Some(Agreed { value: self.words(column)?.shared(value, run)?, row })
    }
}

/// The first of `given`; the others must be the same.
fn agree<T>(
    column: &str,
    mut given: impl Iterator<Item = Agreed<T>>,
    problems: &mut Problems,
    same: impl Fn(&T, &T) -> bool,
    shown: impl Fn(&T) -> String,
) -> Option<Agreed<T>> {
    let first = given.next()?;
    for other in given.filter(|other| !same(&first.value, &other.value)) {
        let there = first.row + 1;
        let what = format!("{} differs from {} in row {there}", shown(&other.value), shown(&first.value));
        problems
            .cell(other.row, column, format!("{what}, of the same position"))
            .help("the rows of one position are readings of one solution: give a re-run a position of its own");
    }
    Some(first)
}
