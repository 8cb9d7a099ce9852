//! Step 4: from the aspirated solution back to the sample.

use std::sync::Arc;

use super::measure::{Measured, chosen};
use super::names::Names;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Contributions, Estimate, Estimates};
use crate::finding::{Finding, Subject};
use crate::glassware::{self, Dilution};
use crate::method::{Method, SampleKind};
use crate::preparation::{Description, Factor, Origin, Portion, Preparation, Solids, apply_each};
use crate::run::{Position, PreparationFields, Role, Run};
use crate::unit::Unit;

/// Measured positions with their results.
pub(super) struct Prepared<'a> {
    pub measured: Measured<'a>,
    /// One a row; of instrument checks, which nothing leads back from, [`Preparation::none`].
    pub preparations: Vec<Preparation>,
    /// Contents of the solutions, one a row.
    pub solutions: Vec<Estimate>,
    pub kinds: Vec<SampleKind>,
    pub results: Vec<Estimate>,
    pub units: Vec<Unit>,
    pub contributions: Contributions,
}

pub(super) fn all<'a>(
    run: &Run,
    names: &Names<'_>,
    method: &Method,
    measured: Measured<'a>,
    findings: &mut Vec<Finding>,
) -> Result<Prepared<'a>, Error> {
    let mut problems = Vec::new();
    let mut preparations = Vec::with_capacity(measured.positions.len());
    let mut prepared_at = Vec::with_capacity(measured.positions.len());
    let mut known = Known::default();
    for position in &measured.positions {
        let (fields, at) = fields(names, position);
        let preparation = if position.role.is_instrument_check() {
            Ok(Preparation::none())
        } else {
            known.preparation(names, method, position, fields)
        };
        match preparation {
            Ok(preparation) => {
                findings.extend(preparation.findings(&Subject::Position(position.number)));
                preparations.push(preparation);
                prepared_at.push(at);
            }
            Err(error) => problems.extend(error.problems().iter().map(|problem| {
                let column = problem.place.name.clone().unwrap_or_default();
                let place =
                    Place { row: position.row.get(), name: Some(column), label: Some(position.label.to_string()) };
                Problem { place, ..problem.clone() }
            })),
        }
    }
    Error::unless_empty(Kind::Table, problems, ())?;

    // Instrument checks stay in the solution; liquids and solids have a unit each.
    let group = |i: usize| match (measured.positions[i].role.is_instrument_check(), kind(&preparations[i])) {
        (true, _) => 0,
        (false, SampleKind::Liquid) => 1,
        (false, SampleKind::Solid) => 2,
    };
    let mut parts: Vec<Estimates> = Vec::new();
    let mut order: Vec<usize> = Vec::new();
    for wanted in 0..3 {
        let rows: Vec<usize> = (0..preparations.len()).filter(|i| group(*i) == wanted).collect();
        if rows.is_empty() {
            continue;
        }
        let solution = chosen(&measured.solution, &rows)?;
        let pick = |from: &[u32]| rows.iter().map(|i| from[*i]).collect::<Vec<u32>>();
        let numbers: Vec<u32> = rows.iter().map(|i| measured.positions[*i].number).collect();
        let first = pick(&prepared_at);
        let own: Vec<Preparation> = rows.iter().map(|i| preparations[*i].clone()).collect();
        let origin = Origin { run: &run.name, positions: &numbers, prepared_at: Some(&first) };
        parts.push(match wanted {
            0 => solution,
            1 => apply_each(&solution, &own, origin, Some(method.reporting.liquid_unit))?,
            _ => apply_each(&solution, &own, origin, Some(method.reporting.solid_unit))?,
        });
        order.extend(rows);
    }
    let tables: Vec<&Contributions> = parts.iter().map(Estimates::contributions).collect();
    let mut rows: Vec<usize> = (0..order.len()).collect();
    rows.sort_by_key(|row| order[*row]);
    let contributions = Contributions::join(&tables)?.into_selected(&rows);
    let all: Vec<(Estimate, Unit)> = parts.iter().flat_map(|part| part.iter().map(|e| (e, part.unit()))).collect();
    let (results, units) = rows.iter().map(|row| all[*row]).unzip();
    let kinds = preparations.iter().map(kind).collect();
    let solutions = measured.solution.iter().collect();
    Ok(Prepared { measured, preparations, solutions, kinds, results, units, contributions })
}

