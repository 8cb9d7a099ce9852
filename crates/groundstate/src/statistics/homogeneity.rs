//! Whether several sets of readings scatter alike.

use super::replicates::{Replicates, mean, pooled, replicates, sum};
use super::robust::median;
use super::{check, check_alpha, number};
use crate::error::Error;
use crate::finding::Citation;
use crate::numeric::distribution::{chi_squared, fisher_f};

/// A test of equal variances, by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum VarianceTest {
    /// The ratio of two variances against F, [`variance_ratio`].
    Ratio,
    /// One variance that is too large, [`cochran`].
    Cochran,
    /// Normal readings in sets of any size, [`bartlett`].
    Bartlett,
    /// About the medians, [`levene`].
    Levene,
}

impl VarianceTest {
    /// Every one of them.
    pub const ALL: [VarianceTest; 4] =
        [VarianceTest::Ratio, VarianceTest::Cochran, VarianceTest::Bartlett, VarianceTest::Levene];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            VarianceTest::Ratio => "f_ratio",
            VarianceTest::Cochran => "cochran",
            VarianceTest::Bartlett => "bartlett",
            VarianceTest::Levene => "levene",
        }
    }

    /// Where it stands.
    pub const fn citation(self) -> Citation {
        const HANDBOOK: &str = "NIST/SEMATECH e-Handbook of Statistical Methods";
        match self {
            VarianceTest::Ratio => Citation::unverified("ISO 8466-1", "1990", "variance homogeneity"),
            VarianceTest::Cochran => Citation::unverified("ISO 5725-2", "2019", "Cochran's test"),
            VarianceTest::Bartlett => Citation::unverified(HANDBOOK, "", "1.3.5.7"),
            VarianceTest::Levene => Citation::unverified(HANDBOOK, "", "1.3.5.10"),
        }
    }

    /// The test of readings in `sets`.
    ///
    /// # Errors
    /// As the function of the test; for the ratio, other than two sets.
    pub fn of(self, sets: &[&[f64]], alpha: f64) -> Result<Homogeneity, Error> {
        if self == VarianceTest::Levene {
            return levene(sets, alpha);
        }
        let mut summaries = Vec::with_capacity(sets.len());
        for (place, set) in sets.iter().enumerate() {
            check(&format!("sets[{place}]"), set, 1)?;
            summaries.push(replicates(set)?);
        }
        match (self, &summaries[..]) {
            (VarianceTest::Ratio, [one, two]) => variance_ratio(one, two, alpha),
            (VarianceTest::Ratio, _) => {
                let what = format!("a ratio is of two sets, {} given", sets.len());
                Err(Error::argument("sets", what).help("use Bartlett's, Levene's or Cochran's test for more"))
            }
            (VarianceTest::Cochran, all) => cochran(all, alpha),
            (_, all) => bartlett(all, alpha),
        }
    }
}

/// What a test of equal variances says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homogeneity {
    /// The test's statistic; infinite where one variance is zero beside one that is not and the test divides by it.
    pub statistic: f64,
    /// What the statistic must exceed.
    pub critical: f64,
    /// The probability of such a statistic or a larger one when the variances are equal.
    pub p: f64,
    /// The degrees of freedom of the reference distribution: of F two, of chi-squared the first (the second is none).
    pub dof: (f64, Option<f64>),
    /// The set with the largest variance, counted from 0, where the test points at one.
    pub index: Option<usize>,
    /// Whether the statistic exceeds the critical value.
    pub significant: bool,
}

/// The ratio of two variances, the larger over the smaller, against the upper `alpha` point of F.
///
/// For a calibration the sets are readings of the lowest and the highest standard (10 each) and alpha is 0.01. The
/// level is that of one side, as the standard has it; it doubles where the larger variance was not named beforehand.
/// Two variances of zero have the ratio 1. Source: ISO 8466-1:1990, variance homogeneity (from memory).
///
/// # Errors
/// A set of one reading, `alpha` not between 0 and 1.
pub fn variance_ratio(one: &Replicates, two: &Replicates, alpha: f64) -> Result<Homogeneity, Error> {
    check_alpha(alpha)?;
    let (Some(first), Some(second)) = (one.sd, two.sd) else {
        return Err(Error::argument("sets", "each of the two sets needs at least 2 readings"));
    };
    let (above, below, index) = if first >= second { (one, two, 0) } else { (two, one, 1) };
    let (larger, smaller) = (first.max(second), first.min(second));
    let ratio = if larger <= 0.0 { 1.0 } else { larger / smaller };
    let statistic = ratio * ratio;
    let (dof1, dof2) = (above.dof(), below.dof());
    let critical = fisher_f::upper_quantile(alpha, dof1, dof2);
    Ok(Homogeneity {
        statistic,
        critical,
        p: fisher_f::sf(statistic, dof1, dof2),
        dof: (dof1, Some(dof2)),
        index: Some(index),
        significant: statistic > critical,
    })
}

