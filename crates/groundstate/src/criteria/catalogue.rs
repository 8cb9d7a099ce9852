//! Every criterion there is: section, key, domain, and the figure of the profile that requires nothing.

use super::source::{CLP, CUSTOM, M200_7, M200_9, SILENT, m6010d, m7000b, m8000d};
use super::value::CriterionValue::{self, Number, Off};
use super::value::{Domain, choice};
use crate::finding::Citation;

/// One line of the catalogue.
#[derive(Clone, Debug)]
pub(super) struct Key {
    pub name: &'static str,
    pub domain: Domain,
    pub default: CriterionValue,
    pub citation: Citation,
    pub words: &'static str,
}

const ANY: f64 = f64::INFINITY;

const fn number(name: &'static str, default: f64, citation: Citation, words: &'static str) -> Key {
    Key { name, domain: Domain::Number { most: ANY }, default: Number(default), citation, words }
}

const fn off(name: &'static str, citation: Citation, words: &'static str) -> Key {
    Key { name, domain: Domain::Number { most: ANY }, default: Off, citation, words }
}

const fn share(name: &'static str, citation: Citation, words: &'static str) -> Key {
    Key { name, domain: Domain::Number { most: 1.0 }, default: Off, citation, words }
}

const fn count(name: &'static str, most: u32, default: CriterionValue, citation: Citation, words: &'static str) -> Key {
    Key { name, domain: Domain::Count { least: 0, most }, default, citation, words }
}

const fn word(
    name: &'static str,
    choices: &'static [&'static str],
    default: &'static str,
    citation: Citation,
    words: &'static str,
) -> Key {
    Key { name, domain: Domain::Word(choices), default: choice(default), citation, words }
}

const EDGE: &[&str] = &["inclusive", "strict"];
const REQUIRED: &[Key] = &[word(
    "required",
    &["not_required", "required"],
    "not_required",
    SILENT,
    "whether a run without this check is incomplete",
)];

const FOLLOWS: &[Key] = &[word(
    "required",
    &["not_required", "after_failed_spike", "required"],
    "not_required",
    SILENT,
    "after_failed_spike: required in a batch whose spike before it failed (the matrix spike before the post-digestion spike, that one before the serial dilution)",
)];

const fn recovery(low: f64, high: f64) -> [Key; 3] {
    [
        number("low", low, CUSTOM, "lowest acceptable recovery, %"),
        number("high", high, CUSTOM, "highest acceptable recovery, %"),
        word("edge", EDGE, "inclusive", CUSTOM, "whether a recovery exactly at a limit passes"),
    ]
}

const fn difference(limit: f64) -> [Key; 2] {
    [
        number("rpd", limit, CUSTOM, "largest acceptable relative percent difference, %"),
        word("rpd_edge", EDGE, "inclusive", CUSTOM, "whether a difference exactly at the limit passes"),
    ]
}

const WITHIN_10: &[Key] = &recovery(90.0, 110.0);
const WITHIN_20: &[Key] = &recovery(80.0, 120.0);
const WITHIN_25: &[Key] = &recovery(75.0, 125.0);
const WITHIN_30: &[Key] = &recovery(70.0, 130.0);
const RPD_20: &[Key] = &difference(20.0);

const NEAR_LIMIT: &[Key] = &[
    word(
        "near_limit",
        &["off", "loq_difference"],
        "off",
        SILENT,
        "loq_difference: with either value below near_limit_factor x LOQ, the difference is judged against near_limit_difference x LOQ, not the RPD",
    ),
    number("near_limit_factor", 5.0, CLP, "below how many times the LOQ the near-limit rule applies"),
    number("near_limit_difference", 1.0, CLP, "largest acceptable difference near the limit, in LOQ"),
];

const BLANK: &[Key] = &[
    word("rule", &["off", "limit"], "limit", CUSTOM, "limit: the blank is judged against factor x basis"),
    word("basis", &["loq", "mdl"], "loq", CUSTOM, "the limit that a blank is compared with"),
    number("factor", 1.0, CUSTOM, "how many times the basis a blank may reach (half the LOQ: 0.5)"),
    word("edge", EDGE, "strict", CUSTOM, "whether a blank exactly at the limit passes"),
    word(
        "negative",
        &["judged", "not_judged"],
        "judged",
        M200_9,
        "judged: a blank far below zero fails as one far above it does",
    ),
];

