//! The study of a limit in a document.

use serde_json::{Map, Value, json};

use super::node::Node;
use crate::detection::mdl::{
    Exclusion, ManyBlanks, MdlKind, MdlOptions, MdlResult, Measured, NumericBlanks, Percentile, RankTie, TValues,
};
use crate::method::LimitStudy;
use crate::preparation::words::one_of;

/// How a document writes a result that is not detected.
pub(in crate::method) const NON_DETECT: &str = "ND";

const T: [TValues; 2] = [TValues::Exact, TValues::PrintedTable];
const TIES: [RankTie; 2] = [RankTie::HalfUp, RankTie::HalfEven];
const MANY: [ManyBlanks; 2] = [ManyBlanks::AtLeast100, ManyBlanks::MoreThan100];
const PERCENTILES: [Percentile; 2] = [Percentile::Rank, Percentile::Interpolated];
const NUMERIC: [NumericBlanks; 2] = [NumericBlanks::MeanPlusTs, NumericBlanks::Percentile];

pub(super) fn read(node: &mut Node<'_>) -> Option<LimitStudy> {
    let spikes = node.children("spikes", |node| result(node, MdlKind::Spike));
    let blanks = node.children("blanks", |node| result(node, MdlKind::Blank));
    for key in ["spikes", "blanks"] {
        node.need(key, "a study has spikes and method blanks, each a list of tables with at least a value");
    }
    let options = MdlOptions {
        t: node.word("t", |text| one_of("t", text, &T, TValues::name)).unwrap_or_default(),
        rank_tie: node.word("rank_tie", |text| one_of("rank_tie", text, &TIES, RankTie::name)).unwrap_or_default(),
        many_blanks: node
            .word("many_blanks", |text| one_of("many_blanks", text, &MANY, ManyBlanks::name))
            .unwrap_or_default(),
        numeric_blanks: node
            .word("numeric_blanks", |text| one_of("numeric_blanks", text, &NUMERIC, NumericBlanks::name))
            .unwrap_or_default(),
        percentile: node
            .word("percentile", |text| one_of("percentile", text, &PERCENTILES, Percentile::name))
            .unwrap_or_default(),
        initial_estimate: node.number("initial_estimate"),
        as_of: node.word("as_of", str::parse),
    };
    let results = [spikes?, blanks?].concat();
    match LimitStudy::new(results, options) {
        Ok(study) => Some(study),
        Err(error) => {
            // Rows are counted over spikes and blanks, as they stand one after the other.
            node.error("spikes", &error);
            None
        }
    }
}

fn result(node: &mut Node<'_>, kind: MdlKind) -> Option<MdlResult> {
    let mut result = MdlResult::new(kind, Measured::Missing);
    result.measured = node.measured("value", NON_DETECT);
    let mut text = |key| node.text(key).map(str::to_owned);
    (result.label, result.batch, result.instrument) = (text("label"), text("batch"), text("instrument"));
    (result.prepared, result.analysed) = (node.word("prepared_on", str::parse), node.word("analysed_on", str::parse));
    result.spike_level = node.number("spike_level");
    let (reason, by) = (node.text("excluded"), node.text("excluded_by"));
    let on = node.word("excluded_on", str::parse);
    match (reason, by) {
        (Some(reason), Some(by)) => {
            result.excluded = Some(Exclusion { reason: reason.to_owned(), by: by.to_owned(), on });
        }
        (None, None) => {}
        _ => node.problem("excluded", "a result is left out with a reason and a name", "give excluded and excluded_by"),
    }
    Some(result)
}

/// The study as a document; choices that are the default are left out.
pub(super) fn document(study: &LimitStudy) -> Value {
    let (options, usual) = (study.options(), MdlOptions::default());
    let mut table = Map::new();
    let mut put = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            table.insert(key.to_owned(), value);
        }
    };
    put("t", (options.t != usual.t).then(|| options.t.name().into()));
    put("rank_tie", (options.rank_tie != usual.rank_tie).then(|| options.rank_tie.name().into()));
    put("many_blanks", (options.many_blanks != usual.many_blanks).then(|| options.many_blanks.name().into()));
    put(
        "numeric_blanks",
        (options.numeric_blanks != usual.numeric_blanks).then(|| options.numeric_blanks.name().into()),
    );
    put("percentile", (options.percentile != usual.percentile).then(|| options.percentile.name().into()));
    put("initial_estimate", options.initial_estimate.map(Value::from));
    put("as_of", options.as_of.map(|date| date.to_string().into()));
    for (key, kind) in [("spikes", MdlKind::Spike), ("blanks", MdlKind::Blank)] {
        let of_kind = study.results().iter().filter(|result| result.kind == kind);
        put(key, Some(of_kind.map(row).collect::<Vec<_>>().into()));
    }
    Value::Object(table)
}

fn row(result: &MdlResult) -> Value {
    let mut table = Map::new();
    let mut put = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            table.insert(key.to_owned(), value);
        }
    };
    let text = |text: &Option<String>| text.clone().map(Value::from);
    put("label", text(&result.label));
    put(
        "value",
        match result.measured {
            Measured::Number(x) if x.is_finite() => Some(json!(x)),
            Measured::NonDetect => Some(json!(NON_DETECT)),
            Measured::Number(_) | Measured::Missing => None,
        },
    );
    put("spike_level", result.spike_level.map(Value::from));
    put("batch", text(&result.batch));
    put("prepared_on", result.prepared.map(|date| date.to_string().into()));
    put("analysed_on", result.analysed.map(|date| date.to_string().into()));
    put("instrument", text(&result.instrument));
    if let Some(exclusion) = &result.excluded {
        put("excluded", Some(exclusion.reason.clone().into()));
        put("excluded_by", Some(exclusion.by.clone().into()));
        put("excluded_on", exclusion.on.map(|date| date.to_string().into()));
    }
    Value::Object(table)
}
