//! Tables of readings from CSV.

use super::encoding::{decode, without_mark};
use crate::error::{Error, Kind, Place, Problem};
use crate::run::{Cells, RawTable, ReadOptions, Run, Texts};

impl Run {
    /// The only run of a CSV text; the first line names the columns.
    ///
    /// ```
    /// use groundstate::run::Run;
    /// let run = Run::from_csv("role,label,nominal,absorbance\n\
    ///                          calibration_blank,B,,0.0004\n\
    ///                          standard,S1,0.5,0.0562\n\
    ///                          standard,S2,1.0,0.1125\n\
    ///                          sample,GS-001,,0.0871\n")?;
    /// assert_eq!(run.positions.len(), 4);
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// Everything that is wrong with the table, at once, as for [`Run::from_table`] and [`RawTable::from_csv`].
    pub fn from_csv(text: &str) -> Result<Run, Error> {
        Run::from_table(&RawTable::from_csv(text)?, &ReadOptions::default())
    }
}

impl RawTable {
    /// A CSV text as a table of text cells: the first line names the columns, fields may be quoted, the separator is
    /// the comma, semicolon or tab that occurs most in the first line. Blank lines are passed over and not counted.
    ///
    /// # Errors
    /// [`Kind::Table`]: no header, two columns of one name, rows of another length than the header.
    pub fn from_csv(text: &str) -> Result<RawTable, Error> {
        let text = without_mark(text);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(separator(text))
            .from_reader(text.as_bytes());
        let mut record = csv::StringRecord::new();
        let blank = |record: &csv::StringRecord| record.iter().all(|field| field.trim().is_empty());
        loop {
            if !next(&mut reader, &mut record)? {
                return Err(table_error(Problem::new(Place::default(), "the table is empty"))
                    .help("give a line of column names and one row a reading below it"));
            }
            if !blank(&record) {
                break;
            }
        }
        let mut names: Vec<String> = record.iter().map(|name| name.trim().to_lowercase()).collect();
        // Spreadsheets write a separator behind the last column where one was once used, in every line alike. A line
        // of its own length is refused even if its last field is empty: an unquoted decimal comma makes such lines.
        let width = names.len();
        while names.last().is_some_and(String::is_empty) {
            names.pop();
        }
        let mut columns: Vec<Texts> = vec![Texts::new(); names.len()];
        let mut problems = Vec::new();
        let mut row = 0;
        while next(&mut reader, &mut record)? {
            if blank(&record) {
                continue;
            }
            row += 1;
            if record.len() != width {
                problems.push(ragged(row, &record, width));
            } else if record.iter().skip(names.len()).any(|field| !field.trim().is_empty()) {
                let place = Place { row: Some(row), ..Place::default() };
                let what = format!("the row has a value behind column {}, the last one with a name", names.len());
                problems.push(Problem::new(place, what).help("name the column"));
            }
            for (i, column) in columns.iter_mut().enumerate() {
                column.push(record.get(i).unwrap_or(""));
            }
        }
        let mut table = RawTable::new();
        for (name, texts) in names.iter().zip(columns) {
            if let Err(error) = table.push(name, Cells::Text(texts)) {
                problems.extend(error.problems().iter().cloned());
            }
        }
        Error::unless_empty(Kind::Table, problems, table)
    }

    /// As [`RawTable::from_csv`], from the bytes of a file.
    ///
    /// # Errors
    /// Also bytes that are not UTF-8.
    pub fn from_csv_bytes(bytes: &[u8]) -> Result<RawTable, Error> {
        RawTable::from_csv(decode(bytes, Kind::Table)?)
    }
}

fn next(reader: &mut csv::Reader<&[u8]>, record: &mut csv::StringRecord) -> Result<bool, Error> {
    reader.read_record(record).map_err(|error| table_error(Problem::new(Place::default(), error.to_string())))
}

fn table_error(problem: Problem) -> Error {
    Error::new(Kind::Table, problem)
}

/// The separator that occurs most in the first line that is not blank.
fn separator(text: &str) -> u8 {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let count = |wanted: u8| {
        let mut quoted = false;
        let outside = header.bytes().filter(|byte| {
            quoted ^= *byte == b'"';
            !quoted && *byte == wanted
        });
        outside.count()
    };
    // Of equally many the last one wins, so the comma stands last.
    [b'\t', b';', b','].into_iter().max_by_key(|separator| count(*separator)).unwrap_or(b',')
}

fn ragged(row: u64, record: &csv::StringRecord, expected: usize) -> Problem {
    let place = Place { row: Some(row), ..Place::default() };
    let problem = Problem::new(place, format!("the row has {} fields and the header {expected}", record.len()));
    if record.iter().any(|field| field.contains('\n')) {
        return problem.help("a quoted field runs over several lines: a quotation mark may lack its partner");
    }
    if record.len() > expected {
        return problem.help(
            "a field that holds the separator needs quotation marks; a decimal comma is not read, write a point",
        );
    }
    problem.help("give every row as many separators as the header")
}
