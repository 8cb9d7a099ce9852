//! Acceptance of a calibration by its own figures.

use std::sync::Arc;

use super::judgement::Judgement;
use super::{Check, Figure, Limit, Reason, Statistic, Verdict};
use crate::criteria::{CalibrationLimits, CheckKind, Comparison, Criteria, Edge};
use crate::curve::Shape;
use crate::finding::{Citation, Code, Finding, Subject};
use crate::unit::Unit;

/// The readings of one standard above zero.
#[derive(Clone, Debug, PartialEq)]
pub struct StandardReadings {
    /// Its label.
    pub label: Arc<str>,
    /// Number of readings.
    pub count: u32,
    /// Their relative standard deviation, %.
    pub rsd: f64,
}

/// The figures of a calibration that acceptance looks at.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationFigures {
    /// The stretch of the run that it serves, counted from 1.
    pub segment: u32,
    /// Its shape.
    pub shape: Shape,
    /// Unit of concentration.
    pub unit: Unit,
    /// Standards above zero that were used.
    pub standards: u32,
    /// Calibration blanks that were measured, in the fit or as its zero.
    pub blanks: u32,
    /// Pearson's r; only for an unweighted line with free intercept.
    pub r: Option<f64>,
    /// Coefficient of determination about the mean; absent for a shape through zero.
    pub r_squared: Option<f64>,
    /// Percent error of each level above zero, by ascending level, %.
    pub percent_errors: Vec<f64>,
    /// Relative standard error, %.
    pub rse: Option<f64>,
    /// Studentized residuals; a NaN is left out.
    pub studentized_residuals: Vec<f64>,
    /// Readings of the standards above zero.
    pub readings: Vec<StandardReadings>,
    /// Absorbance of the lowest standard above zero; absent where the signal is none, and where that standard is
    /// declared to be the one at the limit of quantitation.
    pub lowest_absorbance: Option<f64>,
    /// Absorbance of the top standard; absent where the signal is none.
    pub top_absorbance: Option<f64>,
}

/// Judges a calibration by every limit that is set: one check for each, none where nothing is set.
///
/// A failed one affects every analysis of its segment; [`judge`](super::judge) fills that in.
pub fn accept(figures: &CalibrationFigures, criteria: &Criteria) -> Vec<Check> {
    accept_by(figures, &criteria.calibration(), criteria.comparison())
}

/// As [`accept`], by limits that the caller has looked up.
pub(crate) fn accept_by(
    figures: &CalibrationFigures,
    limits: &CalibrationLimits,
    comparison: Comparison,
) -> Vec<Check> {
    let label: Arc<str> = format!("calibration {}", figures.segment).into();
    let rows = rows(figures, limits).into_iter().map(|(figure, value, limit, citation)| {
        let judgement = match value {
            Ok(value) => {
                let statistic = Statistic { figure, value, u: None };
                Judgement::of(statistic, limit, comparison, figures.unit, citation)
            }
            Err(reason) => Judgement::not(reason, figures.unit, citation),
        };
        Check {
            kind: CheckKind::Calibration,
            position: None,
            segment: figures.segment,
            batch: None,
            label: label.clone(),
            found: None,
            expected: None,
            unit: None,
            statistic: judgement.statistic,
            limit: Some(limit),
            verdict: judgement.verdict,
            citation: judgement.citation,
            affects: Vec::new(),
            replaced_by: None,
        }
    });
    rows.collect()
}

type Row = (Figure, Result<f64, Reason>, Limit, Citation);

