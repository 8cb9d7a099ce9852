//! Limits for one sample, and what a spike added.

use super::*;
use crate::error::Kind;

fn stated<'a>(value: f64, unit: Unit, basis: LimitBasis, nominal: Option<&'a Nominal>) -> StatedLimit<'a> {
    StatedLimit { value, unit, basis: Some(basis), nominal, floor: LimitFloor::FollowFactor }
}

/// Semantics of an Appendix B MDL: it was found on whole preparations, so a sample prepared as they were keeps it, and
/// multiplying it by the whole factor would be wrong by that factor.
#[test]
fn an_appendix_b_mdl_follows_the_ratio_of_factors() {
    let nominal = Nominal::solid(1.0, 100.0).unwrap();
    let mdl = stated(2.0, Unit::MilligramPerKilogram, LimitBasis::SampleNominal, Some(&nominal));
    let as_nominal = solid(1.0, 100.0, None, Weighed::Dry, ReportBasis::Dry);
    let same = mdl.of(&as_nominal, None).unwrap();
    assert_eq!((same.unadjusted, same.ratio, same.adjusted), (2.0, 1.0, 2.0));

    // 2 g wet in 50 mL, fivefold, 80 % solids: (50/2 * 5 / 0.8) / 100 = 1.5625.
    let sample = Preparation::new(Description {
        dilution: Dilution::parse("1:5").unwrap(),
        solids: Some(Solids::percent(80.0, 0.0).unwrap()),
        report: Some(ReportBasis::Dry),
        ..weighed(exact(2.0), exact(50.0))
    })
    .unwrap();
    let limit = mdl.of(&sample, Some(Unit::MicrogramPerKilogram)).unwrap();
    assert_eq!((limit.unadjusted, limit.ratio, limit.adjusted), (2000.0, 1.5625, 3125.0));
    assert_eq!(limit.unit, Unit::MicrogramPerKilogram);
    // The shortcut: 2 mg/kg times the whole factor.
    close(sample.multiplier() * mdl.value / limit.adjusted * 1000.0, 100.0, 1e-15);
}

/// A water MDL of 40 CFR 136 Appendix B for a 200.7 digest, 100 mL to 50 mL (200.7 12.3).
#[test]
fn a_water_mdl_of_concentrated_digests() {
    let nominal = Nominal::liquid(100.0, 50.0).unwrap();
    let mdl = stated(5.0, Unit::MicrogramPerLitre, LimitBasis::SampleNominal, Some(&nominal));
    // Only 40 mL of sample were there.
    let limit = mdl.of(&liquid(40.0, 50.0, "1"), Some(Unit::MilligramPerLitre)).unwrap();
    close(limit.adjusted, 0.0125, 1e-15);
    assert_eq!(Nominal::as_it_came().multiplier().to_string(), "1");
}

#[test]
fn a_limit_of_the_solution_takes_the_whole_factor() {
    let limit = stated(0.02, Unit::MilligramPerLitre, LimitBasis::Solution, None);
    let found = limit.of(&solid(1.0, 100.0, None, Weighed::Wet, ReportBasis::AsReceived), None).unwrap();
    assert_eq!((found.unadjusted, found.unadjusted_unit), (0.02, Unit::MilligramPerLitre));
    assert_eq!((found.ratio, found.adjusted, found.unit), (100.0, 2.0, Unit::MilligramPerKilogram));
}

#[test]
fn a_floor_holds_where_more_was_taken_than_nominal() {
    let nominal = Nominal::solid(1.0, 100.0).unwrap();
    let more = solid(2.0, 100.0, None, Weighed::Wet, ReportBasis::AsReceived);
    let less = solid(0.5, 100.0, None, Weighed::Wet, ReportBasis::AsReceived);
    for (basis, value, unit) in [
        (LimitBasis::SampleNominal, 2.0, Unit::MilligramPerKilogram),
        (LimitBasis::Solution, 0.02, Unit::MilligramPerLitre),
    ] {
        let follows = stated(value, unit, basis, Some(&nominal));
        let held = StatedLimit { floor: LimitFloor::NeverBelowNominal, ..follows };
        let of = |limit: &StatedLimit<'_>, sample| limit.of(sample, None).unwrap();
        close(of(&follows, &more).adjusted, 1.0, 1e-15);
        close(of(&held, &more).adjusted, 2.0, 1e-15);
        assert!(of(&held, &more).held_at_nominal && !of(&held, &less).held_at_nominal);
        close(of(&held, &less).adjusted, 4.0, 1e-15);
        close(of(&held, &more).ratio, of(&follows, &more).ratio, 0.0);
    }
}

