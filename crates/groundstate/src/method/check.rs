//! What goes together in a method, and what does not.

use super::{CalibrationRules, DecisionRule, Limit, Method, NondetectAt, PreparationRules, SampleKind};
use crate::addition::VarianceModel;
use crate::curve::{Noise, PointKind, Shape, Zero};
use crate::detection::{LimitDefinition, LimitRole};
use crate::error::{Error, Kind, Place, Problem};
use crate::preparation::LimitBasis;
use crate::unit::{Dimension, Unit};

/// Problems by dotted key.
struct Report(Vec<Problem>);

impl Report {
    fn add(&mut self, key: &str, what: impl Into<String>, help: &str) {
        self.0.push(Problem::new(Place::named(key), what).help(help));
    }

    fn positive(&mut self, key: &str, value: Option<f64>) {
        if let Some(value) = value.filter(|value| !(*value > 0.0 && value.is_finite())) {
            self.add(key, format!("{value} is not a number above 0"), "correct it, or leave the key out");
        }
    }

    fn not_negative(&mut self, key: &str, value: Option<f64>) {
        if let Some(value) = value.filter(|value| !(*value >= 0.0 && value.is_finite())) {
            self.add(key, format!("{value} is not a number from 0 up"), "correct it, or leave the key out");
        }
    }

    fn dimension(&mut self, key: &str, unit: Unit, dimension: Dimension, what: &str, example: &str) {
        if unit.dimension() != dimension {
            self.add(key, format!("{unit} is not a unit of {what}"), &format!("give one such as {example}"));
        }
    }
}

impl Method {
    /// Whether everything in the method goes together.
    ///
    /// # Errors
    /// [`Kind::Method`], with every problem by its dotted key.
    pub fn check(&self) -> Result<(), Error> {
        let mut report = Report(self.criteria.problems());
        for (key, text) in [("id", &self.id), ("version", &self.version)] {
            if text.trim().is_empty() {
                report.add(key, "it is empty", "an audit asks for it");
            }
        }
        report.positive("line_nm", self.line_nm);
        self.profile_rules(&mut report);
        calibration(&self.calibration, &mut report);
        preparation(&self.preparation, &mut report);
        self.limits(&mut report);
        let style = &self.reporting;
        let (liquid, solid) = (SampleKind::Liquid.dimension(), SampleKind::Solid.dimension());
        report.dimension("reporting.liquid_unit", style.liquid_unit, liquid, "liquids", "mg/L");
        report.dimension("reporting.solid_unit", style.solid_unit, solid, "solids", "mg/kg");
        Error::unless_empty(Kind::Method, report.0, ())
    }

    fn profile_rules(&self, report: &mut Report) {
        let shape = self.calibration.shape;
        if let Some(citation) = self.criteria.calibration().line_only.filter(|_| shape != Shape::Line) {
            let what = format!("{} admits only a line, not {} ({citation})", self.profile().name(), shape.name());
            report.add("calibration.shape", what, "for another shape start from profile = \"general\"");
        }
        let regulated = self.profile() == crate::criteria::ProfileName::Sw846Method7000B;
        if regulated && self.calibration.points == PointKind::Readings {
            let what = "sw846_7000b fits one point per poured standard, the mean of its readings \
                (SW-846 Method 7000B, Revision 2, 2007, 10.1.3)";
            report.add("calibration.points", what, "write \"standards\", or start from profile = \"general\"");
        }
    }

