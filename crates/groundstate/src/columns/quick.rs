//! Positions whose uncertainty rests on the scatter about the curve alone: most of an archive. Their figures are worked
//! out in the operations of the long way, in their order, so that the bits agree; everything else goes that way.

use super::gather::Spot;
use super::rules::Rules;
use super::solve::ends;
use super::table::{ColumnTable, Flags};
use crate::check::Detection;
use crate::curve::Calibration;
use crate::estimate::{Dof, Estimate, Status, combined};
use crate::outcome::Limits;
use crate::run::Role;
use crate::statistics::replicates::{mean, replicates};

/// Readings up to here are summed without a second look.
const LARGEST: f64 = 1e100;

/// The figures of the measured positions of one run.
pub(super) struct Quick {
    position: Vec<u32>,
    role: Vec<Role>,
    value: Vec<f64>,
    u: Vec<f64>,
    lo: Vec<f64>,
    hi: Vec<f64>,
    status: Vec<Status>,
    flags: Vec<Flags>,
    /// The last degrees of freedom and their coverage factor.
    factor: (Dof, f64),
}

impl Default for Quick {
    fn default() -> Self {
        Quick {
            position: Vec::new(),
            role: Vec::new(),
            value: Vec::new(),
            u: Vec::new(),
            lo: Vec::new(),
            hi: Vec::new(),
            status: Vec::new(),
            flags: Vec::new(),
            factor: (Dof::NONE, f64::INFINITY),
        }
    }
}

impl Quick {
    pub fn clear(&mut self) {
        self.position.clear();
        self.role.clear();
        self.value.clear();
        self.u.clear();
        self.lo.clear();
        self.hi.clear();
        self.status.clear();
        self.flags.clear();
    }

    /// Adds a position; gives what the solution holds, or nothing where this way does not serve.
    pub fn row(
        &mut self,
        rules: &Rules<'_>,
        calibration: &Calibration,
        spot: &Spot,
        readings: &[f64],
        limits: &Limits,
    ) -> Option<Estimate> {
        let summable = !readings.is_empty() && readings.iter().all(|reading| reading.abs() <= LARGEST);
        let row = summable.then(|| calibration.on_scale(mean(readings), readings.len() as u32)).flatten()?;
        let dof = calibration.scale().dof;
        let (mut value, mut parts) = (row.value, row.contributions);
        if !spot.role.is_instrument_check() {
            let factor = spot.dilution.unwrap_or(1.0);
            value = rules.in_result_unit(value * factor);
            parts = parts.map(|part| rules.in_result_unit(part * factor));
        }
        let u = combined(&parts);
        let result = Estimate { value, u, dof, status: row.status };
        let ends = ends(&mut self.factor, &rules.method.reporting, &result).ok()?;
        if !(value.is_finite() && u.is_finite()) {
            return None;
        }
        let high = match rules.replicates {
            Some(limit) => limit.is_exceeded_by(&replicates(readings).ok()?),
            None => false,
        };
        let below = crate::reduce::detection(rules.method, value, limits) == Detection::NotDetected;
        let flags = Flags::default()
            .with(Flags::ABOVE_TOP, row.status == Status::AboveTop)
            .with(Flags::BELOW_LIMIT, below)
            .with(Flags::HIGH_REPLICATE_SD, high);
        self.push(spot, &result, ends, flags);
        Some(Estimate { value: row.value, ..result })
    }

    /// Adds a position whose figures are known.
    pub fn push(&mut self, spot: &Spot, result: &Estimate, ends: (f64, f64), flags: Flags) {
        self.position.push(spot.number);
        self.role.push(spot.role);
        self.value.push(result.value);
        self.u.push(result.u);
        self.lo.push(ends.0);
        self.hi.push(ends.1);
        self.status.push(result.status);
        self.flags.push(flags);
    }

    /// Adds the positions to `table` as those of `run`.
    pub fn write(&self, run: u32, table: &mut ColumnTable) {
        table.run.resize(table.run.len() + self.position.len(), run);
        table.position.extend_from_slice(&self.position);
        table.role.extend_from_slice(&self.role);
        table.value.extend_from_slice(&self.value);
        table.u.extend_from_slice(&self.u);
        table.lo.extend_from_slice(&self.lo);
        table.hi.extend_from_slice(&self.hi);
        table.status.extend_from_slice(&self.status);
        table.flags.extend_from_slice(&self.flags);
    }
}
