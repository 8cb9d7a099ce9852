//! The catalogue of findings: stable name, usual severity, sentence.
//!
//! A name on the wire is never reused for another meaning. Sentences may be improved; facts in braces are
//! named by the room that makes the finding.

use super::Severity;

macro_rules! codes {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $severity:ident, $template:literal;)+) => {
        /// What was noticed. The wire name is [`Code::name`].
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Code { $($(#[$doc])* $variant,)+ }

        impl Code {
            /// Every code, in the order of the catalogue.
            pub const ALL: &'static [Code] = &[$(Code::$variant,)+];

            /// The stable name, in `snake_case`.
            pub const fn name(self) -> &'static str {
                match self { $(Code::$variant => $name,)+ }
            }

            /// How much a finding of this code usually matters.
            pub const fn severity(self) -> Severity {
                match self { $(Code::$variant => Severity::$severity,)+ }
            }

            /// The sentence, with the names of facts in braces.
            pub const fn template(self) -> &'static str {
                match self { $(Code::$variant => $template,)+ }
            }

            /// The code called `name`.
            pub fn from_name(name: &str) -> Option<Code> {
                match name { $($name => Some(Code::$variant),)+ _ => None }
            }
        }
    };
}

codes! {
    // ---- curve
    /// The new reading's variance is held at that of the lowest non-zero level.
    NoiseFloor = "noise_floor", Note,
        "below {level} {unit}, the lowest non-zero level, the noise model is held at that level's variance";
    /// A level at zero was left out of the fit.
    ZeroLeftOut = "zero_left_out", Note,
        "the zero level was left out of the fit ({count} points): its weight under {noise} is not defined or it was asked for";
    /// A fit without residual scatter.
    PerfectFit = "perfect_fit", Caution,
        "the points lie on the curve without scatter, so the residual standard deviation of 0 says nothing of the uncertainty";
    /// As many coefficients as points.
    NoScatterLeft = "no_scatter_left", Caution,
        "{count} points fix the curve exactly and leave nothing to estimate its uncertainty from";
    /// The slope at the blank end is not positive.
    NotRising = "not_rising", Fail,
        "the response does not rise with concentration (slope {slope} at the blank end)";
    /// The curve turns inside its range.
    TurnsInRange = "turns_in_range", Fail,
        "the curve turns at {turning} {unit}, inside its range up to {top} {unit}";
    /// Standards differ among each other by more than their readings scatter.
    StandardsDisagree = "standards_disagree_more_than_readings", Caution,
        "the standards deviate from the curve by more than their readings scatter (lack of fit F {statistic}, p {p}); fit one point per standard, or a better shape";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_come_back() {
        for (i, code) in Code::ALL.iter().enumerate() {
            assert_eq!(Code::from_name(code.name()), Some(*code));
            assert!(Code::ALL[..i].iter().all(|other| other.name() != code.name()), "{}", code.name());
            assert_eq!(code.template().matches('{').count(), code.template().matches('}').count());
        }
    }
}
