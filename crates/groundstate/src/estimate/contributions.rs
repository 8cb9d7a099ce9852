//! Signed contributions of independent sources: the only place where uncertainty is stored.

use super::index::Index;
use super::{Dof, Key, Source, SourceIx, SourceKind, Variance, VarianceIx};
use crate::error::{Error, Kind, Place, Problem};

/// Sparse rows of signed contributions c = (d value / d source) u(source), one row an estimate, over one table of
/// mutually independent sources.
///
/// Everything else follows from them: u² = Σc², share = c²/u², cov(i, j) = Σ cᵢcⱼ over common sources, so every
/// covariance matrix is positive semi-definite by construction.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contributions {
    sources: Vec<Source>,
    variances: Vec<Variance>,
    ends: Vec<u32>,
    source: Vec<SourceIx>,
    value: Vec<f64>,
    known_sources: Index,
    known_variances: Index,
}

/// A square matrix, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Square {
    size: usize,
    values: Vec<f64>,
}

impl Square {
    /// The matrix of `size` rows whose element (i, j) is `of(i, j)`.
    pub fn from_fn(size: usize, mut of: impl FnMut(usize, usize) -> f64) -> Square {
        let mut values = Vec::with_capacity(size * size);
        for i in 0..size {
            values.extend((0..size).map(|j| of(i, j)));
        }
        Square { size, values }
    }

    /// Rows (and columns).
    pub fn size(&self) -> usize {
        self.size
    }

    /// Element of row `i`, column `j`; `None` outside.
    pub fn get(&self, i: usize, j: usize) -> Option<f64> {
        if i < self.size && j < self.size { self.values.get(i * self.size + j).copied() } else { None }
    }

    /// All elements, row after row.
    pub fn as_slice(&self) -> &[f64] {
        &self.values
    }
}

/// One line of an uncertainty budget: a source, or the block of sources of one calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetLine {
    /// Name of the source or block.
    pub source: String,
    /// What kind of thing it is.
    pub kind: SourceKind,
    /// Standard uncertainty that it contributes, in the unit of the value.
    pub u: f64,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
    /// Degrees of freedom of its variance estimate.
    pub dof: Dof,
}

