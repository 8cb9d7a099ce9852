//! A method as a list of keys and values, in the order in which a file has them.

use serde_json::{Map, Value, json};

use super::Explicit;
use crate::criteria::CriterionValue;
use crate::curve::{Noise, ReplicateModel, Zero, Zeroing};
use crate::method::{ActionLimit, DecisionRule, Limit, Method, NondetectAt};
use crate::rounding::Rounding;

/// Dotted keys with values: texts, numbers, and lists of them or of tables.
#[derive(Default)]
pub(super) struct Entries(Vec<(String, Value)>);

impl Entries {
    /// Everything the method states or leaves at the default.
    pub fn of(method: &Method) -> Entries {
        let mut entries = Entries::default();
        entries.head(method);
        entries.calibration(method);
        entries.preparation(method);
        entries.limits(method);
        entries.reporting(method);
        for (what, mark) in method.qualifiers.iter() {
            let section = format!("qualifiers.{what}");
            // A mark without letters states so, because the default may have some.
            entries.put(&section, "letters", mark.letters.as_deref().unwrap_or(""));
            entries.put(&section, "words", &*mark.words);
        }
        for criterion in method.criteria.iter() {
            let value = match &criterion.value {
                CriterionValue::Off => json!("off"),
                CriterionValue::Number(number) => json!(number),
                CriterionValue::Word(word) => json!(word),
            };
            entries.put(&format!("criteria.{}", criterion.check), criterion.key, value);
        }
        entries
    }

    fn put(&mut self, section: &str, key: &str, value: impl Into<Value>) {
        let key = if section.is_empty() { key.to_owned() } else { format!("{section}.{key}") };
        self.0.push((key, value.into()));
    }

    fn put_some<T: Into<Value>>(&mut self, section: &str, key: &str, value: Option<T>) {
        if let Some(value) = value {
            self.put(section, key, value);
        }
    }

    fn head(&mut self, method: &Method) {
        self.put("", "id", &*method.id);
        self.put("", "version", &*method.version);
        self.put_some("", "approved_by", method.approved_by.as_deref());
        self.put_some("", "effective_from", method.effective_from.map(|date| date.to_string()));
        self.put("", "element", method.element.symbol());
        self.put_some("", "line_nm", method.line_nm);
        self.put("", "signal_kind", method.signal_kind.name());
        self.put("", "profile", method.profile().name());
        self.put("", "missing", method.missing.name());
        self.put("", "aliases", method.aliases.name());
    }

    fn calibration(&mut self, method: &Method) {
        let (rules, section) = (&method.calibration, "calibration");
        self.put(section, "shape", rules.shape.name());
        self.put(section, "noise", rules.noise.name());
        match &rules.noise {
            Noise::KnownSigma(sigmas) | Noise::RelativeSigma(sigmas) => match sigmas.as_slice() {
                [one] => self.put(section, "sigma", *one),
                several => self.put(section, "sigma", several.to_vec()),
            },
            Noise::FromReplicates(ReplicateModel::PerLevel { at_least }) => self.put(section, "at_least", *at_least),
            _ => {}
        }
        self.put(section, "points", rules.points.name());
        let (zero, floor) = match rules.zero {
            Zero::Include => ("include", None),
            Zero::LeaveOut => ("leave_out", None),
            Zero::Floor(floor) => ("floor", Some(floor)),
        };
        self.put(section, "zero", zero);
        self.put_some(section, "zero_floor", floor);
        let (zeroing, u) = match rules.zeroing {
            Zeroing::Raw => ("raw", None),
            Zeroing::BlankSubtracted(u) => ("blank_subtracted", Some(u)),
            Zeroing::Autozeroed(u) => ("autozeroed", Some(u)),
        };
        self.put(section, "zeroing", zeroing);
        self.put_some(section, "zero_u", u);
        self.put(section, "unit", rules.unit.name());
        self.put_some(section, "resolution", rules.resolution);
        self.put(section, "reading_scatter", rules.reading_scatter.name());
        self.put(section, "outliers", rules.outliers.name());
        self.put(section, "outlier_alpha", rules.outlier_alpha);
        let exclude = |one: &crate::method::Exclusion| json!({"position": one.position, "reason": &*one.reason, "who": &*one.who, "when": &*one.when});
        self.put(section, "exclude", rules.exclude.iter().map(exclude).collect::<Vec<_>>());
        let matched = |one: &crate::method::MatchedStandards| json!({"matrix": &*one.matrix, "standards": one.standards.iter().map(|id| &**id).collect::<Vec<&str>>()});
        self.put(section, "matched", rules.matched.iter().map(matched).collect::<Vec<_>>());
        self.put(section, "variance", rules.variance.name());
        if let Some(stock) = &rules.stock {
            self.put("calibration.stock", "name", &*stock.name);
            self.put("calibration.stock", "relative_u", stock.relative_u);
        }
    }

