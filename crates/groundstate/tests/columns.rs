//! Columns in, columns out: the figures are those of the full reduction, bit for bit.
#![cfg(feature = "text")]
#![allow(missing_docs)]

use std::num::NonZeroUsize;

use groundstate::check::{Figure, Verdict};
use groundstate::columns::{self, ColumnOptions, ColumnTable, ColumnsRef, Flags, ReplicateLimit};
use groundstate::criteria::{CheckKind, ProfileName};
use groundstate::curve::{Levels, Noise, PointKind, ReplicateModel, Shape, Sigmas, Stock, Zero, Zeroing};
use groundstate::detection::LimitDefinition;
use groundstate::estimate::Status;
use groundstate::method::{
    DofPolicy, Exclusion, Limit, LimitBasis, Method, NominalPortion, NondetectAt, ReadingScatter,
};
use groundstate::numeric::stream::Stream;
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::{Role, Run};
use groundstate::unit::Unit;

const WATER: &str = include_str!("../../../python/groundstate/demo/roof_water.csv");
const WATER_METHOD: &str = include_str!("../../../python/groundstate/demo/roof_water.toml");
const SEDIMENT: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.csv");
const SEDIMENT_METHOD: &str = include_str!("../../../python/groundstate/demo/gutter_sediment.toml");

/// Columns of their own, to be lent out.
#[derive(Clone, Default)]
struct Columns {
    run: Vec<u32>,
    position: Vec<u32>,
    role: Vec<u32>,
    replicate: Vec<u32>,
    absorbance: Vec<f64>,
    nominal: Vec<f64>,
    dilution: Vec<f64>,
}

impl Columns {
    fn of(runs: &[Run]) -> Columns {
        let mut columns = Columns::default();
        for (code, run) in runs.iter().enumerate() {
            for position in &run.positions {
                let mut readings: Vec<(u32, f64)> =
                    position.replicates.iter().copied().zip(position.readings.iter().copied()).collect();
                let next = position.replicates.last().map_or(1, |last| last + 1);
                readings.extend((0..position.missing).map(|i| (next + i, f64::NAN)));
                for (replicate, reading) in readings {
                    columns.run.push(code as u32);
                    columns.position.push(position.number);
                    columns.role.push(Role::ALL.iter().position(|role| *role == position.role).unwrap() as u32);
                    columns.replicate.push(replicate);
                    columns.absorbance.push(reading);
                    columns.nominal.push(position.nominal.unwrap_or(f64::NAN));
                    let dilution = position.preparation.dilution.as_ref();
                    columns.dilution.push(dilution.map_or(f64::NAN, |text| text.parse().unwrap()));
                }
            }
        }
        columns
    }

    fn shuffled(&self, seed: u64) -> Columns {
        let mut stream = Stream::new(seed, 0);
        let mut order: Vec<usize> = (0..self.run.len()).collect();
        for i in (1..order.len()).rev() {
            order.swap(i, (stream.bits() % (i as u64 + 1)) as usize);
        }
        let codes = |from: &[u32]| order.iter().map(|i| from[*i]).collect();
        let numbers = |from: &[f64]| order.iter().map(|i| from[*i]).collect();
        Columns {
            run: codes(&self.run),
            position: codes(&self.position),
            role: codes(&self.role),
            replicate: codes(&self.replicate),
            absorbance: numbers(&self.absorbance),
            nominal: numbers(&self.nominal),
            dilution: numbers(&self.dilution),
        }
    }

    fn lent(&self) -> ColumnsRef<'_> {
        ColumnsRef {
            run: &self.run,
            position: &self.position,
            role: &self.role,
            roles: Role::ALL,
            replicate: Some(&self.replicate),
            absorbance: &self.absorbance,
            nominal: Some(&self.nominal),
            dilution: Some(&self.dilution),
        }
    }
}

fn threads(count: usize) -> ColumnOptions {
    ColumnOptions { threads: NonZeroUsize::new(count).unwrap(), ..ColumnOptions::default() }
}

