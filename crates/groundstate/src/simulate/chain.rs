//! The chain from standards and readings to results, as one trial goes through it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::distribution::Form;
use super::engine::Model;
use super::options::{Of, Scatter, SimulateOptions};
use crate::curve::{Calibration, PointKind, Readings, Refit};
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
    signal: f64,
    error: Option<ReadingError>,
    factors: Vec<Factor>,
    /// From the content of the solution to the result, at the best estimates.
    multiplier: f64,
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
}

/// One measured solution with the way back to its sample.
pub(super) struct Measured<'a> {
    pub run: &'a Arc<str>,
    pub position: u32,
    pub calibration: &'a Calibration,
    pub readings: &'a Readings,
    /// Which of the readings it is.
    pub index: usize,
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
        let at = self.curve(measured.calibration)?;
        let curve = &self.chain.curves[at];
        let (id, ratio) = (measured.calibration.id(), curve.ratio);
        let error = curve.refit.reading_error(measured.readings, measured.index, measured.content);
        let within_dof = curve.refit.within_dof();
        let mut lowest = curve.lowest_dof;

        let key = Key::At(Arc::clone(measured.run), measured.position, Part::Reading);
        let within = if error.within.abs() > 0.0 { self.ratio(Key::Within(id), within_dof) } else { None };
        let given = if error.given > 0.0 { self.ratio(key.clone(), error.given_dof) } else { None };
        let parts = [(error.scale, ratio), (error.within, within), (error.given, given)];
        let scatters = parts.iter().any(|(variance, _)| variance.abs() > 0.0);
        let reading = scatters.then(|| ReadingError { source: self.source(key, SourceKind::Reading, None), parts });
        if let Some(reading) = &reading {
            lowest = lowest.min(self.lowest_dof(reading.source));
            // A form chosen for the reading takes its variance as it stands.
            if self.chain.sources[reading.source].form.is_none() {
                let ratios = reading.parts.iter().filter(|(variance, _)| *variance > 0.0).filter_map(|(_, at)| *at);
                lowest = ratios.map(|at| self.chain.ratios[at]).fold(lowest, f64::min);
            }
        }
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
        let signal = measured.readings.signals().get(measured.index).copied().unwrap_or(f64::NAN);
        let result = self.chain.expected.len();
        let row = Row { result, signal, error: reading, factors, multiplier: measured.multiplier };
        self.chain.curves[at].rows.push(row);
        self.chain.expected.push((measured.first_u, lowest));
        Ok(())
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
        let id = calibration.id();
        if let Some(at) = self.curve_of.get(&id) {
            return Ok(*at);
        }
        let refit = Refit::of(calibration)?;
        let ratio = self.ratio(scale_key(calibration), calibration.scale().dof);
        let mut lowest_dof = ratio.map_or(f64::INFINITY, |at| self.chain.ratios[at]);
        let mut shared = |builder: &mut Self, key, kind, u: f64| {
            let source = builder.source(key, kind, None);
            lowest_dof = lowest_dof.min(builder.lowest_dof(source));
            (source, u)
        };
        let u_zero = calibration.options().zeroing.u();
        let zero = (u_zero > 0.0).then(|| shared(self, Key::Zero(id), SourceKind::Zero, u_zero));
        let stocks = (calibration.options().stocks.iter().filter(|stock| stock.relative_u > 0.0))
            .map(|stock| {
                let source = shared(self, stock.key(id), SourceKind::Stock, stock.relative_u);
                Factor { over: false, relative: vec![source] }
            })
            .collect();
        let relative = self.options.standards_relative_u;
        let standards = if relative > 0.0 {
            (0..refit.points().len())
                .map(|i| {
                    let name: Arc<str> = format!("standard:{id}#{}", standard(&refit, i) + 1).into();
                    shared(self, Key::Named(name), SourceKind::Level, relative)
                })
                .collect()
        } else {
            Vec::new()
        };
        let curve = Curve {
            signal_sds: refit.signal_sds(),
            concentrations: refit.concentration_factor(),
            ratio,
            zero,
            standards,
            stocks,
            rows: Vec::new(),
            lowest_dof,
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

fn scale_key(calibration: &Calibration) -> Key {
    match calibration.scale().estimate {
        crate::curve::ScaleFrom::Replicates => Key::Within(calibration.id()),
        _ => Key::Residual(calibration.id()),
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

impl Curve {
    fn trial(&self, chain: &Chain, [ratios, errors]: [&[f64]; 2], stream: &mut Stream, out: &mut [f64]) {
        let drawn = |amount: &Amount| errors[amount.0] * amount.1;
        let ratio = self.ratio.map_or(1.0, |at| ratios[at]);
        let zero = self.zero.as_ref().map_or(0.0, drawn);
        let moved: Vec<f64> = self.signal_sds.iter().map(|sd| sd * ratio * stream.normal() + zero).collect();
        let curve = if self.standards.is_empty() && self.concentrations.is_none() {
            self.refit.signals_moved(&moved)
        } else {
            let mut shifts: Vec<f64> = match &self.concentrations {
                Some(factor) => {
                    let normals: Vec<f64> = factor.iter().map(|_| ratio * stream.normal()).collect();
                    factor.iter().map(|row| row.iter().zip(&normals).map(|(f, z)| f * z).sum()).collect()
                }
                None => vec![0.0; moved.len()],
            };
            let concentrations = self.refit.points().concentrations();
            for ((shift, standard), x) in shifts.iter_mut().zip(&self.standards).zip(concentrations) {
                *shift += x * drawn(standard);
            }
            self.refit.all_moved(&moved, &shifts)
        };
        let factor = |factor: &Factor| {
            let relative = 1.0 + factor.relative.iter().map(drawn).sum::<f64>();
            // A volume, a mass or a factor at or below zero is none.
            match (relative > 0.0, factor.over) {
                (false, _) => f64::NAN,
                (true, true) => 1.0 / relative,
                (true, false) => relative,
            }
        };
        let stocks: f64 = self.stocks.iter().map(factor).product();
        for row in &self.rows {
            let error = row.error.as_ref().map_or(0.0, |error| {
                let as_it_stands = chain.sources[error.source].form.is_some();
                let squared =
                    |at: &Option<usize>| at.filter(|_| !as_it_stands).map_or(1.0, |at| ratios[at] * ratios[at]);
                let variance: f64 = error.parts.iter().map(|(variance, at)| variance * squared(at)).sum();
                // A difference of two estimates can come out below zero.
                errors[error.source] * variance.max(0.0).sqrt()
            });
            let signal = row.signal + zero + error;
            let content = curve.as_ref().and_then(|curve| curve.concentration(signal)).unwrap_or(f64::NAN);
            out[row.result] = content * stocks * row.multiplier * row.factors.iter().map(factor).product::<f64>();
        }
    }
}

impl Model for Chain {
    fn results(&self) -> usize {
        self.expected.len()
    }

    fn room(&self) -> Vec<f64> {
        Vec::with_capacity(self.ratios.len() + self.sources.len())
    }

    fn trial(&self, stream: &mut Stream, room: &mut Vec<f64>, out: &mut [f64]) {
        room.clear();
        room.extend(self.ratios.iter().map(|dof| (dof / stream.chi_squared(*dof)).sqrt()));
        for source in &self.sources {
            let drawn = match (source.form, source.ratio) {
                (Some(form), _) => form.draw(stream),
                (None, Some(at)) => stream.normal() * room[at],
                (None, None) => stream.normal(),
            };
            room.push(drawn);
        }
        let (ratios, errors) = room.split_at(self.ratios.len());
        self.curves.iter().for_each(|curve| curve.trial(self, [ratios, errors], stream, out));
    }

    fn expected(&self, result: usize) -> (f64, f64) {
        self.expected.get(result).copied().unwrap_or((f64::NAN, f64::INFINITY))
    }
}
