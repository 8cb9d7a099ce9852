//! The table of elements.
//!
//! Weights are the abridged standard atomic weights of the IUPAC Technical Report "Standard atomic weights of the
//! elements 2021" (Prohaska et al., Pure Appl. Chem. 94 (2022) 573, Table 1). The report itself was not read: the
//! values are those of a public restatement, all but Sb, Te, La, Hf, Ta, Re, Os, Ir and Tl also found in a second
//! one. Zirconium was revised to 91.222 in 2024.

macro_rules! elements {
    ($($(#[$doc:meta])*
        $variant:ident = $number:literal, $symbol:literal, $name:literal, $weight:literal, $reliability:literal;)+
    ) => {
        /// An element that flame atomic absorption determines, or that stands in the compounds stocks are made of.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Element { $($(#[$doc])* $variant,)+ }

        impl Element {
            /// Every element of the table, by atomic number.
            pub const ALL: &'static [Element] = &[$(Element::$variant,)+];

            /// The symbol.
            pub const fn symbol(self) -> &'static str {
                match self { $(Element::$variant => $symbol,)+ }
            }

            /// The English name that IUPAC recommends, in small letters.
            pub const fn name(self) -> &'static str {
                match self { $(Element::$variant => $name,)+ }
            }

            /// The number of protons.
            pub const fn atomic_number(self) -> u8 {
                match self { $(Element::$variant => $number,)+ }
            }

            /// Abridged standard atomic weight (dimensionless; g/mol as a molar mass), IUPAC 2021.
            pub const fn atomic_weight(self) -> f64 {
                match self { $(Element::$variant => $weight,)+ }
            }

            /// The plus-or-minus of the abridged weight: a bound for normal materials, not a standard uncertainty.
            pub const fn atomic_weight_reliability(self) -> f64 {
                match self { $(Element::$variant => $reliability,)+ }
            }
        }
    };
}