/// What the full reduction says of a row, in flags.
fn flags(outcome: &Outcome, i: usize) -> Flags {
    let row = &outcome.rows()[i];
    let failed = |kind: fn(CheckKind) -> bool| {
        outcome.checks().iter().filter(move |check| check.verdict == Verdict::Fail && kind(check.kind))
    };
    let mut flags = Flags::default();
    let mut add = |flag: Flags, condition: bool| flags = if condition { flags | flag } else { flags };
    add(Flags::NO_ROOT, row.result.status == Status::BeyondCurve);
    add(Flags::ABOVE_TOP, row.result.status == Status::AboveTop);
    add(Flags::BELOW_LIMIT, row.qualifications.contains(&groundstate::method::Qualification::NotDetected));
    add(Flags::CONDEMNED, row.condemned);
    let correlation = |figure: Figure| matches!(figure, Figure::Determination | Figure::Correlation);
    let poor = failed(|kind| kind == CheckKind::Calibration)
        .any(|check| check.segment == row.segment && check.statistic.is_some_and(|s| correlation(s.figure)));
    add(Flags::R2_BELOW_LIMIT, poor && !row.role.is_instrument_check());
    add(Flags::CHECK_FAILED, failed(CheckKind::is_instrument).any(|check| check.position == Some(row.position)));
    flags
}

/// Every row of run `code` against the full reduction, to the bit.
fn same(table: &ColumnTable, code: u32, outcome: &Outcome, what: &str) {
    let rows: Vec<usize> = (0..table.len()).filter(|i| table.run[*i] == code).collect();
    assert_eq!(rows.len(), outcome.rows().len(), "{what}");
    for (n, (i, row)) in rows.into_iter().zip(outcome.rows()).enumerate() {
        let place = format!("{what}: position {} ({})", row.position, row.role);
        assert_eq!((table.position[i], table.role[i]), (row.position, row.role), "{place}");
        assert_eq!(table.status[i], row.result.status, "{place}");
        for (name, ours, theirs) in [("value", table.value[i], row.result.value), ("u", table.u[i], row.result.u)] {
            let equal = ours.to_bits() == theirs.to_bits() || (ours.is_nan() && theirs.is_nan());
            assert!(equal, "{place}: {name} {ours:e} is not {theirs:e}");
        }
        match row.expanded.filter(|_| row.result.status.has_value()) {
            Some((half, _)) => {
                assert_eq!(table.lo[i].to_bits(), (row.result.value - half).to_bits(), "{place}: lo");
                assert_eq!(table.hi[i].to_bits(), (row.result.value + half).to_bits(), "{place}: hi");
            }
            None => assert!(!table.lo[i].is_finite() && !table.hi[i].is_finite(), "{place}"),
        }
        assert_eq!(table.flags[i], flags(outcome, n), "{place}: {} for {}", table.flags[i], flags(outcome, n));
    }
}

/// The demonstration run with the columns that columns carry.
fn plain(text: &str) -> Run {
    let mut run = Run::from_csv(text).unwrap();
    for position in &mut run.positions {
        let dilution = position.preparation.dilution.take().map(|text| {
            let factor = groundstate::glassware::Dilution::parse(&text).unwrap().factor();
            factor.to_string().into()
        });
        position.preparation = groundstate::run::PreparationFields { dilution, ..Default::default() };
        position.identity = groundstate::run::Identity::default();
        position.spike_volume_ml = None;
        position.spike_conc = None;
        position.accept = None;
    }
    run
}

#[test]
fn the_demonstration_runs_come_out_as_in_full() {
    for (text, method) in [(WATER, WATER_METHOD), (SEDIMENT, SEDIMENT_METHOD)] {
        let (run, method) = (plain(text), Method::from_toml(method).unwrap());
        let outcome = reduce(&run, &method).unwrap();
        let runs = vec![run; 130];
        let columns = Columns::of(&runs);
        let table = columns::reduce(columns.lent(), &method, &threads(1)).unwrap();
        assert!(table.errors.is_empty());
        for code in 0..runs.len() as u32 {
            same(&table, code, &outcome, &method.id);
        }
        for (seed, count) in [(1, 1), (2, 2), (3, 3)] {
            let other = columns::reduce(columns.shuffled(seed).lent(), &method, &threads(count)).unwrap();
            assert_eq!(format!("{table:?}"), format!("{other:?}"), "{count} threads, rows in another order");
        }
    }
}

