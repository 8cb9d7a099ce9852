//! A preparation applied to estimates: values multiplied, contributions added.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Preparation;
use super::terms::{Share, Term, Who};
use super::words::words;
use crate::curve::Hasher;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::{Contributions, Dof, Estimates, Key, SourceIx};
use crate::unit::{Dimension, Unit};

/// Whose preparation each row is: what unnamed sources are known by.
#[derive(Clone, Copy, Debug)]
pub struct Origin<'a> {
    /// The run.
    pub run: &'a Arc<str>,
    /// The position of each row in the run. Rows of one position share their preparation.
    pub positions: &'a [u32],
    /// The position where the portion of each row was first prepared, for re-runs of a digest: they share its mass,
    /// volumes and solids, while each has its own dilution. None: its own position.
    pub prepared_at: Option<&'a [u32]>,
}

/// Of how many portions a set of estimates is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Portions {
    /// All are of one portion and share its masses and volumes.
    #[default]
    One,
    /// Each is of a portion of its own that was prepared in the same way.
    Each,
}

words!(Portions, "portions": One = "one", Each = "each");

impl Preparation {
    /// Estimates of the solution turned into results of the sample, in `to` or else in
    /// [`Preparation::result_unit`].
    ///
    /// Each quantity of the preparation adds the contribution result times relative u, with the sign of its side of
    /// the fraction bar, so that a negative result keeps consistent signs and a result of zero has no such
    /// contribution. An unnamed quantity is a source of its position, a named one is shared by all who name it. A row
    /// without a value stays without one. Statuses stay: they say where the solution lay on its curve.
    ///
    /// # Errors
    /// Estimates that are not of a solution; `to` for a liquid where the sample is a solid, or the reverse; an origin
    /// of another length; one item with two different degrees of freedom; a result too large for a number.
    pub fn apply(&self, estimates: &Estimates, origin: Origin<'_>, to: Option<Unit>) -> Result<Estimates, Error> {
        let unit = self.unit_of(estimates.unit(), to)?;
        apply_rows(estimates, origin, unit, |_| self)
    }

    /// As [`Preparation::apply`], for estimates outside of a run: unnamed quantities are known by a key made from the
    /// figures of the estimates and of the preparation. [`Portions`] says which
    /// rows share them.
    ///
    /// # Errors
    /// As [`Preparation::apply`].
    pub fn apply_to(&self, estimates: &Estimates, portions: Portions, to: Option<Unit>) -> Result<Estimates, Error> {
        let mut hash = Hasher::new();
        hash.numbers(estimates.values());
        for source in estimates.contributions().sources() {
            hash.text(&source.key.to_string());
        }
        for term in self.terms() {
            hash.text(&format!("{}", term.part));
            hash.numbers(&[term.measured.value(), term.measured.u(), term.measured.dof().get()]);
        }
        let run: Arc<str> = format!("preparation:{:016x}", hash.finish()).into();
        let positions: Vec<u32> = match portions {
            Portions::One => vec![1; estimates.len()],
            Portions::Each => (1..=u32::MAX).take(estimates.len()).collect(),
        };
        self.apply(estimates, Origin { run: &run, positions: &positions, prepared_at: None }, to)
    }

    /// The unit of the result in `to`, or else the natural one.
    fn unit_of(&self, from: Unit, to: Option<Unit>) -> Result<(Unit, Unit), Error> {
        let natural = self.result_unit(from)?;
        let to = to.unwrap_or(natural);
        same_dimension("unit", self.dimension(), to)?;
        Ok((natural, to))
    }
}

/// Each row of `estimates` with a preparation of its own. All must be of one kind, solids or liquids.
///
/// # Errors
/// As [`Preparation::apply`]; another number of preparations than rows; solids among liquids.
pub fn apply_each(
    estimates: &Estimates,
    preparations: &[Preparation],
    origin: Origin<'_>,
    to: Option<Unit>,
) -> Result<Estimates, Error> {
    if preparations.len() != estimates.len() {
        let what = format!("{} preparations do not go with {} estimates", preparations.len(), estimates.len());
        return Err(Error::argument("preparations", what));
    }
    let none = Preparation::none();
    let first = preparations.first().unwrap_or(&none);
    if let Some(i) = preparations.iter().position(|other| other.dimension() != first.dimension()) {
        let what =
            format!("preparation {} is of a {}, the first is of a {}", i + 1, kind(&preparations[i]), kind(first));
        return Err(Error::argument("preparations", what).help("results of solids and of liquids have no common unit"));
    }
    let unit = first.unit_of(estimates.unit(), to)?;
    apply_rows(estimates, origin, unit, |row| preparations.get(row).unwrap_or(&none))
}

fn kind(preparation: &Preparation) -> &'static str {
    match preparation.dimension() {
        Dimension::MassPerMass => "solid",
        Dimension::MassPerVolume => "liquid",
    }
}

