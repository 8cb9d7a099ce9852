//! The factors that methods print, every one, and the descriptions that are refused.

use super::*;
use crate::error::Kind;
use crate::finding::Subject;

/// A handful of roundings in a product: a few units in the last place.
const ROUNDED: f64 = 1e-15;

/// EPA 200.7 12.3 and 200.9 12.3: 100 mL of water to 50 mL. SW-846 3005A 7.4 and 3010A: 100 mL to 100 mL.
#[test]
fn water_digests() {
    close(liquid(100.0, 50.0, "1").multiplier(), 0.5, 0.0);
    close(liquid(100.0, 100.0, "1").multiplier(), 1.0, 0.0);
    close(liquid(100.0, 50.0, "5/50").multiplier(), 5.0, 0.0);
}

/// SW-846 7000B 12.1.1, result = A (C + B) / C. The legend printed there makes B the starting sample volume and C the
/// final volume; only C the aliquot and B the diluent give the physics. 10 mL of sample made up to 100 mL: tenfold.
#[test]
fn diluted_liquids_and_the_printed_legend() {
    let (aliquot, flask) = (10.0, 100.0);
    let diluted = Preparation::new(Description { dilution: Dilution::parse("10/100").unwrap(), ..Default::default() });
    let diluent = flask - aliquot;
    close(diluted.unwrap().multiplier(), (aliquot + diluent) / aliquot, ROUNDED);
    let as_printed = (flask + aliquot) / flask;
    close(as_printed, 1.1, ROUNDED); // a tenfold dilution is not this
}

/// SW-846 7000B 12.1.2 and EPA 200.7 12.5: C (mg/L) V (L) D / W (kg). EPA 200.7 9.4.2: 1 g in 100 mL makes 1 mg/L
/// 100 mg/kg, and 1 ug/L 0.1 mg/kg.
#[test]
fn solids_as_received() {
    let preparation = solid(1.0, 100.0, None, Weighed::Wet, ReportBasis::AsReceived);
    close(preparation.multiplier(), 100.0, 0.0);
    assert_eq!(preparation.result_unit(Unit::MilligramPerLitre).unwrap(), Unit::MilligramPerKilogram);
    let result = apply(&preparation, &solutions(&[(1.0, 0.0)]), None);
    assert_eq!((result.values(), result.unit()), (&[100.0][..], Unit::MilligramPerKilogram));

    let low = Estimates::new(
        vec![1.0],
        vec![Status::InRange],
        Unit::MicrogramPerLitre,
        solutions(&[(1.0, 0.0)]).contributions().clone(),
    );
    let result = apply(&preparation, &low.unwrap(), Some(Unit::MilligramPerKilogram));
    close(result.values()[0], 0.1, 0.0);
    // In kilograms and litres, as the methods write it.
    let (c, v, d, w) = (2.5, 0.05, 10.0, 0.0004);
    let preparation = Preparation::new(Description {
        dilution: Dilution::parse("5/50").unwrap(),
        ..weighed(exact(1000.0 * w), exact(1000.0 * v))
    });
    close(apply(&preparation.unwrap(), &solutions(&[(c, 0.0)]), None).values()[0], c * v * d / w, ROUNDED);
}

/// SW-846 6010D 12.2: C V / (W S) where the mass is wet and the result dry; the other three cases are its algebra.
#[test]
fn the_two_questions_of_a_solid() {
    use ReportBasis::{AsReceived, Dry as OfDry};
    use Weighed::{Dry, Wet};
    for (state, report, factor) in
        [(Wet, OfDry, 1.0 / 0.8), (Wet, AsReceived, 1.0), (Dry, OfDry, 1.0), (Dry, AsReceived, 0.8)]
    {
        let preparation = solid(1.0, 100.0, Some(80.0), state, report);
        close(preparation.multiplier(), 100.0 * factor, ROUNDED);
        let findings = preparation.findings(&Subject::Position(1));
        let used = state == Wet && report == OfDry || state == Dry && report == AsReceived;
        assert_eq!(findings.len(), usize::from(!used));
        if !used {
            assert_eq!(findings[0].code.name(), "percent_solids_not_used");
            assert!(findings[0].sentence().starts_with("the 80 % solids do not enter"), "{}", findings[0]);
        }
        // Dry matter alone: all four are the same.
        close(solid(1.0, 100.0, Some(100.0), state, report).multiplier(), 100.0, 0.0);
    }
    // 6010D 12.2 with figures: 3.2 mg/L, 100 mL, 1.25 g wet, 64 %: 3.2 * 0.1 / (0.00125 * 0.64).
    let result = apply(&solid(1.25, 100.0, Some(64.0), Wet, OfDry), &solutions(&[(3.2, 0.0)]), None);
    close(result.values()[0], 400.0, ROUNDED);
}

