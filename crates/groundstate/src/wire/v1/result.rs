//! Results on the wire.

use std::sync::Arc;

use super::preparation::PreparationForm;
use crate::check::Conformity;
use crate::document::{DofForm, Real, Word, finite, form, wrong};
use crate::error::Error;
use crate::estimate::{Estimate, Status};
use crate::method::Qualification;
use crate::outcome::{Limits, Measurement, Reported, ResultRow};
use crate::preparation::SampleLimit;
use crate::run::Role;
use crate::unit::Unit;

form! {
    /// One measured position: what was read, what the solution held, what that means for the sample.
    ResultForm {
        position: u32,
        role: Word<Role>,
        label: String,
        /// The segment it was measured in; 0 before the first calibration.
        segment: u32,
        measurement: MeasurementForm,
        /// Content of the aspirated solution, in the unit of the calibration.
        solution: EstimateForm,
        preparation: PreparationForm,
        /// The result, not rounded and not censored.
        result: EstimateForm,
        unit: Word<Unit>,
        /// Coverage factor times standard uncertainty, in the unit of the result.
        expanded_uncertainty: Option<Real>,
        coverage_factor: Option<Real>,
        mdl: Option<SampleLimitForm>,
        lod: Option<SampleLimitForm>,
        loq: Option<SampleLimitForm>,
        /// What the qualifiers say.
        qualifiers: Vec<Word<Qualification>>,
        /// The letters of the qualifiers, as the method has them.
        qualifier_letters: Vec<String>,
        /// The text to report.
        reported_text: String,
        /// Whether instrument checks condemn it.
        condemned: bool,
        /// Whether it is the result to report for its sample.
        reported: bool,
        /// The position reported instead, of a sample measured several times.
        reported_instead: Option<u32>,
        /// conforms, does_not_conform, undecided or not_judged.
        conformity: Option<String>,
        /// Why conformity was not judged.
        conformity_reason: Option<String>,
    }

    /// The readings of a position, in units of the signal.
    MeasurementForm {
        mean: Option<Real>,
        /// Number of readings in the mean.
        readings: u32,
        standard_deviation: Option<Real>,
    }

    /// A value with its standard uncertainty; a status without a value has none.
    EstimateForm {
        status: Word<Status>,
        value: Option<Real>,
        standard_uncertainty: Option<Real>,
        degrees_of_freedom: DofForm,
    }

    /// A limit for one sample.
    SampleLimitForm {
        /// The limit of this sample.
        adjusted: Real,
        unit: Word<Unit>,
        /// The limit as stated.
        unadjusted: Real,
        unadjusted_unit: Word<Unit>,
        /// What the stated limit is multiplied by.
        ratio: Real,
        /// Whether a floor holds it at its nominal value.
        held_at_nominal: bool,
    }
}

impl EstimateForm {
    pub fn of(estimate: &Estimate) -> Self {
        EstimateForm {
            status: Word(estimate.status),
            value: finite(estimate.value),
            standard_uncertainty: finite(estimate.u),
            degrees_of_freedom: DofForm(estimate.dof),
        }
    }

    pub fn estimate(&self, at: &str) -> Result<Estimate, Error> {
        let status = self.status.0;
        if status.has_value() != self.value.is_some() {
            let what = match self.value {
                Some(_) => format!("the status {} has no value, and one is given", status.name()),
                None => format!("the status {} has a value, and none is given", status.name()),
            };
            return Err(wrong(format!("{at}.value"), what));
        }
        let number = |real: Option<Real>| real.map_or(f64::NAN, |real| real.0);
        Ok(Estimate {
            value: number(self.value),
            u: number(self.standard_uncertainty),
            dof: self.degrees_of_freedom.0,
            status,
        })
    }
}

impl SampleLimitForm {
    fn of(limit: &SampleLimit) -> Self {
        SampleLimitForm {
            adjusted: Real(limit.adjusted),
            unit: Word(limit.unit),
            unadjusted: Real(limit.unadjusted),
            unadjusted_unit: Word(limit.unadjusted_unit),
            ratio: Real(limit.ratio),
            held_at_nominal: limit.held_at_nominal,
        }
    }

