//! What is assumed of the scatter of readings. The assumption is the type, never a flag.

use crate::error::{Error, nearest};

/// How readings scatter about the calibration function.
#[derive(Clone, Debug, PartialEq, Default)]
#[non_exhaustive]
pub enum Noise {
    /// The same unknown standard deviation at every level, estimated from the residuals.
    #[default]
    Equal,
    /// Variance proportional to concentration (weights 1/x), the factor estimated from the residuals.
    InverseX,
    /// Standard deviation proportional to concentration (weights 1/x²), the factor estimated from the residuals.
    InverseX2,
    /// Standard deviations known up to one common factor, which is estimated from the residuals. These are not
    /// relative standard deviations.
    RelativeSigma(Sigmas),
    /// Standard deviations of single readings, known. Chi-squared is reported and never used to rescale.
    KnownSigma(Sigmas),
    /// Standard deviations estimated from the replicate readings of each standard. They lack the standards' own
    /// error, so what follows from them is repeatability.
    FromReplicates(ReplicateModel),
}

/// How the scatter of replicates becomes a standard deviation at each level.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
#[non_exhaustive]
pub enum ReplicateModel {
    /// One pooled variance for all levels.
    #[default]
    Pooled,
    /// A floor and a part proportional to concentration, fitted to the variances of the levels.
    FloorPlusProportional,
    /// Each level's own variance. Refused where a level has fewer than `at_least` readings.
    PerLevel {
        /// Fewest readings a level may have; 6 unless the user forces less.
        at_least: u32,
    },
}

/// Positive, finite standard deviations: one for all points or one each.
#[derive(Clone, Debug, PartialEq)]
pub struct Sigmas(Vec<f64>);

impl Sigmas {
    /// Standard deviations of single readings, in units of the signal: one for all points, or one a point.
    ///
    /// # Errors
    /// None given, or one that is not positive and finite.
    pub fn new(sigmas: &[f64]) -> Result<Sigmas, Error> {
        if sigmas.is_empty() {
            return Err(Error::argument("sigma", "no standard deviation is given"));
        }
        match sigmas.iter().position(|sigma| !(*sigma > 0.0 && sigma.is_finite())) {
            Some(i) => {
                let what = format!("standard deviation {} (element {i}) is not a positive number", sigmas[i]);
                Err(Error::argument("sigma", what))
            }
            None => Ok(Sigmas(sigmas.to_vec())),
        }
    }

    /// The standard deviation of point `i`.
    pub(crate) fn get(&self, i: usize) -> f64 {
        if self.0.len() == 1 { self.0[0] } else { self.0[i] }
    }

    /// The values as given.
    pub fn as_slice(&self) -> &[f64] {
        &self.0
    }

    /// The standard deviation that all points share, if they share one.
    pub fn common(&self) -> Option<f64> {
        self.0.iter().all(|sigma| sigma.total_cmp(&self.0[0]).is_eq()).then(|| self.0[0])
    }

    pub(crate) fn fits(&self, points: usize) -> bool {
        self.0.len() == 1 || self.0.len() == points
    }
}

impl Noise {
    /// The stable name.
    pub const fn name(&self) -> &'static str {
        match self {
            Noise::Equal => "equal",
            Noise::InverseX => "1/x",
            Noise::InverseX2 => "1/x^2",
            Noise::RelativeSigma(_) => "relative_sigma",
            Noise::KnownSigma(_) => "known_sigma",
            Noise::FromReplicates(ReplicateModel::Pooled) => "from_replicates",
            Noise::FromReplicates(ReplicateModel::FloorPlusProportional) => "from_replicates_floor_plus_proportional",
            Noise::FromReplicates(ReplicateModel::PerLevel { .. }) => "from_replicates_per_level",
        }
    }

    /// The noise model called `name`, of those that need no figures.
    ///
    /// # Errors
    /// An unknown name.
    pub fn parse(name: &str) -> Result<Noise, Error> {
        let models = [
            Noise::Equal,
            Noise::InverseX,
            Noise::InverseX2,
            Noise::FromReplicates(ReplicateModel::Pooled),
            Noise::FromReplicates(ReplicateModel::FloorPlusProportional),
            Noise::FromReplicates(ReplicateModel::PerLevel { at_least: 6 }),
        ];
        if let Some(model) = models.iter().find(|model| model.name() == name) {
            return Ok(model.clone());
        }
        let error = Error::argument("noise", format!("there is no noise model {name:?}"));
        let names: Vec<&str> = models.iter().map(Noise::name).collect();
        Err(match nearest(name, names.iter().copied()) {
            Some(near) => error.help(format!("did you mean {near:?}?")),
            None => error.help(format!("it is one of {}, or known or relative standard deviations", names.join(", "))),
        })
    }

    /// Whether points are weighed by their level alone, whatever number of readings each is the mean of.
    pub(crate) const fn scales_by_level(&self) -> bool {
        matches!(self, Noise::Equal | Noise::InverseX | Noise::InverseX2)
    }

    /// Whether the weights follow from the concentration, so that a level at zero has none.
    pub const fn weighs_by_concentration(&self) -> bool {
        matches!(self, Noise::InverseX | Noise::InverseX2)
    }
}
