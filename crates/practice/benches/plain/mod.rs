//! A rule's chances worked out the plain way, to hold the others against: a state for each run with each pattern of
//! prompts on it, each number of points and each look, followed draw by draw until nearly nobody waits, or those who do
//! fall by the same share.

use std::collections::BTreeMap;

use practice::{LONGEST, ReleaseRule};

/// Chance within the rule's most draws, mean number of draws, and draws of nine in ten.
#[derive(Debug, Clone, Copy)]
pub struct Plain {
    pub probability: f64,
    /// Sum of the chances still to wait, so far as they were followed, and the rest if they fall on by one share.
    pub mean_draws: f64,
    pub draws_90: Option<u32>,
}

/// Clean draws in a row up to those asked for, and which of them had a prompt, the latest in the lowest place.
type Run = (usize, u128);

/// Where a draw without a prompt leads to, and one with it.
struct Runs {
    found: Vec<Run>,
    after: Vec<[usize; 2]>,
}

impl Runs {
    fn of(rule: &ReleaseRule, prompts_count: bool) -> Runs {
        let asked = usize::from(rule.clean_in_a_row);
        let window = if asked >= 128 { u128::MAX } else { (1 << asked) - 1 };
        // Of more prompts than allowed only the latest, one more than allowed: until the oldest of them has left the
        // last draws, the others cannot matter.
        let most = rule.safety_prompts_allowed.map_or(0, u32::from) + 1;
        let kept = |pattern: u128| {
            let too_many = pattern.count_ones().saturating_sub(most);
            (0..too_many).fold(pattern, |left, _| left & !(1 << left.ilog2()))
        };
        let mut found = vec![(0, 0)];
        let mut numbers = BTreeMap::from([((0, 0), 0)]);
        let mut after = Vec::new();
        while let Some((run, pattern)) = found.get(after.len()).copied() {
            after.push([0, 1].map(|prompt| {
                let pattern = if prompts_count { kept(((pattern << 1) | prompt) & window) } else { 0 };
                let next = ((run + 1).min(asked), pattern);
                *numbers.entry(next).or_insert_with(|| {
                    found.push(next);
                    found.len() - 1
                })
            }));
        }
        Runs { found, after }
    }
}

/// For a learner with these chances of a fault on a draw and of a prompt on a clean one.
pub fn plain(rule: &ReleaseRule, fault: f64, prompt: f64) -> Plain {
    let counts = rule.safety_prompts_allowed.is_some() && prompt > 0.0;
    let runs = Runs::of(rule, counts);
    let allowed = rule.safety_prompts_allowed.map_or(u32::MAX, u32::from);
    let (needed, lost) =
        rule.points.map_or((0, 0), |test| (usize::from(test.needed), usize::from(test.lost_by_fault)));
    let look_from = rule.spot_check_from_draw.map(u32::from);
    let n_runs = runs.found.len();
    let at = |looked: bool, run: usize, points: usize| {
        (usize::from(looked) * n_runs + run) * (needed + 1) + points
    };
    let mut states = vec![0.0; 2 * n_runs * (needed + 1)];
    states[at(look_from.is_none(), 0, 0)] = 1.0;
    let mut met = 0.0;
    let meet = |states: &mut [f64], met: &mut f64, n: u32| {
        if n < u32::from(rule.draws_needed) {
            return;
        }
        for (run, (length, pattern)) in runs.found.iter().enumerate() {
            if *length == usize::from(rule.clean_in_a_row) && pattern.count_ones() <= allowed {
                *met += std::mem::take(&mut states[at(true, run, needed)]);
            }
        }
    };
    meet(&mut states, &mut met, 0);
    let (mut probability, mut draws_90, mut mean_draws) = (0.0, None, 0.0);
    let (mut before, mut share, mut n_same) = (1.0, 0.0, 0);
    for n in 0.. {
        if n == u32::from(rule.most_draws) {
            probability = met;
        }
        if draws_90.is_none() && met >= 0.9 - 1e-12 && n <= LONGEST {
            draws_90 = Some(n);
        }
        let waiting: f64 = states.iter().sum();
        mean_draws += waiting;
        let now = waiting / before;
        n_same = if met > 0.0 && (now - share).abs() <= 1e-15 { n_same + 1 } else { 0 };
        (before, share) = (waiting, now);
        let is_slow = draws_90.is_some() || n >= LONGEST;
        let is_over = waiting < 1e-13 || is_slow && n_same >= 50 || n >= 3 * LONGEST;
        if n >= u32::from(rule.most_draws) && is_over {
            if waiting > 0.0 {
                mean_draws += waiting * share / (1.0 - share);
            }
            break;
        }
        let mut next = vec![0.0; states.len()];
        for looked in [false, true] {
            let looked_then = looked || look_from.is_some_and(|from| n + 1 >= from);
            for (run, after) in runs.after.iter().enumerate() {
                for points in 0..=needed {
                    let mass = states[at(looked, run, points)];
                    if mass == 0.0 {
                        continue;
                    }
                    // Points reached stay reached.
                    let fewer = if points == needed { needed } else { points.saturating_sub(lost) };
                    next[at(looked, 0, fewer)] += mass * fault;
                    let more = (points + 1).min(needed);
                    next[at(looked_then, after[0], more)] += mass * (1.0 - fault) * (1.0 - prompt);
                    next[at(looked_then, after[1], more)] += mass * (1.0 - fault) * prompt;
                }
            }
        }
        states = next;
        meet(&mut states, &mut met, n + 1);
    }
    Plain { probability, mean_draws, draws_90 }
}
