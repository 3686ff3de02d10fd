//! What a release rule does to those who are not ready, and to those who are.

use crate::rule::ReleaseRule;
use stats::{Probability, StatsError};

/// What a release rule does to a learner with a given chance of a fault on each draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Released {
    /// Chance on each draw that it is not clean, 0 to 1.
    pub fault_rate: f64,
    /// Chance that the rule is met within the rule's `most_draws` draws, 0 to 1.
    pub probability: f64,
    /// Mean number of draws until the rule is met, with no limit on their number; `None` when it is never met, or only
    /// after more than a thousand million draws in the mean.
    pub mean_draws: Option<f64>,
    /// Number of draws within which nine in ten such learners have met the rule, with no limit on their number;
    /// `None` when it is more than [`LONGEST`].
    pub draws_90: Option<u32>,
}

/// The number of draws beyond which `draws_90` is not sought: nobody watches that many.
pub const LONGEST: u32 = 10_000;

/// How often a learner who fails on a share of draws meets the rule, and after how many draws.
///
/// A draw fails when a safety point is missed; each draw fails with the same chance, apart from every other, and each
/// fault is seen. Watchers who miss faults make a rule laxer than this says. The teach-back is what was said and does
/// not enter: the chance is that of the draws alone.
///
/// The trainer looks at the first draw allowed and, when that fails, at the next, until one is clean.
///
/// # Formula
/// The draws are a Markov chain on (draws so far, up to those needed; clean draws in a row, up to those needed;
/// trainer's clean look done or not; points of the sequential test, up to those needed), with a clean draw of probability q = 1 − fault rate. The chance is the mass
/// absorbed after `most_draws` steps. The mean is the sum over n of P(not met after n draws): up to the draws needed
/// term by term, from there in closed form, for from there only the clean run matters: with j clean in a row the mean
/// wait for k is (q^-k − q^-j) / (1 − q). With a sequential test the terms are followed until they fall by the same share
/// from draw to draw (to 1e-14, eight times running), and the rest is the sum of that geometric series; the draws of nine
/// in ten are then read from the series too.
///
/// # Range
/// Fault rate 0 to 1; probability 0 to 1; draws from the draws needed upward.
///
/// # Ends
/// At a fault rate of 0 the rule is met at the last of the draws needed, the clean draws and the trainer's first look.
/// At 1 it is never met, unless it asks for no clean draw and no look. A rule that asks for no draw is met at once.
///
/// # Source
/// W. Feller, An Introduction to Probability Theory and Its Applications, volume 1, third edition 1968, XIII.7
/// (success runs: mean (1 − q^k) / ((1 − q) q^k)); from memory.
///
/// # Check
/// Enumeration of every sequence of up to 16 draws; Feller's mean for runs; three heads in a row take 14 tosses.
///
/// # Example
/// ```
/// use practice::{ReleaseRule, error_rates};
/// use stats::Probability;
///
/// // Five draws, the last three clean, judged after the fifth: 0.8 x 0.8 x 0.8 for one who fails one draw in five.
/// let rule = ReleaseRule { most_draws: 5, ..ReleaseRule::default() };
/// let released = error_rates(&rule, Probability::new(0.2)?);
/// assert!((released.probability - 0.512).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn error_rates(rule: &ReleaseRule, fault_rate: Probability) -> Released {
    let chain = Chain::of(rule, fault_rate);
    if chain.asks_for_no_draw() {
        let fault_rate = fault_rate.get();
        return Released { fault_rate, probability: 1.0, mean_draws: Some(0.0), draws_90: Some(0) };
    }
    let mut state = chain.start();
    let mut probability = None;
    let mut draws_90 = None;
    let mut mean_draws = chain.mean_is_finite().then_some(0.0);
    let mut share = Falling::default();
    let mut n = 0u32;
    loop {
        if n == u32::from(rule.most_draws) {
            probability = Some(state.met);
        }
        if draws_90.is_none() && state.met >= 0.9 - ROUNDING {
            draws_90 = Some(n);
        }
        let waiting = state.waiting();
        if n < chain.settled || chain.has_points() {
            mean_draws = mean_draws.map(|mean| mean + waiting);
        } else if n == chain.settled {
            mean_draws = mean_draws.map(|mean| mean + chain.mean_from_settled(&state));
        }
        if n >= chain.settled && probability.is_some() {
            // Until the first can have met the rule, all wait and the share is 1 but for rounding.
            if state.met > 0.0 {
                share.see(waiting);
            }
            let is_known = draws_90.is_some() && !chain.has_points();
            if is_known || waiting == 0.0 || n >= LONGEST {
                if chain.has_points() && waiting > 0.0 {
                    mean_draws = mean_draws.and_then(|mean| share.rest_of_mean(mean, waiting));
                }
                break;
            }
            if let Some(share_of) = share.steady() {
                draws_90 = draws_90.or_else(|| draws_until(n, waiting, share_of));
                if chain.has_points() {
                    mean_draws = mean_draws.and_then(|mean| share.rest_of_mean(mean, waiting));
                }
                break;
            }
        }
        state = chain.step(&state, n);
        n += 1;
    }
    Released {
        fault_rate: fault_rate.get(),
        probability: probability.unwrap_or_default().clamp(0.0, 1.0),
        mean_draws,
        draws_90,
    }
}

