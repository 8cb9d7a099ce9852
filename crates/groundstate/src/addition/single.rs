//! One addition to one of two equal portions (SW-846 Method 7000B, 9.10).

use std::sync::Arc;

use super::fieller::Ratio;
use super::options::{Origin, Signal};
use super::validity::m7000b;
use crate::curve::Stock;
use crate::error::Error;
use crate::estimate::{
    Contributions, Coverage, Dof, Estimate, Estimates, IntervalMethod, IntervalSet, Key, Part, SourceKind, Status,
};
use crate::finding::{Code, Finding, Subject};
use crate::glassware::Measured;
use crate::unit::Unit;

/// Two equal portions of the sample, one with a volume of a standard, the other with the same volume of water.
#[derive(Clone, Debug, PartialEq)]
pub struct SingleAddition {
    /// Signal of the portion with the standard, less the blank.
    pub with: Signal,
    /// Signal of the portion without, less the blank.
    pub without: Signal,
    /// Standard uncertainty of the blank that was subtracted from both, or that the instrument was zeroed on.
    pub blank_u: f64,
    /// Volume of the standard.
    pub standard_volume: Measured,
    /// Concentration of the standard.
    pub standard: f64,
    /// Name and relative standard uncertainty of the standard's concentration.
    pub stock: Option<Stock>,
    /// Volume of each portion, in the unit of the standard's volume.
    pub portion_volume: Measured,
    /// Unit of concentrations.
    pub unit: Unit,
    /// Where it belongs.
    pub origin: Origin,
}

/// The concentration in the portion, by a single addition.
#[derive(Clone, Debug)]
pub struct SingleResult {
    estimates: Estimates,
    ratio: Ratio,
    factor_variance: f64,
    findings: Vec<Finding>,
}

impl SingleAddition {
    /// Concentration in the portion, S_B Vs Cs / ((S_A - S_B) Vx) with A the portion with the standard.
    ///
    /// A signal that the addition does not raise is no error: the estimate has the status `not_calibrated` and no
    /// value.
    ///
    /// # Errors
    /// A standard that is not above zero; uncertainties that are none; a result too large for a number.
    pub fn evaluate(&self) -> Result<SingleResult, Error> {
        if !(self.standard > 0.0 && self.standard.is_finite()) {
            let what = format!("{} is not a concentration above 0", self.standard);
            return Err(Error::argument("standard", what));
        }
        let relative = self.stock.as_ref().map_or(0.0, |stock| stock.relative_u);
        for (name, u) in [("blank_u", self.blank_u), ("stock", relative)] {
            if !(u >= 0.0 && u.is_finite()) {
                return Err(Error::argument(name, format!("{u} is not a standard uncertainty")));
            }
        }
        let (with, without) = (self.with.value(), self.without.value());
        let rise = with - without;
        let factor = self.standard * self.standard_volume.value() / self.portion_volume.value();
        let value = factor * without / rise;
        let mut findings = Vec::new();
        let status = if rise.is_nan() || rise <= 0.0 {
            let finding = Finding::new(Code::AdditionNotSeen, Subject::Run).with("with", with);
            findings.push(finding.with("without", without));
            Status::NotCalibrated
        } else if !value.is_finite() {
            return Err(Error::argument("absorbance", "the result is too large for a number"));
        } else if value < 0.0 {
            Status::Negative
        } else {
            Status::InRange
        };
        // 7000B prints no tolerance for "about twice": one and a half to three times, by our reading.
        if status == Status::InRange && without > 0.0 && !(1.5..=3.0).contains(&(with / without)) {
            let finding = Finding::new(Code::SingleAdditionSize, Subject::Run).with("ratio", with / without);
            findings.push(finding.citing(m7000b("9.10")));
        }
        let mut table = Contributions::default();
        let mut row = Vec::new();
        if status.has_value() {
            let at = |part| Key::At(Arc::clone(&self.origin.run), self.origin.position, part);
            let mut add = |key: Key, kind: SourceKind, dof: Dof, contribution: f64| {
                let estimate = if dof.is_infinite() { Key::Known } else { key.clone() };
                let variance = table.variance(estimate, dof);
                row.push((table.shared(key, kind, variance), contribution));
            };
            let square = rise * rise;
            let reading = SourceKind::Reading;
            add(at(Part::Reading), reading, self.without.dof(), factor * with / square * self.without.u());
            add(at(Part::Replicates), reading, self.with.dof(), -factor * without / square * self.with.u());
            // A blank taken too high lowers both signals: their difference stays, the smaller one falls.
            let zero = Key::Named(format!("blank of {}/{}", self.origin.run, self.origin.position).into());
            add(zero, SourceKind::Zero, Dof::INFINITE, -factor / rise * self.blank_u);
            if let Some(stock) = &self.stock {
                let key = Key::Stock(Arc::clone(&stock.name));
                add(key, SourceKind::Stock, Dof::INFINITE, value * stock.relative_u);
            }
            let volumes = [(&self.standard_volume, Part::Added, 1.0), (&self.portion_volume, Part::SampleVolume, -1.0)];
            for (volume, part, sign) in volumes {
                let relative = sign * value / volume.value();
                if let Some((item, u, dof)) = volume.shared() {
                    add(Key::Item(Arc::clone(item)), SourceKind::Volume, dof, relative * u);
                }
                if let Some((u, dof)) = volume.own() {
                    add(at(part), SourceKind::Volume, dof, relative * u);
                }
            }
        }
        table.push_row(row);
        if !table.u(0).is_finite() || table.dof(0).get().is_nan() {
            return Err(Error::argument("uncertainty", "that of the result is too large for a number"));
        }
        let [ua, ub] = [self.with.u(), self.without.u()].map(|u| u * u);
        let ratio = Ratio {
            numerator: factor * without,
            denominator: rise,
            variances: [factor * factor * (ub + self.blank_u * self.blank_u), ua + ub],
            covariance: -factor * ub,
        };
        let volumes = [&self.standard_volume, &self.portion_volume].map(|volume| volume.relative_u());
        let factor_variance = volumes.iter().map(|u| u * u).sum::<f64>() + relative * relative;
        let value = if status.has_value() { value } else { f64::NAN };
        let estimates = Estimates::new(vec![value], vec![status], self.unit, table)?;
        Ok(SingleResult { estimates, ratio, factor_variance, findings })
    }
}

impl SingleResult {
    /// Concentration in the portion.
    pub fn estimate(&self) -> Estimate {
        let none = Estimate { value: f64::NAN, u: f64::NAN, dof: Dof::NONE, status: Status::NotCalibrated };
        self.estimates.get(0).unwrap_or(none)
    }

    /// The same with the contributions of its sources.
    pub fn estimates(&self) -> &Estimates {
        &self.estimates
    }

    /// Coverage set of the concentration in the portion.
    pub fn interval(&self, coverage: Coverage, method: IntervalMethod) -> IntervalSet {
        let estimate = self.estimate();
        match method {
            _ if !estimate.status.has_value() => IntervalSet::Empty,
            IntervalMethod::Delta => {
                self.estimates.interval(coverage).sets.first().copied().unwrap_or(IntervalSet::Empty)
            }
            IntervalMethod::Inversion => match estimate.dof.coverage_factor(coverage) {
                k if k.is_finite() => {
                    let d = self.ratio.denominator;
                    let [vn, vd] = self.ratio.variances;
                    Ratio { variances: [vn, vd + d * d * self.factor_variance], ..self.ratio }.set(k)
                }
                _ => IntervalSet::Whole,
            },
        }
    }

    /// What was noticed.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}
