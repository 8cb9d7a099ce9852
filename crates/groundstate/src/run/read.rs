//! From a table to runs.

use std::sync::Arc;

use super::columns::{NumberColumn as N, TextColumn as T};
use super::group::GroupIndex;
use super::place::{Keys, UNNUMBERED};
use super::problems::Problems;
use super::rules::{check_position, find_parents};
use super::sheet::{Agreed, Sheet};
use super::{
    Identity, Position, PositionRule, PreparationFields, RawTable, ReadOptions, Reference, Role, Run, Runs, SourceRow,
};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};
use crate::glassware::Dilution;
use crate::method::MissingPolicy;
use crate::unit::Unit;

/// A run that could not be read.
#[derive(Clone, Debug, PartialEq)]
pub struct RunError {
    /// Name of the run.
    pub run: Arc<str>,
    /// What is wrong with it.
    pub error: Error,
}

impl std::fmt::Display for RunError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "run {:?}: {}", self.run, self.error)
    }
}

impl std::error::Error for RunError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.error)
    }
}

impl Run {
    /// The only run of a table.
    ///
    /// # Errors
    /// Everything that is wrong with the table, at once; a table of several runs, which are named.
    pub fn from_table(table: &RawTable, options: &ReadOptions) -> Result<Run, Error> {
        let runs = Runs::from_table(table, options)?.into_vec();
        let names: Vec<String> = runs.iter().take(10).map(|run| run.name.to_string()).collect();
        let (count, mut runs) = (runs.len(), runs.into_iter());
        match (runs.next(), runs.next()) {
            (Some(run), None) => Ok(run),
            _ => {
                let more = if count > names.len() { ", ..." } else { "" };
                let what = format!("the table holds {count} runs: {}{more}", names.join(", "));
                Err(Error::new(
                    Kind::Table,
                    Problem::new(Place::named(T::Run.name()), what)
                        .help("choose one, or reduce them all with reduce_many"),
                ))
            }
        }
    }
}

impl Runs {
    /// All runs of a table.
    ///
    /// # Errors
    /// Everything that is wrong with any of them, at once. [`Runs::each_from_table`] keeps the good ones.
    pub fn from_table(table: &RawTable, options: &ReadOptions) -> Result<Runs, Error> {
        let mut problems = Problems::default();
        let (runs, _) = read(table, options, &mut problems)?;
        let problems = problems.into_vec().into_iter().map(|(_, problem)| problem).collect();
        Error::unless_empty(Kind::Table, problems, Runs(runs))
    }

    /// Each run of a table, or what is wrong with it: one bad run does not stop the others.
    ///
    /// # Errors
    /// What is wrong with the table as a whole.
    pub fn each_from_table(table: &RawTable, options: &ReadOptions) -> Result<Vec<Result<Run, RunError>>, Error> {
        let mut problems = Problems::default();
        let (runs, run_of) = read(table, options, &mut problems)?;
        let mut wrong: Vec<Vec<Problem>> = vec![Vec::new(); runs.len()];
        for (row, problem) in problems.into_vec() {
            wrong[run_of[row] as usize].push(problem);
        }
        let judge = |(run, problems): (Run, Vec<Problem>)| {
            let name = run.name.clone();
            Error::unless_empty(Kind::Table, problems, run).map_err(|error| RunError { run: name, error })
        };
        Ok(runs.into_iter().zip(wrong).map(judge).collect())
    }
}

/// The runs of a table, whatever is wrong with them, and the run of each row.
fn read(table: &RawTable, options: &ReadOptions, problems: &mut Problems) -> Result<(Vec<Run>, Vec<u32>), Error> {
    let sheet = Sheet::new(table, options, problems)?;
    let keys = Keys::new(&sheet, problems);
    let index = GroupIndex::new(&keys.run, &keys.position, &keys.replicate);
    let reader = Reader::new(&sheet, &keys, options, problems);
    let mut runs: Vec<(Run, Vec<usize>)> = keys.names.iter().map(|name| (reader.empty_run(name), Vec::new())).collect();
    for rows in index.groups() {
        let Some(first) = rows.clone().min() else { continue };
        let (run, first_rows) = &mut runs[keys.run[first] as usize];
        reader.position(run, first, rows, problems);
        first_rows.push(first);
    }
    for (run, first_rows) in &mut runs {
        find_parents(&mut run.positions, first_rows, problems);
        check_run(run, first_rows, problems);
    }
    reader.facts(&mut runs);
    Ok((runs.into_iter().map(|(run, _)| run).collect(), keys.run))
}

/// The finding that readings of a position are missing, if they are.
pub(super) fn missing_readings(position: &Position) -> Option<Finding> {
    let finding = || {
        Finding::new(Code::MissingReadings, Subject::Position(position.number))
            .with("count", position.missing)
            .with("total", position.missing as usize + position.readings.len())
            .with("label", &*position.label)
    };
    (position.missing > 0).then(finding)
}

