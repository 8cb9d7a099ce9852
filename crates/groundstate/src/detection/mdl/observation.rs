//! One measured result of a spiked sample or a method blank.

use std::fmt;

use super::super::Date;
use crate::error::{Error, Kind, Place, Problem};

/// What was prepared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MdlKind {
    /// Clean reference matrix with a known amount of analyte, through the whole procedure.
    Spike,
    /// Method blank, through the whole procedure.
    Blank,
}

impl MdlKind {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            MdlKind::Spike => "spike",
            MdlKind::Blank => "blank",
        }
    }

    pub(super) const fn plural(self) -> &'static str {
        match self {
            MdlKind::Spike => "spikes",
            MdlKind::Blank => "blanks",
        }
    }
}

/// What the measurement gave. A non-detect is a state of its own: never 0 and never NaN.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// A number, of either sign, however small, in the method's reporting unit.
    Number(f64),
    /// No numeric result: not detected, or the criteria of identification were not met.
    NonDetect,
    /// No measurement. It is removed and counted and never taken for a non-detect.
    Missing,
}

impl From<f64> for Measured {
    /// NaN is missing, as everywhere in this library.
    fn from(x: f64) -> Self {
        if x.is_nan() { Measured::Missing } else { Measured::Number(x) }
    }
}

impl From<Option<f64>> for Measured {
    fn from(x: Option<f64>) -> Self {
        x.map_or(Measured::Missing, Measured::from)
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Measured::Number(x) => write!(f, "{:?}", x + 0.0),
            Measured::NonDetect => f.write_str("ND"),
            Measured::Missing => f.write_str("missing"),
        }
    }
}

/// A documented gross failure (a cracked vial, a mislabelled sample, an instrument that broke down): the only
/// ground on which Appendix B lets a result be left out. An outlier test is not one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exclusion {
    /// What happened.
    pub reason: String,
    /// Who decided.
    pub by: String,
    /// When it was decided.
    pub on: Option<Date>,
}

/// One result of an MDL study with whatever is known of its origin. Facts that are not given leave the rules that
/// need them "not evaluated".
///
/// ```
/// use groundstate::detection::mdl::MdlResult;
/// let spike = MdlResult::spike(0.0212).level(0.02).batch("B1").instrument("AA-1")
///     .prepared("2025-01-07".parse()?).analysed("2025-01-08".parse()?);
/// let blank = MdlResult::blank(-0.0011).batch("B1");
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct MdlResult {
    /// Spike or method blank.
    pub kind: MdlKind,
    /// The result in the method's reporting unit.
    pub measured: Measured,
    /// The laboratory's name of the preparation.
    pub label: Option<String>,
    /// Preparation batch.
    pub batch: Option<String>,
    /// Date of preparation.
    pub prepared: Option<Date>,
    /// Date of analysis.
    pub analysed: Option<Date>,
    /// Instrument it was measured on.
    pub instrument: Option<String>,
    /// Concentration spiked, in the same unit as the result.
    pub spike_level: Option<f64>,
    /// Set when the result is left out.
    pub excluded: Option<Exclusion>,
}

impl MdlResult {
    /// A result of `kind` of which nothing else is known.
    pub fn new(kind: MdlKind, measured: impl Into<Measured>) -> Self {
        MdlResult {
            kind,
            measured: measured.into(),
            label: None,
            batch: None,
            prepared: None,
            analysed: None,
            instrument: None,
            spike_level: None,
            excluded: None,
        }
    }

    /// A spiked sample.
    pub fn spike(measured: impl Into<Measured>) -> Self {
        Self::new(MdlKind::Spike, measured)
    }

    /// A method blank.
    pub fn blank(measured: impl Into<Measured>) -> Self {
        Self::new(MdlKind::Blank, measured)
    }

    /// With the laboratory's name of the preparation.
    #[must_use]
    pub fn label(mut self, label: impl Into<String>) -> Self {
        self.label = Some(label.into());
        self
    }

    /// With its preparation batch.
    #[must_use]
    pub fn batch(mut self, batch: impl Into<String>) -> Self {
        self.batch = Some(batch.into());
        self
    }

    /// With its date of preparation.
    #[must_use]
    pub fn prepared(mut self, date: Date) -> Self {
        self.prepared = Some(date);
        self
    }

    /// With its date of analysis.
    #[must_use]
    pub fn analysed(mut self, date: Date) -> Self {
        self.analysed = Some(date);
        self
    }

    /// With the instrument it was measured on.
    #[must_use]
    pub fn instrument(mut self, instrument: impl Into<String>) -> Self {
        self.instrument = Some(instrument.into());
        self
    }

    /// With the concentration spiked.
    #[must_use]
    pub fn level(mut self, level: f64) -> Self {
        self.spike_level = Some(level);
        self
    }

