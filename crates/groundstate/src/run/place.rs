//! Which position and replicate every row is.

use super::PositionRule;
use super::columns::{NumberColumn, TextColumn};
use super::problems::Problems;
use super::sheet::Sheet;
use super::table::Cells;

/// Run, position and replicate of every row. A replicate that is not given is [`UNNUMBERED`].
pub(super) struct Keys {
    /// Rank of the run by its name.
    pub run: Vec<u32>,
    /// Names of the runs, by rank.
    pub names: Vec<String>,
    pub position: Vec<u32>,
    pub replicate: Vec<u32>,
    pub rule: PositionRule,
}

/// The replicate of a row that gives none. It sorts behind all others.
pub(super) const UNNUMBERED: u32 = u32::MAX;

/// The name of a run whose table has no column of runs.
const ONLY_RUN: &str = "run";

impl Keys {
    pub fn new(sheet: &Sheet<'_>, problems: &mut Problems) -> Keys {
        let (run, names) = runs(sheet, problems);
        let replicate = match sheet.numbers(NumberColumn::Replicate) {
            Some(numbers) => whole(numbers, NumberColumn::Replicate, problems),
            None => vec![UNNUMBERED; sheet.rows],
        };
        let (position, rule) = match sheet.numbers(NumberColumn::Position) {
            Some(numbers) => {
                for row in (0..sheet.rows).filter(|row| numbers[*row].is_nan()) {
                    problems
                        .cell(row, NumberColumn::Position.name(), "the row has no position")
                        .help("number every row, or leave the whole column out");
                }
                (whole(numbers, NumberColumn::Position, problems), PositionRule::Given)
            }
            None => in_sequence(sheet, &run, names.len(), &replicate),
        };
        Keys { run, names, position, replicate, rule }
    }
}

fn runs(sheet: &Sheet<'_>, problems: &mut Problems) -> (Vec<u32>, Vec<String>) {
    let Some(words) = sheet.words(TextColumn::Run) else {
        return (vec![0; sheet.rows], vec![ONLY_RUN.to_owned()]);
    };
    let coded = &words.coded;
    if coded.words.is_empty() {
        return (vec![0; sheet.rows], vec![ONLY_RUN.to_owned()]);
    }
    let ranks = coded.ranks();
    let mut names = vec![String::new(); ranks.len()];
    for (word, rank) in coded.words.iter().zip(&ranks) {
        names[*rank as usize] = word.to_string();
    }
    let rank = |(row, code): (usize, &u32)| {
        ranks.get(*code as usize).copied().unwrap_or_else(|| {
            problems
                .cell(row, TextColumn::Run.name(), "the row names no run")
                .help("name the run in every row, or leave the whole column out");
            0
        })
    };
    (coded.codes.iter().enumerate().map(rank).collect(), names)
}

/// Numbers as whole numbers from 0 up; NaN as [`UNNUMBERED`].
fn whole(numbers: &[f64], column: NumberColumn, problems: &mut Problems) -> Vec<u32> {
    let whole = |(row, number): (usize, &f64)| {
        if number.is_nan() {
            return UNNUMBERED;
        }
        let fits = (0.0..f64::from(UNNUMBERED)).contains(number) && number.trunc() >= *number;
        if !fits && number.is_finite() {
            problems
                .cell(row, column.name(), format!("{number} is not a whole number from 0 up"))
                .help("count 1, 2, 3 ...");
        }
        // Saturating: what does not fit has just been told.
        *number as u32
    };
    numbers.iter().enumerate().map(whole).collect()
}

/// Positions counted in the order of the rows of each run.
fn in_sequence(sheet: &Sheet<'_>, run: &[u32], runs: usize, replicate: &[u32]) -> (Vec<u32>, PositionRule) {
    struct Last {
        number: u32,
        of: (u32, u32),
        replicates: Vec<u32>,
    }
    let code = |column: TextColumn, row: usize| {
        sheet.words(column).and_then(|words| words.coded.codes.get(row)).copied().unwrap_or(Cells::MISSING)
    };
    let mut last: Vec<Last> = (0..runs).map(|_| Last { number: 0, of: (0, 0), replicates: Vec::new() }).collect();
    let numbered = sheet.numbers(NumberColumn::Replicate).is_some();
    let mut positions = Vec::with_capacity(sheet.rows);
    for row in 0..sheet.rows {
        let last = &mut last[run[row] as usize];
        let of = (code(TextColumn::Role, row), code(TextColumn::Label, row));
        let replicate = replicate[row];
        let same = last.number > 0
            && last.of == of
            && replicate != UNNUMBERED
            && !last.replicates.is_empty()
            && !last.replicates.contains(&replicate);
        if !same {
            last.number += 1;
            last.of = of;
            last.replicates.clear();
        }
        if replicate != UNNUMBERED {
            last.replicates.push(replicate);
        }
        positions.push(last.number);
    }
    (positions, if numbered { PositionRule::ConsecutiveReplicates } else { PositionRule::EachRow })
}