/// What must hold of a run as a whole.
pub(super) fn check_run(run: &Run, first_rows: &[usize], problems: &mut Problems) {
    let has = |role: Role| run.positions.iter().any(|position| position.role == role);
    // A run of standard additions brings its calibration with it.
    if !has(Role::Standard) && !has(Role::Addition) {
        let row = first_rows.iter().copied().min().unwrap_or(0);
        problems
            .cell(row, T::Role.name(), format!("run {:?} has no standards", run.name))
            .help("give at least two standards with their nominal concentrations, or a series of additions");
    }
}

struct Reader<'a> {
    sheet: &'a Sheet<'a>,
    keys: &'a Keys,
    missing: MissingPolicy,
    /// By code of the role column.
    roles: Vec<Option<Role>>,
    /// By code of the column of units.
    units: Vec<Option<Unit>>,
}

impl<'a> Reader<'a> {
    fn new(sheet: &'a Sheet<'a>, keys: &'a Keys, options: &ReadOptions, problems: &mut Problems) -> Self {
        let role = |word: &str| Role::parse(word, options.aliases);
        // Read here for its problems alone: a position keeps the text as it was written.
        let _ = meanings(sheet, keys, T::Dilution, Dilution::parse, problems);
        Reader {
            sheet,
            keys,
            missing: options.missing,
            roles: meanings(sheet, keys, T::Role, role, problems),
            units: meanings(sheet, keys, T::AddedUnit, Unit::parse, problems),
        }
    }

    fn empty_run(&self, name: &str) -> Run {
        let mut findings = Vec::new();
        if self.keys.rule != PositionRule::Given {
            findings.push(Finding::new(Code::PositionsCounted, Subject::Run).with(
                "rule",
                match self.keys.rule {
                    PositionRule::ConsecutiveReplicates => {
                        "consecutive rows of one role and label with different replicate numbers are one position"
                    }
                    _ => "every row is a position of its own",
                },
            ));
        }
        Run { name: name.into(), positions: Vec::new(), facts: Vec::new(), position_rule: self.keys.rule, findings }
    }

    /// Reads one position into `run`. `first` is its first row in the file; `rows` come in replicate order.
    fn position(
        &self,
        run: &mut Run,
        first: usize,
        rows: impl Iterator<Item = usize> + Clone,
        problems: &mut Problems,
    ) {
        let sheet = self.sheet;
        let (number, of_run) = (self.keys.position[first], self.keys.run[first]);
        let role_code = sheet.code(T::Role, rows.clone(), problems);
        if role_code.is_none() {
            problems
                .cell(first, T::Role.name(), "the row has no role")
                .help("say what it is, for example sample or standard");
        }
        // An unknown role has been told once for its word; the position is then read as a sample.
        let known = role_code.and_then(|code| *self.roles.get(code.value)?);
        let role = known.unwrap_or(Role::Sample);
        let label = sheet.word(T::Label, of_run, rows.clone(), problems).map(|label| label.value);
        let labelled = label.is_some();
        let mut position = Position::new(number, role, label.unwrap_or_else(|| role.name().into()));
        if !labelled && known.is_some() && !(role.is_calibration() || role.is_instrument_check()) {
            problems
                .cell(first, T::Label.name(), format!("the {} has no label", role.name().replace('_', " ")))
                .help("only standards, calibration blanks and instrument checks may go without");
        }
        position.row = SourceRow::new(first as u64 + 1);

        let mut given = [first; N::COUNT];
        let mut number = |column: N, problems: &mut Problems| {
            let Agreed { value, row } = sheet.number(column, rows.clone(), problems)?;
            given[column as usize] = row;
            // One zero of the two.
            Some(value + 0.0)
        };
        position.nominal = number(N::Nominal, problems);
        position.added = number(N::Added, problems);
        position.spike_volume_ml = number(N::SpikeVolume, problems);
        position.spike_conc = number(N::SpikeConc, problems);
        let accept = (number(N::AcceptLow, problems), number(N::AcceptHigh, problems));
        position.preparation = PreparationFields {
            mass_g: number(N::Mass, problems),
            volume_ml: number(N::Volume, problems),
            final_volume_ml: number(N::FinalVolume, problems),
            percent_solids: number(N::PercentSolids, problems),
            dilution: None,
        };
        let row_of = |column: N| given[column as usize];
        position.accept = match accept {
            (None, None) => None,
            (Some(low), Some(high)) if low <= high => Some((low, high)),
            (low, high) => {
                let shown = |end: Option<f64>| end.map_or("nothing".to_owned(), |end| end.to_string());
                problems
                    .cell(
                        row_of(N::AcceptLow),
                        N::AcceptLow.name(),
                        format!("{} to {} is not a range", shown(low), shown(high)),
                    )
                    .label(&position.label)
                    .help("give accept_low and accept_high, the lower one first");
                None
            }
        };

        let mut word = |column: T| Some(sheet.word(column, of_run, rows.clone(), problems)?.value);
        position.preparation.dilution = word(T::Dilution);
        position.of = word(T::Of).map(Reference::Label);
        position.identity = Identity {
            prep_batch: word(T::PrepBatch),
            matrix: word(T::Matrix),
            fraction: word(T::Fraction),
            preparation_id: word(T::PreparationId),
            sample_id: word(T::SampleId),
            standard_id: word(T::StandardId),
            source_lot: word(T::SourceLot),
            read_at: word(T::ReadAt),
            prepared_on: word(T::PreparedOn),
        };
        let unit = sheet.code(T::AddedUnit, rows.clone(), problems);
        position.added_unit = unit.and_then(|unit| *self.units.get(unit.value)?);
        if position.added.is_some() && unit.is_none() {
            problems
                .cell(row_of(N::Added), T::AddedUnit.name(), "the addition has no unit")
                .label(&position.label)
                .help("give added_unit, for example mg/L or mg/kg");
        }
        if known.is_some() {
            check_position(&position, first, row_of, problems);
        }
        self.readings(&mut position, rows, problems);
        if position.role == Role::CalibrationBlank {
            position.nominal = Some(0.0);
        }
        run.findings.extend(missing_readings(&position));
        run.positions.push(position);
    }

