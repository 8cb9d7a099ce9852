//! Rules of checks as plain data: limits, edges, frequencies, eligibility, each with its source.
//!
//! [`Criteria`] is a table of criteria under `section.key`. A profile fills it; a method overrides single figures
//! by [`Criteria::set`]. The rooms that judge read it through plain structs such as [`Range`] and never see where a
//! figure came from, except to cite it.
//!
//! ```
//! use groundstate::criteria::{CheckKind, Criteria, ProfileName};
//!
//! let mut criteria = Criteria::profile(ProfileName::Sw846Method7000B);
//! assert_eq!(criteria.recovery(CheckKind::Ccv).high, Some(110.0)); // 10.2.2
//! criteria.set("ccv", "high", 105.0.into())?; // the laboratory's own
//! assert_eq!(criteria.get("ccv", "high").unwrap().prior, Some(110.0.into()));
//! # Ok::<(), groundstate::Error>(())
//! ```

mod calibration;
mod catalogue;
mod kind;
mod profile;
mod rules;
mod source;
#[cfg(test)]
mod tests;
mod value;

pub use calibration::CalibrationLimits;
pub use kind::CheckKind;
pub use profile::ProfileName;
pub use rules::{
    AdditionRange, Basis, BatchRules, BlankLimit, BlankRules, BracketRules, Comparison, Counting, Difference,
    DilutionRules, Edge, FloorAt, Frequency, NativeBelowMdl, NativeRule, NearLimit, Negative, Range, Release,
    Requirement, Retry, SpikeRules,
};
pub use value::{CriterionValue, Domain};

use crate::error::{Error, Kind, Place, Problem, nearest};
use crate::finding::Citation;

/// One criterion: its place, its value, where it comes from, and what it replaced.
#[derive(Clone, Debug, PartialEq)]
pub struct Criterion {
    /// The check or topic it belongs to.
    pub check: &'static str,
    /// Its key within that section.
    pub key: &'static str,
    /// What it says, in words.
    pub words: &'static str,
    /// The values it can take.
    pub domain: Domain,
    /// Its value.
    pub value: CriterionValue,
    /// Where the value comes from.
    pub citation: Citation,
    /// The profile's value, where the laboratory set another one.
    pub prior: Option<CriterionValue>,
}