/// The solution, whatever the way back to the sample was, of the demonstration runs as they are.
#[test]
fn solutions_of_prepared_samples_are_the_same() {
    for (text, method) in [(WATER, WATER_METHOD), (SEDIMENT, SEDIMENT_METHOD)] {
        let (run, method) = (Run::from_csv(text).unwrap(), Method::from_toml(method).unwrap());
        let outcome = reduce(&run, &method).unwrap();
        let mut columns = Columns::of(&[plain(text)]);
        columns.dilution.fill(f64::NAN);
        let table = columns::reduce(columns.lent(), &method, &threads(1)).unwrap();
        for (i, row) in outcome.rows().iter().enumerate() {
            assert_eq!(table.value[i].to_bits(), row.solution.value.to_bits(), "{}", row.label);
            assert_eq!(table.u[i].to_bits(), row.solution.u.to_bits(), "{}", row.label);
            assert_eq!(table.status[i], row.solution.status, "{}", row.label);
        }
    }
}

fn pick<T: Clone>(stream: &mut Stream, from: &[T]) -> T {
    from[(stream.bits() % from.len() as u64) as usize].clone()
}

fn generated_method(stream: &mut Stream) -> Method {
    let mut method = Method::new("Zn", ProfileName::General).unwrap();
    let calibration = &mut method.calibration;
    calibration.shape = pick(stream, &Shape::ALL);
    calibration.noise = pick(
        stream,
        &[
            Noise::Equal,
            Noise::InverseX,
            Noise::InverseX2,
            Noise::KnownSigma(Sigmas::new(&[0.0007]).unwrap()),
            Noise::FromReplicates(ReplicateModel::Pooled),
            Noise::FromReplicates(ReplicateModel::FloorPlusProportional),
        ],
    );
    calibration.points = pick(stream, &[PointKind::Standards, PointKind::Standards, PointKind::Readings]);
    if calibration.noise.weighs_by_concentration() || stream.uniform() < 0.3 {
        calibration.zero = Zero::LeaveOut;
    }
    calibration.zeroing = pick(stream, &[Zeroing::Raw, Zeroing::Raw, Zeroing::Autozeroed(0.0003)]);
    calibration.reading_scatter = pick(stream, &[ReadingScatter::Model, ReadingScatter::Model, ReadingScatter::Own]);
    calibration.resolution = pick(stream, &[None, Some(0.0001)]);
    calibration.stock = pick(stream, &[None, Some(Stock { name: "Zn-31".into(), relative_u: 0.0025 })]);
    if stream.uniform() < 0.2 {
        let (reason, who, when) = ("a bubble".into(), "R. Invented".into(), "2026-01-12".into());
        calibration.exclude.push(Exclusion { position: 3, reason, who, when });
    }
    method.preparation.u.dilution = pick(stream, &[None, Some(0.003)]);
    method.preparation.nominal_liquid = Some(NominalPortion { portion: 50.0, final_volume_ml: 50.0 });
    method.reporting.dof = pick(stream, &[DofPolicy::Real, DofPolicy::Truncate]);
    method.reporting.liquid_unit = pick(stream, &[Unit::MilligramPerLitre, Unit::MicrogramPerLitre]);
    let limit = |value, basis| {
        let definition = LimitDefinition::from_name("40cfr136").unwrap();
        Limit { value, unit: Unit::MilligramPerLitre, basis, definition, study: None }
    };
    if stream.uniform() < 0.7 {
        method.limits.mdl = vec![limit(0.02, pick(stream, &[LimitBasis::Solution, LimitBasis::SampleNominal]))];
        method.limits.nondetect_at = Some(NondetectAt::Mdl);
    }
    method.limits.loq = vec![limit(0.05, LimitBasis::Solution)];
    let mut set = |check: &str, key: &str, value: groundstate::criteria::CriterionValue| {
        if stream.uniform() < 0.5 {
            method.criteria.set(check, key, value).unwrap();
        }
    };
    for check in ["icv", "ccv"] {
        set(check, "low", 97.0.into());
        set(check, "high", 103.0.into());
    }
    set("ccb", "rule", "limit".into());
    set("ccb", "factor", 0.1.into());
    set("calibration", "r_squared", 0.9999.into());
    set("calibration", "r", 0.9999.into());
    set("calibration", "percent_error", 10.0.into());
    set("calibration", "standard_rsd", 2.5.into());
    set("bracket", "retry", "one_immediate".into());
    set("bracket", "release", "high_check_nondetect".into());
    method
}

