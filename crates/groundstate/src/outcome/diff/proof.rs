//! Which cause changes which figure, shown by changing one at a time.

use std::borrow::Cow;
use std::collections::HashSet;

use serde_json::Value;

use super::figures::{self, Key};
use super::{Cause, Reduce};
use crate::method::Method;
use crate::outcome::{Outcome, Provenance};
use crate::run::Run;

/// With more causes than this they are not tried one by one.
const MOST: usize = 256;

/// For every cause the figures that change when it alone is carried into the older input, or alone taken back out of
/// the newer; `None` where neither input can be reduced.
pub(super) fn effects(old: &Outcome, new: &Outcome, causes: &[Cause], reduce: Reduce) -> Vec<Option<HashSet<Key>>> {
    let (Some(before), Some(after)) = (here(old, reduce), here(new, reduce)) else { return vec![None; causes.len()] };
    if causes.len() > MOST {
        return vec![None; causes.len()];
    }
    let (older, newer) = (Input::of(&before), Input::of(&after));
    let one = |cause: &Cause| match cause {
        // What remains of the difference when both are reduced by one version is none of the library's.
        Cause::Library { .. } => {
            let both = figures::differing(old, &before).into_iter().chain(figures::differing(new, &after));
            Some(both.collect())
        }
        Cause::Fact { .. } => Some(HashSet::new()),
        _ => {
            let carried =
                older.with(cause, causes, &newer, reduce).map(|changed| figures::differing(&before, &changed));
            let taken = newer.with(cause, causes, &older, reduce).map(|changed| figures::differing(&after, &changed));
            match (carried, taken) {
                (None, None) => None,
                (one, other) => Some(one.into_iter().chain(other).flatten().collect()),
            }
        }
    };
    causes.iter().map(one).collect()
}

/// The outcome as this version of the library gives it; none where it does not reduce the input.
fn here(outcome: &Outcome, reduce: Reduce) -> Option<Cow<'_, Outcome>> {
    if outcome.provenance.library == Provenance::new().library {
        return Some(Cow::Borrowed(outcome));
    }
    reduce(&outcome.run, &outcome.method).ok().map(Cow::Owned)
}

/// Method and run as documents.
struct Input {
    method: Value,
    run: Value,
}

impl Input {
    fn of(outcome: &Outcome) -> Input {
        Input { method: outcome.method.to_document(), run: outcome.run.to_document() }
    }

    /// The outcome with one difference carried over from `other`; where it makes no sense alone (a noise model without
    /// its sigma), with those of the same table or position.
    fn with(&self, cause: &Cause, causes: &[Cause], other: &Input, reduce: Reduce) -> Option<Outcome> {
        let alone = self.carried(&[cause], other);
        alone.reduced(reduce).or_else(|| {
            let together: Vec<&Cause> = causes.iter().filter(|one| belong(one, cause)).collect();
            (together.len() > 1).then(|| self.carried(&together, other).reduced(reduce)).flatten()
        })
    }

    fn carried(&self, causes: &[&Cause], other: &Input) -> Input {
        let mut input = Input { method: self.method.clone(), run: self.run.clone() };
        for cause in causes {
            match cause {
                Cause::MethodKey { key, .. } => carry_key(&other.method, &mut input.method, key),
                Cause::Excluded { position, .. } | Cause::Readmitted { position } => {
                    let list = |document: &Value| document.pointer("/calibration/exclude").cloned();
                    let (theirs, ours) = (list(&other.method), list(&input.method));
                    if let Some(place) = input.method.pointer_mut("/calibration/exclude") {
                        *place = exchanged(ours, theirs, *position).into();
                    }
                }
                Cause::Input { position, member, .. } if member == "position" => {
                    let list = |document: &Value| document.get("positions").cloned();
                    let all = exchanged(list(&input.run), list(&other.run), *position);
                    input.run["positions"] = all.into();
                }
                Cause::Input { position, member, .. } => carry_member(&other.run, &mut input.run, *position, member),
                Cause::Library { .. } | Cause::Fact { .. } => {}
            }
        }
        input
    }

    fn reduced(&self, reduce: Reduce) -> Option<Outcome> {
        let method = Method::from_document(&self.method).ok()?;
        reduce(&Run::from_document(&self.run).ok()?, &method).ok()
    }
}

/// Whether two causes are of one table of the method, or of one position.
fn belong(one: &Cause, other: &Cause) -> bool {
    let table = |key: &str| key.rsplit_once('.').map_or(String::new(), |(table, _)| table.to_owned());
    match (one, other) {
        (Cause::MethodKey { key: a, .. }, Cause::MethodKey { key: b, .. }) => table(a) == table(b),
        (Cause::Input { position: a, .. }, Cause::Input { position: b, .. }) => a == b,
        _ => false,
    }
}

/// The value of a dotted key as the other document has it, or has not.
fn carry_key(from: &Value, into: &mut Value, key: &str) {
    let value = key.split('.').try_fold(from, |table, name| table.get(name)).cloned();
    let (path, name) = key.rsplit_once('.').map_or((None, key), |(path, name)| (Some(path), name));
    let mut table = into;
    for part in path.into_iter().flat_map(|path| path.split('.')) {
        let Some(members) = table.as_object_mut() else { return };
        table = members.entry(part).or_insert_with(|| Value::Object(serde_json::Map::new()));
    }
    set(table, name, value);
}

fn set(table: &mut Value, name: &str, value: Option<Value>) {
    let Some(members) = table.as_object_mut() else { return };
    match value {
        Some(value) => members.insert(name.to_owned(), value),
        None => members.remove(name),
    };
}

fn number(item: &Value) -> Option<u64> {
    item.get("position")?.as_u64()
}

/// `ours` with the items of one position exchanged for those of `theirs`, ascending.
fn exchanged(ours: Option<Value>, theirs: Option<Value>, position: u32) -> Vec<Value> {
    let items = |list: Option<Value>| list.and_then(|list| list.as_array().cloned()).unwrap_or_default();
    let of_it = |item: &Value| number(item) == Some(position.into());
    let mut all: Vec<Value> = items(ours).into_iter().filter(|item| !of_it(item)).collect();
    all.extend(items(theirs).into_iter().filter(of_it));
    all.sort_by_key(number);
    all
}

/// One member of one position. Readings go with their numbers and the count of those missing.
fn carry_member(from: &Value, into: &mut Value, position: u32, member: &str) {
    const TOGETHER: [&str; 3] = ["readings", "replicates", "missing"];
    let of_it = |item: &&Value| number(item) == Some(position.into());
    let Some(theirs) = from.get("positions").and_then(Value::as_array).and_then(|all| all.iter().find(of_it)) else {
        return;
    };
    let Some(all) = into.get_mut("positions").and_then(Value::as_array_mut) else { return };
    let Some(ours) = all.iter_mut().find(|item| number(item) == Some(position.into())) else { return };
    let members: &[&str] = if TOGETHER.contains(&member) { &TOGETHER } else { &[member] };
    for name in members {
        set(ours, name, theirs.get(name).cloned());
    }
}
