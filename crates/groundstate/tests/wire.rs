//! Documents: what is written, read back, verified; and what is refused.
#![cfg(feature = "text")]
#![allow(missing_docs)]

use groundstate::criteria::ProfileName;
use groundstate::document::{canonical, sha256_hex};
use groundstate::error::Kind;
use groundstate::method::Method;
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::{Role, Run};
use groundstate::wire::{Document, Layout, header, schema, verify};
use proptest::prelude::*;
use serde_json::Value;

const WATER: &str = include_str!("../../../python/groundstate/demo/roof_water.csv");
const WATER_METHOD: &str = include_str!("../../../python/groundstate/demo/roof_water.toml");
const SEDIMENT: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.csv");
const SEDIMENT_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.toml");

const MOSS: &str = include_str!("../../../python/groundstate/demo/gutter_moss.csv");
const MOSS_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_moss.toml");

fn of(run: &str, method: &str) -> Outcome {
    reduce(&Run::from_csv(run).unwrap(), &Method::from_toml(method).unwrap()).unwrap()
}

fn small() -> Outcome {
    let run = Run::builder("small")
        .calibration_blank(&[0.0004, 0.0002])
        .standard("S1", 0.5, &[0.0562, 0.0560])
        .standard("S2", 1.0, &[0.1125, 0.1121])
        .standard("S3", 2.0, &[0.2238, 0.2240])
        .check(Role::Ccv, "CCV", 1.0, &[0.1119])
        .sample("A", &[0.0871, 0.0868])
        .sample("B", &[f64::NAN])
        .fact("analyst", "R. Invented")
        .build()
        .unwrap();
    reduce(&run, &Method::new("Zn", ProfileName::General).unwrap()).unwrap()
}

fn outcomes() -> [Outcome; 4] {
    [small(), of(WATER, WATER_METHOD), of(SEDIMENT, SEDIMENT_METHOD), of(MOSS, MOSS_METHOD)]
}

fn value(outcome: &Outcome) -> Value {
    serde_json::from_str(&outcome.to_json(Layout::Compact)).unwrap()
}

/// The same document with one member changed, its schema first as in every document.
fn changed(outcome: &Outcome, pointer: &str, to: Value) -> String {
    let mut value = value(outcome);
    *value.pointer_mut(pointer).unwrap() = to;
    written(value)
}

fn written(mut value: Value) -> String {
    let schema = value.as_object_mut().unwrap().remove("schema").unwrap();
    format!("{{\"schema\":{schema},{}", &value.to_string()[1..])
}

#[test]
fn what_is_written_reads_back_to_the_same_bytes() {
    for outcome in outcomes() {
        for layout in [Layout::Pretty, Layout::Compact] {
            let text = outcome.to_json(layout);
            assert!(!text.contains("null") && !text.contains("NaN"), "{text}");
            let back = Outcome::from_json(&text).unwrap();
            assert_eq!(back.to_json(layout), text);
            // In memory too; values that are not numbers are equal as text.
            assert_eq!(format!("{:?}", back.rows()), format!("{:?}", outcome.rows()));
            assert_eq!(format!("{:?}", back.checks()), format!("{:?}", outcome.checks()));
            assert_eq!(format!("{:?}", back.calibrations()), format!("{:?}", outcome.calibrations()));
            assert_eq!(back.contributions(), outcome.contributions());
            assert_eq!(format!("{:?}", back.additions()), format!("{:?}", outcome.additions()));
            assert_eq!(back.findings(), outcome.findings());
            assert_eq!(back.condemnations(), outcome.condemnations());
            assert_eq!((back.run(), back.method()), (outcome.run(), outcome.method()));
            assert_eq!((back.standing(), back.segments()), (outcome.standing(), outcome.segments()));
            assert_eq!(back.summary().to_string(), outcome.summary().to_string());
        }
    }
}

