use super::*;
use crate::finding::{CitationStatus, Origin};

#[test]
fn every_default_lies_in_its_domain_and_every_setting_of_a_profile_finds_its_key() {
    for name in ProfileName::ALL {
        let criteria = Criteria::profile(name);
        for entry in criteria.iter() {
            assert!(
                entry.domain.holds(&entry.value),
                "{} {}.{} = {}",
                name.name(),
                entry.check,
                entry.key,
                entry.value
            );
        }
        for (check, key, value, _) in name.settings() {
            let entry = criteria.get(check, key).unwrap_or_else(|| panic!("{check}.{key} is not in the catalogue"));
            assert_eq!(entry.value, value, "{check}.{key}");
        }
        assert!(criteria.problems().is_empty());
    }
}

#[test]
fn sections_and_keys_are_unique_and_every_check_has_one() {
    let criteria = Criteria::default();
    let names: Vec<_> = criteria.iter().map(|entry| (entry.check, entry.key)).collect();
    for (i, name) in names.iter().enumerate() {
        assert!(!names[..i].contains(name), "{name:?}");
    }
    for kind in CheckKind::ALL {
        assert!(names.iter().any(|(check, _)| *check == kind.name()), "{}", kind.name());
    }
}

#[test]
fn general_requires_nothing_and_says_so() {
    let criteria = Criteria::default();
    assert!(ProfileName::General.words().contains("requires nothing"));
    for kind in CheckKind::ALL {
        assert_eq!(criteria.frequency(*kind).required, None);
        assert_eq!(criteria.batch(*kind).required, None);
    }
    // No figure of this profile claims to be a method's own.
    for entry in criteria.iter().filter(|entry| entry.citation.origin == Origin::Method) {
        assert_eq!(entry.citation.status, CitationStatus::Unverified, "{}.{}", entry.check, entry.key);
    }
}

/// SW-846 Method 7000B, Revision 2, sections 9.5 to 9.8 and 10.1 to 10.3.
#[test]
fn method_7000b_has_its_printed_limits() {
    let criteria = Criteria::profile(ProfileName::Sw846Method7000B);
    let limits = |kind| {
        let range = criteria.recovery(kind);
        (range.low.unwrap(), range.high.unwrap(), range.citation.clause.into_owned())
    };
    assert_eq!(limits(CheckKind::Icv), (90.0, 110.0, "10.2.1".into()));
    assert_eq!(limits(CheckKind::Ccv), (90.0, 110.0, "10.2.2".into()));
    assert_eq!(limits(CheckKind::LowCheck), (70.0, 130.0, "10.2.3".into()));
    assert_eq!(limits(CheckKind::Lcs), (80.0, 120.0, "9.6".into()));
    assert_eq!(limits(CheckKind::MatrixSpike), (75.0, 125.0, "9.7".into()));
    assert_eq!(limits(CheckKind::PostDigestionSpike), (80.0, 120.0, "9.8.1".into()));
    assert_eq!(criteria.relative_difference(CheckKind::Duplicate).most, Some(20.0));
    assert_eq!(criteria.dilution().difference.most, Some(10.0));
    assert_eq!(criteria.dilution().floor, Some(10.0));
    let rules = criteria.calibration();
    assert_eq!(rules.r.map(|(least, _)| least), Some(0.995));
    assert_eq!(rules.minimum_standards.unwrap().0, 3);
    assert!(rules.line_only.is_some() && rules.blank_required.is_some());
    assert_eq!(criteria.frequency(CheckKind::Ccv).every.unwrap().0, 10);
    assert_eq!(criteria.batch(CheckKind::Lcs).batch_size.unwrap().0, 20);
}

#[test]
fn borrowed_rules_are_off_until_named_and_then_keep_their_origin() {
    for name in ProfileName::ALL {
        let mut criteria = Criteria::profile(name);
        assert_eq!(criteria.near_limit(), None);
        assert_eq!(criteria.spike(CheckKind::MatrixSpike).native, None);
        criteria.set("duplicate", "near_limit", "loq_difference".into()).unwrap();
        criteria.set("matrix_spike", "native_rule", "native_4x".into()).unwrap();
        let near = criteria.near_limit().unwrap();
        assert_eq!((near.below, near.difference), (5.0, 1.0));
        assert_eq!(near.citation.origin, Origin::OtherProgramme);
        let native = criteria.spike(CheckKind::MatrixSpike).native.unwrap();
        assert_eq!((native.ratio, native.edge), (4.0, Edge::Inclusive));
        assert_eq!(native.citation.origin, Origin::OtherProgramme);
    }
}

