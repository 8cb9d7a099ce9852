//! Profiles of criteria, as data.

use super::source::{CHAPTER_ONE, SM3111, m7000b};
use super::value::CriterionValue::{self, Number, Off};
use super::value::choice as word;
use crate::error::{Error, Kind, Place, Problem, nearest};
use crate::finding::Citation;

/// Section, key, value and source of one criterion.
pub(super) type Setting = (&'static str, &'static str, CriterionValue, Citation);

/// A named set of criteria.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
#[non_exhaustive]
pub enum ProfileName {
    /// Requires nothing; judges what is there against customary limits.
    #[default]
    General,
    /// SW-846 Method 7000B, flame atomic absorption.
    Sw846Method7000B,
    /// A template after Standard Methods 3111, unverified.
    StandardMethods3111,
}

impl ProfileName {
    /// Every profile.
    pub const ALL: [ProfileName; 3] =
        [ProfileName::General, ProfileName::Sw846Method7000B, ProfileName::StandardMethods3111];

    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            ProfileName::General => "general",
            ProfileName::Sw846Method7000B => "sw846_7000b",
            ProfileName::StandardMethods3111 => "standard_methods_3111",
        }
    }

    /// What the profile is, and what it is not.
    pub const fn words(self) -> &'static str {
        match self {
            ProfileName::General => {
                "This profile requires nothing: a run without any check is complete. Checks that are present are \
                 judged against customary limits (common practice, no source) until the method sets its own."
            }
            ProfileName::Sw846Method7000B => {
                "Default limits of SW-846 Method 7000B, Revision 2, for projects that set none. The method admits \
                 only a line. Rules that it does not print, such as the fourfold-native rule for spikes, are off \
                 until they are named."
            }
            ProfileName::StandardMethods3111 => {
                "An unverified template after Standard Methods 3111, written from memory: replace its figures by \
                 those of the edition in use."
            }
        }
    }

    /// The profile called `name`.
    ///
    /// # Errors
    /// An unknown name, with the nearest known one.
    ///
    /// ```
    /// use groundstate::criteria::ProfileName;
    /// assert_eq!(ProfileName::from_name("sw846_7000b")?, ProfileName::Sw846Method7000B);
    /// assert!(ProfileName::from_name("sw846_7000").unwrap_err().to_string().contains("sw846_7000b"));
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn from_name(name: &str) -> Result<Self, Error> {
        ProfileName::ALL.into_iter().find(|profile| profile.name() == name).ok_or_else(|| {
            let names = ProfileName::ALL.map(ProfileName::name);
            let help = match nearest(name, names) {
                Some(near) => format!("did you mean {near}?"),
                None => format!("the profiles are {}", names.join(", ")),
            };
            let what = format!("{name:?} is not a profile of criteria");
            Error::new(Kind::Method, Problem::new(Place::named("profile"), what).help(help))
        })
    }

    /// What the profile sets otherwise than the catalogue: section, key, value, source.
    pub(super) fn settings(self) -> Vec<Setting> {
        match self {
            ProfileName::General => Vec::new(),
            ProfileName::Sw846Method7000B => sw846_7000b(),
            ProfileName::StandardMethods3111 => standard_methods_3111(),
        }
    }
}

