//! Worked examples; each case file names its source and how its figures were obtained.

use groundstate::addition::{Aliquot, Bracket, BracketStandard, Origin, Series, SeriesOptions, Signal, SingleAddition};
use groundstate::curve::Stock;
use groundstate::estimate::{Coverage, Dof, IntervalMethod, Status};
use groundstate::glassware::Measured;
use groundstate::unit::Unit;
use serde_json::Value;

use super::{fit, near, signal};

const SERIES: [&str; 2] = [
    include_str!("../../../../python/groundstate/cases/miller-silver-additions.json"),
    include_str!("../../../../python/groundstate/cases/harvey-sodium-additions.json"),
];

fn number(value: &Value) -> f64 {
    value.as_str().unwrap().parse().unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn figure(series: &Series, path: &str) -> f64 {
    let estimate = series.estimate();
    match path {
        "coefficient.0" => series.coefficients()[0],
        "coefficient.1" => series.coefficients()[1],
        "residual_sd" => series.line().residual_sd().unwrap(),
        "value" => estimate.value,
        "u" => estimate.u,
        "dof" => estimate.dof.get(),
        "half_width" => {
            let (lo, hi) = series.interval(Coverage::P95, IntervalMethod::Delta).ends();
            (hi - lo) / 2.0
        }
        "sample.value" => series.sample().unwrap().value,
        other => panic!("unknown figure {other}"),
    }
}

/// Tolerance: the digits that the case files ask for.
#[test]
fn series_of_additions_reproduce_the_worked_examples() {
    let mut checked = 0;
    for text in SERIES {
        let case: Value = serde_json::from_str(text).unwrap();
        let input = &case["input"];
        let to_sample = &input["to_sample"];
        let aliquot = (!to_sample.is_null()).then(|| Aliquot {
            sample: Measured::exact("sample", number(&to_sample["divide"])).unwrap(),
            made_up_to: Measured::exact("made_up_to", number(&to_sample["multiply"])).unwrap(),
        });
        let options = SeriesOptions { aliquot, ..SeriesOptions::default() };
        let series = fit(&numbers(&input["added"]), &numbers(&input["absorbance"]), &options);
        let tolerance = libm::pow(10.0, -number(&case["tolerance"]["digits"]));
        for (path, expected) in case["expected"].as_object().unwrap() {
            near(figure(&series, path), number(expected), tolerance);
            checked += 1;
        }
        assert_eq!(series.estimate().status, Status::InRange);
    }
    assert_eq!(checked, 13);
}

/// Skoog, Problem 9-20 (the sigma is ours): the bracket is the line through two points with known sigmas.
#[test]
fn two_standards_bracket_lead() {
    let text = include_str!("../../../../python/groundstate/cases/skoog-two-point-lead.json");
    let case: Value = serde_json::from_str(text).unwrap();
    let (input, expected) = (&case["input"], &case["expected"]);
    let [x, y, sigma] = ["concentration", "absorbance", "sigma"].map(|name| numbers(&input[name]));
    let standard = |i: usize| BracketStandard { concentration: x[i], u: 0.0, signal: signal(y[i], sigma[i]) };
    let origin = Origin { run: "run".into(), position: 1 };
    let bracket = Bracket::new(standard(0), standard(1), None, Unit::MilligramPerLitre, origin).unwrap();
    let reading = numbers(&input["unknowns"][0]["readings"])[0];
    let found = bracket.concentration(&signal(reading, sigma[0]), 2).unwrap();
    near(found.estimate().value, number(&expected["unknown.0.value"]), 1e-13);
    near(found.estimate().u, number(&expected["unknown.0.u"]), 1e-13);
    assert_eq!((found.estimate().status, found.findings().len()), (Status::InRange, 0));
    assert!(found.estimate().dof.is_infinite());
}

/// 7000B 9.10, the formula by hand: 0.200 x 1.0 x 10 / ((0.410 - 0.200) x 20) = 0.476190...; its standard uncertainty
/// by differences of the formula itself.
#[test]
fn a_single_addition_follows_the_printed_formula() {
    let formula = |q: [f64; 6]| {
        let [with, without, blank, vs, cs, vx] = q;
        (without - blank) * vs * cs / (((with - blank) - (without - blank)) * vx)
    };
    let (at, u) = ([0.410, 0.200, 0.0, 1.0, 10.0, 20.0], [0.002, 0.001, 0.0008, 0.005, 0.05, 0.03]);
    let variance: f64 = (0..6)
        .map(|i| {
            let moved = |by: f64| formula(std::array::from_fn(|k| at[k] + if k == i { by * u[k] } else { 0.0 }));
            let slope = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            slope * slope
        })
        .sum();
    let single = SingleAddition {
        with: signal(at[0], u[0]),
        without: signal(at[1], u[1]),
        blank_u: u[2],
        standard_volume: Measured::new("vs", at[3], u[3]).unwrap(),
        standard: at[4],
        stock: Some(Stock { name: "A".into(), relative_u: u[4] / at[4] }),
        portion_volume: Measured::new("vx", at[5], u[5]).unwrap().with_item("pipette").unwrap(),
        unit: Unit::MilligramPerLitre,
        origin: Origin { run: "run".into(), position: 3 },
    };
    let found = single.evaluate().unwrap();
    near(found.estimate().value, 0.476_190_476_190_476_2, 1e-14);
    // Central differences of relative step 1e-3 u: their truncation is below 1e-9 here.
    near(found.estimate().u, variance.sqrt(), 1e-8);
    assert!(found.findings().is_empty());
    // Where u is small against the difference, the inversion set is the delta interval to second order.
    let [delta, set] =
        [IntervalMethod::Delta, IntervalMethod::Inversion].map(|m| found.interval(Coverage::P95, m).ends());
    near(set.1 - set.0, delta.1 - delta.0, 0.01);

    // Three readings of each portion: mean, s/sqrt(3) and two degrees of freedom, by hand.
    let read = Signal::of_readings(&[0.409, 0.411, 0.410]).unwrap();
    near(read.value(), 0.410, 1e-14);
    near(read.u(), 0.001 / 3.0_f64.sqrt(), 1e-12);
    near(read.dof().get(), 2.0, 0.0);
    assert!(Signal::of_readings(&[0.41]).is_err() && Signal::of_readings(&[0.41, f64::NAN]).is_err());

    let no_rise = SingleAddition { with: Signal::new(0.200, 0.002, Dof::INFINITE).unwrap(), ..single };
    let found = no_rise.evaluate().unwrap();
    assert!(found.estimate().value.is_nan() && found.estimate().status == Status::NotCalibrated);
    assert_eq!(super::codes(found.findings()), [groundstate::finding::Code::AdditionNotSeen]);
}
