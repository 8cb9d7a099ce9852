//! The chain from standards and readings to results, as trials go through it side by side, a block at a time.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::distribution::Form;
use super::engine::Model;
use super::options::{Of, Scatter, SimulateOptions};
use crate::addition::Series;
use crate::curve::{Calibration, Moved, PointKind, Readings, Refit, ScaleFrom, Stock};
use crate::error::{Error, nearest};
use crate::estimate::{CalibrationId, Dof, Key, Part, SourceKind};
use crate::numeric::stream::Stream;
use crate::preparation::Share;

/// A source that is drawn once a trial: its error over its standard uncertainty.
struct Source {
    /// Its form where the caller chose one; otherwise normal, times the ratio of its estimate.
    form: Option<Form>,
    ratio: Option<usize>,
}

/// A part of an error: a source and what its standard uncertainty amounts to.
type Amount = (usize, f64);

/// A quantity that a result is multiplied with or divided by, in units of its best estimate.
struct Factor {
    over: bool,
    relative: Vec<Amount>,
}

/// The error of a reading: one source, and the parts of its variance with the ratios of the estimates they rest on.
struct ReadingError {
    source: usize,
    parts: [(f64, Option<usize>); 3],
}

struct Row {
    result: usize,
    /// The reading; none where the line is extrapolated to a signal of zero.
    reading: Option<(f64, Option<ReadingError>)>,
    factors: Vec<Factor>,
    /// From the content of the solution to the result, at the best estimates.
    multiplier: f64,
}

/// What is particular to a series of standard additions.
struct Additions {
    /// Signals, and volume over initial volume, of the points.
    signals: Vec<f64>,
    growth: Vec<f64>,
    /// Relative errors of the initial volume.
    initial: Vec<Amount>,
}

struct Curve {
    refit: Refit,
    signal_sds: Vec<f64>,
    ratio: Option<usize>,
    zero: Option<Amount>,
    /// Relative errors of the points' concentrations.
    standards: Vec<Amount>,
    /// Factor of the covariance of the errors that the fit allows for.
    concentrations: Option<Vec<Vec<f64>>>,
    stocks: Vec<Factor>,
    rows: Vec<Row>,
    lowest_dof: f64,
    additions: Option<Additions>,
}

/// What is read off a curve.
pub(super) enum Found<'a> {
    /// The content of one of the readings.
    Reading { calibration: &'a Calibration, readings: &'a Readings, index: usize },
    /// The content that a series of standard additions is extrapolated to.
    Additions(&'a Series),
}

/// One measured solution with the way back to its sample.
pub(super) struct Measured<'a> {
    pub run: &'a Arc<str>,
    pub position: u32,
    pub found: Found<'a>,
    /// Content of the solution.
    pub content: f64,
    pub multiplier: f64,
    pub shares: Vec<Vec<Share>>,
    /// First-order u of the result.
    pub first_u: f64,
}

/// All results of a simulation over the sources that they share.
pub(super) struct Chain {
    ratios: Vec<f64>,
    sources: Vec<Source>,
    curves: Vec<Curve>,
    expected: Vec<(f64, f64)>,
}

/// A chain under construction.
pub(super) struct Builder<'o> {
    options: &'o SimulateOptions,
    chain: Chain,
    estimates: BTreeMap<Key, usize>,
    known: BTreeMap<Key, usize>,
    curve_of: BTreeMap<CalibrationId, usize>,
}

impl<'o> Builder<'o> {
    pub fn new(options: &'o SimulateOptions) -> Self {
        Builder {
            options,
            chain: Chain { ratios: Vec::new(), sources: Vec::new(), curves: Vec::new(), expected: Vec::new() },
            estimates: BTreeMap::new(),
            known: BTreeMap::new(),
            curve_of: BTreeMap::new(),
        }
    }

