//! Whether an addition series can be believed (SW-846 Method 7000B, 9.10).

use super::series::Series;
use crate::curve::{Points, Zeroing};
use crate::estimate::{Coverage, IntervalMethod};
use crate::finding::{Citation, Code, Finding, Subject};

/// The rule that an addition series follows.
pub(super) const fn m7000b(clause: &'static str) -> Citation {
    Citation::transcribed("SW-846 Method 7000B", "Revision 2, February 2007", clause)
}

/// Smallest correlation coefficient of a valid series (7000B, 9.10.3).
const LEAST_R: f64 = 0.995;

/// What speaks for and against the series.
pub(super) fn findings(series: &Series) -> Vec<Finding> {
    let mut findings = Vec::new();
    let unit = series.options().unit.name();
    let line = series.line();
    // The guard keeps a rounding error of r from failing an r of exactly the limit.
    if let Some(r) = series.r().filter(|r| *r < LEAST_R * (1.0 - 1e-12)) {
        let finding = Finding::new(Code::AdditionsNotLinear, Subject::Run).with("r", r).with("least", LEAST_R);
        findings.push(finding.citing(m7000b("9.10.3")));
    }
    if let Some(test) = line.mandel().filter(|test| test.p < 0.05) {
        let finding = Finding::new(Code::AdditionsCurved, Subject::Run);
        findings.push(finding.with("statistic", test.statistic).with("p", test.p).citing(m7000b("9.10.3")));
    }
    let estimate = series.estimate();
    if !estimate.status.has_value() {
        return findings;
    }
    findings.extend(sizes(line.points(), estimate.value));
    // Common practice, no source: an extrapolation is kept no longer than the measured stretch of the line.
    if estimate.value > line.top() * (1.0 + 1e-12) {
        let finding = Finding::new(Code::ExtrapolationLong, Subject::Run);
        findings.push(finding.with("estimate", estimate.value).with("unit", unit).with("largest", line.top()));
    }
    let scatters = estimate.dof.get() > 0.0;
    if scatters && !series.interval(Coverage::P95, IntervalMethod::Inversion).is_finite() {
        findings.push(Finding::new(Code::ExtrapolationUnbounded, Subject::Run));
    }
    findings.push(additive(series, unit));
    findings
}

/// Notes additions that are not near half, once and one and a half times the concentration found (7000B, 9.10). The
/// method prints no tolerance: near is taken as within 25 per cent of the concentration found, half a step.
fn sizes(points: &Points, found: f64) -> Option<Finding> {
    const ADVISED: [f64; 3] = [50.0, 100.0, 150.0];
    const NEAR: f64 = 25.0;
    if found <= 0.0 {
        return None;
    }
    let percents: Vec<f64> = points.levels().into_iter().filter(|x| *x > 0.0).map(|x| 100.0 * x / found).collect();
    let near = |advised: &f64| percents.iter().any(|percent| (percent - advised).abs() <= NEAR);
    if ADVISED.iter().all(near) {
        return None;
    }
    let list: Vec<String> = percents.iter().map(|percent| format!("{percent:.0}")).collect();
    Some(Finding::new(Code::AdditionSizes, Subject::Run).with("percents", list.join(", ")).citing(m7000b("9.10")))
}

/// What no addition series can see, with what it would do to this one.
fn additive(series: &Series, unit: &'static str) -> Finding {
    const STEP: f64 = 0.001;
    let zeroing = match series.options().zeroing {
        Zeroing::Raw => "raw, so a blank is still in them",
        Zeroing::BlankSubtracted(_) => "blank subtracted",
        Zeroing::Autozeroed(_) => "zeroed on a blank",
    };
    let finding = Finding::new(Code::AdditiveNotCorrected, Subject::Run).with("zeroing", zeroing).with("signal", STEP);
    finding.with("amount", STEP / series.line().kernel.b).with("unit", unit).citing(m7000b("9.10.3"))
}

/// Pearson's r over the points; `None` below three different additions or without a difference between signals.
pub(super) fn correlation(points: &Points) -> Option<f64> {
    if points.levels().len() < 3 {
        return None;
    }
    let (x, y, n) = (points.concentrations(), points.signals(), points.len() as f64);
    let mean = |of: &[f64]| of.iter().sum::<f64>() / n;
    let (mx, my) = (mean(x), mean(y));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in x.iter().zip(y) {
        xx += (x - mx) * (x - mx);
        yy += (y - my) * (y - my);
        xy += (x - mx) * (y - my);
    }
    let r = xy / (xx.sqrt() * yy.sqrt());
    r.is_finite().then(|| r.clamp(-1.0, 1.0))
}
