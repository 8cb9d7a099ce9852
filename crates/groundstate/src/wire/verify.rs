//! Whether an archive is what its own input gives.

use serde_json::{Number, Value};

use super::read;
use super::v1::OutcomeForm;
use crate::document::{canonical, value_of};
use crate::error::Error;
use crate::outcome::{MethodDigests, Provenance};
use crate::reduce::reduce;

/// What a second reduction of an archive's input says.
#[derive(Clone, Debug, PartialEq)]
pub struct Verification {
    /// Version of the library that wrote the archive.
    pub written_by: String,
    /// Version of the library that reduced its input again.
    pub verified_by: String,
    /// The first member that differs, in the order of the document; none where all are the same.
    pub first: Option<Deviation>,
    /// How many members differ.
    pub count: usize,
}

impl Verification {
    /// Whether nothing differs: bit for bit where the same version wrote the archive; otherwise numbers to a relative
    /// 1e-12 and everything else exactly.
    pub const fn is_identical(&self) -> bool {
        self.count == 0
    }
}

impl std::fmt::Display for Verification {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Some(first) = &self.first else {
            return match self.written_by == self.verified_by {
                true => f.write_str("identical"),
                false => write!(
                    f,
                    "the same (written by version {}, verified by version {}: numbers to 1e-12)",
                    self.written_by, self.verified_by
                ),
            };
        };
        let members = if self.count == 1 { "member differs" } else { "members differ" };
        write!(f, "{} {members}; the first is {first}", self.count)
    }
}

/// A member of a document that differs.
#[derive(Clone, Debug, PartialEq)]
pub struct Deviation {
    /// Path of the member, such as `results[3].result.value`.
    pub path: String,
    /// What the archive says, as JSON; none where it has no such member.
    pub stored: Option<String>,
    /// What its input gives, as JSON; none where that has no such member.
    pub recomputed: Option<String>,
}

impl std::fmt::Display for Deviation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let shown = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".to_owned());
        write!(f, "{}: stored {}, recomputed {}", self.path, shown(&self.stored), shown(&self.recomputed))
    }
}

/// Reduces the input of an archived outcome again and compares every member.
///
/// ```no_run
/// # fn read(_: &str) -> String { String::new() }
/// let verification = groundstate::wire::verify(&read("OUT.json"))?;
/// assert!(verification.is_identical(), "{verification}");
/// # Ok::<(), groundstate::Error>(())
/// ```
///
/// # Errors
/// As [`Outcome::from_json`](crate::outcome::Outcome::from_json); an input that cannot be reduced.
pub fn verify(text: &str) -> Result<Verification, Error> {
    let stored = read(text)?;
    let (method, run) = (stored.method()?, stored.run()?);
    let mut recomputed = reduce(&run, &method)?;
    let (written_by, verified_by) = (stored.library.clone(), recomputed.provenance.library);
    let told = stored.provenance.provenance(&written_by);
    recomputed.provenance = Provenance {
        library: written_by.clone(),
        // What the caller said of the outcome is no part of the reduction.
        raw: told.raw,
        amends: told.amends,
        // A newer version states defaults that an older archive knows nothing of, so its own words are hashed.
        ..Provenance::of(&MethodDigests::of(&stored.method), &canonical(&value_of(&stored.run)))
    };
    let mut recomputed = recomputed.to_form();
    recomputed.schema.clone_from(&stored.schema);
    recomputed.method.clone_from(&stored.method);
    // Archives from before series and comparisons stood in them say nothing of them; their results are compared.
    if stored.additions.is_none() {
        recomputed.additions = None;
    }
    let mut comparison = Comparison { exact: written_by == verified_by, first: None, count: 0 };
    let (stored, recomputed) = (value_of(&stored), value_of(&recomputed));
    for name in OutcomeForm::MEMBERS {
        comparison.member(stored.get(name), recomputed.get(name), name);
    }
    Ok(Verification { written_by, verified_by, first: comparison.first, count: comparison.count })
}

struct Comparison {
    exact: bool,
    first: Option<Deviation>,
    count: usize,
}

impl Comparison {
    fn compare(&mut self, stored: &Value, recomputed: &Value, path: &str) {
        match (stored, recomputed) {
            (Value::Object(a), Value::Object(b)) => {
                let mut names: Vec<&String> = a.keys().chain(b.keys().filter(|name| !a.contains_key(*name))).collect();
                names.sort_unstable();
                for name in names {
                    self.member(a.get(name), b.get(name), &format!("{path}.{name}"));
                }
            }
            (Value::Array(a), Value::Array(b)) => {
                for i in 0..a.len().max(b.len()) {
                    self.member(a.get(i), b.get(i), &format!("{path}[{i}]"));
                }
            }
            (Value::Number(a), Value::Number(b)) if self.same(a, b) => {}
            _ if stored == recomputed => {}
            _ => self.differ(Some(stored), Some(recomputed), path),
        }
    }

    fn member(&mut self, stored: Option<&Value>, recomputed: Option<&Value>, path: &str) {
        match (stored, recomputed) {
            (Some(a), Some(b)) => self.compare(a, b, path),
            (None, None) => {}
            (a, b) => self.differ(a, b, path),
        }
    }

    fn differ(&mut self, stored: Option<&Value>, recomputed: Option<&Value>, path: &str) {
        self.count += 1;
        let (stored, recomputed) = (stored.map(Value::to_string), recomputed.map(Value::to_string));
        self.first.get_or_insert_with(|| Deviation { path: path.to_owned(), stored, recomputed });
    }

    fn same(&self, a: &Number, b: &Number) -> bool {
        let (Some(x), Some(y)) = (a.as_f64(), b.as_f64()) else { return a == b };
        if self.exact {
            return x.to_bits() == y.to_bits();
        }
        (x - y).abs() <= 1e-12 * x.abs().max(y.abs())
    }
}
