//! Uncertainty of the standards' concentrations.

use crate::error::Error;
use crate::estimate::Square;

/// What is known of the errors of the standards' concentrations, besides the stocks they share.
#[derive(Clone, Debug, PartialEq, Default)]
#[non_exhaustive]
pub enum StandardsError {
    /// None beyond the shared stocks.
    #[default]
    Negligible,
    /// Independent standard uncertainties, in the unit of concentration: one for all standards or one each. A zero
    /// level may have none: write 0.
    Independent(Vec<f64>),
    /// The covariance matrix of the concentrations.
    Covariance(Square),
}

/// Which covariance of the coefficients a fit with errors in both variables reports. All agree to first order in the
/// residuals; they differ in where the second-order terms are taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum CovarianceConvention {
    /// Inverse of the expected information at the adjusted points (York et al. 2004, Am. J. Phys. 72, 367;
    /// ISO/TS 28037:2010, clause 7, from its printed example).
    #[default]
    ExpectedInformation,
    /// Inverse of half the Hessian of the sum of squares.
    ObservedInformation,
    /// First-order propagation of the data's variances through the solution as an implicit function of them.
    FirstOrderPropagation,
}

impl CovarianceConvention {
    /// Every convention.
    pub const ALL: [CovarianceConvention; 3] = [
        CovarianceConvention::ExpectedInformation,
        CovarianceConvention::ObservedInformation,
        CovarianceConvention::FirstOrderPropagation,
    ];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            CovarianceConvention::ExpectedInformation => "expected_information",
            CovarianceConvention::ObservedInformation => "observed_information",
            CovarianceConvention::FirstOrderPropagation => "first_order_propagation",
        }
    }
}

impl StandardsError {
    /// Independent standard uncertainties.
    ///
    /// # Errors
    /// None given, or one that is negative or not finite.
    pub fn independent(u: &[f64]) -> Result<StandardsError, Error> {
        match u.iter().position(|u| !(*u >= 0.0 && u.is_finite())) {
            Some(i) => {
                let what = format!("{} (element {i}) is not a standard uncertainty", u[i]);
                Err(Error::argument("x_uncertainty", what))
            }
            None if u.is_empty() => Err(Error::argument("x_uncertainty", "no standard uncertainty is given")),
            None if u.iter().all(|u| *u <= 0.0) => Ok(StandardsError::Negligible),
            None => Ok(StandardsError::Independent(u.to_vec())),
        }
    }

    /// A full covariance matrix, row by row, of as many rows as there are standards.
    ///
    /// # Errors
    /// Not square, not symmetric, or with a variance or correlation that cannot be.
    pub fn covariance(rows: &[Vec<f64>]) -> Result<StandardsError, Error> {
        let size = rows.len();
        let wrong = |what: String| Err(Error::argument("x_uncertainty", what));
        if size == 0 || rows.iter().any(|row| row.len() != size) {
            return wrong("the covariance matrix is not square".to_owned());
        }
        for i in 0..size {
            for j in 0..=i {
                let (a, b) = (rows[i][j], rows[j][i]);
                let bound = (rows[i][i] * rows[j][j]).sqrt() * (1.0 + 1e-12);
                if !a.is_finite() || !b.is_finite() || rows[i][i] < 0.0 {
                    return wrong(format!("element ({i}, {j}) of the covariance matrix is not a covariance"));
                }
                if (a - b).abs() > 1e-12 * bound {
                    return wrong(format!("elements ({i}, {j}) and ({j}, {i}) of the covariance matrix differ"));
                }
                if a.abs() > bound {
                    return wrong(format!("the correlation of standards {i} and {j} is beyond one"));
                }
            }
        }
        if !semidefinite(rows) {
            let what = "the covariance matrix is not positive semidefinite: some sum of the standards would have a variance below zero";
            return Err(
                Error::argument("x_uncertainty", what).help("check the covariances against the model they came from")
            );
        }
        Ok(StandardsError::Covariance(Square::from_fn(size, |i, j| rows[i][j])))
    }

    /// The covariance matrix of `points` standards divided by `unit`, as far as it has off-diagonal elements;
    /// otherwise the variances.
    pub(super) fn of(&self, points: usize, unit: f64) -> Result<Variances, Error> {
        let misfit = |given: usize| {
            Error::argument("x_uncertainty", format!("{given} standard uncertainties for {points} points"))
        };
        match self {
            StandardsError::Negligible => Ok(Variances::Diagonal(vec![0.0; points])),
            StandardsError::Independent(u) if u.len() == 1 => Ok(Variances::Diagonal(vec![u[0] * u[0] / unit; points])),
            StandardsError::Independent(u) if u.len() == points => {
                Ok(Variances::Diagonal(u.iter().map(|u| u * u / unit).collect()))
            }
            StandardsError::Independent(u) => Err(misfit(u.len())),
            StandardsError::Covariance(matrix) if matrix.size() == points => {
                Ok(Variances::Full(matrix.as_slice().iter().map(|c| c / unit).collect()))
            }
            StandardsError::Covariance(matrix) => Err(misfit(matrix.size())),
        }
    }

    /// The same for the standards that `keep` keeps.
    pub fn filtered(&self, keep: impl Fn(usize) -> bool) -> StandardsError {
        match self {
            StandardsError::Independent(u) if u.len() > 1 => {
                let kept = u.iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, u)| *u);
                StandardsError::Independent(kept.collect())
            }
            StandardsError::Covariance(matrix) => {
                let kept: Vec<usize> = (0..matrix.size()).filter(|i| keep(*i)).collect();
                StandardsError::Covariance(Square::from_fn(kept.len(), |i, j| {
                    matrix.get(kept[i], kept[j]).unwrap_or(0.0)
                }))
            }
            other => other.clone(),
        }
    }
}

/// Whether a symmetric matrix is positive semidefinite but for rounding: whether the matrix of correlations, whose
/// eigenvalues do not depend on the units, has a Cholesky factor once a hair is added to its diagonal. The hair forgives
/// covariances that were written with ten digits.
fn semidefinite(rows: &[Vec<f64>]) -> bool {
    const HAIR: f64 = 1e-10;
    let sds: Vec<f64> = rows.iter().enumerate().map(|(i, row)| row[i].sqrt()).collect();
    let correlations =
        nalgebra::DMatrix::from_fn(rows.len(), rows.len(), |i, j| match (i == j, sds[i] * sds[j] > 0.0) {
            (true, _) => 1.0 + HAIR,
            (false, true) => rows[i][j] / (sds[i] * sds[j]),
            // A standard without an error has no covariance either: that was checked before.
            (false, false) => 0.0,
        });
    correlations.cholesky().is_some()
}

/// Variances of the standards' concentrations for unit scale.
#[derive(Clone, Debug)]
pub(super) enum Variances {
    Diagonal(Vec<f64>),
    /// Row by row.
    Full(Vec<f64>),
}

impl Variances {
    /// As a matrix.
    pub fn matrix(&self) -> nalgebra::DMatrix<f64> {
        match self {
            Variances::Diagonal(each) => nalgebra::DMatrix::from_diagonal(&nalgebra::DVector::from_column_slice(each)),
            Variances::Full(all) => {
                let size = all.len().isqrt();
                nalgebra::DMatrix::from_row_slice(size, size, all)
            }
        }
    }
}