    fn preparation(&mut self, method: &Method) {
        let (rules, section) = (&method.preparation, "preparation");
        self.put_some(section, "weighed", rules.weighed.map(|weighed| weighed.name()));
        self.put_some(section, "report", rules.report.map(|report| report.name()));
        self.put_some(section, "final_volume_ml", rules.final_volume_ml);
        let extra: Vec<Value> = rules
            .extra
            .iter()
            .map(|factor| json!({"name": &*factor.name, "value": factor.value, "u": factor.u}))
            .collect();
        self.put(section, "extra", extra);
        let (u, items) = (&rules.u, &rules.items);
        self.put_some("preparation.u", "mass_g", u.mass_g);
        self.put_some("preparation.u", "volume", u.volume);
        self.put_some("preparation.u", "final_volume", u.final_volume);
        self.put_some("preparation.u", "dilution", u.dilution);
        self.put_some("preparation.u", "percent_solids", u.percent_solids);
        self.put_some("preparation.items", "mass", items.mass.as_deref());
        self.put_some("preparation.items", "volume", items.volume.as_deref());
        self.put_some("preparation.items", "final_volume", items.final_volume.as_deref());
        self.put_some("preparation.items", "dilution", items.dilution.as_deref());
        self.put_some("preparation.items", "percent_solids", items.percent_solids.as_deref());
        for (name, portion, nominal) in
            [("nominal_liquid", "volume_ml", rules.nominal_liquid), ("nominal_solid", "mass_g", rules.nominal_solid)]
        {
            let section = format!("preparation.{name}");
            self.put_some(&section, portion, nominal.map(|nominal| nominal.portion));
            self.put_some(&section, "final_volume_ml", nominal.map(|nominal| nominal.final_volume_ml));
        }
    }

    fn limits(&mut self, method: &Method) {
        let (limits, section) = (&method.limits, "limits");
        self.put(section, "nondetect_at", limits.nondetect_at.map_or(super::read::NEVER, NondetectAt::name));
        self.put(section, "floor", limits.floor.name());
        let limit = |limit: &Limit| {
            let mut table = json!({
                "value": limit.value,
                "unit": limit.unit.name(),
                "basis": limit.basis.name(),
                "definition": limit.definition.name(),
            });
            if let Some(study) = &limit.study {
                table["study"] = super::study::document(study);
            }
            table
        };
        for which in NondetectAt::ALL {
            self.put(section, which.name(), limits.of(*which).iter().map(limit).collect::<Vec<_>>());
        }
        self.put(section, "action", limits.action.iter().map(action).collect::<Vec<_>>());
    }

    fn reporting(&mut self, method: &Method) {
        let (style, section) = (&method.reporting, "reporting");
        self.put(section, "liquid_unit", style.liquid_unit.name());
        self.put(section, "solid_unit", style.solid_unit.name());
        match style.rounding.rounding {
            Rounding::Figures(figures) => self.put(section, "figures", figures.get()),
            Rounding::Decimals(decimals) => self.put(section, "decimals", decimals.get()),
            Rounding::Uncertainty(figures) => self.put(section, "uncertainty_figures", figures.get()),
            Rounding::Quantum(quantum) => self.put(section, "quantum", quantum.get()),
        }
        self.put(section, "ties", style.rounding.ties.name());
        self.put(section, "coverage", style.coverage.get());
        self.put(section, "dof", style.dof.name());
        self.put(section, "nondetect", &*style.nondetect);
        self.put(section, "no_result", &*style.no_result);
    }

    /// The value of `key`.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.0.iter().find(|(known, _)| known == key).map(|(_, value)| value)
    }

    /// Takes keys out.
    pub fn forget(&mut self, keys: &[&str]) {
        self.0.retain(|(key, _)| !keys.contains(&key.as_str()));
    }

    /// One document with tables in tables.
    pub fn nested(self) -> Value {
        let mut root = Value::Object(Map::new());
        for (key, value) in self.0 {
            // Indexing an object by a new key adds it. No key is a table and a value at once.
            let place = key.split('.').fold(&mut root, |table, name| &mut table[name]);
            *place = value;
        }
        root
    }

    /// The entries as TOML, with the comment on each.
    pub fn toml(self, explicit: Explicit, comment: impl Fn(&str, &Value) -> Option<String>) -> String {
        let mut text = String::new();
        let mut section = "";
        for (key, value) in &self.0 {
            let comment = comment(key, value);
            if explicit == Explicit::No && comment.is_some() {
                continue;
            }
            let (table, name) = key.rsplit_once('.').unwrap_or(("", key));
            if table != section {
                text.push_str(&format!("\n[{table}]\n"));
                section = table;
            }
            text.push_str(&format!("{name} = {}", toml_value(value)));
            if let Some(comment) = comment {
                text.push_str(&format!("  # {comment}"));
            }
            text.push('\n');
        }
        text
    }
}

impl IntoIterator for Entries {
    type Item = (String, Value);
    type IntoIter = std::vec::IntoIter<(String, Value)>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

fn action(limit: &ActionLimit) -> Value {
    let mut table = json!({
        "value": limit.value,
        "unit": limit.unit.name(),
        "conforms": limit.conforms.name(),
        "rule": limit.rule.name(),
    });
    match limit.rule {
        DecisionRule::Simple => {}
        DecisionRule::GuardBand { multiple } => table["multiple"] = json!(multiple),
        DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: largest } => {
            table["largest_relative_expanded_uncertainty"] = json!(largest);
        }
    }
    table
}

/// A value in TOML. Its strings are those of JSON but for one character.
fn toml_value(value: &Value) -> String {
    match value {
        Value::Array(items) => {
            let items: Vec<String> = items.iter().map(toml_value).collect();
            format!("[{}]", items.join(", "))
        }
        Value::Object(table) => {
            let pairs: Vec<String> =
                table.iter().map(|(key, value)| format!("{key} = {}", toml_value(value))).collect();
            format!("{{ {} }}", pairs.join(", "))
        }
        // JSON leaves the delete character bare, TOML does not allow it.
        other => other.to_string().replace('\u{7f}', "\\u007f"),
    }
}
