//! Error rates of a rule that counts prompts, against enumeration of every sequence and against simulation.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use practice::*;
use stats::Probability;

fn rule(needed: u16, in_a_row: u16, allowed: u16, most: u16) -> ReleaseRule {
    ReleaseRule {
        draws_needed: needed,
        clean_in_a_row: in_a_row,
        safety_prompts_allowed: Some(allowed),
        spot_check_from_draw: Some(2),
        most_draws: most,
        ..ReleaseRule::default()
    }
}

fn rates(rule: &ReleaseRule, fault: f64, prompt: f64) -> Released {
    error_rates_with_prompts(rule, Probability::new(fault).unwrap(), Probability::new(prompt).unwrap())
        .unwrap()
}

/// A draw as a watcher would mark it.
#[derive(Clone, Copy, PartialEq)]
enum Seen {
    Clean,
    Prompted,
    Missed,
}

/// Whether a written-out sequence meets the rule after some draw: the rule read in words, with none of the chain's states.
fn meets(rule: &ReleaseRule, draws: &[Seen]) -> bool {
    (0..=draws.len()).any(|n| {
        let seen = &draws[..n];
        let k = usize::from(rule.clean_in_a_row);
        let last = &seen[n.saturating_sub(k)..];
        let prompts = last.iter().filter(|draw| **draw == Seen::Prompted).count();
        let mut points = 0i32;
        let score = rule.points.is_none_or(|test| {
            seen.iter().any(|draw| {
                points = match draw {
                    Seen::Missed => (points - i32::from(test.lost_by_fault)).max(0),
                    _ => points + 1,
                };
                points >= i32::from(test.needed)
            })
        });
        n >= usize::from(rule.draws_needed)
            && n >= k
            && last.iter().all(|draw| *draw != Seen::Missed)
            && rule.safety_prompts_allowed.is_none_or(|allowed| prompts <= usize::from(allowed))
            && rule
                .spot_check_from_draw
                .is_none_or(|from| seen.iter().skip(usize::from(from) - 1).any(|draw| *draw != Seen::Missed))
            && score
    })
}

fn enumerated(rule: &ReleaseRule, fault: f64, prompt: f64, n: u32) -> f64 {
    (0..3u32.pow(n))
        .map(|mut number| {
            let mut chance = 1.0;
            let draws: Vec<Seen> = (0..n)
                .map(|_| {
                    let (seen, of) = match number % 3 {
                        0 => (Seen::Clean, (1.0 - fault) * (1.0 - prompt)),
                        1 => (Seen::Prompted, (1.0 - fault) * prompt),
                        _ => (Seen::Missed, fault),
                    };
                    number /= 3;
                    chance *= of;
                    seen
                })
                .collect();
            if meets(rule, &draws) { chance } else { 0.0 }
        })
        .sum()
}

#[test]
fn the_chain_with_prompts_gives_what_enumeration_gives() {
    for (needed, in_a_row, allowed) in
        [(5, 3, 0), (5, 3, 1), (4, 4, 2), (6, 5, 1), (2, 4, 0), (5, 3, 3), (3, 0, 0), (6, 6, 2)]
    {
        for points in [None, Some(PointsTest { needed: 4, lost_by_fault: 2 })] {
            for most in [5, 9] {
                for (fault, prompt) in [(0.0, 0.3), (0.2, 0.0), (0.2, 0.3), (0.05, 0.9), (0.4, 1.0)] {
                    let rule = ReleaseRule { points, ..rule(needed, in_a_row, allowed, most) };
                    let chain = rates(&rule, fault, prompt).probability;
                    let plain = enumerated(&rule, fault, prompt, u32::from(most));
                    assert!(
                        (chain - plain).abs() < 1e-12,
                        "needed {needed}, run {in_a_row}, allowed {allowed}, most {most}, {points:?}, fault {fault}, prompt \
                         {prompt}: {chain} {plain}"
                    );
                }
            }
        }
    }
}

