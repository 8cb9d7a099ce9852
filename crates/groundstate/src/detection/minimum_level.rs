//! The minimum level: an MDL made into a round figure of quantitation.

use crate::error::Error;
use crate::finding::Citation;

/// A minimum level with the figure it was rounded from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MinimumLevel {
    /// The nearest 1, 2 or 5 times a power of ten, in the unit of the input.
    pub value: f64,
    /// 3.18 times the MDL, or 10 s.
    pub unrounded: f64,
    /// Whether it lay halfway between two such numbers. The rule is silent there; the higher one is taken, because a limit of
    /// quantitation that is too low promises more than one that is too high.
    pub tie: bool,
}

impl MinimumLevel {
    /// Where the rounding is laid down.
    pub const fn citation() -> Citation {
        Citation::transcribed("EPA Method 1631", "Revision E", "17.12")
    }
}

/// The minimum level of an MDL from seven spikes: 3.18 times the MDL, to the nearest 1, 2 or 5 times a power of ten.
///
/// 3.18 is 10 / 3.143, so that the level is ten standard deviations; it belongs to seven replicates. For another number use
/// [`minimum_level_of_s`]. "Nearest" is arithmetic, with boundaries at 1.5, 3.5 and 7.5: Method 1638, Table 1, gives selenium
/// an MDL of 0.45 and a level of 1, where the nearest on a logarithmic scale to 1.431 would be 2.
///
/// # Errors
/// When `mdl` is not a positive number of ordinary size.
///
/// ```
/// use groundstate::detection::minimum_level;
/// assert_eq!(minimum_level(0.45)?.value, 1.0);
/// assert_eq!(minimum_level(0.0097)?.value, 0.02);
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn minimum_level(mdl: f64) -> Result<MinimumLevel, Error> {
    rounded("mdl", mdl, 3.18)
}

/// The minimum level of a standard deviation `s` of spikes, whatever their number: 10 s, to the nearest 1, 2 or 5 times a power
/// of ten.
///
/// # Errors
/// When `s` is not a positive number of ordinary size.
pub fn minimum_level_of_s(s: f64) -> Result<MinimumLevel, Error> {
    rounded("s", s, 10.0)
}

fn rounded(name: &str, figure: f64, factor: f64) -> Result<MinimumLevel, Error> {
    let unusable =
        || Error::argument(name, format!("{figure} gives no minimum level")).help("give a positive concentration");
    if !(figure.is_finite() && figure > 0.0) {
        return Err(unusable());
    }
    let unrounded = figure * factor;
    // Fifteen decimal figures: 0.25 / 3.18 * 3.18 is then a tie when it is one on paper.
    let text = format!("{unrounded:.14e}");
    let (mantissa, exponent) = text.split_once('e').ok_or_else(unusable)?;
    let mantissa: u64 = mantissa.replace('.', "").parse().map_err(|_| unusable())?;
    let exponent: i32 = exponent.parse().map_err(|_| unusable())?;
    const HALF: u64 = 50_000_000_000_000;
    let (digit, exponent) = match mantissa / HALF {
        ..3 => (1, exponent),
        3..7 => (2, exponent),
        7..15 => (5, exponent),
        _ => (1, exponent + 1),
    };
    let tie = [3 * HALF, 7 * HALF, 15 * HALF].contains(&mantissa);
    // Read from its decimal form, the level is the number that a reader types.
    let value: f64 = format!("{digit}e{exponent}").parse().map_err(|_| unusable())?;
    if !value.is_normal() {
        return Err(unusable());
    }
    Ok(MinimumLevel { value, unrounded, tie })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bits(x: f64) -> u64 {
        minimum_level(x).unwrap().value.to_bits()
    }

    #[test]
    fn table_1_of_method_1638_and_mercury_of_1631e() {
        for (metal, mdl, level) in [
            ("Sb", 0.0097, 0.02),
            ("Cd", 0.025, 0.1),
            ("Cu", 0.087, 0.2),
            ("Pb", 0.015, 0.05),
            ("Ni", 0.33, 1.0),
            ("Se", 0.45, 1.0),
            ("Ag", 0.029, 0.1),
            ("Tl", 0.0079, 0.02),
            ("Zn", 0.14, 0.5),
            ("Hg", 0.2, 0.5),
        ] {
            assert_eq!(bits(mdl), f64::to_bits(level), "{metal}");
        }
    }

    #[test]
    fn ties_go_up_and_are_told() {
        for (ten_s, level) in [(1.5, 2.0), (3.5, 5.0), (7.5, 10.0), (0.015, 0.02), (350.0, 500.0)] {
            let minimum = minimum_level_of_s(ten_s / 10.0).unwrap();
            assert_eq!((minimum.value.to_bits(), minimum.tie), (f64::to_bits(level), true), "{ten_s}");
        }
        for (ten_s, level) in [(1.499, 1.0), (3.4999, 2.0), (7.4999, 5.0), (9.99999, 10.0), (1.0, 1.0), (3.0, 2.0)] {
            let minimum = minimum_level_of_s(ten_s / 10.0).unwrap();
            assert_eq!((minimum.value.to_bits(), minimum.tie), (f64::to_bits(level), false), "{ten_s}");
        }
    }

    #[test]
    fn what_is_no_limit_has_no_level() {
        for mdl in [0.0, -1.0, f64::NAN, f64::INFINITY, f64::MAX, 1e-320, -0.0] {
            assert!(minimum_level(mdl).unwrap_err().to_string().contains("mdl"), "{mdl}");
        }
    }

    proptest! {
        #[test]
        fn no_other_round_figure_is_nearer(mantissa in 1.0f64..10.0, exponent in -12i32..12) {
            let s: f64 = format!("{mantissa}e{exponent}").parse().unwrap();
            let minimum = minimum_level_of_s(s).unwrap();
            let away = (minimum.value - minimum.unrounded).abs();
            for other in -1i32..=2 {
                for digit in [1, 2, 5] {
                    let round: f64 = format!("{digit}e{}", exponent + 1 + other).parse().unwrap();
                    prop_assert!(away <= (round - minimum.unrounded).abs() * (1.0 + 1e-9));
                }
            }
        }

        #[test]
        fn it_never_falls_when_the_limit_rises(a in 1e-6f64..1e6, b in 1e-6f64..1e6) {
            let level = |x| minimum_level(x).unwrap().value;
            prop_assert!(level(a.min(b)) <= level(a.max(b)));
        }

        #[test]
        fn a_round_figure_stays(digit in prop::sample::select(vec![1, 2, 5]), exponent in -12i32..12) {
            let round: f64 = format!("{digit}e{exponent}").parse().unwrap();
            let minimum = minimum_level_of_s(round / 10.0).unwrap();
            prop_assert_eq!(minimum.value.to_bits(), round.to_bits());
        }

        #[test]
        fn any_number_gives_a_level_or_an_error(mdl in any::<f64>()) {
            if let Ok(minimum) = minimum_level(mdl) {
                prop_assert!(minimum.value.is_normal() && minimum.value > 0.0);
            }
        }
    }
}
