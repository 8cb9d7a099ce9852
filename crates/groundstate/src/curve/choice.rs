//! Which shape and noise model a set of standards supports.
//!
//! The simplest shape that no test rejects is taken. The tests are made in a fixed order, each at the same stated level
//! of significance, and the first that rejects a candidate is its reason; all the others stand beside it. Nothing here
//! can leave out an interior level: levels come off the ends, whole, and only when that is asked for.

use super::calibration::Calibration;
use super::noise::{Noise, Sigmas};
use super::noise_choice::{self, NoiseSuggestion};
use super::options::{FitOptions, OnBadCurve};
use super::points::{PointKind, Points};
use super::standards_error::StandardsError;
use super::{Shape, choice_tests};
use crate::error::{Error, Kind, Place, Problem};
use crate::finding::{Citation, Code, Finding, Subject};

const FAQ: Citation = Citation::transcribed("EPA SW-846 FAQ", "", "Detection and Quantitation");

/// A limit with the rule that sets it.
pub type Ruled<T> = (T, Citation);

/// Whether levels may be taken off the ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Ends {
    /// Every level stays.
    #[default]
    Keep,
    /// Candidates with up to this many levels less at either end are listed too.
    MayDrop {
        /// At the low end, above zero.
        low: usize,
        /// At the top.
        top: usize,
    },
}

/// The rules of a choice.
#[derive(Clone, Debug, PartialEq)]
pub struct ChoiceRules {
    /// Shapes to consider, in any order.
    pub shapes: Vec<Shape>,
    /// Noise models to consider, the preferred one first. One that the replicates suggest goes before the others.
    pub noises: Vec<Noise>,
    /// Level of significance of each test.
    pub alpha: f64,
    /// Least number of levels above zero for a straight line.
    pub least_for_line: Ruled<usize>,
    /// Least number of levels above zero for a curve.
    pub least_for_curve: Ruled<usize>,
    /// The rule that admits no curve, where there is one.
    pub line_only: Option<Citation>,
    /// Largest percent error of a level.
    pub percent_error: Option<Ruled<f64>>,
    /// Largest percent error of the lowest level above zero, where it differs.
    pub percent_error_lowest: Option<Ruled<f64>>,
    /// Largest relative standard error in percent.
    pub relative_standard_error: Option<Ruled<f64>>,
    /// Smallest correlation coefficient, of an unweighted line with free intercept; it passes where it is reached.
    pub correlation: Option<Ruled<f64>>,
    /// Smallest coefficient of determination, of every other shape and noise model with free intercept, and of such a line
    /// where [`ChoiceRules::correlation`] sets nothing; it passes where it is reached.
    pub determination: Option<Ruled<f64>>,
    /// Whether levels may be taken off the ends.
    pub ends: Ends,
    /// Everything else of the fit; its shape and noise are not used.
    pub fit: FitOptions,
}

impl Default for ChoiceRules {
    /// Line before quadratic, equal scatter, alpha 0.01 (ISO 8466-1), three levels for a line, six for a curve (SW-846
    /// 8000D), percent error at most 30, at the lowest level 50.
    fn default() -> Self {
        let curves = Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "11.5");
        let errors = Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "11.5.4.1");
        ChoiceRules {
            shapes: vec![Shape::Line, Shape::Quadratic],
            noises: vec![Noise::Equal],
            alpha: 0.01,
            least_for_line: (3, Citation::laboratory()),
            least_for_curve: (6, curves),
            line_only: None,
            percent_error: Some((30.0, errors.clone())),
            percent_error_lowest: Some((50.0, errors)),
            relative_standard_error: None,
            correlation: None,
            determination: None,
            ends: Ends::Keep,
            fit: FitOptions::default(),
        }
    }
}

impl ChoiceRules {
    fn check(&self) -> Result<(), Error> {
        let mut problems = Vec::new();
        let mut wrong = |name: &str, what: String| problems.push(Problem::new(Place::named(name), what));
        if self.shapes.is_empty() {
            wrong("shapes", "there is no shape to choose from".to_owned());
        }
        if self.noises.is_empty() {
            wrong("noises", "there is no noise model to choose from".to_owned());
        }
        if !(self.alpha > 0.0 && self.alpha < 1.0) {
            wrong("alpha", format!("a level of significance lies between 0 and 1, got {}", self.alpha));
        }
        for (name, limit) in [
            ("percent_error", &self.percent_error),
            ("percent_error_lowest", &self.percent_error_lowest),
            ("relative_standard_error", &self.relative_standard_error),
        ] {
            if let Some((most, _)) = limit.as_ref().filter(|(most, _)| most.is_nan() || *most <= 0.0) {
                wrong(name, format!("{most} is not a limit above 0"));
            }
        }
        for (name, limit) in [("correlation", &self.correlation), ("determination", &self.determination)] {
            if let Some((least, _)) = limit.as_ref().filter(|(least, _)| !(0.0..=1.0).contains(least)) {
                wrong(name, format!("{least} is not a coefficient from 0 to 1"));
            }
        }
        Error::unless_empty(Kind::Argument, problems, ())
    }

