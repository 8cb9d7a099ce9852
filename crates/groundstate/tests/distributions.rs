//! The distributions against published figures and against their own laws.
#![allow(clippy::excessive_precision)]

use groundstate::numeric::distribution::{chi_squared, fisher_f, noncentral_t, normal, student_t};

/// Figures as others print them. Beside each, how it reached this file.
mod published {
    use super::*;

    fn near(got: f64, printed: f64, half_unit: f64) {
        assert!((got - printed).abs() <= half_unit, "{got} {printed}");
    }

    #[test]
    fn epa_detection_limit_factors() {
        // 40 CFR 425 appendix C as printed in Wis. Admin. Code NR 252.0365: transcribed.
        let table = [
            (6.0, 3.143),
            (7.0, 2.998),
            (8.0, 2.896),
            (9.0, 2.821),
            (10.0, 2.764),
            (12.0, 2.681),
            (15.0, 2.602),
            (20.0, 2.528),
            (25.0, 2.485),
            (30.0, 2.457),
            (60.0, 2.390),
            (f64::INFINITY, 2.326),
        ];
        for (dof, t) in table {
            near(student_t::quantile(0.99, dof), t, 5.01e-4);
        }
        // The limits of the detection limit, sqrt(dof / chi-squared): printed for 5 % at each end with
        // 6 degrees and for 2.5 % with 12.
        for (dof, end, lower, upper) in [(6.0, 0.05, 0.69, 1.92), (12.0, 0.025, 0.72, 1.65)] {
            near((dof / chi_squared::upper_quantile(end, dof)).sqrt(), lower, 5.01e-3);
            near((dof / chi_squared::quantile(end, dof)).sqrt(), upper, 5.01e-3);
        }
    }

    #[test]
    fn gum_table_g2() {
        // JCGM 100:2008, table G.2, from memory: t for 95.45 % and 99.73 % are those of k = 2 and k = 3.
        for (coverage, dof, k) in [
            (0.95, 1.0, 12.71),
            (0.95, 4.0, 2.78),
            (0.95, 10.0, 2.23),
            (0.95, 50.0, 2.01),
            (0.9545, 10.0, 2.28),
            (0.9973, 10.0, 3.96),
            (0.99, 16.0, 2.92),
            (0.9545, f64::INFINITY, 2.000),
        ] {
            near(student_t::coverage_factor(coverage, dof), k, 5.01e-3);
        }
    }

    #[test]
    fn detection_multipliers() {
        // Currie, Pure Appl. Chem. 67 (1995) 1699 and ISO 11843-2: 1.645, 3.29, 2.132 and 4.07, from memory; further
        // digits recomputed at 50.
        near(normal::quantile(0.95), 1.645, 5e-4);
        near(noncentral_t::noncentrality(f64::INFINITY, 0.05, 0.05), 3.289_707_253_902_945_4, 1e-12);
        near(student_t::quantile(0.95, 4.0), 2.131_846_786_326_650_3, 1e-14);
        for (dof, delta) in [
            (4.0, 4.067_275_641_161_392_5),
            (5.0, 3.869_941_812_242_101_3),
            (9.0, 3.575_384_834_044_819_1),
            (10.0, 3.543_040_849_041_255_9),
            (20.0, 3.408_323_830_403_719_2),
        ] {
            near(noncentral_t::noncentrality(dof, 0.05, 0.05), delta, 4e-12);
        }
    }

    #[test]
    fn iso_8466_variance_ratio() {
        // F(9, 9; 99 %) = 5.35, ISO 8466-1:1990, from memory.
        near(fisher_f::upper_quantile(0.01, 9.0, 9.0), 5.35, 5.01e-3);
    }
}

mod laws {
    use super::*;
    use proptest::prelude::*;

    /// Relative distance, on the scale of the wanted value.
    fn off(got: f64, wanted: f64) -> f64 {
        ((got - wanted) / wanted).abs()
    }

    /// Degrees of freedom from half to a thousand million, by orders of magnitude.
    fn dof() -> impl Strategy<Value = f64> {
        (-0.3..9.0).prop_map(|e: f64| libm::exp10(e))
    }

    fn moderate() -> impl Strategy<Value = f64> {
        (-0.3..4.0).prop_map(|e: f64| libm::exp10(e))
    }

    /// A tail from 1e-200 up to a half.
    fn tail() -> impl Strategy<Value = f64> {
        prop_oneof![0.001..0.5, (-200.0..-3.0).prop_map(|e: f64| libm::exp10(e))]
    }

