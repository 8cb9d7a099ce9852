//! Published budgets, from the reference cases that every suite reads.

use serde_json::Value;

use super::*;
use crate::estimate::{Dof, Estimate};
use crate::glassware::{
    DilutionStep, Distribution, WATER_EXPANSION, combined, standard_uncertainty, temperature_half_width,
};

const A1: &str = include_str!("../../../../../python/groundstate/cases/quam-a1-standard.json");
const A5: &str = include_str!("../../../../../python/groundstate/cases/quam-a5-budget.json");
const H1: &str = include_str!("../../../../../python/groundstate/cases/gum-h1-end-gauge.json");

/// Products of a few factors, each step rounded once: fewer than 50 units in the last place.
const ROUNDED: f64 = 1e-14;

fn number(case: &Value, pointer: &str) -> f64 {
    let text = case.pointer(pointer).and_then(Value::as_str);
    text.unwrap_or_else(|| panic!("no {pointer}")).parse().unwrap()
}

/// Value and u of a term, by its name.
fn term(case: &Value, name: &str) -> (f64, f64) {
    let terms = case.pointer("/input/terms").and_then(Value::as_array).unwrap();
    let term = terms.iter().find(|term| term["name"] == name).unwrap_or_else(|| panic!("no term {name}"));
    let text = |key: &str| term.get(key).and_then(Value::as_str);
    let u = match (text("u"), text("distribution")) {
        (Some(u), _) => u.parse().unwrap(),
        (None, Some(distribution)) => {
            let distribution = match distribution {
                "rectangular" => Distribution::Rectangular,
                "triangular" => Distribution::Triangular,
                other => panic!("{other}"),
            };
            standard_uncertainty(number(term, "/half_width"), distribution).unwrap()
        }
        (None, None) => panic!("no u of {name}"),
    };
    (number(term, "/value"), u)
}

fn contribution(table: &Contributions, name: &str) -> f64 {
    let mut found = table.row(0).filter(|(ix, _)| table.sources()[ix.0 as usize].key.to_string().ends_with(name));
    found.next().unwrap_or_else(|| panic!("no contribution of {name}")).1
}

/// EURACHEM/CITAC Guide CG 4 (QUAM) 2012, Example A1: c = 1000 m P / V. A standard is made, so the mass stands above
/// the bar: it is a factor here, and the volume divides.
#[test]
fn quam_a1_cadmium_standard() {
    let case: Value = serde_json::from_str(A1).unwrap();
    let factor = |name: &str| {
        let (value, u) = term(&case, name);
        Factor::new(name, value, u).unwrap()
    };
    let (nominal, flask) = term(&case, "flask");
    let preparation = Preparation::new(Description {
        portion: Some(Portion::Volume(measured(nominal, flask))),
        final_volume: Some(exact(1000.0)),
        extra: ["mass", "purity", "repeatability", "temperature"].into_iter().map(factor).collect(),
        ..Description::default()
    })
    .unwrap();
    let result = apply(&preparation, &solutions(&[(1.0, 0.0)]), None);
    let Estimate { value, u, dof, .. } = result.get(0).unwrap();
    close(value, number(&case, "/expected/value"), ROUNDED);
    close(u, number(&case, "/expected/u"), ROUNDED);
    assert!(dof.is_infinite());
    for name in ["mass", "purity", "repeatability", "temperature"] {
        let expected = number(&case, &format!("/expected/contribution.{name}"));
        close(contribution(result.contributions(), &format!("factor:{name}")), expected, ROUNDED);
    }
    let expected = -number(&case, "/expected/contribution.flask");
    close(contribution(result.contributions(), "sample_volume"), expected, ROUNDED);

    // The same with the volume in one piece, as the Guide combines it: u(V) = 0.07 mL printed, 0.0665 unrounded.
    let temperature = temperature_half_width(100.0, 4.0, WATER_EXPANSION).unwrap();
    let parts = [flask, 0.02, standard_uncertainty(temperature, Distribution::Rectangular).unwrap()];
    let whole = Preparation::new(Description {
        portion: Some(Portion::Volume(measured(100.0, combined(&parts)))),
        final_volume: Some(exact(1000.0)),
        extra: vec![factor("mass"), factor("purity")],
        ..Description::default()
    });
    close(whole.unwrap().uncertainty().unwrap().0, number(&case, "/expected/u"), ROUNDED);
}

