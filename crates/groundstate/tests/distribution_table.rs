//! The distributions against integrals of their densities at 50 digits: tests/reference/distributions, written by
//! tests/generators/distributions.py.

use groundstate::numeric::distribution::{chi_squared, fisher_f, noncentral_t, normal, student_t};

/// A distribution, a function, its arguments, and the value to 20 digits.
type Row = (String, String, Vec<f64>, String);

fn compute(distribution: &str, function: &str, args: &[f64]) -> f64 {
    match (distribution, function, args) {
        ("normal", "cdf", [z]) => normal::cdf(*z),
        ("normal", "sf", [z]) => normal::sf(*z),
        ("normal", "quantile", [p]) => normal::quantile(*p),
        ("normal", "upper_quantile", [q]) => normal::upper_quantile(*q),
        ("student_t", "cdf", [t, dof]) => student_t::cdf(*t, *dof),
        ("student_t", "sf", [t, dof]) => student_t::sf(*t, *dof),
        ("student_t", "quantile", [p, dof]) => student_t::quantile(*p, *dof),
        ("student_t", "upper_quantile", [q, dof]) => student_t::upper_quantile(*q, *dof),
        ("chi_squared", "cdf", [x, dof]) => chi_squared::cdf(*x, *dof),
        ("chi_squared", "sf", [x, dof]) => chi_squared::sf(*x, *dof),
        ("chi_squared", "quantile", [p, dof]) => chi_squared::quantile(*p, *dof),
        ("chi_squared", "upper_quantile", [q, dof]) => chi_squared::upper_quantile(*q, *dof),
        ("fisher_f", "cdf", [f, d1, d2]) => fisher_f::cdf(*f, *d1, *d2),
        ("fisher_f", "sf", [f, d1, d2]) => fisher_f::sf(*f, *d1, *d2),
        ("fisher_f", "quantile", [p, d1, d2]) => fisher_f::quantile(*p, *d1, *d2),
        ("fisher_f", "upper_quantile", [q, d1, d2]) => fisher_f::upper_quantile(*q, *d1, *d2),
        ("noncentral_t", "cdf", [t, dof, delta]) => noncentral_t::cdf(*t, *dof, *delta),
        ("noncentral_t", "sf", [t, dof, delta]) => noncentral_t::sf(*t, *dof, *delta),
        ("noncentral_t", "noncentrality", [dof, alpha, beta]) => noncentral_t::noncentrality(*dof, *alpha, *beta),
        _ => panic!("the table holds {distribution} {function} {args:?}, which no arm computes"),
    }
}

fn check(table: &str, least: usize) {
    let table: Vec<Row> = serde_json::from_str(table).expect("the table reads");
    assert!(table.len() >= least, "the table is whole");
    let mut wrong = Vec::new();
    for (distribution, function, args, value) in &table {
        let expected: f64 = value.parse().expect("a number");
        let got = compute(distribution, function, args);
        let error = ((got - expected) / expected).abs();
        if error > 1e-12 || error.is_nan() {
            wrong.push(format!("{error:8.1e} {distribution} {function} {args:?} {got:e} {expected:e}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {}\n{}", wrong.len(), table.len(), wrong.join("\n"));
}

#[test]
fn normal_to_twelve_digits() {
    check(include_str!("../../../tests/reference/distributions/normal.json"), 70);
}

#[test]
fn student_t_to_twelve_digits() {
    check(include_str!("../../../tests/reference/distributions/student.json"), 880);
}

#[test]
fn chi_squared_to_twelve_digits() {
    check(include_str!("../../../tests/reference/distributions/chi.json"), 790);
}

#[test]
fn fisher_f_to_twelve_digits() {
    check(include_str!("../../../tests/reference/distributions/fisher.json"), 750);
}

#[test]
fn noncentral_t_to_twelve_digits() {
    check(include_str!("../../../tests/reference/distributions/noncentral.json"), 250);
}
