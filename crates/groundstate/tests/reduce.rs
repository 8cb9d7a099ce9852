//! A run and a method in, an outcome out: behaviour, laws, and a Monte Carlo of the covariance.
#![cfg(feature = "text")]
#![allow(missing_docs)]

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::sync::Arc;

use groundstate::check::{Standing, Verdict};
use groundstate::criteria::CheckKind;
use groundstate::error::{Error, Kind};
use groundstate::estimate::Status;
use groundstate::method::{Method, Qualification};
use groundstate::numeric::stream::Stream;
use groundstate::outcome::{Outcome, Reported};
use groundstate::reduce::{reduce, reduce_many};
use groundstate::run::Run;

const WATER: &str = include_str!("../../../python/groundstate/demo/roof_water.csv");
const WATER_METHOD: &str = include_str!("../../../python/groundstate/demo/roof_water.toml");
const SEDIMENT: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.csv");
const SEDIMENT_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.toml");

fn water() -> Outcome {
    reduce(&Run::from_csv(WATER).unwrap(), &Method::from_toml(WATER_METHOD).unwrap()).unwrap()
}

fn sediment() -> Outcome {
    reduce(&Run::from_csv(SEDIMENT).unwrap(), &Method::from_toml(SEDIMENT_METHOD).unwrap()).unwrap()
}

fn codes(outcome: &Outcome) -> Vec<&'static str> {
    outcome.findings().iter().map(|finding| finding.code.name()).collect()
}

#[test]
fn the_clean_run_is_complete() {
    let outcome = water();
    assert_eq!(outcome.standing(), Standing::Complete, "{}", outcome.summary());
    assert_eq!(outcome.segments().len(), 1);
    assert_eq!(outcome.reported().count(), 8);
    let tiled = outcome.results().find(|row| &*row.label == "Chapel (tiled)").unwrap();
    assert_eq!(tiled.text, "< 0.00400");
    assert_eq!(tiled.qualifications, [Qualification::NotDetected]);
    // Censored in the text only: the signed value is kept.
    assert!(tiled.result.value.is_finite() && tiled.result.u > 0.0);
}

/// The textbook line through the means of the standards, written out.
#[test]
fn a_result_is_the_textbook_line_of_the_means() {
    let run = Run::from_csv(WATER).unwrap();
    let mean = |readings: &[f64]| readings.iter().sum::<f64>() / readings.len() as f64;
    let standards: Vec<(f64, f64)> = (run.positions.iter().filter(|p| p.role.is_calibration()))
        .map(|p| (p.nominal.unwrap_or(0.0), mean(&p.readings)))
        .collect();
    let n = standards.len() as f64;
    let (mx, my) = (standards.iter().map(|p| p.0).sum::<f64>() / n, standards.iter().map(|p| p.1).sum::<f64>() / n);
    let sxy: f64 = standards.iter().map(|(x, y)| (x - mx) * (y - my)).sum();
    let sxx: f64 = standards.iter().map(|(x, _)| (x - mx) * (x - mx)).sum();
    let (slope, outcome) = (sxy / sxx, water());
    for row in outcome.results() {
        let signal = mean(&run.position(row.position).unwrap().readings);
        let expected = (signal - (my - slope * mx)) / slope;
        // Sums of twenty numbers of about one lose a few units in the last place.
        assert!((row.result.value - expected).abs() <= 1e-13, "{} {} {expected}", row.label, row.result.value);
    }
}

