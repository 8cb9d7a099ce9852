//! From a document to a method.

use std::sync::Arc;

use serde_json::Value;

use super::node::Node;
use crate::addition::VarianceModel;
use crate::criteria::{Criteria, CriterionValue, ProfileName};
use crate::curve::{Noise, PointKind, Shape, Sigmas, Stock, Zero, Zeroing};
use crate::detection::LimitDefinition;
use crate::error::{Error, Kind, Place, Problem};
use crate::estimate::Coverage;
use crate::method::*;
use crate::preparation::words::one_of;
use crate::rounding::{Rounding, Ties};
use crate::unit::Unit;

/// The word for a method that reports every figure and has no non-detects.
pub(super) const NEVER: &str = "never";

/// The method of a document.
pub(super) fn method(document: &Value) -> Result<Method, Error> {
    let Some(table) = document.as_object() else {
        let problem =
            Problem::new(Place::default(), "a method is a table of keys").help("give at least id, version, element");
        return Err(Error::new(Kind::Method, problem));
    };
    let mut root = Node::root(table);
    let profile = root.word("profile", ProfileName::from_name).unwrap_or_default();
    root.need("element", "give its symbol, for example \"Zn\"");
    // Any element serves to read on; a missing or unknown one is a problem already.
    let element = root.word("element", |text| Method::new(text, profile));
    let mut method = match element {
        Some(method) => method,
        None => Method::new("Zn", profile)?,
    };
    head(&mut root, &mut method);
    root.child("calibration", |node| calibration(node, &mut method.calibration));
    root.child("preparation", |node| preparation(node, &mut method.preparation));
    root.child("limits", |node| limits(node, &mut method.limits));
    root.child("reporting", |node| reporting(node, &mut method.reporting));
    root.child("qualifiers", |node| qualifiers(node, &mut method.qualifiers));
    root.child("criteria", |node| criteria(node, &mut method.criteria));
    let mut problems = root.close();
    if let Err(error) = method.check() {
        // What was read wrongly stands at its default and is told once.
        let told: Vec<Option<String>> = problems.iter().map(|problem| problem.place.name.clone()).collect();
        problems.extend(error.problems().iter().filter(|problem| !told.contains(&problem.place.name)).cloned());
    }
    Error::unless_empty(Kind::Method, problems, method)
}

fn head(node: &mut Node<'_>, method: &mut Method) {
    node.need("id", "give the name that the laboratory knows the method by");
    node.need("version", "an audit asks which version was in force");
    set(&mut method.id, node.text("id").map(Arc::from));
    set(&mut method.version, node.text("version").map(Arc::from));
    method.approved_by = node.text("approved_by").map(Arc::from);
    method.effective_from = node.word("effective_from", str::parse);
    method.line_nm = node.number("line_nm");
    set(&mut method.signal_kind, node.word("signal_kind", SignalKind::parse));
    set(&mut method.missing, node.word("missing", MissingPolicy::parse));
    set(&mut method.aliases, node.word("aliases", AliasPolicy::parse));
}

fn set<T>(place: &mut T, value: Option<T>) {
    if let Some(value) = value {
        *place = value;
    }
}

