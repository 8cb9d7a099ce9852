//! Numbers written as text, as they stand in a table.

use super::columns::{NumberColumn, SIGNAL};

/// Why a cell is not a number, and what to do.
pub(super) struct NotANumber {
    pub what: String,
    pub help: &'static str,
}

/// The number in a cell of the column `column`; NaN where it is missing.
///
/// Missing is an empty cell, and among readings also NaN, NA and null. Elsewhere those words are refused: a mass
/// that is "NA" was not weighed, and nothing can be computed from it.
pub(super) fn parse(column: &str, cell: &str) -> Result<f64, NotANumber> {
    let cell = cell.trim();
    if cell.is_empty() {
        return Ok(f64::NAN);
    }
    if let Ok(number) = cell.parse::<f64>()
        && number.is_finite()
    {
        return Ok(number);
    }
    let reading = column == NumberColumn::Absorbance.name() || column == SIGNAL;
    let small = cell.to_ascii_lowercase();
    let word = small.trim_start_matches(['+', '-']);
    let missing = matches!(word, "nan" | "na" | "null");
    if missing && reading {
        return Ok(f64::NAN);
    }
    let shown: String = cell.chars().take(40).collect();
    let (what, help) = if missing {
        (format!("{shown:?} is not a number"), "leave the cell empty where the column does not apply")
    } else if matches!(word, "inf" | "infinity") || cell.parse::<f64>().is_ok() {
        (format!("{shown} is not a finite number"), "leave the cell empty where a value is missing")
    } else if decimal_comma(cell) {
        (format!("{shown:?} has a decimal comma"), "this reader takes a point: write the number with one")
    } else if word == "nd" || cell.starts_with(['<', '>']) {
        (
            format!("{shown:?} is a statement about a result, not a number"),
            "give the reading itself, negative where it was, or leave the cell empty",
        )
    } else {
        (format!("{shown:?} is not a number"), "write the number alone, with a decimal point and without a unit")
    };
    Err(NotANumber { what, help })
}

fn decimal_comma(cell: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let unsigned = cell.trim_start_matches(['+', '-']);
    unsigned.split_once(',').is_some_and(|(whole, fraction)| {
        let (fraction, exponent) = fraction.split_once(['e', 'E']).unwrap_or((fraction, "0"));
        digits(whole) && digits(fraction) && digits(exponent.trim_start_matches(['+', '-']))
    })
}