/// The error rates over evenly spaced fault rates from 0 to 0.5, both ends included.
///
/// # Range
/// `n_steps` at least 1; the answer has `n_steps + 1` points.
///
/// # Ends
/// One step gives the two ends.
///
/// # Source
/// [`error_rates`] at each point.
///
/// # Check
/// As [`error_rates`].
///
/// # Example
/// ```
/// use practice::{ReleaseRule, error_rate_curve};
///
/// let curve = error_rate_curve(&ReleaseRule::default(), 50)?;
/// assert_eq!(curve.len(), 51);
/// assert_eq!(curve[0].probability, 1.0);
/// assert_eq!(curve[50].fault_rate, 0.5);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn error_rate_curve(rule: &ReleaseRule, n_steps: u16) -> Result<Vec<Released>, StatsError> {
    let n_steps = n_steps.max(1);
    (0..=n_steps)
        .map(|step| {
            let fault_rate = 0.5 * f64::from(step) / f64::from(n_steps);
            Ok(error_rates(rule, Probability::new(fault_rate)?))
        })
        .collect()
}

/// How far a learner has come with a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Progress {
    /// Observed draws that count.
    pub draws_counted: u16,
    /// Clean draws in a row at the end of them.
    pub clean_in_a_row: u16,
    /// Whether the trainer's own clean look is done.
    pub look_done: bool,
    /// Points of the rule's sequential test.
    pub points: u16,
}

/// Chance that the rule is met with so many further draws, from none on up to `n_draws`, from where a learner stands.
///
/// # Formula
/// The chain of [`error_rates`], begun at the learner's place.
/// # Range
/// Fault rate 0 to 1; `n_draws + 1` chances that never fall.
/// # Ends
/// A rule already met: 1 throughout. The teach-back and what [`error_rates`] leaves out do not enter here either.
/// # Source
/// As [`error_rates`].
/// # Check
/// Enumeration of every continuation of up to 8 draws.
///
/// # Example
/// ```
/// use practice::{Progress, ReleaseRule, chance_met_after};
/// use stats::Probability;
///
/// // Four draws of five, the last two clean, the look done: one more, if it is clean.
/// let here = Progress { draws_counted: 4, clean_in_a_row: 2, look_done: true, points: 0 };
/// let chances = chance_met_after(&ReleaseRule::default(), here, Probability::new(0.2)?, 1);
/// assert!((chances[1] - 0.8).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_met_after(
    rule: &ReleaseRule,
    progress: Progress,
    fault_rate: Probability,
    n_draws: u16,
) -> Vec<f64> {
    let chain = Chain::of(rule, fault_rate);
    let had = u32::from(progress.draws_counted);
    let mut state = chain.start_at(progress);
    let mut chances = vec![state.met];
    for n in 0..u32::from(n_draws) {
        state = chain.step(&state, had + n);
        chances.push(state.met.clamp(0.0, 1.0).max(chances[n as usize]));
    }
    chances
}

/// Chance that the rule is met within 0, 1, ... up to `n_draws` draws.
pub(crate) fn released_within(rule: &ReleaseRule, fault_rate: Probability, n_draws: u16) -> Vec<f64> {
    chance_met_after(rule, Progress::default(), fault_rate, n_draws)
}

/// "Of 100 nurses who fail one draw in five, 31 would meet this rule within 10 draws."
pub fn error_rate_sentence(rule: &ReleaseRule, released: &Released) -> String {
    let of_100 = libm::round(released.probability * 100.0);
    format!(
        "Of 100 nurses who fail {}, {of_100:.0} would meet this rule within {} draws.",
        share_words(released.fault_rate),
        rule.most_draws
    )
}

