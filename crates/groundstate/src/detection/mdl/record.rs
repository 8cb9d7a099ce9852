//! What has to be kept of a limit, so that somebody else can compute it again.

use std::fmt::{self, Write as _};

use super::super::{Date, LimitDefinition, State};
use super::initial::Mdl;
use super::observation::MdlKind;
use super::observation::MdlResult;
use super::parts::{BlankBranch, SpikeOutcome};
use super::rules;
use super::t_factor::TFactor;
use crate::finding::Citation;

/// What the record says beside results and figures. Every field is the laboratory's; nothing is invented.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MdlRecordHeader {
    /// Number of the method.
    pub method: String,
    /// Title of the method.
    pub title: String,
    /// What was determined.
    pub analyte: String,
    /// Unit in which the method reports.
    pub unit: String,
    /// Matrix that was spiked.
    pub matrix: String,
    /// Day of the determination.
    pub determined_on: Option<Date>,
    /// Who made it.
    pub determined_by: Option<String>,
    /// Anything else worth keeping.
    pub remarks: Option<String>,
}

/// The record of section III: method, limit in its unit, matrix, mean spiked and recovered levels, the data, the computation,
/// and the ground of every exclusion.
///
/// ```
/// use groundstate::detection::mdl::{self, MdlOptions, MdlRecord, MdlRecordHeader, MdlResult};
/// let mut results: Vec<MdlResult> =
///     [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194].map(|x| MdlResult::spike(x).level(0.02)).into();
/// results.extend([0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002].map(MdlResult::blank));
/// let limit = mdl::initial(&results, &MdlOptions::default())?;
/// let header = MdlRecordHeader { method: "7000B".into(), analyte: "Cu".into(), unit: "mg/L".into(), ..Default::default() };
/// let record = MdlRecord::new(header, &results, limit);
/// assert_eq!(record.mean_recovered.map(|x| format!("{x:.4}")).as_deref(), Some("0.0208"));
/// assert!(record.to_string().contains("MDL_S = t * s = 3.14266840329"));
/// # Ok::<(), groundstate::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct MdlRecord {
    /// What the laboratory says of it.
    pub header: MdlRecordHeader,
    /// The definition the limit follows.
    pub definition: LimitDefinition,
    /// Every result, those left out among them.
    pub results: Vec<MdlResult>,
    /// The limit and all that led to it.
    pub mdl: Mdl,
    /// Mean level spiked, of the spikes that count and have one.
    pub mean_spiked: Option<f64>,
    /// Mean level found, of the spikes that gave a number.
    pub mean_recovered: Option<f64>,
}

impl MdlRecord {
    /// The record of `mdl`, which was computed from `results`.
    pub fn new(header: MdlRecordHeader, results: &[MdlResult], mdl: Mdl) -> Self {
        let levels: Vec<f64> = results
            .iter()
            .filter(|result| result.kind == MdlKind::Spike && result.excluded.is_none() && !result.is_missing())
            .filter_map(|result| result.spike_level)
            .collect();
        let mean_spiked = (!levels.is_empty()).then(|| levels.iter().sum::<f64>() / levels.len() as f64);
        let mean_recovered = mdl.from_spikes.mean;
        MdlRecord {
            header,
            definition: LimitDefinition::Cfr136,
            results: results.to_vec(),
            mdl,
            mean_spiked,
            mean_recovered,
        }
    }

    /// Where the content of the record is laid down.
    pub const fn citation() -> Citation {
        rules::RECORD
    }
}

impl fmt::Display for MdlRecord {
    /// The record as plain text, in full precision.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::new();
        self.heading(&mut text)?;
        self.computation(&mut text)?;
        self.requirements(&mut text)?;
        self.data(&mut text)?;
        f.write_str(&text)
    }
}

impl MdlRecord {
    fn heading(&self, text: &mut String) -> fmt::Result {
        let header = &self.header;
        writeln!(text, "Method detection limit ({})", self.definition.citation())?;
        for (name, value) in [
            ("method", header.method.as_str()),
            ("title", &header.title),
            ("analyte", &header.analyte),
            ("unit", &header.unit),
            ("matrix", &header.matrix),
        ] {
            writeln!(text, "{name}: {}", given(value))?;
        }
        writeln!(text, "determined on: {}", optional(header.determined_on.as_ref()))?;
        writeln!(text, "determined by: {}", given(header.determined_by.as_deref().unwrap_or_default()))?;
        if let Some(remarks) = &header.remarks {
            writeln!(text, "remarks: {}", plain(remarks))?;
        }
        writeln!(text, "MDL: {} ({})", self.figure(self.mdl.value), self.mdl.basis.name())?;
        if let Some(interval) = &self.mdl.interval {
            let percent = interval.probability * 100.0;
            let (lower, upper) = (interval.lower, interval.upper);
            writeln!(text, "{percent} % interval of it: {lower:?} to {upper:?} (informative)")?;
        }
        writeln!(text, "mean spiked level: {}", self.figure(self.mean_spiked))?;
        writeln!(text, "mean recovered level: {}", self.figure(self.mean_recovered))
    }