fn calibration(node: &mut Node<'_>, rules: &mut CalibrationRules) {
    set(&mut rules.shape, node.word("shape", Shape::parse));
    noise(node, rules);
    let kinds = [PointKind::Standards, PointKind::Readings];
    set(&mut rules.points, node.word("points", |text| one_of("points", text, &kinds, PointKind::name)));
    zero(node, rules);
    set(&mut rules.unit, node.word("unit", Unit::parse));
    rules.resolution = node.number("resolution");
    set(&mut rules.reading_scatter, node.word("reading_scatter", ReadingScatter::parse));
    set(&mut rules.outliers, node.word("outliers", OutlierTest::parse));
    set(&mut rules.outlier_alpha, node.number("outlier_alpha"));
    let exclude = node.children("exclude", |node| {
        for key in ["position", "reason", "who", "when"] {
            node.need(key, "what is left out needs its position, the reason, who decided and when");
        }
        let position = node.count("position");
        let [reason, who, when] = ["reason", "who", "when"].map(|key| node.text(key).map(Arc::from));
        Some(Exclusion { position: position?, reason: reason?, who: who?, when: when? })
    });
    set(&mut rules.exclude, exclude);
    let matched = node.children("matched", |node| {
        node.need("matrix", "name the matrix whose samples are read from the matched calibration");
        let standards = node.texts("standards").unwrap_or_default();
        let standards = standards.into_iter().map(Arc::from).collect();
        Some(MatchedStandards { matrix: node.text("matrix").map(Arc::from)?, standards })
    });
    set(&mut rules.matched, matched);
    let variance = |text: &str| one_of("variance", text, &VarianceModel::ALL, VarianceModel::name);
    set(&mut rules.variance, node.word("variance", variance));
    let stock = node.child("stock", |node| {
        node.need("name", "name the stock, for example by its lot");
        node.need("relative_u", "give its relative standard uncertainty, from the certificate");
        let (name, relative_u) = (node.text("name").map(Arc::from), node.number("relative_u"));
        Some(Stock { name: name?, relative_u: relative_u? })
    });
    rules.stock = stock.flatten();
}

fn noise(node: &mut Node<'_>, rules: &mut CalibrationRules) {
    let name = node.text("noise");
    let sigma = node.numbers("sigma");
    let at_least = node.count("at_least");
    let with_sigma: Option<fn(Sigmas) -> Noise> = match name {
        Some("known_sigma") => Some(Noise::KnownSigma),
        Some("relative_sigma") => Some(Noise::RelativeSigma),
        _ => None,
    };
    if let Some(noise) = with_sigma {
        match sigma.map(|sigma| Sigmas::new(&sigma)) {
            Some(Ok(sigmas)) => rules.noise = noise(sigmas),
            Some(Err(error)) => node.error("sigma", &error),
            None if node.has("sigma") => {}
            None => node.need("sigma", "give the standard deviation of a reading, one for all standards or one each"),
        }
    } else {
        if let Some(name) = name {
            match Noise::parse(name) {
                Ok(noise) => rules.noise = noise,
                Err(error) => node.error("noise", &error),
            }
        }
        if sigma.is_some() {
            let help = "leave it out, or write noise = \"known_sigma\" or \"relative_sigma\"";
            node.problem("sigma", "this noise model has no use for it", help);
        }
    }
    match (&mut rules.noise, at_least) {
        (_, None) => {}
        (Noise::FromReplicates(crate::curve::ReplicateModel::PerLevel { at_least }), Some(given)) => *at_least = given,
        _ => {
            let help = "leave it out, or write noise = \"from_replicates_per_level\"";
            node.problem("at_least", "this noise model has no use for it", help);
        }
    }
}

fn zero(node: &mut Node<'_>, rules: &mut CalibrationRules) {
    let zero = node.word("zero", |text| one_of("zero", text, &["include", "leave_out", "floor"], |name| name));
    let floor = node.number("zero_floor");
    match (zero, floor) {
        (Some("floor"), Some(floor)) => rules.zero = Zero::Floor(floor),
        (Some("floor"), None) => node.need("zero_floor", "give the concentration below which weights are held"),
        (_, Some(_)) => node.problem("zero_floor", "it is used only with zero = \"floor\"", "leave it out, or say so"),
        (Some("leave_out"), None) => rules.zero = Zero::LeaveOut,
        _ => {}
    }
    let names = ["raw", "blank_subtracted", "autozeroed"];
    let zeroing = node.word("zeroing", |text| one_of("zeroing", text, &names, |name| name));
    let u = node.number("zero_u");
    match (zeroing, u) {
        (Some("blank_subtracted"), Some(u)) => rules.zeroing = Zeroing::BlankSubtracted(u),
        (Some("autozeroed"), Some(u)) => rules.zeroing = Zeroing::Autozeroed(u),
        (Some("blank_subtracted" | "autozeroed"), None) => {
            node.need("zero_u", "give the standard uncertainty of the blank that set the zero, in units of the signal");
        }
        (_, Some(_)) => {
            node.problem("zero_u", "raw signals have no such uncertainty", "leave it out, or name the zeroing")
        }
        _ => {}
    }
}