    /// Adds the next result.
    pub fn push(&mut self, measured: Measured<'_>) -> Result<(), Error> {
        let at = match &measured.found {
            Found::Reading { calibration, .. } => self.curve(calibration)?,
            Found::Additions(series) => self.series(series)?,
        };
        let mut lowest = self.chain.curves[at].lowest_dof;
        let reading = match &measured.found {
            Found::Reading { calibration, readings, index } => {
                let error = self.reading_error(at, calibration.id(), &measured, readings, *index);
                // A form chosen for the reading takes its variance as it stands.
                if let Some(error) = &error {
                    lowest = lowest.min(self.lowest_dof(error.source));
                    if self.chain.sources[error.source].form.is_none() {
                        let ratios = error.parts.iter().filter(|(variance, _)| *variance > 0.0);
                        let ratios = ratios.filter_map(|(_, at)| *at);
                        lowest = ratios.map(|at| self.chain.ratios[at]).fold(lowest, f64::min);
                    }
                }
                Some((readings.signals().get(*index).copied().unwrap_or(f64::NAN), error))
            }
            Found::Additions(_) => None,
        };
        let mut factors = Vec::with_capacity(measured.shares.len());
        for shares in measured.shares {
            let over = shares.iter().any(|share| share.relative < 0.0);
            let mut relative = Vec::with_capacity(shares.len());
            for share in shares {
                let ratio = self.ratio(share.variance, share.dof);
                let source = self.source(share.key, share.kind, ratio);
                lowest = lowest.min(self.lowest_dof(source));
                relative.push((source, share.relative.abs()));
            }
            if !relative.is_empty() {
                factors.push(Factor { over, relative });
            }
        }
        let result = self.chain.expected.len();
        let row = Row { result, reading, factors, multiplier: measured.multiplier };
        self.chain.curves[at].rows.push(row);
        self.chain.expected.push((measured.first_u, lowest));
        Ok(())
    }

    /// The error of reading `index` on the curve at `at`.
    fn reading_error(
        &mut self,
        at: usize,
        id: CalibrationId,
        measured: &Measured<'_>,
        readings: &Readings,
        index: usize,
    ) -> Option<ReadingError> {
        let curve = &self.chain.curves[at];
        let (ratio, within_dof) = (curve.ratio, curve.refit.within_dof());
        let error = curve.refit.reading_error(readings, index, measured.content);
        let key = Key::At(Arc::clone(measured.run), measured.position, Part::Reading);
        let within = if error.within.abs() > 0.0 { self.ratio(Key::Within(id), within_dof) } else { None };
        let given = if error.given > 0.0 { self.ratio(key.clone(), error.given_dof) } else { None };
        let parts = [(error.scale, ratio), (error.within, within), (error.given, given)];
        let scatters = parts.iter().any(|(variance, _)| variance.abs() > 0.0);
        scatters.then(|| ReadingError { source: self.source(key, SourceKind::Reading, None), parts })
    }

    /// The chain, if every source that the options name is in it.
    pub fn finish(self) -> Result<Chain, Error> {
        let names: Vec<String> = self.known.keys().map(Key::to_string).collect();
        for (of, _) in &self.options.forms {
            let Of::Source(wanted) = of else { continue };
            if !names.contains(wanted) {
                let error = Error::argument("distributions", format!("no result has a source {wanted:?}"));
                return Err(match nearest(wanted, names.iter().map(String::as_str)) {
                    Some(near) => error.help(format!("did you mean {near:?}?")),
                    None => error.help("name it as the budget does"),
                });
            }
        }
        Ok(self.chain)
    }

    fn curve(&mut self, calibration: &Calibration) -> Result<usize, Error> {
        let options = calibration.options();
        self.fitted(calibration, calibration.id(), options.zeroing.u(), &options.stocks, None)
    }

