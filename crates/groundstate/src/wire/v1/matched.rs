//! Matrix-matched calibrations against the external ones on the wire, for readers: the calibrations determine them.

use super::addition::SlopeRatioForm;
use crate::addition::Difference;
use crate::document::{DofForm, Real, finite, form};
use crate::outcome::Matched;

form! {
    /// A matrix-matched calibration against the external one of its stretch.
    MatchedForm {
        matrix: String,
        /// Number of the matched segment.
        segment: u32,
        /// Number of the external segment.
        external: u32,
        /// welch or pooled.
        variance: String,
        /// Slope at zero in the matrix less the external one.
        slope: DifferenceForm,
        intercept: Option<DifferenceForm>,
        /// Slope in the matrix over the external one.
        slope_ratio: SlopeRatioForm,
        /// Matrix effect, per cent.
        effect_percent: Real,
        effect_standard_uncertainty: Option<Real>,
    }

    /// A difference with its t test.
    DifferenceForm {
        value: Real,
        standard_uncertainty: Option<Real>,
        degrees_of_freedom: DofForm,
        statistic: Option<Real>,
        p: Option<Real>,
    }
}

impl MatchedForm {
    pub fn of(matched: &Matched) -> Self {
        let compared = &matched.comparison;
        let (percent, u) = compared.effect.percent();
        MatchedForm {
            matrix: matched.matrix.to_string(),
            segment: matched.segment,
            external: matched.external,
            variance: compared.model.name().to_owned(),
            slope: DifferenceForm::of(&compared.slope),
            intercept: compared.intercept.as_ref().map(DifferenceForm::of),
            slope_ratio: SlopeRatioForm::of(&compared.effect),
            effect_percent: Real(percent),
            effect_standard_uncertainty: finite(u),
        }
    }
}

impl DifferenceForm {
    fn of(difference: &Difference) -> Self {
        DifferenceForm {
            value: Real(difference.value),
            standard_uncertainty: finite(difference.u),
            degrees_of_freedom: DofForm(difference.dof),
            statistic: difference.test.and_then(|test| finite(test.statistic)),
            p: difference.test.and_then(|test| finite(test.p)),
        }
    }
}