fn generated_run(stream: &mut Stream, name: &str) -> Run {
    let mut run = Run::builder(name);
    let bend = pick(stream, &[0.0, -0.008, -0.02]);
    let readings = |stream: &mut Stream, x: f64, count: usize| -> Vec<f64> {
        let drift = 1.0 + 0.01 * stream.normal();
        let signal = 0.0005 + x * (0.2 + bend * x) * drift;
        let read = |stream: &mut Stream| (1e4 * (signal + (0.0004 + 0.003 * signal) * stream.normal())).round() / 1e4;
        (0..count).map(|_| if stream.uniform() < 0.02 { f64::NAN } else { read(stream) }).collect()
    };
    let segments = pick(stream, &[1, 1, 2, 3]);
    if stream.uniform() < 0.1 {
        let early = readings(stream, 1.0, 3);
        run = run.sample("early", &early);
    }
    for segment in 0..segments {
        let count = pick(stream, &[2, 3, 4]);
        let blank = readings(stream, 0.0, count);
        run = run.calibration_blank(&blank);
        for x in [0.05, 0.2, 0.5, 1.0, 2.0, 4.0] {
            let read = readings(stream, x, count);
            run = run.standard(&format!("S {x}"), x, &read);
        }
        let read = readings(stream, 2.0, 3);
        run = run.check(Role::Icv, "ICV", 2.0, &read);
        for block in 0..3 {
            for i in 0..4 {
                let x = pick(stream, &[0.0, 0.01, 0.1, 0.7, 1.5, 3.0, 5.0, 12.0]);
                let count = pick(stream, &[1, 2, 3, 3, 5]);
                let read = readings(stream, x, count);
                run = run.sample(&format!("{segment}.{block}.{i}"), &read);
                if stream.uniform() < 0.3 {
                    let factor: &str = pick(stream, &["1", "2", "10", "12.5"]);
                    run = run.with(|sample| sample.preparation.dilution = Some(factor.into()));
                }
            }
            for (role, x) in [(Role::Ccv, 1.0), (Role::Ccb, 0.0), (Role::LowCheck, 0.05)] {
                let repeats = pick(stream, &[0, 1, 1, 1, 2]);
                for _ in 0..repeats {
                    let read = readings(stream, x, 3);
                    run = if x > 0.0 {
                        run.check(role, role.name(), x, &read)
                    } else {
                        run.position(role, role.name(), &read)
                    };
                }
            }
        }
        if stream.uniform() < 0.2 {
            let lone = readings(stream, 0.0, 2);
            run = run.calibration_blank(&lone);
            let read = readings(stream, 1.0, 2);
            run = run.sample("after a lone blank", &read);
        }
    }
    run.build().unwrap()
}

/// A method that leaves nothing to look up beside the scatter about a polynomial.
fn plain_method(stream: &mut Stream) -> Method {
    let mut method = generated_method(stream);
    let calibration = &mut method.calibration;
    calibration.shape =
        pick(stream, &[Shape::Line, Shape::Quadratic, Shape::LineThroughZero, Shape::QuadraticThroughZero]);
    calibration.noise = pick(
        stream,
        &[Noise::Equal, Noise::InverseX, Noise::InverseX2, Noise::KnownSigma(Sigmas::new(&[0.0007]).unwrap())],
    );
    calibration.zero = if calibration.noise.weighs_by_concentration() { Zero::LeaveOut } else { Zero::default() };
    calibration.zeroing = Zeroing::Raw;
    calibration.reading_scatter = ReadingScatter::Model;
    calibration.resolution = None;
    calibration.stock = None;
    method.preparation.u.dilution = None;
    let general = Method::new("Zn", ProfileName::General).unwrap();
    method.criteria = general.criteria;
    for (check, key, value) in [("calibration", "r_squared", 0.999), ("ccv", "low", 97.0), ("ccb", "factor", 0.5)] {
        if stream.uniform() < 0.5 {
            method.criteria.set(check, key, value.into()).unwrap();
        }
    }
    method
}

