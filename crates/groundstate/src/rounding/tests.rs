use super::*;
use proptest::prelude::*;

fn figures(count: u8) -> Rule {
    Rule::new(Rounding::figures(count).unwrap())
}

fn decimals(count: u8) -> Rule {
    Rule::new(Rounding::decimals(count).unwrap())
}

fn text(rule: Rule, value: f64) -> String {
    rule.round(value, None).unwrap().to_string()
}

/// Published examples, source by source; the files are those of `gs.validate()`.
const PUBLISHED: [&str; 9] = [
    include_str!("../../../../python/groundstate/cases/rounding-asme-a112.json"),
    include_str!("../../../../python/groundstate/cases/rounding-astm-e29-manual.json"),
    include_str!("../../../../python/groundstate/cases/rounding-cicc.json"),
    include_str!("../../../../python/groundstate/cases/rounding-fsu.json"),
    include_str!("../../../../python/groundstate/cases/rounding-hartnell.json"),
    include_str!("../../../../python/groundstate/cases/rounding-is2.json"),
    include_str!("../../../../python/groundstate/cases/rounding-iso80000-1.json"),
    include_str!("../../../../python/groundstate/cases/rounding-nist-sp811.json"),
    include_str!("../../../../python/groundstate/cases/rounding-vedclass.json"),
];

#[test]
fn published_examples() {
    let (mut compared, mut misprints) = (0, 0);
    for text_of_file in PUBLISHED {
        let file: serde_json::Value = serde_json::from_str(text_of_file).unwrap();
        misprints += file.get("differs").map_or(0, |listed| listed.as_object().unwrap().len());
        for (i, example) in file["input"]["examples"].as_array().unwrap().iter().enumerate() {
            let word = |key: &str| example[key].as_str().unwrap();
            let rounded = file["expected"][format!("rounded.{i}")].as_str().unwrap();
            let ties = [Ties::HalfEven, Ties::HalfUp].into_iter().find(|ties| ties.name() == word("ties")).unwrap();
            let rule = Rule { rounding: Rounding::quantum(word("quantum").parse().unwrap()).unwrap(), ties };
            let value: f64 = word("value").parse().unwrap();
            assert_eq!(text(rule, value), rounded, "{example}");
            assert_eq!(text(rule, -value), format!("-{rounded}"), "{example}");
            compared += 1;
        }
    }
    assert_eq!((compared, misprints), (58, 2));
}

#[test]
fn ties_are_those_of_the_written_decimal() {
    for (value, even, up) in
        [(2.675, "2.68", "2.68"), (1.005, "1.00", "1.01"), (0.125, "0.12", "0.13"), (1.115, "1.12", "1.12")]
    {
        assert_eq!(text(decimals(2), value), even);
        assert_eq!(text(Rule { ties: Ties::HalfUp, ..decimals(2) }, value), up);
    }
}

#[test]
fn figures_carry_without_gaining_one() {
    for (count, value, expected) in [
        (2, 0.0998, "0.10"),
        (2, 9.96, "10"),
        (3, 9.996, "10.0"),
        (1, 0.96, "1"),
        (2, 999.0, "1000"),
        (3, 0.12, "0.120"),
        (3, 1234.0, "1230"),
        (3, 0.0, "0.00"),
        (1, 0.0, "0"),
        (4, -0.000_012_345, "-0.00001234"),
    ] {
        assert_eq!(text(figures(count), value), expected, "{value} to {count}");
    }
}

#[test]
fn minus_zero_is_never_printed() {
    assert_eq!(text(decimals(2), -0.004), "0.00");
    assert_eq!(text(decimals(2), -0.0), "0.00");
    assert_eq!(text(figures(3), -0.0), "0.00");
    assert_eq!(decimals(2).round(-0.004, None).unwrap().value().to_bits(), 0.0_f64.to_bits());
    assert_eq!(decimals(1).pair(-0.01, 0.2).unwrap().to_string(), "0.0 ± 0.2");
}

#[test]
fn exponents_only_outside_one_millionth_to_ten_million() {
    for (rule, value, expected) in [
        (figures(3), 1e-6, "0.00000100"),
        (figures(3), 9.99e-7, "9.99e-7"),
        (figures(3), 9_994_000.0, "9990000"),
        (figures(3), 9_996_000.0, "1.00e7"),
        (figures(3), 5e-324, "5.00e-324"),
        (figures(3), 2.225_073_858_507_201e-308, "2.23e-308"),
        (figures(14), -1.797_693_134_862_315_7e308, "-1.7976931348623e308"),
        (decimals(2), 1e300, "1.0000000000000000e300"),
        (decimals(15), 1e-15, "1e-15"),
        (decimals(0), 2.5, "2"),
    ] {
        assert_eq!(text(rule, value), expected);
    }
    // Fifteen figures round the largest number up, past the largest number.
    assert_eq!(figures(15).round(f64::MAX, None).unwrap_err().kind(), Kind::Limit);
    assert_eq!(text(Rule::new(Rounding::quantum(1e-300).unwrap()), 0.25), "0.2500000000000000000000");
}