    fn limits(&self, report: &mut Report) {
        for which in NondetectAt::ALL {
            let key = format!("limits.{which}");
            let limits = self.limits.of(*which);
            for limit in limits {
                self.limit(&key, limit, report);
            }
            for kind in SampleKind::ALL {
                if limits.iter().filter(|limit| limit.applies_to(*kind)).count() > 1 {
                    let what = format!("there is more than one limit for a {kind}");
                    report.add(&key, what, "keep one for liquids and one for solids");
                }
            }
        }
        if let Some(which) = self.limits.nondetect_at {
            let limits = self.limits.of(which);
            if limits.is_empty() {
                let what = format!("non-detects are reported at the {which}, which the method does not give");
                report.add("limits.nondetect_at", what, &format!("give limits.{which}, or name another limit"));
            }
            if limits.iter().any(|limit| limit.definition.role() == LimitRole::Instrument) {
                let what = format!("the {which} is a limit of the instrument alone");
                report.add("limits.nondetect_at", what, "report at a limit that the preparation went into");
            }
        }
        for kind in SampleKind::ALL {
            let find = |which| self.limits.find(which, *kind);
            for (low, high) in [
                (NondetectAt::Mdl, NondetectAt::Lod),
                (NondetectAt::Mdl, NondetectAt::Loq),
                (NondetectAt::Lod, NondetectAt::Loq),
            ] {
                let (Some(lower), Some(upper)) = (find(low), find(high)) else { continue };
                let comparable = lower.basis == upper.basis;
                let turned = upper.unit.convert(upper.value, lower.unit).is_ok_and(|upper| upper < lower.value);
                if comparable && turned {
                    let what = format!("the {low} of {} {} lies above it", lower.value, lower.unit);
                    report.add(&format!("limits.{high}"), what, "exchange or correct them");
                    break;
                }
            }
        }
        for kind in SampleKind::ALL {
            let same = self.limits.action.iter().filter(|limit| limit.unit.dimension() == kind.dimension());
            if same.count() > 1 {
                report.add(
                    "limits.action",
                    format!("there is more than one limit for a {kind}"),
                    "keep one for each kind",
                );
            }
        }
        for limit in &self.limits.action {
            report.positive("limits.action.value", Some(limit.value));
            match limit.rule {
                DecisionRule::Simple => {}
                DecisionRule::GuardBand { multiple } => report.positive("limits.action.multiple", Some(multiple)),
                DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: largest } => {
                    report.positive("limits.action.largest_relative_expanded_uncertainty", Some(largest));
                }
            }
        }
    }

    fn limit(&self, key: &str, limit: &Limit, report: &mut Report) {
        report.positive(&format!("{key}.value"), Some(limit.value));
        study(key, limit, report);
        if limit.basis == LimitBasis::Solution {
            let unit = format!("{key}.unit");
            report.dimension(&unit, limit.unit, Dimension::MassPerVolume, "a solution", "mg/L");
            return;
        }
        let (nominal, name) = match limit.unit.dimension() {
            Dimension::MassPerVolume => (self.preparation.nominal_liquid, "preparation.nominal_liquid"),
            Dimension::MassPerMass => (self.preparation.nominal_solid, "preparation.nominal_solid"),
        };
        if nominal.is_none() {
            let what = format!("a limit in {} on the basis sample_nominal needs {name}", limit.unit);
            report.add(key, what, "give the portion and final volume that the limit was found with");
        }
    }
}

/// A limit is not below what its own study gives (40 CFR 136, Appendix B: the limit is the greater of the two parts).
fn study(key: &str, limit: &Limit, report: &mut Report) {
    let Some(study) = &limit.study else { return };
    let here = format!("{key}.study");
    if limit.definition != LimitDefinition::Cfr136 || limit.basis != LimitBasis::SampleNominal {
        let what = "spikes and blanks through the whole procedure give an MDL of 40 CFR 136 for a nominal sample";
        let help = "write definition = \"40cfr136\" and basis = \"sample_nominal\", or leave the study out";
        report.add(&here, what, help);
    }
    match study.mdl().value {
        None => {
            let why: Vec<String> = study.mdl().findings.iter().map(|finding| finding.sentence()).collect();
            report.add(&here, format!("it gives no limit: {}", why.join("; ")), "complete the study, or leave it out");
        }
        Some(found) if limit.value < found * (1.0 - 1e-12) => {
            let what = format!("{} {} lies below the {found} of its study", limit.value, limit.unit);
            report.add(&format!("{key}.value"), what, "leave the value out to take that of the study, or raise it");
        }
        Some(_) => {}
    }
}

