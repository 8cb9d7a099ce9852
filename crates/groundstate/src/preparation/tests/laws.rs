//! Laws that hold for every preparation.

use proptest::prelude::*;

use super::*;
use crate::glassware::DilutionStep;

fn quantity(low: f64, high: f64) -> impl Strategy<Value = Measured> {
    let item = prop::option::of(prop::sample::select(vec!["A", "B", "C"]));
    (low..high, 0.0..0.05_f64, 0.0..0.02_f64, item).prop_map(|(value, relative, own, item)| {
        let plain = measured(value, relative * value).with_repeatability(own * value).unwrap();
        match item {
            Some(item) => plain.with_item(item).unwrap(),
            None => plain,
        }
    })
}

fn steps() -> impl Strategy<Value = Vec<DilutionStep>> {
    let step = (quantity(1.0, 10.0), quantity(20.0, 100.0))
        .prop_map(|(aliquot, flask)| DilutionStep::volumes(aliquot, flask).unwrap());
    prop::collection::vec(step, 0..4)
}

fn preparation() -> impl Strategy<Value = Preparation> {
    let state = prop::sample::select(Weighed::ALL);
    let report = prop::sample::select(ReportBasis::ALL);
    let solids = (5.0..100.0_f64, 0.0..2.0_f64);
    (quantity(0.1, 5.0), quantity(25.0, 250.0), steps(), solids, state, report, 0.5..2.0_f64).prop_map(
        |(mass, final_volume, steps, (percent, u), state, report, factor)| {
            Preparation::new(Description {
                dilution: Dilution::chain(steps).unwrap(),
                solids: Some(Solids::percent(percent, u).unwrap()),
                weighed: Some(state),
                report: Some(report),
                extra: vec![Factor::new("recovery", factor, 0.01).unwrap()],
                ..weighed(mass, final_volume)
            })
            .unwrap()
        },
    )
}

proptest! {
    // About 20 roundings in a value, as many in a contribution.
    #[test]
    fn values_and_uncertainties_scale_and_shares_sum(
        preparation in preparation(), value in -10.0..10.0_f64, u in 0.0..1.0_f64, scale in 0.01..100.0_f64,
    ) {
        let one = apply(&preparation, &solutions(&[(value, u), (scale * value, scale * u)]), None);
        prop_assert!((one.values()[0] - value * preparation.multiplier()).abs() <= 1e-14 * one.values()[0].abs());
        let [first, second] = [0, 1].map(|i| one.get(i).unwrap());
        prop_assert!((second.value - scale * first.value).abs() <= 1e-13 * second.value.abs());
        prop_assert!((second.u - scale * first.u).abs() <= 1e-13 * second.u);
        for i in [0, 1] {
            let total: f64 = one.contributions().row(i).map(|(_, c)| c * c).sum();
            let u = one.get(i).unwrap().u;
            prop_assert!((total - u * u).abs() <= 1e-13 * u * u);
        }
    }

    // Reading u of 0: the result's relative u is that of the multiplier, and (JCGM 100:2008 5.1.6) adding a reading
    // adds its relative variance.
    #[test]
    fn relative_variances_add(preparation in preparation(), value in 0.1..10.0_f64, relative in 0.0..0.2_f64) {
        let result = apply(&preparation, &solutions(&[(value, relative * value)]), None).get(0).unwrap();
        let own = preparation.uncertainty().unwrap().0 / preparation.multiplier();
        let expected = own * own + relative * relative;
        prop_assert!(((result.u / result.value) * (result.u / result.value) - expected).abs() <= 1e-12 * expected);
    }

    // With every quantity named, two positions share all of the preparation and nothing of the reading.
    #[test]
    fn named_items_correlate_and_unnamed_do_not(value in 0.1..10.0_f64, relative in 0.001..0.05_f64, named in any::<bool>()) {
        let volume = measured(100.0, 100.0 * relative);
        let volume = if named { volume.with_item("flask").unwrap() } else { volume };
        let preparation = Preparation::new(weighed(exact(1.0), volume)).unwrap();
        let result = apply(&preparation, &solutions(&[(value, 0.0), (value, 0.0)]), None);
        let u = result.get(0).unwrap().u;
        let expected = if named { u * u } else { 0.0 };
        prop_assert!((result.contributions().covariance(0, 1) - expected).abs() <= 1e-14 * u * u);
    }

    // Two digests in a row are one with the product of the factors.
    #[test]
    fn dilutions_multiply(first in steps(), second in steps()) {
        let of = |steps: Vec<DilutionStep>| Preparation::new(Description {
            dilution: Dilution::chain(steps).unwrap(),
            ..Description::default()
        }).unwrap().multiplier();
        let whole = of(first.iter().chain(&second).cloned().collect());
        let product = of(first) * of(second);
        prop_assert!((whole - product).abs() <= 1e-14 * product);
    }

    // The order of the rows has no bearing on any of them.
    #[test]
    fn rows_are_independent_of_their_order(preparation in preparation(), value in -5.0..5.0_f64) {
        let (forth, back) = (solutions(&[(value, 0.1), (2.0, 0.2)]), solutions(&[(2.0, 0.2), (value, 0.1)]));
        let (forth, back) = (apply(&preparation, &forth, None), apply(&preparation, &back, None));
        for (i, j) in [(0, 1), (1, 0)] {
            let (left, right) = (forth.get(i).unwrap(), back.get(j).unwrap());
            prop_assert_eq!(left.value.to_bits(), right.value.to_bits());
            prop_assert!((left.u - right.u).abs() <= 1e-14 * left.u);
        }
    }

    // A ratio of limits is the ratio of the results that the same solution gives.
    #[test]
    fn limits_scale_as_results_do(preparation in preparation(), mass in 0.1..5.0_f64, volume in 10.0..500.0_f64) {
        let nominal = Nominal::solid(mass, volume).unwrap();
        let limit = StatedLimit {
            value: 1.0,
            unit: Unit::MilligramPerKilogram,
            basis: Some(LimitBasis::SampleNominal),
            nominal: Some(&nominal),
            floor: LimitFloor::FollowFactor,
        };
        let of_solution = StatedLimit {
            value: mass / volume,
            unit: Unit::MilligramPerLitre,
            basis: Some(LimitBasis::Solution),
            ..limit
        };
        let [one, other] = [limit, of_solution].map(|limit| limit.of(&preparation, None).unwrap().adjusted);
        prop_assert!((one - other).abs() <= 1e-13 * one);
    }
}
