use proptest::prelude::*;
use serde_json::{Value, json};

use crate::addition::VarianceModel;
use crate::criteria::ProfileName;
use crate::curve::{Noise, PointKind, ReplicateModel, Shape, Sigmas, Stock, Zero, Zeroing};
use crate::error::Kind;
use crate::estimate::Coverage;
use crate::method::*;
use crate::rounding::{Rounding, Ties};
use crate::unit::Unit;

/// The least that a method says.
fn least() -> Value {
    json!({"id": "ZN-1", "version": "1", "element": "Zn"})
}

/// `least` with the value at a dotted key.
fn with(changes: &[(&str, Value)]) -> Value {
    let mut document = least();
    for (key, value) in changes {
        *key.split('.').fold(&mut document, |table, name| &mut table[name]) = value.clone();
    }
    document
}

fn refused(document: &Value) -> String {
    let error = Method::from_document(document).unwrap_err();
    assert_eq!(error.kind(), Kind::Method);
    error.problems().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn says(changes: &[(&str, Value)], parts: &[&str]) {
    let message = refused(&with(changes));
    for part in parts {
        assert!(message.contains(part), "{message} lacks {part}");
    }
}

/// A method that states something everywhere.
fn full() -> Method {
    let mut method = Method::new("zinc", ProfileName::General).unwrap();
    method.id = "ZN-1 \"roof\" \u{7f}\n".into();
    method.version = "4.2".into();
    method.approved_by = Some("M. Orchard".into());
    method.effective_from = Some("2025-03-01".parse().unwrap());
    method.line_nm = Some(213.9);
    method.signal_kind = SignalKind::Other;
    method.missing = MissingPolicy::Refuse;
    method.aliases = AliasPolicy::Accept;
    method.calibration = CalibrationRules {
        shape: Shape::Quadratic,
        noise: Noise::KnownSigma(Sigmas::new(&[0.001, 0.002]).unwrap()),
        points: PointKind::Readings,
        zero: Zero::LeaveOut,
        zeroing: Zeroing::Autozeroed(0.0002),
        unit: Unit::MicrogramPerLitre,
        stock: Some(Stock { name: "Zn-A".into(), relative_u: 0.002 }),
        resolution: Some(0.0001),
        reading_scatter: ReadingScatter::Own,
        outliers: OutlierTest::Dixon,
        outlier_alpha: 0.01,
        exclude: vec![Exclusion {
            position: 7,
            reason: "bubble".into(),
            who: "A. Weaver".into(),
            when: "2025-03-02".into(),
        }],
        matched: vec![MatchedStandards { matrix: "moss".into(), standards: vec!["M1".into(), "M2".into()] }],
        variance: VarianceModel::Welch,
    };
    method.preparation = PreparationRules {
        weighed: Some(Weighed::Wet),
        report: Some(ReportBasis::Dry),
        final_volume_ml: Some(100.0),
        u: PreparationUncertainty {
            mass_g: Some(0.0005),
            volume: Some(0.002),
            final_volume: Some(0.001),
            dilution: Some(0.003),
            percent_solids: Some(0.3),
        },
        items: SharedItems {
            mass: Some("B2".into()),
            volume: Some("P1".into()),
            final_volume: Some("F1".into()),
            dilution: Some("P2".into()),
            percent_solids: Some("oven".into()),
        },
        extra: vec![ExtraFactor { name: "recovery".into(), value: 1.02, u: 0.01 }],
        nominal_liquid: Some(NominalPortion { portion: 50.0, final_volume_ml: 50.0 }),
        nominal_solid: Some(NominalPortion { portion: 1.0, final_volume_ml: 100.0 }),
    };
    let limit = |value, unit, definition: &str| Limit {
        value,
        unit,
        basis: LimitBasis::SampleNominal,
        definition: definition.parse().unwrap(),
        study: None,
    };
    let study = study();
    method.limits = Limits {
        mdl: vec![
            Limit { study: Some(study), ..limit(0.02, Unit::MilligramPerLitre, "40cfr136") },
            limit(0.3, Unit::MilligramPerKilogram, "40cfr136"),
        ],
        lod: vec![limit(0.03, Unit::MilligramPerLitre, "dod_lod")],
        loq: vec![Limit {
            value: 0.01,
            unit: Unit::MilligramPerLitre,
            basis: LimitBasis::Solution,
            definition: "sw846_lloq".parse().unwrap(),
            study: None,
        }],
        nondetect_at: Some(NondetectAt::Mdl),
        floor: LimitFloor::NeverBelowNominal,
        action: vec![
            ActionLimit {
                value: 5.0,
                unit: Unit::MilligramPerLitre,
                conforms: ConformSide::AtLeast,
                rule: DecisionRule::GuardBand { multiple: 0.5 },
            },
            ActionLimit {
                value: 200.0,
                unit: Unit::MilligramPerKilogram,
                conforms: ConformSide::AtMost,
                rule: DecisionRule::SharedRisk { largest_relative_expanded_uncertainty: 0.3 },
            },
        ],
    };
    method.reporting.rounding.rounding = Rounding::uncertainty(2).unwrap();
    method.reporting.rounding.ties = Ties::HalfUp;
    method.reporting.coverage = Coverage::new(0.99).unwrap();
    method.reporting.dof = DofPolicy::Truncate;
    method.reporting.nondetect = "ND at {limit}".into();
    method.qualifiers.set(Qualification::NotDetected, Qualifier { letters: None, words: "not found".into() });
    method.criteria.set("ccv", "high", 105.0.into()).unwrap();
    method.criteria.set("matrix_spike", "native_rule", "native_4x".into()).unwrap();
    method.check().unwrap();
    method
}

#[test]
fn a_method_comes_back_from_its_document_and_from_both_kinds_of_toml() {
    let mut methods = vec![full()];
    for profile in ProfileName::ALL {
        methods.push(Method::new("Cu", profile).unwrap());
    }
    let noises = [
        Noise::InverseX,
        Noise::RelativeSigma(Sigmas::new(&[0.002]).unwrap()),
        Noise::FromReplicates(ReplicateModel::PerLevel { at_least: 4 }),
    ];
    for (noise, rounding) in
        noises.into_iter().zip([Rounding::decimals(2), Rounding::quantum(0.05), Rounding::figures(2)])
    {
        let mut method = Method::new("K", ProfileName::General).unwrap();
        method.calibration.zero = if noise == Noise::InverseX { Zero::Floor(0.1) } else { Zero::Include };
        (method.calibration.noise, method.reporting.rounding.rounding) = (noise, rounding.unwrap());
        method.calibration.zeroing = Zeroing::BlankSubtracted(0.0);
        methods.push(method);
    }
    for method in methods {
        let document = method.to_document();
        assert_eq!(Method::from_document(&document).as_ref(), Ok(&method));
        assert_eq!(Method::from_json(&format!("\u{feff}{document}")).as_ref(), Ok(&method));
        #[cfg(feature = "text")]
        for explicit in [Explicit::Yes, Explicit::No] {
            let text = method.to_toml(explicit);
            assert_eq!(Method::from_toml(&text).as_ref(), Ok(&method), "{text}");
        }
    }
}

#[test]
fn defaults_are_stated_with_what_they_follow() {
    let mut method = Method::new("Zn", ProfileName::Sw846Method7000B).unwrap();
    let citation = |method: &Method, key: &str| {
        method
            .defaults_used()
            .into_iter()
            .find(|used| used.key == key)
            .map(|used| (used.value, used.citation.to_string()))
    };
    let (value, clause) = citation(&method, "calibration.shape").unwrap();
    assert_eq!((&*value, clause.contains("7000B") && clause.contains("10.2")), ("\"line\"", true));
    assert!(citation(&method, "criteria.ccv.high").unwrap().1.contains("10.2.2"));
    assert!(citation(&method, "id").is_none());
    method.criteria.set("ccv", "high", 105.0.into()).unwrap();
    assert!(citation(&method, "criteria.ccv.high").is_none());
    let explicit = method.to_toml(Explicit::Yes);
    assert!(explicit.contains("\nshape = \"line\"  # default: SW-846 Method 7000B"), "{explicit}");
    assert!(explicit.contains("\nhigh = 105.0\n"), "{explicit}");
    let short = method.to_toml(Explicit::No);
    assert!(short.ends_with("[criteria.ccv]\nhigh = 105.0\n") && !short.contains('#'), "{short}");
}

#[test]
fn a_default_document_says_what_a_new_method_says() {
    let method = Method::from_document(&least()).unwrap();
    let mut new = Method::new("Zn", ProfileName::General).unwrap();
    (new.id, new.version) = ("ZN-1".into(), "1".into());
    assert_eq!(method, new);
}

#[test]
fn what_a_method_must_say() {
    let message = refused(&json!({}));
    for part in ["id: it is missing", "version: it is missing; an audit", "element: it is missing; give its symbol"] {
        assert!(message.contains(part), "{message} lacks {part}");
    }
    assert!(refused(&json!([1])).contains("a method is a table of keys"));
    assert!(Method::from_json("{").unwrap_err().to_string().contains("not JSON"));
}

#[test]
fn unknown_keys_get_the_nearest_one() {
    says(&[("elemnt", json!("Zn"))], &["elemnt: there is no key elemnt; did you mean element?"]);
    says(&[("calibration.shpae", json!("line"))], &["calibration.shpae", "did you mean calibration.shape?"]);
    says(&[("temperature", json!(1))], &["there is no key temperature; the keys here are profile, element"]);
    says(&[("limits.mdl", json!([{"valeu": 1}]))], &["limits.mdl[0].valeu", "did you mean limits.mdl[0].value?"]);
    says(&[("criteria.ccv.hihg", json!(1))], &["criteria.ccv.hihg", "did you mean high?"]);
    says(&[("criteria.ccw.high", json!(1))], &["criteria.ccw", "did you mean ccv?"]);
    says(&[("qualifiers.not_detectd", json!({}))], &["did you mean qualifiers.not_detected?"]);
}

#[test]
fn words_get_the_nearest_one() {
    for (key, word, near) in [
        ("profile", "sw846_7000", "sw846_7000b"),
        ("element", "Zinck", "zinc"),
        ("signal_kind", "absorbence", "absorbance"),
        ("calibration.shape", "quadratc", "quadratic"),
        ("calibration.noise", "equall", "equal"),
        ("calibration.points", "standard", "standards"),
        ("calibration.zero", "leaveout", "leave_out"),
        ("calibration.unit", "mg/k", "mg/L"),
        ("preparation.weighed", "wett", "wet"),
        ("limits.floor", "never_below_nominl", "never_below_nominal"),
        ("reporting.dof", "truncated", "truncate"),
    ] {
        let message = refused(&with(&[(key, json!(word))])).to_lowercase();
        assert!(message.contains(key) && message.contains("did you mean"), "{message}");
        assert!(message.contains(&near.to_lowercase()) || key == "calibration.unit", "{message} lacks {near}");
    }
    says(&[("calibration.shape", json!("cubic"))], &["calibration.shape", "a third-order curve is not offered"]);
}

#[test]
fn wrong_types_are_told() {
    says(&[("calibration.shape", json!(3))], &["calibration.shape: 3 is not a text"]);
    says(&[("line_nm", json!("213.9"))], &["line_nm: the text \"213.9\" is not a number"]);
    says(&[("calibration", json!("line"))], &["calibration: the text \"line\" is not a table"]);
    says(&[("calibration.exclude", json!([1]))], &["this list is not a table or a list of tables"]);
    says(&[("reporting.figures", json!(-1))], &["-1 is not a whole number from 0 up"]);
    says(&[("reporting.figures", json!(300))], &["300 is not a whole number"]);
    says(&[("criteria.ccv.high", json!([]))], &["criteria.ccv.high: a number or a word is needed"]);
    says(&[("effective_from", json!("2025-02-30"))], &["effective_from: 2025-02 has no day 30"]);
}

#[test]
fn figures_out_of_range_are_told_at_once() {
    let changes = [
        ("line_nm", json!(0)),
        ("calibration.outlier_alpha", json!(5)),
        ("calibration.resolution", json!(-0.1)),
        ("calibration.stock", json!({"name": "A", "relative_u": -0.1})),
        ("preparation.final_volume_ml", json!(0)),
        ("preparation.u.mass_g", json!(-1)),
        ("preparation.extra", json!([{"name": "r", "value": 0, "u": -1}, {"name": "r", "value": 1, "u": 0}])),
        ("reporting.coverage", json!(95)),
        ("reporting.figures", json!(0)),
        ("reporting.liquid_unit", json!("mg/kg")),
        ("reporting.solid_unit", json!("mg/L")),
        ("calibration.unit", json!("mg/kg")),
        ("criteria.ccv.high", json!(-5)),
    ];
    let message = refused(&with(&changes));
    for part in [
        "line_nm: 0 is not a number above 0",
        "calibration.outlier_alpha: 5 is not a level of significance",
        "calibration.resolution: -0.1 is not a number above 0",
        "calibration.stock.relative_u: -0.1 is not a number from 0 up",
        "preparation.final_volume_ml: 0 is not a number above 0",
        "preparation.u.mass_g: -1 is not a number from 0 up",
        "preparation.extra[0].value: 0 is not a number above 0",
        "preparation.extra[0].u: -1 is not a number from 0 up",
        "preparation.extra[1]: there are two factors \"r\"",
        "reporting.coverage: 95 is not a probability between 0 and 1; for 95 % write 0.95",
        "reporting.figures: 0 is not a number of digits",
        "reporting.liquid_unit: mg/kg is not a unit of liquids",
        "reporting.solid_unit: mg/L is not a unit of solids",
        "calibration.unit: mg/kg is not a unit of a solution",
        "criteria.ccv.high: -5 is not a value of this criterion",
    ] {
        assert!(message.contains(part), "{message}\nlacks {part}");
    }
}

#[test]
fn a_regulated_profile_admits_only_its_calibration() {
    let profile = ("profile", json!("sw846_7000b"));
    says(
        &[profile.clone(), ("calibration.shape", json!("quadratic"))],
        &[
            "calibration.shape: sw846_7000b admits only a line, not quadratic (SW-846 Method 7000B",
            "10.2)",
            "start from profile = \"general\"",
        ],
    );
    says(&[profile.clone(), ("calibration.points", json!("readings"))], &["calibration.points", "10.1.3"]);
    let general = with(&[("calibration.shape", json!("quadratic")), ("calibration.points", json!("readings"))]);
    assert!(Method::from_document(&general).is_ok());
}

#[test]
fn noise_and_zero_say_what_they_need() {
    says(&[("calibration.noise", json!("known_sigma"))], &["calibration.sigma: it is missing"]);
    says(
        &[("calibration.noise", json!("known_sigma")), ("calibration.sigma", json!(0))],
        &["calibration.sigma", "not a positive"],
    );
    says(&[("calibration.sigma", json!(0.1))], &["calibration.sigma: this noise model has no use for it"]);
    says(&[("calibration.at_least", json!(3))], &["calibration.at_least: this noise model has no use for it"]);
    says(&[("calibration.zero", json!("floor"))], &["calibration.zero_floor: it is missing"]);
    says(&[("calibration.zero_floor", json!(0.1))], &["calibration.zero_floor: it is used only with"]);
    says(
        &[("calibration.zero", json!("floor")), ("calibration.zero_floor", json!(0.1))],
        &["no meaning with noise \"equal\""],
    );
    says(&[("calibration.zeroing", json!("autozeroed"))], &["calibration.zero_u: it is missing"]);
    says(&[("calibration.zero_u", json!(0.1))], &["raw signals have no such uncertainty"]);
    says(&[("calibration.stock", json!({"name": "A"}))], &["calibration.stock.relative_u: it is missing"]);
    let left_out = json!([{"position": 3, "reason": " ", "who": "A", "when": "today"}, {"position": 3}]);
    says(
        &[("calibration.exclude", left_out)],
        &["calibration.exclude[0].reason: it is empty", "calibration.exclude[1].who: it is missing"],
    );
}

#[test]
fn limits_state_their_basis_definition_and_use() {
    let limit = json!({"value": 0.01, "unit": "mg/L", "basis": "solution", "definition": "sw846_lloq"});
    let loq = |change: (&str, Value)| {
        let mut limit = limit.clone();
        limit[change.0] = change.1;
        [("limits.loq", limit), ("limits.nondetect_at", json!("loq"))]
    };
    let mut bare = limit.clone();
    bare.as_object_mut().unwrap().retain(|key, _| key == "value" || key == "unit");
    says(
        &[("limits.loq", bare), ("limits.nondetect_at", json!("loq"))],
        &[
            "limits.loq.basis: it is missing; write \"solution\"",
            "limits.loq.definition: it is missing; name the definition",
        ],
    );
    says(&[("limits.loq", limit.clone())], &["limits.nondetect_at: it is missing", "\"never\" where every figure"]);
    says(&[("limits.nondetect_at", json!("mdl"))], &["the mdl, which the method does not give"]);
    says(&loq(("basis", json!("sample_nominal"))), &["sample_nominal needs preparation.nominal_liquid"]);
    says(&loq(("unit", json!("mg/kg"))), &["limits.loq.unit: mg/kg is not a unit of a solution"]);
    says(&loq(("value", json!(0))), &["limits.loq.value: 0 is not a number above 0"]);
    says(&loq(("definition", json!("sw846_loq"))), &["did you mean \"sw846_lloq\"?"]);
    says(&loq(("definition", json!("idl_7000b"))), &["the loq is a limit of the instrument alone"]);
    says(
        &[("limits.loq", json!([limit, limit])), ("limits.nondetect_at", json!("loq"))],
        &["more than one limit for a liquid"],
    );
    let higher = json!({"value": 20, "unit": "ug/L", "basis": "solution", "definition": "40cfr136"});
    says(
        &[("limits.loq", limit.clone()), ("limits.mdl", higher), ("limits.nondetect_at", json!("mdl"))],
        &["limits.loq: the mdl of 20 ug/L lies above it"],
    );
    let never = with(&[("limits.loq", limit), ("limits.nondetect_at", json!("never"))]);
    let method = Method::from_document(&never).unwrap();
    assert_eq!(method.limits.nondetect_at, None);
    assert_eq!(Method::from_document(&method.to_document()), Ok(method));
    let action = |rule: Value| [("limits.action", json!({"value": 1, "unit": "mg/L", "rule": rule, "multiple": 2}))];
    says(&action(json!("shared_risk")), &["largest_relative_expanded_uncertainty: it is missing"]);
    says(&action(json!("simple")), &["limits.action.multiple: the rule simple has no use for it"]);
    says(&action(json!("guardband")), &["limits.action.rule", "did you mean \"guard_band\"?"]);
    says(
        &[("limits.action", json!({"value": 1, "unit": "mg/L"}))],
        &["limits.action.rule: it is missing", "named rule"],
    );
    let limit = |unit: &str| json!({"value": 1, "unit": unit, "rule": "simple"});
    let two = json!([limit("mg/L"), limit("ug/L")]);
    says(&[("limits.action", two)], &["limits.action: there is more than one limit for a liquid"]);
}

#[test]
fn the_two_questions_of_a_solid_come_together() {
    says(&[("preparation.weighed", json!("wet"))], &["preparation.report: it is said how solids are weighed"]);
    says(&[("preparation.report", json!("dry"))], &["preparation.weighed: it is said what results"]);
}

#[test]
fn one_rounding_rule_at_most() {
    let two = [("reporting.figures", json!(3)), ("reporting.decimals", json!(2))];
    says(&two, &["reporting.decimals: there is another rounding rule beside it"]);
}

#[test]
fn letters_can_be_taken_away_and_given() {
    let changes = [("qualifiers.not_detected.letters", json!("")), ("qualifiers.above_range.letters", json!("E"))];
    let qualifiers = Method::from_document(&with(&changes)).unwrap().qualifiers;
    assert_eq!(qualifiers.get(Qualification::NotDetected).letters, None);
    assert_eq!(qualifiers.get(Qualification::AboveRange).letters.as_deref(), Some("E"));
    assert_eq!(qualifiers.get(Qualification::BelowQuantitation).letters.as_deref(), Some("J"));
}

#[cfg(feature = "text")]
#[test]
fn toml_is_read_with_its_dates_and_refused_with_its_line() {
    let text = "id = \"Z\"\nversion = \"1\"\nelement = \"Zn\"\neffective_from = 2025-03-01\n";
    let method = Method::from_toml_bytes(format!("\u{feff}{}", text.replace('\n', "\r\n")).as_bytes()).unwrap();
    assert_eq!(method.effective_from.map(|date| date.to_string()).as_deref(), Some("2025-03-01"));
    let refused = |text: &str| Method::from_toml(text).unwrap_err().to_string();
    assert!(refused(&format!("{text}line_nm = \n")).contains("not TOML in line 5"));
    assert!(refused(&format!("{text}id = \"again\"\n")).contains("not TOML in line 5"));
    assert!(
        refused(&format!("{text}[calibration]\nresolution = inf\n"))
            .contains("calibration.resolution: inf is not a finite")
    );
    assert!(Method::from_toml_bytes(b"id = \"\xff\"").unwrap_err().to_string().contains("line 1 is not UTF-8"));
}

#[test]
fn deep_nesting_is_refused_not_followed() {
    let deep = "[".repeat(100_000);
    assert!(Method::from_json(&deep).is_err());
    #[cfg(feature = "text")]
    assert!(Method::from_toml(&format!("id = {deep}")).is_err());
}

/// Any document, with keys that mean something.
fn documents() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        prop::sample::select(vec!["", "line", "loq", "mg/L", "known_sigma", "floor", "solution", "Zn", "off"])
            .prop_map(Value::from),
    ];
    let keys = prop::sample::select(vec![
        "id",
        "version",
        "element",
        "calibration",
        "preparation",
        "limits",
        "reporting",
        "qualifiers",
        "criteria",
        "shape",
        "noise",
        "sigma",
        "zero",
        "mdl",
        "loq",
        "value",
        "unit",
        "basis",
        "nondetect_at",
        "ccv",
        "high",
        "exclude",
        "position",
        "not_detected",
        "quantum",
        "figures",
        "u",
        "stock",
    ]);
    leaf.prop_recursive(4, 40, 6, move |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..4).prop_map(Value::from),
            prop::collection::btree_map(keys.clone().prop_map(str::to_owned), inner, 0..6)
                .prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn any_document_gives_an_answer(document in documents()) {
        if let Ok(method) = Method::from_document(&document) {
            prop_assert_eq!(Method::from_document(&method.to_document()), Ok(method));
        }
    }

    #[test]
    fn any_text_gives_an_answer(text in "(\\PC|\n){0,120}") {
        let _ = Method::from_json(&text);
        #[cfg(feature = "text")]
        let _ = Method::from_toml(&text);
    }

    #[cfg(feature = "text")]
    #[test]
    fn any_bytes_give_an_answer(bytes in prop::collection::vec(any::<u8>(), 0..120)) {
        let _ = Method::from_toml_bytes(&bytes);
    }

    // Any text that a laboratory may write comes back from TOML as it was.
    #[cfg(feature = "text")]
    #[test]
    fn texts_come_back_from_toml(words in any::<String>()) {
        let mut method = Method::new("Zn", ProfileName::General).unwrap();
        method.reporting.no_result = words.into();
        prop_assert_eq!(Method::from_toml(&method.to_toml(Explicit::No)), Ok(method));
    }
}

