//! What must hold of one position, and of the positions of a run among each other.

use std::collections::HashMap;
use std::sync::Arc;

use super::columns::{NumberColumn as N, TextColumn as T};
use super::problems::Problems;
use super::{Position, Reference, Role};
use crate::error::nearest;

/// What must hold of one position. `row` is its first row, `row_of` the row that gave a number.
pub(super) fn check_position(position: &Position, row: usize, row_of: impl Fn(N) -> usize, problems: &mut Problems) {
    let label = &position.label;
    let preparation = &position.preparation;
    let positive = [
        (N::Mass, preparation.mass_g, "a mass"),
        (N::Volume, preparation.volume_ml, "a volume"),
        (N::FinalVolume, preparation.final_volume_ml, "a volume"),
        (N::SpikeVolume, position.spike_volume_ml, "a volume"),
        (N::SpikeConc, position.spike_conc, "the concentration of a spiking solution"),
    ];
    for (column, value, what) in positive {
        if let Some(value) = value.filter(|value| *value <= 0.0) {
            problems
                .cell(row_of(column), column.name(), format!("{value} is not {what}"))
                .label(label)
                .help("give a number above 0, or leave the cell empty where there is none");
        }
    }
    if let Some(solids) = preparation.percent_solids.filter(|solids| !(*solids > 0.0 && *solids <= 100.0)) {
        problems
            .cell(row_of(N::PercentSolids), N::PercentSolids.name(), format!("{solids} is not a per cent of solids"))
            .label(label)
            .help("give a number above 0 and up to 100, or leave the cell empty");
    }
    if preparation.mass_g.is_some() && preparation.volume_ml.is_some() {
        problems
            .cell(row_of(N::Mass), N::Mass.name(), "the position has a mass and a sample volume")
            .label(label)
            .help("give mass_g for a solid or volume_ml for a liquid; the volume it was made up to is final_volume_ml");
    }
    for (column, value) in [(N::Nominal, position.nominal), (N::Added, position.added)] {
        if let Some(value) = value.filter(|value| *value < 0.0) {
            problems
                .cell(row_of(column), column.name(), format!("{value} is below zero"))
                .label(label)
                .help("a true value or an addition is a number from 0 up");
        }
    }
    match (position.role, position.nominal) {
        (Role::Standard, None) => {
            problems
                .cell(row, N::Nominal.name(), "the standard has no nominal concentration")
                .label(label)
                .help("give its concentration in the unit of the calibration");
        }
        (Role::CalibrationBlank, Some(nominal)) if nominal > 0.0 => {
            problems
                .cell(row_of(N::Nominal), N::Nominal.name(), format!("a calibration blank of {nominal} is not a blank"))
                .label(label)
                .help("leave the cell empty, or call it a standard");
        }
        _ => {}
    }
    if position.spike_volume_ml.is_some() != position.spike_conc.is_some() {
        let (given, wanted) = match position.spike_volume_ml {
            Some(_) => (N::SpikeVolume, N::SpikeConc),
            None => (N::SpikeConc, N::SpikeVolume),
        };
        problems
            .cell(row_of(given), wanted.name(), format!("{} is given without {}", given.name(), wanted.name()))
            .label(label)
            .help("give both, or the amount as added and added_unit");
    }
    if position.role.has_parent() && position.of.is_none() {
        problems
            .cell(row, T::Of.name(), format!("the {} does not say of what", words(position.role)))
            .label(label)
            .help("give the label of the sample it was made from");
    }
}

/// A role in words.
fn words(role: Role) -> String {
    role.name().replace('_', " ")
}

/// Finds what every `of` means and says where there is nothing of that name. `rows` are the first rows.
pub(super) fn find_parents(positions: &mut [Position], rows: &[usize], problems: &mut Problems) {
    if positions.iter().all(|position| position.of.is_none()) {
        return;
    }
    let mut labels: HashMap<Arc<str>, Vec<usize>> = HashMap::new();
    for (i, position) in positions.iter().enumerate() {
        if !position.role.is_calibration() && !position.role.is_instrument_check() {
            labels.entry(position.label.clone()).or_default().push(i);
        }
    }
    for i in 0..positions.len() {
        let Some(Reference::Label(text)) = positions[i].of.clone() else { continue };
        let (role, label) = (positions[i].role, positions[i].label.clone());
        let others = labels.get(&text).map_or(0, |found| found.len() - usize::from(found.binary_search(&i).is_ok()));
        if others > 0 {
            continue;
        }
        let number = text.parse::<u32>().ok();
        let found = number.and_then(|number| positions.binary_search_by_key(&number, |other| other.number).ok());
        if let (Some(number), Some(_)) = (number, found.filter(|found| *found != i)) {
            positions[i].of = Some(Reference::Position(number));
            continue;
        }
        let itself = text == label || found == Some(i);
        let what = match itself {
            true => format!("the {} is said to be made from itself", words(role)),
            false => format!("there is no sample {text:?} in the run that the {} could be made from", words(role)),
        };
        let mut names: Vec<&str> = labels.keys().map(|name| &**name).filter(|name| *name != &*label).collect();
        names.sort_unstable();
        let start: String = text.chars().take(40).collect();
        let help = match nearest(&start, names.iter().copied().filter(|_| !itself)) {
            Some(near) => format!("did you mean {near:?}?"),
            None if names.is_empty() => "the run has no samples".to_owned(),
            None => {
                let more = if names.len() > 10 { format!(" and {} more", names.len() - 10) } else { String::new() };
                names.truncate(10);
                format!("the labels are {}{more}", names.join(", "))
            }
        };
        problems.cell(rows[i], T::Of.name(), what).label(&label).help(help);
    }
}
