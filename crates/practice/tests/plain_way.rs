//! The chances of rules against the same chances worked out the plain way, with a state for everything a rule can tell
//! apart; enumeration and simulation confirm both for small rules in the other tests.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use practice::*;
use proptest::prelude::*;
use stats::Probability;

#[path = "../benches/plain/mod.rs"]
mod plain;

fn compare(rule: &ReleaseRule, fault: f64, prompt: f64) -> Result<(), TestCaseError> {
    let share = |value| Probability::new(value).unwrap();
    let found = error_rates_with_prompts(rule, share(fault), share(prompt)).unwrap();
    let plain = plain::plain(rule, fault, prompt);
    prop_assert!((found.probability - plain.probability).abs() < 1e-11, "{found:?} {plain:?}");
    match found.mean_draws {
        Some(mean) if mean < 5_000.0 => {
            prop_assert!((mean - plain.mean_draws).abs() <= 1e-8 * mean, "{found:?} {plain:?}");
        }
        // Too far for the plain way to its last digits.
        Some(mean) => prop_assert!(plain.mean_draws > 0.9 * mean.min(6_000.0), "{found:?} {plain:?}"),
        None => prop_assert!(plain.mean_draws >= 10_000.0, "{found:?} {plain:?}"),
    }
    prop_assert_eq!(found.draws_90, plain.draws_90, "{:?} {:?}", found, plain);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]
    #[test]
    fn every_rule_has_the_chances_of_the_plain_way(
        (draws_needed, clean_in_a_row, most_draws) in (0u16..14, 0u16..7, 0u16..40),
        safety_prompts_allowed in proptest::option::of(0u16..7),
        spot_check_from_draw in proptest::option::of(1u16..16),
        points in proptest::option::of((1u16..12, 0u16..9)),
        fault in 0.0f64..0.45,
        prompt in prop_oneof![Just(0.0), 0.0f64..0.6],
    ) {
        let points = points.map(|(needed, lost_by_fault)| PointsTest { needed, lost_by_fault });
        let rule = ReleaseRule {
            draws_needed, clean_in_a_row, most_draws, safety_prompts_allowed, spot_check_from_draw, points,
            ..ReleaseRule::default()
        };
        compare(&rule, fault, prompt)?;
    }
}

/// At the ends, where sums could be nought by nought: no fault, nothing but faults, no clean draw without a prompt.
#[test]
fn at_the_ends_too() {
    for (run, allowed) in [(0, 0), (1, 0), (3, 1), (4, 2), (5, 5)] {
        for look in [None, Some(1), Some(9)] {
            for points in [
                None,
                Some(PointsTest { needed: 6, lost_by_fault: 0 }),
                Some(PointsTest { needed: 5, lost_by_fault: 7 }),
            ] {
                for (fault, prompt) in
                    [(0.0, 0.0), (0.0, 0.4), (0.0, 1.0), (0.3, 1.0), (1.0, 0.0), (1.0, 0.5)]
                {
                    let rule = ReleaseRule {
                        draws_needed: 4,
                        clean_in_a_row: run,
                        safety_prompts_allowed: Some(allowed),
                        spot_check_from_draw: look,
                        points,
                        ..ReleaseRule::default()
                    };
                    let found = compare(&rule, fault, prompt);
                    assert!(found.is_ok(), "{run} {allowed} {look:?} {points:?} {fault} {prompt}: {found:?}");
                }
            }
        }
    }
}