fn preparation(node: &mut Node<'_>, rules: &mut PreparationRules) {
    rules.weighed = node.word("weighed", Weighed::parse);
    rules.report = node.word("report", ReportBasis::parse);
    rules.final_volume_ml = node.number("final_volume_ml");
    let extra = node.children("extra", |node| {
        for key in ["name", "value", "u"] {
            node.need(key, "a factor has a name, a value and a standard uncertainty u, which may be 0");
        }
        let (name, value, u) = (node.text("name").map(Arc::from), node.number("value"), node.number("u"));
        Some(ExtraFactor { name: name?, value: value?, u: u? })
    });
    set(&mut rules.extra, extra);
    node.child("u", |node| {
        rules.u = PreparationUncertainty {
            mass_g: node.number("mass_g"),
            volume: node.number("volume"),
            final_volume: node.number("final_volume"),
            dilution: node.number("dilution"),
            percent_solids: node.number("percent_solids"),
        };
    });
    node.child("items", |node| {
        let mut item = |key| node.text(key).map(Arc::from);
        rules.items = SharedItems {
            mass: item("mass"),
            volume: item("volume"),
            final_volume: item("final_volume"),
            dilution: item("dilution"),
            percent_solids: item("percent_solids"),
        };
    });
    let nominal = |node: &mut Node<'_>, portion: &'static str| {
        node.need(portion, "give the portion that the limits were found with");
        node.need("final_volume_ml", "give the final volume that the limits were found with");
        let (portion, volume) = (node.number(portion), node.number("final_volume_ml"));
        Some(NominalPortion { portion: portion?, final_volume_ml: volume? })
    };
    rules.nominal_liquid = node.child("nominal_liquid", |node| nominal(node, "volume_ml")).flatten();
    rules.nominal_solid = node.child("nominal_solid", |node| nominal(node, "mass_g")).flatten();
}

fn limits(node: &mut Node<'_>, limits: &mut Limits) {
    set(&mut limits.mdl, node.children("mdl", limit));
    set(&mut limits.lod, node.children("lod", limit));
    set(&mut limits.loq, node.children("loq", limit));
    let at = |text: &str| if text == NEVER { Ok(None) } else { NondetectAt::parse(text).map(Some) };
    set(&mut limits.nondetect_at, node.word("nondetect_at", at));
    if NondetectAt::ALL.iter().any(|which| !limits.of(*which).is_empty()) {
        let help = "write \"mdl\", \"lod\" or \"loq\", or \"never\" where every figure is reported";
        node.need("nondetect_at", help);
    }
    set(&mut limits.floor, node.word("floor", LimitFloor::parse));
    let action = node.children("action", action);
    set(&mut limits.action, action);
}

fn limit(node: &mut Node<'_>) -> Option<Limit> {
    let study = node.child("study", super::study::read).flatten();
    if !node.has("study") {
        node.need("value", "give the limit, or the study it comes from");
    }
    node.need("unit", "give its unit");
    node.need(
        "basis",
        "write \"solution\" for a limit of the aspirated solution, \"sample_nominal\" for one of a sample as it was \
         nominally prepared; an MDL of 40 CFR 136 is of the second kind",
    );
    node.need("definition", "name the definition it follows, for example \"40cfr136\" or \"sw846_lloq\"");
    // A study without a limit leaves NaN here, which the check of the method tells with the reason.
    let of_study = study.as_ref().map(|study| study.mdl().value.unwrap_or(f64::NAN));
    let value = node.number("value").or(of_study);
    let unit = node.word("unit", Unit::parse);
    let basis = node.word("basis", LimitBasis::parse);
    let definition = node.word("definition", str::parse::<LimitDefinition>);
    Some(Limit { value: value?, unit: unit?, basis: basis?, definition: definition?, study: study.map(Arc::new) })
}

