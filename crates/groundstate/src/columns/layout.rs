//! What runs of one layout have in common: the same positions, roles, replicate numbers and true values, row by row.

use std::ops::Range;

use super::gather::{self, UNNUMBERED};
use super::rules::Rules;
use super::runs::Lent;
use super::solve::coverage_factor;
use crate::curve::{Alike, Calibration, PointKind, Points};
use crate::numeric::threads::{Work, widest};
use crate::run::Role;

/// A measured position.
pub(super) struct Place {
    pub number: u32,
    pub role: Role,
    /// Its role's code.
    pub code: u32,
    pub nominal: Option<f64>,
    pub rows: Range<usize>,
}

/// A stretch of the run: its calibration, and what is read by it.
pub(super) struct Stretch {
    pub alike: Alike,
    /// The rows that are fitted, in order of the points.
    pub fitted: Vec<usize>,
    pub places: Vec<Place>,
    /// Coverage factor of its intervals.
    pub factor: f64,
}

/// A layout, and what it decides.
pub(super) struct Layout {
    position: Vec<u32>,
    role: Vec<u32>,
    replicate: Option<Vec<u32>>,
    nominal: Option<Vec<f64>>,
    pub stretches: Vec<Stretch>,
    /// Numbers of the measured positions, and the codes of their roles.
    pub numbers: Vec<u32>,
    pub codes: Vec<u32>,
}

impl Layout {
    /// The layout of `rows`; none where its runs must be looked at one by one.
    pub fn of(rows: &Lent<'_>, roles: &[Role], rules: &Rules<'_>) -> Option<Layout> {
        if !rules.plain {
            return None;
        }
        let mut stretches: Vec<Stretch> = Vec::new();
        let (mut from, mut opening) = (0, Vec::new());
        while from < rows.position.len() {
            let number = rows.position[from];
            let group = from..from + rows.position[from..].iter().take_while(|other| **other == number).count();
            from = group.end;
            let place = place(rows, roles, number, group)?;
            if place.role.is_calibration() {
                opening.push(place);
                continue;
            }
            if opening.iter().any(|place: &Place| place.role == Role::Standard) {
                stretches.push(stretch(rows, &opening, rules)?);
            }
            opening.clear();
            let stretch = stretches.last_mut()?;
            if !stretch.alike.serves(place.rows.len()) {
                return None;
            }
            stretch.places.push(place);
        }
        // A calibration that nothing is read by may still fail; a run without one does.
        if stretches.is_empty() || opening.iter().any(|place| place.role == Role::Standard) {
            return None;
        }
        Some(Layout {
            position: rows.position.to_vec(),
            role: rows.role.to_vec(),
            replicate: rows.replicate.map(<[u32]>::to_vec),
            nominal: rows.nominal.map(<[f64]>::to_vec),
            numbers: stretches.iter().flat_map(|one| &one.places).map(|place| place.number).collect(),
            codes: stretches.iter().flat_map(|one| &one.places).map(|place| place.code).collect(),
            stretches,
        })
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.position.len()
    }

    /// The measured positions, and where they belong.
    pub fn places(&self) -> impl Iterator<Item = (&Place, &Stretch)> {
        self.stretches.iter().flat_map(|stretch| stretch.places.iter().map(move |place| (place, stretch)))
    }

    /// Whether `rows` are laid out so.
    pub fn fits(&self, rows: &Lent<'_>) -> bool {
        let nominal = match (&self.nominal, rows.nominal) {
            (Some(ours), Some(theirs)) => ours.len() == theirs.len() && widest(SameBits(ours, theirs)),
            (ours, theirs) => ours.is_none() && theirs.is_none(),
        };
        nominal
            && self.position == rows.position
            && self.role == rows.role
            && self.replicate.as_deref() == rows.replicate
    }
}

/// Whether figures are the same, bit by bit.
struct SameBits<'b>(&'b [f64], &'b [f64]);

impl Work for SameBits<'_> {
    type Output = bool;

    #[inline(always)]
    fn done(self) -> bool {
        // Without a branch a row, so that it goes at the pace of memory.
        let differ = self.0.iter().zip(self.1).fold(0, |differ, (a, b)| differ | (a.to_bits() ^ b.to_bits()));
        differ == 0
    }
}

