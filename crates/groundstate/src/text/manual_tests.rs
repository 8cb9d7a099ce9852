//! docs/formats.md against the code: its examples are read, and it names every column, role and key.

use crate::criteria::ProfileName;
use crate::method::Method;
use crate::run::{ALIASES, FACTS, Role, Run};
use crate::unit::Unit;

const MANUAL: &str = include_str!("../../../../docs/formats.md");

fn example(language: &str) -> &'static str {
    let (_, rest) = MANUAL.split_once(&format!("```{language}\n")).unwrap();
    rest.split_once("```").unwrap().0
}

fn names(word: &str) -> bool {
    MANUAL.contains(&format!("`{word}`"))
}

#[test]
fn the_examples_are_read() {
    let run = Run::from_csv(example("csv")).unwrap();
    assert_eq!((run.positions.len(), run.findings.len()), (7, 0));
    let method = Method::from_toml(example("toml")).unwrap();
    assert_eq!(method.profile(), ProfileName::Sw846Method7000B);
}

#[test]
fn every_role_alias_unit_fact_and_column_is_named() {
    assert!(Role::ALL.iter().all(|role| names(role.name())));
    assert!(ALIASES.iter().all(|(alias, _)| MANUAL.contains(&format!("| {},", alias.to_uppercase()))));
    assert!(Unit::ALL.iter().all(|unit| names(unit.name())));
    assert!(FACTS.iter().all(|fact| names(fact)));
    for column in crate::run::column_names() {
        assert!(names(column), "{column}");
    }
}

#[test]
fn every_key_is_named() {
    let document = Method::new("Zn", ProfileName::General).unwrap().to_document();
    for (key, value) in document.as_object().unwrap() {
        if !matches!(key.as_str(), "calibration" | "preparation" | "limits" | "reporting" | "qualifiers" | "criteria") {
            assert!(names(key), "{key}");
            continue;
        }
        assert!(MANUAL.contains(&format!("`[{key}")), "{key}");
        if key != "criteria" {
            value.as_object().unwrap().keys().for_each(|key| assert!(names(key), "{key}"));
        }
    }
}
