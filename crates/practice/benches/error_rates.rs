//! How long the curve of a rule takes: 51 fault rates of a rule with 30 draws, with and without a score and prompts, and
//! the search. Beforehand four of the curves are held against the plain way, on the same rules in the same run.

use std::time::{Duration, Instant};

use practice::{
    PointsTest, ReleaseRule, Released, Risks, error_rate_curve, error_rate_curve_with_prompts, shortest_rule,
};
use stats::Probability;

mod plain;

fn main() {
    compare();
    divan::main();
}

/// Of the chances, means and draws of nine in ten both ways give, the largest differences; where one differs by more than
/// rounding, this ends with it.
fn compare() {
    println!("rule                                          here    plain way   chance off by   mean off by");
    for (name, rule) in [
        ("30 draws, last 8 clean", thirty_draws(None)),
        ("the same with a score", thirty_draws(SCORE)),
        ("10 clean, 2 prompts", with_prompts(10, 2, None)),
        ("8 clean, 3 prompts, score", with_prompts(8, 3, SCORE)),
    ] {
        let begun = Instant::now();
        let curve = curve(&rule);
        let here = begun.elapsed();
        let (mut plain_way, mut chance_off, mut mean_off) = (Duration::ZERO, 0.0f64, 0.0f64);
        // Every fifth fault rate: the plain way takes its time.
        for point in curve.iter().step_by(5) {
            let begun = Instant::now();
            let plain = plain::plain(&rule, point.fault_rate, PROMPTED);
            plain_way += begun.elapsed();
            chance_off = chance_off.max((plain.probability - point.probability).abs());
            // Longer means are not followed to their end there.
            if let Some(mean) = point.mean_draws.filter(|mean| *mean < 2_000.0) {
                mean_off = mean_off.max((plain.mean_draws / mean - 1.0).abs());
            }
            assert_eq!(plain.draws_90, point.draws_90, "{name}: {point:?} {plain:?}");
        }
        println!("{name:34} {here:>15.2?} {plain_way:>12.2?} {chance_off:15.1e} {mean_off:13.1e}");
        assert!(chance_off < 1e-11 && mean_off < 1e-8, "{name}: the two ways differ");
    }
}

const SCORE: Option<PointsTest> = Some(PointsTest { needed: 20, lost_by_fault: 8 });

/// Share of the clean draws with a prompt.
const PROMPTED: f64 = 0.1;

fn thirty_draws(points: Option<PointsTest>) -> ReleaseRule {
    ReleaseRule {
        draws_needed: 30,
        clean_in_a_row: 8,
        safety_prompts_allowed: None,
        most_draws: 40,
        points,
        ..ReleaseRule::default()
    }
}

fn with_prompts(clean_in_a_row: u16, allowed: u16, points: Option<PointsTest>) -> ReleaseRule {
    ReleaseRule { safety_prompts_allowed: Some(allowed), clean_in_a_row, ..thirty_draws(points) }
}

fn curve(rule: &ReleaseRule) -> Vec<Released> {
    let prompts = Probability::new(PROMPTED).unwrap_or_else(|error| panic!("{error}"));
    let curve = error_rate_curve_with_prompts(rule, prompts, 50).ok().flatten().unwrap_or_default();
    assert_eq!(curve.len(), 51);
    curve
}

#[divan::bench]
fn curve_of_thirty_draws() -> f64 {
    let curve = error_rate_curve(&thirty_draws(None), 50).unwrap_or_default();
    assert_eq!(curve.len(), 51);
    assert_eq!(curve[0].mean_draws, Some(30.0));
    curve[20].probability
}

#[divan::bench]
fn curve_of_thirty_draws_with_a_score() -> f64 {
    let curve = error_rate_curve(&thirty_draws(SCORE), 50).unwrap_or_default();
    assert_eq!(curve.len(), 51);
    assert_eq!(curve[0].mean_draws, Some(30.0));
    curve[20].probability
}

/// So many prompts allowed on the last so many draws.
#[divan::bench(args = [(10, 0), (10, 2), (20, 1), (20, 3), (30, 3), (30, 5), (60, 3)])]
fn curve_with_prompts((run, allowed): (u16, u16)) -> f64 {
    curve(&with_prompts(run, allowed, None))[20].probability
}

#[divan::bench(args = [(8, 0), (8, 3), (10, 1), (10, 2), (10, 3), (20, 3), (30, 3)])]
fn curve_with_a_score_and_prompts((run, allowed): (u16, u16)) -> f64 {
    curve(&with_prompts(run, allowed, SCORE))[20].probability
}

/// The longest score that a rule can ask for.
#[divan::bench(args = [0, 1, 10, 100])]
fn curve_with_the_longest_score(lost_by_fault: u16) -> f64 {
    curve(&with_prompts(30, 3, Some(PointsTest { needed: 100, lost_by_fault })))[20].probability
}

#[divan::bench(sample_count = 3)]
fn search_within_sixty_draws() -> u16 {
    let share = |value| Probability::new(value).unwrap_or_else(|error| panic!("{error}"));
    let risks = Risks {
        not_ready: share(0.2),
        most_released: share(0.05),
        ready: share(0.02),
        most_held_back: share(0.1),
        most_draws: 60,
    };
    let found = shortest_rule(&ReleaseRule::default(), &risks).ok().flatten();
    found.map_or_else(|| panic!("there is such a rule"), |found| found.rule.most_draws)
}
