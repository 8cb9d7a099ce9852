//! What a method says, looked up once for all runs.

use super::table::Flags;
use super::{ColumnOptions, ReplicateLimit};
use crate::check::{CheckKind, Figure, Limit, Scale};
use crate::criteria::{Basis, BlankLimit, CalibrationLimits, Comparison, Negative};
use crate::curve::{Alike, Calibration, FitOptions, Noise, OnBadCurve, Shape, Zeroing};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Estimate;
use crate::glassware::Dilution;
use crate::method::{Method, NondetectAt, ReadingScatter, SampleKind};
use crate::outcome::Limits;
use crate::preparation::{Description, Preparation, SampleLimit};
use crate::run::Role;
use crate::statistics::replicates::replicates;
use crate::unit::Unit;

/// Whether an instrument check may have failed. Where it may, the run is judged in full.
enum Screen {
    /// There is no limit to fail.
    Passes,
    /// The recovery of its true value, %.
    Recovery(Limit),
    /// Its content.
    Blank(Limit),
    /// Its limit depends on other positions.
    Unknown,
}

pub(super) struct Rules<'a> {
    pub method: &'a Method,
    pub replicates: Option<ReplicateLimit>,
    pub fit: FitOptions,
    pub acceptance: CalibrationLimits,
    pub comparison: Comparison,
    /// Limits of instrument checks.
    pub of_solution: Limits,
    /// Unit that a solution's content has as a result.
    pub natural: Unit,
    /// Whether the method adds nothing to the scatter about a polynomial.
    pub plain: bool,
    /// The power of ten by which a natural unit becomes the result's: to multiply with, or to divide by.
    step: Step,
    by_correlation_alone: bool,
    screens: Vec<(Role, Screen)>,
}

#[derive(Clone, Copy)]
enum Step {
    Times(f64),
    Over(f64),
}

impl<'a> Rules<'a> {
    pub fn new(method: &'a Method, options: &ColumnOptions) -> Result<Self, Error> {
        method.check()?;
        if !method.preparation.extra.is_empty() {
            let what = "the method multiplies results by factors of its own, which columns do not carry";
            let problem = Problem::new(Place::named("preparation.extra"), what);
            return Err(Error::new(Kind::Method, problem.help("use reduce_many, or leave the factors out")));
        }
        if let Some(limit) = options.replicates {
            for (name, value) in [("replicates.sd", limit.sd), ("replicates.rsd_percent", limit.rsd_percent)] {
                if value.is_nan() || value < 0.0 {
                    return Err(Error::argument(name, format!("{value} is not a number from 0 up")));
                }
            }
        }
        let calibration = &method.calibration;
        let fit = FitOptions {
            shape: calibration.shape,
            noise: calibration.noise.clone(),
            zero: calibration.zero,
            zeroing: calibration.zeroing,
            unit: calibration.unit,
            stocks: calibration.stock.iter().cloned().collect(),
            resolution: calibration.resolution,
            on_bad_curve: OnBadCurve::Flag,
            ..FitOptions::default()
        };
        let none = Preparation::none();
        let of_solution = limits(method, &none, calibration.unit, true)?;
        let mut rules = Rules {
            method,
            replicates: options.replicates,
            fit,
            acceptance: method.criteria.calibration(),
            comparison: method.criteria.comparison(),
            of_solution,
            natural: none.result_unit(calibration.unit)?,
            plain: false,
            step: Step::Times(1.0),
            by_correlation_alone: by_correlation_alone(&method.criteria.calibration()),
            screens: Vec::new(),
        };
        let to = method.reporting.liquid_unit;
        if let (Ok(up), Ok(down)) = (rules.natural.convert(1.0, to), to.convert(1.0, rules.natural)) {
            rules.step = if up >= 1.0 { Step::Times(up) } else { Step::Over(down) };
            rules.plain = calibration.shape != Shape::StrayLight
                && calibration.reading_scatter == ReadingScatter::Model
                && calibration.stock.is_none()
                && calibration.zeroing == Zeroing::Raw
                && calibration.resolution.is_none()
                && method.preparation.u.dilution.is_none();
        }
        let roles = [
            (Role::Icv, CheckKind::Icv),
            (Role::Icb, CheckKind::Icb),
            (Role::Ccv, CheckKind::Ccv),
            (Role::Ccb, CheckKind::Ccb),
            (Role::LowCheck, CheckKind::LowCheck),
        ];
        rules.screens = roles.into_iter().map(|(role, kind)| (role, rules.screen(kind))).collect();
        Ok(rules)
    }

