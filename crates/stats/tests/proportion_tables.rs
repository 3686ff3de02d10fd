//! Published intervals, exact tests and sample sizes, with source and mark beside each.
//!
//! Marks: `seen` read in the source itself, `seen2` in a second source that quotes it, `calc` computed from the
//! stated inputs by another program, `memory` recalled and not confirmed.

#![expect(clippy::unwrap_used, reason = "a table row that cannot be made is a failed test")]

use stats::proportion::{
    IntervalMethod, TwoByTwo, clean_trials_needed, clopper_pearson, conditional_odds_ratio,
    difference_newcombe, fisher_exact, interval, one_sided_sample_size, poisson_exact, rule_of_three,
    zero_failure_upper,
};
use stats::{ConfidenceLevel, Interval, Probability, Proportion};

fn of(events: u64, trials: u64) -> Proportion {
    Proportion::new(events, trials).unwrap()
}

fn p(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

fn level(value: f64) -> ConfidenceLevel {
    ConfidenceLevel::new(value).unwrap()
}

#[track_caller]
fn near(found: f64, wanted: f64, half_unit: f64) {
    assert!((found - wanted).abs() <= half_unit, "found {found}, wanted {wanted}");
}

#[track_caller]
fn bounds(found: Interval, lower: f64, upper: f64, half_unit: f64) {
    near(found.lower(), lower, half_unit);
    near(found.upper(), upper, half_unit);
}

#[test]
fn exact_bounds_in_many_digits() {
    // x, n and the 95 % bounds: roots of the binomial sums at fifty digits; from n = 110,041 on, of the beta density
    // integrated at forty (mpmath 1.4.1). scipy 1.17.1 misses the upper bound of 999 in 1,545,547 by 3e-8.
    let rows: [(u64, u64, Option<f64>, f64); 12] = [
        (2, 3, Some(0.094_299_324_050_246_08), 0.991_596_241_340_387_4),
        (1, 13, Some(0.001_945_628_497_346_748), 0.360_297_435_267_877_5),
        (3, 100, Some(0.006_229_971_538_306_394), 0.085_176_052_974_280_04),
        (7, 40, Some(0.073_382_729_352_085_18), 0.327_790_133_361_585_86),
        (57, 1_999, Some(0.021_666_386_942_323_52), 0.036_787_184_994_340_17),
        (1_000, 2_000, Some(0.477_850_554_231_109_7), 0.522_149_445_768_890_3),
        (1_998, 2_000, Some(0.996_392_371_430_171_5), 0.999_878_872_409_443_2),
        (150, 40_000, Some(0.003_174_779_597_013_501), 0.004_398_997_069_788_376),
        (10_083, 110_041, None, 0.093_349_397_483_246_83),
        (999, 1_545_547, None, 0.000_687_717_143_329_633_4),
        (19_202, 99_655_252, None, 0.000_195_428_947_088_424_26),
        (20_183, 275_198_430_228, None, 7.435_870_469_547_787e-8),
    ];
    for (x, n, lower, upper) in rows {
        let found = clopper_pearson(of(x, n), ConfidenceLevel::default());
        let off = |found: f64, wanted: f64| (found / wanted - 1.0).abs();
        assert!(off(found.upper(), upper) < 3e-14, "{x} of {n}: {found:?}");
        assert!(lower.is_none_or(|lower| off(found.lower(), lower) < 3e-14), "{x} of {n}: {found:?}");
    }
}

#[test]
fn five_intervals_for_a_proportion() {
    // Columns: Wilson, Wilson with correction, Clopper-Pearson, mid-P, Jeffreys. The first four rows are
    // Newcombe 1998, Stat Med 17:857, Table I (Wilson column seen2, other columns calc and memory); 4/200
    // agrees with a general statistics package to six places [seen2]; the rest [calc].
    let rows = [
        (
            81,
            263,
            [
                (0.25529, 0.36621),
                (0.25351, 0.36818),
                (0.25274, 0.36762),
                (0.25440, 0.36577),
                (0.25452, 0.36565),
            ],
        ),
        (
            15,
            148,
            [
                (0.06239, 0.16049),
                (0.05978, 0.16445),
                (0.05784, 0.16165),
                (0.06006, 0.15812),
                (0.06045, 0.15764),
            ],
        ),
        (0, 20, [(0.0, 0.16113), (0.0, 0.20045), (0.0, 0.16843), (0.0, 0.13911), (0.0, 0.11664)]),
        (
            1,
            29,
            [
                (0.00611, 0.17176),
                (0.00180, 0.19628),
                (0.00087, 0.17764),
                (0.00172, 0.15854),
                (0.00375, 0.15008),
            ],
        ),
        (
            4,
            200,
            [
                (0.00780, 0.05029),
                (0.00643, 0.05376),
                (0.00548, 0.05041),
                (0.00639, 0.04753),
                (0.00679, 0.04685),
            ],
        ),
        (0, 30, [(0.0, 0.11351), (0.0, 0.14132), (0.0, 0.11570), (0.0, 0.09503), (0.0, 0.07968)]),
        (0, 100, [(0.0, 0.03699), (0.0, 0.04610), (0.0, 0.03622), (0.0, 0.02951), (0.0, 0.02475)]),
        (
            1,
            50,
            [
                (0.00354, 0.10495),
                (0.00104, 0.12011),
                (0.00051, 0.10647),
                (0.00100, 0.09469),
                (0.00217, 0.08968),
            ],
        ),
        (
            3,
            100,
            [
                (0.01025, 0.08452),
                (0.00778, 0.09151),
                (0.00623, 0.08518),
                (0.00769, 0.07945),
                (0.00852, 0.07789),
            ],
        ),
        (
            30,
            1000,
            [
                (0.02109, 0.04250),
                (0.02068, 0.04308),
                (0.02033, 0.04255),
                (0.02070, 0.04202),
                (0.02074, 0.04197),
            ],
        ),
    ];
    for (x, n, columns) in rows {
        for (method, (lower, upper)) in IntervalMethod::ALL.into_iter().zip(columns) {
            let found = interval(of(x, n), ConfidenceLevel::default(), method);
            let off = (found.lower() - lower).abs().max((found.upper() - upper).abs());
            assert!(off <= 5.1e-6, "{x}/{n} {}: {found:?}, wanted {lower} to {upper}", method.name());
        }
    }
}

#[test]
fn differences_and_rates() {
    // Newcombe 1998, Stat Med 17:873, method 10 [seen2]; 9/10 − 3/10 [calc].
    let usual = ConfidenceLevel::default();
    bounds(difference_newcombe(of(56, 70), of(48, 80), usual), 0.0524, 0.3339, 5e-5);
    bounds(difference_newcombe(of(9, 10), of(3, 10), usual), 0.1705, 0.8090, 5e-5);
    // Exact Poisson, 15 events in 400 [seen2, calc].
    bounds(poisson_exact(15, 400.0, usual).unwrap(), 0.020_988_5, 0.061_850_5, 5e-8);
    assert!(poisson_exact(15, 0.0, usual).is_err() && poisson_exact(15, f64::NAN, usual).is_err());
}

#[test]
fn no_failure_among_n() {
    // One-sided 95 % bound [calc]; the rule of three beside it (Hanley and Lippman-Hand 1983 [memory]).
    for (n, bound) in [
        (10, 0.258_866),
        (14, 0.192_636),
        (20, 0.139_108),
        (30, 0.095_034),
        (50, 0.058_155),
        (59, 0.049_508),
        (99, 0.029_807),
        (100, 0.029_513),
        (299, 0.009_969),
        (300, 0.009_936),
    ] {
        near(zero_failure_upper(n, level(0.95)).unwrap().get(), bound, 5e-7);
    }
    near(rule_of_three(14).unwrap().get(), 0.2143, 5e-5);
    assert_eq!(rule_of_three(2).unwrap().get(), 1.0);
    assert!(zero_failure_upper(0, level(0.95)).is_err() && rule_of_three(0).is_err());
}

#[test]
fn trials_needed_to_claim_a_rate_below() {
    // [calc]
    for (confidence, rate, allowed, n) in [
        (0.95, 0.01, 0, 299),
        (0.95, 0.02, 0, 149),
        (0.95, 0.03, 0, 99),
        (0.95, 0.05, 0, 59),
        (0.95, 0.10, 0, 29),
        (0.95, 0.15, 0, 19),
        (0.90, 0.03, 0, 76),
        (0.90, 0.10, 0, 22),
        (0.80, 0.03, 0, 53),
        (0.95, 0.03, 1, 157),
        (0.95, 0.03, 2, 208),
        (0.95, 0.03, 3, 257),
    ] {
        let found = clean_trials_needed(p(rate), level(confidence), allowed).unwrap();
        assert_eq!(found, n, "{rate} at {confidence} with {allowed} allowed");
    }
    assert!(clean_trials_needed(p(0.0), level(0.95), 0).is_err());
    assert!(clean_trials_needed(p(1.0), level(0.95), 0).is_err());
}

#[test]
fn chance_of_a_clean_series() {
    // P(no contaminated set in n) at a true 3 % and 6 % [calc].
    let rows = [
        (5, 0.8587, 0.7339),
        (10, 0.7374, 0.5386),
        (20, 0.5438, 0.2901),
        (30, 0.4010, 0.1563),
        (50, 0.2181, 0.0453),
        (100, 0.0476, 0.0021),
    ];
    for (n, at_three, at_six) in rows {
        near(stats::dist::binomial_pmf(0, n, 0.03), at_three, 5e-5);
        near(stats::dist::binomial_pmf(0, n, 0.06), at_six, 5e-5);
    }
}

#[test]
fn size_of_an_exact_one_sided_test() {
    // First n that reaches the power, α .05 [calc]; the power is saw-toothed beyond.
    for (first, second, power, n, act_at) in [
        (0.03, 0.06, 0.8, 282, 14),
        (0.03, 0.06, 0.9, 410, 19),
        (0.03, 0.09, 0.8, 87, 6),
        (0.03, 0.12, 0.8, 45, 4),
    ] {
        let test = one_sided_sample_size(p(first), p(second), p(0.05), p(power)).unwrap();
        assert_eq!((test.n_trials, test.act_at), (n, act_at), "{first} against {second} at {power}");
        assert!(test.size.get() <= 0.05 && test.power.get() >= power);
        // The mirror: the same test seen through non-events.
        let mirror = one_sided_sample_size(p(1.0 - first), p(1.0 - second), p(0.05), p(power)).unwrap();
        assert_eq!((mirror.n_trials, mirror.act_at), (n, n - act_at));
    }
    assert!(one_sided_sample_size(p(0.03), p(0.03), p(0.05), p(0.8)).is_err());
    assert!(one_sided_sample_size(p(0.03), p(0.030_000_001), p(0.05), p(0.8)).is_err());
}

#[test]
fn fisher_tea_and_others() {
    let table = |a, b, c, d| TwoByTwo::new(of(a, a + b), of(c, c + d)).unwrap();
    // Tea, 3 1 / 1 3: greater 17/70 [seen], two-sided .4857143.
    let tea = table(3, 1, 1, 3);
    near(fisher_exact(tea).greater.get(), 17.0 / 70.0, 1e-15);
    near(fisher_exact(tea).two_sided.get(), 0.485_714_3, 5e-8);
    // 4 0 / 0 4: 1/70, two-sided 2/70.
    near(fisher_exact(table(4, 0, 0, 4)).greater.get(), 1.0 / 70.0, 1e-16);
    near(fisher_exact(table(4, 0, 0, 4)).two_sided.get(), 2.0 / 70.0, 1e-15);
    // 11 1 / 3 9: 3731/2704156 [seen2], two-sided .00275946 [calc].
    near(fisher_exact(table(11, 1, 3, 9)).greater.get(), 3731.0 / 2_704_156.0, 1e-16);
    near(fisher_exact(table(11, 1, 3, 9)).two_sided.get(), 0.002_759_46, 5e-9);
    // A margin of 0.
    assert_eq!(fisher_exact(table(0, 3, 0, 4)).two_sided.get(), 1.0);

    // Conditional odds ratio and exact interval [calc]. A common package prints .3135693 and 621.9337 from a
    // loose root search [memory].
    let odds = conditional_odds_ratio(tea, ConfidenceLevel::default());
    near(odds.ratio.unwrap(), 6.408_320, 5e-7);
    near(odds.lower, 0.211_735_6, 5e-8);
    near(odds.upper.unwrap(), 626.2435, 5e-5);
    near(conditional_odds_ratio(tea, level(0.90)).lower, 0.313_573_8, 5e-8);
    let none = conditional_odds_ratio(table(0, 3, 0, 4), ConfidenceLevel::default());
    assert_eq!((none.ratio, none.lower, none.upper), (None, 0.0, None));
}

#[test]
fn the_largest_counts_are_answered_at_once() {
    // A million million trials: the interval is the estimate give or take 1.96 standard errors, as the normal
    // distribution says there.
    let n = stats::value::LARGEST_COUNT;
    let start = std::time::Instant::now();
    for x in [n / 2, n / 50] {
        let estimate = x as f64 / n as f64;
        let width = 1.959_964 * (estimate * (1.0 - estimate) / n as f64).sqrt();
        for method in IntervalMethod::ALL {
            let found = interval(of(x, n), ConfidenceLevel::default(), method);
            let (below, above) = (estimate - found.lower(), found.upper() - estimate);
            assert!((below / width - 1.0).abs() < 1e-5 && (above / width - 1.0).abs() < 1e-5, "{found:?}");
        }
    }
    let found = poisson_exact(n, 1.0, ConfidenceLevel::default()).unwrap();
    assert!(((found.width() / 2.0) / (1.959_964 * (n as f64).sqrt()) - 1.0).abs() < 1e-5, "{found:?}");
    assert!(start.elapsed().as_secs() < 60, "{:?}", start.elapsed());
    assert!(poisson_exact(n + 1, 1.0, ConfidenceLevel::default()).is_err());
}
