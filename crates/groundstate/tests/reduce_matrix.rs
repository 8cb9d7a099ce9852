//! Matrix-matched calibrations, second sources and limits with their study in a run. All figures invented.
#![cfg(all(feature = "text", feature = "serde"))]
#![allow(missing_docs)]

use groundstate::addition::{VarianceModel, compare};
use groundstate::check::{CheckKind, Verdict};
use groundstate::criteria::{CriterionValue, ProfileName};
use groundstate::curve::{Calibration, FitOptions, Points};
use groundstate::estimate::Status;
use groundstate::finding::{Code, Finding};
use groundstate::method::{MatchedStandards, Method};
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::{Position, Role, Run, RunBuilder};
use groundstate::wire::{Layout, verify};

#[track_caller]
fn near(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} against {expected}");
}

fn moss(position: &mut Position) {
    position.identity.matrix = Some("moss".into());
}

const LEVELS: [f64; 4] = [0.0, 0.5, 1.0, 2.0];
/// 0.2 per mg/L outside, 0.15 in moss, each with a residual or two.
const OUTSIDE: [f64; 4] = [0.0002, 0.1003, 0.1996, 0.4001];
const INSIDE: [f64; 4] = [0.0104, 0.0849, 0.1602, 0.3101];

fn standards(mut run: RunBuilder, inside: bool) -> RunBuilder {
    for (x, y) in LEVELS.into_iter().zip(OUTSIDE) {
        run = run.standard(&format!("S{x}"), x, &[y]);
    }
    for (x, y) in LEVELS.into_iter().zip(INSIDE).filter(|_| inside) {
        run =
            run.standard(&format!("M{x}"), x, &[y]).with(moss).with(|p| p.identity.standard_id = Some(p.label.clone()));
    }
    run
}

/// A moss and a water of the same signal, under one check of the instrument.
fn samples(run: RunBuilder) -> RunBuilder {
    run.check(Role::Ccv, "CCV", 1.0, &[0.2002])
        .sample("moss", &[0.1702])
        .with(moss)
        .position(Role::Duplicate, "moss again", &[0.1695])
        .with(|p| p.of = Some(groundstate::run::Reference::Label("moss".into())))
        .sample("water", &[0.1702])
        .check(Role::Ccv, "CCV 2", 1.0, &[0.1997])
}

fn run(inside: bool) -> Run {
    samples(standards(Run::builder("matched"), inside)).build().unwrap()
}

fn method(standards: &[&str]) -> Method {
    let mut method = Method::new("Zn", ProfileName::General).unwrap();
    let standards = standards.iter().map(|id| (*id).into()).collect();
    method.calibration.matched = vec![MatchedStandards { matrix: "moss".into(), standards }];
    method
}

fn line(signals: &[f64; 4]) -> Calibration {
    let signals: Vec<&[f64]> = signals.iter().map(std::slice::from_ref).collect();
    Calibration::fit(&Points::from_standards(&LEVELS, &signals).unwrap(), &FitOptions::default()).unwrap()
}

fn found(outcome: &Outcome, code: Code) -> Vec<&Finding> {
    outcome.findings().iter().filter(|finding| finding.code == code).collect()
}

fn row<'a>(outcome: &'a Outcome, label: &str) -> &'a groundstate::outcome::ResultRow {
    outcome.rows().iter().find(|row| &*row.label == label).unwrap()
}

#[test]
fn samples_of_a_matrix_are_read_from_its_own_standards() {
    let ids = ["M0", "M0.5", "M1", "M2"];
    for outcome in [reduce(&run(true), &method(&[])).unwrap(), reduce(&run(true), &method(&ids)).unwrap()] {
        let (inside, outside) = (line(&INSIDE), line(&OUTSIDE));
        assert_eq!(outcome.segments().len(), 2);
        assert_eq!(outcome.segments()[1].matrix.as_deref(), Some("moss"));
        assert_eq!((outcome.calibrations()[0].id(), outcome.calibrations()[1].id()), (outside.id(), inside.id()));
        let by = |line: &Calibration, y: f64| {
            let [a, b] = line.coefficients()[..] else { panic!("a line has two coefficients") };
            (y - a) / b
        };
        // The duplicate is of the matrix of its sample, though its own row does not say so.
        for (label, line, y) in [
            ("moss", &inside, 0.1702),
            ("moss again", &inside, 0.1695),
            ("water", &outside, 0.1702),
            ("CCV", &outside, 0.2002),
        ] {
            near(row(&outcome, label).solution.value, by(line, y), 1e-14);
        }
        // Without the matched standards the moss would come out by a quarter too low and by the intercept too high.
        near(row(&outcome, "moss").result.value, 1.066, 0.005);
        near(row(&outcome, "water").result.value, 0.851, 0.005);
    }
}

