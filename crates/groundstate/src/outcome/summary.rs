//! An outcome as a page of plain text.

use std::fmt::Write;

use super::{Outcome, Reported, ResultRow, SCOPE};
use crate::check::{Check, Scale, Standing, Verdict};
use crate::method::Qualification;

/// What nobody may read out of a summary.
const CAUTION: &str = "A number from software releases no water and lights no flame: a competent person does, under local \
                       codes and the manufacturer's instructions.";

impl Outcome {
    /// Results, checks and findings as readable text, ending in the standing of the checks.
    pub fn summary(&self) -> String {
        let mut page = String::new();
        self.heading(&mut page);
        self.calibration_lines(&mut page);
        self.addition_lines(&mut page);
        self.result_lines(&mut page);
        self.check_lines(&mut page);
        self.finding_lines(&mut page);
        let standing = match self.standing() {
            Standing::Complete => "Every check that the method requires is there and passed, and no other one failed.",
            Standing::Incomplete => "Incomplete: a required check is missing or could not be evaluated.",
            Standing::Failed => "A check failed.",
        };
        line(&mut page, &format!("\n{standing}\n{CAUTION}"));
        page
    }

    fn heading(&self, page: &mut String) {
        let method = &self.method;
        let at = method.line_nm.map_or(String::new(), |nm| format!(" at {nm} nm"));
        line(page, &format!("{}{at}, run {}", capitalised(method.element.name()), self.run.name));
        line(
            page,
            &format!(
                "method {} version {}, profile {}",
                method.id,
                method.version,
                method.criteria.profile_name().name()
            ),
        );
        for (name, value) in &self.run.facts {
            line(page, &format!("{name}: {value}"));
        }
    }

    fn calibration_lines(&self, page: &mut String) {
        line(page, "\nCalibrations");
        for (segment, calibration) in self.segments.iter().zip(&self.calibrations) {
            let r = match (calibration.correlation(), calibration.r_squared()) {
                (Some(r), _) => format!(", r {r:.5}"),
                (None, Some(squared)) => {
                    format!(", r squared {:.5} ({})", squared.value(), squared.kind().replace('_', " "))
                }
                (None, None) => String::new(),
            };
            let rse = calibration.relative_standard_error().map_or(String::new(), |rse| format!(", RSE {rse:.2} %"));
            let matrix = segment.matrix.as_deref().map_or(String::new(), |matrix| format!(", matrix {matrix}"));
            line(
                page,
                &format!(
                    "  {}. positions {} to {}{matrix}: {} through {} {}, {} to {} {}{r}{rse}",
                    segment.number,
                    segment.positions.0,
                    segment.positions.1,
                    calibration.shape().name().replace('_', " "),
                    calibration.points().len(),
                    calibration.points().kind().name(),
                    calibration.lowest(),
                    calibration.top(),
                    calibration.unit()
                ),
            );
        }
    }

    fn addition_lines(&self, page: &mut String) {
        if self.additions.is_empty() {
            return;
        }
        line(page, "\nStandard additions");
        for series in &self.additions {
            let lines = series.lines().join("\n    ");
            let told = lines.strip_prefix("standard additions, ").unwrap_or(&lines);
            line(page, &format!("  {}: {told}", series.sample));
        }
    }

    fn result_lines(&self, page: &mut String) {
        line(page, &format!("\nResults ({})", SCOPE.trim_end_matches('.')));
        let percent = 100.0 * self.method.reporting.coverage.get();
        let mut rows = vec![[
            "sample".to_owned(),
            "position".into(),
            "result".into(),
            format!("U ({percent} %)"),
            "k".into(),
            "marks".into(),
        ]];
        rows.extend(self.results().map(|row| self.result_cells(row)));
        table(page, &rows);
        let mut used: Vec<Qualification> = self.results().flat_map(|row| row.qualifications.iter().copied()).collect();
        used.sort_unstable();
        used.dedup();
        for what in used {
            let mark = self.method.qualifiers.get(what);
            line(page, &format!("  {}: {}", self.letters(what), mark.words));
        }
    }

