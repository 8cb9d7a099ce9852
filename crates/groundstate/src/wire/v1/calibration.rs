//! Calibrations on the wire: what was fitted and how, which fixes the rest; and the figures, for readers.

use super::budget::id;
use super::finding::{FindingForm, findings};
use crate::curve::{
    Calibration, FTest, FitOptions, Noise, OnBadCurve, PointKind, Points, ReplicateModel, ScaleFrom, Shape, Sigmas,
    SquaredCorrelation, Stock, Zero, Zeroing,
};
use crate::document::{DofForm, Real, Word, at, finite, form, wrong};
use crate::error::Error;
use crate::estimate::Square;
use crate::unit::Unit;

form! {
    /// A calibration function with the points it was fitted to.
    CalibrationForm {
        /// Identity, from content: sixteen hexadecimal digits.
        id: String,
        shape: Word<Shape>,
        noise: NoiseForm,
        /// What became of a level at zero: include, leave_out or floor.
        zero: String,
        /// Concentration below which weights were held.
        zero_floor: Option<f64>,
        /// How the signals were zeroed: raw, blank_subtracted or autozeroed.
        zeroing: String,
        /// Standard uncertainty of the zero, in units of the signal.
        zeroing_standard_uncertainty: Option<f64>,
        /// Unit of concentrations.
        unit: Word<Unit>,
        stocks: Vec<StockForm>,
        /// Smallest step of the signal.
        resolution: Option<f64>,
        point_kind: Word<PointKind>,
        /// The points fitted, with the figures that judge each.
        points: Vec<PointForm>,
        /// In ascending powers of concentration; of a through-zero shape only those fitted.
        coefficients: Vec<Real>,
        standard_errors: Vec<Real>,
        /// Covariance of the coefficients, row by row.
        covariance: Vec<Vec<Real>>,
        /// Variance of a point of unit weight, and where it comes from.
        scale: ScaleForm,
        sum_of_squares: Real,
        residual_degrees_of_freedom: u32,
        residual_standard_deviation: Option<Real>,
        chi_squared: Option<Real>,
        /// Lowest standard above zero.
        lowest: Real,
        top: Real,
        turning_point: Option<Real>,
        /// Highest signal that a concentration belongs to.
        ceiling: Option<Real>,
        monotonic: bool,
        /// Whether it can turn readings into concentrations.
        serves: bool,
        diagnostics: DiagnosticsForm,
        findings: Vec<FindingForm>,
    }

    /// What was assumed of the scatter.
    NoiseForm {
        model: String,
        /// Standard deviations of single readings: one for all points or one each.
        sigmas: Option<Vec<f64>>,
        /// Fewest readings that a level may have.
        at_least: Option<u32>,
    }

    /// A stock that all standards were made from.
    StockForm {
        name: String,
        relative_standard_uncertainty: f64,
    }

    /// A point of a calibration.
    PointForm {
        concentration: f64,
        /// A reading, or the mean of several.
        signal: f64,
        /// How many readings the signal is the mean of.
        readings: u32,
        /// Sum of squared deviations of the readings from their mean.
        sum_of_squares_within: Real,
        weight: Real,
        residual: Real,
        leverage: Real,
        studentized_residual: Option<Real>,
        cooks_distance: Option<Real>,
        percent_error: Option<Real>,
    }

    /// The factor that turns unit-weight variances into variances.
    ScaleForm {
        variance: Option<Real>,
        degrees_of_freedom: DofForm,
        from: Word<ScaleFrom>,
    }

    /// Figures that judge the calibration as a whole.
    DiagnosticsForm {
        /// Coefficient of determination.
        r_squared: Option<Real>,
        /// about_mean, or about_zero for a shape through zero.
        r_squared_kind: Option<String>,
        /// Of the unweighted line with free intercept alone.
        r: Option<Real>,
        /// Relative standard error, per cent.
        relative_standard_error: Option<Real>,
        lack_of_fit: Option<TestForm>,
        /// Mandel's test of the quadratic term.
        mandel: Option<TestForm>,
        /// Concentration of 1 % absorption.
        characteristic_concentration: Option<Real>,
    }

    /// An F test.
    TestForm {
        statistic: Real,
        p: Real,
        numerator_degrees_of_freedom: Real,
        denominator_degrees_of_freedom: Real,
    }
}

