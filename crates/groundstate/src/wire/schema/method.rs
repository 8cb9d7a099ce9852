//! The JSON Schema of a method: its keys and, where they are words, which.

use serde_json::{Map, Value, json};

use crate::addition::VarianceModel;
use crate::criteria::{Criteria, Domain, ProfileName};
use crate::curve::Shape;
use crate::detection::LimitDefinition;
use crate::element::Element;
use crate::method::{
    AliasPolicy, ConformSide, DofPolicy, LimitBasis, LimitFloor, MissingPolicy, NondetectAt, OutlierTest,
    Qualification, ReadingScatter, ReportBasis, SignalKind, Weighed,
};
use crate::unit::Unit;

/// The words of a closed list.
fn words<T: Copy>(all: &[T], name: impl Fn(T) -> &'static str) -> Value {
    json!({"enum": all.iter().map(|one| name(*one)).collect::<Vec<_>>()})
}

/// A table of keys; none but `required` must be there.
fn table(properties: Value, required: &[&str]) -> Value {
    let mut table = json!({"type": "object", "properties": properties, "additionalProperties": false});
    if !required.is_empty() {
        table["required"] = json!(required);
    }
    table
}

fn list(items: Value) -> Value {
    json!({"type": "array", "items": items})
}

pub(super) fn schema() -> Value {
    let text = || json!({"type": "string"});
    let mut method = table(
        json!({
            "id": text(),
            "version": text(),
            "approved_by": text(),
            "effective_from": {"type": "string", "description": "a date, as YYYY-MM-DD"},
            "element": words(Element::ALL, Element::symbol),
            "line_nm": above_zero(),
            "signal_kind": words(SignalKind::ALL, SignalKind::name),
            "profile": words(ProfileName::ALL.as_slice(), ProfileName::name),
            "missing": words(MissingPolicy::ALL, MissingPolicy::name),
            "aliases": words(AliasPolicy::ALL, AliasPolicy::name),
            "calibration": calibration(),
            "preparation": preparation(),
            "limits": limits(),
            "reporting": reporting(),
            "qualifiers": qualifiers(),
            "criteria": criteria(),
        }),
        &["id", "version", "element"],
    );
    method["description"] = json!("A method: what turns the readings of a run into reported results.");
    method
}

fn above_zero() -> Value {
    json!({"type": "number", "exclusiveMinimum": 0})
}

fn from_zero() -> Value {
    json!({"type": "number", "minimum": 0})
}

fn unit() -> Value {
    words(Unit::ALL, Unit::name)
}

fn calibration() -> Value {
    let noise = [
        "equal",
        "1/x",
        "1/x^2",
        "relative_sigma",
        "known_sigma",
        "from_replicates",
        "from_replicates_floor_plus_proportional",
        "from_replicates_per_level",
    ];
    let text = || json!({"type": "string"});
    let exclusion = table(
        json!({"position": {"type": "integer", "minimum": 0}, "reason": text(), "who": text(), "when": text()}),
        &["position", "reason", "who", "when"],
    );
    let stock = table(json!({"name": text(), "relative_u": from_zero()}), &["name", "relative_u"]);
    let matched = table(json!({"matrix": text(), "standards": list(text())}), &["matrix"]);
    table(
        json!({
            "matched": list(matched),
            "variance": words(VarianceModel::ALL.as_slice(), VarianceModel::name),
            "shape": words(Shape::ALL.as_slice(), Shape::name),
            "noise": {"enum": noise},
            "sigma": {"anyOf": [above_zero(), list(above_zero())]},
            "at_least": {"type": "integer", "minimum": 0},
            "points": {"enum": ["standards", "readings"]},
            "zero": {"enum": ["include", "leave_out", "floor"]},
            "zero_floor": above_zero(),
            "zeroing": {"enum": ["raw", "blank_subtracted", "autozeroed"]},
            "zero_u": from_zero(),
            "unit": unit(),
            "resolution": from_zero(),
            "reading_scatter": words(ReadingScatter::ALL, ReadingScatter::name),
            "outliers": words(OutlierTest::ALL, OutlierTest::name),
            "outlier_alpha": above_zero(),
            "exclude": list(exclusion),
            "stock": stock,
        }),
        &[],
    )
}

fn preparation() -> Value {
    let text = || json!({"type": "string"});
    let extra = table(json!({"name": text(), "value": above_zero(), "u": from_zero()}), &["name", "value"]);
    let of_each = |of: fn() -> Value, names: &[&str]| {
        let properties: Map<String, Value> = names.iter().map(|name| ((*name).to_owned(), of())).collect();
        table(Value::Object(properties), &[])
    };
    let nominal = |portion: &str| of_each(above_zero, &[portion, "final_volume_ml"]);
    table(
        json!({
            "weighed": words(Weighed::ALL, Weighed::name),
            "report": words(ReportBasis::ALL, ReportBasis::name),
            "final_volume_ml": above_zero(),
            "extra": list(extra),
            "u": of_each(from_zero, &["mass_g", "volume", "final_volume", "dilution", "percent_solids"]),
            "items": of_each(|| json!({"type": "string"}), &["mass", "volume", "final_volume", "dilution", "percent_solids"]),
            "nominal_liquid": nominal("volume_ml"),
            "nominal_solid": nominal("mass_g"),
        }),
        &[],
    )
}

