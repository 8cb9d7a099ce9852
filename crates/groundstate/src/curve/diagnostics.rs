//! Figures that judge a calibration, each computed when it is asked for.

use super::Shape;
use super::calibration::{Calibration, solved};
use super::noise::Noise;
use super::points::PointKind;
use super::solve::Frame;
use super::weighing::ScaleFrom;
use crate::numeric::dd::Dd;
use crate::numeric::distribution::fisher_f;

/// An F test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FTest {
    /// The ratio of mean squares; infinite where the denominator is zero.
    pub statistic: f64,
    /// Probability of a ratio at least as large if the tested effect is not there.
    pub p: f64,
    /// Degrees of freedom of the numerator.
    pub numerator_dof: f64,
    /// Degrees of freedom of the denominator.
    pub denominator_dof: f64,
}

impl FTest {
    /// The test of `top` on `top_dof` against `bottom` on `bottom_dof`, sums of squares; `None` where there is
    /// nothing to compare. A `top` that rounding made negative is zero.
    fn of(top: f64, top_dof: usize, bottom: f64, bottom_dof: usize) -> Option<FTest> {
        let top = top.max(0.0);
        if top_dof == 0 || bottom_dof == 0 || (top <= 0.0 && bottom <= 0.0) {
            return None;
        }
        let (numerator_dof, denominator_dof) = (top_dof as f64, bottom_dof as f64);
        let statistic = (top / numerator_dof) / (bottom / denominator_dof);
        let p = if statistic.is_finite() { fisher_f::sf(statistic, numerator_dof, denominator_dof) } else { 0.0 };
        Some(FTest { statistic, p, numerator_dof, denominator_dof })
    }
}

/// A coefficient of determination, with what it is about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SquaredCorrelation {
    /// 1 - SSE/SST with SST about the (weighted) mean signal.
    AboutMean(f64),
    /// 1 - SSE/SST with SST about zero, the kind of a through-zero fit: large whatever the fit, never a criterion.
    AboutZero(f64),
}

impl SquaredCorrelation {
    /// The figure.
    pub const fn value(self) -> f64 {
        match self {
            SquaredCorrelation::AboutMean(value) | SquaredCorrelation::AboutZero(value) => value,
        }
    }

    /// What it is about, in `snake_case`.
    pub const fn kind(self) -> &'static str {
        match self {
            SquaredCorrelation::AboutMean(_) => "about_mean",
            SquaredCorrelation::AboutZero(_) => "about_zero",
        }
    }
}

impl Calibration {
    /// Residuals of the points: signal less the curve.
    pub fn residuals(&self) -> Vec<f64> {
        let points = self.points();
        points.concentrations().iter().zip(points.signals()).map(|(x, y)| y - self.kernel.signal(*x)).collect()
    }

    /// Leverages of the points: how much of each signal its own fitted value holds.
    pub fn leverages(&self) -> Vec<f64> {
        let x = self.points().concentrations();
        x.iter().zip(self.weights()).map(|(x, w)| w * self.kernel.spread(*x)).collect()
    }

    /// Residuals over their own standard deviations (internally studentised); NaN where a point's leverage is one or
    /// there is no scatter.
    pub fn studentised_residuals(&self) -> Vec<f64> {
        let variance = self.scale().variance;
        let parts = self.residuals().into_iter().zip(self.weights()).zip(self.leverages());
        parts
            .map(|((residual, w), leverage)| {
                let own = variance / w * (1.0 - leverage);
                if own > 0.0 { residual / own.sqrt() } else { f64::NAN }
            })
            .collect()
    }

    /// Cook's distances of the points (Cook 1977, Technometrics 19, 15).
    pub fn cooks_distances(&self) -> Vec<f64> {
        let p = self.shape().parameters() as f64;
        self.studentised_residuals()
            .into_iter()
            .zip(self.leverages())
            .map(|(r, h)| r * r * h / ((1.0 - h) * p))
            .collect()
    }

    /// The coefficient of determination. Of a through-zero fit it is the kind about zero, and says so.
    /// `None` where all signals are equal.
    pub fn r_squared(&self) -> Option<SquaredCorrelation> {
        let y = self.points().signals();
        let weighted = || y.iter().zip(self.weights()).map(|(y, w)| (Dd::from(*y), Dd::from(*w)));
        let mean = if self.shape().through_zero() {
            Dd::ZERO
        } else {
            let (sum, weight) =
                weighted().fold((Dd::ZERO, Dd::ZERO), |(sum, weight), (y, w)| (sum + w * y, weight + w));
            sum / weight
        };
        let total = weighted().fold(Dd::ZERO, |sum, (y, w)| sum + w * (y - mean).square()).value();
        let value = 1.0 - self.sum_of_squares() / total;
        match (total > 0.0, self.shape().through_zero()) {
            (false, _) => None,
            (true, true) => Some(SquaredCorrelation::AboutZero(value)),
            (true, false) => Some(SquaredCorrelation::AboutMean(value)),
        }
    }

    /// The correlation coefficient r: only the unweighted line with a free intercept has one.
    pub fn correlation(&self) -> Option<f64> {
        if self.shape() != Shape::Line || self.options().noise != Noise::Equal {
            return None;
        }
        self.r_squared().map(|squared| squared.value().max(0.0).sqrt().copysign(self.kernel.b))
    }