/// By hand: with no prompt allowed a prompt begins the run of three anew, so the mean wait is that of a run of three with
/// q = (1 - f)(1 - g), Feller 1968, XIII.7 (from memory): (1 - q^3) / ((1 - q) q^3).
#[test]
fn with_no_prompt_allowed_the_mean_is_that_of_a_run_of_unprompted_draws() {
    let strict = ReleaseRule { spot_check_from_draw: None, ..rule(0, 3, 0, 10) };
    for (fault, prompt) in [(0.1, 0.1), (0.02, 0.25), (0.3, 0.05)] {
        let q: f64 = (1.0 - fault) * (1.0 - prompt);
        let published = (1.0 - q.powi(3)) / ((1.0 - q) * q.powi(3));
        let mean = rates(&strict, fault, prompt).mean_draws.unwrap();
        assert!((mean / published - 1.0).abs() < 1e-9, "{fault} {prompt}: {mean} {published}");
    }
    let never = rates(&strict, 0.0, 1.0);
    assert_eq!((never.probability, never.mean_draws, never.draws_90), (0.0, None, None));
}

/// The mean is the sum of the chances still to wait, taken from the chances that enumeration has confirmed.
#[test]
fn the_mean_with_prompts_is_the_sum_of_the_chances_still_to_wait() {
    for allowed in [0, 1, 2] {
        let summed: f64 =
            (0u16..600).map(|most| 1.0 - rates(&rule(5, 4, allowed, most), 0.15, 0.3).probability).sum();
        let mean = rates(&rule(5, 4, allowed, 10), 0.15, 0.3).mean_draws.unwrap();
        assert!((mean - summed).abs() < 1e-8, "{allowed}: {mean} {summed}");
    }
}

/// 200,000 learners drawn at random with a fixed seed: within four standard errors.
#[test]
fn simulation_agrees() {
    let mut state = 0x9e37_79b9_7f4a_7c15u64;
    let mut uniform = move || {
        // Xorshift64*, S. Vigna 2016; enough for a check of three digits.
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11) as f64 / (1u64 << 53) as f64
    };
    for (rule, fault, prompt) in
        [(rule(8, 5, 1, 14), 0.1, 0.2), (rule(12, 10, 2, 20), 0.03, 0.15), (rule(30, 20, 5, 40), 0.03, 0.25)]
    {
        const N: u32 = 200_000;
        let met = (0..N)
            .filter(|_| {
                let draws: Vec<Seen> = (0..rule.most_draws)
                    .map(|_| match (uniform() < fault, uniform() < prompt) {
                        (true, _) => Seen::Missed,
                        (false, true) => Seen::Prompted,
                        (false, false) => Seen::Clean,
                    })
                    .collect();
                meets(&rule, &draws)
            })
            .count();
        let share = met as f64 / f64::from(N);
        let exact = rates(&rule, fault, prompt).probability;
        let error = (exact * (1.0 - exact) / f64::from(N)).sqrt();
        assert!((share - exact).abs() < 4.0 * error, "{share} {exact} {error}");
    }
}

#[test]
fn a_rule_with_too_many_patterns_says_so_and_one_that_never_binds_is_the_plain_one() {
    let wide = rule(50, 40, 8, 60);
    let (fault, prompt) = (Probability::new(0.1).unwrap(), Probability::new(0.1).unwrap());
    assert_eq!(error_rates_with_prompts(&wide, fault, prompt), None);
    assert_eq!(error_rate_curve_with_prompts(&wide, prompt, 10).unwrap(), None);
    assert!(error_rates_with_prompts(&wide, fault, Probability::new(0.0).unwrap()).is_some());
    let any = ReleaseRule { safety_prompts_allowed: None, ..rule(5, 3, 0, 10) };
    assert_eq!(error_rates_with_prompts(&any, fault, prompt), Some(error_rates(&any, fault)));
    let as_many = rule(5, 3, 3, 10);
    assert_eq!(error_rates_with_prompts(&as_many, fault, prompt), Some(error_rates(&as_many, fault)));
}