fn action(node: &mut Node<'_>) -> Option<ActionLimit> {
    node.need("value", "give the limit");
    node.need("unit", "give its unit");
    node.need("rule", "conformity is stated only by a named rule: \"simple\", \"guard_band\" or \"shared_risk\"");
    let conforms = node.word("conforms", ConformSide::parse).unwrap_or(ConformSide::AtMost);
    let (value, unit) = (node.number("value"), node.word("unit", Unit::parse));
    let names = ["simple", "guard_band", "shared_risk"];
    let rule = node.word("rule", |text| one_of("rule", text, &names, |name| name));
    let multiple = node.number("multiple");
    let largest = node.number("largest_relative_expanded_uncertainty");
    let rule = match rule? {
        "guard_band" => DecisionRule::GuardBand { multiple: multiple.unwrap_or(1.0) },
        "shared_risk" => {
            let help = "give the largest expanded uncertainty that the parties accept, as a fraction of the limit";
            node.need("largest_relative_expanded_uncertainty", help);
            DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: largest? }
        }
        _ => DecisionRule::Simple,
    };
    for (key, given, used) in [
        ("multiple", multiple.is_some(), matches!(rule, DecisionRule::GuardBand { .. })),
        ("largest_relative_expanded_uncertainty", largest.is_some(), matches!(rule, DecisionRule::SharedRisk { .. })),
    ] {
        if given && !used {
            node.problem(key, format!("the rule {} has no use for it", rule.name()), "leave it out");
        }
    }
    Some(ActionLimit { value: value?, unit: unit?, conforms, rule })
}

fn reporting(node: &mut Node<'_>, style: &mut Style) {
    set(&mut style.liquid_unit, node.word("liquid_unit", Unit::parse));
    set(&mut style.solid_unit, node.word("solid_unit", Unit::parse));
    let mut roundings = Vec::new();
    for (key, rounding) in [
        ("figures", Rounding::figures as fn(u8) -> Result<Rounding, Error>),
        ("decimals", Rounding::decimals),
        ("uncertainty_figures", Rounding::uncertainty),
    ] {
        roundings.extend(node.count(key).map(|count| (key, rounding(count))));
    }
    roundings.extend(node.number("quantum").map(|step| ("quantum", Rounding::quantum(step))));
    for (i, (key, rounding)) in roundings.into_iter().enumerate() {
        match rounding {
            Err(error) => node.error(key, &error),
            Ok(_) if i > 0 => node.problem(
                key,
                "there is another rounding rule beside it",
                "keep one of figures, decimals, uncertainty_figures, quantum",
            ),
            Ok(rounding) => style.rounding.rounding = rounding,
        }
    }
    let ties = [Ties::HalfEven, Ties::HalfUp];
    set(&mut style.rounding.ties, node.word("ties", |text| one_of("ties", text, &ties, Ties::name)));
    match node.number("coverage").map(Coverage::new) {
        Some(Ok(coverage)) => style.coverage = coverage,
        Some(Err(error)) => node.error("coverage", &error),
        None => {}
    }
    set(&mut style.dof, node.word("dof", DofPolicy::parse));
    set(&mut style.nondetect, node.text("nondetect").map(Arc::from));
    set(&mut style.no_result, node.text("no_result").map(Arc::from));
}

fn qualifiers(node: &mut Node<'_>, qualifiers: &mut Qualifiers) {
    for what in Qualification::ALL {
        node.child(what.name(), |node| {
            let mut mark = qualifiers.get(*what).clone();
            if let Some(letters) = node.text("letters") {
                mark.letters = (!letters.trim().is_empty()).then(|| letters.trim().into());
            }
            set(&mut mark.words, node.text("words").map(Arc::from));
            qualifiers.set(*what, mark);
        });
    }
}

/// The keys here are those of the criteria, which know them themselves.
fn criteria(node: &mut Node<'_>, criteria: &mut Criteria) {
    node.open_ended();
    for (check, section) in node.all() {
        let Some(section) = section.as_object() else {
            node.problem(check, "a table of criteria is needed", "for example [criteria.ccv] with low and high");
            continue;
        };
        for (key, value) in section {
            let path = format!("{check}.{key}");
            let value = match value {
                Value::String(word) => CriterionValue::from(word.as_str()),
                Value::Number(number) => CriterionValue::Number(number.as_f64().unwrap_or(f64::NAN)),
                _ => {
                    node.problem(&path, "a number or a word is needed", "\"off\" switches a rule off");
                    continue;
                }
            };
            if let Err(error) = criteria.set(check, key, value) {
                node.problems.extend(error.problems().iter().cloned());
            }
        }
    }
}