fn rows(figures: &CalibrationFigures, limits: &CalibrationLimits) -> Vec<Row> {
    let edge = limits.correlation_edge;
    let mut rows: Vec<Row> = Vec::new();
    if let Some(citation) = &limits.line_only {
        let terms = match figures.shape {
            Shape::Line | Shape::LineThroughZero => 0.0,
            Shape::Quadratic | Shape::QuadraticThroughZero | Shape::StrayLight => 1.0,
        };
        rows.push((Figure::Curvature, Ok(terms), Limit::at_most(0.0, Edge::Inclusive), citation.clone()));
    }
    if let Some((least, citation)) = &limits.minimum_standards {
        let limit = Limit::at_least(f64::from(*least), Edge::Inclusive);
        rows.push((Figure::Standards, Ok(f64::from(figures.standards)), limit, citation.clone()));
    }
    if let Some(citation) = &limits.blank_required {
        let limit = Limit::at_least(1.0, Edge::Inclusive);
        rows.push((Figure::CalibrationBlanks, Ok(f64::from(figures.blanks)), limit, citation.clone()));
    }
    if let Some((least, citation)) = &limits.r {
        let why = "r is a figure of the unweighted line with free intercept; set r_squared, percent_error or rse";
        let value = figures.r.ok_or(Reason::NotDefined(why.into()));
        rows.push((Figure::Correlation, value, Limit::at_least(*least, edge), citation.clone()));
    }
    if let Some((least, citation)) = &limits.r_squared {
        let why = "r2 about the mean is no figure of a shape through zero; set percent_error or rse";
        let value = figures.r_squared.ok_or(Reason::NotDefined(why.into()));
        rows.push((Figure::Determination, value, Limit::at_least(*least, edge), citation.clone()));
    }
    let lowest_apart = limits.percent_error_lowest.is_some();
    let errors = figures.percent_errors.get(usize::from(lowest_apart)..).unwrap_or(&[]);
    let no_level = "there is no level above zero to judge";
    if let Some((most, citation)) = &limits.percent_error {
        let value = largest(errors).ok_or(Reason::NotDefined(no_level.into()));
        rows.push((Figure::PercentError, value, Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    if let Some((most, citation)) = &limits.percent_error_lowest {
        let value = figures.percent_errors.first().map(|error| error.abs()).ok_or(Reason::NotDefined(no_level.into()));
        rows.push((Figure::LowestPercentError, value, Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    if let Some((most, citation)) = &limits.rse {
        let why = "no degree of freedom is left for the relative standard error";
        let value = figures.rse.ok_or(Reason::NotDefined(why.into()));
        rows.push((Figure::RelativeStandardError, value, Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    if let Some((most, citation)) = &limits.studentized_residual {
        let value =
            largest(&figures.studentized_residuals).ok_or(Reason::NotDefined("the points have no scatter".into()));
        rows.push((Figure::StudentizedResidual, value, Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    let spread = |wanted: fn(u32) -> bool, scale: f64| {
        let values: Vec<f64> =
            figures.readings.iter().filter(|standard| wanted(standard.count)).map(|one| one.rsd * scale).collect();
        largest(&values)
    };
    if let Some((most, citation)) = &limits.standard_rsd
        && let Some(value) = spread(|count| count >= 3, 1.0)
    {
        rows.push((Figure::StandardDeviation, Ok(value), Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    // Of two readings the RPD is sqrt(2) times the RSD.
    if let Some((most, citation)) = &limits.standard_rpd
        && let Some(value) = spread(|count| count == 2, std::f64::consts::SQRT_2)
    {
        rows.push((Figure::StandardDifference, Ok(value), Limit::at_most(*most, Edge::Inclusive), citation.clone()));
    }
    rows
}

/// The largest magnitude of those that are numbers.
fn largest(values: &[f64]) -> Option<f64> {
    values.iter().filter(|value| !value.is_nan()).map(|value| value.abs()).max_by(f64::total_cmp)
}

/// Advice on the working range. It never fails a calibration.
pub(super) fn advice(figures: &CalibrationFigures, criteria: &Criteria) -> Vec<Finding> {
    let limits = criteria.calibration();
    let subject = || Subject::Calibration(figures.segment);
    let outside =
        |absorbance: f64, limit: Limit| !limit.admits(absorbance, super::Scale::Number, Comparison::Unrounded);
    let mut findings = Vec::new();
    if let (Some(absorbance), Some((least, citation))) = (figures.lowest_absorbance, limits.lowest_absorbance)
        && outside(absorbance, Limit::at_least(least, Edge::Inclusive))
    {
        let finding = Finding::new(Code::LowestStandardFaint, subject());
        findings.push(finding.with("absorbance", absorbance).with("least", least).citing(citation));
    }
    if let (Some(absorbance), Some((most, citation))) = (figures.top_absorbance, limits.highest_absorbance)
        && outside(absorbance, Limit::at_most(most, Edge::Inclusive))
    {
        let finding = Finding::new(Code::TopStandardStrong, subject());
        findings.push(finding.with("absorbance", absorbance).with("most", most).citing(citation));
    }
    findings
}

/// Whether a calibration check keeps the segment from being used.
pub(super) fn refuses(check: &Check) -> bool {
    check.kind == CheckKind::Calibration && check.verdict == Verdict::Fail
}