const METHOD_BLANK: &[Key] = &[
    word(
        "rule",
        &["off", "limit", "three_way"],
        "limit",
        CUSTOM,
        "limit: against factor x basis; three_way: below percent of the LOQ, of the action limit or of the lowest sample of the batch, whichever is greatest",
    ),
    word("basis", &["loq", "mdl"], "loq", CUSTOM, "the limit that a blank is compared with"),
    number("factor", 1.0, CUSTOM, "how many times the basis a blank may reach (half the LOQ: 0.5)"),
    number("percent", 10.0, CUSTOM, "percentage of the three-way rule"),
    word("edge", EDGE, "strict", CUSTOM, "whether a blank exactly at the limit passes"),
    word(
        "negative",
        &["judged", "not_judged"],
        "judged",
        M200_9,
        "judged: a blank far below zero fails as one far above it does",
    ),
    number(
        "affected_factor",
        10.0,
        m8000d("9.2.6.9"),
        "a failed blank affects detected samples below this many times the blank",
    ),
    word("subtract", &["off", "on"], "off", m6010d("9.7.1"), "whether the method blank is subtracted from results"),
];

const SPIKE: &[Key] = &[
    word(
        "native_rule",
        &["off", "native_4x", "added_below_25_percent", "added_below_30_percent"],
        "off",
        SILENT,
        "when a high native content makes the recovery meaningless; a rule of other programmes, applied only where named",
    ),
    number("native_factor", 4.0, CLP, "native_4x: not evaluated when native >= this many times the addition"),
    word(
        "native_below_mdl",
        &["signed", "zero", "not_calculable"],
        "signed",
        SILENT,
        "what stands for a native content below the MDL",
    ),
];

const ADDITION: &[Key] = &[
    off("addition_least", CUSTOM, "smallest addition for which the rule holds, in LOQ"),
    off("addition_most", CUSTOM, "largest addition for which the rule holds, in LOQ"),
];

const EVERY: &[Key] = &[
    count("every", 1000, Off, SILENT, "largest number of analyses between two of these checks"),
    word("at_end", &["not_required", "required"], "not_required", SILENT, "whether the run must close with this check"),
];

const PER_BATCH: &[Key] =
    &[count("batch_size", 1000, Off, SILENT, "largest number of samples that one such check serves")];

const DILUTION: &[Key] = &[
    number("difference", 10.0, CUSTOM, "largest acceptable difference from the undiluted result, %"),
    word("edge", EDGE, "inclusive", CUSTOM, "whether a difference exactly at the limit passes"),
    off("floor", CUSTOM, "smallest content for which the rule holds, in LOQ of the solution"),
    word(
        "floor_at",
        &["after_dilution", "before_dilution"],
        "after_dilution",
        CUSTOM,
        "whether the floor is met by the diluted or by the undiluted solution",
    ),
    number("fold", 5.0, CUSTOM, "the dilution that the rule is for (1:5 is fivefold)"),
];

const CALIBRATION: &[Key] = &[
    word("shapes", &["any", "line"], "any", SILENT, "which shapes of calibration are admitted"),
    count("minimum_standards", 100, Off, SILENT, "fewest standards above zero"),
    word("blank", &["not_required", "required"], "not_required", SILENT, "whether a calibration blank must be there"),
    share("r", SILENT, "smallest correlation coefficient, unweighted line with free intercept only"),
    share("r_squared", m8000d("11.5.2.2"), "smallest coefficient of determination (printed: 0.99)"),
    word("correlation_edge", EDGE, "inclusive", SILENT, "whether a coefficient exactly at its limit passes"),
    off("percent_error", m8000d("11.5.4.1"), "largest percent error of a level (printed: 30)"),
    off(
        "percent_error_lowest",
        m8000d("11.5.4.1"),
        "largest percent error of the lowest level (printed for some uses: 50); off: as the others",
    ),
    off("rse", m8000d("11.5.4.2"), "largest relative standard error, % (printed: 20)"),
    off("studentized_residual", SILENT, "largest magnitude of a studentized residual"),
    off("standard_rsd", SILENT, "largest RSD of three or more readings of a standard, %"),
    off("standard_rpd", SILENT, "largest RPD of two readings of a standard, %"),
    number("lowest_absorbance", 0.04, CUSTOM, "advice, never a failure: smallest absorbance of the lowest standard"),
    off("highest_absorbance", SILENT, "advice, never a failure: largest absorbance of the top standard"),
];

