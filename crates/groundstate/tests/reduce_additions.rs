//! Standard additions in a run. All figures invented.
#![cfg(all(feature = "text", feature = "serde"))]
#![allow(missing_docs)]

use groundstate::addition::{Series, SeriesOptions, Volumes};
use groundstate::curve::{Points, Stock};
use groundstate::estimate::Status;
use groundstate::finding::Code;
use groundstate::glassware::Measured;
use groundstate::method::Method;
use groundstate::outcome::{Outcome, Reported};
use groundstate::reduce::reduce;
use groundstate::run::Run;
use groundstate::simulate::{Scatter, SimulateOptions, of_outcome};

const METHOD: &str = r#"
id = "ZN"
version = "1"
element = "Zn"
profile = "general"

[calibration]
unit = "mg/L"

[calibration.stock]
name = "Zn-31"
relative_u = 0.0025

[preparation]
weighed = "dry"
report = "dry"

[preparation.u]
mass_g = 0.0005
final_volume = 0.001
volume = 0.002

[preparation.items]
final_volume = "flask 3"
"#;

const HEADER: &str = "run,position,role,label,of,nominal,added,added_unit,spike_volume_ml,spike_conc,mass_g,volume_ml,final_volume_ml,dilution,absorbance";

/// A depressed slope: 0.2 per mg/L outside, 0.15 in the digest, which holds 0.8 mg/L after a twofold dilution.
const STANDARDS: &str = "
r,1,calibration_blank,CB,,,,,,,,,,,0.0004
r,2,standard,S1,,0.5,,,,,,,,,0.1003
r,3,standard,S2,,1.0,,,,,,,,,0.1996
r,4,standard,S3,,2.0,,,,,,,,,0.4002";

const DIGEST: &str = "
r,5,sample,Soil 4,,,,,,,1.25,,100,,0.2391";

const SERIES: &str = "
r,6,addition,Soil 4 + 0,Soil 4,,0,mg/L,,,,,,5/10,0.1197
r,7,addition,Soil 4 + 0.4,Soil 4,,0.4,mg/L,,,,,,5/10,0.1804
r,8,addition,Soil 4 + 0.8,Soil 4,,0.8,mg/L,,,,,,5/10,0.2399
r,9,addition,Soil 4 + 1.2,Soil 4,,1200,ug/L,,,,,,5/10,0.3001";

fn outcome(rows: &[&str]) -> Outcome {
    try_outcome(rows).unwrap()
}

fn try_outcome(rows: &[&str]) -> Result<Outcome, groundstate::Error> {
    reduce(&Run::from_csv(&format!("{HEADER}{}\n", rows.concat()))?, &Method::from_toml(METHOD)?)
}

fn codes(outcome: &Outcome) -> Vec<Code> {
    outcome.findings().iter().map(|finding| finding.code).collect()
}

#[track_caller]
fn near(found: f64, expected: f64, relative: f64) {
    assert!((found - expected).abs() <= relative * expected.abs(), "{found} against {expected}");
}

fn series(options: &SeriesOptions) -> Series {
    let points = Points::from_readings(&[0.0, 0.4, 0.8, 1.2], &[0.1197, 0.1804, 0.2399, 0.3001]).unwrap();
    Series::fit(&points, options).unwrap()
}

