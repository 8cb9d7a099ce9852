//! Positions whose uncertainty rests on the scatter about the curve alone: most of an archive. Their figures are worked
//! out in the operations of the long way, in their order, so that the bits agree; everything else goes that way.

use super::gather::Spot;
use super::rules::Rules;
use super::solve::ends;
use super::table::{Flags, Row};
use crate::check::Detection;
use crate::curve::Calibration;
use crate::estimate::{Dof, Estimate, Status, combined};
use crate::outcome::Limits;
use crate::statistics::replicates::{mean, replicates};

/// Readings up to here are summed without a second look.
const LARGEST: f64 = 1e100;

/// The measured positions of one run.
pub(super) struct Quick {
    run: u32,
    /// Their rows so far.
    pub rows: Vec<Row>,
    /// The last degrees of freedom and their coverage factor.
    factor: (Dof, f64),
}

impl Default for Quick {
    fn default() -> Self {
        Quick { run: 0, rows: Vec::new(), factor: (Dof::NONE, f64::INFINITY) }
    }
}

impl Quick {
    /// Begins a run; what is left of one that had to go the long way is forgotten.
    pub fn begin(&mut self, run: u32) {
        self.run = run;
        self.rows.clear();
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
        let ends = ends(&mut self.factor, &rules.method.reporting, &result);
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
        self.rows.push(Row::of(self.run, spot, result, ends, flags));
    }
}