#[test]
fn the_hard_run_shows_what_happened() {
    let outcome = sediment();
    assert_eq!(outcome.standing(), Standing::Failed);
    assert_eq!(outcome.segments().len(), 2);
    let row = |label: &str, nth: usize| outcome.results().filter(|row| &*row.label == label).nth(nth).unwrap();
    // Over range, then diluted.
    assert_eq!(row("Galvanising yard", 0).result.status, Status::AboveTop);
    assert_eq!(row("Galvanising yard", 0).reported, Reported::Instead(row("Galvanising yard", 1).position));
    assert!(row("Galvanising yard", 1).reported.is_reported());
    assert!(codes(&outcome).contains(&"above_top_standard"));
    // Condemned by the failed check, then measured again under a new calibration.
    for gutter in ["Gutter 1", "Gutter 2", "Gutter 3"] {
        assert!(row(gutter, 0).condemned && !row(gutter, 1).condemned);
        assert!(row(gutter, 1).reported.is_reported());
        assert_eq!(row(gutter, 1).unit.name(), "mg/kg");
    }
    let check =
        |kind: CheckKind, nth: usize| outcome.checks().iter().filter(|check| check.kind == kind).nth(nth).unwrap();
    assert_eq!(check(CheckKind::Ccv, 1).verdict, Verdict::Fail);
    assert!(matches!(check(CheckKind::MatrixSpike, 0).verdict, Verdict::NotEvaluated(_)));
    assert_eq!(row("Cistern", 0).qualifications, [Qualification::NotDetected]);
}

/// mg/kg of dry matter by the formula of SW-846 Method 6010D, section 12.2: C V / (W S).
#[test]
fn a_solid_is_led_back_by_its_mass_and_solids() {
    let outcome = sediment();
    let run = outcome.run();
    for row in outcome.results().filter(|row| row.unit.name() == "mg/kg") {
        let fields = &run.position(row.position).unwrap().preparation;
        let expected = row.solution.value * 100.0 / (fields.mass_g.unwrap() * fields.percent_solids.unwrap() / 100.0);
        assert!((row.result.value / expected - 1.0).abs() < 1e-14, "{}", row.label);
    }
}

#[test]
fn shares_of_every_budget_add_up_and_covariance_is_symmetric() {
    let outcome = sediment();
    for row in outcome.rows().iter().filter(|row| row.result.u > 0.0) {
        let budget = outcome.budget(row.position).unwrap();
        let shares: f64 = budget.iter().map(|line| line.share).sum();
        let squares: f64 = budget.iter().map(|line| line.u * line.u).sum();
        assert!((shares - 1.0).abs() < 1e-12);
        assert!((squares.sqrt() / row.result.u - 1.0).abs() < 1e-12);
    }
    let matrix = outcome.covariance_matrix().unwrap();
    for i in 0..matrix.size() {
        for j in 0..matrix.size() {
            let (a, b) = (matrix.get(i, j).unwrap(), matrix.get(j, i).unwrap());
            assert!((a - b).abs() <= 1e-15 * a.abs());
        }
    }
}

#[test]
fn the_order_of_rows_changes_no_bit() {
    let (header, rows) = SEDIMENT.split_once('\n').unwrap();
    let mut rows: Vec<&str> = rows.lines().collect();
    let plain = format!("{:?}", sediment());
    for turn in [7, 41] {
        rows.rotate_left(turn);
        rows.reverse();
        let run = Run::from_csv(&format!("{header}\n{}\n", rows.join("\n"))).unwrap();
        let shuffled = reduce(&run, &Method::from_toml(SEDIMENT_METHOD).unwrap()).unwrap();
        let same = |outcome: &Outcome| format!("{:?}{:?}", outcome.rows(), outcome.checks());
        assert_eq!(same(&shuffled), same(&sediment()));
        assert_eq!(format!("{:?}", shuffled.findings()), format!("{:?}", sediment().findings()));
    }
    assert_eq!(plain, format!("{:?}", sediment()));
}

#[test]
fn threads_and_a_bad_run_change_no_other_run() {
    let good = Run::from_csv(SEDIMENT).unwrap();
    let mut bad = good.clone();
    bad.name = "no standards".into();
    bad.positions.retain(|position| !position.role.is_calibration());
    let runs: Vec<Arc<Run>> = (0..70).map(|i| Arc::new(if i == 3 { bad.clone() } else { good.clone() })).collect();
    let method = Method::from_toml(SEDIMENT_METHOD).unwrap();
    let all = |threads: usize| {
        let threads = NonZeroUsize::new(threads).unwrap();
        reduce_many(&runs, |_| Ok(&method), threads, |_, _| ControlFlow::Continue(()))
    };
    let single = format!("{:?}", all(1));
    assert_eq!(single, format!("{:?}", all(2)));
    assert_eq!(single, format!("{:?}", all(8)));
    let outcomes = all(2);
    assert!(outcomes[3].as_ref().is_err_and(|failed| failed.error.to_string().contains("no standards")));
    assert_eq!(outcomes.iter().filter(|outcome| outcome.is_ok()).count(), 69);
}

