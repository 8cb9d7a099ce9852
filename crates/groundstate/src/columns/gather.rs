//! The positions of one run, gathered from its rows into memory that is used again for the next run.

use std::ops::Range;

use super::runs::{Lent, Rows};
use crate::error::{Error, Kind, Place, Problem};
use crate::glassware::Dilution;
use crate::method::MissingPolicy;
use crate::run::Role;

/// One position: its role, what its rows agree on, and where its readings stand.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    pub number: u32,
    pub role: Role,
    /// Code of the role.
    pub code: u32,
    pub nominal: Option<f64>,
    pub dilution: Option<f64>,
    pub readings: Range<usize>,
    /// Number of the segment, counted from 1; 0 before the first.
    pub segment: u32,
}

/// The positions of a run, ascending, and all their readings that are there.
#[derive(Default)]
pub(super) struct Gathered {
    pub spots: Vec<Spot>,
    pub readings: Vec<f64>,
}

pub(super) const UNNUMBERED: u32 = u32::MAX;
/// From 1 to here a factor is a dilution without further ado.
pub(super) const LARGEST_DILUTION: f64 = 1e100;

impl Gathered {
    /// Reads the rows of a run. Positions stay even where something is wrong.
    pub fn read(&mut self, rows: &Lent<'_>, roles: &[Role], missing: MissingPolicy) -> Result<(), Error> {
        self.spots.clear();
        self.readings.clear();
        let mut problems = Vec::new();
        let mut from = 0;
        while from < rows.position.len() {
            let number = rows.position[from];
            let group = from..from + rows.position[from..].iter().take_while(|other| **other == number).count();
            from = group.end;
            self.position(rows, roles, group, missing, &mut problems);
        }
        Error::unless_empty(Kind::Table, problems, ())
    }

    /// Reads the rows of a position, the `group` of the run's.
    fn position(
        &mut self,
        rows: &Lent<'_>,
        roles: &[Role],
        group: Range<usize>,
        missing: MissingPolicy,
        problems: &mut Vec<Problem>,
    ) {
        let first = group.start;
        let role = roles.get(rows.role[first] as usize).copied().unwrap_or(Role::Sample);
        let start = self.readings.len();
        let (own, readings) = (&rows.role[group.clone()], &rows.absorbance[group.clone()]);
        let plain = role != Role::Addition
            && own.iter().all(|other| *other == own[0])
            && readings.iter().all(|reading| reading.is_finite())
            && rows.replicate.is_none_or(|replicate| {
                let numbers = &replicate[group.clone()];
                numbers.windows(2).all(|pair| pair[0] < pair[1]) && !numbers.contains(&UNNUMBERED)
            });
        if plain {
            self.readings.extend_from_slice(readings);
        } else {
            self.careful(rows, role, group.clone(), missing, problems);
        }
        let mut agreed =
            |name: &'static str, column: Option<&[f64]>| agreed(name, column?, group.clone(), &rows.rows, problems);
        let nominal = agreed("nominal", rows.nominal);
        let dilution = agreed("dilution", rows.dilution);
        let row = rows.rows.number(first);
        let nominal = checked(role, nominal, row, problems);
        if let Some(dilution) = dilution.filter(|dilution| !(*dilution >= 1.0 && *dilution <= LARGEST_DILUTION))
            && let Err(error) = Dilution::by(dilution)
        {
            let told = error.problems().iter().cloned();
            problems.extend(told.map(|problem| Problem { place: Place::cell(row, "dilution"), ..problem }));
        }
        let readings = start..self.readings.len();
        let (number, code) = (rows.position[first], rows.role[first]);
        self.spots.push(Spot { number, role, code, nominal, dilution, readings, segment: 0 });
    }

