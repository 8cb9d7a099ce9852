//! What runs of one layout have in common: the same positions, roles, replicate numbers and true values, row by row.

use std::ops::Range;

use super::gather::{self, UNNUMBERED};
use super::rules::Rules;
use super::runs::Lent;
use super::solve::coverage_factor;
use crate::curve::{Alike, Calibration, PointKind, Points};
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
        // Without a branch a row, so that it goes at the pace of memory.
        let same = |ours: &[f64], theirs: &[f64]| {
            let pairs = ours.iter().zip(theirs);
            ours.len() == theirs.len() && pairs.fold(true, |same, (a, b)| same & (a.to_bits() == b.to_bits()))
        };
        let nominal = match (&self.nominal, rows.nominal) {
            (Some(ours), Some(theirs)) => same(ours, theirs),
            (ours, theirs) => ours.is_none() && theirs.is_none(),
        };
        nominal
            && self.position == rows.position
            && self.role == rows.role
            && self.replicate.as_deref() == rows.replicate
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
