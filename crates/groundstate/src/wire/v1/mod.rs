//! Version 1 of the serialised outcome: one struct a part, one file a subject.

mod addition;
mod budget;
mod calibration;
mod check;
mod finding;
mod matched;
mod mdl_record;
mod names;
mod preparation;
mod provenance;
mod result;

use std::collections::BTreeSet;
use std::sync::Arc;

use serde_json::Value;

use self::addition::AdditionForm;
use self::budget::BudgetsForm;
use self::calibration::CalibrationForm;
use self::check::{CheckForm, CondemnationForm};
pub(crate) use self::finding::FindingForm;
use self::finding::findings;
use self::matched::MatchedForm;
pub(super) use self::mdl_record::MdlRecordForm;
use self::provenance::ProvenanceForm;
use self::result::ResultForm;
use crate::check::{Condemnation, Judged, Standing};
use crate::document::{Word, at, form, wrong};
use crate::error::Error;
use crate::method::Method;
use crate::outcome::{Outcome, SCOPE, Segment, U_NAME, Used};
use crate::run::{Run, RunForm};

form! {
    /// The outcome of reducing one run by one method, with its input.
    OutcomeForm {
        /// groundstate.outcome/1
        schema: String,
        /// Version of the library that reduced the run.
        library: String,
        /// The method, every default stated.
        method: Arc<Value>,
        run: RunForm,
        /// What was noticed while the run was read.
        reading_findings: Vec<FindingForm>,
        provenance: ProvenanceForm,
        scope: ScopeForm,
        /// What the checks say as a whole.
        standing: Word<Standing>,
        segments: Vec<SegmentForm>,
        /// One a segment.
        calibrations: Vec<CalibrationForm>,
        /// Series of standard additions, where the run has any.
        additions: Option<Vec<AdditionForm>>,
        /// Matrix-matched calibrations against the external ones, where the method has any.
        matched: Option<Vec<MatchedForm>>,
        /// Every measured position that is not a point of a calibration.
        results: Vec<ResultForm>,
        budgets: BudgetsForm,
        checks: Vec<CheckForm>,
        condemnations: Vec<CondemnationForm>,
        /// Positions whose results cannot be used.
        condemned: Vec<u32>,
        /// Positions that a failed or missing required check concerns.
        incomplete: Vec<u32>,
        findings: Vec<FindingForm>,
    }

    /// What the standard uncertainties of an outcome cover.
    ScopeForm {
        /// Name of the standard uncertainty.
        standard_uncertainty: String,
        words: String,
    }

    /// A stretch of a run under one calibration.
    SegmentForm {
        /// From 1.
        number: u32,
        first_position: u32,
        last_position: u32,
        /// Positions whose readings were fitted.
        fitted: Vec<u32>,
        /// The matrix whose samples it serves; without it the external calibration of the stretch.
        matrix: Option<String>,
    }
}

/// A list, left out where it is empty.
fn some<T>(list: Vec<T>) -> Option<Vec<T>> {
    (!list.is_empty()).then_some(list)
}

impl OutcomeForm {
    /// The form of `outcome`, with its full name of the schema.
    pub fn of(outcome: &Outcome, schema: &str) -> Self {
        let letters = |row: &crate::outcome::ResultRow| {
            let marks = row.qualifications.iter().map(|what| outcome.method.qualifiers.get(*what));
            marks.filter_map(|mark| mark.letters.as_deref().map(str::to_owned)).collect()
        };
        OutcomeForm {
            schema: schema.to_owned(),
            library: outcome.provenance.library.clone(),
            method: Arc::clone(&outcome.method.document),
            run: RunForm::of(&outcome.run),
            reading_findings: outcome.run.findings.iter().map(FindingForm::of).collect(),
            provenance: ProvenanceForm::of(&outcome.provenance),
            scope: ScopeForm { standard_uncertainty: U_NAME.to_owned(), words: SCOPE.to_owned() },
            standing: Word(outcome.standing()),
            segments: outcome.segments.iter().map(SegmentForm::of).collect(),
            calibrations: outcome.calibrations.iter().map(|one| CalibrationForm::of(one)).collect(),
            additions: some(outcome.additions.iter().map(AdditionForm::of).collect()),
            matched: some(outcome.matched().iter().map(MatchedForm::of).collect()),
            results: outcome.rows.iter().map(|row| ResultForm::of(row, letters(row))).collect(),
            budgets: BudgetsForm::of(&outcome.contributions),
            checks: outcome.verdicts.checks.iter().map(CheckForm::of).collect(),
            condemnations: outcome.verdicts.condemnations.iter().map(CondemnationForm::of).collect(),
            condemned: outcome.verdicts.condemned.iter().copied().collect(),
            incomplete: outcome.verdicts.incomplete.iter().copied().collect(),
            findings: outcome.findings.iter().map(FindingForm::of).collect(),
        }
    }

