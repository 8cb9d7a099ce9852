//! The room against published rules and figures, and its laws.

mod laws;
mod limits;
mod published;
mod rules;
mod uncertainty;

use std::sync::Arc;

use super::*;
use crate::estimate::{Contributions, Estimates, Key, Part, SourceKind, Status};
use crate::glassware::{Dilution, Measured};
use crate::unit::Unit;

fn exact(value: f64) -> Measured {
    Measured::exact("test", value).unwrap()
}

fn measured(value: f64, u: f64) -> Measured {
    Measured::new("test", value, u).unwrap()
}

fn liquid(volume_ml: f64, final_volume_ml: f64, dilution: &str) -> Preparation {
    Preparation::new(Description {
        portion: Some(Portion::Volume(exact(volume_ml))),
        final_volume: Some(exact(final_volume_ml)),
        dilution: Dilution::parse(dilution).unwrap(),
        ..Description::default()
    })
    .unwrap()
}

/// A solid as it is written down, without solids: weighed and reported as received.
fn weighed(mass: Measured, final_volume: Measured) -> Description {
    Description {
        portion: Some(Portion::Mass(mass)),
        final_volume: Some(final_volume),
        weighed: Some(Weighed::Wet),
        report: Some(ReportBasis::AsReceived),
        ..Description::default()
    }
}

fn solid(mass_g: f64, final_volume_ml: f64, percent: Option<f64>, state: Weighed, report: ReportBasis) -> Preparation {
    Preparation::new(Description {
        solids: percent.map(|percent| Solids::percent(percent, 0.0).unwrap()),
        weighed: Some(state),
        report: Some(report),
        ..weighed(exact(mass_g), exact(final_volume_ml))
    })
    .unwrap()
}

/// Concentrations of solutions in mg/L with independent reading uncertainties, at positions 1, 2, ...
fn solutions(rows: &[(f64, f64)]) -> Estimates {
    let mut table = Contributions::default();
    let known = table.known();
    for ((_, u), position) in rows.iter().zip(1..) {
        let source = table.source(Key::At("run".into(), position, Part::Reading), SourceKind::Reading, known);
        table.push_row([(source, *u)]);
    }
    let statuses = rows.iter().map(|(value, _)| if *value < 0.0 { Status::Negative } else { Status::InRange });
    let values = rows.iter().map(|(value, _)| *value).collect();
    Estimates::new(values, statuses.collect(), Unit::MilligramPerLitre, table).unwrap()
}

fn apply(preparation: &Preparation, estimates: &Estimates, to: Option<Unit>) -> Estimates {
    let positions: Vec<u32> = (1..).take(estimates.len()).collect();
    let run: Arc<str> = "run".into();
    preparation.apply(estimates, Origin { run: &run, positions: &positions, prepared_at: None }, to).unwrap()
}

fn close(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} is not {expected}");
}