#[test]
fn the_series_gives_the_result_of_its_sample() {
    let outcome = outcome(&[STANDARDS, DIGEST, SERIES]);
    let row = outcome.row(6).unwrap();
    let stocks = vec![Stock { name: "Zn-31".into(), relative_u: 0.0025 }];
    let alone = series(&SeriesOptions { stocks, ..SeriesOptions::default() });
    near(row.solution.value, alone.estimate().value, 1e-14);
    near(row.solution.u, alone.estimate().u, 1e-13);
    // 100 mL / 1.25 g, twofold: mg/kg of the digest's sample, whose mass and flask the portions share.
    near(row.result.value, 160.0 * alone.estimate().value, 1e-14);
    let squares = |u: f64| u * u;
    let relative = squares(row.solution.u / row.solution.value) + squares(0.0005 / 1.25) + squares(0.001);
    near(row.result.u, row.result.value * relative.sqrt(), 1e-12);
    assert_eq!((row.result.status, row.reported, &*row.label), (Status::InRange, Reported::Yes, "Soil 4"));
    assert_eq!(outcome.row(5).unwrap().reported, Reported::Instead(6));
    assert_eq!(outcome.row(7).unwrap().reported, Reported::NotASample);
    assert_eq!(outcome.reported().count(), 1);
    // The other portions keep what the external line says of them.
    near(outcome.row(8).unwrap().solution.value, 1.2, 0.01);

    let found = &outcome.additions()[0];
    assert_eq!((&*found.sample, found.position, found.positions.as_slice()), ("Soil 4", 6, &[6, 7, 8, 9][..]));
    near(found.slope_ratio.as_ref().unwrap().value, 0.75, 0.01);
    let codes = codes(&outcome);
    for code in [Code::AdditionsReported, Code::SlopeRatioFar, Code::SlopeNotSame, Code::AdditiveNotCorrected] {
        assert!(codes.contains(&code), "{code:?}");
    }
    // One mass: the two results of the digest are correlated through it, and through the stock.
    let both = outcome.row(5).unwrap().result.value * row.result.value;
    near(outcome.covariance(5, 6).unwrap(), both * (squares(0.0025) + squares(0.0005 / 1.25) + squares(0.001)), 1e-9);
    let page = outcome.explain("Soil 4").unwrap().to_string();
    assert!(page.contains("standard additions, positions 6, 7, 8, 9") && page.contains("0.4 -> 0.1804"), "{page}");
}

/// A run of additions brings its calibration with it, whatever the order of its rows.
#[test]
fn a_run_of_additions_needs_no_standards() {
    // Without a row for the sample itself, one label holds the series together.
    let alone = |row: &str| {
        let (number, added) = (row.split(",addition,").next().unwrap(), row.split(",Soil 4,,").nth(1).unwrap());
        format!("\n{number},addition,Soil 4,,,{}", added.replace("5/10", ""))
    };
    let rows: Vec<String> = SERIES.lines().skip(1).map(alone).collect();
    let forward: Vec<&str> = rows.iter().map(String::as_str).collect();
    let backward: Vec<&str> = forward.iter().rev().copied().collect();
    let one = outcome(&forward);
    let row = one.row(6).unwrap();
    let stocks = vec![Stock { name: "Zn-31".into(), relative_u: 0.0025 }];
    near(row.result.value, series(&SeriesOptions { stocks, ..SeriesOptions::default() }).estimate().value, 1e-14);
    assert!(one.segments().is_empty() && one.additions()[0].slope_ratio.is_none());
    assert!(!codes(&one).contains(&Code::BeforeCalibration));
    assert_eq!(one.row(7).unwrap().solution.status, Status::NotCalibrated);
    assert_eq!(outcome(&backward).row(6).unwrap(), row);
}

/// 10 mL portions of a water, 0.1 mL steps of 40 mg/L: amounts and growing volume from the columns.
#[test]
fn a_spiking_solution_enlarges_the_portion() {
    let rows = "
r,6,addition,W,,,,,,,,10,,,0.1197
r,7,addition,W,,,,,0.1,40,,10,,,0.1786
r,8,addition,W,,,,,0.2,40,,10,,,0.2352
r,9,addition,W,,,,,0.3,40,,10,,,0.2914";
    let outcome = outcome(&[STANDARDS, rows]);
    let volumes =
        Volumes::Changing { initial: Measured::new("volume_ml", 10.0, 0.02).unwrap(), added: vec![0.0, 0.1, 0.2, 0.3] };
    let stocks = vec![Stock { name: "Zn-31".into(), relative_u: 0.0025 }];
    let points = Points::from_readings(&[0.0, 4.0, 8.0, 12.0], &[0.1197, 0.1786, 0.2352, 0.2914]).unwrap();
    let alone = Series::fit(&points, &SeriesOptions { volumes, stocks, ..SeriesOptions::default() }).unwrap();
    let row = outcome.row(6).unwrap();
    // The volume spiked is no portion that was made up: the result is that of the water.
    near(row.result.value, alone.estimate().value, 1e-14);
    near(row.result.u, alone.estimate().u, 1e-13);
    near(row.result.value, 0.8, 0.01);
}

