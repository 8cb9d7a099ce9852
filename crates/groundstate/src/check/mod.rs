//! One judgement per check, what failed checks condemn, and which required checks are missing.
//!
//! [`judge`] takes plain facts on each position and the criteria, and gives every [`Check`] with its figure, limit,
//! verdict and rule, the condemned stretches, and the findings. It knows neither tables nor method files.
//!
//! ```
//! use groundstate::check::{MatrixStep, MatrixTest, MatrixTests, matrix_decision, relative_percent_difference};
//!
//! // Two portions of one sample, 7000B 9.7.
//! assert_eq!(relative_percent_difference(10.0, 6.0), Some(50.0));
//! // A matrix spike failed: the digest is spiked next (7000B 9.8).
//! let tests = MatrixTests { matrix_spike: MatrixTest::Fail, ..MatrixTests::default() };
//! assert_eq!(matrix_decision(&tests).next, MatrixStep::SpikeDigest);
//! ```

mod batch;
mod blank;
mod bracket;
mod calibration;
mod compare;
mod conformity;
mod dilution;
mod duplicate;
mod findings;
mod judgement;
mod matrix;
mod measured;
mod recovery;
mod required;
mod spike;
#[cfg(test)]
mod tests;
mod verdict;

pub use bracket::{Condemnation, Reach};
pub(crate) use calibration::accept_by;
pub use calibration::{CalibrationFigures, StandardReadings, accept};
pub use conformity::{Conformity, DECISION_RULES, Fitness, conformity};
pub use duplicate::relative_percent_difference;
pub use matrix::{MatrixDecision, MatrixEffect, MatrixStep, MatrixTest, MatrixTests, matrix_decision};
pub use measured::{Added, Detection, Measured, Parent};
pub use verdict::{Check, Figure, Gap, Limit, Reason, Scale, Statistic, Verdict};

pub use crate::criteria::CheckKind;

use std::collections::{BTreeMap, BTreeSet};

use crate::criteria::{Criteria, ProfileName};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Code, Finding, Subject};
use judgement::Positions;

/// What the checks of a run say as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Standing {
    /// Every required check is there, evaluated and passed, and no other one failed.
    Complete,
    /// Nothing failed, but a required check is missing, or a check that should have been evaluable was not.
    Incomplete,
    /// A check failed.
    Failed,
}

impl Standing {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Standing::Complete => "complete",
            Standing::Incomplete => "incomplete",
            Standing::Failed => "failed",
        }
    }

    /// The exit status of a program that reduced the run: 0 only where it is complete.
    pub const fn exit_status(self) -> u8 {
        match self {
            Standing::Complete => 0,
            Standing::Incomplete | Standing::Failed => 1,
        }
    }
}

/// The judgement on a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Calibrations first, then by position, then what is missing. Findings number them from 1.
    pub checks: Vec<Check>,
    /// What failed instrument checks condemn.
    pub condemnations: Vec<Condemnation>,
    /// Positions whose results cannot be used, ascending: condemned and not released, or of a calibration that was
    /// not accepted.
    pub condemned: BTreeSet<u32>,
    /// Positions that a failed or missing required check concerns, ascending.
    pub incomplete: BTreeSet<u32>,
    /// What there is to say, in order of the checks.
    pub findings: Vec<Finding>,
}

impl Judged {
    /// What the checks say as a whole. A check that its own rule does not apply to (a native content too high for the
    /// spike, too little analyte for a dilution) stands in nobody's way unless it is required.
    pub fn standing(&self) -> Standing {
        let worst = self.checks.iter().map(|check| match &check.verdict {
            Verdict::Pass => Standing::Complete,
            Verdict::Fail if check.replaced_by.is_some() => Standing::Complete,
            Verdict::Fail => Standing::Failed,
            Verdict::Missing(_) => Standing::Incomplete,
            Verdict::NotEvaluated(reason) if reason.is_by_rule() => Standing::Complete,
            Verdict::NotEvaluated(_) => Standing::Incomplete,
        });
        worst.max().unwrap_or(Standing::Complete)
    }

    /// Whether the result at `position` may be judged for conformity.
    pub fn fitness(&self, position: u32) -> Fitness {
        if self.condemned.contains(&position) {
            Fitness::Condemned
        } else if self.incomplete.contains(&position) {
            Fitness::Incomplete
        } else {
            Fitness::Fit
        }
    }
}