impl Contributions {
    /// The most rows whose dense covariance matrix is computed.
    pub const MOST_DENSE: usize = 4_000;

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.ends.len()
    }

    /// The sources, in the order of their indices.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The source with this index.
    pub fn source_at(&self, ix: SourceIx) -> Option<&Source> {
        self.sources.get(ix.0 as usize)
    }

    /// The variance estimates, in the order of their indices.
    pub fn variances(&self) -> &[Variance] {
        &self.variances
    }

    /// The variance estimate known as `key`, added if it is new.
    pub fn variance(&mut self, key: Key, dof: Dof) -> VarianceIx {
        let known = self.known_variances.find(&key, &self.variances, |variance| &variance.key);
        VarianceIx(known.unwrap_or_else(|| {
            self.variances.push(Variance { key, dof });
            self.variances.len() - 1
        }) as u32)
    }

    /// The variance estimate of everything whose standard uncertainty is known.
    pub fn known(&mut self) -> VarianceIx {
        self.variance(Key::Known, Dof::INFINITE)
    }

    /// Adds a source that the caller knows to be new; [`Contributions::shared`] is for one that may be there.
    pub fn source(&mut self, key: Key, kind: SourceKind, variance: VarianceIx) -> SourceIx {
        self.sources.push(Source { key, kind, variance, second: None });
        SourceIx((self.sources.len() - 1) as u32)
    }

    /// Lets `part` of the variance of a source rest on a second variance estimate; the rest stays on its first.
    pub fn rests_also(&mut self, source: SourceIx, second: VarianceIx, part: f64) {
        if let Some(source) = self.sources.get_mut(source.0 as usize) {
            source.second = Some((second, part));
        }
    }

    /// The source known as `key`, added if it is new.
    pub fn shared(&mut self, key: Key, kind: SourceKind, variance: VarianceIx) -> SourceIx {
        match self.known_sources.find(&key, &self.sources, |source| &source.key) {
            Some(known) => SourceIx(known as u32),
            None => self.source(key, kind, variance),
        }
    }

    /// Adds a row. Contributions of the same source are added; zeros are dropped.
    pub fn push_row(&mut self, row: impl IntoIterator<Item = (SourceIx, f64)>) {
        let start = self.source.len();
        for (source, value) in row.into_iter().filter(|(_, value)| value.abs() > 0.0) {
            // Rows mostly come in order of their sources.
            if self.source[start..].last().is_none_or(|last| *last < source) {
                self.source.push(source);
                self.value.push(value);
                continue;
            }
            match self.source[start..].binary_search(&source) {
                Ok(at) => self.value[start + at] += value,
                Err(at) => {
                    self.source.insert(start + at, source);
                    self.value.insert(start + at, value);
                }
            }
        }
        self.ends.push(self.source.len() as u32);
    }

    /// The row's contributions, by source. Empty past the last row.
    pub fn row(&self, row: usize) -> impl Iterator<Item = (SourceIx, f64)> + '_ {
        let range = self.range(row);
        self.source[range.clone()].iter().copied().zip(self.value[range].iter().copied())
    }

    fn range(&self, row: usize) -> std::ops::Range<usize> {
        let end = self.ends.get(row).map_or(0, |end| *end as usize);
        let start = if end == 0 || row == 0 { 0 } else { self.ends[row - 1] as usize };
        start.min(end)..end
    }

    /// Combined standard uncertainty of a row (JCGM 100:2008 5.1.2, and 5.2.2 through shared sources).
    pub fn u(&self, row: usize) -> f64 {
        combined(&self.value[self.range(row)])
    }

    /// Effective degrees of freedom of a row: contributions on the same variance estimate are added first, then
    /// Welch-Satterthwaite joins the independent estimates (JCGM 100:2008 G.4.1).
    pub fn dof(&self, row: usize) -> Dof {
        // Few estimates go into a row; those beyond find their place behind.
        let (mut parts, mut used) = ([(VarianceIx(0), 0.0); 4], 0);
        let mut more: Vec<(VarianceIx, f64)> = Vec::new();
        let mut add = |variance: VarianceIx, square: f64| {
            let mut known = parts[..used].iter_mut().chain(&mut more);
            if let Some((_, sum)) = known.find(|(known, _)| *known == variance) {
                *sum += square;
            } else if let Some(free) = parts.get_mut(used) {
                *free = (variance, square);
                used += 1;
            } else {
                more.push((variance, square));
            }
        };
        for (source, c) in self.row(row) {
            let source = &self.sources[source.0 as usize];
            let part = source.second.map_or(0.0, |(_, part)| part);
            add(source.variance, c * c * (1.0 - part));
            if let Some((second, _)) = source.second {
                add(second, c * c * part);
            }
        }
        let parts = parts.into_iter().take(used).chain(more);
        Dof::effective(parts.map(|(variance, sum)| (sum, self.variances[variance.0 as usize].dof)))
    }

    /// Covariance of two rows through the sources they share.
    pub fn covariance(&self, i: usize, j: usize) -> f64 {
        let (mut left, mut right) = (self.range(i), self.range(j));
        let mut sum = 0.0;
        while !left.is_empty() && !right.is_empty() {
            match self.source[left.start].cmp(&self.source[right.start]) {
                std::cmp::Ordering::Less => left.start += 1,
                std::cmp::Ordering::Greater => right.start += 1,
                std::cmp::Ordering::Equal => {
                    sum += self.value[left.start] * self.value[right.start];
                    left.start += 1;
                    right.start += 1;
                }
            }
        }
        sum
    }

    /// The covariance matrix of all rows.
    ///
    /// # Errors
    /// More than [`Contributions::MOST_DENSE`] rows: ask for single covariances instead.
    pub fn covariance_matrix(&self) -> Result<Square, Error> {
        let size = self.rows();
        if size > Self::MOST_DENSE {
            let what =
                format!("a covariance matrix of {size} x {size} would be too large (at most {})", Self::MOST_DENSE);
            let problem =
                Problem::new(Place::named("covariance"), what).help("ask for the covariances of chosen pairs");
            return Err(Error::new(Kind::Limit, problem));
        }
        Ok(Square::from_fn(size, |i, j| if i <= j { self.covariance(i, j) } else { self.covariance(j, i) }))
    }

    /// The budget of a row, largest share first; a calibration's coefficients are one line.
    pub fn budget(&self, row: usize) -> Vec<BudgetLine> {
        let total = self.u(row) * self.u(row);
        let mut lines: Vec<(u64, BudgetLine)> = Vec::new();
        for (ix, c) in self.row(row) {
            let source = &self.sources[ix.0 as usize];
            let (block, name) = match source.key {
                Key::Calibration(id, _) => (id.0, format!("calibration:{id}")),
                _ => (u64::from(ix.0), source.key.to_string()),
            };
            match lines.iter_mut().find(|(known, line)| *known == block && line.source == name) {
                Some((_, line)) => line.share += c * c,
                None => {
                    let dof = self.variances[source.variance.0 as usize].dof;
                    lines.push((block, BudgetLine { source: name, kind: source.kind, u: 0.0, share: c * c, dof }));
                }
            }
        }
        let mut lines: Vec<BudgetLine> = lines.into_iter().map(|(_, line)| line).collect();
        for line in &mut lines {
            line.u = line.share.sqrt();
            line.share /= total;
        }
        lines.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.source.cmp(&b.source)));
        lines
    }

    /// The rows with these indices, in this order, over the same table of sources. A row past the end is empty.
    #[must_use]
    pub fn select(&self, rows: &[usize]) -> Contributions {
        Contributions { sources: self.sources.clone(), variances: self.variances.clone(), ..self.rows_of(rows) }
    }

    /// As [`Contributions::select`], of a table that nobody needs any longer.
    #[must_use]
    pub(crate) fn into_selected(self, rows: &[usize]) -> Contributions {
        let selected = self.rows_of(rows);
        Contributions { sources: self.sources, variances: self.variances, ..selected }
    }

    /// These rows without their sources.
    fn rows_of(&self, rows: &[usize]) -> Contributions {
        let mut selected = Contributions { ends: Vec::with_capacity(rows.len()), ..Contributions::default() };
        rows.iter().for_each(|row| selected.push_row(self.row(*row)));
        selected
    }

    /// The rows of all `parts`, one after the other, over one table: the same key is the same source.
    ///
    /// # Errors
    /// A variance estimate that two parts give different degrees of freedom.
    pub fn join(parts: &[&Contributions]) -> Result<Contributions, Error> {
        let mut joined = Contributions::default();
        for part in parts {
            let mut variances = Vec::with_capacity(part.variances.len());
            for variance in &part.variances {
                let ix = joined.variance(variance.key.clone(), variance.dof);
                if joined.variances[ix.0 as usize].dof != variance.dof {
                    let what =
                        format!("the variance estimate {} comes with two different degrees of freedom", variance.key);
                    return Err(Error::argument("estimates", what));
                }
                variances.push(ix);
            }
            let mut sources = Vec::with_capacity(part.sources.len());
            // Keys that ascend are all different, so that a first part needs no search for any of them; and where
            // parts go on from one table, a source mostly stands where it stood in the part before.
            let new = joined.sources.is_empty() && part.sources.is_sorted_by(|a, b| a.key < b.key);
            for (i, source) in part.sources.iter().enumerate() {
                let before = joined.sources.len();
                let on = variances[source.variance.0 as usize];
                let ix = match joined.sources.get(i) {
                    Some(there) if there.key == source.key => SourceIx(i as u32),
                    _ if new => joined.source(source.key.clone(), source.kind, on),
                    _ => joined.shared(source.key.clone(), source.kind, on),
                };
                if let Some((second, part)) = source.second.filter(|_| joined.sources.len() > before) {
                    joined.rests_also(ix, variances[second.0 as usize], part);
                }
                sources.push(ix);
            }
            for row in 0..part.rows() {
                joined.push_row(part.row(row).map(|(ix, c)| (sources[ix.0 as usize], c)));
            }
        }
        Ok(joined)
    }
}

