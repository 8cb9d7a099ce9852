//! Tests for outlying values in a sample from a normal population.

use super::replicates::{mean, sd_about};
use super::{check, check_alpha, dixon, number};
use crate::error::Error;
use crate::finding::Citation;
use crate::numeric::distribution::student_t;

/// Where an outlier is looked for. Named before the figures are seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Side {
    /// At either end: the usual question.
    #[default]
    Both,
    /// Below the others only.
    Low,
    /// Above the others only.
    High,
}

impl Side {
    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Side::Both => "both",
            Side::Low => "low",
            Side::High => "high",
        }
    }
}

/// A test for outlying values, by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum OutlierTest {
    /// [`grubbs`].
    Grubbs,
    /// [`dixon`], r10.
    Dixon,
    /// [`generalized_esd`].
    GeneralizedEsd,
}

impl OutlierTest {
    /// Every one of them.
    pub const ALL: [OutlierTest; 3] = [OutlierTest::Grubbs, OutlierTest::Dixon, OutlierTest::GeneralizedEsd];

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            OutlierTest::Grubbs => "grubbs",
            OutlierTest::Dixon => "dixon",
            OutlierTest::GeneralizedEsd => "generalized_esd",
        }
    }

    /// Where it stands.
    pub const fn citation(self) -> Citation {
        const HANDBOOK: &str = "NIST/SEMATECH e-Handbook of Statistical Methods";
        match self {
            OutlierTest::Grubbs => Citation::unverified(HANDBOOK, "", "1.3.5.17.1"),
            OutlierTest::Dixon => Citation::unverified("W. J. Dixon, Ann. Math. Statist. 21, 488", "1950", ""),
            OutlierTest::GeneralizedEsd => Citation::unverified(HANDBOOK, "", "1.3.5.17.3"),
        }
    }
}

/// What a test says of the value that stands out most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// The place of the value in the input, counted from 0; the first of equals.
    pub index: usize,
    /// The value.
    pub value: f64,
    /// The test's statistic; 0 where all values are equal, so that nothing stands out.
    pub statistic: f64,
    /// What the statistic must exceed.
    pub critical: f64,
    /// Whether it does.
    pub significant: bool,
}

/// Grubbs' test for one outlier: the largest distance from the mean in standard deviations.
///
/// At most once: repeated on what remains it no longer keeps its level; see [`generalized_esd`] for several. Source:
/// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1; F. E. Grubbs, Technometrics 11 (1969) 1.
///
/// # Errors
/// Fewer than 3 values, values that are not finite, `alpha` not between 0 and 1.
pub fn grubbs(values: &[f64], side: Side, alpha: f64) -> Result<Suspect, Error> {
    check("values", values, 3)?;
    let critical = grubbs_critical(values.len(), side, alpha)?;
    let places: Vec<usize> = (0..values.len()).collect();
    Ok(farthest(values, &places, side, critical))
}

/// The critical value of Grubbs' statistic for `n` values at level `alpha`, exact where it exceeds what two values
/// at once can reach, otherwise a little on the safe side (the handbook's formula).
///
/// # Errors
/// `n` below 3, `alpha` not between 0 and 1.
pub fn grubbs_critical(n: usize, side: Side, alpha: f64) -> Result<f64, Error> {
    check_alpha(alpha)?;
    if n < 3 {
        return Err(Error::argument("n", format!("Grubbs' test needs at least 3 values, {n} given")));
    }
    Ok(extreme_deviate(number(n), alpha * share(side)))
}

/// The probability of a Grubbs statistic as large as `statistic` among `n` normal values, by the bound that the critical
/// value rests on: below `alpha` exactly where the statistic exceeds [`grubbs_critical`] at `alpha`. At most 1.
///
/// # Errors
/// `n` below 3, a statistic that is negative or no number.
pub fn grubbs_p(n: usize, statistic: f64, side: Side) -> Result<f64, Error> {
    if n < 3 {
        return Err(Error::argument("n", format!("Grubbs' test needs at least 3 values, {n} given")));
    }
    if statistic.is_nan() || statistic < 0.0 {
        return Err(Error::argument("statistic", format!("{statistic} is not a distance from the mean")));
    }
    let count = number(n);
    // The deviate and Student's t are one to one: G^2 = (n - 1)^2 t^2 / (n (n - 2 + t^2)).
    let (square, most) = (statistic * statistic, (count - 1.0) * (count - 1.0) / count);
    if square >= most {
        return Ok(0.0);
    }
    let t = ((count - 2.0) * square / (most - square)).sqrt();
    Ok((count / share(side) * student_t::sf(t, count - 2.0)).min(1.0))
}

/// Half of alpha for each end, or all of it for one.
fn share(side: Side) -> f64 {
    if side == Side::Both { 0.5 } else { 1.0 }
}

/// The deviate, in standard deviations, that the largest of `n` exceeds at one end with probability `alpha`.
fn extreme_deviate(n: f64, alpha: f64) -> f64 {
    let t = student_t::upper_quantile(alpha / n, n - 2.0);
    // t may be infinite for a vanishing alpha: then the ratio is 1 and the deviate its bound.
    let root = if t.is_finite() { t / (n - 2.0 + t * t).sqrt() } else { 1.0 };
    (n - 1.0) / n.sqrt() * root
}

