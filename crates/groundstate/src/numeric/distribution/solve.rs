//! The inverse of a tail of a positive variable.

/// Which tail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tail {
    Lower,
    Upper,
}

/// A tail at x and how it changes with ln x.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// The probability of the tail.
    pub tail: f64,
    /// x times the density.
    pub weight: f64,
    /// The derivative of ln(weight) by ln x.
    pub score: f64,
}

/// The x whose tail has probability `target`, in (0, 1), from the start `x`.
///
/// The logarithms of chi-squared, F and |t| variables have log-concave densities, so the logarithm of either tail is
/// a concave function of ln x: Newton's step on it converges from every start, Halley's correction makes it cubic.
pub(super) fn solve(target: f64, tail: Tail, mut x: f64, at: impl Fn(f64) -> Point) -> f64 {
    let towards = match tail {
        Tail::Lower => 1.0,
        Tail::Upper => -1.0,
    };
    let mut inner = 1.0;
    for _ in 0..200 {
        let point = at(x);
        if point.tail <= 0.0 {
            // Too far out for the tail to be a number: half-way back, in logarithms.
            x = x.sqrt() * f64::sqrt(inner);
            continue;
        }
        inner = x;
        let rate = point.weight / point.tail;
        let newton = -towards * libm::log(point.tail / target) / rate;
        let bend = 0.5 * newton * (point.score - towards * rate);
        let step = if bend.abs() < 0.5 { newton / (1.0 + bend) } else { newton };
        let step = step.clamp(-300.0, 300.0);
        if step.is_nan() {
            return f64::NAN;
        }
        let next = x * libm::exp(step);
        if next <= 0.0 || next.is_infinite() {
            return next;
        }
        x = next;
        // The next error is about the cube of this step, in units of the tail's own scale.
        if step.abs() * rate.max(1.0) < 1e-5 {
            return x;
        }
    }
    x
}