    fn readings(&self, position: &mut Position, rows: impl Iterator<Item = usize> + Clone, problems: &mut Problems) {
        let Some(readings) = self.sheet.numbers(N::Absorbance) else { return };
        let unnumbered = rows.clone().filter(|row| self.keys.replicate[*row] == UNNUMBERED).count();
        let mut last: Option<(u32, usize)> = None;
        for (i, row) in rows.clone().enumerate() {
            let mut replicate = self.keys.replicate[row];
            if replicate == UNNUMBERED {
                // All of them, in the order of their rows; some of them is told below.
                replicate = i as u32 + 1;
            } else if let Some((_, there)) = last.filter(|(before, _)| *before == replicate) {
                let what =
                    format!("position {}, replicate {replicate} stands in row {} already", position.number, there + 1);
                problems
                    .cell(row, N::Position.name(), what)
                    .label(&position.label)
                    .help("number the replicates of a position, and give a re-run a position of its own");
            }
            last = Some((replicate, row));
            let reading = readings[row];
            if !reading.is_nan() {
                position.readings.push(reading);
                position.replicates.push(replicate);
                continue;
            }
            position.missing += 1;
            if self.missing == MissingPolicy::Refuse {
                problems
                    .cell(row, N::Absorbance.name(), "the reading is missing")
                    .label(&position.label)
                    .help("give it, or set missing = \"skip\" in the method");
            }
        }
        let total = rows.clone().count();
        if unnumbered > 0 && unnumbered < total {
            for row in rows.filter(|row| self.keys.replicate[*row] == UNNUMBERED) {
                problems
                    .cell(row, N::Replicate.name(), "the row has no replicate number, but others of its position have")
                    .label(&position.label)
                    .help("number all of them or none");
            }
        }
    }

    /// Keeps the columns that are the same throughout a run.
    fn facts(&self, runs: &mut [(Run, Vec<usize>)]) {
        use super::table::Cells;
        for column in &self.sheet.facts {
            #[derive(Clone, Copy)]
            enum Seen {
                Nothing,
                One(u32),
                Many,
            }
            let mut seen = vec![Seen::Nothing; runs.len()];
            for (run, code) in self.keys.run.iter().zip(column.coded.codes.iter()) {
                let seen = &mut seen[*run as usize];
                *seen = match *seen {
                    _ if *code == Cells::MISSING => continue,
                    Seen::Nothing => Seen::One(*code),
                    Seen::One(before) if before == *code => continue,
                    _ => Seen::Many,
                };
            }
            for ((run, _), seen) in runs.iter_mut().zip(seen) {
                let subject = || Finding::new(Code::ColumnKept, Subject::Run).with("column", &*column.name);
                match seen {
                    Seen::Nothing => {}
                    Seen::One(code) => {
                        let value = column.coded.words.get(code as usize).map_or("", |word| word);
                        run.facts.push((column.name.clone(), value.into()));
                        if !column.expected {
                            run.findings.push(subject());
                        }
                    }
                    Seen::Many => run
                        .findings
                        .push(Finding::new(Code::ColumnPassedOver, Subject::Run).with("column", &*column.name)),
                }
            }
        }
    }
}

/// What every word of a column means, by code. What cannot be read is told where its word first stands in each run.
fn meanings<M>(
    sheet: &Sheet<'_>,
    keys: &Keys,
    column: T,
    parse: impl Fn(&str) -> Result<M, Error>,
    problems: &mut Problems,
) -> Vec<Option<M>> {
    let Some(words) = sheet.words(column) else { return Vec::new() };
    let parsed: Vec<Result<M, Error>> = words.coded.words.iter().map(|word| parse(word)).collect();
    if parsed.iter().any(Result::is_err) {
        let mut told = std::collections::HashSet::new();
        for (row, code) in words.coded.codes.iter().enumerate() {
            if let Some(Err(error)) = parsed.get(*code as usize)
                && told.insert((keys.run[row], *code))
                && let Some(problem) = error.problems().first()
            {
                let added = problems.cell(row, column.name(), problem.what.clone());
                if let Some(help) = &problem.help {
                    added.help(help.clone());
                }
            }
        }
    }
    parsed.into_iter().map(Result::ok).collect()
}
