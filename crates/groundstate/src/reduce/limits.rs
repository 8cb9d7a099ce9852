//! Step 5: limits of each result on its own basis, and whether it is detected.

use super::prepare::Prepared;
use crate::check::Detection;
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Fact, Finding, Subject};
use crate::method::{self, Method, NondetectAt, SampleKind};
use crate::outcome::Limits;
use crate::preparation::{Preparation, SampleLimit, StatedLimit};
use crate::run::Run;
use crate::unit::Unit;

/// Prepared positions with their limits.
pub(super) struct Limited<'a> {
    pub prepared: Prepared<'a>,
    pub limits: Vec<Limits>,
    pub detection: Vec<Detection>,
}

pub(super) fn all<'a>(
    _run: &Run,
    method: &Method,
    prepared: Prepared<'a>,
    findings: &mut Vec<Finding>,
) -> Result<Limited<'a>, Error> {
    let mut problems = Vec::new();
    let mut limits = Vec::with_capacity(prepared.results.len());
    for (i, position) in prepared.measured.positions.iter().enumerate() {
        let (kind, unit) = (prepared.kinds[i], prepared.units[i]);
        let mut of = |which: NondetectAt| {
            let stated = method.limits.find(which, kind)?;
            let found =
                adjusted(method, stated, kind, &prepared.preparations[i], unit, position.role.is_instrument_check());
            match found {
                Ok(limit) => limit,
                Err(error) => {
                    problems.extend(error.problems().iter().cloned().map(|problem| {
                        let key = format!("limits.{}", which.name());
                        Problem { place: Place::named(key).labelled(&*position.label), ..problem }
                    }));
                    None
                }
            }
        };
        limits.push(Limits { mdl: of(NondetectAt::Mdl), lod: of(NondetectAt::Lod), loq: of(NondetectAt::Loq) });
    }
    Error::unless_empty(Kind::Method, problems, ())?;
    of_studies(method, findings);
    for (position, limits) in prepared.measured.positions.iter().zip(&limits) {
        for (name, limit) in [("mdl", limits.mdl), ("lod", limits.lod), ("loq", limits.loq)] {
            if limit.is_some_and(|limit| limit.held_at_nominal) {
                findings.push(
                    Finding::new(Code::LimitHeldAtNominal, Subject::Position(position.number)).with("limit", name),
                );
            }
        }
    }
    let detection = (prepared.results.iter().zip(&limits))
        .map(|(result, limits)| detection(method, result.value, limits))
        .collect();
    Ok(Limited { prepared, limits, detection })
}

/// Where the limits come from that hold their study, and what was noticed of it.
fn of_studies(method: &Method, findings: &mut Vec<Finding>) {
    for which in NondetectAt::ALL {
        let limits = method.limits.of(*which);
        for (i, limit) in limits.iter().enumerate() {
            let Some(study) = &limit.study else { continue };
            let mdl = study.mdl();
            let key = if limits.len() > 1 { format!("limits.{which}[{i}]") } else { format!("limits.{which}") };
            let subject = Subject::Method(format!("{key}.study"));
            let found = mdl.value.unwrap_or(f64::NAN);
            let above = limit.value > found * (1.0 + 1e-12);
            let code = if above { Code::LimitAboveStudy } else { Code::LimitFromStudy };
            let part = |value: Option<f64>| value.map_or_else(|| "none".into(), Fact::Number);
            let mut finding = Finding::new(code, subject.clone())
                .with("limit", which.name())
                .with("value", limit.value)
                .with("unit", limit.unit.name())
                .with("spikes", mdl.from_spikes.counts.used())
                .with("from_spikes", part(mdl.from_spikes.value))
                .with("blanks", mdl.from_blanks.counts.used())
                .with("from_blanks", part(mdl.from_blanks.value))
                .with("branch", mdl.branch().title())
                .with("basis", mdl.basis.name().replace('_', " "))
                .citing(limit.definition.citation());
            if above {
                finding = finding.with("found", found);
            }
            findings.push(finding);
            findings
                .extend(mdl.findings.iter().cloned().map(|finding| Finding { subject: subject.clone(), ..finding }));
        }
    }
}

/// A limit of an instrument check is one of its solution; a sample limit says nothing of it.
pub(crate) fn adjusted(
    method: &Method,
    stated: &method::Limit,
    kind: SampleKind,
    preparation: &Preparation,
    unit: Unit,
    of_solution: bool,
) -> Result<Option<SampleLimit>, Error> {
    if of_solution && stated.basis != method::LimitBasis::Solution {
        return Ok(None);
    }
    let nominal = method.preparation.nominal(kind)?;
    let limit = StatedLimit {
        value: stated.value,
        unit: stated.unit,
        basis: Some(stated.basis),
        nominal: nominal.as_ref(),
        floor: method.limits.floor,
    };
    limit.of(preparation, Some(unit)).map(Some)
}

/// Whether a value reaches the limit of non-detects; unrounded, the limit itself being detected.
pub(crate) fn detection(method: &Method, value: f64, limits: &Limits) -> Detection {
    match least_detected(method, limits) {
        None => Detection::Unknown,
        Some(_) if value.is_nan() => Detection::Unknown,
        Some(least) if value >= least => Detection::Detected,
        Some(_) => Detection::NotDetected,
    }
}

/// The least value that is detected: the limit, with a guard for its rounding. None without a limit.
pub(crate) fn least_detected(method: &Method, limits: &Limits) -> Option<f64> {
    let limit = match method.limits.nondetect_at {
        Some(NondetectAt::Mdl) => limits.mdl,
        Some(NondetectAt::Lod) => limits.lod,
        Some(NondetectAt::Loq) => limits.loq,
        _ => None,
    };
    limit.map(|limit| limit.adjusted * (1.0 - 1e-12))
}
