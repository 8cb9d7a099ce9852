//! The documentation record of a method detection limit: input, choices, and everything that follows from them.

use super::finding::{CitationForm, FindingForm};
use crate::detection::mdl::{
    Counts, Exclusion, ManyBlanks, Mdl, MdlKind, MdlOptions, MdlRecord, MdlRecordHeader, MdlResult, Measured,
    NumericBlanks, Percentile, RankTie, Requirement, TFactor, TSource, TValues, initial,
};
use crate::detection::{Date, LimitDefinition, State};
use crate::document::{Real, Word, at, form, named, wrong};
use crate::error::Error;

named!(LimitDefinition, "definition of a limit", LimitDefinition::ALL);
named!(MdlKind, "kind of result": Spike = "spike", Blank = "blank");
named!(TValues, "choice of t": Exact = "exact", PrintedTable = "printed_table");
named!(TSource, "origin of t": Exact = "exact", Printed = "printed", Rounded = "rounded");
named!(RankTie, "choice of halfway ranks": HalfUp = "half_up", HalfEven = "half_even");
named!(ManyBlanks, "reading of many blanks": AtLeast100 = "at_least_100", MoreThan100 = "more_than_100");
named!(NumericBlanks, "choice for numeric blanks": MeanPlusTs = "mean_plus_ts", Percentile = "percentile");
named!(Percentile, "choice of percentile": Rank = "rank", Interpolated = "interpolated");
named!(State, "state of a requirement":
    Met = "met", NotMet = "not_met", NotEvaluated = "not_evaluated", Advice = "advice");

form! {
    /// The record of a method detection limit (40 CFR 136, Appendix B, section III): the data, the choices, the limit and
    /// everything that led to it. Figures follow from results and choices.
    MdlRecordForm {
        /// groundstate.mdl_record/1
        schema: String,
        /// Version of the library that computed the limit.
        library: String,
        definition: Word<LimitDefinition>,
        /// Number of the method.
        method: Option<String>,
        /// Title of the method.
        title: Option<String>,
        analyte: Option<String>,
        /// Unit of every concentration here.
        unit: Option<String>,
        /// Matrix that was spiked.
        matrix: Option<String>,
        determined_on: Option<String>,
        determined_by: Option<String>,
        remarks: Option<String>,
        mdl: MdlForm,
        mean_spiked: Option<Real>,
        mean_recovered: Option<Real>,
        choices: ChoicesForm,
        /// Every result, those left out among them.
        results: Vec<MdlResultForm>,
        /// Where the content of this record is laid down.
        citation: CitationForm,
    }

    /// A method detection limit.
    MdlForm {
        /// The greater of the two parts; absent where there is none, and the findings say why.
        value: Option<Real>,
        /// spikes or blanks.
        decided_by: Option<String>,
        /// What the figure may be called.
        basis: String,
        interval: Option<LimitIntervalForm>,
        from_spikes: SpikePartForm,
        from_blanks: BlankPartForm,
        design: Vec<RequirementForm>,
        findings: Vec<FindingForm>,
    }

    /// How well the limit itself is known.
    LimitIntervalForm {
        lower: Real,
        upper: Real,
        probability: f64,
    }

    /// MDL_S, t times s of the spikes.
    SpikePartForm {
        value: Option<Real>,
        outcome: String,
        counts: CountsForm,
        mean: Option<Real>,
        standard_deviation: Option<Real>,
        t: Option<TForm>,
    }

    /// MDL_b, from the method blanks.
    BlankPartForm {
        value: Option<Real>,
        branch: String,
        counts: CountsForm,
        mean: Option<Real>,
        /// 0 when the mean is negative.
        mean_used: Option<Real>,
        standard_deviation: Option<Real>,
        t: Option<TForm>,
        /// Rank of the 99th percentile.
        rank: Option<u64>,
        /// Place of the 99th percentile between two ranks.
        place: Option<String>,
    }

    /// Results of one kind.
    CountsForm {
        numeric: u64,
        nondetects: u64,
        missing: u64,
        excluded: u64,
    }

    /// Student's t, one-sided 99 %.
    TForm {
        value: Real,
        degrees_of_freedom: u64,
        source: Word<TSource>,
    }

    /// A requirement on the data.
    RequirementForm {
        rule: String,
        state: Word<State>,
        required: String,
        found: String,
        citation: CitationForm,
    }

    /// Readings of the rule where it is silent or says two things, and facts about the study.
    ChoicesForm {
        t: Word<TValues>,
        rank_tie: Word<RankTie>,
        many_blanks: Word<ManyBlanks>,
        numeric_blanks: Word<NumericBlanks>,
        percentile: Word<Percentile>,
        initial_estimate: Option<Real>,
        as_of: Option<String>,
    }

    /// One result of a spike or a method blank.
    MdlResultForm {
        kind: Word<MdlKind>,
        label: Option<String>,
        /// The number; absent for a non-detect and for a missing result.
        value: Option<Real>,
        /// Whether it was not detected.
        nondetect: bool,
        spike_level: Option<Real>,
        batch: Option<String>,
        prepared_on: Option<String>,
        analysed_on: Option<String>,
        instrument: Option<String>,
        excluded: Option<ExclusionForm>,
    }

    /// A documented gross failure.
    ExclusionForm {
        reason: String,
        by: String,
        on: Option<String>,
    }
}

