//! The draws of one learner as a Markov chain.

use std::collections::BTreeMap;

use stats::Probability;

use crate::error_rates::Progress;
use crate::rule::ReleaseRule;

/// Most places that are told apart where prompts count. A rule with more gets no chances with prompts.
const MOST_PLACES: usize = 3_000;

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

/// The draws of one learner as a Markov chain. States are numbered by whether the trainer's clean look is done, by place
/// (clean draws in a row and the prompts on them) and by points; the number of draws is the step.
pub(crate) struct Chain {
    clean: f64,
    prompted: f64,
    needed: u32,
    in_a_row: usize,
    look_from: Option<u32>,
    /// Points needed and what a fault takes; 0 needed without a test.
    points: usize,
    lost_by_fault: usize,
    places: Places,
    /// Draws after which the number of draws no longer matters.
    pub(crate) settled: u32,
}

/// What a rule can tell apart of the clean draws in a row and the prompts on them. Place 0 is "just after a fault", as
/// before the first draw.
struct Places {
    /// The place after a clean draw without a prompt, and after one with it.
    after: Vec<(usize, usize)>,
    /// Whether the run is long enough there and its prompts are few enough.
    ready: Vec<bool>,
    /// Whether prompts count.
    prompts_count: bool,
}

impl Places {
    /// For a rule that does not ask for prompts, or somebody who is never prompted: the place is the run.
    fn of_runs(in_a_row: usize) -> Places {
        let after = (1..=in_a_row + 1).map(|run| (run.min(in_a_row), run.min(in_a_row))).collect();
        Places { after, ready: (0..=in_a_row).map(|run| run == in_a_row).collect(), prompts_count: false }
    }

    /// Every run with every pattern of prompts on it; `None` beyond [`MOST_PLACES`]. Of more prompts than allowed only the
    /// latest, one more than allowed, are kept: until the oldest of them has left the last draws, the others cannot
    /// matter, nor can the fault before them, which leaves earlier.
    fn with_prompts(in_a_row: usize, allowed: usize) -> Option<Places> {
        // A run is at most 100 draws, so it fits.
        let window = if in_a_row >= 128 { u128::MAX } else { (1 << in_a_row) - 1 };
        let too_many = |mask: u128| mask.count_ones() as usize > allowed;
        let after_clean = |(run, mask): (usize, u128), newest: u128| {
            let mut left = ((mask << 1) | newest) & window;
            let mut kept = 0;
            for _ in 0..=allowed {
                let latest = left & left.wrapping_neg();
                kept |= latest;
                left ^= latest;
            }
            (if too_many(kept) { in_a_row } else { (run + 1).min(in_a_row) }, kept)
        };
        let mut found = vec![(0, 0u128)];
        let mut numbers = BTreeMap::from([((0, 0u128), 0usize)]);
        let mut after = Vec::new();
        while let Some(place) = found.get(after.len()).copied() {
            let [plain, prompted] = [0, 1].map(|newest| {
                let next = after_clean(place, newest);
                *numbers.entry(next).or_insert_with(|| {
                    found.push(next);
                    found.len() - 1
                })
            });
            if found.len() > MOST_PLACES {
                return None;
            }
            after.push((plain, prompted));
        }
        let ready = found.iter().map(|(run, mask)| *run == in_a_row && !too_many(*mask)).collect();
        Some(Places { after, ready, prompts_count: true })
    }

    fn len(&self) -> usize {
        self.after.len()
    }
}

/// Chance of each state, those who met the rule apart.
pub(crate) struct State {
    /// `[(looked * places + place) * (points + 1) + points so far]`; without a look asked for, everybody counts as looked at
    /// and there is only that half.
    mass: Vec<f64>,
    /// Where the next step is worked out.
    next: Vec<f64>,
    pub(crate) met: f64,
    /// Whether those without a look may stand anywhere: a learner begun with, whom no trainer watched yet.
    is_anywhere: bool,
}