#[test]
fn each_run_is_reduced_by_its_own_method_and_a_bad_one_stops_no_other_run() {
    let run = Run::from_csv(WATER).unwrap();
    let named = |name: &str| Arc::new(Run { name: name.into(), ..run.clone() });
    let good = Method::from_toml(WATER_METHOD).unwrap();
    let (mut other, mut bad) = (good.clone(), good.clone());
    other.version = "of another laboratory".into();
    bad.id = "".into();
    let runs: Vec<Arc<Run>> = ["good", "bad", "other", "none", "good"].map(named).to_vec();
    let method = |run: &Run| match &*run.name {
        "good" => Ok(&good),
        "bad" => Ok(&bad),
        "other" => Ok(&other),
        name => Err(Error::argument("method", format!("there is none for {name}"))),
    };
    let outcomes = reduce_many(&runs, method, NonZeroUsize::MIN, |_, _| ControlFlow::Continue(()));
    for (i, method) in [(0, &good), (2, &other), (4, &good)] {
        assert_eq!(format!("{:?}", outcomes[i].as_ref().unwrap()), format!("{:?}", reduce(&runs[i], method).unwrap()));
    }
    assert_eq!(outcomes[1].as_ref().unwrap_err().error, reduce(&runs[1], &bad).unwrap_err());
    assert!(outcomes[3].as_ref().unwrap_err().to_string().contains("there is none for none"));
}

#[test]
fn a_stop_keeps_what_is_finished() {
    let run = Arc::new(Run::from_csv(WATER).unwrap());
    let runs: Vec<Arc<Run>> = (0..130).map(|_| Arc::clone(&run)).collect();
    let method = Method::from_toml(WATER_METHOD).unwrap();
    let stop_at_64 =
        |done: usize, _: usize| if done >= 64 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) };
    let outcomes = reduce_many(&runs, |_| Ok(&method), NonZeroUsize::MIN, stop_at_64);
    assert_eq!(outcomes.len(), 130);
    assert!(outcomes[..64].iter().all(Result::is_ok));
    assert!(outcomes[64..].iter().all(|o| o.as_ref().is_err_and(|e| e.error.kind() == Kind::Interrupted)));
}

/// 9 mL of a digest of 2 mg/L and 1 mL of 50 mg/L hold 0.9 x 2 + 5 mg/L: all of the addition is there, whether the
/// sample was a liquid or a solid.
#[test]
fn a_post_digestion_spike_is_judged_in_units_of_its_digest() {
    use groundstate::preparation::{ReportBasis, Weighed};
    use groundstate::run::{Reference, Role};
    for mass in [None, Some(1.0)] {
        let signal = |c: f64| 0.001 + 0.1 * c;
        let mut builder = Run::builder("spike").calibration_blank(&[0.0010]);
        for level in [2.0, 4.0, 6.0, 8.0] {
            builder = builder.standard(&format!("S{level}"), level, &[signal(level)]);
        }
        let run = builder
            .sample("A", &[signal(2.0)])
            .with(|sample| {
                sample.preparation.mass_g = mass;
                sample.preparation.volume_ml = mass.is_none().then_some(50.0);
                sample.preparation.final_volume_ml = Some(100.0);
            })
            .position(Role::PostDigestionSpike, "A spiked", &[signal(0.9 * 2.0 + 5.0)])
            .with(|spike| {
                spike.of = Some(Reference::Label("A".into()));
                spike.preparation.volume_ml = Some(9.0);
                (spike.spike_volume_ml, spike.spike_conc) = (Some(1.0), Some(50.0));
            })
            .build()
            .unwrap();
        let mut method = Method::new("Zn", groundstate::criteria::ProfileName::General).unwrap();
        method.preparation.weighed = Some(Weighed::Wet);
        method.preparation.report = Some(ReportBasis::AsReceived);
        let outcome = reduce(&run, &method).unwrap();
        let check = outcome.checks().iter().find(|check| check.kind == CheckKind::PostDigestionSpike).unwrap();
        let recovery = check.statistic.unwrap().value;
        assert!((recovery - 100.0).abs() < 1e-9, "{recovery} {mass:?}");
        assert_eq!(check.verdict, Verdict::Pass);
    }
}