    fn series(&mut self, series: &Series) -> Result<usize, Error> {
        let options = series.options();
        let initial = series.initial_volume().into_iter().map(|(key, dof, relative)| {
            let estimate = if dof.is_infinite() { Key::Known } else { key.clone() };
            let ratio = self.ratio(estimate, dof);
            (self.source(key, SourceKind::Volume, ratio), relative)
        });
        let additions = Additions {
            signals: series.line().points().signals().to_vec(),
            growth: series.growth()?,
            initial: initial.collect(),
        };
        self.fitted(series.line(), series.id(), options.zeroing.u(), &options.stocks, Some(additions))
    }

    /// The curve known as `id`, added if it is new.
    fn fitted(
        &mut self,
        calibration: &Calibration,
        id: CalibrationId,
        u_zero: f64,
        stocks: &[Stock],
        additions: Option<Additions>,
    ) -> Result<usize, Error> {
        if let Some(at) = self.curve_of.get(&id) {
            return Ok(*at);
        }
        let refit = Refit::of(calibration)?;
        let scale_key = match calibration.scale().estimate {
            ScaleFrom::Replicates => Key::Within(id),
            _ => Key::Residual(id),
        };
        let ratio = self.ratio(scale_key, calibration.scale().dof);
        let mut lowest_dof = ratio.map_or(f64::INFINITY, |at| self.chain.ratios[at]);
        let mut shared = |builder: &mut Self, key, kind, u: f64| {
            let source = builder.source(key, kind, None);
            lowest_dof = lowest_dof.min(builder.lowest_dof(source));
            (source, u)
        };
        let zero = (u_zero > 0.0).then(|| shared(self, Key::Zero(id), SourceKind::Zero, u_zero));
        let stocks = (stocks.iter().filter(|stock| stock.relative_u > 0.0))
            .map(|stock| {
                let source = shared(self, stock.key(id), SourceKind::Stock, stock.relative_u);
                Factor { over: false, relative: vec![source] }
            })
            .collect();
        let relative = self.options.standards_relative_u;
        let standards = if relative > 0.0 && additions.is_none() {
            (0..refit.points().len())
                .map(|i| {
                    let name: Arc<str> = format!("standard:{id}#{}", standard(&refit, i) + 1).into();
                    shared(self, Key::Named(name), SourceKind::Level, relative)
                })
                .collect()
        } else {
            Vec::new()
        };
        let initial = additions.iter().flat_map(|additions| &additions.initial);
        let lowest_dof = initial.map(|(source, _)| self.lowest_dof(*source)).fold(lowest_dof, f64::min);
        let curve = Curve {
            signal_sds: refit.signal_sds(),
            concentrations: refit.concentration_factor(),
            ratio,
            zero,
            standards,
            stocks,
            rows: Vec::new(),
            lowest_dof,
            additions,
            refit,
        };
        self.chain.curves.push(curve);
        self.curve_of.insert(id, self.chain.curves.len() - 1);
        Ok(self.chain.curves.len() - 1)
    }

    /// The ratio of the true standard deviation to the estimated one, drawn once a trial for all who rest on that
    /// estimate; `None` where it is known, or taken to be.
    fn ratio(&mut self, estimate: Key, dof: Dof) -> Option<usize> {
        if self.options.scatter == Scatter::Normal || dof.is_infinite() {
            return None;
        }
        let ratios = &mut self.chain.ratios;
        Some(*self.estimates.entry(estimate).or_insert_with(|| {
            ratios.push(dof.get());
            ratios.len() - 1
        }))
    }

    fn source(&mut self, key: Key, kind: SourceKind, ratio: Option<usize>) -> usize {
        if let Some(at) = self.known.get(&key) {
            return *at;
        }
        let named = key.to_string();
        let forms = &self.options.forms;
        let form = (forms.iter().find(|(of, _)| matches!(of, Of::Source(name) if *name == named)))
            .or_else(|| forms.iter().find(|(of, _)| *of == Of::Kind(kind)));
        self.chain.sources.push(Source { form: form.map(|(_, form)| *form), ratio });
        self.known.insert(key, self.chain.sources.len() - 1);
        self.chain.sources.len() - 1
    }

