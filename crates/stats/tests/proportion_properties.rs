//! What must hold for any counts: no reference needed.

#![expect(clippy::unwrap_used, reason = "a case that cannot be made is a failed test")]

use proptest::prelude::*;
use stats::dist::{
    beta_cdf, beta_quantile, binomial_cdf, binomial_pmf, binomial_quantile, binomial_sf, gamma_cdf,
    gamma_quantile, poisson_cdf, poisson_pmf,
};
use stats::proportion::{
    IntervalMethod, TwoByTwo, clean_trials_needed, clopper_pearson, conditional_odds_ratio,
    difference_newcombe, fisher_exact, interval, mid_p, poisson_exact, risk_ratio_score,
};
use stats::{ConfidenceLevel, Probability, Proportion};

fn counts(most: u64) -> impl Strategy<Value = Proportion> {
    (1..=most).prop_flat_map(|n| (0..=n, Just(n))).prop_map(|(x, n)| Proportion::new(x, n).unwrap())
}

fn levels() -> impl Strategy<Value = ConfidenceLevel> {
    (0.5..0.9999).prop_map(|level| ConfidenceLevel::new(level).unwrap())
}

fn methods() -> impl Strategy<Value = IntervalMethod> {
    prop::sample::select(IntervalMethod::ALL.to_vec())
}