/// The last few preparations of a run: many positions are prepared alike, and share one.
#[derive(Default)]
struct Known(Vec<(PreparationFields, [bool; 2], Preparation)>);

impl Known {
    /// More are not worth a look at each.
    const MOST: usize = 8;

    /// The preparation of a position, from the fields and from whether it is a blank, of solids too.
    fn preparation(
        &mut self,
        names: &Names<'_>,
        method: &Method,
        position: &Position,
        fields: PreparationFields,
    ) -> Result<Preparation, Error> {
        let blank = [is_blank(position), is_blank_of_solids(names, position)];
        if let Some((_, _, known)) = self.0.iter().find(|(known, of, _)| *known == fields && *of == blank) {
            return Ok(known.clone());
        }
        let found = describe(names, method, position, &fields).and_then(Preparation::new)?;
        if self.0.len() == Self::MOST {
            self.0.remove(0);
        }
        self.0.push((fields, blank, found.clone()));
        Ok(found)
    }
}

fn kind(preparation: &Preparation) -> SampleKind {
    match preparation.description().portion {
        Some(Portion::Mass(_)) => SampleKind::Solid,
        _ => SampleKind::Liquid,
    }
}

/// What the table says of a position's preparation, and the position where its digest was made.
///
/// A post-digestion spike and a serial dilution are portions of their parent's digest, so what their own rows leave
/// out is the parent's. So are the portions of an addition series, if their rows name a sample and no portion of their own.
/// Positions that name one preparation share it.
fn fields(names: &Names<'_>, position: &Position) -> (PreparationFields, u32) {
    let mut fields = position.preparation.clone();
    let mut at = names.first_of_preparation(position);
    if matches!(position.role, Role::PostDigestionSpike | Role::SerialDilution)
        && let Some(parent) = names.parent(position)
    {
        let from = &parent.preparation;
        // The volume in a post-digestion spike's row is that of the digest spiked, not of a sample.
        let own = position.role == Role::SerialDilution && (fields.mass_g.is_some() || fields.volume_ml.is_some());
        if !own {
            (fields.mass_g, fields.volume_ml) = (from.mass_g, from.volume_ml);
        }
        fields.final_volume_ml = fields.final_volume_ml.or(from.final_volume_ml);
        fields.percent_solids = fields.percent_solids.or(from.percent_solids);
        at = names.first_of_preparation(parent);
    }
    if position.role == Role::Addition {
        // Without a final volume, the volume in its row is that of the solution the additions went into.
        if fields.final_volume_ml.is_none() {
            fields.volume_ml = None;
        }
        let parent = names.parent(position).filter(|_| fields.mass_g.is_none() && fields.volume_ml.is_none());
        if let Some(parent) = parent.filter(|parent| parent.role == Role::Sample) {
            let from = &parent.preparation;
            (fields.mass_g, fields.volume_ml) = (from.mass_g, from.volume_ml);
            fields.final_volume_ml = from.final_volume_ml;
            fields.percent_solids = fields.percent_solids.or(from.percent_solids);
            at = names.first_of_preparation(parent);
        }
    }
    (fields, at)
}

/// The position where the portion at `position` was first prepared.
pub(crate) fn prepared_at(names: &Names<'_>, position: &Position) -> u32 {
    fields(names, position).1
}

