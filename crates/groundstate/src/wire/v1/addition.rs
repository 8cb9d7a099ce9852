//! Series of standard additions on the wire, for readers: run and method determine them, and they are fitted again.

use super::calibration::{NoiseForm, ScaleForm, TestForm, rows};
use super::finding::FindingForm;
use super::result::EstimateForm;
use crate::addition::{Series, SlopeRatio, Volumes};
use crate::curve::PointKind;
use crate::document::{DofForm, Real, Word, finite, form, wrong};
use crate::error::Error;
use crate::estimate::{Coverage, IntervalMethod, IntervalSet};
use crate::outcome::AdditionSeries;
use crate::unit::Unit;

form! {
    /// The portions of one sample that were measured as a series of standard additions.
    AdditionForm {
        /// Name of the sample.
        sample: String,
        /// Position of the portion with the least added, whose result is that of the series.
        position: u32,
        /// Positions of all portions.
        positions: Vec<u32>,
        /// The evaluation; left out where the readings allow none, and a finding says why.
        series: Option<SeriesForm>,
        /// Slope over that of the external calibration of the stretch, where there is one that rises.
        slope_ratio: Option<SlopeRatioForm>,
    }

    /// A line through signals against additions, extrapolated to a signal of zero.
    SeriesForm {
        /// Identity, from content and place: sixteen hexadecimal digits.
        id: String,
        noise: NoiseForm,
        /// Unit of additions and of what is found.
        unit: Word<Unit>,
        point_kind: Word<PointKind>,
        /// Volume before any addition, mL; where all portions have one final volume it is left out.
        initial_volume_ml: Option<f64>,
        /// The points fitted.
        points: Vec<AdditionPointForm>,
        /// Intercept and slope.
        coefficients: Vec<Real>,
        standard_errors: Vec<Real>,
        /// Covariance of the coefficients, row by row, from the scatter.
        covariance: Vec<Vec<Real>>,
        /// Variance of a point of unit weight, and where it comes from.
        scale: ScaleForm,
        residual_standard_deviation: Option<Real>,
        /// Correlation coefficient over the points fitted; of three different additions or more.
        r: Option<Real>,
        /// Mandel's test of the quadratic term.
        mandel: Option<TestForm>,
        /// Content of the measured solution: intercept over slope.
        found: EstimateForm,
        /// Its 95 % coverage set by test inversion.
        coverage_set: SetForm,
        findings: Vec<FindingForm>,
    }

    /// A portion, or a reading of one.
    AdditionPointForm {
        /// Concentration made by the addition; where the volume grows, amount over the volume before.
        added: f64,
        /// A reading or the mean of several; where the volume grows, times volume over the volume before.
        signal: f64,
        /// How many readings the signal is the mean of.
        readings: u32,
        /// Volume added in all, mL.
        added_volume_ml: Option<f64>,
        weight: Real,
        residual: Real,
    }

    /// The slope of a series over that of the external calibration.
    SlopeRatioForm {
        value: Real,
        standard_uncertainty: Option<Real>,
        degrees_of_freedom: DofForm,
        /// Student's t of the difference, two-sided.
        statistic: Option<Real>,
        p: Option<Real>,
        /// Degrees of freedom of the test.
        test_degrees_of_freedom: Option<DofForm>,
        findings: Vec<FindingForm>,
    }

    /// A set of values: between its ends, below, above, outside (half-lines), whole or empty.
    SetForm {
        shape: String,
        lower: Option<Real>,
        upper: Option<Real>,
    }
}

impl AdditionForm {
    pub fn of(series: &AdditionSeries) -> Self {
        AdditionForm {
            sample: series.sample.to_string(),
            position: series.position,
            positions: series.positions.clone(),
            series: series.series.as_ref().map(SeriesForm::of),
            slope_ratio: series.slope_ratio.as_ref().map(SlopeRatioForm::of),
        }
    }

    /// Refuses a series that run and method do not give.
    pub fn same_as(&self, fitted: &AdditionSeries, path: &str) -> Result<(), Error> {
        let stored = self.series.as_ref().map(|series| series.id.as_str());
        let found = fitted.series.as_ref().map(|series| series.id().to_string());
        if self.position == fitted.position && self.positions == fitted.positions && stored == found.as_deref() {
            return Ok(());
        }
        let what = format!("the series at position {} is not that of the stored run and method", self.position);
        Err(wrong(path, what).help("the document was changed after it was written"))
    }
}

impl SeriesForm {
    fn of(series: &Series) -> Self {
        let (line, options) = (series.line(), series.options());
        let scale = line.scale();
        let (initial, volumes) = match &options.volumes {
            Volumes::Equal => (None, None),
            Volumes::Changing { initial, added } => (Some(initial.value()), Some(added)),
        };
        let points = line.points();
        let residuals = line.residuals();
        let at = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
        let point = |i: usize| AdditionPointForm {
            added: at(points.concentrations(), i),
            signal: at(points.signals(), i),
            readings: points.readings().get(i).copied().unwrap_or(0),
            added_volume_ml: volumes.and_then(|added| added.get(i).copied()),
            weight: Real(at(line.weights(), i)),
            residual: Real(at(&residuals, i)),
        };
        SeriesForm {
            id: series.id().to_string(),
            noise: NoiseForm::of(&options.noise),
            unit: Word(options.unit),
            point_kind: Word(series.over()),
            initial_volume_ml: initial,
            points: (0..points.len()).map(point).collect(),
            coefficients: series.coefficients().into_iter().map(Real).collect(),
            standard_errors: line.standard_errors().into_iter().map(Real).collect(),
            covariance: rows(&series.covariance()),
            scale: ScaleForm {
                variance: finite(scale.variance),
                degrees_of_freedom: DofForm(scale.dof),
                from: Word(scale.estimate),
            },
            residual_standard_deviation: line.residual_sd().and_then(finite),
            r: series.r().and_then(finite),
            mandel: line.mandel().map(TestForm::of),
            found: EstimateForm::of(&series.estimate()),
            coverage_set: SetForm::of(&series.interval(Coverage::P95, IntervalMethod::Inversion)),
            findings: series.findings().iter().map(FindingForm::of).collect(),
        }
    }
}

impl SlopeRatioForm {
    pub fn of(ratio: &SlopeRatio) -> Self {
        SlopeRatioForm {
            value: Real(ratio.value),
            standard_uncertainty: finite(ratio.u),
            degrees_of_freedom: DofForm(ratio.dof),
            statistic: ratio.test.and_then(|test| finite(test.statistic)),
            p: ratio.test.and_then(|test| finite(test.p)),
            test_degrees_of_freedom: ratio.test.map(|test| DofForm(test.dof)),
            findings: ratio.findings.iter().map(FindingForm::of).collect(),
        }
    }
}

impl SetForm {
    fn of(set: &IntervalSet) -> Self {
        let (lower, upper) = set.ends();
        SetForm { shape: set.name().to_owned(), lower: finite(lower), upper: finite(upper) }
    }
}