/// The clear word for a unit of the wrong kind.
pub(super) fn same_dimension(name: &str, wanted: Dimension, unit: Unit) -> Result<(), Error> {
    if unit.dimension() == wanted {
        return Ok(());
    }
    let (sample, example) = match wanted {
        Dimension::MassPerMass => ("a solid (a mass was weighed)", "for example mg/kg"),
        Dimension::MassPerVolume => ("a liquid (no mass was weighed)", "for example mg/L, or give mass_g"),
    };
    let what = format!("{unit} is not a unit for {sample}");
    Err(Error::new(Kind::Unit, Problem::new(Place::named(name), what).help(example)))
}

fn apply_rows<'p>(
    estimates: &Estimates,
    origin: Origin<'_>,
    (natural, unit): (Unit, Unit),
    preparation: impl Fn(usize) -> &'p Preparation,
) -> Result<Estimates, Error> {
    let rows = estimates.len();
    let lengths = [Some(origin.positions.len()), origin.prepared_at.map(<[u32]>::len)];
    if lengths.into_iter().flatten().any(|length| length != rows) {
        let what = format!("the positions do not go with {rows} estimates");
        return Err(Error::argument("origin", what).help("give one position a row"));
    }
    let mut table = Table::continuing(estimates.contributions());
    let mut values = Vec::with_capacity(rows);
    let mut contributions: Vec<(SourceIx, f64)> = Vec::new();
    for (row, (value, status)) in estimates.values().iter().zip(estimates.statuses()).enumerate() {
        let preparation = preparation(row);
        let multiplier = preparation.multiplier();
        let scaled = |x: f64| -> Result<f64, Error> {
            let product = x * multiplier;
            if x.is_finite() && !product.is_finite() {
                let what = format!("{x:e} times the multiplier {multiplier:e} is too large for a number");
                return Err(Error::argument("preparation", what));
            }
            natural.convert(product, unit)
        };
        let result = if status.has_value() { scaled(*value)? } else { f64::NAN };
        contributions.clear();
        for (source, c) in estimates.contributions().row(row) {
            contributions.push((source, scaled(c)?));
        }
        if status.has_value() {
            let position = origin.positions.get(row).copied().unwrap_or_default();
            let portion = origin.prepared_at.and_then(|at| at.get(row).copied()).unwrap_or(position);
            for term in preparation.terms() {
                let at = if term.who == Who::Portion { portion } else { position };
                for share in term.shares(origin.run, at) {
                    contributions.push((table.source(&share)?, result * share.relative));
                }
            }
        }
        table.contributions.push_row(contributions.drain(..));
        values.push(result);
    }
    Estimates::new(values, estimates.statuses().to_vec(), unit, table.contributions)
}

/// u and dof of a product of `terms` whose value is `value`.
pub(super) fn uncertainty(value: f64, terms: &[Term<'_>]) -> Result<(f64, Dof), Error> {
    let mut table = Table::default();
    table.push_product(value, terms, &Arc::from(""), [0, 0])?;
    Ok((table.contributions.u(0), table.contributions.dof(0)))
}

/// A table of contributions under construction, with its sources found by key.
#[derive(Default)]
pub(super) struct Table {
    pub contributions: Contributions,
    /// Made when the first source is asked for: most preparations have none.
    known: Option<BTreeMap<Key, SourceIx>>,
}

impl Table {
    /// The sources of `before`, with their indices, and none of its rows.
    fn continuing(before: &Contributions) -> Self {
        Table { contributions: before.select(&[]), known: None }
    }

    /// The source of a share, added if it is new.
    fn source(&mut self, share: &Share) -> Result<SourceIx, Error> {
        let known = self.known.get_or_insert_with(|| {
            let sources = self.contributions.sources().iter().zip(0..);
            sources.map(|(source, ix)| (source.key.clone(), SourceIx(ix))).collect()
        });
        if let Some(ix) = known.get(&share.key) {
            let rests_on = self.contributions.sources().get(ix.0 as usize).map(|source| source.variance);
            let dof = rests_on.and_then(|ix| self.contributions.variances().get(ix.0 as usize)).map(|found| found.dof);
            return if dof == Some(share.dof) { Ok(*ix) } else { Err(two_estimates(&share.key)) };
        }
        let variance = self.contributions.variance(share.variance.clone(), share.dof);
        let ix = self.contributions.source(share.key.clone(), share.kind, variance);
        known.insert(share.key.clone(), ix);
        Ok(ix)
    }

    /// Adds the row of a product of `terms`; the two positions are those of the measurement and of the portion.
    pub fn push_product(
        &mut self,
        value: f64,
        terms: &[Term<'_>],
        run: &Arc<str>,
        [position, portion]: [u32; 2],
    ) -> Result<(), Error> {
        let mut row = Vec::new();
        for term in terms {
            let at = if term.who == Who::Portion { portion } else { position };
            for share in term.shares(run, at) {
                row.push((self.source(&share)?, value * share.relative));
            }
        }
        self.contributions.push_row(row);
        Ok(())
    }
}

fn two_estimates(key: &Key) -> Error {
    Error::argument("preparation", format!("{key} is given with two different degrees of freedom"))
        .help("one item has one standard uncertainty; give another one its own name")
}