/// Runs of one layout are reduced several at once. Each comes out as when it is reduced alone, whatever is the matter
/// with it or with the others.
#[test]
fn runs_of_one_layout_come_out_as_each_alone() {
    let (mut seen, mut refused, mut kinds) = (Flags::default(), 0, std::collections::BTreeSet::new());
    for seed in 0..120 {
        let mut stream = Stream::new(seed, 11);
        let method = plain_method(&mut stream);
        let one = Columns::of(&[generated_run(&mut stream, "layout")]);
        let rows = one.run.len();
        let mut all = Columns::default();
        let runs = 21;
        for run in 0..runs {
            let tilt = if stream.uniform() < 0.05 { -1.0 } else { 1.0 + 0.02 * stream.normal() };
            for row in 0..rows {
                let (known, reading) = (one.nominal[row], one.absorbance[row]);
                let filled = if reading.is_nan() { 0.2 * if known.is_nan() { 0.0 } else { known } } else { reading };
                let lost = run > 0 && stream.uniform() < 0.001;
                all.run.push(run);
                all.position.push(one.position[row]);
                all.role.push(one.role[row]);
                all.replicate.push(one.replicate[row]);
                all.absorbance.push(if lost { f64::NAN } else { filled * tilt + 0.0003 * stream.normal() });
                all.nominal.push(known);
                all.dilution.push(one.dilution[row]);
            }
            let last = all.absorbance.len() - 1;
            let row = last - (stream.bits() % rows as u64) as usize;
            match pick(&mut stream, &[0, 0, 0, 1, 2, 3, 4]) {
                1 => all.dilution[row] = 7.0,
                2 => all.absorbance[row] = f64::INFINITY,
                3 => all.absorbance[row] = 3.0,
                4 if run > 3 => all.nominal[row] = 1.25,
                _ => {}
            }
        }
        let limit = ReplicateLimit { sd: 0.0008, rsd_percent: 1.0 };
        let options = |count| ColumnOptions { replicates: Some(limit), ..threads(count) };
        let table = columns::reduce(all.lent(), &method, &options(1)).unwrap();
        for (shuffle, count) in [(3, 1), (4, 2)] {
            let other = columns::reduce(all.shuffled(shuffle).lent(), &method, &options(count)).unwrap();
            let figures = |table: &ColumnTable| format!("{:?}", ColumnTable { errors: Vec::new(), ..table.clone() });
            assert_eq!(figures(&table), figures(&other), "seed {seed}, {count} threads");
        }
        let mut at = 0;
        for run in 0..runs as usize {
            let part = run * rows..(run + 1) * rows;
            let ColumnsRef { replicate, nominal, dilution, .. } = all.lent();
            let alone = ColumnsRef {
                run: &all.run[part.clone()],
                position: &all.position[part.clone()],
                role: &all.role[part.clone()],
                roles: Role::ALL,
                replicate: replicate.map(|column| &column[part.clone()]),
                absorbance: &all.absorbance[part.clone()],
                nominal: nominal.map(|column| &column[part.clone()]),
                dilution: dilution.map(|column| &column[part.clone()]),
            };
            let alone = columns::reduce(alone, &method, &options(1)).unwrap();
            refused += alone.errors.len();
            for i in 0..alone.len() {
                let place = format!("seed {seed}, run {run}, position {}", alone.position[i]);
                let bits = |table: &ColumnTable, i: usize| {
                    [table.value[i], table.u[i], table.lo[i], table.hi[i]].map(f64::to_bits)
                };
                assert_eq!(bits(&alone, i), bits(&table, at + i), "{place}");
                assert_eq!(
                    (alone.run[i], alone.position[i], alone.role[i], alone.status[i], alone.flags[i]),
                    (
                        table.run[at + i],
                        table.position[at + i],
                        table.role[at + i],
                        table.status[at + i],
                        table.flags[at + i]
                    ),
                    "{place}"
                );
                seen = seen | alone.flags[i];
                kinds.insert(alone.status[i]);
            }
            at += alone.len();
        }
        assert_eq!(at, table.len());
    }
    let all = Flags::ALL.iter().fold(Flags::default(), |all, (_, flag)| all | *flag);
    assert_eq!(seen, all, "seen: {seen}");
    assert!(refused > 20 && kinds.len() >= 6, "{refused} {kinds:?}");
}

