//! What a position of a run is for.

use std::fmt;

use crate::error::{Error, nearest};
use crate::method::AliasPolicy;

macro_rules! roles {
    ($($(#[$doc:meta])* $variant:ident = $name:literal;)+) => {
        /// What a position of a run is for. Names follow SW-846 Chapter One and Methods 7000B and 6010D.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Role { $($(#[$doc])* $variant,)+ }

        impl Role {
            /// Every role, in the order in which a run usually meets them.
            pub const ALL: &'static [Role] = &[$(Role::$variant,)+];

            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(Role::$variant => $name,)+ }
            }
        }
    };
}

roles! {
    /// Solvent without analyte that belongs to the calibration; nominally zero.
    CalibrationBlank = "calibration_blank";
    /// A poured standard of the calibration.
    Standard = "standard";
    /// A sample.
    Sample = "sample";
    /// Initial calibration verification, from a second source.
    Icv = "icv";
    /// Initial calibration blank.
    Icb = "icb";
    /// Continuing calibration verification.
    Ccv = "ccv";
    /// Continuing calibration blank.
    Ccb = "ccb";
    /// Check of the low end of the calibration.
    LowCheck = "low_check";
    /// Reagents carried through the whole preparation.
    MethodBlank = "method_blank";
    /// Laboratory control sample: a clean matrix with a known addition, through the whole preparation.
    Lcs = "lcs";
    /// Second laboratory control sample of a batch.
    Lcsd = "lcsd";
    /// Second portion of a sample, through the whole preparation.
    Duplicate = "duplicate";
    /// Portion of a sample with a known addition before its preparation.
    MatrixSpike = "matrix_spike";
    /// Second matrix spike of the same sample.
    MatrixSpikeDuplicate = "matrix_spike_duplicate";
    /// Known addition to a finished digest.
    PostDigestionSpike = "post_digestion_spike";
    /// A digest diluted once more, to see whether the result stays.
    SerialDilution = "serial_dilution";
    /// A portion of a standard addition series.
    Addition = "addition";
    /// A material with a certified or agreed content.
    ReferenceMaterial = "reference_material";
}

/// Other names of roles in the EPA 200 series and in SW-846, one table for the whole library (semantics: accepted
/// in input only when the method says so).
pub const ALIASES: [(&str, Role); 6] = [
    ("lfb", Role::Lcs),
    ("lfm", Role::MatrixSpike),
    ("lrb", Role::MethodBlank),
    ("ipc", Role::Ccv),
    ("qcs", Role::Icv),
    ("llqc", Role::LowCheck),
];

impl Role {
    /// The role called `name`; spaces around it and the case of its letters do not matter.
    ///
    /// ```
    /// use groundstate::run::Role;
    /// use groundstate::method::AliasPolicy;
    /// assert_eq!(Role::parse("CCV", AliasPolicy::Refuse)?, Role::Ccv);
    /// assert_eq!(Role::parse("LFB", AliasPolicy::Accept)?, Role::Lcs);
    /// let error = Role::parse("matrix_spik", AliasPolicy::Refuse).unwrap_err();
    /// assert!(error.to_string().contains("did you mean matrix_spike?"));
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    ///
    /// # Errors
    /// Any other name, with the nearest one; one of [`ALIASES`] where `aliases` refuses them.
    pub fn parse(name: &str, aliases: AliasPolicy) -> Result<Role, Error> {
        let plain = name.trim().to_lowercase();
        if let Some(role) = Role::ALL.iter().find(|role| role.name() == plain) {
            return Ok(*role);
        }
        let alias = ALIASES.iter().find(|(alias, _)| *alias == plain).map(|(_, role)| *role);
        match (alias, aliases) {
            (Some(role), AliasPolicy::Accept) => Ok(role),
            (Some(role), AliasPolicy::Refuse) => Err(unknown(name).help(format!(
                "write {}, or set aliases = \"accept\" in the method to have {} read as it",
                role.name(),
                name.trim()
            ))),
            (None, _) => {
                // The cut keeps the search short; a very long text is near no name.
                let start: String = plain.chars().take(40).collect();
                let names = Role::ALL.iter().map(|role| role.name());
                Err(unknown(name).help(match nearest(&start, names.clone()) {
                    Some(near) => format!("did you mean {near}?"),
                    None => format!("roles are {}", names.collect::<Vec<_>>().join(", ")),
                }))
            }
        }
    }

