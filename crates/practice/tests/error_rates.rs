//! Error rates of a release rule against enumeration, a published mean and hand cases.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use practice::*;
use proptest::prelude::*;
use stats::Probability;

fn rule(needed: u16, in_a_row: u16, look_from: Option<u16>, most: u16) -> ReleaseRule {
    ReleaseRule {
        draws_needed: needed,
        clean_in_a_row: in_a_row,
        spot_check_from_draw: look_from,
        most_draws: most,
        ..ReleaseRule::default()
    }
}

fn rates(rule: &ReleaseRule, fault_rate: f64) -> Released {
    error_rates(rule, Probability::new(fault_rate).unwrap())
}

/// The draw at which a written-out sequence meets the rule: the rule read in words, draw by draw, with none of the
/// states of the chain.
fn met_at(rule: &ReleaseRule, clean: &[bool]) -> Option<usize> {
    (0..=clean.len()).find(|n| {
        let seen = &clean[..*n];
        let k = usize::from(rule.clean_in_a_row);
        let enough = *n >= usize::from(rule.draws_needed);
        let run = *n >= k && seen[n - k..].iter().all(|clean| *clean);
        let looked = rule.spot_check_from_draw.is_none_or(|from| {
            let first = usize::from(from).max(1) - 1;
            seen.iter().skip(first).any(|clean| *clean)
        });
        let points = rule.points.is_none_or(|test| {
            let mut points = 0i32;
            seen.iter().any(|clean| {
                points = if *clean { points + 1 } else { (points - i32::from(test.lost_by_fault)).max(0) };
                points >= i32::from(test.needed)
            })
        });
        enough && run && looked && points
    })
}

/// Chance by enumeration of every sequence of so many draws.
fn enumerated(rule: &ReleaseRule, fault_rate: f64, n: u32) -> f64 {
    (0u32..1 << n)
        .map(|bits| {
            let clean: Vec<_> = (0..n).map(|draw| bits >> draw & 1 == 1).collect();
            let n_clean = bits.count_ones() as i32;
            let chance = (1.0 - fault_rate).powi(n_clean) * fault_rate.powi(n as i32 - n_clean);
            if met_at(rule, &clean).is_some() { chance } else { 0.0 }
        })
        .sum()
}

#[test]
fn the_chain_gives_what_enumeration_gives() {
    for needed in [0, 1, 3, 5] {
        for in_a_row in [0, 1, 3, 4] {
            for look_from in [None, Some(1), Some(2), Some(6)] {
                for most in [0, 4, 5, 9, 12] {
                    for fault_rate in [0.0, 0.02, 0.2, 0.5, 0.9, 1.0] {
                        let rule = rule(needed, in_a_row, look_from, most);
                        let (chain, plain) = (
                            rates(&rule, fault_rate).probability,
                            enumerated(&rule, fault_rate, u32::from(most)),
                        );
                        assert!(
                            (chain - plain).abs() < 1e-12,
                            "needed {needed} run {in_a_row} look {look_from:?} most {most} fault {fault_rate}: {chain} {plain}"
                        );
                    }
                }
            }
        }
    }
}

/// Feller 1968, XIII.7 (from memory): the mean wait for a run of k is (1 - q^k) / ((1 - q) q^k); three heads in a row
/// take 14 tosses of a fair coin, five take 62.
#[test]
fn the_mean_wait_for_a_run_is_the_published_one() {
    for (k, expected) in [(1, 2.0), (2, 6.0), (3, 14.0), (5, 62.0)] {
        let mean = rates(&rule(0, k, None, 10), 0.5).mean_draws.unwrap();
        assert!((mean - expected).abs() < 1e-9, "{k}: {mean}");
    }
    for (k, fault_rate) in [(4, 0.02), (4, 0.1), (4, 0.35), (40, 0.5), (100, 0.45)] {
        let q: f64 = 1.0 - fault_rate;
        let published = (1.0 - q.powi(k)) / ((1.0 - q) * q.powi(k));
        let mean = rates(&rule(0, k as u16, None, 10), fault_rate).mean_draws.unwrap();
        assert!((mean / published - 1.0).abs() < 1e-12, "{fault_rate}: {mean} {published}");
    }
}