#[test]
fn generated_runs_come_out_as_in_full() {
    let (mut reduced, mut refused, mut seen) = (0, 0, Flags::default());
    for seed in 0..400 {
        let mut stream = Stream::new(seed, 7);
        let method = generated_method(&mut stream);
        let run = generated_run(&mut stream, "generated");
        let columns = Columns::of(std::slice::from_ref(&run));
        let table = columns::reduce(columns.shuffled(seed).lent(), &method, &threads(1)).unwrap();
        let what = format!("seed {seed}, {} {}", method.calibration.shape.name(), method.calibration.noise.name());
        match reduce(&run, &method) {
            Ok(outcome) => {
                assert!(table.errors.is_empty(), "{what}: {:?}", table.errors);
                same(&table, 0, &outcome, &what);
                seen = table.flags.iter().fold(seen, |seen, flags| seen | *flags);
                reduced += 1;
            }
            Err(error) => {
                assert_eq!(table.errors.len(), 1, "{what}: {error}");
                assert_eq!(table.errors[0].1.problems()[0].what, error.problems()[0].what, "{what}");
                assert!(table.status.iter().all(|status| *status == Status::NotCalibrated));
                assert!(table.flags.iter().all(|flags| *flags == Flags::NOT_REDUCED));
                refused += 1;
            }
        }
    }
    // The generator must reach what is compared: every flag but those that only options or errors set.
    for (name, flag) in Flags::ALL {
        let expected = flag != Flags::HIGH_REPLICATE_SD && flag != Flags::NOT_REDUCED;
        assert_eq!(seen.contains(flag), expected, "{name}");
    }
    assert!(reduced > 300, "{reduced} reduced, {refused} refused");
}

/// Three runs: one whole, one without standards, one whose position has two roles.
#[test]
fn a_bad_run_stops_nobody_and_says_why() {
    let method = Method::from_toml(WATER_METHOD).unwrap();
    let run = plain(WATER);
    let outcome = reduce(&run, &method).unwrap();
    let mut columns = Columns::of(&[run.clone(), run.clone(), run]);
    let sample = Role::ALL.iter().position(|role| *role == Role::Sample).unwrap() as u32;
    let standard = Role::ALL.iter().position(|role| *role == Role::Standard).unwrap() as u32;
    let second = columns.run.iter().position(|run| *run == 2).unwrap();
    for row in 0..columns.run.len() {
        if columns.run[row] == 0 && columns.role[row] == standard {
            columns.role[row] = sample;
        }
    }
    columns.role[second] = sample;
    let table = columns::reduce(columns.lent(), &method, &threads(2)).unwrap();
    same(&table, 1, &outcome, "the whole one");
    let told: Vec<(u32, String)> = table.errors.iter().map(|(run, error)| (*run, error.to_string())).collect();
    assert_eq!(told.iter().map(|(run, _)| *run).collect::<Vec<u32>>(), [0, 2]);
    assert!(told[0].1.contains("no standards"), "{}", told[0].1);
    assert!(told[1].1.contains("column role") && told[1].1.contains("another role"), "{}", told[1].1);
    let bad = (0..table.len()).filter(|i| table.run[*i] != 1);
    assert!(bad.into_iter().all(|i| table.value[i].is_nan() && table.flags[i] == Flags::NOT_REDUCED));
}