fn text(text: &str) -> Option<String> {
    (!text.trim().is_empty()).then(|| text.to_owned())
}

fn day(date: Option<Date>) -> Option<String> {
    date.map(|date| date.to_string())
}

fn read_day(name: &str, text: Option<&String>) -> Result<Option<Date>, Error> {
    text.map(|text| text.parse::<Date>()).transpose().map_err(|error| at(name, &error))
}

fn real(number: Option<f64>) -> Option<Real> {
    number.map(Real)
}

fn count(count: usize) -> u64 {
    count as u64
}

impl MdlRecordForm {
    /// The form of `record`, with its full name of the schema.
    pub fn of(record: &MdlRecord, schema: &str) -> Self {
        let header = &record.header;
        MdlRecordForm {
            schema: schema.to_owned(),
            library: env!("CARGO_PKG_VERSION").to_owned(),
            definition: Word(record.definition),
            method: text(&header.method),
            title: text(&header.title),
            analyte: text(&header.analyte),
            unit: text(&header.unit),
            matrix: text(&header.matrix),
            determined_on: day(header.determined_on),
            determined_by: header.determined_by.clone(),
            remarks: header.remarks.clone(),
            mdl: MdlForm::of(&record.mdl),
            mean_spiked: real(record.mean_spiked),
            mean_recovered: real(record.mean_recovered),
            choices: ChoicesForm::of(&record.mdl.options),
            results: record.results.iter().map(MdlResultForm::of).collect(),
            citation: CitationForm::of(&MdlRecord::citation()),
        }
    }

    /// The record of the stored results and choices, its figures computed again.
    pub fn record(&self) -> Result<MdlRecord, Error> {
        let results: Vec<MdlResult> = (self.results.iter().enumerate())
            .map(|(i, form)| form.result(&format!("results[{i}]")))
            .collect::<Result<_, Error>>()?;
        let words = |text: &Option<String>| text.clone().unwrap_or_default();
        let header = MdlRecordHeader {
            method: words(&self.method),
            title: words(&self.title),
            analyte: words(&self.analyte),
            unit: words(&self.unit),
            matrix: words(&self.matrix),
            determined_on: read_day("determined_on", self.determined_on.as_ref())?,
            determined_by: self.determined_by.clone(),
            remarks: self.remarks.clone(),
        };
        let mdl = initial(&results, &self.choices.options()?).map_err(|error| at("results", &error))?;
        Ok(MdlRecord::new(header, &results, mdl))
    }
}

impl MdlForm {
    fn of(mdl: &Mdl) -> Self {
        let (spikes, blanks) = (&mdl.from_spikes, &mdl.from_blanks);
        MdlForm {
            value: real(mdl.value),
            decided_by: mdl.decided_by.map(|part| part.name().to_owned()),
            basis: mdl.basis.name().to_owned(),
            interval: mdl.interval.map(|interval| LimitIntervalForm {
                lower: Real(interval.lower),
                upper: Real(interval.upper),
                probability: interval.probability,
            }),
            from_spikes: SpikePartForm {
                value: real(spikes.value),
                outcome: spikes.outcome.name().to_owned(),
                counts: CountsForm::of(spikes.counts),
                mean: real(spikes.mean),
                standard_deviation: real(spikes.standard_deviation),
                t: spikes.t.map(TForm::of),
            },
            from_blanks: BlankPartForm {
                value: real(blanks.value),
                branch: blanks.branch.name().to_owned(),
                counts: CountsForm::of(blanks.counts),
                mean: real(blanks.mean),
                mean_used: real(blanks.mean_used),
                standard_deviation: real(blanks.standard_deviation),
                t: blanks.t.map(TForm::of),
                rank: blanks.rank.map(|rank| count(rank.rank)),
                place: blanks.place.map(|place| place.text()),
            },
            design: mdl.design.iter().map(RequirementForm::of).collect(),
            findings: mdl.findings.iter().map(FindingForm::of).collect(),
        }
    }
}