    fn limit(&self) -> SampleLimit {
        SampleLimit {
            unadjusted: self.unadjusted.0,
            unadjusted_unit: self.unadjusted_unit.0,
            ratio: self.ratio.0,
            adjusted: self.adjusted.0,
            unit: self.unit.0,
            held_at_nominal: self.held_at_nominal,
        }
    }
}

impl ResultForm {
    /// The form of `row`, with the `letters` of its qualifiers.
    pub fn of(row: &ResultRow, letters: Vec<String>) -> Self {
        let limit = |limit: &Option<SampleLimit>| limit.as_ref().map(SampleLimitForm::of);
        ResultForm {
            position: row.position,
            role: Word(row.role),
            label: row.label.to_string(),
            segment: row.segment,
            measurement: MeasurementForm {
                mean: finite(row.measurement.mean),
                readings: row.measurement.readings,
                standard_deviation: row.measurement.sd.and_then(finite),
            },
            solution: EstimateForm::of(&row.solution),
            preparation: PreparationForm::of(&row.preparation),
            result: EstimateForm::of(&row.result),
            unit: Word(row.unit),
            expanded_uncertainty: row.expanded.map(|(u, _)| Real(u)),
            coverage_factor: row.expanded.map(|(_, k)| Real(k)),
            mdl: limit(&row.limits.mdl),
            lod: limit(&row.limits.lod),
            loq: limit(&row.limits.loq),
            qualifiers: row.qualifications.iter().copied().map(Word).collect(),
            qualifier_letters: letters,
            reported_text: row.text.clone(),
            condemned: row.condemned,
            reported: row.reported.is_reported(),
            reported_instead: match row.reported {
                Reported::Instead(position) => Some(position),
                Reported::Yes | Reported::NotASample => None,
            },
            conformity: row.conformity.as_ref().map(|conformity| conformity.name().to_owned()),
            conformity_reason: match &row.conformity {
                Some(Conformity::NotJudged(why)) => Some(why.to_string()),
                _ => None,
            },
        }
    }

    /// The row, at `at` of the document.
    pub fn row(&self, at: &str) -> Result<ResultRow, Error> {
        let here = |member: &str| format!("{at}.{member}");
        let limit = |form: &Option<SampleLimitForm>| form.as_ref().map(SampleLimitForm::limit);
        let expanded = match (self.expanded_uncertainty, self.coverage_factor) {
            (Some(u), Some(k)) => Some((u.0, k.0)),
            (None, None) => None,
            _ => return Err(wrong(here("coverage_factor"), "expanded uncertainty and coverage factor go together")),
        };
        let conformity = match (self.conformity.as_deref(), &self.conformity_reason) {
            (None, None) => None,
            (Some("conforms"), None) => Some(Conformity::Conforms),
            (Some("does_not_conform"), None) => Some(Conformity::DoesNotConform),
            (Some("undecided"), None) => Some(Conformity::Undecided),
            (Some("not_judged"), Some(why)) => Some(Conformity::NotJudged(why.clone().into())),
            _ => {
                let what = "conformity is conforms, does_not_conform, undecided, or not_judged with its reason";
                return Err(wrong(here("conformity"), what));
            }
        };
        let reported = match (self.role.0, self.reported, self.reported_instead) {
            (Role::Sample | Role::Addition, true, None) => Reported::Yes,
            (_, false, Some(position)) => Reported::Instead(position),
            (_, false, None) => Reported::NotASample,
            _ => return Err(wrong(here("reported"), "a row is reported, or another position is instead of it")),
        };
        Ok(ResultRow {
            position: self.position,
            role: self.role.0,
            label: Arc::from(self.label.as_str()),
            segment: self.segment,
            measurement: Measurement {
                mean: self.measurement.mean.map_or(f64::NAN, |mean| mean.0),
                readings: self.measurement.readings,
                sd: self.measurement.standard_deviation.map(|sd| sd.0),
            },
            solution: self.solution.estimate(&here("solution"))?,
            preparation: self.preparation.preparation(&here("preparation"))?,
            result: self.result.estimate(&here("result"))?,
            unit: self.unit.0,
            expanded,
            limits: Limits { mdl: limit(&self.mdl), lod: limit(&self.lod), loq: limit(&self.loq) },
            qualifications: self.qualifiers.iter().map(|word| word.0).collect(),
            text: self.reported_text.clone(),
            condemned: self.condemned,
            reported,
            conformity,
        })
    }
}
