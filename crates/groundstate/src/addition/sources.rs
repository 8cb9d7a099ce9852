//! Independent sources of an extrapolation: how each moves intercept, slope and the concentration found.

use std::sync::Arc;

use super::fieller::Ratio;
use super::options::{SeriesOptions, Volumes};
use crate::curve::{Calibration, ScaleFrom};
use crate::error::Error;
use crate::estimate::{CalibrationId, Contributions, Dof, Estimates, Key, Part, SourceKind, Status};
use crate::glassware::Measured;
use crate::unit::Unit;

/// One source, by one standard uncertainty of it.
#[derive(Clone, Debug)]
pub(super) struct Move {
    pub key: Key,
    pub kind: SourceKind,
    /// The variance estimate that it rests on.
    pub variance: (Key, Dof),
    pub intercept: f64,
    pub slope: f64,
    /// Of the concentration found, in its unit.
    pub found: f64,
}

impl Move {
    fn new(key: Key, kind: SourceKind, dof: Dof) -> Move {
        let variance = if dof.is_infinite() { Key::Known } else { key.clone() };
        Move { key, kind, variance: (variance, dof), intercept: 0.0, slope: 0.0, found: 0.0 }
    }
}

/// Identity of a series: that of its line, told apart by where it belongs.
pub(super) fn identity(line: &Calibration, options: &SeriesOptions) -> CalibrationId {
    let Some(origin) = &options.origin else { return line.id() };
    // FNV-1a, rotated so that every byte reaches every bit.
    let mix = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(23);
    let bytes = origin.run.bytes().chain(origin.position.to_le_bytes());
    CalibrationId(bytes.fold(line.id().0, mix))
}

/// The sources of intercept and slope of `line`, which gives the concentration `found`.
pub(super) fn of(
    line: &Calibration,
    options: &SeriesOptions,
    growth: &[f64],
    found: f64,
    id: CalibrationId,
) -> Vec<Move> {
    let (scale, b, top) = (line.scale(), line.kernel.b, line.top());
    let mut moves = Vec::new();
    // Without a degree of freedom the parts stand for unit weight, on an estimate from nothing: then no u is given.
    let sd = if scale.dof.get() > 0.0 { scale.variance.sqrt() } else { 1.0 };
    let variance = match scale.estimate {
        ScaleFrom::Residuals => Key::Residual(id),
        ScaleFrom::Replicates => Key::Within(id),
        ScaleFrom::Known => Key::Known,
    };
    for part in 0..line.shape().parameters() {
        let at = |x: f64| sd * line.kernel.parts(x).get(part).copied().unwrap_or(0.0);
        let source = Move::new(Key::Calibration(id, part as u8 + 1), SourceKind::Calibration, scale.dof);
        let (intercept, slope) = (at(0.0), (at(top) - at(0.0)) / top);
        moves.push(Move { variance: (variance.clone(), scale.dof), intercept, slope, found: at(-found) / b, ..source });
    }
    if options.zeroing.u() > 0.0 {
        // A blank that was taken too high leaves every signal too low by the same step, before it is scaled.
        let moved = response(line, growth, -options.zeroing.u());
        moves.push(moved.source(Move::new(Key::Zero(id), SourceKind::Zero, Dof::INFINITE), found, b));
    }
    for stock in options.stocks.iter().filter(|stock| stock.relative_u > 0.0) {
        let source = Move::new(Key::Stock(Arc::clone(&stock.name)), SourceKind::Stock, Dof::INFINITE);
        moves.push(Coefficients { intercept: 0.0, slope: -b * stock.relative_u }.source(source, found, b));
    }
    if let Volumes::Changing { initial, .. } = &options.volumes {
        // By a relative step of V0: growth less one falls by it, and so does every addition, which steepens the line.
        let signals = line.points().signals();
        let fall: Vec<f64> = growth.iter().zip(signals).map(|(f, z)| -z * (f - 1.0) / f).collect();
        let moved = response(line, &fall, 1.0);
        for (source, relative) in measured(initial, Part::Aliquot(1), options, id) {
            let moved = Coefficients { intercept: moved.intercept, slope: moved.slope + b };
            moves.push(moved.times(relative).source(source, found, b));
        }
    }
    moves
}

/// The independent parts of a volume with their relative standard uncertainties.
fn measured(volume: &Measured, part: Part, options: &SeriesOptions, id: CalibrationId) -> Vec<(Move, f64)> {
    let (run, position) = match &options.origin {
        Some(origin) => (Arc::clone(&origin.run), origin.position),
        None => (Arc::from(format!("additions:{id}")), 1),
    };
    let shared = volume.shared().map(|(item, u, dof)| (Key::Item(Arc::clone(item)), u, dof));
    let own = volume.own().map(|(u, dof)| (Key::At(run, position, part), u, dof));
    let parts = shared.into_iter().chain(own);
    parts.map(|(key, u, dof)| (Move::new(key, SourceKind::Volume, dof), u / volume.value())).collect()
}