impl CountsForm {
    fn of(counts: Counts) -> Self {
        let Counts { numeric, nondetects, missing, excluded } = counts;
        CountsForm {
            numeric: count(numeric),
            nondetects: count(nondetects),
            missing: count(missing),
            excluded: count(excluded),
        }
    }
}

impl TForm {
    fn of(t: TFactor) -> Self {
        TForm { value: Real(t.value), degrees_of_freedom: count(t.dof), source: Word(t.source) }
    }
}

impl RequirementForm {
    fn of(requirement: &Requirement) -> Self {
        RequirementForm {
            rule: requirement.rule.name().to_owned(),
            state: Word(requirement.state),
            required: requirement.rule.required().to_owned(),
            found: requirement.found.clone(),
            citation: CitationForm::of(&requirement.rule.citation()),
        }
    }
}

impl ChoicesForm {
    fn of(options: &MdlOptions) -> Self {
        ChoicesForm {
            t: Word(options.t),
            rank_tie: Word(options.rank_tie),
            many_blanks: Word(options.many_blanks),
            numeric_blanks: Word(options.numeric_blanks),
            percentile: Word(options.percentile),
            initial_estimate: real(options.initial_estimate),
            as_of: day(options.as_of),
        }
    }

    fn options(&self) -> Result<MdlOptions, Error> {
        Ok(MdlOptions {
            t: self.t.0,
            rank_tie: self.rank_tie.0,
            many_blanks: self.many_blanks.0,
            numeric_blanks: self.numeric_blanks.0,
            percentile: self.percentile.0,
            initial_estimate: self.initial_estimate.map(|estimate| estimate.0),
            as_of: read_day("choices.as_of", self.as_of.as_ref())?,
        })
    }
}

impl MdlResultForm {
    fn of(result: &MdlResult) -> Self {
        MdlResultForm {
            kind: Word(result.kind),
            label: result.label.clone(),
            value: match result.measured {
                Measured::Number(x) if !x.is_nan() => Some(Real(x)),
                _ => None,
            },
            nondetect: result.measured == Measured::NonDetect,
            spike_level: real(result.spike_level),
            batch: result.batch.clone(),
            prepared_on: day(result.prepared),
            analysed_on: day(result.analysed),
            instrument: result.instrument.clone(),
            excluded: result.excluded.as_ref().map(|exclusion| ExclusionForm {
                reason: exclusion.reason.clone(),
                by: exclusion.by.clone(),
                on: day(exclusion.on),
            }),
        }
    }

    fn result(&self, place: &str) -> Result<MdlResult, Error> {
        let measured = match (self.value, self.nondetect) {
            (Some(_), true) => return Err(wrong(place, "a non-detect has no value")),
            (Some(value), false) => Measured::Number(value.0),
            (None, true) => Measured::NonDetect,
            (None, false) => Measured::Missing,
        };
        let excluded = self.excluded.as_ref().map(|form| {
            let on = read_day(&format!("{place}.excluded.on"), form.on.as_ref())?;
            Ok::<_, Error>(Exclusion { reason: form.reason.clone(), by: form.by.clone(), on })
        });
        Ok(MdlResult {
            label: self.label.clone(),
            batch: self.batch.clone(),
            prepared: read_day(&format!("{place}.prepared_on"), self.prepared_on.as_ref())?,
            analysed: read_day(&format!("{place}.analysed_on"), self.analysed_on.as_ref())?,
            instrument: self.instrument.clone(),
            spike_level: self.spike_level.map(|level| level.0),
            excluded: excluded.transpose()?,
            ..MdlResult::new(self.kind.0, measured)
        })
    }
}