/// Numbers that a sentence spells out.
const NUMBERS: [&str; 11] =
    ["nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

fn share_words(fault_rate: f64) -> String {
    let one_in = if fault_rate > 0.0 { libm::round(1.0 / fault_rate) } else { 0.0 };
    if fault_rate <= 0.0 {
        "no draw".to_owned()
    } else if one_in >= 2.0 && (fault_rate * one_in - 1.0).abs() < 1e-9 {
        match NUMBERS.get(one_in as usize) {
            Some(number) => format!("one draw in {number}"),
            None => format!("one draw in {one_in:.0}"),
        }
    } else {
        format!("{:.1} draws in 100", fault_rate * 100.0)
    }
}

/// Sums of chances that should be exactly nine tenths may fall short by rounding.
const ROUNDING: f64 = 1e-12;

/// How the chance of still waiting falls from draw to draw, watched until it falls by the same share.
#[derive(Debug, Default)]
struct Falling {
    waiting: Option<f64>,
    share: f64,
    n_same: u32,
}

impl Falling {
    fn see(&mut self, waiting: f64) {
        if let Some(before) = self.waiting.filter(|before| *before > 0.0) {
            let share = waiting / before;
            self.n_same = if (share - self.share).abs() <= 1e-14 { self.n_same + 1 } else { 0 };
            self.share = share;
        }
        self.waiting = Some(waiting);
    }

    fn steady(&self) -> Option<f64> {
        (self.n_same >= 8 && self.share < 1.0).then_some(self.share)
    }

    /// A mean so far with the rest of the series; `None` beyond what can be told from never.
    fn rest_of_mean(&self, mean: f64, waiting: f64) -> Option<f64> {
        const MOST: f64 = 1e9;
        let rest = waiting * self.share / (1.0 - self.share);
        (self.share < 1.0 && mean + rest < MOST).then_some(mean + rest)
    }
}

/// The draw by which nine in ten have met the rule, when so many still wait after `n` and fall by one share.
fn draws_until(n: u32, waiting: f64, share: f64) -> Option<u32> {
    if share <= 0.0 {
        return Some(n + 1);
    }
    let more = libm::ceil((libm::log(0.1 + ROUNDING) - libm::log(waiting)) / libm::log(share));
    let draws = f64::from(n) + more.max(0.0);
    (share < 1.0 && draws <= f64::from(LONGEST)).then_some(draws as u32)
}

/// The draws of one learner as a Markov chain. States are numbered by clean draws in a row, whether the trainer's clean
/// look is done, and points; the number of draws is the step.
struct Chain {
    clean: f64,
    needed: u32,
    in_a_row: usize,
    look_from: Option<u32>,
    /// Points needed and what a fault takes; 0 needed without a test.
    points: usize,
    lost_by_fault: usize,
    /// Draws after which the number of draws no longer matters.
    settled: u32,
}

/// Chance of each state, those who met the rule apart.
struct State {
    /// `[(run * 2 + looked) * (points + 1) + points so far]`.
    mass: Vec<f64>,
    met: f64,
}

impl State {
    fn waiting(&self) -> f64 {
        self.mass.iter().sum()
    }
}

impl Chain {
    fn of(rule: &ReleaseRule, fault_rate: Probability) -> Chain {
        let needed = u32::from(rule.draws_needed);
        let look_from = rule.spot_check_from_draw.map(u32::from);
        // Before the last draw of the needed ones, nobody can meet the rule; from then on, a clean draw with the
        // trainer looking is the first clean draw, so a run of clean draws brings the look with it.
        let settled = needed.max(look_from.unwrap_or(0)).max(1) - 1;
        let clean = 1.0 - fault_rate.get();
        let (points, lost_by_fault) =
            rule.points.map_or((0, 0), |test| (usize::from(test.needed), usize::from(test.lost_by_fault)));
        let in_a_row = usize::from(rule.clean_in_a_row);
        Chain { clean, needed, in_a_row, look_from, points, lost_by_fault, settled }
    }

    fn has_points(&self) -> bool {
        self.points > 0
    }

    fn place(&self, run: usize, looked: bool, points: usize) -> usize {
        (run * 2 + usize::from(looked)) * (self.points + 1) + points
    }

    fn empty(&self) -> Vec<f64> {
        vec![0.0; (self.in_a_row + 1) * 2 * (self.points + 1)]
    }

    fn start(&self) -> State {
        let mut mass = self.empty();
        mass[self.place(0, self.look_from.is_none(), 0)] = 1.0;
        State { mass, met: 0.0 }
    }

    /// The chain at a learner's place.
    fn start_at(&self, progress: Progress) -> State {
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

    fn asks_for_no_draw(&self) -> bool {
        self.needed == 0 && self.in_a_row == 0 && self.look_from.is_none() && !self.has_points()
    }

    /// The draw after n draws.
    fn step(&self, state: &State, n: u32) -> State {
        let number = n + 1;
        let trainer_may_look = self.look_from.is_some_and(|from| number >= from);
        let mut next = State { mass: self.empty(), met: state.met };
        for run in 0..=self.in_a_row {
            for looked in [false, true] {
                let looked_then = looked || trainer_may_look;
                for points in 0..=self.points {
                    let mass = state.mass[self.place(run, looked, points)];
                    if mass == 0.0 {
                        continue;
                    }
                    let reached = points == self.points;
                    let gained = if reached { points } else { points + 1 };
                    let lost = if reached { points } else { points.saturating_sub(self.lost_by_fault) };
                    let clean = self.place((run + 1).min(self.in_a_row), looked_then, gained);
                    next.mass[clean] += mass * self.clean;
                    next.mass[self.place(0, looked, lost)] += mass * (1.0 - self.clean);
                }
            }
        }
        if number >= self.needed {
            next.met += std::mem::take(&mut next.mass[self.place(self.in_a_row, true, self.points)]);
        }
        next
    }

    fn mean_is_finite(&self) -> bool {
        self.clean > 0.0 || (self.in_a_row == 0 && self.look_from.is_none() && !self.has_points())
    }

    /// Mean number of draws still to come for the mass not absorbed when only the clean run is missing. Not for a rule
    /// with points.
    fn mean_from_settled(&self, state: &State) -> f64 {
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