/// Combined standard uncertainty of contributions of different sources.
pub(crate) fn combined(contributions: &[f64]) -> f64 {
    // From 0 on: the sum over nothing is -0 otherwise, and what is exact has the uncertainty 0.
    contributions.iter().fold(0.0, |sum, c| sum + c * c).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_results_of_one_stock() -> Contributions {
        let mut table = Contributions::default();
        let known = table.known();
        let scatter = table.variance(Key::Named("scatter".into()), Dof::count(5));
        let stock = table.shared(Key::Stock("A".into()), SourceKind::Stock, known);
        let first = table.source(Key::At("r".into(), 1, super::super::Part::Reading), SourceKind::Reading, scatter);
        let second = table.source(Key::At("r".into(), 2, super::super::Part::Reading), SourceKind::Reading, scatter);
        table.push_row([(stock, 3.0), (first, 4.0)]);
        table.push_row([(second, 1.0), (stock, 2.0), (second, 1.0)]);
        table
    }

    #[test]
    fn everything_follows_from_the_rows() {
        let table = two_results_of_one_stock();
        assert!((table.u(0) - 5.0).abs() < 1e-15);
        assert!((table.u(1) - 8.0_f64.sqrt()).abs() < 1e-15);
        assert!((table.covariance(0, 1) - 6.0).abs() < 1e-15);
        // (9 + 16)^2 / (16^2 / 5): the stock's u is known and adds nothing below.
        assert!((table.dof(0).get() - 625.0 / (256.0 / 5.0)).abs() < 1e-12);
        let budget = table.budget(0);
        assert_eq!(budget[0].source, "r/1:reading");
        assert!((budget.iter().map(|line| line.share).sum::<f64>() - 1.0).abs() < 1e-15);
    }

    #[test]
    fn what_is_exact_has_the_uncertainty_zero() {
        let mut table = two_results_of_one_stock();
        table.push_row([]);
        assert_eq!(table.u(2).to_bits(), 0.0_f64.to_bits());
    }

    #[test]
    fn finding_sources_takes_a_look_at_each_not_at_all_others() {
        const MANY: usize = 20_000;
        let mut table = Contributions::default();
        let key = |i: usize| Key::At("r".into(), i as u32, super::super::Part::Reading);
        for i in 0..MANY {
            let variance = table.variance(key(i), Dof::INFINITE);
            let source = table.shared(key(i), SourceKind::Reading, variance);
            assert_eq!((source.0 as usize, variance.0 as usize), (i, i));
            table.push_row([(source, 1.0)]);
        }
        for i in 0..MANY {
            let known = table.shared(key(i), SourceKind::Reading, VarianceIx(0));
            assert_eq!(known.0 as usize, i);
        }
        assert_eq!(table.sources().len(), MANY);
        // Three looks a question at most, beside the first few; a search through all would be 4e8 of them.
        assert!(table.known_sources.looked_at < 6 * MANY + 1_000, "{}", table.known_sources.looked_at);
        let joined = Contributions::join(&[&table, &table]).unwrap();
        assert_eq!((joined.rows(), joined.sources().len()), (2 * MANY, MANY));
        assert!(joined.known_sources.looked_at < 6 * MANY + 1_000);
        assert_eq!(joined, joined.clone());
    }

    #[test]
    fn joining_meets_the_same_sources() {
        let table = two_results_of_one_stock();
        let joined = Contributions::join(&[&table, &table]).unwrap();
        assert_eq!((joined.rows(), joined.sources().len()), (4, 3));
        assert!((joined.covariance(0, 2) - 25.0).abs() < 1e-14);
    }

    #[test]
    fn selected_rows_keep_their_sources() {
        let table = two_results_of_one_stock();
        let selected = table.select(&[1, 0, 1]);
        assert!((selected.covariance(0, 1) - 6.0).abs() < 1e-15);
        assert!((selected.covariance(0, 2) - 8.0).abs() < 1e-15);
        assert_eq!(selected.budget(1), table.budget(0));
    }

    #[test]
    fn rows_outside_are_empty() {
        let table = two_results_of_one_stock();
        assert_eq!(table.row(7).count(), 0);
        assert_eq!(Contributions::default().row(0).count(), 0);
    }
}