    fn screen(&self, kind: CheckKind) -> Screen {
        let criteria = &self.method.criteria;
        if !matches!(kind, CheckKind::Icb | CheckKind::Ccb) {
            let range = criteria.recovery(kind);
            return Screen::Recovery(Limit { low: range.low, high: range.high, edge: range.edge });
        }
        let rules = criteria.blank(kind);
        let stated =
            |limit: Option<SampleLimit>| self.method.calibration.unit.convert(limit?.adjusted, self.natural).ok();
        let most = match rules.limit {
            BlankLimit::Off => return Screen::Passes,
            BlankLimit::ThreeWay { .. } => return Screen::Unknown,
            BlankLimit::Limit { basis: Basis::Loq, factor } => stated(self.of_solution.loq).map(|loq| factor * loq),
            BlankLimit::Limit { basis: Basis::Mdl, factor } => stated(self.of_solution.mdl).map(|mdl| factor * mdl),
        };
        let Some(most) = most else { return Screen::Passes };
        let low = (rules.negative == Negative::Judged).then_some(-most);
        Screen::Blank(Limit { low, high: Some(most), edge: rules.edge })
    }

    /// Whether the instrument check may have failed.
    pub fn suspicious(&self, role: Role, solution: &Estimate, nominal: Option<f64>) -> bool {
        let Some((_, screen)) = self.screens.iter().find(|(known, _)| *known == role) else { return false };
        let fails = |value: f64, limit: &Limit, scale: Scale| {
            !(limit.clearly_admits(value, self.comparison) || limit.admits(value, scale, self.comparison))
        };
        match screen {
            _ if !solution.status.has_value() => false,
            Screen::Passes => false,
            Screen::Unknown => true,
            Screen::Recovery(limit) => nominal
                .filter(|nominal| *nominal > 0.0)
                .is_some_and(|nominal| fails(100.0 * solution.value / nominal, limit, Figure::Recovery.scale())),
            Screen::Blank(limit) => fails(solution.value, limit, Figure::Blank.scale()),
        }
    }

    /// A content in the natural unit, in the unit of results.
    pub fn in_result_unit(&self, content: f64) -> f64 {
        match self.step {
            Step::Times(power) => content * power,
            Step::Over(power) => content / power,
        }
    }

    /// Whether the calibration is accepted beyond doubt: there is no limit but that of r or r², and plain sums, which
    /// err in the fourteenth digit, clear it by far.
    pub fn clearly_accepts(&self, calibration: &Calibration) -> bool {
        let unweighted = calibration.shape() == Shape::Line && calibration.options().noise == Noise::Equal;
        if !self.judged_by_determination(calibration.shape().through_zero(), unweighted) {
            return false;
        }
        let Some(least) = self.least_determination() else { return true };
        if !calibration.serves() {
            return false;
        }
        let weighted = || calibration.points().signals().iter().zip(calibration.weights());
        let (sum, weight) = weighted().fold((0.0, 0.0), |(sum, weight), (y, w)| (sum + w * y, weight + w));
        let mean = sum / weight;
        let total: f64 = weighted().map(|(y, w)| w * (y - mean) * (y - mean)).sum();
        total > 0.0 && 1.0 - calibration.sum_of_squares() / total > least
    }