/// Points, fit, findings and slope ratio of every series stand in the document, and nowhere where there is none.
#[test]
fn series_of_additions_can_be_read_without_the_library() {
    let outcome = of(MOSS, MOSS_METHOD);
    let document = value(&outcome);
    let series = document["additions"].as_array().unwrap();
    assert_eq!(series.len(), 3);
    for (form, series) in series.iter().zip(outcome.additions()) {
        let form = |pointer: &str| form.pointer(pointer).unwrap_or_else(|| panic!("{pointer}"));
        let fitted = series.series.as_ref().unwrap();
        // Least squares from the points in the document, by the textbook: intercept over slope is what was found.
        let points = form("/series/points").as_array().unwrap();
        let column = |name: &str| points.iter().map(|point| point[name].as_f64().unwrap()).collect::<Vec<f64>>();
        let (x, y, n) = (column("added"), column("signal"), points.len() as f64);
        let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
        let sxy: f64 = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum();
        let slope = sxy / x.iter().map(|x| (x - mx) * (x - mx)).sum::<f64>();
        let found = (my - slope * mx) / slope;
        assert!((form("/series/found/value").as_f64().unwrap() - found).abs() < 1e-12);
        assert_eq!(form("/series/found/standard_uncertainty").as_f64(), Some(fitted.estimate().u));
        assert_eq!(form("/slope_ratio/value").as_f64(), Some(series.slope_ratio.as_ref().unwrap().value));
        let codes: Vec<&str> =
            form("/series/findings").as_array().unwrap().iter().map(|one| one["code"].as_str().unwrap()).collect();
        assert!(codes.contains(&"additive_not_corrected"), "{codes:?}");
    }
    assert!(value(&small()).get("additions").is_none());
    // Another identity, or a series that the run does not have, is refused.
    let other = changed(&outcome, "/additions/0/series/id", "0123456789abcdef".into());
    assert!(Outcome::from_json(&other).unwrap_err().to_string().contains("additions[0]"));
    let mut one_more = document.clone();
    let extra = one_more["additions"][0].clone();
    one_more["additions"].as_array_mut().unwrap().push(extra);
    assert!(Outcome::from_json(&written(one_more)).unwrap_err().to_string().contains("additions[3]"));
    // An archive from before series stood in documents is read, and verified by its results.
    let mut old = document;
    old.as_object_mut().unwrap().remove("additions");
    let old = written(old);
    assert_eq!(Outcome::from_json(&old).unwrap().additions().len(), 3);
    assert!(verify(&old).unwrap().is_identical());
}

