//! Readings turned back into concentrations with their uncertainty.

use std::num::NonZeroUsize;
use std::sync::{Arc, OnceLock};

use super::calibration::Calibration;
use super::fill::ConcentrationsOut;
use super::identity::Hasher;
use super::inversion;
use super::points::PointKind;
use super::readings::Readings;
use super::weighing::{ScaleFrom, VarianceFunction};
use crate::error::Error;
use crate::estimate::{
    Column, Contributions, Coverage, Dof, Estimate, Estimates, IntervalMethod, Intervals, Key, Part, SourceKind, Status,
};
use crate::finding::{Code, Finding, Subject};

/// One signal to be turned into a concentration. NaN is a missing reading.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    pub signal: f64,
    /// How many readings it is the mean of.
    pub count: u32,
    /// Its standard uncertainty in place of the noise model's, with its degrees of freedom.
    pub given: Option<(f64, Option<Dof>)>,
}

/// Variances of a signal by the estimate they rest on.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct ReadingParts {
    /// On the scatter about the curve, or whatever the calibration's scale rests on.
    pub scale: f64,
    /// On the scatter within standards; negative where the sample has more readings than the standards.
    pub within: f64,
    /// On the caller's word.
    pub given: f64,
    pub given_dof: Option<Dof>,
}

/// One row's computation.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    pub estimate: Estimate,
    slope: f64,
    pub reading: ReadingParts,
}

/// A concentration whose uncertainty rests on one estimate.
#[derive(Clone, Copy, Debug)]
pub(crate) struct OnScale {
    pub value: f64,
    pub status: Status,
    /// Those of the coefficients, then that of the reading.
    pub contributions: [f64; 4],
}

/// What moves a concentration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Cause {
    /// The fit's independent part of this index.
    Coefficient(usize),
    /// The zero of the signals.
    Zero,
    /// The stock of this index among those with an uncertainty.
    Stock(usize),
    /// The scatter of the reading, on the calibration's scale or else on the scatter within standards, and the part of
    /// its variance that rests on the latter too.
    Reading { on_scale: bool, within: Option<f64> },
    /// The reading, on a figure of its own.
    ReadingGiven,
}

/// Concentrations in the measured solution, with the calibration that they came from. Single rows are worked out
/// when they are asked for, all rows once.
#[derive(Clone, Debug)]
pub struct Concentrations {
    calibration: Arc<Calibration>,
    readings: Readings,
    all: OnceLock<All>,
}

/// The figures of all rows.
#[derive(Clone, Debug)]
struct All {
    value: Vec<f64>,
    u: Vec<f64>,
    dof: Column<Dof>,
    status: Vec<Status>,
}

impl Calibration {
    /// Turns `readings` into concentrations. u by first-order propagation (JCGM 100:2008 5.1.2), the coefficients
    /// and a reading that rest on the same residual variance sharing its degrees of freedom.
    ///
    /// # Errors
    /// Figures that do not go together; readings whose standard uncertainty the noise model does not give.
    pub fn concentration(self: &Arc<Self>, readings: &Readings) -> Result<Concentrations, Error> {
        Concentrations::new(Arc::clone(self), readings.clone())
    }

    /// Where `x` lies against the standards. Sign first, then place; ends belong to the range, with a guard of
    /// 1e-12 for the rounding of the inverse.
    fn place(&self, x: f64) -> Status {
        let [lowest, top] = self.guarded_range();
        if x < 0.0 {
            Status::Negative
        } else if x < lowest {
            Status::BelowLowest
        } else if x > top {
            Status::AboveTop
        } else {
            Status::InRange
        }
    }

    /// The lowest and the top standard with that guard.
    pub(super) fn guarded_range(&self) -> [f64; 2] {
        const GUARD: f64 = 1e-12;
        [self.lowest() * (1.0 - GUARD), self.top() * (1.0 + GUARD)]
    }

    /// Whether the noise model gives the standard uncertainty of a new reading.
    pub(crate) fn knows_new_readings(&self) -> Result<(), Error> {
        if self.variance != VarianceFunction::Unknown {
            return Ok(());
        }
        let what = format!("the noise model {} says nothing of a new reading", self.options().noise.name());
        Err(Error::argument("reading_u", what).help("give the standard uncertainty of the readings"))
    }

