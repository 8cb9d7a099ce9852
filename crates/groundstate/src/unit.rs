//! Units of mass concentration and of mass fraction, and exact conversion between those of one kind.
//!
//! Amounts of substance are not covered: a calibration in mg/L needs no molar mass, and a report in mol/L would
//! hide one. Mass per volume and mass per mass are never exchanged, because that takes the density of the sample.
//!
//! ```
//! use groundstate::unit::Unit;
//!
//! assert_eq!(Unit::parse("ug/L")?.convert(250.0, Unit::MilligramPerLitre)?, 0.25);
//! assert!(Unit::parse("ppm").is_err()); // of a volume or of a mass?
//! assert!(Unit::MilligramPerLitre.factor_to(Unit::MilligramPerKilogram).is_err());
//! # Ok::<(), groundstate::Error>(())
//! ```

use std::fmt;
use std::str::FromStr;

use crate::error::{Error, Kind, Place, Problem, nearest};

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Mass of analyte in a volume of solution (mass concentration).
    MassPerVolume,
    /// Mass of analyte in a mass of sample (mass fraction).
    MassPerMass,
}

impl Dimension {
    /// The stable name, in `snake_case`.
    pub const fn name(self) -> &'static str {
        match self {
            Dimension::MassPerVolume => "mass_per_volume",
            Dimension::MassPerMass => "mass_per_mass",
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Dimension::MassPerVolume => "mass per volume",
            Dimension::MassPerMass => "mass per mass",
        }
    }
}

macro_rules! units {
    ($($(#[$doc:meta])* $variant:ident = $name:literal, $symbol:literal, $dimension:ident, $exponent:literal;)+) => {
        /// A unit of concentration. Units of the same size keep their own label: mg/kg and ug/g are two units.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Unit { $($(#[$doc])* $variant,)+ }

        impl Unit {
            /// Every unit, the larger of a kind first.
            pub const ALL: &'static [Unit] = &[$(Unit::$variant,)+];

            /// The stable name in plain ASCII, with `u` for micro; it parses to the same unit.
            pub const fn name(self) -> &'static str {
                match self { $(Unit::$variant => $name,)+ }
            }

            /// The symbol for print, with the micro sign (U+00B5); it parses to the same unit.
            pub const fn symbol(self) -> &'static str {
                match self { $(Unit::$variant => $symbol,)+ }
            }

            /// What the unit measures.
            pub const fn dimension(self) -> Dimension {
                match self { $(Unit::$variant => Dimension::$dimension,)+ }
            }

            /// Decimal exponent of the unit's size in mg/L or mg/kg.
            const fn exponent(self) -> i32 {
                match self { $(Unit::$variant => $exponent,)+ }
            }
        }
    };
}

units! {
    /// Gram per litre.
    GramPerLitre = "g/L", "g/L", MassPerVolume, 3;
    /// Milligram per millilitre, the size of g/L.
    MilligramPerMillilitre = "mg/mL", "mg/mL", MassPerVolume, 3;
    /// Milligram per litre.
    MilligramPerLitre = "mg/L", "mg/L", MassPerVolume, 0;
    /// Microgram per millilitre, the size of mg/L.
    MicrogramPerMillilitre = "ug/mL", "\u{b5}g/mL", MassPerVolume, 0;
    /// Microgram per litre.
    MicrogramPerLitre = "ug/L", "\u{b5}g/L", MassPerVolume, -3;
    /// Nanogram per millilitre, the size of ug/L.
    NanogramPerMillilitre = "ng/mL", "ng/mL", MassPerVolume, -3;
    /// Nanogram per litre.
    NanogramPerLitre = "ng/L", "ng/L", MassPerVolume, -6;
    /// Per cent by mass: 10 g/kg.
    PercentByMass = "%", "%", MassPerMass, 4;
    /// Gram per kilogram.
    GramPerKilogram = "g/kg", "g/kg", MassPerMass, 3;
    /// Milligram per gram, the size of g/kg.
    MilligramPerGram = "mg/g", "mg/g", MassPerMass, 3;
    /// Milligram per kilogram.
    MilligramPerKilogram = "mg/kg", "mg/kg", MassPerMass, 0;
    /// Microgram per gram, the size of mg/kg.
    MicrogramPerGram = "ug/g", "\u{b5}g/g", MassPerMass, 0;
    /// Microgram per kilogram.
    MicrogramPerKilogram = "ug/kg", "\u{b5}g/kg", MassPerMass, -3;
    /// Nanogram per gram, the size of ug/kg.
    NanogramPerGram = "ng/g", "ng/g", MassPerMass, -3;
    /// Nanogram per kilogram.
    NanogramPerKilogram = "ng/kg", "ng/kg", MassPerMass, -6;
}

