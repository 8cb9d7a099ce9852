//! Which definition a limit follows.

use std::fmt;

use crate::error::{Error, nearest};
use crate::finding::Citation;

/// What question a limit answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LimitRole {
    /// Noise of the instrument alone; no sample preparation in it. Never a reporting limit.
    Instrument,
    /// Is this *result* more than a blank gives? Guards against false positives (Currie's L_C).
    Decision,
    /// Which *true* content is found with stated confidence? Guards against false negatives (Currie's L_D).
    Detection,
    /// From where on is the figure good enough to be given as a figure?
    Quantitation,
}

impl LimitRole {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            LimitRole::Instrument => "instrument",
            LimitRole::Decision => "decision",
            LimitRole::Detection => "detection",
            LimitRole::Quantitation => "quantitation",
        }
    }
}

macro_rules! definitions {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $role:ident, $title:literal, $citation:expr;)+) => {
        /// The definition a limit follows. Its name is stored beside every limit, because the same letters mean
        /// different things in different programmes: an LOD of the DoD is Currie's L_D, an LOD of many European
        /// texts is three standard deviations of a blank.
        ///
        /// ```
        /// use groundstate::detection::{LimitDefinition, LimitRole};
        /// let definition: LimitDefinition = "40cfr136".parse()?;
        /// assert_eq!(definition, LimitDefinition::Cfr136);
        /// assert_eq!(definition.role(), LimitRole::Decision);
        /// assert!("40cfr137".parse::<LimitDefinition>().unwrap_err().to_string().contains("40cfr136"));
        /// # Ok::<(), groundstate::Error>(())
        /// ```
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum LimitDefinition { $($(#[$doc])* $variant,)+ }

        impl LimitDefinition {
            /// Every definition, in the order of this list.
            pub const ALL: &'static [LimitDefinition] = &[$(LimitDefinition::$variant,)+];

            /// The stable name.
            pub const fn name(self) -> &'static str {
                match self { $(LimitDefinition::$variant => $name,)+ }
            }

            /// What question the limit answers.
            pub const fn role(self) -> LimitRole {
                match self { $(LimitDefinition::$variant => LimitRole::$role,)+ }
            }

            /// The limit in words.
            pub const fn title(self) -> &'static str {
                match self { $(LimitDefinition::$variant => $title,)+ }
            }

            /// Where the definition stands.
            pub const fn citation(self) -> Citation {
                match self { $(LimitDefinition::$variant => $citation,)+ }
            }
        }
    };
}

const QSM: &str = "DoD/DOE Quality Systems Manual for Environmental Laboratories";

