//! Step 8: the reported text. Here, and only here, values are rounded and censored.

use crate::error::Error;
use crate::method::{Method, Qualification};
use crate::outcome::ResultRow;
use crate::rounding::{Rounding, Rule};

pub(super) fn all(method: &Method, rows: Vec<ResultRow>) -> Result<Vec<ResultRow>, Error> {
    rows.into_iter()
        .map(|mut row| {
            row.text = text(method, &row)?;
            Ok(row)
        })
        .collect()
}

fn text(method: &Method, row: &ResultRow) -> Result<String, Error> {
    let style = &method.reporting;
    if !row.result.status.has_value() {
        return Ok(style.no_result.to_string());
    }
    let u = Some(row.result.u).filter(|u| *u > 0.0);
    let rule = usable(style.rounding, u);
    let limits = [row.limits.mdl, row.limits.lod, row.limits.loq];
    let limits: Vec<f64> = limits.into_iter().flatten().map(|limit| limit.adjusted).collect();
    if row.qualifications.contains(&Qualification::NotDetected) {
        let limit = match method.limits.nondetect_at {
            Some(crate::method::NondetectAt::Loq) => row.limits.loq,
            Some(crate::method::NondetectAt::Lod) => row.limits.lod,
            _ => row.limits.mdl,
        };
        let limit = limit.map_or(Ok(String::new()), |limit| {
            Ok::<_, Error>(usable(style.rounding, None).round(limit.adjusted, None)?.to_string())
        })?;
        return Ok(style.nondetect.replace("{limit}", &limit));
    }
    Ok(rule.distinguishing(row.result.value, u, &limits)?.to_string())
}

/// The method's rounding, or three figures where it goes by an uncertainty that is not there.
fn usable(rule: Rule, u: Option<f64>) -> Rule {
    match (rule.rounding, u) {
        (Rounding::Uncertainty(_), None) => Rule { rounding: Rounding::figures(3).unwrap_or(rule.rounding), ..rule },
        _ => rule,
    }
}
