//! Standard deviations from the replicate readings of the standards.

use super::noise::{Noise, ReplicateModel};
use super::points::{PointKind, Points};
use super::weighing::{Scale, ScaleFrom, VarianceFunction, Weighing, Within};
use crate::error::Error;
use crate::estimate::Dof;
use crate::numeric::dd::Dd;

/// Scatter within one level: concentration, sum of squared deviations, degrees of freedom.
pub(super) struct Level {
    pub x: f64,
    pub squares: f64,
    pub dof: usize,
}

/// Scatter within each standard, or within the readings of each concentration where points are readings.
pub(super) fn levels(points: &Points) -> Vec<Level> {
    let x = points.concentrations();
    if points.kind() == PointKind::Standards {
        return (0..points.len())
            .map(|i| Level { x: x[i], squares: points.within()[i], dof: points.readings()[i] as usize - 1 })
            .collect();
    }
    let of = |level: f64| {
        let readings: Vec<Dd> = (0..points.len())
            .filter(|i| x[*i].total_cmp(&level).is_eq())
            .map(|i| Dd::from(points.signals()[i]))
            .collect();
        let mean = readings.iter().fold(Dd::ZERO, |sum, y| sum + *y) / Dd::from(readings.len() as f64);
        let squares = readings.iter().fold(Dd::ZERO, |sum, y| sum + (*y - mean).square());
        Level { x: level, squares: squares.value(), dof: readings.len() - 1 }
    };
    points.levels().into_iter().map(of).collect()
}

/// Weights and scale of [`Noise::FromReplicates`].
pub(super) fn weigh(points: &Points, model: ReplicateModel) -> Result<Weighing, Error> {
    let levels = levels(points);
    let dof: usize = levels.iter().map(|level| level.dof).sum();
    let squares: f64 = levels.iter().map(|level| level.squares).sum();
    if dof == 0 || squares <= 0.0 {
        let what = "the standards have no replicate readings that differ, so their scatter cannot be estimated";
        return Err(
            Error::argument("noise", what).help("read each standard more than once, or choose another noise model")
        );
    }
    let count = |i: usize| Dd::from(f64::from(points.readings()[i]));
    let n = points.len();
    let scale = |variance, dof| Some(Scale { variance, dof: Dof::count(dof), estimate: ScaleFrom::Replicates });
    match model {
        ReplicateModel::Pooled => Ok(Weighing {
            weights: (0..n).map(count).collect(),
            variance: VarianceFunction::Constant,
            scale: scale(squares / dof as f64, dof),
        }),
        ReplicateModel::FloorPlusProportional => {
            if levels.iter().filter(|level| level.dof > 0).count() < 3 {
                let what = "a floor and a proportional part need replicate readings at three levels or more";
                return Err(Error::argument("noise", what));
            }
            let variance = floor_plus_proportional(&levels);
            Ok(Weighing {
                weights: (0..n).map(|i| count(i) / Dd::from(variance.at(points.concentrations()[i]))).collect(),
                variance,
                scale: scale(1.0, dof.saturating_sub(2).max(1)),
            })
        }
        ReplicateModel::PerLevel { at_least } => {
            let own = |i: usize| levels.iter().find(|level| level.x.total_cmp(&points.concentrations()[i]).is_eq());
            let mut weights = Vec::with_capacity(n);
            for i in 0..n {
                let level = own(i).filter(|level| level.dof + 1 >= at_least as usize && level.squares > 0.0);
                let Some(level) = level else {
                    let x = points.concentrations()[i];
                    let what =
                        format!("level {x} has fewer than {at_least} readings, or none that differ, to weigh it by");
                    return Err(Error::argument("noise", what).help("pool the levels, or read each more often"));
                };
                weights.push(count(i) * Dd::from(level.dof as f64) / Dd::from(level.squares));
            }
            Ok(Weighing { weights, variance: VarianceFunction::Unknown, scale: scale(1.0, dof) })
        }
    }
}

/// Fits variance = floor² + (proportion x)² to the levels' variances, each weighed by its degrees of freedom over
/// the square of its fitted variance (a chi-squared variance of dof d has relative variance 2/d), to convergence;
/// a negative part is set to zero.
fn floor_plus_proportional(levels: &[Level]) -> VarianceFunction {
    let pooled = levels.iter().map(|l| l.squares).sum::<f64>() / levels.iter().map(|l| l.dof).sum::<usize>() as f64;
    let (mut floor2, mut slope2) = (pooled, 0.0);
    for _ in 0..100 {
        let [mut s, mut sx, mut sxx, mut sy, mut sxy] = [0.0; 5];
        for level in levels.iter().filter(|level| level.dof > 0) {
            let (x2, observed) = (level.x * level.x, level.squares / level.dof as f64);
            let fitted = floor2 + slope2 * x2;
            let w = level.dof as f64 / (fitted * fitted);
            s += w;
            sx += w * x2;
            sxx += w * x2 * x2;
            sy += w * observed;
            sxy += w * x2 * observed;
        }
        let determinant = s * sxx - sx * sx;
        let slope = (s * sxy - sx * sy) / determinant;
        let floor = (sxx * sy - sx * sxy) / determinant;
        let next = match (floor > 0.0, slope > 0.0) {
            (true, true) => (floor, slope),
            (true, false) => (sy / s, 0.0),
            // A floor of nothing would give the lowest level an endless weight: keep a thousandth of the pooled one.
            (false, _) => (1e-3 * pooled, (sxy / sxx).max(0.0)),
        };
        let moved = (next.0 - floor2).abs() + (next.1 - slope2).abs() * levels.last().map_or(0.0, |l| l.x * l.x);
        (floor2, slope2) = next;
        if moved <= 1e-14 * pooled {
            break;
        }
    }
    VarianceFunction::FloorPlusProportional { floor2, slope2 }
}

/// Scatter of readings within standards, of unit weight, where points are standards of several readings and the
/// scale comes from the residuals.
pub(super) fn within(points: &Points, noise: &Noise, variance: VarianceFunction) -> Option<Within> {
    if points.kind() != PointKind::Standards || !noise.scales_by_level() {
        return None;
    }
    let dof: usize = points.readings().iter().map(|m| *m as usize - 1).sum();
    let squares: f64 =
        points.within().iter().zip(points.concentrations()).map(|(squares, x)| squares / variance.at(*x)).sum();
    let reciprocals: f64 = points.readings().iter().map(|m| 1.0 / f64::from(*m)).sum();
    (dof > 0).then(|| Within {
        variance: squares / dof as f64,
        dof,
        mean_reciprocal: reciprocals / points.len() as f64,
    })
}
