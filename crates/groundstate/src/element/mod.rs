//! Elements: symbols, names, atomic weights, and their atomic absorption lines with the source of each figure.
//!
//! ```
//! use groundstate::element::Element;
//!
//! assert_eq!(Element::parse("aluminum")?.symbol(), "Al");
//! # Ok::<(), groundstate::Error>(())
//! ```

mod line;
mod table;

pub use line::{Flame, Line, Mixture, Oxidant};
pub use table::Element;

use std::fmt;
use std::str::FromStr;

use crate::error::{Error, nearest};

/// Other spellings in use for the names that IUPAC recommends.
const ALIASES: [(&str, Element); 3] =
    [("aluminum", Element::Aluminium), ("cesium", Element::Caesium), ("sulphur", Element::Sulfur)];

impl Element {
    /// The element written as `text`: its symbol or English name, in any case.
    ///
    /// # Errors
    /// [`Kind::Argument`](crate::error::Kind::Argument) for anything else, with the nearest name, or with the symbols
    /// that begin alike. Elements that neither absorb in a flame nor stand in the common stock compounds are unknown.
    ///
    /// ```
    /// use groundstate::element::Element;
    /// assert_eq!(Element::parse("Zn")?, Element::Zinc);
    /// assert_eq!(Element::parse("aluminum")?.symbol(), "Al");
    /// # Ok::<(), groundstate::Error>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, Error> {
        let word = text.trim();
        let same = |other: &str| other.eq_ignore_ascii_case(word);
        let listed = Element::ALL.iter().copied().find(|element| same(element.symbol()) || same(element.name()));
        let alias = || ALIASES.iter().find(|(name, _)| same(name)).map(|(_, element)| *element);
        listed.or_else(alias).ok_or_else(|| unknown(word))
    }

    /// The published lines of the element, one row for each source that lists it; none for elements without.
    pub fn lines(self) -> impl Iterator<Item = Line> {
        line::all().filter(move |line| line.element == self)
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.symbol())
    }
}

impl FromStr for Element {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        Element::parse(text)
    }
}