    /// The method.
    pub fn method(&self) -> Result<Method, Error> {
        Method::from_document(&self.method).map_err(|error| at("method", &error))
    }

    /// The run, with what was noticed while it was read.
    pub fn run(&self) -> Result<Run, Error> {
        Ok(Run { findings: findings(&self.reading_findings, "reading_findings")?, ..self.run.run()? })
    }

    /// The outcome as stored: nothing is reduced again.
    pub fn outcome(&self) -> Result<Outcome, Error> {
        fn each<F, T>(forms: &[F], name: &str, of: impl Fn(&F, &str) -> Result<T, Error>) -> Result<Vec<T>, Error> {
            forms.iter().enumerate().map(|(i, form)| of(form, &format!("{name}[{i}]"))).collect()
        }
        let rows = each(&self.results, "results", ResultForm::row)?;
        if !rows.is_sorted_by(|a, b| a.position < b.position) {
            return Err(wrong("results", "the results are not in ascending order of positions"));
        }
        let contributions = self.budgets.contributions()?;
        if contributions.rows() != rows.len() {
            let what = format!("{} budgets for {} results", contributions.rows(), rows.len());
            return Err(wrong("budgets.rows", what));
        }
        let calibrations = each(&self.calibrations, "calibrations", |form, at| form.calibration(at).map(Arc::new))?;
        if calibrations.len() != self.segments.len() {
            let what = format!("{} calibrations for {} segments", calibrations.len(), self.segments.len());
            return Err(wrong("calibrations", what));
        }
        let checks = each(&self.checks, "checks", CheckForm::check)?;
        let count = checks.len();
        let condemnations: Vec<Condemnation> =
            each(&self.condemnations, "condemnations", |form, at| form.condemnation(at, count))?;
        let verdicts = Judged {
            checks,
            condemnations,
            condemned: self.condemned.iter().copied().collect::<BTreeSet<u32>>(),
            incomplete: self.incomplete.iter().copied().collect::<BTreeSet<u32>>(),
            // They are among the findings of the outcome.
            findings: Vec::new(),
        };
        let (method, run) = (self.method()?, self.run()?);
        let segments: Vec<Segment> = self.segments.iter().map(SegmentForm::segment).collect();
        // Fitted again like the calibrations, from the run itself.
        let additions = crate::reduce::additions::of(&run, &method, &segments, &calibrations)?;
        for (i, stored) in self.additions.iter().flatten().enumerate() {
            let path = format!("additions[{i}]");
            let fitted = additions.get(i).ok_or_else(|| wrong(path.as_str(), "the stored run has no such series"))?;
            stored.same_as(fitted, &path)?;
        }
        Ok(Outcome {
            additions,
            method: Arc::new(Used::new(method)),
            run: Arc::new(run),
            provenance: self.provenance.provenance(&self.library),
            segments,
            calibrations,
            rows,
            contributions,
            verdicts,
            findings: findings(&self.findings, "findings")?,
        })
    }
}

impl SegmentForm {
    fn of(segment: &Segment) -> Self {
        SegmentForm {
            number: segment.number,
            first_position: segment.positions.0,
            last_position: segment.positions.1,
            fitted: segment.fitted.clone(),
            matrix: segment.matrix.as_deref().map(str::to_owned),
        }
    }

    fn segment(&self) -> Segment {
        Segment {
            number: self.number,
            positions: (self.first_position, self.last_position),
            fitted: self.fitted.clone(),
            matrix: self.matrix.as_deref().map(Arc::from),
        }
    }
}