    /// The concentration of one reading.
    pub(crate) fn row(&self, one: &Reading) -> Row {
        let y = one.signal;
        let inverse = match (y.is_nan(), self.serves()) {
            (true, _) => Err(Status::NoReading),
            (false, false) => Err(Status::NotCalibrated),
            // A concentration too large for a number is none.
            (false, true) => self.kernel.invert(y).filter(|found| found.x.is_finite()).ok_or(Status::BeyondCurve),
        };
        let inverse = match inverse {
            Ok(inverse) => inverse,
            Err(status) => {
                let estimate = Estimate { value: f64::NAN, u: f64::NAN, dof: self.scale().dof, status };
                return Row { estimate, slope: f64::NAN, reading: ReadingParts::default() };
            }
        };
        let reading = self.reading_parts(one, inverse.x);
        let (variance, dof) = self.combined(&reading, inverse);
        let u = if dof.get() > 0.0 { variance.sqrt() / inverse.slope } else { f64::NAN };
        let estimate = Estimate { value: inverse.x, u, dof, status: self.place(inverse.x) };
        Row { estimate, slope: inverse.slope, reading }
    }

    /// The concentration of a signal that is the mean of `count` readings, where its uncertainty rests on the scale
    /// of the calibration alone: what [`Calibration::row`] and [`Calibration::contributions`] give.
    pub(crate) fn on_scale(&self, signal: f64, count: u32) -> Option<OnScale> {
        if !self.serves() || self.scale().dof.get() <= 0.0 {
            return None;
        }
        let inverse = self.kernel.invert(signal).filter(|found| found.x.is_finite())?;
        let reading = self.reading_parts(&Reading { signal, count, given: None }, inverse.x);
        if !(reading.scale > 0.0 && reading.within.abs() <= 0.0 && reading.given <= 0.0) {
            return None;
        }
        let sd = self.scale().variance.sqrt();
        let [p, q, r] = self.kernel.parts(inverse.x).map(|moved| -sd * moved / inverse.slope);
        let contributions = [p, q, r, reading.scale.sqrt() / inverse.slope];
        Some(OnScale { value: inverse.x, status: self.place(inverse.x), contributions })
    }

    /// Variance of a reading and of the curve at `at` together, in units of the signal, and its degrees of freedom.
    fn combined(&self, reading: &ReadingParts, at: super::kernel::Inverse) -> (f64, Dof) {
        let scale = self.scale();
        let on_scale = scale.variance * self.kernel.spread(at.x) + reading.scale;
        let known = self.known_signal_variance(at) + reading.given;
        let variance = on_scale + reading.within + known;
        let within_dof = self.within.map_or(Dof::INFINITE, |within| Dof::count(within.dof));
        let given_dof = reading.given_dof.unwrap_or(Dof::INFINITE);
        let dof = if scale.dof.get() > 0.0 {
            Dof::effective(
                [
                    (on_scale, scale.dof),
                    (reading.within, within_dof),
                    (known - reading.given, Dof::INFINITE),
                    (reading.given, given_dof),
                ]
                .into_iter(),
            )
        } else {
            Dof::NONE
        };
        (variance, if variance > 0.0 { dof } else { scale.dof })
    }

    /// Whether the noise model says how a reading at zero concentration scatters: relative weights hold the lowest
    /// standard's variance down to zero, which is no knowledge of a blank.
    pub(crate) fn knows_reading_at_zero(&self) -> bool {
        !self.options().noise.weighs_by_concentration() && self.variance != VarianceFunction::Unknown
    }

    /// Variance, in units of the signal, of the mean over `preparations` of the signal at `x` less the curve's signal
    /// at `reference`, and its degrees of freedom. The first of `readings` says how the signal is read; a standard
    /// uncertainty given with it is that of the mean.
    pub(crate) fn net_variance(&self, readings: &Readings, preparations: u32, x: f64, reference: f64) -> (f64, Dof) {
        let mut reading = self.reading_parts(&readings.at(0), x);
        reading.scale /= f64::from(preparations);
        reading.within /= f64::from(preparations);
        let slope = self.kernel.slope(reference);
        self.combined(&reading, super::kernel::Inverse { x: reference, slope })
    }