#[test]
fn what_readings_do_not_allow_is_a_finding() {
    // One portion only; a portion without a reading.
    for rows in [
        "\nr,6,addition,W,,,0,mg/L,,,,,,,0.1197",
        "\nr,6,addition,W,,,0,mg/L,,,,,,,0.1197\nr,7,addition,W,,,0.4,mg/L,,,,,,,",
    ] {
        let outcome = outcome(&[STANDARDS, rows]);
        assert!(codes(&outcome).contains(&Code::AdditionSeriesNotEvaluated));
        let row = outcome.row(6).unwrap();
        assert!(row.result.value.is_nan() && row.result.status == Status::NotCalibrated);
        assert!(row.reported.is_reported() && outcome.additions()[0].series.is_none());
    }
    // A flat one is evaluated, and has no number.
    let flat = "\nr,6,addition,W,,,0,mg/L,,,,,,,0.3\nr,7,addition,W,,,0.4,mg/L,,,,,,,0.2";
    let outcome = outcome(&[STANDARDS, flat]);
    assert!(outcome.row(6).unwrap().result.value.is_nan() && codes(&outcome).contains(&Code::NotRising));
}

#[test]
fn a_table_that_does_not_say_what_was_added_is_refused() {
    let error = |rows: &str| try_outcome(&[STANDARDS, rows]).unwrap_err().to_string();
    let silent = error("\nr,6,addition,W,,,0,mg/L,,,,,,,0.1\nr,7,addition,W,,,,,,,,,,,0.2");
    assert!(silent.contains("row 6") && silent.contains("what was added"), "{silent}");
    let mixed = error("\nr,6,addition,W,,,0.4,mg/L,,,,10,,,0.1\nr,7,addition,W,,,,,0.1,40,,10,,,0.2");
    assert!(mixed.contains("alike"), "{mixed}");
    let unequal = error("\nr,6,addition,W,,,,,,,,20,,,0.1\nr,7,addition,W,,,,,0.1,40,,10,,,0.2");
    assert!(unequal.contains("20 and 10 mL"), "{unequal}");
    let nowhere = error("\nr,6,addition,W,,,,,,,,,,,0.1\nr,7,addition,W,,,,,0.1,40,,,,,0.2");
    assert!(nowhere.contains("volume_ml"), "{nowhere}");
    let solid = error("\nr,6,addition,W,,,0.1,mg/kg,,,,,,,0.1\nr,7,addition,W,,,0.4,mg/kg,,,,,,,0.2");
    assert!(solid.contains("added_unit"), "{solid}");
}

/// A series is as good as the worst of its portions: the check after the last one fails.
#[test]
fn a_condemned_portion_condemns_the_series() {
    let rows = "
r,5,ccv,CCV,,1.0,,,,,,,,,0.2001
r,6,ccb,CCB,,,,,,,,,,,0.0003
r,7,addition,W,,,0,mg/L,,,,,,,0.1197
r,8,ccv,CCV,,1.0,,,,,,,,,0.2003
r,9,ccb,CCB,,,,,,,,,,,0.0003
r,10,addition,W,,,0.4,mg/L,,,,,,,0.1804
r,11,addition,W,,,0.8,mg/L,,,,,,,0.2399
r,12,ccv,CCV,,1.0,,,,,,,,,0.1203
r,13,ccb,CCB,,,,,,,,,,,0.0003";
    let run = Run::from_csv(&format!("{HEADER}{STANDARDS}{rows}\n")).unwrap();
    let loq = "[limits]\nnondetect_at = \"loq\"\nloq = [{ value = 0.05, unit = \"mg/L\", basis = \"solution\", definition = \"sw846_lloq\" }]";
    let method = Method::from_toml(&format!("{}\n{loq}", METHOD.replace("general", "sw846_7000b"))).unwrap();
    let outcome = reduce(&run, &method).unwrap();
    let condemned: Vec<u32> = outcome.condemnations().iter().flat_map(|one| one.kept()).collect();
    assert_eq!(condemned, [10, 11]);
    assert!(outcome.row(7).unwrap().condemned);
}

/// An archive holds the run, so that it holds its series; a portion's reading reaches the result of the series.
#[test]
fn an_archive_gives_its_series_back() {
    let before = outcome(&[STANDARDS, DIGEST, SERIES]);
    let back = Outcome::from_json(&before.to_json(groundstate::wire::Layout::Compact)).unwrap();
    let [one, two] = [&before, &back].map(|outcome| outcome.additions()[0].clone());
    assert_eq!(one.series.unwrap().estimate(), two.series.unwrap().estimate());
    assert_eq!(one.slope_ratio, two.slope_ratio);
    assert_eq!(back.row(6), before.row(6));
    assert!(before.diff(&back).is_empty());

    let other = outcome(&[STANDARDS, DIGEST, &SERIES.replace("0.2399", "0.2409")]);
    let difference = before.diff(&other);
    let changed = difference.changes.iter().find(|change| {
        matches!(&change.about, groundstate::outcome::About::Result { position: 6, .. }) && change.what == "value"
    });
    assert!(changed.is_some_and(|change| !change.causes.is_empty()), "{difference}");
}