/// A position in which nothing is wrong or missing but, perhaps, its readings and its dilution.
fn place(rows: &Lent<'_>, roles: &[Role], number: u32, group: Range<usize>) -> Option<Place> {
    let code = *rows.role.get(group.start)?;
    let role = *roles.get(code as usize)?;
    let numbered = rows.replicate.is_none_or(|column| {
        let numbers = &column[group.clone()];
        numbers.iter().all(|number| *number == UNNUMBERED)
            || (numbers.windows(2).all(|pair| pair[0] < pair[1]) && !numbers.contains(&UNNUMBERED))
    });
    let agreed = rows.nominal.is_none_or(|column| {
        let figures = &column[group.clone()];
        figures.iter().all(|figure| figure.to_bits() == figures[0].to_bits())
    });
    let uniform = role != Role::Addition && rows.role[group.clone()].iter().all(|other| *other == code);
    if !(numbered && agreed && uniform) {
        return None;
    }
    let nominal = rows.nominal.map(|column| column[group.start] + 0.0).filter(|figure| !figure.is_nan());
    let mut problems = Vec::new();
    let nominal = gather::checked(role, nominal, 0, &mut problems);
    problems.is_empty().then_some(Place { number, role, code, nominal, rows: group })
}

/// The stretch that the calibration positions `opening` open.
fn stretch(rows: &Lent<'_>, opening: &[Place], rules: &Rules<'_>) -> Option<Stretch> {
    let calibration = &rules.method.calibration;
    let excluded = |place: &Place| calibration.exclude.iter().any(|one| one.position == place.number);
    let used: Vec<&Place> = opening.iter().filter(|place| !excluded(place)).collect();
    let content = |place: &Place| place.nominal.unwrap_or(f64::NAN);
    let readings = |place: &Place| &rows.absorbance[place.rows.clone()];
    let points = match calibration.points {
        PointKind::Standards => {
            let x: Vec<f64> = used.iter().map(|place| content(place)).collect();
            Points::from_standards(&x, &used.iter().map(|place| readings(place)).collect::<Vec<_>>())
        }
        PointKind::Readings => {
            let each = used.iter().flat_map(|place| readings(place).iter().map(|y| (content(place), *y)));
            let (x, y): (Vec<f64>, Vec<f64>) = each.unzip();
            Points::from_readings(&x, &y)
        }
    };
    let fitted = Calibration::fit(&points.ok()?, &rules.fit).ok()?;
    let alike = Alike::of(&fitted).filter(|alike| rules.judges_by_determination(alike))?;
    // A level at zero may have been left out.
    let all: usize = used.iter().map(|place| place.rows.len()).sum();
    let left_out = alike.readings().sum::<usize>() < all;
    let kept = used.iter().filter(|place| !left_out || content(place) > 0.0);
    let fitted: Vec<usize> = kept.flat_map(|place| place.rows.clone()).collect();
    let factor = coverage_factor(&rules.method.reporting, alike.dof);
    (fitted.len() == alike.readings().sum::<usize>()).then_some(Stretch { alike, fitted, places: Vec::new(), factor })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::ColumnOptions;
    use crate::columns::runs::Rows;
    use crate::criteria::ProfileName;
    use crate::method::{Method, ReadingScatter};

    const ROLES: [Role; 2] = [Role::Standard, Role::Sample];

    fn rows(absorbance: &[f64]) -> Lent<'_> {
        Lent {
            run: 0,
            position: &[1, 1, 2, 2, 3, 3, 4, 4],
            role: &[0, 0, 0, 0, 0, 0, 1, 1],
            replicate: None,
            absorbance,
            nominal: Some(&[0.0, 0.0, 1.0, 1.0, 2.0, 2.0, f64::NAN, f64::NAN]),
            dilution: None,
            rows: Rows::From(0),
        }
    }

    #[test]
    fn an_ordinary_run_has_a_layout_and_others_fit_it() {
        let method = Method::new("Zn", ProfileName::General).unwrap();
        let rules = Rules::new(&method, &ColumnOptions::default()).unwrap();
        let (first, other) = ([0.0, 0.01, 0.2, 0.21, 0.4, 0.41, 0.3, 0.3], [0.5; 8]);
        let layout = Layout::of(&rows(&first), &ROLES, &rules).unwrap();
        assert_eq!((layout.numbers.as_slice(), layout.codes.as_slice()), ([4].as_slice(), [1].as_slice()));
        assert_eq!(layout.stretches[0].fitted, [0, 1, 2, 3, 4, 5]);
        assert!(layout.fits(&rows(&other)));
        let moved = Lent { nominal: Some(&[0.0, 0.0, 1.0, 1.0, 2.5, 2.5, f64::NAN, f64::NAN]), ..rows(&other) };
        assert!(!layout.fits(&moved));
        let numbered = Lent { replicate: Some(&[1, 2, 1, 2, 1, 2, 1, 2]), ..rows(&other) };
        assert!(!layout.fits(&numbered));
    }

    #[test]
    fn what_needs_a_look_at_each_run_has_none() {
        let mut method = Method::new("Zn", ProfileName::General).unwrap();
        method.calibration.reading_scatter = ReadingScatter::Own;
        let rules = Rules::new(&method, &ColumnOptions::default()).unwrap();
        assert!(Layout::of(&rows(&[0.0, 0.01, 0.2, 0.21, 0.4, 0.41, 0.3, 0.3]), &ROLES, &rules).is_none());
    }
}