/// The mean is the sum of the chances of not having met the rule yet; here summed far out, term by term, from the
/// chances that enumeration has confirmed.
#[test]
fn the_mean_is_the_sum_of_the_chances_still_to_wait() {
    for (needed, in_a_row, look_from) in
        [(5, 3, Some(2)), (5, 0, Some(7)), (2, 3, Some(9)), (4, 4, None), (6, 0, None), (1, 1, Some(3))]
    {
        let summed: f64 = (0u16..1500)
            .map(|most| 1.0 - rates(&rule(needed, in_a_row, look_from, most), 0.2).probability)
            .sum();
        let mean = rates(&rule(needed, in_a_row, look_from, 10), 0.2).mean_draws.unwrap();
        assert!((mean - summed).abs() < 1e-9, "{needed} {in_a_row} {look_from:?}: {mean} {summed}");
    }
}

/// By hand. Five draws with the last three clean: one in five fails, 0.8 cubed = 0.512 are released at the fifth.
#[test]
fn hand_cases() {
    let five = rule(5, 3, Some(2), 5);
    assert!((rates(&five, 0.2).probability - 0.512).abs() < 1e-12);
    assert!((rates(&five, 0.02).probability - 0.941_192).abs() < 1e-12);
    let perfect = rates(&rule(5, 3, Some(2), 10), 0.0);
    assert_eq!((perfect.probability, perfect.mean_draws, perfect.draws_90), (1.0, Some(5.0), Some(5)));
    let hopeless = rates(&rule(5, 3, Some(2), 10), 1.0);
    assert_eq!((hopeless.probability, hopeless.mean_draws, hopeless.draws_90), (0.0, None, None));
    // The trainer's look alone, from the third draw, one in two fails: 1/2 at the third, 1/4 at the fourth.
    let look = rates(&rule(0, 0, Some(3), 4), 0.5);
    assert!((look.probability - 0.75).abs() < 1e-12);
    assert!((look.mean_draws.unwrap() - 4.0).abs() < 1e-12);
    // 1 - 1/2^n reaches 0.9 at n = 4, after two draws without a look.
    assert_eq!(look.draws_90, Some(6));
    let none = rates(&rule(0, 0, None, 10), 1.0);
    assert_eq!((none.probability, none.mean_draws, none.draws_90), (1.0, Some(0.0), Some(0)));
}

#[test]
fn the_sentence_says_what_the_number_means() {
    let rule = rule(5, 3, Some(2), 5);
    let sentence = |fault_rate| error_rate_sentence(&rule, &rates(&rule, fault_rate));
    assert_eq!(
        sentence(0.2),
        "Of 100 nurses who fail one draw in five, 51 would meet this rule within 5 draws."
    );
    assert_eq!(
        sentence(0.02),
        "Of 100 nurses who fail one draw in 50, 94 would meet this rule within 5 draws."
    );
    assert_eq!(sentence(0.0), "Of 100 nurses who fail no draw, 100 would meet this rule within 5 draws.");
    assert_eq!(
        sentence(0.15),
        "Of 100 nurses who fail 15.0 draws in 100, 61 would meet this rule within 5 draws."
    );
}

proptest! {
    /// More faults never help; more draws never hurt; the chance is a chance.
    #[test]
    fn the_chance_falls_with_faults_and_rises_with_draws(
        needed in 0u16..8, in_a_row in 0u16..5, most in 0u16..30, low in 0.0f64..1.0, more in 0.0f64..1.0,
    ) {
        let high = low + (1.0 - low) * more;
        let at = |most, fault_rate| rates(&rule(needed, in_a_row, Some(2), most), fault_rate).probability;
        prop_assert!((0.0..=1.0).contains(&at(most, low)));
        prop_assert!(at(most, high) <= at(most, low) + 1e-12);
        prop_assert!(at(most, low) <= at(most + 1, low) + 1e-12);
    }
}

