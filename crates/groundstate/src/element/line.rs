//! Atomic absorption lines as published. A line may stand in several rows, each with its own source: there is no
//! single right value of a characteristic concentration, it belongs to an instrument and a flame.

use super::Element::{self, *};
use crate::finding::Citation;
use Mixture::{Lean, Rich, Stoichiometric};
use Oxidant::{Air, NitrousOxide};

/// What burns the acetylene.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Oxidant {
    /// Air.
    Air,
    /// Nitrous oxide.
    NitrousOxide,
}

/// How much acetylene for the oxidant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mixture {
    /// Less fuel than burns.
    Lean,
    /// As much fuel as burns.
    Stoichiometric,
    /// More fuel than burns.
    Rich,
}

/// A flame of acetylene.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Flame {
    /// The oxidant.
    pub oxidant: Oxidant,
    /// The mixture, where the source states it.
    pub mixture: Option<Mixture>,
}

/// One row of a published table of lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The element.
    pub element: Element,
    /// Wavelength, nm.
    pub wavelength_nm: f64,
    /// The flame.
    pub flame: Flame,
    /// Concentration in mg/L that absorbs 1 % (absorbance 0.0044), where the source gives it for this line.
    pub characteristic_concentration: Option<f64>,
    /// Where the row stands.
    pub source: Citation,
    /// A misprint or a condition to know; empty if there is none.
    pub note: &'static str,
}

/// One row before it is given its source.
struct Row {
    element: Element,
    wavelength_nm: f64,
    flame: Flame,
    characteristic_concentration: Option<f64>,
    note: &'static str,
}

/// Every row, source by source.
pub(super) fn all() -> impl Iterator<Item = Line> {
    let method_7000b = Citation::transcribed("SW-846 Method 7000B", "Revision 2, February 2007", "Tables 1 and 2");
    let standard_methods =
        Citation::unverified("Standard Methods for the Examination of Water and Wastewater", "", "3111 A");
    let sourced = |rows: &'static [Row], source: Citation| rows.iter().map(move |row| row.from(&source));
    sourced(METHOD_7000B, method_7000b).chain(sourced(STANDARD_METHODS, standard_methods))
}

impl Row {
    fn from(&self, source: &Citation) -> Line {
        Line {
            element: self.element,
            wavelength_nm: self.wavelength_nm,
            flame: self.flame,
            characteristic_concentration: self.characteristic_concentration,
            source: source.clone(),
            note: self.note,
        }
    }
}

const fn epa(
    element: Element,
    wavelength_nm: f64,
    oxidant: Oxidant,
    mixture: Mixture,
    characteristic_concentration: Option<f64>,
    note: &'static str,
) -> Row {
    let flame = Flame { oxidant, mixture: Some(mixture) };
    Row { element, wavelength_nm, flame, characteristic_concentration, note }
}

const fn sm(
    element: Element,
    wavelength_nm: f64,
    oxidant: Oxidant,
    characteristic_concentration: Option<f64>,
    note: &'static str,
) -> Row {
    Row { element, wavelength_nm, flame: Flame { oxidant, mixture: None }, characteristic_concentration, note }
}