    /// Variance, in units of the signal, that the zero and the stock add: known standard uncertainties.
    fn known_signal_variance(&self, inverse: super::kernel::Inverse) -> f64 {
        let zero = self.options().zeroing.u() * (1.0 - self.kernel.shift(inverse.x));
        let stocks: f64 = self.options().stocks.iter().map(|stock| stock.relative_u * stock.relative_u).sum();
        zero * zero + stocks * (inverse.x * inverse.slope) * (inverse.x * inverse.slope)
    }

    /// The variance of the signal of a reading at concentration `x`.
    ///
    /// Where points are standards of m readings, the residual variance s² already holds their own scatter s_r²/m, so
    /// a sample of m' readings has s² - s_r²/m + s_r²/m', never less than s_r²/m'. Where the standards were read
    /// once each, their error and the readings' cannot be told apart and s² stands undivided.
    pub(super) fn reading_parts(&self, one: &Reading, x: f64) -> ReadingParts {
        let floor = self.options().resolution.map_or(0.0, |step| step * step / 12.0);
        if let Some((u, given_dof)) = one.given {
            return ReadingParts { given: (u * u).max(floor), given_dof, ..Default::default() };
        }
        let m = f64::from(one.count);
        let (s2, v) = (self.scale().variance, self.variance.at(x));
        let whole = self.points().kind() == PointKind::Standards && self.scale().estimate == ScaleFrom::Residuals;
        let parts = match self.within {
            Some(within) => {
                let extra = within.variance * (1.0 / m - within.mean_reciprocal);
                if s2 + extra < within.variance / m {
                    ReadingParts { within: within.variance / m * v, ..Default::default() }
                } else {
                    ReadingParts { scale: s2 * v, within: extra * v, ..Default::default() }
                }
            }
            None if whole && self.options().noise.scales_by_level() => {
                ReadingParts { scale: s2 * v, ..Default::default() }
            }
            None => ReadingParts { scale: s2 * v / m, ..Default::default() },
        };
        // `>=` is false for an unknown (NaN) scale too, which must stay unknown.
        if parts.scale + parts.within < floor {
            return ReadingParts { given: floor, ..Default::default() };
        }
        parts
    }

    /// The signed contributions (d value / d source) u(source) to a row, by what causes them; none for a row without
    /// a value. Without a degree of freedom the scatter stands for unit weight, on an estimate from nothing: then no u
    /// is given, neither of the row nor of what is made from it.
    pub(crate) fn contributions(&self, row: &Row, mut each: impl FnMut(Cause, f64)) {
        let nothing = self.scale().dof.get() <= 0.0;
        if !(row.estimate.status.has_value() && (nothing || row.estimate.u.is_finite())) {
            return;
        }
        let (x, sd) = (row.estimate.value, if nothing { 1.0 } else { self.scale().variance.sqrt() });
        let moved = self.kernel.parts(x);
        for (k, moved) in moved.into_iter().enumerate().take(self.shape().parameters()) {
            each(Cause::Coefficient(k), -sd * moved / row.slope);
        }
        let zero = self.options().zeroing.u();
        if zero > 0.0 {
            each(Cause::Zero, -zero * (1.0 - self.kernel.shift(x)) / row.slope);
        }
        for (k, stock) in self.options().stocks.iter().filter(|stock| stock.relative_u > 0.0).enumerate() {
            each(Cause::Stock(k), x * stock.relative_u);
        }
        let reading = &row.reading;
        let scattered = reading.scale + reading.within;
        if nothing && reading.given <= 0.0 {
            // A curve through zero does not move there, and the reading alone carries what is not known.
            each(Cause::Reading { on_scale: true, within: None }, 1.0 / row.slope);
        } else if scattered > 0.0 {
            let on_scale = reading.scale > 0.0;
            let within = (on_scale && reading.within.abs() > 0.0).then(|| reading.within / scattered);
            each(Cause::Reading { on_scale, within }, scattered.sqrt() / row.slope);
        }
        if reading.given > 0.0 {
            each(Cause::ReadingGiven, reading.given.sqrt() / row.slope);
        }
    }
}