/// From where a learner stands: every continuation written out.
#[test]
fn the_chance_from_here_is_what_enumeration_gives() {
    for (needed, in_a_row, look_from) in [(5, 3, Some(2)), (3, 2, None), (0, 2, Some(4)), (4, 0, Some(6))] {
        let rule = rule(needed, in_a_row, look_from, 10);
        for had in ["", "c", "f", "cc", "fcc", "cccc", "ccfcc", "fffff"] {
            let had: Vec<bool> = had.chars().map(|draw| draw == 'c').collect();
            let looked =
                look_from.is_none_or(|from| had.iter().skip(usize::from(from) - 1).any(|clean| *clean));
            let progress = Progress {
                draws_counted: had.len() as u16,
                clean_in_a_row: had.iter().rev().take_while(|clean| **clean).count() as u16,
                look_done: looked,
                points: 0,
            };
            for fault_rate in [0.0, 0.1, 0.4] {
                let chances = chance_met_after(&rule, progress, Probability::new(fault_rate).unwrap(), 8);
                for (n, chance_here) in chances.iter().enumerate() {
                    let plain: f64 = (0u32..1 << n)
                        .map(|bits| {
                            let more: Vec<bool> = (0..n).map(|draw| bits >> draw & 1 == 1).collect();
                            let n_clean = bits.count_ones() as i32;
                            let chance =
                                (1.0 - fault_rate).powi(n_clean) * fault_rate.powi(n as i32 - n_clean);
                            // Met at some point from here on, not earlier: the learner stands where they stand.
                            let met = (0..=n).any(|more_draws| {
                                let seen: Vec<bool> =
                                    had.iter().chain(&more[..more_draws]).copied().collect();
                                let k = usize::from(in_a_row);
                                seen.len() >= usize::from(needed)
                                    && seen.len() >= k
                                    && seen[seen.len() - k..].iter().all(|clean| *clean)
                                    && look_from.is_none_or(|from| {
                                        seen.iter().skip(usize::from(from) - 1).any(|clean| *clean)
                                    })
                            });
                            if met { chance } else { 0.0 }
                        })
                        .sum();
                    assert!(
                        (chance_here - plain).abs() < 1e-12,
                        "{rule:?} {had:?} {n}: {chance_here} {plain}"
                    );
                }
            }
        }
    }
}

fn points(needed: u16, lost_by_fault: u16) -> Option<PointsTest> {
    Some(PointsTest { needed, lost_by_fault })
}

#[test]
fn the_chain_with_points_gives_what_enumeration_gives() {
    for (needed, in_a_row, look_from) in [(0, 0, None), (5, 2, Some(3)), (2, 3, None)] {
        for test in [points(1, 1), points(4, 1), points(6, 2), points(5, 9)] {
            for most in [4, 9, 12] {
                for fault_rate in [0.0, 0.1, 0.5, 1.0] {
                    let rule = ReleaseRule { points: test, ..rule(needed, in_a_row, look_from, most) };
                    let chain = rates(&rule, fault_rate).probability;
                    let plain = enumerated(&rule, fault_rate, u32::from(most));
                    assert!((chain - plain).abs() < 1e-12, "{rule:?} {fault_rate}: {chain} {plain}");
                }
            }
        }
    }
}

/// Points alone are a learning-curve CUSUM: its mean run length from `stats`, which is checked against published ones
/// and works another way (cycles, Page 1954).
#[test]
fn the_mean_with_points_is_the_run_length_of_the_chart() {
    use stats::sequential::{RisesOn, TwoStepCusum, two_step_mean_run_length};
    for (needed, lost) in [(11, 6), (8, 3), (20, 10), (5, 1), (12, 12)] {
        for fault_rate in [0.05, 0.1, 0.2, 0.4] {
            let rule = ReleaseRule { points: points(needed, lost), ..rule(0, 0, None, 10) };
            let chart =
                TwoStepCusum::new(1.0, f64::from(lost), f64::from(needed), RisesOn::NonEvent).unwrap();
            let published = two_step_mean_run_length(chart, Probability::new(fault_rate).unwrap());
            let (mean, published) =
                (rates(&rule, fault_rate).mean_draws.unwrap(), published.unwrap().unwrap());
            assert!(
                (mean / published - 1.0).abs() < 1e-9,
                "{needed} {lost} {fault_rate}: {mean} {published}"
            );
        }
    }
}

/// Nine in ten: what the geometric end of the chain gives, against the chain followed draw by draw.
#[test]
fn the_draws_of_nine_in_ten_are_the_first_that_reach_them() {
    for rule in [
        ReleaseRule { points: points(9, 4), ..rule(5, 2, Some(2), 10) },
        rule(5, 4, Some(2), 10),
        rule(30, 6, None, 40),
    ] {
        for fault_rate in [0.05, 0.2, 0.4] {
            let Some(draws) = rates(&rule, fault_rate).draws_90 else { panic!("{rule:?} {fault_rate}") };
            let within = |most: u32| {
                rates(&ReleaseRule { most_draws: most as u16, ..rule.clone() }, fault_rate).probability
            };
            assert!(within(draws) >= 0.9 - 1e-12, "{rule:?} {fault_rate} {draws}");
            assert!(within(draws - 1) < 0.9, "{rule:?} {fault_rate} {draws}");
        }
    }
}

