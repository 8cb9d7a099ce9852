//! A run as a document: its positions in ascending order, members named like the columns of a table.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde_json::Value;

use super::builder::RunBuilder;
use super::{Identity, Position, PositionRule, PreparationFields, Reference, Role, Run, SourceRow};
use crate::document::{Form, Real, Sink, Unread, Word, at, finite, form, named, value_of, wrong};
use crate::error::Error;
use crate::unit::Unit;

named!(Role, "role", Role::ALL);
named!(Unit, "unit", Unit::ALL);
named!(PositionRule, "position rule":
    Given = "given", ConsecutiveReplicates = "consecutive_replicates", EachRow = "each_row");

form! {
    /// The table of readings of one run.
    RunForm {
        /// Name of the run.
        name: String,
        /// How readings came to their positions.
        position_rule: Word<PositionRule>,
        /// What is the same in every row, by column.
        facts: BTreeMap<String, String>,
        /// The positions, ascending.
        positions: Vec<PositionForm>,
    }

    /// One position: what was aspirated there and its readings. Members are named like the columns of a table.
    PositionForm {
        /// Place in the run.
        position: u32,
        role: Word<Role>,
        label: String,
        /// The readings that are present, in units of the signal.
        readings: Vec<Real>,
        /// Replicate number of each reading.
        replicates: Vec<u32>,
        /// How many readings are missing.
        missing: u32,
        /// True value of a standard or check.
        nominal: Option<Real>,
        accept_low: Option<Real>,
        accept_high: Option<Real>,
        /// What it was made from: a label, or the number of a position.
        of: Option<Parent>,
        added: Option<Real>,
        added_unit: Option<Word<Unit>>,
        spike_volume_ml: Option<Real>,
        spike_conc: Option<Real>,
        mass_g: Option<Real>,
        volume_ml: Option<Real>,
        final_volume_ml: Option<Real>,
        /// A factor, or steps of aliquot and flask in mL, as written.
        dilution: Option<String>,
        percent_solids: Option<Real>,
        prep_batch: Option<String>,
        matrix: Option<String>,
        fraction: Option<String>,
        preparation_id: Option<String>,
        sample_id: Option<String>,
        standard_id: Option<String>,
        source_lot: Option<String>,
        read_at: Option<String>,
        prepared_on: Option<String>,
    }
}

/// What a position was made from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Parent {
    Position(u32),
    Label(String),
}

impl Form for Parent {
    fn schema(_: &mut BTreeMap<&'static str, Value>) -> Value {
        serde_json::json!({"type": ["string", "integer"]})
    }

    fn read(value: &Value) -> Result<Self, Unread> {
        let label = || value.as_str().map(|label| Parent::Label(label.to_owned()));
        let position = || value.as_u64()?.try_into().ok().map(Parent::Position);
        label().or_else(position).ok_or_else(|| Unread::expected("a label or the number of a position", value))
    }

    fn write(&self, to: &mut dyn Sink) {
        match self {
            Parent::Position(number) => number.write(to),
            Parent::Label(label) => label.write(to),
        }
    }
}

impl Run {
    /// The run as a document: readings, preparation and identity of every position, and the facts of the run. What
    /// was noticed while it was read, and where in a file it stood, are no part of it.
    ///
    /// ```
    /// use groundstate::run::{Role, Run};
    /// let run = Run::builder("invented").standard("S1", 0.5, &[0.0562, 0.0560]).sample("A", &[0.03]).build()?;
    /// let document = run.to_document();
    /// assert_eq!(document["positions"][0]["nominal"], 0.5);
    /// assert_eq!(Run::from_document(&document)?, run);
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn to_document(&self) -> Value {
        value_of(&RunForm::of(self))
    }

    /// The run in a document.
    ///
    /// # Errors
    /// [`Kind::Wire`](crate::Kind::Wire): members that are missing, unknown or of a wrong type; positions that a table
    /// could not have either.
    pub fn from_document(document: &Value) -> Result<Run, Error> {
        let form = RunForm::read(document).map_err(|unread| unread.under("run").error("run"))?;
        crate::document::nothing_unknown(document, &form, "run")?;
        form.run()
    }
}

fn text(text: &Option<Arc<str>>) -> Option<String> {
    text.as_deref().map(str::to_owned)
}

fn word(text: &Option<String>) -> Option<Arc<str>> {
    text.as_deref().map(Arc::from)
}

fn number(real: Option<Real>) -> Option<f64> {
    real.map(|real| real.0)
}