const BRACKET: &[Key] = &[
    word(
        "counting",
        &["analyses", "samples"],
        "analyses",
        CLP,
        "what counts between two checks: every analysis that is no calibration check, or samples alone",
    ),
    word(
        "retry",
        &["off", "one_immediate"],
        "off",
        SILENT,
        "one_immediate: one repeat of the same check right after a failed one stands for it",
    ),
    word(
        "release",
        &["off", "high_check_nondetect"],
        "off",
        SILENT,
        "high_check_nondetect: a check that failed high does not condemn a sample in which nothing was detected",
    ),
];

const COMPARISON: &[Key] = &[count(
    "decimals",
    15,
    Off,
    SILENT,
    "round percentages half-even to so many decimals before they are compared; off: compare unrounded",
)];

/// Sections in the order of listings, each with its keys.
pub(super) const SECTIONS: &[(&str, &[&[Key]])] = &[
    ("calibration", &[CALIBRATION]),
    ("icv", &[WITHIN_10, REQUIRED]),
    ("icb", &[BLANK, REQUIRED]),
    ("low_check", &[WITHIN_30, REQUIRED]),
    ("ccv", &[WITHIN_10, REQUIRED, EVERY]),
    ("ccb", &[BLANK, REQUIRED, EVERY]),
    ("method_blank", &[METHOD_BLANK, REQUIRED, PER_BATCH]),
    ("lcs", &[WITHIN_20, REQUIRED, PER_BATCH]),
    ("lcsd", &[WITHIN_20, RPD_20, REQUIRED, PER_BATCH]),
    ("duplicate", &[RPD_20, NEAR_LIMIT, REQUIRED, PER_BATCH]),
    ("matrix_spike", &[WITHIN_25, SPIKE, REQUIRED, PER_BATCH]),
    ("matrix_spike_duplicate", &[WITHIN_25, RPD_20, SPIKE, REQUIRED, PER_BATCH]),
    ("post_digestion_spike", &[WITHIN_20, SPIKE, ADDITION, FOLLOWS, PER_BATCH]),
    ("serial_dilution", &[DILUTION, FOLLOWS, PER_BATCH]),
    ("reference_material", &[WITHIN_20, REQUIRED, PER_BATCH]),
    ("bracket", &[BRACKET]),
    ("comparison", &[COMPARISON]),
];

/// Figures of 8000D that a method may adopt.
const PRINTED: &[(&str, f64, Citation)] = &[
    ("r_squared", 0.99, m8000d("11.5.2.2")),
    ("percent_error", 30.0, m8000d("11.5.4.1")),
    ("percent_error_lowest", 50.0, m8000d("11.5.4.1")),
    ("rse", 20.0, m8000d("11.5.4.2")),
];

/// The keys of a section, in order.
pub(super) fn keys(section: &str) -> impl Iterator<Item = &'static Key> {
    let parts = SECTIONS.iter().find(|(name, _)| *name == section).map_or(&[] as &[&[Key]], |(_, parts)| parts);
    parts.iter().flat_map(|part| part.iter())
}

/// The document behind a choice that has a name of its own, or behind a figure that is off until it is named, so that
/// naming a borrowed rule keeps its origin.
pub(super) fn named(check: &str, key: &str, value: &CriterionValue) -> Option<Citation> {
    let word = match value {
        CriterionValue::Word(word) => word.as_ref(),
        Off => "off",
        Number(number) => {
            let printed = PRINTED.iter().find(|(known, figure, _)| *known == key && number.total_cmp(figure).is_eq());
            return printed.filter(|_| check == "calibration").map(|(_, _, citation)| citation.clone());
        }
    };
    match (key, word) {
        ("native_rule", "native_4x") | ("near_limit", "loq_difference") | ("native_below_mdl", "zero") => Some(CLP),
        ("native_rule", "added_below_25_percent") => Some(M200_9),
        ("native_rule", "added_below_30_percent") => Some(M200_7),
        ("rule", "three_way") => Some(m7000b("9.5")),
        ("subtract", "off") => Some(m6010d("9.7.1")),
        _ => None,
    }
}
