//! What a method says, looked up once for all runs.

use super::{ColumnOptions, ReplicateLimit};
use crate::check::{CheckKind, Figure, Limit, Scale};
use crate::criteria::{Basis, BlankLimit, CalibrationLimits, Comparison, Negative};
use crate::curve::{FitOptions, OnBadCurve};
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Estimate;
use crate::glassware::Dilution;
use crate::method::{Method, NondetectAt, SampleKind};
use crate::outcome::Limits;
use crate::preparation::{Description, Preparation, SampleLimit};
use crate::run::Role;
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
    screens: Vec<(Role, Screen)>,
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
            screens: Vec::new(),
        };
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
        let fails = |value: f64, limit: &Limit, scale: Scale| !limit.admits(value, scale, self.comparison);
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