#[test]
fn both_calibrations_are_compared() {
    let outcome = reduce(&run(true), &method(&[])).unwrap();
    let alone = compare(&line(&OUTSIDE), &line(&INSIDE), VarianceModel::Welch).unwrap();
    let [matched] = &outcome.matched()[..] else { panic!("one matrix") };
    assert_eq!((matched.segment, matched.external, &*matched.matrix), (2, 1, "moss"));
    assert_eq!(matched.comparison, alone);
    let (percent, u) = alone.effect.percent();
    near(percent, -25.0, 0.01);
    let told = found(&outcome, Code::MatrixCompared)[0].sentence();
    assert!(told.contains("moss") && told.contains("external calibration 1"), "{told}");
    assert!(u > 0.0 && u < 1.0);
    // The slope by a quarter, the intercept by 0.01: both far beyond the scatter.
    assert_eq!(found(&outcome, Code::MatrixSlopeDiffers).len(), 1);
    assert_eq!(found(&outcome, Code::MatrixInterceptDiffers).len(), 1);
    // By hand: the difference of the intercepts over the root of the sum of their squared standard errors.
    let [outside, inside] = [line(&OUTSIDE), line(&INSIDE)];
    let squares: f64 = [&outside, &inside].map(|one| one.standard_errors()[0]).iter().map(|u| u * u).sum();
    let t = (inside.coefficients()[0] - outside.coefficients()[0]) / squares.sqrt();
    near(matched.comparison.intercept.unwrap().test.unwrap().statistic, t, 1e-12);

    let mut pooled = method(&[]);
    pooled.calibration.variance = VarianceModel::Pooled;
    let outcome = reduce(&run(true), &pooled).unwrap();
    near(outcome.matched()[0].comparison.slope.dof.get(), 4.0, 0.0); // 4 + 4 points, two lines
    pooled.calibration.noise = groundstate::curve::Noise::InverseX;
    assert!(pooled.check().unwrap_err().to_string().contains("calibration.variance"));
}

#[test]
fn the_instrument_is_checked_for_the_whole_stretch() {
    let run = samples(standards(Run::builder("matched"), true));
    let run = run.sample("moss too late", &[0.17]).with(moss).check(Role::Ccv, "CCV 4", 1.0, &[0.25]).build().unwrap();
    let outcome = reduce(&run, &method(&[])).unwrap();
    assert!(row(&outcome, "moss too late").condemned);
    // The bracket before is good for both matrices or for neither.
    assert_eq!(row(&outcome, "moss").condemned, row(&outcome, "water").condemned);
    // A matched calibration that is not accepted takes its own samples along, and no others.
    let mut strict = method(&[]);
    strict.criteria.set("calibration", "minimum_standards", CriterionValue::Number(4.0)).unwrap();
    let mut short = standards(Run::builder("short"), false).standard("S3", 3.0, &[0.6004]);
    for x in [0.5, 1.0] {
        short = short.standard(&format!("M{x}"), x, &[0.01 + 0.15 * x]).with(moss);
    }
    let outcome = reduce(&samples(short).build().unwrap(), &strict).unwrap();
    let refused = outcome.checks().iter().find(|check| check.verdict == Verdict::Fail).unwrap();
    assert_eq!((refused.kind, refused.segment), (CheckKind::Calibration, 2));
    assert!(row(&outcome, "moss").condemned && row(&outcome, "moss again").condemned);
    assert!(!row(&outcome, "water").condemned);
}