/// Powers of ten up to the largest ratio of two units of a kind; each is an exact `f64`.
const POWERS: [f64; 11] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10];

impl Unit {
    /// The unit written as `text`.
    ///
    /// Micro may be `u`, `mc` (as in mcg), or either Unicode character that looks like a micro sign (U+00B5,
    /// U+03BC); litre may be `l` or `L`; `mg L-1` is read as `mg/L`; `% (m/m)` and `% (w/w)` as `%`. Other letters
    /// keep their case, because case carries meaning in a unit.
    ///
    /// # Errors
    /// [`Kind::Unit`] for anything else, with the nearest name. `ppm`, `ppb` and `ppt` are refused: they do not say
    /// whether a volume or a mass was meant.
    ///
    /// ```
    /// use groundstate::unit::Unit;
    /// assert_eq!(Unit::parse("µg/l")?, Unit::MicrogramPerLitre);
    /// assert!(Unit::parse("ppm").is_err());
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, Error> {
        let plain = plain(text);
        Unit::ALL.iter().copied().find(|unit| unit.name() == plain).ok_or_else(|| unknown(text, &plain))
    }

    /// The factor that turns a figure in this unit into one in `to`: the correctly rounded power of ten.
    ///
    /// Prefer [`Unit::convert`] for a figure: it rounds once, where multiplying by a rounded 0.001 rounds twice.
    ///
    /// # Errors
    /// [`Kind::Unit`] when one unit is per volume and the other per mass.
    pub fn factor_to(self, to: Unit) -> Result<f64, Error> {
        self.convert(1.0, to)
    }

