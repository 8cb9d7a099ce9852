//! Arithmetic that is written once for a single number and for a row of lanes, one a run or a point.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// How many lanes go side by side: one vector register of the widest processors, a few of others.
pub(crate) const LANES: usize = 8;

/// A number, or a row of them that are treated alike.
pub(crate) trait Real:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Neg<Output = Self>
{
    /// The same number in every lane.
    fn of(x: f64) -> Self;

    /// Square root.
    fn sqrt(self) -> Self;
}

impl Real for f64 {
    #[inline(always)]
    fn of(x: f64) -> f64 {
        x
    }

    #[inline(always)]
    fn sqrt(self) -> f64 {
        f64::sqrt(self)
    }
}

/// One number a lane. Every operation is that of each lane by itself, so that its bits are those of a single number;
/// compiled for wide vectors (see [`widest`](super::threads::widest)) one instruction does several.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(align(64))]
pub(crate) struct Lanes(pub [f64; LANES]);

impl Lanes {
    pub const ZERO: Lanes = Lanes([0.0; LANES]);

    /// `of` each lane.
    #[inline(always)]
    pub fn map(self, of: impl Fn(f64) -> f64) -> Lanes {
        let mut result = self;
        for lane in &mut result.0 {
            *lane = of(*lane);
        }
        result
    }
}

impl Real for Lanes {
    #[inline(always)]
    fn of(x: f64) -> Lanes {
        Lanes([x; LANES])
    }

    #[inline(always)]
    fn sqrt(self) -> Lanes {
        self.map(f64::sqrt)
    }
}

impl Neg for Lanes {
    type Output = Lanes;
    #[inline(always)]
    fn neg(self) -> Lanes {
        self.map(|lane| -lane)
    }
}

macro_rules! lane_by_lane {
    ($($operation:ident $name:ident $assign:tt),*) => { $(
        impl $operation for Lanes {
            type Output = Lanes;
            #[inline(always)]
            fn $name(self, other: Lanes) -> Lanes {
                let mut result = self;
                for (lane, other) in result.0.iter_mut().zip(other.0) {
                    *lane $assign other;
                }
                result
            }
        }
    )* };
}
lane_by_lane!(Add add +=, Sub sub -=, Mul mul *=, Div div /=);
