//! How the calibration is made.

use std::sync::Arc;

use super::policy::words;
use crate::addition::VarianceModel;
use crate::curve::{Noise, PointKind, Shape, Stock, Zero, Zeroing};
use crate::unit::Unit;

words! {
    /// Where the scatter of a sample's readings is taken from.
    ReadingScatter, "reading_scatter":
    /// From the noise model of the calibration.
    Model = "model",
    /// From the sample's own replicate readings, with one degree of freedom fewer than they are.
    Own = "own",
}

words! {
    /// Which test looks for outlying readings among the replicates of a position. A test only flags.
    OutlierTest, "outliers":
    /// None.
    None = "none",
    /// Grubbs' test of the most extreme reading, two-sided.
    Grubbs = "grubbs",
    /// Dixon's r10, two-sided.
    Dixon = "dixon",
}

/// A position that the laboratory leaves out, with its reason. It stays in the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exclusion {
    /// Position in the run.
    pub position: u32,
    /// The documented cause.
    pub reason: Arc<str>,
    /// Who decided.
    pub who: Arc<str>,
    /// When, as written.
    pub when: Arc<str>,
}

/// A matrix whose samples are read from a calibration of their own, made of standards in that matrix.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchedStandards {
    /// The matrix, as the column `matrix` has it.
    pub matrix: Arc<str>,
    /// Standards and calibration blanks by their `standard_id`; none: those whose own row names the matrix.
    pub standards: Vec<Arc<str>>,
}

/// How the calibration is made.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationRules {
    /// Shape of the function.
    pub shape: Shape,
    /// What is assumed of the scatter.
    pub noise: Noise,
    /// What a point is.
    pub points: PointKind,
    /// What becomes of a level at zero.
    pub zero: Zero,
    /// How the signals were zeroed.
    pub zeroing: Zeroing,
    /// Unit of the standards.
    pub unit: Unit,
    /// The stock that the standards were made from.
    pub stock: Option<Stock>,
    /// Smallest step of the signal.
    pub resolution: Option<f64>,
    /// Where the scatter of a sample's readings is taken from.
    pub reading_scatter: ReadingScatter,
    /// Which test flags outlying readings.
    pub outliers: OutlierTest,
    /// Alpha of that test.
    pub outlier_alpha: f64,
    /// Positions left out.
    pub exclude: Vec<Exclusion>,
    /// Matrices with a calibration of their own.
    pub matched: Vec<MatchedStandards>,
    /// How scatter enters the comparison of a matched calibration with the external one.
    pub variance: VarianceModel,
}

impl Default for CalibrationRules {
    fn default() -> Self {
        CalibrationRules {
            shape: Shape::Line,
            noise: Noise::Equal,
            points: PointKind::Standards,
            zero: Zero::Include,
            zeroing: Zeroing::Raw,
            unit: Unit::MilligramPerLitre,
            stock: None,
            resolution: None,
            reading_scatter: ReadingScatter::Model,
            outliers: OutlierTest::Grubbs,
            outlier_alpha: 0.05,
            exclude: Vec::new(),
            matched: Vec::new(),
            variance: VarianceModel::Welch,
        }
    }
}
