//! What differs in library, method and run.

use std::collections::BTreeMap;
use std::fmt;

use serde_json::Value;

use super::Scope;
use super::figures::Depth;
use crate::outcome::Outcome;

/// A difference of library, method or run.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Cause {
    /// Another version of the library.
    Library {
        /// Version before.
        old: String,
        /// Version now.
        new: String,
    },
    /// A key of the method, by its dotted name, with its values as JSON.
    MethodKey {
        /// Dotted name.
        key: String,
        /// Value before; none where the key was not there.
        old: Option<String>,
        /// Value now; none where the key is not there.
        new: Option<String>,
    },
    /// A position is now left out of the calibration.
    Excluded {
        /// The position.
        position: u32,
        /// Who decided.
        who: String,
        /// Why.
        reason: String,
    },
    /// A position is no longer left out of the calibration.
    Readmitted {
        /// The position.
        position: u32,
    },
    /// A member of a position of the run, with its values as JSON; `position` where the whole position is new or gone.
    Input {
        /// The position.
        position: u32,
        /// The member, as a column of the table is called.
        member: String,
        /// Value before; none where it was not there.
        old: Option<String>,
        /// Value now; none where it is not there.
        new: Option<String>,
    },
    /// The run's name or a fact of the whole run.
    Fact {
        /// Name of the fact.
        name: String,
        /// Value before.
        old: Option<String>,
        /// Value now.
        new: Option<String>,
    },
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".to_owned());
        match self {
            Cause::Library { old, new } => write!(f, "library: was version {old}, is {new}"),
            Cause::MethodKey { key, old, new } => write!(f, "method {key}: was {}, is {}", shown(old), shown(new)),
            Cause::Excluded { position, who, reason } => write!(f, "position {position} left out by {who}: {reason}"),
            Cause::Readmitted { position } => write!(f, "position {position} no longer left out"),
            Cause::Input { position, member, old, new } => {
                write!(f, "position {position}, {member}: was {}, is {}", shown(old), shown(new))
            }
            Cause::Fact { name, old, new } => write!(f, "run, {name}: was {}, is {}", shown(old), shown(new)),
        }
    }
}

impl Cause {
    /// Whether it can have made a change of `scope`.
    pub(super) fn reaches(&self, scope: &Scope) -> bool {
        let within = |position: &u32| scope.positions.as_ref().is_none_or(|all| all.contains(position));
        match self {
            Cause::Library { .. } => true,
            Cause::MethodKey { key, .. } => {
                let section = key.split('.').next().unwrap_or_default();
                let judges = matches!(section, "limits" | "criteria" | "qualifiers" | "reporting" | "profile");
                // Values follow from calibration and preparation; the unit they are given in from the style.
                let unit = matches!(key.as_str(), "reporting.liquid_unit" | "reporting.solid_unit");
                let named = matches!(key.as_str(), "id" | "version" | "approved_by" | "effective_from");
                !named && (scope.depth == Depth::Judgement || !judges || unit)
            }
            Cause::Excluded { position, .. } | Cause::Readmitted { position } | Cause::Input { position, .. } => {
                within(position)
            }
            Cause::Fact { .. } => false,
        }
    }
}

/// Every difference of library, method and run.
pub(super) fn all(old: &Outcome, new: &Outcome) -> Vec<Cause> {
    let mut causes = Vec::new();
    let library = (&old.provenance.library, &new.provenance.library);
    if library.0 != library.1 {
        causes.push(Cause::Library { old: library.0.clone(), new: library.1.clone() });
    }
    exclusions(old, new, &mut causes);
    let (mut before, mut after) = (BTreeMap::new(), BTreeMap::new());
    flatten(&old.method.to_document(), "", &mut before);
    flatten(&new.method.to_document(), "", &mut after);
    for (key, old, new) in changed(&before, &after) {
        if key != "calibration.exclude" {
            causes.push(Cause::MethodKey { key, old, new });
        }
    }
    run(old, new, &mut causes);
    causes
}

fn exclusions(old: &Outcome, new: &Outcome, causes: &mut Vec<Cause>) {
    let (before, after) = (&old.method.calibration.exclude, &new.method.calibration.exclude);
    for one in after.iter().filter(|one| !before.contains(one)) {
        let (who, reason) = (one.who.to_string(), one.reason.to_string());
        causes.push(Cause::Excluded { position: one.position, who, reason });
    }
    for one in before.iter().filter(|one| !after.iter().any(|other| other.position == one.position)) {
        causes.push(Cause::Readmitted { position: one.position });
    }
}

fn run(old: &Outcome, new: &Outcome, causes: &mut Vec<Cause>) {
    let facts = |outcome: &Outcome| -> BTreeMap<String, String> {
        let run = &outcome.run;
        let own = [("run", run.name.to_string()), ("position_rule", run.position_rule.name().to_owned())];
        let facts = run.facts.iter().map(|(name, value)| (name.to_string(), value.to_string()));
        own.into_iter().map(|(name, value)| (name.to_owned(), value)).chain(facts).collect()
    };
    for (name, old, new) in changed(&facts(old), &facts(new)) {
        causes.push(Cause::Fact { name, old, new });
    }
    let (before, after) = (positions(old), positions(new));
    let numbers: std::collections::BTreeSet<u32> = before.keys().chain(after.keys()).copied().collect();
    for position in numbers {
        match (before.get(&position), after.get(&position)) {
            (Some(old), Some(new)) => {
                causes.extend(changed(old, new).into_iter().map(|(member, old, new)| Cause::Input {
                    position,
                    member,
                    old,
                    new,
                }));
            }
            (old, new) => {
                let label = |members: Option<&BTreeMap<String, String>>| members.and_then(|m| m.get("label").cloned());
                let member = "position".to_owned();
                causes.push(Cause::Input { position, member, old: label(old), new: label(new) });
            }
        }
    }
}

/// The members of every position, by number.
fn positions(outcome: &Outcome) -> BTreeMap<u32, BTreeMap<String, String>> {
    let document = outcome.run.to_document();
    let forms = document.get("positions").and_then(Value::as_array).cloned().unwrap_or_default();
    let members = |form: &Value| {
        let members = form.as_object().cloned().unwrap_or_default();
        members.into_iter().map(|(name, value)| (name, value.to_string())).collect()
    };
    (outcome.run.positions.iter().zip(&forms)).map(|(position, form)| (position.number, members(form))).collect()
}

/// Keys whose values differ, with both.
fn changed(
    old: &BTreeMap<String, String>,
    new: &BTreeMap<String, String>,
) -> Vec<(String, Option<String>, Option<String>)> {
    let keys: std::collections::BTreeSet<&String> = old.keys().chain(new.keys()).collect();
    let both = keys.into_iter().map(|key| (key.clone(), old.get(key).cloned(), new.get(key).cloned()));
    both.filter(|(_, old, new)| old != new).collect()
}

/// Dotted keys with their values as JSON.
fn flatten(value: &Value, prefix: &str, into: &mut BTreeMap<String, String>) {
    match value {
        Value::Object(members) => {
            for (name, value) in members {
                let key = if prefix.is_empty() { name.clone() } else { format!("{prefix}.{name}") };
                flatten(value, &key, into);
            }
        }
        other => {
            into.insert(prefix.to_owned(), other.to_string());
        }
    }
}
