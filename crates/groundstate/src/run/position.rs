//! One position of a run: one cup or flask, with the readings taken of it.

use std::sync::Arc;

use super::Role;
use crate::unit::Unit;

/// One position of a run: what was aspirated there, its readings, and what is known of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Position {
    /// Place in the run; ascending in time.
    pub number: u32,
    /// What it is for.
    pub role: Role,
    /// Label of the solution. The same label again is a re-run.
    pub label: Arc<str>,
    /// The readings that are present, in the order of their replicates, in units of the signal.
    pub readings: Vec<f64>,
    /// Replicate number of each reading, ascending.
    pub replicates: Vec<u32>,
    /// How many readings are missing.
    pub missing: u32,
    /// True value of a standard or check: solution units for standards and instrument checks, result units for
    /// laboratory control samples and reference materials.
    pub nominal: Option<f64>,
    /// The row's own acceptance range, lowest and highest accepted value in the unit of `nominal`.
    pub accept: Option<(f64, f64)>,
    /// What it is a duplicate, spike or dilution of.
    pub of: Option<Reference>,
    /// Amount added to a spike, in `added_unit`.
    pub added: Option<f64>,
    /// Unit of `added`.
    pub added_unit: Option<Unit>,
    /// Volume of spiking solution, mL.
    pub spike_volume_ml: Option<f64>,
    /// Concentration of the spiking solution, in the unit of the calibration.
    pub spike_conc: Option<f64>,
    /// How the solution was made from the sample.
    pub preparation: PreparationFields,
    /// What else identifies it.
    pub identity: Identity,
    /// Where it stood in its file.
    pub row: SourceRow,
}

/// What a table says of the way from the sample to the solution. Absent means: not given.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PreparationFields {
    /// Mass of the portion, g.
    pub mass_g: Option<f64>,
    /// Volume of the portion, mL.
    pub volume_ml: Option<f64>,
    /// Volume it was made up to, mL.
    pub final_volume_ml: Option<f64>,
    /// Dilution after that, as written: a factor such as `10`, or steps `5/50;10/100` of aliquot and flask in mL.
    pub dilution: Option<Arc<str>>,
    /// Dry matter, per cent by mass of the portion as received.
    pub percent_solids: Option<f64>,
}

/// Names and dates that a table gives to a position. All are passed through as written; none is invented.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identity {
    /// Preparation batch: the portions that were prepared together.
    pub prep_batch: Option<Arc<str>>,
    /// Matrix of the sample.
    pub matrix: Option<Arc<str>>,
    /// Fraction: total, total recoverable, dissolved.
    pub fraction: Option<Arc<str>>,
    /// One digestion or dilution of one portion.
    pub preparation_id: Option<Arc<str>>,
    /// The sample, where the label does not identify it.
    pub sample_id: Option<Arc<str>>,
    /// One poured standard.
    pub standard_id: Option<Arc<str>>,
    /// Lot of the source of a standard or check.
    pub source_lot: Option<Arc<str>>,
    /// When it was read.
    pub read_at: Option<Arc<str>>,
    /// When it was prepared.
    pub prepared_on: Option<Arc<str>>,
}

/// What a duplicate, spike or dilution was made from.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Reference {
    /// The sample of this label. Where the label occurs more than once, which of them is meant is decided when the
    /// run is reduced.
    Label(Arc<str>),
    /// The position of this number.
    Position(u32),
}

/// The first row of a position in its file, counted from 1 below the header; none for a run that was not read from
/// a table.
///
/// Two runs of the same content are equal whatever the order of their rows, so any two of these are equal.
#[derive(Clone, Copy, Debug, Default)]
pub struct SourceRow(Option<u64>);

impl SourceRow {
    /// No row: the position was not read from a table.
    pub const NONE: SourceRow = SourceRow(None);

    /// The row `number`, counted from 1 below the header.
    pub const fn new(number: u64) -> Self {
        SourceRow(Some(number))
    }

    /// The row, counted from 1 below the header.
    pub const fn get(self) -> Option<u64> {
        self.0
    }
}

impl PartialEq for SourceRow {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Position {
    /// A position without readings, preparation or identity.
    pub fn new(number: u32, role: Role, label: impl Into<Arc<str>>) -> Self {
        Position {
            number,
            role,
            label: label.into(),
            readings: Vec::new(),
            replicates: Vec::new(),
            missing: 0,
            nominal: None,
            accept: None,
            of: None,
            added: None,
            added_unit: None,
            spike_volume_ml: None,
            spike_conc: None,
            preparation: PreparationFields::default(),
            identity: Identity::default(),
            row: SourceRow::NONE,
        }
    }

    /// The identity of the sample: `sample_id` where it is given, otherwise the label.
    pub fn sample(&self) -> &str {
        self.identity.sample_id.as_deref().unwrap_or(&self.label)
    }
}
