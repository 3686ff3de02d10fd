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
        enough && run && looked
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
    for fault_rate in [0.02, 0.1, 0.35] {
        let q: f64 = 1.0 - fault_rate;
        let published = (1.0 - q.powi(4)) / ((1.0 - q) * q.powi(4));
        let mean = rates(&rule(0, 4, None, 10), fault_rate).mean_draws.unwrap();
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
            };
            for fault_rate in [0.0, 0.1, 0.4] {
                let chances = chance_met_after(&rule, progress, Probability::new(fault_rate).unwrap(), 8);
                for n in 0..=8usize {
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
                        (chances[n] - plain).abs() < 1e-12,
                        "{rule:?} {had:?} {n}: {} {plain}",
                        chances[n]
                    );
                }
            }
        }
    }
}