    /// The least number of levels above zero for `shape`.
    pub(super) fn least(&self, shape: Shape) -> &Ruled<usize> {
        if shape.is_curved() { &self.least_for_curve } else { &self.least_for_line }
    }
}

/// What became of one test of one candidate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TestOutcome {
    /// It does not speak against the candidate.
    Passed,
    /// It rejects the candidate.
    Rejected,
    /// The data do not allow it. Not a pass.
    NotEvaluated,
    /// A figure to look at; it decides nothing.
    Information,
}

impl TestOutcome {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            TestOutcome::Passed => "passed",
            TestOutcome::Rejected => "rejected",
            TestOutcome::NotEvaluated => "not_evaluated",
            TestOutcome::Information => "information",
        }
    }
}

/// One test of one candidate.
#[derive(Clone, Debug, PartialEq)]
pub struct ChoiceTest {
    /// Stable name, in `snake_case`: `admitted`, `standards`, `fitted`, `rising`, `intercept`, `mandel`, `lack_of_fit`,
    /// `correlation` or `determination`, `percent_error`, `relative_standard_error`, `aicc`, in this order.
    pub name: &'static str,
    /// Test statistic or figure.
    pub figure: Option<f64>,
    /// Probability of such a figure if there is nothing wrong.
    pub p: Option<f64>,
    /// What the figure, or p where there is one, is held against.
    pub limit: Option<f64>,
    /// What became of it.
    pub outcome: TestOutcome,
    /// The rule that it follows.
    pub citation: Option<Citation>,
}

/// One shape with one noise model over one stretch of the levels.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Shape.
    pub shape: Shape,
    /// Noise model.
    pub noise: Noise,
    /// Levels taken off the low end and off the top, by concentration.
    pub dropped: [Vec<f64>; 2],
    /// The fit; a curve that cannot serve is flagged. `None` where it could not be made, with the reason.
    pub calibration: Result<Calibration, Error>,
    /// Every test, in order.
    pub tests: Vec<ChoiceTest>,
    /// The first test that rejects it.
    pub rejected_by: Option<&'static str>,
    /// Why it was taken or not, in one sentence.
    pub reason: String,
}

impl Candidate {
    /// The test called `name`.
    pub fn test(&self, name: &str) -> Option<&ChoiceTest> {
        self.tests.iter().find(|test| test.name == name)
    }

    /// How many levels it does without.
    fn without(&self) -> usize {
        self.dropped.iter().map(Vec::len).sum()
    }
}