/// Those who lack points, and who of them reaches them with the next draw.
pub(crate) struct Joining {
    /// Chance of lacking points.
    pub(crate) waiting: f64,
    /// Share of them that lacks points after the next draw too.
    share: f64,
    met: f64,
    mass: Vec<f64>,
}

impl Joining {
    /// Those who join with a draw, after it.
    pub(crate) fn join(&mut self, state: &mut State) {
        state.met += self.met;
        state.mass.iter_mut().zip(&self.mass).for_each(|(mass, joining)| *mass += joining);
        self.met *= self.share;
        self.waiting *= self.share;
        self.mass.iter_mut().for_each(|mass| *mass *= self.share);
    }
}

impl State {
    /// Chance of still waiting.
    pub(crate) fn waiting(&self) -> f64 {
        // Four sums side by side: one after another, each addition waits for the one before.
        let mut sums = [0.0; 4];
        let mut fours = self.mass.chunks_exact(4);
        for four in &mut fours {
            for (sum, mass) in sums.iter_mut().zip(four) {
                *sum += mass;
            }
        }
        sums.iter().chain(fours.remainder()).sum()
    }
}

impl Chain {
    /// `None` where the rule tells apart more places than are followed.
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
        let places = match asked {
            Some(allowed) if habits.prompt_rate > 0.0 => Places::with_prompts(in_a_row, allowed)?,
            _ => Places::of_runs(in_a_row),
        };
        let prompted = if places.prompts_count { habits.prompt_rate } else { 0.0 };
        Some(Chain { clean, prompted, needed, in_a_row, look_from, points, lost_by_fault, places, settled })
    }

    /// Whether the mean is the sum of a series followed to its end, and not known in closed form.
    pub(crate) fn is_a_series(&self) -> bool {
        self.points > 0 || self.places.prompts_count
    }

    /// One half without a look asked for, where everybody counts as looked at; two with one.
    fn n_halves(&self) -> usize {
        if self.look_from.is_some() { 2 } else { 1 }
    }

    /// Where the points of a place begin.
    fn at(&self, looked: bool, place: usize) -> usize {
        let half = if looked { self.n_halves() - 1 } else { 0 };
        (half * self.places.len() + place) * (self.points + 1)
    }

    fn empty(&self) -> State {
        let n_states = self.n_halves() * self.places.len() * (self.points + 1);
        State { mass: vec![0.0; n_states], next: vec![0.0; n_states], met: 0.0, is_anywhere: false }
    }

    pub(crate) fn start(&self) -> State {
        let mut state = self.empty();
        state.mass[self.at(false, 0)] = 1.0;
        state
    }

    /// The chain at a learner's place; only for somebody who is never prompted, so that the place is the run.
    pub(crate) fn start_at(&self, progress: Progress) -> State {
        let run = usize::from(progress.clean_in_a_row).min(self.in_a_row);
        let looked = progress.look_done || self.look_from.is_none();
        let points = usize::from(progress.points).min(self.points);
        let mut state = State { is_anywhere: true, ..self.empty() };
        let met = u32::from(progress.draws_counted) >= self.needed
            && run == self.in_a_row
            && looked
            && points == self.points;
        if met {
            state.met = 1.0;
        } else {
            state.mass[self.at(looked, run) + points] = 1.0;
        }
        state
    }

    /// Chance of still waiting without the points needed; nothing without a test.
    pub(crate) fn without_points(&self, state: &State) -> f64 {
        if self.points == 0 {
            return 0.0;
        }
        state.mass.chunks_exact(self.points + 1).map(|masses| masses[..self.points].iter().sum::<f64>()).sum()
    }

    /// Parts those who lack points from the others once the former fall by one share from draw to draw: the points reached
    /// stay reached, so the others go on in a chain without points, and so many join them with each draw.
    pub(crate) fn parted(mut self, state: &State, n: u32, share: f64) -> (Chain, State, Joining) {
        let width = self.points + 1;
        let reached = |masses: &[f64]| -> Vec<f64> {
            masses.chunks_exact(width).map(|masses| masses[width - 1]).collect()
        };
        let mut lacking = State { mass: state.mass.clone(), next: state.next.clone(), met: 0.0, ..*state };
        lacking.mass.chunks_exact_mut(width).for_each(|masses| masses[width - 1] = 0.0);
        let without = self.without_points(state);
        self.step(&mut lacking, n);
        let joining = Joining { waiting: without, share, met: lacking.met, mass: reached(&lacking.mass) };
        let mass = reached(&state.mass);
        let next = vec![0.0; mass.len()];
        let state = State { mass, next, met: state.met, is_anywhere: state.is_anywhere };
        self.points = 0;
        self.lost_by_fault = 0;
        (self, state, joining)
    }

    pub(crate) fn asks_for_no_draw(&self) -> bool {
        self.needed == 0 && self.in_a_row == 0 && self.look_from.is_none() && self.points == 0
    }

    /// The draw after n draws.
    pub(crate) fn step(&self, state: &mut State, n: u32) {
        let number = n + 1;
        state.next.fill(0.0);
        if let Some(from) = self.look_from {
            // Once the trainer looks, whoever has no clean look had no clean draw since: they stand at the beginning.
            let n_places = if n < from || state.is_anywhere { self.places.len() } else { 1 };
            state.is_anywhere = false;
            self.step_half(state, n_places, false, number >= from);
        }
        self.step_half(state, self.places.len(), true, true);
        std::mem::swap(&mut state.mass, &mut state.next);
        if number >= self.needed {
            let ready = self.places.ready.iter().enumerate().filter(|(_, ready)| **ready);
            for (place, _) in ready {
                state.met += std::mem::take(&mut state.mass[self.at(true, place) + self.points]);
            }
        }
    }

    /// The draw of those who were looked at, or were not, at the first so many places; a clean draw takes them to the
    /// half given.
    fn step_half(&self, state: &mut State, n_places: usize, looked: bool, looked_then: bool) {
        let width = self.points + 1;
        let plain = self.clean * (1.0 - self.prompted);
        let prompted = self.clean * self.prompted;
        let fault = 1.0 - self.clean;
        let begun = self.at(looked, 0);
        let here = &state.mass[begun..begun + n_places * width];
        let then = self.at(looked_then, 0);
        if width == 1 {
            let there = &mut state.next[then..then + self.places.len()];
            for (mass, (after_plain, after_prompt)) in here.iter().zip(&self.places.after) {
                there[*after_plain] += mass * plain;
                there[*after_prompt] += mass * prompted;
            }
            // After a fault the run begins anew, and with it what was prompted on it.
            state.next[begun] += here.iter().sum::<f64>() * fault;
            return;
        }
        let mut begin_anew = vec![0.0; width];
        for (masses, (after_plain, after_prompt)) in here.chunks_exact(width).zip(&self.places.after) {
            for (fault, mass) in begin_anew.iter_mut().zip(masses) {
                *fault += mass;
            }
            for (chance, place) in [(plain, *after_plain), (prompted, *after_prompt)] {
                if chance == 0.0 {
                    continue;
                }
                let to = then + place * width;
                let there = &mut state.next[to..to + width];
                // A clean draw gains a point; the points needed stay reached.
                for (more, mass) in there.iter_mut().skip(1).zip(masses) {
                    *more += mass * chance;
                }
                there[self.points] += masses[self.points] * chance;
            }
        }
        for (points, mass) in begin_anew.iter().enumerate() {
            let lost = if points == self.points { points } else { points.saturating_sub(self.lost_by_fault) };
            state.next[begun + lost] += mass * fault;
        }
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
        let halves: &[bool] = if self.look_from.is_some() { &[false, true] } else { &[true] };
        for looked in halves.iter().copied() {
            for run in 0..=self.in_a_row {
                let mass = state.mass[self.at(looked, run)];
                if mass == 0.0 {
                    continue;
                }
                let still = if run < self.in_a_row {
                    wait(self.in_a_row, run)
                } else if looked {
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
