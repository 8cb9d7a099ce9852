//! One row's contributions on the stack: what [`Contributions`](crate::estimate::Contributions) holds for many.

use crate::curve::{Calibration, Cause, Row, ScaleFrom};
use crate::estimate::{Dof, combined};

/// On which variance estimate a contribution rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum On {
    Scale,
    Within,
    Own,
    Known,
}

/// At most three coefficients, the zero, a stock, the reading twice, a dilution.
const MOST: usize = 8;

/// Contributions in the order of their sources: the order in which sums are rounded.
pub(super) struct Line {
    value: [f64; MOST],
    on: [On; MOST],
    /// The part of a contribution's variance that rests on the scatter within standards besides.
    within: [f64; MOST],
    len: usize,
    on_within: On,
    dof: [Dof; 4],
}

impl Line {
    /// The contributions to `row`. `stock_first` where an earlier calibration of the run brought the stock in.
    pub fn of(calibration: &Calibration, row: &Row, stock_first: bool) -> Line {
        let scale = calibration.scale();
        let within = calibration.within.map(|within| Dof::count(within.dof));
        let on_scale = if scale.estimate == ScaleFrom::Known { On::Known } else { On::Scale };
        // The scatter within standards is one estimate, whether or not the scale is made of it.
        let on_within = if within.is_some() && scale.estimate != ScaleFrom::Replicates { On::Within } else { on_scale };
        let given = row.reading.given_dof.unwrap_or(Dof::INFINITE);
        let on_given = if given.is_infinite() { On::Known } else { On::Own };
        let mut line = Line {
            value: [0.0; MOST],
            on: [On::Known; MOST],
            within: [0.0; MOST],
            len: 0,
            on_within,
            dof: [scale.dof, within.unwrap_or(scale.dof), given, Dof::INFINITE],
        };
        if stock_first {
            calibration.contributions(row, |cause, c| {
                if matches!(cause, Cause::Stock(_)) {
                    line.push(c, On::Known, 0.0);
                }
            });
        }
        calibration.contributions(row, |cause, c| match cause {
            Cause::Stock(_) if stock_first => {}
            Cause::Zero | Cause::Stock(_) => line.push(c, On::Known, 0.0),
            Cause::Coefficient(_) => line.push(c, on_scale, 0.0),
            Cause::Reading { on_scale: true, within } => line.push(c, on_scale, within.unwrap_or(0.0)),
            Cause::Reading { on_scale: false, .. } => line.push(c, on_within, 0.0),
            Cause::ReadingGiven => line.push(c, on_given, 0.0),
        });
        line
    }

    /// Adds a contribution; zeros are dropped.
    fn push(&mut self, c: f64, on: On, within: f64) {
        if c.abs() > 0.0 && self.len < MOST {
            (self.value[self.len], self.on[self.len], self.within[self.len]) = (c, on, within);
            self.len += 1;
        }
    }

    /// Adds one whose standard uncertainty is known.
    pub fn push_known(&mut self, c: f64) {
        self.push(c, On::Known, 0.0);
    }

    /// Every contribution by `convert`.
    pub fn convert<E>(&mut self, convert: impl Fn(f64) -> Result<f64, E>) -> Result<(), E> {
        let (value, len) = (self.value, self.len);
        self.len = 0;
        for (i, c) in value.into_iter().enumerate().take(len) {
            self.push(convert(c)?, self.on[i], self.within[i]);
        }
        Ok(())
    }

    /// Combined standard uncertainty.
    pub fn u(&self) -> f64 {
        combined(&self.value[..self.len])
    }

    /// Effective degrees of freedom: contributions on one estimate are added first.
    pub fn dof(&self) -> Dof {
        let mut parts = [(On::Known, 0.0); 4];
        let mut len = 0;
        let mut add = |on: On, square: f64| match parts.iter_mut().take(len).find(|(known, _)| *known == on) {
            Some((_, sum)) => *sum += square,
            None => {
                parts[len] = (on, square);
                len += 1;
            }
        };
        for i in 0..self.len {
            let (c, within) = (self.value[i], self.within[i]);
            add(self.on[i], c * c * (1.0 - within));
            if within.abs() > 0.0 {
                add(self.on_within, c * c * within);
            }
        }
        Dof::effective(parts.into_iter().take(len).map(|(on, sum)| (sum, self.dof[on as usize])))
    }
}