/// SW-846 Method 8000D, Revision 5, 11.5.4.1: off in 7000B, and with its origin where its figure is adopted.
#[test]
fn a_printed_figure_of_another_programme_keeps_its_origin_and_another_figure_is_the_laboratorys() {
    let mut criteria = Criteria::profile(ProfileName::Sw846Method7000B);
    assert_eq!(criteria.calibration().percent_error, None);
    criteria.set("calibration", "percent_error", 30.0.into()).unwrap();
    assert_eq!(criteria.calibration().percent_error.unwrap().1.origin, Origin::OtherProgramme);
    criteria.set("calibration", "percent_error", 25.0.into()).unwrap();
    assert_eq!(criteria.calibration().percent_error.unwrap().1.origin, Origin::Laboratory);
}

#[test]
fn an_override_is_the_laboratorys_keeps_the_prior_and_can_be_taken_back() {
    let original = Criteria::profile(ProfileName::Sw846Method7000B);
    let mut criteria = original.clone();
    criteria.set("lcs", "low", 85.0.into()).unwrap();
    criteria.set("lcs", "low", 84.0.into()).unwrap();
    let entry = criteria.get("lcs", "low").unwrap();
    assert_eq!(entry.citation.origin, Origin::Laboratory);
    assert_eq!(entry.prior, Some(80.0.into()));
    assert_ne!(criteria, original);
    criteria.set("lcs", "low", 80.0.into()).unwrap();
    assert_eq!(criteria, original);
}

#[test]
fn bad_overrides_say_where_what_and_what_to_do() {
    let mut criteria = Criteria::default();
    let mut message = |check: &str, key: &str, value: CriterionValue| {
        criteria.set(check, key, value).map(|()| String::new()).unwrap_err().to_string()
    };
    assert_eq!(
        message("ccvv", "low", 90.0.into()),
        "criteria.ccvv.low: there are no criteria for \"ccvv\"; did you mean ccv?"
    );
    assert!(message("ccv", "lo", 90.0.into()).contains("did you mean low?"));
    assert!(message("ccv", "low", f64::NAN.into()).contains("a number from 0 up"));
    assert!(message("ccv", "low", (-1.0).into()).contains("a number from 0 up"));
    assert!(message("ccv", "edge", "off".into()).contains("\"inclusive\" or \"strict\""));
    assert!(message("ccv", "every", 2.5.into()).contains("a whole number from 0 to 1000"));
    assert!(message("calibration", "r", 99.5.into()).contains("a number from 0 to 1,"));
    assert!(message("ccv", "low", "ninety".into()).contains("ninety is not a value"));
}

#[test]
fn limits_the_wrong_way_round_are_a_problem() {
    let mut criteria = Criteria::default();
    criteria.set("lcs", "low", 130.0.into()).unwrap();
    let problems = criteria.problems();
    assert_eq!(problems.len(), 1);
    assert!(problems[0].to_string().starts_with("criteria.lcs.low: the lower limit 130 lies above"));
}

/// The listing of docs/explanation/checks.md, one line for each criterion.
fn listing() -> String {
    let profiles = ProfileName::ALL.map(Criteria::profile);
    let mut lines = String::new();
    for (index, entry) in profiles[0].criteria.iter().enumerate() {
        let [general, method, template] = [&profiles[0], &profiles[1], &profiles[2]].map(|one| &one.criteria[index]);
        lines.push_str(&format!(
            "| `{}.{}` | {} | {} | {} | {} | {} |\n",
            entry.check, entry.key, entry.words, general.value, method.value, method.citation, template.value
        ));
    }
    lines
}

#[test]
fn the_listing_in_the_documentation_is_current() {
    let page = include_str!("../../../../docs/explanation/checks.md");
    let listing = listing();
    assert!(page.contains(&listing), "put this into docs/explanation/checks.md:\n{listing}");
}