#[test]
fn steps_of_two_five_and_twenty_five() {
    for (step, value, expected) in [
        (0.05, 0.125, "0.10"),
        (0.05, 0.175, "0.20"),
        (0.25, 0.375, "0.50"),
        (0.25, 1.0, "1.00"),
        (0.02, 0.11, "0.12"),
        (20.0, 110.0, "120"),
        (2.5, 6.0, "5.0"),
        (25.0, 1e6, "1000000"),
    ] {
        assert_eq!(text(Rule::new(Rounding::quantum(step).unwrap()), value), expected, "{value} by {step}");
    }
    for step in [0.0, -0.1, 0.3, f64::NAN, f64::INFINITY, 0.125] {
        assert_eq!(Rounding::quantum(step).unwrap_err().kind(), Kind::Argument);
    }
}

/// JCGM 100:2008, 7.2.6: the resistor 10.057 62 ohm with u = 27 milliohm is to be rounded to 10.058 ohm.
#[test]
fn the_value_takes_the_place_of_its_uncertainty() {
    let two = Rule::new(Rounding::uncertainty(2).unwrap());
    assert_eq!(two.pair(10.057_62, 0.027).unwrap().to_string(), "10.058 ± 0.027");
    // JCGM 100:2008, 7.2.2: m_S = 100.021 47 g with u_c = 0.35 mg.
    assert_eq!(two.pair(100.021_47, 0.000_35).unwrap().to_string(), "100.02147 ± 0.00035");
    assert_eq!(two.pair(1.2345, 0.0996).unwrap().to_string(), "1.23 ± 0.10");
    assert_eq!(two.pair(123.4, 99.6).unwrap().to_string(), "120 ± 100");
    assert_eq!(two.pair(1.2345e-8, 4.5e-10).unwrap().to_string(), "(1.234 ± 0.045)e-8");
    assert_eq!(two.pair(0.0, 4.5e-10).unwrap().to_string(), "(0.0 ± 4.5)e-10");
    let one = Rule::new(Rounding::uncertainty(1).unwrap());
    assert_eq!(one.pair(1.2345, 0.096).unwrap().to_string(), "1.2 ± 0.1");
    assert_eq!(one.round(1.2345, Some(0.02)).unwrap().to_string(), "1.23");
}

#[test]
fn with_other_rules_a_small_uncertainty_keeps_one_figure() {
    assert_eq!(figures(3).pair(1.2345, 0.0567).unwrap().to_string(), "1.23 ± 0.06");
    assert_eq!(figures(3).pair(1.2345, 0.000_42).unwrap().to_string(), "1.23 ± 0.0004");
    assert_eq!(figures(3).pair(1.0, 1.5e-30).unwrap().to_string(), "1.00 ± 2e-30");
    assert_eq!(figures(3).pair(2e9, 1e-30).unwrap().to_string(), "(2.00 ± 1e-39)e9");
    assert_eq!(figures(3).pair(1.2345, 0.0).unwrap().to_string(), "1.23 ± 0.00");
}

#[test]
fn what_cannot_be_rounded_is_an_error() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(figures(3).round(value, None).unwrap_err().kind(), Kind::Argument);
        assert_eq!(figures(3).distinguishing(1.0, None, &[value]).unwrap_err().kind(), Kind::Argument);
        assert_eq!(figures(3).pair(1.0, value).unwrap_err().kind(), Kind::Argument);
    }
    let by_u = Rule::new(Rounding::uncertainty(2).unwrap());
    for uncertainty in [None, Some(0.0), Some(-0.1), Some(f64::NAN)] {
        assert_eq!(by_u.round(1.0, uncertainty).unwrap_err().kind(), Kind::Argument);
    }
    assert_eq!(figures(3).pair(1.0, -0.1).unwrap_err().kind(), Kind::Argument);
    assert!(Rounding::figures(0).is_err() && Rounding::figures(16).is_err());
    assert!(Rounding::decimals(16).is_err() && Rounding::uncertainty(3).is_err());
}