#[test]
fn the_external_calibration_does_not_stand_in() {
    let outcome = reduce(&run(false), &method(&[])).unwrap();
    assert_eq!(outcome.segments().len(), 1);
    assert_eq!(row(&outcome, "moss").result.status, Status::NotCalibrated);
    assert_eq!(row(&outcome, "moss again").result.status, Status::NotCalibrated);
    assert_eq!(row(&outcome, "water").result.status, Status::InRange);
    let told = found(&outcome, Code::MatchedCalibrationMissing)[0].sentence();
    assert!(told.starts_with("2 positions of the matrix moss"), "{told}");
    // Where the method names no matrix, everything is read from the one calibration, with a word on its standards.
    let plain = Method::new("Zn", ProfileName::General).unwrap();
    let outcome = reduce(&run(true), &plain).unwrap();
    assert_eq!(outcome.calibrations()[0].points().len(), 8);
    assert!(found(&outcome, Code::StandardsOfSeveralMatrices).is_empty()); // one matrix, and rows that say nothing
    let mixed = standards(Run::builder("mixed"), true).standard("W", 1.5, &[0.3]);
    let mixed = mixed.with(|p| p.identity.matrix = Some("water".into())).sample("A", &[0.1]).build().unwrap();
    let told = found(&reduce(&mixed, &plain).unwrap(), Code::StandardsOfSeveralMatrices)[0].sentence();
    assert!(told.contains("moss, water"), "{told}");
}

#[test]
fn matched_standards_alone_are_no_calibration() {
    let mut run = Run::builder("alone");
    for (x, y) in LEVELS.into_iter().zip(INSIDE) {
        run = run.standard(&format!("M{x}"), x, &[y]).with(moss);
    }
    let error = reduce(&samples(run).build().unwrap(), &method(&[])).unwrap_err().to_string();
    assert!(error.contains("no standards beside those that are matched"), "{error}");
    let mut twice = method(&[]);
    twice.calibration.matched.push(MatchedStandards { matrix: "moss".into(), standards: Vec::new() });
    twice.calibration.matched.push(MatchedStandards { matrix: " ".into(), standards: Vec::new() });
    let told = twice.check().unwrap_err().to_string();
    assert!(told.contains("calibration.matched[1]") && told.contains("calibration.matched[2].matrix"), "{told}");
}

#[test]
fn a_matched_run_comes_back_from_its_document() {
    let outcome = reduce(&run(true), &method(&["M0", "M0.5", "M1", "M2"])).unwrap();
    let text = outcome.to_json(Layout::Compact);
    assert!(text.contains("\"matched\":[{\"matrix\":\"moss\",\"segment\":2,\"external\":1"), "{text}");
    let back = Outcome::from_json(&text).unwrap();
    assert_eq!(back.to_json(Layout::Compact), text);
    assert_eq!((back.segments(), back.matched()), (outcome.segments(), outcome.matched()));
    assert!(verify(&text).unwrap().is_identical());
    assert!(outcome.summary().contains("matrix moss"));
    assert!(outcome.explain("moss").unwrap().to_string().contains("of standards in the matrix moss"));
    // The distributions of the same chain: the moss by its own line, the water by the external one.
    let options = groundstate::simulate::SimulateOptions::seeded(20);
    let drawn = groundstate::simulate::of_outcome(&outcome, &options).unwrap();
    for one in &drawn.results {
        // Two degrees of freedom have no mean worth the name; the middle of the interval is the value.
        let middle = one.distribution.as_ref().unwrap().symmetric;
        near((middle.low + middle.high) / 2.0, row(&outcome, &one.label).result.value, 0.02);
    }
}

/// 7000B 10.2.1: the initial verification is of a second source.
#[test]
fn the_lot_of_the_verification_is_not_that_of_the_standards() {
    let lots = |standard: &'static [Option<&'static str>; 3], own: Option<&'static str>| {
        let mut run = Run::builder("lots").calibration_blank(&[0.0001]);
        for (x, lot) in [0.5, 1.0, 2.0].into_iter().zip(standard) {
            let y = 0.2 * x + if x > 0.7 { 1e-4 } else { 0.0 };
            run = run.standard(&format!("S{x}"), x, &[y]).with(|p| p.identity.source_lot = lot.map(Into::into));
        }
        let run = run.check(Role::Icv, "ICV", 1.0, &[0.2]).with(|p| p.identity.source_lot = own.map(Into::into));
        reduce(&run.build().unwrap(), &Method::new("Zn", ProfileName::General).unwrap()).unwrap()
    };
    const A: [Option<&str>; 3] = [Some("Zn-31"); 3];
    const TWO: [Option<&str>; 3] = [Some("Zn-31"), Some("Zn-40"), Some("Zn-31")];
    const GAP: [Option<&str>; 3] = [Some("Zn-31"), None, Some("Zn-31")];
    let count = |outcome: &Outcome| {
        [Code::SecondSourceSame, Code::SecondSourceNotEvaluated].map(|code| found(outcome, code).len())
    };
    assert_eq!(count(&lots(&A, Some("Zn-77"))), [0, 0]);
    assert_eq!(count(&lots(&A, Some("zn-31 "))), [1, 0]);
    assert_eq!(count(&lots(&TWO, Some("Zn-40"))), [1, 0]);
    assert_eq!(count(&lots(&GAP, Some("Zn-77"))), [0, 1]);
    assert_eq!(count(&lots(&GAP, Some("Zn-31"))), [1, 0]); // one known lot is enough to know the worst
    for gap in [lots(&A, None), lots(&A, Some(" "))] {
        assert_eq!(count(&gap), [0, 1]);
        assert!(found(&gap, Code::SecondSourceNotEvaluated)[0].sentence().contains("its own lot"));
    }
    let finding = lots(&A, Some("Zn-31"));
    let citation = found(&finding, Code::SecondSourceSame)[0].citation.clone().unwrap();
    assert_eq!((&*citation.document, &*citation.clause), ("SW-846 Method 7000B", "10.2.1"));
}

