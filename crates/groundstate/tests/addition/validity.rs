//! What speaks against a series, at its edges.

use groundstate::addition::{Origin, SeriesOptions, Volumes};
use groundstate::curve::{Noise, Points, Stock, Zeroing};
use groundstate::estimate::{Contributions, Coverage, IntervalMethod, IntervalSet, Status};
use groundstate::finding::{CitationStatus, Code};
use groundstate::glassware::Measured;

use super::{SILVER, codes, fit, near, plain, silver};

#[test]
fn a_negative_native_stays_negative() {
    let series = plain(&[0.0, 1.0, 2.0, 3.0], &[-0.004, 0.098, 0.201, 0.297]);
    let estimate = series.estimate();
    assert!(estimate.value < 0.0 && estimate.u > 0.0 && estimate.status == Status::Negative);
    // Nothing can be said of additions in per cent of it.
    assert!(!codes(series.findings()).contains(&Code::AdditionSizes));
}

#[test]
fn a_flat_or_falling_series_has_a_status_and_no_number() {
    for y in [[0.3, 0.3, 0.3, 0.3], [0.4, 0.3, 0.2, 0.1]] {
        let series = plain(&[0.0, 1.0, 2.0, 3.0], &y);
        let estimate = series.estimate();
        assert!(estimate.value.is_nan() && estimate.u.is_nan());
        assert_eq!(estimate.status, Status::NotCalibrated);
        assert!(codes(series.findings()).contains(&Code::NotRising));
        for method in [IntervalMethod::Delta, IntervalMethod::Inversion] {
            assert_eq!(series.interval(Coverage::P95, method), IntervalSet::Empty);
        }
        assert!(series.slope_ratio(silver().line()).is_err());
    }
}

#[test]
fn linearity_is_judged_from_three_additions_on() {
    // (0, 0), (1, 1 + d), (2, 2): by hand r² = 1/(1 + d²/3).
    let r = |d: f64| plain(&[0.0, 1.0, 2.0], &[0.0, 1.0 + d, 2.0]);
    let edge = (3.0 * (1.0 / (0.995 * 0.995) - 1.0_f64)).sqrt();
    for (d, fails) in [(edge * (1.0 - 1e-9), false), (edge * (1.0 + 1e-9), true)] {
        let series = r(d);
        near(series.r().unwrap(), 1.0 / (1.0 + d * d / 3.0).sqrt(), 1e-14);
        let finding = series.findings().iter().find(|finding| finding.code == Code::AdditionsNotLinear);
        assert_eq!(finding.is_some(), fails, "{d}");
        if let Some(citation) = finding.and_then(|finding| finding.citation.as_ref()) {
            assert_eq!((citation.clause.as_ref(), citation.status), ("9.10.3", CitationStatus::Transcribed));
        }
    }
    // Four readings at two levels are no three points.
    let series = plain(&[0.0, 0.0, 1.0, 1.0], &[0.1, 0.3, 0.2, 0.4]);
    assert!(series.r().is_none() && !codes(series.findings()).contains(&Code::AdditionsNotLinear));
}

#[test]
fn a_bend_is_noticed() {
    let x = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
    let bent = x.map(|x: f64| 0.1 + 0.1 * x - 0.004 * x * x + if x > 2.5 { 1e-4 } else { -1e-4 });
    assert!(codes(plain(&x, &bent).findings()).contains(&Code::AdditionsCurved));
    assert!(!codes(silver().findings()).contains(&Code::AdditionsCurved));
}

/// 0.1 per unit on a native of 1: additions of a half, one and one and a half are those advised.
#[test]
fn additions_near_the_advised_sizes_pass() {
    let series = |x: [f64; 4]| {
        let y = [0.1, 0.1 + 0.1 * x[1] + 1e-5, 0.1 + 0.1 * x[2] - 1e-5, 0.1 + 0.1 * x[3]];
        codes(plain(&x, &y).findings())
    };
    assert!(!series([0.0, 0.5, 1.0, 1.5]).contains(&Code::AdditionSizes));
    assert!(!series([0.0, 0.6, 1.1, 1.7]).contains(&Code::AdditionSizes));
    assert!(series([0.0, 0.2, 1.0, 1.5]).contains(&Code::AdditionSizes));
    let small = series([0.0, 0.1, 0.2, 0.3]);
    assert!(small.contains(&Code::AdditionSizes) && small.contains(&Code::ExtrapolationLong));
    // An extrapolation as long as the largest addition is not longer.
    let exact = codes(plain(&[0.0, 0.5, 1.0], &[0.25, 0.375, 0.5]).findings());
    assert!(!exact.contains(&Code::ExtrapolationLong));
}