fn names(description: Description) -> Vec<String> {
    let error = Preparation::new(description).unwrap_err();
    assert_eq!(error.kind(), Kind::Argument);
    assert!(error.problems().iter().all(|problem| problem.help.is_some()), "{error}");
    error.problems().iter().filter_map(|problem| problem.place.name.clone()).collect()
}

#[test]
fn open_questions_and_contradictions_are_told_at_once() {
    let mass = || Some(Portion::Mass(exact(1.0)));
    let solids = || Some(Solids::percent(80.0, 0.0).unwrap());
    assert_eq!(names(Description { portion: mass(), ..Default::default() }), ["final_volume_ml", "weighed", "report"]);
    let dry = Description { report: Some(ReportBasis::Dry), ..weighed(exact(1.0), exact(100.0)) };
    assert_eq!(names(dry), ["percent_solids"]);
    let received = Description { weighed: Some(Weighed::Dry), ..weighed(exact(1.0), exact(100.0)) };
    assert_eq!(names(received), ["percent_solids"]);
    let volume = Description { portion: Some(Portion::Volume(exact(100.0))), solids: solids(), ..Default::default() };
    assert_eq!(names(volume), ["final_volume_ml", "percent_solids"]);
    let nothing = Description {
        final_volume: Some(exact(100.0)),
        weighed: Some(Weighed::Wet),
        report: Some(ReportBasis::Dry),
        ..Default::default()
    };
    assert_eq!(names(nothing), ["final_volume_ml", "weighed", "report"]);
    assert!(Portion::of(Some(exact(1.0)), Some(exact(1.0))).is_err());
}

#[test]
fn solids_are_never_applied_twice() {
    for name in ["percent solids", "Dry_Weight", "moisture"] {
        let twice = Description {
            solids: Some(Solids::percent(80.0, 0.0).unwrap()),
            report: Some(ReportBasis::Dry),
            extra: vec![Factor::new(name, 1.25, 0.0).unwrap()],
            ..weighed(exact(1.0), exact(100.0))
        };
        let error = Preparation::new(twice).unwrap_err().to_string();
        assert!(error.contains("apply the solids twice"), "{error}");
    }
    let twice = Description {
        extra: vec![Factor::new("recovery", 1.02, 0.0).unwrap(), Factor::new("recovery", 1.02, 0.0).unwrap()],
        ..Default::default()
    };
    assert_eq!(names(twice), ["extra"]);
    assert!(Factor::new(" ", 1.0, 0.0).is_err());
    assert!(Factor::new("recovery", 0.0, 0.0).is_err());
}

#[test]
fn extreme_multipliers_are_refused() {
    let description = weighed(exact(1e-200), exact(1e200));
    assert!(Preparation::new(description).unwrap_err().to_string().contains("too large or too small"));
    let description = weighed(exact(1e200), exact(1e-200));
    assert!(Preparation::new(description).is_err());
}

#[test]
fn units_of_the_wrong_kind_are_refused() {
    let run: Arc<str> = "run".into();
    let origin = Origin { run: &run, positions: &[1], prepared_at: None };
    let solution = solutions(&[(1.0, 0.1)]);
    let of_solid = solid(1.0, 100.0, None, Weighed::Wet, ReportBasis::AsReceived);
    let error = of_solid.apply(&solution, origin, Some(Unit::MilligramPerLitre)).unwrap_err();
    assert_eq!(error.kind(), Kind::Unit);
    assert!(error.to_string().contains("not a unit for a solid"), "{error}");
    let error = Preparation::none().apply(&solution, origin, Some(Unit::MilligramPerKilogram)).unwrap_err();
    assert!(error.to_string().contains("not a unit for a liquid"), "{error}");
    let twice = of_solid.apply(&apply(&of_solid, &solution, None), origin, None).unwrap_err();
    assert!(twice.to_string().contains("mass per volume, not in mg/kg"), "{twice}");
    let short = Origin { positions: &[], ..origin };
    assert!(Preparation::none().apply(&solution, short, None).is_err());
    let mixed = [of_solid, Preparation::none()];
    let two = solutions(&[(1.0, 0.1), (1.0, 0.1)]);
    let both = Origin { positions: &[1, 2], ..origin };
    assert!(apply_each(&two, &mixed, both, None).unwrap_err().to_string().contains("no common unit"));
    assert!(apply_each(&two, &mixed[..1], both, None).is_err());
}

#[test]
fn every_unit_of_a_solution_has_its_unit_of_a_solid() {
    let preparation = solid(1.0, 1000.0, None, Weighed::Wet, ReportBasis::AsReceived);
    for &unit in Unit::ALL {
        let Ok(result) = preparation.result_unit(unit) else { continue };
        // 1 g in 1 L: 1 mg/L is 1000 mg/kg, and so for every unit by its size in mg/L and mg/kg.
        let left = unit.factor_to(Unit::MilligramPerLitre).unwrap();
        let right = result.factor_to(Unit::MilligramPerKilogram).unwrap();
        close(left, right, 0.0);
        assert_eq!(Preparation::none().result_unit(unit).unwrap(), unit);
    }
}
