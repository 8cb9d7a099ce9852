//! When a calibration is accepted.

use super::Criteria;
use super::rules::Edge;
use crate::finding::Citation;

/// What a calibration must meet; `None` where no limit is set. Each limit with the citation of its own figure.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationLimits {
    /// Only a line is admitted; where the rule comes from.
    pub line_only: Option<Citation>,
    /// Fewest standards above zero.
    pub minimum_standards: Option<(u32, Citation)>,
    /// A calibration blank must be there.
    pub blank_required: Option<Citation>,
    /// Smallest correlation coefficient of an unweighted line with free intercept.
    pub r: Option<(f64, Citation)>,
    /// Smallest coefficient of determination.
    pub r_squared: Option<(f64, Citation)>,
    /// Whether a coefficient exactly at its limit passes.
    pub correlation_edge: Edge,
    /// Largest percent error of a level, %.
    pub percent_error: Option<(f64, Citation)>,
    /// Largest percent error of the lowest non-zero level, %; where absent, as the others.
    pub percent_error_lowest: Option<(f64, Citation)>,
    /// Largest relative standard error, %.
    pub rse: Option<(f64, Citation)>,
    /// Largest magnitude of a studentized residual.
    pub studentized_residual: Option<(f64, Citation)>,
    /// Largest RSD of three or more readings of one standard, %.
    pub standard_rsd: Option<(f64, Citation)>,
    /// Largest relative percent difference of two readings of one standard, %.
    pub standard_rpd: Option<(f64, Citation)>,
    /// Advice: smallest absorbance of the lowest standard.
    pub lowest_absorbance: Option<(f64, Citation)>,
    /// Advice: largest absorbance of the top standard.
    pub highest_absorbance: Option<(f64, Citation)>,
}

impl Criteria {
    /// The limits of calibration acceptance, composed for the rooms that calibrate and judge.
    pub fn calibration(&self) -> CalibrationLimits {
        let limit = |key| self.number("calibration", key).map(|limit| (limit, self.citation("calibration", key)));
        let chosen =
            |key, word: &str| (self.word("calibration", key) == word).then(|| self.citation("calibration", key));
        CalibrationLimits {
            line_only: chosen("shapes", "line"),
            minimum_standards: limit("minimum_standards").map(|(count, citation)| (count as u32, citation)),
            blank_required: chosen("blank", "required"),
            r: limit("r"),
            r_squared: limit("r_squared"),
            correlation_edge: self.edge("calibration", "correlation_edge"),
            percent_error: limit("percent_error"),
            percent_error_lowest: limit("percent_error_lowest"),
            rse: limit("rse"),
            studentized_residual: limit("studentized_residual"),
            standard_rsd: limit("standard_rsd"),
            standard_rpd: limit("standard_rpd"),
            lowest_absorbance: limit("lowest_absorbance"),
            highest_absorbance: limit("highest_absorbance"),
        }
    }
}