impl Concentrations {
    /// The concentrations of `readings`; see [`Calibration::concentration`].
    ///
    /// # Errors
    /// As there.
    pub fn new(calibration: Arc<Calibration>, readings: Readings) -> Result<Concentrations, Error> {
        readings.check()?;
        if readings.given_u().is_none() && !readings.is_empty() {
            calibration.knows_new_readings()?;
        }
        Ok(Concentrations { calibration, readings, all: OnceLock::new() })
    }

    fn all(&self) -> &All {
        self.all.get_or_init(|| {
            let n = self.len();
            let (mut value, mut u, mut status) = (Vec::with_capacity(n), Vec::with_capacity(n), Vec::with_capacity(n));
            let mut dofs = Vec::new();
            let mut common: Option<Dof> = None;
            for i in 0..n {
                let row = self.row(i);
                value.push(row.value);
                u.push(row.u);
                status.push(row.status);
                // Kept as one figure until a row differs.
                if dofs.is_empty() && common.is_none_or(|common| common == row.dof) {
                    common = Some(row.dof);
                } else {
                    if dofs.is_empty() {
                        dofs = vec![common.unwrap_or(row.dof); i];
                    }
                    dofs.push(row.dof);
                }
            }
            let common = common.unwrap_or(self.calibration.scale().dof);
            let dof = if dofs.is_empty() { Column::One(common) } else { Column::Each(dofs) };
            All { value, u, dof, status }
        })
    }

    fn row(&self, i: usize) -> Estimate {
        self.calibration.row(&self.readings.at(i)).estimate
    }

    /// Writes figures of all rows into arrays of the caller, of as many elements; ends are those of the delta interval.
    ///
    /// # Errors
    /// Arrays of another length.
    pub fn fill(&self, coverage: Coverage, threads: NonZeroUsize, out: ConcentrationsOut<'_>) -> Result<(), Error> {
        out.check(self.len())?;
        let common = self.readings.common_count();
        let one = |i: usize| self.readings.at(i);
        self.calibration.fill(self.readings.signals(), common, one, coverage, threads, out);
        Ok(())
    }

    /// Number of concentrations.
    pub fn len(&self) -> usize {
        self.readings.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.readings.is_empty()
    }

    /// The calibration.
    pub fn calibration(&self) -> &Arc<Calibration> {
        &self.calibration
    }

    /// The readings.
    pub fn readings(&self) -> &Readings {
        &self.readings
    }

    /// Concentrations in the unit of the calibration; NaN exactly where the status has no value.
    pub fn values(&self) -> &[f64] {
        &self.all().value
    }

    /// Standard uncertainties; NaN where there is no value or no degree of freedom.
    pub fn standard_uncertainties(&self) -> &[f64] {
        &self.all().u
    }

    /// Effective degrees of freedom.
    pub fn dof(&self) -> &Column<Dof> {
        &self.all().dof
    }

    /// Statuses.
    pub fn statuses(&self) -> &[Status] {
        &self.all().status
    }

    /// The `i`-th concentration; `None` past the end.
    pub fn get(&self, i: usize) -> Option<Estimate> {
        (i < self.len()).then(|| self.row(i))
    }

    /// Coverage intervals.
    pub fn interval(&self, coverage: Coverage, method: IntervalMethod) -> Intervals {
        match method {
            IntervalMethod::Delta => Intervals::delta((0..self.len()).map(|i| self.row(i)), coverage),
            IntervalMethod::Inversion => inversion::intervals(self, coverage),
        }
    }

    /// Variance of the signal of row `i` were its concentration `x`: a test inversion asks for it away from the
    /// estimate.
    pub(super) fn signal_variance(&self, i: usize, x: f64) -> f64 {
        let parts = self.calibration.reading_parts(&self.readings.at(i), x);
        parts.scale + parts.within + parts.given
    }

    /// Whether that variance is a figure that does not depend on the concentration.
    pub(super) fn has_given_variance(&self, i: usize, x: f64) -> bool {
        self.calibration.reading_parts(&self.readings.at(i), x).given > 0.0
    }

    /// The signal of row `i`.
    pub(super) fn signal(&self, i: usize) -> f64 {
        self.readings.signals()[i]
    }

