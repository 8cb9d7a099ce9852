//! The checks of a run, by kind.

use crate::error::{Error, nearest};

macro_rules! kinds {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $title:literal;)+) => {
        /// A kind of check. The names are those of the roles in a run.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum CheckKind { $($(#[$doc])* $variant,)+ }

        impl CheckKind {
            /// Every kind, in the order of reports.
            pub const ALL: &'static [CheckKind] = &[$(CheckKind::$variant,)+];

            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(CheckKind::$variant => $name,)+ }
            }

            /// The check in words.
            pub const fn title(self) -> &'static str {
                match self { $(CheckKind::$variant => $title,)+ }
            }
        }
    };
}

kinds! {
    /// Acceptance of a calibration by its own figures.
    Calibration = "calibration", "calibration acceptance";
    /// Initial calibration verification, from a second source.
    Icv = "icv", "initial calibration verification";
    /// Initial calibration blank.
    Icb = "icb", "initial calibration blank";
    /// Low-level check, at or near the limit of quantitation.
    LowCheck = "low_check", "low-level check";
    /// Continuing calibration verification.
    Ccv = "ccv", "continuing calibration verification";
    /// Continuing calibration blank.
    Ccb = "ccb", "continuing calibration blank";
    /// A blank carried through the whole preparation.
    MethodBlank = "method_blank", "method blank";
    /// Laboratory control sample.
    Lcs = "lcs", "laboratory control sample";
    /// Laboratory control sample duplicate.
    Lcsd = "lcsd", "laboratory control sample duplicate";
    /// A second portion of a sample.
    Duplicate = "duplicate", "duplicate";
    /// A portion of a sample with a known addition before preparation.
    MatrixSpike = "matrix_spike", "matrix spike";
    /// A second spiked portion.
    MatrixSpikeDuplicate = "matrix_spike_duplicate", "matrix spike duplicate";
    /// A known addition to the prepared sample.
    PostDigestionSpike = "post_digestion_spike", "post-digestion spike";
    /// The prepared sample again, diluted.
    SerialDilution = "serial_dilution", "serial dilution";
    /// A reference material carried through the whole preparation.
    ReferenceMaterial = "reference_material", "reference material";
}

impl CheckKind {
    /// The kind called `name`.
    ///
    /// # Errors
    /// An unknown name, with the nearest known one.
    pub fn from_name(name: &str) -> Result<Self, Error> {
        CheckKind::ALL.iter().copied().find(|kind| kind.name() == name).ok_or_else(|| {
            let error = Error::argument("check", format!("{name:?} is not a kind of check"));
            match nearest(name, CheckKind::ALL.iter().map(|kind| kind.name())) {
                Some(near) => error.help(format!("did you mean {near}?")),
                None => error,
            }
        })
    }

    /// Whether the check speaks for the instrument at its place in the sequence, so that it affects by position.
    /// The others, but for calibration acceptance, speak for their preparation batch.
    pub const fn is_instrument(self) -> bool {
        matches!(self, CheckKind::Icv | CheckKind::Icb | CheckKind::LowCheck | CheckKind::Ccv | CheckKind::Ccb)
    }

    /// Whether the check speaks for the samples of its preparation batch.
    pub const fn is_batch(self) -> bool {
        !self.is_instrument() && !matches!(self, CheckKind::Calibration)
    }
}