    /// Left out as a documented gross failure.
    #[must_use]
    pub fn excluding(mut self, reason: impl Into<String>, by: impl Into<String>) -> Self {
        self.excluded = Some(Exclusion { reason: reason.into(), by: by.into(), on: None });
        self
    }

    /// The day that places the result in a window of time: of analysis, or of preparation when that is all there is.
    pub fn dated(&self) -> Option<Date> {
        self.analysed.or(self.prepared)
    }

    /// The oldest day the result is known to touch.
    pub(super) fn oldest(&self) -> Option<Date> {
        match (self.prepared, self.analysed) {
            (Some(prepared), Some(analysed)) => Some(prepared.min(analysed)),
            (one, other) => one.or(other),
        }
    }

    /// The batch, unless its name is blank.
    pub(super) fn batch_name(&self) -> Option<&str> {
        named(self.batch.as_deref())
    }

    /// The instrument, unless its name is blank.
    pub(super) fn instrument_name(&self) -> Option<&str> {
        named(self.instrument.as_deref())
    }

    /// Whether a spike did what Appendix B asks of every spike.
    pub(super) fn is_positive_number(&self) -> bool {
        matches!(self.measured, Measured::Number(x) if x > 0.0)
    }

    pub(super) fn is_missing(&self) -> bool {
        match self.measured {
            Measured::Missing => true,
            Measured::Number(x) => x.is_nan(),
            Measured::NonDetect => false,
        }
    }
}

fn named(text: Option<&str>) -> Option<&str> {
    text.map(str::trim).filter(|text| !text.is_empty())
}

/// Refuses what cannot be meant: infinite results, impossible levels, analysis before preparation, an exclusion
/// without a name and a reason.
pub(super) fn check(results: &[MdlResult]) -> Result<(), Error> {
    let mut problems = Vec::new();
    for (row, result) in (1u64..).zip(results) {
        let mut wrong = |name: &str, what: String, help: &str| {
            let mut place = Place::cell(row, name);
            place.label = result.label.clone();
            problems.push(Problem::new(place, what).help(help));
        };
        if matches!(result.measured, Measured::Number(x) if x.is_infinite()) {
            wrong("measured", "the result is infinite".into(), "give a number, a non-detect or nothing");
        }
        match (result.kind, result.spike_level) {
            (MdlKind::Spike, Some(level)) if !(level.is_finite() && level > 0.0) => {
                wrong("spike_level", format!("a spike cannot have the level {level}"), "give a positive concentration");
            }
            (MdlKind::Blank, Some(level)) if level.is_nan() || level.abs() > 0.0 => {
                wrong("spike_level", format!("a method blank has the spike level {level}"), "was this a spike?");
            }
            _ => {}
        }
        if let (Some(prepared), Some(analysed)) = (result.prepared, result.analysed)
            && analysed < prepared
        {
            wrong(
                "analysed",
                format!("analysed on {analysed}, before it was prepared on {prepared}"),
                "check the dates",
            );
        }
        if let Some(exclusion) = &result.excluded
            && (named(Some(&exclusion.reason)).is_none() || named(Some(&exclusion.by)).is_none())
        {
            let what = "left out without a reason or without a name".into();
            wrong("excluded", what, "say what failed and who decided; only documented gross failures may be left out");
        }
    }
    Error::unless_empty(Kind::Argument, problems, ())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nan_is_missing_and_a_non_detect_is_not() {
        assert_eq!(Measured::from(f64::NAN), Measured::Missing);
        assert_eq!(Measured::from(None), Measured::Missing);
        assert_eq!(Measured::from(Some(-0.1)), Measured::Number(-0.1));
        assert!(MdlResult::blank(Measured::Number(f64::NAN)).is_missing());
        assert!(!MdlResult::blank(Measured::NonDetect).is_missing());
        assert_eq!(Measured::Number(-0.0).to_string(), "0.0");
    }

    #[test]
    fn every_impossible_fact_is_told_at_once() {
        let day = |text: &str| text.parse::<Date>().unwrap();
        let results = [
            MdlResult::spike(f64::INFINITY).label("S1"),
            MdlResult::spike(1.0).level(0.0),
            MdlResult::spike(1.0).level(f64::NAN),
            MdlResult::blank(1.0).level(0.5),
            MdlResult::blank(1.0).level(0.0),
            MdlResult::blank(1.0).prepared(day("2025-01-02")).analysed(day("2025-01-01")),
            MdlResult::blank(1.0).excluding("cracked vial", " "),
        ];
        let error = check(&results).unwrap_err();
        let rows: Vec<_> = error.problems().iter().filter_map(|problem| problem.place.row).collect();
        assert_eq!(rows, [1, 2, 3, 4, 6, 7]);
        assert!(error.to_string().contains("label \"S1\""));
    }
}
