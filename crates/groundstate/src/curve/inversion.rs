//! Coverage sets by inverting a test: all concentrations that a reading does not speak against.
//!
//! A concentration x belongs to the set when (y - f(x))² <= t² var(y - f(x)). For the line with constant variance
//! this is Fieller's set (Fieller 1954, J. R. Stat. Soc. B 16, 175); for the quadratic, on its rising branch, the
//! same inequality is a quartic. Both sides are polynomials in the frame's variable, piece by piece where the noise
//! model is held below its lowest level.

use super::calibration::Calibration;
use super::concentrations::Concentrations;
use super::weighing::VarianceFunction;
use crate::estimate::{Coverage, Dof, End, IntervalMethod, IntervalSet, Intervals, Status};
use crate::numeric::root;

/// A polynomial of degree at most four, ascending powers.
#[derive(Clone, Copy, Debug, Default)]
struct Polynomial([f64; 5]);

impl Polynomial {
    fn of(coefficients: &[f64]) -> Polynomial {
        let mut all = [0.0; 5];
        all.iter_mut().zip(coefficients).for_each(|(to, from)| *to = *from);
        Polynomial(all)
    }

    /// The square; only of a polynomial of degree two or less.
    fn squared(self) -> Polynomial {
        let mut square = [0.0; 5];
        for i in 0..3 {
            for j in 0..3 {
                square[i + j] += self.0[i] * self.0[j];
            }
        }
        Polynomial(square)
    }

    fn plus(mut self, other: Polynomial, factor: f64) -> Polynomial {
        self.0.iter_mut().zip(other.0).for_each(|(to, from)| *to += factor * from);
        self
    }

    /// The same polynomial in powers of t - `origin`; only of one of degree two or less.
    fn about(self, origin: f64) -> Polynomial {
        let [a, b, c, ..] = self.0;
        Polynomial::of(&[a + origin * (b + origin * c), b + 2.0 * c * origin, c])
    }

    fn at(&self, t: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum * t + c)
    }
}

/// One piece of the set: its ends and why it ends there.
type Piece = ([f64; 2], [End; 2]);

/// The test-inversion set of every row.
pub(super) fn intervals(concentrations: &Concentrations, coverage: Coverage) -> Intervals {
    let calibration = concentrations.calibration();
    let mut cached = (Dof::NONE, f64::INFINITY);
    let mut sets = Vec::with_capacity(concentrations.len());
    let mut ends = Vec::with_capacity(concentrations.len());
    for i in 0..concentrations.len() {
        let row = concentrations.get(i);
        let status = row.map_or(Status::NoReading, |row| row.status);
        let (set, why) = if status.has_value() || status == Status::BeyondCurve {
            let dof = row.map_or(Dof::NONE, |row| row.dof);
            if dof != cached.0 {
                cached = (dof, dof.coverage_factor(coverage));
            }
            invert(calibration, concentrations, i, cached.1)
        } else {
            (IntervalSet::Empty, [End::Unbounded; 2])
        };
        sets.push(set);
        ends.push(why);
    }
    Intervals { sets, ends, coverage, method: IntervalMethod::Inversion }
}

fn invert(calibration: &Calibration, rows: &Concentrations, i: usize, k: f64) -> (IntervalSet, [End; 2]) {
    if !k.is_finite() {
        return (IntervalSet::Whole, [End::Unbounded; 2]);
    }
    if calibration.kernel.stray_light.is_some() {
        return numerically(calibration, rows, i, k);
    }
    let kernel = &calibration.kernel;
    let frame = kernel.frame;
    // Counted from the estimate the distance is all slope and bend: nothing cancels, however small u is.
    let start = estimated(rows, i).unwrap_or(frame.centre);
    let origin = frame.of_x(start);
    let domain = branch(calibration).map(|t| t - origin);
    let mut breaks = vec![domain[0]];
    let edge = match calibration.variance {
        VarianceFunction::Proportional { held_below } | VarianceFunction::ProportionalSd { held_below } => {
            Some(held_below)
        }
        VarianceFunction::FloorPlusProportional { slope2, .. } if slope2 > 0.0 => Some(0.0),
        _ => None,
    };
    breaks.extend(edge.map(|x| frame.of_x(x) - origin).filter(|t| domain[0] < *t && *t < domain[1]));
    breaks.push(domain[1]);

    let mut pieces: Vec<Piece> = Vec::new();
    for span in breaks.windows(2) {
        let excess = excess(calibration, rows, i, k, inside(span), origin);
        let mut cuts = vec![span[0]];
        cuts.extend(root::real_roots(excess.0).as_slice().iter().copied().filter(|t| span[0] < *t && *t < span[1]));
        cuts.push(span[1]);
        for cut in cuts.windows(2).filter(|cut| excess.at(inside(cut)) <= 0.0) {
            match pieces.last_mut() {
                Some((ends, _)) if ends[1].total_cmp(&cut[0]).is_eq() => ends[1] = cut[1],
                _ => pieces.push(([cut[0], cut[1]], [End::Crossed; 2])),
            }
        }
    }
    for (ends, why) in &mut pieces {
        for side in 0..2 {
            if ends[side].is_infinite() {
                why[side] = End::Unbounded;
            } else if ends[side].total_cmp(&domain[side]).is_eq() {
                why[side] = End::TurningPoint;
            }
            ends[side] = start + frame.width * ends[side];
        }
    }
    assembled(&mut pieces, estimated(rows, i))
}