fn calibration(rules: &CalibrationRules, report: &mut Report) {
    report.dimension("calibration.unit", rules.unit, Dimension::MassPerVolume, "a solution", "mg/L");
    report.positive("calibration.resolution", rules.resolution);
    report.not_negative("calibration.zero_u", Some(rules.zeroing.u()));
    report.not_negative("calibration.stock.relative_u", rules.stock.as_ref().map(|stock| stock.relative_u));
    if let Zero::Floor(floor) = rules.zero {
        report.positive("calibration.zero_floor", Some(floor));
        if !rules.noise.weighs_by_concentration() {
            let what = format!("a floor has no meaning with noise \"{}\"", rules.noise.name());
            report.add("calibration.zero", what, "write \"include\" or \"leave_out\"");
        }
    }
    if !(rules.outlier_alpha > 0.0 && rules.outlier_alpha <= 0.5) {
        let what = format!("{} is not a level of significance", rules.outlier_alpha);
        report.add("calibration.outlier_alpha", what, "give a number above 0 and up to 0.5, mostly 0.05 or 0.01");
    }
    for (i, matched) in rules.matched.iter().enumerate() {
        let key = format!("calibration.matched[{i}]");
        if matched.matrix.trim().is_empty() {
            report.add(&format!("{key}.matrix"), "it is empty", "name a matrix as the column matrix has it");
        }
        if rules.matched[..i].iter().any(|other| other.matrix == matched.matrix) {
            report.add(&key, format!("the matrix {:?} stands there twice", matched.matrix), "keep one of them");
        }
    }
    if rules.variance == VarianceModel::Pooled && rules.noise != Noise::Equal {
        let what = "residual variances are pooled only for unweighted fits";
        report.add("calibration.variance", what, "write \"welch\", or noise = \"equal\"");
    }
    for (i, exclusion) in rules.exclude.iter().enumerate() {
        let key = format!("calibration.exclude[{i}]");
        if rules.exclude[..i].iter().any(|other| other.position == exclusion.position) {
            report.add(&key, format!("position {} is left out twice", exclusion.position), "keep one of them");
        }
        for (name, text) in [("reason", &exclusion.reason), ("who", &exclusion.who), ("when", &exclusion.when)] {
            if text.trim().is_empty() {
                report.add(
                    &format!("{key}.{name}"),
                    "it is empty",
                    "a reading is left out only with reason, who and when",
                );
            }
        }
    }
}

fn preparation(rules: &PreparationRules, report: &mut Report) {
    match (rules.weighed, rules.report) {
        (Some(_), None) => report.add(
            "preparation.report",
            "it is said how solids are weighed but not what their results refer to",
            "write \"as_received\" or \"dry\"",
        ),
        (None, Some(_)) => report.add(
            "preparation.weighed",
            "it is said what results of solids refer to but not how they are weighed",
            "write \"wet\" or \"dry\"",
        ),
        _ => {}
    }
    report.positive("preparation.final_volume_ml", rules.final_volume_ml);
    for (name, u) in [
        ("mass_g", rules.u.mass_g),
        ("volume", rules.u.volume),
        ("final_volume", rules.u.final_volume),
        ("dilution", rules.u.dilution),
        ("percent_solids", rules.u.percent_solids),
    ] {
        report.not_negative(&format!("preparation.u.{name}"), u);
    }
    for (i, factor) in rules.extra.iter().enumerate() {
        let key = format!("preparation.extra[{i}]");
        report.positive(&format!("{key}.value"), Some(factor.value));
        report.not_negative(&format!("{key}.u"), Some(factor.u));
        if factor.name.trim().is_empty() {
            report.add(&format!("{key}.name"), "it is empty", "a budget names its factors");
        }
        if rules.extra[..i].iter().any(|other| other.name == factor.name) {
            report.add(&key, format!("there are two factors {:?}", factor.name), "give each its own name");
        }
    }
    for (name, nominal) in [("nominal_liquid", rules.nominal_liquid), ("nominal_solid", rules.nominal_solid)] {
        let portion = if name == "nominal_liquid" { "volume_ml" } else { "mass_g" };
        report.positive(&format!("preparation.{name}.{portion}"), nominal.map(|nominal| nominal.portion));
        report.positive(&format!("preparation.{name}.final_volume_ml"), nominal.map(|nominal| nominal.final_volume_ml));
    }
}