/// QUAM 2012 Example A5: r = c0 V_L / a_V x f_acid x f_time x f_temperature. The Guide prints u(r) = 0.0015 mg/dm2 with
/// the u(a_V) = 0.19 dm2 that it prints; its own components give u(a_V) = 0.152 and u(r) = 0.0014.
#[test]
fn quam_a5_leached_cadmium() {
    let case: Value = serde_json::from_str(A5).unwrap();
    let (c0, u_c0) = term(&case, "c0");
    let leached = |u_area: Option<f64>| {
        let (volume, u_volume) = term(&case, "volume");
        let (area, printed) = term(&case, "area");
        let factor = |name: &str| {
            let (value, u) = term(&case, name);
            Factor::new(name, value, u).unwrap()
        };
        let description = Description {
            portion: Some(Portion::Volume(measured(area, u_area.unwrap_or(printed)))),
            final_volume: Some(measured(volume, u_volume)),
            extra: ["acid", "time", "temperature"].into_iter().map(factor).collect(),
            ..Description::default()
        };
        apply(&Preparation::new(description).unwrap(), &solutions(&[(c0, u_c0)]), None)
    };
    let result = leached(None);
    close(result.values()[0], number(&case, "/expected/value"), ROUNDED);
    close(result.get(0).unwrap().u, number(&case, "/expected/u"), ROUNDED);
    for (name, key) in [("reading", "c0"), ("temperature", "temperature")] {
        let expected = number(&case, &format!("/expected/contribution.{key}"));
        close(contribution(result.contributions(), name), expected, ROUNDED);
    }
    let area = number(&case, "/expected/contribution.area");
    close(contribution(result.contributions(), "sample_volume"), -area, ROUNDED);
    assert_eq!(format!("{:.4}", result.get(0).unwrap().u), "0.0015");
    let components = leached(Some(0.152_092_943_809_182_6)); // quam-a5-area, recomputed
    close(components.get(0).unwrap().u, 0.001_419_305_900_149_54, ROUNDED);
}

/// JCGM 100:2008 H.1: u and effective degrees of freedom of six independent components (16.75, which the GUM
/// truncates to 16). The same components as relative uncertainties of a product have the same budget.
#[test]
fn gum_h1_effective_degrees_of_freedom() {
    let case: Value = serde_json::from_str(H1).unwrap();
    let terms = case.pointer("/input/terms").and_then(Value::as_array).unwrap();
    let extra = terms.iter().map(|given| {
        let name = given["name"].as_str().unwrap();
        let u = number(given, "/sensitivity").abs() * term(&case, name).1;
        // In units of 1e6 nm, so that each relative uncertainty is the contribution.
        let factor = Factor::new(name, 1.0, u / 1e6).unwrap();
        factor.with_dof(Dof::new(number(given, "/dof")).unwrap()).unwrap()
    });
    let preparation = Preparation::new(Description { extra: extra.collect(), ..Description::default() }).unwrap();
    let (u, dof) = preparation.uncertainty().unwrap();
    close(1e6 * u, number(&case, "/expected/u"), ROUNDED);
    close(dof.get(), number(&case, "/expected/dof"), ROUNDED);
}

/// A whole chain against the formula of relative variances (JCGM 100:2008 5.1.6), every input distinct.
#[test]
fn a_digest_with_every_source() {
    let step = DilutionStep::volumes(measured(5.0, 0.01), measured(50.0, 0.04)).unwrap();
    let preparation = Preparation::new(Description {
        dilution: Dilution::chain(vec![step, DilutionStep::factor(measured(4.0, 0.05)).unwrap()]).unwrap(),
        solids: Some(Solids::percent(85.2, 0.6).unwrap()),
        report: Some(ReportBasis::Dry),
        extra: vec![Factor::new("recovery", 1.02, 0.01).unwrap()],
        ..weighed(measured(1.0034, 0.0007), measured(100.0, 0.07))
    })
    .unwrap();
    let result = apply(&preparation, &solutions(&[(0.5, 0.003)]), None);
    close(result.values()[0], 0.5 * 100.0 / 1.0034 * 10.0 * 4.0 / 0.852 * 1.02, ROUNDED);
    let relative =
        [0.003 / 0.5, 0.0007 / 1.0034, 0.07 / 100.0, 0.01 / 5.0, 0.04 / 50.0, 0.05 / 4.0, 0.6 / 85.2, 0.01 / 1.02];
    close(result.get(0).unwrap().u, result.values()[0] * combined(&relative), ROUNDED);
    let budget = result.contributions().budget(0);
    assert_eq!(budget.len(), relative.len());
    close(budget.iter().map(|line| line.share).sum(), 1.0, ROUNDED);
    assert_eq!(budget[0].source, "run/1:dilution_2");
}