/// The set of a curve that is no polynomial: the excess is followed outwards from the estimate in growing steps, and
/// every change of sign is solved in its bracket.
fn numerically(calibration: &Calibration, rows: &Concentrations, i: usize, k: f64) -> (IntervalSet, [End; 2]) {
    const GROWTH: f64 = 1.25;
    /// Tops of the calibration that the search goes.
    const FAR: f64 = 1e6;
    let kernel = &calibration.kernel;
    let stocks: f64 = calibration.options().stocks.iter().map(|stock| stock.relative_u * stock.relative_u).sum();
    let zero = calibration.options().zeroing.u();
    let excess = |x: f64| {
        let (away, by_stock) = (rows.signal(i) - kernel.signal(x), x * kernel.slope(x));
        let by_zero = zero * (1.0 - kernel.shift(x));
        let curve = calibration.scale().variance * kernel.spread(x) + stocks * by_stock * by_stock + by_zero * by_zero;
        away * away - k * k * (curve + rows.signal_variance(i, x))
    };
    let row = rows.get(i);
    let top = calibration.top();
    let centre = row.map_or(f64::NAN, |row| row.value);
    let (centre, first) = match row.map(|row| row.u) {
        Some(u) if centre.is_finite() && u > 0.0 => (centre, 0.05 * u),
        _ if centre.is_finite() => (centre, 1e-9 * top),
        _ => (top, 1e-3 * top),
    };
    let most = FAR * (top + centre.abs());
    let steps: Vec<f64> =
        std::iter::successors(Some(first), |step| Some(step * GROWTH)).take_while(|s| *s < most).collect();
    let below = steps.iter().rev().map(|step| centre - step);
    let places: Vec<f64> = below.chain([centre]).chain(steps.iter().map(|step| centre + step)).collect();
    let mut pieces: Vec<Piece> = Vec::new();
    let mut open = places.first().filter(|x| excess(**x) <= 0.0).map(|_| f64::NEG_INFINITY);
    for pair in places.windows(2) {
        let inside = excess(pair[1]) <= 0.0;
        if inside == open.is_some() {
            continue;
        }
        let crossing = root::bracketed(excess, pair[0], pair[1]).unwrap_or(pair[1]);
        match open {
            None => open = Some(crossing),
            Some(low) => {
                pieces.push(([low, crossing], [End::Crossed; 2]));
                open = None;
            }
        }
    }
    if let Some(low) = open {
        pieces.push(([low, f64::INFINITY], [End::Crossed; 2]));
    }
    let levels_off = kernel.ceiling().is_some();
    for (ends, why) in &mut pieces {
        if ends[0].is_infinite() {
            why[0] = End::Unbounded;
        }
        if ends[1].is_infinite() {
            why[1] = if levels_off { End::Plateau } else { End::Unbounded };
        }
    }
    assembled(&mut pieces, estimated(rows, i))
}

/// The value of row `i`, if it has one.
fn estimated(rows: &Concentrations, i: usize) -> Option<f64> {
    rows.get(i).filter(|row| row.status.has_value()).map(|row| row.value)
}

/// A point between the ends of a span, either of which may be infinite.
fn inside(span: &[f64]) -> f64 {
    match (span[0].is_finite(), span[1].is_finite()) {
        (true, true) => 0.5 * (span[0] + span[1]),
        (true, false) => span[0] + span[0].abs() + 1.0,
        (false, true) => span[1] - span[1].abs() - 1.0,
        (false, false) => 0.0,
    }
}

/// The rising branch of the curve, in the frame's variable.
fn branch(calibration: &Calibration) -> [f64; 2] {
    let kernel = &calibration.kernel;
    match kernel.turning_point().filter(|_| calibration.shape().is_curved()) {
        Some(x) if kernel.c < 0.0 => [f64::NEG_INFINITY, kernel.frame.of_x(x)],
        Some(x) => [kernel.frame.of_x(x), f64::INFINITY],
        None => [f64::NEG_INFINITY, f64::INFINITY],
    }
}

