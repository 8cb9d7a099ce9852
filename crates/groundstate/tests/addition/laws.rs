//! Laws that every addition series obeys, whatever the data.

use groundstate::addition::{Series, SeriesOptions, Volumes};
use groundstate::curve::{Noise, Points};
use groundstate::estimate::{Coverage, IntervalMethod, IntervalSet};
use groundstate::glassware::Measured;
use proptest::prelude::*;

use super::fit;

/// Additions and signals of a rising series with a little scatter, native from a tenth below zero to twice the top.
fn series() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    let steps = prop::collection::vec(0.1_f64..1.0, 3..8);
    (steps, prop::collection::vec(-1.0_f64..1.0, 9), 0.05_f64..0.5, -0.1_f64..2.0, 1e-4_f64..1e-2).prop_map(
        |(steps, scatter, slope, native, noise)| {
            let mut x = vec![0.0];
            steps.iter().for_each(|step| x.push(x[x.len() - 1] + step));
            let top = x[x.len() - 1];
            let y = x.iter().zip(&scatter).map(|(x, e)| slope * (x + native * top + noise * top * e)).collect();
            (x, y)
        },
    )
}

fn noises() -> impl Strategy<Value = Noise> {
    prop_oneof![Just(Noise::Equal), Just(Noise::InverseX), Just(Noise::InverseX2)]
}

fn with(noise: &Noise) -> SeriesOptions {
    SeriesOptions { noise: noise.clone(), ..SeriesOptions::default() }
}

/// Nine digits of the size of the series: the extrapolation loses some where the native is small.
fn same(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale.max(a.abs())
}

fn scaled(values: &[f64], by: f64) -> Vec<f64> {
    values.iter().map(|value| value * by).collect()
}

proptest! {
    #[test]
    fn a_change_of_units_changes_only_the_unit(
        (x, y) in series(), noise in noises(), a in 0.01_f64..100.0, b in 0.01_f64..100.0,
    ) {
        let one = fit(&x, &y, &with(&noise)).estimate();
        let two = fit(&scaled(&x, a), &scaled(&y, b), &with(&noise)).estimate();
        let top = a * x[x.len() - 1];
        prop_assert!(same(two.value, a * one.value, top) && same(two.u, a * one.u, a * one.u), "{one:?} {two:?}");
        prop_assert_eq!(one.dof, two.dof);
    }

    #[test]
    fn order_does_not_matter((x, y) in series(), noise in noises(), turn in 1_usize..8) {
        let turned = |values: &[f64]| {
            let mut values = values.to_vec();
            let by = turn % values.len();
            values.rotate_left(by);
            values
        };
        let one = fit(&x, &y, &with(&noise)).estimate();
        let two = fit(&turned(&x), &turned(&y), &with(&noise)).estimate();
        prop_assert!(same(one.value, two.value, x[x.len() - 1]) && same(one.u, two.u, one.u));
    }

    /// Nothing added in volume: amounts over V0 at an equal volume, to the last digits.
    #[test]
    fn a_volume_that_does_not_change_is_equal(
        (x, y) in series(), noise in noises(), volume in 0.5_f64..200.0,
    ) {
        let initial = Measured::exact("initial", volume).unwrap();
        let volumes = Volumes::Changing { initial, added: vec![0.0; x.len()] };
        let changing = fit(&scaled(&x, volume), &y, &SeriesOptions { volumes, ..with(&noise) }).estimate();
        let equal = fit(&x, &y, &with(&noise)).estimate();
        prop_assert!(same(changing.value, equal.value, x[x.len() - 1]) && same(changing.u, equal.u, equal.u));
    }

    /// Once the sample is in the flask, an addition that it already holds is found as well.
    #[test]
    fn counting_additions_from_elsewhere_moves_the_value_only((x, y) in series(), by in 0.0_f64..5.0) {
        let moved: Vec<f64> = x.iter().map(|x| x + by).collect();
        let one = fit(&x, &y, &SeriesOptions::default()).estimate();
        let two = fit(&moved, &y, &SeriesOptions::default()).estimate();
        let scale = x[x.len() - 1] + by;
        prop_assert!(same(one.value - by, two.value, scale) && same(one.u, two.u, one.u));
    }

    /// The set holds the estimate; where it is finite and the scatter small it is the delta interval.
    #[test]
    fn the_set_holds_the_estimate((x, y) in series(), noise in noises()) {
        let series = fit(&x, &y, &with(&noise));
        let value = series.estimate().value;
        let set = series.interval(Coverage::P95, IntervalMethod::Inversion);
        prop_assert!(set.contains(value), "{set:?} {value}");
        if let IntervalSet::Outside { below, above } = set {
            prop_assert!(below < above);
        }
    }

    /// Twice the data of the same scatter: the value stays.
    #[test]
    fn repeating_every_reading_keeps_the_value((x, y) in series()) {
        let twice = |values: &[f64]| [values, values].concat();
        let one = fit(&x, &y, &SeriesOptions::default()).estimate();
        let points = Points::from_readings(&twice(&x), &twice(&y)).unwrap();
        let two = Series::fit(&points, &SeriesOptions::default()).unwrap().estimate();
        prop_assert!(same(one.value, two.value, x[x.len() - 1]));
        // u² = (sse/dof) q/2 on 2 n points.
        let n = x.len() as f64;
        prop_assert!(same(two.u, one.u * ((n - 2.0) / (2.0 * n - 2.0)).sqrt(), one.u));
    }
}
