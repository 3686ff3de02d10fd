//! The draws of one learner as a Markov chain.

use std::collections::BTreeMap;

use stats::Probability;

use crate::error_rates::Progress;
use crate::rule::ReleaseRule;

/// Most patterns of prompted draws that are followed. A rule with more gets no chances with prompts.
const MOST_PATTERNS: usize = 250;

/// How a learner draws: each draw by itself, apart from every other.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Habits {
    /// Chance that a draw misses a safety point.
    pub(crate) fault_rate: Probability,
    /// Chance that on a draw that misses none, one was done only after a prompt.
    pub(crate) prompt_rate: f64,
}

impl Habits {
    /// Somebody who is never prompted.
    pub(crate) fn of_faults(fault_rate: Probability) -> Habits {
        Habits { fault_rate, prompt_rate: 0.0 }
    }
}

/// The draws of one learner as a Markov chain. States are numbered by clean draws in a row, whether the trainer's clean
/// look is done, points, and the pattern of prompts; the number of draws is the step.
pub(crate) struct Chain {
    clean: f64,
    prompted: f64,
    needed: u32,
    in_a_row: usize,
    look_from: Option<u32>,
    /// Points needed and what a fault takes; 0 needed without a test.
    points: usize,
    lost_by_fault: usize,
    patterns: Patterns,
    /// Draws after which the number of draws no longer matters.
    pub(crate) settled: u32,
}

/// Which of the last draws had a prompt, as far as the rule can tell them apart. Pattern 0 is "none".
struct Patterns {
    /// The pattern after a draw without a prompt, and after one with it.
    after: Vec<(usize, usize)>,
    /// Whether the rule allows so many prompts.
    allowed: Vec<bool>,
}

impl Patterns {
    /// For a rule that does not ask, or somebody who is never prompted.
    fn one() -> Patterns {
        Patterns { after: vec![(0, 0)], allowed: vec![true] }
    }

    /// Every pattern over the last `in_a_row` draws; `None` beyond [`MOST_PATTERNS`]. Of more prompts than allowed only
    /// the latest, one more than allowed, are kept: until the oldest of them has left, the others cannot matter.
    fn over(in_a_row: usize, allowed: usize) -> Option<Patterns> {
        // A run is at most 100 draws, so it fits.
        let window = if in_a_row >= 128 { u128::MAX } else { (1 << in_a_row) - 1 };
        let latest = |mut mask: u128| {
            let mut kept = 0;
            for _ in 0..=allowed {
                let newest = mask & mask.wrapping_neg();
                kept |= newest;
                mask ^= newest;
            }
            kept
        };
        let mut masks = vec![0u128];
        let mut places = BTreeMap::from([(0u128, 0usize)]);
        let mut after = Vec::new();
        while let Some(mask) = masks.get(after.len()).copied() {
            let [plain, prompted] = [0, 1].map(|newest| {
                let next = latest(((mask << 1) | newest) & window);
                *places.entry(next).or_insert_with(|| {
                    masks.push(next);
                    masks.len() - 1
                })
            });
            if masks.len() > MOST_PATTERNS {
                return None;
            }
            after.push((plain, prompted));
        }
        let allowed = masks.iter().map(|mask| mask.count_ones() as usize <= allowed).collect();
        Some(Patterns { after, allowed })
    }

    fn len(&self) -> usize {
        self.after.len()
    }
}

/// Chance of each state, those who met the rule apart.
pub(crate) struct State {
    /// `[((run * 2 + looked) * (points + 1) + points so far) * patterns + pattern]`.
    mass: Vec<f64>,
    pub(crate) met: f64,
}

impl State {
    pub(crate) fn waiting(&self) -> f64 {
        self.mass.iter().sum()
    }
}

impl Chain {
    /// `None` where the rule tells apart more patterns of prompts than are followed.
    pub(crate) fn of(rule: &ReleaseRule, habits: Habits) -> Option<Chain> {
        let needed = u32::from(rule.draws_needed);
        let look_from = rule.spot_check_from_draw.map(u32::from);
        // Before the last draw of the needed ones, nobody can meet the rule; from then on, a clean draw with the
        // trainer looking is the first clean draw, so a run of clean draws brings the look with it.
        let settled = needed.max(look_from.unwrap_or(0)).max(1) - 1;
        let clean = 1.0 - habits.fault_rate.get();
        let (points, lost_by_fault) =
            rule.points.map_or((0, 0), |test| (usize::from(test.needed), usize::from(test.lost_by_fault)));
        let in_a_row = usize::from(rule.clean_in_a_row);
        // As many prompts as draws can never be too many: one on each draw at most.
        let asked = rule.safety_prompts_allowed.map(usize::from).filter(|allowed| *allowed < in_a_row);
        let patterns = match asked {
            Some(allowed) if habits.prompt_rate > 0.0 => Patterns::over(in_a_row, allowed)?,
            _ => Patterns::one(),
        };
        let prompted = if patterns.len() > 1 { habits.prompt_rate } else { 0.0 };
        Some(Chain { clean, prompted, needed, in_a_row, look_from, points, lost_by_fault, patterns, settled })
    }