    // A quantile is rounded to a double, which moves the tail by (rate of ln tail with ln x) * 1e-16: for the thin
    // tails here up to about 1e3 * 1e-16 for t and the normal, more for chi-squared and F with many degrees.
    proptest! {
        #[test]
        fn normal_tail_of_its_quantile(q in tail()) {
            prop_assert!(off(normal::sf(normal::upper_quantile(q)), q) < 1e-12);
            prop_assert!(off(normal::cdf(normal::quantile(q)), q) < 1e-12);
        }

        #[test]
        fn t_tail_of_its_quantile(q in tail(), dof in dof()) {
            let t = student_t::upper_quantile(q, dof);
            prop_assume!(t.is_finite());
            prop_assert!(off(student_t::sf(t, dof), q) < 1e-12);
            prop_assert!(off(student_t::quantile(q, dof), -t) < 1e-15);
        }

        #[test]
        fn chi_squared_tails_of_their_quantiles(q in tail(), dof in moderate()) {
            prop_assert!(off(chi_squared::sf(chi_squared::upper_quantile(q, dof), dof), q) < 1e-11);
            let x = chi_squared::quantile(q, dof);
            prop_assume!(x > 1e-290);
            prop_assert!(off(chi_squared::cdf(x, dof), q) < 1e-11);
        }

        #[test]
        fn f_tails_of_their_quantiles(q in tail(), d1 in moderate(), d2 in moderate()) {
            for (x, back) in [
                (fisher_f::upper_quantile(q, d1, d2), fisher_f::sf as fn(f64, f64, f64) -> f64),
                (fisher_f::quantile(q, d1, d2), fisher_f::cdf),
            ] {
                if x > 1e-290 && x < 1e290 {
                    prop_assert!(off(back(x, d1, d2), q) < 1e-11, "{x:e}");
                }
            }
        }

        #[test]
        fn f_turned_round_is_its_reciprocal(x in 0.01..100.0, d1 in moderate(), d2 in moderate()) {
            let (one, two) = (fisher_f::cdf(x, d1, d2), fisher_f::sf(1.0 / x, d2, d1));
            prop_assume!(one > 1e-290);
            // 1/x is rounded, and a tail of 1e-290 turns on that by 1e3.
            prop_assert!(off(one, two) < 1e-11);
        }

        #[test]
        fn t_squared_is_f(t in 0.01..50.0, dof in moderate()) {
            let two_sided = student_t::two_sided(t, dof);
            prop_assume!(two_sided > 1e-290);
            prop_assert!(off(fisher_f::sf(t * t, 1.0, dof), two_sided) < 1e-12);
        }

        #[test]
        fn f_over_infinite_degrees_is_chi_squared(x in 0.01..20.0, d1 in moderate()) {
            let (f, chi) = (fisher_f::sf(x, d1, f64::INFINITY), chi_squared::sf(x * d1, d1));
            prop_assert!((f - chi).abs() <= 1e-12 * chi);
        }

        #[test]
        fn tails_sum_to_one_and_mirror(t in -60.0..60.0, dof in dof()) {
            prop_assert!((student_t::cdf(t, dof) + student_t::sf(t, dof) - 1.0).abs() < 1e-14);
            prop_assert!((student_t::cdf(t, dof) - student_t::sf(-t, dof)).abs() <= 0.0);
            prop_assert!((normal::cdf(t) + normal::sf(t) - 1.0).abs() < 1e-15);
        }

        #[test]
        fn t_quantiles_rise_with_the_probability_and_fall_with_the_degrees(q in tail(), dof in dof()) {
            let t = student_t::upper_quantile(q, dof);
            prop_assume!(t.is_finite());
            prop_assert!(student_t::upper_quantile(0.9 * q, dof) > t);
            prop_assert!(student_t::upper_quantile(q, 1.1 * dof) <= t * (1.0 + 1e-14));
            prop_assert!(normal::upper_quantile(q) <= t * (1.0 + 1e-14));
        }

        #[test]
        fn noncentral_t_without_noncentrality_is_central(t in -20.0..20.0, dof in moderate()) {
            prop_assert!(off(noncentral_t::cdf(t, dof, 0.0), student_t::cdf(t, dof)) < 1e-12);
        }

        #[test]
        fn noncentral_t_mirrors(t in -20.0..20.0, dof in moderate(), delta in -8.0..8.0) {
            let (one, two) = (noncentral_t::cdf(t, dof, delta), noncentral_t::sf(-t, dof, -delta));
            prop_assume!(one > 1e-290);
            prop_assert!(off(one, two) < 1e-12);
            prop_assert!((one + noncentral_t::sf(t, dof, delta) - 1.0).abs() < 1e-12);
        }

        #[test]
        fn noncentral_t_tail_of_its_quantile(p in 0.0001..0.9999, dof in moderate(), delta in -8.0..8.0) {
            let t = noncentral_t::quantile(p, dof, delta);
            prop_assert!(off(noncentral_t::cdf(t, dof, delta), p) < 1e-11);
        }
    }