elements! {
    /// Hydrogen.
    Hydrogen = 1, "H", "hydrogen", 1.0080, 0.0002;
    /// Lithium.
    Lithium = 3, "Li", "lithium", 6.94, 0.06;
    /// Beryllium.
    Beryllium = 4, "Be", "beryllium", 9.0122, 0.0001;
    /// Boron.
    Boron = 5, "B", "boron", 10.81, 0.02;
    /// Carbon.
    Carbon = 6, "C", "carbon", 12.011, 0.002;
    /// Nitrogen.
    Nitrogen = 7, "N", "nitrogen", 14.007, 0.001;
    /// Oxygen.
    Oxygen = 8, "O", "oxygen", 15.999, 0.001;
    /// Fluorine.
    Fluorine = 9, "F", "fluorine", 18.998, 0.001;
    /// Sodium.
    Sodium = 11, "Na", "sodium", 22.990, 0.001;
    /// Magnesium.
    Magnesium = 12, "Mg", "magnesium", 24.305, 0.002;
    /// Aluminium.
    Aluminium = 13, "Al", "aluminium", 26.982, 0.001;
    /// Silicon.
    Silicon = 14, "Si", "silicon", 28.085, 0.001;
    /// Phosphorus.
    Phosphorus = 15, "P", "phosphorus", 30.974, 0.001;
    /// Sulfur.
    Sulfur = 16, "S", "sulfur", 32.06, 0.02;
    /// Chlorine.
    Chlorine = 17, "Cl", "chlorine", 35.45, 0.01;
    /// Potassium.
    Potassium = 19, "K", "potassium", 39.098, 0.001;
    /// Calcium.
    Calcium = 20, "Ca", "calcium", 40.078, 0.004;
    /// Scandium.
    Scandium = 21, "Sc", "scandium", 44.956, 0.001;
    /// Titanium.
    Titanium = 22, "Ti", "titanium", 47.867, 0.001;
    /// Vanadium.
    Vanadium = 23, "V", "vanadium", 50.942, 0.001;
    /// Chromium.
    Chromium = 24, "Cr", "chromium", 51.996, 0.001;
    /// Manganese.
    Manganese = 25, "Mn", "manganese", 54.938, 0.001;
    /// Iron.
    Iron = 26, "Fe", "iron", 55.845, 0.002;
    /// Cobalt.
    Cobalt = 27, "Co", "cobalt", 58.933, 0.001;
    /// Nickel.
    Nickel = 28, "Ni", "nickel", 58.693, 0.001;
    /// Copper.
    Copper = 29, "Cu", "copper", 63.546, 0.003;
    /// Zinc.
    Zinc = 30, "Zn", "zinc", 65.38, 0.02;
    /// Gallium.
    Gallium = 31, "Ga", "gallium", 69.723, 0.001;
    /// Germanium.
    Germanium = 32, "Ge", "germanium", 72.630, 0.008;
    /// Arsenic.
    Arsenic = 33, "As", "arsenic", 74.922, 0.001;
    /// Selenium.
    Selenium = 34, "Se", "selenium", 78.971, 0.008;
    /// Bromine.
    Bromine = 35, "Br", "bromine", 79.904, 0.003;
    /// Rubidium.
    Rubidium = 37, "Rb", "rubidium", 85.468, 0.001;
    /// Strontium.
    Strontium = 38, "Sr", "strontium", 87.62, 0.01;
    /// Yttrium.
    Yttrium = 39, "Y", "yttrium", 88.906, 0.001;
    /// Zirconium.
    Zirconium = 40, "Zr", "zirconium", 91.224, 0.002;
    /// Niobium.
    Niobium = 41, "Nb", "niobium", 92.906, 0.001;
    /// Molybdenum.
    Molybdenum = 42, "Mo", "molybdenum", 95.95, 0.01;
    /// Ruthenium.
    Ruthenium = 44, "Ru", "ruthenium", 101.07, 0.02;
    /// Rhodium.
    Rhodium = 45, "Rh", "rhodium", 102.91, 0.01;
    /// Palladium.
    Palladium = 46, "Pd", "palladium", 106.42, 0.01;
    /// Silver.
    Silver = 47, "Ag", "silver", 107.87, 0.01;
    /// Cadmium.
    Cadmium = 48, "Cd", "cadmium", 112.41, 0.01;
    /// Indium.
    Indium = 49, "In", "indium", 114.82, 0.01;
    /// Tin.
    Tin = 50, "Sn", "tin", 118.71, 0.01;
    /// Antimony.
    Antimony = 51, "Sb", "antimony", 121.76, 0.01;
    /// Tellurium.
    Tellurium = 52, "Te", "tellurium", 127.60, 0.03;
    /// Iodine.
    Iodine = 53, "I", "iodine", 126.90, 0.01;
    /// Caesium.
    Caesium = 55, "Cs", "caesium", 132.91, 0.01;
    /// Barium.
    Barium = 56, "Ba", "barium", 137.33, 0.01;
    /// Lanthanum.
    Lanthanum = 57, "La", "lanthanum", 138.91, 0.01;
    /// Hafnium.
    Hafnium = 72, "Hf", "hafnium", 178.49, 0.01;
    /// Tantalum.
    Tantalum = 73, "Ta", "tantalum", 180.95, 0.01;
    /// Tungsten.
    Tungsten = 74, "W", "tungsten", 183.84, 0.01;
    /// Rhenium.
    Rhenium = 75, "Re", "rhenium", 186.21, 0.01;
    /// Osmium.
    Osmium = 76, "Os", "osmium", 190.23, 0.03;
    /// Iridium.
    Iridium = 77, "Ir", "iridium", 192.22, 0.01;
    /// Platinum.
    Platinum = 78, "Pt", "platinum", 195.08, 0.02;
    /// Gold.
    Gold = 79, "Au", "gold", 196.97, 0.01;
    /// Mercury.
    Mercury = 80, "Hg", "mercury", 200.59, 0.01;
    /// Thallium.
    Thallium = 81, "Tl", "thallium", 204.38, 0.01;
    /// Lead.
    Lead = 82, "Pb", "lead", 207.2, 1.1;
    /// Bismuth.
    Bismuth = 83, "Bi", "bismuth", 208.98, 0.01;
}
