//! Run lengths held against slower and more obvious ways: every outcome string, and the full linear system.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;

use stats::Probability;
use stats::sequential::{
    NormalCusum, RisesOn, Sides, SprtVerdict, TwoStepCusum, lattice_cusum, log_likelihood_cusum,
    normal_mean_run_length, sequential_ratio_test, sprt_characteristics, two_step_mean_run_length,
    two_step_run_length, two_step_signal_within,
};

fn p(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

/// The chance of a signal within n, by running the chart over all 2ⁿ strings of outcomes.
fn signal_within_by_enumeration(chart: TwoStepCusum, rate: f64, n: u32) -> f64 {
    let mut total = 0.0;
    for bits in 0..1u32 << n {
        let outcomes: Vec<bool> = (0..n).map(|i| bits >> i & 1 == 1).collect();
        if chart.first_signal(&outcomes).is_some() {
            let events = bits.count_ones() as i32;
            total += rate.powi(events) * (1.0 - rate).powi(n as i32 - events);
        }
    }
    total
}

/// The mean run length of a lattice chart by solving L = 1 + P·L over all whole sums below the limit.
fn mean_by_linear_system(m: usize, limit: usize, rate: f64) -> f64 {
    let mut system = DMatrix::<f64>::identity(limit, limit);
    for sum in 0..limit {
        system[(sum, sum.saturating_sub(1))] -= 1.0 - rate;
        if sum + m - 1 < limit {
            system[(sum, sum + m - 1)] -= rate;
        }
    }
    system.lu().solve(&DVector::from_element(limit, 1.0)).unwrap()[0]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn lattice_mean_solves_the_linear_system(m in 2usize..40, limit in 1usize..120, rate in 0.01f64..0.99) {
        let chart = lattice_cusum(m as u32, limit as u32).unwrap();
        let found = two_step_mean_run_length(chart, p(rate)).unwrap().unwrap();
        // Beyond this the plain solve has no digits left; at 1e17 it has been seen to answer below zero.
        prop_assume!(found < 1e8);
        let expected = mean_by_linear_system(m, limit, rate);
        // The plain solve loses digits in proportion to the mean itself; the cycle method does not.
        let tolerance = 1e-11 + 1e-15 * expected;
        prop_assert!((found / expected - 1.0).abs() < tolerance, "{found} {expected}");
    }

    #[test]
    fn longer_limits_run_longer(rate in 0.005f64..0.3, ratio in 1.2f64..5.0, limit in 0.5f64..4.0, more in 0.01f64..1.0) {
        let chart = log_likelihood_cusum(p(rate), ratio, limit).unwrap();
        let mean = |chart, rate| two_step_mean_run_length(chart, p(rate)).unwrap().unwrap();
        let at_rate = mean(chart, rate);
        prop_assert!(mean(chart.with_limit(limit + more).unwrap(), rate) >= at_rate);
        // More events, an earlier signal; a head start, an earlier signal.
        prop_assert!(mean(chart, rate * 1.5) < at_rate);
        prop_assert!(mean(chart.with_head_start(limit / 2.0).unwrap(), rate) <= at_rate * (1.0 + 1e-12));
        prop_assert!(at_rate >= chart.fewest_to_signal() as f64);
    }

    #[test]
    fn normal_charts_run_shorter_further_off(k in 0.0f64..1.5, h in 0.5f64..6.0, shift in -0.5f64..3.0) {
        let chart = NormalCusum::new(k, h).unwrap();
        let one = normal_mean_run_length(chart, shift, Sides::One).unwrap();
        prop_assert!(normal_mean_run_length(chart, shift + 0.25, Sides::One).unwrap() < one);
        let two = normal_mean_run_length(chart, shift, Sides::Two).unwrap();
        // Far off target the lower sum plays no part and the two are equal to rounding.
        prop_assert!(two <= one * (1.0 + 1e-12));
        let mirrored = normal_mean_run_length(chart, -shift, Sides::Two).unwrap();
        prop_assert!((two / mirrored - 1.0).abs() < 1e-12);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn chances_are_those_of_all_strings(
        rise in 0.05f64..2.0, fall in 0.05f64..2.0, limit in 0.3f64..3.0, start in 0.0f64..0.99,
        rate in 0.02f64..0.98, on_event in any::<bool>(),
    ) {
        let rises_on = if on_event { RisesOn::Event } else { RisesOn::NonEvent };
        let chart =
            TwoStepCusum::new(rise, fall, limit, rises_on).unwrap().with_head_start(start * limit).unwrap();
        let run = two_step_run_length(chart, p(rate)).unwrap().unwrap();
        for n in [1, 5, 12] {
            let expected = signal_within_by_enumeration(chart, rate, n);
            let found = two_step_signal_within(chart, p(rate), u64::from(n)).unwrap().get();
            prop_assert!((found - expected).abs() < 1e-12, "{n}: {found} {expected}");
            prop_assert!((run.signal_within(u64::from(n)) - expected).abs() < 1e-12, "{n}");
        }
    }

    #[test]
    fn sequential_test_chances_are_those_of_all_strings(
        p0 in 0.02f64..0.5, ratio in 1.3f64..2.0, alpha in 0.05f64..0.45, beta in 0.05f64..0.45, rate in 0.0f64..=1.0,
    ) {
        let test = sequential_ratio_test(p(p0), p(p0 * ratio * 0.9999), p(alpha), p(beta)).unwrap();
        let n = 12u32;
        let (mut says_p1, mut says_p0, mut mean) = (0.0, 0.0, 0.0);
        for bits in 0..1u32 << n {
            let outcomes: Vec<bool> = (0..n).map(|i| bits >> i & 1 == 1).collect();
            let events = bits.count_ones() as i32;
            let chance = rate.powi(events) * (1.0 - rate).powi(n as i32 - events);
            let (verdict, taken) = test.verdict(&outcomes);
            mean += chance * taken as f64;
            match verdict {
                SprtVerdict::P1 => says_p1 += chance,
                SprtVerdict::P0 => says_p0 += chance,
                SprtVerdict::Undecided => (),
            }
        }
        let found = sprt_characteristics(&test, p(rate), u64::from(n)).unwrap();
        prop_assert!((found.says_p1 - says_p1).abs() < 1e-12);
        prop_assert!((found.says_p0 - says_p0).abs() < 1e-12);
        prop_assert!((found.mean_observations - mean).abs() < 1e-10);
        prop_assert!((found.says_p1 + found.says_p0 + found.undecided - 1.0).abs() < 1e-12);
    }
}

/// Wald 1945: the real chances of error stay below α/(1 − β) and β/(1 − α) (from memory).
#[test]
fn walds_bounds_hold() {
    let test = sequential_ratio_test(p(0.03), p(0.10), p(0.05), p(0.10)).unwrap();
    let at_p0 = sprt_characteristics(&test, p(0.03), 100_000).unwrap();
    let at_p1 = sprt_characteristics(&test, p(0.10), 100_000).unwrap();
    assert!(at_p0.undecided < 1e-12 && at_p1.undecided < 1e-12);
    assert!(at_p0.says_p1 > 0.02 && at_p0.says_p1 <= 0.05 / 0.90, "{at_p0:?}");
    assert!(at_p1.says_p0 > 0.05 && at_p1.says_p0 <= 0.10 / 0.95, "{at_p1:?}");
}