/// All criteria of a method.
///
/// ```
/// use groundstate::criteria::{CheckKind, Criteria, ProfileName};
/// let mut criteria = Criteria::profile(ProfileName::Sw846Method7000B);
/// assert_eq!(criteria.recovery(CheckKind::Ccv).high, Some(110.0));
/// criteria.set("ccv", "high", 105.0.into())?;
/// assert_eq!(criteria.recovery(CheckKind::Ccv).high, Some(105.0));
/// assert_eq!(criteria.get("ccv", "high").unwrap().prior, Some(110.0.into()));
/// let error = criteria.set("ccv", "highs", 105.0.into()).unwrap_err();
/// assert!(error.to_string().contains("did you mean high?"));
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Criteria {
    profile: ProfileName,
    criteria: Vec<Criterion>,
    /// Each section with the place of its first criterion, and behind the last.
    sections: Vec<(&'static str, usize, usize)>,
}

impl Default for Criteria {
    fn default() -> Self {
        Criteria::profile(ProfileName::General)
    }
}

impl Criteria {
    /// The criteria of a profile.
    pub fn profile(name: ProfileName) -> Self {
        let mut criteria: Vec<Criterion> = catalogue::SECTIONS
            .iter()
            .flat_map(|(check, _)| catalogue::keys(check).map(move |key| (*check, key)))
            .map(|(check, key)| Criterion {
                check,
                key: key.name,
                words: key.words,
                domain: key.domain,
                value: key.default.clone(),
                citation: key.citation.clone(),
                prior: None,
            })
            .collect();
        for (check, key, value, citation) in name.settings() {
            if let Some(entry) = criteria.iter_mut().find(|entry| entry.check == check && entry.key == key) {
                (entry.value, entry.citation) = (value, citation);
            }
        }
        let mut sections: Vec<(&'static str, usize, usize)> = Vec::new();
        for (i, entry) in criteria.iter().enumerate() {
            match sections.last_mut().filter(|(check, ..)| *check == entry.check) {
                Some((_, _, end)) => *end = i + 1,
                None => sections.push((entry.check, i, i + 1)),
            }
        }
        Criteria { profile: name, criteria, sections }
    }

    /// The profile that was filled in before any override.
    pub fn profile_name(&self) -> ProfileName {
        self.profile
    }

    /// Every criterion, in the order of the catalogue.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &Criterion> {
        self.criteria.iter()
    }

    /// The criterion `check.key`.
    pub fn get(&self, check: &str, key: &str) -> Option<&Criterion> {
        let (_, start, end) = self.sections.iter().find(|(known, ..)| *known == check)?;
        self.criteria.get(*start..*end)?.iter().find(|entry| entry.key == key)
    }

    /// Replaces one value. Its citation becomes the laboratory's, and the profile's value is kept as `prior`; setting
    /// that value again restores its citation. A choice that names a rule of some document, such as `native_4x`,
    /// keeps that document as its citation.
    ///
    /// # Errors
    /// [`Kind::Method`] for an unknown section or key, with the nearest name, and for a value outside the domain.
    pub fn set(&mut self, check: &str, key: &str, value: CriterionValue) -> Result<(), Error> {
        let profile = self.profile;
        let Some(entry) = self.criteria.iter_mut().find(|entry| entry.check == check && entry.key == key) else {
            return Err(unknown(check, key));
        };
        if !entry.domain.holds(&value) {
            let what = format!("{value} is not a value of this criterion ({})", entry.words);
            let problem = Problem::new(place(check, key), what).help(format!("give {}", entry.domain));
            return Err(Error::new(Kind::Method, problem));
        }
        let prior = entry.prior.take().unwrap_or_else(|| entry.value.clone());
        if prior == value {
            let original = Criteria::profile(profile);
            if let Some(original) = original.get(check, key) {
                *entry = original.clone();
            }
            return Ok(());
        }
        entry.citation = catalogue::named(entry.check, entry.key, &value).unwrap_or_else(Citation::laboratory);
        (entry.value, entry.prior) = (value, Some(prior));
        Ok(())
    }

    /// What does not go together: a lower limit above its upper one, a floor above its ceiling.
    pub fn problems(&self) -> Vec<Problem> {
        let pairs = [("low", "high"), ("addition_least", "addition_most")];
        let mut problems = Vec::new();
        for (check, _) in catalogue::SECTIONS {
            for (least, most) in pairs {
                let (low, high) = (self.number(check, least), self.number(check, most));
                if let (Some(low), Some(high)) = (low, high)
                    && low > high
                {
                    let what = format!("the lower limit {low} lies above the upper limit {high}");
                    problems.push(Problem::new(place(check, least), what).help("exchange or correct them"));
                }
            }
        }
        problems
    }

    fn number(&self, check: &str, key: &str) -> Option<f64> {
        match self.get(check, key)?.value {
            CriterionValue::Number(number) => Some(number),
            _ => None,
        }
    }

    fn word(&self, check: &str, key: &str) -> &str {
        match self.get(check, key).map(|entry| &entry.value) {
            Some(CriterionValue::Word(word)) => word,
            _ => "off",
        }
    }

    /// The citation of `check.key`: what a check that was judged by it cites.
    pub fn citation(&self, check: &str, key: &str) -> Citation {
        self.get(check, key).map_or_else(Citation::laboratory, |entry| entry.citation.clone())
    }
}

fn place(check: &str, key: &str) -> Place {
    Place::named(format!("criteria.{check}.{key}"))
}

fn unknown(check: &str, key: &str) -> Error {
    let sections = || catalogue::SECTIONS.iter().map(|(name, _)| *name);
    let (what, near, names): (String, Option<&str>, Vec<&str>) = if sections().any(|name| name == check) {
        let names: Vec<&str> = catalogue::keys(check).map(|entry| entry.name).collect();
        (format!("{key:?} is not a criterion of {check}"), nearest(key, names.iter().copied()), names)
    } else {
        (format!("there are no criteria for {check:?}"), nearest(check, sections()), sections().collect())
    };
    let help = match near {
        Some(near) => format!("did you mean {near}?"),
        None => format!("known are {}", names.join(", ")),
    };
    Error::new(Kind::Method, Problem::new(place(check, key), what).help(help))
}