    #[test]
    fn t_with_infinite_degrees_is_normal() {
        for q in [0.4, 0.05, 1e-9, 1e-100] {
            assert!(off(student_t::upper_quantile(q, f64::INFINITY), normal::upper_quantile(q)) <= 0.0);
            // From above: the difference is z(z^2 + 1)/(4 dof) at first order.
            assert!(off(student_t::upper_quantile(q, 1e16), normal::upper_quantile(q)) < 1e-13);
        }
        assert!(off(student_t::coverage_factor(0.95, f64::INFINITY), 1.959_963_984_540_054_2) < 1e-15);
        assert!(off(noncentral_t::cdf(1.0, f64::INFINITY, 2.5), normal::cdf(-1.5)) < 1e-15);
    }

    #[test]
    fn closed_forms() {
        // One degree of freedom is Cauchy's distribution, two have t = z / sqrt(2 p (1 - p)), z = 2p - 1.
        assert!(off(student_t::quantile(0.75, 1.0), 1.0) < 1e-14);
        assert!(off(student_t::quantile(0.975, 2.0), 0.95 / f64::sqrt(2.0 * 0.975 * 0.025)) < 1e-14);
        // Chi-squared with two degrees is exponential.
        assert!(off(chi_squared::sf(60.0, 2.0), libm::exp(-30.0)) < 1e-14);
        // F(2, 2): cdf x/(1 + x).
        assert!(off(fisher_f::cdf(3.0, 2.0, 2.0), 0.75) < 1e-14);
    }

    fn same(got: f64, wanted: f64) {
        assert_eq!(got.to_bits(), wanted.to_bits(), "{got} {wanted}");
    }

    #[test]
    fn ends_and_impossible_arguments() {
        same(student_t::quantile(0.5, 3.0).abs(), 0.0);
        same(student_t::quantile(1.0, 3.0), f64::INFINITY);
        same(student_t::quantile(0.0, 3.0), f64::NEG_INFINITY);
        same(normal::quantile(0.0), f64::NEG_INFINITY);
        same(chi_squared::quantile(0.0, 3.0), 0.0);
        same(chi_squared::quantile(1.0, 3.0), f64::INFINITY);
        same(fisher_f::upper_quantile(0.0, 3.0, 4.0), f64::INFINITY);
        same(fisher_f::cdf(-1.0, 3.0, 4.0), 0.0);
        same(noncentral_t::quantile(0.0, 3.0, 1.0), f64::NEG_INFINITY);
        same(student_t::sf(f64::INFINITY, 3.0), 0.0);
        // Too far out for a number: 1e-300 with half a degree of freedom lies near 1e600.
        same(student_t::upper_quantile(1e-300, 0.5), f64::INFINITY);
        for wrong in [-0.1, 1.1, f64::NAN] {
            assert!(student_t::quantile(wrong, 3.0).is_nan());
            assert!(normal::quantile(wrong).is_nan());
            assert!(chi_squared::upper_quantile(wrong, 3.0).is_nan());
            assert!(fisher_f::quantile(wrong, 3.0, 3.0).is_nan());
            assert!(noncentral_t::quantile(wrong, 3.0, 0.0).is_nan());
            assert!(noncentral_t::noncentrality(3.0, wrong, 0.05).is_nan());
        }
        for dof in [0.0, -1.0, f64::NAN, f64::NEG_INFINITY] {
            assert!(student_t::sf(1.0, dof).is_nan() && student_t::quantile(0.9, dof).is_nan());
            assert!(chi_squared::cdf(1.0, dof).is_nan() && fisher_f::sf(1.0, 3.0, dof).is_nan());
            assert!(noncentral_t::cdf(1.0, dof, 0.0).is_nan());
        }
        assert!(student_t::cdf(f64::NAN, 3.0).is_nan());
    }
}