    /// Reads rows in which something may be missing or wrong.
    fn careful(
        &mut self,
        rows: &Lent<'_>,
        role: Role,
        group: Range<usize>,
        missing: MissingPolicy,
        problems: &mut Vec<Problem>,
    ) {
        let (first, position) = (group.start, rows.position[group.start]);
        let cell = |row: usize, column: &str, what: String, help: &str| cell(rows.rows.number(row), column, what, help);
        if role == Role::Addition {
            let what = "a series of standard additions needs labels and amounts, which columns do not carry";
            problems.push(cell(first, "role", what.to_owned(), "reduce this run with reduce_many"));
        }
        let (mut numbered, mut last) = (0_usize, None);
        for row in group.clone() {
            if rows.role[row] != rows.role[first] {
                let what = format!("position {position} has another role above");
                problems.push(cell(row, "role", what, "give all readings of a position one role"));
            }
            if let Some(number) = rows.replicate.map(|column| column[row]).filter(|n| *n != UNNUMBERED) {
                numbered += 1;
                if last == Some(number) {
                    let what = format!("position {position}, replicate {number} is there twice");
                    let help = "number the replicates of a position, and give a re-run a position of its own";
                    problems.push(cell(row, "position", what, help));
                }
                last = Some(number);
            }
            let reading = rows.absorbance[row];
            if reading.is_finite() {
                self.readings.push(reading);
            } else if reading.is_infinite() {
                let what = format!("{reading} is not a finite number");
                problems.push(cell(row, "absorbance", what, "leave a missing reading NaN"));
            } else if missing == MissingPolicy::Refuse {
                let help = "give it, or set missing = \"skip\" in the method";
                problems.push(cell(row, "absorbance", "the reading is missing".to_owned(), help));
            }
        }
        if numbered > 0 && numbered < group.len() {
            let what = format!("position {position} has readings with and without replicate numbers");
            problems.push(cell(first, "replicate", what, "number all of them or none"));
        }
    }

    /// The readings of a position.
    pub fn readings_of(&self, spot: &Spot) -> &[f64] {
        self.readings.get(spot.readings.clone()).unwrap_or(&[])
    }
}

fn cell(row: u64, column: &str, what: String, help: &str) -> Problem {
    Problem::new(Place::cell(row, column), what).help(help)
}

/// The figure that the rows of a position agree on; none where they have none.
fn agreed(
    name: &str,
    column: &[f64],
    group: Range<usize>,
    rows: &Rows<'_>,
    problems: &mut Vec<Problem>,
) -> Option<f64> {
    let same = &column[group.clone()];
    if same.iter().all(|figure| figure.to_bits() == same[0].to_bits()) {
        return Some(same[0] + 0.0).filter(|figure| !figure.is_nan());
    }
    let mut found: Option<f64> = None;
    for row in group {
        // One zero of the two.
        let here = column[row] + 0.0;
        match found {
            _ if here.is_nan() => {}
            None => found = Some(here),
            Some(before) if before.total_cmp(&here).is_eq() => {}
            Some(before) => {
                let what = format!("{here} where another reading of the position has {before}");
                problems.push(cell(rows.number(row), name, what, "give all readings of a position the same figure"));
            }
        }
    }
    found
}

/// The nominal content as the role has it.
pub(super) fn checked(role: Role, nominal: Option<f64>, row: u64, problems: &mut Vec<Problem>) -> Option<f64> {
    let mut wrong = |what: String, help: &str| problems.push(cell(row, "nominal", what, help));
    match (role, nominal) {
        (_, Some(nominal)) if !(nominal >= 0.0 && nominal.is_finite()) => {
            wrong(format!("{nominal} is not a content"), "a true value is a finite number from 0 up");
        }
        (Role::Standard, None) => wrong(
            "the standard has no nominal concentration".to_owned(),
            "give its concentration in the unit of the calibration",
        ),
        (Role::CalibrationBlank, Some(nominal)) if nominal > 0.0 => {
            wrong(
                format!("a calibration blank of {nominal} is not a blank"),
                "leave the cell empty, or call it a standard",
            );
        }
        _ => {}
    }
    if role == Role::CalibrationBlank { Some(0.0) } else { nominal }
}