definitions! {
    /// Method detection limit of 40 CFR 136: a measured result that a method blank reaches with 1 % probability.
    Cfr136 = "40cfr136", Decision, "method detection limit",
        Citation::transcribed("40 CFR Part 136, Appendix B", "Revision 2", "Definition");
    /// Detection limit of the DoD: lowest result with at most 1 % false positives.
    DodDl = "dod_dl", Decision, "detection limit (DoD)", Citation::unverified(QSM, "", "");
    /// Limit of detection of the DoD: lowest true content found with 99 % confidence.
    DodLod = "dod_lod", Detection, "limit of detection (DoD)", Citation::unverified(QSM, "", "");
    /// Limit of quantitation of the DoD: precision and bias known, inside the calibration.
    DodLoq = "dod_loq", Quantitation, "limit of quantitation (DoD)", Citation::unverified(QSM, "", "");
    /// Limit of quantitation of the TNI standard: at or above the lowest standard, verified every year.
    TniLoq = "tni_loq", Quantitation, "limit of quantitation (TNI)",
        Citation::unverified("TNI EL-V1 Module 4", "2016", "");
    /// Lower limit of quantitation of SW-846: lowest point of quantitation, at or above the lowest standard.
    Sw846Lloq = "sw846_lloq", Quantitation, "lower limit of quantitation (SW-846)",
        Citation::transcribed("EPA SW-846 Method 8000D", "Revision 5, 2018", "9.7");
    /// Minimum level: 3.18 times an MDL of seven replicates, rounded to 1, 2 or 5 times a power of ten.
    MinimumLevel = "minimum_level", Quantitation, "minimum level (EPA)",
        Citation::transcribed("EPA Method 1631", "Revision E", "17.12");
    /// Instrument detection limit of 7000B: the average of three daily standard deviations; no factor of three.
    Idl7000b = "idl_7000b", Instrument, "instrument detection limit (7000B)",
        Citation::transcribed("EPA SW-846 Method 7000B", "Revision 2, 2007", "9.3");
    /// Instrument detection limit of 6010D and Chapter Three: mean of the blanks plus three standard deviations.
    Idl6010d = "idl_6010d", Instrument, "instrument detection limit (6010D)",
        Citation::transcribed("EPA SW-846 Method 6010D", "Revision 5, 2018", "9.3");
    /// Instrument detection limit of the 200 series: three standard deviations of replicate blank readings.
    Idl200 = "idl_200", Instrument, "instrument detection limit (200 series)",
        Citation::unverified("EPA Methods 200.7 and 200.9", "1994", "");
    /// Critical value of ISO 11843-2, from a linear calibration.
    Iso11843Critical = "iso11843_critical", Decision, "critical value of the net state variable (ISO 11843)",
        Citation::unverified("ISO 11843-2", "2000", "");
    /// Minimum detectable value of ISO 11843-2, from a linear calibration.
    Iso11843 = "iso11843", Detection, "minimum detectable value (ISO 11843)",
        Citation::unverified("ISO 11843-2", "2000", "");
    /// Detection limit (Nachweisgrenze) of DIN 32645. By this standard it decides on a result, as Currie's L_C.
    Din32645 = "din32645", Decision, "detection limit, Nachweisgrenze (DIN 32645)",
        Citation::unverified("DIN 32645", "2008", "");
    /// Identification limit (Erfassungsgrenze) of DIN 32645: lowest true content found with stated confidence.
    Din32645Identification = "din32645_identification", Detection, "identification limit, Erfassungsgrenze (DIN 32645)",
        Citation::unverified("DIN 32645", "2008", "");
    /// Quantitation limit (Bestimmungsgrenze) of DIN 32645: a stated relative half-width of the interval.
    Din32645Quantitation = "din32645_quantitation", Quantitation, "quantitation limit, Bestimmungsgrenze (DIN 32645)",
        Citation::unverified("DIN 32645", "2008", "");
    /// Currie's critical level L_C.
    CurrieCritical = "currie_critical", Decision, "critical level (Currie)",
        Citation::unverified("L. A. Currie, Pure and Applied Chemistry 67, 1699", "1995", "");
    /// Currie's detection limit L_D.
    CurrieDetection = "currie_detection", Detection, "detection limit (Currie)",
        Citation::unverified("L. A. Currie, Pure and Applied Chemistry 67, 1699", "1995", "");
    /// Currie's quantification limit L_Q.
    CurrieQuantitation = "currie_quantitation", Quantitation, "quantification limit (Currie)",
        Citation::unverified("L. A. Currie, Pure and Applied Chemistry 67, 1699", "1995", "");
    /// A detection limit that the laboratory or its client set; what it means stands in their own papers.
    LaboratoryDetection = "laboratory_detection", Detection, "detection limit set by the laboratory",
        Citation::laboratory();
    /// A reporting or contract limit that the laboratory or its client set.
    LaboratoryQuantitation = "laboratory_quantitation", Quantitation, "quantitation limit set by the laboratory",
        Citation::laboratory();
}

impl LimitDefinition {
    /// The definition called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|definition| definition.name() == name)
    }
}

impl std::str::FromStr for LimitDefinition {
    type Err = Error;

    fn from_str(name: &str) -> Result<Self, Error> {
        Self::from_name(name).ok_or_else(|| {
            let known = Self::ALL.iter().map(|definition| definition.name());
            let help = match nearest(name, known.clone()) {
                Some(near) => format!("did you mean {near:?}?"),
                None => format!("known definitions: {}", known.collect::<Vec<_>>().join(", ")),
            };
            Error::argument("definition", format!("{name:?} is not the name of a limit's definition")).help(help)
        })
    }
}

impl fmt::Display for LimitDefinition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::CitationStatus;

    #[test]
    fn names_are_unique_and_come_back() {
        for (i, definition) in LimitDefinition::ALL.iter().enumerate() {
            assert_eq!(definition.name().parse::<LimitDefinition>().ok(), Some(*definition));
            assert!(LimitDefinition::ALL[..i].iter().all(|other| other.name() != definition.name()));
        }
    }

    #[test]
    fn an_unverified_definition_quotes_no_clause() {
        for definition in LimitDefinition::ALL {
            let citation = definition.citation();
            if citation.status == CitationStatus::Unverified {
                assert_eq!(citation.clause, "", "{definition}");
            }
        }
    }

    #[test]
    fn the_two_lods_are_told_apart() {
        assert_eq!(LimitDefinition::DodLod.role(), LimitRole::Detection);
        assert_eq!(LimitDefinition::Din32645.role(), LimitRole::Decision);
        assert_eq!(LimitDefinition::Cfr136.role(), LimitRole::Decision);
    }

    #[test]
    fn a_stranger_gets_the_list() {
        let error = "something else altogether".parse::<LimitDefinition>().unwrap_err().to_string();
        assert!(error.contains("sw846_lloq"), "{error}");
    }
}