    fn letters(&self, what: Qualification) -> String {
        self.method.qualifiers.get(what).letters.as_deref().map_or(what.name().replace('_', " "), str::to_owned)
    }

    fn result_cells(&self, row: &ResultRow) -> [String; 6] {
        let mut marks: Vec<String> = row.qualifications.iter().map(|what| self.letters(*what)).collect();
        if let Reported::Instead(position) = row.reported {
            marks.push(format!("not reported, see position {position}"));
        }
        if let Some(conformity) = &row.conformity {
            marks.push(conformity.name().replace('_', " "));
        }
        let expanded = row.expanded.filter(|_| row.result.status.has_value());
        let (u, k) = expanded.map_or((String::new(), String::new()), |(u, k)| (two_figures(u), format!("{k:.2}")));
        let unit = if row.result.status.has_value() { format!(" {}", row.unit) } else { String::new() };
        [row.label.to_string(), row.position.to_string(), format!("{}{unit}", row.text), u, k, marks.join(", ")]
    }

    fn check_lines(&self, page: &mut String) {
        line(page, "\nChecks");
        if self.checks().is_empty() {
            line(page, "  none in this run");
        }
        let rows: Vec<[String; 4]> = self.checks().iter().map(check_cells).collect();
        table(page, &rows);
    }

    fn finding_lines(&self, page: &mut String) {
        line(page, "\nFindings");
        if self.findings.is_empty() {
            line(page, "  none");
        }
        for finding in &self.findings {
            line(page, &format!("  {finding}"));
        }
    }
}

fn check_cells(check: &Check) -> [String; 4] {
    let place = check.position.map_or(format!("segment {}", check.segment), |position| format!("position {position}"));
    let figure = check.statistic.map_or(String::new(), |statistic| {
        let percent = if statistic.figure.scale() == Scale::Percent { " %" } else { "" };
        let unit = match (statistic.figure.scale(), check.unit) {
            (Scale::Concentration, Some(unit)) => format!(" {unit}"),
            _ => percent.to_owned(),
        };
        format!("{} {}{unit}", statistic.figure.words(), four_figures(statistic.value))
    });
    let limit = check.limit.map_or(String::new(), |limit| match (limit.low, limit.high) {
        (Some(low), Some(high)) => format!(", accepted {} to {}", four_figures(low), four_figures(high)),
        (Some(low), None) => format!(", accepted from {}", four_figures(low)),
        (None, Some(high)) => format!(", accepted up to {}", four_figures(high)),
        (None, None) => String::new(),
    });
    let why = match &check.verdict {
        Verdict::NotEvaluated(reason) => reason.to_string(),
        Verdict::Missing(gap) => gap.name().to_owned(),
        Verdict::Pass | Verdict::Fail => format!("{figure}{limit}"),
    };
    [check.verdict.name().replace('_', " "), format!("{} ({})", check.label, check.kind.title()), place, why]
}

/// Columns set as wide as their widest cell.
fn table<const N: usize>(page: &mut String, rows: &[[String; N]]) {
    let mut widths = [0; N];
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    for row in rows {
        let cells: Vec<String> = row.iter().zip(widths).map(|(cell, width)| format!("{cell:width$}")).collect();
        line(page, &format!("  {}", cells.join("  ")));
    }
}

fn line(page: &mut String, text: &str) {
    // Writing to a string cannot fail.
    let _ = writeln!(page, "{}", text.trim_end());
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn figures(x: f64, count: usize) -> String {
    let short: f64 = format!("{x:.*e}", count - 1).parse().unwrap_or(x);
    short.to_string()
}

fn two_figures(x: f64) -> String {
    figures(x, 2)
}

fn four_figures(x: f64) -> String {
    figures(x, 4)
}
