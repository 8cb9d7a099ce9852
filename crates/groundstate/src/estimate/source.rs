//! Independent sources of uncertainty, known by keys made from content.

use std::fmt;
use std::sync::Arc;

use super::Dof;

/// A calibration's identity: a hash of what it was fitted to and how.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CalibrationId(pub u64);

impl fmt::Display for CalibrationId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

/// What at a position a source stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Part {
    /// The scatter of the readings.
    Reading,
    /// What a number of replicates other than the standards' adds to that scatter.
    Replicates,
    /// The weighed mass.
    Mass,
    /// The measured volume of the sample.
    SampleVolume,
    /// The volume it was made up to.
    FinalVolume,
    /// The aliquot of the n-th dilution step, counted from 1.
    Aliquot(u8),
    /// The flask of the n-th dilution step, counted from 1.
    Flask(u8),
    /// The n-th dilution given as a bare factor, counted from 1.
    Dilution(u8),
    /// The fraction of solids.
    Solids,
    /// The n-th further factor, counted from 1.
    Factor(u8),
    /// The amount added to it, or the volume of the solution added.
    Added,
    /// The concentration of the solution added.
    AddedConcentration,
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Part::Reading => f.write_str("reading"),
            Part::Replicates => f.write_str("replicates"),
            Part::Mass => f.write_str("mass"),
            Part::SampleVolume => f.write_str("sample_volume"),
            Part::FinalVolume => f.write_str("final_volume"),
            Part::Aliquot(n) => write!(f, "aliquot_{n}"),
            Part::Flask(n) => write!(f, "flask_{n}"),
            Part::Dilution(n) => write!(f, "dilution_{n}"),
            Part::Solids => f.write_str("solids"),
            Part::Factor(n) => write!(f, "factor_{n}"),
            Part::Added => f.write_str("added"),
            Part::AddedConcentration => f.write_str("added_concentration"),
        }
    }
}

/// The identity of a source or of a variance estimate. Made from content, never from a counter: the same key means
/// the same quantity, in one outcome, between outcomes, and after a round trip through JSON.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Key {
    /// The n-th independent part of a calibration's coefficients, counted from 1.
    Calibration(CalibrationId, u8),
    /// The blank that zeroed a calibration's signals.
    Zero(CalibrationId),
    /// Scatter about the curve of a calibration: a variance estimate.
    Residual(CalibrationId),
    /// Scatter of readings within its standards: a variance estimate.
    Within(CalibrationId),
    /// A stock solution.
    Stock(Arc<str>),
    /// A named piece of glassware or a balance, shared by all who name it.
    Item(Arc<str>),
    /// A named factor, shared by all who name it.
    Factor(Arc<str>),
    /// Something belonging to one position of one run.
    At(Arc<str>, u32, Part),
    /// A source named by the caller.
    Named(Arc<str>),
    /// The variance estimate of everything whose standard uncertainty is known.
    Known,
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Key::Calibration(id, part) => write!(f, "calibration:{id}#{part}"),
            Key::Zero(id) => write!(f, "zero:{id}"),
            Key::Residual(id) => write!(f, "residual:{id}"),
            Key::Within(id) => write!(f, "within:{id}"),
            Key::Stock(name) => write!(f, "stock:{name}"),
            Key::Item(name) => write!(f, "item:{name}"),
            Key::Factor(name) => write!(f, "factor:{name}"),
            Key::At(run, position, part) => write!(f, "{run}/{position}:{part}"),
            Key::Named(name) => write!(f, "named:{name}"),
            Key::Known => f.write_str("known"),
        }
    }
}

/// What kind of thing a source is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum SourceKind {
    /// Coefficients of the calibration, one block of correlated figures.
    Calibration,
    /// The zero of the signals.
    Zero,
    /// Scatter of the sample's readings.
    Reading,
    /// The stock that the standards share.
    Stock,
    /// Concentration of a single standard.
    Level,
    /// A volume or a dilution.
    Volume,
    /// A weighing.
    Mass,
    /// The fraction of solids.
    Solids,
    /// Any further factor.
    Factor,
    /// Correction of drift.
    Drift,
}

impl SourceKind {
    /// Every kind.
    pub const ALL: [SourceKind; 10] = [
        SourceKind::Calibration,
        SourceKind::Zero,
        SourceKind::Reading,
        SourceKind::Stock,
        SourceKind::Level,
        SourceKind::Volume,
        SourceKind::Mass,
        SourceKind::Solids,
        SourceKind::Factor,
        SourceKind::Drift,
    ];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            SourceKind::Calibration => "calibration",
            SourceKind::Zero => "zero",
            SourceKind::Reading => "reading",
            SourceKind::Stock => "stock",
            SourceKind::Level => "level",
            SourceKind::Volume => "volume",
            SourceKind::Mass => "mass",
            SourceKind::Solids => "solids",
            SourceKind::Factor => "factor",
            SourceKind::Drift => "drift",
        }
    }
}

/// Index of a source in its table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SourceIx(pub(crate) u32);

/// Index of a variance estimate in its table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct VarianceIx(pub(crate) u32);

/// An independent source of uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Its identity.
    pub key: Key,
    /// What kind of thing it is.
    pub kind: SourceKind,
    /// The variance estimate that its standard uncertainty rests on.
    pub variance: VarianceIx,
    /// A second estimate that its variance rests on too, and that one's part of the variance. A part is negative where
    /// scatter was taken off: the residual variance of standards of m readings less what more readings average away.
    pub second: Option<(VarianceIx, f64)>,
}

/// A variance estimate with its degrees of freedom. Sources on the same estimate are added before
/// Welch-Satterthwaite joins the independent ones.
#[derive(Clone, Debug, PartialEq)]
pub struct Variance {
    /// Its identity.
    pub key: Key,
    /// Its degrees of freedom.
    pub dof: Dof,
}