fn unknown(word: &str) -> Error {
    let start: String = word.chars().take(20).collect();
    let error = Error::argument("element", format!("unknown element {start:?}"));
    // Every short word is one letter away from some symbol: for those the first letter tells more.
    if start.chars().count() > 3 {
        return match nearest(&start, Element::ALL.iter().map(|element| element.name())) {
            Some(name) => error.help(format!("did you mean {name}?")),
            None => error.help("give a symbol such as Zn, or an English name"),
        };
    }
    let alike: Vec<&str> = Element::ALL
        .iter()
        .map(|element| element.symbol())
        .filter(|symbol| symbol.chars().zip(start.chars()).next().is_some_and(|(a, b)| a.eq_ignore_ascii_case(&b)))
        .collect();
    match alike.is_empty() {
        true => error.help("give a symbol such as Zn, or an English name"),
        false => error.help(format!("symbols that begin alike: {}", alike.join(", "))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::CitationStatus;

    #[test]
    fn symbols_and_names_parse_in_any_case() {
        for &element in Element::ALL {
            for text in [element.symbol(), element.name()] {
                assert_eq!(Element::parse(text).unwrap(), element);
                assert_eq!(Element::parse(&text.to_uppercase()).unwrap(), element);
                assert_eq!(format!(" {text} ").parse::<Element>().unwrap(), element);
            }
        }
        assert_eq!(Element::parse("Cesium").unwrap(), Element::Caesium);
    }

    #[test]
    fn unknown_elements_bring_a_suggestion() {
        for (text, hint) in [
            ("zync", "did you mean zinc?"),
            ("Zx", "begin alike: Zn, Zr"),
            ("", "give a symbol"),
            ("kryptonite", "give a symbol"),
            ("\u{3bc}", "give a symbol"),
        ] {
            let message = Element::parse(text).unwrap_err().to_string();
            assert!(message.contains(hint), "{text}: {message}");
        }
    }

    #[test]
    fn the_table_is_in_order_and_without_doubles() {
        let numbers: Vec<u8> = Element::ALL.iter().map(|element| element.atomic_number()).collect();
        assert!(numbers.windows(2).all(|pair| pair[0] < pair[1]));
        for &element in Element::ALL {
            // Atomic weights lie between twice and 2.6 times the atomic number, hydrogen apart.
            let ratio = element.atomic_weight() / f64::from(element.atomic_number());
            assert!(element == Element::Hydrogen || (1.9..2.6).contains(&ratio), "{element} {ratio}");
            assert!(element.atomic_weight_reliability() < 0.01 * element.atomic_weight(), "{element}");
        }
    }

    /// SW-846 Method 7000B Revision 2, section 7.6: grams of compound in a litre of stock of 1000 mg/L of the element.
    /// The published figures have three decimals and rest on older atomic weights: they agree within 0.0015.
    #[test]
    fn stock_compounds_of_the_method_agree_with_the_atomic_weights() {
        use Element::{
            Barium as Ba, Beryllium as Be, Calcium as Ca, Carbon as C, Chlorine as Cl, Chromium as Cr, Hydrogen as H,
            Lead as Pb, Lithium as Li, Molybdenum as Mo, Nickel as Ni, Nitrogen as N, Oxygen as O, Potassium as K,
            Silver as Ag, Sodium as Na, Strontium as Sr, Sulfur as S, Thallium as Tl, Vanadium as V,
        };
        type Compound = (&'static [(Element, f64)], Element, f64);
        let compounds: [Compound; 14] = [
            (&[(Ca, 1.0), (C, 1.0), (O, 3.0)], Ca, 2.497), // printed 2.500, "2.497 exact"
            (&[(K, 1.0), (Cl, 1.0)], K, 1.907),
            (&[(Na, 1.0), (Cl, 1.0)], Na, 2.542),
            (&[(Ag, 1.0), (N, 1.0), (O, 3.0)], Ag, 1.575),
            (&[(Pb, 1.0), (N, 2.0), (O, 6.0)], Pb, 1.599),
            (&[(Li, 2.0), (C, 1.0), (O, 3.0)], Li, 5.324),
            (&[(Ba, 1.0), (Cl, 2.0), (H, 4.0), (O, 2.0)], Ba, 1.779),
            (&[(Sr, 1.0), (N, 2.0), (O, 6.0)], Sr, 2.415),
            (&[(Tl, 1.0), (N, 1.0), (O, 3.0)], Tl, 1.303),
            (&[(V, 2.0), (O, 5.0)], V, 1.785),
            (&[(Cr, 1.0), (O, 3.0)], Cr, 1.923),
            (&[(N, 6.0), (H, 32.0), (Mo, 7.0), (O, 28.0)], Mo, 1.840),
            (&[(Be, 1.0), (S, 1.0), (O, 4.0)], Be, 11.659),
            (&[(Ni, 1.0), (N, 2.0), (O, 12.0), (H, 12.0)], Ni, 4.953),
        ];
        for (formula, element, grams) in compounds {
            let molar: f64 = formula.iter().map(|(part, count)| count * part.atomic_weight()).sum();
            let count = formula.iter().find(|(part, _)| *part == element).map(|(_, count)| *count).unwrap();
            let needed = molar / (count * element.atomic_weight());
            assert!((needed - grams).abs() < 0.0015, "{element}: {needed} and {grams}");
        }
    }

    #[test]
    fn every_line_has_its_source() {
        let lines: Vec<Line> = line::all().collect();
        for line in &lines {
            assert!((190.0..900.0).contains(&line.wavelength_nm), "{line:?}");
            assert!(line.characteristic_concentration.is_none_or(|value| value > 0.0 && value < 10.0));
            let read = line.source.status == CitationStatus::Transcribed;
            assert_eq!(read, line.flame.mixture.is_some(), "only the transcribed table states the mixture");
        }
        assert_eq!((lines.len(), Element::Chromium.lines().count(), Element::Chlorine.lines().count()), (67, 2, 0));
        // The sources differ: chromium in nitrous oxide or in air, with different characteristic concentrations.
        let flames: Vec<Oxidant> = Element::Chromium.lines().map(|line| line.flame.oxidant).collect();
        assert_eq!(flames, [Oxidant::NitrousOxide, Oxidant::Air]);
    }

    #[test]
    fn misprints_are_corrected_and_noted() {
        let aluminium = Element::Aluminium.lines().next().unwrap();
        assert_eq!(aluminium.wavelength_nm.to_string(), "309.3");
        assert!(aluminium.note.contains("324.7"));
        assert!(Element::Osmium.lines().next().unwrap().note.contains("290.0"));
    }
}
