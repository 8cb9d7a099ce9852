//! The scatter of a signal above its zero.

use super::options::{BlankReading, LimitOptions};
use crate::curve::{Calibration, Readings};
use crate::error::Error;
use crate::estimate::{Column, Dof};
use crate::statistics::replicates::replicates;

/// The variance of a signal less its zero, as the options take it.
pub(super) struct Net<'a> {
    calibration: &'a Calibration,
    readings: Readings,
    preparations: u32,
    /// From blanks: variance of the mean of a sample's readings less the mean of the blanks.
    blanks: Option<(f64, Dof)>,
}

impl<'a> Net<'a> {
    pub fn of(calibration: &'a Calibration, options: &LimitOptions) -> Result<Net<'a>, Error> {
        options.check()?;
        let readings = Readings::new(&[0.0]).replicates(Column::One(options.readings));
        let mut net = Net { calibration, readings, preparations: options.preparations, blanks: None };
        match &options.blank {
            BlankReading::Model if !calibration.knows_reading_at_zero() => {
                let noise = calibration.options().noise.name();
                let what = format!("the noise model {noise} does not say how a reading at zero scatters");
                return Err(Error::argument("reading_u", what)
                    .help("give the standard uncertainty of a reading near zero, or replicate blanks"));
            }
            BlankReading::Model => {}
            BlankReading::Known { u, dof } => net.readings = net.readings.with_u(Column::One(*u), Column::One(*dof)),
            BlankReading::Blanks(signals) => {
                let set = replicates(signals)?;
                let s = set.sd.unwrap_or(0.0);
                let each = f64::from(options.readings) * f64::from(options.preparations);
                net.blanks = Some((s * s * (1.0 / each + 1.0 / signals.len() as f64), Dof::count(signals.len() - 1)));
            }
        }
        Ok(net)
    }

    /// Of a signal at zero concentration less the curve there.
    pub fn at_zero(&self) -> (f64, Dof) {
        self.above_zero(0.0)
    }

    /// Of a signal at `x` less the curve at zero: what a decision between sample and blank compares.
    pub fn above_zero(&self, x: f64) -> (f64, Dof) {
        self.blanks.unwrap_or_else(|| self.calibration.net_variance(&self.readings, self.preparations, x, 0.0))
    }

    /// Of a signal at `x` less the curve at `x`: what a concentration rests on.
    pub fn at(&self, x: f64) -> (f64, Dof) {
        self.blanks.unwrap_or_else(|| self.calibration.net_variance(&self.readings, self.preparations, x, x))
    }
}