fn sw846_7000b() -> Vec<Setting> {
    let required = || word("required");
    let mut settings = vec![
        ("calibration", "shapes", word("line"), m7000b("10.2")),
        ("calibration", "minimum_standards", Number(3.0), m7000b("10.1.1")),
        ("calibration", "blank", required(), m7000b("10.1.1")),
        ("calibration", "r", Number(0.995), m7000b("10.2")),
        ("calibration", "correlation_edge", word("inclusive"), m7000b("10.2")),
        ("calibration", "standard_rpd", Number(10.0), m7000b("10.3")),
        ("calibration", "highest_absorbance", Number(0.7), m7000b("10.1")),
        ("icv", "required", required(), m7000b("10.2.1")),
        ("icb", "required", required(), m7000b("10.2.1")),
        ("icb", "rule", word("limit"), m7000b("10.2.1")),
        ("icb", "basis", word("loq"), m7000b("10.2.1")),
        ("icb", "factor", Number(1.0), m7000b("10.2.1")),
        ("icb", "edge", word("strict"), m7000b("10.2.1")),
        ("ccb", "rule", word("limit"), m7000b("10.2.2")),
        ("ccb", "basis", word("loq"), m7000b("10.2.2")),
        ("ccb", "factor", Number(1.0), m7000b("10.2.2")),
        ("ccb", "edge", word("strict"), m7000b("10.2.2")),
        ("method_blank", "rule", word("three_way"), m7000b("9.5")),
        ("method_blank", "percent", Number(10.0), m7000b("9.5")),
        ("method_blank", "edge", word("strict"), m7000b("9.5")),
        ("duplicate", "rpd", Number(20.0), m7000b("9.7")),
        ("duplicate", "rpd_edge", word("inclusive"), m7000b("9.7")),
        ("matrix_spike_duplicate", "rpd", Number(20.0), m7000b("9.7")),
        ("matrix_spike_duplicate", "rpd_edge", word("inclusive"), m7000b("9.7")),
        ("post_digestion_spike", "addition_least", Number(10.0), m7000b("9.8.1")),
        ("post_digestion_spike", "addition_most", Number(100.0), m7000b("9.8.1")),
        ("post_digestion_spike", "required", word("after_failed_spike"), m7000b("9.7, 9.8.1")),
        ("serial_dilution", "required", word("after_failed_spike"), m7000b("9.8.1, 9.8.2")),
        ("serial_dilution", "difference", Number(10.0), m7000b("9.8.2")),
        ("serial_dilution", "edge", word("inclusive"), m7000b("9.8.2")),
        ("serial_dilution", "floor", Number(10.0), m7000b("9.8.2")),
        ("serial_dilution", "floor_at", word("after_dilution"), m7000b("9.8.2")),
        ("serial_dilution", "fold", Number(5.0), m7000b("9.8.2")),
    ];
    for (check, low, high, clause) in [
        ("icv", 90.0, 110.0, "10.2.1"),
        ("ccv", 90.0, 110.0, "10.2.2"),
        ("low_check", 70.0, 130.0, "10.2.3"),
        ("lcs", 80.0, 120.0, "9.6"),
        ("lcsd", 80.0, 120.0, "9.6"),
        ("matrix_spike", 75.0, 125.0, "9.7"),
        ("matrix_spike_duplicate", 75.0, 125.0, "9.7"),
        ("post_digestion_spike", 80.0, 120.0, "9.8.1"),
    ] {
        let values = [("low", Number(low)), ("high", Number(high)), ("edge", word("inclusive"))];
        settings.extend(values.map(|(key, value)| (check, key, value, m7000b(clause))));
    }
    for check in ["ccv", "ccb"] {
        let values = [("required", required()), ("every", Number(10.0)), ("at_end", required())];
        settings.extend(values.map(|(key, value)| (check, key, value, m7000b("10.2.2"))));
    }
    for (check, clause) in [("method_blank", "9.5"), ("lcs", "9.6"), ("matrix_spike", "9.7"), ("duplicate", "9.7")] {
        settings.push((check, "required", required(), m7000b(clause)));
        settings.push((check, "batch_size", Number(20.0), CHAPTER_ONE));
    }
    settings
}

fn standard_methods_3111() -> Vec<Setting> {
    let required = || word("required");
    let mut settings = vec![
        ("calibration", "minimum_standards", Number(3.0), SM3111),
        ("calibration", "blank", required(), SM3111),
        ("calibration", "r", Number(0.995), SM3111),
        ("calibration", "r_squared", Off, SM3111),
        ("ccv", "required", required(), SM3111),
        ("ccv", "every", Number(10.0), SM3111),
        ("ccb", "required", required(), SM3111),
        ("ccb", "every", Number(10.0), SM3111),
    ];
    for check in ["method_blank", "lcs", "matrix_spike", "duplicate"] {
        settings.push((check, "required", required(), SM3111));
        settings.push((check, "batch_size", Number(20.0), SM3111));
    }
    settings
}