/// Cochran's test for one variance that is too large: the largest over the sum of all, from sets of equal size.
///
/// The critical value follows from F by the bound of Bonferroni, which is what the printed tables hold. Where no set
/// scatters the statistic is 1/k. Source: ISO 5725-2:2019, 8.3.4 (from memory).
///
/// # Errors
/// Fewer than 2 sets, sets of one reading or of different sizes, `alpha` not between 0 and 1.
pub fn cochran(sets: &[Replicates], alpha: f64) -> Result<Homogeneity, Error> {
    check_alpha(alpha)?;
    let scatter = scatters(sets)?;
    let dof = scatter.first().map_or(0.0, |set| set.1);
    if scatter.iter().any(|set| (set.1 - dof).abs() > 0.0) {
        return Err(Error::argument("sets", "Cochran's test needs sets of one size").help("use Bartlett's or Levene's"));
    }
    let mut index = 0;
    let mut largest = f64::NEG_INFINITY;
    for (place, &(sd, _)) in scatter.iter().enumerate() {
        if sd > largest {
            (index, largest) = (place, sd);
        }
    }
    let k = number(sets.len());
    let total = sum(scatter.iter().map(|(sd, _)| (sd / largest) * (sd / largest)));
    let statistic = if largest > 0.0 { 1.0 / total } else { 1.0 / k };
    let (dof1, dof2) = (dof, dof * (k - 1.0));
    let f = fisher_f::upper_quantile(alpha / k, dof1, dof2);
    let critical = 1.0 / (1.0 + (k - 1.0) / f);
    let ratio = (k - 1.0) * statistic / (1.0 - statistic);
    Ok(Homogeneity {
        statistic,
        critical,
        p: (k * fisher_f::sf(ratio, dof1, dof2)).min(1.0),
        dof: (dof1, Some(dof2)),
        index: Some(index),
        significant: statistic > critical,
    })
}

/// Bartlett's test, for normal readings in sets of any size. Where no set scatters the statistic is 0, where only some
/// do it is infinite.
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.7.
///
/// # Errors
/// Fewer than 2 sets, a set of one reading, `alpha` not between 0 and 1.
pub fn bartlett(sets: &[Replicates], alpha: f64) -> Result<Homogeneity, Error> {
    check_alpha(alpha)?;
    let scatter = scatters(sets)?;
    let pooled = pooled(sets)?;
    let k = number(sets.len());
    let statistic = if pooled.sd <= 0.0 {
        0.0
    } else if scatter.iter().any(|(sd, _)| *sd <= 0.0) {
        f64::INFINITY
    } else {
        let numerator = -2.0 * sum(scatter.iter().map(|(sd, dof)| dof * libm::log(sd / pooled.sd)));
        let parts = sum(scatter.iter().map(|(_, dof)| 1.0 / dof)) - 1.0 / pooled.dof;
        // Rounding alone makes it negative, when the variances are equal.
        (numerator / (1.0 + parts / (3.0 * (k - 1.0)))).max(0.0)
    };
    let critical = chi_squared::upper_quantile(alpha, k - 1.0);
    Ok(Homogeneity {
        statistic,
        critical,
        p: chi_squared::sf(statistic, k - 1.0),
        dof: (k - 1.0, None),
        index: None,
        significant: statistic > critical,
    })
}

/// Levene's test about the medians (Brown and Forsythe), which does not lean on normality. Where the mean distances from
/// the medians differ by rounding only the statistic is 0. Two readings are equally far from their median, whatever
/// they are, so a set needs three. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.10.
///
/// # Errors
/// Fewer than 2 sets, a set of fewer than 3 readings, values that are not finite, `alpha` not between 0 and 1.
pub fn levene(sets: &[&[f64]], alpha: f64) -> Result<Homogeneity, Error> {
    check_alpha(alpha)?;
    if sets.len() < 2 {
        return Err(Error::argument("sets", format!("at least 2 sets are needed, {} given", sets.len())));
    }
    let mut distances = Vec::with_capacity(sets.len());
    for (place, set) in sets.iter().enumerate() {
        check(&format!("sets[{place}]"), set, 3)?;
        let middle = median(set)?;
        distances.push(set.iter().map(|value| (value - middle).abs()).collect::<Vec<f64>>());
    }
    let all: Vec<f64> = distances.concat();
    let overall = mean(&all);
    let (mut between, mut within) = (0.0, 0.0);
    for set in &distances {
        let summary = replicates(set)?;
        let shift = summary.mean - overall;
        between += number(set.len()) * shift * shift;
        let sd = summary.sd.unwrap_or(0.0);
        within += summary.dof() * sd * sd;
    }
    let (dof1, dof2) = (number(sets.len()) - 1.0, number(all.len()) - number(sets.len()));
    let largest = sets.iter().flat_map(|set| set.iter()).fold(0.0_f64, |most, value| most.max(value.abs()));
    let rounding = 4.0 * f64::EPSILON * largest;
    let apart = between > number(all.len()) * rounding * rounding;
    let statistic = if apart { (between / dof1) / (within / dof2) } else { 0.0 };
    let critical = fisher_f::upper_quantile(alpha, dof1, dof2);
    Ok(Homogeneity {
        statistic,
        critical,
        p: fisher_f::sf(statistic, dof1, dof2),
        dof: (dof1, Some(dof2)),
        index: None,
        significant: statistic > critical,
    })
}

/// The standard deviation and degrees of freedom of every set.
fn scatters(sets: &[Replicates]) -> Result<Vec<(f64, f64)>, Error> {
    if sets.len() < 2 {
        return Err(Error::argument("sets", format!("at least 2 sets are needed, {} given", sets.len())));
    }
    sets.iter()
        .enumerate()
        .map(|(place, set)| match set.sd {
            Some(sd) => Ok((sd, set.dof())),
            None => Err(Error::argument(&format!("sets[{place}]"), "a set needs at least 2 readings")),
        })
        .collect()
}