    fn lowest_dof(&self, source: usize) -> f64 {
        let source = &self.chain.sources[source];
        match (source.form, source.ratio) {
            (Some(Form::StudentT { dof }), _) => dof,
            (None, Some(ratio)) => self.chain.ratios[ratio],
            _ => f64::INFINITY,
        }
    }
}

/// The standard that point `i` is of: readings of one concentration are readings of one solution.
fn standard(refit: &Refit, i: usize) -> usize {
    let points = refit.points();
    let x = points.concentrations();
    match points.kind() {
        PointKind::Standards => i,
        PointKind::Readings => x.iter().position(|level| level.total_cmp(&x[i]).is_eq()).unwrap_or(i),
    }
}

/// Trials that go through the chain side by side: one number each of every quantity.
const BLOCK: usize = 128;
type Block = [f64; BLOCK];
/// Points whose errors move the coefficients in one go.
const ABREAST: usize = 6;

/// Room for the draws of a block.
struct Room {
    /// A block a variance estimate, and a block a source.
    ratios: Vec<Block>,
    errors: Vec<Block>,
    /// What has moved the coefficients of 1, x and x².
    moved: [Block; 3],
    scratch: Block,
    shared: Block,
    zero: Block,
}

impl Curve {
    /// The trials of one block: `count` of them in `out` from `start` on.
    fn block(
        &self,
        chain: &Chain,
        room: &mut Room,
        stream: &mut Stream,
        (start, count): (usize, usize),
        out: &mut [&mut [f64]],
    ) {
        room.zero = match self.zero {
            Some((source, u)) => room.errors[source].map(|error| error * u),
            None => [0.0; BLOCK],
        };
        room.shared = [1.0; BLOCK];
        for stock in &self.stocks {
            stock.apply(&room.errors, &mut room.shared);
        }
        let straight = self.refit.influence().filter(|_| self.standards.is_empty());
        let curves = match (straight, &self.additions) {
            (Some(influence), Some(additions)) => {
                additions.moves(self, influence, room, stream);
                None
            }
            (Some(influence), None) => {
                self.moves(influence, room, stream);
                None
            }
            (None, _) => Some(self.refitted(room, stream, count)),
        };
        for row in &self.rows {
            let Some(out) = out.get_mut(row.result).and_then(|out| out.get_mut(start..start + count)) else { continue };
            let content = &mut room.scratch;
            match &row.reading {
                None => self.refit.kernel().extrapolated(&room.moved, content),
                Some((signal, error)) => {
                    *content = room.zero;
                    if let Some(error) = error {
                        error.add(chain, &room.ratios, &room.errors, content);
                    }
                    content.iter_mut().for_each(|y| *y += signal);
                    match &curves {
                        None => self.refit.kernel().inverted(&room.moved, content),
                        Some(curves) => {
                            for (content, curve) in content.iter_mut().zip(curves) {
                                *content =
                                    curve.as_ref().and_then(|curve| curve.concentration(*content)).unwrap_or(f64::NAN);
                            }
                        }
                    }
                }
            }
            for (content, shared) in content.iter_mut().zip(&room.shared) {
                *content *= shared * row.multiplier;
            }
            for factor in &row.factors {
                factor.apply(&room.errors, content);
            }
            out.copy_from_slice(&content[..count]);
        }
    }

