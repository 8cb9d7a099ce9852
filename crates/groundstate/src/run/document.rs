//! A run as a document: its positions in ascending order, members named like the columns of a table.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde_json::Value;

use super::builder::RunBuilder;
use super::{Identity, Position, PositionRule, PreparationFields, Reference, Role, Run, SourceRow};
use crate::document::{
    Form, Object, Real, Sink, Unread, Word, at, canonical, finite, form, named, value_of, write_count, write_real,
    wrong,
};
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

    /// The canonical form of [`Run::to_document`], without the document between: every run is fingerprinted.
    pub(crate) fn canonical(&self) -> String {
        let Run { name, positions, facts, position_rule, findings: _ } = self;
        let facts: BTreeMap<String, String> =
            facts.iter().map(|(name, value)| (name.to_string(), value.to_string())).collect();
        let mut text = String::with_capacity(256 * (positions.len() + 1));
        let mut run = Object::begin(&mut text);
        run.name("facts").push_str(&canonical(&value_of(&facts)));
        run.text("name", Some(name));
        run.text("position_rule", Some(position_rule.name()));
        run.list("positions", positions, Position::write);
        run.end();
        text
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

impl Position {
    /// Writes the canonical form of the position's document.
    fn write(&self, text: &mut String) {
        let Position {
            number,
            role,
            label,
            readings,
            replicates,
            missing,
            nominal,
            accept,
            of,
            added,
            added_unit,
            spike_volume_ml,
            spike_conc,
            preparation: PreparationFields { mass_g, volume_ml, final_volume_ml, dilution, percent_solids },
            identity,
            row: _,
        } = self;
        let Identity {
            prep_batch,
            matrix,
            fraction,
            preparation_id,
            sample_id,
            standard_id,
            source_lot,
            read_at,
            prepared_on,
        } = identity;
        let mut position = Object::begin(text);
        position.number("accept_high", accept.map(|(_, high)| high));
        position.number("accept_low", accept.map(|(low, _)| low));
        position.number("added", *added);
        position.text("added_unit", added_unit.map(Unit::name));
        position.text("dilution", dilution.as_deref());
        position.number("final_volume_ml", *final_volume_ml);
        position.text("fraction", fraction.as_deref());
        position.text("label", Some(label));
        position.number("mass_g", *mass_g);
        position.text("matrix", matrix.as_deref());
        position.count("missing", *missing);
        position.number("nominal", *nominal);
        match of {
            Some(Reference::Label(label)) => position.text("of", Some(label)),
            Some(Reference::Position(number)) => position.count("of", *number),
            None => {}
        }
        position.number("percent_solids", *percent_solids);
        position.count("position", *number);
        position.text("prep_batch", prep_batch.as_deref());
        position.text("preparation_id", preparation_id.as_deref());
        position.text("prepared_on", prepared_on.as_deref());
        position.text("read_at", read_at.as_deref());
        position.list("readings", readings, |reading, text| write_real(Real(*reading), text));
        position.list("replicates", replicates, |replicate, text| write_count(*replicate, text));
        position.text("role", Some(role.name()));
        position.text("sample_id", sample_id.as_deref());
        position.text("source_lot", source_lot.as_deref());
        position.number("spike_conc", *spike_conc);
        position.number("spike_volume_ml", *spike_volume_ml);
        position.text("standard_id", standard_id.as_deref());
        position.number("volume_ml", *volume_ml);
        position.end();
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A position with every member; what a table could hold and what it could not.
    fn full() -> Position {
        let text = |text: &str| Some(Arc::from(text));
        Position {
            readings: vec![0.1 + 0.2, -0.0, 1e-9, f64::INFINITY, f64::NAN, 123_456_789_012_345_680_000.0],
            replicates: vec![0, 1, 10, 99, 1_000_000_000, u32::MAX],
            missing: 3,
            nominal: Some(1.0),
            accept: Some((-1.5, f64::NEG_INFINITY)),
            of: Some(Reference::Label("a \"quoted\"\n\u{1f600}".into())),
            added: Some(1e21),
            added_unit: Some(Unit::ALL[0]),
            spike_volume_ml: Some(0.1),
            spike_conc: Some(1e300),
            preparation: PreparationFields {
                mass_g: Some(0.5),
                volume_ml: Some(f64::NAN),
                final_volume_ml: Some(50.0),
                dilution: text("5/50;10/100"),
                percent_solids: Some(83.25),
            },
            identity: Identity {
                prep_batch: text(""),
                matrix: text("\u{1}\t\\"),
                fraction: text("f"),
                preparation_id: text("p"),
                sample_id: text("s"),
                standard_id: text("S"),
                source_lot: text("lot"),
                read_at: text("2025-01-02"),
                prepared_on: text("2025-01-01"),
            },
            ..Position::new(7, Role::Sample, "\u{b5} 4")
        }
    }

    #[test]
    fn the_canonical_form_is_that_of_the_document() {
        let bare = Position::new(u32::MAX, Role::Ccb, "");
        let child = Position { of: Some(Reference::Position(7)), ..Position::new(8, Role::Sample, "C") };
        let facts = ["\u{fb33}", "\u{1f600}", "analyst", "analyst"].map(|name| (Arc::from(name), Arc::from("x\"")));
        for (positions, facts) in [(vec![full(), child, bare], facts.to_vec()), (Vec::new(), Vec::new())] {
            let mut run = Run::builder("invented / 1").run;
            (run.positions, run.facts) = (positions, facts);
            assert_eq!(run.canonical(), canonical(&run.to_document()));
        }
    }
}
