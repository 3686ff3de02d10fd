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
    /// Mean number of draws until the rule is met, with no limit on their number; `None` when it is never met.
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
/// trainer's clean look done or not), with a clean draw of probability q = 1 − fault rate. The chance is the mass
/// absorbed after `most_draws` steps. The mean is the sum over n of P(not met after n draws): up to the draws needed
/// term by term, from there in closed form, for from there only the clean run matters: with j clean in a row the mean
/// wait for k is (q^-k − q^-j) / (1 − q).
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
    let mut n = 0u32;
    loop {
        let met = state.met;
        if n == u32::from(rule.most_draws) {
            probability = Some(met);
        }
        if draws_90.is_none() && met >= 0.9 - ROUNDING {
            draws_90 = Some(n);
        }
        if n < chain.settled {
            mean_draws = mean_draws.map(|mean| mean + 1.0 - met);
        } else if n == chain.settled {
            mean_draws = mean_draws.map(|mean| mean + chain.mean_from_settled(&state));
        }
        let done = n >= chain.settled && probability.is_some() && (draws_90.is_some() || n >= LONGEST);
        if done {
            break;
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
/// let here = Progress { draws_counted: 4, clean_in_a_row: 2, look_done: true };
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
    let run = usize::from(progress.clean_in_a_row).min(chain.in_a_row);
    let looked = progress.look_done || chain.look_from.is_none();
    let had = u32::from(progress.draws_counted);
    let mut state = State { mass: vec![[0.0; 2]; chain.in_a_row + 1], met: 0.0 };
    if had >= chain.needed && run == chain.in_a_row && looked {
        state.met = 1.0;
    } else {
        state.mass[run][usize::from(looked)] = 1.0;
    }
    let mut chances = vec![state.met];
    for n in 0..u32::from(n_draws) {
        state = chain.step(&state, had + n);
        chances.push(state.met.clamp(0.0, 1.0).max(chances[n as usize]));
    }
    chances
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

/// The draws of one learner as a Markov chain. States are numbered by clean draws in a row and whether the trainer's
/// clean look is done; the number of draws is the step.
struct Chain {
    clean: f64,
    needed: u32,
    in_a_row: usize,
    look_from: Option<u32>,
    /// Draws after which only the clean run can still be missing.
    settled: u32,
}

/// Chance of each state: `[clean draws in a row][trainer's look done]`, those who met the rule apart.
struct State {
    mass: Vec<[f64; 2]>,
    met: f64,
}

impl Chain {
    fn of(rule: &ReleaseRule, fault_rate: Probability) -> Chain {
        let needed = u32::from(rule.draws_needed);
        let look_from = rule.spot_check_from_draw.map(u32::from);
        // Before the last draw of the needed ones, nobody can meet the rule; from then on, a clean draw with the
        // trainer looking is the first clean draw, so a run of clean draws brings the look with it.
        let settled = needed.max(look_from.unwrap_or(0)).max(1) - 1;
        let clean = 1.0 - fault_rate.get();
        Chain { clean, needed, in_a_row: usize::from(rule.clean_in_a_row), look_from, settled }
    }

    fn start(&self) -> State {
        let mut mass = vec![[0.0; 2]; self.in_a_row + 1];
        mass[0][usize::from(self.look_from.is_none())] = 1.0;
        State { mass, met: 0.0 }
    }

    fn asks_for_no_draw(&self) -> bool {
        self.needed == 0 && self.in_a_row == 0 && self.look_from.is_none()
    }

    /// The draw after n draws.
    fn step(&self, state: &State, n: u32) -> State {
        let number = n + 1;
        let trainer_may_look = self.look_from.is_some_and(|from| number >= from);
        let mut next = State { mass: vec![[0.0; 2]; self.in_a_row + 1], met: state.met };
        for (run, by_look) in state.mass.iter().enumerate() {
            for (looked, mass) in by_look.iter().enumerate() {
                let after_clean =
                    ((run + 1).min(self.in_a_row), usize::from(looked == 1 || trainer_may_look));
                next.mass[after_clean.0][after_clean.1] += mass * self.clean;
                next.mass[0][looked] += mass * (1.0 - self.clean);
            }
        }
        if number >= self.needed {
            next.met += std::mem::take(&mut next.mass[self.in_a_row][1]);
        }
        next
    }

    fn mean_is_finite(&self) -> bool {
        self.clean > 0.0 || (self.in_a_row == 0 && self.look_from.is_none())
    }

    /// Mean number of draws still to come for the mass not absorbed when only the clean run is missing.
    fn mean_from_settled(&self, state: &State) -> f64 {
        // With a run of k asked and j there: (q^-k - q^-j) / (1 - q), and k - j at q = 1. Where the trainer's clean
        // look is missing too, the next clean draw brings it, so at least one clean draw is asked. One draw more is
        // needed in any case, for the number of draws itself falls short by one.
        let wait = |to: usize, from: usize| -> f64 {
            (from..to).map(|run| libm::pow(self.clean, -(run as f64 + 1.0))).sum()
        };
        let mut mean = 0.0;
        for (run, by_look) in state.mass.iter().enumerate() {
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
