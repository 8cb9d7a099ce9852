//! A result as numbered steps, with figures and rules: the page for an auditor.

use std::fmt;

use super::{Outcome, Reported, ResultRow, SCOPE};
use crate::check::Verdict;
use crate::error::{Error, Kind, Place, Problem, nearest};
use crate::finding::{Citation, Subject};
use crate::preparation::{Portion, SampleLimit};

/// One step of the way from readings to the reported text.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What the step is.
    pub title: &'static str,
    /// What was done, with the figures.
    pub lines: Vec<String>,
    /// The rule it follows, if it follows one.
    pub citation: Option<Citation>,
}

/// The way from the readings at one position to its reported text.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// Label of the sample.
    pub label: String,
    /// Position in the run.
    pub position: u32,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

impl fmt::Display for Explanation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at position {}", self.label, self.position)?;
        for (i, step) in self.steps.iter().enumerate() {
            write!(f, "\n{}. {}", i + 1, step.title)?;
            if let Some(citation) = &step.citation {
                write!(f, " ({citation})")?;
            }
            for line in &step.lines {
                write!(f, "\n   {line}")?;
            }
        }
        Ok(())
    }
}

impl Outcome {
    /// Explains the reported result of the sample called `label`; for any other row, give its position to
    /// [`Outcome::explain_position`].
    ///
    /// # Errors
    /// No row of that label, with the nearest one.
    pub fn explain(&self, label: &str) -> Result<Explanation, Error> {
        let of_label = || self.rows.iter().filter(|row| *row.label == *label);
        let row = of_label().find(|row| row.reported.is_reported()).or_else(|| of_label().next()).ok_or_else(|| {
            let problem =
                Problem::new(Place::named("label"), format!("nothing called {label:?} was measured in this run"));
            let near = nearest(label, self.rows.iter().map(|row| &*row.label));
            let help =
                near.map_or("give a label of the run's table".to_owned(), |near| format!("did you mean {near:?}?"));
            Error::new(Kind::Argument, problem.help(help))
        })?;
        Ok(self.explained(row))
    }

    /// Explains the row at `position`.
    ///
    /// # Errors
    /// Nothing was measured there.
    pub fn explain_position(&self, position: u32) -> Result<Explanation, Error> {
        let row = self.row(position).ok_or_else(|| {
            Error::argument("position", format!("position {position} holds no measured sample or check"))
                .help("points of the calibration have no result to explain")
        })?;
        Ok(self.explained(row))
    }

    fn explained(&self, row: &ResultRow) -> Explanation {
        let steps = vec![
            self.readings(row),
            self.calibrated(row),
            self.solution(row),
            prepared(row),
            self.limits_of(row),
            self.budgeted(row),
            self.checked(row),
            self.reported_as(row),
        ];
        Explanation { label: row.label.to_string(), position: row.position, steps }
    }

    fn readings(&self, row: &ResultRow) -> Step {
        let position = self.run.position(row.position);
        let readings = position.map(|p| p.readings.as_slice()).unwrap_or_default();
        let mut lines = vec![format!("readings: {}", list(readings))];
        if let Some(missing) = position.map(|p| p.missing).filter(|missing| *missing > 0) {
            lines.push(format!("{missing} missing, left out"));
        }
        if row.measurement.readings > 0 {
            let sd = row.measurement.sd.map_or(String::new(), |sd| format!(", standard deviation {}", short(sd)));
            lines.push(format!("mean {}{sd}", short(row.measurement.mean)));
        }
        Step { title: "Readings", lines, citation: None }
    }

    fn calibrated(&self, row: &ResultRow) -> Step {
        let title = "Calibration";
        if let Some(series) = self.additions.iter().find(|series| series.position == row.position) {
            return Step { title, lines: series.lines(), citation: None };
        }
        let Some(calibration) = row.segment.checked_sub(1).and_then(|i| self.calibrations.get(i as usize)) else {
            return Step {
                title,
                lines: vec!["none: it was measured before the first standard".into()],
                citation: None,
            };
        };
        let unit = calibration.unit();
        let segment = self.segments.iter().find(|segment| segment.number == row.segment);
        let matrix = segment.and_then(|segment| segment.matrix.as_deref());
        let coefficients: Vec<String> = (calibration.coefficients().iter().zip(calibration.standard_errors()))
            .map(|(c, e)| format!("{} (u {})", short(*c), short(e)))
            .collect();
        let mut lines = vec![
            format!(
                "calibration {} of the run{}: {}, noise {}, {} points, {}",
                row.segment,
                matrix.map_or(String::new(), |matrix| format!(", of standards in the matrix {matrix}")),
                calibration.shape().name().replace('_', " "),
                calibration.options().noise.name(),
                calibration.points().len(),
                calibration.points().kind().name()
            ),
            format!("coefficients by ascending powers of concentration: {}", coefficients.join(", ")),
            format!("standards used from {} to {} {unit}", short(calibration.lowest()), short(calibration.top())),
        ];
        if let Some(sd) = calibration.residual_sd() {
            lines.push(format!(
                "residual standard deviation {}, {} degrees of freedom",
                short(sd),
                calibration.residual_dof()
            ));
        }
        Step { title, lines, citation: None }
    }

    fn solution(&self, row: &ResultRow) -> Step {
        let unit = self.method.calibration.unit;
        let found = row.solution;
        let mut lines = vec![format!("status: {}", found.status.words())];
        if found.status.has_value() {
            lines.insert(
                0,
                format!("{} {unit}, u {} {unit}, {} degrees of freedom", short(found.value), short(found.u), found.dof),
            );
        }
        Step { title: "Content of the measured solution", lines, citation: None }
    }