/// The description of one position's preparation, in the method's uncertainties.
fn describe(
    names: &Names<'_>,
    method: &Method,
    position: &Position,
    fields: &PreparationFields,
) -> Result<Description, Error> {
    let rules = &method.preparation;
    let (mut mass, volume) = (fields.mass_g, fields.volume_ml);
    let mut final_volume = fields.final_volume_ml;
    if mass.is_none() && volume.is_none() && is_blank_of_solids(names, position) {
        // A blank of a batch of solids has no portion of its own: it is reported for the nominal one.
        let nominal = rules.nominal_solid.ok_or_else(|| {
            let what = format!("the {} of a batch of solids has no mass", position.role.name());
            Error::argument("mass_g", what).help("give preparation.nominal_solid in the method, or a mass in its row")
        })?;
        (mass, final_volume) = (Some(nominal.portion), final_volume.or(Some(nominal.final_volume_ml)));
    }
    if mass.is_some() || volume.is_some() {
        final_volume = final_volume.or(rules.final_volume_ml);
    }
    let measured = |name: &str, value: f64, u: f64, item: &Option<Arc<str>>| {
        let measured = glassware::Measured::new(name, value, u)?;
        match item {
            Some(item) => measured.with_item(item),
            None => Ok(measured),
        }
    };
    let relative = |name: &str, value: f64, u: Option<f64>, item| measured(name, value, value * u.unwrap_or(0.0), item);
    let mass =
        mass.map(|value| measured("mass_g", value, rules.u.mass_g.unwrap_or(0.0), &rules.items.mass)).transpose()?;
    let volume = volume.map(|value| relative("volume_ml", value, rules.u.volume, &rules.items.volume)).transpose()?;
    let solid = mass.is_some();
    let portion = Portion::of(mass, volume)?;
    let solids = fields.percent_solids.filter(|_| solid || !is_blank(position));
    let mut description = Description {
        final_volume: final_volume
            .map(|value| relative("final_volume_ml", value, rules.u.final_volume, &rules.items.final_volume))
            .transpose()?,
        dilution: dilution(method, fields)?,
        solids: solids.map(|percent| solids_of(method, percent)).transpose()?,
        weighed: rules.weighed.filter(|_| solid),
        report: rules.report.filter(|_| solid),
        portion,
        ..Description::default()
    };
    if solid
        && is_blank_of_solids(names, position)
        && description.solids.is_none()
        && rules.report != Some(crate::preparation::ReportBasis::AsReceived)
    {
        // The nominal portion is dry matter throughout.
        description.solids = Some(Solids::percent(100.0, 0.0)?);
    }
    for extra in &rules.extra {
        description.extra.push(Factor::new(&extra.name, extra.value, extra.u)?);
    }
    Ok(description)
}

fn is_blank(position: &Position) -> bool {
    matches!(position.role, Role::MethodBlank | Role::Lcs | Role::Lcsd)
}

/// Whether a blank or control sample without a portion belongs to a batch of weighed samples.
fn is_blank_of_solids(names: &Names<'_>, position: &Position) -> bool {
    is_blank(position) && position.preparation.volume_ml.is_none() && names.of_weighed_batch(position)
}

/// The fraction of solids with the method's uncertainty, shared by all where the method names its item.
fn solids_of(method: &Method, percent: f64) -> Result<Solids, Error> {
    let u = method.preparation.u.percent_solids.unwrap_or(0.0);
    let solids = Solids::percent(percent, u)?;
    match &method.preparation.items.percent_solids {
        Some(item) => Solids::fraction_of(solids.fraction().clone().with_item(item)?),
        None => Ok(solids),
    }
}

/// The dilution as written, each step with the method's relative standard uncertainty.
fn dilution(method: &Method, fields: &PreparationFields) -> Result<Dilution, Error> {
    let Some(text) = &fields.dilution else { return Ok(Dilution::none()) };
    let written = Dilution::parse(text)?;
    match method.preparation.u.dilution {
        Some(u) => written.with_relative_u(u, method.preparation.items.dilution.as_deref()),
        None => Ok(written),
    }
}