    fn computation(&self, text: &mut String) -> fmt::Result {
        let (spikes, blanks, options) = (&self.mdl.from_spikes, &self.mdl.from_blanks, &self.mdl.options);
        writeln!(text, "\nComputation")?;
        for (name, counts) in [("spikes", spikes.counts), ("blanks", blanks.counts)] {
            writeln!(
                text,
                "{name}: {} numeric, {} not detected, {} missing, {} left out",
                counts.numeric, counts.nondetects, counts.missing, counts.excluded
            )?;
        }
        match (spikes.outcome, spikes.t, spikes.standard_deviation, spikes.value) {
            (SpikeOutcome::Computed, Some(t), Some(s), Some(value)) => {
                writeln!(text, "MDL_S = t * s = {} * {s:?} = {value:?}", student(t))?;
            }
            _ => writeln!(text, "MDL_S: none, {}", spikes.outcome.name())?,
        }
        writeln!(text, "MDL_b: {}", blanks.branch.title())?;
        match (blanks.branch, blanks.value) {
            (BlankBranch::MeanPlusTs, Some(value)) => {
                let mean = blanks.mean_used.unwrap_or_default();
                let s = blanks.standard_deviation.unwrap_or_default();
                let t = blanks.t.map(student).unwrap_or_default();
                writeln!(text, "MDL_b = mean + t * s = {mean:?} + {t} * {s:?} = {value:?}")?;
            }
            (_, value) => {
                if let Some(rank) = blanks.rank {
                    writeln!(text, "rank {} of {} (0.99 n = {})", rank.rank, rank.n, rank.product())?;
                }
                if let Some(place) = blanks.place {
                    writeln!(text, "place {} of {} (1 + 0.99 (n - 1)), interpolated", place.text(), place.n)?;
                }
                writeln!(
                    text,
                    "MDL_b = {}",
                    value.map_or_else(|| "no numeric value".to_owned(), |x| format!("{x:?}"))
                )?;
            }
        }
        writeln!(
            text,
            "choices: t {}, halfway ranks {}, many blanks {}, numeric blanks {}, percentile {}",
            options.t.name(),
            options.rank_tie.name(),
            options.many_blanks.name(),
            options.numeric_blanks.name(),
            options.percentile.name()
        )
    }

    fn requirements(&self, text: &mut String) -> fmt::Result {
        writeln!(text, "\nRequirements")?;
        for state in [State::NotMet, State::NotEvaluated, State::Advice, State::Met] {
            for requirement in self.mdl.design.iter().filter(|requirement| requirement.state == state) {
                writeln!(text, "{requirement}")?;
            }
        }
        writeln!(text, "\nFindings")?;
        for finding in &self.mdl.findings {
            writeln!(text, "{finding}")?;
        }
        Ok(())
    }

    fn data(&self, text: &mut String) -> fmt::Result {
        writeln!(text, "\nResults\nkind\tlabel\tresult\tlevel\tbatch\tprepared\tanalysed\tinstrument\tleft out")?;
        for result in &self.results {
            let level = result.spike_level.map_or_else(|| "-".to_owned(), |level| format!("{level:?}"));
            let left_out = result.excluded.as_ref().map_or_else(
                || "-".to_owned(),
                |exclusion| {
                    let on = exclusion.on.map_or_else(String::new, |date| format!(", {date}"));
                    plain(&format!("{} ({}{on})", exclusion.reason, exclusion.by))
                },
            );
            writeln!(
                text,
                "{}\t{}\t{}\t{level}\t{}\t{}\t{}\t{}\t{left_out}",
                result.kind.name(),
                optional(result.label.as_ref()),
                result.measured,
                optional(result.batch.as_ref()),
                optional(result.prepared.as_ref()),
                optional(result.analysed.as_ref()),
                optional(result.instrument.as_ref()),
            )?;
        }
        Ok(())
    }

    fn figure(&self, value: Option<f64>) -> String {
        match value {
            Some(value) => plain(format!("{value:?} {}", self.header.unit).trim_end()),
            None => "none".to_owned(),
        }
    }
}

/// One line of text: a line break or a tab in a label would make a second row of it.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn given(text: &str) -> String {
    if text.trim().is_empty() { "not given".to_owned() } else { plain(text) }
}

fn optional<T: fmt::Display>(value: Option<&T>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| plain(&value.to_string()))
}

fn student(t: TFactor) -> String {
    format!("{:?} (n - 1 = {}, {})", t.value, t.dof, t.source.name())
}