#[test]
fn columns_that_do_not_go_together_are_refused() {
    let method = Method::from_toml(WATER_METHOD).unwrap();
    let good = Columns::of(&[plain(WATER)]);
    let error = |columns: ColumnsRef<'_>| columns::reduce(columns, &method, &threads(1)).unwrap_err().to_string();
    let told = error(ColumnsRef { run: &good.run[1..], nominal: Some(&[]), ..good.lent() });
    assert!(told.contains("run") && told.contains("nominal"), "{told}");
    let told = error(ColumnsRef { roles: &Role::ALL[..1], ..good.lent() });
    assert!(told.contains("role code 1 is not in a dictionary of 1"), "{told}");

    let mut extra = method.clone();
    let factor = groundstate::method::ExtraFactor { name: "recovery".into(), value: 1.1, u: 0.0 };
    extra.preparation.extra.push(factor);
    let told = columns::reduce(good.lent(), &extra, &threads(1)).unwrap_err().to_string();
    assert!(told.contains("preparation.extra") && told.contains("reduce_many"), "{told}");
    assert!(columns::reduce(ColumnsRef::default(), &method, &threads(1)).unwrap().is_empty());
}

/// Each of these is one mistake in one row, told with its row and column.
#[test]
fn a_mistake_in_a_row_is_told_with_its_place() {
    let method = Method::from_toml(WATER_METHOD).unwrap();
    let good = Columns::of(&[plain(WATER)]);
    let row = good.position.iter().position(|position| *position == 13).unwrap();
    type Mistake = (fn(&mut Columns, usize), &'static str);
    let mistakes: [Mistake; 6] = [
        (|columns, row| columns.absorbance[row] = f64::INFINITY, "column absorbance: inf is not a finite number"),
        (|columns, row| columns.nominal[row] = -1.0, "column nominal: -1 is not a content"),
        (|columns, row| columns.dilution[row] = 0.5, "column dilution: the factor 0.5 would concentrate"),
        (|columns, row| columns.replicate[row] = 2, "replicate 2 is there twice"),
        (|columns, row| columns.replicate[row] = u32::MAX, "with and without replicate numbers"),
        (|columns, _| columns.nominal[3] = f64::NAN, ""),
    ];
    for (make, wanted) in mistakes {
        let mut columns = good.clone();
        make(&mut columns, row);
        let table = columns::reduce(columns.lent(), &method, &threads(1)).unwrap();
        match table.errors.first() {
            Some((_, error)) => assert!(!wanted.is_empty() && error.to_string().contains(wanted), "{error}"),
            // One cell of a position may be empty: the others say it.
            None => assert!(wanted.is_empty(), "{wanted}"),
        }
    }
}

#[test]
fn scattered_replicates_are_flagged_above_both_limits() {
    let method = Method::from_toml(WATER_METHOD).unwrap();
    let columns = Columns::of(&[plain(WATER)]);
    let high = |sd: f64, rsd_percent: f64| {
        let replicates = Some(ReplicateLimit { sd, rsd_percent });
        let table = columns::reduce(columns.lent(), &method, &ColumnOptions { replicates, ..threads(1) }).unwrap();
        let flagged = (0..table.len()).filter(|i| table.flags[*i].contains(Flags::HIGH_REPLICATE_SD));
        flagged.map(|i| table.position[i]).collect::<Vec<u32>>()
    };
    let outcome = reduce(&plain(WATER), &method).unwrap();
    let expected = |sd: f64, rsd: f64| {
        let above = outcome.rows().iter().filter(|row| {
            let found = row.measurement.sd.unwrap();
            found > sd && 100.0 * found / row.measurement.mean.abs() > rsd
        });
        above.map(|row| row.position).collect::<Vec<u32>>()
    };
    for (sd, rsd) in [(0.0, 0.5), (0.0004, 0.5), (0.0004, 1.0), (0.1, 0.0)] {
        assert_eq!(high(sd, rsd), expected(sd, rsd), "{sd} {rsd}");
    }
    assert!(high(0.0004, 0.5).len() > 1 && high(0.1, 0.0).is_empty());
}

/// Methods that add nothing to the scatter about the curve, which most positions are reduced by the quick way under.
#[test]
fn plain_methods_come_out_as_in_full() {
    let mut reduced = 0;
    for seed in 0..200 {
        let mut stream = Stream::new(seed, 9);
        let mut method = generated_method(&mut stream);
        method.calibration.zeroing = Zeroing::Raw;
        method.calibration.reading_scatter = ReadingScatter::Model;
        method.calibration.resolution = None;
        method.calibration.stock = None;
        method.calibration.points = pick(&mut stream, &[PointKind::Readings, PointKind::Standards]);
        method.calibration.exclude.clear();
        method.preparation.u.dilution = None;
        let run = generated_run(&mut stream, "plain");
        let columns = Columns::of(std::slice::from_ref(&run));
        let sorted = columns::reduce(columns.lent(), &method, &threads(1)).unwrap();
        let table = columns::reduce(columns.shuffled(seed).lent(), &method, &threads(1)).unwrap();
        assert_eq!(format!("{table:?}"), format!("{sorted:?}"), "rows in another order");
        let Ok(outcome) = reduce(&run, &method) else { continue };
        same(&table, 0, &outcome, &format!("seed {seed}, {}", method.calibration.shape.name()));
        reduced += 1;
    }
    assert!(reduced > 100, "{reduced} runs of 200 were reduced");
}

#[test]
fn runs_of_one_shape_come_out_as_their_columns() {
    let mut stream = Stream::new(4, 4);
    let levels = [0.0, 0.5, 1.0, 2.0];
    let role: Vec<u32> = [0; 4].into_iter().chain((0..9).map(|i| u32::from(i % 4 == 3) + 1)).collect();
    let roles = [Role::Standard, Role::Sample, Role::Ccv];
    let true_value = |position: usize| match role[position] {
        0 => levels[position],
        1 => f64::NAN,
        _ => 1.0,
    };
    let nominal: Vec<f64> = (0..role.len()).map(true_value).collect();
    let (runs, replicates) = (70, 3);
    let mut absorbance = Vec::new();
    let mut dilution = Vec::new();
    for _ in 0..runs {
        for nominal in &nominal {
            let x = if nominal.is_nan() { 2.5 * stream.uniform() } else { *nominal };
            dilution.push(pick(&mut stream, &[1.0, 10.0, f64::NAN]));
            let reading = |stream: &mut Stream| 0.2 * x + 0.0005 * stream.normal();
            absorbance
                .extend((0..replicates).map(|_| if stream.uniform() < 0.02 { f64::NAN } else { reading(&mut stream) }));
        }
    }
    let shaped = columns::ShapedRef {
        replicates,
        role: &role,
        roles: &roles,
        absorbance: &absorbance,
        nominal: Some(Levels::Row(&nominal)),
        dilution: Some(Levels::Each(&dilution)),
    };
    let rows = || (0..absorbance.len()).map(|row| (row / role.len() / replicates, row / replicates % role.len()));
    let run: Vec<u32> = rows().map(|(run, _)| run as u32).collect();
    let position: Vec<u32> = rows().map(|(_, position)| position as u32 + 1).collect();
    let tidy = ColumnsRef {
        run: &run,
        position: &position,
        role: &rows().map(|(_, position)| role[position]).collect::<Vec<_>>(),
        roles: &roles,
        absorbance: &absorbance,
        nominal: Some(&rows().map(|(_, position)| nominal[position]).collect::<Vec<_>>()),
        dilution: Some(&rows().map(|(run, position)| dilution[run * role.len() + position]).collect::<Vec<_>>()),
        ..ColumnsRef::default()
    };
    let method = Method::new("Zn", ProfileName::General).unwrap();
    let found = columns::reduce_shaped(shaped, &method, &threads(2)).unwrap();
    let expected = columns::reduce(tidy, &method, &threads(1)).unwrap();
    assert_eq!(format!("{found:?}"), format!("{expected:?}"));
    assert_eq!(found.len(), runs * 9);
    let wrong = columns::ShapedRef { absorbance: &absorbance[1..], ..shaped };
    let error = columns::reduce_shaped(wrong, &method, &threads(1)).unwrap_err().to_string();
    assert!(error.contains("do not make runs of 13 x 3"), "{error}");
    let wrong = columns::ShapedRef { nominal: Some(Levels::Row(&nominal[1..])), ..shaped };
    assert!(columns::reduce_shaped(wrong, &method, &threads(1)).is_err());
}
