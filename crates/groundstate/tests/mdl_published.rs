//! Method detection limits and minimum levels against the reference cases: the rule's own example, a published table, and
//! constructed studies with figures from an independent computation. See python/groundstate/cases/README.md.
#![allow(missing_docs)]

use groundstate::detection::mdl::{self, MdlOptions, Measured, PercentileRank, RankTie};
use groundstate::detection::minimum_level;
use serde_json::Value;

const CASES: [&str; 6] = [
    include_str!("../../../python/groundstate/cases/mdl-v1-all-numeric.json"),
    include_str!("../../../python/groundstate/cases/mdl-v2-negative-mean.json"),
    include_str!("../../../python/groundstate/cases/mdl-v3-percentile.json"),
    include_str!("../../../python/groundstate/cases/mdl-v4-percentile-rank.json"),
    include_str!("../../../python/groundstate/cases/mdl-v5-one-numeric.json"),
    include_str!("../../../python/groundstate/cases/minimum-level.json"),
];

fn number(value: &Value) -> f64 {
    value.as_str().expect("a decimal string").parse().expect("a number")
}

fn measured(values: &Value) -> Vec<Measured> {
    let one = |value: &Value| match value.as_str() {
        Some("ND") => Measured::NonDetect,
        _ => Measured::Number(number(value)),
    };
    values.as_array().expect("a list").iter().map(one).collect()
}

/// The library's figure for a path such as `rank.0`.
fn figure(kind: &str, input: &Value, path: &str) -> f64 {
    match kind {
        "mdl" => {
            let (spikes, blanks) = (measured(&input["spikes"]), measured(&input["blanks"]));
            let limit = mdl::initial_from_values(&spikes, &blanks, &MdlOptions::default()).unwrap();
            match path {
                "from_spikes" => limit.from_spikes.value,
                "from_blanks" => limit.from_blanks.value,
                "value" => limit.value,
                _ => None,
            }
            .unwrap_or_else(|| panic!("no figure {path}"))
        }
        "percentile_rank" => {
            let index: usize = path.strip_prefix("rank.").unwrap().parse().unwrap();
            let count = input["counts"][index].as_u64().unwrap();
            PercentileRank::of(usize::try_from(count).unwrap(), RankTie::HalfUp).rank as f64
        }
        "minimum_level" => minimum_level(number(&input["mdl"][path])).unwrap().value,
        _ => panic!("no runner for {kind}"),
    }
}

#[test]
fn every_expected_figure_is_reached_to_its_digits() {
    let mut compared = 0;
    for text in CASES {
        let case: Value = serde_json::from_str(text).unwrap();
        let digits = number(&case["tolerance"]["digits"]);
        for (path, expected) in case["expected"].as_object().unwrap() {
            let expected = number(expected);
            let found = figure(case["kind"].as_str().unwrap(), &case["input"], path);
            // The tolerance is the case's own, with its reason beside it.
            let lost = ((found - expected) / expected).abs();
            assert!(lost <= libm::pow(10.0, -digits), "{} {path}: {found} against {expected}", case["title"]);
            compared += 1;
        }
    }
    // 3 + 3 + 1 + 7 + 3 + 10 figures: a case that lost its figures would pass unseen.
    assert_eq!(compared, 27);
}
