//! Everything the library noticed: stable codes with typed facts; sentences are rendered when read.
//!
//! ```
//! use groundstate::finding::{Code, Finding, Severity, Subject};
//!
//! let finding = Finding::new(Code::NoiseFloor, Subject::Calibration(1)).with("level", 0.05).with("unit", "mg/L");
//! assert_eq!(finding.code.name(), "noise_floor"); // for machines
//! assert!(finding.sentence().contains("0.05 mg/L")); // for people
//! assert_eq!(Code::NoiseFloor.severity(), Severity::Note);
//! ```

mod citation;
mod code;

pub use citation::{Citation, CitationStatus, Origin};
pub use code::Code;

use std::borrow::Cow;
use std::fmt;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing; nothing to do.
    Note,
    /// A reader of the result should know it.
    Caution,
    /// A rule was not met.
    Fail,
}

impl Severity {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Caution => "caution",
            Severity::Fail => "fail",
        }
    }
}

/// What a finding is about.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Subject {
    /// The run, study or data set as a whole.
    Run,
    /// One calibrated stretch of a run, counted from 1.
    Segment(u32),
    /// One calibration of a run, counted from 1; outside a run always 1.
    Calibration(u32),
    /// One position of a run.
    Position(u32),
    /// One reading.
    Reading {
        /// Position in the run, or index of the row from 1.
        position: u32,
        /// Replicate at that position.
        replicate: u32,
    },
    /// One level of standards, by its concentration.
    Level(f64),
    /// One check of a run, counted from 1.
    Check(u32),
    /// A sample, by its label.
    Label(String),
    /// A key of the method.
    Method(String),
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Subject::Run => f.write_str("run"),
            Subject::Segment(n) => write!(f, "segment {n}"),
            Subject::Calibration(n) => write!(f, "calibration {n}"),
            Subject::Position(n) => write!(f, "position {n}"),
            Subject::Reading { position, replicate } => write!(f, "position {position}, replicate {replicate}"),
            Subject::Level(x) => write!(f, "level {x}"),
            Subject::Check(n) => write!(f, "check {n}"),
            Subject::Label(label) => write!(f, "{label}"),
            Subject::Method(key) => write!(f, "method key {key}"),
        }
    }
}

/// One value inside a finding.
#[derive(Clone, Debug, PartialEq)]
pub enum Fact {
    /// A measured or computed figure.
    Number(f64),
    /// A count.
    Count(u64),
    /// A word, label or sentence.
    Text(String),
}

impl fmt::Display for Fact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Fact::Number(x) => f.write_str(&significant(*x, 6)),
            Fact::Count(n) => write!(f, "{n}"),
            Fact::Text(text) => f.write_str(text),
        }
    }
}

/// `x` with at most `figures` significant figures and no trailing zeros, for a sentence.
fn significant(x: f64, figures: usize) -> String {
    let short: f64 = format!("{x:.*e}", figures - 1).parse().unwrap_or(x);
    format!("{short}")
}

impl From<f64> for Fact {
    fn from(x: f64) -> Self {
        Fact::Number(x)
    }
}
impl From<usize> for Fact {
    fn from(n: usize) -> Self {
        Fact::Count(n as u64)
    }
}
impl From<u32> for Fact {
    fn from(n: u32) -> Self {
        Fact::Count(n.into())
    }
}
impl From<&str> for Fact {
    fn from(text: &str) -> Self {
        Fact::Text(text.to_owned())
    }
}
impl From<String> for Fact {
    fn from(text: String) -> Self {
        Fact::Text(text)
    }
}

/// Something the library noticed: code, severity, subject, facts and the rule it follows.
///
/// ```
/// use groundstate::finding::{Code, Finding, Subject};
/// let finding = Finding::new(Code::NoiseFloor, Subject::Calibration(1)).with("level", 0.05).with("unit", "mg/L");
/// assert_eq!(finding.code.name(), "noise_floor");
/// assert!(finding.sentence().contains("0.05 mg/L"));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What was noticed.
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub subject: Subject,
    /// The values that its sentence names, in order of naming.
    pub facts: Vec<(Cow<'static, str>, Fact)>,
    /// The rule it follows, if it follows one.
    pub citation: Option<Citation>,
}

/// Puts the gravest findings first; within a grade they keep their order.
pub(crate) fn gravest_first(findings: &mut [Finding]) {
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
}

impl Finding {
    /// A finding with its code's usual severity and no facts yet.
    #[inline(never)] // made in hundreds of places: what makes them stands once
    pub fn new(code: Code, subject: Subject) -> Self {
        Finding { code, severity: code.severity(), subject, facts: Vec::new(), citation: None }
    }

    /// Adds a fact that the code's sentence names.
    #[must_use]
    #[inline(never)]
    pub fn with(mut self, name: &'static str, fact: impl Into<Fact>) -> Self {
        self.facts.push((Cow::Borrowed(name), fact.into()));
        self
    }

    /// Names the rule that the finding follows.
    #[must_use]
    #[inline(never)]
    pub fn citing(mut self, citation: Citation) -> Self {
        self.citation = Some(citation);
        self
    }

    /// Raises or lowers the severity, as a profile may.
    #[must_use]
    pub fn graded(mut self, severity: Severity) -> Self {
        self.severity = severity;
        self
    }

    /// The fact called `name`.
    pub fn fact(&self, name: &str) -> Option<&Fact> {
        self.facts.iter().find(|(known, _)| known == name).map(|(_, fact)| fact)
    }

    /// The finding in one plain sentence: the code's template with the facts put in.
    pub fn sentence(&self) -> String {
        let mut sentence = String::new();
        let mut rest = self.code.template();
        while let Some((before, after)) = rest.split_once('{') {
            sentence.push_str(before);
            let (name, tail) = after.split_once('}').unwrap_or((after, ""));
            match self.fact(name) {
                Some(fact) => sentence.push_str(&fact.to_string()),
                None => sentence.push_str("(not given)"),
            }
            rest = tail;
        }
        sentence.push_str(rest);
        sentence
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} [{}] {}: {}", self.severity.name(), self.code.name(), self.subject, self.sentence())?;
        match &self.citation {
            Some(citation) => write!(f, " ({citation})"),
            None => Ok(()),
        }
    }
}