#[test]
fn text_never_contradicts_its_flag() {
    for (rule, value, limit, expected) in [
        (figures(2), 0.5004, 0.5, "0.5004"),
        (figures(2), 0.4996, 0.5, "0.4996"),
        (figures(2), 0.5, 0.5, "0.50"),
        (figures(2), 0.1234, 0.1234, "0.1234"),
        (figures(3), 89.96, 90.0, "89.96"),
        (figures(2), 9.96, 10.0, "9.96"),
        (decimals(1), 20.04, 20.0, "20.04"),
        (decimals(1), -0.04, 0.0, "-0.04"),
        (decimals(1), 100.0 * 1.1, 110.0, "110.0"),
        (decimals(0), 25.0, 20.0, "25"),
    ] {
        assert_eq!(rule.distinguishing(value, None, &[limit]).unwrap().to_string(), expected, "{value} {limit}");
    }
    assert_eq!(figures(1).distinguishing(0.14, None, &[0.1, 0.135, 2.0]).unwrap().to_string(), "0.14");
    assert_eq!(figures(1).distinguishing(0.14, None, &[]).unwrap().to_string(), "0.1");
}

fn rules() -> impl Strategy<Value = Rule> {
    let rounding = prop_oneof![
        (1..=15_u8).prop_map(|count| Rounding::figures(count).unwrap()),
        (0..=15_u8).prop_map(|count| Rounding::decimals(count).unwrap()),
        (prop::sample::select(vec![1_u8, 2, 5, 25]), -9..5_i32)
            .prop_map(|(multiple, power)| Rounding::quantum(format!("{multiple}e{power}").parse().unwrap()).unwrap()),
    ];
    (rounding, prop::sample::select(vec![Ties::HalfEven, Ties::HalfUp]))
        .prop_map(|(rounding, ties)| Rule { rounding, ties })
}

/// Decimals of up to nine figures, so that every rounding of them is exact in 15.
fn written() -> impl Strategy<Value = f64> {
    (-999_999_999..=999_999_999_i64, -12..6_i32).prop_map(|(count, power)| format!("{count}e{power}").parse().unwrap())
}

proptest! {
    #[test]
    fn rounding_twice_is_rounding_once(rule in rules(), value in written()) {
        let once = rule.round(value, None).unwrap();
        prop_assert_eq!(rule.round(once.value(), None).unwrap().to_string(), once.to_string());
    }

    #[test]
    fn text_reads_back_as_the_rounded_value(rule in rules(), value in written()) {
        let rounded = rule.round(value, None).unwrap();
        prop_assert_eq!(rounded.to_string().parse::<f64>().unwrap().to_bits(), rounded.value().to_bits());
    }

    #[test]
    fn rounding_keeps_the_order(rule in rules(), a in written(), b in written()) {
        let [a, b] = [a.min(b), a.max(b)].map(|value| rule.round(value, None).unwrap().value());
        prop_assert!(a <= b);
    }

    #[test]
    fn rounding_moves_by_half_a_quantum_at_most(rule in rules(), value in written()) {
        let rounded = rule.round(value, None).unwrap();
        let quantum = match rule.rounding {
            Rounding::Quantum(quantum) => quantum.get(),
            _ => format!("1e{}", rounded.place()).parse().unwrap(),
        };
        // The difference of two nearby doubles carries their own rounding, one part in 2^53 each.
        let slack = f64::EPSILON * value.abs();
        prop_assert!((rounded.value() - value).abs() <= 0.5 * quantum + slack);
    }

    #[test]
    fn signs_are_treated_alike(rule in rules(), value in written()) {
        let (plus, minus) = (rule.round(value, None).unwrap(), rule.round(-value, None).unwrap());
        prop_assert_eq!(plus.value().abs().to_bits(), minus.value().abs().to_bits());
    }

    #[test]
    fn any_number_has_a_text_or_an_error(rule in rules(), bits in any::<u64>(), other in any::<u64>()) {
        let (value, other) = (f64::from_bits(bits), f64::from_bits(other));
        if let Ok(rounded) = rule.round(value, None) {
            prop_assert!(rounded.to_string().len() < 50);
            prop_assert!(!rounded.to_string().starts_with("-0.00") || !rounded.is_zero());
        }
        let _ = rule.pair(value, other).map(|pair| pair.to_string());
        if let Ok(rounded) = rule.distinguishing(value, None, &[other]) {
            prop_assert!(rounded.value().is_finite());
        }
    }

    #[test]
    fn a_distinguished_value_stays_on_its_side(rule in rules(), value in written(), limit in written()) {
        let shown: f64 = rule.distinguishing(value, None, &[limit]).unwrap().to_string().parse().unwrap();
        // Nine-figure decimals that differ at all differ by more than the 1e-12 guard.
        prop_assert_eq!(shown.partial_cmp(&limit), value.partial_cmp(&limit));
    }
}