proptest! {
    #[test]
    fn the_interval_contains_the_estimate_inside_zero_to_one(
        proportion in counts(1_000_000), level in levels(), method in methods(),
    ) {
        let found = interval(proportion, level, method);
        prop_assert!(found.contains(proportion.estimate()), "{found:?}");
        prop_assert!(0.0 <= found.lower() && found.upper() <= 1.0);
        prop_assert!(found.width() > 0.0);
    }

    #[test]
    fn extreme_levels_still_give_an_interval(
        proportion in counts(1_000_000), method in methods(), power in 0.5..15.0_f64, high in any::<bool>(),
    ) {
        let small = libm::pow(10.0, -power);
        let level = ConfidenceLevel::new(if high { 1.0 - small } else { small }).unwrap();
        let found = interval(proportion, level, method);
        prop_assert!(0.0 <= found.lower() && found.lower() <= found.upper() && found.upper() <= 1.0, "{found:?}");
        if high {
            prop_assert!(found.contains(proportion.estimate()), "{found:?}");
        }
    }

    #[test]
    fn the_interval_is_mirrored_with_the_events(
        proportion in counts(5_000), level in levels(), method in methods(),
    ) {
        let found = interval(proportion, level, method);
        let mirrored = interval(proportion.complement(), level, method);
        prop_assert!((found.lower() - (1.0 - mirrored.upper())).abs() < 1e-12);
        prop_assert!((found.upper() - (1.0 - mirrored.lower())).abs() < 1e-12);
    }

    #[test]
    fn the_bounds_grow_with_the_events(
        proportion in counts(5_000), level in levels(), method in methods(),
    ) {
        prop_assume!(proportion.non_events() > 0);
        let found = interval(proportion, level, method);
        let more = interval(Proportion::new(proportion.events() + 1, proportion.trials()).unwrap(), level, method);
        prop_assert!(found.lower() < more.lower() && found.upper() < more.upper(), "{found:?} {more:?}");
    }

    #[test]
    fn a_higher_level_gives_a_wider_interval(proportion in counts(5_000), method in methods()) {
        let narrow = interval(proportion, ConfidenceLevel::new(0.8).unwrap(), method);
        let wide = interval(proportion, ConfidenceLevel::new(0.99).unwrap(), method);
        prop_assert!(wide.lower() <= narrow.lower() && narrow.upper() <= wide.upper());
    }

    #[test]
    fn exact_bounds_invert_the_binomial_test(proportion in counts(20_000), level in levels()) {
        let (x, n) = (proportion.events(), proportion.trials());
        let tail = level.tail();
        let exact = clopper_pearson(proportion, level);
        let mid = mid_p(proportion, level);
        if x > 0 {
            let above = binomial_sf(x - 1, n, exact.lower());
            prop_assert!((above / tail - 1.0).abs() < 1e-9, "{above} {tail}");
            let above = binomial_sf(x, n, mid.lower()) + 0.5 * binomial_pmf(x, n, mid.lower());
            prop_assert!((above / tail - 1.0).abs() < 1e-9, "{above} {tail}");
        }
        if x < n {
            let below = binomial_cdf(x, n, exact.upper());
            prop_assert!((below / tail - 1.0).abs() < 1e-9, "{below} {tail}");
            let below = binomial_cdf(x, n, mid.upper()) - 0.5 * binomial_pmf(x, n, mid.upper());
            prop_assert!((below / tail - 1.0).abs() < 1e-9, "{below} {tail}");
        }
        // Mid-P gives half the weight to the outcome seen, so it lies inside.
        prop_assert!(exact.lower() <= mid.lower() && mid.upper() <= exact.upper());
    }

    #[test]
    fn exact_poisson_bounds_invert_the_poisson_tails(events in 0_u64..100_000, level in levels()) {
        let found = poisson_exact(events, 1.0, level).unwrap();
        prop_assert!(found.contains(events as f64));
        prop_assert!((poisson_cdf(events, found.upper()) / level.tail() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn probabilities_sum_to_one(n in 1_u64..400, p in 0.0001..0.9999_f64, mean in 0.01..200.0_f64) {
        let total: f64 = (0..=n).map(|k| binomial_pmf(k, n, p)).sum();
        prop_assert!((total - 1.0).abs() < 1e-12, "{total}");
        let total: f64 = (0..1_000).map(|k| poisson_pmf(k, mean)).sum();
        prop_assert!((total - 1.0).abs() < 1e-12, "{total}");
    }

    #[test]
    fn tails_add_to_one_and_match_the_sum(n in 1_u64..300, p in 0.0001..0.9999_f64, share in 0.0..1.0_f64) {
        let k = (share * n as f64) as u64;
        prop_assert!((binomial_cdf(k, n, p) + binomial_sf(k, n, p) - 1.0).abs() < 1e-12);
        let sum: f64 = (0..=k).map(|k| binomial_pmf(k, n, p)).sum();
        prop_assert!((binomial_cdf(k, n, p) - sum).abs() < 1e-12);
    }

    #[test]
    fn quantiles_invert_the_areas(a in 0.05..5_000.0_f64, b in 0.05..5_000.0_f64, p in 1e-6..0.999_999_f64) {
        let x = beta_quantile(a, b, p);
        prop_assert!((0.0..=1.0).contains(&x));
        // Within the last digits of x: the area on both sides of it brackets p.
        let (down, up) = (x * (1.0 - 1e-13), (x * (1.0 + 1e-13)).min(1.0));
        prop_assert!(beta_cdf(a, b, down) <= p * (1.0 + 1e-9) && p * (1.0 - 1e-9) <= beta_cdf(a, b, up));
        let x = gamma_quantile(a, p);
        prop_assert!((gamma_cdf(a, x) / p - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_binomial_quantile_is_the_first_to_reach(n in 1_u64..100_000, p in 0.0001..0.9999_f64, q in 0.0001..0.9999_f64) {
        let k = binomial_quantile(q, n, p);
        prop_assert!(binomial_cdf(k, n, p) >= q * (1.0 - 1e-10));
        prop_assert!(k == 0 || binomial_cdf(k - 1, n, p) < q * (1.0 + 1e-10));
    }

    #[test]
    fn a_difference_turns_its_sign_with_the_order(a in counts(500), b in counts(500), level in levels()) {
        let (ab, ba) = (difference_newcombe(a, b, level), difference_newcombe(b, a, level));
        prop_assert!((ab.lower() + ba.upper()).abs() < 1e-14 && (ab.upper() + ba.lower()).abs() < 1e-14);
        prop_assert!(ab.contains(a.estimate() - b.estimate()));
        prop_assert!(-1.0 <= ab.lower() && ab.upper() <= 1.0);
    }

    #[test]
    fn a_risk_ratio_turns_over_with_the_order(a in counts(300), b in counts(300), level in levels()) {
        let (ab, ba) = (risk_ratio_score(a, b, level), risk_ratio_score(b, a, level));
        if let Some(upper) = ab.upper {
            prop_assert!((upper * ba.lower - 1.0).abs() < 1e-8 || ba.lower == 0.0, "{ab:?} {ba:?}");
        } else {
            prop_assert_eq!(ba.lower, 0.0);
        }
        if let Some(ratio) = ab.ratio {
            prop_assert!(ab.lower <= ratio * (1.0 + 1e-12));
            prop_assert!(ab.upper.is_none_or(|upper| ratio <= upper * (1.0 + 1e-12)));
        }
    }

    #[test]
    fn fisher_is_mirrored_and_never_above_one(a in counts(200), b in counts(200)) {
        let (ab, ba) = (fisher_exact(TwoByTwo::new(a, b).unwrap()), fisher_exact(TwoByTwo::new(b, a).unwrap()));
        prop_assert!((ab.less.get() - ba.greater.get()).abs() < 1e-12);
        prop_assert!((ab.two_sided.get() - ba.two_sided.get()).abs() < 1e-12);
        prop_assert!(ab.two_sided.get() >= ab.less.get().min(ab.greater.get()) * (1.0 - 1e-12));
        prop_assert!(ab.less.get() + ab.greater.get() >= 1.0 - 1e-12);
    }

    #[test]
    fn an_exact_odds_ratio_lies_in_its_interval(a in counts(80), b in counts(80), level in levels()) {
        let found = conditional_odds_ratio(TwoByTwo::new(a, b).unwrap(), level);
        if let Some(ratio) = found.ratio {
            prop_assert!(found.lower <= ratio && found.upper.is_none_or(|upper| ratio <= upper), "{found:?}");
        }
    }

    #[test]
    fn trials_needed_is_the_first_that_is_enough(rate in 0.002..0.9_f64, allowed in 0_u64..6) {
        let confidence = ConfidenceLevel::default();
        let n = clean_trials_needed(Probability::new(rate).unwrap(), confidence, allowed).unwrap();
        prop_assert!(binomial_cdf(allowed, n, rate) <= 0.05 * (1.0 + 1e-9));
        prop_assert!(binomial_cdf(allowed, n - 1, rate) > 0.05 * (1.0 - 1e-9));
    }
}