/// The study of a limit: its results and how they are evaluated.
fn study() -> Value {
    let text = || json!({"type": "string"});
    let date = || json!({"type": "string", "description": "a date, as YYYY-MM-DD"});
    let result = || {
        table(
            json!({
                "label": text(),
                "value": {"anyOf": [{"type": "number"}, {"const": "ND"}]},
                "spike_level": from_zero(),
                "batch": text(),
                "prepared_on": date(),
                "analysed_on": date(),
                "instrument": text(),
                "excluded": text(),
                "excluded_by": text(),
                "excluded_on": date(),
            }),
            &[],
        )
    };
    table(
        json!({
            "spikes": list(result()),
            "blanks": list(result()),
            "t": {"enum": ["exact", "printed_table"]},
            "rank_tie": {"enum": ["half_up", "half_even"]},
            "many_blanks": {"enum": ["at_least_100", "more_than_100"]},
            "numeric_blanks": {"enum": ["mean_plus_ts", "percentile"]},
            "percentile": {"enum": ["rank", "interpolated"]},
            "initial_estimate": above_zero(),
            "as_of": date(),
        }),
        &["spikes", "blanks"],
    )
}

fn limits() -> Value {
    let limit = table(
        json!({
            "study": study(),
            "value": from_zero(),
            "unit": unit(),
            "basis": words(LimitBasis::ALL, LimitBasis::name),
            "definition": words(LimitDefinition::ALL, LimitDefinition::name),
        }),
        &["unit", "basis", "definition"],
    );
    let action = table(
        json!({
            "value": {"type": "number"},
            "unit": unit(),
            "conforms": words(ConformSide::ALL, ConformSide::name),
            "rule": {"enum": ["simple", "guard_band", "shared_risk"]},
            "multiple": {"type": "number"},
            "largest_relative_expanded_uncertainty": {"type": "number"},
        }),
        &["value", "unit", "rule"],
    );
    let one_or_several = |of: Value| json!({"anyOf": [of, list(of.clone())]});
    let mut places = words(NondetectAt::ALL, NondetectAt::name);
    if let Some(names) = places["enum"].as_array_mut() {
        names.push(json!("never"));
    }
    let mut properties = json!({
        "nondetect_at": places,
        "floor": words(LimitFloor::ALL, LimitFloor::name),
        "action": one_or_several(action),
    });
    for which in NondetectAt::ALL {
        properties[which.name()] = one_or_several(limit.clone());
    }
    table(properties, &[])
}

fn reporting() -> Value {
    let count = || json!({"type": "integer", "minimum": 0, "maximum": 255});
    table(
        json!({
            "liquid_unit": unit(),
            "solid_unit": unit(),
            "figures": count(),
            "decimals": count(),
            "uncertainty_figures": count(),
            "quantum": above_zero(),
            "ties": {"enum": ["half_even", "half_up"]},
            "coverage": {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1},
            "dof": words(DofPolicy::ALL, DofPolicy::name),
            "nondetect": {"type": "string"},
            "no_result": {"type": "string"},
        }),
        &[],
    )
}

fn qualifiers() -> Value {
    let mark = || table(json!({"letters": {"type": "string"}, "words": {"type": "string"}}), &[]);
    let properties: Map<String, Value> =
        Qualification::ALL.iter().map(|what| (what.name().to_owned(), mark())).collect();
    table(Value::Object(properties), &[])
}

/// The criteria know their own keys and values.
fn criteria() -> Value {
    let mut sections: Map<String, Value> = Map::new();
    for criterion in Criteria::profile(ProfileName::General).iter() {
        let section = sections.entry(criterion.check).or_insert_with(|| table(json!({}), &[]));
        let mut value = match criterion.domain {
            Domain::Number { most } => {
                let mut number = from_zero();
                if most.is_finite() {
                    number["maximum"] = json!(most);
                }
                json!({"anyOf": [number, {"const": "off"}]})
            }
            Domain::Count { least, most } => {
                json!({"anyOf": [{"type": "number", "multipleOf": 1, "minimum": least, "maximum": most}, {"const": "off"}]})
            }
            Domain::Word(words) => json!({"enum": words}),
        };
        value["description"] = criterion.words.into();
        section["properties"][criterion.key] = value;
    }
    table(Value::Object(sections), &[])
}