/// One portion of each row: signals at additions of 0, and so on, in the digest diluted twofold.
fn portions(of: &[(f64, f64)]) -> String {
    let row = |(i, (added, signal)): (usize, &(f64, f64))| {
        format!("\nr,{},addition,Soil 4 + {added},Soil 4,,{added},mg/L,,,,,,5/10,{signal}", 6 + i)
    };
    of.iter().enumerate().map(row).collect()
}

fn told(outcome: &Outcome, code: Code) -> Option<String> {
    let here = |finding: &&groundstate::finding::Finding| {
        finding.code == code && finding.subject == groundstate::finding::Subject::Position(6)
    };
    outcome.findings().iter().find(here).map(groundstate::finding::Finding::sentence)
}

/// What speaks against a series stands among the findings of the run, at the position of the result.
#[test]
fn validity_is_judged_in_the_run() {
    let of = |rows: &[(f64, f64)]| outcome(&[STANDARDS, DIGEST, &portions(rows)]);
    // Native 0.8, additions of half, once and one and a half times it: nothing to say but the slope.
    let good = of(&[(0.0, 0.1201), (0.4, 0.1799), (0.8, 0.2401), (1.2, 0.2999)]);
    for code in [Code::AdditionsNotLinear, Code::AdditionsCurved, Code::AdditionSizes, Code::ExtrapolationLong] {
        assert_eq!(told(&good, code), None, "{code:?}");
    }
    // r of (0, 0.12), (0.4, 0.25), (0.8, 0.22), (1.2, 0.36): Sxy 0.138, Sxx 0.8, Syy 0.029275, r = 0.138/sqrt(Sxx Syy).
    let rough = of(&[(0.0, 0.12), (0.4, 0.25), (0.8, 0.22), (1.2, 0.36)]);
    let r = 0.138 / (0.8_f64 * 0.029275).sqrt();
    near(rough.additions()[0].series.as_ref().unwrap().r().unwrap(), r, 1e-12);
    assert!(told(&rough, Code::AdditionsNotLinear).unwrap().starts_with("r of the addition series is 0.901"));
    // Bent downwards by a quadratic of -0.02: curved, though r is 0.9976.
    let bent =
        of(&[0.0, 0.4, 0.8, 1.2, 1.6]
            .map(|x: f64| (x, 0.12 + 0.15 * x - 0.02 * x * x + if x > 1.0 { 1e-5 } else { 0.0 })));
    assert!(told(&bent, Code::AdditionsCurved).is_some() && told(&bent, Code::AdditionsNotLinear).is_none());
    // Additions of a tenth to three tenths: far from those advised, and shorter than the extrapolation.
    let short = of(&[(0.0, 0.12), (0.08, 0.13201), (0.16, 0.14399), (0.24, 0.15601)]);
    assert!(told(&short, Code::AdditionSizes).unwrap().starts_with("the additions are 10, 20, 30 %"));
    assert!(told(&short, Code::ExtrapolationLong).is_some());
    // A slope of 0.2 outside: a ratio of 0.81 is within the caution, of 0.79 beyond; both are other slopes.
    for (slope, far) in [(0.162, false), (0.158, true)] {
        let rows = [0.0, 0.4, 0.8, 1.2].map(|x: f64| (x, 0.8 * slope + slope * x + if x > 0.5 { 1e-5 } else { 0.0 }));
        let outcome = of(&rows);
        assert_eq!(told(&outcome, Code::SlopeRatioFar).is_some(), far, "{slope}");
        assert!(told(&outcome, Code::SlopeNotSame).is_some());
    }
}

