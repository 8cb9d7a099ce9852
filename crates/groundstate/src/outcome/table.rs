//! Results as a table of comma-separated values.

use super::{Outcome, Reported, ResultRow};
use crate::estimate::Estimate;

/// Names of the columns, in order.
const COLUMNS: [&str; 27] = [
    "run",
    "position",
    "role",
    "label",
    "sample_id",
    "segment",
    "signal_mean",
    "readings",
    "solution_status",
    "solution_value",
    "solution_standard_uncertainty",
    "solution_unit",
    "status",
    "value",
    "standard_uncertainty",
    "degrees_of_freedom",
    "expanded_uncertainty",
    "coverage_factor",
    "unit",
    "mdl",
    "lod",
    "loq",
    "qualifiers",
    "qualifier_letters",
    "reported_text",
    "reported",
    "condemned",
];

impl Outcome {
    /// Every measured position that is not a point of a calibration as a line of CSV (RFC 4180) below a line of names:
    /// samples, re-runs and checks, told apart by `role` and `reported`. Units have columns of their own; limits are in
    /// the unit of the result. A figure that is not there is an empty cell; infinite degrees of freedom are the word.
    pub fn results_csv(&self) -> String {
        let mut text = String::new();
        line(&mut text, COLUMNS.map(str::to_owned));
        self.rows.iter().for_each(|row| line(&mut text, self.cells(row)));
        text
    }

    fn cells(&self, row: &ResultRow) -> [String; COLUMNS.len()] {
        let position = self.run.position(row.position);
        let sample = position.and_then(|position| position.identity.sample_id.as_deref()).unwrap_or_default();
        let (solution, solution_u, _) = figures(&row.solution);
        let (value, u, dof) = figures(&row.result);
        let expanded = |of: fn((f64, f64)) -> f64| row.expanded.map(of).map_or_else(String::new, number);
        let limit = |limit: Option<crate::preparation::SampleLimit>| {
            limit.map_or_else(String::new, |limit| number(limit.adjusted))
        };
        let names: Vec<&str> = row.qualifications.iter().map(|what| what.name()).collect();
        let marks = row.qualifications.iter().map(|what| self.method.qualifiers.get(*what));
        let letters: Vec<&str> = marks.filter_map(|mark| mark.letters.as_deref()).collect();
        [
            self.run.name.to_string(),
            row.position.to_string(),
            row.role.name().to_owned(),
            row.label.to_string(),
            sample.to_owned(),
            row.segment.to_string(),
            number(row.measurement.mean),
            row.measurement.readings.to_string(),
            row.solution.status.name().to_owned(),
            solution,
            solution_u,
            self.method.calibration.unit.name().to_owned(),
            row.result.status.name().to_owned(),
            value,
            u,
            dof,
            expanded(|(u, _)| u),
            expanded(|(_, k)| k),
            row.unit.name().to_owned(),
            limit(row.limits.mdl),
            limit(row.limits.lod),
            limit(row.limits.loq),
            names.join(" "),
            letters.join(" "),
            row.text.clone(),
            match row.reported {
                Reported::Yes => "yes".to_owned(),
                Reported::Instead(position) => format!("position {position} instead"),
                Reported::NotASample => "not a sample".to_owned(),
            },
            row.condemned.to_string(),
        ]
    }
}

/// Value, standard uncertainty and degrees of freedom; empty where there is none.
fn figures(estimate: &Estimate) -> (String, String, String) {
    let dof = match (estimate.u.is_nan(), estimate.dof.is_infinite()) {
        (true, _) => String::new(),
        (false, true) => "infinite".to_owned(),
        (false, false) => number(estimate.dof.get()),
    };
    (number(estimate.value), number(estimate.u), dof)
}

/// The shortest text that reads back to the same number.
fn number(x: f64) -> String {
    if x.is_finite() { x.to_string() } else { String::new() }
}

fn line(text: &mut String, cells: [String; COLUMNS.len()]) {
    for (i, cell) in cells.iter().enumerate() {
        if i > 0 {
            text.push(',');
        }
        if cell.contains(['"', ',', '\n', '\r']) {
            text.push('"');
            text.push_str(&cell.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(cell);
        }
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use crate::criteria::ProfileName;
    use crate::method::Method;
    use crate::reduce::reduce;
    use crate::run::Run;

    #[test]
    fn cells_are_quoted_and_what_is_not_there_is_empty() {
        let run = Run::builder("r,1")
            .standard("S1", 0.5, &[0.05, 0.05])
            .standard("S2", 1.0, &[0.10, 0.10])
            .standard("S3", 2.0, &[0.2001, 0.1999])
            .sample("the \"big\" roof", &[0.05])
            .sample("empty", &[f64::NAN])
            .build()
            .unwrap();
        let method = Method::new("Zn", ProfileName::General).unwrap();
        let csv = reduce(&run, &method).unwrap().results_csv();
        let lines: Vec<&str> = csv.split_terminator("\r\n").collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[0].starts_with("run,position,role,label,"));
        assert!(lines[1].starts_with("\"r,1\",4,sample,\"the \"\"big\"\" roof\",,1,0.05,1,in_range,"), "{}", lines[1]);
        assert!(
            lines[2].starts_with("\"r,1\",5,sample,empty,,1,,0,no_reading,,,mg/L,no_reading,,,,,,mg/L,"),
            "{}",
            lines[2]
        );
        let cells = |line: &str| line.matches(',').count();
        assert_eq!(cells(lines[0]), cells(lines[2]) - 1); // one comma more inside the quoted name
    }
}
