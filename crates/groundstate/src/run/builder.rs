//! Runs built by hand.

use std::sync::Arc;

use super::problems::Problems;
use super::read::{check_run, missing_readings};
use super::rules::{check_position, find_parents};
use super::{Position, PositionRule, Role, Run};
use crate::error::{Error, Kind, Place, Problem};
use crate::glassware::Dilution;

/// Builds a run position by position, in the order of the rack.
///
/// ```
/// use groundstate::run::{Role, Run};
/// let run = Run::builder("invented run 1")
///     .calibration_blank(&[0.0004, 0.0002])
///     .standard("S1", 0.5, &[0.0562, 0.0560])
///     .standard("S2", 1.0, &[0.1125, 0.1121])
///     .check(Role::Ccv, "CCV", 0.5, &[0.0561])
///     .sample("GS-001", &[0.0871, 0.0868])
///     .with(|sample| sample.preparation.final_volume_ml = Some(100.0))
///     .build()?;
/// assert_eq!(run.positions.len(), 5);
/// assert_eq!(run.positions[4].preparation.final_volume_ml, Some(100.0));
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug)]
#[must_use]
pub struct RunBuilder {
    pub(super) run: Run,
}

impl Run {
    /// Starts a run.
    pub fn builder(name: &str) -> RunBuilder {
        RunBuilder {
            run: Run {
                name: name.trim().into(),
                positions: Vec::new(),
                facts: Vec::new(),
                position_rule: PositionRule::Given,
                findings: Vec::new(),
            },
        }
    }
}

impl RunBuilder {
    /// Adds a position with its readings, in units of the signal. A reading that is NaN is missing.
    pub fn position(mut self, role: Role, label: &str, readings: &[f64]) -> Self {
        let number = self.run.positions.last().map_or(1, |last| last.number.saturating_add(1));
        let mut position = Position::new(number, role, label.trim());
        let numbered = (1..).zip(readings).filter(|(_, reading)| !reading.is_nan());
        (position.replicates, position.readings) = numbered.unzip();
        // A position without readings has missed one.
        position.missing = (readings.len().max(1) - position.readings.len()) as u32;
        self.run.positions.push(position);
        self
    }

    /// Adds a calibration blank.
    pub fn calibration_blank(self, readings: &[f64]) -> Self {
        let role = Role::CalibrationBlank;
        self.position(role, role.name(), readings).with(|blank| blank.nominal = Some(0.0))
    }

    /// Adds a standard of concentration `nominal`, in the unit of the calibration.
    pub fn standard(self, label: &str, nominal: f64, readings: &[f64]) -> Self {
        self.check(Role::Standard, label, nominal, readings)
    }

    /// Adds a sample.
    pub fn sample(self, label: &str, readings: &[f64]) -> Self {
        self.position(Role::Sample, label, readings)
    }

    /// Adds a position of known content: a check, a control sample, a reference material.
    pub fn check(self, role: Role, label: &str, nominal: f64, readings: &[f64]) -> Self {
        self.position(role, label, readings).with(|position| position.nominal = Some(nominal))
    }

    /// Changes the position that was added last.
    pub fn with(mut self, change: impl FnOnce(&mut Position)) -> Self {
        if let Some(last) = self.run.positions.last_mut() {
            change(last);
        }
        self
    }

    /// Adds a fact of the whole run, such as the analyst.
    pub fn fact(mut self, name: &str, value: &str) -> Self {
        let name: Arc<str> = name.trim().to_lowercase().into();
        self.run.facts.retain(|(known, _)| *known != name);
        self.run.facts.push((name, value.trim().into()));
        self
    }

    /// The run.
    ///
    /// # Errors
    /// Everything that is wrong with it, as for a table.
    pub fn build(self) -> Result<Run, Error> {
        let mut run = self.run;
        let mut problems = Problems::default();
        run.facts.sort_unstable();
        for (i, position) in run.positions.iter().enumerate() {
            check_position(position, i, |_| i, &mut problems);
            not_finite(position, i, &mut problems);
            if let Some(error) = position.preparation.dilution.as_deref().and_then(|text| Dilution::parse(text).err())
                && let Some(problem) = error.problems().first()
            {
                problems.cell(i, "dilution", problem.what.clone()).help(problem.help.clone().unwrap_or_default());
            }
            if i > 0 && run.positions[i - 1].number >= position.number {
                let what = format!("position {} does not follow {}", position.number, run.positions[i - 1].number);
                problems.cell(i, "position", what).help("number positions in ascending order");
            }
            run.findings.extend(missing_readings(position));
        }
        let rows: Vec<usize> = (0..run.positions.len()).collect();
        find_parents(&mut run.positions, &rows, &mut problems);
        check_run(&run, &rows, &mut problems);
        let labelled = |(i, mut problem): (usize, Problem)| {
            // There is no table, so a row would name nothing; the label does.
            let label = run.positions.get(i).map(|position| position.label.to_string());
            problem.place = Place { row: None, label: problem.place.label.or(label), ..problem.place };
            problem
        };
        let problems = problems.into_vec().into_iter().map(labelled).collect();
        Error::unless_empty(Kind::Argument, problems, run)
    }
}

fn not_finite(position: &Position, i: usize, problems: &mut Problems) {
    let preparation = &position.preparation;
    let numbers = [
        ("nominal", position.nominal),
        ("accept_low", position.accept.map(|(low, _)| low)),
        ("accept_high", position.accept.map(|(_, high)| high)),
        ("added", position.added),
        ("spike_volume_ml", position.spike_volume_ml),
        ("spike_conc", position.spike_conc),
        ("mass_g", preparation.mass_g),
        ("volume_ml", preparation.volume_ml),
        ("final_volume_ml", preparation.final_volume_ml),
        ("percent_solids", preparation.percent_solids),
    ];
    let readings = position.readings.iter().map(|reading| ("absorbance", Some(*reading)));
    for (name, number) in numbers.into_iter().chain(readings) {
        if let Some(number) = number.filter(|number| !number.is_finite()) {
            problems.cell(i, name, format!("{number} is not a finite number")).help("leave out what is missing");
        }
    }
}
