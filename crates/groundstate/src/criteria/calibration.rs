//! When a calibration is accepted.

use super::Criteria;
use super::rules::Edge;
use crate::curve::ChoiceRules;
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

impl CalibrationLimits {
    /// `usual` with every limit that is set here in place of its own: a choice of shape then obeys the criteria. What is
    /// not set here stays as it is in `usual`.
    ///
    /// ```
    /// use groundstate::criteria::{Criteria, ProfileName};
    /// use groundstate::curve::ChoiceRules;
    /// let limits = Criteria::profile(ProfileName::Sw846Method7000B).calibration();
    /// let rules = limits.choice(ChoiceRules::default());
    /// assert!(rules.line_only.is_some());
    /// assert_eq!(rules.correlation.map(|(least, _)| least), Some(0.995));
    /// ```
    pub fn choice(&self, usual: ChoiceRules) -> ChoiceRules {
        let (least, for_curve) = (&self.minimum_standards, usual.least_for_curve);
        let least = least.as_ref().map(|(count, citation)| (*count as usize, citation.clone()));
        ChoiceRules {
            line_only: self.line_only.clone().or(usual.line_only),
            // A curve never needs fewer standards than a line.
            least_for_curve: least.clone().filter(|(count, _)| *count > for_curve.0).unwrap_or(for_curve),
            least_for_line: least.unwrap_or(usual.least_for_line),
            percent_error: self.percent_error.clone().or(usual.percent_error),
            // A limit of all levels that is set here holds for the lowest one, too.
            percent_error_lowest: self
                .percent_error_lowest
                .clone()
                .or_else(|| if self.percent_error.is_some() { None } else { usual.percent_error_lowest }),
            relative_standard_error: self.rse.clone().or(usual.relative_standard_error),
            correlation: self.r.clone().or(usual.correlation),
            determination: self.r_squared.clone().or(usual.determination),
            ..usual
        }
    }
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
