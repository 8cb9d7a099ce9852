//! A run of many positions takes as long as many runs of few: a search through the run for each of its positions would
//! keep this test busy for minutes.

#![cfg(feature = "text")]

use groundstate::criteria::ProfileName;
use groundstate::method::Method;
use groundstate::outcome::Outcome;
use groundstate::reduce::reduce;
use groundstate::run::Run;

/// Blocks of a calibration, two verifications, samples prepared under their own names, a blank, a duplicate by label.
fn long(blocks: usize) -> Outcome {
    let mut csv =
        String::from("position,role,label,nominal,absorbance,of,preparation_id,prep_batch,volume_ml,final_volume_ml\n");
    let mut position = 0;
    let mut add = |rest: String| {
        position += 1;
        csv.push_str(&format!("{position},{rest}\n"));
    };
    for block in 0..blocks {
        for (label, nominal, signal) in [("S1", 0.5, 0.0562), ("S2", 1.0, 0.1121), ("S3", 2.0, 0.2241)] {
            add(format!("standard,{label},{nominal},{signal},,,,,"));
        }
        add("icv,ICV,1,0.1122,,,,,".to_owned());
        for sample in 0..14 {
            let signal = 0.06 + 0.01 * f64::from(sample);
            add(format!("sample,W{block}-{sample},,{signal},,P{block}-{sample},B{block},50,50"));
        }
        add(format!("method_blank,MB{block},,0.0003,,,B{block},,"));
        add(format!("duplicate,D{block},,0.0602,W{block}-0,,B{block},50,50"));
    }
    let run = Run::from_csv(&csv).unwrap();
    reduce(&run, &Method::new("Zn", ProfileName::General).unwrap()).unwrap()
}

#[test]
fn a_run_of_forty_thousand_positions_is_reduced_like_one_of_twenty() {
    let (short, long) = (long(1), long(2_000));
    assert_eq!(long.rows().len(), 2_000 * short.rows().len());
    let text = |outcome: &Outcome, from: usize| -> Vec<String> {
        outcome.rows()[from..from + short.rows().len()].iter().map(|row| row.text.clone()).collect()
    };
    let last = long.rows().len() - short.rows().len();
    assert_eq!((text(&long, 0), text(&long, last)), (text(&short, 0), text(&short, 0)));
    let verdict = |outcome: &Outcome| outcome.standing();
    assert_eq!(verdict(&long), verdict(&short));
    assert_eq!(long.rows()[last].segment, 2_000);
}
