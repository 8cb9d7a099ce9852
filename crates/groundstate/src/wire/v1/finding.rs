//! Findings and citations on the wire.

use crate::document::{Real, Word, form, wrong};
use crate::error::Error;
use crate::finding::{Citation, CitationStatus, Code, Fact, Finding, Origin, Severity, Subject};

form! {
    /// Something the library noticed.
    FindingForm {
        code: Word<Code>,
        severity: Word<Severity>,
        subject: SubjectForm,
        /// The values that the sentence names, in order of naming.
        facts: Vec<FactForm>,
        /// The finding in words; it follows from code and facts.
        sentence: String,
        citation: Option<CitationForm>,
    }

    /// What a finding is about: what, and the member that tells which.
    SubjectForm {
        /// run, segment, calibration, position, reading, level, check, label or method.
        what: String,
        /// Number of the segment, calibration, position or check.
        number: Option<u32>,
        replicate: Option<u32>,
        /// Concentration of a level.
        level: Option<Real>,
        /// Label of a sample, or key of a method.
        name: Option<String>,
    }

    /// One value of a finding: a number, a count or a text.
    FactForm {
        name: String,
        number: Option<Real>,
        count: Option<u64>,
        text: Option<String>,
    }

    /// The document and clause of a rule.
    CitationForm {
        document: String,
        /// Edition, revision or year; empty where none is given.
        edition: String,
        /// Clause or section; empty where the whole document is meant.
        clause: String,
        /// How the wording was seen.
        status: Word<CitationStatus>,
        /// Whose rule it is.
        origin: Word<Origin>,
    }
}

impl CitationForm {
    pub fn of(citation: &Citation) -> Self {
        CitationForm {
            document: citation.document.to_string(),
            edition: citation.edition.to_string(),
            clause: citation.clause.to_string(),
            status: Word(citation.status),
            origin: Word(citation.origin),
        }
    }

    pub fn citation(&self) -> Citation {
        Citation {
            document: self.document.clone().into(),
            edition: self.edition.clone().into(),
            clause: self.clause.clone().into(),
            status: self.status.0,
            origin: self.origin.0,
        }
    }
}

impl FindingForm {
    pub fn of(finding: &Finding) -> Self {
        let fact = |name: &str, fact: &Fact| {
            let none = FactForm { name: name.to_owned(), number: None, count: None, text: None };
            match fact {
                Fact::Number(number) => FactForm { number: Some(Real(*number)), ..none },
                Fact::Count(count) => FactForm { count: Some(*count), ..none },
                Fact::Text(text) => FactForm { text: Some(text.clone()), ..none },
            }
        };
        FindingForm {
            code: Word(finding.code),
            severity: Word(finding.severity),
            subject: SubjectForm::of(&finding.subject),
            facts: finding.facts.iter().map(|(name, value)| fact(name, value)).collect(),
            sentence: finding.sentence(),
            citation: finding.citation.as_ref().map(CitationForm::of),
        }
    }

    pub fn finding(&self, at: &str) -> Result<Finding, Error> {
        let mut facts = Vec::with_capacity(self.facts.len());
        for (i, fact) in self.facts.iter().enumerate() {
            let value = match (fact.number, fact.count, &fact.text) {
                (Some(number), None, None) => Fact::Number(number.0),
                (None, Some(count), None) => Fact::Count(count),
                (None, None, Some(text)) => Fact::Text(text.clone()),
                _ => {
                    return Err(wrong(format!("{at}.facts[{i}]"), "a fact is either a number, a count or a text"));
                }
            };
            facts.push((fact.name.clone().into(), value));
        }
        Ok(Finding {
            code: self.code.0,
            severity: self.severity.0,
            subject: self.subject.subject().ok_or_else(|| {
                let what = format!("{:?} is no subject, or the member that tells which is missing", self.subject.what);
                wrong(format!("{at}.subject"), what)
            })?,
            facts,
            citation: self.citation.as_ref().map(CitationForm::citation),
        })
    }
}

impl SubjectForm {
    fn of(subject: &Subject) -> Self {
        let none =
            |what: &str| SubjectForm { what: what.to_owned(), number: None, replicate: None, level: None, name: None };
        let numbered = |what: &str, number: u32| SubjectForm { number: Some(number), ..none(what) };
        match subject {
            Subject::Run => none("run"),
            Subject::Segment(n) => numbered("segment", *n),
            Subject::Calibration(n) => numbered("calibration", *n),
            Subject::Position(n) => numbered("position", *n),
            Subject::Check(n) => numbered("check", *n),
            Subject::Reading { position, replicate } => {
                SubjectForm { replicate: Some(*replicate), ..numbered("reading", *position) }
            }
            Subject::Level(level) => SubjectForm { level: Some(Real(*level)), ..none("level") },
            Subject::Label(name) => SubjectForm { name: Some(name.clone()), ..none("label") },
            Subject::Method(name) => SubjectForm { name: Some(name.clone()), ..none("method") },
        }
    }

    fn subject(&self) -> Option<Subject> {
        Some(match self.what.as_str() {
            "run" => Subject::Run,
            "segment" => Subject::Segment(self.number?),
            "calibration" => Subject::Calibration(self.number?),
            "position" => Subject::Position(self.number?),
            "check" => Subject::Check(self.number?),
            "reading" => Subject::Reading { position: self.number?, replicate: self.replicate? },
            "level" => Subject::Level(self.level?.0),
            "label" => Subject::Label(self.name.clone()?),
            "method" => Subject::Method(self.name.clone()?),
            _ => return None,
        })
    }
}

/// The findings of a list.
pub(super) fn findings(forms: &[FindingForm], at: &str) -> Result<Vec<Finding>, Error> {
    forms.iter().enumerate().map(|(i, form)| form.finding(&format!("{at}[{i}]"))).collect()
}