    /// What was noticed of these readings as a whole.
    pub fn findings(&self) -> Vec<Finding> {
        let (calibration, mut findings) = (&self.calibration, Vec::new());
        if let Some((u, _)) = self.readings.given_u() {
            let resolved = calibration.options().resolution.is_some_and(|step| step > 0.0);
            let zero = |i: &usize| u.get(*i).is_some_and(|u| u <= 0.0) && self.row(*i).status.has_value();
            let count = (0..self.len()).filter(zero).count();
            if count > 0 && !resolved {
                findings.push(Finding::new(Code::ReadingsWithoutScatter, Subject::Run).with("count", count));
            }
            return findings;
        }
        if let VarianceFunction::Proportional { held_below } | VarianceFunction::ProportionalSd { held_below } =
            calibration.variance
            && (0..self.len()).any(|i| self.row(i).value < held_below)
        {
            let finding = Finding::new(Code::NoiseFloor, Subject::Calibration(1));
            findings.push(finding.with("level", held_below).with("unit", calibration.unit().name()));
        }
        findings
    }

    /// The same as estimates with contributions, their reading sources keyed by content.
    ///
    /// # Errors
    /// None that a fitted calibration can bring about.
    pub fn estimates(&self) -> Result<Estimates, Error> {
        let mut hash = Hasher::new();
        hash.word(self.calibration.id().0);
        hash.numbers(self.readings.signals());
        let run: Arc<str> = format!("readings:{:016x}", hash.finish()).into();
        let positions: Vec<u32> = (1..=self.len() as u32).collect();
        self.estimates_of(&run, &positions)
    }

    /// The same as estimates with contributions, reading sources keyed by run and position.
    ///
    /// # Errors
    /// Positions that do not go with the readings.
    pub fn estimates_of(&self, run: &Arc<str>, positions: &[u32]) -> Result<Estimates, Error> {
        if positions.len() != self.len() {
            let what = format!("{} positions for {} readings", positions.len(), self.len());
            return Err(Error::argument("positions", what));
        }
        let calibration = &*self.calibration;
        let (id, scale) = (calibration.id(), calibration.scale());
        let mut table = Contributions::default();
        let on_scale = match scale.estimate {
            ScaleFrom::Residuals => table.variance(Key::Residual(id), scale.dof),
            ScaleFrom::Replicates => table.variance(Key::Within(id), scale.dof),
            ScaleFrom::Known => table.known(),
        };
        let on_within = match calibration.within {
            Some(within) => table.variance(Key::Within(id), Dof::count(within.dof)),
            None => on_scale,
        };
        let known = table.known();
        let parts: Vec<_> = (0..calibration.shape().parameters())
            .map(|k| table.source(Key::Calibration(id, k as u8 + 1), SourceKind::Calibration, on_scale))
            .collect();
        let zero =
            (calibration.options().zeroing.u() > 0.0).then(|| table.source(Key::Zero(id), SourceKind::Zero, known));
        let stocks: Vec<_> = (calibration.options().stocks.iter().filter(|stock| stock.relative_u > 0.0))
            .map(|stock| table.shared(stock.key(id), SourceKind::Stock, known))
            .collect();
        for (i, position) in positions.iter().enumerate() {
            let row = calibration.row(&self.readings.at(i));
            let mut line = Vec::with_capacity(8);
            let at = |part| Key::At(Arc::clone(run), *position, part);
            calibration.contributions(&row, |cause, c| {
                let source = match cause {
                    Cause::Coefficient(k) => parts.get(k).copied(),
                    Cause::Zero => zero,
                    Cause::Stock(k) => stocks.get(k).copied(),
                    Cause::Reading { on_scale: by_scale, within } => {
                        let first = if by_scale { on_scale } else { on_within };
                        let source = table.source(at(Part::Reading), SourceKind::Reading, first);
                        if let Some(part) = within {
                            table.rests_also(source, on_within, part);
                        }
                        Some(source)
                    }
                    Cause::ReadingGiven => {
                        let own = match row.reading.given_dof {
                            Some(dof) if !dof.is_infinite() => table.variance(at(Part::Reading), dof),
                            _ => known,
                        };
                        Some(table.source(at(Part::Reading), SourceKind::Reading, own))
                    }
                };
                line.extend(source.map(|source| (source, c)));
            });
            table.push_row(line);
        }
        let All { value, status, .. } = self.all();
        Estimates::new(value.clone(), status.clone(), calibration.unit(), table)
    }
}
