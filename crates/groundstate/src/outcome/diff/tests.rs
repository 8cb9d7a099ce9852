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

/// Two readings changed, one of a sample and one of a standard: each cause has its own figures, and both share some.
#[test]
fn causes_are_shown_one_at_a_time() {
    let mut other = run(0.0881);
    other.positions[2].readings[0] = 0.1225; // standard S2 at position 3
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&other, &method()).unwrap());
    let difference = old.diff(&new);
    let of = |position: u32| {
        let here = |cause: &Cause| matches!(cause, Cause::Input { position: own, .. } if *own == position);
        difference.causes.iter().position(here).unwrap()
    };
    let (standard, sample) = (of(3), of(6));
    let causes = |label: &str, what: &str| {
        let here = |change: &&Change| {
            change.what == what && matches!(&change.about, About::Result { label: own, .. } if **own == *label)
        };
        difference.changes.iter().find(here).map(|change| (change.causes.clone(), change.shown))
    };
    let mut both = vec![standard, sample];
    both.sort_unstable();
    assert_eq!(causes("A", "value"), Some((both, true)));
    // B was read from the changed curve and has readings of its own that did not change.
    assert_eq!(causes("B", "value"), Some((vec![standard], true)));
    let calibration = difference.changes.iter().filter(|change| change.about == About::Calibration(1));
    assert!(calibration.into_iter().all(|change| change.causes == [standard] && change.shown));
    // The older outcome with the standard alone changed: what the proof did, by hand.
    let mut alone = run(0.0871);
    alone.positions[2].readings[0] = 0.1225;
    let alone = reduce(&alone, &method()).unwrap();
    assert!(alone.row(7).unwrap().result.value.to_bits() == new.row(7).unwrap().result.value.to_bits());
}

/// A limit changes flags and no values; a criterion changes its check and what it condemns.
#[test]
fn flags_and_checks_have_their_own_causes() {
    use crate::criteria::CriterionValue;
    use crate::method::{Limit, LimitBasis, NondetectAt};
    let limited = |value: f64, ccv: f64| {
        let mut method = method();
        let definition = crate::detection::LimitDefinition::Cfr136;
        let unit = crate::unit::Unit::MilligramPerLitre;
        let limit = Limit { value, unit, basis: LimitBasis::Solution, definition, study: None };
        (method.limits.mdl, method.limits.nondetect_at) = (vec![limit], Some(NondetectAt::Mdl));
        method.criteria.set("ccv", "high", CriterionValue::Number(ccv)).unwrap();
        method
    };
    // B holds 0.45 mg/L, so a limit of 0.5 hides it; the CCV recovers 100 %, so that at most 99.5 % refuses it.
    let old = reduce(&run(0.0871), &limited(0.1, 110.0)).unwrap();
    let new = reduce(&run(0.0871), &limited(0.5, 99.5)).unwrap();
    let difference = old.diff(&new);
    let key = |name: &str| {
        let here = |cause: &Cause| matches!(cause, Cause::MethodKey { key, .. } if key == name);
        difference.causes.iter().position(here).unwrap()
    };
    let (limit, criterion) = (key("limits.mdl"), key("criteria.ccv.high"));
    for change in &difference.changes {
        assert!(change.shown, "{change}");
        match (&change.about, change.what) {
            (About::Check { .. }, _) | (_, "condemned") => assert_eq!(change.causes, [criterion], "{change}"),
            (_, "mdl" | "reported_text") => assert_eq!(change.causes, [limit], "{change}"),
            (_, "qualifiers") => assert!(!change.causes.is_empty(), "{change}"),
            other => panic!("{other:?} has no reason to change"),
        }
    }
    let text = |label: &str| {
        difference.changes.iter().any(|change| {
            change.what == "reported_text"
                && matches!(&change.about, About::Result { label: own, .. } if **own == *label)
        })
    };
    assert!(text("B"));
}

/// A noise model makes no sense without its sigma: the two are tried together.
#[test]
fn keys_that_need_each_other_are_tried_together() {
    let mut known = method();
    known.calibration.noise = crate::curve::Noise::KnownSigma(crate::curve::Sigmas::new(&[0.0002]).unwrap());
    let (old, new) = (reduce(&run(0.0871), &method()).unwrap(), reduce(&run(0.0871), &known).unwrap());
    let difference = old.diff(&new);
    let noise = difference
        .causes
        .iter()
        .position(|cause| matches!(cause, Cause::MethodKey { key, .. } if key == "calibration.noise"));
    let changes = difference.changes.iter().filter(|change| change.what == "standard_uncertainty");
    let mut count = 0;
    for change in changes {
        assert!(change.shown && change.causes.contains(&noise.unwrap()), "{change}");
        count += 1;
    }
    assert!(count > 0);
}

/// What another version wrote is reduced again: what changes by that is the library's, the rest is not.
#[test]
fn the_library_is_told_from_the_readings() {
    let mut old = reduce(&run(0.0871), &method()).unwrap();
    old.provenance.library = "0.0.9".to_owned();
    let stored = old.rows.iter_mut().find(|row| row.position == 7).unwrap();
    stored.result.value *= 1.01; // as if the older version had computed otherwise
    let new = reduce(&run(0.0881), &method()).unwrap();
    let difference = old.diff(&new);
    let library = difference.causes.iter().position(|cause| matches!(cause, Cause::Library { .. })).unwrap();
    let input = difference.causes.iter().position(|cause| matches!(cause, Cause::Input { .. })).unwrap();
    for change in &difference.changes {
        let About::Result { position, .. } = change.about else { panic!("{change}") };
        assert_eq!(change.causes, [if position == 7 { library } else { input }], "{change}");
        assert!(change.shown);
    }
}