    /// Moves the coefficients by the errors of the points' signals.
    fn moves(&self, influence: &[[f64; 3]], room: &mut Room, stream: &mut Stream) {
        let [mut a, mut b, mut c] = [[0.0; BLOCK]; 3];
        let curved = self.refit.kernel().shape.is_curved();
        // Some points at a time, so that the coefficients are loaded and stored once for all of them. Those that the
        // last round lacks are given no influence.
        let mut normals = [[0.0; BLOCK]; ABREAST];
        for (sds, influence) in self.signal_sds.chunks(ABREAST).zip(influence.chunks(ABREAST)) {
            let mut by = [[0.0; 3]; ABREAST];
            for (k, (sd, influence)) in sds.iter().zip(influence).enumerate() {
                by[k] = influence.map(|by| by * sd);
                stream.fill_normal(&mut normals[k]);
            }
            for t in 0..BLOCK {
                for k in 0..ABREAST {
                    a[t] += by[k][0] * normals[k][t];
                    b[t] += by[k][1] * normals[k][t];
                }
            }
            if curved {
                for t in 0..BLOCK {
                    for k in 0..ABREAST {
                        c[t] += by[k][2] * normals[k][t];
                    }
                }
            }
        }
        let shift = influence.iter().fold([0.0; 3], |sum, by| [sum[0] + by[0], sum[1] + by[1], sum[2] + by[2]]);
        room.moved = [a, b, c];
        for (moved, shift) in room.moved.iter_mut().zip(shift) {
            if let Some(at) = self.ratio {
                moved.iter_mut().zip(&room.ratios[at]).for_each(|(moved, ratio)| *moved *= ratio);
            }
            if self.zero.is_some() {
                moved.iter_mut().zip(&room.zero).for_each(|(moved, zero)| *moved += zero * shift);
            }
        }
    }

    /// The curve of every trial, fitted anew.
    fn refitted(&self, room: &mut Room, stream: &mut Stream, count: usize) -> Vec<Option<Moved>> {
        let (n, levels) = (self.signal_sds.len(), self.refit.points().concentrations());
        let (mut signals, mut shifts, mut normals) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let one = |t: usize| {
            let ratio = self.ratio.map_or(1.0, |at| room.ratios[at][t]);
            for (signal, sd) in signals.iter_mut().zip(&self.signal_sds) {
                *signal = sd * ratio * stream.normal() + room.zero[t];
            }
            if self.standards.is_empty() && self.concentrations.is_none() {
                return self.refit.signals_moved(&signals);
            }
            shifts.fill(0.0);
            if let Some(factor) = &self.concentrations {
                normals.iter_mut().for_each(|normal| *normal = ratio * stream.normal());
                for (shift, row) in shifts.iter_mut().zip(factor) {
                    *shift = row.iter().zip(&normals).map(|(f, z)| f * z).sum();
                }
            }
            for ((shift, (source, u)), x) in shifts.iter_mut().zip(&self.standards).zip(levels) {
                *shift += x * u * room.errors[*source][t];
            }
            self.refit.all_moved(&signals, &shifts)
        };
        (0..count).map(one).collect()
    }
}

impl Additions {
    /// Moves intercept and slope by the errors of the signals, each multiplied by the growth of its volume, and of the
    /// initial volume: the line's abscissa is what was added over it.
    fn moves(&self, curve: &Curve, influence: &[[f64; 3]], room: &mut Room, stream: &mut Stream) {
        let mut initial = [1.0; BLOCK];
        for (source, relative) in &self.initial {
            initial.iter_mut().zip(&room.errors[*source]).for_each(|(initial, error)| *initial += error * relative);
        }
        let [mut a, mut b] = [[0.0; BLOCK]; 2];
        let points = curve.signal_sds.iter().zip(influence).zip(self.signals.iter().zip(&self.growth));
        for ((sd, by), (signal, growth)) in points {
            stream.fill_normal(&mut room.scratch);
            for t in 0..BLOCK {
                let ratio = curve.ratio.map_or(1.0, |at| room.ratios[at][t]);
                let error = sd * ratio * room.scratch[t] + room.zero[t] * growth;
                let grown = (1.0 + (growth - 1.0) / initial[t]) / growth;
                let moved = (signal + error) * grown - signal;
                a[t] += by[0] * moved;
                b[t] += by[1] * moved;
            }
        }
        // The content found is on the scale of the abscissa.
        for (shared, initial) in room.shared.iter_mut().zip(&initial) {
            *shared = if *initial > 0.0 { *shared / initial } else { f64::NAN };
        }
        room.moved = [a, b, [0.0; BLOCK]];
    }
}

