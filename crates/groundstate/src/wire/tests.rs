use super::*;
use crate::criteria::ProfileName;
use crate::reduce::reduce;
use crate::run::Role;

const WATER: &str = include_str!("../../../../python/groundstate/demo/roof_water.csv");
const SEDIMENT: &str = include_str!("../../../../python/groundstate/demo/gutter_sediment.csv");

fn method() -> Method {
    Method::new("Zn", ProfileName::General).unwrap()
}

fn small() -> Outcome {
    let run = Run::builder("small")
        .calibration_blank(&[0.0004, 0.0002])
        .standard("S1", 0.5, &[0.0562, 0.0560])
        .standard("S2", 1.0, &[0.1125, 0.1121])
        .standard("S3", 2.0, &[0.2238, 0.2240])
        .check(Role::Ccv, "CCV", 1.0, &[0.1119])
        .sample("A", &[0.0871, 0.0868])
        .sample("B", &[f64::NAN])
        .fact("analyst", "R. Invented")
        .build()
        .unwrap();
    reduce(&run, &method()).unwrap()
}

fn demonstration() -> Outcome {
    let mut method = method();
    let run = Run::from_csv(WATER).unwrap();
    method.calibration.shape = crate::curve::Shape::Line;
    reduce(&run, &method).unwrap()
}

#[test]
fn what_is_written_reads_back_to_the_same_bytes() {
    for outcome in [small(), demonstration()] {
        for layout in [Layout::Pretty, Layout::Compact] {
            let text = outcome.to_json(layout);
            assert!(!text.contains("null"), "{text}");
            let back = Outcome::from_json(&text).unwrap();
            assert_eq!(back.to_json(layout), text);
            assert_eq!(format!("{:?}", back.rows), format!("{:?}", outcome.rows));
            assert_eq!(back.contributions, outcome.contributions);
            assert_eq!(back.findings, outcome.findings);
            assert_eq!(back.verdicts.checks, outcome.verdicts.checks);
            assert_eq!(format!("{:?}", back.calibrations), format!("{:?}", outcome.calibrations));
        }
        println!("{}", outcome.to_json(Layout::Pretty));
    }
}