/// Seven spikes and seven blanks with every fact that a file can hold; MDL_S is 0.0049 by their scatter.
fn study() -> Arc<LimitStudy> {
    use crate::detection::mdl::{MdlOptions, MdlResult, Measured, TValues};
    let day = |day: u32| format!("2031-02-{day:02}").parse().unwrap();
    let mut results = Vec::new();
    for (i, value) in [0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194].into_iter().enumerate() {
        let i = i as u32;
        let spike = MdlResult::spike(value).level(0.02).batch(format!("B{}", i % 3)).instrument("bench 2");
        results.push(spike.label(format!("S{i}")).prepared(day(1 + i)).analysed(day(2 + i)));
    }
    results.push(MdlResult::spike(9.0).level(0.02).excluding("cracked vial", "R. Invented"));
    results.extend([0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009].map(MdlResult::blank));
    results.push(MdlResult::blank(Measured::NonDetect));
    results.push(MdlResult::blank(Measured::Missing));
    let options = MdlOptions {
        t: TValues::PrintedTable,
        initial_estimate: Some(0.004),
        as_of: Some(day(20)),
        ..MdlOptions::default()
    };
    Arc::new(LimitStudy::new(results, options).unwrap())
}

fn limited(study: Value, value: Option<f64>) -> Value {
    let mut limit = json!({"unit": "mg/L", "basis": "sample_nominal", "definition": "40cfr136", "study": study});
    if let Some(value) = value {
        limit["value"] = json!(value);
    }
    json!({
        "id": "M", "version": "1", "element": "Zn",
        "preparation": {"nominal_liquid": {"volume_ml": 50, "final_volume_ml": 50}},
        "limits": {"mdl": limit, "nondetect_at": "mdl"},
    })
}