const MOSS: &str = include_str!("../../../python/groundstate/demo/gutter_moss.csv");
const MOSS_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_moss.toml");

/// The third demonstration: series of additions, the decision of 7000B 9.8 and the study of the limit in one outcome.
#[test]
fn additions_a_matrix_decision_and_a_study_meet_in_one_outcome() {
    let method = Method::from_toml(MOSS_METHOD).unwrap();
    let outcome = reduce(&Run::from_csv(MOSS).unwrap(), &method).unwrap();
    // The invented truth: mg/kg of dry moss, as the generator has it. The external line is by a third too low.
    for (label, truth) in [("Moss north", 884.0), ("Moss south", 1042.0)] {
        let reported = outcome.reported().find(|row| &*row.label == label).unwrap();
        let (expanded, _) = reported.expanded.unwrap();
        assert!((reported.result.value - truth).abs() < expanded, "{label}: {} +- {expanded}", reported.result.value);
        let external = outcome.results().find(|row| &*row.label == label && row.position != reported.position).unwrap();
        assert!(external.result.value < 0.75 * truth);
    }
    for series in outcome.additions() {
        // 1 - 0.4 * 0.5/0.8, the share that half a digest leaves.
        let ratio = series.slope_ratio.as_ref().unwrap();
        assert!((ratio.value - 0.75).abs() < 4.0 * ratio.u, "{}", ratio.value);
    }
    for code in [
        Code::MatrixEffectConfirmed,
        Code::StandardAdditionsMade,
        Code::AdditionsReported,
        Code::SlopeRatioFar,
        Code::LimitFromStudy,
    ] {
        assert!(!found(&outcome, code).is_empty(), "{code:?}");
    }
    assert!(found(&outcome, Code::StandardAdditionsNeeded).is_empty());
    // The limit of the outcome is that of the study: t(6, 0.99) times the standard deviation of its spikes, by hand.
    let spikes = [7.51, 8.34, 7.92, 6.98, 8.07, 8.61, 7.44];
    let mean = spikes.iter().sum::<f64>() / 7.0;
    let s = (spikes.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 6.0).sqrt();
    let expected = 3.142_668_403_290_98 * s; // Student's t(6, 0.99) to 15 figures (rules of Appendix B print 3.143)
    near(method.limits.mdl[0].value, expected, 1e-13);
    let lawn = outcome.reported().find(|row| &*row.label == "Moss lawn").unwrap();
    let limit = lawn.limits.mdl.unwrap();
    near(limit.unadjusted, expected, 1e-13);
    // Nominal 0.5 g in 100 mL; measured 0.5102 g of 27.5 % solids, and diluted twofold for the series.
    near(limit.adjusted, expected * 0.5 / (0.5102 * 0.275) * 2.0, 1e-12);
    assert!(lawn.text.starts_with("< "), "{}", lawn.text);
    assert!(verify(&outcome.to_json(Layout::Compact)).unwrap().is_identical());
}

/// While one sample of the batch is without a series, the decision stays open for it.
#[test]
fn a_sample_without_a_series_is_still_open() {
    let method = Method::from_toml(MOSS_METHOD).unwrap();
    let lines: Vec<&str> = MOSS.lines().filter(|line| !line.contains("addition,Moss lawn")).collect();
    let outcome = reduce(&Run::from_csv(&lines.join("\n")).unwrap(), &method).unwrap();
    let told = found(&outcome, Code::StandardAdditionsNeeded)[0].sentence();
    assert!(told.ends_with("still open: position 15"), "{told}");
    assert!(found(&outcome, Code::StandardAdditionsMade).is_empty());
}