    /// `value`, given in this unit, in the unit `to`: one multiplication or division by an exact power of ten,
    /// so the result is the correctly rounded one. A NaN stays NaN.
    ///
    /// # Errors
    /// [`Kind::Unit`] when one unit is per volume and the other per mass; [`Kind::Argument`] when a finite value
    /// becomes too large for an `f64`.
    ///
    /// ```
    /// use groundstate::unit::Unit;
    /// let low = Unit::MicrogramPerLitre.convert(5.0, Unit::MilligramPerLitre)?;
    /// assert_eq!(low.to_string(), "0.005");
    /// assert!(Unit::MilligramPerLitre.convert(1.0, Unit::MilligramPerKilogram).is_err());
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn convert(self, value: f64, to: Unit) -> Result<f64, Error> {
        if self.dimension() != to.dimension() {
            return Err(different_kinds(self, to));
        }
        let shift = self.exponent() - to.exponent();
        // The table covers every pair (tested); the fallback can only be met by a unit added without its power.
        let power = POWERS.get(shift.unsigned_abs() as usize).copied().unwrap_or(f64::NAN);
        let converted = if shift < 0 { value / power } else { value * power };
        if value.is_finite() && !converted.is_finite() {
            return Err(Error::argument("value", format!("{value:e} {self} is too large to be expressed in {to}")));
        }
        Ok(converted)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Unit {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        Unit::parse(text)
    }
}

/// `text` in the spelling of [`Unit::name`], as far as its spelling is one of the accepted ones.
fn plain(text: &str) -> String {
    let ascii: String = text
        .trim()
        .chars()
        .map(|letter| match letter {
            '\u{b5}' | '\u{3bc}' => 'u',
            '\u{207b}' | '\u{2212}' => '-',
            '\u{b9}' => '1',
            '\u{b7}' | '\u{22c5}' | '\u{a0}' => ' ',
            'l' => 'L',
            other => other,
        })
        .collect();
    let compact: String = ascii.chars().filter(|letter| !letter.is_whitespace()).collect();
    if matches!(compact.as_str(), "%(m/m)" | "%m/m" | "%(w/w)" | "%w/w") {
        return "%".to_owned();
    }
    let quotient = match compact.split_once('/') {
        Some(parts) => Some(parts),
        None => ascii.split_once(' ').and_then(|(mass, per)| {
            let per = per.trim();
            Some((mass, per.strip_suffix("^-1").or_else(|| per.strip_suffix("-1"))?))
        }),
    };
    match quotient {
        Some(("mcg", per)) => format!("ug/{per}"),
        Some((mass, per)) => format!("{mass}/{per}"),
        None => compact,
    }
}

fn unit_error(what: String) -> Error {
    Error::new(Kind::Unit, Problem::new(Place::named("unit"), what))
}

fn unknown(text: &str, plain: &str) -> Error {
    let shown: String = text.chars().take(40).collect();
    let small = plain.to_lowercase();
    if ["ppm", "ppb", "ppt"].iter().any(|parts| small.starts_with(parts)) {
        return unit_error(format!("{shown:?} does not say whether it counts mass per volume or mass per mass")).help(
            "write mg/L or ug/L for a solution, mg/kg or ug/kg for a solid; \
             mg/L and parts per million agree only where the density is 1 kg/L",
        );
    }
    if small.starts_with('%') {
        return unit_error(format!("{shown:?} is not a per cent by mass"))
            .help("write % for per cent by mass, g/L for mass per volume (1 g in 100 mL is 10 g/L)");
    }
    if small.contains("mol") || matches!(plain, "M" | "mM" | "uM" | "nM") {
        return unit_error(format!("{shown:?} is an amount of substance, which this library does not convert"))
            .help("give mass concentrations, for example mg/L");
    }
    // One or two letters are near a name as short as %, whatever they are; a very long text is near none, and
    // the cut keeps the search short.
    let start: String = plain.chars().take(20).collect();
    let near = nearest(&start, Unit::ALL.iter().map(|unit| unit.name()));
    let help = match near.filter(|_| start.len() > 2) {
        Some(near) => format!("did you mean {near}?"),
        None => {
            let names: Vec<&str> = Unit::ALL.iter().map(|unit| unit.name()).collect();
            format!("known units: {}", names.join(", "))
        }
    };
    unit_error(format!("unknown unit {shown:?}")).help(help)
}

fn different_kinds(from: Unit, to: Unit) -> Error {
    unit_error(format!(
        "{from} is {} and {to} is {}: one does not become the other without the density, or the mass and volume, \
         of what was measured",
        from.dimension().words(),
        to.dimension().words()
    ))
    .help("describe the preparation (mass and final volume) instead of changing the unit")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_and_symbols_parse_to_their_unit() {
        for &unit in Unit::ALL {
            assert_eq!(Unit::parse(unit.name()).unwrap(), unit);
            assert_eq!(Unit::parse(unit.symbol()).unwrap(), unit);
            assert_eq!(unit.to_string().parse::<Unit>().unwrap(), unit);
            assert!(unit.name().is_ascii());
        }
    }

    #[test]
    fn the_accepted_spellings() {
        let micro = ["ug/L", "\u{b5}g/L", "\u{3bc}g/L", "mcg/L", "ug/l", " ug / L ", "ug L-1", "\u{b5}g\u{b7}L⁻¹"];
        for text in micro.iter().chain(&["ug L^-1", "ug\u{a0}L−1"]) {
            assert_eq!(Unit::parse(text).unwrap(), Unit::MicrogramPerLitre, "{text}");
        }
        for text in ["%", "% (m/m)", "% m/m", "%(w/w)"] {
            assert_eq!(Unit::parse(text).unwrap(), Unit::PercentByMass, "{text}");
        }
        assert_eq!(Unit::parse("mg kg-1").unwrap(), Unit::MilligramPerKilogram);
    }

    #[test]
    fn refusals_say_what_to_write() {
        for (text, hint) in [
            ("ppm", "density"),
            ("PPB", "mg/kg"),
            ("ppm (m/m)", "mg/kg"),
            ("% (m/v)", "10 g/L"),
            ("mmol/L", "mass concentrations"),
            ("Mg/L", "did you mean mg/L?"),
            ("mg/kq", "did you mean mg/kg?"),
            ("furlong", "known units: g/L"),
            ("", "known units"),
            ("mg", "known units"),
        ] {
            let error = Unit::parse(text).unwrap_err();
            assert_eq!(error.kind(), Kind::Unit, "{text}");
            assert!(error.to_string().contains(hint), "{text}: {error}");
        }
        assert!(Unit::parse(&"x".repeat(100_000)).unwrap_err().to_string().len() < 300);
    }

    #[test]
    fn volume_and_mass_are_never_exchanged() {
        let error = Unit::MilligramPerLitre.factor_to(Unit::MilligramPerKilogram).unwrap_err();
        assert_eq!(error.kind(), Kind::Unit);
        assert!(error.to_string().contains("density"), "{error}");
    }

    #[test]
    fn factors_are_the_nearest_numbers_to_powers_of_ten() {
        for &from in Unit::ALL {
            for &to in Unit::ALL.iter().filter(|to| to.dimension() == from.dimension()) {
                let written: f64 = format!("1e{}", from.exponent() - to.exponent()).parse().unwrap();
                assert_eq!(from.factor_to(to).unwrap().to_bits(), written.to_bits(), "{from} to {to}");
            }
        }
        // 200.7 section 9.4.2: 1 g in 100 mL makes 1 mg/L of the solution 100 mg/kg; 1 % is 10 000 mg/kg.
        assert_eq!(Unit::PercentByMass.factor_to(Unit::MilligramPerKilogram).unwrap().to_string(), "10000");
    }

    #[test]
    fn overflow_is_an_error_and_missing_stays_missing() {
        let error = Unit::GramPerLitre.convert(1e305, Unit::NanogramPerLitre).unwrap_err();
        assert_eq!(error.kind(), Kind::Argument);
        assert!(Unit::GramPerLitre.convert(f64::NAN, Unit::NanogramPerLitre).unwrap().is_nan());
    }

    fn pairs() -> impl Strategy<Value = (Unit, Unit)> {
        let any = || prop::sample::select(Unit::ALL);
        (any(), any()).prop_filter("same kind", |(from, to)| from.dimension() == to.dimension())
    }

    proptest! {
        // A whole number is exact, so the one rounding of `convert` must give what the decimal text gives.
        #[test]
        fn whole_numbers_convert_as_their_decimal_text(
            (from, to) in pairs(), count in -(1_i64 << 53)..(1_i64 << 53),
        ) {
            let written: f64 = format!("{count}e{}", from.exponent() - to.exponent()).parse().unwrap();
            prop_assert_eq!(from.convert(count as f64, to).unwrap().to_bits(), written.to_bits());
        }

        // Two correctly rounded steps there and back: at most one unit in the last place each.
        #[test]
        fn there_and_back((from, to) in pairs(), value in -1e9..1e9_f64) {
            let back = to.convert(from.convert(value, to).unwrap(), from).unwrap();
            prop_assert!((back - value).abs() <= 2.0 * f64::EPSILON * value.abs());
        }

        #[test]
        fn parsing_never_panics(text in "\\PC{0,30}") {
            let _ = Unit::parse(&text);
        }
    }
}