/// The independent parts of the volume before any addition: key, degrees of freedom, relative standard uncertainty.
pub(super) fn initial_volume(volume: &Measured, options: &SeriesOptions, id: CalibrationId) -> Vec<(Key, Dof, f64)> {
    let parts = measured(volume, Part::Aliquot(1), options, id);
    parts.into_iter().map(|(part, relative)| (part.key, part.variance.1, relative)).collect()
}

/// A change of intercept and slope.
#[derive(Clone, Copy, Debug)]
struct Coefficients {
    intercept: f64,
    slope: f64,
}

impl Coefficients {
    fn times(self, factor: f64) -> Coefficients {
        Coefficients { intercept: factor * self.intercept, slope: factor * self.slope }
    }

    fn source(self, source: Move, found: f64, b: f64) -> Move {
        let moved = (self.intercept - found * self.slope) / b;
        Move { intercept: self.intercept, slope: self.slope, found: moved, ..source }
    }
}

/// How the line moves when every signal moves by `step` times its element of `by`.
fn response(line: &Calibration, by: &[f64], step: f64) -> Coefficients {
    let (x, w) = (line.points().concentrations(), line.weights());
    let each = || x.iter().zip(w).zip(by).map(|((x, w), by)| (*x, *w, *by));
    let weight: f64 = w.iter().sum();
    let centre = each().map(|(x, w, _)| w * x).sum::<f64>() / weight;
    let level = each().map(|(_, w, by)| w * by).sum::<f64>() / weight;
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (x, w, by) in each() {
        sxx += w * (x - centre) * (x - centre);
        sxy += w * (x - centre) * (by - level);
    }
    let slope = sxy / sxx;
    Coefficients { intercept: level - slope * centre, slope }.times(step)
}

/// The concentration found as an estimate, and that in the sample if `options` name its aliquot.
pub(super) fn estimates(
    found: Option<f64>,
    moves: &[Move],
    options: &SeriesOptions,
    id: CalibrationId,
) -> Result<(Estimates, Option<Estimates>), Error> {
    let solution = estimate(found, 1.0, moves, &[], options.unit)?;
    let Some(aliquot) = &options.aliquot else { return Ok((solution, None)) };
    let value = found.unwrap_or(0.0) * aliquot.factor();
    let mut volumes = Vec::new();
    for (volume, part, sign) in
        [(&aliquot.sample, Part::SampleVolume, -1.0), (&aliquot.made_up_to, Part::FinalVolume, 1.0)]
    {
        let parts = measured(volume, part, options, id);
        volumes.extend(parts.into_iter().map(|(source, relative)| Move { found: sign * relative * value, ..source }));
    }
    let sample = estimate(found, aliquot.factor(), moves, &volumes, options.unit)?;
    Ok((solution, Some(sample)))
}

/// `found` times `factor`, with contributions of `moves` times it and of `volumes`.
fn estimate(found: Option<f64>, factor: f64, moves: &[Move], volumes: &[Move], unit: Unit) -> Result<Estimates, Error> {
    let mut table = Contributions::default();
    let scaled = moves.iter().map(|one| (one, factor * one.found));
    let mut row = Vec::new();
    for (source, value) in scaled.chain(volumes.iter().map(|one| (one, one.found))) {
        let variance = table.variance(source.variance.0.clone(), source.variance.1);
        row.push((table.shared(source.key.clone(), source.kind, variance), value));
    }
    let status = match found {
        None => Status::NotCalibrated,
        Some(found) if found < 0.0 => Status::Negative,
        Some(_) => Status::InRange,
    };
    table.push_row(row.into_iter().filter(|_| found.is_some()));
    let value = found.map_or(f64::NAN, |found| factor * found);
    if found.is_some() && !value.is_finite() {
        return Err(Error::argument(
            "volumes",
            format!("the factor {factor:e} makes the result too large for a number"),
        ));
    }
    Estimates::new(vec![value], vec![status], unit, table)
}

/// Intercept over slope as a ratio with its covariance, times the aliquot's `factor` whose relative variance is
/// `factor_variance`.
pub(super) fn ratio(line: &Calibration, moves: &[Move], factor: f64, factor_variance: f64) -> Ratio {
    let b = line.kernel.b;
    let sum = |of: fn(&Move) -> f64| moves.iter().map(of).sum::<f64>();
    Ratio {
        numerator: factor * line.kernel.a,
        denominator: b,
        variances: [
            factor * factor * sum(|one| one.intercept * one.intercept),
            sum(|one| one.slope * one.slope) + b * b * factor_variance,
        ],
        covariance: factor * sum(|one| one.intercept * one.slope),
    }
}