impl TestForm {
    pub fn of(test: FTest) -> Self {
        TestForm {
            statistic: Real(test.statistic),
            p: Real(test.p),
            numerator_degrees_of_freedom: Real(test.numerator_dof),
            denominator_degrees_of_freedom: Real(test.denominator_dof),
        }
    }
}

impl CalibrationForm {
    pub fn of(calibration: &Calibration) -> Self {
        let options = calibration.options();
        let (zero, zero_floor) = match options.zero {
            Zero::Include => ("include", None),
            Zero::LeaveOut => ("leave_out", None),
            Zero::Floor(floor) => ("floor", Some(floor)),
        };
        let (zeroing, zeroing_u) = match options.zeroing {
            Zeroing::Raw => ("raw", None),
            Zeroing::BlankSubtracted(u) => ("blank_subtracted", Some(u)),
            Zeroing::Autozeroed(u) => ("autozeroed", Some(u)),
        };
        let scale = calibration.scale();
        let r_squared = calibration.r_squared();
        let some = |x: Option<f64>| x.and_then(finite);
        CalibrationForm {
            id: calibration.id().to_string(),
            shape: Word(calibration.shape()),
            noise: NoiseForm::of(&options.noise),
            zero: zero.to_owned(),
            zero_floor,
            zeroing: zeroing.to_owned(),
            zeroing_standard_uncertainty: zeroing_u,
            unit: Word(options.unit),
            stocks: (options.stocks.iter())
                .map(|stock| StockForm {
                    name: stock.name.to_string(),
                    relative_standard_uncertainty: stock.relative_u,
                })
                .collect(),
            resolution: options.resolution,
            point_kind: Word(calibration.points().kind()),
            points: points(calibration),
            coefficients: calibration.coefficients().into_iter().map(Real).collect(),
            standard_errors: calibration.standard_errors().into_iter().map(Real).collect(),
            covariance: rows(&calibration.covariance()),
            scale: ScaleForm {
                variance: finite(scale.variance),
                degrees_of_freedom: DofForm(scale.dof),
                from: Word(scale.estimate),
            },
            sum_of_squares: Real(calibration.sum_of_squares()),
            residual_degrees_of_freedom: u32::try_from(calibration.residual_dof()).unwrap_or(u32::MAX),
            residual_standard_deviation: some(calibration.residual_sd()),
            chi_squared: some(calibration.chi_squared()),
            lowest: Real(calibration.lowest()),
            top: Real(calibration.top()),
            turning_point: some(calibration.turning_point()),
            ceiling: some(calibration.ceiling()),
            monotonic: calibration.is_monotonic(),
            serves: calibration.serves(),
            diagnostics: DiagnosticsForm {
                r_squared: some(r_squared.map(SquaredCorrelation::value)),
                r_squared_kind: r_squared.map(|squared| squared.kind().to_owned()),
                r: some(calibration.correlation()),
                relative_standard_error: some(calibration.relative_standard_error()),
                lack_of_fit: calibration.lack_of_fit().map(TestForm::of),
                mandel: calibration.mandel().map(TestForm::of),
                characteristic_concentration: some(calibration.characteristic_concentration()),
            },
            findings: calibration.findings().iter().map(FindingForm::of).collect(),
        }
    }

    /// The calibration: fitted again to the stored points as the stored options say.
    pub fn calibration(&self, path: &str) -> Result<Calibration, Error> {
        let here = |member: &str| format!("{path}.{member}");
        let identity = id(&self.id).ok_or_else(|| wrong(here("id"), "an identity has sixteen hexadecimal digits"))?;
        let findings = findings(&self.findings, &here("findings"))?;
        let fitted = self.options(path).and_then(|options| {
            let column = |of: fn(&PointForm) -> f64| self.points.iter().map(of).collect::<Vec<f64>>();
            let points = Points::restored(
                column(|point| point.concentration),
                column(|point| point.signal),
                self.points.iter().map(|point| point.readings).collect(),
                column(|point| point.sum_of_squares_within.0),
                self.point_kind.0,
            );
            Calibration::restored(&points.map_err(|error| at(&here("points"), &error))?, &options, findings)
                .map_err(|error| at(path, &error))
        })?;
        if fitted.id() == identity {
            return Ok(fitted);
        }
        let what = format!("the points and options stored have the identity {}, not {identity}", fitted.id());
        Err(wrong(here("id"), what).help("the calibration was changed after it was written"))
    }