/// A run for the Monte Carlo: exact line, three readings each, two samples of one digest series and a shared flask.
fn simulated(noise: &mut dyn FnMut() -> f64, stock: f64, flask: f64) -> Run {
    let signal = |c: f64, noise: &mut dyn FnMut() -> f64| 0.001 + 0.2 * c + 0.002 * noise();
    let mut builder = Run::builder("mc");
    for level in [0.0, 1.0, 2.0, 3.0, 4.0] {
        let readings = [signal(level * stock, noise)];
        builder = builder.standard(&format!("S{level}"), level, &readings);
    }
    for (label, content) in [("A", 2.5), ("B", 3.5)] {
        let readings = [signal(content * flask, noise)];
        builder = builder.sample(label, &readings);
        builder = builder.with(|position| {
            position.preparation.volume_ml = Some(50.0);
            position.preparation.final_volume_ml = Some(100.0);
        });
    }
    builder.build().unwrap()
}

#[test]
fn covariance_of_two_results_is_that_of_a_monte_carlo() {
    let mut method = Method::from_toml(
        "id = \"mc\"\nversion = \"1\"\nelement = \"Zn\"\nprofile = \"general\"\n[calibration]\nnoise = \"known_sigma\"\nsigma = 0.002\n\
         [calibration.stock]\nname = \"stock\"\nrelative_u = 0.01\n[preparation.u]\nfinal_volume = 0.008\n\
         [preparation.items]\nfinal_volume = \"flask 1\"\n",
    )
    .unwrap();
    method.reporting.dof = groundstate::method::DofPolicy::Real;
    let mut none = || 0.0;
    let outcome = reduce(&simulated(&mut none, 1.0, 1.0), &method).unwrap();
    let rows: Vec<u32> = outcome.results().map(|row| row.position).collect();
    let predicted = [
        outcome.covariance(rows[0], rows[0]).unwrap(),
        outcome.covariance(rows[0], rows[1]).unwrap(),
        outcome.covariance(rows[1], rows[1]).unwrap(),
    ];
    const TRIALS: usize = 20_000;
    let mut stream = Stream::new(20_261_125, 0);
    let mut values = Vec::with_capacity(TRIALS);
    for _ in 0..TRIALS {
        // Stocks and flasks err by their own factors, unseen by whoever reduces the run.
        let (stock, flask) = (1.0 + 0.01 * stream.normal(), 1.0 + 0.008 * stream.normal());
        let run = simulated(&mut || stream.normal(), stock, 1.0 / flask);
        let found = reduce(&run, &method).unwrap();
        let result = |position: u32| found.row(position).unwrap().result.value;
        values.push([result(rows[0]), result(rows[1])]);
    }
    let mean = |k: usize| values.iter().map(|v| v[k]).sum::<f64>() / TRIALS as f64;
    let means = [mean(0), mean(1)];
    let covariance = |i: usize, j: usize| {
        values.iter().map(|v| (v[i] - means[i]) * (v[j] - means[j])).sum::<f64>() / (TRIALS - 1) as f64
    };
    for (found, expected) in [covariance(0, 0), covariance(0, 1), covariance(1, 1)].into_iter().zip(predicted) {
        // Four standard errors of a variance from 20,000 trials are 4 %; second-order terms are below 0.1 %.
        assert!((found / expected - 1.0).abs() < 0.04, "{found} {expected}");
    }
}