/// The chain against 200,000 learners simulated draw by draw from a seed.
#[test]
fn the_chain_agrees_with_simulated_learners() {
    let rule = ReleaseRule { points: points(8, 3), ..rule(8, 3, Some(3), 20) };
    let mut state = 0x2545_F491_4F6C_DD1Du64;
    let mut uniform = || {
        // xorshift64 (Marsaglia 2003).
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    let n_learners = 200_000;
    for fault_rate in [0.05, 0.25] {
        let mut n_met = 0;
        for _ in 0..n_learners {
            let clean: Vec<bool> = (0..20).map(|_| uniform() >= fault_rate).collect();
            n_met += u32::from(met_at(&rule, &clean).is_some());
        }
        let simulated = f64::from(n_met) / f64::from(n_learners);
        let exact = rates(&rule, fault_rate).probability;
        let four_errors = 4.0 * (exact * (1.0 - exact) / f64::from(n_learners)).sqrt();
        assert!((simulated - exact).abs() < four_errors, "{fault_rate}: {simulated} {exact}");
    }
}

fn risks(not_ready: f64, most_released: f64, ready: f64, most_held_back: f64, most_draws: u16) -> Risks {
    let share = |value| Probability::new(value).unwrap();
    Risks {
        not_ready: share(not_ready),
        most_released: share(most_released),
        ready: share(ready),
        most_held_back: share(most_held_back),
        most_draws,
    }
}

/// Draws without a failure for confidence C that the rate is under p: ln(1 - C) / ln(1 - p), rounded up; .95 and .10 give
/// 29, .15 give 19, .90 and .10 give 22 (computed from the formula, as published tables of zero-failure plans have it).
/// Someone with no fault at all is never held back, so the shortest rule is just so many draws, all clean.
#[test]
fn without_faults_allowed_the_search_finds_the_zero_failure_numbers() {
    for (confidence, fault_rate, draws) in [(0.95, 0.1, 29), (0.95, 0.15, 19), (0.9, 0.1, 22)] {
        let base = ReleaseRule { spot_check_from_draw: None, ..ReleaseRule::default() };
        let found =
            shortest_rule(&base, &risks(fault_rate, 1.0 - confidence, 0.0, 0.0, 40)).unwrap().unwrap();
        assert_eq!(found.rule.most_draws, draws, "{confidence} {fault_rate}: {:?}", found.rule);
        assert!(found.not_ready.probability <= 1.0 - confidence);
    }
}

#[test]
fn the_shortest_rule_is_within_the_risks_and_a_shorter_one_is_not() {
    let base = ReleaseRule { spot_check_from_draw: None, ..ReleaseRule::default() };
    let wanted = risks(0.2, 0.05, 0.02, 0.1, 60);
    let found = shortest_rule(&base, &wanted).unwrap().unwrap();
    assert!(found.not_ready.probability <= 0.05 && found.ready.probability >= 0.9, "{found:?}");
    // None with one draw less.
    let shorter = risks(0.2, 0.05, 0.02, 0.1, found.rule.most_draws - 1);
    assert_eq!(shortest_rule(&base, &shorter).unwrap(), None);
    // The issue of the two fault rates being the wrong way round, or too many draws.
    assert!(shortest_rule(&base, &risks(0.02, 0.05, 0.2, 0.1, 60)).is_err());
    assert!(shortest_rule(&base, &risks(0.2, 0.05, 0.02, 0.1, 201)).is_err());
    assert_eq!(shortest_rule(&base, &risks(0.2, 0.0, 0.02, 0.1, 20)).unwrap(), None);
    // By enumeration, for one small enough to write out.
    let small = shortest_rule(&base, &risks(0.5, 0.2, 0.05, 0.3, 12)).unwrap().unwrap();
    let most = u32::from(small.rule.most_draws);
    assert!((enumerated(&small.rule, 0.5, most) - small.not_ready.probability).abs() < 1e-12);
    assert!((enumerated(&small.rule, 0.05, most) - small.ready.probability).abs() < 1e-12);
}

/// By hand: four clean draws watched by preceptors, so the trainer's look is still to come, five draws and three clean in a
/// row asked for. The next draw, if clean, is the look too: 0.8; after a fault three clean ones in a row, 0.8 cubed.
#[test]
fn a_learner_whom_no_trainer_watched_yet_goes_on_from_there() {
    let progress = Progress { draws_counted: 4, clean_in_a_row: 4, look_done: false, points: 0 };
    let chances = chance_met_after(&rule(5, 3, Some(2), 10), progress, Probability::new(0.2).unwrap(), 4);
    for (found, expected) in chances.iter().zip([0.0, 0.8, 0.8, 0.8, 0.8 + 0.2 * 0.512]) {
        assert!((found - expected).abs() < 1e-12, "{chances:?}");
    }
}
