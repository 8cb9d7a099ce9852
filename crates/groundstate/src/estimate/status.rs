//! What can be said of an estimate besides its number.

/// Where an estimate lies, or why there is none. The value is NaN in memory exactly when
/// [`Status::has_value`] is false.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
#[non_exhaustive]
pub enum Status {
    /// From the lowest non-zero standard used to the top one.
    InRange,
    /// Zero or above, but below the lowest non-zero standard used.
    BelowLowest,
    /// Above the top standard used.
    AboveTop,
    /// The reading lies beyond the turning point or plateau of the curve: no concentration belongs to it.
    BeyondCurve,
    /// Below zero: a sign, and also below the lowest standard. The value is kept.
    Negative,
    /// Every reading is missing.
    NoReading,
    /// The calibration cannot serve.
    NotCalibrated,
    /// The detector was saturated.
    Saturated,
}

impl Status {
    /// Every status, in order of its code.
    pub const ALL: [Status; 8] = [
        Status::InRange,
        Status::BelowLowest,
        Status::AboveTop,
        Status::BeyondCurve,
        Status::Negative,
        Status::NoReading,
        Status::NotCalibrated,
        Status::Saturated,
    ];

    /// Whether an estimate of this status has a value.
    pub const fn has_value(self) -> bool {
        matches!(self, Status::InRange | Status::BelowLowest | Status::AboveTop | Status::Negative)
    }

    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Status::InRange => "in_range",
            Status::BelowLowest => "below_lowest",
            Status::AboveTop => "above_top",
            Status::BeyondCurve => "beyond_curve",
            Status::Negative => "negative",
            Status::NoReading => "no_reading",
            Status::NotCalibrated => "not_calibrated",
            Status::Saturated => "saturated",
        }
    }

    /// The status in words.
    pub const fn words(self) -> &'static str {
        match self {
            Status::InRange => "within range",
            Status::BelowLowest => "below the lowest standard",
            Status::AboveTop => "above the top standard",
            Status::BeyondCurve => "beyond the curve",
            Status::Negative => "negative",
            Status::NoReading => "no reading",
            Status::NotCalibrated => "not calibrated",
            Status::Saturated => "saturated",
        }
    }

    /// The status called `name`.
    pub fn from_name(name: &str) -> Option<Status> {
        Status::ALL.into_iter().find(|status| status.name() == name)
    }
}