/// Judges every check of a run, in this order: calibrations, instrument checks, what these condemn, batch checks
/// (which a condemned position cannot serve), and what is missing. The order of `measured` does not matter.
///
/// ```
/// use groundstate::check::{Measured, Verdict, judge};
/// use groundstate::criteria::Criteria;
/// use groundstate::estimate::{Dof, Estimate, Status};
/// use groundstate::run::Role;
/// use groundstate::unit::Unit;
///
/// let found = Estimate { value: 1.12, u: 0.01, dof: Dof::INFINITE, status: Status::InRange };
/// let mut ccv = Measured::new(7, Role::Ccv, "CCV", 1, found, Unit::MilligramPerLitre);
/// ccv.nominal = Some(1.0);
/// let judged = judge(&[ccv], &[], &Criteria::default())?;
/// assert_eq!(judged.checks[0].verdict, Verdict::Fail);
/// assert!(judged.findings.iter().any(|finding| finding.sentence().contains("recovery 112.0 %, required 90 to 110 %")));
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// A position that occurs twice, and criteria whose limits are the wrong way round.
pub fn judge(measured: &[Measured], calibrations: &[CalibrationFigures], criteria: &Criteria) -> Result<Judged, Error> {
    Error::unless_empty(Kind::Method, criteria.problems(), ())?;
    let mut by_number = BTreeMap::new();
    let mut twice = Vec::new();
    for position in measured {
        if by_number.insert(position.position, position).is_some() {
            let place = Place::named("position").labelled(&*position.label);
            twice.push(Problem::new(place, format!("position {} occurs twice", position.position)));
        }
    }
    Error::unless_empty(Kind::Argument, twice, ())?;
    let sequence: Vec<&Measured> = by_number.values().copied().collect();
    let mut positions = Positions::new(by_number, criteria);

    let mut figures: Vec<&CalibrationFigures> = calibrations.iter().collect();
    figures.sort_by_key(|one| one.segment);
    let mut checks: Vec<Check> = figures.iter().flat_map(|one| accept(one, criteria)).collect();
    let mut served: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for one in sequence.iter().filter(|one| one.is_analysis()) {
        served.entry(one.calibration.unwrap_or(one.segment)).or_default().push(one.position);
    }
    for check in checks.iter_mut().filter(|check| calibration::refuses(check)) {
        check.affects = served.get(&check.segment).cloned().unwrap_or_default();
        positions.condemned.extend(&check.affects);
    }

    let kind_at = |position: &Measured| required::kind_of(position.role);
    let instrument = sequence.iter().filter_map(|one| kind_at(one).filter(|kind| kind.is_instrument()).zip(Some(*one)));
    checks.extend(instrument.map(|(kind, position)| batch::instrument(&positions, position, kind)));
    bracket::retries(&mut checks, &sequence, criteria);
    let mut condemnations = bracket::condemnations(&mut checks, &sequence, criteria);
    let causes: Vec<Option<u32>> =
        condemnations.iter().map(|one| checks.get(one.check).and_then(|check| check.position)).collect();
    positions.condemned.extend(bracket::condemned(&condemnations));

    let batch = sequence.iter().filter_map(|one| kind_at(one).filter(|kind| kind.is_batch()).zip(Some(*one)));
    checks.extend(batch.flat_map(|(kind, position)| batch::checks(&positions, position, kind)));
    checks.sort_by_key(|check| (check.position.is_some(), check.position)); // stable: calibrations stay first
    checks.extend(required::gaps(&sequence, &checks, criteria));

    // Sorting moved the checks that condemn; each stands alone at its position.
    let places: BTreeMap<Option<u32>, usize> =
        checks.iter().enumerate().map(|(index, check)| (check.position, index)).collect();
    for (one, cause) in condemnations.iter_mut().zip(causes) {
        one.check = places.get(&cause).copied().unwrap_or(one.check);
    }
    let findings = said(&checks, &condemnations, &figures, &positions);
    let incomplete = incomplete(&checks, criteria);
    Ok(Judged { checks, condemnations, condemned: positions.condemned, incomplete, findings })
}

/// Positions that a missing check, or a failed one that is required, concerns.
fn incomplete(checks: &[Check], criteria: &Criteria) -> BTreeSet<u32> {
    let required =
        |kind: CheckKind| criteria.frequency(kind).required.is_some() || criteria.batch(kind).required.is_some();
    let concerned = checks.iter().filter(|check| match check.verdict {
        Verdict::Missing(_) => true,
        Verdict::Fail => required(check.kind) && check.replaced_by.is_none(),
        _ => false,
    });
    concerned.flat_map(|check| check.affects.iter().copied()).collect()
}

fn said(
    checks: &[Check],
    condemnations: &[Condemnation],
    figures: &[&CalibrationFigures],
    positions: &Positions,
) -> Vec<Finding> {
    let criteria = positions.criteria;
    let rules = criteria.bracket();
    let mut findings = Vec::new();
    if criteria.profile_name() == ProfileName::General {
        findings.push(Finding::new(Code::ProfileRequiresNothing, Subject::Run));
    }
    findings.extend(figures.iter().flat_map(|one| calibration::advice(one, criteria)));
    let by_check: BTreeMap<usize, &Condemnation> = condemnations.iter().map(|one| (one.check, one)).collect();
    for (index, check) in checks.iter().enumerate() {
        findings.extend(findings::of(index, check));
        findings.extend(findings::repeated(index, check, &rules));
        let caused = by_check.get(&index);
        findings.extend(caused.into_iter().flat_map(|one| findings::condemned(one, check, &rules)));
    }
    for effect in batch::matrix_effects(checks) {
        let Some(first) = effect.by.first().and_then(|index| checks.get(*index)) else { continue };
        let samples: Vec<u32> = positions.samples(&first.batch).map(|one| one.position).collect();
        findings.extend(findings::matrix(&effect, checks, &samples, &positions.without_additions(&first.batch)));
    }
    findings
}
