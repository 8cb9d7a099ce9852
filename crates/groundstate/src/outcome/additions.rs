//! A series of standard additions in a run.

use std::sync::Arc;

use crate::addition::{Series, SlopeRatio};
use crate::finding::Fact;

/// The portions of one sample that were measured as a series of standard additions.
#[derive(Clone, Debug)]
pub struct AdditionSeries {
    /// Name of the sample.
    pub sample: Arc<str>,
    /// Position of the portion with the least added: its row holds the result of the series.
    pub position: u32,
    /// Positions of all portions, ascending.
    pub positions: Vec<u32>,
    /// The series; `None` where its readings allow none, with a finding that says why.
    pub series: Option<Series>,
    /// Its slope against that of the external calibration of its segment, where there is one that rises.
    pub slope_ratio: Option<SlopeRatio>,
}

impl AdditionSeries {
    /// The series in words.
    pub(super) fn lines(&self) -> Vec<String> {
        let short = |x: f64| Fact::Number(x).to_string();
        let positions: Vec<String> = self.positions.iter().map(u32::to_string).collect();
        let mut lines = vec![format!("standard additions, positions {}", positions.join(", "))];
        let Some(series) = &self.series else {
            lines.push("not evaluated".into());
            return lines;
        };
        let line = series.line();
        lines.push(format!(
            "line through {} {}, noise {}, extrapolated to a signal of zero",
            line.points().len(),
            line.points().kind().name(),
            series.options().noise.name()
        ));
        let coefficients = (series.coefficients().into_iter().zip(line.standard_errors()))
            .map(|(value, u)| format!("{} (u {})", short(value), short(u)));
        lines.push(format!("intercept and slope: {}", coefficients.collect::<Vec<_>>().join(", ")));
        let points = line.points();
        let each = points.concentrations().iter().zip(points.signals());
        let pairs: Vec<String> = each.map(|(x, y)| format!("{} -> {}", short(*x), short(*y))).collect();
        lines.push(format!("additions in {} and signals: {}", line.unit(), pairs.join(", ")));
        if let Some(r) = series.r() {
            lines.push(format!("r {r:.5}"));
        }
        if let Some(ratio) = &self.slope_ratio {
            lines.push(format!(
                "slope over that of the external calibration: {} (u {})",
                short(ratio.value),
                short(ratio.u)
            ));
        }
        lines
    }
}
