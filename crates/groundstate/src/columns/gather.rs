//! The positions of one run, gathered from its rows into memory that is used again for the next run.

use std::ops::Range;

use super::ColumnsRef;
use crate::error::{Error, Kind, Place, Problem};
use crate::glassware::Dilution;
use crate::method::MissingPolicy;
use crate::run::{GroupIndex, Role};

/// One position: its role, what its rows agree on, and where its readings stand.
#[derive(Clone, Debug)]
pub(super) struct Spot {
    pub number: u32,
    pub role: Role,
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

const UNNUMBERED: u32 = u32::MAX;

impl Gathered {
    /// Reads the rows of `groups`. Positions stay even where something is wrong.
    pub fn read(
        &mut self,
        columns: &ColumnsRef<'_>,
        index: &GroupIndex,
        groups: Range<usize>,
        missing: MissingPolicy,
    ) -> Result<(), Error> {
        self.spots.clear();
        self.readings.clear();
        let mut problems = Vec::new();
        for group in groups {
            let rows = index.group(group);
            let Some(first) = rows.clone().next() else { continue };
            let role = columns.roles.get(columns.role[first] as usize).copied().unwrap_or(Role::Sample);
            if role == Role::Addition {
                let what = "a series of standard additions needs labels and amounts, which columns do not carry";
                problems.push(cell(first, "role", what.to_owned(), "reduce this run with reduce_many"));
            }
            let start = self.readings.len();
            let (mut count, mut numbered, mut last) = (0_usize, 0_usize, None);
            for row in rows.clone() {
                count += 1;
                if columns.role[row] != columns.role[first] {
                    let what = format!("position {} has another role above", columns.position[row]);
                    problems.push(cell(row, "role", what, "give all readings of a position one role"));
                }
                if let Some(number) = columns.replicate.map(|column| column[row]).filter(|n| *n != UNNUMBERED) {
                    numbered += 1;
                    if last == Some(number) {
                        let what = format!("position {}, replicate {number} is there twice", columns.position[row]);
                        let help = "number the replicates of a position, and give a re-run a position of its own";
                        problems.push(cell(row, "position", what, help));
                    }
                    last = Some(number);
                }
                let reading = columns.absorbance[row];
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
            if numbered > 0 && numbered < count {
                let what =
                    format!("position {} has readings with and without replicate numbers", columns.position[first]);
                problems.push(cell(first, "replicate", what, "number all of them or none"));
            }
            let mut agreed =
                |name: &'static str, column: Option<&[f64]>| agreed(name, column?, rows.clone(), &mut problems);
            let nominal = agreed("nominal", columns.nominal);
            let dilution = agreed("dilution", columns.dilution);
            let nominal = checked(role, nominal, first, &mut problems);
            if let Some(Err(error)) = dilution.map(Dilution::by) {
                let told = error.problems().iter().cloned();
                problems.extend(
                    told.map(|problem| Problem { place: Place::cell(first as u64 + 1, "dilution"), ..problem }),
                );
            }
            let readings = start..self.readings.len();
            self.spots.push(Spot { number: columns.position[first], role, nominal, dilution, readings, segment: 0 });
        }
        Error::unless_empty(Kind::Table, problems, ())
    }

    /// The readings of a position.
    pub fn readings_of(&self, spot: &Spot) -> &[f64] {
        self.readings.get(spot.readings.clone()).unwrap_or(&[])
    }
}

fn cell(row: usize, column: &str, what: String, help: &str) -> Problem {
    Problem::new(Place::cell(row as u64 + 1, column), what).help(help)
}

/// The figure that the rows of a position agree on; none where they have none.
fn agreed(name: &str, column: &[f64], rows: impl Iterator<Item = usize>, problems: &mut Vec<Problem>) -> Option<f64> {
    let mut found: Option<f64> = None;
    for row in rows {
        // One zero of the two.
        let here = column[row] + 0.0;
        match found {
            _ if here.is_nan() => {}
            None => found = Some(here),
            Some(before) if before.total_cmp(&here).is_eq() => {}
            Some(before) => {
                let what = format!("{here} where another reading of the position has {before}");
                problems.push(cell(row, name, what, "give all readings of a position the same figure"));
            }
        }
    }
    found
}

/// The nominal content as the role has it.
fn checked(role: Role, nominal: Option<f64>, row: usize, problems: &mut Vec<Problem>) -> Option<f64> {
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