    fn options(&self, path: &str) -> Result<FitOptions, Error> {
        let here = |member: &str| format!("{path}.{member}");
        let zero = match (self.zero.as_str(), self.zero_floor) {
            ("include", None) => Zero::Include,
            ("leave_out", None) => Zero::LeaveOut,
            ("floor", Some(floor)) => Zero::Floor(floor),
            _ => return Err(wrong(here("zero"), "zero is include, leave_out, or floor with zero_floor")),
        };
        let zeroing = match (self.zeroing.as_str(), self.zeroing_standard_uncertainty) {
            ("raw", None) => Zeroing::Raw,
            ("blank_subtracted", Some(u)) => Zeroing::BlankSubtracted(u),
            ("autozeroed", Some(u)) => Zeroing::Autozeroed(u),
            _ => return Err(wrong(here("zeroing"), "zeroing is raw, or another with its standard uncertainty")),
        };
        let stock = |form: &StockForm| Stock {
            name: form.name.as_str().into(),
            relative_u: form.relative_standard_uncertainty,
        };
        Ok(FitOptions {
            shape: self.shape.0,
            noise: self.noise.noise(&here("noise"))?,
            zero,
            zeroing,
            unit: self.unit.0,
            stocks: self.stocks.iter().map(stock).collect(),
            resolution: self.resolution,
            on_bad_curve: OnBadCurve::Flag,
            ..FitOptions::default()
        })
    }
}

impl NoiseForm {
    pub fn of(noise: &Noise) -> Self {
        let (sigmas, at_least) = match noise {
            Noise::RelativeSigma(sigmas) | Noise::KnownSigma(sigmas) => (Some(sigmas.as_slice().to_vec()), None),
            Noise::FromReplicates(ReplicateModel::PerLevel { at_least }) => (None, Some(*at_least)),
            _ => (None, None),
        };
        NoiseForm { model: noise.name().to_owned(), sigmas, at_least }
    }

    fn noise(&self, path: &str) -> Result<Noise, Error> {
        let noise = match (self.model.as_str(), &self.sigmas, self.at_least) {
            ("known_sigma", Some(sigmas), None) => Sigmas::new(sigmas).map(Noise::KnownSigma),
            ("relative_sigma", Some(sigmas), None) => Sigmas::new(sigmas).map(Noise::RelativeSigma),
            ("from_replicates_per_level", None, Some(at_least)) => {
                Ok(Noise::FromReplicates(ReplicateModel::PerLevel { at_least }))
            }
            (model, None, None) => Noise::parse(model),
            _ => return Err(wrong(path, "the model and the figures beside it do not go together")),
        };
        noise.map_err(|error| at(path, &error))
    }
}

pub(super) fn rows(matrix: &Square) -> Vec<Vec<Real>> {
    let size = matrix.size().max(1);
    matrix.as_slice().chunks(size).map(|row| row.iter().copied().map(Real).collect()).collect()
}

fn points(calibration: &Calibration) -> Vec<PointForm> {
    let points = calibration.points();
    let columns = [
        calibration.residuals(),
        calibration.leverages(),
        calibration.studentised_residuals(),
        calibration.cooks_distances(),
        calibration.percent_error(),
    ];
    let [residuals, leverages, studentized, distances, errors] = &columns;
    let at = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
    (0..points.len())
        .map(|i| PointForm {
            concentration: at(points.concentrations(), i),
            signal: at(points.signals(), i),
            readings: points.readings().get(i).copied().unwrap_or(0),
            sum_of_squares_within: Real(at(points.within(), i)),
            weight: Real(at(calibration.weights(), i)),
            residual: Real(at(residuals, i)),
            leverage: Real(at(leverages, i)),
            studentized_residual: finite(at(studentized, i)),
            cooks_distance: finite(at(distances, i)),
            percent_error: finite(at(errors, i)),
        })
        .collect()
}
