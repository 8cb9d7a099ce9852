//! Limits of detection and quantitation, and the limit that a conformity is judged by.

use std::sync::Arc;

use super::policy::words;
use super::{LimitStudy, SampleKind};
use crate::detection::LimitDefinition;
use crate::preparation::{LimitBasis, LimitFloor};
use crate::unit::{Dimension, Unit};

words! {
    /// The limit below which a result is reported as not detected.
    NondetectAt, "nondetect_at":
    /// The method detection limit.
    Mdl = "mdl",
    /// The limit of detection.
    Lod = "lod",
    /// The limit of quantitation.
    Loq = "loq",
}

words! {
    /// On which side of a limit a sample conforms.
    ConformSide, "conforms":
    /// At the limit and below it: the limit is a maximum.
    AtMost = "at_most",
    /// At the limit and above it: the limit is a minimum.
    AtLeast = "at_least",
}

/// One limit, with what it is stated for and whose definition it follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// The limit, positive.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// What it is stated for.
    pub basis: LimitBasis,
    /// The definition it follows.
    pub definition: LimitDefinition,
    /// The study it rests on, in its unit; none where the study is kept elsewhere. The limit may be held above what the
    /// study gives, never below.
    pub study: Option<Arc<LimitStudy>>,
}

impl Limit {
    /// Whether the limit is meant for samples of this kind: every limit of a solution, and limits of a sample whose
    /// unit is that of the kind.
    pub fn applies_to(&self, kind: SampleKind) -> bool {
        self.basis == LimitBasis::Solution || self.unit.dimension() == kind.dimension()
    }
}

/// How a conformity is decided from a result and its uncertainty (JCGM 106:2012, sections 8.2 and 8.3; from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum DecisionRule {
    /// The value is compared with the limit; its uncertainty is not considered.
    Simple,
    /// The value is compared with the limit moved to the safe side by a multiple of the expanded uncertainty.
    GuardBand {
        /// The multiple; 1 keeps the whole expanded uncertainty between result and limit.
        multiple: f64,
    },
    /// The value is compared with the limit, provided that its expanded uncertainty is small enough; producer and
    /// consumer share the risk of a wrong decision.
    SharedRisk {
        /// The largest expanded uncertainty that the parties accept, as a fraction of the limit.
        largest_relative_expanded_uncertainty: f64,
    },
}

impl DecisionRule {
    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            DecisionRule::Simple => "simple",
            DecisionRule::GuardBand { .. } => "guard_band",
            DecisionRule::SharedRisk { .. } => "shared_risk",
        }
    }
}

/// A limit that samples conform with or not, and how that is decided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ActionLimit {
    /// The limit, in sample units.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// On which side a sample conforms.
    pub conforms: ConformSide,
    /// How it is decided.
    pub rule: DecisionRule,
}

/// All limits of a method. Each short name holds at most one limit for liquids and one for solids.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Method detection limits.
    pub mdl: Vec<Limit>,
    /// Limits of detection.
    pub lod: Vec<Limit>,
    /// Limits of quantitation.
    pub loq: Vec<Limit>,
    /// The limit below which a result is reported as not detected; none where the method reports every figure.
    pub nondetect_at: Option<NondetectAt>,
    /// Whether a limit may fall below its nominal value.
    pub floor: LimitFloor,
    /// Limits that samples conform with or not; at most one for liquids and one for solids.
    pub action: Vec<ActionLimit>,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            mdl: Vec::new(),
            lod: Vec::new(),
            loq: Vec::new(),
            nondetect_at: None,
            floor: LimitFloor::FollowFactor,
            action: Vec::new(),
        }
    }
}

impl Limits {
    /// The limits of one short name.
    pub fn of(&self, which: NondetectAt) -> &[Limit] {
        match which {
            NondetectAt::Mdl => &self.mdl,
            NondetectAt::Lod => &self.lod,
            NondetectAt::Loq => &self.loq,
        }
    }

    /// The limit of one short name for samples of one kind.
    pub fn find(&self, which: NondetectAt, kind: SampleKind) -> Option<&Limit> {
        self.of(which).iter().find(|limit| limit.applies_to(kind))
    }

    /// The action limit for samples of one kind.
    pub fn action_for(&self, kind: SampleKind) -> Option<&ActionLimit> {
        self.action.iter().find(|limit| limit.unit.dimension() == kind.dimension())
    }
}

impl SampleKind {
    /// What its results measure.
    pub const fn dimension(self) -> Dimension {
        match self {
            SampleKind::Liquid => Dimension::MassPerVolume,
            SampleKind::Solid => Dimension::MassPerMass,
        }
    }
}
