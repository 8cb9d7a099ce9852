//! Interpolation between two standards that bracket the sample.

use std::sync::Arc;

use super::options::{Origin, Signal};
use crate::curve::Stock;
use crate::error::Error;
use crate::estimate::{Contributions, Dof, Estimate, Estimates, Key, Part, SourceKind, Status};
use crate::finding::{Code, Finding, Subject};
use crate::unit::Unit;

/// One of two bracketing standards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BracketStandard {
    /// Concentration.
    pub concentration: f64,
    /// Standard uncertainty of it beyond what both standards share.
    pub u: f64,
    /// Its (mean) signal.
    pub signal: Signal,
}

/// Two standards, one below and one above the sample.
#[derive(Clone, Debug, PartialEq)]
pub struct Bracket {
    low: BracketStandard,
    high: BracketStandard,
    stock: Option<Stock>,
    unit: Unit,
    origin: Origin,
}

/// A concentration interpolated between two standards.
#[derive(Clone, Debug)]
pub struct Bracketed {
    estimates: Estimates,
    findings: Vec<Finding>,
}

impl Bracket {
    /// The standards `low` and `high`, made from `stock`, read in the run and from the position on that `origin` names.
    ///
    /// # Errors
    /// Concentrations that are negative or not finite, or not in this order; uncertainties that are none.
    pub fn new(
        low: BracketStandard,
        high: BracketStandard,
        stock: Option<Stock>,
        unit: Unit,
        origin: Origin,
    ) -> Result<Bracket, Error> {
        for standard in [&low, &high] {
            let x = standard.concentration;
            if !(x >= 0.0 && x.is_finite()) {
                let what = format!("{x} is not a concentration: a number from 0 up is needed");
                return Err(Error::argument("concentration", what));
            }
            if !(standard.u >= 0.0 && standard.u.is_finite()) {
                return Err(Error::argument("x_uncertainty", format!("{} is not a standard uncertainty", standard.u)));
            }
        }
        if high.concentration <= low.concentration {
            let what =
                format!("the higher standard ({}) is not above the lower ({})", high.concentration, low.concentration);
            return Err(Error::argument("concentration", what));
        }
        if let Some(stock) = stock.as_ref().filter(|stock| !(stock.relative_u >= 0.0 && stock.relative_u.is_finite())) {
            let what = format!("{} is not a relative standard uncertainty", stock.relative_u);
            return Err(Error::argument("stock", what));
        }
        Ok(Bracket { low, high, stock, unit, origin })
    }

    /// Concentration of the sample at `position` whose signal is `sample`: x1 + (y - y1)(x2 - x1)/(y2 - y1), with the
    /// standard uncertainty from all three signals and both standards. A blank subtracted from all three cancels.
    ///
    /// Standards whose signals do not rise give the status `not_calibrated`. A sample outside is extrapolated, with a
    /// finding and the status `below_lowest` or `above_top`.
    ///
    /// # Errors
    /// A result too large for a number.
    pub fn concentration(&self, sample: &Signal, position: u32) -> Result<Bracketed, Error> {
        let (low, high) = (&self.low, &self.high);
        let [y, y1, y2] = [sample.value(), low.signal.value(), high.signal.value()];
        let rise = y2 - y1;
        let mut findings = Vec::new();
        let mut table = Contributions::default();
        if rise.is_nan() || rise <= 0.0 {
            findings.push(Finding::new(Code::BracketNotRising, Subject::Run).with("high", y2).with("low", y1));
            table.push_row([]);
            let estimates = Estimates::new(vec![f64::NAN], vec![Status::NotCalibrated], self.unit, table)?;
            return Ok(Bracketed { estimates, findings });
        }
        let step = high.concentration - low.concentration;
        let part = (y - y1) / rise;
        let value = low.concentration + part * step;
        if !value.is_finite() {
            return Err(Error::argument("absorbance", "the result is too large for a number"));
        }
        // The ends belong to the bracket, whatever the quotient rounds to.
        let status = match y {
            _ if value < 0.0 => Status::Negative,
            y if y < y1 => Status::BelowLowest,
            y if y > y2 => Status::AboveTop,
            _ => Status::InRange,
        };
        if status != Status::InRange {
            let finding = Finding::new(Code::NotBracketed, Subject::Position(position)).with("signal", y);
            findings.push(finding.with("low", y1).with("high", y2));
        }
        let mut row = Vec::new();
        let mut add = |key: Key, kind: SourceKind, dof: Dof, contribution: f64| {
            let estimate = if dof.is_infinite() { Key::Known } else { key.clone() };
            let variance = table.variance(estimate, dof);
            row.push((table.shared(key, kind, variance), contribution));
        };
        let slope = rise / step;
        let run = &self.origin.run;
        let at = |position, part| Key::At(Arc::clone(run), position, part);
        add(at(position, Part::Reading), SourceKind::Reading, sample.dof(), sample.u() / slope);
        let standards = [(low, 1.0 - part, "lower"), (high, part, "higher")];
        for (standard, weight, which) in standards {
            let name = |what: &str| {
                Key::Named(format!("{what} of the {which} standard of {run}/{}", self.origin.position).into())
            };
            let signal = standard.signal;
            add(name("signal"), SourceKind::Calibration, signal.dof(), -weight / slope * signal.u());
            add(name("concentration"), SourceKind::Level, Dof::INFINITE, weight * standard.u);
        }
        if let Some(stock) = &self.stock {
            add(Key::Stock(Arc::clone(&stock.name)), SourceKind::Stock, Dof::INFINITE, value * stock.relative_u);
        }
        table.push_row(row);
        if !table.u(0).is_finite() || table.dof(0).get().is_nan() {
            return Err(Error::argument("uncertainty", "that of the result is too large for a number"));
        }
        Ok(Bracketed { estimates: Estimates::new(vec![value], vec![status], self.unit, table)?, findings })
    }
}

impl Bracketed {
    /// The concentration.
    pub fn estimate(&self) -> Estimate {
        let none = Estimate { value: f64::NAN, u: f64::NAN, dof: Dof::NONE, status: Status::NotCalibrated };
        self.estimates.get(0).unwrap_or(none)
    }

    /// The same with the contributions of its sources.
    pub fn estimates(&self) -> &Estimates {
        &self.estimates
    }

    /// What was noticed.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}