#[test]
fn the_text_says_what_it_is_and_calls_things_by_their_names() {
    let text = small().to_json(Layout::Compact);
    assert!(text.starts_with("{\"schema\":\"groundstate.outcome/1\",\"library\":\""), "{text}");
    for part in [
        "\"facts\":{\"analyst\":\"R. Invented\"}",
        "{\"position\":5,\"role\":\"ccv\",\"label\":\"CCV\",\"readings\":[0.1119],\"replicates\":[1],\"missing\":0,\"nominal\":1.0}",
        "\"result\":{\"status\":\"no_reading\",\"degrees_of_freedom\":\"infinite\"}",
        "\"words\":\"Within-run components only; not the uncertainty of the test result.\"",
        "\"standard_uncertainty\":\"u_analysis_within_run\"",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let value = value(&small());
    let result = &value["results"][1];
    for name in ["value", "standard_uncertainty", "degrees_of_freedom", "status"] {
        assert!(!result["result"][name].is_null(), "{name}");
    }
    for name in ["expanded_uncertainty", "coverage_factor", "qualifiers", "unit"] {
        assert!(!result[name].is_null(), "{name}");
    }
}

/// Names that differ only by case would collide where case is folded. The method file has its own keys.
#[test]
fn no_member_is_called_u() {
    fn names(value: &Value, seen: &mut Vec<String>) {
        match value {
            Value::Object(members) => members.iter().filter(|(name, _)| *name != "method").for_each(|(name, value)| {
                seen.push(name.clone());
                names(value, seen);
            }),
            Value::Array(items) => items.iter().for_each(|item| names(item, seen)),
            _ => {}
        }
    }
    for outcome in outcomes() {
        let mut seen = Vec::new();
        names(&value(&outcome), &mut seen);
        assert!(seen.iter().all(|name| !name.eq_ignore_ascii_case("u")), "{seen:?}");
    }
}

#[test]
fn uncertainty_follows_from_the_stored_contributions() {
    for outcome in outcomes() {
        let value = value(&outcome);
        let rows = value["budgets"]["rows"].as_array().unwrap();
        for (row, result) in rows.iter().zip(value["results"].as_array().unwrap()) {
            let Some(u) = result["result"]["standard_uncertainty"].as_f64() else { continue };
            let parts = row["contributions"].as_array().unwrap().iter().map(|c| c.as_f64().unwrap());
            let sum: f64 = parts.map(|c| c * c).sum();
            // A root of a sum of the same terms in the same order, plus one rounding.
            assert!((sum.sqrt() - u).abs() <= 4.0 * f64::EPSILON * u, "{} {u}", sum.sqrt());
        }
    }
}

#[test]
fn headers_are_read_alone() {
    let read = header("\u{feff} { \"schema\" : \"groundstate.run/1.7\", \"cut").unwrap();
    assert_eq!((read.document, read.major, read.minor), (Document::Run, 1, 7));
    assert!(read.is_newer());
    // A whole document may have its members in any order, as a data base gives them back.
    let read = header("{\"method\": {\"id\": [1]}, \"schema\": \"groundstate.run/1\"}").unwrap();
    assert_eq!((read.document, read.major, read.minor), (Document::Run, 1, 0));
    for (text, told) in [
        ("", "does not begin with its schema"),
        ("[1]", "does not begin with its schema"),
        ("{}", "it has no such member"),
        ("{\"schema\": 1}", "does not begin with its schema"),
        ("{\"method\": \"groundstate.run/1\"}", "does not begin with its schema"),
        ("{\"a\": \"b\", \"schema\": \"groundstate.run/1\"", "does not begin with its schema"),
        (
            "{\"schema\": \"groundstate.outcome/2\"}",
            "got \"groundstate.outcome/2\", expected \"groundstate.outcome/1\"",
        ),
        ("{\"schema\": \"groundstate.outcome/0\"}", "expected \"groundstate.outcome/1\""),
        ("{\"schema\": \"groundstate.outcom/1\"}", "did you mean \"groundstate.outcome/1\"?"),
        ("{\"schema\": \"groundstate.outcome/1.\"}", "there is no schema"),
        ("{\"schema\": \"groundstate.outcome/-1\"}", "there is no schema"),
    ] {
        let error = header(text).unwrap_err();
        assert_eq!(error.kind(), Kind::Wire);
        assert!(error.to_string().contains(told), "{text}: {error}");
    }
}

#[test]
fn one_document_is_not_taken_for_another() {
    let outcome = small();
    let run = outcome.run().to_json(Layout::Pretty);
    let error = Outcome::from_json(&run).unwrap_err();
    assert!(
        error.to_string().contains("got a document \"groundstate.run/1\", expected \"groundstate.outcome/1\""),
        "{error}"
    );
    assert!(Run::from_json(&outcome.to_json(Layout::Compact)).is_err());
    let error = Method::from_json(&run).unwrap_err();
    assert_eq!(error.to_string(), "schema: got \"groundstate.run/1\", expected \"groundstate.method/1\"");
}

#[test]
fn runs_and_methods_are_documents_too() {
    for outcome in outcomes() {
        for layout in [Layout::Pretty, Layout::Compact] {
            let (run, method) = (outcome.run().to_json(layout), outcome.method().to_json(layout));
            assert_eq!(header(&run).unwrap().document, Document::Run);
            assert_eq!(header(&method).unwrap().document, Document::Method);
            let back = Run::from_json(&run).unwrap();
            assert_eq!(back.positions, outcome.run().positions);
            assert_eq!(back.to_json(layout), run);
            assert_eq!(&Method::from_json(&method).unwrap(), outcome.method());
        }
    }
}

#[test]
fn unknown_members_are_refused_but_for_a_newer_minor_version() {
    let mut document = value(&small());
    document["results"][0]["colour"] = "blue".into();
    let error = Outcome::from_json(&written(document.clone())).unwrap_err();
    assert!(error.to_string().starts_with("outcome.results[0].colour: there is no such member"), "{error}");
    document["schema"] = "groundstate.outcome/1.1".into();
    let back = Outcome::from_json(&written(document.clone())).unwrap();
    assert_eq!(back.to_json(Layout::Compact), small().to_json(Layout::Compact));
    // What a method asks for changes results, so a key that is not understood is never passed over.
    document["method"]["calibration"]["colour"] = "blue".into();
    let error = Outcome::from_json(&written(document)).unwrap_err();
    assert!(error.to_string().contains("method.calibration.colour"), "{error}");
}

/// Readers differ in which of the two they take (RFC 8259, section 4), so that neither can be meant.
#[test]
fn a_member_that_stands_there_twice_is_refused() {
    let outcome = small();
    let twice = |text: &str, member: &str| {
        text.replacen(&format!("\"{member}\":"), &format!("\"{member}\":0,\"{member}\":"), 1)
    };
    for (text, member) in [
        (outcome.to_json(Layout::Compact), "standing"),
        (outcome.run().to_json(Layout::Compact), "position_rule"),
        (outcome.method().to_json(Layout::Compact), "version"),
    ] {
        let text = twice(&text, member);
        let told = match header(&text).unwrap().document {
            Document::Outcome => Outcome::from_json(&text).unwrap_err(),
            Document::Run => Run::from_json(&text).unwrap_err(),
            _ => Method::from_json(&text).unwrap_err(),
        };
        assert!(told.to_string().contains(&format!("the member \"{member}\" stands there twice")), "{told}");
    }
}

#[test]
fn contradictions_are_refused_with_their_place() {
    let outcome = small();
    for (pointer, to, told) in [
        (
            "/results/1/result/status",
            Value::from("no_reading"),
            "results[1].result.value: the status no_reading has no value",
        ),
        ("/results/1/result/status", Value::from("in_rage"), "did you mean \"in_range\"?"),
        ("/results/1/result/degrees_of_freedom", Value::from(-1), "-1"),
        ("/results/1/result/degrees_of_freedom", Value::from("many"), "neither a number nor"),
        ("/results/0/position", Value::from(6), "ascending order"),
        ("/budgets/sources/0/variance", Value::from(99), "there is no variance 99"),
        ("/budgets/rows/0/sources/0", Value::from(4_000_000), "budgets.rows[0]"),
        ("/calibrations/0/points/0/signal", Value::from(0.5), "calibrations[0].id: the points and options stored"),
        ("/calibrations/0/noise/model", Value::from("equall"), "did you mean \"equal\"?"),
        ("/checks/0/verdict", Value::from("perfect"), "checks[0].verdict"),
        ("/findings/0/subject/what", Value::from("weather"), "findings[0].subject"),
        ("/run/positions/1/nominal", Value::from(-0.5), "below zero"),
        ("/run/positions/1/position", Value::from(9), "position"),
        ("/segments/0/number", Value::from("one"), "segments[0].number: got \"one\", expected a whole number"),
    ] {
        let error = Outcome::from_json(&changed(&outcome, pointer, to)).unwrap_err();
        assert_eq!(error.kind(), Kind::Wire, "{pointer}: {error}");
        assert!(error.to_string().contains(told), "{pointer}: {error}");
    }
}

#[test]
fn an_archive_verifies_itself() {
    for outcome in outcomes() {
        let verification = verify(&outcome.to_json(Layout::Pretty)).unwrap();
        assert!(verification.is_identical(), "{verification}");
        assert_eq!(verification.to_string(), "identical");
    }
}

#[test]
fn verification_names_the_first_difference() {
    let outcome = small();
    let stored = value(&outcome)["results"][1]["result"]["value"].clone();
    let verification = verify(&changed(&outcome, "/results/1/result/value", 9.5.into())).unwrap();
    assert_eq!(verification.count, 1);
    let told = format!("1 member differs; the first is results[1].result.value: stored 9.5, recomputed {stored}");
    assert_eq!(verification.to_string(), told);

    // A changed reading shows in the fingerprint before it shows in results.
    let verification = verify(&changed(&outcome, "/run/positions/5/readings/0", 0.09.into())).unwrap();
    assert_eq!(verification.first.as_ref().unwrap().path, "provenance.fingerprint");
    assert!(verification.count > 4, "{verification}");

    // A changed reported text is seen too.
    let verification = verify(&changed(&outcome, "/results/1/reported_text", "1000".into())).unwrap();
    assert_eq!(verification.first.unwrap().path, "results[1].reported_text");
}

#[test]
fn other_versions_are_compared_to_twelve_digits() {
    let outcome = small();
    let stored = value(&outcome)["results"][1]["result"]["value"].as_f64().unwrap();
    let of_version = |library: &str, factor: f64| {
        let mut document = value(&outcome);
        document["library"] = library.into();
        document["results"][1]["result"]["value"] = (stored * factor).into();
        verify(&written(document)).unwrap()
    };
    let own = groundstate::outcome::Provenance::new().library;
    assert!(!of_version(&own, 1.0 + 1e-13).is_identical());
    let other = of_version("0.0.1", 1.0 + 1e-13);
    assert!(other.is_identical());
    assert!(other.to_string().contains("written by version 0.0.1"), "{other}");
    assert!(!of_version("0.0.1", 1.0 + 1e-11).is_identical());
}

#[test]
fn what_the_caller_said_stays_with_the_archive() {
    let outcome = small().amends(&of(WATER, WATER_METHOD), "another run by mistake").unwrap();
    let outcome = outcome.with_raw_table(b"abc");
    // The one-block message of the examples to FIPS 180-4.
    let raw = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(outcome.provenance().raw.as_deref(), Some(raw));
    let text = outcome.to_json(Layout::Pretty);
    assert_eq!(Outcome::from_json(&text).unwrap().provenance(), outcome.provenance());
    assert!(verify(&text).unwrap().is_identical());
}

#[test]
fn the_order_of_rows_does_not_change_a_byte() {
    let (header, rows) = WATER.trim_end().split_once('\n').unwrap();
    let mut rows: Vec<&str> = rows.lines().collect();
    rows.reverse();
    rows.rotate_left(7);
    let shuffled = of(&format!("{header}\n{}\n", rows.join("\n")), WATER_METHOD);
    let outcome = of(WATER, WATER_METHOD);
    assert_eq!(shuffled.provenance(), outcome.provenance());
    assert_eq!(shuffled.to_json(Layout::Compact), outcome.to_json(Layout::Compact));
}

#[test]
fn fingerprints_follow_the_input_and_nothing_else() {
    let outcome = small();
    let mut method = outcome.method().clone();
    method.reporting.no_result = "none".into();
    let other = reduce(outcome.run(), &method).unwrap();
    let (a, b) = (outcome.provenance(), other.provenance());
    assert_ne!(a.fingerprint, b.fingerprint);
    assert_ne!(a.method, b.method);
    assert_eq!((&a.profile, &a.table), (&b.profile, &b.table));
}

const CANONICAL: &str = include_str!("../../../tests/wire/canonical.json");

#[test]
fn the_canonical_input_is_the_golden_one() {
    let vectors: Vec<Value> = serde_json::from_str(CANONICAL).unwrap();
    let outcomes = [of(WATER, WATER_METHOD), of(SEDIMENT, SEDIMENT_METHOD), of(MOSS, MOSS_METHOD)];
    assert_eq!(vectors.len(), outcomes.len());
    for (vector, outcome) in vectors.iter().zip(outcomes) {
        let text = |name: &str| vector[name].as_str().unwrap().to_owned();
        let again = "after a wanted change: cargo run -p groundstate --example wire_files";
        assert_eq!(canonical(&outcome.method().to_document()), text("method"), "{again}");
        assert_eq!(canonical(&outcome.run().to_document()), text("run"), "{again}");
        let provenance = outcome.provenance();
        assert_eq!(provenance.fingerprint, Some(text("fingerprint")));
        assert_eq!(provenance.method, Some(sha256_hex(text("method").as_bytes())));
        assert_eq!(provenance.table, Some(sha256_hex(text("run").as_bytes())));
        assert_eq!(provenance.profile, Some(text("digest_of_profile")));
    }
}

#[test]
fn the_schemas_in_the_documentation_are_those_of_the_forms() {
    for (document, text) in [
        (Document::Method, include_str!("../../../docs/schema/method.json")),
        (Document::Run, include_str!("../../../docs/schema/run.json")),
        (Document::Outcome, include_str!("../../../docs/schema/outcome.json")),
        (Document::MdlRecord, include_str!("../../../docs/schema/mdl_record.json")),
    ] {
        assert!(schema(document) == text, "{}: cargo run -p groundstate --example wire_files", document.name());
    }
}

/// Files that a user of version 1 may hold: they are read as long as the major version is 1.
#[test]
fn archives_of_version_one_are_read() {
    for text in [
        include_str!("../../../tests/wire/archive/v1/roof_water.json"),
        include_str!("../../../tests/wire/archive/v1/gutter_sediment.json"),
        include_str!("../../../tests/wire/archive/v1/gutter_moss.json"),
    ] {
        let stored: Value = serde_json::from_str(text).unwrap();
        let outcome = Outcome::from_json(text).unwrap();
        let results = stored["results"].as_array().unwrap();
        assert!(results.len() > 10 && results.len() == outcome.rows().len());
        for (row, result) in outcome.rows().iter().zip(results) {
            assert_eq!(row.text, result["reported_text"].as_str().unwrap());
            assert_eq!(row.result.status.name(), result["result"]["status"].as_str().unwrap());
            let value = result["result"]["value"].as_f64();
            assert_eq!(Some(row.result.value).filter(|x| x.is_finite()).map(f64::to_bits), value.map(f64::to_bits));
            let u = result["result"]["standard_uncertainty"].as_f64();
            assert_eq!(Some(row.result.u).filter(|u| u.is_finite()).map(f64::to_bits), u.map(f64::to_bits));
        }
        assert_eq!(outcome.checks().len(), stored["checks"].as_array().unwrap().len());
        assert_eq!(outcome.standing().name(), stored["standing"]);
    }
}

/// Any number that a reading can be, the far ends included.
fn reading() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => 0.0..2.0_f64,
        1 => -0.01..0.0_f64,
        1 => Just(f64::NAN),
        1 => prop_oneof![Just(1e300), Just(-1e300), Just(5e-324), Just(0.0), Just(-0.0)],
    ]
}

