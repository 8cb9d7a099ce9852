//! Comparison with a limit. A figure that is the limit on paper (100 * 1.1 / 1.0 against 110) is the limit, whatever its
//! last binary digit says: a relative guard of 1e-12 on either side, far below anything a laboratory can measure.

const GUARD: f64 = 1e-12;

/// Not below `edge`.
pub(super) fn at_least(x: f64, edge: f64) -> bool {
    x >= edge - GUARD * edge.abs()
}

/// Not above `edge`.
pub(super) fn at_most(x: f64, edge: f64) -> bool {
    x <= edge + GUARD * edge.abs()
}

/// Below `edge`, and not equal to it on paper.
pub(super) fn below(x: f64, edge: f64) -> bool {
    x < edge - GUARD * edge.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_on_paper_is_an_edge() {
        assert!(100.0 * 1.1 > 110.0 && at_most(100.0 * 1.1, 110.0));
        assert!(0.3 / 0.03 > 9.99 && at_most(0.3 / 0.03, 10.0) && at_least(0.3 / 0.03, 10.0));
        assert!(!below(20.0 - 1e-14, 20.0) && below(19.999, 20.0));
        assert!(!at_most(110.000_001, 110.0) && !at_least(69.999_999, 70.0));
        assert!(!at_least(f64::NAN, 1.0) && !at_most(f64::NAN, 1.0) && !below(f64::NAN, 1.0));
    }
}