/// A choice with everything that it rests on.
#[derive(Clone, Debug)]
pub struct Choice {
    /// The candidates, best first: those that no test rejects before the others, simpler shapes before curves, more
    /// levels before fewer, noise models in order of preference.
    pub candidates: Vec<Candidate>,
    /// What replicate readings say of the noise model; `None` without replicates.
    pub noise: Option<NoiseSuggestion>,
    /// Level of significance of each test.
    pub alpha: f64,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

impl Choice {
    /// The candidate that was taken; `None` where every one was rejected.
    pub fn taken(&self) -> Option<&Candidate> {
        self.candidates.first().filter(|candidate| candidate.rejected_by.is_none())
    }
}

/// Ranks what `rules` admits over `points`. Readings are averaged by level first: a shape is judged by how standards lie,
/// and readings of one standard are not independent witnesses of that.
///
/// ```
/// use groundstate::curve::{ChoiceRules, Points, Shape, choose};
/// let x = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
/// let y = [0.0561, 0.1109, 0.2168, 0.3167, 0.4118, 0.5007, 0.5851];
/// let choice = choose(&Points::from_readings(&x, &y)?, &ChoiceRules::default())?;
/// assert_eq!(choice.taken().map(|candidate| candidate.shape), Some(Shape::Quadratic));
/// assert_eq!(choice.candidates[1].rejected_by, Some("mandel"));
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// Rules that cannot be: no shape, no noise model, a level of significance that is none; standard deviations given
/// reading by reading. A candidate that cannot be fitted is listed with its reason and is no error.
pub fn choose(points: &Points, rules: &ChoiceRules) -> Result<Choice, Error> {
    rules.check()?;
    let mut findings = Vec::new();
    let suggestion = noise_choice::of_points(points, rules.alpha)?;
    let suggestion = Some(suggestion).filter(|suggestion| suggestion.lowest_and_top.is_ok());
    let averaged = match points.kind() {
        PointKind::Standards => points.clone(),
        PointKind::Readings => {
            let averaged = Points::standards_by_level(points.concentrations(), points.signals())?;
            if averaged.len() < points.len() {
                refuse_single_sigmas(rules)?;
                if rules.fit.standards_error != StandardsError::Negligible {
                    let what = "errors of the standards go with standards, but single readings are given";
                    let error = Error::argument("x_uncertainty", what);
                    return Err(error.help("give one point per standard: its mean, or its readings as a row"));
                }
                let finding = Finding::new(Code::ChoiceOverStandards, Subject::Calibration(1));
                findings.push(finding.with("readings", points.len()).with("standards", averaged.len()));
            }
            averaged
        }
    };
    let noises = preferred(&rules.noises, suggestion.as_ref());
    let mut candidates = Vec::new();
    for dropped in stretches(&averaged, rules.ends) {
        for shape in &rules.shapes {
            for noise in &noises {
                candidates.push(candidate(&averaged, rules, *shape, noise, dropped.clone()));
            }
        }
    }
    let rank = |candidate: &Candidate| {
        let noise = noises.iter().position(|noise| *noise == candidate.noise).unwrap_or(noises.len());
        (
            candidate.rejected_by.is_some(),
            simplicity(candidate.shape),
            candidate.without(),
            candidate.dropped[1].len(),
            noise,
        )
    };
    candidates.sort_by_key(rank);
    let taken = candidates.first().filter(|first| first.rejected_by.is_none()).map(|first| first.shape);
    for (i, candidate) in candidates.iter_mut().enumerate() {
        if candidate.rejected_by.is_none() {
            candidate.reason = match taken {
                Some(_) if i == 0 => "the simplest shape that no test rejects".to_owned(),
                Some(shape) if shape != candidate.shape => {
                    format!("no test rejects it, but {} is simpler", words(shape))
                }
                _ => "no test rejects it, but fewer levels or another noise model are preferred less".to_owned(),
            };
        }
    }
    let mut choice = Choice { candidates, noise: suggestion, alpha: rules.alpha, findings };
    let noticed = noticed(&choice, rules);
    choice.findings.extend(noticed);
    Ok(choice)
}

/// From simple to bent. A shape with a physical reason stands before one that merely follows.
const fn simplicity(shape: Shape) -> u8 {
    match shape {
        Shape::LineThroughZero => 0,
        Shape::Line => 1,
        Shape::StrayLight => 2,
        Shape::QuadraticThroughZero => 3,
        Shape::Quadratic => 4,
    }
}

/// The shape's name in words.
pub(super) fn words(shape: Shape) -> String {
    shape.name().replace('_', " ")
}

/// The noise models in order of preference, each once.
fn preferred(noises: &[Noise], suggestion: Option<&NoiseSuggestion>) -> Vec<Noise> {
    let suggested = suggestion.and_then(|suggestion| suggestion.noise.as_ref());
    let mut ordered: Vec<Noise> = noises.iter().filter(|noise| Some(*noise) == suggested).take(1).cloned().collect();
    for noise in noises {
        if !ordered.contains(noise) {
            ordered.push(noise.clone());
        }
    }
    ordered
}

fn refuse_single_sigmas(rules: &ChoiceRules) -> Result<(), Error> {
    for noise in &rules.noises {
        if let Noise::KnownSigma(sigmas) | Noise::RelativeSigma(sigmas) = noise
            && sigmas.as_slice().len() > 1
        {
            let what = "standard deviations are given reading by reading, but a shape is chosen over standards";
            return Err(
                Error::argument("noises", what).help("give one point per standard, with its standard deviation")
            );
        }
    }
    Ok(())
}

/// The levels that may go: none, then every admitted number off either end.
fn stretches(points: &Points, ends: Ends) -> Vec<[Vec<f64>; 2]> {
    let levels: Vec<f64> = points.levels().into_iter().filter(|x| *x > 0.0).collect();
    let (low, top) = match ends {
        Ends::Keep => (0, 0),
        Ends::MayDrop { low, top } => (low, top),
    };
    let mut stretches = Vec::new();
    for from_low in 0..=low.min(levels.len()) {
        for from_top in 0..=top.min(levels.len() - from_low) {
            let (kept, upper) = levels.split_at(levels.len() - from_top);
            stretches.push([kept.get(..from_low).unwrap_or_default().to_vec(), upper.to_vec()]);
        }
    }
    stretches
}

fn candidate(points: &Points, rules: &ChoiceRules, shape: Shape, noise: &Noise, dropped: [Vec<f64>; 2]) -> Candidate {
    let gone = |x: f64| dropped.iter().flatten().any(|level| level.total_cmp(&x).is_eq());
    let keep = |i: usize| points.concentrations().get(i).is_some_and(|x| !gone(*x));
    let kept = points.filtered(keep);
    let options = FitOptions {
        shape,
        noise: filtered_noise(noise, points.len(), keep),
        standards_error: rules.fit.standards_error.filtered(keep),
        on_bad_curve: OnBadCurve::Flag,
        ..rules.fit.clone()
    };
    let calibration = if kept.is_empty() {
        Err(Error::argument("concentration", "no level is left"))
    } else {
        Calibration::fit(&kept, &options)
    };
    let tests = choice_tests::of(&calibration, &kept, shape, rules);
    let rejecting = tests.iter().find(|test| test.outcome == TestOutcome::Rejected);
    let reason = match (rejecting, &calibration) {
        (Some(test), Err(error)) if test.name == "fitted" => format!("it could not be fitted: {error}"),
        (Some(test), _) => choice_tests::sentence(test, shape),
        (None, _) => String::new(),
    };
    let rejected_by = rejecting.map(|test| test.name);
    Candidate { shape, noise: noise.clone(), dropped, calibration, rejected_by, tests, reason }
}

/// Standard deviations point by point go with their points.
fn filtered_noise(noise: &Noise, points: usize, keep: impl Fn(usize) -> bool) -> Noise {
    let each = |sigmas: &Sigmas| {
        let kept: Vec<f64> = (0..points).filter(|i| keep(*i)).map(|i| sigmas.get(i)).collect();
        Sigmas::new(&kept).ok()
    };
    let filtered = match noise {
        Noise::KnownSigma(sigmas) if sigmas.as_slice().len() == points => each(sigmas).map(Noise::KnownSigma),
        Noise::RelativeSigma(sigmas) if sigmas.as_slice().len() == points => each(sigmas).map(Noise::RelativeSigma),
        _ => None,
    };
    filtered.unwrap_or_else(|| noise.clone())
}

fn noticed(choice: &Choice, rules: &ChoiceRules) -> Vec<Finding> {
    let about = |code| Finding::new(code, Subject::Calibration(1));
    let mut findings = Vec::new();
    if let Some(citation) = &rules.line_only {
        findings.push(about(Code::LineOnly).citing(citation.clone()));
    }
    let too_few = choice.candidates.iter().find(|candidate| {
        candidate.without() == 0
            && candidate.shape.is_curved()
            && candidate.test("standards").is_some_and(|test| test.outcome == TestOutcome::Rejected)
    });
    if let Some(found) = too_few.and_then(|candidate| candidate.test("standards")).and_then(|test| test.figure) {
        let (least, citation) = &rules.least_for_curve;
        let finding = about(Code::TooFewForCurve).with("least", *least).with("found", found);
        findings.push(finding.citing(citation.clone()));
    }
    if let Some(suggestion) = &choice.noise {
        let in_use = choice.candidates.first().map_or(&Noise::Equal, |candidate| &candidate.noise);
        findings.push(suggestion.finding(in_use));
    }
    let Some(taken) = choice.taken() else {
        findings.push(about(Code::NoShapeAdequate).with("count", choice.candidates.len()));
        return findings;
    };
    if taken.shape.is_curved() {
        findings.push(about(Code::CurveInAbsorption).with("shape", words(taken.shape)).citing(FAQ));
    }
    findings.extend(ends_moved(taken, rules));
    if choice.candidates.len() > 1 {
        findings
            .push(about(Code::ChoiceUncertainty).with("count", choice.candidates.len()).with("alpha", choice.alpha));
    }
    findings
}

/// Taking levels off an end moves the limit at that end.
fn ends_moved(taken: &Candidate, rules: &ChoiceRules) -> Vec<Finding> {
    let Ok(calibration) = &taken.calibration else { return Vec::new() };
    let unit = rules.fit.unit.name();
    let citation = Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "11.5.6");
    let ends = [("low end", "reporting limit", calibration.lowest()), ("top", "upper limit", calibration.top())];
    let moved = taken.dropped.iter().zip(ends).filter(|(dropped, _)| !dropped.is_empty());
    moved
        .map(|(dropped, (end, limit, at))| {
            let levels: Vec<String> = dropped.iter().map(f64::to_string).collect();
            Finding::new(Code::EndLevelDropped, Subject::Calibration(1))
                .with("levels", levels.join(", "))
                .with("unit", unit)
                .with("end", end)
                .with("limit", limit)
                .with("at", at)
                .citing(citation.clone())
        })
        .collect()
}