    /// Percent error of each point, 100 (x' - x)/x with x' the concentration that the curve gives back for the
    /// point's signal (SW-846 Method 8000D, section 11.5.4.1). NaN at the zero level and beyond the curve.
    pub fn percent_error(&self) -> Vec<f64> {
        let points = self.points();
        let error = |(x, y): (&f64, &f64)| match self.kernel.invert(*y) {
            Some(inverse) if *x > 0.0 => 100.0 * (inverse.x - x) / x,
            _ => f64::NAN,
        };
        points.concentrations().iter().zip(points.signals()).map(error).collect()
    }

    /// Relative standard error in percent, 100 sqrt(sum(relative error²) / (n - p)), over the points above zero
    /// (SW-846 Method 8000D, section 11.5.4.2). `None` where n - p is not positive or a point lies beyond the curve.
    pub fn relative_standard_error(&self) -> Option<f64> {
        let errors: Vec<f64> = (self.percent_error().into_iter().zip(self.points().concentrations()))
            .filter(|(_, x)| **x > 0.0)
            .map(|(error, _)| error)
            .collect();
        let dof = errors.len().checked_sub(self.shape().parameters()).filter(|dof| *dof > 0)?;
        let sum: f64 = errors.iter().map(|error| error * error).sum();
        sum.is_finite().then(|| (sum / dof as f64).sqrt())
    }

    /// Lack of fit against the scatter of points of the same concentration. `None` without such points, or where
    /// the levels are as many as the coefficients.
    pub fn lack_of_fit(&self) -> Option<FTest> {
        let points = self.points();
        let (x, y, w) = (points.concentrations(), points.signals(), self.weights());
        let levels = points.levels();
        let mut pure = Dd::ZERO;
        for level in &levels {
            let at = || (0..x.len()).filter(|i| x[*i].total_cmp(level).is_eq());
            let (sum, weight) = at().fold((Dd::ZERO, Dd::ZERO), |(sum, weight), i| {
                (sum + Dd::from(w[i]) * Dd::from(y[i]), weight + Dd::from(w[i]))
            });
            let mean = sum / weight;
            pure = at().fold(pure, |pure, i| pure + Dd::from(w[i]) * (Dd::from(y[i]) - mean).square());
        }
        let pure = pure.value();
        let lack_dof = levels.len().checked_sub(self.shape().parameters())?;
        FTest::of(self.sum_of_squares() - pure, lack_dof, pure, x.len() - levels.len())
    }

    /// Mandel's test of the quadratic term: the drop in the weighted residual sum of squares that it brings, against
    /// the residual variance with it (ISO 8466-1, linearity; from memory). The same for a line and its quadratic.
    /// Over the points fitted: standards or readings as [`Calibration::points`] says. `None` where a quadratic would
    /// leave no degree of freedom, and for a curve with stray light, which has no quadratic term.
    pub fn mandel(&self) -> Option<FTest> {
        let (straight, curved) = match self.shape() {
            Shape::Line | Shape::Quadratic => (Shape::Line, Shape::Quadratic),
            Shape::LineThroughZero | Shape::QuadraticThroughZero => {
                (Shape::LineThroughZero, Shape::QuadraticThroughZero)
            }
            Shape::StrayLight => return None,
        };
        let points = self.points();
        let dof = points.len().checked_sub(curved.parameters()).filter(|dof| *dof > 0)?;
        let frame = Frame::of(points.concentrations(), !straight.through_zero());
        let weights: Vec<Dd> = self.weights().iter().copied().map(Dd::from).collect();
        let (_, without) = solved(straight, frame, points, &weights)?;
        let (_, with) = solved(curved, frame, points, &weights)?;
        FTest::of(without - with, 1, with, dof)
    }

    /// The intercept, its standard error and degrees of freedom when the shape is not held at zero. `None` where the
    /// points do not determine it or leave no scatter to judge it by.
    pub(super) fn free_intercept(&self) -> Option<(f64, f64, f64)> {
        let free = if self.shape().is_curved() { Shape::Quadratic } else { Shape::Line };
        let points = self.points();
        let frame = Frame::of(points.concentrations(), true);
        let weights: Vec<Dd> = self.weights().iter().copied().map(Dd::from).collect();
        let (kernel, sse) = solved(free, frame, points, &weights)?;
        let (variance, dof) = match self.scale().estimate {
            ScaleFrom::Residuals => {
                let dof = points.len().checked_sub(free.parameters()).filter(|dof| *dof > 0)? as f64;
                (sse / dof, dof)
            }
            ScaleFrom::Replicates | ScaleFrom::Known => (self.scale().variance, self.scale().dof.get()),
        };
        Some((kernel.a, (variance * kernel.unit_covariance(0, 0)).sqrt(), dof))
    }

    /// Akaike's information criterion with the correction for few points (AICc), of a least-squares fit with
    /// estimated variance; `None` where the correction is not defined or the fit is perfect.
    pub fn aicc(&self) -> Option<f64> {
        let n = self.points().len() as f64;
        let k = self.shape().parameters() as f64 + 1.0;
        let log_weights: f64 = self.weights().iter().map(|w| libm::log(*w)).sum();
        (n - k - 1.0 > 0.0 && self.sum_of_squares() > 0.0).then(|| {
            n * libm::log(self.sum_of_squares() / n) - log_weights + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)
        })
    }

    /// What the points of these figures are.
    pub fn over(&self) -> PointKind {
        self.points().kind()
    }
}