/// Transcribed; the first row of an element is its primary line, to which the printed sensitivity belongs.
const METHOD_7000B: &[Row] = &[
    epa(
        Aluminium,
        309.3,
        NitrousOxide,
        Rich,
        Some(1.0),
        "the document prints 324.7 nm, which is copper's line; 309.3 nm is meant",
    ),
    epa(Antimony, 217.6, Air, Lean, Some(0.5), ""),
    epa(Antimony, 231.1, Air, Lean, None, ""),
    epa(Barium, 553.6, NitrousOxide, Rich, Some(0.4), ""),
    epa(Beryllium, 234.9, NitrousOxide, Rich, Some(0.025), ""),
    epa(Cadmium, 228.8, Air, Lean, Some(0.025), ""),
    epa(Calcium, 422.7, NitrousOxide, Stoichiometric, Some(0.08), ""),
    epa(Chromium, 357.9, NitrousOxide, Rich, Some(0.25), ""),
    epa(Cobalt, 240.7, Air, Lean, Some(0.2), ""),
    epa(Copper, 324.7, Air, Lean, Some(0.1), ""),
    epa(Iron, 248.3, Air, Lean, Some(0.12), ""),
    epa(Iron, 248.8, Air, Lean, None, ""),
    epa(Iron, 271.8, Air, Lean, None, ""),
    epa(Iron, 302.1, Air, Lean, None, ""),
    epa(Iron, 252.7, Air, Lean, None, ""),
    epa(Lead, 283.3, Air, Lean, Some(0.5), ""),
    epa(Lead, 217.0, Air, Lean, None, ""),
    epa(Lithium, 670.8, Air, Lean, Some(0.04), ""),
    epa(Magnesium, 285.2, Air, Lean, Some(0.007), ""),
    epa(Manganese, 279.5, Air, Lean, Some(0.05), "the document allows a lean to stoichiometric flame"),
    epa(Manganese, 403.1, Air, Lean, None, "the document allows a lean to stoichiometric flame"),
    epa(Molybdenum, 313.3, NitrousOxide, Rich, Some(0.4), ""),
    epa(Nickel, 232.0, Air, Lean, Some(0.15), ""),
    epa(Nickel, 352.4, Air, Lean, None, ""),
    epa(Osmium, 290.9, NitrousOxide, Rich, Some(1.0), "the document prints 290.0 nm; EPA Method 252.2 has 290.9 nm"),
    epa(Potassium, 766.5, Air, Lean, Some(0.04), ""),
    epa(Silver, 328.1, Air, Lean, Some(0.06), ""),
    epa(Sodium, 589.6, Air, Lean, Some(0.015), "the stronger line of the pair is 589.0 nm"),
    epa(Strontium, 460.7, Air, Lean, Some(0.15), ""),
    epa(Thallium, 276.8, Air, Lean, Some(0.5), ""),
    epa(Tin, 286.3, NitrousOxide, Rich, Some(4.0), ""),
    epa(Vanadium, 318.4, NitrousOxide, Rich, Some(0.8), ""),
    epa(Zinc, 213.9, Air, Lean, Some(0.02), ""),
];

/// From memory.
const STANDARD_METHODS: &[Row] = &[
    sm(Silver, 328.1, Air, Some(0.06), ""),
    sm(Aluminium, 309.3, NitrousOxide, Some(1.0), ""),
    sm(Gold, 242.8, Air, Some(0.25), ""),
    sm(Barium, 553.6, NitrousOxide, Some(0.4), ""),
    sm(Beryllium, 234.9, NitrousOxide, Some(0.03), ""),
    sm(Bismuth, 223.1, Air, Some(0.4), ""),
    sm(Calcium, 422.7, Air, Some(0.08), ""),
    sm(Cadmium, 228.8, Air, Some(0.025), ""),
    sm(Cobalt, 240.7, Air, Some(0.2), ""),
    sm(Chromium, 357.9, Air, Some(0.1), ""),
    sm(Caesium, 852.1, Air, Some(0.3), ""),
    sm(Copper, 324.7, Air, Some(0.1), ""),
    sm(Iron, 248.3, Air, Some(0.12), ""),
    sm(Iridium, 264.0, Air, Some(8.0), ""),
    sm(Potassium, 766.5, Air, Some(0.04), ""),
    sm(Lithium, 670.8, Air, Some(0.04), ""),
    sm(Magnesium, 285.2, Air, Some(0.007), ""),
    sm(Manganese, 279.5, Air, Some(0.05), ""),
    sm(Molybdenum, 313.3, NitrousOxide, Some(0.5), ""),
    sm(Sodium, 589.0, Air, Some(0.015), ""),
    sm(Nickel, 232.0, Air, Some(0.15), ""),
    sm(Osmium, 290.9, NitrousOxide, Some(1.0), ""),
    sm(Lead, 283.3, Air, Some(0.5), ""),
    sm(Lead, 217.0, Air, None, "with background correction"),
    sm(Platinum, 265.9, Air, Some(2.0), ""),
    sm(Rhodium, 343.5, Air, Some(0.3), ""),
    sm(Ruthenium, 349.9, Air, Some(0.5), ""),
    sm(Antimony, 217.6, Air, Some(0.5), ""),
    sm(Silicon, 251.6, NitrousOxide, Some(2.0), ""),
    sm(Tin, 224.6, Air, Some(4.0), ""),
    sm(Strontium, 460.7, Air, Some(0.15), ""),
    sm(Titanium, 365.3, NitrousOxide, Some(2.0), ""),
    sm(Vanadium, 318.4, NitrousOxide, Some(1.5), ""),
    sm(Zinc, 213.9, Air, Some(0.02), ""),
];