    /// Whether the mean is the sum of a series followed to its end, and not known in closed form.
    pub(crate) fn is_a_series(&self) -> bool {
        self.points > 0 || self.patterns.len() > 1
    }

    fn place(&self, run: usize, looked: bool, points: usize) -> usize {
        ((run * 2 + usize::from(looked)) * (self.points + 1) + points) * self.patterns.len()
    }

    fn empty(&self) -> Vec<f64> {
        vec![0.0; (self.in_a_row + 1) * 2 * (self.points + 1) * self.patterns.len()]
    }

    pub(crate) fn start(&self) -> State {
        let mut mass = self.empty();
        mass[self.place(0, self.look_from.is_none(), 0)] = 1.0;
        State { mass, met: 0.0 }
    }

    /// The chain at a learner's place.
    pub(crate) fn start_at(&self, progress: Progress) -> State {
        let run = usize::from(progress.clean_in_a_row).min(self.in_a_row);
        let looked = progress.look_done || self.look_from.is_none();
        let points = usize::from(progress.points).min(self.points);
        let mut state = State { mass: self.empty(), met: 0.0 };
        let met = u32::from(progress.draws_counted) >= self.needed
            && run == self.in_a_row
            && looked
            && points == self.points;
        if met {
            state.met = 1.0;
        } else {
            state.mass[self.place(run, looked, points)] = 1.0;
        }
        state
    }

    pub(crate) fn asks_for_no_draw(&self) -> bool {
        self.needed == 0 && self.in_a_row == 0 && self.look_from.is_none() && self.points == 0
    }

    /// The draw after n draws.
    pub(crate) fn step(&self, state: &State, n: u32) -> State {
        let number = n + 1;
        let trainer_may_look = self.look_from.is_some_and(|from| number >= from);
        let mut next = State { mass: self.empty(), met: state.met };
        let plain = self.clean * (1.0 - self.prompted);
        let prompted = self.clean * self.prompted;
        for run in 0..=self.in_a_row {
            for looked in [false, true] {
                let looked_then = looked || trainer_may_look;
                for points in 0..=self.points {
                    let reached = points == self.points;
                    let gained = if reached { points } else { points + 1 };
                    let lost = if reached { points } else { points.saturating_sub(self.lost_by_fault) };
                    let from = self.place(run, looked, points);
                    let clean = self.place((run + 1).min(self.in_a_row), looked_then, gained);
                    let fault = self.place(0, looked, lost);
                    for (pattern, (after_plain, after_prompt)) in self.patterns.after.iter().enumerate() {
                        let mass = state.mass[from + pattern];
                        if mass == 0.0 {
                            continue;
                        }
                        next.mass[clean + after_plain] += mass * plain;
                        if prompted > 0.0 {
                            next.mass[clean + after_prompt] += mass * prompted;
                        }
                        // After a fault the run begins anew, and with it what was prompted on it.
                        next.mass[fault] += mass * (1.0 - self.clean);
                    }
                }
            }
        }
        if number >= self.needed {
            let ready = self.place(self.in_a_row, true, self.points);
            for (pattern, allowed) in self.patterns.allowed.iter().enumerate() {
                if *allowed {
                    next.met += std::mem::take(&mut next.mass[ready + pattern]);
                }
            }
        }
        next
    }

    pub(crate) fn mean_is_finite(&self) -> bool {
        let asks_for_clean = self.in_a_row > 0 || self.look_from.is_some() || self.points > 0;
        (self.clean > 0.0 && self.prompted < 1.0) || !asks_for_clean
    }

    /// Mean number of draws still to come for the mass not absorbed when only the clean run is missing. Not for a
    /// chain whose mean is a series.
    pub(crate) fn mean_from_settled(&self, state: &State) -> f64 {
        // With a run of k asked and j there: (q^-k - q^-j) / (1 - q), and k - j at q = 1. Where the trainer's clean
        // look is missing too, the next clean draw brings it, so at least one clean draw is asked. One draw more is
        // needed in any case, for the number of draws itself falls short by one.
        let wait = |to: usize, from: usize| -> f64 {
            (from..to).map(|run| libm::pow(self.clean, -(run as f64 + 1.0))).sum()
        };
        let mut mean = 0.0;
        for run in 0..=self.in_a_row {
            let by_look = [false, true].map(|looked| state.mass[self.place(run, looked, 0)]);
            for (looked, mass) in by_look.iter().enumerate() {
                if *mass == 0.0 {
                    continue;
                }
                let still = if run < self.in_a_row {
                    wait(self.in_a_row, run)
                } else if looked == 1 {
                    // The run is there; the next draw makes the number. It keeps the run or begins it anew.
                    if self.in_a_row == 0 { 1.0 } else { 1.0 + (1.0 - self.clean) * wait(self.in_a_row, 0) }
                } else if self.in_a_row == 0 {
                    wait(1, 0)
                } else {
                    1.0 + (1.0 - self.clean) * wait(self.in_a_row, 0)
                };
                mean += mass * still;
            }
        }
        mean
    }
}
