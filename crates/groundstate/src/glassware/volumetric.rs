//! Tolerances of volumetric flasks and one-mark pipettes, as data.

use crate::error::Error;
use crate::finding::Citation;

/// What holds or delivers the volume.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Vessel {
    /// One-mark volumetric flask.
    Flask,
    /// One-mark (transfer) pipette.
    Pipette,
}

/// Whose table the tolerance comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Specification {
    /// ASTM E288 (flasks; E237 at 1 and 2 mL) and E969 (pipettes).
    Astm,
    /// ISO 1042 (flasks) and ISO 648 (pipettes).
    Iso,
}

/// Accuracy class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Class {
    /// The narrow class (AS for ISO pipettes).
    A,
    /// The wide class: twice the tolerance of class A. Only the ASTM tables are known to say so.
    B,
}

/// A volume with its tolerance.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerance {
    /// Nominal volume in millilitres.
    pub nominal_ml: f64,
    /// Half-width of the tolerance in millilitres, at 20 °C.
    pub half_width_ml: f64,
    /// The document, and how well the figure is known.
    pub citation: Citation,
}

type Row = (f64, Option<f64>, Option<f64>);

/// mL, ASTM class A, ISO class A: tolerances in mL, recalled and not read in the documents, except that QUAM 2012
/// Example A1 uses 0.10 mL for the ISO flask of 100 mL.
const FLASKS: [Row; 12] = [
    (1.0, Some(0.010), Some(0.025)),
    (2.0, Some(0.015), Some(0.025)),
    (5.0, Some(0.02), Some(0.025)),
    (10.0, Some(0.02), Some(0.025)),
    (25.0, Some(0.03), Some(0.04)),
    (50.0, Some(0.05), Some(0.06)),
    (100.0, Some(0.08), Some(0.10)),
    (200.0, Some(0.10), Some(0.15)),
    (250.0, Some(0.12), Some(0.15)),
    (500.0, Some(0.20), Some(0.25)),
    (1000.0, Some(0.30), Some(0.40)),
    (2000.0, Some(0.50), Some(0.60)),
];

/// mL, ASTM class A, ISO class AS: tolerances in mL, recalled and not read in the documents.
const PIPETTES: [Row; 18] = [
    (0.5, Some(0.006), Some(0.005)),
    (1.0, Some(0.006), Some(0.008)),
    (2.0, Some(0.006), Some(0.010)),
    (3.0, Some(0.01), Some(0.015)),
    (4.0, Some(0.01), Some(0.015)),
    (5.0, Some(0.01), Some(0.015)),
    (6.0, Some(0.01), None),
    (7.0, Some(0.01), None),
    (8.0, Some(0.02), Some(0.020)),
    (9.0, Some(0.02), Some(0.020)),
    (10.0, Some(0.02), Some(0.020)),
    (15.0, Some(0.03), Some(0.025)),
    (20.0, Some(0.03), Some(0.030)),
    (25.0, Some(0.03), Some(0.030)),
    (30.0, Some(0.03), None),
    (40.0, Some(0.05), Some(0.050)),
    (50.0, Some(0.05), Some(0.050)),
    (100.0, Some(0.08), Some(0.080)),
];

/// The tolerance of a vessel of `nominal_ml` millilitres.
///
/// The figures are from memory (see the citation that comes with each): check them against the document, or better
/// against the certificate of the piece, before a claim rests on them. Sizes between those listed are not
/// interpolated, because editions differ on which neighbour sets their tolerance.
///
/// # Errors
/// A size that is not listed, with those that are; class B of an ISO table, which is not known here.
///
/// ```
/// use groundstate::glassware::{Class, Specification, Vessel, tolerance};
/// let flask = tolerance(Vessel::Flask, Specification::Iso, Class::A, 100.0)?;
/// assert_eq!(flask.half_width_ml.to_string(), "0.1");
/// assert!(tolerance(Vessel::Flask, Specification::Iso, Class::A, 110.0).is_err());
/// # Ok::<(), groundstate::Error>(())
/// ```
pub fn tolerance(
    vessel: Vessel,
    specification: Specification,
    class: Class,
    nominal_ml: f64,
) -> Result<Tolerance, Error> {
    let column = |row: &Row| match specification {
        Specification::Astm => row.1,
        Specification::Iso => row.2,
    };
    let found = rows(vessel).iter().find(|row| (row.0 - nominal_ml).abs() < 1e-9).and_then(column);
    let Some(class_a) = found else {
        let sizes: Vec<String> =
            rows(vessel).iter().filter(|row| column(row).is_some()).map(|row| row.0.to_string()).collect();
        let what = format!("no tolerance is listed for {nominal_ml} mL");
        return Err(Error::argument("nominal_ml", what).help(format!("listed sizes in mL: {}", sizes.join(", "))));
    };
    let half_width_ml = match (class, specification) {
        (Class::A, _) => class_a,
        (Class::B, Specification::Astm) => 2.0 * class_a,
        (Class::B, Specification::Iso) => {
            return Err(Error::argument("class", "the class B tolerances of the ISO tables are not known here")
                .help("give the tolerance of the certificate"));
        }
    };
    Ok(Tolerance { nominal_ml, half_width_ml, citation: citation(vessel, specification, nominal_ml) })
}

fn rows(vessel: Vessel) -> &'static [Row] {
    match vessel {
        Vessel::Flask => &FLASKS,
        Vessel::Pipette => &PIPETTES,
    }
}

fn citation(vessel: Vessel, specification: Specification, nominal_ml: f64) -> Citation {
    let document = match (vessel, specification) {
        (Vessel::Flask, Specification::Astm) if nominal_ml < 3.0 => "ASTM E237",
        (Vessel::Flask, Specification::Astm) => "ASTM E288",
        (Vessel::Flask, Specification::Iso) => "ISO 1042",
        (Vessel::Pipette, Specification::Astm) => "ASTM E969",
        (Vessel::Pipette, Specification::Iso) => "ISO 648",
    };
    Citation::unverified(document, "", "")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::CitationStatus;

    #[test]
    fn tolerances_are_positive_and_small_and_never_fall_with_size() {
        for vessel in [Vessel::Flask, Vessel::Pipette] {
            for specification in [Specification::Astm, Specification::Iso] {
                let mut last = 0.0;
                for (nominal, ..) in rows(vessel) {
                    let Ok(row) = tolerance(vessel, specification, Class::A, *nominal) else { continue };
                    assert!(row.half_width_ml >= last && row.half_width_ml < 0.03 * nominal, "{row:?}");
                    assert_eq!(row.citation.status, CitationStatus::Unverified);
                    last = row.half_width_ml;
                }
                assert!(last > 0.0);
            }
        }
    }

    /// Class B is twice class A (scopes of ASTM E288 and E694, restated).
    #[test]
    fn class_b_is_twice_class_a() {
        let of = |class| tolerance(Vessel::Flask, Specification::Astm, class, 100.0).unwrap().half_width_ml;
        assert!((of(Class::B) - 0.16).abs() < 1e-15);
        assert!(tolerance(Vessel::Flask, Specification::Iso, Class::B, 100.0).is_err());
    }

    #[test]
    fn odd_sizes_are_refused_with_the_listed_ones() {
        let error = tolerance(Vessel::Pipette, Specification::Iso, Class::A, 6.0).unwrap_err().to_string();
        assert!(error.contains("6 mL") && error.contains("0.5, 1, 2, 3, 4, 5, 8"), "{error}");
        assert!(tolerance(Vessel::Flask, Specification::Astm, Class::A, f64::NAN).is_err());
    }
}
