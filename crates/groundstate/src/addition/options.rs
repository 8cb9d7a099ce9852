//! What is to be known of an addition series besides its points.

use std::sync::Arc;

use crate::curve::{Noise, Stock, Zeroing};
use crate::error::Error;
use crate::estimate::Dof;
use crate::glassware::Measured;
use crate::statistics::replicates::replicates;
use crate::unit::Unit;

/// How the volume of the measured solutions goes with the additions.
#[derive(Clone, Debug, PartialEq, Default)]
pub enum Volumes {
    /// All solutions hold the same portion of the sample in the same final volume. An addition is the concentration
    /// that it makes there.
    #[default]
    Equal,
    /// Additions go into one portion (or equal ones) whose volume they enlarge. An addition is an amount: unit of
    /// concentration times unit of volume, such as micrograms for mg/L and mL. Signals are multiplied by V/V0 and
    /// fitted against amount/V0; the scatter of a signal is multiplied with it, so that weights are divided by (V/V0)².
    Changing {
        /// V0, the volume before any addition.
        initial: Measured,
        /// The volume added before each point was read, in all, in the unit of `initial`.
        added: Vec<f64>,
    },
}

/// How the measured solution was made from the sample: `sample` of it made up to `made_up_to`, in one unit of volume.
#[derive(Clone, Debug, PartialEq)]
pub struct Aliquot {
    /// Volume of the sample.
    pub sample: Measured,
    /// Volume that it was made up to: the common final volume, or V0 where the volume changes.
    pub made_up_to: Measured,
}

impl Aliquot {
    /// Concentration in the sample over that in the measured solution.
    pub fn factor(&self) -> f64 {
        self.made_up_to.value() / self.sample.value()
    }
}

/// Where a series belongs, so that its sources are told from those of another series of the same figures.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// The run.
    pub run: Arc<str>,
    /// Position of the series' first solution in the run.
    pub position: u32,
}

/// How to evaluate an addition series.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesOptions {
    /// What is assumed of the scatter. 1/x and 1/x² weigh by the whole concentration, found plus added, which is
    /// iterated, and held below the smallest addition; standard deviations are those of single readings as measured.
    pub noise: Noise,
    /// How the signals were zeroed. The standard uncertainty of the blank moves the whole line, and the
    /// extrapolation with it: unlike that of a reading on an external calibration, it does not cancel.
    pub zeroing: Zeroing,
    /// How the volume goes with the additions.
    pub volumes: Volumes,
    /// How the measured solution was made from the sample; none: only the measured solution has a result.
    pub aliquot: Option<Aliquot>,
    /// Unit of the estimate: of the additions, or of amount over volume.
    pub unit: Unit,
    /// What all additions share: the stock's relative error, or that of the pipette that dispensed all of them.
    pub stocks: Vec<Stock>,
    /// Where the series belongs; none: its content tells it from others.
    pub origin: Option<Origin>,
}

impl Default for SeriesOptions {
    fn default() -> Self {
        SeriesOptions {
            noise: Noise::Equal,
            zeroing: Zeroing::Raw,
            volumes: Volumes::Equal,
            aliquot: None,
            unit: Unit::MilligramPerLitre,
            stocks: Vec::new(),
            origin: None,
        }
    }
}

/// A (mean) signal with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signal {
    value: f64,
    u: f64,
    dof: Dof,
}

impl Signal {
    /// The signal `value` with the standard uncertainty `u` of that value and its degrees of freedom.
    ///
    /// # Errors
    /// A value that is not finite; an uncertainty that is negative or not finite, or estimated from nothing.
    pub fn new(value: f64, u: f64, dof: Dof) -> Result<Signal, Error> {
        if !value.is_finite() {
            return Err(Error::argument("absorbance", format!("{value} is not a finite number")));
        }
        if !(u >= 0.0 && u.is_finite()) {
            return Err(Error::argument("reading_u", format!("{u} is not a standard uncertainty")));
        }
        if u > 0.0 && dof.get() <= 0.0 {
            let what = "0 degrees of freedom cannot carry a standard uncertainty";
            return Err(Error::argument("dof", what).help("leave dof out where the standard uncertainty is known"));
        }
        Ok(Signal { value, u, dof })
    }

    /// The mean of repeated readings of one solution with its standard deviation, on one degree of freedom fewer than
    /// they are.
    ///
    /// # Errors
    /// Fewer than two readings, readings that are not finite.
    pub fn of_readings(readings: &[f64]) -> Result<Signal, Error> {
        let set = replicates(readings)?;
        let Some(u) = set.standard_error() else {
            return Err(Error::argument("absorbance", "one reading does not tell its own uncertainty")
                .help("give the reading as a number, with its standard uncertainty where that is known"));
        };
        Signal::new(set.mean, u, Dof::count(set.count - 1))
    }

    /// The signal.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Its standard uncertainty.
    pub fn u(&self) -> f64 {
        self.u
    }

    /// Degrees of freedom of the standard uncertainty.
    pub fn dof(&self) -> Dof {
        self.dof
    }
}