#[test]
fn limits_that_cannot_be_understood() {
    let sample = solid(1.0, 100.0, None, Weighed::Wet, ReportBasis::AsReceived);
    let nominal = Nominal::solid(1.0, 100.0).unwrap();
    let water = Nominal::liquid(100.0, 100.0).unwrap();
    let mdl = stated(2.0, Unit::MilligramPerKilogram, LimitBasis::SampleNominal, Some(&nominal));
    let floor = LimitFloor::NeverBelowNominal;
    let solution = stated(2.0, Unit::MilligramPerLitre, LimitBasis::Solution, None);
    for (limit, hint) in [
        (StatedLimit { basis: None, ..mdl }, "sample_nominal"),
        (StatedLimit { nominal: None, ..mdl }, "nominal mass or volume"),
        (StatedLimit { nominal: Some(&water), ..mdl }, "is of a liquid, the sample is a solid"),
        (StatedLimit { unit: Unit::MilligramPerLitre, ..mdl }, "not a unit for a solid"),
        (StatedLimit { unit: Unit::MilligramPerKilogram, ..solution }, "write sample_nominal"),
        (StatedLimit { floor, ..solution }, "needs the nominal preparation"),
        (StatedLimit { value: -1.0, ..mdl }, "not a number from 0 up"),
        (StatedLimit { value: f64::NAN, ..mdl }, "not a number from 0 up"),
    ] {
        let error = limit.of(&sample, None).unwrap_err().to_string();
        assert!(error.contains(hint), "{error}");
    }
    assert_eq!(mdl.of(&sample, Some(Unit::MilligramPerLitre)).unwrap_err().kind(), Kind::Unit);
    assert!(Nominal::solid(0.0, 100.0).is_err());
    for &basis in LimitBasis::ALL {
        assert_eq!(LimitBasis::parse(basis.name()).unwrap(), basis);
    }
    for &floor in LimitFloor::ALL {
        assert_eq!(LimitFloor::parse(floor.name()).unwrap(), floor);
    }
}

fn spike(volume_ml: f64, concentration: f64) -> Spike {
    Spike::Solution {
        volume_ml: measured(volume_ml, 0.01 * volume_ml),
        concentration: measured(concentration, 0.005 * concentration),
        unit: Unit::MilligramPerLitre,
    }
}

#[test]
fn what_a_spike_added_is_on_the_basis_of_the_result() {
    let run: Arc<str> = "run".into();
    let added = |spike: &Spike, preparation: &Preparation, to| {
        spike.added_to(preparation, &run, 1, to).map(|estimates| estimates.values()[0])
    };
    let fifty = spike(0.5, 100.0);
    close(fifty.micrograms().unwrap(), 50.0, 0.0);
    let wet = solid(0.5, 100.0, Some(80.0), Weighed::Wet, ReportBasis::AsReceived);
    close(added(&fifty, &wet, None).unwrap(), 100.0, 1e-15);
    let dry = solid(0.5, 100.0, Some(80.0), Weighed::Wet, ReportBasis::Dry);
    close(added(&fifty, &dry, None).unwrap(), 125.0, 1e-15);
    let dried = solid(0.5, 100.0, Some(80.0), Weighed::Dry, ReportBasis::AsReceived);
    close(added(&fifty, &dried, None).unwrap(), 80.0, 1e-15);
    // 50 ug on 100 mL is 0.5 mg/L of the sample, whatever the final volume and the dilution.
    for water in [liquid(100.0, 100.0, "1"), liquid(100.0, 50.0, "10")] {
        close(added(&fifty, &water, Some(Unit::MicrogramPerLitre)).unwrap(), 500.0, 1e-15);
    }
    let amount = Spike::Amount { micrograms: exact(50.0) };
    close(added(&amount, &wet, None).unwrap(), 100.0, 1e-15);

    assert!(added(&fifty, &Preparation::none(), None).unwrap_err().to_string().contains("spiked portion"));
    assert_eq!(added(&fifty, &wet, Some(Unit::MilligramPerLitre)).unwrap_err().kind(), Kind::Unit);
    let wrong = Spike::Solution { volume_ml: exact(1.0), concentration: exact(1.0), unit: Unit::MilligramPerKilogram };
    assert!(added(&wrong, &wet, None).unwrap_err().to_string().contains("spike_conc"));
}

/// The mass divides the spiked result and the amount added alike: they are correlated through it.
#[test]
fn a_spike_and_its_result_share_the_portion() {
    let preparation = Preparation::new(weighed(measured(0.5, 0.01), exact(100.0))).unwrap();
    let result = apply(&preparation, &solutions(&[(1.0, 0.0)]), None);
    let added = spike(0.5, 100.0).added_to(&preparation, &"run".into(), 1, None).unwrap();
    let both = Contributions::join(&[result.contributions(), added.contributions()]).unwrap();
    // Results 200 and 100 mg/kg, mass 2 %: 200 * 0.02 * 100 * 0.02.
    close(both.covariance(0, 1), 8.0, 1e-14);
    close(added.get(0).unwrap().u, 100.0 * (0.02_f64 * 0.02 + 0.01 * 0.01 + 0.005 * 0.005).sqrt(), 1e-14);
}

/// Mass balance of a spike into a digest: what is measured is share x native + added.
#[test]
fn a_post_digestion_spike_is_corrected_for_its_volume() {
    let (digest_ml, spike_ml, native, concentration) = (10.0, 0.1, 0.7, 40.0);
    let spike = post_digestion_spike(digest_ml, spike_ml, concentration).unwrap();
    let balance = (digest_ml * native + spike_ml * concentration) / (digest_ml + spike_ml);
    close(spike.digest_share * native + spike.added, balance, 1e-15);
    assert!(post_digestion_spike(10.0, 0.0, 40.0).is_err());
    assert!(post_digestion_spike(f64::NAN, 1.0, 40.0).is_err());
}