    /// Whether the position is a point of the calibration.
    pub const fn is_calibration(self) -> bool {
        matches!(self, Role::CalibrationBlank | Role::Standard)
    }

    /// Whether it checks the instrument and so speaks of the positions around it.
    pub const fn is_instrument_check(self) -> bool {
        matches!(self, Role::Icv | Role::Icb | Role::Ccv | Role::Ccb | Role::LowCheck)
    }

    /// Whether it checks a preparation batch and so speaks of the samples of that batch.
    pub const fn is_batch_check(self) -> bool {
        matches!(
            self,
            Role::MethodBlank
                | Role::Lcs
                | Role::Lcsd
                | Role::Duplicate
                | Role::MatrixSpike
                | Role::MatrixSpikeDuplicate
                | Role::PostDigestionSpike
                | Role::SerialDilution
                | Role::ReferenceMaterial
        )
    }

    /// Whether it should hold no analyte.
    pub const fn is_blank(self) -> bool {
        matches!(self, Role::CalibrationBlank | Role::Icb | Role::Ccb | Role::MethodBlank)
    }

    /// Whether it is made from another position, which its row names in the column `of`.
    pub const fn has_parent(self) -> bool {
        matches!(
            self,
            Role::Duplicate
                | Role::MatrixSpike
                | Role::MatrixSpikeDuplicate
                | Role::PostDigestionSpike
                | Role::SerialDilution
        )
    }

    /// Whether a known amount was added to it, so that a recovery can be asked for.
    pub const fn is_spike(self) -> bool {
        matches!(self, Role::MatrixSpike | Role::MatrixSpikeDuplicate | Role::PostDigestionSpike)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

fn unknown(name: &str) -> Error {
    let shown: String = name.chars().take(40).collect();
    Error::argument("role", format!("unknown role {shown:?}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_come_back_whatever_their_case() {
        for role in Role::ALL {
            assert_eq!(Role::parse(role.name(), AliasPolicy::Refuse).unwrap(), *role);
            let loud = format!(" {} ", role.name().to_uppercase());
            assert_eq!(Role::parse(&loud, AliasPolicy::Refuse).unwrap(), *role);
        }
    }

    #[test]
    fn an_alias_needs_the_methods_word() {
        let error = Role::parse("LFM", AliasPolicy::Refuse).unwrap_err().to_string();
        assert!(error.contains("write matrix_spike, or set aliases = \"accept\""), "{error}");
        for (alias, role) in ALIASES {
            assert_eq!(Role::parse(alias, AliasPolicy::Accept).unwrap(), role);
        }
    }

    #[test]
    fn a_stranger_gets_the_list_and_a_long_one_is_cut() {
        let error = Role::parse(&"z".repeat(10_000), AliasPolicy::Accept).unwrap_err().to_string();
        assert!(error.contains("roles are calibration_blank, standard") && error.len() < 500, "{error}");
    }

    #[test]
    fn every_role_but_the_sample_and_the_addition_belongs_to_one_group() {
        for role in Role::ALL {
            let groups = [role.is_calibration(), role.is_instrument_check(), role.is_batch_check()];
            let expected = usize::from(!matches!(role, Role::Sample | Role::Addition));
            assert_eq!(groups.iter().filter(|member| **member).count(), expected, "{role}");
            assert!(!role.is_spike() || role.has_parent());
        }
    }
}
