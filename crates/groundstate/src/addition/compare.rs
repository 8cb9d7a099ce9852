//! Slopes and intercepts of two calibrations: is the response in the matrix that of the external standards?

use super::fieller::Ratio;
use super::sources::Move;
use crate::curve::{Calibration, FTest, Noise, ScaleFrom};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Contributions, Coverage, Dof, IntervalSet, Key, SourceKind};
use crate::finding::{Citation, Code, Finding, Subject};
use crate::numeric::distribution::{fisher_f, student_t};

/// How the scatter of two calibrations enters a test of their coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum VarianceModel {
    /// Each calibration keeps its own residual variance; the degrees of freedom are joined by Welch-Satterthwaite.
    #[default]
    Welch,
    /// Both have the same residual variance, estimated from the residuals of both: n1 + n2 - 4 degrees of freedom for
    /// two lines. Only for two unweighted fits. The square of t is the F of the extra sum of squares.
    Pooled,
}

impl VarianceModel {
    /// Every model.
    pub const ALL: [VarianceModel; 2] = [VarianceModel::Welch, VarianceModel::Pooled];

    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            VarianceModel::Welch => "welch",
            VarianceModel::Pooled => "pooled",
        }
    }
}

/// A t test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TTest {
    /// Difference over its standard uncertainty.
    pub statistic: f64,
    /// Two-sided probability of a statistic at least as far from zero if there is no difference.
    pub p: f64,
    /// Degrees of freedom.
    pub dof: Dof,
}

/// A difference between two calibrations, the second less the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The difference.
    pub value: f64,
    /// Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from.
    pub u: f64,
    /// Its effective degrees of freedom.
    pub dof: Dof,
    /// The test of no difference; `None` where there is no standard uncertainty to test against.
    pub test: Option<TTest>,
}

/// The ratio of two slopes at zero, in common units.
#[derive(Clone, Debug, PartialEq)]
pub struct SlopeRatio {
    /// Slope in the matrix over that of the external calibration.
    pub value: f64,
    /// Its standard uncertainty; NaN where a fit leaves no scatter to estimate it from.
    pub u: f64,
    /// Its effective degrees of freedom.
    pub dof: Dof,
    /// The test of equal slopes.
    pub test: Option<TTest>,
    /// What was noticed.
    pub findings: Vec<Finding>,
    ratio: Ratio,
}

impl SlopeRatio {
    /// Matrix effect in per cent, 100 (ratio - 1), with its standard uncertainty: negative where the matrix depresses
    /// the response.
    pub fn percent(&self) -> (f64, f64) {
        (100.0 * (self.value - 1.0), 100.0 * self.u)
    }

    /// Coverage set of the ratio (Fieller).
    pub fn interval(&self, coverage: Coverage) -> IntervalSet {
        match self.dof.coverage_factor(coverage) {
            k if k.is_finite() => self.ratio.set(k),
            _ => IntervalSet::Whole,
        }
    }
}