fn bare(values: &[f64]) -> Vec<Value> {
    values.iter().map(|value| json!({"value": value})).collect()
}

/// The example of the Appendix's arithmetic in `detection::mdl::initial`.
#[test]
fn a_limit_without_a_value_is_that_of_its_study() {
    let spikes = bare(&[0.0212, 0.0198, 0.0225, 0.0189, 0.0207, 0.0231, 0.0194]);
    let blanks = bare(&[0.0008, -0.0011, 0.0004, 0.0015, -0.0003, 0.0009, 0.0002]);
    let study = json!({"spikes": spikes, "blanks": blanks});
    let method = Method::from_document(&limited(study.clone(), None)).unwrap();
    assert_eq!(format!("{:.7}", method.limits.mdl[0].value), "0.0049557");
    assert_eq!(Method::from_document(&method.to_document()).unwrap(), method);
    // A laboratory may keep to a higher limit, not to a lower one.
    assert!(Method::from_document(&limited(study.clone(), Some(0.005))).is_ok());
    let told = Method::from_document(&limited(study, Some(0.0049))).unwrap_err().to_string();
    assert!(told.contains("limits.mdl.value") && told.contains("lies below"), "{told}");
}

#[test]
fn what_is_wrong_with_a_study_is_told_by_its_key() {
    let told = |study: Value| Method::from_document(&limited(study, None)).unwrap_err().to_string();
    let good = || bare(&[0.02, 0.021, 0.019]);
    assert!(told(json!({"spikes": good()})).contains("limits.mdl.study.blanks"));
    let wrong = told(json!({"spikes": [{"value": "nd"}], "blanks": good()}));
    assert!(wrong.contains("limits.mdl.study.spikes[0].value") && wrong.contains("\"ND\""), "{wrong}");
    let repeat = told(json!({"spikes": [{"value": 0.02}, {"value": "ND"}], "blanks": good()}));
    assert!(repeat.contains("it gives no limit") && repeat.contains("repeat the spikes"), "{repeat}");
    let half = told(json!({"spikes": [{"value": 0.02, "excluded": "spilt"}], "blanks": good()}));
    assert!(half.contains("excluded_by"), "{half}");
    let dates = told(
        json!({"spikes": [{"value": 0.02, "prepared_on": "2031-02-02", "analysed_on": "2031-02-01"}], "blanks": good()}),
    );
    assert!(dates.contains("before it was prepared"), "{dates}");
}