    /// Whether runs of these standards are judged by r² as plain sums find it, or not at all.
    pub fn judges_by_determination(&self, alike: &Alike) -> bool {
        self.judged_by_determination(alike.through_zero(), alike.is_plain_line())
    }

    fn judged_by_determination(&self, through_zero: bool, plain_line: bool) -> bool {
        let CalibrationLimits { r, r_squared, .. } = &self.acceptance;
        let free = r.is_none() && r_squared.is_none();
        self.by_correlation_alone && (free || (!through_zero && (r.is_none() || plain_line)))
    }

    /// The r² above which a calibration is accepted beyond doubt; none where r and r² have no limit.
    pub fn least_determination(&self) -> Option<f64> {
        let CalibrationLimits { r, r_squared, .. } = &self.acceptance;
        let r = r.as_ref().map(|(least, _)| least * least.abs());
        let least = r.into_iter().chain(r_squared.as_ref().map(|(least, _)| *least));
        least.reduce(f64::max).map(|least| least + 1e-6)
    }

    /// The value from which on a result is detected; minus infinity where there is no limit.
    pub fn least_of(&self, limits: &Limits) -> f64 {
        crate::reduce::least_detected(self.method, limits).unwrap_or(f64::NEG_INFINITY)
    }

    /// Whether readings scatter more than they may.
    pub fn scatters(&self, readings: impl Iterator<Item = f64>) -> Flags {
        let exceeded = || {
            let found = replicates(&readings.collect::<Vec<f64>>()).ok()?;
            Some(self.replicates?.is_exceeded_by(&found))
        };
        Flags::default().with(Flags::HIGH_REPLICATE_SD, exceeded().unwrap_or(false))
    }

    /// The limits of an analysis of this dilution, in the unit of liquids.
    pub fn limits_of(&self, dilution: f64) -> Result<Limits, Error> {
        let preparation = diluted(dilution)?;
        limits(self.method, &preparation, self.method.reporting.liquid_unit, false)
    }

    /// Relative standard uncertainty of a dilution.
    pub fn dilution_u(&self, dilution: f64) -> Option<f64> {
        // As the step carries it: an absolute figure, divided by the factor again.
        let relative = self.method.preparation.u.dilution.filter(|_| dilution > 1.0)?;
        Some(relative * dilution / dilution)
    }
}

/// Whether no limit but that of r or r² can refuse a calibration.
fn by_correlation_alone(limits: &CalibrationLimits) -> bool {
    let CalibrationLimits {
        line_only,
        minimum_standards,
        blank_required,
        r: _,
        r_squared: _,
        correlation_edge: _,
        percent_error,
        percent_error_lowest,
        rse,
        studentized_residual,
        standard_rsd,
        standard_rpd,
        // Advice refuses nothing.
        lowest_absorbance: _,
        highest_absorbance: _,
    } = limits;
    let set = [percent_error, percent_error_lowest, rse, studentized_residual, standard_rsd, standard_rpd];
    line_only.is_none()
        && minimum_standards.is_none()
        && blank_required.is_none()
        && set.iter().all(|one| one.is_none())
}

/// The preparation that a dilution is.
fn diluted(dilution: f64) -> Result<Preparation, Error> {
    Preparation::new(Description { dilution: Dilution::by(dilution)?, ..Description::default() })
}

fn limits(method: &Method, preparation: &Preparation, unit: Unit, of_solution: bool) -> Result<Limits, Error> {
    let of = |which: NondetectAt| match method.limits.find(which, SampleKind::Liquid) {
        Some(stated) => crate::reduce::adjusted(method, stated, SampleKind::Liquid, preparation, unit, of_solution),
        None => Ok(None),
    };
    Ok(Limits { mdl: of(NondetectAt::Mdl)?, lod: of(NondetectAt::Lod)?, loq: of(NondetectAt::Loq)? })
}
