//! Contributions of independent sources on the wire: the one place where uncertainty is stored.

use std::sync::Arc;

use crate::document::{DofForm, Real, Word, form, wrong};
use crate::error::Error;
use crate::estimate::{CalibrationId, Contributions, Key, Part, SourceIx, SourceKind};

form! {
    /// Signed contributions c = (d value / d source) u(source) of independent sources to every result, in the unit of
    /// the result. The combined standard uncertainty is the root of the sum of c squared, a covariance the sum of
    /// products over common sources.
    BudgetsForm {
        /// Variance estimates.
        variances: Vec<VarianceForm>,
        /// Independent sources.
        sources: Vec<SourceForm>,
        /// One row a result, in the order of the results.
        rows: Vec<RowForm>,
    }

    /// A variance estimate; contributions that rest on one are added before Welch-Satterthwaite joins them.
    VarianceForm {
        key: KeyForm,
        degrees_of_freedom: DofForm,
    }

    /// A source of uncertainty.
    SourceForm {
        key: KeyForm,
        kind: Word<SourceKind>,
        /// Index of its variance estimate, from 0.
        variance: u32,
        /// Index of a second estimate that its variance rests on too.
        second_variance: Option<u32>,
        /// The part of its variance on that second estimate; negative where scatter was taken off.
        second_part: Option<Real>,
    }

    /// The contributions to one result.
    RowForm {
        /// Indices of the sources, from 0, ascending.
        sources: Vec<u32>,
        contributions: Vec<Real>,
    }

    /// The identity of a source, made from content: the same key is the same quantity.
    KeyForm {
        /// calibration, zero, residual, within, stock, item, factor, position, named or known.
        of: String,
        /// Identity of the calibration.
        calibration: Option<String>,
        /// Name of the stock, item, factor or source; the run's where it belongs to a position.
        name: Option<String>,
        position: Option<u32>,
        /// What at the position, with its number counted from 1 after an underscore where it has one.
        part: Option<String>,
        /// Number of the independent part of a calibration, from 1.
        index: Option<u8>,
    }
}

impl BudgetsForm {
    pub fn of(table: &Contributions) -> Self {
        BudgetsForm {
            variances: (table.variances().iter())
                .map(|one| VarianceForm { key: KeyForm::of(&one.key), degrees_of_freedom: DofForm(one.dof) })
                .collect(),
            sources: (table.sources().iter())
                .map(|one| SourceForm {
                    key: KeyForm::of(&one.key),
                    kind: Word(one.kind),
                    variance: one.variance.0,
                    second_variance: one.second.map(|(second, _)| second.0),
                    second_part: one.second.map(|(_, part)| Real(part)),
                })
                .collect(),
            rows: (0..table.rows())
                .map(|row| {
                    let (sources, contributions) = table.row(row).map(|(ix, c)| (ix.0, Real(c))).unzip();
                    RowForm { sources, contributions }
                })
                .collect(),
        }
    }

    pub fn contributions(&self) -> Result<Contributions, Error> {
        let mut table = Contributions::default();
        let mut variances = Vec::with_capacity(self.variances.len());
        for (i, form) in self.variances.iter().enumerate() {
            let at = format!("budgets.variances[{i}].key");
            let ix = table.variance(form.key.key(&at)?, form.degrees_of_freedom.0);
            if ix.0 as usize != i {
                return Err(wrong(at, "the same variance estimate stands there twice"));
            }
            variances.push(ix);
        }
        for (i, form) in self.sources.iter().enumerate() {
            let find = |index: u32| {
                variances.get(index as usize).copied().ok_or_else(|| {
                    wrong(format!("budgets.sources[{i}].variance"), format!("there is no variance {index}"))
                })
            };
            let variance = find(form.variance)?;
            let source = table.source(form.key.key(&format!("budgets.sources[{i}].key"))?, form.kind.0, variance);
            if let (Some(second), Some(part)) = (form.second_variance, &form.second_part) {
                table.rests_also(source, find(second)?, part.0);
            }
        }
        for (i, row) in self.rows.iter().enumerate() {
            let known = row.sources.iter().all(|source| (*source as usize) < self.sources.len());
            if !known || row.sources.len() != row.contributions.len() || !row.sources.is_sorted_by(|a, b| a < b) {
                let what = "sources and contributions do not go together, or a source is unknown or out of order";
                return Err(wrong(format!("budgets.rows[{i}]"), what));
            }
            table.push_row(row.sources.iter().zip(&row.contributions).map(|(source, c)| (SourceIx(*source), c.0)));
        }
        Ok(table)
    }
}

impl KeyForm {
    fn of(key: &Key) -> Self {
        let none = |of: &str| KeyForm {
            of: of.to_owned(),
            calibration: None,
            name: None,
            position: None,
            part: None,
            index: None,
        };
        let of_calibration = |of: &str, id: &CalibrationId| KeyForm { calibration: Some(id.to_string()), ..none(of) };
        let called = |of: &str, name: &Arc<str>| KeyForm { name: Some(name.to_string()), ..none(of) };
        match key {
            Key::Calibration(id, index) => KeyForm { index: Some(*index), ..of_calibration("calibration", id) },
            Key::Zero(id) => of_calibration("zero", id),
            Key::Residual(id) => of_calibration("residual", id),
            Key::Within(id) => of_calibration("within", id),
            Key::Stock(name) => called("stock", name),
            Key::Item(name) => called("item", name),
            Key::Factor(name) => called("factor", name),
            Key::At(run, position, part) => {
                KeyForm { position: Some(*position), part: Some(part.to_string()), ..called("position", run) }
            }
            Key::Named(name) => called("named", name),
            Key::Known => none("known"),
        }
    }

    fn key(&self, at: &str) -> Result<Key, Error> {
        let key = || {
            let name = || self.name.as_deref().map(Arc::<str>::from);
            let id = || id(self.calibration.as_deref()?);
            Some(match self.of.as_str() {
                "calibration" => Key::Calibration(id()?, self.index?),
                "zero" => Key::Zero(id()?),
                "residual" => Key::Residual(id()?),
                "within" => Key::Within(id()?),
                "stock" => Key::Stock(name()?),
                "item" => Key::Item(name()?),
                "factor" => Key::Factor(name()?),
                "position" => Key::At(name()?, self.position?, part(self.part.as_deref()?)?),
                "named" => Key::Named(name()?),
                "known" => Key::Known,
                _ => return None,
            })
        };
        key().ok_or_else(|| {
            let of: String = self.of.chars().take(40).collect();
            wrong(at, format!("{of:?} is no key of a source, or a member that it needs is missing"))
        })
    }
}

/// The calibration's identity of sixteen hexadecimal digits.
pub(super) fn id(text: &str) -> Option<CalibrationId> {
    let digits = text.len() == 16 && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
    digits.then(|| u64::from_str_radix(text, 16).ok().map(CalibrationId)).flatten()
}

fn part(text: &str) -> Option<Part> {
    let plain = [
        Part::Reading,
        Part::Replicates,
        Part::Mass,
        Part::SampleVolume,
        Part::FinalVolume,
        Part::Solids,
        Part::Added,
        Part::AddedConcentration,
    ];
    if let Some(part) = plain.into_iter().find(|part| part.to_string() == text) {
        return Some(part);
    }
    let (name, number) = text.rsplit_once('_')?;
    let number: u8 = number.parse().ok()?;
    let numbered = [Part::Aliquot(number), Part::Flask(number), Part::Dilution(number), Part::Factor(number)];
    numbered.into_iter().find(|part| part.to_string() == format!("{name}_{number}"))
}