impl Factor {
    /// Multiplies `values` by it, or divides them.
    fn apply(&self, errors: &[Block], values: &mut Block) {
        let mut relative = [1.0; BLOCK];
        for (source, u) in &self.relative {
            relative.iter_mut().zip(&errors[*source]).for_each(|(relative, error)| *relative += error * u);
        }
        for (value, relative) in values.iter_mut().zip(relative) {
            let by = if self.over { 1.0 / relative } else { relative };
            // A volume, a mass or a factor at or below zero is none.
            *value *= if relative > 0.0 { by } else { f64::NAN };
        }
    }
}

impl ReadingError {
    /// Adds it to `signals`.
    fn add(&self, chain: &Chain, ratios: &[Block], errors: &[Block], signals: &mut Block) {
        let as_it_stands = chain.sources[self.source].form.is_some();
        let known = |at: &Option<usize>| at.is_none() || as_it_stands;
        let fixed = self.parts.iter().filter(|(_, at)| known(at)).map(|(variance, _)| variance);
        let fixed: f64 = fixed.sum();
        let mut moving = self.parts.iter().filter(|(_, at)| !known(at)).peekable();
        let errors = &errors[self.source];
        // A difference of two estimates can come out below zero.
        if moving.peek().is_none() {
            let sd = fixed.max(0.0).sqrt();
            signals.iter_mut().zip(errors).for_each(|(signal, error)| *signal += error * sd);
            return;
        }
        let mut variances = [fixed; BLOCK];
        for (variance, at) in moving {
            let Some(at) = at else { continue };
            let moved = variances.iter_mut().zip(&ratios[*at]);
            moved.for_each(|(sum, ratio)| *sum += variance * ratio * ratio);
        }
        for ((signal, error), variance) in signals.iter_mut().zip(errors).zip(variances) {
            *signal += error * variance.max(0.0).sqrt();
        }
    }
}

impl Model for Chain {
    fn results(&self) -> usize {
        self.expected.len()
    }

    fn chunks_at_once(&self) -> usize {
        let fitted_anew = |curve: &Curve| curve.refit.influence().is_none() || !curve.standards.is_empty();
        if self.curves.iter().any(fitted_anew) { 1 } else { 64 }
    }

    fn chunk(&self, stream: &mut Stream, out: &mut [&mut [f64]]) {
        let none = [0.0; BLOCK];
        let mut room = Room {
            ratios: vec![none; self.ratios.len()],
            errors: vec![none; self.sources.len()],
            moved: [none; 3],
            scratch: none,
            shared: none,
            zero: none,
        };
        let trials = out.first().map_or(0, |out| out.len());
        for start in (0..trials).step_by(BLOCK) {
            for (ratios, dof) in room.ratios.iter_mut().zip(&self.ratios) {
                ratios.iter_mut().for_each(|ratio| *ratio = (dof / stream.chi_squared(*dof)).sqrt());
            }
            for (errors, source) in room.errors.iter_mut().zip(&self.sources) {
                match (source.form, source.ratio) {
                    (Some(form), _) => errors.iter_mut().for_each(|error| *error = form.draw(stream)),
                    (None, None) => stream.fill_normal(errors),
                    (None, Some(at)) => {
                        stream.fill_normal(errors);
                        errors.iter_mut().zip(&room.ratios[at]).for_each(|(error, ratio)| *error *= ratio);
                    }
                }
            }
            let count = BLOCK.min(trials - start);
            self.curves.iter().for_each(|curve| curve.block(self, &mut room, stream, (start, count), out));
        }
    }

    fn expected(&self, result: usize) -> (f64, f64) {
        self.expected.get(result).copied().unwrap_or((f64::NAN, f64::INFINITY))
    }
}
