//! Whole-limit tests. The vectors V1, V2 and V5 are constructed (invented data), with figures worked in 40-digit arithmetic;
//! V3 is the rule's own example (from memory).

mod computation;
mod design;
mod laws;
mod life;
mod meaning;
mod verification;

use super::*;
use crate::detection::Date;
use crate::finding::{Code, Finding};

const SPIKES: [f64; 7] = [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194];
const BLANKS: [f64; 7] = [0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002];
const ND: Measured = Measured::NonDetect;

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn numbers(values: &[f64]) -> Vec<Measured> {
    values.iter().copied().map(Measured::from).collect()
}

fn limit(spikes: &[Measured], blanks: &[Measured]) -> Mdl {
    initial_from_values(spikes, blanks, &MdlOptions::default()).unwrap()
}

fn has(findings: &[Finding], code: Code) -> bool {
    findings.iter().any(|finding| finding.code == code)
}

fn sentence(findings: &[Finding], code: Code) -> String {
    findings.iter().find(|finding| finding.code == code).map(Finding::sentence).unwrap()
}

/// Every template names only facts that the finding has.
fn complete(findings: &[Finding]) {
    for finding in findings {
        assert!(!finding.sentence().contains("(not given)"), "{finding}");
    }
}

/// A study that meets every requirement: two instruments, four batches, four dates (invented data).
fn study() -> Vec<MdlResult> {
    let spikes = [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194, 0.0203];
    let blanks = [0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002, 0.0006];
    let days = ["2025-01-07", "2025-01-14", "2025-01-21", "2025-01-28"];
    let place = |i: usize, result: MdlResult| {
        let date = day(days[i / 2]);
        let instrument = if i.is_multiple_of(2) { "AA-1" } else { "AA-2" };
        result.batch(format!("B{}", i / 2)).prepared(date).analysed(date.plus_months(0).unwrap()).instrument(instrument)
    };
    let mut all: Vec<_> = spikes.iter().enumerate().map(|(i, x)| place(i, MdlResult::spike(*x).level(0.02))).collect();
    all.extend(blanks.iter().enumerate().map(|(i, x)| place(i, MdlResult::blank(*x))));
    all
}

fn facts() -> MdlOptions {
    MdlOptions { as_of: Some(day("2025-02-01")), initial_estimate: Some(0.005), ..MdlOptions::default() }
}