fn run() -> impl Strategy<Value = Run> {
    let standards = prop::collection::vec((0.01..10.0_f64, prop::collection::vec(reading(), 1..3)), 3..6);
    let samples = prop::collection::vec((any::<bool>(), prop::collection::vec(reading(), 1..4)), 0..5);
    (standards, samples, ".{0,8}").prop_filter_map("not a run", |(standards, samples, name)| {
        let mut run = Run::builder(&format!("r{name}")).calibration_blank(&[0.0]);
        for (i, (nominal, readings)) in standards.iter().enumerate() {
            run = run.standard(&format!("S{i}"), *nominal, readings);
        }
        for (i, (check, readings)) in samples.iter().enumerate() {
            let role = if *check { Role::Ccv } else { Role::Sample };
            run = run.position(role, &format!("{name}{i}"), readings).with(|one| {
                one.nominal = check.then_some(1.0);
                if i == 2 && !check {
                    (one.preparation.volume_ml, one.preparation.final_volume_ml) = (Some(50.0), Some(100.0));
                    one.preparation.dilution = Some("5/50;2".into());
                }
            });
        }
        run.build().ok()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn every_outcome_comes_back(run in run()) {
        let method = Method::new("Zn", ProfileName::General).unwrap();
        let Ok(outcome) = reduce(&run, &method) else { return Ok(()) };
        let text = outcome.to_json(Layout::Compact);
        prop_assert!(!text.contains(":null") && !text.contains("[null"), "{}", text);
        let back = match Outcome::from_json(&text) {
            Ok(back) => back,
            Err(error) => return Err(TestCaseError::fail(format!("{error}\n{text}"))),
        };
        prop_assert_eq!(back.to_json(Layout::Compact), text.clone());
        let verification = verify(&text).unwrap();
        prop_assert!(verification.is_identical(), "{}", verification);
    }

    #[test]
    fn any_text_is_read_or_refused(text in ".{0,200}") {
        let _ = (Outcome::from_json(&text), Run::from_json(&text), header(&text), verify(&text));
        let headed = format!("{{\"schema\":\"groundstate.outcome/1\",{text}");
        let _ = (Outcome::from_json(&headed), verify(&headed));
    }

    #[test]
    fn a_damaged_document_is_read_or_refused(at in 0.0..1.0_f64, length in 0..40_usize, new in "[-0-9a-z\"{}\\[\\],:.]{0,12}") {
        let text = small().to_json(Layout::Compact);
        let start = (at * text.len() as f64) as usize;
        let end = (start + length).min(text.len());
        // The text of this outcome is plain ASCII, so every place is the border of a character.
        let damaged = format!("{}{new}{}", &text[..start], &text[end..]);
        let _ = (Outcome::from_json(&damaged), verify(&damaged));
    }
}