    fn limits_of(&self, row: &ResultRow) -> Step {
        let line = |name: &str, limit: Option<SampleLimit>| {
            limit.map(|limit| {
                let (stated, unit) = (short(limit.unadjusted), limit.unadjusted_unit);
                format!(
                    "{name}: {stated} {unit} as stated, times {}, is {} {}",
                    short(limit.ratio),
                    short(limit.adjusted),
                    limit.unit
                )
            })
        };
        let limits = [("MDL", row.limits.mdl), ("LOD", row.limits.lod), ("LOQ", row.limits.loq)];
        let mut lines: Vec<String> = limits.into_iter().filter_map(|(name, limit)| line(name, limit)).collect();
        if lines.is_empty() {
            lines.push("the method states none for it".into());
        }
        Step { title: "Limits", lines, citation: None }
    }

    fn budgeted(&self, row: &ResultRow) -> Step {
        let mut lines = Vec::new();
        for line in self.budget(row.position).unwrap_or_default() {
            lines.push(format!(
                "{}: u {} {}, {:.1} % of the variance, {} degrees of freedom",
                line.source,
                short(line.u),
                row.unit,
                100.0 * line.share,
                line.dof
            ));
        }
        if let Some((u, k)) = row.expanded {
            let percent = 100.0 * self.method.reporting.coverage.get();
            lines.push(format!(
                "combined u {} {unit}, {} effective degrees of freedom; expanded {} {unit} (k {}, coverage {percent} %)",
                short(row.result.u),
                row.result.dof,
                short(u),
                short(k),
                unit = row.unit
            ));
        }
        lines.push(SCOPE.to_owned());
        let citation = Citation::transcribed("JCGM 100:2008", "", "5.1.2, G.4.1");
        Step { title: "Uncertainty", lines, citation: Some(citation) }
    }

    fn checked(&self, row: &ResultRow) -> Step {
        let mut lines = Vec::new();
        for check in self.checks() {
            let concerned = check.position == Some(row.position) || check.affects.contains(&row.position);
            let judged = !matches!(check.verdict, Verdict::Pass) || check.position == Some(row.position);
            if concerned && judged {
                lines.push(format!(
                    "{} {}: {} ({})",
                    check.kind.title(),
                    check.label,
                    check.verdict.name().replace('_', " "),
                    check.citation
                ));
            }
        }
        let here = |subject: &Subject| match subject {
            Subject::Position(position) | Subject::Reading { position, .. } => *position == row.position,
            _ => false,
        };
        lines.extend(self.findings.iter().filter(|finding| here(&finding.subject)).map(ToString::to_string));
        if row.condemned {
            lines.push("condemned: not to be used without a new measurement".into());
        }
        if lines.is_empty() {
            lines.push("no check speaks against it".into());
        }
        Step { title: "Checks and findings", lines, citation: None }
    }

    fn reported_as(&self, row: &ResultRow) -> Step {
        let mut lines = vec![format!("{} {}", row.text, row.unit)];
        for what in &row.qualifications {
            let mark = self.method.qualifiers.get(*what);
            let letters = mark.letters.as_deref().map_or(String::new(), |letters| format!("{letters}: "));
            lines.push(format!("{letters}{}", mark.words));
        }
        match row.reported {
            Reported::Instead(position) => {
                lines.push(format!("position {position} is reported for this sample instead"))
            }
            Reported::Yes | Reported::NotASample => {}
        }
        if let Some(conformity) = &row.conformity {
            lines.push(format!("conformity: {}", conformity.name().replace('_', " ")));
        }
        Step { title: "Reported", lines, citation: None }
    }
}

fn prepared(row: &ResultRow) -> Step {
    let description = row.preparation.description();
    let mut lines = Vec::new();
    match &description.portion {
        Some(Portion::Mass(mass)) => lines.push(format!("mass {} g (u {})", short(mass.value()), short(mass.u()))),
        Some(Portion::Volume(volume)) => {
            lines.push(format!("volume {} mL (u {})", short(volume.value()), short(volume.u())))
        }
        None => {}
    }
    if let Some(volume) = &description.final_volume {
        lines.push(format!("made up to {} mL (u {})", short(volume.value()), short(volume.u())));
    }
    if !description.dilution.steps().is_empty() {
        lines.push(format!("diluted {}-fold", short(description.dilution.factor())));
    }
    if let Some(solids) = &description.solids {
        lines.push(format!(
            "solids fraction {} (u {})",
            short(solids.fraction().value()),
            short(solids.fraction().u())
        ));
    }
    if let (Some(weighed), Some(report)) = (description.weighed, description.report) {
        lines.push(format!("weighed {}, reported {}", weighed.name(), report.name().replace('_', " ")));
    }
    for factor in &description.extra {
        let name = factor.name.as_deref().unwrap_or("factor");
        lines.push(format!("{name}: times {} (u {})", short(factor.measured.value()), short(factor.measured.u())));
    }
    if row.result.status.has_value() {
        lines.push(format!(
            "times {} in all: {} {}",
            short(row.preparation.multiplier()),
            short(row.result.value),
            row.unit
        ));
    }
    Step { title: "Back to the sample", lines, citation: None }
}

/// Six significant figures, as in findings.
fn short(x: f64) -> String {
    crate::finding::Fact::Number(x).to_string()
}

fn list(values: &[f64]) -> String {
    if values.is_empty() {
        return "none".to_owned();
    }
    values.iter().map(|value| value.to_string()).collect::<Vec<_>>().join(", ")
}