/// The value farthest from the mean of those at `places`.
fn farthest(values: &[f64], places: &[usize], side: Side, critical: f64) -> Suspect {
    let kept: Vec<f64> = places.iter().filter_map(|&place| values.get(place).copied()).collect();
    let mean = mean(&kept);
    let sd = sd_about(&kept, mean);
    let distance = |value: f64| match side {
        Side::Both => (value - mean).abs(),
        Side::Low => mean - value,
        Side::High => value - mean,
    };
    let mut suspect = Suspect { index: 0, value: f64::NAN, statistic: f64::NEG_INFINITY, critical, significant: false };
    for (&index, &value) in places.iter().zip(&kept) {
        let statistic = if sd > 0.0 { distance(value) / sd } else { 0.0 };
        if statistic > suspect.statistic {
            suspect = Suspect { index, value, statistic, critical, significant: statistic > critical };
        }
    }
    suspect
}

/// Dixon's test with r10, the gap at an end over the range, for 3 to 30 values.
///
/// With [`Side::Both`] the end with the larger gap is tested at alpha/2, as in the two-sided tables. The critical
/// value is computed; printed tables differ from it by up to 0.005 (for 4 values at 99 %: 0.921 against 0.926).
/// Source: W. J. Dixon, Ann. Math. Statist. 21 (1950) 488; D. B. Rorabacher, Anal. Chem. 63 (1991) 139.
///
/// # Errors
/// Fewer than 3 or more than 30 values, values that are not finite, `alpha` not between 0 and 1.
pub fn dixon(values: &[f64], side: Side, alpha: f64) -> Result<Suspect, Error> {
    check("values", values, 3)?;
    let critical = dixon_critical(values.len(), side, alpha)?;
    let mut order: Vec<(f64, usize)> = values.iter().copied().zip(0..).collect();
    order.sort_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
    let ([(low, low_index), (second, _), ..], [.., (last_but_one, _), (high, _)]) = (&order[..], &order[..]) else {
        return Err(Error::argument("values", "at least 3 values are needed"));
    };
    // Quarters, so that the range of the largest numbers is a number.
    let range = 0.25 * high - 0.25 * low;
    let (at_low, at_high) = (0.25 * second - 0.25 * low, 0.25 * high - 0.25 * last_but_one);
    let low_end = match side {
        Side::Low => true,
        Side::High => false,
        Side::Both => at_low > at_high,
    };
    let high_index = order.iter().find(|(value, _)| value >= high).map_or(0, |(_, index)| *index);
    let (gap, value, index) = if low_end { (at_low, *low, *low_index) } else { (at_high, *high, high_index) };
    let statistic = if range > 0.0 { gap / range } else { 0.0 };
    Ok(Suspect { index, value, statistic, critical, significant: statistic > critical })
}

/// The critical value of Dixon's r10 for `n` values, 3 to 30, at level `alpha`: an integral over the normal
/// distribution, to ten digits. Takes about a hundred times as long as the test itself: keep it where it is used often.
///
/// # Errors
/// `n` outside 3 to 30, `alpha` not between 0 and 1.
pub fn dixon_critical(n: usize, side: Side, alpha: f64) -> Result<f64, Error> {
    check_alpha(alpha)?;
    if !(3..=30).contains(&n) {
        return Err(Error::argument("n", format!("Dixon's test takes 3 to 30 values, {n} given"))
            .help("Grubbs' test has no upper limit"));
    }
    Ok(dixon::upper_quantile(n, alpha * share(side)))
}

/// The probability of a Dixon ratio r10 as large as `ratio` among `n` normal values, 3 to 30, by the integral that the
/// critical value rests on. At most 1.
///
/// # Errors
/// `n` outside 3 to 30, a ratio outside 0 to 1.
pub fn dixon_p(n: usize, ratio: f64, side: Side) -> Result<f64, Error> {
    if !(3..=30).contains(&n) {
        return Err(Error::argument("n", format!("Dixon's test takes 3 to 30 values, {n} given")));
    }
    if !(0.0..=1.0).contains(&ratio) {
        return Err(Error::argument("ratio", format!("{ratio} is not a ratio of a gap to a range")));
    }
    Ok((dixon::tail(n, ratio) / share(side)).min(1.0))
}

/// The steps of [`generalized_esd`].
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ExtremeDeviates {
    /// One step for each outlier looked for: the value farthest from the mean of what the earlier steps left. Fewer
    /// where what is left no longer scatters.
    pub steps: Vec<Suspect>,
    /// How many of the first steps name outliers: up to the last significant one, even where an earlier one is not.
    pub outliers: usize,
}

impl ExtremeDeviates {
    /// The places of the outliers in the input, the most extreme first.
    pub fn indices(&self) -> impl Iterator<Item = usize> + '_ {
        self.steps.iter().take(self.outliers).map(|step| step.index)
    }
}

/// Rosner's generalized extreme Studentized deviate test for up to `most` outliers, at either end.
///
/// The level is accurate from 25 values on and fair from 15. Source: NIST/SEMATECH e-Handbook of Statistical Methods,
/// 1.3.5.17.3; B. Rosner, Technometrics 25 (1983) 165.
///
/// # Errors
/// Fewer than 3 values, values that are not finite, `alpha` not between 0 and 1, `most` zero or above n - 2.
pub fn generalized_esd(values: &[f64], most: usize, alpha: f64) -> Result<ExtremeDeviates, Error> {
    check("values", values, 3)?;
    check_alpha(alpha)?;
    if most == 0 || most > values.len() - 2 {
        let n = values.len();
        return Err(Error::argument("most", format!("from 1 to {} outliers can be looked for among {n}", n - 2)));
    }
    let mut places: Vec<usize> = (0..values.len()).collect();
    let mut result = ExtremeDeviates::default();
    for _ in 0..most {
        let critical = extreme_deviate(number(places.len()), 0.5 * alpha);
        let step = farthest(values, &places, Side::Both, critical);
        if step.statistic <= 0.0 {
            break;
        }
        places.retain(|&place| place != step.index);
        result.steps.push(step);
        if step.significant {
            result.outliers = result.steps.len();
        }
    }
    Ok(result)
}
