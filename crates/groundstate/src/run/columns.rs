//! The columns that a table of readings may have.

use crate::error::{Place, Problem, nearest};

macro_rules! columns {
    ($(#[$doc:meta])* $kind:ident: $($variant:ident = $name:literal),+ $(,)?) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum $kind { $($variant,)+ }

        impl $kind {
            pub const ALL: &'static [$kind] = &[$($kind::$variant,)+];
            pub const COUNT: usize = Self::ALL.len();

            pub const fn name(self) -> &'static str {
                match self { $($kind::$variant => $name,)+ }
            }
        }
    };
}

columns! {
    /// Columns of text.
    TextColumn:
    Run = "run",
    Role = "role",
    Label = "label",
    Of = "of",
    AddedUnit = "added_unit",
    Dilution = "dilution",
    PrepBatch = "prep_batch",
    Matrix = "matrix",
    Fraction = "fraction",
    PreparationId = "preparation_id",
    SampleId = "sample_id",
    StandardId = "standard_id",
    SourceLot = "source_lot",
    ReadAt = "read_at",
    PreparedOn = "prepared_on",
}

columns! {
    /// Columns of numbers.
    NumberColumn:
    Position = "position",
    Replicate = "replicate",
    Absorbance = "absorbance",
    Nominal = "nominal",
    AcceptLow = "accept_low",
    AcceptHigh = "accept_high",
    Added = "added",
    SpikeVolume = "spike_volume_ml",
    SpikeConc = "spike_conc",
    Mass = "mass_g",
    Volume = "volume_ml",
    FinalVolume = "final_volume_ml",
    PercentSolids = "percent_solids",
}

/// Another name of the readings, where they are not absorbances.
pub(super) const SIGNAL: &str = "signal";

/// Columns that describe the whole run. Their values are passed through.
pub const FACTS: [&str; 9] = [
    "analyst",
    "instrument",
    "lamp",
    "method",
    "laboratory",
    "project",
    "date",
    "notes",
    "percent_solids_temperature_c",
];

/// Columns of the user's own begin like this and are never taken for a slip of the pen.
pub const OWN_PREFIX: &str = "x_";

/// What a column is, by its name in lower case.
pub(super) enum Known {
    Text(TextColumn),
    Number(NumberColumn),
    Signal,
    /// A column about the whole run; `expected` where its name says so.
    Fact {
        expected: bool,
    },
}

/// What the column `name` is.
///
/// A name that is nearly one of ours is refused rather than passed over: a misspelt `mass_g` that is only kept as a
/// fact would turn a solid into a liquid.
pub(super) fn known(name: &str) -> Result<Known, Problem> {
    let text = TextColumn::ALL.iter().find(|column| column.name() == name).map(|column| Known::Text(*column));
    let number = || NumberColumn::ALL.iter().find(|column| column.name() == name).map(|c| Known::Number(*c));
    if let Some(known) = text.or_else(number) {
        return Ok(known);
    }
    if name == SIGNAL {
        return Ok(Known::Signal);
    }
    if name.starts_with(OWN_PREFIX) || FACTS.contains(&name) {
        return Ok(Known::Fact { expected: true });
    }
    // The cut keeps the search short; a very long name is near none.
    let start: String = name.chars().take(40).collect();
    match nearest(&start, column_names()) {
        Some(near) => Err(Problem::new(Place::named(name), format!("there is no column {start}"))
            .help(format!("did you mean {near}? A column of your own begins with {OWN_PREFIX}"))),
        None => Ok(Known::Fact { expected: false }),
    }
}

/// The names of all columns of a run's table that this library knows.
pub fn column_names() -> impl Iterator<Item = &'static str> {
    let text = TextColumn::ALL.iter().map(|column| column.name());
    text.chain(NumberColumn::ALL.iter().map(|column| column.name()))
}
