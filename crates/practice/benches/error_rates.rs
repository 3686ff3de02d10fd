//! How long the curve of a rule takes: 51 fault rates of a rule with 30 draws, with and without a score and prompts, and the search.

use practice::{
    PointsTest, ReleaseRule, Risks, error_rate_curve, error_rate_curve_with_prompts, shortest_rule,
};
use stats::Probability;

fn main() {
    divan::main();
}

fn thirty_draws(points: Option<PointsTest>) -> ReleaseRule {
    ReleaseRule { draws_needed: 30, clean_in_a_row: 8, most_draws: 40, points, ..ReleaseRule::default() }
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
    let score = PointsTest { needed: 20, lost_by_fault: 8 };
    let curve = error_rate_curve(&thirty_draws(Some(score)), 50).unwrap_or_default();
    assert_eq!(curve.len(), 51);
    assert_eq!(curve[0].mean_draws, Some(30.0));
    curve[20].probability
}

/// Prompts on two of the last ten draws allowed: 176 patterns of them.
#[divan::bench(args = [0, 1, 2])]
fn curve_with_prompts(allowed: u16) -> f64 {
    let rule =
        ReleaseRule { safety_prompts_allowed: Some(allowed), clean_in_a_row: 10, ..thirty_draws(None) };
    let prompts = Probability::new(0.1).unwrap_or_else(|error| panic!("{error}"));
    let curve = error_rate_curve_with_prompts(&rule, prompts, 50).ok().flatten().unwrap_or_default();
    assert_eq!(curve.len(), 51);
    curve[20].probability
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