/// (y - f)² - k² var(y - f) in the frame's variable from `origin` on, valid on the piece that holds `probe`.
fn excess(calibration: &Calibration, rows: &Concentrations, i: usize, k: f64, probe: f64, origin: f64) -> Polynomial {
    let (kernel, scale) = (&calibration.kernel, calibration.scale().variance);
    let frame = kernel.frame;
    let [b0, b1, b2] = kernel.beta;
    let distance = Polynomial::of(&[rows.signal(i) - b0, -b1, -b2]).about(origin).squared();

    let mut variance = kernel
        .part_polynomials()
        .into_iter()
        .fold(Polynomial::default(), |sum, part| sum.plus(Polynomial::of(&part).about(origin).squared(), scale));
    let x = frame.centre + frame.width * (origin + probe);
    let concentration = Polynomial::of(&[frame.centre, frame.width]).about(origin);
    let function = calibration.variance;
    let shape = match function {
        VarianceFunction::Proportional { held_below } if x > held_below => concentration,
        VarianceFunction::ProportionalSd { held_below } if x > held_below => concentration.squared(),
        VarianceFunction::FloorPlusProportional { floor2, slope2 } if x > 0.0 && slope2 > 0.0 => {
            Polynomial::of(&[floor2]).plus(concentration.squared(), slope2)
        }
        _ => Polynomial::of(&[1.0]),
    };
    // The reading's variance is a multiple of the variance function, or a figure that does not depend on x.
    let given = rows.has_given_variance(i, x);
    let shape = if given { Polynomial::of(&[1.0]) } else { shape };
    variance = variance.plus(shape, rows.signal_variance(i, x) / shape.at(probe));
    for stock in &calibration.options().stocks {
        // relative_u x f'(x), with f' = (b1 + 2 b2 t) / width.
        let moved = [frame.centre * b1, frame.width * b1 + 2.0 * frame.centre * b2, 2.0 * frame.width * b2];
        let moved = moved.map(|c| c * stock.relative_u / frame.width);
        variance = variance.plus(Polynomial::of(&moved).about(origin).squared(), 1.0);
    }
    let zero = calibration.options().zeroing.u();
    if zero > 0.0 && calibration.shape().through_zero() {
        variance = variance.plus(Polynomial::of(&kernel.unshifted()).about(origin).squared(), zero * zero);
    }
    distance.plus(variance, -k * k)
}

/// The set from its pieces. A line's set is one piece, or what a gap leaves. A curve's may have further pieces far
/// outside the standards, where its own spread outgrows every distance: of those the one that holds the estimate is
/// the set, if it is bounded; otherwise nothing is bounded and their hull is.
fn assembled(pieces: &mut [Piece], estimate: Option<f64>) -> (IntervalSet, [End; 2]) {
    if let Some(x) = estimate {
        reach(pieces, x);
    }
    let pieces = &*pieces;
    let (Some((first, first_why)), Some((last, last_why))) = (pieces.first(), pieces.last()) else {
        // An estimate never speaks against itself: where rounding leaves no piece, the set is that one value.
        let alone = |x| IntervalSet::Between { lo: x, hi: x };
        return (estimate.map_or(IntervalSet::Empty, alone), [End::Crossed; 2]);
    };
    if let [(low, low_why), (high, high_why)] = pieces
        && low[0].is_infinite()
        && high[1].is_infinite()
    {
        return (IntervalSet::Outside { below: low[1], above: high[0] }, [low_why[1], high_why[0]]);
    }
    let bounded = |(ends, _): &&Piece| ends[0].is_finite() && ends[1].is_finite();
    let holds = |(ends, _): &&Piece| estimate.is_some_and(|x| ends[0] <= x && x <= ends[1]);
    match pieces.iter().find(holds).filter(bounded) {
        Some((ends, why)) => (IntervalSet::from_ends(ends[0], ends[1]), *why),
        None => (IntervalSet::from_ends(first[0], last[1]), [first_why[0], last_why[1]]),
    }
}

/// Stretches the nearest piece to the estimate `x`, which never speaks against itself: where no piece holds it, a set
/// no wider than rounding was rounded past it.
fn reach(pieces: &mut [Piece], x: f64) {
    let beyond = |ends: &[f64; 2]| (ends[0] - x).max(x - ends[1]);
    let nearest = pieces.iter_mut().min_by(|a, b| beyond(&a.0).total_cmp(&beyond(&b.0)));
    if let Some((ends, _)) = nearest {
        *ends = [ends[0].min(x), ends[1].max(x)];
    }
}