/// Two portions give a value and no u: nothing is left to estimate a scatter from. With a known sigma they do: by hand
/// u = sigma/b sqrt(1/2 + ybar^2/(b^2 Sxx)).
#[test]
fn a_single_addition_in_a_run_needs_a_known_sigma_for_its_u() {
    let rows = portions(&[(0.0, 0.12), (0.8, 0.24)]);
    let bare = outcome(&[STANDARDS, DIGEST, &rows]);
    let row = bare.row(6).unwrap();
    near(row.solution.value, 0.8, 1e-12);
    assert!(row.solution.u.is_nan() && row.expanded.is_none());
    let method = METHOD.replace("unit = \"mg/L\"", "unit = \"mg/L\"\nnoise = \"known_sigma\"\nsigma = 0.0006");
    let method = method.replace("relative_u = 0.0025", "relative_u = 0.0");
    let run = Run::from_csv(&format!("{HEADER}{STANDARDS}{DIGEST}{rows}\n")).unwrap();
    let known = reduce(&run, &Method::from_toml(&method).unwrap()).unwrap();
    let (b, ybar, sxx) = (0.15_f64, 0.18_f64, 0.32_f64);
    let u = 0.0006 / b * (0.5 + ybar * ybar / (b * b * sxx)).sqrt();
    near(known.row(6).unwrap().solution.u, u, 1e-12);
    assert!(known.row(6).unwrap().solution.dof.is_infinite());
}

/// A blank of 0.002 that was subtracted with u 0.0003 moves the result by u/b and is not given back.
#[test]
fn a_subtracted_blank_is_a_source_of_the_result() {
    let method = METHOD.replace("unit = \"mg/L\"", "unit = \"mg/L\"\nzeroing = \"blank_subtracted\"\nzero_u = 0.0003");
    let run = Run::from_csv(&format!("{HEADER}{STANDARDS}{DIGEST}{SERIES}\n")).unwrap();
    let of = |method: &str| reduce(&run, &Method::from_toml(method).unwrap()).unwrap().row(6).unwrap().solution;
    let (with, without) = (of(&method), of(METHOD));
    near(with.value, without.value, 1e-14);
    let b = series(&SeriesOptions::default()).coefficients()[1];
    let blank = 0.0003 / b;
    near(with.u * with.u, without.u * without.u + blank * blank, 1e-12);
}

/// In a simulation the series is extrapolated anew in each trial; with normal scatter first order is its limit.
#[test]
fn a_series_is_simulated_like_any_other_result() {
    let grown = "
r,6,addition,W,,,,,,,,10,,,0.1197
r,7,addition,W,,,,,0.1,40,,10,,,0.1786
r,8,addition,W,,,,,0.2,40,,10,,,0.2352
r,9,addition,W,,,,,0.3,40,,10,,,0.2914";
    for rows in [&[STANDARDS, DIGEST, SERIES][..], &[STANDARDS, grown][..]] {
        let outcome = outcome(rows);
        let positions: Vec<u32> = [5, 6].into_iter().filter(|at| outcome.row(*at).is_some()).collect();
        let options = SimulateOptions {
            scatter: Scatter::Normal,
            positions: Some(positions.clone()),
            ..SimulateOptions::seeded(17).fixed(204_800)
        };
        let simulation = of_outcome(&outcome, &options).unwrap();
        for result in &simulation.results {
            let (first, found) = (result.first_order, result.distribution.as_ref().unwrap());
            let accuracy = found.accuracy.unwrap();
            // Five standard deviations of the figure, and the second order of relative u of half a per cent.
            let close = |a: f64, b: f64, error: f64| assert!((a - b).abs() < 5.0 * error + 0.01 * first.u, "{a} {b}");
            close(found.mean.unwrap(), first.value, accuracy.mean);
            close(found.u.unwrap(), first.u, accuracy.u);
            close(found.symmetric.low, first.value - 1.96 * first.u, accuracy.low);
            close(found.symmetric.high, first.value + 1.96 * first.u, accuracy.high);
        }
        if let [digest, series] = positions[..] {
            // Stock, mass and flask are shared: the correlation is known to 1/sqrt(204,800), 0.2 %.
            let of = |i, j| simulation.covariance(i, j).unwrap();
            let expected = outcome.covariance(digest, series).unwrap();
            let us = [digest, series].map(|at| outcome.row(at).unwrap().result.u);
            let correlation = of(0, 1) / (of(0, 0) * of(1, 1)).sqrt();
            assert!((correlation - expected / (us[0] * us[1])).abs() < 0.01, "{correlation}");
        }
    }
}
