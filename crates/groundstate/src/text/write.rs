//! Runs as CSV.

use crate::run::{Position, Reference, Run};

/// A column: its name and the cell of a position.
type Column = (&'static str, fn(&Position) -> Option<String>);

const COLUMNS: [Column; 22] = [
    ("nominal", |p| number(p.nominal)),
    ("accept_low", |p| number(p.accept.map(|(low, _)| low))),
    ("accept_high", |p| number(p.accept.map(|(_, high)| high))),
    ("of", |p| {
        p.of.as_ref().map(|of| match of {
            Reference::Label(label) => label.to_string(),
            Reference::Position(number) => number.to_string(),
        })
    }),
    ("added", |p| number(p.added)),
    ("added_unit", |p| p.added_unit.map(|unit| unit.name().to_owned())),
    ("spike_volume_ml", |p| number(p.spike_volume_ml)),
    ("spike_conc", |p| number(p.spike_conc)),
    ("mass_g", |p| number(p.preparation.mass_g)),
    ("volume_ml", |p| number(p.preparation.volume_ml)),
    ("final_volume_ml", |p| number(p.preparation.final_volume_ml)),
    ("dilution", |p| text(&p.preparation.dilution)),
    ("percent_solids", |p| number(p.preparation.percent_solids)),
    ("prep_batch", |p| text(&p.identity.prep_batch)),
    ("matrix", |p| text(&p.identity.matrix)),
    ("fraction", |p| text(&p.identity.fraction)),
    ("preparation_id", |p| text(&p.identity.preparation_id)),
    ("sample_id", |p| text(&p.identity.sample_id)),
    ("standard_id", |p| text(&p.identity.standard_id)),
    ("source_lot", |p| text(&p.identity.source_lot)),
    ("read_at", |p| text(&p.identity.read_at)),
    ("prepared_on", |p| text(&p.identity.prepared_on)),
];

fn number(number: Option<f64>) -> Option<String> {
    number.map(|number| number.to_string())
}

fn text(text: &Option<std::sync::Arc<str>>) -> Option<String> {
    text.as_ref().map(|text| text.to_string())
}

impl Run {
    /// The run as CSV, one line a reading, with the columns that it needs; reading it back gives the same positions
    /// and facts.
    pub fn to_csv(&self) -> String {
        let cells: Vec<Vec<Option<String>>> =
            COLUMNS.iter().map(|(_, cell)| self.positions.iter().map(cell).collect()).collect();
        let used: Vec<usize> = (0..COLUMNS.len()).filter(|i| cells[*i].iter().any(Option::is_some)).collect();
        let mut csv = String::new();
        let names = ["run", "position", "role", "label", "replicate", "absorbance"];
        let names = names.into_iter().chain(used.iter().map(|i| COLUMNS[*i].0));
        line(&mut csv, names.chain(self.facts.iter().map(|(name, _)| &**name)));
        for (at, position) in self.positions.iter().enumerate() {
            for (replicate, reading) in replicates(position) {
                let own = [
                    self.name.to_string(),
                    position.number.to_string(),
                    position.role.name().to_owned(),
                    position.label.to_string(),
                    replicate.to_string(),
                    reading.map_or(String::new(), |reading| reading.to_string()),
                ];
                let more = used.iter().map(|i| cells[*i][at].as_deref().unwrap_or(""));
                let facts = self.facts.iter().map(|(_, value)| &**value);
                line(&mut csv, own.iter().map(String::as_str).chain(more).chain(facts));
            }
        }
        csv
    }
}

/// Replicate numbers with their readings; missing readings take the numbers that are free.
fn replicates(position: &Position) -> Vec<(u32, Option<f64>)> {
    let given = position.replicates.iter().copied().zip(position.readings.iter().copied().map(Some));
    let free = (1..).filter(|number| !position.replicates.contains(number)).map(|number| (number, None));
    let mut all: Vec<_> = given.chain(free.take(position.missing as usize)).collect();
    all.sort_by_key(|(number, _)| *number);
    all
}

fn line<'a>(csv: &mut String, fields: impl Iterator<Item = &'a str>) {
    for (i, field) in fields.enumerate() {
        if i > 0 {
            csv.push(',');
        }
        if field.contains([',', ';', '\t', '"', '\n', '\r']) {
            csv.push('"');
            csv.push_str(&field.replace('"', "\"\""));
            csv.push('"');
        } else {
            csv.push_str(field);
        }
    }
    csv.push('\n');
}
