use super::*;
use crate::criteria::ProfileName;
use crate::method::{Exclusion, Method};
use crate::reduce::reduce;
use crate::run::{Role, Run};

fn run(reading: f64) -> Run {
    Run::builder("compared")
        .calibration_blank(&[0.0004, 0.0002])
        .standard("S1", 0.5, &[0.0562, 0.0560])
        .standard("S2", 1.0, &[0.1125, 0.1121])
        .standard("S3", 2.0, &[0.2238, 0.2240])
        .check(Role::Ccv, "CCV", 1.0, &[0.1119])
        .sample("A", &[reading, 0.0868])
        .sample("B", &[0.0500, 0.0505])
        .build()
        .unwrap()
}

fn method() -> Method {
    Method::new("Zn", ProfileName::General).unwrap()
}

#[test]
fn an_outcome_does_not_differ_from_itself() {
    let outcome = reduce(&run(0.0871), &method()).unwrap();
    let difference = outcome.diff(&outcome);
    assert_eq!(difference, Difference::default());
    assert_eq!(difference.to_string(), "no difference");
}

#[test]
fn another_reading_changes_its_own_sample_alone() {
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&run(0.0881), &method()).unwrap());
    let difference = old.diff(&new);
    let expected = Cause::Input {
        position: 6,
        member: "readings".to_owned(),
        old: Some("[0.0871,0.0868]".to_owned()),
        new: Some("[0.0881,0.0868]".to_owned()),
    };
    assert_eq!(difference.causes, [expected]);
    assert!(!difference.is_empty());
    for change in &difference.changes {
        assert_eq!(change.about, About::Result { position: 6, label: "A".into() }, "{change}");
        assert_eq!(change.causes, [0], "{change}");
    }
    let value = difference.changes.iter().find(|change| change.what == "value").unwrap();
    assert_eq!(value.old, Some(old.row(6).unwrap().result.value.to_string()));
    assert_eq!(value.new, Some(new.row(6).unwrap().result.value.to_string()));
}

#[test]
fn an_excluded_standard_is_a_cause_of_its_own() {
    let mut without = method();
    without.calibration.exclude = vec![Exclusion {
        position: 4,
        reason: "wrong flask".into(),
        who: "R. Invented".into(),
        when: "2031-05-04".into(),
    }];
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&run(0.0871), &without).unwrap());
    let difference = old.diff(&new);
    let who = "R. Invented".to_owned();
    assert_eq!(difference.causes, [Cause::Excluded { position: 4, who, reason: "wrong flask".to_owned() }]);
    let about: Vec<&About> = difference.changes.iter().map(|change| &change.about).collect();
    assert!(about.contains(&&About::Calibration(1)));
    assert!(about.contains(&&About::Result { position: 7, label: "B".into() }));
    assert!(difference.changes.iter().all(|change| change.causes == [0]), "{difference}");
    assert_eq!(new.diff(&old).causes, [Cause::Readmitted { position: 4 }]);
}

#[test]
fn a_key_of_the_report_does_not_touch_values() {
    let mut words = method();
    words.reporting.rounding =
        crate::rounding::Rule { rounding: crate::rounding::Rounding::figures(2).unwrap(), ..words.reporting.rounding };
    words.version = "2".into();
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&run(0.0881), &words).unwrap());
    let difference = old.diff(&new);
    let input = difference.causes.iter().position(|cause| matches!(cause, Cause::Input { .. })).unwrap();
    let key = |cause: &Cause| matches!(cause, Cause::MethodKey { key, .. } if key.starts_with("reporting."));
    let style = difference.causes.iter().position(key).unwrap();
    let of = |what: &str, label: &str| {
        let of = |change: &&Change| matches!(&change.about, About::Result { label: own, .. } if **own == *label);
        difference.changes.iter().filter(of).find(|change| change.what == what).map(|change| change.causes.clone())
    };
    assert_eq!(of("value", "A"), Some(vec![input]));
    assert!(of("reported_text", "B").unwrap().contains(&style));
    // The version of a method is told, and is the cause of nothing.
    let version = difference.causes.iter().position(|c| matches!(c, Cause::MethodKey { key, .. } if key == "version"));
    assert!(difference.changes.iter().all(|change| !change.causes.contains(&version.unwrap())));
}

#[test]
fn another_version_and_a_new_position_are_named() {
    let old = reduce(&run(0.0871), &method()).unwrap();
    let mut longer = run(0.0871);
    let mut added = longer.positions[6].clone();
    (added.number, added.label) = (8, "C".into());
    longer.positions.push(added);
    let mut new = reduce(&longer, &method()).unwrap();
    new.provenance.library = "9.0.0".to_owned();
    let difference = old.diff(&new);
    assert_eq!(difference.causes.len(), 2);
    assert!(matches!(&difference.causes[0], Cause::Library { new, .. } if new == "9.0.0"));
    assert!(
        matches!(&difference.causes[1], Cause::Input { position: 8, member, old: None, .. } if member == "position")
    );
    let presence: Vec<&Change> = difference.changes.iter().filter(|change| change.what == "presence").collect();
    assert_eq!(presence.len(), 1);
    assert_eq!(presence[0].to_string(), "C at position 8: presence was nothing, is present");
}

#[test]
fn an_amendment_names_the_old_outcome_and_the_reason() {
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&run(0.0881), &method()).unwrap());
    let fingerprint = old.provenance().fingerprint.clone().unwrap();
    assert!(new.clone().amends(&old, "  ").unwrap_err().to_string().contains("reason"));
    let new = new.amends(&old, " misread display ").unwrap();
    assert_eq!(new.provenance().amends, Some((fingerprint, "misread display".to_owned())));
}