#[test]
fn an_additive_signal_is_always_named_with_its_effect() {
    for zeroing in [Zeroing::Raw, Zeroing::BlankSubtracted(0.001), Zeroing::Autozeroed(0.0)] {
        let series = fit(&SILVER.0, &SILVER.1, &SeriesOptions { zeroing, ..SeriesOptions::default() });
        let finding = series.findings().iter().find(|one| one.code == Code::AdditiveNotCorrected).unwrap();
        assert!(finding.sentence().contains("each 0.001 of it adds 0.0536398 mg/L"), "{}", finding.sentence());
    }
}

#[test]
fn a_perfect_fit_is_not_certain_in_silence() {
    let series = plain(&[0.0, 0.5, 1.0], &[0.25, 0.375, 0.5]);
    assert!(codes(series.findings()).contains(&Code::PerfectFit));
}

#[test]
fn bad_input_says_what_and_where() {
    let error = |x: &[f64], y: &[f64], options: &SeriesOptions| match Points::from_readings(x, y) {
        Ok(points) => groundstate::addition::Series::fit(&points, options).unwrap_err().to_string(),
        Err(error) => error.to_string(),
    };
    let plain = SeriesOptions::default();
    assert!(error(&[0.0, 0.0], &[0.1, 0.2], &plain).contains("1 level"));
    assert!(error(&[0.0, -1.0], &[0.1, 0.2], &plain).contains("element 1"));
    assert!(error(&[0.0, 1.0], &[0.1, f64::NAN], &plain).contains("absorbance"));
    let initial = Measured::exact("initial", 10.0).unwrap();
    let growing = |added: Vec<f64>| SeriesOptions {
        volumes: Volumes::Changing { initial: initial.clone(), added },
        ..SeriesOptions::default()
    };
    assert!(error(&[0.0, 1.0], &[0.1, 0.2], &growing(vec![0.0])).contains("1 volumes added for 2 points"));
    assert!(error(&[0.0, 1.0], &[0.1, 0.2], &growing(vec![0.0, -0.1])).contains("element 1"));
    for zeroing in [Zeroing::BlankSubtracted(-1.0), Zeroing::Autozeroed(f64::NAN)] {
        assert!(error(&[0.0, 1.0], &[0.1, 0.2], &SeriesOptions { zeroing, ..plain.clone() }).contains("zeroing"));
    }
    let stocks = vec![Stock { name: "A".into(), relative_u: f64::INFINITY }];
    assert!(error(&[0.0, 1.0], &[0.1, 0.2], &SeriesOptions { stocks, ..plain }).contains("stock"));
    // Zero weights: all additions at one level but zero.
    let noise = Noise::InverseX;
    assert!(error(&[0.0, 0.0], &[0.1, 0.2], &SeriesOptions { noise, ..SeriesOptions::default() }).contains("level"));
}

/// Series of one stock are correlated through it; those of the same figures at two positions through nothing.
#[test]
fn series_are_told_apart_by_where_they_belong() {
    let at = |position: u32, stock: &str| {
        let stocks = vec![Stock { name: stock.into(), relative_u: 0.01 }];
        let origin = Some(Origin { run: "run".into(), position });
        fit(&SILVER.0, &SILVER.1, &SeriesOptions { stocks, origin, ..SeriesOptions::default() })
    };
    let covariance = |a: &groundstate::addition::Series, b: &groundstate::addition::Series| {
        let parts = [a.estimates().contributions(), b.estimates().contributions()];
        Contributions::join(&parts).unwrap().covariance(0, 1)
    };
    let (one, two, other) = (at(1, "A"), at(9, "A"), at(9, "B"));
    let stock = 0.01 * one.estimate().value;
    near(covariance(&one, &two), stock * stock, 1e-12);
    assert!(covariance(&one, &other).abs() <= 0.0);
    near(covariance(&one, &one), one.estimate().u * one.estimate().u, 1e-12);
}