impl RunForm {
    /// The form of `run`.
    pub fn of(run: &Run) -> RunForm {
        RunForm {
            name: run.name.to_string(),
            position_rule: Word(run.position_rule),
            facts: run.facts.iter().map(|(name, value)| (name.to_string(), value.to_string())).collect(),
            positions: run.positions.iter().map(PositionForm::of).collect(),
        }
    }

    /// The run, without findings.
    pub fn run(&self) -> Result<Run, Error> {
        let positions: Result<Vec<Position>, Error> =
            self.positions.iter().enumerate().map(|(i, form)| form.position(i)).collect();
        let run = Run {
            name: self.name.as_str().into(),
            positions: positions?,
            facts: self.facts.iter().map(|(name, value)| (name.as_str().into(), value.as_str().into())).collect(),
            position_rule: self.position_rule.0,
            findings: Vec::new(),
        };
        // What holds of a run built by hand holds of one that is read back.
        let run = RunBuilder { run }.build().map_err(|error| at("run", &error))?;
        Ok(Run { findings: Vec::new(), ..run })
    }
}

impl PositionForm {
    fn of(position: &Position) -> PositionForm {
        let (preparation, identity) = (&position.preparation, &position.identity);
        let real = |number: Option<f64>| number.and_then(finite);
        PositionForm {
            position: position.number,
            role: Word(position.role),
            label: position.label.to_string(),
            readings: position.readings.iter().copied().map(Real).collect(),
            replicates: position.replicates.clone(),
            missing: position.missing,
            nominal: real(position.nominal),
            accept_low: real(position.accept.map(|(low, _)| low)),
            accept_high: real(position.accept.map(|(_, high)| high)),
            of: position.of.as_ref().map(|of| match of {
                Reference::Label(label) => Parent::Label(label.to_string()),
                Reference::Position(number) => Parent::Position(*number),
            }),
            added: real(position.added),
            added_unit: position.added_unit.map(Word),
            spike_volume_ml: real(position.spike_volume_ml),
            spike_conc: real(position.spike_conc),
            mass_g: real(preparation.mass_g),
            volume_ml: real(preparation.volume_ml),
            final_volume_ml: real(preparation.final_volume_ml),
            dilution: text(&preparation.dilution),
            percent_solids: real(preparation.percent_solids),
            prep_batch: text(&identity.prep_batch),
            matrix: text(&identity.matrix),
            fraction: text(&identity.fraction),
            preparation_id: text(&identity.preparation_id),
            sample_id: text(&identity.sample_id),
            standard_id: text(&identity.standard_id),
            source_lot: text(&identity.source_lot),
            read_at: text(&identity.read_at),
            prepared_on: text(&identity.prepared_on),
        }
    }

    fn position(&self, index: usize) -> Result<Position, Error> {
        let here = |member: &str, what: String| wrong(format!("run.positions[{index}].{member}"), what);
        if self.readings.len() != self.replicates.len() {
            let what = format!("{} replicate numbers for {} readings", self.replicates.len(), self.readings.len());
            return Err(here("replicates", what));
        }
        let accept = match (self.accept_low, self.accept_high) {
            (Some(low), Some(high)) => Some((low.0, high.0)),
            (None, None) => None,
            _ => return Err(here("accept_low", "one end of the acceptance range is missing".to_owned())),
        };
        Ok(Position {
            number: self.position,
            role: self.role.0,
            label: self.label.as_str().into(),
            readings: self.readings.iter().map(|reading| reading.0).collect(),
            replicates: self.replicates.clone(),
            missing: self.missing,
            nominal: number(self.nominal),
            accept,
            of: self.of.as_ref().map(|of| match of {
                Parent::Label(label) => Reference::Label(label.as_str().into()),
                Parent::Position(number) => Reference::Position(*number),
            }),
            added: number(self.added),
            added_unit: self.added_unit.map(|unit| unit.0),
            spike_volume_ml: number(self.spike_volume_ml),
            spike_conc: number(self.spike_conc),
            preparation: PreparationFields {
                mass_g: number(self.mass_g),
                volume_ml: number(self.volume_ml),
                final_volume_ml: number(self.final_volume_ml),
                dilution: word(&self.dilution),
                percent_solids: number(self.percent_solids),
            },
            identity: Identity {
                prep_batch: word(&self.prep_batch),
                matrix: word(&self.matrix),
                fraction: word(&self.fraction),
                preparation_id: word(&self.preparation_id),
                sample_id: word(&self.sample_id),
                standard_id: word(&self.standard_id),
                source_lot: word(&self.source_lot),
                read_at: word(&self.read_at),
                prepared_on: word(&self.prepared_on),
            },
            row: SourceRow::NONE,
        })
    }
}