/// A matrix-matched calibration against the external one.
#[derive(Clone, Debug, PartialEq)]
pub struct MatrixComparison {
    /// Slope at zero in the matrix less that of the external calibration, signal per unit of the external one.
    pub slope: Difference,
    /// Intercept in the matrix less that of the external calibration, in units of the signal; `None` where a curve is
    /// fixed at zero.
    pub intercept: Option<Difference>,
    /// The matrix effect: [`SlopeRatio::percent`].
    pub effect: SlopeRatio,
    /// Whose residual variances entered, and how.
    pub model: VarianceModel,
    /// The larger residual variance over the smaller, two-sided: what speaks against pooling. `None` where they are
    /// not both estimated from residuals.
    pub variances: Option<FTest>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Compares a matrix-matched calibration with the external one: common slope, common intercept (each by a t test on
/// its own, the other coefficient being free), and the matrix effect 100 (b_matrix / b_external - 1) per cent.
///
/// # Errors
/// Units that do not go together; a slope that does not rise; [`VarianceModel::Pooled`] for weighted fits or fits with
/// known or replicate variances.
pub fn compare(external: &Calibration, matrix: &Calibration, model: VarianceModel) -> Result<MatrixComparison, Error> {
    let pooled = match model {
        VarianceModel::Welch => None,
        VarianceModel::Pooled => Some(pool(external, matrix)?),
    };
    let per = external.unit().factor_to(matrix.unit())?;
    let reference = Slope { value: rising(external)?, moves: moves(external, pooled.as_ref()) };
    let found = Slope { value: rising(matrix)?, moves: moves(matrix, pooled.as_ref()) }.times(per);
    let slope = found.less(&reference, |one| one.slope, found.value - reference.value);
    let both_free = !external.shape().through_zero() && !matrix.shape().through_zero();
    let intercept = both_free.then(|| found.less(&reference, |one| one.intercept, matrix.kernel.a - external.kernel.a));
    let mut effect = found.over(&reference);
    effect.test = slope.test;
    let mut findings = Vec::new();
    if let Some(test) = slope.test.filter(|test| test.p < 0.05) {
        let (percent, u) = effect.percent();
        let finding = Finding::new(Code::MatrixSlopeDiffers, Subject::Run).with("percent", percent).with("u", u);
        findings.push(finding.with("statistic", test.statistic).with("p", test.p));
    }
    if let Some((difference, test)) = intercept.and_then(|one| Some((one.value, one.test.filter(|t| t.p < 0.05)?))) {
        let finding = Finding::new(Code::MatrixInterceptDiffers, Subject::Run).with("difference", difference);
        findings.push(finding.with("statistic", test.statistic).with("p", test.p));
    }
    Ok(MatrixComparison { slope, intercept, effect, model, variances: variances(external, matrix), findings })
}

/// The slope of an addition series, whose sources are `series`, over that of `external`.
pub(super) fn series_to_external(
    line: &Calibration,
    series: &[Move],
    external: &Calibration,
) -> Result<SlopeRatio, Error> {
    /// Slopes further apart ask for caution (from memory: 7000A and the 200 series; 7000B prints no figure).
    const MOST_PERCENT: f64 = 20.0;
    let per = line.unit().factor_to(external.unit())?;
    let reference = Slope { value: rising(external)?, moves: moves(external, None) }.times(per);
    let found = Slope { value: line.kernel.b, moves: series.to_vec() };
    let mut ratio = found.over(&reference);
    let percent = 100.0 * (ratio.value - 1.0);
    if percent.abs() > MOST_PERCENT * (1.0 + 1e-12) {
        let finding = Finding::new(Code::SlopeRatioFar, Subject::Run).with("percent", percent);
        let section = "method of standard additions";
        let citation = Citation::unverified("SW-846 Method 7000A; EPA-600/4-79-020 (200 series)", "", section);
        ratio.findings.push(finding.with("most", MOST_PERCENT).citing(citation.borrowed()));
    }
    if let Some(test) = ratio.test.filter(|test| test.p < 0.05) {
        let finding = Finding::new(Code::SlopeNotSame, Subject::Run).with("ratio", ratio.value).with("u", ratio.u);
        let finding = finding.with("statistic", test.statistic).with("p", test.p);
        ratio.findings.push(finding.citing(super::validity::m7000b("9.10.3")));
    }
    Ok(ratio)
}

/// A slope at zero with what moves it.
struct Slope {
    value: f64,
    moves: Vec<Move>,
}

impl Slope {
    /// The slope per another unit of concentration.
    fn times(mut self, factor: f64) -> Slope {
        self.value *= factor;
        self.moves.iter_mut().for_each(|one| one.slope *= factor);
        self
    }

    /// u and dof of `left` times what moves this one and `right` times what moves the `other`; a source of both counts
    /// once, with its sum.
    fn joined(&self, left: f64, other: &Slope, right: f64, of: fn(&Move) -> f64) -> (f64, Dof) {
        let mut table = Contributions::default();
        let mut row = Vec::new();
        for (slope, factor) in [(self, left), (other, right)] {
            for one in &slope.moves {
                let variance = table.variance(one.variance.0.clone(), one.variance.1);
                row.push((table.shared(one.key.clone(), one.kind, variance), factor * of(one)));
            }
        }
        table.push_row(row);
        let dof = table.dof(0);
        (if dof.get() > 0.0 { table.u(0) } else { f64::NAN }, dof)
    }

    /// This coefficient less the `other`, whose difference is `value`.
    fn less(&self, other: &Slope, of: fn(&Move) -> f64, value: f64) -> Difference {
        let (u, dof) = self.joined(1.0, other, -1.0, of);
        let test = (u > 0.0).then(|| {
            let statistic = value / u;
            TTest { statistic, p: (2.0 * student_t::sf(statistic.abs(), dof.get())).min(1.0), dof }
        });
        Difference { value, u, dof, test }
    }

    /// This slope over the `other`.
    fn over(&self, other: &Slope) -> SlopeRatio {
        let value = self.value / other.value;
        let slope = |one: &Move| one.slope;
        let (u, dof) = self.joined(1.0 / other.value, other, -value / other.value, slope);
        let variance = |moves: &[Move]| moves.iter().map(|one| one.slope * one.slope).sum::<f64>();
        let shared = self
            .moves
            .iter()
            .flat_map(|one| other.moves.iter().filter(|two| two.key == one.key).map(|two| one.slope * two.slope));
        let ratio = Ratio {
            numerator: self.value,
            denominator: other.value,
            variances: [variance(&self.moves), variance(&other.moves)],
            covariance: shared.sum(),
        };
        let test = self.less(other, slope, self.value - other.value).test;
        SlopeRatio { value, u, dof, test, findings: Vec::new(), ratio }
    }
}

/// The slope at zero of a calibration that can be compared.
fn rising(calibration: &Calibration) -> Result<f64, Error> {
    let b = calibration.kernel.b;
    if calibration.serves() && b > 0.0 && b.is_finite() {
        return Ok(b);
    }
    let problem = Problem::new(Place::named("calibration"), "the calibration does not rise from zero");
    Err(Error::new(Kind::NotAvailable, problem.help("compare calibrations that can serve")))
}

/// Residual variance of both fits together.
struct Pooled {
    sd: f64,
    dof: Dof,
}

fn pool(external: &Calibration, matrix: &Calibration) -> Result<Pooled, Error> {
    if [external, matrix].iter().any(|one| one.options().noise != Noise::Equal) {
        let what = "residual variances are pooled only for two unweighted fits";
        return Err(Error::argument("variance", what).help("use welch"));
    }
    let dof = external.residual_dof() + matrix.residual_dof();
    let squares = external.sum_of_squares() + matrix.sum_of_squares();
    let sd = if dof > 0 { (squares / dof as f64).sqrt() } else { 1.0 };
    Ok(Pooled { sd, dof: Dof::count(dof) })
}

fn variances(external: &Calibration, matrix: &Calibration) -> Option<FTest> {
    let of = |one: &Calibration| {
        let scale = one.scale();
        (scale.estimate == ScaleFrom::Residuals && scale.dof.get() > 0.0).then_some((scale.variance, scale.dof.get()))
    };
    let (a, b) = (of(external)?, of(matrix)?);
    let (larger, smaller) = if a.0 >= b.0 { (a, b) } else { (b, a) };
    let statistic = larger.0 / smaller.0;
    if statistic.is_nan() {
        return None;
    }
    let p = if statistic.is_finite() { (2.0 * fisher_f::sf(statistic, larger.1, smaller.1)).min(1.0) } else { 0.0 };
    Some(FTest { statistic, p, numerator_dof: larger.1, denominator_dof: smaller.1 })
}

/// What moves intercept and slope at zero of a calibration, from the scatter, its zero, and its stocks.
fn moves(calibration: &Calibration, pooled: Option<&Pooled>) -> Vec<Move> {
    let (id, scale, top) = (calibration.id(), calibration.scale(), calibration.top());
    let (sd, variance) = match pooled {
        Some(pooled) => (pooled.sd, (Key::Named("pooled residuals".into()), pooled.dof)),
        None => {
            let key = match scale.estimate {
                ScaleFrom::Residuals => Key::Residual(id),
                ScaleFrom::Replicates => Key::Within(id),
                ScaleFrom::Known => Key::Known,
            };
            // Without a degree of freedom: unit weight on an estimate from nothing, so that no u is given.
            (if scale.dof.get() > 0.0 { scale.variance.sqrt() } else { 1.0 }, (key, scale.dof))
        }
    };
    // Derivative at zero by five points: exact for polynomials, and to 1e-8 of itself for the curve with stray light.
    let h = top / 64.0;
    let slope = |of: &dyn Fn(f64) -> f64| (8.0 * (of(h) - of(-h)) - (of(2.0 * h) - of(-2.0 * h))) / (12.0 * h);
    let mut moves = Vec::new();
    for part in 0..calibration.shape().parameters() {
        let at = |x: f64| sd * calibration.kernel.parts(x).get(part).copied().unwrap_or(0.0);
        moves.push(Move {
            key: Key::Calibration(id, part as u8 + 1),
            kind: SourceKind::Calibration,
            variance: variance.clone(),
            intercept: at(0.0),
            slope: slope(&at),
            found: 0.0,
        });
    }
    let known = (Key::Known, Dof::INFINITE);
    let zero = calibration.options().zeroing.u();
    if zero > 0.0 {
        let shift = |x: f64| -zero * calibration.kernel.shift(x);
        let (intercept, slope) = if calibration.shape().through_zero() { (0.0, slope(&shift)) } else { (-zero, 0.0) };
        let (key, variance) = (Key::Zero(id), known.clone());
        moves.push(Move { key, kind: SourceKind::Zero, variance, intercept, slope, found: 0.0 });
    }
    for stock in calibration.options().stocks.iter().filter(|stock| stock.relative_u > 0.0) {
        let slope = -calibration.kernel.b * stock.relative_u;
        let (key, variance) = (stock.key(id), known.clone());
        moves.push(Move { key, kind: SourceKind::Stock, variance, intercept: 0.0, slope, found: 0.0 });
    }
    moves
}
